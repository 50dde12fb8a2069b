"""What is routed and what comes of it: doors, courses, and what bends and crossings cost."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rewire.draw.scene import XY

BEND = 8.0
"""What a bend costs, in mm of wire."""
FEW, MANY_BENDS = 3, 16.0
"""Bends that a draughtsman allows a wire, and what each one more costs, in mm of wire."""
_CROSSED = 90.0
"""What a crossing costs the picture, in mm of wire."""
_NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class Door:
    """A way out of a terminal: from its middle to the place where routing begins."""

    points: tuple[XY, ...]
    upright: bool | None = None
    """Whether its last piece is upright; None where it is neither upright nor level."""
    extra: float = 0.0
    """What using it costs, mm."""

    @property
    def end(self) -> XY:
        """Where routing begins."""
        return self.points[-1]

    def moved(self, dx: float, dy: float) -> Door:
        """The door at another place."""
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class WireToRoute:
    """A wire that wants a course between two terminals."""

    shows: str
    doors: tuple[Sequence[Door], Sequence[Door]]


@dataclass(frozen=True, slots=True)
class Disc:
    """A round thing that is in the way, mm."""

    centre: XY
    radius: float

    def moved(self, dx: float, dy: float) -> Disc:
        """The disc at another place."""
        return Disc((self.centre[0] + dx, self.centre[1] + dy), self.radius)


@dataclass(frozen=True, slots=True)
class Course:
    """A wire's course: where it begins, bends and ends on its tracks, mm, and its doors."""

    spots: tuple[XY, ...]
    doors: tuple[Door, Door]

    @property
    def points(self) -> tuple[XY, ...]:
        """From terminal to terminal."""
        first, last = self.doors
        return straightened((*first.points[:-1], *self.spots, *last.points[-2::-1]))


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
    cost = {shows: BEND * (bends := len(points) - 2) + (MANY_BENDS - BEND) * max(0, bends - FEW)
            for shows, points in courses.items()}  # fmt: skip
    for pair in crossings(courses):
        for shows in pair:
            cost[shows] += _CROSSED / 2
    return cost


def crossings(courses: Mapping[str, Sequence[XY]]) -> Iterator[tuple[str, str]]:
    """Pairs of courses, once for each place where a level run crosses an upright one."""
    pieces = [
        (n, min(piece), max(piece)) for n, points in courses.items() for piece in pairwise(points)
    ]
    level = [(n, a, b) for n, a, b in pieces if abs(a[1] - b[1]) < _NEAR]
    upright = [(n, a, b) for n, a, b in pieces if abs(a[0] - b[0]) < _NEAR]
    for n, a, b in level:
        for m, c, d in upright:
            if n != m and a[0] < c[0] < b[0] and c[1] < a[1] < d[1]:
                yield n, m


def length_of(points: Sequence[XY]) -> float:
    """Of a course, mm."""
    return sum(math.dist(*piece) for piece in pairwise(points))
