"""Symbols: what each kind is drawn of, at its place, mm.

The leads of a part come in at the middle of the top and leave at the middle of the bottom;
``-lying`` has them at left and right. Most parts are elements of schemdraw; the numbers of
IEC 60617 beside the others are from memory. ``-us`` is the same part after IEEE 315, where that
has another symbol for it: resistors as a zigzag (2.1), the fuse as a wave (9.1), numbers from
memory.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from types import ModuleType
from typing import Any, Literal

from rewire.draw.scene import XY, Box

Look = Literal["body", "ink", "stroke"]
Standard = Literal["iec", "us"]
"""Symbols after IEC 60617, or after IEEE 315."""
Shape = tuple[Look, tuple[XY, ...]]
"""``body``: closed and filled; ``ink``: filled in the colour of the line; ``stroke``: open."""

_ELEMENTS: Mapping[str, tuple[str, float, float]] = {
    "resistor": ("ResistorIEC", 0.0, 1.0),
    "rheostat": ("ResistorVarIEC", 1.0, 0.0),
    "resistor-us": ("ResistorIEEE", 0.0, 1.0),
    "rheostat-us": ("ResistorVarIEEE", 1.0, 0.0),
    "fuse-us": ("FuseIEEE", 0.0, 1.0),
    "lamp": ("Lamp2", 0.0, 1.0),
    "choke": ("Inductor", 0.0, 1.0),
    "capacitor": ("Capacitor", 0.38, 0.62),
    "diode": ("Diode", 0.1, 0.9),
    "diode-up": ("Diode", 0.9, 0.1),
    "current": ("SourceI", 0.0, 1.0),
    "current-up": ("SourceI", 1.0, 0.0),
}
"""Kind → schemdraw's element, and where along the leads it begins and ends."""


def _arc(start: float, end: float, middle: XY = (0.5, 0.5), radius: XY = (0.5, 0.5)) -> list[XY]:
    """Part of an ellipse; degrees clockwise from three o'clock."""
    count = max(2, round(abs(end - start) / 5))
    turns = (math.radians(start + (end - start) * n / count) for n in range(count + 1))
    return [(middle[0] + radius[0] * math.cos(t), middle[1] + radius[1] * math.sin(t))
            for t in turns]  # fmt: skip


_DISC: Shape = ("body", tuple(_arc(0, 355)))
_BODY: Shape = ("body", ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))
_LEAD: Shape = ("stroke", ((0.5, 0.0), (0.5, 1.0)))
_DRAWN: Mapping[str, tuple[Shape, ...]] = {
    "disc": (_DISC,),
    "joint": (_DISC,),
    "lug": (_DISC,),
    "contact": (_DISC,),
    "point": (_DISC,),
    "gang": (("stroke", ((0.5, 0.0), (0.5, 1.0))),),
    "strike": (("stroke", ((0.0, 0.5), (1.0, 0.5))),),
    "blade-level": (("stroke", ((0.0, 0.5), (1.0, 0.5))),),
    "blade-rising": (("stroke", ((0.0, 1.0), (1.0, 0.0))),),
    "blade-falling": (("stroke", ((0.0, 0.0), (1.0, 1.0))),),
    "pot": (  # 04-01-11, upright: ccw at the top, cw at the bottom, the wiper from the right
        ("body", ((0.31, 0.0), (0.69, 0.0), (0.69, 1.0), (0.31, 1.0))),
        ("stroke", ((0.69, 0.5), (1.0, 0.5))), ("ink", ((0.69, 0.5), (0.85, 0.42), (0.85, 0.58))),
    ),
    "clip": (("ink", ((0.0, 1.0), (0.5, 0.0), (1.0, 1.0))),),  # where a voltmeter's clip goes
    "clip-right": (("ink", ((0.0, 0.0), (1.0, 0.5), (0.0, 1.0))),),
    "relay-coil": (  # 07-15-01, its two leads at the sides
        ("body", ((0.25, 0.0), (0.75, 0.0), (0.75, 1.0), (0.25, 1.0))),
        ("stroke", ((0.0, 0.5), (0.25, 0.5))), ("stroke", ((0.75, 0.5), (1.0, 0.5))),
    ),
    "plug": (  # of a jack: sleeve, then tip
        ("ink", ((0.0, 0.1), (0.5, 0.1), (0.5, 0.9), (0.0, 0.9))),
        ("ink", ((0.6, 0.2), (0.85, 0.2), (1.0, 0.5), (0.85, 0.8), (0.6, 0.8))),
        ("stroke", ((0.5, 0.5), (0.6, 0.5))),
    ),
    "meter": (_DISC,),  # 08-01-01, indicating instrument; the letter stands inside
    "fuse": (_BODY, _LEAD),  # 07-21-01
    "voltage": (_DISC, _LEAD),  # 02-16-02, ideal voltage source
    "chassis": (  # 02-15-04
        ("stroke", ((0.5, 0.0), (0.5, 0.35))), ("stroke", ((0.14, 0.35), (1.0, 0.35))),
        *(("stroke", ((x, 0.35), (x - 0.14, 1.0))) for x in (0.14, 0.57, 1.0)),
    ),
    "rising": (("stroke", ((0.0, 1.0), (1.0, 0.0))),),
}  # fmt: skip


