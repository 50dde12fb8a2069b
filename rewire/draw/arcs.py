"""Jumpers within a wafer: each on a track of its own between the rings, short ones outside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import permutations, product

from rewire.draw.lugs import Wafer
from rewire.draw.scene import XY

_MOST_TRACKS = 6
_APART = 9.0
"""Least angle between two jumpers that share a track, degrees."""


@dataclass(frozen=True, slots=True)
class Arc:
    """A jumper's course: the shorter way round, clockwise from ``start``."""

    shows: str
    start: str
    end: str
    at: float
    """Clock angle of ``start``."""
    span: float
    track: int = 0

    def covers(self, other: Arc) -> bool:
        """Whether the two come too near each other to share a track."""
        ahead, back = (other.at - self.at) % 360, (self.at - other.at) % 360
        return ahead <= self.span + _APART or back <= other.span + _APART


def plan_arcs(wafer: Wafer, jumpers: Mapping[str, tuple[str, str]]) -> list[Arc]:
    """Arcs of the jumpers that find a track; each is given by its two lugs."""
    angle = dict(wafer.outer + wafer.inner)
    wished = (_arc(shows, ends, angle) for shows, ends in jumpers.items() if len({*ends}) == 2)
    arcs: list[Arc] = []
    for arc in sorted(wished, key=lambda one: one.span):
        taken = {other.track for other in arcs if other.covers(arc)}
        free = next((track for track in range(_MOST_TRACKS) if track not in taken), None)
        if free is not None:
            arcs.append(replace(arc, track=free))
    return _least_crossing(wafer, arcs)


def _arc(shows: str, ends: tuple[str, str], angle: Mapping[str, float]) -> Arc:
    first, second = ends
    span = (angle[second] - angle[first]) % 360
    if span > 180:
        first, second, span = second, first, 360 - span
    return Arc(shows, first, second, angle[first], span)


def _least_crossing(wafer: Wafer, arcs: list[Arc]) -> list[Arc]:
    """The tracks in the order in which the fewest legs cross an arc."""
    inner, angle = {lug for lug, _ in wafer.inner}, dict(wafer.outer + wafer.inner)
    over = [
        (own.track, other.track, lug in inner)
        for own, other in product(arcs, arcs) if own.track != other.track
        for lug in (own.start, own.end) if 0 < (angle[lug] - other.at) % 360 < other.span
    ]  # fmt: skip

    def crossings(order: tuple[int, ...]) -> int:
        return sum((order[own] < order[other]) == is_inner for own, other, is_inner in over)

    best = min(permutations(range(tracks_of(arcs))), key=crossings)
    return [replace(a, track=best[a.track]) for a in arcs]


def tracks_of(arcs: Iterable[Arc]) -> int:
    """How many tracks some arcs take."""
    return max((a.track + 1 for a in arcs), default=0)


def on_clock(degrees: float, radius: float) -> XY:
    """Point at a clock angle (0 is twelve o'clock, clockwise on paper, y down), mm."""
    angle = math.radians(degrees)
    return (radius * math.sin(angle), -radius * math.cos(angle))


def round_the_clock(start: float, end: float, radius: float, step: float = 3.0) -> tuple[XY, ...]:
    """Points along a circle from one clock angle to another, ``end`` taken as is."""
    count = max(1, math.ceil(abs(end - start) / step))
    return tuple(on_clock(start + (end - start) * n / count, radius) for n in range(count + 1))
