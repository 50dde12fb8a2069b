"""Where each part and point stands beside the switches.

Each thing begins where its leads are shortest, those with most leads to lugs first (the barycentre
of Sugiyama, Tagawa and Toda, IEEE Trans. SMC 11, 1981). Then, again and again, one or two are taken
away and put back at the best of all places on a raster, by crossings, bends, lengths and height
(ruin and recreate: Schrimpf et al., J. Comput. Phys. 159, 2000); at first a worse picture is kept
too (simulated annealing: Kirkpatrick, Gelatt and Vecchi, Science 220, 1983). The order of trials
is always the same.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rewire.draw.leads import Lead, tag_size
from rewire.draw.pen import Block
from rewire.draw.routing import Door
from rewire.draw.scene import XY, Box

_CROSSING, _BEND, _THROUGH, _LOW, _RIM = 45.0, 7.0, 30.0, 30.0, 0.3
"""What a crossing, a bend, something that a wire runs through, a millimetre more than the
room is high, and a millimetre from the rim cost, in mm of wire."""
_HOT, _COLD = 50.0, 1.0
_LEAST_ROUNDS, _MOST_ROUNDS, _TRIALS = 3, 24, 240
"""Rounds in which each thing is taken once, and about how many trials in all."""
_AT_DOOR = 2.6
_LOOKED_AT = 24
"""Places with the shortest wires whose crossings are counted."""
_STEP = 5.0
"""Of the raster, mm; the places that make a lead run straight are tried too."""
_SAMPLES = np.linspace(0.08, 0.92, 7)

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Room:
    """The frame about the switches, mm."""

    box: Box
    decks: tuple[Box, ...]
    """Where the switches stand."""
    between: float
    """Between two blocks at least, mm."""
    seed: int = 0
    """Of the order of trials."""


@dataclass(frozen=True, slots=True)
class _Variant:
    """A way to draw a thing, with what the search needs to know of it."""

    block: Block
    ends: tuple[tuple[int, int, Array], ...]
    """Number of a lead, which of its ends, and per door: x, y, and which way it points."""


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where a thing stands: which variant, and its origin."""

    variant: int
    at: XY


@dataclass(slots=True)
class _Search:
    room: Room
    variants: list[list[_Variant]]
    fixed: list[tuple[Array | None, Array | None]]
    """Per lead the doors of its ends on switches."""
    least: list[float]
    """Per lead how long it must be for its number, mm."""
    chance: random.Random
    spots: dict[int, _Spot] = field(default_factory=dict)
    ends: dict[tuple[int, int], Array] = field(default_factory=dict)
    """(lead, which end) → its doors, for all that stand."""


def placed(
    room: Room, things: Sequence[Sequence[Block]], leads: Sequence[Lead],
    lug_doors: Mapping[str, Sequence[Door]],
) -> list[Block]:  # fmt: skip
    """Every thing's block where it stands.

    Args:
        room: the frame; where it is too low, blocks stand below it.
        things: what stands beside the switches, each as it may be drawn.
        leads: those between things and lugs, or between things.
        lug_doors: terminal of a switch → its ways out.
    """
    number = {lead.shows: n for n, lead in enumerate(leads)}
    search = _Search(
        room, [[_variant(block, number, leads) for block in blocks] for blocks in things],
        [(_doors(lug_doors.get(a)), _doors(lug_doors.get(b)))
         for a, b in (lead.ends for lead in leads)],
        [tag_size(lead.said)[0] + 3.0 if lead.said else 0.0 for lead in leads],
        random.Random(1000 * room.seed + len(things)),
    )  # fmt: skip
    for lead, pair in enumerate(search.fixed):
        search.ends |= {(lead, which): at for which, at in enumerate(pair) if at is not None}
    for thing in _order(search):
        _put(search, thing)
    _improved(search)
    return [
        search.variants[n][search.spots[n].variant].block.moved(*search.spots[n].at)
        for n in range(len(things))
    ]


def _doors(ways: Sequence[Door] | None) -> Array | None:
    """Each door as x, y, the way it points, and what using it costs."""
    if not ways:
        return None
    rows = []
    for door in ways:
        (x0, y0), (x, y) = door.points[-2:]
        far = math.hypot(x - x0, y - y0) or 1.0
        rows.append((x, y, (x - x0) / far, (y - y0) / far, door.extra))
    return np.array(rows)


