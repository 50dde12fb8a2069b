"""Courses for wires: level and upright runs round everything that is in the way.

The least of length, bends and crossings is found by A* (Hart, Nilsson and Raphael, IEEE Trans.
SSC 4, 1968) over the lines through all terminals and an even raster: the orthogonal connectors
round obstacles of Wybrow, Marriott and Stuckey (Graph Drawing 2009). Each wire keeps its lines to
itself, so no two run along each other. Then every wire is taken out and routed once more beside
the others as they lie then (rip-up and reroute).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import heapify, heappop, heappush
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from rewire.draw.scene import XY, Box

PITCH = 2.0
"""From one line of the raster to the next, and least distance of two wires, mm."""
CLEAR = 1.0
"""From the middle of a wire to what is in its way, mm."""
_BEND, _CROSS, _AGAINST = 8.0, 18.0, 6.0
"""What a bend, a crossing, and a longer door cost, in mm of wire."""
_APART, _CORNER = 1.8, 1.3
"""Least distance of two wires that run side by side, and of a wire from another's corner, mm."""
_NEAR = 1e-6
_PRICE = 60.0
"""What a step where another wire runs costs whoever found no way beside it, mm."""
_DOOR, _AT_DOOR, _PUSHED = 6.0, 2.1, 6.0
"""What a step near a door costs, mm; how near that is; and what it costs where one was pushed."""
_MOST_PUSHED = 2
"""Times the number of wires: so often at most is one put out."""


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
    ends: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Disc:
    """A round thing that is in the way, mm."""

    centre: XY
    radius: float

    def moved(self, dx: float, dy: float) -> Disc:
        """The disc at another place."""
        return Disc((self.centre[0] + dx, self.centre[1] + dy), self.radius)


@dataclass(slots=True)
class Raster:
    """Lines for wires, what is in the way, and what runs where."""

    xs: list[float]
    ys: list[float]
    shut: list[bool]
    """Per node whether something is in the way; node ``i + j * len(xs)``."""
    level: list[int] = field(default_factory=list)
    upright: list[int] = field(default_factory=list)
    """Per node how many wires forbid a level (upright) run there."""
    runs: tuple[list[int], list[int]] = field(default_factory=lambda: ([], []))
    """Per node how many wires run level, and upright, exactly there."""
    turns: list[int] = field(default_factory=list)
    """Per node how many wires bend or end there."""
    dear: list[float] = field(default_factory=list)
    """Per node what a step there costs more: at the doors of wires, and where wires were pushed."""
    known: dict[int, tuple[tuple[int, float], ...]] = field(default_factory=dict)

    def steps(self, state: int) -> tuple[tuple[int, float], ...]:
        """Nodes next to a node on its level (way 0) or upright (1) line, and how far they are."""
        found = self.known.get(state)
        if found is None:
            wide = len(self.xs)
            j, i = divmod(state >> 1, wide)
            lines, at, step = (self.ys, j, wide) if state & 1 else (self.xs, i, 1)
            found = self.known[state] = tuple(
                ((state >> 1) + sign * step, abs(lines[at + sign] - lines[at]))
                for sign in (-1, 1) if 0 <= at + sign < len(lines)
            )  # fmt: skip
        return found


def raster_of(room: Box, through: Iterable[XY], obstacles: Iterable[Box | Disc]) -> Raster:
    """Lines in a room: even ones, and one through each of some places."""
    spots = list(through)
    xs = _lines(room.left, room.right, [x for x, _ in spots])
    ys = _lines(room.top, room.bottom, [y for _, y in spots])
    shut = np.zeros((len(ys), len(xs)), dtype=bool)
    wide, tall = np.array(xs), np.array(ys)
    for one in obstacles:
        shut |= _covered(one, wide, tall)
    count = len(xs) * len(ys)
    empty = [0] * count
    return Raster(
        xs,
        ys,
        shut.ravel().tolist(),
        empty[:],
        empty[:],
        (empty[:], empty[:]),
        empty[:],
        [0.0] * count,
    )


