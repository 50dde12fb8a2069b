"""Courses for wires: level and upright runs round everything that is in the way.

Wires run on the lines through all terminals and on an even raster between them: the orthogonal
connectors round obstacles of Wybrow, Marriott and Stuckey (Graph Drawing 2009). What a wire costs
to every node with no bend, one, two and so on is found a whole line at a time, as distances in
pictures are (Rosenfeld and Pfaltz, J. ACM 13, 1966), so the least of length, bends and crossings
is exact. Each wire keeps its lines to itself, so no two run along each other. Then every wire is
taken out and routed once more beside the others as they lie then (rip-up and reroute).
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise

import numpy as np
import numpy.typing as npt

from rewire.draw.courses import BEND, FEW, MANY_BENDS, straightened
from rewire.draw.scene import XY, Box

PITCH = 2.0
"""From one line of the raster to the next, and least distance of two wires, mm."""
CLEAR = 1.0
"""From the middle of a wire to what is in its way, mm."""
_CROSS = 28.0
"""What a crossing costs a wire that is routed, in mm of wire."""
_APART, _CORNER = 1.8, 1.3
"""Least distance of two wires that run side by side, and of a wire from another's corner, mm."""
_NEAR, _ON_LINE = 1e-6, 1e-3
_PRICE = 60.0
"""What a step where another wire runs costs whoever found no way beside it, mm."""
_DOOR, _AT_DOOR, _PUSHED = 6.0, 2.1, 6.0
"""What a step near a door costs, mm; how near that is; and what it costs where one was pushed."""
_MOST_PUSHED = 2
"""Times the number of wires: so often at most is one put out."""
_MOST_BENDS = 12
_ROUNDS = 2
"""So often is each wire taken out and routed again."""
UNIT = 100
"""Costs are counted in whole hundredths of a mm, so that sums are exact."""
WALL, _NEVER = 2 * 10**6, 5 * 10**8
"""What a step into a wall costs, and more than any course: together they fit 32 bits."""

Lines = npt.NDArray[np.float64]
Costs = npt.NDArray[np.int32]
Bools = npt.NDArray[np.bool_]
Node = tuple[int, int]
"""Number of its level line (from above), and of its upright line (from the left)."""


@dataclass(frozen=True, slots=True)
class Door:
    """A way out of a terminal: from its middle to the place where routing begins."""

    points: tuple[XY, ...]
    upright: bool | None = None
    """Whether its last piece is upright; None where it is neither upright nor level."""
    extra: float = 0.0
    """What using it costs, mm."""

    def moved(self, dx: float, dy: float) -> Door:
        """The door at another place."""
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class WireToRoute:
    """A wire that wants a course between two terminals."""

    shows: str
    doors: tuple[tuple[Door, ...], tuple[Door, ...]]


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
    """A wire's course: where it begins, bends and ends on the raster, mm, and its doors."""

    spots: tuple[XY, ...]
    doors: tuple[Door, Door]

    @property
    def points(self) -> tuple[XY, ...]:
        """From terminal to terminal."""
        first, last = self.doors
        return straightened((*first.points[:-1], *self.spots, *last.points[-2::-1]))


@dataclass(frozen=True, slots=True)
class Raster:
    """Lines for wires, what is in the way, and per node what runs there."""

    lines: tuple[list[float], list[float]]
    """y of the level lines, x of the upright ones, mm."""
    shut: Bools
    """Whether something is in the way."""
    runs: tuple[Costs, Costs]
    """How many wires run level, and upright, exactly there."""
    bars: tuple[Costs, Costs]
    """How many wires forbid a level, and an upright, run there."""
    turns: Costs
    """How many wires bend or end there."""
    dear: Costs
    """What a step there costs more: at the doors of wires, and where wires were pushed."""

    def node(self, at: XY) -> Node:
        """The node at a place on two of the lines."""
        (ys, xs), (x, y) = self.lines, at
        return bisect_left(ys, y - _ON_LINE), bisect_left(xs, x - _ON_LINE)

    def holds(self, at: XY) -> bool:
        """Whether a place lies on two of the lines; none does outside the room."""
        (ys, xs), (x, y), (j, i) = self.lines, at, self.node(at)
        return (
            j < len(ys) and i < len(xs)
            and abs(ys[j] - y) < _ON_LINE and abs(xs[i] - x) < _ON_LINE
        )  # fmt: skip

    def about(self, node: Node, far: float) -> tuple[slice, slice]:
        """The nodes nearer than this to a node, mm."""
        j, i = node
        return _within(self.lines[0], j, far), _within(self.lines[1], i, far)

    def inside(self, box: Box) -> tuple[slice, slice]:
        """The nodes within a box."""
        ys, xs = self.lines
        return (slice(bisect_left(ys, box.top), bisect_left(ys, box.bottom)),
                slice(bisect_left(xs, box.left), bisect_left(xs, box.right)))  # fmt: skip

    def spot(self, node: Node) -> XY:
        """Where a node is, mm."""
        return self.lines[1][node[1]], self.lines[0][node[0]]


