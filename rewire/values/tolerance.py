"""Worst case: the least and the greatest reading over every tolerance, exactly.

Deflection is a ratio of forms of first degree in each two-terminal resistance, so
it is monotonic in each while the others stand: its extremes are at corners of the
box. A pot whose end-to-end value moves two legs is of second degree, and its own
stationary points count as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached
from rewire.values.board import Board
from rewire.values.circuits import Circuit, answer
from rewire.values.directions import directions
from rewire.values.forms import degree, forms, roots
from rewire.values.model import Share

MOST_FREE = 20
"""Values whose direction is not proved and that are enumerated."""
_CHUNK = 1 << 14
_STILL = 1e-9
"""Share of a current below which a change of it is rounding."""
_GOLDEN = 0.6180339887498949
_SWEEPS = 30


@dataclass(frozen=True, slots=True)
class Band:
    """A value of a circuit that may be off: its number, least and most."""

    number: int
    low: float
    high: float


def bands_of(board: Board, circuit: Circuit, values: Sequence[Array]) -> list[Band]:
    """The values of a circuit that have a tolerance, contacts among them."""
    return bands_among(board, circuit.values, values)


def bands_among(board: Board, numbers: Iterable[int], values: Sequence[Array]) -> list[Band]:
    """Those of some values that have a tolerance."""
    found = []
    for number in numbers:
        value, nominal = board.values[number], float(values[number][0])
        low, high = value.low(nominal), value.high(nominal)
        if high > low:
            found.append(Band(number, low, high))
    return found


def unstated(board: Board, circuits: Iterable[Circuit], values: Sequence[Array]) -> tuple[int, ...]:
    """Values whose tolerance is not given and that move the meter's current in a circuit."""
    found: list[int] = []
    for circuit in circuits:
        bare = [n for n in circuit.values if board.values[n].tolerance is None]
        found += _moving(board, circuit, values, bare)
    return tuple(dict.fromkeys(found))


def parts_of(board: Board, numbers: Iterable[int]) -> tuple[str, ...]:
    """The parts that some values belong to, each once."""
    return tuple(dict.fromkeys(board.values[n].part for n in numbers))


def _moving(
    board: Board, circuit: Circuit, values: Sequence[Array], numbers: Sequence[int]
) -> list[int]:
    """Those of some values that change the current when halved or doubled.

    Tried beside the nominal values, where no bridge is balanced by chance.
    """
    if not numbers or circuit.meter is None:
        return []
    samples = [
        value if board.values[n].is_setting else value * (1.0 + 0.1 * ((n + 1) * _GOLDEN % 1.0))
        for n, value in enumerate(values)
    ]
    for row, number in enumerate(numbers):
        column = np.full(2 * len(numbers) + 1, float(samples[number][0]))
        column[2 * row : 2 * row + 2] *= (0.5, 2.0)
        samples[number] = column
    amps = np.broadcast_to(answer(circuit, samples).amps, (2 * len(numbers) + 1,))
    changed = ~np.isclose(amps[:-1], amps[-1], rtol=_STILL, atol=0.0).reshape(-1, 2)
    return [number for number, row in zip(numbers, changed, strict=True) if row.any()]


def extremes(
    board: Board, circuit: Circuit, values: Sequence[Array], name: str
) -> tuple[float, float]:
    """Least and greatest current through the meter over the whole box, ampere.

    Args:
        board: the wiring.
        circuit: of the reading, with a meter in it.
        values: the board's nominal values, each of shape (1,).
        name: of the reading, for messages.

    Raises:
        LimitReached: more than 20 values whose direction is not proved.

    Error: that of the solver. With two pots or more in one circuit that both
    divide, their common stationary points are sought from 3 starts for each pot.
    """
    bands = bands_of(board, circuit, values)
    proved = directions(circuit)
    free = _free(board, bands, proved, f"worst case of reading {name}")
    found = []
    for sense in (-1, 1):
        fixed = list(values)
        for band in bands:
            if band.number in proved:
                up = proved[band.number] * sense >= 0
                fixed[band.number] = np.array([band.high if up else band.low])
        found.append(_most(circuit, fixed, free, sense))
    return found[0], found[1]


def _free(
    board: Board, bands: Sequence[Band], proved: Mapping[int, int], asking: str
) -> list[Band]:
    free = [band for band in bands if band.number not in proved]
    if len(free) > MOST_FREE:
        names = ", ".join(board.values[band.number].name for band in free[:6])
        raise LimitReached(
            f"{asking}: {len(free)} values may move it either way ({names} …), "
            f"more than {MOST_FREE}; state fewer tolerances there, or split the circuit"
        )
    return free