def _covered(
    one: Box | Disc, xs: npt.NDArray[np.float64], ys: npt.NDArray[np.float64]
) -> npt.NDArray[np.bool_]:
    if isinstance(one, Disc):
        far = (xs[None, :] - one.centre[0]) ** 2 + (ys[:, None] - one.centre[1]) ** 2
        return np.asarray(far < (one.radius - _NEAR) ** 2)
    box = one.grown(CLEAR - _NEAR)
    return np.logical_and(
        ((ys > box.top) & (ys < box.bottom))[:, None],
        ((xs > box.left) & (xs < box.right))[None, :],
    )


def _lines(low: float, high: float, wanted: Sequence[float]) -> list[float]:
    """The wanted lines, and even ones that do not crowd them."""
    exact = sorted({round(at, 4) for at in wanted if low <= at <= high})
    first = math.ceil(low / PITCH)
    even = (n * PITCH for n in range(first, math.floor(high / PITCH) + 1))
    kept = [at for at in even if all(abs(at - one) >= 1.0 for one in exact)]
    return sorted({*exact, *kept})


@dataclass(frozen=True, slots=True)
class Course:
    """A wire's course over nodes of the raster, and its doors."""

    nodes: tuple[int, ...]
    doors: tuple[Door, Door]
    runs: tuple[frozenset[int], frozenset[int]]
    """Nodes on which it runs level, and upright."""
    bars: tuple[frozenset[int], frozenset[int]]
    """Nodes on which no other wire may run level, or upright."""
    turns: frozenset[int]
    """Nodes at which it bends or ends."""

    def hurts(self, other: Course) -> bool:
        """Whether the two run along or touch each other."""
        return any(mine & theirs for mine, theirs in (
            *zip(self.runs, other.bars, strict=True), (self.turns, other.runs[0]),
            (self.turns, other.runs[1]), (other.turns, self.runs[0]), (other.turns, self.runs[1]),
        ))  # fmt: skip


def _course(raster: Raster, nodes: tuple[int, ...], doors: tuple[Door, Door]) -> Course:
    wide = len(raster.xs)
    runs, bars = (set[int](), set[int]()), (set[int](), set[int]())
    for here, there in pairwise(nodes):
        way = abs(here - there) >= wide
        runs[way].update((here, there))
    for way in (False, True):
        bars[way].update(beside for node in runs[way] for beside in _beside(raster, node, way))
    turns = frozenset(_bends(nodes, wide))
    for node in turns:
        close = list(_about(raster, node, _CORNER))
        bars[0].update(close)
        bars[1].update(close)
    return Course(
        nodes, doors, (frozenset(runs[0]), frozenset(runs[1])),
        (frozenset(bars[0]), frozenset(bars[1])), turns,
    )  # fmt: skip


def routed(raster: Raster, wishes: Sequence[WireToRoute]) -> dict[str, tuple[XY, ...]]:
    """``shows`` → the points of its course; a wire without any way is left out."""
    courses: dict[str, Course] = {}
    for wish in wishes:
        for door in (*wish.doors[0], *wish.doors[1]):
            _make_dear(raster, _about(raster, _node(raster, door.points[-1]), _AT_DOOR), _DOOR)
    order = sorted(wishes, key=lambda wish: (_least(wish), wish.shows))
    for wish in order:
        _route(raster, wish, courses)
    _push_through(raster, order, courses)
    for wish in order[::-1]:
        old = courses.pop(wish.shows, None)
        if old is not None:
            _mark(raster, old, -1)
            _route(raster, wish, courses, old)
    return {shows: _points(raster, course) for shows, course in courses.items()}


def _route(
    raster: Raster, wish: WireToRoute, courses: dict[str, Course], old: Course | None = None,
    price: float = 0.0,
) -> bool:  # fmt: skip
    """Find a course for a wire and mark it; a price lets it run where others do."""
    taken = {door for course in courses.values() for door in course.doors}
    first, second = ([d for d in doors if d not in taken] for doors in wish.doors)
    found = _search(raster, first, second, price) or old
    if found is None:
        return False
    courses[wish.shows] = found
    _mark(raster, found, 1)
    return True


