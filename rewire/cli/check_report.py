"""The comparison in plain text, for somebody at the bench: verdict first, evidence below it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.cli.checking import CheckOutcome
from rewire.cli.terminal import Line, Mark
from rewire.cli.trouble import LIMIT
from rewire.compare.findings import INFORMATION, Finding, FindingKind, Result, Verdict
from rewire.compare.telling import (
    Telling,
    Told,
    evidence_of_paths,
    live_of,
    tellings,
    together,
)
from rewire.compare.when import CUT, company, was, when
from rewire.compare.words import as_told, listing
from rewire.words.wording import listed

_MOST_NOTES = 20
_MOST_CASES = 6
_MOST_PLACES = 12
_INK: dict[Verdict, Mark] = {"broken": "bad", "changed": "meant", "kept": "good"}
_SEVERITY: tuple[Verdict, ...] = ("broken", "changed", "kept")
_LOST: frozenset[FindingKind] = frozenset(
    {"missing", "reversed", "dropped", "inserted", "gap", "interrupted"}
)
_KEEPS = {"original": "breaks no rule of the spec; other wirings are compared with it"}
_JOINED: frozenset[FindingKind] = frozenset({"joined", "linked", "bridge", "stray"})


def report(results: Sequence[Result]) -> Iterator[Line]:
    """One spec in full: every verdict, the plans' first, then the findings behind each."""
    for result in results:
        yield _verdict(result)
    for telling in tellings(results):
        yield from _findings(telling, titled=len(results) > 1)


def summary(outcome: CheckOutcome) -> Line:
    """One spec among several, in one line."""
    if outcome.trouble is not None:
        if outcome.trouble.status == LIMIT:
            return Line(f"{outcome.file}: not checked, a limit was reached", 0, "LIMIT:", "bad")
        wrong = counted(len(outcome.trouble.complaints), "error")
        return Line(f"{outcome.file}: not checked, {wrong}", 0, "UNREADABLE:", "bad")
    counting = outcome.judged.counting if outcome.judged else frozenset()
    told = [r for r in outcome.results if r.wiring in counting] or outcome.results
    verdicts = [result.verdict for result in told]
    worst: Verdict = next((verdict for verdict in _SEVERITY if verdict in verdicts), "kept")
    each = "; ".join(f"{result.wiring} {_brief(result)}" for result in outcome.results)
    return Line(f"{outcome.file}: {each}", 0, f"{worst.upper()}:", _INK[worst])


def counted(count: int, thing: str) -> str:
    """A number and its noun: ``1 finding``, ``3 findings``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _brief(result: Result) -> str:
    if result.verdict == "changed" and live_of(result):
        return f"changed, but {live_of(result)}"
    if result.verdict != "broken":
        return result.verdict
    return f"broken ({counted(_count(_unmeant(result)), 'finding')})"


def _verdict(result: Result) -> Line:
    said = f"{result.wiring}{as_told(result.role)} {_reason(result)}"
    return Line(said, 0, f"{result.verdict.upper()}:", _INK[result.verdict])


def _reason(result: Result) -> str:
    if result.verdict == "kept":
        return _KEEPS.get(result.wiring, "keeps every original connection")
    if result.verdict == "changed":
        meant = counted(len(_meant(result)), "declared difference") if _meant(result) else ""
        count = sum(f.kind == "added" for f in result.findings)
        added = counted(count, "added part") if count else ""
        said = f"({', '.join(filter(None, (meant, added)))})"
        live = live_of(result)
        if live:
            return f"differs from the original as intended {said}, but {live}: see that it is meant"
        return f"differs from the original only as intended {said}"
    unmeant = _unmeant(result)
    said = f"{_wrong({f.kind for f in unmeant})} ({counted(_count(unmeant), 'finding')})"
    return "; ".join(filter(None, (said, live_of(result))))


def _wrong(kinds: set[FindingKind]) -> str:
    said = []
    if kinds & _LOST:
        said.append("does not keep every original connection")
    if kinds & _JOINED:
        said.append("joins what the original keeps apart")
    if "rule" in kinds:
        said.append("breaks a rule of the spec")
    if "undone" in kinds:
        said.append("declares a difference that is not there")
    return listing(said)


def _count(findings: Sequence[Finding]) -> int:
    """As they are numbered below the verdict."""
    return sum(1 for _ in together(findings))


def _unmeant(result: Result) -> list[Finding]:
    return [f for f in result.findings if not f.meant and f.kind not in INFORMATION]


def _meant(result: Result) -> list[Finding]:
    return [f for f in result.findings if f.meant and f.kind not in INFORMATION]


def _findings(telling: Telling, titled: bool) -> Iterator[Line]:
    of = f" in {telling.result.wiring}" if titled else ""
    headed: tuple[tuple[str, tuple[Told, ...], Mark], ...] = (
        (f"Wrong{of}:", telling.wrong, "bad"),
        (f"Different on purpose{of}:", telling.meant, "meant"),
    )  # fmt: skip
    for title, found, mark in headed:
        if found:
            yield from _title(title)
        for told in found:
            yield from _finding(told, mark)
    yield from _notes([told.message for told in telling.known], of)


def _title(text: str) -> Iterator[Line]:
    yield Line("")
    yield Line(text)


def _finding(told: Told, mark: Mark) -> Iterator[Line]:
    yield Line(told.message, 2, f"{told.number}. {told.first.kind.upper()}:", mark)
    many = len(told.findings) > 1
    for label, text in evidence_of_paths(told) if many else _evidence(told.first):
        if text:
            yield Line(text, 5, f"{label:<7}")


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, _MOST_CASES).replace(CUT, f"{CUT} (--json lists them)")
    yield "between", _between(finding.groups)
    yield "through", ", ".join(finding.through)
    yield "also", company(finding)
    yield "was", was(finding)
    yield "now", finding.now or ""
    yield "why", finding.why or ""


def _between(groups: Sequence[Sequence[str]]) -> str:
    """The places, points first and every one of them; the message already names groups of one."""
    if all(len(group) == 1 for group in groups):
        return ""
    return " | ".join(map(_group, groups))


def _group(group: Sequence[str]) -> str:
    points = [place for place in group if "." not in place]
    others = [place for place in group if "." in place]
    return listed([*points, *others], max(len(points), _MOST_PLACES))


def _notes(messages: Sequence[str], of: str) -> Iterator[Line]:
    if not messages:
        return
    yield from _title(f"For information{of}:")
    for message in messages[:_MOST_NOTES]:
        yield Line(message, 2, "-")
    if len(messages) > _MOST_NOTES:
        yield Line(f"and {len(messages) - _MOST_NOTES} more (--json lists all)", 2, "-")
