"""A reading under many mishaps at once: what its meter reads and takes, what all nets stand at.

Each mishap is a sample of the solver. What is read follows the reading's drive; what is taken
follows what the places can rise to, and the diodes that conduct then.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf, isinf

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.records.spec import Point, Reading, Spec
from rewire.values.board import Board
from rewire.values.circuits import pairs_of
from rewire.values.diodes import SLOPE, thresholds
from rewire.values.flows import TINY
from rewire.values.readings import Setup

Flags = npt.NDArray[np.bool_]
_MOST_TURNS = 20
"""Rounds in which the diodes that conduct are found; more than any circuit with a few needs."""


@dataclass(frozen=True, slots=True)
class Pointer:
    """A reading's meter under all samples, in times its full scale; shape (samples,) or (1,)."""

    reads: Array
    """Where it stands with the reading's drive at full scale."""
    takes: Array
    """The most that can flow through it: with its places at what they can rise to, if they say."""
    lost: Flags
    """Where a standing current has no way back: what it reads is not known then."""
    volts: Array
    """Of every node, shape (nodes, samples), while it takes that."""
    conducting: dict[str, Flags]
    """Diodes, and the samples in which they conduct then."""


@dataclass(frozen=True, slots=True)
class _Solved:
    volts: Array
    lost: Flags
    conducting: dict[str, Flags]


def pointer_of(
    board: Board,
    setup: Setup,
    ends: Sequence[Ends],
    ohms: Sequence[Array],
    meter: int,
    failed: dict[str, Flags] | None = None,
) -> Pointer | None:
    """What the meter of a reading reads and takes, for all samples.

    Args:
        board: gives places their nodes.
        setup: the reading whose drives flow.
        ends: nodes of the branches.
        ohms: theirs, of shape (samples,) or (1,).
        meter: index of the meter's branch among them.
        failed: diodes and the samples in which they conduct nothing, for they are open.

    Returns:
        None if a place is missing or the meter is.

    Source: superposition; a diode that conducts is its forward volts behind an ohm or less, and
    which ones do is found by turns.
    """
    pairs = pairs_of(board, setup.reading)
    if pairs is None or not setup.full_scale:
        return None
    columns = list(ohms)
    columns[meter] = np.maximum(ohms[meter], TINY)
    unlimited = [inf for _ in pairs]
    limited = [ceiling(board.spec, places) for places in _places(setup.reading)]
    reads, takes = (
        _solved(board, setup, ends, columns, pairs, ceilings, failed or {})
        for ceilings in (unlimited, limited)
    )
    plus, minus = ends[meter]
    full_scale = columns[meter] * setup.full_scale
    return Pointer(
        (reads.volts[plus] - reads.volts[minus]) / full_scale,
        (takes.volts[plus] - takes.volts[minus]) / full_scale,
        reads.lost,
        takes.volts,
        takes.conducting,
    )


def _places(reading: Reading) -> Iterator[tuple[str, str]]:
    yield reading.places
    yield from (drive.places for drive in reading.also)


def _solved(
    board: Board, setup: Setup, ends: Sequence[Ends], ohms: Sequence[Array],
    pairs: Sequence[Ends], ceilings: Sequence[float], failed: dict[str, Flags],
) -> _Solved:  # fmt: skip
    diodes = list(thresholds(board))
    on: list[Flags] = [np.zeros(1, dtype=np.bool_) for _ in diodes]
    drives = [*pairs, *(diode.ends for diode in diodes)]
    for _ in range(_MOST_TURNS):
        columns = [*ohms, *(np.where(one, SLOPE, inf) for one in on)]
        every = [*ends, *(diode.ends for diode in diodes)]
        solved = solve(board.count, every, columns, drives, pairs[0][1])
        pushed = [np.where(o, d.volts / SLOPE, 0.0) for o, d in zip(on, diodes, strict=True)]
        volts = _volts(setup.reading, solved, pairs, ceilings, pushed)
        now = [
            (volts[d.ends[0]] - volts[d.ends[1]] > d.volts) & ~failed.get(d.part, _NONE)
            for d in diodes
        ]
        if not any((a != b).any() for a, b in zip(on, now, strict=True)):
            break
        on = now
    lost = [np.isinf(load_of(solved, number, pairs[number])) for number in range(1, len(pairs))]
    told = {diode.part: one for diode, one in zip(diodes, on, strict=True)}
    return _Solved(volts, np.any(lost, axis=0) if lost else _NONE, told)


