"""What is drawn in a finished SVG: lines, symbols and words with their places, mm.

A symbol says in the SVG what symbol it is; nothing else is taken but what the eye sees. Lines of a
pale grey are no wires, and white ones are gaps.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal
from xml.etree.ElementTree import Element, fromstring

from rewire.draw.scene import ASCENT, DESCENT, XY, Box

SVG = "{http://www.w3.org/2000/svg}"
_EVEN = 0.02
"""Places that differ by less are level, mm: places are written in hundredths."""
_PALE = 0x66
"""A grey line at least so light is no wire."""
_HEAVY = 0.6
"""A line at least so wide is heavy, mm."""
Look = Literal["thin", "heavy", "pale"]


@dataclass(frozen=True, slots=True)
class Shape:
    """A symbol: what it is, the room it takes, and the places its ink runs through."""

    kind: str
    box: Box
    ink: tuple[XY, ...]
    look: Look = "thin"

    def end(self, side: Literal["left", "right", "top", "bottom"]) -> XY:
        """The middle of what lies outermost on a side."""
        level, along = getattr(self.box, side), int(side in ("top", "bottom"))
        return box_of([p for p in self.ink if abs(p[along] - level) < _EVEN]).centre


@dataclass(frozen=True, slots=True)
class Word:
    """A text and the room it takes."""

    text: str
    box: Box
    look: Look = "thin"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line as it is drawn from end to end; ``ink`` is its colour as the eye sees it."""

    points: tuple[XY, ...]
    ink: str
    look: Look = "thin"


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything on a sheet that may say what is joined to what."""

    strokes: tuple[Stroke, ...]
    shapes: tuple[Shape, ...]
    words: tuple[Word, ...]


def drawing_of(svg: bytes | str) -> Drawing:
    """The drawing in an SVG of the painter, but for pale lines."""
    whole = whole_drawing(svg)
    return replace(whole, strokes=tuple(s for s in whole.strokes if s.look != "pale"))


def whole_drawing(svg: bytes | str) -> Drawing:
    """The same with pale lines, which a marked-up circuit has where something goes."""
    strokes: list[Stroke] = []
    shapes: list[Shape] = []
    words: list[Word] = []
    for element in drawn(fromstring(svg)):
        if element.get("data-kind"):
            shapes.append(shape_of(element))
        elif element.tag == f"{SVG}text":
            words.append(word_of(element))
        elif stroke := _line_of(element):
            strokes.append(stroke)
    return Drawing(tuple(strokes), tuple(shapes), tuple(words))


def drawn(element: Element) -> Iterator[Element]:
    """Texts, paths that are no part of a symbol, symbols and cased lines, in order of painting."""
    whole = element.get("data-kind") or element.get("class") == "cased"
    if whole or element.tag in (f"{SVG}text", f"{SVG}path"):
        yield element
        return
    for child in element:
        yield from drawn(child)


def course(path: Element) -> tuple[XY, ...]:
    """The places a path runs through."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", path.get("d", ""))]
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))


def shape_of(group: Element) -> Shape:
    """The symbol that a group of paths draws."""
    points = tuple(p for path in group.iter(f"{SVG}path") for p in course(path))
    first = next(group.iter(f"{SVG}path"))
    return Shape(group.get("data-kind", ""), box_of(points), points, look_of(first))


def box_of(points: Sequence[XY]) -> Box:
    """The smallest box that holds all of the places."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def word_of(text: Element) -> Word:
    """A text by the size it is written in."""
    x, y, wide, size = (
        float(text.get(key, "")) for key in ("x", "y", "textLength", "font-size")
    )  # fmt: skip
    box = Box(x, y - ASCENT * size, x + wide, y + DESCENT * size)
    return Word(text.text or "", box, "thin" if _dark(text.get("fill", "#000000")) else "pale")


def stroke_of(element: Element) -> Stroke | None:
    """The wire that a path, or the paths of a cased line, draw; None where it is none."""
    stroke = _line_of(element)
    return None if stroke is None or stroke.look == "pale" else stroke


def _line_of(element: Element) -> Stroke | None:
    """The line that they draw, be it pale; white ones are gaps."""
    if element.tag == f"{SVG}text" or element.get("data-kind"):
        return None
    cased = element.get("class") == "cased"
    path = element[2] if cased else element
    ink = path.get("stroke", "none")
    if path.get("fill", "none") != "none" or ink in ("none", *([] if cased else ["#ffffff"])):
        return None
    return Stroke(course(path), ink, "thin" if cased else look_of(path))


def look_of(path: Element) -> Look:
    """How a line looks."""
    if not _dark(path.get("stroke", "none")):
        return "pale"
    return "heavy" if float(path.get("stroke-width", "0")) >= _HEAVY else "thin"


def _dark(ink: str) -> bool:
    if ink == "none":
        return False
    red, green, blue = (int(ink[n : n + 2], 16) for n in (1, 3, 5))
    return not (red == green == blue) or red < _PALE


def away(box: Box, other: Box) -> float:
    """How far two boxes are from each other, mm; 0 where they meet."""
    dx = max(box.left - other.right, other.left - box.right, 0.0)
    dy = max(box.top - other.bottom, other.top - box.bottom, 0.0)
    return math.hypot(dx, dy)


def from_piece(at: XY, piece: tuple[XY, XY]) -> float:
    """How far a place is from a straight piece of a line, mm."""
    (x0, y0), (x1, y1) = piece
    square = (x1 - x0) ** 2 + (y1 - y0) ** 2
    along = ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / square if square else 0.0
    along = min(1.0, max(0.0, along))
    return math.dist(at, (x0 + along * (x1 - x0), y0 + along * (y1 - y0)))


def from_line(at: XY, points: Sequence[XY]) -> float:
    """How far a place is from a line, mm."""
    return min(from_piece(at, piece) for piece in pairwise(points))
