"""Routing on a wafer: leaders along the radius, jumpers on concentric tracks inside the ring."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from rewire.draw.geometry import arc, on_clock
from rewire.draw.lugview.arrange import Wafer
from rewire.draw.lugview.landings import Jumper, thickness
from rewire.draw.lugview.place_wafer import Placed, Rings, Spot
from rewire.draw.scene import XY, Line

MOST_TRACKS = 6
_APART = 9.0
"""Least angle between two jumpers that share a track, degrees."""
_SLOT = 1.3
"""Between two jumpers that leave an outer lug side by side, mm."""


@dataclass(frozen=True, slots=True)
class Arc:
    """A jumper's course: the shorter way round, clockwise from ``start``."""

    jumper: Jumper
    start: str
    end: str
    at: float
    """Clock angle of ``start``."""
    span: float
    track: int

    def covers(self, other: Arc) -> bool:
        """Whether the two come too near each other to share a track."""
        return (
            (other.at - self.at) % 360 <= self.span + _APART
            or (self.at - other.at) % 360 <= other.span + _APART
        )  # fmt: skip


def plan_arcs(wafer: Wafer, jumpers: Sequence[Jumper]) -> tuple[list[Arc], list[Jumper]]:
    """Tracks for the jumpers, short ones outside; and the jumpers that found none."""
    angle = dict(wafer.outer + wafer.inner)
    arcs: list[Arc] = []
    without: list[Jumper] = []
    for wished in sorted((_arc(j, angle) for j in jumpers), key=lambda a: a.span):
        taken = {a.track for a in arcs if a.covers(wished)}
        free = next((t for t in range(MOST_TRACKS) if t not in taken), None)
        if free is None or wished.start == wished.end:
            without.append(wished.jumper)
        else:
            arcs.append(replace(wished, track=free))
    return _least_crossing(wafer, arcs), without


def _least_crossing(wafer: Wafer, arcs: list[Arc]) -> list[Arc]:
    """The tracks in the order in which the fewest legs cross an arc."""
    count = max((a.track + 1 for a in arcs), default=0)
    inner = {lug for lug, _ in wafer.inner}
    angle = dict(wafer.outer + wafer.inner)
    legs = [(a, lug in inner, angle[lug]) for a in arcs for lug in (a.start, a.end)]
    over = [
        (own.track, other.track, is_inner)
        for own, is_inner, at in legs
        for other in arcs
        if other.track != own.track and 0 < (at - other.at) % 360 < other.span
    ]

    def crossings(order: tuple[int, ...]) -> int:
        return sum((order[own] < order[other]) == is_inner for own, other, is_inner in over)

    best = min(permutations(range(count)), key=crossings)
    return [replace(a, track=best[a.track]) for a in arcs]


def _arc(jumper: Jumper, angle: Mapping[str, float]) -> Arc:
    first, second = jumper.ends
    span = (angle[second] - angle[first]) % 360
    if span > 180:
        first, second, span = second, first, 360 - span
    return Arc(jumper, first, second, angle[first], span, 0)


def leader(placed: Placed, rings: Rings, net: str | None) -> Line:
    """From the lug along the radius, then level or slanting to the fork."""
    stem = placed.stem
    far = on_clock(placed.spot.angle, 1.0)
    until = [t for t in (_ratio(stem, far[1]), _ratio(rings.bend, abs(far[0]))) if t > 0]
    length = min(until)
    bend = on_clock(placed.spot.angle, length)
    points = (placed.spot.centre, bend, (placed.side * rings.fork, stem))
    lug = placed.spot.lug
    joins = (f"lug:{lug}",)
    return Line(_without_repeats(points), f"leader:{lug}", net, joins, placed.block.leader_width)


def _ratio(length: float, unit: float) -> float:
    return length / unit if abs(unit) > 1e-9 else 0.0


def _without_repeats(points: Sequence[XY]) -> tuple[XY, ...]:
    kept = [points[0]]
    for point in points[1:]:
        if abs(point[0] - kept[-1][0]) + abs(point[1] - kept[-1][1]) > 1e-6:
            kept.append(point)
    return tuple(kept)


def jumper_line(course: Arc, rings: Rings, arcs: Sequence[Arc], net: str | None) -> Line:
    """Along the radius to the track, round, and along the radius to the other lug."""
    spots = {s.lug: s for s in rings.spots}
    start, end = spots[course.start], spots[course.end]
    radius = rings.tracks[course.track]
    first = course.at + _aside(start, course, arcs)
    last = course.at + course.span + _aside(end, course, arcs)
    points = (
        on_clock(first, start.radius),
        *arc(first, last, radius),
        on_clock(last, end.radius),
    )
    joins = (f"lug:{course.start}", f"lug:{course.end}")
    return Line(points, course.jumper.shows, net, joins, width=thickness(course.jumper))


def _aside(spot: Spot, course: Arc, arcs: Sequence[Arc]) -> float:
    """Degrees beside the lug's own radius, so that its jumpers lie side by side.

    Jumpers that turn clockwise leave on the clockwise side, the deepest in the
    middle; more than three share, which is seen by a dot. Inner lugs have one way out.
    """
    if spot.inner:
        return 0.0
    turning = sorted(
        (a for a in arcs if spot.lug in (a.start, a.end)),
        key=lambda a: (a.start == spot.lug, a.track if a.start != spot.lug else -a.track),
    )
    slots = min(len(turning), 3)
    slot = turning.index(course) * slots // len(turning)
    offset = (slot - (slots - 1) / 2) * _SLOT
    return offset / spot.radius * 57.29578
