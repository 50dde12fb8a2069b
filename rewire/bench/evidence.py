"""Readings beside what they should have been: which are odd, which cannot all be right.

Resistance between places is a distance: from A to C it is at most that from A to B and on
from B to C (D. J. Klein and M. Randic, "Resistance distance", J. Math. Chem. 12, 1993; from
memory). So a reading is out of place where others lead from one of its places to the other
through less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from math import inf, log
from typing import get_args

import networkx as nx
import numpy as np

from rewire.bench.ohmmeter import (
    BEEPS,
    LEADS,
    LEAKS,
    METER,
    Mask,
    Ohms,
    State,
    Touch,
    differs,
)
from rewire.bench.probes import Job, planned, spreads
from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import States
from rewire.reading.benchlog import BenchLog, Told
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Spec, Wiring

MISREAD = 0.001
"""How often a reading is simply wrong; common practice, no source."""
AGREES = 2.2
"""Surprise up to which a reading agrees: two standard deviations, or a beeper through ohms."""
_STEP = 0.14
"""Readings closer than this, as logarithm, are one answer when a touch is chosen."""
_TRIED = 64
"""States in which a line that leaves controls open is tried."""


def surprise(planned: Ohms, told: Told, found: Ohms, spread: Ohms) -> Ohms:
    """Minus the logarithm of how likely readings are, against such as are as planned.

    Told is ``open``, ``closed`` by a beeper, which may sound through some ohms, or a number found.
    Ohms and shapes as for ``differs``.
    """
    misread = -log(MISREAD)
    if told == "open":
        return np.asarray(np.where(planned >= LEAKS, 0.0, misread))
    if told == "closed":
        usual = np.where(planned <= BEEPS, log(2.0), misread)
        heard = np.where(planned <= 3.0 * LEADS, 0.0, usual)
        return np.asarray(np.where(np.isnan(planned), log(3.0), heard))
    sigma = (LEADS + (METER + spread) * np.where(np.isfinite(planned), planned, 1.0)) / 2.0
    with np.errstate(invalid="ignore"):
        off = np.minimum((planned - found) / sigma, 1e3)
    usual = np.where(np.isnan(planned), log(3.0), off**2 / 2.0)
    return np.asarray(np.minimum(np.where(planned >= LEAKS, np.inf, usual), misread))


def information(answers: Ohms, weights: Ohms) -> Ohms:
    """Bits that each touch is expected to tell between hypotheses, believed in by ``weights``.

    Answers are what each hypothesis reads, of shape (touches, hypotheses); a person tells apart
    closed, open, not known, and steps of ohms.
    """
    with np.errstate(invalid="ignore"):
        steps = np.round(np.log(np.maximum(answers, LEADS) / LEADS) / _STEP)
        told = np.where(answers <= LEADS, -1.0, np.where(answers >= LEAKS, -2.0, steps))
    told = np.where(np.isnan(answers), -3.0, told)
    bits, share = np.zeros(len(answers)), weights / weights.sum()
    for row, line in enumerate(told):
        _, which = np.unique(line, return_inverse=True)
        parts = np.bincount(which.ravel(), weights=share)
        parts = parts[parts > 0.0]
        bits[row] = -float((parts * np.log2(parts)).sum())
    return bits


# Readings


@dataclass(frozen=True, slots=True)
class TouchReading:
    """One reading, as touched."""

    touch: Touch
    told: Told
    ohms: float | None = None
    said: str = ""
    """Where it is written, for messages."""

    @property
    def noticed(self) -> Told:
        """So many ohms that a display may say open are open; ohms without a number are a beep."""
        if self.told != "ohms":
            return self.told
        if self.ohms is None:
            return "closed"
        return "open" if self.ohms >= LEAKS else "ohms"

    @property
    def limits(self) -> tuple[float, float]:
        """Least and most ohms that may truly be there."""
        if self.noticed == "open":
            return LEAKS, inf
        if self.noticed == "closed" or self.ohms is None:
            return 0.0, BEEPS
        off = LEADS + METER * self.ohms
        return self.ohms - off, self.ohms + off


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings on a wiring, with what they should have been."""

    job: Job
    found: tuple[TouchReading, ...]
    planned: Ohms
    spread: Ohms
    loosest: float
    """Spread where a mistake sends the current along another path."""

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
        own = self.spread[:, None]
        apart = differs(self.planned[:, None], expected, own)
        spread = np.where(apart, self.loosest, own)
        surprises = np.zeros(expected.shape)
        found = np.array([one.ohms or 0.0 for one in self.found])[:, None]
        told = np.array([one.noticed for one in self.found])
        for each in get_args(Told):
            rows = told == each
            surprises[rows] = surprise(expected[rows], each, found[rows], spread[rows])
        return surprises


