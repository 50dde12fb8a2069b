"""The scene: what stands where on a sheet of paper, before anyone paints it.

Placing and routing end in these plain records; the legibility audit, the PDF,
the SVG, the PNG and the HTML page all begin from them. Millimetres, origin at
the top left of the paper, y down. Every item says in ``shows`` what it stands
for (``wire:W3``, ``jumper:J1``, ``lug:A2`` …) and in ``net`` which net it lies on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

XY = tuple[float, float]
Segment = tuple[XY, XY]
Dash = Literal["solid", "dashed", "dotted", "dashdot"]
Paper = Literal["a4", "letter"]

PAPER: dict[Paper, XY] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm, portrait (ISO 216 A4; US Letter 8.5 × 11 inches)."""
MARGIN = 10.0
"""Nothing is drawn nearer to the edge of the paper, mm."""
_NEAR = 1e-6
FOOT = 14.0
"""Kept free above the lower margin for the foot of a page, mm."""


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Millimetres."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.bottom - self.top

    @property
    def centre(self) -> XY:
        """Middle of the box."""
        return ((self.left + self.right) / 2, (self.top + self.bottom) / 2)

    def grown(self, by: float) -> Box:
        """The box with every side moved outwards (inwards where negative)."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def moved(self, dx: float, dy: float) -> Box:
        """The box at another place."""
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def around(centre: XY, width: float, height: float) -> Box:
    """The box of that size about a centre."""
    x, y = centre
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def hull(boxes: Iterable[Box]) -> Box:
    """The smallest box that holds all of them; needs at least one."""
    every = list(boxes)
    return Box(
        min(b.left for b in every),
        min(b.top for b in every),
        max(b.right for b in every),
        max(b.bottom for b in every),
    )


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``x`` its left end, ``y`` its baseline, sizes as measured."""

    text: str
    x: float
    y: float
    points: float
    width: float
    ascent: float
    descent: float
    bold: bool = False
    grey: float = 0.0
    """0 is black, 1 white."""
    shows: str = ""
    net: str | None = None
    on: str = ""
    """``shows`` of the symbol or line that this text is written upon, if any."""

    @property
    def box(self) -> Box:
        """What the ink may cover, mm."""
        return Box(self.x, self.y - self.ascent, self.x + self.width, self.y + self.descent)

    def moved(self, dx: float, dy: float) -> Text:
        """The same text at another place."""
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, slots=True)
class Line:
    """A drawn line through ``points``; ``joins`` are the lugs it may touch."""

    points: tuple[XY, ...]
    shows: str = ""
    net: str | None = None
    joins: tuple[str, ...] = ()
    width: float = 0.25
    """Millimetres."""
    dash: Dash = "solid"
    grey: float = 0.0

    @property
    def box(self) -> Box:
        """Bounds of the centre line."""
        xs = [x for x, _ in self.points]
        ys = [y for _, y in self.points]
        return Box(min(xs), min(ys), max(xs), max(ys))

    def moved(self, dx: float, dy: float) -> Line:
        """The same line at another place."""
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class Symbol:
    """Something with an outline: a lug, a joint, a shaft, a colour swatch, a tick box.

    ``kind`` chooses what it is drawn of (``rewire.draw.symbols``).
    """

    kind: str
    box: Box
    shows: str = ""
    net: str | None = None
    width: float = 0.3
    dash: Dash = "solid"
    fill: str | None = "white"
    """Colour name or ``#rrggbb``; None leaves it open."""
    grey: float = 0.0
    backdrop: bool = False
    """Drawn beneath everything; lines and texts may cross it."""

    def moved(self, dx: float, dy: float) -> Symbol:
        """The same symbol at another place."""
        return replace(self, box=self.box.moved(dx, dy))


@dataclass(frozen=True, slots=True)
class Picture:
    """A scan or photograph, beneath everything else; lines and texts may cross it."""

    box: Box
    data: bytes
    """A PNG or JPEG file, fit to be shown as it is: upright, and nothing in it but the image."""
    media: Literal["image/png", "image/jpeg"]
    shows: str = ""
    net: None = None

    def moved(self, dx: float, dy: float) -> Picture:
        """The same picture at another place."""
        return replace(self, box=self.box.moved(dx, dy))


Drawn = Text | Line | Symbol
"""What is drawn with pen and ink."""
Item = Drawn | Picture


@dataclass(frozen=True, slots=True)
class Panel:
    """A piece of a page: items about an origin of their own, and the room they take."""

    items: tuple[Item, ...]
    width: float
    height: float

    def moved(self, dx: float, dy: float) -> Panel:
        """The items shifted; the room stays the same."""
        return replace(self, items=tuple(item.moved(dx, dy) for item in self.items))


