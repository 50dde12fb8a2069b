"""Trials: one wiring under many mishaps at once, each a sample of the solver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.spec.model import Point, Rule
from rewire.values.board import Board
from rewire.values.circuits import State, pairs_of, place_of
from rewire.values.flows import TINY
from rewire.values.readings import Setup

_RISE = 1.0
"""Volts below which nobody notices a rise."""
_MORE = 1.5


@dataclass(frozen=True, slots=True)
class Trial:
    """What each sample comes to; the first sample is the wiring as it should be.

    ``times`` is the meter's current over full scale, ``broken`` the rules that do
    not hold, ``volts`` what each point with ``rises_to`` rises to, ``reached``
    whether a meter terminal hangs on such a point that has lost its way to chassis.
    """

    times: Array
    broken: dict[int, npt.NDArray[np.bool_]]
    volts: dict[str, Array]
    reached: dict[tuple[str, str], npt.NDArray[np.bool_]]


def run(
    board: Board,
    setup: Setup,
    ends: Sequence[Ends],
    ohms: Sequence[Array],
    meter: int,
    rules: Sequence[tuple[int, Rule]],
) -> Trial | None:
    """Solve a reading's drive, the rules and the points of a board for all samples.

    Args:
        board: gives places their nodes.
        setup: the reading whose drives flow.
        ends: nodes of the branches.
        ohms: theirs, of shape (samples,) or (1,).
        meter: index of the meter's branch among them.
        rules: with their numbers.

    Returns:
        None if a place is missing or the meter is.
    """
    pairs = pairs_of(board, setup.reading)
    if pairs is None or setup.meter is None or not setup.full_scale:
        return None
    chassis = next((p.name for p in board.spec.points.values() if p.chassis), None)
    rising = [p for p in board.spec.points.values() if p.rises_to is not None and chassis]
    rule_pairs = [(n, rule, _ends(board, rule.places)) for n, rule in rules]
    judged = [(n, rule, pair) for n, rule, pair in rule_pairs if pair is not None]
    drives = [*pairs, *(pair for _, _, pair in judged)]
    drives += [(board.node(p.name), board.node(chassis)) for p in rising if chassis]
    solved = solve(board.count, ends, ohms, drives, pairs[0][1])
    start = len(pairs)
    broken = {
        n: _broken(rule, _ohms(solved, start + row, pair))
        for row, (n, rule, pair) in enumerate(judged)
    }
    start += len(judged)
    volts = {p.name: _risen(p, _ohms(solved, start + row, drives[start + row]))
             for row, p in enumerate(rising)}  # fmt: skip
    return Trial(
        _times(setup, solved, pairs, ends[meter], np.maximum(ohms[meter], TINY)),
        broken,
        volts,
        _reached(board, setup, solved, rising, start),
    )


def _ends(board: Board, places: tuple[str, str]) -> Ends | None:
    one, other = (place_of(board, place) for place in places)
    return None if one is None or other is None else (one, other)


def _ohms(solved: Solution, drive: int, ends: Ends) -> Array:
    lost = solved.lost[drive, ends[0]] | solved.lost[drive, ends[1]]
    return np.where(lost, np.inf, solved.across(drive, ends))


def _broken(rule: Rule, ohms: Array) -> npt.NDArray[np.bool_]:
    """Whether a rule fails; below a micro-ohm two places count as tied."""
    if rule.kind == "connect":
        return np.asarray(ohms > (rule.limit if rule.limit is not None else 1e-6) * (1 + 1e-9))
    if rule.limit is None:
        return np.isfinite(ohms)
    return np.asarray(ohms <= rule.limit)


def _risen(point: Point, load: Array) -> Array:
    """Volts of a point behind its source resistance, on what load it has left."""
    assert point.rises_to is not None
    total = np.where(np.isinf(load), 1.0, load + point.source_resistance)
    share = np.where(np.isinf(load), 1.0, load / np.where(total == 0.0, 1.0, total))
    return np.asarray(point.rises_to * share)


def _times(
    setup: Setup, solved: Solution, pairs: Sequence[Ends], meter: Ends, ohms: Array
) -> Array:
    reading, full_scale = setup.reading, setup.full_scale
    assert full_scale is not None
    into = _ohms(solved, 0, pairs[0])
    standing: Array = np.zeros(1)
    amps: Array = np.zeros(1)
    for number, drive in enumerate(reading.also, 1):
        lost = np.isinf(_ohms(solved, number, pairs[number]))
        standing = standing + np.where(lost, 0.0, drive.amps * solved.across(number, pairs[0]))
        amps = amps + np.where(lost, 0.0, drive.amps * solved.across(number, meter))
    if reading.quantity == "current":
        own: Array = np.full(1, reading.full_scale)
    else:
        total = np.maximum(np.where(np.isinf(into), 1.0, into + reading.source_resistance), 1e-30)
        own = (reading.full_scale - standing) / total
    own = np.where(np.isinf(into), 0.0, own)
    return np.asarray((amps + own * solved.across(0, meter)) / ohms / full_scale)


def _reached(
    board: Board, setup: Setup, solved: Solution, rising: Sequence[Point], start: int
) -> dict[tuple[str, str], npt.NDArray[np.bool_]]:
    meter = setup.meter
    assert meter is not None
    return {
        (point.name, lug): solved.lost[start + row, board.node(meter.terminal(lug))]
        for row, point in enumerate(rising)
        for lug in ("+", "-")
    }


def rises(trial: Trial, sample: int, meter: str) -> tuple[tuple[str, float], ...]:
    """Points, and meter terminals on them, that rise noticeably in a sample; volts."""
    found: dict[str, float] = {}
    for name, volts in trial.volts.items():
        usual = abs(float(np.broadcast_to(volts, trial.times.shape)[0]))
        now = float(np.broadcast_to(volts, trial.times.shape)[sample])
        if abs(now) < max(_RISE, _MORE * usual):
            continue
        found[name] = now
        for lug in ("+", "-"):
            if np.broadcast_to(trial.reached[name, lug], trial.times.shape)[sample]:
                found[f"{meter}.{lug}"] = now
    return tuple(sorted(found.items(), key=lambda item: (-abs(item[1]), item[0])))


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
