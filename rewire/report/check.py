"""The comparison: the verdict in a sentence, the evidence below it, and both for machines."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from rewire.compare.findings import (
    CUT,
    INFORMATION,
    AlsoConnected,
    Finding,
    FindingKind,
    Result,
    State,
    Step,
    bare,
    in_positions,
    moves,
    when,
)
from rewire.records.spec import Role
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import ReportSection, Tone, Words
from rewire.words.wording import listed, listing

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

_AS_TOLD: Mapping[Role | None, str] = {
    "found": ", as found on the bench,",
    "tried": ", only tried,",
}
_PATHS: dict[FindingKind, str] = {
    "interrupted": "{} current paths stop for a moment",
    "stray": "for a moment current can flow over {} paths",
}


def as_told(role: Role | None) -> str:
    """What follows the name of a wiring that is no plan, before its verdict."""
    return _AS_TOLD.get(role, "")


@dataclass(frozen=True, slots=True)
class Told:
    """One finding, or several of one kind in the same moves; numbered, if anything must be done."""

    number: int | None
    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The one that speaks for all of them."""
        return self.findings[0]

    @property
    def message(self) -> str:
        """In plain words, for the bench."""
        if len(self.findings) == 1:
            return self.first.message
        if self.first.kind == "spare":
            return (
                f"lugs {', '.join(finding.place or '' for finding in self.findings)} are not used"
            )
        return _PATHS[self.first.kind].format(len(self.findings))


@dataclass(frozen=True, slots=True)
class Telling:
    """What is told of one wiring, under three headings."""

    result: Result
    wrong: tuple[Told, ...]
    meant: tuple[Told, ...]
    known: tuple[Told, ...]
    """Mere information, without numbers."""


def tellings(results: Iterable[Result]) -> Iterator[Telling]:
    """All findings of some comparisons; a number stands for one finding in all of them."""
    numbers = count(1)
    for result in results:
        telling = [f for f in result.findings if f.kind not in INFORMATION]
        known = [f for f in result.findings if f.kind in INFORMATION]
        unmeant, declared = [f for f in telling if not f.meant], [f for f in telling if f.meant]
        wrong, meant = (
            tuple(Told(next(numbers), group) for group in together(found))
            for found in (unmeant, declared)
        )
        yield Telling(result, wrong, meant, tuple(_known(known)))


def _known(findings: Sequence[Finding]) -> Iterator[Told]:
    """Mere information; all lugs that nobody uses are told at once."""
    lugs = tuple(f for f in findings if f.kind == "spare" and "." in (f.place or ""))
    for finding in findings:
        if finding not in lugs:
            yield Told(None, (finding,))
        elif finding is lugs[0]:
            yield Told(None, lugs)


def live_of(result: Result) -> str:
    """What declared differences put on the chassis or on other volts; empty for nothing."""
    return "; ".join(f.message for f in result.findings if f.kind == "live")


def together(findings: Sequence[Finding]) -> Iterator[tuple[Finding, ...]]:
    """Current paths that stop, or begin, in the same moves: there may be one per two points."""
    groups: dict[object, list[Finding]] = {}
    for number, finding in enumerate(findings):
        alike = finding.kind in _PATHS
        key = (
            (finding.kind, finding.why, finding.in_step, frozenset(map(bare, finding.steps)))
            if alike
            else number
        )
        groups.setdefault(key, []).append(finding)
    yield from map(tuple, groups.values())


def evidence_of_paths(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under several paths: the moves once, then each path.

    Where the other controls must stand in a certain way for one, that is said with it.
    """
    if told.first.kind not in _PATHS:
        return
    yield "when", moves(told.first)
    for finding in told.findings:
        names = " to ".join("/".join(group) for group in finding.groups)
        way = " – ".join(finding.was) if finding.kind == "interrupted" else finding.now or ""
        yield "path", f"{names}{_others(finding)}: {way}"
    if told.first.kind == "interrupted":
        yield "now", told.first.now or ""
    yield "why", told.first.why or ""


def _others(finding: Finding) -> str:
    return when(finding, 2).removeprefix(moves(finding))


def company(finding: Finding) -> str:
    """All that is tied with the places of a finding besides, and when; empty for nothing."""
    at: dict[str, list[str]] = {}
    for one in finding.company:
        at.setdefault(_among(one.states), []).append(one.place)
    word = "is" if finding.kind in ("joined", "linked") else "was"
    said = [f"{', '.join(places)} {among}" for among, places in at.items()]
    return f"with them {word} {'; '.join(said)}" if said else ""


def was(finding: Finding) -> str:
    """The way as it was, and where that holds in some of the positions alone."""
    way = " – ".join(finding.was)
    return f"{way} (in {in_positions([finding.was_in])})" if finding.was_in else way


def _among(states: Sequence[State] | None) -> str:
    if states is None:
        return "in some of these positions"
    return f"in {in_positions(states)}" if states else "in all of these positions"


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
    AlsoConnected: "place states",
    Step: "from=before to=after",
    State: State.as_dict,
}


def result_as_json(result: Result) -> JSON:
    """One wiring, as ``rewire check`` gives it."""
    told: JSON = as_json(result, _KEYS)
    return told
