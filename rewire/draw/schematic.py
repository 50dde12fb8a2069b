"""The circuit of a wiring on one drawing: every switch as a gang, one row to a pole, all throws."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rewire.circuit import LimitReached
from rewire.draw.diagram import Chosen, Diagram, DrawnNet, Fate, Member, diagram_of
from rewire.draw.net_routing import Lines, Node, Strand, routed
from rewire.draw.scene import (
    Box,
    Item,
    Line,
    Panel,
    Symbol,
    enters,
    hull,
    line_mm,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.draw.schematic_placing import RIGHT, Board, Manner, laid_out, put_grounds
from rewire.draw.schematic_symbols import (
    GRID,
    chassis,
    gang,
    joint,
    line,
    net_flag,
    point_element,
)
from rewire.draw.schematic_words import POINTS, Word
from rewire.draw.symbols import Standard, kind_in
from rewire.records.spec import Point, Spec, Wiring
from rewire.values.solved import sense_factors

_BLOCKS = 3
"""Between two drawings that have nothing to do with each other, columns or rows."""
_EDGE = 4
"""Columns and rows round a drawing that lines may use."""
_WIDE, _HIGH = 2, 6
"""What a column or row of the drawing counts, in steps of a line.

A page has more width than height to spare."""
_TOO_WIDE = 20
"""What a column counts that is too many."""
_FARTHEST = 80
"""A net with places farther apart, in columns and rows together, is not drawn as a line."""
_MOST_FREE = 9
"""Rows and columns kept free round everything, for lines; with more it is not tried."""
_LARGE = 60
"""With so many symbols one manner must do."""
_MANNERS = (
    Manner(), Manner(level=1), Manner(outward=False, gap=8),
    Manner(outward=False, gap=8, level=1), Manner(gap=9),
)  # fmt: skip


def schematic(
    spec: Spec, wiring: Wiring, chosen: Chosen, width: float, symbols: Standard = "iec"
) -> Panel:
    """The circuit of a wiring, with the values chosen for what the spec left open.

    No wider than it must be, but it may come out wider than it should, mm.
    """
    diagram = diagram_of(spec, wiring, chosen, sense_factors(spec, wiring))
    drawn = drawn_in(diagram, width)
    items = [
        replace(item, kind=kind_in(symbols, item.kind)) if isinstance(item, Symbol) else item
        for item in drawn.items
    ]
    lines = [line for text in diagram.legend for line in wrap(visible(text), width, POINTS)]
    wide = max([drawn.width, *(width_mm(said, POINTS) for said in lines)])
    x, top = _free_corner(items, lines, wide, drawn.height)
    for number, said in enumerate(lines, 1):
        items.append(text_at(said, x, top + number * line_mm(POINTS), POINTS))
    return Panel(tuple(items), wide, max(drawn.height, top + len(lines) * line_mm(POINTS) + 1.0))


def drawn_in(diagram: Diagram, width: float) -> Panel:
    """All of a diagram; it may come out wider than it should, mm."""
    return _packed(drawings(diagram, width), width)


def _free_corner(
    items: Sequence[Item], lines: Sequence[str], wide: float, high: float
) -> tuple[float, float]:
    """Left and top of some lines: in a lower corner of the drawing that is free, else below it."""
    broad = max((width_mm(said, POINTS) for said in lines), default=0.0)
    tall = len(lines) * line_mm(POINTS) + 1.0
    pieces = [(start, end) for item in items if isinstance(item, Line)
              for start, end in pairwise(item.points)]  # fmt: skip
    boxes = [item.box for item in items if not isinstance(item, Line)]
    for x in (0.0, wide - broad):
        corner = Box(x, high - tall, x + broad, high).grown(1.5)
        if not any(enters(piece, corner) for piece in pieces) and not any(map(corner.meets, boxes)):
            return x, high - tall
    return 0.0, high


def drawings(diagram: Diagram, width: float) -> list[Panel]:
    """What nets join, each as a drawing of its own, and then points that only stand for others.

    They should be no wider, mm.
    """
    numbers = {(group, ""): n for n, group in enumerate(diagram.apart)}
    blocks = [_block(diagram, members, numbers, width) for members in diagram.drawings]
    return [*blocks, *_points_alone(diagram)]


Numbers = dict[tuple[int, str], int]
"""Group of nets that no line can join, and which of them → the number that tells it."""


@dataclass
class _Attempt:
    """Everything placed in one manner, and the lines."""

    board: Board
    width: float
    numbers: Numbers
    strands: list[Strand] = field(default_factory=list)
    lines: Lines = field(default_factory=Lines)

    @property
    def places(self) -> tuple[Node, ...]:
        """Where everything stands."""
        return tuple(at for _, at in self.board.placed)

    @property
    def least(self) -> tuple[int, int]:
        """Nets that no line is to join; then the size, and how long the lines must be."""
        board, places = self.board, dict[int, list[Node]]()
        for net, ports in board.ports.items():
            places.setdefault(net.group, []).extend(port.at for port in ports)
        wide, high = _sides(board.taken)
        size = _WIDE * wide + _HIGH * high + _TOO_WIDE * max(0, wide + 1 - int(self.width / GRID))
        return len(self.numbers), size + sum(sum(_sides(at)) for at in places.values())


def _sides(nodes: Collection[Node]) -> tuple[int, int]:
    """Columns and rows from the first to the last of some nodes."""
    xs, ys = [x for x, _ in nodes], [y for _, y in nodes]
    return max(xs) - min(xs), max(ys) - min(ys)


def _block(diagram: Diagram, members: Sequence[Member], numbers: Numbers, width: float) -> Panel:
    """One drawing: in the manner that may come out smallest, whose lines all find a way.

    A net that no line can join is told by its number instead, at each place. ``numbers`` holds
    those of the whole sheet, and takes the new ones.

    Raises:
        LimitReached: a line found no way however far apart things were placed.
    """
    manners = _MANNERS if len(members) < _LARGE else _MANNERS[:1]
    for free in (1, 1, *range(2, _MOST_FREE)):
        tries = [_placed(diagram, members, numbers, width, replace(manner, free=free))
                 for manner in manners]  # fmt: skip
        every = sorted({one.places: one for one in tries[::-1]}.values(), key=lambda one: one.least)
        for tried in map(_with_lines, every):
            if not tried.lines.missed:
                numbers |= tried.numbers
                return _painted(tried)
        net_of = {strand.key: strand.net for strand in every[0].strands}
        for key in every[0].lines.missed:
            if net_of[key].group >= 0:
                numbers.setdefault((net_of[key].group, ""), len(numbers))
    raise LimitReached("the lines of this circuit are too many for a drawing")


def _placed(
    diagram: Diagram, members: Sequence[Member], numbers: Numbers, width: float, manner: Manner
) -> _Attempt:
    """Everything placed in one manner; numbers at the places of nets that no line is to join."""
    tried = _Attempt(laid_out(diagram, members, manner), width, dict(numbers))
    ports = tried.board.ports
    for group in {net.group for net in ports if net.group >= 0}:
        places = [port.at for net, found in ports.items() if net.group == group for port in found]
        if sum(_sides(places)) > _farthest(tried.board, group):
            tried.numbers.setdefault((group, ""), len(tried.numbers))
        if (group, "") in tried.numbers:
            _put_flags(tried, group)
    return tried


def _farthest(board: Board, group: int) -> int:
    """Columns and rows that a net's places may be apart; a parted one asks for more lines."""
    if group not in board.diagram.split:
        return _FARTHEST
    return 2 * _FARTHEST if len(board.placed) < _LARGE else _FARTHEST // 4


