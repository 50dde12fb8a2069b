"""Shorts: points of different volts that contacts and wires alone tie together."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from rewire.circuit.graph import Joiner
from rewire.records.spec import Point
from rewire.values.board import Board
from rewire.values.circuits import Reach
from rewire.values.live import possible_states
from rewire.values.model import Caution
from rewire.values.trials import MOST_STATES
from rewire.words.quantity import in_ohms, with_unit

State = dict[str, int]


def shorts(board: Board, original: Board) -> Iterator[Caution]:
    """Each pair of points of different volts that a wiring ties and the original does not.

    Args:
        board: the wiring.
        original: the wiring as the maker built it; what it ties is meant.
    """
    live = [p for p in board.spec.points.values() if p.chassis or p.volts is not None]
    told: set[tuple[str, str]] = set()
    for number, state in enumerate(possible_states(board.spec)):
        if number >= MOST_STATES:
            return
        ties, meant = _ties(board, state), _ties(original, state)
        for one, other in combinations(live, 2):
            pair = one.name, other.name
            here, there = (
                ties_of.root(b.node(one.name)) == ties_of.root(b.node(other.name))
                for ties_of, b in ((ties, board), (meant, original))
            )
            apart = abs(_volts(one) - _volts(other))
            if here and not there and apart and one.ac == other.ac and pair not in told:
                told.add(pair)
                yield _said(board, one, other, state)


def _volts(point: Point) -> float:
    return 0.0 if point.chassis else point.volts or 0.0


def _ties(board: Board, state: State) -> Joiner:
    ties = Joiner(board.count)
    for branch in board.branches:
        if branch.control is not None and branch.closed(state):
            ties.join(branch.ends)
    return ties


def _said(board: Board, one: Point, other: Point, state: State) -> Caution:
    high, low = sorted((one, other), key=lambda p: -abs(_volts(p)))
    ohms = one.source_resistance + other.source_resistance
    apart = abs(_volts(one) - _volts(other))
    amps = with_unit(apart / ohms, "A", 3) if ohms else "no limit"
    behind = f" behind {in_ohms(high.source_resistance)}" if high.source_resistance else ""
    closed = [b for b in board.branches if b.control is not None and b.closed(state)]
    way = Reach.over(closed).between([(board.node(one.name), board.node(other.name))])
    controls = {name: board.spec.controls[name] for b in way if (name := b.control)}
    at = ", ".join(
        f"{name} at {control.positions[state[name]]}" for name, control in controls.items()
    )
    where = f" with {at}" if at else ""
    said = (
        f"{high.name}, {with_unit(_volts(high), 'V', 3)}{behind}, is tied to {low.name}"
        f"{where}: {amps}"
    )
    return Caution("short", said, True)
