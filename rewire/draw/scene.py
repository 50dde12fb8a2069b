"""The scene: what stands where on a sheet of paper, before anyone paints it.

Placing and routing end in these plain records; the legibility audit, the PDF,
the SVG, the PNG and the HTML page all begin from them. Millimetres, origin at
the top left of the paper, y down. Every item says in ``shows`` what it stands
for (``wire:W3``, ``jumper:J1``, ``lug:A2`` …) and in ``net`` which net it lies on.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import Literal, TypedDict, Unpack

from fontTools.ttLib import TTFont

from rewire.words.wording import spelt_out

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
    mirrored: bool = False
    """Written backwards in its own box, for a film that is laid face down."""

    @property
    def box(self) -> Box:
        """What the ink may cover, mm."""
        return Box(self.x, self.y - self.ascent, self.x + self.width, self.y + self.descent)

    def moved(self, dx: float, dy: float) -> Text:
        """The same text at another place."""
        return Text(
            self.text, self.x + dx, self.y + dy, self.points, self.width, self.ascent, self.descent,
            self.bold, self.grey, self.shows, self.net, self.on, self.mirrored,
        )  # fmt: skip


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
    colour: str | None = None
    """``#rrggbb`` of the ink; None is black, or ``grey``."""
    stripe: str | None = None
    """Second colour of a wire of two, as dashes upon the first."""
    cased: bool = False
    """A dark edge along both sides, and a white gap where it passes over another line."""
    fill: str | None = None
    """Colour inside an outline that ends where it begins."""

    @property
    def box(self) -> Box:
        """Bounds of the centre line."""
        xs = [x for x, _ in self.points]
        ys = [y for _, y in self.points]
        return Box(min(xs), min(ys), max(xs), max(ys))

    def moved(self, dx: float, dy: float) -> Line:
        """The same line at another place."""
        points = tuple([(x + dx, y + dy) for x, y in self.points])
        return Line(
            points, self.shows, self.net, self.joins, self.width, self.dash, self.grey, self.colour,
            self.stripe, self.cased, self.fill,
        )  # fmt: skip


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
        return Symbol(
            self.kind, self.box.moved(dx, dy), self.shows, self.net, self.width, self.dash,
            self.fill, self.grey, self.backdrop,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ScanImage:
    """A scan or photograph, beneath everything else; lines and texts may cross it."""

    box: Box
    data: bytes
    """A PNG or JPEG file, fit to be shown as it is: upright, and nothing in it but the image."""
    media: Literal["image/png", "image/jpeg"]
    shows: str = ""
    net: None = None

    def moved(self, dx: float, dy: float) -> ScanImage:
        """The same picture at another place."""
        return replace(self, box=self.box.moved(dx, dy))


Drawn = Text | Line | Symbol
"""What is drawn with pen and ink."""
Item = Drawn | ScanImage


@dataclass(frozen=True, slots=True)
class Panel:
    """A piece of a page: items about an origin of their own, and the room they take."""

    items: tuple[Item, ...]
    width: float
    height: float

    def moved(self, dx: float, dy: float) -> Panel:
        """The items shifted; the room stays the same."""
        return replace(self, items=tuple(item.moved(dx, dy) for item in self.items))


def scaled(panel: Panel, factor: float) -> Panel:
    """A panel drawn so many times larger about its origin, with lines as heavy as before."""
    items = tuple(_scaled(item, factor) for item in panel.items)
    return Panel(items, panel.width * factor, panel.height * factor)


def _scaled(item: Item, factor: float) -> Item:
    if isinstance(item, Line):
        return replace(item, points=tuple((x * factor, y * factor) for x, y in item.points))
    if isinstance(item, Text):
        sizes = ("x", "y", "points", "width", "ascent", "descent")
        return replace(item, **{name: getattr(item, name) * factor for name in sizes})
    box = item.box
    return replace(
        item, box=Box(*(side * factor for side in (box.left, box.top, box.right, box.bottom)))
    )


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
    def pictures(self) -> tuple[ScanImage, ...]:
        """All scans and photographs."""
        return tuple(i for i in self.items if isinstance(i, ScanImage))


def sheet_of(paper: Paper, items: Iterable[Item], title: str = "") -> Scene:
    """A portrait sheet with these items on it."""
    width, height = PAPER[paper]
    return Scene(width, height, tuple(items), title)


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
    return any(enters(piece, box) for piece in pairwise(points))


_FOUND = find_spec("matplotlib")
assert _FOUND is not None
assert _FOUND.origin is not None
FONTS = Path(_FOUND.origin).parent / "mpl-data" / "fonts" / "ttf"
"""The folder of DejaVu Sans. matplotlib itself is not imported: it would take half a second, and
read a settings file from the current folder, which may be a stranger's."""
MM_PER_POINT = 25.4 / 72
ASCENT = 0.78
"""Height above the baseline that capitals, digits and ascenders take, of the size."""
DESCENT = 0.24
"""Depth below the baseline, of the size."""


@cache
def _advances(bold: bool) -> Mapping[int, float]:
    """Code point → advance width over the size, by the font's own tables ``cmap`` and ``hmtx``."""
    with TTFont(FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")) as font:
        em, widths = font["head"].unitsPerEm, font["hmtx"]
        return {code: widths[glyph][0] / em for code, glyph in font.getBestCmap().items()}


_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
"""Bidirectional classes (Unicode Standard Annex 9) of letters that run from right to left."""
_BEARINGS = 0.1
"""What the ink of a line may lack of its advance at both ends together, of the size."""


@lru_cache(maxsize=1 << 14)
def width_mm(text: str, points: float, bold: bool = False) -> float:
    """Width of a line of text, mm: its advances. Kerning only ever draws letters nearer.

    Letters that run from right to left are measured as they stand alone: joined they are narrower.
    """
    advances = _advances(bold)
    wide = sum(advances[ord(character)] for character in text)
    if not text.isascii() and any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text):
        wide += _BEARINGS
    return wide * points * MM_PER_POINT


def ascent_mm(points: float) -> float:
    """Room above the baseline, mm."""
    return ASCENT * points * MM_PER_POINT


def descent_mm(points: float) -> float:
    """Room below the baseline, mm."""
    return DESCENT * points * MM_PER_POINT


def line_mm(points: float) -> float:
    """Distance from one baseline to the next, mm."""
    return 1.22 * points * MM_PER_POINT


@lru_cache(maxsize=1 << 14)
def visible(text: str) -> str:
    r"""The text with all that cannot be seen spelt out.

    That is: control characters, marks that turn the direction of writing, marks that
    combine with a letter, and characters that the font has no glyph for.

    >>> visible("a\tb")
    'a‹U+0009›b'
    """
    if text.isascii() and text.isprintable():
        return text
    whole = unicodedata.normalize("NFC", text)
    return "".join(c if c == " " or _drawable(c) else spelt_out(c) for c in whole)


def _drawable(character: str) -> bool:
    has_glyph = all(ord(character) in _advances(bold) for bold in (False, True))
    return has_glyph and character.isprintable() and not unicodedata.combining(character)


class Look(TypedDict, total=False):
    """How a text looks, and what it stands for."""

    bold: bool
    grey: float
    shows: str
    net: str | None
    on: str


def text_at(
    text: str, x: float, y: float, points: float, align: str = "left", **look: Unpack[Look]
) -> Text:
    """A measured line of text whose left, centre or right end stands at ``x``, baseline ``y``."""
    width = width_mm(text, points, look.get("bold", False))
    left = x - {"left": 0.0, "centre": width / 2, "right": width}[align]
    return Text(text, left, y, points, width, ascent_mm(points), descent_mm(points), **look)


def middle_baseline(y: float, points: float) -> float:
    """The baseline that puts capitals of this size about the height ``y``."""
    return y + 0.36 * points * MM_PER_POINT


_BLANKS = re.compile(r"(?<=[ ])(?!(?<=\d )(?:[mkMµn]?[VAWΩ]|mm|%)(?![^\W\d_]))")
"""Behind a blank, but not between a number and its unit."""
_WITHIN = re.compile(r"(?<=[_\-./,|:])(?=\S)")


def wrap(text: str, width: float, points: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than ``width`` mm.

    Broken at blanks; a word wider than that after ``_ - . /``, else anywhere.
    """
    lines: list[str] = []
    line = ""
    for piece in _pieces(text, width, points, bold):
        if line and width_mm((line + piece).rstrip(), points, bold) > width:
            lines.append(line.rstrip())
            line = piece.lstrip()
        else:
            line += piece
    lines.append(line.rstrip())
    return tuple(lines)


def longest_word_mm(text: str, points: float, bold: bool = False) -> float:
    """Width of the longest piece that a line is not broken within, mm."""
    return max(width_mm(word.rstrip(), points, bold) for word in _BLANKS.split(text))


def _pieces(text: str, width: float, points: float, bold: bool) -> Iterator[str]:
    """Words with the blanks behind them; one too long for a line in pieces of its own."""
    for word in _BLANKS.split(text):
        if width_mm(word.rstrip(), points, bold) <= width:
            yield word
            continue
        for part in _WITHIN.split(word):
            rest = part
            while rest and width_mm(rest.rstrip(), points, bold) > width:
                fit = max(1, _longest(rest, width, points, bold))
                yield rest[:fit]
                rest = rest[fit:]
            yield rest


def _longest(text: str, width: float, points: float, bold: bool) -> int:
    """How many characters of a text there is room for."""
    counts = range(1, len(text) + 1)
    return bisect_right(counts, width, key=lambda n: width_mm(text[:n], points, bold))


def shortened(text: str, width: float, points: float, bold: bool = False) -> str:
    """The text, or its beginning with a sign that there is more, no wider than ``width`` mm."""
    if width_mm(text, points, bold) <= width:
        return text
    return f"{text[: _longest(text, width - width_mm(' …', points, bold), points, bold)]} …"


def paragraphs(
    said: Iterable[tuple[str, float, bool]], width: float, most: int | None = None
) -> tuple[list[Text], float]:
    """Paragraphs one under another, wrapped at a width, and their height, mm.

    Each is given with its size in points and whether it is bold; beyond ``most`` lines it is cut.
    """
    texts: list[Text] = []
    y = 0.0
    for text, points, bold in said:
        sign = 0.0 if most is None else width_mm(" …", points, bold)
        lines = wrap(visible(text), width - sign, points, bold)
        if most is not None and len(lines) > most:
            lines = (*lines[: most - 1], f"{lines[most - 1]} …")
        for line in lines:
            y += line_mm(points)
            texts.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return texts, y
