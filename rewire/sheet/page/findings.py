"""Verdicts and findings for the page, each finding with the lugs it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count

from rewire.compare.findings import INFORMATION, Finding, Result
from rewire.sheet.page.numbers import state_numbers
from rewire.sheet.verdicts import evidence, groups_of, says
from rewire.spec.model import Spec, Wiring
from rewire.values.circuits import seats


@dataclass(frozen=True, slots=True)
class Told:
    """A finding in words, and where to look.

    ``state`` is in numbers; ``sides`` are terminals of the wiring, those apart that the finding
    tells apart.
    """

    number: int
    kind: str
    message: str
    evidence: tuple[tuple[str, str], ...]
    state: Sequence[tuple[int, int]]
    sides: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is said of one wiring; ``groups`` are titles with their findings."""

    wiring: str
    verdict: str
    says: str
    groups: tuple[tuple[str, tuple[Told, ...]], ...]


def verdict_of(spec: Spec, result: Result) -> Verdict:
    """The verdict on a wiring with its findings, the wrong ones first."""
    numbers = count(1)
    groups = tuple(
        (title, tuple(_told(spec, result, finding, next(numbers)) for finding in found))
        for title, found in groups_of(result)
    )
    states = "1 state" if result.states == 1 else f"{result.states} states"
    said = f"{says(result)} ({states} compared)"
    return Verdict(result.wiring, result.verdict, said, groups)


def _told(spec: Spec, result: Result, finding: Finding, number: int) -> Told:
    wiring = spec.wirings[result.wiring]
    kind = "" if finding.kind in INFORMATION else finding.kind
    said = tuple((label, text) for label, text in evidence(finding) if text)
    named = finding.groups or [
        [*finding.ends_at, *(name for name in (finding.place, finding.part) if name)]
    ]
    sides = (tuple(dict.fromkeys(_terminals(spec, wiring, names))) for names in named)
    return Told(
        number, kind, finding.message, said, _state(spec, finding), tuple(filter(None, sides))
    )


def _state(spec: Spec, finding: Finding) -> Sequence[tuple[int, int]]:
    """The first state it holds in; of a step, the one that is earlier in travel."""
    for state in (*finding.states, *(step.before for step in finding.steps)):
        return state_numbers(spec, state.as_dict())
    return ()


def _terminals(spec: Spec, wiring: Wiring, names: Iterable[str]) -> Iterator[str]:
    """Places and parts of the original as they are in this wiring, where it has them."""
    parts = spec.parts_of(wiring)
    present = {t for part in parts.values() for t in map(part.terminal, part.terminals)}
    present.update(spec.points)
    in_role = seats(spec, wiring)
    for name in names:
        own = in_role.get(name, name)
        if own in present:
            yield own
        elif own in parts:
            yield from map(parts[own].terminal, parts[own].terminals)
