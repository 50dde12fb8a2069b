"""Which mistakes explain what was found: each weighed by its odds and by what it would read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import log
from time import monotonic

import numpy as np

from rewire.bench.buzz.job import Job, planned, spreads
from rewire.bench.buzz.measure import Mask, Numbers, Ohms, Touch, readings
from rewire.bench.buzz.mistakes import Edit, Mistake, apply
from rewire.bench.buzz.noticing import (
    AGREES,
    BEEPS,
    LEADS,
    differs,
    surprise_at_closed,
    surprise_at_number,
    surprise_at_open,
)
from rewire.reading.benchlog import Told

ONE, TWO, NONE = 0.6, 0.1, 0.3
"""How often a new wiring has one mistake, two, or none; common practice, no source."""
_NEAR = log(50.0)
"""Pairs dearer than the best by more than this are dropped."""
KEPT = 400
"""Hypotheses that are looked at closely."""


@dataclass(frozen=True, slots=True)
class Found:
    """One reading, as touched."""

    touch: Touch
    told: Told
    ohms: float | None = None
    said: str = ""
    """Where it is written, for messages."""

    def surprise(self, expected: Ohms, spread: Ohms) -> Ohms:
        """Minus the logarithm of how likely it is, per expected value."""
        if self.told == "open":
            return surprise_at_open(expected)
        if self.told == "closed" or self.ohms is None:
            return surprise_at_closed(expected)
        return surprise_at_number(expected, self.ohms, spread)


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """Mistakes that may have been made, and how dear they are to believe."""

    mistakes: tuple[Mistake, ...]
    cost: float
    """Minus the logarithm of odds and likelihood together."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings on a wiring, with what they should have been."""

    job: Job
    found: tuple[Found, ...]
    planned: Ohms
    spread: Ohms
    loosest: float
    """Spread where a mistake sends the current another way."""

    @property
    def touches(self) -> list[Touch]:
        """What was touched."""
        return [one.touch for one in self.found]

    @property
    def odd(self) -> Mask:
        """Readings that the wiring as it should be does not account for."""
        return self.surprises(self.planned[:, None])[:, 0] > AGREES

    @property
    def only_beeped(self) -> Mask:
        """Readings that were a beep where the wiring has ohms through which a beeper may sound."""
        beeps = np.array([one.told == "closed" for one in self.found], dtype=np.bool_)
        return beeps & (self.planned > LEADS) & (self.planned <= BEEPS)

    def surprises(self, expected: Ohms) -> Ohms:
        """Surprise of each reading where so much was expected, of shape (readings, columns)."""
        spread = np.where(
            differs(self.planned[:, None], expected, self.spread[:, None]),
            self.loosest,
            self.spread[:, None],
        )
        rows = [one.surprise(expected[n], spread[n]) for n, one in enumerate(self.found)]
        return np.array(rows).reshape(expected.shape)


def evidence(job: Job, found: Sequence[Found]) -> Evidence:
    """Put readings beside what they should have been."""
    touches = [one.touch for one in found]
    ohms = planned(job, touches)
    loosest = max((bar.tolerance for bar in job.network.bars), default=0.0)
    return Evidence(job, tuple(found), ohms, spreads(job, touches, ohms), loosest)


def costs_of(mistakes: Sequence[Mistake]) -> Ohms:
    """What each single mistake costs to believe before anything is measured."""
    odds = np.array([mistake.odds for mistake in mistakes])
    return np.asarray(-np.log(ONE * odds / odds.sum()))


def cost_of_none(seen: Evidence) -> float:
    """What it costs to believe that nothing is wrong and the odd readings were misread."""
    return -log(NONE) + float(seen.surprises(seen.planned[:, None]).sum())


def singles(seen: Evidence, mistakes: Sequence[Mistake]) -> Ohms:
    """Cost of each single mistake, given the readings."""
    job = seen.job
    expected = readings(job.network, [m.edit for m in mistakes], job.states, seen.touches)
    return np.asarray(costs_of(mistakes) + seen.surprises(expected).sum(axis=0))


