"""Which side of the switch each part and point stands at, and how high.

Each thing begins at the side and height of the lugs it leads to (the barycentre of Sugiyama,
Tagawa and Toda, IEEE Trans. SMC 11, 1981). Then moves are tried that lower the sum of crossings,
bends and lengths: a thing further up or down, turned end for end, or with all that hangs on it to
the other side; at first some that raise it are taken too (simulated annealing: Kirkpatrick,
Gelatt and Vecchi, Science 220, 1983). The order of trials is always the same.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import networkx as nx

from rewire.draw.leads import Lead
from rewire.draw.off_switch import Block, Thing, block_of, moved
from rewire.draw.scene import XY, Box

_BETWEEN = 2.2
"""Between two blocks at least, mm: a wire's clearance on both sides."""
_LANE = 4.0
"""Room for wires between blocks that stand at one height, mm."""
_INNER_LANE = 4.0
"""Between the switch and what stands nearest to it, mm."""
_CROSSING, _FAR_SIDE, _OVERFLOW, _BEND, _THROUGH = 40.0, 80.0, 60.0, 5.0, 14.0
"""What a crossing, a way round the switch, a millimetre too low, a wire that is not level, and
a wire through a block cost, in mm of wire."""
_TORN = 100.0
"""What it costs that two things that are joined stand at different sides, mm."""
_TRIES = 130
"""Moves that are tried for each thing."""
_HOT, _COLD = 40.0, 0.8
_SPOTS = ((-1, False), (-1, True), (1, False), (1, True))

Rect = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Room:
    """The frame about the switches, mm."""

    box: Box
    inner: tuple[float, float]
    """Left and right lines between which only the switches stand."""
    spread: float = 0.0
    """Between two blocks more than the least, mm."""
    number: int = 0
    """Of the try: each takes its moves in an order of its own."""


@dataclass(frozen=True, slots=True)
class _Stand:
    """A thing at one side, turned one way: what the search needs to know of its block."""

    block: Block
    x: float
    box: Rect
    """Left, top, right, bottom; sideways where it stands, upright about its origin."""
    ends: tuple[tuple[int, int, float, float], ...]
    """Number of a lead, which of its ends, x where it stands, y about its origin."""
    wished: float
    """Height of the origin at which most of its leads run level."""


@dataclass(slots=True)
class _Search:
    room: Room
    stands: list[tuple[_Stand, ...]]
    """Per thing its four stands, in the order of ``_SPOTS``."""
    fixed: list[tuple[XY | None, XY | None]]
    """Per lead its ends on switches."""
    groups: list[frozenset[int]]
    """Per thing all things that hang together with it."""
    joined: list[list[int]]
    """Per thing those that it is joined to."""
    lies: list[bool]
    stacked: dict[tuple[Row, ...], dict[int, float]] = field(default_factory=dict)
    """Heights of the things at one side, by what stands there."""


Row = tuple[int, int]
"""A thing and the number of its stand in ``_SPOTS``."""
State = tuple[tuple[Row, ...], tuple[Row, ...]]
"""The things at the left and at the right, from the top down."""


def placed(
    room: Room, things: Sequence[Thing], leads: Sequence[Lead], lug_at: Mapping[str, XY]
) -> dict[str, Block]:
    """Every thing's block where it stands.

    Args:
        room: the frame; where it is too low, blocks stand below it.
        things: what stands beside the switches.
        leads: those between things and lugs, or between things.
        lug_at: terminal of a switch → where its wires come out.
    """
    if not things:
        return {}
    search = _search(room, things, leads, lug_at)
    state = _annealed(search, _start(search))
    things = _rows_in_order(search, state, things, leads)
    search = _search(room, things, leads, lug_at)
    state = _annealed(search, state, hot=4.0, tries=_TRIES // 4)
    ys = _heights(search, state)
    return {
        things[n].name: moved(search.stands[n][spot].block, search.stands[n][spot].x, ys[n])
        for n, spot in (*state[0], *state[1])
    }


# What the search knows --------------------------------------------------------------------


def _search(
    room: Room, things: Sequence[Thing], leads: Sequence[Lead], lug_at: Mapping[str, XY]
) -> _Search:
    number = {lead.shows: n for n, lead in enumerate(leads)}
    owner = {(lead.shows, end): n for n, thing in enumerate(things) for lead, end in thing.leads}
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(things)))
    for lead in leads:
        known = [owner[lead.shows, end] for end in lead.ends if (lead.shows, end) in owner]
        if len(set(known)) == 2:
            graph.add_edge(*known)
    groups = {n: frozenset(group) for group in nx.connected_components(graph) for n in group}
    pulls = _pulls(things, lug_at, graph)
    stands = [
        tuple(_stand(room, thing, spot, number, lug_at, pulls[n]) for spot in _SPOTS)
        for n, thing in enumerate(things)
    ]
    fixed = [(lug_at.get(lead.ends[0]), lug_at.get(lead.ends[1])) for lead in leads]
    lies, joined = [thing.lies for thing in things], [sorted(graph[n]) for n in range(len(things))]
    return _Search(room, stands, fixed, [groups[n] for n in range(len(things))], joined, lies)


