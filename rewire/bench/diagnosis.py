"""Which mistakes explain what was found, best first, and which reading tells most next.

Each mistake is weighed by its odds and by what it would read; those together that no ohmmeter
tells apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from math import log
from time import monotonic

import numpy as np

from rewire.bench.evidence import (
    AGREES,
    Contradiction,
    Evidence,
    TouchReading,
    contradictions,
    evidence,
    information,
)
from rewire.bench.mistakes import ODDS, Mistake
from rewire.bench.ohmmeter import Edit, Mask, Ohms, Touch, apply, differs, readings
from rewire.bench.probes import Job, overloaded_movements, planned
from rewire.bench.short_list import Plan
from rewire.words.quantity import in_ohms

ONE, TWO, NONE = 0.6, 0.1, 0.3
"""How often a new wiring has one mistake, two, or none; common practice, no source."""
KEPT = 400
"""Hypotheses that are looked at closely."""
SHOWN = 60
"""Most groups of suspects that are listed."""
_NEAR = log(50.0)
"""Pairs dearer than the best by more than this are dropped."""
_WORTH = 0.001
"""Share of belief below which a suspect is not listed."""
_READ_AT_ONCE = 6_000_000
_TRIED = 8000
"""Touches among which the next one is looked for."""
_INFORMS = 0.02
"""Bits below which no touch is proposed."""
_FACTORS = np.logspace(-5.0, 5.0, 401)
"""From a hundred-thousandth of a value to a hundred thousand times it, in steps of 6 %."""
_USUAL = 0.1
"""Share by which a factor must differ from 1, 10 and 0.1, which are looked for anyway."""
_MOST_ODD = 20
"""Odd readings for which another value is looked for."""
ENOUGH = 0.01
"""Bits below which another touch is not worth its while."""
SURE = 0.995
"""Belief at which asking stops."""
_ASKED_AT_ONCE = 4_000_000
_LAST = 30
"""Kinds that some reading can still separate at the end."""
_FLAT = 0.5
"""Weight of prior odds while asking; below 1, so that rare mistakes are asked about too."""
_TURNING = 0.02
"""Bits that a touch must tell more to be worth turning a knob for."""
_DELICATE = 0.05
"""Bits that a touch through a delicate movement must tell more."""
Tell = Callable[[int, int], None]
"""Hears how many first halves of pairs were looked at, and of how many."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """Mistakes that may have been made, and how dear they are to believe."""

    mistakes: tuple[Mistake, ...]
    cost: float
    """Minus the logarithm of odds and likelihood together."""


def costs_of(mistakes: Sequence[Mistake]) -> Ohms:
    """What each single mistake costs to believe before anything is measured."""
    odds = np.array([mistake.odds for mistake in mistakes])
    return np.asarray(-np.log(ONE * odds / odds.sum()))


def cost_of_none(seen: Evidence) -> float:
    """What it costs to believe that nothing is wrong and the odd readings were misread."""
    return -log(NONE) + float(seen.surprises(seen.planned[:, None]).sum())


def shares_of(costs: Ohms) -> Ohms:
    """Belief in each of some hypotheses of which just one is true."""
    shares = np.exp(costs.min() - costs)
    return np.asarray(shares / shares.sum())


@dataclass(frozen=True, slots=True)
class PairSearch:
    """What a search for two mistakes gave."""

    best: tuple[Hypothesis, ...]
    looked: int
    of: int

    @property
    def is_whole(self) -> bool:
        """Whether every pair was looked at."""
        return self.looked >= self.of


def pairs(
    seen: Evidence, mistakes: Sequence[Mistake], single: Ohms, seconds: float, tell: Tell | None
) -> PairSearch:
    """Two mistakes at once, those first whose one half explains most; ``single`` is their costs.

    After so many seconds the search ends. A pair is dropped as soon as the odd readings alone
    make it dearer than the best so far.
    """
    before = costs_of(mistakes)
    dear = before + log(ONE / TWO)
    order = np.argsort(single, kind="stable")
    until = monotonic() + seconds
    parts = [_only(seen, which) for which in (seen.odd, ~seen.odd) if which.any()]
    best: list[Hypothesis] = []
    limit, looked = float(single.min()), 0
    for done, first in enumerate(order, 1):
        if monotonic() > until:
            break
        rest = order[done:]
        network = apply(seen.job.network, mistakes[first].edit)
        costs = dear[first] + before[rest]
        for part in parts:
            left = np.flatnonzero(costs < limit + _NEAR)
            edits = [mistakes[n].edit for n in rest[left]]
            if edits:
                expected = readings(network, edits, part.job.states, part.touches)
                costs[left] += part.surprises(expected).sum(axis=0)
        for number in np.flatnonzero(costs < limit + _NEAR):
            both = mistakes[first], mistakes[rest[number]]
            best.append(Hypothesis(both, float(costs[number])))
        limit = min(limit, float(costs.min(initial=np.inf)))
        looked += len(rest)
        if tell is not None:
            tell(done, len(order))
    best.sort(key=lambda one: one.cost)
    return PairSearch(tuple(best[:KEPT]), looked, len(order) * (len(order) - 1) // 2)


def _only(seen: Evidence, which: Mask) -> Evidence:
    """Some of the readings."""
    found = tuple(seen.found[n] for n in np.flatnonzero(which))
    return replace(seen, found=found, planned=seen.planned[which], spread=seen.spread[which])


def read_by(job: Job, causes: Sequence[Sequence[Mistake]], touches: Sequence[Touch]) -> Ohms:
    """What each touch reads if mistakes were made, of shape (touches, causes)."""
    ohms = np.empty((len(touches), len(causes)))
    alone = [n for n, mistakes in enumerate(causes) if len(mistakes) == 1]
    edits = [causes[n][0].edit for n in alone]
    ohms[:, alone] = readings(job.network, edits, job.states, touches)
    for n, mistakes in enumerate(causes):
        if len(mistakes) != 1:
            network = reduce(apply, (one.edit for one in mistakes), job.network)
            ohms[:, [n]] = readings(network, [Edit()], job.states, touches)
    return ohms


def other_values(seen: Evidence) -> Iterator[Mistake]:
    """For each resistor or pot and each odd reading the one value that explains it, if any does."""
    job = seen.job
    odd = [seen.found[n] for n in np.flatnonzero(seen.odd) if seen.found[n].ohms][:_MOST_ODD]
    touches = [one.touch for one in odd]
    for part in (part for part in job.spec.parts_of(job.wiring).values() if odd and part.by_ohms):
        told, bars = [1.0, 10.0, 0.1], job.network.bars_of(part.name)
        edits = [Edit(scaled=tuple((bar, float(factor)) for bar in bars)) for factor in _FACTORS]
        for one, ohms in zip(odd, readings(job.network, edits, job.states, touches), strict=True):
            wanted = one.ohms or 0.0
            if not np.isfinite(ohms).all() or not ohms[0] < wanted < ohms[-1]:
                continue
            factor = float(np.exp(np.interp(wanted, ohms, np.log(_FACTORS))))
            if all(abs(factor / known - 1.0) >= _USUAL for known in told):
                told.append(factor)
                yield _other_value(job, part.name, bars, factor)


def _other_value(job: Job, part: str, bars: Sequence[int], factor: float) -> Mistake:
    said = f"{factor:.3g} times its value"
    if len(bars) == 1:
        ohms = job.network.bars[bars[0]].ohms[0]
        said = f"{in_ohms(factor * ohms, 3)} and not {in_ohms(ohms, 3)}"
    edit = Edit(scaled=tuple((bar, factor) for bar in bars))
    return Mistake("other value", f"{part} has {said}", edit, ODDS["other value"], part=part)


# Suspects


@dataclass(frozen=True, slots=True)
class Suspect:
    """A hypothesis, with all that no ohmmeter can tell from it."""

    mistakes: tuple[Mistake, ...]
    alike: tuple[tuple[Mistake, ...], ...]
    """Others that read the same everywhere, likeliest first."""
    belief: float
    explains: int
    contradicts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the readings say about the wiring."""

    seen: Evidence
    odd: tuple[int, ...]
    contradictions: tuple[Contradiction, ...]
    suspects: tuple[Suspect, ...] = ()
    misread: float = 1.0
    """Share of belief that nothing is wrong and the odd readings were misread."""
    next: tuple[Touch, ...] = ()
    """What to read next, best first; empty if no reading would separate the suspects."""
    search: PairSearch | None = None
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
        return tuple(int(n) for n in np.flatnonzero(self.seen.only_beeped))


