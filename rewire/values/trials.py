"""Trials: one wiring under many mishaps at once, each a sample of the solver.

What the meter takes is a matter of a reading, in its own state. Whether a rule
breaks or a point rises is a matter of the wiring, in every state.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, isinf

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.spec.model import Meter, Point, Reading, Rule, Spec
from rewire.values.board import Board
from rewire.values.circuits import State, controls_between, pairs_of, place_of
from rewire.values.flows import TINY
from rewire.values.readings import Setup

Flags = npt.NDArray[np.bool_]
MOST_STATES = 512
"""Positions of controls in which rules and rises are looked at."""
_RISE = 1.0
"""Volts below which nobody notices a rise."""
_MORE = 1.5
"""Times its usual volts that count as a rise."""
_TIED = 1e-6
"""Ohms below which two places count as tied."""


@dataclass(frozen=True, slots=True)
class Watched:
    """What rules and points come to; the first sample is the wiring as it should be.

    ``broken`` has the rules that do not hold, ``volts`` what each point with
    ``rises_to`` rises to, ``reached`` whether a meter's terminal hangs on such a
    point that has lost its way to chassis. Arrays of shape (samples,) or (1,).
    """

    broken: Mapping[int, Flags]
    volts: Mapping[str, Array]
    reached: Mapping[tuple[str, str], Flags]


@dataclass(frozen=True, slots=True)
class Pointer:
    """A reading's meter under all samples, in times its full scale; shape (samples,) or (1,)."""

    reads: Array
    """Where it stands with the reading's drive at full scale."""
    takes: Array
    """The most that can flow through it: the same, but no place higher than it can rise."""
    lost: Flags
    """Where a standing current has no way back: what it reads is not known then."""


def pointer_of(
    board: Board, setup: Setup, ends: Sequence[Ends], ohms: Sequence[Array], meter: int
) -> Pointer | None:
    """What the meter of a reading reads and takes, for all samples.

    Args:
        board: gives places their nodes.
        setup: the reading whose drives flow.
        ends: nodes of the branches.
        ohms: theirs, of shape (samples,) or (1,).
        meter: index of the meter's branch among them.

    Returns:
        None if a place is missing or the meter is.
    """
    pairs = pairs_of(board, setup.reading)
    if pairs is None or not setup.full_scale:
        return None
    solved = solve(board.count, ends, ohms, pairs, pairs[0][1])
    resistance = np.maximum(ohms[meter], TINY)
    unlimited = [inf for _ in pairs]
    limited = [ceiling(board.spec, places) for places in _places(setup.reading)]
    reads, takes = (
        _times(setup, solved, pairs, ends[meter], resistance, ceilings)
        for ceilings in (unlimited, limited)
    )
    standing = range(1, len(pairs))
    lost = [np.isinf(_ohms(solved, number, pairs[number])) for number in standing]
    return Pointer(reads, takes, np.any(lost, axis=0) if lost else np.zeros(1, dtype=np.bool_))


def _places(reading: Reading) -> Iterator[tuple[str, str]]:
    yield reading.places
    yield from (drive.places for drive in reading.also)


def ceiling(spec: Spec, places: tuple[str, str]) -> float:
    """The most volts that can stand between two places, as far as the spec says.

    Of the chassis and of points with ``rises_to``; of any other place, and of a point that does
    not say what it rises to, nothing is known and there is no ceiling.

    Source: contract, 'Live'. A point stands anywhere from 0 to what it rises to, either way round
    if that is AC. Its source resistance would lower the current further and is not counted on.
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


def watch(
    board: Board,
    ends: Sequence[Ends],
    ohms: Sequence[Array],
    rules: Sequence[tuple[int, Rule]],
) -> Watched:
    """Try the rules, and let the points rise, for all samples.

    Args:
        board: gives places their nodes.
        ends: nodes of the branches.
        ohms: theirs, of shape (samples,) or (1,).
        rules: with their numbers; one with a place that is missing is passed over.
    """
    rule_pairs = [(n, rule, ends_of(board, rule)) for n, rule in rules]
    judged = [(n, rule, pair) for n, rule, pair in rule_pairs if pair is not None]
    rising = list(risers(board))
    drives = [*(pair for _, _, pair in judged), *(pair for _, pair in rising)]
    if not drives:
        return Watched({}, {}, {})
    solved = solve(board.count, ends, ohms, drives, drives[-1][1])
    loads = [_ohms(solved, row, pair) for row, pair in enumerate(drives)]
    meters = [part for part in board.parts.values() if isinstance(part, Meter)]
    return Watched(
        {n: _broken(rule, loads[row]) for row, (n, rule, _) in enumerate(judged)},
        {p.name: _risen(p, loads[row]) for row, (p, _) in enumerate(rising, len(judged))},
        {
            (point.name, meter.terminal(lug)): solved.lost[row, board.node(meter.terminal(lug))]
            for row, (point, _) in enumerate(rising, len(judged))
            for meter in meters
            for lug in meter.terminals
        },
    )


def ends_of(board: Board, rule: Rule) -> Ends | None:
    """The nodes of a rule's places; None if one is missing in this wiring."""
    one, other = (place_of(board, place) for place in rule.places)
    return None if one is None or other is None else (one, other)


