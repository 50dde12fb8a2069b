"""Where each part and point stands beside the switches, and how its wires run.

One after another, the large ones with many leads first, each is put where its wires are cheapest:
from the other end of each wire the router says what one to every node would cost, beside all that
lies already. Then, again and again, one of those whose wires cross or bend often is taken away with
up to three others and their wires, and all are put back so; the better picture stays (ruin and
recreate: Schrimpf et al., J. Comput. Phys. 159, 2000). The order of trials is always the same.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rewire.draw.courses import Course, Disc, Door, WireToRoute, badness, length_of
from rewire.draw.leads import Lead
from rewire.draw.pen import Block
from rewire.draw.routing import (
    CLEAR,
    UNIT,
    WALL,
    Costs,
    Lines,
    Tracks,
    fields,
    rerouted,
    route,
    routed,
    shortest,
    tracks_of,
)
from rewire.draw.scene import XY, Box, around, hull

_BETWEEN = 4.0
"""From one thing to the next at least, mm."""
_TRIALS, _TAKEN = 2, (1, 2, 2, 3, 4)
"""So often for each thing are some taken away and put back; how many at once, by chance."""
_GOOD = 16.0
"""A thing stays whose wires bend and cross for no more than this, mm."""
_LOW, _ROUND, _ROOM = 30.0, 5.0, 12.0
"""What a millimetre more than the frame is high costs; room for wires over and under everything,
and for things that do not fit, mm."""
_MISSING, _RIM, _SHORT, _BEHIND, _BESIDE = 500.0, 0.3, 150.0, 24.0, 8.0
"""What a wire without a course, a millimetre from the rim, a wire too short for its number, one
that leaves the wrong way, and a door between two lines cost, in mm of wire."""
_OUT = 4.0
"""So far outside a door is looked which way the wire goes, mm."""
_FIXED = 200.0
"""How many mm² larger a lead to a lug makes a thing that waits for its place."""
_ON_LINE = 0.05
_AT_DOORS = 24.0
"""About what the doors of a short wire make it cost more than its length, mm."""


@dataclass(frozen=True, slots=True)
class Board:
    """What does not move, mm."""

    frame: Box
    """Where things stand; where it is too low, also above and below it."""
    decks: tuple[Box, ...]
    shut: tuple[Box | Disc, ...]
    """Where no other thing may stand, and where no wire may run."""
    leads: Mapping[str, Lead]
    least: Mapping[str, float]
    """``shows`` of a lead → how long it must be for its number."""
    doors: Mapping[str, tuple[Door, ...]]
    """Terminal of a switch → its ways out."""

    def to_rim(self, x: float) -> float:
        """How far a place is from the nearer side of the frame."""
        return min(x - self.frame.left, self.frame.right - x)


class Placed(NamedTuple):
    """What stands where, and the courses of all wires between them."""

    blocks: dict[int, Block]
    """Number of a thing → how and where it stands."""
    courses: dict[str, Course]


def placed(board: Board, things: Sequence[Sequence[Block]]) -> Placed:
    """Things one after another where their wires are cheapest; then every wire routed anew.

    Each thing is given as it may be drawn, about its own origin.
    """
    one = _routed(board, {})
    for n in _order(board, things):
        one = _put(board, things, one, n)
    return _routed(board, one.blocks)


def improved(board: Board, things: Sequence[Sequence[Block]], one: Placed, seed: int) -> Placed:
    """A better picture, where taking away and putting back finds one; ``seed`` of the trials."""
    least, chance = price(board, one), random.Random(seed)
    for _ in range(_TRIALS * len(things)):
        suspects = _suspects(board, one)
        if not suspects:
            break
        chosen = {suspects[min(int(chance.expovariate(0.7)), len(suspects) - 1)]: None}
        for _ in range(1, chance.choice(_TAKEN)):
            chosen[chance.randrange(len(things))] = None
        tried = _without(one, chosen)
        for n in chosen:
            tried = _put(board, things, tried, n)
        if price(board, tried) < least:
            one = _rerouted(board, tried)
            least = price(board, one)
    return one


def _order(board: Board, things: Sequence[Sequence[Block]]) -> list[int]:
    """First the large ones with many leads to lugs; last those without any lead."""

    def weight(n: int) -> float:
        block = things[n][0]
        others = (end for shows, _ in block.doors for end in board.leads[shows].ends)
        fixed = sum(end in board.doors for end in others)
        return block.box.width * block.box.height + _FIXED * fixed if block.doors else 0.0

    return sorted(range(len(things)), key=lambda n: -weight(n))


def _routed(board: Board, blocks: dict[int, Block]) -> Placed:
    """The picture with every wire routed anew."""
    doors = _doors(board, blocks.values())
    raster = _raster(board, blocks.values(), doors)
    return Placed(blocks, routed(raster, _wishes(doors, board.leads.values())))


def _rerouted(board: Board, one: Placed) -> Placed:
    """Every wire taken out and routed once more."""
    doors = _doors(board, one.blocks.values())
    raster = _raster(board, one.blocks.values(), doors, one.courses.values())
    return Placed(one.blocks, rerouted(raster, _wishes(doors, board.leads.values()), one.courses))


def _without(one: Placed, chosen: Collection[int]) -> Placed:
    """The picture without some things and their wires."""
    gone = {shows for n in chosen for shows, _ in one.blocks[n].doors}
    return Placed(
        {n: block for n, block in one.blocks.items() if n not in chosen},
        {shows: course for shows, course in one.courses.items() if shows not in gone},
    )


def _doors(board: Board, blocks: Iterable[Block]) -> dict[tuple[str, str], tuple[Door, ...]]:
    """(``shows`` of a lead, terminal) → the ways out there, of what stands."""
    found = {
        (lead.shows, end): board.doors[end]
        for lead in board.leads.values() for end in lead.ends if end in board.doors
    }  # fmt: skip
    for block in blocks:
        found |= {(shows, end.split(" ")[0]): ways for (shows, end), ways in block.doors.items()}
    return found


def _wishes(
    doors: Mapping[tuple[str, str], tuple[Door, ...]], leads: Iterable[Lead]
) -> list[WireToRoute]:
    """The leads that have doors at both ends."""
    return [
        WireToRoute(lead.shows, (doors[lead.shows, lead.ends[0]], doors[lead.shows, lead.ends[1]]))
        for lead in leads if all((lead.shows, end) in doors for end in lead.ends)
    ]  # fmt: skip


def _raster(
    board: Board, blocks: Iterable[Block], doors: Mapping[tuple[str, str], Sequence[Door]],
    courses: Collection[Course] = (), room: float = _ROOM,
) -> Tracks:  # fmt: skip
    """The raster with all that lies, and ``room`` over and under it, mm."""
    standing = list(blocks)
    spots = [around(spot, 0.0, 0.0) for course in courses for spot in course.spots]
    whole = hull([board.frame, *board.decks, *(block.box for block in standing), *spots])
    area = Box(board.frame.left, whole.top - room, board.frame.right, whole.bottom + room)
    obstacles = [*board.shut, *(solid for block in standing for solid in block.solid)]
    return tracks_of(area, obstacles, chain.from_iterable(doors.values()), courses)


def _bad(board: Board, one: Placed) -> dict[str, float]:
    """What is wrong with each wire that has a course: bends, crossings, no room for its number."""
    cost = badness({shows: course.points for shows, course in one.courses.items()})
    for shows, course in one.courses.items():
        cost[shows] += _SHORT * (length_of(course.spots) < board.least.get(shows, 0.0))
    return cost


def _suspects(board: Board, one: Placed) -> list[int]:
    """Things with bad or missing wires, or over or under the frame, by how bad that is."""
    bad = _bad(board, one)
    cost = {
        n: sum(bad.get(shows, _MISSING) for shows, _ in block.doors)
        + _LOW * max(0.0, board.frame.top - block.box.top, block.box.bottom - board.frame.bottom)
        for n, block in one.blocks.items()
    }
    return sorted((n for n, each in cost.items() if each > _GOOD), key=lambda n: (-cost[n], n))


def price(board: Board, one: Placed) -> float:
    """Of all wires, of too much height, and of how far things are from the rim, in mm of wire."""
    blocks = one.blocks.values()
    rims = (board.to_rim(block.rim) for block in blocks if block.rim is not None)
    bends = (around(spot, 2.0, 2.0) for course in one.courses.values() for spot in course.spots)
    whole = hull([*board.decks, *(block.box for block in blocks), *bends])
    tall = whole.height - board.frame.height
    lengths = sum(length_of(course.points) - _MISSING for course in one.courses.values())
    return lengths + sum(_bad(board, one).values()) + _RIM * sum(rims) + _LOW * max(0.0, tall)


def _put(board: Board, things: Sequence[Sequence[Block]], one: Placed, n: int) -> Placed:
    """The picture with one more thing, where its wires are cheapest."""
    own = {shows for shows, _ in things[n][0].doors}
    leads = [lead for lead in board.leads.values() if lead.shows in own]
    block = _best_place(board, things[n], one, leads)
    return _with_wires(board, {**one.blocks, n: block}, one.courses, leads)


def _best_place(board: Board, forms: Sequence[Block], one: Placed, leads: Sequence[Lead]) -> Block:
    """A thing in the form and at the place with the cheapest wires, over or under all at worst."""
    doors = _doors(board, one.blocks.values())
    room = 2 * _ROOM + min(form.box.height for form in forms)
    raster = _raster(board, one.blocks.values(), doors, one.courses.values(), room)
    costs = _costs(board, raster, leads, doors)
    free = _free(board, raster, one.blocks.values())
    found = [(form, *_origin(board, raster, costs, form, free, one)) for form in forms]
    form, _, at = min(found, key=lambda place: place[1])
    return form.moved(*at)


def _with_wires(
    board: Board, blocks: dict[int, Block], courses: Mapping[str, Course], leads: Sequence[Lead]
) -> Placed:
    """The picture with some leads routed beside those that lie."""
    doors, laid = _doors(board, blocks.values()), dict(courses)
    raster = _raster(board, blocks.values(), doors, courses.values())
    for wish in sorted(_wishes(doors, leads), key=shortest):
        route(raster, wish, laid)
    return Placed(blocks, laid)


# Where wires are cheapest -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Cost:
    """What a wire to each node costs, coming level and coming upright, at a door of one end."""

    at: tuple[Costs, Costs]
    least: int
    """A shorter wire has no room for its number."""


def _costs(
    board: Board, raster: Tracks, leads: Sequence[Lead],
    doors: Mapping[tuple[str, str], Sequence[Door]],
) -> dict[str, _Cost]:  # fmt: skip
    """``shows`` of each lead whose other end stands → its costs."""
    found = {}
    for lead in leads:
        ways = [doors[lead.shows, end] for end in lead.ends if (lead.shows, end) in doors]
        at = fields(raster, ways[0]) if len(ways) == 1 else None
        if at is not None:
            found[lead.shows] = _Cost(
                at,
                int((board.least[lead.shows] + _AT_DOORS) * UNIT)
                if lead.shows in board.least
                else 0,
            )
    return found


def _free(board: Board, raster: Tracks, blocks: Iterable[Block]) -> Costs:
    """For the number of nodes that are taken in any box: their sums from the upper left corner."""
    taken = (raster.runs[0] > 0) | (raster.runs[1] > 0) | (raster.dear > 0)
    for box in (*board.decks, *(block.box for block in blocks)):
        taken[raster.inside(box.grown(_BETWEEN - CLEAR))] = True
    return np.pad(taken.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))


def _origin(
    board: Board,
    raster: Tracks,
    costs: Mapping[str, _Cost],
    form: Block,
    free: Costs,
    one: Placed,
) -> tuple[int, XY]:
    """The origin at which the wires to a block cost least, with its first door on the raster."""
    (ys, xs), doors = map(np.array, raster.lines), list(form.doors.values())
    x0, y0 = doors[0][0].points[-1] if doors else (form.box.left, form.box.bottom)
    y, x = ys - y0, xs - x0
    total = np.where(_clear(board, raster, form, (y, x), free), 0, 2 * WALL)
    total = total + _outside(board, form, one, y)[:, None]
    for (shows, _), ways in form.doors.items():
        if shows in costs:
            total = total + _wire_cost(raster, costs[shows], ways, (y, x))
    if form.rim is not None:
        total = total + np.array([int(_RIM * UNIT * board.to_rim(form.rim + at)) for at in x])
    j, i = divmod(int(np.argmin(total)), len(x))
    return int(total[j, i]), (float(x[i]), float(y[j]))


def _outside(board: Board, form: Block, one: Placed, y: Lines) -> Costs:
    """What height the block adds to the picture; how far it is from the bottom without wires."""
    standing = [*board.decks, *(block.box for block in one.blocks.values())]
    whole = hull(standing or [form.box])
    low = np.maximum(y + form.box.bottom, whole.bottom)
    tall = low - np.minimum(y + form.box.top, whole.top)
    cost = _LOW * np.maximum(0.0, tall - max(whole.height, board.frame.height))
    if not form.doors:
        cost = cost + _RIM * np.abs(board.frame.bottom - form.box.bottom - y)
    return np.round(cost * UNIT).astype(np.int32)


def _clear(
    board: Board, raster: Tracks, form: Block, at: tuple[Lines, Lines], free: Costs
) -> npt.NDArray[np.bool_]:
    """At which origins the block is in the frame and over nothing."""
    (y, x), (ys, xs), box = at, map(np.array, raster.lines), form.box.grown(CLEAR)
    top, bottom = np.searchsorted(ys, y + box.top), np.searchsorted(ys, y + box.bottom)
    left, right = np.searchsorted(xs, x + box.left), np.searchsorted(xs, x + box.right)
    low, high = free[top], free[bottom]
    count = high[:, right] - high[:, left] - low[:, right] + low[:, left]
    in_x = (x + form.box.left >= board.frame.left) & (
        (x + form.box.right <= board.frame.right) | (form.box.width > board.frame.width)
    )
    in_y = (y + form.box.top >= ys[0] + _ROUND) & (y + form.box.bottom <= ys[-1] - _ROUND)
    return np.asarray((count == 0) & in_x & in_y[:, None])


def _wire_cost(raster: Tracks, cost: _Cost, ways: Sequence[Door], at: tuple[Lines, Lines]) -> Costs:
    """What a wire costs at each origin, at the best of the block's doors."""
    found = []
    for door in ways:
        (x0, y0), (x, y) = door.points[-2:]
        far = max(abs(x - x0), abs(y - y0)) or 1.0
        node, off = _nearest(raster, (at[0] + y, at[1] + x), bool(door.upright))
        beyond = (at[0] + y + (y - y0) / far * _OUT, at[1] + x + (x - x0) / far * _OUT)
        field = cost.at[bool(door.upright)]
        here, out = field[node], field[_nearest(raster, beyond, bool(door.upright))[0]]
        more = int(_BEHIND * UNIT) * (out >= here) + off + int(door.extra * UNIT)
        found.append(here + more + int(_SHORT * UNIT) * (here < cost.least))
    return np.asarray(np.minimum(np.minimum.reduce(found), int(_MISSING * UNIT)))


def _nearest(
    raster: Tracks, at: tuple[Lines, Lines], is_upright: bool
) -> tuple[tuple[npt.NDArray[np.intp], ...], Costs]:
    """The nodes nearest to some places, and what those cost that lie beside the door's own line."""
    lines = [np.array(one) for one in raster.lines]
    near = [np.searchsorted((one[1:] + one[:-1]) / 2, v) for one, v in zip(lines, at, strict=True)]
    across = int(is_upright)
    off = np.abs(lines[across][near[across]] - at[across]) > _ON_LINE
    price = int(_BESIDE * UNIT) * off
    return np.ix_(*near), price if is_upright else price[:, None]
