"""Placing a wafer: radii of its rings, angles of its lugs, heights of its labels. Pure geometry.

The middle of the wafer is the origin. Every leader leaves its lug along the
radius and runs on until it is level with its label or reaches the bend line;
from there it goes to its fork. Labels of the upper half are only ever pushed
up and those of the lower half down, in the order of the angles: so no two
leaders cross (each stays above the next one's whole course).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.geometry import enters, on_clock
from rewire.draw.lugview.arrange import Wafer
from rewire.draw.lugview.labels import Block
from rewire.draw.lugview.lugs import HEIGHT, Face
from rewire.draw.scene import XY, Box

TRACK = 3.0
"""From one jumper track to the next: room for a number in the line, mm."""
FAN = 7.0
"""From the bend line to the forks, mm."""
SHAFT = 3.0
"""Radius of the shaft's hole as drawn, mm."""
_CLEAR = 0.8
_BETWEEN_BLOCKS = 1.5
_LARGEST = 200.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A lug's place: clock angle and radius about the middle of the wafer."""

    lug: str
    angle: float
    radius: float
    inner: bool

    @property
    def centre(self) -> XY:
        """Middle of the lug, mm."""
        return on_clock(self.angle, self.radius)


@dataclass(frozen=True, slots=True)
class Rings:
    """A wafer's lugs with the radii of its jumper tracks and its edge."""

    spots: tuple[Spot, ...]
    tracks: tuple[float, ...]
    """Radii, outermost first."""
    edge: float
    """Nothing of the wafer lies further out, mm."""
    fork: float
    """Distance of the forks from the middle, mm."""

    @property
    def bend(self) -> float:
        """Distance of the bend lines from the middle, mm."""
        return self.edge + 1.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A block of labels at its height; ``top`` is relative to the wafer's middle."""

    block: Block
    spot: Spot
    side: int
    top: float

    @property
    def stem(self) -> float:
        """Height at which the leader arrives."""
        return self.top + self.block.stem


def rings_for(wafer: Wafer, faces: Mapping[str, Face], tracks: int, fork: float = 0.0) -> Rings:
    """The tightest rings on which no lug meets another or another's leader.

    ``fork`` is the least distance of the forks from the middle, mm.
    """
    reach = {lug: math.hypot(faces[lug].width, HEIGHT) / 2 for lug in wafer.lugs}
    inner = _spread(wafer.inner, faces, SHAFT + 2.0 + _most(reach, wafer.inner))
    hub = inner + _most(reach, wafer.inner) if wafer.inner else SHAFT + 2.0
    least = hub + 1.2 + tracks * TRACK + _most(reach, wafer.outer)
    radius = _spread(wafer.outer, faces, least)
    while wafer.outer and radius < _LARGEST and not _leaves(wafer, faces, inner, radius):
        radius += 0.5
    first = radius - _most(reach, wafer.outer) - TRACK / 2
    edge = (radius + _most(reach, wafer.outer) if wafer.outer else hub) + 0.8
    return Rings(
        _spots(wafer, radius, inner),
        tuple(first - n * TRACK for n in range(tracks)),
        edge,
        max(fork, edge + 1.0 + FAN),
    )


def _most(reach: Mapping[str, float], ring: Sequence[tuple[str, float]]) -> float:
    return max((reach[lug] for lug, _ in ring), default=0.0)


def _spots(wafer: Wafer, radius: float, inner: float) -> tuple[Spot, ...]:
    return (
        *(Spot(lug, at, radius, False) for lug, at in wafer.outer),
        *(Spot(lug, at, inner, True) for lug, at in wafer.inner),
    )


def _spread(ring: Sequence[tuple[str, float]], faces: Mapping[str, Face], radius: float) -> float:
    while radius < _LARGEST and _collide(ring, faces, radius):
        radius += 0.5
    return radius


def _collide(ring: Sequence[tuple[str, float]], faces: Mapping[str, Face], radius: float) -> bool:
    boxes = [faces[lug].box(on_clock(at, radius)).grown(_CLEAR / 2) for lug, at in ring]
    return any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[:n])


def _leaves(wafer: Wafer, faces: Mapping[str, Face], inner: float, radius: float) -> bool:
    """Whether every radius through a lug is clear of the other lugs on the way out."""
    spots = _spots(wafer, radius, inner)
    boxes = {s.lug: faces[s.lug].box(s.centre).grown(_CLEAR) for s in spots}
    return not any(
        enters((s.centre, on_clock(s.angle, 2 * radius)), box)
        for s in spots
        for lug, box in boxes.items()
        if lug != s.lug
    )


def boxes_of(rings: Rings, faces: Mapping[str, Face]) -> dict[str, Box]:
    """Where each lug stands."""
    return {s.lug: faces[s.lug].box(s.centre) for s in rings.spots}


def place_labels(
    rings: Rings, blocks: Mapping[str, Block], prefer: Mapping[str, int]
) -> list[Placed]:
    """A side and a height for each block, in an order without crossings.

    ``prefer`` may choose the side of a lug that stands at twelve or six o'clock.
    """
    spots = sorted((s for s in rings.spots if s.lug in blocks), key=lambda s: s.angle)
    right = [s for s in spots if 0 < s.angle < 180]
    left = [s for s in spots if 180 < s.angle < 360]
    for spot in (s for s in spots if s.angle in (0.0, 180.0)):
        lighter = 1 if _load(right, blocks) <= _load(left, blocks) else -1
        (right if prefer.get(spot.lug, lighter) > 0 else left).append(spot)
    return [*_one_side(right, blocks, rings, 1), *_one_side(left, blocks, rings, -1)]


def _load(spots: Sequence[Spot], blocks: Mapping[str, Block]) -> float:
    return sum(blocks[s.lug].height + _BETWEEN_BLOCKS for s in spots)


def _one_side(
    spots: Sequence[Spot], blocks: Mapping[str, Block], rings: Rings, side: int
) -> list[Placed]:
    def natural(spot: Spot) -> float:
        return on_clock(spot.angle, rings.edge)[1]

    def down(spot: Spot) -> float:
        return min(spot.angle, 360 - spot.angle)

    order = sorted(spots, key=down)
    upper = [s for s in reversed(order) if down(s) <= 90]
    placed: list[Placed] = []
    ceiling = math.inf
    for spot in upper:
        block = blocks[spot.lug]
        bottom = min(natural(spot) - block.stem + block.height, ceiling)
        placed.append(Placed(block, spot, side, bottom - block.height))
        ceiling = bottom - block.height - _BETWEEN_BLOCKS
    floor = placed[0].top + placed[0].block.height + _BETWEEN_BLOCKS if placed else -math.inf
    for spot in (s for s in order if down(s) > 90):
        block = blocks[spot.lug]
        top = max(natural(spot) - block.stem, floor)
        placed.append(Placed(block, spot, side, top))
        floor = top + block.height + _BETWEEN_BLOCKS
    return placed
