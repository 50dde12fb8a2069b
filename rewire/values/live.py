"""Live: what every net stands at in operation, as far as the spec says."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import nan, sqrt

import numpy as np

from rewire.circuit.dc import Array, solve
from rewire.circuit.graph import Joiner
from rewire.records.spec import Point, Spec
from rewire.values.board import Board, Branch


def most_volts(point: Point) -> float:
    """The most that is written of a point, in volts with its sign; 0 where nothing is."""
    return max((volts or 0.0 for volts in (point.volts, point.rises_to)), key=abs)


@dataclass(frozen=True, slots=True)
class Live:
    """Volts to chassis of every node.

    ``steady`` are those of the DC sources together, shape (nodes,); ``swinging`` the
    peaks of each AC source, signs as they are, shape (AC sources, nodes). ``known`` is
    false where a point whose volts are not given, or a diode, may feed the node: what
    is not given is unknown, never safe. ``floating`` is true where nothing links the
    node to chassis or to a source.
    """

    steady: Array
    swinging: Array
    known: Sequence[bool]
    floating: Sequence[bool]

    def apart(self, one: int, other: int) -> float | None:
        """The most there can be between two nodes, volts.

        None if it is not known; NaN if one of them floats, on nothing that is known.

        Source: one AC source is in step with itself; of several the phases are not
        known, so that their peaks add.
        """
        if one == other:
            return 0.0
        if not (self.known[one] and self.known[other]):
            return None
        if self.floating[one] or self.floating[other]:
            return nan
        swing = np.sum(np.abs(self.swinging[:, one] - self.swinging[:, other]))
        return float(abs(self.steady[one] - self.steady[other]) + swing)


def live(
    board: Board,
    values: Sequence[Array | None],
    state: dict[str, int],
    opened: Collection[int] | None = None,
) -> Live | None:
    """Volts of every node of a board, sources behind their resistances.

    Args:
        board: the wiring.
        values: the board's values; what is not known makes its nets unknown.
        state: position of every control.
        opened: sections whose contacts are open for the moment, or for good; points
            then stand at what they rise to. None in operation.

    Returns:
        None if the spec names no chassis.

    Source: superposition; DC sources add with their signs, AC ones by their peaks,
    √2 × rms, for their phases are not known.
    """
    chassis = next((p for p in board.spec.points.values() if p.chassis), None)
    if chassis is None:
        return None
    ground = board.node(chassis.name)
    sources = list(_sources(board, ground, opened is not None))
    closed = [b for b in board.branches if b.closed(state) and b.section not in (opened or ())]
    usable = [b for b in closed if all(values[n] is not None for n in _numbers(b.value, b.share))]
    vague = [b for b in closed if b not in usable]
    known = [np.array([1.0]) if v is None else v for v in values]
    ends = [*(b.ends for b in usable), *((node, ground) for node, _, _, _ in sources)]
    ohms = [
        *(np.asarray(b.ohms(known)) for b in usable),
        *(np.array([r]) for _, _, r, _ in sources),
    ]
    drives = [(node, ground) for node, _, _, _ in sources] or [(ground, ground)]
    solved = solve(board.count, ends, ohms, drives, ground)
    shares = [
        volts / resistance * solved.volts[row, :, 0]
        for row, (_, volts, resistance, _) in enumerate(sources)
    ]
    alternating = [ac for _, _, _, ac in sources]
    steady = [share for share, ac in zip(shares, alternating, strict=True) if not ac]
    swinging = [sqrt(2.0) * share for share, ac in zip(shares, alternating, strict=True) if ac]
    return Live(
        np.sum(np.array(steady).reshape(-1, board.count), axis=0),
        np.array(swinging).reshape(-1, board.count),
        *_status(board, closed, vague, _linked(board, ends), ground),
    )


def possible_states(spec: Spec) -> Iterator[dict[str, int]]:
    """Every combination of positions that can occur, by number; many where controls are many."""
    controls = spec.controls
    never = [
        {name: controls[name].positions.index(at) for name, at in item.items()}
        for item in spec.never
    ]
    for at in product(*(range(len(control.positions)) for control in controls.values())):
        state = dict(zip(controls, at, strict=True))
        if not any(all(state[n] == p for n, p in item.items()) for item in never):
            yield state


def _numbers(*numbers: int | None) -> Iterator[int]:
    return (n for n in numbers if n is not None)


def _sources(board: Board, ground: int, moving: bool) -> Iterator[tuple[int, float, float, bool]]:
    """Node, volts, ohms, whether AC, of every point with volts of its own."""
    for point in board.spec.points.values():
        volts = _volts(point, moving)
        node = board.node(point.name)
        if not point.chassis and volts is not None and node != ground:
            yield node, volts, max(point.source_resistance, 1e-9), point.ac


def _volts(point: Point, moving: bool) -> float | None:
    if moving and point.rises_to is not None:
        return point.rises_to
    return point.volts


def _linked(board: Board, ends: Iterable[tuple[int, int]]) -> Joiner:
    joiner = Joiner(board.count)
    for pair in ends:
        joiner.join(pair)
    return joiner


def _status(
    board: Board, closed: Sequence[Branch], vague: Sequence[Branch], paths: Joiner, ground: int
) -> tuple[list[bool], list[bool]]:
    """Which nodes are known, and which float.

    Not known: what is tied to a point whose volts are not given; what floats with
    such a point, or on a part or a diode that no sum can be made with.
    """
    ties = _linked(board, (b.ends for b in closed if b.control is not None))
    unsaid = [p for p in board.spec.points.values() if not p.chassis and p.volts is None]
    tied = {ties.root(board.node(p.name)) for p in unsaid} - {ties.root(ground)}
    loose = {paths.root(board.node(p.name)) for p in unsaid}
    loose |= {paths.root(node) for branch in vague for node in branch.ends}
    loose |= {paths.root(node) for _, one, other in board.blocked for node in (one, other)}
    held = paths.root(ground)
    nodes = range(board.count)
    floating = [paths.root(n) != held for n in nodes]
    known = [
        ties.root(n) not in tied and (not floating[n] or paths.root(n) not in loose) for n in nodes
    ]
    return known, floating
