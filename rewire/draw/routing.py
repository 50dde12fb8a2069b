"""Courses for wires and for the nets of a circuit: level and upright runs round what is in the way.

Wires run on tracks: the lines through all terminals and an even raster between them, as the
orthogonal connectors of Wybrow, Marriott and Stuckey (Graph Drawing 2009). What a wire costs to
every node with no bend, one, two and so on is found a whole track at a time, as distances in
pictures are (Rosenfeld and Pfaltz, J. ACM 13, 1966), so the least of length, bends and crossings
is exact. A search looks about the terminals first: a course that leaves them by d is 2 d longer
than the distance at least, so what is found there for less is the best there is. Each wire keeps
its tracks to itself. Then wires that cross, bend or make a detour are taken out and routed again
beside the others (rip-up and reroute).
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise

import numpy as np
import numpy.typing as npt

from rewire.draw.courses import (
    BEND,
    FEW,
    MANY_BENDS,
    Course,
    Disc,
    Door,
    WireToRoute,
    badness,
    length_of,
)
from rewire.draw.scene import XY, Box, around, hull

PITCH = 2.0
"""From one track of the raster to the next, and least distance of two wires, mm."""
CLEAR = 1.0
"""From the middle of a wire to what is in its way, mm."""
_CROSS = 28.0
"""What a crossing costs a wire that is routed, in mm of wire."""
_APART, _CORNER = 1.8, 1.3
"""Least distance of two wires that run side by side, and of a wire from another's corner, mm."""
_NEAR, _ON_TRACK = 1e-6, 1e-3
_PRICE = 60.0
"""What a step where another wire runs costs whoever found no way beside it, mm."""
_DOOR, _AT_DOOR, _PUSHED = 6.0, 2.1, 6.0
"""What a step near a door costs, mm; how near that is; and what it costs where one was pushed."""
_MOST_PUSHED = 2
"""Times the number of wires: so often at most is one put out."""
_MOST_BENDS = 12
_ROUNDS = 2
"""So often is each wire that could be better taken out and routed again."""
_ABOUT = 20.0
"""So far about its terminals is a course looked for first, mm."""
UNIT = 100
"""Costs are counted in whole hundredths of a mm, so that sums are exact."""
WALL, _NEVER = 2 * 10**6, 5 * 10**8
"""What a step into a wall costs, and more than any course: together they fit 32 bits."""

Lines = npt.NDArray[np.float64]
Costs = npt.NDArray[np.int32]
Bools = npt.NDArray[np.bool_]
Node = tuple[int, int]
"""Number of its level track (from above), and of its upright track (from the left)."""


@dataclass(frozen=True, slots=True)
class Tracks:
    """Tracks for wires, what is in the way, and per node what runs there."""

    lines: tuple[list[float], list[float]]
    """y of the level tracks, x of the upright ones, mm."""
    shut: Bools
    """Whether something is in the way."""
    runs: Costs
    """How many wires run level, and upright, exactly there."""
    bars: Costs
    """How many wires forbid a level, and an upright, run there."""
    turns: Costs
    """How many wires bend or end there."""
    dear: Costs
    """What a step there costs more: at the doors of wires, and where wires were pushed."""

    def node(self, at: XY) -> Node:
        """The node at a place on two of the tracks."""
        (ys, xs), (x, y) = self.lines, at
        return bisect_left(ys, y - _ON_TRACK), bisect_left(xs, x - _ON_TRACK)

    def holds(self, at: XY) -> bool:
        """Whether a place lies on two of the tracks; none does outside the room."""
        (ys, xs), (x, y), (j, i) = self.lines, at, self.node(at)
        return (
            j < len(ys) and i < len(xs)
            and abs(ys[j] - y) < _ON_TRACK and abs(xs[i] - x) < _ON_TRACK
        )  # fmt: skip

    def near(self, node: Node, far: float) -> tuple[slice, slice]:
        """The nodes nearer than this to a node, mm."""
        return _within(self.lines[0], node[0], far), _within(self.lines[1], node[1], far)

    def inside(self, box: Box) -> tuple[slice, slice]:
        """The nodes within a box."""
        ys, xs = self.lines
        return (slice(bisect_left(ys, box.top), bisect_left(ys, box.bottom)),
                slice(bisect_left(xs, box.left), bisect_left(xs, box.right)))  # fmt: skip

    def copy(self) -> Tracks:
        """The same tracks, to be marked apart."""
        marks = (each.copy() for each in (self.runs, self.bars, self.turns, self.dear))
        return Tracks(self.lines, self.shut, *marks)

    def cut(self, box: Box) -> Tracks:
        """The tracks within a box, with what runs there."""
        rows, columns = self.inside(box)
        flat = (each[..., rows, columns] for each in (self.runs, self.bars, self.turns, self.dear))
        lines = self.lines[0][rows], self.lines[1][columns]
        return Tracks(lines, self.shut[rows, columns], *flat)


