"""Plane geometry the stages share: clock angles, segments against boxes and segments."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from rewire.draw.scene import XY, Box, Item, Line, Symbol, around

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
