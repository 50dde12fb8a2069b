"""Choosing: the part to buy or take from the drawer for a value that was fitted."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import eseries
import numpy as np

from rewire.circuit.dc import Array
from rewire.spec.model import Piece, Resistor
from rewire.spec.report import Fault, SpecError, nearest, shown
from rewire.values.board import Board
from rewire.values.combos import Stock, from_drawer, written
from rewire.values.fitting import Unknown
from rewire.values.model import Combination
from rewire.values.readings import point

SERIES = {series.name: series for series in eseries.ESeries}
"""Preferred values of IEC 60063 by the names of their series."""
EXACT = "exact"
DRAWER = "drawer"
_MOST_AT_ONCE = 8
"""Fitted resistors whose neighbours are all tried together."""


def checked_choice(part: Resistor) -> str | None:
    """The ``choose`` of a part.

    Raises:
        SpecError: it is none of the known ones.
    """
    if part.choose is None or part.choose in (*SERIES, EXACT, DRAWER):
        return part.choose
    close = nearest(part.choose, [*SERIES, EXACT, DRAWER])
    hint = f"nearest is {shown(close)}" if close else "write E12, E24, E48, E96, exact or drawer"
    message = f"{part.name}: choose: {shown(part.choose)} is no series of preferred values"
    raise SpecError([Fault(part.place, message, hint)])


def neighbours(name: str, ohms: float) -> tuple[float, ...]:
    """The preferred values on either side of a value, one if it is one itself.

    Source: IEC 60063, through the library eseries.

    >>> neighbours("E12", 5.0)
    (4.7, 5.6)
    """
    if ohms <= 0.0:
        return (ohms,)
    below = float(eseries.find_less_than_or_equal(SERIES[name], ohms * (1 + 1e-12)))
    above = float(eseries.find_greater_than_or_equal(SERIES[name], ohms * (1 - 1e-12)))
    return tuple(dict.fromkeys((below, above)))


def choose_values(
    board: Board, unknowns: Sequence[Unknown], values: list[Array | None]
) -> dict[str, float]:
    """Preferred values for all fitted resistors that ask for one; written into ``values``.

    Where several were fitted together, every combination of neighbours is tried,
    and the one whose worst reading is least off is taken.
    """
    asking = []
    for unknown in unknowns:
        part, value = board.parts[unknown.part], values[unknown.number]
        name = part.choose if isinstance(part, Resistor) else None
        if name in SERIES and name is not None and value is not None:
            asking.append((unknown, neighbours(name, float(value[0]))))
    chosen: dict[str, float] = {}
    for start in range(0, len(asking), _MOST_AT_ONCE):
        group = asking[start : start + _MOST_AT_ONCE]
        best = min(
            product(*(options for _, options in group)),
            key=lambda picks: _worst_error(board, [u for u, _ in group], picks, values),
        )
        for (unknown, _), ohms in zip(group, best, strict=True):
            chosen[unknown.part] = ohms
            values[unknown.number] = np.array([ohms])
    return chosen


def _worst_error(
    board: Board,
    group: Sequence[Unknown],
    picks: Sequence[float],
    values: Sequence[Array | None],
) -> float:
    tried = list(values)
    for unknown, ohms in zip(group, picks, strict=True):
        tried[unknown.number] = np.array([ohms])
    worst = 0.0
    for unknown in group:
        amps = point(board, unknown.setup.circuit, tried).amps
        full_scale = unknown.setup.full_scale
        off = np.inf if amps is None or full_scale is None else abs(amps / full_scale - 1.0)
        worst = max(worst, float(off))
    return worst


def in_stock(stocks: Sequence[Stock], ohms: float, watts: float | None) -> list[Combination]:
    """The best combinations from a drawer, then the best with fewer pieces, each once.

    Those in which a piece takes more than its rating come last, however near they are.
    """
    if ohms <= 0.0:
        return []
    kept = from_drawer(stocks, ohms, watts, count=3)
    for pieces in (3, 2, 1):
        fewer = from_drawer(stocks, ohms, watts, count=1, most_pieces=pieces)
        kept += [one for one in fewer if one not in kept]
    return sorted(kept, key=lambda one: one.overloaded)


def single(ohms: float) -> str:
    """One resistor as a spec writes it."""
    return written(Piece(ohms))
