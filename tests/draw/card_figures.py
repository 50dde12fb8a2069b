"""How a picture of wires is drawn, in figures: crossings, bends, room, words, smallest text."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from rewire.draw.scene import XY, Box, Line, Panel, Scene, Text, enters

_TURN = math.radians(20)
"""A bend is a turn by more than this; arcs are drawn in smaller steps."""
_CELL = 5.0
"""Side of the squares in which the room that is used is counted, mm."""
_WIRES = ("wire:", "jumper:")


@dataclass(frozen=True, slots=True)
class Figures:
    """What is counted in a picture."""

    crossings: int
    """Of wires with wires."""
    over_jumpers: int
    """Crossings in which a jumper takes part."""
    bends: tuple[int, ...]
    """Of each wire that is no jumper."""
    used: float
    """Share of the picture's squares of 5 mm with something in them."""
    words: int
    smallest: float
    """Points."""


def figures_of(picture: Panel | Scene) -> Figures:
    """The figures of a picture."""
    lines = [i for i in picture.items if isinstance(i, Line) and i.shows.startswith(_WIRES)]
    texts = [i for i in picture.items if isinstance(i, Text)]
    crossed = [
        "jumper:" in (one.shows[:7], two.shows[:7])
        for one, two in combinations(lines, 2)
        for _ in range(crossings(one.points, two.points))
        if one.net != two.net or one.shows != two.shows
    ]
    return Figures(
        crossings=crossed.count(False),
        over_jumpers=crossed.count(True),
        bends=tuple(bends(line.points) for line in lines if line.shows.startswith("wire:")),
        used=used(picture),
        words=sum(len(text.text.split()) for text in texts),
        smallest=min((text.points for text in texts), default=math.inf),
    )


def crossings(one: Sequence[XY], two: Sequence[XY]) -> int:
    """How often two lines cross; a common end, or one that ends on the other, is no crossing."""
    return sum(
        side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
        for a, b in pairwise(one)
        for c, d in pairwise(two)
    )


def side(a: XY, b: XY, at: XY) -> int:
    """On which side of the line from a to b a place is; 0 on it."""
    across = (b[0] - a[0]) * (at[1] - a[1]) - (b[1] - a[1]) * (at[0] - a[0])
    return 0 if abs(across) < 1e-6 else int(math.copysign(1, across))


def bends(points: Sequence[XY]) -> int:
    """How often a line turns by more than twenty degrees."""
    headings = [math.atan2(y1 - y0, x1 - x0) for (x0, y0), (x1, y1) in pairwise(points)]
    turns = ((b - a + math.pi) % (2 * math.pi) - math.pi for a, b in pairwise(headings))
    return sum(abs(turn) > _TURN for turn in turns)


def used(picture: Panel | Scene) -> float:
    """Share of the squares of a picture in which a line, a text or a symbol stands."""
    across, down = math.ceil(picture.width / _CELL), math.ceil(picture.height / _CELL)
    drawn = (item for item in picture.items if not getattr(item, "backdrop", False))
    filled = {(x, y) for item in drawn for x, y in _cells(item) if x < across and y < down}
    return len(filled) / (across * down)


def _cells(item: object) -> Iterator[tuple[int, int]]:
    box: Box = item.box  # type: ignore[attr-defined]
    for column in range(int(box.left // _CELL), int(box.right // _CELL) + 1):
        for row in range(int(box.top // _CELL), int(box.bottom // _CELL) + 1):
            x, y = column * _CELL, row * _CELL
            square = Box(x, y, x + _CELL, y + _CELL)
            if not isinstance(item, Line) or any(enters(p, square) for p in pairwise(item.points)):
                yield column, row