@dataclass(frozen=True, slots=True)
class Scene:
    """One sheet of paper and everything on it."""

    width: float
    height: float
    items: tuple[Item, ...]
    title: str = ""
    """What the sheet is, in words, for metadata and screen readers."""

    @property
    def texts(self) -> tuple[Text, ...]:
        """All texts."""
        return tuple(i for i in self.items if isinstance(i, Text))

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines."""
        return tuple(i for i in self.items if isinstance(i, Line))

    @property
    def symbols(self) -> tuple[Symbol, ...]:
        """All symbols."""
        return tuple(i for i in self.items if isinstance(i, Symbol))

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """All scans and photographs."""
        return tuple(i for i in self.items if isinstance(i, Picture))


def sheet_of(paper: Paper, items: Iterable[Item], title: str = "") -> Scene:
    """A portrait sheet with these items on it."""
    width, height = PAPER[paper]
    return Scene(width, height, tuple(items), title)


def on_clock(degrees: float, radius: float) -> XY:
    """Point at a clock angle (0 is twelve o'clock, clockwise on paper, y down), mm."""
    angle = math.radians(degrees)
    return (radius * math.sin(angle), -radius * math.cos(angle))


def arc(start: float, end: float, radius: float, step: float = 3.0) -> tuple[XY, ...]:
    """Points along a circle from one clock angle to another, ``end`` taken as is."""
    count = max(1, math.ceil(abs(end - start) / step))
    return tuple(on_clock(start + (end - start) * n / count, radius) for n in range(count + 1))


def segments(points: Sequence[XY]) -> Iterator[Segment]:
    """The pieces of a polyline."""
    return pairwise(points)


def enters(segment: Segment, box: Box) -> bool:
    """Whether a segment has a point inside the box (Liang and Barsky, ACM TOG 3, 1984)."""
    (x0, y0), (x1, y1) = segment
    low, high = 0.0, 1.0
    for start, delta, lowest, highest in (
        (x0, x1 - x0, box.left, box.right),
        (y0, y1 - y0, box.top, box.bottom),
    ):
        if abs(delta) < _NEAR:
            if not lowest < start < highest:
                return False
            continue
        near, far = sorted(((lowest - start) / delta, (highest - start) / delta))
        low, high = max(low, near), min(high, far)
        if low >= high:
            return False
    return True


def line_enters(points: Sequence[XY], box: Box) -> bool:
    """Whether a polyline has a point inside the box."""
    return any(enters(piece, box) for piece in segments(points))


def lies_within(point: XY, segment: Segment) -> bool:
    """Whether the point lies on the segment, its two ends not counted."""
    (x0, y0), (x1, y1) = segment
    dx, dy = x1 - x0, y1 - y0
    length = math.hypot(dx, dy)
    if length < _NEAR:
        return False
    along = ((point[0] - x0) * dx + (point[1] - y0) * dy) / length
    aside = abs((point[0] - x0) * dy - (point[1] - y0) * dx) / length
    return aside < 1e-3 and 1e-3 < along < length - 1e-3


def along(points: Sequence[XY], step: float) -> Iterator[XY]:
    """Places on a polyline, from its middle outwards, ``step`` mm apart."""
    places = list(_walk(points, step))
    middle = len(places) // 2
    for offset in range(len(places)):
        sign = 1 if offset % 2 else -1
        index = middle + sign * ((offset + 1) // 2)
        if 0 <= index < len(places):
            yield places[index]


def _walk(points: Sequence[XY], step: float) -> Iterator[XY]:
    carried = step / 2
    for (x0, y0), (x1, y1) in segments(points):
        length = math.hypot(x1 - x0, y1 - y0)
        while carried < length:
            part = carried / length
            yield (x0 + (x1 - x0) * part, y0 + (y1 - y0) * part)
            carried += step
        carried -= length


def joined(items: Iterable[Item]) -> Iterator[Item]:
    """Level and upright lines of one net that continue each other as one line.

    A dot stands wherever three or more of a net's lines meet. Everything else stays.
    """
    nets: dict[str, list[Line]] = {}
    for item in items:
        if isinstance(item, Line) and item.net is not None:
            nets.setdefault(item.net, []).append(item)
        else:
            yield item
    for pieces in nets.values():
        lines = list(_merged(pieces))
        yield from lines
        ends = {(round(x, 3), round(y, 3)): (x, y) for piece in pieces for x, y in piece.points}
        for at in ends.values():
            if sum(_arms(line, at) for line in lines) > 2:
                first = pieces[0]
                yield Symbol("joint", around(at, 1.2, 1.2), first.shows, first.net, fill="black")


def _merged(pieces: Sequence[Line]) -> Iterator[Line]:
    lanes: dict[tuple[bool, float], list[tuple[float, float]]] = {}
    for piece in pieces:
        box = piece.box
        if box.width > _NEAR:
            lanes.setdefault((True, round(box.top, 6)), []).append((box.left, box.right))
        elif box.height > _NEAR:
            lanes.setdefault((False, round(box.left, 6)), []).append((box.top, box.bottom))
    for (level, at), spans in lanes.items():
        united: list[tuple[float, float]] = []
        for low, high in sorted(spans):
            if united and low <= united[-1][1] + _NEAR:
                low, high = united[-1][0], max(high, united.pop()[1])
            united.append((low, high))
        for low, high in united:
            ends = ((low, at), (high, at)) if level else ((at, low), (at, high))
            yield replace(pieces[0], points=ends)


def _arms(line: Line, at: XY) -> int:
    """In how many directions a line leaves a place: none, one at its end, two inside it."""
    if not line.box.grown(_NEAR).meets(around(at, 0.0, 0.0)):
        return 0
    return 1 if any(math.dist(at, end) < 2 * _NEAR for end in line.points) else 2
