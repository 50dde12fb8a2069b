"""Nets of a circuit diagram as level and upright lines on a raster.

A net grows terminal by terminal: each is joined to the nearest point of what is drawn of its net
by a course of least length, bends and crossings (A*: Hart, Nilsson and Raphael, IEEE Trans. SSC 4,
1968; nets of many terminals after Lee, IRE Trans. EC-10, 1961). Lines of two nets may cross at a
right angle and do nothing else with each other. Where a net is parted or joined by some work, what
stays joined is one strand, and what is only before or after are strands that begin and end on it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import pairwise

from rewire.draw.diagram import DrawnNet, Fate

Node = tuple[int, int]
"""Column and row of the raster."""
_STEPS: tuple[Node, ...] = ((1, 0), (0, 1), (-1, 0), (0, -1))
_BEND, _CROSS, _TIGHT = 3, 6, 1
"""What a bend, a crossing, a step right beside another net costs, in steps."""
_DETOUR = 60
"""So much beyond twice the distance may a course cost."""

_AGAIN = 3
"""So often is all drawn anew, beginning with the nets that found no way."""


@dataclass(frozen=True, slots=True)
class Port:
    """Where a net comes to a symbol, and the way it must leave."""

    at: Node
    out: Node
    """One step outwards."""
    terminal: str = ""
    """What the symbol stands for."""


@dataclass(frozen=True, slots=True)
class Strand:
    """Lines that are drawn in one look: what stays joined, or is joined only before or after."""

    key: int
    net: DrawnNet
    fate: Fate
    ports: tuple[Port, ...]
    onto: tuple[int, ...] = ()
    """Strands by their keys that these lines join."""

    @property
    def alone(self) -> bool:
        """Whether it is one port, to which other strands are led."""
        return len(self.ports) == 1 and not self.onto

    @property
    def spread(self) -> int:
        """Half the way round the box about its ports: short ones are drawn first."""
        xs, ys = [p.at[0] for p in self.ports], [p.at[1] for p in self.ports]
        return max(xs) - min(xs) + max(ys) - min(ys) if xs else 0


Course = tuple[Node, ...]
"""From corner to corner."""


@dataclass(slots=True)
class Lines:
    """What is drawn: courses of every strand, dots, and strands that nothing could be led to."""

    courses: dict[int, list[Course]] = field(default_factory=dict)
    dots: dict[Node, int] = field(default_factory=dict)
    """Where lines meet → the strand that a dot there is of."""
    missed: list[int] = field(default_factory=list)


@dataclass(slots=True)
class _Board:
    free: frozenset[Node]
    """Nodes inside the drawing that no symbol or word covers."""
    level: dict[Node, int] = field(default_factory=dict)
    upright: dict[Node, int] = field(default_factory=dict)
    fixed: dict[Node, int] = field(default_factory=dict)
    """Corners, ends and joints: no other net may pass there."""


def routed(
    strands: Sequence[Strand], shut: Iterable[Node], board: tuple[int, int, int, int]
) -> Lines:
    """Lines of every strand.

    Args:
        strands: with their ports, on the raster.
        shut: nodes that symbols and words cover.
        board: left, top, right, bottom of the raster, all of them within it.
    """
    left, top, right, bottom = board
    inside = ((x, y) for x in range(left, right + 1) for y in range(top, bottom + 1))
    free = frozenset(inside).difference(shut)
    first: list[int] = []
    best: Lines | None = None
    for _ in range(_AGAIN + 1):
        order = sorted(strands, key=lambda s: (_turn(s), s.key not in first, s.spread, s.key))
        found = _in_order(order, _Board(free))
        if best is None or len(found.missed) < len(best.missed):
            best = found
        if not found.missed:
            break
        first = found.missed
    assert best is not None
    return best


def _turn(strand: Strand) -> int:
    """When a strand is drawn: what others are led to comes first."""
    if strand.alone or not strand.onto:
        return 0 if strand.alone else 1
    return 2 + ("stays", "new", "goes").index(strand.fate)


def _in_order(order: Sequence[Strand], area: _Board) -> Lines:
    """Lines of the strands one after another."""
    for strand in order:
        for port in strand.ports:
            area.fixed[port.at] = strand.key
            first = (port.at[0] + port.out[0], port.at[1] + port.out[1])
            area.fixed.setdefault(first, strand.key)
    lines, open_to = Lines(), dict[int, frozenset[Node]]()
    siblings = {
        s.key: frozenset({s.key, *(o.key for o in order if s.key in o.onto)}) for s in order
    }
    for strand in order:
        if strand.alone:
            courses = [_stub(area, strand)]
        else:
            allowed = {n: siblings[key] for key in strand.onto for n in open_to.get(key, ())}
            courses, whole = _drawn(area, strand, open_to, allowed)
            lines.missed += [] if whole else [strand.key]
        lines.courses[strand.key] = courses
        ends = {port.at for port in strand.ports}
        open_to[strand.key] = frozenset(n for c in courses for n in _nodes(c)) - ends
    for strand in order:
        if strand.alone:
            lines.courses[strand.key] = [_as_used(strand.key, lines.courses)]
    lines.dots = dict(_dots(lines.courses))
    return lines


def _stub(area: _Board, strand: Strand) -> Course:
    """A line out of a port, clear of its words, for others to begin upon."""
    (port,), course = strand.ports, list[Node]()
    (x, y), (dx, dy) = port.at, port.out
    for far in range(1, 5):
        course = [(x + n * dx, y + n * dy) for n in range(far + 1)]
        end = course[-1]
        beside = {(end[0] + dy, end[1] + dx), (end[0] - dy, end[1] - dx)}
        if far > 1 and beside <= area.free:
            break
    _lay(area, strand.key, course)
    return (course[0], course[-1])


def _as_used(key: int, courses: Mapping[int, Sequence[Course]]) -> Course:
    """A stub as far as other lines begin upon it."""
    (stub,) = courses[key]
    ends = {end for own, drawn in courses.items() if own != key
            for c in drawn for end in (c[0], c[-1])}  # fmt: skip
    used = [node for node in _nodes(stub) if node in ends]
    return (stub[0], used[-1] if used else stub[-1])


def _nodes(course: Course) -> Iterator[Node]:
    """Every node that a course runs over."""
    for a, b in pairwise(course):
        dx, dy = _sign(b[0] - a[0]), _sign(b[1] - a[1])
        for n in range(max(abs(b[0] - a[0]), abs(b[1] - a[1])) + 1):
            yield a[0] + n * dx, a[1] + n * dy


def _drawn(
    area: _Board,
    strand: Strand,
    open_to: Mapping[int, frozenset[Node]],
    allowed: Mapping[Node, Set[int]],
) -> tuple[list[Course], bool]:
    """The courses of a strand, what is nearest next; and whether they reach everything."""
    outs = {port.at: port.out for port in strand.ports}
    units: list[frozenset[Node]] = [
        *(open_to.get(key, frozenset()) for key in strand.onto),
        *(frozenset({port.at}) for port in strand.ports),
    ]
    first, *left = [unit for unit in units if unit] or [frozenset[Node]()]
    whole, tree = all(units), set(first)
    courses: list[Course] = []
    while left:
        unit = min(left, key=lambda u: _gap(u, tree))
        left.remove(unit)
        course = _course(area, strand.key, unit, _Aim(tree, outs, allowed))
        if course is None:
            whole = False
            continue
        _lay(area, strand.key, course)
        courses.append(_corners(course))
        tree.update(course, unit)
    return courses, whole


def _gap(unit: Collection[Node], tree: Collection[Node]) -> int:
    """Columns and rows between two sets of nodes."""
    return min((abs(a - x) + abs(b - y) for a, b in unit for x, y in tree), default=0)


def _dots(courses: Mapping[int, Sequence[Course]]) -> Iterator[tuple[Node, int]]:
    """Where three lines or more meet, with the first strand that comes there."""
    arms: dict[Node, set[Node]] = {}
    whose: dict[Node, int] = {}
    for key, drawn in courses.items():
        for course in drawn:
            for a, b in pairwise(tuple(_nodes(course))):
                if a != b:
                    arms.setdefault(a, set()).add((b[0] - a[0], b[1] - a[1]))
                    arms.setdefault(b, set()).add((a[0] - b[0], a[1] - b[1]))
                    whose.setdefault(a, key)
                    whose.setdefault(b, key)
    ends = {end for drawn in courses.values() for c in drawn for end in (c[0], c[-1])}
    return ((node, whose[node]) for node in sorted(ends) if len(arms.get(node, ())) > 2)


@dataclass(frozen=True, slots=True)
class _Aim:
    """Where a course must come to."""

    tree: Set[Node]
    outs: Mapping[Node, Node]
    """Port of the strand → the direction out of it."""
    allowed: Mapping[Node, Set[int]]
    """Place on another strand, where it may end → the strands that may be there."""


def _sign(n: int) -> int:
    return (n > 0) - (n < 0)


def _course(area: _Board, key: int, unit: frozenset[Node], aim: _Aim) -> list[Node] | None:
    """The cheapest way from a port, or from what is drawn, to what is drawn of a strand."""
    best: dict[tuple[Node, int], int] = dict.fromkeys(_starts(area, key, unit, aim), 0)
    before: dict[tuple[Node, int], tuple[Node, int]] = {}
    done: set[tuple[Node, int]] = set()
    queue = [(0, count, start) for count, start in enumerate(sorted(best))]
    count = len(queue)
    xs, ys = [x for x, _ in aim.tree], [y for _, y in aim.tree]
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
    most = _DETOUR + 2 * _gap(unit, aim.tree)
    while queue:
        _, _, here = heappop(queue)
        if here in done:
            continue
        done.add(here)
        node, _ = here
        if best[here] > most:
            return None
        if node in aim.tree and node not in unit and _may_end(area, key, here, aim):
            return _path(before, here)
        if node in aim.outs and node not in unit:
            continue
        for there, price in _steps(area, key, here, here in before, aim):
            reached = best[here] + price
            if reached < best.get(there, 1 << 30):
                best[there], before[there] = reached, here
                count += 1
                x, y = there[0]
                ahead = max(left - x, x - right, 0) + max(top - y, y - bottom, 0)
                heappush(queue, (reached + ahead, count, there))
    return None


def _starts(area: _Board, key: int, unit: frozenset[Node], aim: _Aim) -> Iterator[tuple[Node, int]]:
    """Where a course may begin, and which way."""
    for node in unit:
        if node in aim.outs:
            yield node, _STEPS.index(aim.outs[node])
        elif _open(area, key, node, aim):
            yield from ((node, turn) for turn in range(4))


def _steps(
    area: _Board, key: int, here: tuple[Node, int], under_way: bool, aim: _Aim
) -> Iterator[tuple[tuple[Node, int], int]]:
    """Where a line may go on to, and what that costs."""
    node, way = here
    may_turn = under_way and _unused(area, key, node)
    for turn, (dx, dy) in enumerate(_STEPS):
        if turn != way and (not may_turn or (turn - way) % 4 == 2):
            continue
        there = (node[0] + dx, node[1] + dy)
        if there not in area.free:
            continue
        price = _price(area, key, (there, turn), aim)
        if price is not None:
            yield (there, turn), price if turn == way else price + _BEND


def _path(before: Mapping[tuple[Node, int], tuple[Node, int]], end: tuple[Node, int]) -> list[Node]:
    way = [end[0]]
    while end in before:
        end = before[end]
        way.append(end[0])
    return way[::-1]


def _unused(area: _Board, key: int, node: Node) -> bool:
    """Whether a line of a strand may turn there: no other strand is at that node."""
    return (
        area.level.get(node, key) == area.upright.get(node, key) == area.fixed.get(node, key) == key
    )


def _open(area: _Board, key: int, node: Node, aim: _Aim) -> bool:
    """Whether a course may begin or end there: no strand but those that may be at that node."""
    if node not in aim.allowed:
        return _unused(area, key, node)
    there = (area.level.get(node, key), area.upright.get(node, key), area.fixed.get(node, key))
    return aim.allowed[node] >= set(there)


def _may_end(area: _Board, key: int, here: tuple[Node, int], aim: _Aim) -> bool:
    node, way = here
    if not _open(area, key, node, aim):
        return False
    if node not in aim.outs:
        return True
    return aim.outs[node] == (-_STEPS[way][0], -_STEPS[way][1])


def _price(area: _Board, key: int, there: tuple[Node, int], aim: _Aim) -> int | None:
    """What a step onto a free node costs; None where another strand is in the way."""
    node, turn = there
    x, y = node
    along, across = area.level, area.upright
    one, other = (x, y - 1), (x, y + 1)
    if turn % 2:
        along, across = across, along
        one, other = (x - 1, y), (x + 1, y)
    fixed, beside, crossed = area.fixed.get(node, key), along.get(node, key), across.get(node, key)
    if fixed != key or beside != key:
        if node not in aim.tree or not aim.allowed.get(node, frozenset()) >= {fixed, beside}:
            return None
        crossed = key
    tight = (along.get(one, key) != key) + (along.get(other, key) != key)
    return 1 + _TIGHT * tight + (_CROSS if crossed != key else 0)


def _lay(area: _Board, key: int, course: Sequence[Node]) -> None:
    for a, b in pairwise(course):
        runs = area.level if a[1] == b[1] else area.upright
        runs[a] = runs[b] = key
    for node in _corners(course):
        area.fixed.setdefault(node, key)


def _corners(course: Sequence[Node]) -> tuple[Node, ...]:
    """A course without the nodes at which it goes straight on."""
    kept = [course[0]]
    for a, b, c in zip(course, course[1:], course[2:], strict=False):
        if (b[0] - a[0], b[1] - a[1]) != (c[0] - b[0], c[1] - b[1]):
            kept.append(b)
    return (*kept, course[-1])