def _with_lines(tried: _Attempt) -> _Attempt:
    """The same with its lines, and what they do not reach."""
    tried.strands = list(_strands(tried.board))
    tried.lines = _lines(tried.board, tried.strands)
    return tried


def _put_flags(tried: _Attempt, group: int) -> None:
    """The number of a net at each of its places, each drawn on its own."""
    board = tried.board
    nets = [net for net in board.ports if net.group == group]
    nets += [own for net in nets for own in board.grounds.pop(net, [])]
    for net in nets:
        words = list(_flag_words(tried, group, net))
        for port in board.ports.pop(net):
            own = board.fresh(net)
            board.ports[own] = [port]
            (x, y), (dx, dy) = port.at, port.out
            wishes = [(x + n * dx, y + n * dy) for n in range(3, 40, 4)]
            board.put(net_flag(words, own, port.out), wishes)


def _flag_words(tried: _Attempt, group: int, net: DrawnNet) -> Iterator[Word]:
    """The number of a net, of a parted one the number before struck through."""
    numbers, split = tried.numbers, group in tried.board.diagram.split
    if not split:
        yield Word(f"({numbers[group, ''] + 1})", True)
        return
    if net.before is not None:
        number = numbers.setdefault((group, f"before {net.before}"), len(numbers))
        yield Word(f"({number + 1})", struck=True)
    if net.after is not None:
        number = numbers.setdefault((group, f"after {net.after}"), len(numbers))
        yield Word(f"({number + 1})", True)


# Lines ----------------------------------------------------------------------------------


def _strands(board: Board) -> Iterator[Strand]:
    """What is joined to what: strands that stay, then those that are only before or after."""
    keys = {net: key for key, net in enumerate(board.ports)}
    groups: dict[int, list[DrawnNet]] = {}
    for net in board.ports:
        groups.setdefault(net.group, []).append(net)
    count = len(keys)
    for nets in groups.values():
        joins = list(_joined(board, nets))
        for net in nets:
            often = sum(net in together for _, _, together in joins)
            if len(board.ports[net]) > 1 or often > 1:
                yield Strand(keys[net], net, net.fate, tuple(board.ports[net]))
        for fate, net, together in joins:
            alone = [
                one for one in together
                if len(board.ports[one]) == 1
                and sum(one in other for _, _, other in joins) == 1
            ]  # fmt: skip
            ports = tuple(port for one in alone for port in board.ports[one])
            onto = tuple(keys[one] for one in together if one not in alone)
            yield Strand(count, net, fate, ports, onto)
            count += 1