@dataclass(frozen=True, slots=True)
class Search:
    """What a search for two mistakes gave."""

    best: tuple[Hypothesis, ...]
    looked: int
    of: int

    @property
    def is_whole(self) -> bool:
        """Whether every pair was looked at."""
        return self.looked >= self.of


def pairs(
    seen: Evidence,
    mistakes: Sequence[Mistake],
    single: Ohms,
    seconds: float,
    tell: Callable[[int, int], None] | None = None,
) -> Search:
    """Two mistakes at once, those first whose one half explains most.

    Args:
        seen: the readings.
        mistakes: one of each kind that can be told apart is enough.
        single: the cost of each alone.
        seconds: stop after so long.
        tell: called with how many first halves are done, and of how many.

    A pair is dropped as soon as the readings that are odd, alone, make it dearer than the best
    so far; the rest is measured in full.
    """
    before = costs_of(mistakes)
    dear = before + log(ONE / TWO)
    order = np.argsort(single, kind="stable")
    until, total = monotonic() + seconds, len(order)
    portions = _portions(seen)
    best: list[Hypothesis] = []
    limit = float(single.min())
    looked = 0
    for done, first in enumerate(order):
        if monotonic() > until:
            break
        rest = order[done + 1 :]
        least = dear[first] + before[rest]
        for one in _with(seen, mistakes, int(first), rest, least, limit + _NEAR, portions):
            best.append(one)
            limit = min(limit, one.cost)
        looked += len(rest)
        if tell is not None:
            tell(done + 1, total)
    best.sort(key=lambda one: one.cost)
    return Search(tuple(best[:KEPT]), looked, total * (total - 1) // 2)


def _with(
    seen: Evidence,
    mistakes: Sequence[Mistake],
    first: int,
    rest: Numbers,
    costs: Ohms,
    limit: float,
    portions: Sequence[Numbers],
) -> Iterator[Hypothesis]:
    """Pairs of one mistake with others that cost less than a limit; portion by portion."""
    rest, costs = rest[costs < limit], costs[costs < limit]
    job = seen.job
    network = apply(job.network, mistakes[first].edit)
    for own in portions:
        if not len(rest):
            return
        edits = [mistakes[n].edit for n in rest]
        part = _part(seen, own)
        expected = readings(network, edits, job.states, part.touches)
        costs = costs + part.surprises(expected).sum(axis=0)
        rest, costs = rest[costs < limit], costs[costs < limit]
    for number, cost in zip(rest, costs, strict=True):
        yield Hypothesis((mistakes[first], mistakes[number]), float(cost))


def _portions(seen: Evidence) -> list[Numbers]:
    """Readings in the order in which they are looked at: odd ones first, state by state."""
    odd = seen.odd
    states = np.array([one.touch.state for one in seen.found])
    order = sorted(set(states.tolist()), key=lambda state: -int(odd[states == state].sum()))
    found = [np.nonzero(which & (states == at))[0] for which in (odd, ~odd) for at in order]
    return [own for own in found if len(own)]


def _part(seen: Evidence, own: Numbers) -> Evidence:
    found = tuple(seen.found[n] for n in own)
    return Evidence(seen.job, found, seen.planned[own], seen.spread[own], seen.loosest)


def read_by(job: Job, hypotheses: Sequence[Hypothesis], touches: Sequence[Touch]) -> Ohms:
    """What each touch reads if a hypothesis is true, of shape (touches, hypotheses)."""
    ohms = np.empty((len(touches), len(hypotheses)))
    ones = [n for n, h in enumerate(hypotheses) if len(h.mistakes) == 1]
    edits = [hypotheses[n].mistakes[0].edit for n in ones]
    if ones:
        ohms[:, ones] = readings(job.network, edits, job.states, touches)
    for n, hypothesis in enumerate(hypotheses):
        if len(hypothesis.mistakes) != 1:
            network = job.network
            for mistake in hypothesis.mistakes:
                network = apply(network, mistake.edit)
            ohms[:, [n]] = readings(network, [Edit()], job.states, touches)
    return ohms