def tracks_of(
    room: Box, obstacles: Iterable[Box | Disc], doors: Iterable[Door],
    courses: Iterable[Course] = (),
) -> Tracks:  # fmt: skip
    """Even tracks in a room, one through each door and bend, and what lies there already."""
    ends, lying = {door.end for door in doors}, list(courses)
    spots = [*ends, *(spot for course in lying for spot in course.spots)]
    xs = _lines(room.left, room.right, [x for x, _ in spots])
    ys = _lines(room.top, room.bottom, [y for _, y in spots])
    shut = np.zeros((len(ys), len(xs)), dtype=bool)
    marks = np.zeros((6, *shut.shape), dtype=np.int32)
    tracks = Tracks((ys.tolist(), xs.tolist()), shut, marks[:2], marks[2:4], marks[4], marks[5])
    for one in obstacles:
        if isinstance(one, Disc):
            far = (xs - one.centre[0]) ** 2 + ((ys - one.centre[1]) ** 2)[:, None]
            shut |= far < (one.radius - _NEAR) ** 2
        else:
            shut[tracks.inside(one.grown(CLEAR - _NEAR))] = True
    for end in sorted(filter(tracks.holds, ends)):
        node = tracks.node(end)
        shut[node] = True
        tracks.dear[tracks.near(node, _AT_DOOR)] += int(_DOOR * UNIT)
    for course in lying:
        mark(tracks, course)
    return tracks


def _lines(low: float, high: float, wanted: Sequence[float]) -> Lines:
    """The wanted tracks, and even ones that do not crowd them."""
    exact = np.unique(np.round([at for at in wanted if low <= at <= high], 4))
    even = np.arange(math.ceil(low / PITCH), math.floor(high / PITCH) + 1) * PITCH
    if len(exact):
        even = even[np.abs(even[:, None] - exact).min(axis=1) >= PITCH / 2]
    return np.union1d(exact, even)


def _within(lines: Sequence[float], at: int, far: float) -> slice:
    """Which tracks are nearer than this to one of them."""
    middle = lines[at]
    return slice(bisect_right(lines, middle - far), bisect_left(lines, middle + far))


# Many wires -------------------------------------------------------------------------------


def routed(tracks: Tracks, wishes: Sequence[WireToRoute]) -> dict[str, Course]:
    """``shows`` → its course; a wire without any way is left out."""
    courses: dict[str, Course] = {}
    order = sorted(wishes, key=shortest)
    for wish in order:
        route(tracks, wish, courses)
    _push_through(tracks, order, courses)
    return rerouted(tracks, wishes, courses)


def rerouted(
    tracks: Tracks, wishes: Sequence[WireToRoute], lying: Mapping[str, Course]
) -> dict[str, Course]:
    """The same wires; each that crosses, bends twice or makes a detour is routed again."""
    courses = dict(lying)
    order = sorted(wishes, key=shortest, reverse=True)
    for _ in range(_ROUNDS):
        before = dict(courses)
        bad = badness({shows: course.points for shows, course in courses.items()})
        for wish in order:
            old = courses.get(wish.shows)
            if old is not None:
                if bad[wish.shows] <= BEND and length_of(old.spots) <= shortest(wish)[0] + _NEAR:
                    continue
                mark(tracks, courses.pop(wish.shows), -1)
            route(tracks, wish, courses, old)
        if courses == before:
            break
    return courses


