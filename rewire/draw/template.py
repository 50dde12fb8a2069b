"""The panel at true size: what is drilled for the new part, laid over what the old one left.

The new part is solid and heavy, the old one dashed and thin, centre lines are dash and dot.
All is seen from the front.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import cos, radians, sin

from rewire.compare.mounting import Mounting, Pointing
from rewire.draw.scene import (
    XY,
    Item,
    Line,
    Panel,
    hull,
    line_mm,
    middle_baseline,
    text_at,
    visible,
)
from rewire.records.mount import MeterMount, Mount, Size
from rewire.records.part import Part

Courses = Iterator[tuple[str, tuple[XY, ...]]]
"""What each line is of, and its points about the centre of the hole, y down."""
_NEW = Line((), width=0.5)
_OLD = Line((), width=0.25, dash="dashed")
_CENTRE = Line((), width=0.18, dash="dashdot")
_STEP = 2
"""Degrees from one corner of a circle to the next: 6 µm inside it at 80 mm across."""
_CROSS = 3.0
_BEYOND = 5.0
"""That centre lines stand out beyond what they are the centre of."""
_MARKS = {"old": (14.0, 18.0), "new": (19.0, 23.0)}
"""From where to where the marks of the positions go, mm from the shaft."""
_POINTS = 8.0
_RADIUS, _LEAST_APART, _LEAST_STEP = 10.0, 5.0, 10.0
"""Of the picture of the knob: radius and room for each number, mm; degrees between two."""


def template(old: Part, new: Part, mounting: Mounting) -> Panel | None:
    """Holes, studs, bezels, centre lines and the marks of the positions, a mm for a mm.

    None where nothing of the two that could be drawn is known.
    """
    lines = [
        replace(look, points=points, shows=f"{which}:{what}")
        for part, which, look in ((old, "old", _OLD), (new, "new", _NEW))
        for what, points in (*_outlines(part.mount), *_marks(mounting.pointing, which))
    ]
    if not lines:
        return None
    box = hull(line.box for line in lines).grown(_BEYOND)
    across, upright = ((box.left, 0.0), (box.right, 0.0)), ((0.0, box.top), (0.0, box.bottom))
    lines += (replace(_CENTRE, points=ends, shows="centre") for ends in (across, upright))
    key = _key(old.name, new.name, bool(mounting.pointing)).moved(box.right + 8.0, box.top)
    return _from_zero([*lines, *key.items])


def _outlines(mount: Mount | None) -> Courses:
    """What is cut and what covers it, as far as known."""
    if mount is not None and mount.panel_hole:
        yield "hole", _circle(mount.panel_hole / 2)
    if not isinstance(mount, MeterMount):
        return
    if mount.bezel:
        yield "bezel", _outline(mount.bezel)
    for x, y in mount.studs or ():
        if mount.stud:
            yield "stud", _circle(mount.stud.clearance / 2, (x, -y))
        yield "stud centre", ((x - _CROSS, -y), (x + _CROSS, -y))
        yield "stud centre", ((x, -y - _CROSS), (x, -y + _CROSS))


def _marks(pointing: Sequence[Pointing], which: str) -> Courses:
    """Where the legend is, or where the new knob points, at each position."""
    for one in pointing:
        angle = one.legend if which == "old" else one.knob
        near, far = _MARKS[which]
        yield f"mark {one.position}", (_at(angle, near), _at(angle, far))


def _at(degrees: float, radius: float) -> XY:
    """Clockwise from twelve, y down."""
    return radius * sin(radians(degrees)), -radius * cos(radians(degrees))


def _circle(radius: float, centre: XY = (0.0, 0.0)) -> tuple[XY, ...]:
    around = (_at(degrees, radius) for degrees in range(0, 361, _STEP))
    return tuple((centre[0] + x, centre[1] + y) for x, y in around)


def _outline(size: Size) -> tuple[XY, ...]:
    if len(size) == 1:
        return _circle(size[0] / 2)
    x, y = size[0] / 2, size[1] / 2
    return (-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)


def _key(old: str, new: str, marked: bool) -> Panel:
    """Which line is what."""
    rows = ((f"{new}, new", _NEW), (f"{old}, old", _OLD), ("centre lines", _CENTRE))
    items: list[Item] = []
    for number, (said, look) in enumerate(rows):
        y = (number + 0.5) * line_mm(_POINTS) * 1.2
        items.append(replace(look, points=((0.0, y), (12.0, y)), shows="key"))
        items.append(text_at(visible(said), 14.0, middle_baseline(y, _POINTS), _POINTS))
    marks = ("short lines: the legend, and outside it where the new knob points",) * marked
    for number, said in enumerate(("seen from the front", *marks), len(rows)):
        y = (number + 0.5) * line_mm(_POINTS) * 1.2
        items.append(text_at(said, 0.0, middle_baseline(y, _POINTS), _POINTS))
    return Panel(tuple(items), 60.0, y)


def _from_zero(items: Sequence[Item]) -> Panel:
    box = hull(item.box for item in items)
    moved = tuple(item.moved(-box.left, -box.top) for item in items)
    return Panel(moved, box.width, box.height)


def knob_picture(pointing: Sequence[Pointing]) -> Panel:
    """Where the new knob points, dashed, beside the numbered marks of the legend; in words too."""
    step = min(abs(a.legend - b.legend) for a, b in pairwise(pointing))
    outer = max(_RADIUS, _LEAST_APART / radians(max(step, _LEAST_STEP)) - 4.0)
    items: list[Item] = [Line(_circle(1.6), "knob", width=0.3)]
    for number, one in enumerate(pointing, 1):
        mark = (_at(one.legend, outer), _at(one.legend, outer + 2.0))
        items.append(Line(mark, f"mark {one.position}", width=0.5))
        points = (_at(one.knob, 1.6), _at(one.knob, outer - 0.6))
        items.append(Line(points, f"pointer {one.position}", width=0.25, dash="dashed"))
        x, y = _at(one.legend, outer + 4.2)
        items.append(text_at(str(number), x, middle_baseline(y, _POINTS), _POINTS, "centre"))
    left = max(item.box.right for item in items) + 3.0
    top = min(item.box.top for item in items)
    lines = (("Dashed: where the new knob points", True), *_said(pointing))
    for number, (said, bold) in enumerate(lines):
        y = middle_baseline(top + (number + 0.5) * line_mm(_POINTS), _POINTS)
        items.append(text_at(said, left, y, _POINTS, bold=bold))
    return _from_zero(items)


def _said(pointing: Sequence[Pointing]) -> Iterator[tuple[str, bool]]:
    for number, one in enumerate(pointing, 1):
        off = one.knob - one.legend
        way = "clockwise" if off > 0 else "anticlockwise"
        beside = f"{abs(off):.3g}° {way} of its mark" if abs(off) >= 0.05 else "at its mark"
        yield f"{number} {visible(one.position)}: {beside}", False