def raster_of(
    room: Box, obstacles: Iterable[Box | Disc], doors: Iterable[Door],
    courses: Iterable[Course] = (),
) -> Raster:  # fmt: skip
    """Even lines in a room, one through each door and bend, and what lies there already."""
    ends, lying = {door.points[-1] for door in doors}, list(courses)
    spots = [*ends, *(spot for course in lying for spot in course.spots)]
    xs = _lines(room.left, room.right, [x for x, _ in spots])
    ys = _lines(room.top, room.bottom, [y for _, y in spots])
    shut = np.zeros((len(ys), len(xs)), dtype=bool)
    runs, low, high, turns, dear = np.zeros((5, *shut.shape), dtype=np.int32)
    raster = Raster((ys.tolist(), xs.tolist()), shut, (runs, runs.copy()), (low, high), turns, dear)
    for one in obstacles:
        if isinstance(one, Disc):
            far = (xs - one.centre[0]) ** 2 + ((ys - one.centre[1]) ** 2)[:, None]
            shut |= far < (one.radius - _NEAR) ** 2
        else:
            shut[raster.inside(one.grown(CLEAR - _NEAR))] = True
    for end in sorted(filter(raster.holds, ends)):
        node = raster.node(end)
        shut[node] = True
        dear[raster.about(node, _AT_DOOR)] += int(_DOOR * UNIT)
    for course in lying:
        _mark(raster, course, 1)
    return raster


def _lines(low: float, high: float, wanted: Sequence[float]) -> Lines:
    """The wanted lines, and even ones that do not crowd them."""
    exact = np.unique(np.round([at for at in wanted if low <= at <= high], 4))
    even = np.arange(math.ceil(low / PITCH), math.floor(high / PITCH) + 1) * PITCH
    if len(exact):
        even = even[np.abs(even[:, None] - exact).min(axis=1) >= 1.0]
    return np.union1d(exact, even)


def _within(lines: Sequence[float], at: int, far: float) -> slice:
    """Which lines are nearer than this to one of them."""
    middle = lines[at]
    return slice(bisect_right(lines, middle - far), bisect_left(lines, middle + far))


def routed(raster: Raster, wishes: Sequence[WireToRoute]) -> dict[str, Course]:
    """``shows`` → its course; a wire without any way is left out."""
    courses: dict[str, Course] = {}
    order = sorted(wishes, key=shortest)
    for wish in order:
        route(raster, wish, courses)
    _push_through(raster, order, courses)
    return rerouted(raster, wishes, courses)


def rerouted(
    raster: Raster, wishes: Sequence[WireToRoute], lying: Mapping[str, Course]
) -> dict[str, Course]:
    """The same wires, each taken out and routed again beside the others."""
    courses = dict(lying)
    order = sorted(wishes, key=shortest, reverse=True)
    for _ in range(_ROUNDS):
        before = dict(courses)
        for wish in order:
            old = courses.pop(wish.shows, None)
            if old is not None:
                _mark(raster, old, -1)
            route(raster, wish, courses, old)
        if courses == before:
            break
    return courses


def shortest(wish: WireToRoute) -> tuple[float, str]:
    """How long a wire is at least, mm, and its name: the order in which wires are routed."""
    return min(
        abs(a.points[-1][0] - b.points[-1][0]) + abs(a.points[-1][1] - b.points[-1][1])
        for a in wish.doors[0] for b in wish.doors[1]
    ), wish.shows  # fmt: skip


