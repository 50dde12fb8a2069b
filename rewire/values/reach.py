"""Reach: the settings of a calibration pot that builds inside their tolerances need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board
from rewire.values.chance import draw
from rewire.values.circuits import answer
from rewire.values.fitting import Unknown
from rewire.values.forms import Forms, degree, forms, roots
from rewire.values.readings import Setup
from rewire.values.tolerance import bands_of, climbed, corners, unstated

TRIMMED_SAMPLES = 4000
_SLACK = 1e-9
_STEPS = 33
"""Settings looked at between one that is needed and a stop; each round narrows it so much."""
_ROUNDS = 7
_TRACK_STEPS = 33


@dataclass(frozen=True, slots=True)
class Needed:
    """Settings, shares of the travel, that builds inside their tolerances need."""

    low: float
    high: float
    short: tuple[str, ...] = ()
    """Stops beyond which some builds would need it: ``ccw``, ``cw``."""
    nowhere: bool = False
    """Whether some builds are right at no setting, between the stops or beyond."""

    @property
    def reaches(self) -> bool:
        """Whether every build has a setting."""
        return not self.short and not self.nowhere


def needed(board: Board, unknown: Unknown, values: list[Array]) -> Needed:
    """The settings that are needed over the whole tolerance box.

    A setting is needed by some build where the least reading over the box is below
    full scale and the greatest above it. Followed from the nominal setting both ways.
    """
    at = float(values[unknown.number][0])
    ends = {}
    sides = {}
    for name, stop in (("ccw", 0.0), ("cw", 1.0)):
        ends[name], sides[name] = _edge(board, unknown, values, at, stop)
    low, high = ends["ccw"], ends["cw"]
    short = tuple(name for name, side in sides.items() if side == 0)
    nowhere = not short and sides["ccw"] == sides["cw"]
    if (short or nowhere) and _all_found(board, unknown, values):
        every = corner_settings(board, unknown, values)
        return Needed(min(low, float(every.min())), max(high, float(every.max())))
    return Needed(low, high, short, nowhere)


def _edge(
    board: Board, unknown: Unknown, values: list[Array], at: float, stop: float
) -> tuple[float, int]:
    """How far towards a stop settings are needed, and on which side all builds are beyond.

    0 for the side where they are on both sides of full scale at the stop itself.
    """
    inside, outside = at, stop
    for _ in range(_ROUNDS):
        steps = np.linspace(inside, outside, _STEPS)
        sides = _sides(board, unknown, values, steps)
        sides[0] = 0
        gone = np.flatnonzero(sides)
        if not len(gone):
            return outside, 0
        first = gone[0]
        inside, outside, side = float(steps[first - 1]), float(steps[first]), int(sides[first])
    return inside, side


def _sides(board: Board, unknown: Unknown, values: list[Array], settings: Array) -> Array:
    """+1 where every build reads above full scale at a setting, -1 below, 0 for either."""
    circuit, full_scale = unknown.setup.circuit, unknown.setup.full_scale
    assert full_scale is not None
    columns = corners(board, circuit, values, f"reach of {unknown.part}")
    count = max((len(column) for column in columns.values()), default=1)
    samples = [v if n not in columns else np.repeat(columns[n], len(settings))
               for n, v in enumerate(values)]  # fmt: skip
    samples[unknown.number] = np.tile(settings, count)
    whole = board.of_part(unknown.part)[0]
    bent = [b for b in bands_of(board, circuit, values)
            if b.number == whole and degree(circuit, whole) > 1]  # fmt: skip
    off = []
    for sense in (-1, 1):
        amps = sense * climbed(circuit, list(samples), bent, sense)
        table = np.broadcast_to(amps, (count * len(settings),)).reshape(count, -1)
        off.append(sense * np.max(sense * table, axis=0) / full_scale - 1.0)
    least, greatest = (np.nan_to_num(o, nan=np.inf) for o in off)
    return np.where(least > _SLACK, 1, np.where(greatest < -_SLACK, -1, 0))


def _all_found(board: Board, unknown: Unknown, values: list[Array]) -> bool:
    return bool(np.isfinite(corner_settings(board, unknown, values)).all())


def corner_settings(board: Board, unknown: Unknown, values: list[Array]) -> Array:
    """The setting between the stops that each corner of the box needs; inf where there is none.

    The pot's own end-to-end value is stepped through.
    """
    circuit = unknown.setup.circuit
    whole = board.of_part(unknown.part)[0]
    columns = corners(board, circuit, values, f"reach of {unknown.part}")
    own = next((b for b in bands_of(board, circuit, values) if b.number == whole), None)
    steps = np.linspace(own.low, own.high, _TRACK_STEPS) if own else values[whole]
    count = max((len(column) for column in columns.values()), default=1)
    samples = [v if n not in columns else np.repeat(columns[n], len(steps))
               for n, v in enumerate(values)]  # fmt: skip
    samples[whole] = np.tile(steps, count)
    return _roots(unknown, samples, float(values[unknown.number][0]))


def _roots(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting between the stops that is nearest to the nominal one, or inf."""
    zeros = roots(_along(unknown, samples).against(_full_scale(unknown)), -_SLACK, 1.0 + _SLACK)
    near = np.where(np.isnan(zeros), np.inf, np.abs(zeros - nominal))
    best = np.take_along_axis(zeros, np.argmin(near, axis=0)[None], axis=0)[0]
    return np.where(np.isnan(best), np.inf, np.clip(best, 0.0, 1.0))