def kind_in(standard: Standard, kind: str) -> str:
    """The kind of symbol that a standard has for a kind of IEC 60617."""
    upright = kind.removesuffix("-lying")
    american = f"{upright}-us"
    if standard == "iec" or american not in (*_ELEMENTS, "pot-us"):
        return kind
    return american + kind[len(upright) :]


def shapes_of(kind: str, box: Box) -> Iterator[Shape]:
    """What a symbol of that kind is drawn of in that box."""
    upright = kind.removesuffix("-lying")
    if upright in _ELEMENTS or upright in _DRAWN or upright == "pot-us":
        shapes = _known(upright)
        for look, points in shapes:
            turned = points if kind == upright else [(y, 1.0 - x) for x, y in points]
            yield look, tuple((box.left + x * box.width, box.top + y * box.height)
                              for x, y in turned)  # fmt: skip
    else:
        yield "body", _outline(kind, box)


def _known(kind: str) -> tuple[Shape, ...]:
    """The shapes of a kind in a unit box."""
    if kind == "pot-us":  # 2.1.9, from memory: as the other, its track a zigzag
        track = ((look, tuple((0.31 + 0.38 * x, y) for x, y in points))
                 for look, points in _known("resistor-us"))  # fmt: skip
        return (*track, *_DRAWN["pot"][1:])
    return _element(*_ELEMENTS[kind]) if kind in _ELEMENTS else _DRAWN[kind]


def _outline(kind: str, box: Box) -> tuple[XY, ...]:
    """The outline of a lug, a frame, a swatch."""
    left, top, right, bottom = box.left, box.top, box.right, box.bottom
    middle = box.centre[1]
    if kind == "round":
        radius = box.height / 2
        ends = ((right - radius, -90.0), (left + radius, 90.0))
        return tuple(p for x, a in ends for p in _arc(a, a + 180, (x, middle), (radius, radius)))
    if kind != "chamfered":
        return ((left, top), (right, top), (right, bottom), (left, bottom))
    return (
        (left + 1.0, top), (right - 1.0, top), (right, top + 1.0), (right, bottom - 1.0),
        (right - 1.0, bottom), (left + 1.0, bottom), (left, bottom - 1.0), (left, top + 1.0),
    )  # fmt: skip


@cache
def _element(name: str, start: float, end: float) -> tuple[Shape, ...]:
    """An element in a unit box, its axis upright in the middle; leads fill what it leaves free."""
    drawn = [shape for s in getattr(_elements(), name)().segments for shape in _segment(s)]
    points = [point for _, shape in drawn for point in shape]
    long, wide = max(x for x, _ in points), 2 * max(abs(y) for _, y in points)
    leads: list[Shape] = [
        ("stroke", ((0.5, round(at)), (0.5, at))) for at in (start, end) if at not in (0.0, 1.0)
    ]
    return (*leads, *(
        (look, tuple((0.5 + y / wide, start + x / long * (end - start)) for x, y in shape))
        for look, shape in drawn
    ))  # fmt: skip


@cache
def _elements() -> ModuleType:
    """Schemdraw's elements without matplotlib, which is imported where it can be had.

    That takes half a second, and reads a settings file from the current folder, which may be a
    stranger's.
    """
    known = sys.modules.get("matplotlib")
    sys.modules["matplotlib"] = None  # type: ignore[assignment]
    try:
        from schemdraw import elements
    finally:
        del sys.modules["matplotlib"]
        if known:
            sys.modules["matplotlib"] = known
    return elements


def _segment(segment: Any) -> Iterator[Shape]:
    """A segment of schemdraw along its own axis."""
    kind = type(segment).__name__
    if kind == "SegmentCircle":
        round_ = (segment.radius, segment.radius)
        yield "body", tuple(_arc(0, 355, segment.center, round_))
    elif kind == "SegmentArc":
        size = (segment.width / 2, segment.height / 2)
        yield "stroke", tuple(_arc(segment.theta1, segment.theta2, segment.center, size))
    elif kind == "SegmentPoly":
        yield "body", tuple((x, y) for x, y in segment.verts)
    else:
        yield from _strokes([(x, y) for x, y in segment.path])
        if segment.arrow:
            yield _head(segment.path[-2], segment.path[-1], segment.arrowlength)


def _strokes(path: Sequence[XY]) -> Iterator[Shape]:
    """The pieces of a path, which are parted by points that are no number."""
    piece: list[XY] = []
    for point in (*path, (math.nan, math.nan)):
        if not math.isnan(point[0]):
            piece.append(point)
            continue
        if len(set(piece)) > 1:
            yield "body" if piece[0] == piece[-1] else "stroke", tuple(piece)
        piece = []


def _head(before: XY, tip: XY, length: float) -> Shape:
    dx, dy = tip[0] - before[0], tip[1] - before[1]
    far = math.hypot(dx, dy)
    dx, dy = dx / far * length, dy / far * length
    x, y = tip[0] - dx, tip[1] - dy
    return "ink", (tip, (x - 0.4 * dy, y + 0.4 * dx), (x + 0.4 * dy, y - 0.4 * dx))