def route(
    raster: Raster, wish: WireToRoute, courses: dict[str, Course], old: Course | None = None,
    price: float = 0.0,
) -> bool:  # fmt: skip
    """Find a course for a wire and mark it; a price lets it run where others do."""
    starts, goals = (_free(raster, doors) for doors in wish.doors)
    found = _cheapest(raster, starts, goals, int(price * UNIT)) or old
    if found is None:
        return False
    courses[wish.shows] = found
    _mark(raster, found, 1)
    return True


def _push_through(raster: Raster, order: Sequence[WireToRoute], courses: dict[str, Course]) -> None:
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
        if route(raster, wish, courses):
            continue
        if not route(raster, wish, courses, price=_PRICE + number):
            continue
        mine = courses[wish.shows]
        pushed = [
            shows for shows, course in courses.items()
            if course is not mine and _hurt(raster, mine, course)
        ]  # fmt: skip
        for run in _runs(raster, mine):
            raster.dear[run[1:]] += int(_PUSHED * UNIT)
        for shows in pushed:
            _mark(raster, courses.pop(shows), -1)
            wanting.append(by_name[shows])
    for wish in wanting:
        route(raster, wish, courses)


# Marks on the raster ----------------------------------------------------------------------


def _runs(raster: Raster, course: Course) -> list[tuple[int, slice, slice]]:
    """Per straight run: whether it is upright, and its nodes."""
    return [
        (int(i == k), slice(min(j, m), max(j, m) + 1), slice(min(i, k), max(i, k) + 1))
        for (j, i), (m, k) in pairwise(map(raster.node, course.spots))
    ]


def _mark(raster: Raster, course: Course, by: int) -> None:
    """Take or give back the lines of a course."""
    for way, rows, columns in _runs(raster, course):
        raster.runs[way][rows, columns] += by
        if way:
            columns = _within(raster.lines[1], columns.start, _APART)
        else:
            rows = _within(raster.lines[0], rows.start, _APART)
        raster.bars[way][rows, columns] += by
    for node in map(raster.node, course.spots):
        raster.turns[node] += by
        about = raster.about(node, _CORNER)
        raster.bars[0][about] += by
        raster.bars[1][about] += by


def _hurt(raster: Raster, one: Course, other: Course) -> bool:
    """Whether two courses run along or touch each other."""
    alone = replace(
        raster, runs=(np.zeros_like(raster.turns), np.zeros_like(raster.turns)),
        bars=(np.zeros_like(raster.turns), np.zeros_like(raster.turns)),
        turns=np.zeros_like(raster.turns),
    )  # fmt: skip
    _mark(alone, one, 1)
    return any(
        alone.bars[way][rows, columns].any() or alone.turns[rows, columns].any()
        for way, rows, columns in _runs(raster, other)
    ) or any(
        (alone.runs[0] | alone.runs[1])[raster.about(node, _CORNER)].any()
        for node in map(raster.node, other.spots)
    )


# The cheapest course ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Lanes:
    """All lines of one way, along the first axis: what going there costs."""

    along: Costs
    back: Costs
    """Cost from the first node of a line on, going up; and the same going down."""
    into: Costs
    """What turning into the line costs at each node, but for the bend."""

    def swept(self, at: Costs) -> Costs:
        """The least cost at each node where one may begin anywhere on its line at a cost."""
        ahead = _least_so_far(at - self.along) + self.along
        behind = _least_so_far((at + self.back)[::-1])[::-1] - self.back
        return np.asarray(np.minimum(ahead, behind))

    def origin(self, at: Costs, node: Node) -> int:
        """The node of the line from which another is come to at least cost."""
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


def _lanes(raster: Raster, way: int, own: Sequence[Node], price: int) -> _Lanes:
    """The lines of one way, for a wire with these nodes at its ends."""
    crowded = (raster.bars[way] > 0) | (raster.turns > 0)
    taken = (raster.runs[0] > 0) | (raster.runs[1] > 0) | (raster.turns > 0)
    step = raster.dear + int(_CROSS * UNIT) * (raster.runs[1 - way] > 0)
    walls = WALL * raster.shut + (price or WALL) * crowded
    for node in own:
        walls[node] = 0
    step = step + walls
    into = (price or WALL) * (taken if price else taken | (raster.bars[way] > 0))
    if not way:
        step, into = step.T, into.T
    at = np.round(np.multiply(raster.lines[1 - way], UNIT)).astype(np.int32)[:, None]
    along = np.cumsum(step, axis=0, dtype=np.int32) + at
    return _Lanes(along, along - step, np.ascontiguousarray(into))


