"""Suspects, best first, those together that no ohmmeter tells apart; and what to touch next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import exp

import numpy as np

from rewire.bench.buzz.contradictions import Contradiction, contradictions
from rewire.bench.buzz.job import Job, planned, spreads
from rewire.bench.buzz.measure import Ohms, Touch
from rewire.bench.buzz.mistakes import Mistake
from rewire.bench.buzz.noticing import AGREES, LEADS, LEAKS, differs
from rewire.bench.buzz.other_values import other_values
from rewire.bench.buzz.rank import (
    KEPT,
    Evidence,
    Found,
    Hypothesis,
    Search,
    cost_of_none,
    evidence,
    pairs,
    read_by,
    singles,
)

SHOWN = 60
"""Groups of suspects that are told."""
_WORTH = 0.001
"""Share of belief below which a suspect is not told."""
_CELLS = 6_000_000
_TRIED = 8000
"""Touches among which the next one is looked for."""
_INFORMS = 0.02
"""Bits below which no touch is proposed."""
_STEP = 0.14
"""Readings closer than this, as logarithm, are one answer when a touch is chosen."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A hypothesis, with all that no ohmmeter can tell from it."""

    mistakes: tuple[Mistake, ...]
    alike: tuple[tuple[Mistake, ...], ...]
    """Others that read the same everywhere, likeliest first."""
    belief: float
    """Share of belief, all alike together."""
    explains: int
    """Odd readings that it accounts for."""
    contradicts: tuple[int, ...]
    """Numbers of readings that speak against it."""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the readings say about the wiring."""

    seen: Evidence
    odd: tuple[int, ...]
    """Numbers of the readings that are not as they should be."""
    contradictions: tuple[Contradiction, ...]
    suspects: tuple[Suspect, ...]
    misread: float
    """Share of belief that nothing is wrong and the odd readings were misread."""
    next: tuple[Touch, ...]
    """What to touch next, best first; none if nothing would tell the suspects apart."""
    search: Search | None
    """The search for two mistakes, if one mistake did not account for everything."""

    @property
    def verdict(self) -> str:
        """``good``, ``wrong``, ``not settled``, or ``untested``."""
        if not self.seen.found:
            return "untested"
        if self.odd or self.contradictions:
            return "wrong"
        return "not settled" if self.only_beeped else "good"

    @property
    def only_beeped(self) -> tuple[int, ...]:
        """Numbers of readings that were a beep where ohms must be read: it tells nothing."""
        return tuple(int(n) for n in np.nonzero(self.seen.only_beeped)[0])


@dataclass(slots=True)
class _Ranked:
    hypotheses: list[Hypothesis] = field(default_factory=list)
    search: Search | None = None


def diagnose(
    job: Job,
    found: Sequence[Found],
    mistakes: Sequence[Mistake],
    touches: Sequence[Touch],
    kinds: Sequence[int],
    *,
    seconds: float = 20.0,
    tell: Callable[[int, int], None] | None = None,
) -> Diagnosis:
    """Find what explains the readings.

    Args:
        job: the wiring.
        found: what was read.
        mistakes: what may have been done wrong.
        touches: what may be touched next.
        kinds: per mistake the number of its kind; those of one kind read alike everywhere.
        seconds: limit of the search for two mistakes.
        tell: progress of that search.
    """
    seen = evidence(job, found)
    odd = tuple(int(n) for n in np.nonzero(seen.odd)[0])
    against = tuple(contradictions(found))
    if not odd:
        return Diagnosis(seen, odd, against, (), 1.0, (), None)
    values = other_values(seen)
    mistakes = [*mistakes, *values]
    kinds = [*kinds, *range(len(kinds), len(mistakes))]
    ranked = _ranked(seen, mistakes, kinds, seconds, tell)
    most = max(SHOWN, min(KEPT, _CELLS // len(touches)))
    best = sorted(ranked.hypotheses, key=lambda one: one.cost)[:most]
    plan = planned(job, touches)
    spread = spreads(job, touches, plan)
    ohms = read_by(job, best, touches)
    plan_column = plan[:, None]
    # A mistake that leads a known reading through a meter for AC shows, though not by how much.
    shows = differs(plan_column, ohms, spread[:, None]) | (np.isnan(ohms) & ~np.isnan(plan_column))
    telling = np.nonzero(shows.any(axis=0))[0]
    best, ohms = [best[n] for n in telling], ohms[:, telling]
    beliefs, misread = _beliefs(best, cost_of_none(seen))
    groups = _groups(ohms, spread)
    suspects = _suspects(seen, best, beliefs, groups)
    answers = np.column_stack([ohms[:, [group[0] for group in groups]], plan])
    weights = np.append([beliefs[group].sum() for group in groups], misread)
    following = _following(touches, answers, weights, [one.touch for one in found])
    return Diagnosis(seen, odd, against, suspects, misread, following, ranked.search)


def _following(
    touches: Sequence[Touch], answers: Ohms, weights: Ohms, made: Sequence[Touch]
) -> tuple[Touch, ...]:
    """Touches that would tell most between the suspects, best first."""
    done = {(touch.state, frozenset(touch.ends)) for touch in made}
    tried = [
        n
        for n in range(0, len(touches), max(1, len(touches) // _TRIED))
        if (touches[n].state, frozenset(touches[n].ends)) not in done
    ]
    informs = information(answers[tried], weights)
    best = [n for n in np.argsort(-informs, kind="stable")[:3] if informs[n] > _INFORMS]
    return tuple(touches[tried[n]] for n in best)


def _ranked(
    seen: Evidence,
    mistakes: Sequence[Mistake],
    kinds: Sequence[int],
    seconds: float,
    tell: Callable[[int, int], None] | None,
) -> _Ranked:
    costs = singles(seen, mistakes)
    order = np.argsort(costs, kind="stable")[:KEPT]
    ranked = _Ranked([Hypothesis((mistakes[n],), float(costs[n])) for n in order])
    best = read_by(seen.job, ranked.hypotheses[:1], seen.touches)
    if (seen.surprises(best)[:, 0] > AGREES).any() and seconds > 0.0:
        one_of_each = _likeliest(kinds, costs)
        few, own = [mistakes[n] for n in one_of_each], costs[one_of_each]
        ranked.search = pairs(seen, few, own, seconds, tell)
        ranked.hypotheses += ranked.search.best
    return ranked


def _likeliest(kinds: Sequence[int], costs: Ohms) -> list[int]:
    """One mistake of each kind."""
    best: dict[int, int] = {}
    for number, kind in enumerate(kinds):
        known = best.setdefault(kind, number)
        if costs[number] < costs[known]:
            best[kind] = number
    return list(best.values())


def _beliefs(hypotheses: Sequence[Hypothesis], none: float) -> tuple[Ohms, float]:
    costs = np.array([one.cost for one in hypotheses])
    least = min([none, *(one.cost for one in hypotheses)])
    shares = np.exp(least - costs)
    total = float(shares.sum()) + exp(least - none)
    return shares / total, exp(least - none) / total


def _groups(ohms: Ohms, spread: Ohms) -> list[list[int]]:
    """Hypotheses that read alike at every touch, in order of the best of each."""
    groups: list[list[int]] = []
    leaders: list[int] = []
    glance = slice(None, None, max(1, len(ohms) // 300))
    for number in range(ohms.shape[1]):
        own = ohms[:, [number]]
        near = differs(ohms[glance, leaders], own[glance], spread[glance, None]).any(axis=0)
        alike = (
            int(at)
            for at in np.nonzero(~near)[0]
            if not differs(ohms[:, leaders[at]], own[:, 0], spread).any()
        )
        at = next(alike, None)
        if at is None:
            groups.append([number])
            leaders.append(number)
        else:
            groups[at].append(number)
    return groups


def _suspects(
    seen: Evidence, best: Sequence[Hypothesis], beliefs: Ohms, groups: Sequence[list[int]]
) -> tuple[Suspect, ...]:
    order = sorted(groups, key=lambda group: -float(beliefs[group].sum()))
    leaders = [best[group[0]] for group in order]
    agrees = seen.surprises(read_by(seen.job, leaders, seen.touches)) <= AGREES
    found: list[Suspect] = []
    for row, group in enumerate(order[:SHOWN]):
        belief = float(beliefs[group].sum())
        if belief < _WORTH and found:
            break
        alike = tuple(best[n].mistakes for n in group[1:])
        against = tuple(int(n) for n in np.nonzero(~agrees[:, row])[0])
        explains = int((agrees[:, row] & seen.odd).sum())
        if not explains:
            continue
        found.append(Suspect(leaders[row].mistakes, alike, belief, explains, against))
    return tuple(found)


def information(answers: Ohms, weights: Ohms) -> Ohms:
    """Bits that each touch is expected to tell between hypotheses.

    Args:
        answers: what each hypothesis reads, of shape (touches, hypotheses).
        weights: belief in each.
    """
    share = weights / weights.sum()
    answer = answered(answers)
    bits = np.zeros(len(answers))
    for row, line in enumerate(answer):
        _, which = np.unique(line, return_inverse=True)
        parts = np.bincount(which.ravel(), weights=share)
        parts = parts[parts > 0.0]
        bits[row] = -float((parts * np.log2(parts)).sum())
    return bits


def answered(ohms: Ohms) -> Ohms:
    """Readings as answers that a person tells apart.

    -1 is closed, -2 open, -3 not known, the rest steps of ohms.
    """
    with np.errstate(invalid="ignore"):
        steps = np.round(np.log(np.maximum(ohms, LEADS) / LEADS) / _STEP)
        near = np.where(ohms <= LEADS, -1.0, np.where(ohms >= LEAKS, -2.0, steps))
    return np.asarray(np.where(np.isnan(ohms), -3.0, near))
