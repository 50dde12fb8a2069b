"""Nets of a circuit diagram: each a tree of courses (``routing``), grown terminal by terminal.

What is nearest is joined next, to the nearest place on what is drawn of its net (nets of many
terminals after Lee, IRE Trans. EC-10, 1961). Where a net is parted or joined by some work, what
stays joined is one strand, and what is only before or after are strands that begin and end on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rewire.draw.courses import Course, Door
from rewire.draw.diagram import DrawnNet, Fate
from rewire.draw.routing import PITCH, Tracks, course_between, mark, tracks_of
from rewire.draw.scene import Box

Node = tuple[int, int]
"""Column and row of the raster, ``PITCH`` mm apart."""
Corners = tuple[Node, ...]
"""A course from corner to corner."""
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

    @property
    def first(self) -> Node:
        """One step out of the symbol."""
        return self.at[0] + self.out[0], self.at[1] + self.out[1]

    @property
    def door(self) -> Door:
        """The step out of the symbol."""
        return replace(_door(self.at, self.first), upright=not self.out[0])


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

    @property
    def turn(self) -> int:
        """When it is drawn: what others are led to comes first."""
        if self.alone or not self.onto:
            return 0 if self.alone else 1
        return 2 + ("stays", "new", "goes").index(self.fate)


@dataclass(slots=True)
class Lines:
    """What is drawn: courses of every strand, dots, and strands that nothing could be led to."""

    courses: dict[int, list[Corners]] = field(default_factory=dict)
    dots: dict[Node, int] = field(default_factory=dict)
    """Where lines meet → the strand that a dot there is of."""
    missed: list[int] = field(default_factory=list)


def routed(
    strands: Sequence[Strand], shut: Iterable[Node], board: tuple[int, int, int, int]
) -> Lines:
    """Lines of every strand round the nodes that are shut; board: left, top, right, bottom node."""
    doors = [port.door for strand in strands for port in strand.ports]
    empty = tracks_of(Box(*(PITCH * side for side in board)), (), doors)
    for x, y in shut:
        empty.shut[y - board[1], x - board[0]] = True
    first: list[int] = []
    tries: list[Lines] = []
    for _ in range(_AGAIN + 1):
        order = sorted(strands, key=lambda s: (s.turn, s.key not in first, s.spread, s.key))
        tries.append(_in_order(order, empty.copy()))
        if not tries[-1].missed:
            break
        first = tries[-1].missed
    return min(tries, key=lambda lines: len(lines.missed))


def _in_order(order: Sequence[Strand], tracks: Tracks) -> Lines:
    """Lines of the strands one after another."""
    lines = Lines()
    there = {port.first: {strand.key} for strand in order for port in strand.ports}
    beside = {s.key: {s.key, *(o.key for o in order if s.key in o.onto)} for s in order}
    for strand in order:
        tree = _Tree(tracks, strand.key, there)
        if strand.alone:
            tree.lay(_stub(tracks, strand.ports[0]))
        elif not _grown(tree, strand, lines.courses, beside):
            lines.missed.append(strand.key)
        lines.courses[strand.key] = tree.courses
    for strand in (strand for strand in order if strand.alone):
        lines.courses[strand.key] = [_as_used(strand.key, lines.courses)]
    lines.dots = dict(_dots(lines.courses))
    return lines


@dataclass(slots=True)
class _Tree:
    """What is drawn of a strand."""

    tracks: Tracks
    key: int
    there: dict[Node, set[int]]
    """Node → the strands that have lines or ports there, of all strands."""
    nodes: dict[Node, set[int]] = field(default_factory=dict)
    """Where lines may join it → the strands that may be there too."""
    courses: list[Corners] = field(default_factory=list)

    def open(self) -> list[Door]:
        """The nodes at which nothing else runs."""
        return [_door(node) for node, may in self.nodes.items() if self.there[node] <= may]

    def lay(self, course: Course) -> None:
        """Draw one more course."""
        mark(self.tracks, course)
        self.courses.append(tuple((round(x / PITCH), round(y / PITCH)) for x, y in course.points))
        for node in _nodes(tuple((round(x / PITCH), round(y / PITCH)) for x, y in course.spots)):
            self.there.setdefault(node, set()).add(self.key)
            self.nodes.setdefault(node, {self.key})


def _grown(
    tree: _Tree, strand: Strand, drawn: Mapping[int, Sequence[Corners]],
    beside: Mapping[int, set[int]],
) -> bool:  # fmt: skip
    """Join the ports of a strand, and the strands it is led to; whether all were reached."""
    joined = [
        {node: beside[key] for course in drawn.get(key, ()) for node in _nodes(course)
         if node in tree.there} for key in strand.onto
    ]  # fmt: skip
    units = [(nodes, [_door(n) for n, may in nodes.items() if tree.there[n] <= may])
             for nodes in joined]  # fmt: skip
    units += [({}, [port.door]) for port in strand.ports]
    (tree.nodes, start), *left = units
    while left:
        goals = [door for _, doors in left for door in doors]
        course = course_between(tree.tracks, start or tree.open(), goals)
        if course is None:
            return False
        tree.lay(course)
        start = []
        found = next(unit for unit in left if course.doors[1] in unit[1])
        left.remove(found)
        tree.nodes |= found[0]
    return True


def _door(*nodes: Node) -> Door:
    """A way out over some nodes."""
    return Door(tuple((PITCH * x, PITCH * y) for x, y in nodes))


def _stub(tracks: Tracks, port: Port) -> Course:
    """A line out of a port, clear of its words, for others to begin upon."""
    (x, y), (dx, dy) = port.at, port.out
    for far in range(2, 5):
        end = (x + far * dx, y + far * dy)
        about = [_door((end[0] + dy * side, end[1] + dx * side)).end for side in (1, -1)]
        if all(tracks.holds(at) and not tracks.shut[tracks.node(at)] for at in about):
            break
    last = _door(end)
    return Course((port.door.end, last.end), (port.door, last))


def _as_used(key: int, courses: Mapping[int, Sequence[Corners]]) -> Corners:
    """A stub as far as other lines begin upon it."""
    (stub,) = courses[key]
    ends = {end for own, drawn in courses.items() if own != key
            for c in drawn for end in (c[0], c[-1])}  # fmt: skip
    used = [node for node in _nodes(stub) if node in ends]
    return (stub[0], used[-1] if used else stub[-1])


def _nodes(course: Sequence[Node]) -> Iterator[Node]:
    """Every node that a course runs over."""
    yield from course[:1]
    for (x, y), (u, v) in pairwise(course):
        far = max(abs(u - x), abs(v - y))
        yield from ((x + n * (u - x) // far, y + n * (v - y) // far) for n in range(1, far + 1))


def _dots(courses: Mapping[int, Sequence[Corners]]) -> Iterator[tuple[Node, int]]:
    """Where three lines or more meet, with the first strand that comes there."""
    arms: dict[Node, set[Node]] = {}
    whose: dict[Node, int] = {}
    for key, drawn in courses.items():
        for a, b in (step for course in drawn for step in pairwise(_nodes(course))):
            for here, there in ((a, b), (b, a)):
                arms.setdefault(here, set()).add((there[0] - here[0], there[1] - here[1]))
                whose.setdefault(here, key)
    ends = {end for drawn in courses.values() for c in drawn for end in (c[0], c[-1])}
    return ((node, whose[node]) for node in sorted(ends) if len(arms.get(node, ())) > 2)
