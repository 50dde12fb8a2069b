"""The scene: what stands where on a sheet of paper, before anyone paints it.

Placing and routing end in these plain records; the legibility audit, the PDF,
the SVG, the PNG and the HTML page all begin from them. Millimetres, origin at
the top left of the paper, y down. Every item says in ``shows`` what it stands
for (``wire:W3``, ``jumper:J1``, ``lug:A2`` …) and in ``net`` which net it lies on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

XY = tuple[float, float]
Dash = Literal["solid", "dashed", "dotted", "dashdot"]
Paper = Literal["a4", "letter"]

PAPER: dict[Paper, XY] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm, portrait (ISO 216 A4; US Letter 8.5 × 11 inches)."""
MARGIN = 10.0
"""Nothing is drawn nearer to the edge of the paper, mm."""
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