def evidence(job: Job, found: Sequence[TouchReading]) -> Evidence:
    """Compare readings with what they should have been."""
    touches = [one.touch for one in found]
    ohms = planned(job, touches)
    loosest = max((bar.tolerance for bar in job.network.bars), default=0.0)
    return Evidence(job, tuple(found), ohms, spreads(job, touches, ohms), loosest)


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A reading, by number, and the readings that contradict it."""

    reading: int
    others: tuple[int, ...]
    at_most: float
    """Ohms that the others leave for it."""


def contradictions(found: Sequence[TouchReading]) -> Iterator[Contradiction]:
    """Readings that others make impossible, each with the path that does."""
    for state in sorted({one.touch.state for one in found}):
        own = {n: one for n, one in enumerate(found) if one.touch.state == state}
        paths: nx.Graph[int] = nx.Graph()
        for number, one in own.items():
            ends, most = one.touch.ends, one.limits[1]
            if most < paths.get_edge_data(*ends, {"ohms": inf})["ohms"]:
                paths.add_edge(*ends, ohms=most, reading=number)
        told: set[frozenset[int]] = set()
        for number, one in own.items():
            (start, end), least = one.touch.ends, one.limits[0]
            if (
                least <= 0.0
                or not {start, end} <= paths.nodes
                or not nx.has_path(paths, start, end)
            ):
                continue
            path = nx.dijkstra_path(paths, start, end, weight="ohms")
            at_most = float(nx.path_weight(paths, path, "ohms"))
            others = tuple(paths.edges[a, b]["reading"] for a, b in pairwise(path))
            if at_most < least and frozenset((number, *others)) not in told:
                told.add(frozenset((number, *others)))
                yield Contradiction(number, others, at_most)


# Lines of a bench log


def states_of_log(spec: Spec, wiring: Wiring, log: BenchLog) -> list[list[State]]:
    """Per line of the continuity list the states that it may have been taken in.

    Raises ``SpecError`` for a state that ``never`` rules out, ``LimitReached`` for too many.
    """
    moving = {switch.control for switch in circuit_of(spec, wiring).switches}
    states = States(spec.controls, spec.never)
    found: list[list[State]] = []
    for line in log.continuity:
        frame = states.frame({*moving, *line.when}, "the states of a line of the log")
        mask = states.possible(frame)
        for name, position in line.when.items():
            mask &= frame.where(name, 1 << spec.controls[name].positions.index(position))
        some = islice(frame.states(mask), _TRIED)
        found.append([{n: at for n, at in state.items() if n in moving} for state in some])
    never = [line for line, own in zip(log.continuity, found, strict=True) if not own]
    if never:
        raise SpecError(
            Fault(line.place, "the controls cannot stand so: 'never' rules it out",
                  "say where they stood")
            for line in never
        )  # fmt: skip
    return found


def found_of(job: Job, log: BenchLog, states: Sequence[Sequence[State]]) -> list[TouchReading]:
    """The readings of a log as touches of a job that has their states.

    Raises ``SpecError`` where a line leaves a control open on which the reading depends.
    """
    found, faults = [], []
    for line, own in zip(log.continuity, states, strict=True):
        touches = list(dict.fromkeys(job.touch(state, line.between) for state in own))
        ohms = planned(job, touches) if len(touches) > 1 else np.zeros(1)
        if differs(ohms[:1], ohms, np.zeros(1)).any():
            free = [n for n in own[0] if n not in line.when and len({s[n] for s in own}) > 1]
            message = f"what must be found depends on where {', '.join(free)} stood"
            faults.append(Fault(line.place, message, "add it to when"))
        found.append(TouchReading(touches[0], line.found, line.ohms, str(line.place)))
    if faults:
        raise SpecError(faults)
    return found