def risers(board: Board) -> Iterator[tuple[Point, Ends]]:
    """Points that rise when their load is taken off, each with its node and the chassis's."""
    points = board.spec.points.values()
    chassis = next((point.name for point in points if point.chassis), None)
    for point in points if chassis is not None else ():
        if point.rises_to is not None and chassis is not None:
            yield point, (board.node(point.name), board.node(chassis))


def _ohms(solved: Solution, drive: int, ends: Ends) -> Array:
    lost = solved.lost[drive, ends[0]] | solved.lost[drive, ends[1]]
    return np.where(lost, np.inf, solved.across(drive, ends))


def _broken(rule: Rule, ohms: Array) -> Flags:
    """Whether a rule fails."""
    if rule.kind == "connect":
        return np.asarray(ohms > (rule.limit if rule.limit is not None else _TIED) * (1 + 1e-9))
    if rule.limit is None:
        return np.isfinite(ohms)
    return np.asarray(ohms <= rule.limit)


def _risen(point: Point, load: Array) -> Array:
    """Volts of a point behind its source resistance, on what load it has left."""
    assert point.rises_to is not None
    alone = np.isinf(load)
    load = np.where(alone, 1.0, load)
    share = load / np.maximum(load + point.source_resistance, _TIED)
    return np.asarray(point.rises_to * np.where(alone, 1.0, np.where(load < _TIED, 0.0, share)))


def _times(
    setup: Setup, solved: Solution, pairs: Sequence[Ends], meter: Ends, ohms: Array,
    ceilings: Sequence[float],
) -> Array:  # fmt: skip
    """Full scales of the meter; a standing current without a way back does not flow."""
    reading, full_scale = setup.reading, setup.full_scale
    assert full_scale is not None
    into = _ohms(solved, 0, pairs[0])
    standing: Array = np.zeros(1)
    amps: Array = np.zeros(1)
    for number, drive in enumerate(reading.also, 1):
        load = _ohms(solved, number, pairs[number])
        most = _limited(abs(drive.amps), ceilings[number], load)
        flows = np.where(np.isinf(load), 0.0, np.sign(drive.amps) * most)
        standing = standing + flows * solved.across(number, pairs[0])
        amps = amps + flows * solved.across(number, meter)
    if reading.quantity == "current":
        own: Array = _limited(reading.full_scale, ceilings[0], into, standing)
    else:
        total = np.maximum(np.where(np.isinf(into), 1.0, into + reading.source_resistance), 1e-30)
        own = (min(reading.full_scale, ceilings[0]) - standing) / total
    own = np.where(np.isinf(into), 0.0, own)
    return np.asarray((amps + own * solved.across(0, meter)) / ohms / full_scale)


def _limited(amps: float, ceiling: float, load: Array, taken: Array | float = 0.0) -> Array:
    """A current of so many ampere through a load, or as much as its source can still drive.

    Args:
        amps: not negative.
        ceiling: the most volts between its places.
        load: ohm; infinite where there is none.
        taken: volts that other currents make there already.
    """
    if isinf(ceiling):
        return np.full(1, amps)
    ohms = np.maximum(np.where(np.isinf(load), 1.0, load), 1e-30)
    return np.minimum(amps, np.maximum(ceiling - taken, 0.0) / ohms)


def rises(watched: Watched, sample: int) -> tuple[tuple[str, float], ...]:
    """Points, and meter terminals on them, that rise noticeably in a sample; volts."""
    found: dict[str, float] = {}
    for name, volts in watched.volts.items():
        usual, now = abs(float(volts[0])), at(volts, sample)
        if abs(now) < max(_RISE, _MORE * usual):
            continue
        found[name] = now
        for (point, terminal), reached in watched.reached.items():
            if point == name and at(reached, sample):
                found[terminal] = now
    return tuple(sorted(found.items(), key=lambda item: (-abs(item[1]), item[0])))


def at(column: Array | Flags, sample: int) -> float:
    """One sample of a column, or what all samples share; a flag is 1 or 0."""
    return float(column[sample if column.shape[0] > 1 else 0])


def watched_controls(board: Board, moving: bool) -> set[str]:
    """Controls that can matter to a rule (moving: one that holds while switching) or to a rise."""
    rules = [rule for rule in board.spec.rules if rule.while_switching or not moving]
    pairs = [pair for rule in rules if (pair := ends_of(board, rule)) is not None]
    pairs += [pair for _, pair in risers(board)]
    return controls_between(board, pairs) | {name for rule in rules for name in rule.when}


def full_state(board: Board, state: State) -> dict[str, int]:
    """A reading's state completed by the first positions of the other controls."""
    return {name: state.get(name, 0) for name in board.spec.controls}


def rules_at(board: Board, state: State, moving: bool) -> list[tuple[int, Rule]]:
    """Rules that apply in a state, or while switching there; about resistances alone."""
    found = []
    for number, rule in enumerate(board.spec.rules):
        if moving and not rule.while_switching:
            continue
        controls = board.spec.controls
        if all(
            controls[name].positions[state[name]] in positions
            for name, positions in rule.when.items()
        ):
            found.append((number, rule))
    return found
