"""Courses of wires measured: their lengths, bends and crossings, and what these cost."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from rewire.draw.scene import XY

BEND = 8.0
"""What a bend costs, in mm of wire."""
FEW, MANY_BENDS = 3, 16.0
"""Bends that a draughtsman allows a wire, and what each one more costs, in mm of wire."""
_CROSSED = 90.0
"""What a crossing costs the picture, in mm of wire."""
_NEAR = 1e-6


def straightened(points: Sequence[XY]) -> tuple[XY, ...]:
    """The course without points at which it goes straight on."""
    kept: list[XY] = []
    for point in points:
        if kept and math.dist(kept[-1], point) < _NEAR:
            continue
        if len(kept) > 1 and _straight(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _straight(a: XY, b: XY, c: XY) -> bool:
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    ahead = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return abs(cross) < _NEAR and ahead > 0


def badness(courses: Mapping[str, Sequence[XY]]) -> dict[str, float]:
    """``shows`` → what bends and crossings of each course cost, in mm of wire."""
    cost = {shows: _bends_cost(len(points) - 2) for shows, points in courses.items()}
    pieces = [
        (n, min(piece), max(piece)) for n, points in courses.items() for piece in pairwise(points)
    ]
    level = [(n, a, b) for n, a, b in pieces if abs(a[1] - b[1]) < _NEAR]
    upright = [(n, a, b) for n, a, b in pieces if abs(a[0] - b[0]) < _NEAR]
    for n, a, b in level:
        for m, c, d in upright:
            if n != m and a[0] < c[0] < b[0] and c[1] < a[1] < d[1]:
                cost[n] += _CROSSED / 2
                cost[m] += _CROSSED / 2
    return cost


def _bends_cost(bends: int) -> float:
    return BEND * bends + (MANY_BENDS - BEND) * max(0, bends - FEW)


def length_of(points: Sequence[XY]) -> float:
    """Of a course, mm."""
    return sum(math.dist(*piece) for piece in pairwise(points))