def _variant(block: Block, number: Mapping[str, int], leads: Sequence[Lead]) -> _Variant:
    ends = []
    for (shows, terminal), ways in block.doors.items():
        if shows in number:
            doors = _doors(ways)
            assert doors is not None
            which = 0 if leads[number[shows]].ends[0] in (terminal, terminal.split(" ")[0]) else 1
            ends.append((number[shows], which, doors))
    return _Variant(block, tuple(ends))


def _order(search: _Search) -> list[int]:
    """First the large ones with many leads to lugs."""

    def weight(n: int) -> tuple[float, int]:
        variant = search.variants[n][0]
        box = variant.block.box
        fixed = sum(search.fixed[lead][1 - which] is not None for lead, which, _ in variant.ends)
        return -(box.width * box.height) - 200.0 * fixed if variant.ends else 0.0, n

    return sorted(range(len(search.variants)), key=weight)


def _improved(search: _Search) -> None:
    """Take one or two away and put them back, until the time is over."""
    count = len(search.variants)
    chance = search.chance
    rounds = max(_LEAST_ROUNDS, min(_MOST_ROUNDS, _TRIALS // (count or 1)))
    now = least = _total(search)
    best = dict(search.spots)
    for step in range(rounds * count):
        warmth = (
            _HOT * (_COLD / _HOT) ** (step / (rounds * count))
            if step < (rounds - 2) * count
            else 0.0
        )
        chosen = (
            {step % count} if chance.random() < 0.5 else {step % count, chance.randrange(count)}
        )
        before = {n: search.spots[n] for n in chosen}
        for n in chosen:
            _take(search, n)
        for n in chance.sample(sorted(chosen), len(chosen)):
            _put(search, n)
        cost = _total(search)
        if cost > now and (warmth == 0.0 or chance.random() >= math.exp((now - cost) / warmth)):
            for n, spot in before.items():
                _take(search, n)
                _stand(search, n, spot)
            continue
        now = cost
        if cost < least:
            least, best = cost, dict(search.spots)
    for n, spot in best.items():
        _stand(search, n, spot)


def _take(search: _Search, thing: int) -> None:
    spot = search.spots.pop(thing)
    for lead, which, _ in search.variants[thing][spot.variant].ends:
        del search.ends[lead, which]


def _stand(search: _Search, thing: int, spot: _Spot) -> None:
    search.spots[thing] = spot
    for lead, which, doors in search.variants[thing][spot.variant].ends:
        search.ends[lead, which] = doors + np.array([*spot.at, 0.0, 0.0, 0.0])


# The cost of a place ----------------------------------------------------------------------


def _put(search: _Search, thing: int) -> None:
    """The thing at the best of all places, beside what stands already."""
    solid = _solid(search)
    lines = _lines(search)
    best: tuple[float, _Spot] | None = None
    for number, variant in enumerate(search.variants[thing]):
        at = _places(search, variant, solid)
        if not len(at):
            continue
        near, lanes = _lengths(search, variant, at)
        least = near + _outside(search, variant, at, solid)
        first = np.argsort(least, kind="stable")[:_LOOKED_AT]
        if best is not None and least[first[0]] >= best[0]:
            continue
        at = at[first]
        cost = least[first] + _crowded(search, variant, at)
        cost += _crossings(variant, at, [lane[first] for lane in lanes], solid, lines)
        n = int(np.argmin(cost))
        if best is None or cost[n] < best[0] - 1e-9:
            best = float(cost[n]), _Spot(number, (float(at[n, 0]), float(at[n, 1])))
    assert best is not None
    _stand(search, thing, best[1])


def _solid(search: _Search) -> Array:
    """Boxes of decks and of all that stands."""
    boxes = [*search.room.decks]
    for n, spot in search.spots.items():
        boxes.append(search.variants[n][spot.variant].block.box.moved(*spot.at))
    return np.array([(b.left, b.top, b.right, b.bottom) for b in boxes]).reshape(-1, 4)


def _extent(solid: Array) -> tuple[float, float]:
    """Upper and lower edge of all of them."""
    return float(solid[:, 1].min(initial=0.0)), float(solid[:, 3].max(initial=0.0))


def _lines(search: _Search) -> Array:
    """Straight lines of all leads with two ends, between their nearest doors."""
    pairs = [_nearest(search.ends[lead, 0], search.ends[lead, 1])
             for lead in range(len(search.fixed))
             if (lead, 0) in search.ends and (lead, 1) in search.ends]  # fmt: skip
    return np.array(pairs).reshape(-1, 4)


def _nearest(one: Array, other: Array) -> Array:
    far = np.abs(one[:, None, :2] - other[None, :, :2]).sum(axis=2)
    a, b = np.unravel_index(int(np.argmin(far)), far.shape)
    return np.concatenate([one[a, :2], other[b, :2]])


def _places(search: _Search, variant: _Variant, solid: Array) -> Array:
    """Origins at which the block is in the frame and clear of all else."""
    frame, box, gap = search.room.box, variant.block.box, search.room.between
    top, bottom = _extent(solid)
    high = min(frame.top, top - gap - box.height) - box.top - _STEP
    low = max(frame.bottom, bottom + gap + box.height) - box.bottom + _STEP
    left, right = frame.left - box.left, frame.right - box.right
    shift = search.chance.random() * _STEP
    high -= shift
    xs, ys = [left, *np.arange(left + shift, right, _STEP), right], [*np.arange(high, low, _STEP)]
    for lead, which, doors in variant.ends:
        other = search.ends.get((lead, 1 - which))
        if other is None:
            continue
        ys += [y for y in (other[:, None, 1] - doors[None, :, 1]).ravel() if high <= y <= low]
        if not doors[0, 2]:
            xs += [x for x in other[:, 0] - doors[0, 0] if left <= x <= right]
    wide, tall = np.unique(np.round(xs, 2)), np.unique(np.round(ys, 2))
    across = (wide + box.right + gap > solid[:, 0, None]) & (
        wide + box.left - gap < solid[:, 2, None]
    )
    along = (tall + box.bottom + gap > solid[:, 1, None]) & (
        tall + box.top - gap < solid[:, 3, None]
    )
    j, i = np.nonzero(along.T.astype(np.float32) @ across.astype(np.float32) < 0.5)
    return np.stack([wide[i], tall[j]], axis=1)


def _outside(search: _Search, variant: _Variant, at: Array, solid: Array) -> Array:
    """What height the block adds to the picture, and how far it is from the rim."""
    frame, box = search.room.box, variant.block.box
    top, bottom = _extent(solid)
    tall = np.maximum(bottom, at[:, 1] + box.bottom) - np.minimum(top, at[:, 1] + box.top)
    cost = _LOW * np.maximum(0.0, tall - max(frame.height, bottom - top))
    if not variant.ends:
        cost += _RIM * np.abs(frame.bottom - box.bottom - at[:, 1])
    if variant.block.rim is not None:
        rim = at[:, 0] + variant.block.rim
        cost += _RIM * np.minimum(rim - frame.left, frame.right - rim)
    return np.asarray(cost)


def _lengths(search: _Search, variant: _Variant, at: Array) -> tuple[Array, list[Array]]:
    """Lengths and bends of all wires to the block at each place, and the straight lines of each."""
    cost = np.zeros(len(at))
    lanes: list[Array] = []
    for lead, which, doors in variant.ends:
        other = search.ends.get((lead, 1 - which))
        if other is None:
            continue
        length = _length(at, doors, other).reshape(len(at), -1)
        best = length.argmin(axis=1)
        mine, far = np.divmod(best, len(other))
        cost += length[np.arange(len(at)), best]
        lane = np.concatenate([at + doors[mine, :2], other[far, :2]], axis=1)
        short = np.abs(lane[:, :2] - lane[:, 2:]).sum(axis=1) < search.least[lead]
        cost += _CROSSING * short
        lanes.append(lane)
    return cost, lanes


def _crowded(search: _Search, variant: _Variant, at: Array) -> Array:
    """What doors cost that open on the doors of other leads, which are then shut."""
    cost = np.zeros(len(at))
    for lead, _, doors in variant.ends:
        others = np.concatenate([
            np.empty((0, 5)), *(ends for (other, _), ends in search.ends.items() if other != lead)
        ])[:, :2]  # fmt: skip
        far = np.abs(at[:, None] + doors[0, :2] - others).max(axis=2)
        cost += _CROSSING * (far < _AT_DOOR).sum(axis=1)
    return cost


def _crossings(
    variant: _Variant, at: Array, lanes: Sequence[Array], solid: Array, lines: Array
) -> Array:
    """What crossings, and wires through what is in the way, cost at each place."""
    cost = _THROUGH * _under(at, variant.block.box, lines)
    for number, lane in enumerate(lanes):
        cost += _CROSSING * _crossed(lane, lines) + _THROUGH * _through(lane, solid)
        for earlier in lanes[:number]:
            cost += _CROSSING * _cross(lane, earlier)
    return np.asarray(cost)


def _length(at: Array, doors: Array, others: Array) -> Array:
    """Length and bends of a wire from each door of a block, at each place, to each other door."""
    x, y, right, down, extra = (doors[None, :, None, n] for n in range(5))
    far_x, far_y, far_right, far_down, more = (others[None, None, :, n] for n in range(5))
    dx = far_x - x - at[:, 0, None, None]
    dy = far_y - y - at[:, 1, None, None]
    behind = (dx * right + dy * down < -0.05) * 2.0 + (dx * far_right + dy * far_down > 0.05) * 2.0
    crosswise = np.abs(right * far_right + down * far_down) < 0.5
    aside = np.minimum(np.abs(dx), np.abs(dy))
    bends = (aside > 0.05) * np.where(crosswise, 1.0, 2.0) + 4.0 * ((aside > 0.05) & (aside < 2.5))
    return np.asarray(np.abs(dx) + np.abs(dy) + _BEND * (bends + behind) + extra + more)


def _cross(one: Array, two: Array) -> Array:
    """Which of the segments of two lists cross each other, pair by pair."""
    (ax, ay, bx, by), (cx, cy, ex, ey) = one.T, two.T
    first = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    second = (bx - ax) * (ey - ay) - (by - ay) * (ex - ax)
    third = (ex - cx) * (ay - cy) - (ey - cy) * (ax - cx)
    fourth = (ex - cx) * (by - cy) - (ey - cy) * (bx - cx)
    return np.asarray((first * second < -1e-6) & (third * fourth < -1e-6))


def _crossed(lane: Array, lines: Array) -> Array:
    """How many lines each of the segments crosses."""
    many, count = len(lane), len(lines)
    if not count:
        return np.zeros(many)
    pairs = _cross(np.repeat(lane, count, axis=0), np.tile(lines, (many, 1)))
    return np.asarray(pairs.reshape(many, count).sum(axis=1))


def _sampled(lane: Array) -> tuple[Array, Array]:
    x = lane[:, 0, None] + (lane[:, 2] - lane[:, 0])[:, None] * _SAMPLES
    y = lane[:, 1, None] + (lane[:, 3] - lane[:, 1])[:, None] * _SAMPLES
    return x, y


def _through(lane: Array, solid: Array) -> Array:
    """How many things that are in the way each segment runs through."""
    x, y = (one[:, :, None] for one in _sampled(lane))
    left, top, right, bottom = (solid + np.array([0.6, 0.6, -0.6, -0.6])).T
    inside = (x > left) & (x < right) & (y > top) & (y < bottom)
    return np.asarray(inside.any(axis=1).sum(axis=1))


def _under(at: Array, box: Box, lines: Array) -> Array:
    """How many lines run through a block at each of its places."""
    if not len(lines):
        return np.zeros(len(at))
    x, y = (one.ravel() for one in _sampled(lines))
    inside = (
        (x > at[:, :1] + box.left) & (x < at[:, :1] + box.right)
        & (y > at[:, 1:] + box.top) & (y < at[:, 1:] + box.bottom)
    )  # fmt: skip
    return np.asarray(inside.reshape(len(at), len(lines), -1).any(axis=2).sum(axis=1))


def _total(search: _Search) -> float:
    """The cost of the whole picture."""
    frame = search.room.box
    solid = _solid(search)
    top, bottom = _extent(solid)
    cost = _LOW * max(0.0, bottom - top - frame.height)
    for n, spot in search.spots.items():
        block = search.variants[n][spot.variant].block
        if block.rim is not None:
            rim = spot.at[0] + block.rim
            cost += _RIM * min(rim - frame.left, frame.right - rim)
    for lead in range(len(search.fixed)):
        one, other = search.ends.get((lead, 0)), search.ends.get((lead, 1))
        if one is not None and other is not None:
            cost += float(_length(np.zeros((1, 2)), one, other).min())
    lines = _lines(search)
    cost += _CROSSING * float(_crossed(lines, lines).sum()) / 2
    return cost + _THROUGH * float(_through(lines, solid).sum())