def _pulls(things: Sequence[Thing], lug_at: Mapping[str, XY], graph: nx.Graph[int]) -> list[XY]:
    """Where each thing is drawn to: its lugs, and what it is joined to, until all is at rest."""
    own: list[list[XY]] = [
        [lug_at[end] for lead, _ in thing.leads for end in lead.ends if end in lug_at]
        for thing in things
    ]
    every = [at for spots in own for at in spots] or [(0.0, 0.0)]
    middle = (sum(x for x, _ in every) / len(every), sum(y for _, y in every) / len(every))
    at = [middle] * len(things)
    for _ in range(12):
        for n in range(len(things)):
            near = [*own[n], *own[n], *(at[m] for m in graph[n])]
            if near:
                at[n] = (sum(x for x, _ in near) / len(near), sum(y for _, y in near) / len(near))
    return at


def _stand(
    room: Room, thing: Thing, spot: tuple[int, bool], number: Mapping[str, int],
    lug_at: Mapping[str, XY], pull: XY,
) -> _Stand:  # fmt: skip
    block = block_of(thing, *spot)
    x = _column(room, thing, block, spot[0])
    ends: list[tuple[int, int, float, float]] = []
    level: list[float] = []
    for lead, own in thing.leads:
        door = block.doors.get((lead.shows, own))
        if door is None or lead.shows not in number:
            continue
        far = door.points[-1]
        which = 0 if lead.ends[0] == own else 1
        ends.append((number[lead.shows], which, far[0] + x, far[1]))
        other = lug_at.get(lead.ends[1 - which])
        if other is not None:
            level.append(other[1] - far[1])
    level.sort()
    wished = level[(len(level) - 1) // 2] if level else pull[1] - block.box.centre[1]
    box = block.box
    return _Stand(block, x, (box.left + x, box.top, box.right + x, box.bottom), tuple(ends), wished)


def _column(room: Room, thing: Thing, block: Block, side: int) -> float:
    """The x of a block's origin: at the rim, else as near the switch as its lane lets it."""
    left, right = room.inner
    if block.at_rim:
        return room.box.right - block.box.right if side > 0 else room.box.left - block.box.left
    reach = 14.0 if thing.what is not None and any(lead.said for lead, _ in thing.leads) else 6.0
    reach = max(reach, -block.box.left if side > 0 else block.box.right)
    return right + _INNER_LANE + reach if side > 0 else left - _INNER_LANE - reach


def _start(search: _Search) -> State:
    """Every group at the side of its lugs, the others where there is more room."""
    middle = sum(search.room.inner) / 2
    load = {0: 0.0, 2: 0.0}
    chosen: dict[int, int] = {}
    for group in sorted(set(search.groups), key=lambda g: (-len(g), min(g))):
        xs = [end[0] for n in group for lead, which, _, _ in search.stands[n][0].ends
              if (end := search.fixed[lead][1 - which]) is not None]  # fmt: skip
        lean = sum(x - middle for x in xs)
        side = (2 if lean > 0 else 0) if abs(lean) > 1.0 else min(load, key=lambda s: load[s])
        for n in group:
            chosen[n] = side
            box = search.stands[n][side].box
            load[side] += box[3] - box[1]
    order = sorted(chosen, key=lambda n: (search.stands[n][chosen[n]].wished, n))
    left, right = (tuple((n, chosen[n]) for n in order if chosen[n] == side) for side in (0, 2))
    return left, right


# The search -------------------------------------------------------------------------------


def _annealed(search: _Search, state: State, hot: float = _HOT, tries: int = _TRIES) -> State:
    count = len(state[0]) + len(state[1])
    chance = random.Random(1000 * search.room.number + count)
    now = least = _cost(search, state)
    best = state
    for number in range(tries * count):
        warmth = hot * (_COLD / hot) ** (number / (tries * count))
        tried = _changed(search, state, chance)
        if tried == state:
            continue
        cost = _cost(search, tried)
        if cost <= now or chance.random() < math.exp((now - cost) / warmth):
            state, now = tried, cost
            if cost < least:
                best, least = tried, cost
    return best


def _changed(search: _Search, state: State, chance: random.Random) -> State:
    """One move: a thing turned, put elsewhere, or beside what it is joined to; a group across."""
    sides = [list(state[0]), list(state[1])]
    side = int(chance.randrange(len(sides[0]) + len(sides[1])) >= len(sides[0]))
    own = sides[side]
    at = chance.randrange(len(own))
    n, spot = own[at]
    kind = chance.random()
    if kind < 0.12 and search.lies[n]:
        own[at] = (n, spot ^ 1)
    elif kind < 0.22:
        return _across(search.groups[n], state)
    elif kind < 0.45 and search.joined[n]:
        _to_mate(sides, side, at, chance.choice(search.joined[n]), chance.randrange(2))
    elif kind < 0.6:
        del own[at]
        other = sides[1 - side]
        other.insert(chance.randrange(len(other) + 1), (n, spot ^ 2))
    elif kind < 0.8 and at:
        own[at - 1], own[at] = own[at], own[at - 1]
    else:
        del own[at]
        own.insert(chance.randrange(len(own) + 1), (n, spot))
    return tuple(sides[0]), tuple(sides[1])


def _to_mate(sides: list[list[Row]], side: int, at: int, mate: int, below: int) -> None:
    """Move a thing next to another."""
    n, spot = sides[side].pop(at)
    for number, rows in enumerate(sides):
        for place, (other, _) in enumerate(rows):
            if other == mate:
                rows.insert(place + below, (n, 2 * number + (spot & 1)))
                return


def _across(group: frozenset[int], state: State) -> State:
    """A group of things at the other side, in the order in which they stand."""
    left, right = (
        (
            *(row for row in mine if row[0] not in group),
            *((n, spot ^ 2) for n, spot in theirs if n in group),
        )
        for mine, theirs in (state, state[::-1])
    )  # fmt: skip
    return left, right


def _heights(search: _Search, state: State) -> dict[int, float]:
    """The height of each block's origin: as wished, but below those above it, and in the room."""
    ys: dict[int, float] = {}
    for rows in state:
        found = search.stacked.get(rows)
        if found is None:
            own = [(n, search.stands[n][spot]) for n, spot in rows]
            found = _stack(own, search.room)
            search.stacked[rows] = found
        ys.update(found)
    return ys


def _stack(own: Sequence[tuple[int, _Stand]], room: Room) -> dict[int, float]:
    top, bottom, between = room.box.top, room.box.bottom, _BETWEEN + room.spread
    wished: list[float] = []
    above: list[list[int]] = []
    for number, (_, stand) in enumerate(own):
        left, high, right, _ = stand.box
        low, over = top - high, []
        for other in range(number):
            l2, _, r2, b2 = own[other][1].box
            if left < r2 + _LANE and l2 < right + _LANE:
                over.append(other)
                low = max(low, wished[other] + b2 + between - high)
        above.append(over)
        wished.append(max(low, stand.wished))
    for number in range(len(own) - 1, -1, -1):
        high, low = own[number][1].box[1], own[number][1].box[3]
        wished[number] = min(wished[number], bottom - low)
        for other in above[number]:
            limit = wished[number] + high - between - own[other][1].box[3]
            wished[other] = min(wished[other], limit)
    for number, (_, stand) in enumerate(own):
        high = stand.box[1]
        low = top - high
        for other in above[number]:
            low = max(low, wished[other] + own[other][1].box[3] + between - high)
        wished[number] = max(wished[number], low)
    return {n: y for (n, _), y in zip(own, wished, strict=True)}


def _cost(search: _Search, state: State) -> float:
    """Crossings, bends and lengths of straight lines, and what does not fit."""
    ys = _heights(search, state)
    ends: list[list[XY | None]] = [list(pair) for pair in search.fixed]
    cost, top, bottom = 0.0, search.room.box.top, search.room.box.bottom
    rects: list[Rect] = []
    for n, spot in (*state[0], *state[1]):
        stand, y = search.stands[n][spot], ys[n]
        for lead, which, x, dy in stand.ends:
            ends[lead][which] = (x, y + dy)
        left, high, right, low = stand.box
        cost += _OVERFLOW * max(0.0, y + low - bottom)
        rects.append((left + 2.5, y + high + 1.0, right - 2.5, y + low - 1.0))
    inner_left, inner_right = search.room.inner
    pairs: list[tuple[float, float, float, float]] = []
    for (one, other), fixed in zip(ends, search.fixed, strict=True):
        torn = fixed == (None, None)
        if one is None or other is None:
            continue
        (x0, y0), (x1, y1) = sorted((one, other))
        if x0 < inner_left + 1.0 and x1 > inner_right - 1.0:
            over = min(y0 + y1 - 2 * top, 2 * bottom - y0 - y1)
            cost += _FAR_SIDE + over + (x1 - x0) * 0.5 + (_TORN if torn else 0.0)
            continue
        rise = abs(y1 - y0)
        cost += (x1 - x0) * 0.5 + rise + (_BEND if rise > 0.1 else 0.0)
        pairs.append((x0, y0, x1, y1))
    return cost + _CROSSING * _crossings(pairs) + _THROUGH * _through(pairs, rects)


def _crossings(pairs: Sequence[tuple[float, float, float, float]]) -> int:
    count = 0
    for number, (ax, ay, bx, by) in enumerate(pairs):
        dx, dy = bx - ax, by - ay
        for cx, cy, ex, ey in pairs[:number]:
            if ex < ax or bx < cx:
                continue
            first = dx * (cy - ay) - dy * (cx - ax)
            second = dx * (ey - ay) - dy * (ex - ax)
            if first * second < 0:
                u, v = ex - cx, ey - cy
                if (u * (ay - cy) - v * (ax - cx)) * (u * (by - cy) - v * (bx - cx)) < 0:
                    count += 1
    return count


def _through(pairs: Sequence[tuple[float, float, float, float]], rects: Sequence[Rect]) -> int:
    """How often a straight line goes through a block, at the block's middle."""
    count = 0
    for x0, y0, x1, y1 in pairs:
        if x1 - x0 < 1.0:
            continue
        slope = (y1 - y0) / (x1 - x0)
        for left, top, right, bottom in rects:
            if x0 < left and right < x1 and top < y0 + slope * ((left + right) / 2 - x0) < bottom:
                count += 1
    return count


def _rows_in_order(
    search: _Search, state: State, things: Sequence[Thing], leads: Sequence[Lead]
) -> list[Thing]:
    """Leads of one terminal from the top down by where they go."""
    ys = _heights(search, state)
    number = {lead.shows: n for n, lead in enumerate(leads)}
    ends: list[list[float | None]] = [[e and e[1] for e in pair] for pair in search.fixed]
    for n, spot in (*state[0], *state[1]):
        for lead, which, _, dy in search.stands[n][spot].ends:
            ends[lead][which] = ys[n] + dy

    def far(lead: Lead, own: str) -> float:
        row = ends[number[lead.shows]] if lead.shows in number else [None, None]
        return row[1 if lead.ends[0] == own else 0] or 0.0

    def in_order(thing: Thing) -> Thing:
        terminals = list(dict.fromkeys(end for _, end in thing.leads))
        order = sorted(thing.leads, key=lambda one: (terminals.index(one[1]), far(*one)))
        return replace(thing, leads=tuple(order))

    return [in_order(thing) for thing in things]