def shortest(wish: WireToRoute) -> tuple[float, str]:
    """How long a wire is at least, mm, and its name: the order in which wires are routed."""
    return _distance(*wish.doors), wish.shows


def _distance(one: Iterable[Door], other: Sequence[Door]) -> float:
    """From the nearest of some doors to the nearest of others, mm."""
    return min(abs(a.end[0] - b.end[0]) + abs(a.end[1] - b.end[1]) for a in one for b in other)


def route(
    tracks: Tracks, wish: WireToRoute, courses: dict[str, Course], old: Course | None = None,
    price: float = 0.0,
) -> bool:  # fmt: skip
    """Find a course for a wire and mark it; a price lets it run where others do."""
    starts, goals = (_free(tracks, doors) for doors in wish.doors)
    found = course_between(tracks, starts, goals, price) or old
    if found is None:
        return False
    courses[wish.shows] = found
    mark(tracks, found)
    return True


def _push_through(tracks: Tracks, order: Sequence[WireToRoute], courses: dict[str, Course]) -> None:
    """Wires that found no way take it from others, which are routed again.

    Source: negotiated congestion (McMurchie and Ebeling, FPGA 1995), here with a price that
    rises each time a wire is put out.
    """
    wanting = [wish for wish in order if wish.shows not in courses]
    by_name = {wish.shows: wish for wish in order}
    for number in range(_MOST_PUSHED * len(order)):
        if not wanting:
            break
        wish = wanting.pop(0)
        if route(tracks, wish, courses):
            continue
        if not route(tracks, wish, courses, price=_PRICE + number):
            continue
        mine = courses[wish.shows]
        pushed = [shows for shows, course in courses.items()
                  if course is not mine and _hurt(tracks, mine, course)]  # fmt: skip
        for run in _runs(tracks, mine):
            tracks.dear[run[1:]] += int(_PUSHED * UNIT)
        for shows in pushed:
            mark(tracks, courses.pop(shows), -1)
            wanting.append(by_name[shows])
    for wish in wanting:
        route(tracks, wish, courses)


# Marks on the tracks ----------------------------------------------------------------------


def _runs(tracks: Tracks, course: Course) -> list[tuple[int, slice, slice]]:
    """Per straight run: whether it is upright, and its nodes."""
    return [
        (int(i == k), slice(min(j, m), max(j, m) + 1), slice(min(i, k), max(i, k) + 1))
        for (j, i), (m, k) in pairwise(map(tracks.node, course.spots))
    ]


def mark(tracks: Tracks, course: Course, by: int = 1) -> None:
    """Take the tracks of a course; with -1 give them back."""
    for way, rows, columns in _runs(tracks, course):
        tracks.runs[way, rows, columns] += by
        if way:
            columns = _within(tracks.lines[1], columns.start, _APART)
        else:
            rows = _within(tracks.lines[0], rows.start, _APART)
        tracks.bars[way, rows, columns] += by
    for node in map(tracks.node, course.spots):
        tracks.turns[node] += by
        tracks.bars[(slice(2), *tracks.near(node, _CORNER))] += by


def _hurt(tracks: Tracks, one: Course, other: Course) -> bool:
    """Whether two courses run along or touch each other."""
    runs, bars, turns = np.zeros_like(tracks.runs), np.zeros_like(tracks.bars), tracks.turns * 0
    alone = replace(tracks, runs=runs, bars=bars, turns=turns)
    mark(alone, one)
    return any(
        bars[way, rows, columns].any() or turns[rows, columns].any()
        for way, rows, columns in _runs(tracks, other)
    ) or any(
        runs[(slice(2), *tracks.near(node, _CORNER))].any()
        for node in map(tracks.node, other.spots)
    )


# The cheapest course ----------------------------------------------------------------------


