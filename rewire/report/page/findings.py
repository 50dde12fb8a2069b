"""Verdicts and findings for the page, each finding with the lugs it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rewire.compare.findings import Finding, Result
from rewire.compare.telling import Telling, Told
from rewire.compare.turned import roles_between
from rewire.records.spec import Spec, Wiring
from rewire.report.page.numbers import state_numbers
from rewire.report.verdicts import evidence, groups_of, says


@dataclass(frozen=True, slots=True)
class Shown:
    """A finding in words, and where to look; mere information has no number.

    ``state`` is in numbers; ``sides`` are terminals of the wiring, those apart that the finding
    tells apart.
    """

    number: int | None
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
    groups: tuple[tuple[str, tuple[Shown, ...]], ...]


def verdict_of(spec: Spec, telling: Telling) -> Verdict:
    """The verdict on a wiring with its findings, the wrong ones first."""
    result = telling.result
    groups = tuple(
        (title, tuple(_shown(spec, result, told) for told in found))
        for title, found in groups_of(telling)
    )
    states = "1 state" if result.states == 1 else f"{result.states} states"
    said = f"{says(result)} ({states} compared)"
    return Verdict(result.wiring, result.verdict, said, groups)


def _shown(spec: Spec, result: Result, told: Told) -> Shown:
    wiring, first = spec.wirings[result.wiring], told.first
    kind = "" if told.number is None else first.kind
    groups = dict.fromkeys(group for finding in told.findings for group in finding.groups)
    named: Iterable[Iterable[str]] = groups or [
        [*first.ends_at, *(name for name in (first.place, first.part) if name)]
    ]
    sides = (tuple(dict.fromkeys(_terminals(spec, wiring, names))) for names in named)
    return Shown(
        told.number, kind, told.message, tuple(evidence(told)), _state(spec, first),
        tuple(filter(None, sides)),
    )  # fmt: skip


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
    roles = roles_between(spec, wiring)
    for name in names:
        own = roles.place(name)
        if own in present:
            yield own
        elif own in parts:
            yield from map(parts[own].terminal, parts[own].terminals)
