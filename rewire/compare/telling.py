"""Findings as they are told: in order, numbered through, current paths of one move together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count

from rewire.compare.findings import INFORMATION, Finding, FindingKind, Result
from rewire.compare.when import bare, moves, when

_PATHS: dict[FindingKind, str] = {
    "interrupted": "{} current paths stop for a moment",
    "stray": "for a moment current can flow over {} paths",
}


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