def course_between(
    tracks: Tracks, starts: Sequence[Door], goals: Sequence[Door], price: float = 0.0
) -> Course | None:
    """The course of least length, bends and crossings beside all that lies already.

    With a price above 0 it may run where others do, and pays that for each step.
    """
    if not starts or not goals:
        return None
    box = hull(around(door.end, 0.0, 0.0) for door in (*starts, *goals))
    near = _cheapest(tracks.cut(box.grown(_ABOUT)), starts, goals, int(price * UNIT))
    far = (near[0] / UNIT - _distance(starts, goals)) / 2 - BEND if near else math.inf
    if near is None or far > _ABOUT:
        near = _cheapest(tracks.cut(box.grown(far)), starts, goals, int(price * UNIT))
    return near and near[1]


def _free(tracks: Tracks, doors: Iterable[Door]) -> list[Door]:
    """The doors that no wire uses, and that do not lead out of the room."""
    inside = (door for door in doors if tracks.holds(door.end))
    return [door for door in inside if not tracks.turns[tracks.node(door.end)]]


@dataclass(frozen=True, slots=True)
class _Lanes:
    """All tracks of one way, along the first axis: what going there costs."""

    along: Costs
    back: Costs
    """Cost from the first node of a track on, going up; and the same going down."""
    into: Costs
    """What turning into the track costs at each node, but for the bend."""

    def swept(self, at: Costs) -> Costs:
        """The least cost at each node where one may begin anywhere on its track at a cost."""
        ahead = _least_so_far(at - self.along) + self.along
        behind = _least_so_far((at + self.back)[::-1])[::-1] - self.back
        return np.asarray(np.minimum(ahead, behind))

    def from_node(self, j: int, i: int) -> Costs:
        """The cost from a node of a track to each of its nodes."""
        ahead = self.along[j:, i] - self.along[j, i]
        return np.concatenate([self.back[j, i] - self.back[:j, i], ahead])

    def origin(self, at: Costs, node: Node) -> int:
        """The node of the track from which another is come to at least cost."""
        j, i = node
        ahead = at[: j + 1, i] - self.along[: j + 1, i] + self.along[j, i]
        behind = at[j:, i] + self.back[j:, i] - self.back[j, i]
        first, last = int(np.argmin(ahead)), int(np.argmin(behind))
        return first if ahead[first] < behind[last] else j + last


def _least_so_far(at: Costs) -> Costs:
    """The running minimum along the first axis (Hillis and Steele, Commun. ACM 29, 1986)."""
    step = 1
    while step < len(at):
        nearer = at.copy()
        np.minimum(at[step:], at[:-step], out=nearer[step:])
        at, step = nearer, 2 * step
    return at


def _lanes(tracks: Tracks, own: Sequence[Node], price: int) -> list[_Lanes]:
    """The level and the upright tracks, for a wire with these nodes at its ends."""
    turns, runs, bars = tracks.turns > 0, tracks.runs > 0, tracks.bars > 0
    taken = runs[0] | runs[1] | turns
    found = []
    for way in (0, 1):
        walls = WALL * tracks.shut + (price or WALL) * (bars[way] | turns)
        for node in own:
            walls[node] = 0
        step = tracks.dear + int(_CROSS * UNIT) * runs[1 - way] + walls
        into = (price or WALL) * (taken if price else taken | bars[way])
        if not way:
            step, into = step.T, into.T
        at = np.round(np.multiply(tracks.lines[1 - way], UNIT)).astype(np.int32)[:, None]
        along = np.cumsum(step, axis=0, dtype=np.int32) + at
        found.append(_Lanes(along, along - step, np.ascontiguousarray(into)))
    return found


_Layer = tuple[list[Costs], list[Costs]]
"""Of level and of upright tracks: the cost of turning into the track at each node, and the least
cost of being there with so many bends."""


