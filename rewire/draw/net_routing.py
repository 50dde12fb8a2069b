"""Nets of a circuit diagram as level and upright lines on a raster.

A net grows terminal by terminal: each is joined to the nearest point of what is drawn of its net
by a course of least length, bends and crossings (A*: Hart, Nilsson and Raphael, IEEE Trans. SSC 4,
1968; nets of many terminals after Lee, IRE Trans. EC-10, 1961). Lines of two nets may cross at a
right angle and do nothing else with each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import pairwise

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


@dataclass(slots=True)
class Drawn:
    """What is drawn of a net: courses from corner to corner, and joints."""

    courses: list[tuple[Node, ...]] = field(default_factory=list)
    joints: set[Node] = field(default_factory=set)


@dataclass(slots=True)
class _Board:
    left: int
    top: int
    right: int
    bottom: int
    shut: frozenset[Node]
    level: dict[Node, int] = field(default_factory=dict)
    upright: dict[Node, int] = field(default_factory=dict)
    fixed: dict[Node, int] = field(default_factory=dict)
    """Corners, ends and joints: no other net may pass there."""


def routed(
    nets: Mapping[int, Sequence[Port]], shut: Iterable[Node], board: tuple[int, int, int, int]
) -> tuple[dict[int, Drawn], list[tuple[int, Port]]]:
    """Lines of every net, and the ports that nothing could be led to.

    Args:
        nets: the ports of each net, on the raster.
        shut: nodes that symbols and words cover.
        board: left, top, right, bottom of the raster, all of them within it.
    """
    order = sorted(nets, key=lambda n: (_spread(nets[n]), n))
    covered = frozenset(shut)
    drawn, missed = _in_order(nets, order, _Board(*board, covered))
    best = drawn, missed
    for _ in range(_AGAIN):
        if not missed:
            break
        first = dict(missed)
        order = [*first, *(net for net in order if net not in first)]
        drawn, missed = _in_order(nets, order, _Board(*board, covered))
        best = min(best, (drawn, missed), key=lambda found: len(found[1]))
    return best


def _in_order(
    nets: Mapping[int, Sequence[Port]], order: Iterable[int], area: _Board
) -> tuple[dict[int, Drawn], list[tuple[int, Port]]]:
    """Lines of the nets one after another, and the ports that nothing could be led to."""
    for net, ports in nets.items():
        for port in ports:
            area.fixed[port.at] = net
            first = (port.at[0] + port.out[0], port.at[1] + port.out[1])
            area.fixed.setdefault(first, net)
    drawn: dict[int, Drawn] = {}
    missed: list[tuple[int, Port]] = []
    for net in order:
        drawn[net] = Drawn()
        missed += ((net, port) for port in _net(area, net, nets[net], drawn[net]))
    return drawn, missed


def _spread(ports: Sequence[Port]) -> int:
    """Half the way round the box about a net's ports: short nets are drawn first."""
    xs, ys = [p.at[0] for p in ports], [p.at[1] for p in ports]
    return max(xs) - min(xs) + max(ys) - min(ys)


def _net(area: _Board, net: int, ports: Sequence[Port], drawn: Drawn) -> Iterator[Port]:
    """Join the ports of a net one after another, the nearest next; yields those left over."""
    tree = {ports[0].at}
    outs = {port.at: port.out for port in ports}
    left = list(ports[1:])
    while left:
        port = min(left, key=lambda p: min(abs(p.at[0] - x) + abs(p.at[1] - y) for x, y in tree))
        left.remove(port)
        course = _course(area, net, port, tree, outs)
        if course is None:
            yield port
            continue
        _lay(area, net, course)
        drawn.courses.append(_corners(course))
        tree.update(course)
    drawn.joints = {course[-1] for course in drawn.courses if len(_arms(drawn, course[-1])) > 2}


def _arms(drawn: Drawn, node: Node) -> set[Node]:
    """Directions in which lines leave a node."""
    arms: set[Node] = set()
    for course in drawn.courses:
        for a, b in pairwise(course):
            step = (_sign(b[0] - a[0]), _sign(b[1] - a[1]))
            if not _between(a, node, b):
                continue
            if node != b:
                arms.add(step)
            if node != a:
                arms.add((-step[0], -step[1]))
    return arms