def _make_dear(raster: Raster, nodes: Iterable[int], by: float) -> None:
    for node in nodes:
        raster.dear[node] += by


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
        if _route(raster, wish, courses):
            continue
        if not _route(raster, wish, courses, price=_PRICE + number):
            continue
        mine = courses[wish.shows]
        pushed = [
            shows for shows, course in courses.items()
            if course is not mine and mine.hurts(course)
        ]  # fmt: skip
        _make_dear(raster, mine.nodes, _PUSHED)
        for shows in pushed:
            _mark(raster, courses.pop(shows), -1)
            wanting.append(by_name[shows])
    for wish in wanting:
        _route(raster, wish, courses)


def price_of(courses: Sequence[Sequence[XY]]) -> float:
    """Lengths of courses in mm, with what bends, and three times what crossings, cost."""
    pieces = [
        (n, min(piece), max(piece))
        for n, points in enumerate(courses) for piece in pairwise(points)
    ]  # fmt: skip
    level = [(n, a, b) for n, a, b in pieces if abs(a[1] - b[1]) < _NEAR]
    upright = [(n, a, b) for n, a, b in pieces if abs(a[0] - b[0]) < _NEAR]
    crossings = sum(
        1
        for n, a, b in level for m, c, d in upright
        if n != m and a[0] < c[0] < b[0] and c[1] < a[1] < d[1]
    )  # fmt: skip
    length = sum(math.dist(a, b) for _, a, b in pieces)
    bends = sum(len(points) - 2 for points in courses)
    return length + _BEND * bends + 3.0 * _CROSS * crossings


def _least(wish: WireToRoute) -> float:
    return min(
        abs(a.points[-1][0] - b.points[-1][0]) + abs(a.points[-1][1] - b.points[-1][1])
        for a in wish.doors[0] for b in wish.doors[1]
    )  # fmt: skip


