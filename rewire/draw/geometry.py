"""Plane geometry the stages share: clock angles, segments against boxes and segments."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from rewire.draw.scene import XY, Box

Segment = tuple[XY, XY]
_NEAR = 1e-6


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