def _between(a: Node, node: Node, b: Node) -> bool:
    return min(a[0], b[0]) <= node[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= node[1] <= max(
        a[1], b[1]
    )


def _sign(n: int) -> int:
    return (n > 0) - (n < 0)


def _course(
    area: _Board, net: int, port: Port, tree: Set[Node], outs: Mapping[Node, Node]
) -> list[Node] | None:
    """The cheapest way from a port to what is drawn of its net."""
    start = (port.at, _STEPS.index(port.out))
    best: dict[tuple[Node, int], int] = {start: 0}
    before: dict[tuple[Node, int], tuple[Node, int]] = {}
    done: set[tuple[Node, int]] = set()
    queue: list[tuple[int, int, tuple[Node, int]]] = [(0, 0, start)]
    count = 0
    xs, ys = [x for x, _ in tree], [y for _, y in tree]
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
    most = _DETOUR + 2 * min(abs(port.at[0] - x) + abs(port.at[1] - y) for x, y in tree)
    while queue:
        _, _, here = heappop(queue)
        if here in done:
            continue
        done.add(here)
        node, way = here
        if best[here] > most:
            return None
        if node in tree and node != port.at and _may_end(area, net, node, way, outs):
            return _path(before, here)
        if node in outs and node != port.at:
            continue
        for there, price in _steps(area, net, port, here):
            reached = best[here] + price
            if reached < best.get(there, 1 << 30):
                best[there], before[there] = reached, here
                count += 1
                x, y = there[0]
                ahead = max(left - x, x - right, 0) + max(top - y, y - bottom, 0)
                heappush(queue, (reached + ahead, count, there))
    return None


def _steps(
    area: _Board, net: int, port: Port, here: tuple[Node, int]
) -> Iterator[tuple[tuple[Node, int], int]]:
    """Where a line may go on to, and what that costs."""
    node, way = here
    may_turn = node != port.at and _may_turn(area, net, node)
    for turn, step in enumerate(_STEPS):
        if (turn - way) % 4 == 2 or (turn != way and not may_turn):
            continue
        there = (node[0] + step[0], node[1] + step[1])
        price = _price(area, net, there, turn)
        if price is not None:
            yield (there, turn), price + (_BEND if turn != way else 0)


def _path(before: Mapping[tuple[Node, int], tuple[Node, int]], end: tuple[Node, int]) -> list[Node]:
    way = [end[0]]
    while end in before:
        end = before[end]
        way.append(end[0])
    return way[::-1]


def _may_turn(area: _Board, net: int, node: Node) -> bool:
    """Whether a line of the net may turn or end there: no other net is at that node."""
    others = (area.level.get(node), area.upright.get(node), area.fixed.get(node))
    return all(other in (None, net) for other in others)


def _may_end(area: _Board, net: int, node: Node, way: int, outs: Mapping[Node, Node]) -> bool:
    if not _may_turn(area, net, node):
        return False
    if node not in outs:
        return True
    return outs[node] == (-_STEPS[way][0], -_STEPS[way][1])


def _price(area: _Board, net: int, node: Node, turn: int) -> int | None:
    """What a step onto a node costs; None where it must not be made."""
    x, y = node
    if not (area.left <= x <= area.right and area.top <= y <= area.bottom):
        return None
    if node in area.shut:
        return None
    if area.fixed.get(node, net) != net:
        return None
    along, across = (area.level, area.upright) if turn % 2 == 0 else (area.upright, area.level)
    if along.get(node, net) != net:
        return None
    price = 1 + (_CROSS if across.get(node, net) != net else 0)
    sides = ((x, y - 1), (x, y + 1)) if turn % 2 == 0 else ((x - 1, y), (x + 1, y))
    return price + _TIGHT * sum(along.get(side, net) != net for side in sides)


def _lay(area: _Board, net: int, course: Sequence[Node]) -> None:
    for a, b in pairwise(course):
        runs = area.level if a[1] == b[1] else area.upright
        runs[a] = runs[b] = net
    for node in _corners(course):
        area.fixed[node] = net


def _corners(course: Sequence[Node]) -> tuple[Node, ...]:
    """A course without the nodes at which it goes straight on."""
    kept = [course[0]]
    for a, b, c in zip(course, course[1:], course[2:], strict=False):
        if (b[0] - a[0], b[1] - a[1]) != (c[0] - b[0], c[1] - b[1]):
            kept.append(b)
    return (*kept, course[-1])