def _joined(
    board: Board, nets: Sequence[DrawnNet]
) -> Iterator[tuple[Fate, DrawnNet, list[DrawnNet]]]:
    """Nets of a group that are one before, and those that are one after."""
    fates: tuple[Fate, Fate] = ("goes", "new")
    for side, fate in enumerate(fates):
        found: dict[int, list[DrawnNet]] = {}
        for net in nets:
            number = (net.before, net.after)[side]
            if number is not None and not net.earth[side]:
                found.setdefault(number, []).append(net)
        for together in found.values():
            if len(together) > 1:
                yield fate, together[0], together
    for net in nets:
        for own in board.grounds.get(net, []):
            yield own.fate, net, [net, own]


def _lines(board: Board, strands: Sequence[Strand]) -> Lines:
    """Lines of all strands round the symbols."""
    shut = {node for element, at in board.placed for node in element.shut(at)}
    shut -= {port.first for strand in strands for port in strand.ports}
    xs, ys = [x for x, _ in board.taken], [y for _, y in board.taken]
    area = (min(xs) - _EDGE, min(ys) - _EDGE, max(xs) + _EDGE, max(ys) + _EDGE)
    return routed(strands, shut, area)


def _painted(tried: _Attempt) -> Panel:
    """Lines, then symbols at their places."""
    board, lines = tried.board, tried.lines
    of = {strand.key: strand for strand in tried.strands}
    items: list[Item] = []
    for key, courses in lines.courses.items():
        joins = _joins(tried, of[key])
        for course in courses:
            points = [(x * GRID, y * GRID) for x, y in course]
            items.append(line(of[key].net, points, joins, of[key].fate))
    items += (joint(node, of[key].net, of[key].fate) for node, key in lines.dots.items())
    for element, at in board.placed:
        items += (item.moved(at[0] * GRID, at[1] * GRID) for item in element.items)
    items += (gang(name, blades) for name, blades in board.blades.items() if len(blades) > 1)
    box = hull(item.box for item in items).grown(0.5)
    moved = tuple(item.moved(-box.left, -box.top) for item in items)
    return Panel(moved, box.width, box.height)


def _joins(tried: _Attempt, strand: Strand) -> list[str]:
    """The terminals of all strands of its group."""
    return [port.terminal for one in tried.strands if one.net.group == strand.net.group
            for port in one.ports]  # fmt: skip


def _points_alone(diagram: Diagram) -> Iterator[Panel]:
    """Points on chassis, and points that are joined to each other and to no part."""
    apart: dict[int, list[tuple[Point, DrawnNet]]] = {}
    for name, net in diagram.points.items():
        point = diagram.spec.points[name]
        if net.chassis and not point.chassis:
            board = Board(diagram)
            own = board.fresh(net)
            board.put(point_element(point, own, RIGHT), [(0, 0)])
            board.put(chassis(own), [(-3, 1)])
            yield _finished(board)
        elif not net.chassis:
            apart.setdefault(net.group, []).append((point, net))
    for group, points in apart.items():
        earthed = any(any(net.earth) for _, net in points)
        if len(diagram.on[group]) == len(points) and (len(points) > 1 or earthed):
            board = Board(diagram)
            for number, (point, net) in enumerate(points):
                board.put(point_element(point, net, RIGHT), [(0, 5 * number)])
            put_grounds(board)
            yield _finished(board)


def _finished(board: Board) -> Panel:
    """A drawing of which everything is placed."""
    strands = list(_strands(board))
    return _painted(_Attempt(board, 0.0, {}, strands, _lines(board, strands)))


def in_rows(blocks: Iterable[Panel], width: float) -> list[Panel]:
    """Drawings in rows: each at the end of the first row that has the width, else below."""
    rows: list[Panel] = []
    for block in blocks:
        for number, row in enumerate(rows):
            x = row.width + _BLOCKS * GRID
            if x + block.width <= width:
                items = (*row.items, *block.moved(x, 0.0).items)
                rows[number] = Panel(items, x + block.width, max(row.height, block.height))
                break
        else:
            rows.append(block)
    return rows


def _packed(blocks: Iterable[Panel], width: float) -> Panel:
    """The rows under each other."""
    rows = in_rows(blocks, width)
    items: list[Item] = []
    y = 0.0
    for row in rows:
        items += row.moved(0.0, y).items
        y += row.height + _BLOCKS * GRID
    wide = max((row.width for row in rows), default=0.0)
    return Panel(tuple(items), wide, max(0.0, y - _BLOCKS * GRID))
