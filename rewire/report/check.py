"""The comparison: the verdict in a sentence, the evidence below it, and both for machines."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from rewire.compare.findings import INFORMATION, AlsoTied, Finding, FindingKind, Result, State, Step
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
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import ReportSection, Tone, Words
from rewire.words.wording import listed

_MOST_NOTES = 20
_MOST_CASES = 6
_MOST_PLACES = 12
TONES: dict[str, Tone] = {"broken": "bad", "changed": "meant", "kept": "good"}
"""Verdict → its colour, the worst first."""
_SAYS: dict[frozenset[FindingKind], str] = {
    frozenset({"missing", "reversed", "dropped", "inserted", "gap", "interrupted"}): (
        "does not keep every original connection"
    ),
    frozenset({"joined", "linked", "bridge", "stray"}): "joins what the original keeps apart",
    frozenset({"rule"}): "breaks a rule of the spec",
    frozenset({"undone"}): "declares a difference that is not there",
}
"""What is wrong where there is a finding of these kinds."""
_SWITCHING = frozenset({"gap", "bridge", "interrupted", "stray"})


def sections(results: Sequence[Result]) -> Iterator[ReportSection]:
    """One spec in full: every verdict, the plans' first, then the findings behind each."""
    yield ReportSection("verdict", "", tuple(map(_verdict, results)))
    for telling in tellings(results):
        yield from _findings(telling, titled=len(results) > 1)


def brief(results: Sequence[Result], counting: Collection[str]) -> tuple[str, str]:
    """One spec among several: the worst verdict of the wirings that count, and a line on all."""
    counted_ones = [r for r in results if r.wiring in counting] or results
    verdicts = {result.verdict for result in counted_ones}
    worst = next((verdict for verdict in TONES if verdict in verdicts), "kept")
    return worst, "; ".join(f"{result.wiring} {_brief(result)}" for result in results)


def counted(count: int, thing: str) -> str:
    """A number and its noun: ``1 finding``, ``3 findings``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _brief(result: Result) -> str:
    if result.verdict == "changed" and live_of(result):
        return f"changed, but {live_of(result)}"
    if result.verdict != "broken":
        return result.verdict
    return f"broken ({_count(result)})"


def _verdict(result: Result) -> Words:
    said = f"{result.wiring}{as_told(result.role)} {reason(result)}"
    return Words(said, f"{result.verdict.upper()}:", tone=TONES[result.verdict])


def reason(result: Result) -> str:
    """The verdict in words, to follow the name of the wiring."""
    live = live_of(result)
    if result.verdict == "changed":
        only = "" if live else "only "
        said = f"differs from the original {only}as intended ({_intended(result)})"
        return f"{said}, but {live}: see that it is meant" if live else said
    if result.verdict == "broken":
        said = f"{_wrong(result)} ({_count(result)})"
        return f"{said}; {live}" if live else said
    if result.wiring == "original":
        return "breaks no rule of the spec; other wirings are compared with it"
    return "keeps every original connection"


def _intended(result: Result) -> str:
    meant = sum(f.meant and f.kind not in INFORMATION for f in result.findings)
    added = sum(f.kind == "added" for f in result.findings)
    pairs = ((meant, "declared difference"), (added, "added part"))
    return ", ".join(counted(count, thing) for count, thing in pairs if count)


def _wrong(result: Result) -> str:
    kinds = {finding.kind for finding in _unmeant(result)}
    return listing([said for about, said in _SAYS.items() if about & kinds])


def _count(result: Result) -> str:
    """As they are numbered below the verdict."""
    return counted(sum(1 for _ in together(_unmeant(result))), "finding")


def _unmeant(result: Result) -> list[Finding]:
    return [f for f in result.findings if not f.meant and f.kind not in INFORMATION]


def _findings(telling: Telling, titled: bool) -> Iterator[ReportSection]:
    of = f" in {telling.result.wiring}" if titled else ""
    groups: tuple[tuple[str, Sequence[Told], Tone], ...] = (
        ("Wrong", telling.wrong, "bad"), ("Different on purpose", telling.meant, "meant"),
    )  # fmt: skip
    for title, found, tone in groups:
        words = tuple(line for told in found for line in _finding(told, tone))
        yield ReportSection("findings", title + of, words)
    notes = [told.message for told in telling.known]
    left = len(notes) - _MOST_NOTES
    more = [f"and {left} more (--json lists all)"] if left > 0 else []
    lines = (Words(said, "-", indent=2) for said in [*notes[:_MOST_NOTES], *more])
    yield ReportSection("findings", f"For information{of}", tuple(lines))


def _finding(told: Told, tone: Tone) -> Iterator[Words]:
    yield Words(told.message, f"{told.number}. {told.first.kind.upper()}:", tone=tone, indent=2)
    for label, text in lines_under(told):
        hint = text.replace(CUT, f"{CUT} (--json lists them)") if label == "when" else text
        yield Words(hint, f"{label:<7}", indent=5)


def lines_under(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under a finding: a word in the margin and its text."""
    many = len(told.findings) > 1
    lines = evidence_of_paths(told) if many else _evidence(told.first)
    yield from ((label, text) for label, text in lines if text)


def about_finding(result: Result, told: Told) -> str:
    """What the page's script knows a finding by."""
    return f"{result.wiring}:{told.number or told.message}"


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, _MOST_CASES)
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


def finding_as_json(finding: Finding) -> JSON:
    """One finding, as every command gives it; of what does not concern its kind, no key."""
    told = {key: as_json(getattr(finding, key), _KEYS) for key in _FINDING.split()}
    moving = finding.kind in _SWITCHING
    left_out = {key for key in _ABOUT.split() if told[key] is None}
    left_out |= {"states"} if moving or (finding.steps and not finding.states) else set()
    left_out |= set() if moving or finding.steps else {"steps"}
    return {key: item for key, item in told.items() if key not in left_out}


_ABOUT = "rule change part place in_step"
_FINDING = f"kind meant states steps groups {_ABOUT} through company was now why message"
_KEYS: Keys = {
    Result: "wiring verdict states findings",
    Finding: finding_as_json,
    AlsoTied: "place states",
    Step: "from=before to=after",
    State: State.as_dict,
}


def result_as_json(result: Result) -> JSON:
    """One wiring, as ``rewire check`` gives it."""
    told: JSON = as_json(result, _KEYS)
    return told
