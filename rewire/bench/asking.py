"""What to touch next while buzzing out: the touch that is expected to tell most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rewire.bench.diagnosis import cost_of_none, costs_of, shares_of
from rewire.bench.evidence import TouchReading, evidence, information
from rewire.bench.mistakes import Mistake
from rewire.bench.ohmmeter import Mask, Ohms, Touch
from rewire.bench.probes import overloaded_movements, planned
from rewire.bench.short_list import Plan

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


@dataclass(frozen=True, slots=True)
class Questions:
    """All that is needed to choose touches of one wiring, worked out once."""

    plan: Plan
    touches: tuple[Touch, ...]
    """What may be asked for."""
    kinds: tuple[int, ...]
    """Kinds of mistakes that some reading shows; no mistake is always one more."""
    costs: Ohms
    """What each kind of mistake that some touch shows costs to believe at first."""
    ohms: Ohms
    """What each touch reads: per kind, and last as it should be."""
    awkward: Mask


def questions(plan: Plan) -> Questions:
    """Make a plan ready for asking."""
    found, job = plan.shown, plan.job
    shares = np.bincount(found.kind, weights=np.exp(-costs_of(plan.mistakes)))
    own = tuple(kind for kind, first in enumerate(found.few) if found.seen[first])
    touches = _worth_asking(plan, len(own))
    return Questions(
        plan=plan, touches=tuple(touches), kinds=own, costs=-_FLAT * np.log(shares[[*own]]),
        ohms=_read(plan, own, touches),
        awkward=np.array([bool(o) for o in overloaded_movements(job, touches)], dtype=np.bool_),
    )  # fmt: skip


def _read(plan: Plan, kinds: Sequence[int], touches: Sequence[Touch]) -> Ohms:
    """What touches read per kind of mistake, and last where nothing is wrong."""
    return np.column_stack([plan.shown.bank.read(touches, kinds), planned(plan.job, touches)])


def _worth_asking(plan: Plan, kinds: int) -> list[Touch]:
    """Every touch, or those of the short list and the table where that would be too many."""
    touches = list(plan.shown.touches)
    if len(touches) * kinds <= _ASKED_AT_ONCE:
        return touches
    short = [touches[n] for n in plan.shortlist.chosen]
    table = [plan.job.touch(probe.state, probe.between) for probe in plan.table]
    return list(dict.fromkeys([*short, *table]))[: max(len(short), _ASKED_AT_ONCE // kinds)]


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
    """The reading expected to tell most; None if none is worth taking."""
    believed = beliefs(asked, found)
    if found and believed.max() > SURE:
        return None
    touches = asked.touches
    gain = information(asked.ohms, believed)
    here = found[-1].touch.state if found else 0
    turning = np.array([touch.state != here for touch in touches])
    wish = gain - _TURNING * turning - _DELICATE * asked.awkward
    done = {*(one.touch for one in found), *skipped}
    wish[[n for n, touch in enumerate(touches) if touch in done]] = -np.inf
    return _best(touches, gain, wish) or _between_the_last(asked, believed, done)


def _between_the_last(asked: Questions, believed: Ohms, done: set[Touch]) -> Touch | None:
    """The reading, of all possible ones, that best separates the likeliest mistakes."""
    shown = asked.plan.shown
    if len(asked.touches) == len(shown.touches):
        return None
    last = np.argsort(-believed[:-1])[:_LAST].tolist()
    touches = [touch for touch in shown.touches if touch not in done]
    ohms = _read(asked.plan, [asked.kinds[n] for n in last], touches)
    gain = information(ohms, believed[[*last, -1]])
    return _best(touches, gain, gain)


def _best(touches: Sequence[Touch], gain: Ohms, wish: Ohms) -> Touch | None:
    best = int(wish.argmax()) if len(wish) else 0
    return touches[best] if len(wish) and wish[best] > -np.inf and gain[best] > ENOUGH else None
