"""Calibration pots: where they stand, whether they reach, and what they do to the meter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.spec import Pot
from rewire.values.board import Board
from rewire.values.fitting import Found, Unknown
from rewire.values.forms import degree, forms
from rewire.values.model import Caution, PotAnswer, Readout
from rewire.values.padding import advice
from rewire.values.reach import Needed, needed
from rewire.values.readings import Setup
from rewire.values.stops import seen_at, seen_open
from rewire.values.tolerance import parts_of, unstated

_FINEST_PERCENT = 1.0
"""Of its travel to which a pot of one turn can be set by hand; common practice, no source."""
_NEAR_PERCENT = 5.0
"""Of its travel from a stop that is too near; common practice, no source."""


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
    over = needed(board, unknown, known)
    stops = [seen_at(unknown, values, setups, share) for share in (0.0, 1.0)]
    bare = parts_of(board, unstated(board, [unknown.setup.circuit], known))
    known_ends = bare in ((), (name,)) or not over.reaches
    return PotAnswer(
        part=name,
        reading=reading,
        setting_percent=solutions[0],
        solutions=solutions,
        reaches=over.reaches if known_ends else None,
        lowest_percent=100.0 * over.low if known_ends else None,
        highest_percent=100.0 * over.high if known_ends else None,
        percent_per_percent=_sensitivity(unknown, known),
        when_open=seen_open(board, unknown, values, setups),
        at_ccw=stops[0],
        at_cw=stops[1],
        advice=advice(board, unknown, known, setups, over, stops),
        why=found.why or _reach_told(name, over, bare),
    )


def pot_warnings(
    board: Board, pots: Sequence[PotAnswer], readouts: Sequence[Readout]
) -> Iterator[Caution]:
    """Pots that stand near a stop, and those that are too coarse to be set."""
    accepts = {one.name: one.accept_percent for one in readouts}
    for pot in pots:
        part, at, per = board.parts[pot.part], pot.setting_percent, pot.percent_per_percent
        if at is None or not isinstance(part, Pot):
            continue
        finest = _FINEST_PERCENT / (part.turns or 1.0)
        coarse = abs(per or 0.0) * finest > 0.5 * accepts.get(pot.reading, inf)
        near = "ccw" if at < _NEAR_PERCENT else "cw" if at > 100.0 - _NEAR_PERCENT else None
        said = [f"stands at {at:.1f} % of its travel, near its {near} stop"] if near else []
        if coarse and per is not None:
            said.append(
                f"is too coarse: {finest:.2g} % of its travel, about what a hand can set, is "
                f"{abs(per) * finest:.2g} % of {pot.reading}; take a smaller one with a fixed "
                "resistor in series, or one of several turns"
            )
        if said:
            message = f"{pot.part} {', and '.join(said)}"
            yield Caution("pot", message, part=pot.part, first=True)


def _reach_told(name: str, over: Needed, bare: Sequence[str]) -> str | None:
    """What is to be said of the travel; nothing where it always suffices."""
    ends = {"ccw": "below its ccw stop", "cw": "beyond its cw stop"}
    if over.short:
        said = " or ".join(ends[stop] for stop in over.short)
        return f"within the tolerances {name} may have to stand {said}"
    if over.nowhere:
        return f"within the tolerances there may be no setting of {name} that does it"
    if bare == (name,):
        return f"the tolerance of {name} itself is not given: counted with its nominal value"
    if bare:
        return f"travel needed not known: no tolerance given for {', '.join(bare)}"
    return None


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
