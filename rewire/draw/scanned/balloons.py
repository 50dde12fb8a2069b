"""Balloons at both sides of a page, and leaders from them to their spots that do not cross.

Two leaders that cross are shorter in sum when they exchange their balloons, so exchanging
ends, and when it ends nothing crosses: the shortest plane matching of points is without
crossings (a classic exercise; for labels at a boundary see Bekos, Kaufmann, Symvonis and
Wolff, Computational Geometry 36, 2007).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.draw.scanned.ink import Ink
from rewire.draw.scene import XY, Box

STEP = 5.0
"""From one balloon to the next, mm."""
STRIP = 10.0
"""Room for balloons at each side, mm."""
_PASSES, _TRIALS, _SHIFT = 2, 16, 1.5
"""How often, how far and in which steps (mm) a balloon is tried elsewhere."""
_SPOT = 6.0
RADIUS = (2.9, 2.0)
"""Half of the width and of the height of a balloon, mm."""


@dataclass(frozen=True, slots=True)
class Balloon:
    """One note's balloon: its middle, where its leader leaves it, and the spot."""

    note: int
    middle: XY
    leaves: XY
    spot: XY


def most_notes(height: float) -> int:
    """How many balloons there is room for beside a page of that height, mm."""
    return 2 * max(1, int(height // STEP))


def balloons(spots: Sequence[XY], page: Box, bottom: float, ink: Ink) -> tuple[Balloon, ...]:
    """A balloon for each spot.

    Args:
        spots: on the page, mm; no more than ``most_notes(bottom - page.top)``.
        page: where the image stands.
        bottom: how far down balloons may stand, the page's lower edge or below it.
        ink: of the page; leaders that would run along a line of it are moved where there is room.
    """
    sides = _sides(spots, page, most_notes(bottom - page.top) // 2)
    anchors: list[tuple[XY, XY]] = [((0.0, 0.0), (0.0, 0.0))] * len(spots)
    for notes, edge, sign in zip(sides, (page.left, page.right), (-1.0, 1.0), strict=True):
        x = edge + sign * (STRIP - RADIUS[0])
        for note, y in zip(
            notes, _heights([spots[n][1] for n in notes], page, bottom), strict=True
        ):
            anchors[note] = ((x, y), (x - sign * RADIUS[0], y))
    order = _uncrossed(list(range(len(spots))), [leaves for _, leaves in anchors], spots)
    plain = [Balloon(n, *anchors[order[n]], spot) for n, spot in enumerate(spots)]
    return tuple(_off_the_ink(plain, page, bottom, ink))


def _off_the_ink(placed: list[Balloon], page: Box, bottom: float, ink: Ink) -> list[Balloon]:
    """Balloons moved up or down, one at a time, where their leaders then cover less of the page."""
    for _ in range(_PASSES):
        for number, balloon in enumerate(placed):
            others = placed[:number] + placed[number + 1 :]
            best = _cost(balloon, page, ink, others)
            for moved in _nearby(balloon, page.top, bottom):
                if all(_apart(moved, other) for other in others):
                    cost = _cost(moved, page, ink, others)
                    if cost < best - 0.2:
                        best, placed[number] = cost, moved
    return placed


def _nearby(balloon: Balloon, top: float, bottom: float) -> Iterator[Balloon]:
    for step in range(1, _TRIALS + 1):
        for sign in (-1, 1):
            dy = sign * step * _SHIFT
            if top + STEP / 2 <= balloon.middle[1] + dy <= bottom - STEP / 2:
                (x0, y0), (x1, y1) = balloon.middle, balloon.leaves
                yield replace(balloon, middle=(x0, y0 + dy), leaves=(x1, y1 + dy))


def _apart(one: Balloon, other: Balloon) -> bool:
    """Whether balloons keep their distance and leaders do not cross."""
    if one.middle[0] == other.middle[0] and abs(one.middle[1] - other.middle[1]) < STEP - 1e-6:
        return False
    return not _cross((one.leaves, one.spot), (other.leaves, other.spot))


def _cross(one: tuple[XY, XY], other: tuple[XY, XY]) -> bool:
    """Whether two segments have a point in common that is not their common spot."""
    if one[1] == other[1]:
        return False
    (a, b), (c, d) = one, other
    return _turn(a, b, c) * _turn(a, b, d) <= 0 and _turn(c, d, a) * _turn(c, d, b) <= 0


def _turn(a: XY, b: XY, c: XY) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _cost(balloon: Balloon, page: Box, ink: Ink, others: Sequence[Balloon]) -> float:
    """Ink covered and other spots passed closely, mm; and a little for length."""
    passed = sum(
        _SPOT for other in others
        if other.spot != balloon.spot and _near(other.spot, balloon.leaves, balloon.spot)
    )  # fmt: skip
    length = math.dist(balloon.leaves, balloon.spot)
    return ink.along(balloon.leaves, balloon.spot, page) + passed + 0.1 * length


def _near(point: XY, start: XY, end: XY) -> bool:
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = max(dx * dx + dy * dy, 1e-9)
    part = ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / square
    part = min(max(part, 0.0), 1.0)
    return math.dist(point, (start[0] + part * dx, start[1] + part * dy)) < 2.5


def _sides(spots: Sequence[XY], page: Box, most: int) -> tuple[list[int], list[int]]:
    """The notes of the left and of the right strip, each from the top down."""
    by_x = sorted(range(len(spots)), key=lambda n: (spots[n][0], spots[n][1], n))
    at_left = sum(spots[n][0] < page.centre[0] for n in by_x)
    count = min(max(at_left, len(spots) - most), most)
    sides = by_x[:count], by_x[count:]
    left, right = (sorted(side, key=lambda n: (spots[n][1], n)) for side in sides)
    return left, right


def _heights(wanted: Sequence[float], page: Box, bottom: float) -> list[float]:
    """Heights as near to the wanted ones as the distance between balloons allows.

    Notes that want the same place share the room about their mean.
    """
    blocks: list[tuple[float, int]] = []
    for number, height in enumerate(wanted):
        blocks.append((height - number * STEP, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (a, n), (b, m) = blocks[-2:]
            blocks[-2:] = [((a * n + b * m) / (n + m), n + m)]
    top = page.top + STEP / 2
    last = max(bottom - STEP / 2 - STEP * (len(wanted) - 1), top)
    bases = [min(max(base, top), last) for base, count in blocks for _ in range(count)]
    return [base + number * STEP for number, base in enumerate(bases)]


def _uncrossed(order: list[int], leaves: Sequence[XY], spots: Sequence[XY]) -> list[int]:
    """``order[note]`` is the anchor it takes; anchors are exchanged until none cross."""
    changed = True
    while changed:
        changed = False
        for one in range(len(order)):
            for other in range(one + 1, len(order)):
                a, b = leaves[order[one]], leaves[order[other]]
                now = math.dist(a, spots[one]) + math.dist(b, spots[other])
                then = math.dist(b, spots[one]) + math.dist(a, spots[other])
                if then < now - 1e-9:
                    order[one], order[other] = order[other], order[one]
                    changed = True
    return order
