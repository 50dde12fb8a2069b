"""Choosing: the part to buy or take from the drawer for a value that was fitted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import eseries
import numpy as np

from rewire.circuit.dc import Array
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Piece, Resistor
from rewire.values.board import Board
from rewire.values.circuits import answer
from rewire.values.combos import Stock, from_drawer, written
from rewire.values.fitting import Unknown
from rewire.values.model import Combination
from rewire.values.readings import Setup
from rewire.words.wording import nearest, shown

SERIES = {series.name: series for series in eseries.ESeries}
"""Preferred values of IEC 60063 by the names of their series."""
EXACT = "exact"
DRAWER = "drawer"
OR = " or "
"""Between two series that a value may come from."""
_MOST_AT_ONCE = 1024
"""Combinations of preferred values that are tried at once."""
_ALIKE = 1e-9
"""Share of full scale that is only rounding."""
_AS_GOOD = 5e-4
"""Share of full scale that no pointer shows: within it a value of fewer per decade is as good."""


def checked_choice(part: Resistor) -> str | None:
    """The ``choose`` of a part.

    Raises:
        SpecError: it is none of the known ones.
    """
    if part.choose in (None, EXACT, DRAWER) or all(n in SERIES for n in _asked(part)):
        return part.choose
    assert part.choose is not None
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


def series_of(part: Resistor, ohms: float) -> str | None:
    """Of the series a part may come from, the one with the fewest values that has this one."""
    names = sorted((name for name in _asked(part) if name in SERIES), key=_per_decade)
    return next((name for name in names if ohms in neighbours(name, ohms)), None)


def _asked(part: Resistor) -> list[str]:
    return (part.choose or "").split(OR)


def _per_decade(name: str) -> int:
    return int(name[1:])


def choose_values(
    board: Board, setups: Sequence[Setup], unknowns: Sequence[Unknown], values: list[Array | None]
) -> dict[str, float]:
    """Preferred values for all fitted resistors that ask for one; written into ``values``.

    What shares no reading is chosen on its own. Otherwise every combination of
    neighbours is tried: the least worst error over the readings that the parts are in
    is best, then the least next to it, and so on; then the series with the fewest
    values; then the nearest.

    Args:
        board: the wiring.
        setups: the readings that count: not those that a pot is set for.
        unknowns: resistors that were fitted.
        values: the board's values. Changed in place.
    """
    asking = []
    for unknown in unknowns:
        part, value = board.parts[unknown.part], values[unknown.number]
        if isinstance(part, Resistor) and value is not None and _asked(part)[0] in SERIES:
            exact = float(value[0])
            options = dict.fromkeys(v for n in _asked(part) for v in neighbours(n, exact))
            asking.append(_Asking(unknown, part, exact, tuple(options)))
    chosen: dict[str, float] = {}
    for group in _groups(asking, setups):
        for one, ohms in zip(group, _best(group, setups, values), strict=True):
            chosen[one.unknown.part] = ohms
            values[one.unknown.number] = np.array([ohms])
    return chosen


@dataclass(frozen=True, slots=True)
class _Asking:
    """A resistor that is to have a preferred value."""

    unknown: Unknown
    part: Resistor
    exact: float
    options: tuple[float, ...]

    def rank(self, ohms: float) -> int:
        """Values per decade of the coarsest series that has this one."""
        finest = max(map(_per_decade, _asked(self.part)))
        coarse = (n for n in SERIES if _per_decade(n) <= finest and ohms in neighbours(n, ohms))
        return min(map(_per_decade, coarse))


def _groups(asking: Sequence[_Asking], setups: Sequence[Setup]) -> Iterator[list[_Asking]]:
    """Resistors that share readings, so many at a time as can be tried together."""
    left = list(asking)
    while left:
        group, size = [left.pop(0)], 1
        for member in group:
            size *= len(member.options)
            for other in list(left):
                fits = size * len(other.options) <= _MOST_AT_ONCE
                if fits and _share(member.unknown, other.unknown, setups):
                    group.append(other)
                    left.remove(other)
        yield group


def _share(one: Unknown, other: Unknown, setups: Sequence[Setup]) -> bool:
    return any({one.number, other.number} <= set(s.circuit.values) for s in setups)


def _best(
    group: Sequence[_Asking], setups: Sequence[Setup], values: Sequence[Array | None]
) -> tuple[float, ...]:
    picks = np.array(list(product(*(one.options for one in group))))
    off = _errors(group, picks, setups, values)
    order = np.lexsort(off[::-1])
    slack = _AS_GOOD if any(len(_asked(one.part)) > 1 for one in group) else _ALIKE
    good = [n for n in order if np.all(off[:, n] <= off[:, order[0]] + slack)]

    def cost(number: int) -> tuple[float, ...]:
        ohms = picks[number]
        ranks = sum(one.rank(float(v)) for one, v in zip(group, ohms, strict=True))
        far = max(
            abs(v / one.exact - 1.0) if one.exact else 0.0
            for one, v in zip(group, ohms, strict=True)
        )
        return (ranks, *off[:, number], far)

    return tuple(float(v) for v in picks[min(good, key=cost)])


def _errors(
    group: Sequence[_Asking],
    picks: Array,
    setups: Sequence[Setup],
    values: Sequence[Array | None],
) -> Array:
    """Errors of the readings that any of them is in, the worst first: (readings, picks)."""
    numbers = {one.unknown.number for one in group}
    tried: list[Array | None] = list(values)
    for one, column in zip(group, picks.T, strict=True):
        tried[one.unknown.number] = column
    rows = [np.zeros(len(picks))]
    for setup in setups:
        circuit = setup.circuit
        known = all(tried[n] is not None for n in circuit.values)
        if (
            circuit.meter is None
            or circuit.blind
            or not setup.full_scale
            or not known
            or not numbers & set(circuit.values)
        ):
            continue
        amps = answer(circuit, [np.array([1.0]) if v is None else v for v in tried]).amps
        rows.append(np.broadcast_to(np.abs(amps / setup.full_scale - 1.0), (len(picks),)))
    return -np.sort(-np.stack(rows), axis=0)


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