def _along(unknown: Unknown, samples: list[Array]) -> Forms:
    circuit = unknown.setup.circuit
    rank = degree(circuit, unknown.number)
    points = (0.25, 0.75) if rank == 1 else (0.2, 0.5, 0.8)
    return forms(circuit, samples, unknown.number, points)


def _full_scale(unknown: Unknown) -> float:
    full_scale = unknown.setup.full_scale
    assert full_scale is not None
    return full_scale


def nearest_settings(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting that puts the reading right, or the stop that comes nearest."""
    found = _roots(unknown, samples, nominal)
    missing = np.isinf(found)
    if not missing.any():
        return found
    along = _along(unknown, samples)
    target = along.against(_full_scale(unknown))
    with np.errstate(divide="ignore", invalid="ignore"):
        at_ccw = np.abs(target[0] / along.denominator[0])
        at_cw = np.abs(target.sum(axis=0) / along.denominator.sum(axis=0))
    return np.where(missing, np.where(at_cw < at_ccw, 1.0, 0.0), found)


def trimmed(
    board: Board, unknowns: Sequence[Unknown], setup: Setup, values: list[Array], seed: int
) -> tuple[float, float] | None:
    """Errors between which 99 % of builds of a reading lie once its pots are set in each.

    Seeded, uniform over the bands; the meter's accuracy is added at either end. Percent
    of full scale; None where no pot of its circuit is fitted, or a tolerance is not given
    (that of a pot's own track does not count: it is set until the reading is right).
    """
    pots = [u for u in unknowns if u.is_setting and u.number in setup.circuit.values]
    circuits = [setup.circuit, *(u.setup.circuit for u in pots)]
    tracks = {board.of_part(u.part)[0] for u in pots}
    if not pots or not setup.full_scale or {*unstated(board, circuits, values)} - tracks:
        return None
    numbers = {n for circuit in circuits for n in circuit.values}
    drawn = draw(board, numbers, values, TRIMMED_SAMPLES, seed, "uniform")
    for unknown in pots:
        settings = nearest_settings(unknown, drawn, float(values[unknown.number][0]))
        drawn[unknown.number] = settings
    amps = answer(setup.circuit, drawn).amps
    low, high = np.percentile(100.0 * (amps / setup.full_scale - 1.0), (0.5, 99.5))
    own = (setup.meter.accuracy_percent if setup.meter else None) or 0.0
    return float(low) - own, float(high) + own
