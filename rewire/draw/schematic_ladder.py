"""A ring of shunts in the circuit: one column of resistors, the meter across all of it.

The switch taps the column, so that in each position some resistors are in series with the meter
and the others beside both (a universal shunt).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rewire.draw.diagram import Diagram, DrawnNet, DrawnPart, DrawnPole
from rewire.draw.scene import Drawn
from rewire.draw.schematic_symbols import GRID, Element, Spot, joint, standing, wire

_LEAD = 1
"""Rows of wire over and under each part."""
_BESIDE = 3
"""Columns from the words of the resistors to the meter."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Resistors from the top down, their nets, and the meter across all of them."""

    chain: tuple[DrawnPart, ...]
    nets: tuple[DrawnNet, ...]
    meter: DrawnPart
    tapped: frozenset[DrawnNet]
    """Nets that something else is on."""


def ladders(diagram: Diagram, pieces: Sequence[DrawnPart]) -> Iterator[Ladder]:
    """Rings of a meter and two resistors or more, with a pole that taps them twice or oftener."""
    for meter in pieces:
        if not meter.letter or len(meter.nets) != 2 or meter.nets[0] == meter.nets[1]:
            continue
        for start, end in (meter.nets, meter.nets[::-1]):
            found = _chain(diagram, pieces, meter, (start, end))
            if found and (row := _tapped(diagram, found.nets)):
                turned = replace(found, chain=found.chain[::-1], nets=found.nets[::-1])
                yield found if _downwards(row, found.nets) else turned
                break


def _chain(
    diagram: Diagram, pieces: Sequence[DrawnPart], meter: DrawnPart, ends: tuple[DrawnNet, DrawnNet]
) -> Ladder | None:
    """The resistors one after another from one end of the meter to the other."""
    nets, chain = [ends[0]], list[DrawnPart]()
    while nets[-1] != ends[1]:
        here = nets[-1]
        nexts = [p for p in pieces if here in p.nets and p not in (meter, *chain)]
        if here.group in diagram.split or here.chassis or len(nexts) != 1:
            return None
        (piece,) = nexts
        if len(piece.nets) != 2 or piece.nets[0] == piece.nets[1] or piece.letter:
            return None
        chain.append(piece)
        nets.append(piece.nets[0] if piece.nets[1] == here else piece.nets[1])
        if nets[-1] in nets[:-1]:
            return None
    whole = len(chain) > 1 and ends[1].group not in diagram.split and not ends[1].chassis
    tapped = frozenset(net for net in nets if len(diagram.on[net.group]) > 2)
    return Ladder(tuple(chain), tuple(nets), meter, tapped) if whole else None


def _tapped(diagram: Diagram, nets: Sequence[DrawnNet]) -> DrawnPole | None:
    """The pole whose throws tap a chain between two of its parts."""
    return next((row for row in diagram.rows
                 if len({net for net in row.nets[1:] if net in nets[1:-1]}) > 1), None)  # fmt: skip


def _downwards(row: DrawnPole, nets: Sequence[DrawnNet]) -> bool:
    """Whether the throws follow each other as the nets do, from the top down."""
    at = [row.nets.index(net) for net in nets if net in row.nets]
    return at[0] < at[-1]


def ladder_element(ladder: Ladder) -> Element:
    """The resistors under each other, the meter to their right, a way to each net at the left."""
    items: list[Drawn] = []
    levels = [0]
    for piece, (upper, lower) in zip(ladder.chain, pairwise(ladder.nets), strict=True):
        y = levels[-1] + _LEAD
        items.append(wire(upper, (0, levels[-1]), (0, y), piece.shows))
        items += _upright(piece, upper, (0, y))
        foot = y + _length(piece)
        levels.append(foot + _LEAD)
        items.append(wire(lower, (0, foot), (0, levels[-1]), piece.shows))
    meter, (first, *_, last) = ladder.meter, ladder.nets
    across = math.ceil(max(item.box.right for item in items) / GRID) + _BESIDE
    top = (levels[-1] - _length(meter)) // 2
    foot = top + _length(meter)
    for net, level, end in ((first, 0, top), (last, levels[-1], foot)):
        items.append(wire(net, (0, level), (across, level), meter.shows))
        items.append(wire(net, (across, level), (across, end), meter.shows))
    items += _upright(meter, first, (across, top))
    items += (
        joint((0, y), net, net.fate)
        for y, net in zip(levels, ladder.nets, strict=True) if net in ladder.tapped
    )  # fmt: skip
    shows = [ladder.chain[0].shows, *(piece.shows for piece in ladder.chain)]
    return Element(tuple(items), tuple(
        Spot(shown, net, (0, y), (-1, 0))
        for shown, net, y in zip(shows, ladder.nets, levels, strict=True) if net in ladder.tapped
    ))  # fmt: skip


def _length(piece: DrawnPart) -> int:
    return max(spot.at[1] for spot in standing(piece, flip=False).ports)


def _upright(piece: DrawnPart, upper: DrawnNet, at: tuple[int, int]) -> Iterator[Drawn]:
    element = standing(piece, flip=piece.nets[0] != upper)
    yield from (item.moved(at[0] * GRID, at[1] * GRID) for item in element.items)