_NONE: Flags = np.zeros(1, dtype=np.bool_)


def _volts(
    reading: Reading, solved: Solution, pairs: Sequence[Ends], ceilings: Sequence[float],
    pushed: Sequence[Array],
) -> Array:  # fmt: skip
    """Volts of every node; a standing current without a way back does not flow.

    ``pushed`` are the amperes that each diode's forward volts push back, behind its own slope.
    """
    total: Array = np.zeros(solved.volts.shape[1:])
    for number, drive in enumerate(reading.also, 1):
        load = load_of(solved, number, pairs[number])
        most = _limited(abs(drive.amps), ceilings[number], load)
        flows = np.where(np.isinf(load), 0.0, np.sign(drive.amps) * most)
        total = total + flows * solved.volts[number]
    for number, amps in enumerate(pushed, len(pairs)):
        total = total + amps * solved.volts[number]
    standing = total[pairs[0][0]] - total[pairs[0][1]]
    into = load_of(solved, 0, pairs[0])
    if reading.quantity == "current":
        own: Array = _limited(reading.full_scale, ceilings[0], into, standing)
    else:
        whole = np.maximum(np.where(np.isinf(into), 1.0, into + reading.source_resistance), 1e-30)
        own = ((reading.full_scale if isinf(ceilings[0]) else ceilings[0]) - standing) / whole
    return np.asarray(total + np.where(np.isinf(into), 0.0, own) * solved.volts[0])


def load_of(solved: Solution, drive: int, ends: Ends) -> Array:
    """Ohms that a drive sees between its two places; infinite without a way."""
    lost = solved.lost[drive, ends[0]] | solved.lost[drive, ends[1]]
    return np.where(lost, np.inf, solved.across(drive, ends))


def _limited(amps: float, ceiling: float, load: Array, taken: Array | float = 0.0) -> Array:
    """A current of so many ampere through a load, or as much as its source can still drive.

    Args:
        amps: not negative.
        ceiling: the most volts between its places.
        load: ohm; infinite where there is none.
        taken: volts that other currents make there already, with their sign.
    """
    if isinf(ceiling):
        return np.full(1, amps)
    ohms = np.maximum(np.where(np.isinf(load), 1.0, load), 1e-30)
    return np.minimum(amps, np.maximum(ceiling - taken, 0.0) / ohms)


def ceiling(spec: Spec, places: tuple[str, str]) -> float:
    """The most volts that can stand between two places, as far as the spec says.

    Of the chassis and of points with ``rises_to``; of any other place, and of a point that does
    not say what it rises to, nothing is known and there is no ceiling.

    Source: a point stands anywhere from 0 to what it rises to, either way round if that is AC.
    Its source resistance would lower the current further and is not counted on.
    """
    points = [spec.points.get(place) for place in places]
    spans = [span for point in points if point and (span := _span(point))]
    if len(spans) < 2:
        return inf
    (low, high), (other_low, other_high) = spans
    return max(high - other_low, other_high - low)


def _span(point: Point) -> tuple[float, float] | None:
    if point.chassis:
        return 0.0, 0.0
    if point.rises_to is None:
        return None
    stands = (0.0, point.volts or 0.0, point.rises_to)
    most = max(map(abs, stands))
    return (-most, most) if point.ac else (min(stands), max(stands))
