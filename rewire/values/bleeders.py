"""Bleeders: capacitors that a wiring leaves charged for longer than the original did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf, isinf, log

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.ohms import ohms_between
from rewire.records.spec import Capacitor
from rewire.values.board import Board
from rewire.values.circuits import place_of
from rewire.values.model import Caution
from rewire.words.quantity import in_ohms

_SAFE = 50.0
"""Volts below which a capacitor's charge is let be."""
_SLOWER = 1.5
"""Times as long that count as another thing."""


def bleeders(
    board: Board,
    values: Sequence[Array | None],
    original: Board,
    was: Sequence[Array | None],
) -> Iterator[Caution]:
    """Capacitors at dangerous volts that take longer to bleed, or are bled by nothing any more.

    Args:
        board: the wiring.
        values: its values; what is not known bleeds nothing.
        original: the wiring as the maker built it, its contacts left out like this one's.
        was: the values of that.

    Source: V e^(-t / RC).
    """
    for part in board.parts.values():
        before = original.parts.get(part.name)
        if not isinstance(part, Capacitor) or not isinstance(before, Capacitor):
            continue
        volts = _most_volts(board, part)
        if volts <= _SAFE:
            continue
        now, then = _across(board, part, values), _across(original, before, was)
        if now > _SLOWER * then:
            seconds = log(volts / _SAFE) * part.farads
            stays = "nothing bleeds it" if isinf(now) else _bled(now, seconds)
            was_so = _bled(then, seconds)
            said = f"{part.name}: {stays}, in the original {was_so}; discharge it by hand"
            yield Caution("bleeder", said, False, part.name)


def _bled(ohms: float, seconds: float) -> str:
    return f"{in_ohms(ohms, 3)} bleed it to {_SAFE:.0f} V in {seconds * ohms:,.0f} s"


def _most_volts(board: Board, part: Capacitor) -> float:
    """What may stand across it: the most of the points that it hangs on."""
    nodes = {board.node(part.terminal(lug)) for lug in part.terminals}
    volts = [
        max(abs(point.volts or 0.0), abs(point.rises_to or 0.0))
        for point in board.spec.points.values()
        if board.node(point.name) in nodes
    ]
    return max(volts, default=0.0)


def _across(board: Board, part: Capacitor, values: Sequence[Array | None]) -> float:
    """Ohms across a capacitor with every contact open."""
    one, other = (place_of(board, part.terminal(lug)) for lug in part.terminals)
    if one is None or other is None:
        return inf
    known = [np.array([inf]) if v is None else v for v in values]
    links = [
        (*b.ends, float(np.ravel(b.ohms(known))[0])) for b in board.branches if b.control is None
    ]
    return ohms_between(board.count, links, one, other)
