"""Calibration pots: where they stand, whether they reach, and what they do to the meter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board
from rewire.values.fitting import Found, Unknown
from rewire.values.forms import degree, forms
from rewire.values.model import PotAnswer
from rewire.values.padding import advice
from rewire.values.reach import needed_settings
from rewire.values.readings import Setup
from rewire.values.stops import seen_at, seen_open


def pot_answer(
    board: Board,
    unknown: Unknown,
    found: Found,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
) -> PotAnswer:
    """Everything about one calibration pot.

    Args:
        board: the wiring.
        unknown: the pot's setting and its reading.
        found: what fitting came to.
        values: the board's values, the settings found among them.
        setups: all readings of the wiring, for what the meter sees at the stops.

    Raises:
        LimitReached: more than 20 values whose direction is not proved.
    """
    name, reading = unknown.part, unknown.setup.reading.name
    solutions = tuple(100.0 * s for s in found.solutions)
    if not solutions or any(values[n] is None for n in unknown.setup.circuit.values):
        why = found.why or "the circuit has values that are not known"
        return PotAnswer(name, reading, None, (), False, None, None, why=why)
    known = [np.array([1.0]) if v is None else v for v in values]
    needed = needed_settings(board, unknown, known)
    low, high = (100.0 * float(x) for x in (np.min(needed), np.max(needed)))
    slack = 1e-9
    stops = [seen_at(unknown, values, setups, share) for share in (0.0, 1.0)]
    opened = seen_open(board, unknown, values, setups)
    reaches = low >= -slack and high <= 100.0 + slack
    return PotAnswer(
        part=name,
        reading=reading,
        setting_percent=solutions[0],
        solutions=solutions,
        reaches=reaches,
        lowest_percent=low,
        highest_percent=high,
        percent_per_percent=_sensitivity(unknown, known),
        when_open=opened,
        at_ccw=stops[0],
        at_cw=stops[1],
        advice=advice(board, unknown, known, setups, needed, stops),
        why=None if reaches else _out_of_reach(name, low, high),
    )


def _out_of_reach(name: str, low: float, high: float) -> str:
    ends = []
    if low < 0.0:
        ends.append("below its ccw stop")
    if high > 100.0:
        ends.append("beyond its cw stop")
    return f"within the tolerances {name} may have to stand {' or '.join(ends)}"


def _sensitivity(unknown: Unknown, values: list[Array]) -> float | None:
    """Percent of reading per percent of travel at the setting, from the forms' derivative."""
    circuit, at = unknown.setup.circuit, float(values[unknown.number][0])
    rank = degree(circuit, unknown.number)
    near = min(max(at, 0.02), 0.98)
    points = (near - 0.01, near + 0.01) if rank == 1 else (near - 0.01, near, near + 0.01)
    along = forms(circuit, values, unknown.number, points)
    powers = at ** np.arange(len(along.numerator))
    n, d = float(powers @ along.numerator[:, 0]), float(powers @ along.denominator[:, 0])
    slope = float(at ** np.arange(len(along.slope())) @ along.slope()[:, 0])
    return slope / (n * d) if n * d else None