def _cheapest(
    raster: Raster, starts: Mapping[Node, Door], goals: Mapping[Node, Door], price: int
) -> Course | None:
    """The course of least length, bends and crossings beside all that lies already.

    With a price above 0 it may run where others do, and pays that for each step.
    """
    if not starts or not goals:
        return None
    lanes = [_lanes(raster, way, [*starts, *goals], price) for way in (0, 1)]
    layers: list[_Layer] = []
    total, finished = _NOWHERE
    for layer, least in _layers(lanes, starts):
        layers.append(layer)
        if least >= total:
            break
        total, finished = _ended(layers, goals, (total, finished))
    if not finished:
        return None
    nodes = _traced(lanes, layers, *finished)
    return Course(tuple(map(raster.spot, nodes)), (starts[nodes[0]], goals[nodes[-1]]))


def _layers(lanes: Sequence[_Lanes], starts: Mapping[Node, Door]) -> Iterator[tuple[_Layer, int]]:
    """With no bend, one, two and so on: all costs, and the least of those that went down."""
    begun = [np.full_like(lane.into, _NEVER) for lane in lanes]
    for node, door in starts.items():
        for way in (0, 1):
            begun[way][_turned(node, way)] = _at_door(door, way)
    swept = [lane.swept(at) for lane, at in zip(lanes, begun, strict=True)]
    yield (begun, swept), 0
    for bends in range(1, _MOST_BENDS + 1):
        bend = int((BEND if bends <= FEW else MANY_BENDS) * UNIT)
        reached = swept
        begun = [reached[1 - way].T + lanes[way].into + bend for way in (0, 1)]
        swept = [np.minimum(lanes[way].swept(begun[way]), reached[way]) for way in (0, 1)]
        least = min(
            int(swept[way][swept[way] < reached[way]].min(initial=_NEVER)) for way in (0, 1)
        )
        yield (begun, swept), least


def fields(raster: Raster, doors: Sequence[Door]) -> tuple[Costs, Costs] | None:
    """What a wire from one of these doors costs to each node, coming level, and coming upright."""
    starts = _free(raster, doors)
    if not starts:
        return None
    lanes = [_lanes(raster, way, list(starts), 0) for way in (0, 1)]
    swept: list[Costs] = []
    for (_, swept), _ in islice(_layers(lanes, starts), FEW + 1):  # noqa: B007
        pass
    return swept[0].T, swept[1]


def _free(raster: Raster, doors: Iterable[Door]) -> dict[Node, Door]:
    """The doors that no wire uses, and that do not lead out of the room."""
    inside = (door for door in doors if raster.holds(door.points[-1]))
    ends = ((raster.node(door.points[-1]), door) for door in inside)
    return {node: door for node, door in ends if not raster.turns[node]}


def _turned(node: Node, way: int) -> Node:
    """The node's place among lines of a way, which lie along the first axis."""
    return node if way else (node[1], node[0])


def _at_door(door: Door, way: int) -> int:
    """What a door costs whose wire is level or upright outside it."""
    return int((door.extra + (BEND if door.upright not in (None, bool(way)) else 0.0)) * UNIT)


_Layer = tuple[list[Costs], list[Costs]]
"""Of level and of upright lines: the cost of turning into the line at each node, and the least cost
of being there with so many bends."""
_Ended = tuple[int, tuple[Node, int, int] | tuple[()]]
"""The least cost of a course; its last node, whether it comes upright there, and its bends."""
_NOWHERE: _Ended = (WALL, ())


def _ended(layers: Sequence[_Layer], goals: Mapping[Node, Door], best: _Ended) -> _Ended:
    """The cheapest course to a goal with as many bends as there are layers, or the one so far."""
    for node, door in goals.items():
        for way in (0, 1):
            cost = int(layers[-1][1][way][_turned(node, way)]) + _at_door(door, way)
            if cost < best[0]:
                best = cost, (node, way, len(layers) - 1)
    return best


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
