"""Balloons at both sides of a page, and leaders from them to their spots that do not cross.

Two leaders that cross are shorter in sum when they exchange their balloons, so exchanging
ends, and when it ends nothing crosses: the shortest plane matching of points is without
crossings (a classic exercise; for labels at a boundary see Bekos, Kaufmann, Symvonis and
Wolff, Computational Geometry 36, 2007).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rewire.draw.scene import XY, Box

STEP = 5.0
"""From one balloon to the next, mm."""
STRIP = 10.0
"""Room for balloons at each side, mm."""
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


def balloons(spots: Sequence[XY], page: Box, bottom: float) -> tuple[Balloon, ...]:
    """A balloon for each spot.

    Args:
        spots: on the page, mm; no more than ``most_notes(bottom - page.top)``.
        page: where the image stands.
        bottom: how far down balloons may stand, the page's lower edge or below it.
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
    return tuple(Balloon(note, *anchors[order[note]], spots[note]) for note in range(len(spots)))


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