def _points(raster: Raster, course: Course) -> tuple[XY, ...]:
    wide = len(raster.xs)
    way = [(raster.xs[n % wide], raster.ys[n // wide]) for n in course.nodes]
    return straightened((*course.doors[0].points[:-1], *way, *course.doors[1].points[-2::-1]))


def straightened(points: Sequence[XY]) -> tuple[XY, ...]:
    """The course without points at which it goes straight on."""
    kept: list[XY] = []
    for point in points:
        if kept and math.dist(kept[-1], point) < _NEAR:
            continue
        if len(kept) > 1 and _straight(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _straight(a: XY, b: XY, c: XY) -> bool:
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    ahead = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return abs(cross) < _NEAR and ahead > 0


def _node(raster: Raster, at: XY) -> int:
    i, j = _index(raster.xs, at[0]), _index(raster.ys, at[1])
    return i + j * len(raster.xs)


def _index(lines: Sequence[float], at: float) -> int:
    return min(range(len(lines)), key=lambda n: abs(lines[n] - at))


def _search(
    raster: Raster, first: Sequence[Door], second: Sequence[Door], price: float
) -> Course | None:
    """The cheapest course between two terminals beside all that lies already.

    With a price above 0 it may run where others do, and pays that for each step.
    """
    starts = {_node(raster, door.points[-1]): door for door in first}
    goals = {_node(raster, door.points[-1]): door for door in second}
    if not starts or not goals:
        return None
    nodes = _cheapest(raster, starts, goals, price)
    return _course(raster, nodes, (starts[nodes[0]], goals[nodes[-1]])) if nodes else None


def _cheapest(
    raster: Raster, starts: Mapping[int, Door], goals: Mapping[int, Door], price: float
) -> tuple[int, ...]:
    """A* over nodes, each with the way it was come by: level (0) or upright (1)."""
    ahead = _ahead(raster, goals)
    best = {2 * node + way: _at_door(door, way) for node, door in starts.items() for way in (0, 1)}
    queue = [(cost + ahead(state), cost, state) for state, cost in best.items()]
    heapify(queue)
    before: dict[int, int] = {}
    finished, total = -1, math.inf
    while queue and queue[0][0] < total:
        _, cost, state = heappop(queue)
        if cost > best[state]:
            continue
        node = state >> 1
        if node in goals and cost + _at_door(goals[node], state & 1) < total:
            total, finished = cost + _at_door(goals[node], state & 1), state
        for there, more in _moves(raster, state, starts, goals, price):
            reached = cost + more
            if reached < best.get(there, math.inf):
                best[there] = reached
                before[there] = state
                heappush(queue, (reached + ahead(there), reached, there))
    return _traced(finished, before) if finished >= 0 else ()


def _at_door(door: Door, way: int) -> float:
    """What a door costs whose wire is level or upright outside it."""
    return door.extra + (_BEND if door.upright not in (None, bool(way)) else 0.0)


def _ahead(raster: Raster, goals: Iterable[int]) -> Callable[[int], float]:
    """What a state still costs at least: the way to the box about all goals, and a bend."""
    wide, xs, ys = len(raster.xs), raster.xs, raster.ys
    left, right = min(xs[n % wide] for n in goals), max(xs[n % wide] for n in goals)
    top, bottom = min(ys[n // wide] for n in goals), max(ys[n // wide] for n in goals)
    across = [max(left - x, x - right, 0.0) for x in xs]
    along = [max(top - y, y - bottom, 0.0) for y in ys]

    def ahead(state: int) -> float:
        j, i = divmod(state >> 1, wide)
        dx, dy = across[i], along[j]
        return dx + dy + (_BEND if (dx if state & 1 else dy) else 0.0)

    return ahead


def _moves(
    raster: Raster, state: int, starts: Mapping[int, Door], goals: Mapping[int, Door], price: float
) -> Iterator[tuple[int, float]]:
    """States next to one, each with what it costs to go there."""
    node, way = state >> 1, state & 1
    across, turns = raster.runs[1 - way], raster.turns
    barred = raster.upright if way else raster.level
    crowded = across[node] or turns[node]
    if price or not crowded:
        yield state ^ 1, _BEND + (price if crowded else 0.0)
    if barred[node] and not price and node not in starts:
        return
    for there, length in raster.steps(state):
        more = length + raster.dear[there] + (_CROSS if across[there] else 0.0)
        if there not in goals:
            if raster.shut[there]:
                continue
            if barred[there] or turns[there]:
                if not price:
                    continue
                more += price
        yield 2 * there + way, more


def _traced(state: int, before: Mapping[int, int]) -> tuple[int, ...]:
    nodes = [state >> 1]
    while state in before:
        state = before[state]
        if state >> 1 != nodes[-1]:
            nodes.append(state >> 1)
    return tuple(nodes[::-1])


def _mark(raster: Raster, course: Course, by: int) -> None:
    """Take or give back the lines of a course."""
    for count, nodes in (
        (raster.runs[0], course.runs[0]), (raster.runs[1], course.runs[1]),
        (raster.level, course.bars[0]), (raster.upright, course.bars[1]),
        (raster.turns, course.turns),
    ):  # fmt: skip
        for node in nodes:
            count[node] += by


def _bends(nodes: Sequence[int], wide: int) -> Iterator[int]:
    yield nodes[0]
    for a, b, c in zip(nodes, nodes[1:], nodes[2:], strict=False):
        if (abs(a - b) >= wide) != (abs(b - c) >= wide):
            yield b
    yield nodes[-1]


def _about(raster: Raster, node: int, far: float) -> Iterator[int]:
    """Nodes so near to a bend or an end, mm."""
    wide = len(raster.xs)
    j, i = divmod(node, wide)
    columns = _within(raster.xs, i, far)
    for row in _within(raster.ys, j, far):
        yield from (column + row * wide for column in columns)


def _within(lines: Sequence[float], at: int, far: float) -> range:
    low = high = at
    while low and lines[at] - lines[low - 1] < far:
        low -= 1
    while high + 1 < len(lines) and lines[high + 1] - lines[at] < far:
        high += 1
    return range(low, high + 1)


def _beside(raster: Raster, node: int, is_upright: bool) -> Iterator[int]:
    """The node itself and those on lines too near to run beside it."""
    wide = len(raster.xs)
    lines, at, step = (raster.xs, node % wide, 1) if is_upright else (raster.ys, node // wide, wide)
    yield from (node + (n - at) * step for n in _within(lines, at, _APART))