def _cheapest(
    tracks: Tracks, starts: Sequence[Door], goals: Sequence[Door], price: int
) -> tuple[int, Course] | None:
    """The course that costs least on these tracks, and its cost."""
    first, last = ({tracks.node(door.end): door for door in doors} for doors in (starts, goals))
    lanes = _lanes(tracks, [*first, *last], price)
    layers: list[_Layer] = []
    total, end = WALL, ((0, 0), 0, 0)
    ahead = _ahead(tracks, last)
    for layer in _layers(lanes, first):
        if layers and not _promising(layers[-1][1], layer[1], ahead, total):
            break
        layers.append(layer)
        for node, door in last.items():
            for way in (0, 1):
                cost = int(layer[1][way][_turned(node, way)]) + _at_door(door, way)
                if cost < total:
                    total, end = cost, (node, way, len(layers) - 1)
    if total >= WALL:
        return None
    nodes = _traced(lanes, layers, *end)
    ys, xs = tracks.lines
    return total, Course(
        tuple((xs[i], ys[j]) for j, i in nodes), (first[nodes[0]], last[nodes[-1]])
    )


def _ahead(tracks: Tracks, goals: Iterable[Node]) -> Costs:
    """How far each node is from the nearest goal at least."""
    ys, xs = (np.round(np.multiply(lines, UNIT)).astype(np.int32) for lines in tracks.lines)
    far = [np.abs(ys - ys[j])[:, None] + np.abs(xs - xs[i]) for j, i in goals]
    return np.asarray(np.minimum.reduce(far))


def _promising(before: Sequence[Costs], now: Sequence[Costs], ahead: Costs, total: int) -> bool:
    """Whether one more bend brings a wire anywhere from where it may come to a goal for less."""
    both = zip(now, before, (ahead.T, ahead), strict=True)
    return any(bool(((new < old) & (new + far < total)).any()) for new, old, far in both)


def _layers(lanes: Sequence[_Lanes], starts: Mapping[Node, Door]) -> Iterator[_Layer]:
    """All costs with no bend, with one at most, two and so on."""
    begun = [np.full_like(lane.into, _NEVER) for lane in lanes]
    swept = [at.copy() for at in begun]
    for node, door in starts.items():
        for way, lane in enumerate(lanes):
            (j, i), cost = _turned(node, way), _at_door(door, way)
            begun[way][j, i] = cost
            swept[way][:, i] = np.minimum(swept[way][:, i], cost + lane.from_node(j, i))
    yield begun, swept
    for bends in range(1, _MOST_BENDS + 1):
        bend = int((BEND if bends <= FEW else MANY_BENDS) * UNIT)
        reached = swept
        begun = [reached[1 - way].T + lanes[way].into + bend for way in (0, 1)]
        swept = [np.minimum(lanes[way].swept(begun[way]), reached[way]) for way in (0, 1)]
        yield begun, swept


def fields(tracks: Tracks, doors: Iterable[Door]) -> tuple[Costs, Costs] | None:
    """What a wire from one of these doors costs to each node, coming level, and coming upright."""
    starts = {tracks.node(door.end): door for door in _free(tracks, doors)}
    if not starts:
        return None
    layers = _layers(_lanes(tracks, list(starts), 0), starts)
    _, swept = next(islice(layers, FEW, None))
    return swept[0].T, swept[1]


def _turned(node: Node, way: int) -> Node:
    """The node's place among tracks of a way, which lie along the first axis."""
    return node if way else (node[1], node[0])


def _at_door(door: Door, way: int) -> int:
    """What a door costs whose wire is level or upright outside it."""
    return int((door.extra + (BEND if door.upright not in (None, bool(way)) else 0.0)) * UNIT)


def _traced(
    lanes: Sequence[_Lanes], layers: Sequence[_Layer], end: Node, way: int, bends: int
) -> tuple[Node, ...]:
    """Nodes of the course from its beginning, from bend to bend backwards."""
    nodes = [end]
    while True:
        at = _turned(nodes[-1], way)
        cost = layers[bends][1][way][at]
        while bends and layers[bends - 1][1][way][at] == cost:
            bends -= 1
        origin = lanes[way].origin(layers[bends][0][way], at)
        node = _turned((origin, at[1]), way)
        if node != nodes[-1]:
            nodes.append(node)
        if not bends:
            return tuple(nodes[::-1])
        way, bends = 1 - way, bends - 1