def corners(
    board: Board, circuit: Circuit, values: Sequence[Array], asking: str
) -> dict[int, Array]:
    """Corners among which the least and the greatest reading are, whatever a pot's setting is.

    Those that are proved pull together, up or down; a pot whose end-to-end value moves
    both its legs is left at its nominal value.

    Returns:
        Number of a value → its value at each corner.
    """
    bands = [band for band in bands_of(board, circuit, values) if degree(circuit, band.number) == 1]
    proved = directions(circuit)
    free = _free(board, bands, proved, asking)
    levels: list[tuple[float, ...]] = [(0.0, 1.0), *((b.low, b.high) for b in free)]
    grid = np.array(list(product(*levels))).T
    columns = {band.number: grid[1 + row] for row, band in enumerate(free)}
    for band in bands:
        if band.number in proved:
            up = (grid[0] > 0.5) == (proved[band.number] >= 0)
            columns[band.number] = np.where(up, band.high, band.low)
    return columns


def _most(circuit: Circuit, fixed: list[Array], free: Sequence[Band], sense: int) -> float:
    """The most (or with ``sense`` -1 the least) current with some values still free."""
    bent = [band for band in free if degree(circuit, band.number) > 1]
    straight = [band for band in free if band not in bent]
    best = -np.inf
    for corners in _chunks(straight, bent):
        values = list(fixed)
        for band, column in zip([*straight, *bent], corners, strict=True):
            values[band.number] = column
        best = max(best, float(np.max(climbed(circuit, values, bent, sense))))
    return sense * best


def _chunks(straight: Sequence[Band], bent: Sequence[Band]) -> Iterator[list[Array]]:
    """Corners of the box, and where there are several bent values their middles, too."""
    levels: list[tuple[float, ...]] = [(band.low, band.high) for band in straight]
    if len(bent) > 1:
        levels += [(b.low, 0.5 * (b.low + b.high), b.high) for b in bent]
    else:
        levels += [(band.low,) for band in bent]
    sizes = [len(level) for level in levels]
    total = int(np.prod(sizes, dtype=np.int64)) if sizes else 1
    for start in range(0, total, _CHUNK):
        numbers = np.arange(start, min(start + _CHUNK, total))
        columns = []
        for level in levels:
            columns.append(np.asarray(level)[numbers % len(level)])
            numbers = numbers // len(level)
        yield columns


def climbed(circuit: Circuit, values: list[Array], bent: Sequence[Band], sense: int) -> Array:
    """Currents (times ``sense``) after each bent value went to its best place, in turn."""
    best = sense * answer(circuit, values).amps
    if not bent:
        return best
    for _ in range(1 if len(bent) == 1 else _SWEEPS):
        before = best
        for band in bent:
            best = _best_along(circuit, values, band, sense)
        if np.all(best <= before + 1e-15 * np.abs(before)):
            break
    return best


def _best_along(circuit: Circuit, values: list[Array], band: Band, sense: int) -> Array:
    """Move one value to the best of its ends and stationary points; the currents there."""
    middle = 0.5 * (band.low + band.high)
    along = forms(circuit, values, band.number, (band.low, middle, band.high))
    still = roots(along.slope(), band.low, band.high)
    samples = max(still.shape[1], *(v.shape[0] for v in values))
    places = [np.full(samples, band.low), np.full(samples, band.high)]
    places += [np.broadcast_to(np.where(np.isnan(s), band.low, s), (samples,)) for s in still]
    tried = []
    for place in places:
        values[band.number] = place
        tried.append(np.broadcast_to(sense * answer(circuit, values).amps, (samples,)))
    best = np.argmax(tried, axis=0)
    values[band.number] = np.take_along_axis(np.stack(places), best[None], axis=0)[0]
    return np.asarray(np.take_along_axis(np.stack(tried), best[None], axis=0)[0])


def shares(
    board: Board, circuit: Circuit, values: Sequence[Array], full_scale: float
) -> tuple[Share, ...]:
    """What each value alone does at either end of its tolerance, the largest first.

    Percent of full scale; one call of the solver for all. What has no tolerance and
    moves the reading stands at the end, unknown.
    """
    bands = bands_of(board, circuit, values)
    samples = list(values)
    for row, band in enumerate(bands):
        column = np.full(2 * len(bands) + 1, float(values[band.number][0]))
        column[2 * row], column[2 * row + 1] = band.low, band.high
        samples[band.number] = column
    amps = answer(circuit, samples).amps
    change = 100.0 * (amps[:-1] - amps[-1]) / full_scale
    found = [
        Share(board.values[b.number].name, float(change[2 * r]), float(change[2 * r + 1]))
        for r, b in enumerate(bands)
    ]
    found += [Share(board.values[n].name, None, None) for n in unstated(board, [circuit], values)]
    return tuple(sorted(found, key=lambda share: (-share.size, share.value)))
