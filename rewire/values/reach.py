"""Reach: the settings of a calibration pot that builds inside their tolerances need."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached
from rewire.values.board import Board
from rewire.values.chance import draw
from rewire.values.circuits import answer
from rewire.values.directions import directions
from rewire.values.fitting import Unknown
from rewire.values.forms import degree, forms, roots
from rewire.values.readings import Setup
from rewire.values.tolerance import MOST_FREE, Band, bands_of, unstated

TRIMMED_SAMPLES = 4000
_BEYOND = 10.0
"""Shares of the travel beyond either stop in which a setting is still sought."""
_TRACK_STEPS = 33


def needed_settings(board: Board, unknown: Unknown, values: list[Array]) -> Array:
    """Settings, as shares of the travel, that are needed over the corners of the tolerance box.

    A setting that is needed is monotonic in each two-terminal resistance (the form
    that is zero there is of first degree in it), so corners suffice; the pot's own
    end-to-end value is stepped through. Shares beyond 0 to 1 are out of reach.

    Returns:
        Shares; -inf or inf where even an endless pot would not do.
    """
    circuit = unknown.setup.circuit
    bands = bands_of(board, circuit, values)
    proved = directions(circuit)
    whole = board.of_part(unknown.part)[0]
    free = [b for b in bands if b.number not in proved and b.number != whole]
    if len(free) > MOST_FREE:
        raise LimitReached(
            f"reach of {unknown.part}: {len(free)} values may move the setting either way, "
            f"more than {MOST_FREE}"
        )
    columns = _columns(bands, free, proved, whole)
    samples = list(values)
    for number, column in columns.items():
        samples[number] = column
    return nearest_settings(unknown, samples, float(values[unknown.number][0]))


def _columns(
    bands: Sequence[Band], free: Sequence[Band], proved: dict[int, int], whole: int
) -> dict[int, Array]:
    """Every corner that can count: all that are proved pull together, up or down."""
    levels: list[Sequence[float]] = [(0.0, 1.0)]
    levels += [(band.low, band.high) for band in free]
    own = next((band for band in bands if band.number == whole), None)
    if own is not None:
        levels.append(np.linspace(own.low, own.high, _TRACK_STEPS).tolist())
    grid = np.array(list(product(*levels))).T
    columns = {band.number: grid[1 + row] for row, band in enumerate(free)}
    if own is not None:
        columns[whole] = grid[-1]
    for band in bands:
        if band.number in proved and band.number != whole:
            up = grid[0] > 0.5 if proved[band.number] >= 0 else grid[0] < 0.5
            columns[band.number] = np.where(up, band.high, band.low)
    return columns


def nearest_settings(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting nearest to the nominal one."""
    circuit, full_scale = unknown.setup.circuit, unknown.setup.full_scale
    assert full_scale is not None
    rank = degree(circuit, unknown.number)
    points = (0.25, 0.75) if rank == 1 else (0.2, 0.5, 0.8)
    target = forms(circuit, samples, unknown.number, points).against(full_scale)
    zeros = roots(target, -_BEYOND, 1.0 + _BEYOND)
    near = np.where(np.isnan(zeros), np.inf, np.abs(zeros - nominal))
    best = np.take_along_axis(zeros, np.argmin(near, axis=0)[None], axis=0)[0]
    return np.where(np.isnan(best), np.inf, best)


def trimmed(
    board: Board, unknowns: Sequence[Unknown], setup: Setup, values: list[Array], seed: int
) -> tuple[float, float] | None:
    """Errors between which 99 % of builds of a reading lie once its pots are set in each.

    Seeded, uniform over the bands; the meter's accuracy is added at either end. Percent
    of full scale; None where no pot of its circuit is fitted, or a tolerance is not given.
    """
    pots = [u for u in unknowns if u.is_setting and u.number in setup.circuit.values]
    circuits = [setup.circuit, *(u.setup.circuit for u in pots)]
    if not pots or not setup.full_scale or unstated(board, circuits, values):
        return None
    numbers = {n for circuit in circuits for n in circuit.values}
    drawn = draw(board, numbers, values, TRIMMED_SAMPLES, seed, "uniform")
    for unknown in pots:
        settings = nearest_settings(unknown, drawn, float(values[unknown.number][0]))
        drawn[unknown.number] = np.clip(settings, 0.0, 1.0)
    amps = answer(setup.circuit, drawn).amps
    low, high = np.percentile(100.0 * (amps / setup.full_scale - 1.0), (0.5, 99.5))
    own = (setup.meter.accuracy_percent if setup.meter else None) or 0.0
    return float(low) - own, float(high) + own