def diagnosed(
    plan: Plan, found: Sequence[TouchReading], seconds: float = 20.0, tell: Tell | None = None
) -> Diagnosis:
    """What explains the readings; the search for two mistakes ends after so many seconds."""
    plan.look_at([one.touch for one in found])
    seen = evidence(plan.job, found)
    odd = tuple(int(n) for n in np.flatnonzero(seen.odd))
    against = tuple(contradictions(found))
    if not odd:
        return Diagnosis(seen, odd, against)
    touches, right, spread = plan.shown.touches, plan.shown.ohms, plan.shown.spread
    hypotheses, search = _ranked(seen, plan, seconds, tell)
    most = max(SHOWN, min(KEPT, _READ_AT_ONCE // len(touches)))
    best = sorted(hypotheses, key=lambda one: one.cost)[:most]
    ohms = read_by(plan.job, [one.mistakes for one in best], touches)
    # A mistake that leads a known reading through a meter for AC shows, though not by how much.
    shows = differs(right[:, None], ohms, spread[:, None])
    shows |= np.isnan(ohms) & ~np.isnan(right[:, None])
    telling = np.flatnonzero(shows.any(axis=0))
    best, ohms = [best[n] for n in telling], ohms[:, telling]
    *beliefs, misread = shares_of(np.array([*(one.cost for one in best), cost_of_none(seen)]))
    groups = _groups(ohms, spread)
    suspects = _suspects(seen, best, np.array(beliefs), groups)
    answers = np.column_stack([ohms[:, [group[0] for group in groups]], right])
    weights = np.array([*(sum(beliefs[n] for n in group) for group in groups), misread])
    following = _following(touches, answers, weights, [one.touch for one in found])
    return Diagnosis(seen, odd, against, suspects, float(misread), following, search)


def not_excluded(plan: Plan, found: Sequence[TouchReading]) -> int:
    """Single mistakes that could be shown, but not by the touches that were made."""
    seen = evidence(plan.job, found)
    there = plan.shown.bank.read(seen.touches)
    told = differs(seen.planned[:, None], there, seen.spread[:, None])
    left = ~told[:, plan.shown.kind].any(axis=0)
    return int((left & plan.shown.seen).sum())


def _following(
    touches: Sequence[Touch], answers: Ohms, weights: Ohms, made: Sequence[Touch]
) -> tuple[Touch, ...]:
    """Touches that would tell most between the suspects, best first."""
    done = {(touch.state, frozenset(touch.ends)) for touch in made}
    some = range(0, len(touches), max(1, len(touches) // _TRIED))
    tried = [n for n in some if (touches[n].state, frozenset(touches[n].ends)) not in done]
    informs = information(answers[tried], weights)
    best = [n for n in np.argsort(-informs, kind="stable")[:3] if informs[n] > _INFORMS]
    return tuple(touches[tried[n]] for n in best)


def _ranked(
    seen: Evidence, plan: Plan, seconds: float, tell: Tell | None
) -> tuple[list[Hypothesis], PairSearch | None]:
    """Single mistakes, the likeliest first, and pairs where no single one explains everything."""
    others, job = list(other_values(seen)), seen.job
    mistakes = [*plan.mistakes, *others]
    found = seen.surprises(plan.shown.bank.read(seen.touches)).sum(axis=0)[plan.shown.kind]
    read = readings(job.network, [one.edit for one in others], job.states, seen.touches)
    costs = costs_of(mistakes) + np.append(found, seen.surprises(read).sum(axis=0))
    order = np.argsort(costs, kind="stable")[:KEPT]
    hypotheses = [Hypothesis((mistakes[n],), float(costs[n])) for n in order]
    best = read_by(job, [hypotheses[0].mistakes], seen.touches)
    if seconds <= 0.0 or not (seen.surprises(best)[:, 0] > AGREES).any():
        return hypotheses, None
    likeliest: dict[int, int] = {}
    for number, kind in enumerate(plan.shown.kind.tolist()):
        known = likeliest.setdefault(kind, number)
        if costs[number] < costs[known]:
            likeliest[kind] = number
    few = [*likeliest.values(), *range(len(plan.mistakes), len(mistakes))]
    search = pairs(seen, [mistakes[n] for n in few], costs[few], seconds, tell)
    return [*hypotheses, *search.best], search


def _groups(ohms: Ohms, spread: Ohms) -> list[list[int]]:
    """Hypotheses that read alike at every touch, in order of the best of each."""
    groups: dict[int, list[int]] = {}
    some = slice(None, None, max(1, len(ohms) // 300))
    for number in range(ohms.shape[1]):
        leaders, own = list(groups), ohms[:, [number]]
        apart = differs(ohms[some, leaders], own[some], spread[some, None]).any(axis=0)
        likely = (leaders[n] for n in np.flatnonzero(~np.atleast_1d(apart)))
        alike = (at for at in likely if not differs(ohms[:, at], own[:, 0], spread).any())
        groups.setdefault(next(alike, number), []).append(number)
    return list(groups.values())


def _suspects(
    seen: Evidence, best: Sequence[Hypothesis], beliefs: Ohms, groups: Sequence[list[int]]
) -> tuple[Suspect, ...]:
    order = sorted(groups, key=lambda group: -float(beliefs[group].sum()))
    leaders = [best[group[0]].mistakes for group in order]
    agrees = seen.surprises(read_by(seen.job, leaders, seen.touches)) <= AGREES
    found: list[Suspect] = []
    for row, group in enumerate(order[:SHOWN]):
        belief = float(beliefs[group].sum())
        if belief < _WORTH and found:
            break
        alike = tuple(best[n].mistakes for n in group[1:])
        against = tuple(int(n) for n in np.flatnonzero(~agrees[:, row]))
        explains = int((agrees[:, row] & seen.odd).sum())
        if explains:
            found.append(Suspect(leaders[row], alike, belief, explains, against))
    return tuple(found)


# What to read next, asked reading by reading


@dataclass(frozen=True, slots=True)
class Questions:
    """All that is needed to choose touches of one wiring, worked out once."""

    plan: Plan
    touches: tuple[Touch, ...]
    kinds: tuple[int, ...]
    """Kinds of mistakes that some reading shows; no mistake is always one more."""
    costs: Ohms
    """What each of these kinds costs to believe at first."""
    ohms: Ohms
    """What each touch reads: per kind, and last as it should be."""
    awkward: Mask


def questions(plan: Plan) -> Questions:
    """Make a plan ready for asking: every touch, or the short list and table if too many."""
    found, job = plan.shown, plan.job
    shares = np.bincount(found.kind, weights=np.exp(-costs_of(plan.mistakes)))
    own = tuple(kind for kind, first in enumerate(found.few) if found.seen[first])
    touches = list(found.touches)
    if len(touches) * len(own) > _ASKED_AT_ONCE:
        short = [touches[n] for n in plan.shortlist.chosen]
        table = [job.touch(probe.state, probe.between) for probe in plan.table]
        most = max(len(short), _ASKED_AT_ONCE // len(own))
        touches = list(dict.fromkeys([*short, *table]))[:most]
    return Questions(
        plan=plan, touches=tuple(touches), kinds=own, costs=-_FLAT * np.log(shares[[*own]]),
        ohms=_read(plan, own, touches),
        awkward=np.array([bool(o) for o in overloaded_movements(job, touches)], dtype=np.bool_),
    )  # fmt: skip


def _read(plan: Plan, kinds: Sequence[int], touches: Sequence[Touch]) -> Ohms:
    """What touches read per kind of mistake, and last where nothing is wrong."""
    return np.column_stack([plan.shown.bank.read(touches, kinds), planned(plan.job, touches)])


def beliefs(asked: Questions, found: Sequence[TouchReading]) -> Ohms:
    """Belief in each kind, and last in a wiring as it should be."""
    seen = evidence(asked.plan.job, found)
    costs = np.append(asked.costs, 0.0)
    if found:
        expected = _read(asked.plan, asked.kinds, seen.touches)
        costs = costs + seen.surprises(expected).sum(axis=0)
    costs[-1] = cost_of_none(seen)
    return shares_of(costs)


def likeliest(asked: Questions, found: Sequence[TouchReading]) -> tuple[Mistake | None, float]:
    """The likeliest mistake and how likely it is; None while a correct wiring is likelier."""
    believed = beliefs(asked, found)
    best = int(believed.argmax())
    if best == len(asked.kinds):
        return None, float(believed[best])
    return asked.plan.mistakes[asked.plan.shown.few[asked.kinds[best]]], float(believed[best])


def next_touch(
    asked: Questions, found: Sequence[TouchReading], skipped: Sequence[Touch]
) -> Touch | None:
    """The reading expected to tell most, of those not made yet; None if none is worth taking."""
    believed = beliefs(asked, found)
    if found and believed.max() > SURE:
        return None
    gain = information(asked.ohms, believed)
    here = found[-1].touch.state if found else 0
    turning = np.array([touch.state != here for touch in asked.touches])
    wish = gain - _TURNING * turning - _DELICATE * asked.awkward
    done, shown = {*(one.touch for one in found), *skipped}, asked.plan.shown
    wish[[n for n, touch in enumerate(asked.touches) if touch in done]] = -np.inf
    best = int(wish.argmax()) if len(wish) else -1
    if best >= 0 and wish[best] > -np.inf and gain[best] > ENOUGH:
        return asked.touches[best]
    left = [touch for touch in shown.touches if touch not in done]
    if len(asked.touches) == len(shown.touches) or not left:
        return None
    last = np.argsort(-believed[:-1])[:_LAST].tolist()
    ohms = _read(asked.plan, [asked.kinds[n] for n in last], left)
    gain = information(ohms, believed[[*last, -1]])
    best = int(gain.argmax())
    return left[best] if gain[best] > ENOUGH else None
