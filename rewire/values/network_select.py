"""Which branches of a board carry a reading: those on some way between its two places."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from rewire.circuit.dc import Ends
from rewire.circuit.graph import NO_SECTION, Joiner
from rewire.records.spec import Meter, Reading
from rewire.values.board import Board, Branch
from rewire.values.circuits import Reach, State, pairs_of


def selected(
    board: Board, reading: Reading, meter: Meter | None, state: State
) -> tuple[list[Branch], tuple[int, ...]]:
    """Branches that carry a reading, and which of its standing currents flow in them too.

    Left out: whatever closed contacts bridge (no current flows in it), the meter
    and what lies beside it excepted; what hangs on the rest by one end. What a DC
    sum takes as open (capacitors, diodes) is there where it lies beside the meter,
    or in the only way to it.

    Args:
        board: the wiring.
        reading: one of its readings.
        meter: what is read, if the wiring has it.
        state: position of each control that can matter, by number.

    Returns:
        Branches of the board (those that block DC with ``NO_SECTION`` for a value)
        and numbers of ``reading.also``.
    """
    pairs = pairs_of(board, reading)
    if pairs is None or pairs[0][0] == pairs[0][1]:
        return [], ()
    closed = [b for b in board.branches if b.control is None or _is_closed(b, state)]
    contacts = [b for b in closed if b.control is not None]
    bare = _tied(board, [b for b in contacts if board.values[b.value].nominal == 0.0])
    if bare.root(pairs[0][0]) == bare.root(pairs[0][1]):
        return Reach.over(contacts).between(pairs[:1]), ()
    kept = _unbridged(closed, bare, pairs)
    if not _reaches(kept, pairs, meter):
        kept = _unbridged([*closed, *_blocked(board)], bare, pairs)
    beside = [b for b in (*closed, *_blocked(board)) if _is_beside(b, board, bare, meter)]
    every = dict.fromkeys([*kept, *beside])
    return _carrying(Reach.over(sorted(every, key=_order(board))), pairs)


def _order(board: Board) -> Callable[[Branch], int]:
    """As on the board, what blocks DC last."""
    place = {branch: number for number, branch in enumerate(board.branches)}
    return lambda branch: place.get(branch, len(place))


def _unbridged(closed: Sequence[Branch], bare: Joiner, pairs: Sequence[Ends]) -> list[Branch]:
    """All contacts, and what is on a way when all that contacts tie is taken as one node.

    A part that contacts bridge, or that loops back to where it began, is on none.
    """
    merged = [replace(b, ends=(bare.root(b.ends[0]), bare.root(b.ends[1]))) for b in closed]
    reach = Reach.over(merged)
    roots = [(bare.root(one), bare.root(other)) for one, other in pairs]
    on_way = {id(branch) for branch in reach.between(pair for pair in roots if pair[0] != pair[1])}
    return [
        branch
        for branch, one in zip(closed, merged, strict=True)
        if id(one) in on_way or (branch.control is not None and one.ends[0] == one.ends[1])
    ]


def _is_beside(branch: Branch, board: Board, bare: Joiner, meter: Meter | None) -> bool:
    """The meter itself and what lies beside it, though contacts may bridge it or it may block."""
    if meter is None or branch.control is not None:
        return False
    at_meter = {board.node(meter.terminal(lug)) for lug in meter.terminals}
    roots = {bare.root(node) for node in at_meter}
    theirs = {bare.root(end) for end in branch.ends}
    return set(branch.ends) == at_meter or (theirs == roots and len(roots) == 2)


def _is_closed(branch: Branch, state: State) -> bool:
    at = None if branch.control is None else state.get(branch.control)
    return at is not None and bool(branch.positions >> at & 1)


def _tied(board: Board, contacts: Sequence[Branch]) -> Joiner:
    joiner = Joiner(board.count)
    for branch in contacts:
        joiner.join(branch.ends)
    return joiner


def _blocked(board: Board) -> list[Branch]:
    return [Branch(part, (a, b), NO_SECTION) for part, a, b in board.blocked]


def _reaches(kept: Sequence[Branch], pairs: Sequence[Ends], meter: Meter | None) -> bool:
    if meter is None:
        return True
    return any(branch.part == meter.name for branch in Reach.over(kept).between(pairs))


def _carrying(reach: Reach, pairs: Sequence[Ends]) -> tuple[list[Branch], tuple[int, ...]]:
    """Ways of the reading, and of every standing current that shares some of them."""
    chosen = reach.between(pairs[:1])
    taken: list[int] = []
    growing = True
    while growing:
        growing = False
        for number, pair in enumerate(pairs[1:]):
            if number not in taken and set(reach.between([pair])) & set(chosen):
                taken.append(number)
                chosen = reach.between([pairs[0], *(pairs[1 + n] for n in taken)])
                growing = True
    return chosen, tuple(sorted(taken))
