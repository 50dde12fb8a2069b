"""The circuit of a wiring on one drawing: every switch as a gang, one row to a pole, all throws.

Commons stand at the left of their throws. What hangs between commons stands further left, what
the throws lead to further right, each part one column beyond the net it is reached over (layers
after Sugiyama, Tagawa and Toda, IEEE Trans. SMC 11, 1981, here found breadth first from the
switch). Chassis is drawn where it is used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import networkx as nx

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.roles import Roles, roles_as_written
from rewire.draw.net_routing import Drawn, Node, Port, routed
from rewire.draw.scene import XY, Item, Line, Panel, Symbol, hull, line_mm, text_at, wrap
from rewire.draw.schematic_symbols import (
    GRID,
    Divider,
    Element,
    Row,
    Said,
    chassis,
    divider_element,
    flag,
    gang,
    joint,
    lying,
    on_blade,
    point_element,
    row_element,
    standing,
)
from rewire.draw.symbols import Standard, kind_in
from rewire.records.part import Part, Section
from rewire.records.parts import Pot, Strip
from rewire.records.spec import Point, Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.answers import WiringValues
from rewire.words.quantity import in_ohms

_POINTS = 8.0
_LEFT, _RIGHT = -1, 1
_THROW = 4
"""Columns from a common to its throws."""
_BLOCKS = 3
"""Between two drawings that have nothing to do with each other, columns or rows."""
_EDGE = 4
"""Columns and rows round a drawing that lines may use."""
_LANES = 3
"""Columns kept free beside the throws for lines that run up and down."""
_FREE, _BETWEEN_ROWS = 1, 4
"""Rows and columns kept free round everything, and between poles, for lines."""
_MANY = 12
"""With more poles than this, each is a drawing of its own."""
_BEND, _SIZE = 4, 2
"""What a bend of a line, and a column or row of the drawing, count, in steps of a line."""
_TOO_WIDE = 20
"""What a column counts that is too many."""
_FARTHEST = 80
"""A net with places farther apart, in columns and rows together, is not drawn as a line."""


Chosen = Mapping[str, str]
"""Part → the value that was found for it, in words."""


def schematic(
    spec: Spec, wiring: Wiring, chosen: Chosen, width: float, symbols: Standard = "iec"
) -> Panel:
    """The circuit of a wiring, with the values chosen for what the spec left open.

    It may come out wider than it should, mm.
    """
    circuit = circuit_of(spec, wiring)
    sheet = _Sheet(circuit, chosen, width)
    numbers = dict(sheet.numbered)
    blocks = [_block(sheet, members, numbers) for members in sheet.groups]
    drawn = _packed([*blocks, *_earthed_points(sheet), *_points_joined(sheet)], width)
    wide, y = max(width, drawn.width), drawn.height + 1.0
    items = [
        replace(item, kind=kind_in(symbols, item.kind)) if isinstance(item, Symbol) else item
        for item in drawn.items
    ]
    for line in (line for text in _legend(circuit) for line in wrap(text, wide, _POINTS)):
        y += line_mm(_POINTS)
        items.append(text_at(line, 0.0, y, _POINTS))
    return Panel(tuple(items), wide, y + 1.0)


def chosen_values(spec: Spec, wiring: Wiring, values: WiringValues) -> dict[str, str]:
    """The values that the spec left open and that were found, in words."""
    found = {f.part: in_ohms(f.chosen_ohms) for f in values.fits if f.chosen_ohms is not None}
    ohms = {name: in_ohms(pot.ohms) for name, pot in spec.all_of(Pot, wiring).items()}
    settings = ((p.part, p.setting_percent) for p in values.pots if p.setting_percent is not None)
    return {**found, **{part: f"{ohms[part]} at {at:.0f} %" for part, at in settings}}


# What is drawn together ----------------------------------------------------------------


Closings = tuple[tuple[tuple[int, ...], ...], ...]
"""Per position the groups of a pole's lugs, by number, that are closed together."""


@dataclass(frozen=True)
class _Sheet:
    circuit: Circuit
    chosen: Chosen
    width: float
    """A drawing should be no wider, mm."""

    @cached_property
    def roles(self) -> Roles:
        """Which parts take the place of which, as the spec says."""
        return roles_as_written(self.circuit.spec, self.circuit.wiring)

    def said(self, part: Part) -> Said:
        """What is written beside a part: its value, and the one before it where that was another.

        A part is new that the original has not, or has of another value.
        """
        value, original = self.chosen.get(part.name, part.value), self.circuit.spec.original
        if self.circuit.wiring is original:
            return Said(value)
        before = [original.parts[n] for n in self.roles.forerunners(part.name)
                  if n in original.parts]  # fmt: skip
        values = dict.fromkeys(old.value for old in before)
        known = part.name in self.circuit.spec.parts or part.value in values
        if known and all(type(old) is type(part) for old in before):
            return Said(value)
        return Said(value, ", ".join(old for old in values if old not in ("", value)), new=True)

    @cached_property
    def chassis(self) -> Set[int]:
        """Nets that are chassis."""
        points = self.circuit.spec.points.values()
        return {self.circuit.nets.of[p.name] for p in points if p.chassis}

    @cached_property
    def parts(self) -> Mapping[str, Part]:
        """Parts that have a symbol of their own."""
        kinds = (Switch, Strip)
        return {n: p for n, p in self.circuit.parts.items() if not isinstance(p, kinds)}

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Poles of all switches, those that are soldered side by side as one."""
        return tuple(row for switch in self.circuit.switches for row in self._rows(switch))

    def _rows(self, switch: Switch) -> Iterator[Row]:
        used = {t for t in switch.full_terminals if t not in self.circuit.bare}
        several = len(self.circuit.switches) > 1
        alike: dict[tuple[tuple[int, ...], Closings, str], list[tuple[str, ...]]] = {}
        for section in switch.sections:
            for common, throws in _stars(section):
                lugs = (common, *throws)
                if not any(switch.terminal(lug) in used for lug in lugs):
                    continue
                nets = tuple(self.circuit.nets.of[switch.terminal(lug)] for lug in lugs)
                key = (nets, _closings(section, lugs), section.timing)
                alike.setdefault(key, []).append(lugs)
        name = f"{switch.name} " if several else ""
        for (nets, *_), poles in alike.items():
            closed = _closed_first(switch, poles[0])
            yield Row(switch, name, tuple(zip(*poles, strict=True)), nets, closed)
        for lug in switch.idle_lugs:
            if switch.terminal(lug) in used:
                net = self.circuit.nets.of[switch.terminal(lug)]
                yield Row(switch, name, ((lug,),), (net,), None)

    @cached_property
    def groups(self) -> list[tuple[list[Row], list[Part]]]:
        """Rows and parts that are drawn together: what nets join, chassis left out.

        Of many poles each is drawn with what is nearest to it.
        """
        graph: nx.Graph[object] = nx.Graph()
        for member, nets in self._nets().items():
            graph.add_node(member)
            graph.add_edges_from((member, ("net", net)) for net in nets)
        where: dict[object, int] = {}
        groups: Iterable[Iterable[object]] = nx.connected_components(graph)
        if len(self.rows) > _MANY:
            cells = nx.voronoi_cells(graph, set(self.rows))
            alone = cells.pop("unreachable", set())
            groups = [*cells.values(), *nx.connected_components(graph.subgraph(alone))]
        for number, members in enumerate(groups):
            where.update(dict.fromkeys(members, number))
        return [
            (
                [row for row in self.rows if where[row] == number],
                [part for name, part in self.parts.items() if where[name] == number],
            )
            for number in dict.fromkeys(where[x] for x in (*self.rows, *self.parts))
        ]

    @cached_property
    def terminals_on(self) -> Mapping[int, list[str]]:
        """Net → terminals of parts and switches, and points, on it; strips left out."""
        points = self.circuit.spec.points
        drawn = {t for part in self.parts.values() for t in part.full_terminals}
        drawn |= {row.switch.terminal(lugs[0]) for row in self.rows for lugs in row.lugs}
        return {
            net: [m for m in members if m in points or m in drawn]
            for net, members in enumerate(self.circuit.nets.members)
        }

    def _nets(self) -> dict[object, list[int]]:
        """Row, or name of a part → its nets but chassis."""
        of = self.circuit.nets.of
        found: dict[object, Iterable[int]] = {row: row.nets for row in self.rows}
        found |= {n: [of[t] for t in p.full_terminals] for n, p in self.parts.items()}
        return {m: [net for net in nets if net not in self.chassis] for m, nets in found.items()}

    @cached_property
    def numbered(self) -> Mapping[int, int]:
        """Nets that go on in another drawing, and have no point to be named by → a number."""
        nets, points = self._nets(), self.circuit.spec.points
        counts = Counter(
            net for rows, parts in self.groups
            for net in {n for m in (*rows, *(p.name for p in parts)) for n in nets[m]}
        )  # fmt: skip
        apart = (
            net for net, count in counts.items()
            if count > 1 and not any(name in points for name in self.circuit.nets.members[net])
        )  # fmt: skip
        return {net: number for number, net in enumerate(apart)}


def _closings(section: Section, lugs: Sequence[str]) -> Closings:
    """Which of the lugs, by number, are closed together in each position."""
    return tuple(
        tuple(tuple(n for n, lug in enumerate(lugs) if lug in group) for group in at)
        for at in section.groups
    )


def _stars(section: Section) -> Iterator[tuple[str, tuple[str, ...]]]:
    """A section as commons with their throws: one star where a lug is in all that is closed."""
    groups = [group for at in section.groups for group in at]
    shared = [lug for lug in section.lugs if groups and all(lug in group for group in groups)]
    if section.pole is not None or shared:
        common = section.lugs[0] if section.pole is not None else shared[0]
        yield common, tuple(lug for lug in section.lugs if lug != common)
        return
    pairs = dict.fromkeys(pair for group in groups for pair in pairwise(group))
    yield from ((one, (other,)) for one, other in pairs)


def _closed_first(switch: Switch, lugs: Sequence[str]) -> str | None:
    """The throw that is closed on the common in the first position of the control."""
    for section in switch.sections:
        for group in section.groups[0]:
            if lugs[0] in group:
                return next((lug for lug in lugs[1:] if lug in group), None)
    return None


def _legend(circuit: Circuit) -> Iterator[str]:
    """Which position closes what; the drawing shows the first."""
    for switch in circuit.switches:
        positions = circuit.spec.controls[switch.control].positions
        if switch.throw_at is None:
            said = "; ".join(f"{name}: {_closed_in(switch, n)}" for n, name in enumerate(positions))
        else:
            throws = zip(switch.throw_at, positions, strict=True)
            said = ", ".join(f"{'none' if at is None else at} {name}" for at, name in throws)
        yield f"{switch.name}: {said}. Drawn at {positions[0]}."


def _closed_in(switch: Switch, position: int) -> str:
    groups = [group for section in switch.sections for group in section.groups[position]]
    return ", ".join("–".join(group) for group in groups) or "none"


# Placing --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Manner:
    """One way of placing parts; which reads best is seen when the lines are drawn."""

    outward: bool = True
    """What leads on goes before what ends at chassis."""
    gap: int = 5
    """Columns from the lanes of a throw to a divider."""
    level: int = 2
    """What a row up or down costs a part that lies, in columns outwards."""


_OTHERWISE: tuple[Mapping[str, Any], ...] = (
    {"level": 1}, {"outward": False, "gap": 8}, {"outward": True, "gap": 9, "level": 2},
)  # fmt: skip
"""What is tried, one after the other, and kept where it reads better."""


@dataclass
class _Board:
    """One drawing while it is laid out, on a raster of ``GRID`` mm."""

    sheet: _Sheet
    manner: _Manner = _Manner()
    placed: list[tuple[Element, Node]] = field(default_factory=list)
    taken: set[Node] = field(default_factory=set)
    ports: dict[int, list[tuple[str, Port]]] = field(default_factory=dict)
    at: dict[int, tuple[int, list[Node]]] = field(default_factory=dict)
    """Net → the side it is on, and the places where parts may join it."""
    named: set[str] = field(default_factory=set)
    """Points that stand in a divider."""
    blades: dict[str, list[XY]] = field(default_factory=dict)
    """Switch → where the line of its gang meets its blades, from the top."""
    numbers: dict[int, int] = field(default_factory=dict)
    """Net that is told by a number → the number."""
    own: int = 0

    def put(self, element: Element, wishes: Sequence[Node], side: int = 0, level: int = 1) -> Node:
        """Place an element as near to one of some places as there is room.

        A row up or down costs ``level`` times what a column costs.
        """
        cells, own = element.cells(_FREE), element.cells(0)
        here = next(
            (x, y) for x, y in _around(wishes, side, level)
            if not any((dx + x, dy + y) in self.taken for dx, dy in cells)
        )  # fmt: skip
        self.placed.append((element, here))
        self.taken.update((dx + here[0], dy + here[1]) for dx, dy in own)
        for spot in element.ports:
            node = (spot.at[0] + here[0], spot.at[1] + here[1])
            self.ports.setdefault(spot.net, []).append((spot.terminal, Port(node, spot.out)))
        return here

    def fresh(self) -> int:
        """A number for a net that is drawn apart."""
        self.own -= 1
        return self.own


def _around(wishes: Sequence[Node], side: int, level: int) -> Iterator[Node]:
    """Spots from the wished ones on, nearest first; a side looks only away from the switch."""
    for far in range(2000):
        for down in range(far // level + 1):
            across = far - level * down
            for x, y in wishes:
                for dx in sorted({across * side} if side else {across, -across}):
                    for dy in sorted({down, -down}, reverse=True):
                        yield x + dx, y + dy


def _block(sheet: _Sheet, members: tuple[list[Row], list[Part]], numbers: dict[int, int]) -> Panel:
    """One drawing; a net that no line can join is told by its number instead, at each place.

    ``numbers`` holds those of the whole sheet, and takes the new ones.
    """
    while True:
        best = _attempt(sheet, members, numbers, _Manner())
        for change in _OTHERWISE:
            other = _attempt(sheet, members, numbers, replace(best[0].manner, **change))
            best = min(best, other, key=lambda one: _cost(*one))
        board, drawn, missed = best
        if not missed:
            numbers |= board.numbers
            return _painted(board, drawn)
        for net in dict(missed):
            numbers.setdefault(net, len(numbers))


_Attempt = tuple[_Board, dict[int, Drawn], list[tuple[int, Port]]]


def _attempt(
    sheet: _Sheet,
    members: tuple[list[Row], list[Part]],
    numbers: Mapping[int, int],
    manner: _Manner,
) -> _Attempt:
    """Everything placed in one manner, the lines, and what they do not reach."""
    board = _laid_out(sheet, members, manner)
    board.numbers |= numbers
    for net, found in list(board.ports.items()):
        if _spread_of(found) > _FARTHEST:
            board.numbers.setdefault(net, len(board.numbers))
        if net in board.numbers:
            _put_flags(board, net, board.numbers[net])
    return board, *_lines(board)


def _cost(
    board: _Board, drawn: Mapping[int, Drawn], missed: Sequence[tuple[int, Port]]
) -> tuple[int, int]:
    """What is not reached; then length and bends of the lines and the size of the drawing."""
    courses = [course for lines in drawn.values() for course in lines.courses]
    pieces = [piece for course in courses for piece in pairwise(course)]
    long = sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pieces)
    xs, ys = [x for x, _ in board.taken], [y for _, y in board.taken]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    size = _SIZE * (wide + high) + _TOO_WIDE * max(0, wide + 1 - int(board.sheet.width / GRID))
    return len(missed), long + _BEND * (len(pieces) - len(courses)) + size


def _laid_out(sheet: _Sheet, members: tuple[list[Row], list[Part]], manner: _Manner) -> _Board:
    """Poles under each other, then everything they lead to."""
    rows, parts = members
    board, y = _Board(sheet, manner), 0
    for row in rows:
        y = _put_row(board, row, y) + _BETWEEN_ROWS
    left = _put_dividers(board, parts)
    _spread(board, left)
    _put_points(board)
    return board


def _spread_of(found: Sequence[tuple[str, Port]]) -> int:
    """Columns and rows that the places of a net are apart."""
    xs, ys = [p.at[0] for _, p in found], [p.at[1] for _, p in found]
    return max(xs) - min(xs) + max(ys) - min(ys)


def _put_flags(board: _Board, net: int, number: int) -> None:
    """The number of a net at each of its places, each drawn on its own."""
    for terminal, port in board.ports.pop(net, []):
        own = board.fresh()
        board.ports[own] = [(terminal, port)]
        x, y = port.at[0] + 3 * port.out[0], port.at[1] + 3 * port.out[1]
        board.put(flag(number, own, port.out), [(x, y)])


def _put_row(board: _Board, row: Row, y: int) -> int:
    """A pole; returns its lowest row."""
    element = row_element(row, board.sheet.chassis)
    _, y = board.put(element, [(0, y + n) for n in range(40)])
    if len(row.lugs) > 1:
        x, down = on_blade(row)
        board.blades.setdefault(row.switch.name, []).append((x, down + y * GRID))
    for spot in element.ports:
        side = spot.out[0]
        if side == _LEFT and spot.net in board.at:
            continue
        if side == _RIGHT and board.at.get(spot.net, (_RIGHT,))[0] == _LEFT:
            del board.at[spot.net]
        beside = row.label_columns(row.nets.index(spot.net)) + (_LANES if side == _RIGHT else 0)
        anchor = (spot.at[0] + side * beside, y + spot.at[1])
        board.at.setdefault(spot.net, (side, []))[1].append(anchor)
    return y + element.rows


def _put_dividers(board: _Board, parts: Sequence[Part]) -> list[Part]:
    """Parts in series from a point down to a net, upright; returns the parts left over."""
    left = {part.name: part for part in parts}
    for point in board.sheet.circuit.spec.points.values():
        divider = _divider_from(board, point, left)
        if divider is None:
            continue
        net = divider.tap
        side, anchors = board.at.get(net, (_RIGHT, [(_THROW + 2, 0)]))
        element = divider_element(divider, side)
        top = min((y for _, y in board.taken), default=0)
        tap = element.ports[0].at[1]
        wishes = [(x + board.manner.gap * side, max(y - tap, top)) for x, y in anchors]
        x, y = board.put(element, wishes, side)
        board.at.setdefault(net, (side, [(x, y + tap)]))
        board.named |= {point.name, *([divider.tap_point.name] if divider.tap_point else [])}
        for part in (*divider.chain, divider.lower):
            if part is not None:
                del left[part.name]
    return list(left.values())


def _divider_from(board: _Board, point: Point, parts: Mapping[str, Part]) -> Divider | None:
    """The parts in series from a point to the first net that something else is on.

    None where there is one part alone and nothing from there to chassis.
    """
    sheet = board.sheet
    of, on_net = sheet.circuit.nets.of, sheet.terminals_on
    nets, chain = [of[point.name]], list[Part]()
    if nets[0] in sheet.chassis or len(on_net[nets[0]]) != 2:
        return None
    while True:
        there = [t for t in on_net[nets[-1]] if t.partition(".")[0] in parts]
        nexts = [parts[t.partition(".")[0]] for t in there]
        nexts = [p for p in nexts if p not in chain and len(p.full_terminals) == 2]
        if len(nexts) != 1 or nexts[0].shows_readings:
            return None
        ends = [of[t] for t in nexts[0].full_terminals]
        chain.append(nexts[0])
        nets.append(ends[0] if ends[1] == nets[-1] else ends[1])
        if len(on_net[nets[-1]]) != 2 or nets[-1] in board.at or nets[-1] in sheet.chassis:
            break
    if nets[-1] in sheet.chassis or nets[-1] in nets[:-1]:
        return None
    points = [sheet.circuit.spec.points[m] for m in on_net[nets[-1]]
              if m in sheet.circuit.spec.points]  # fmt: skip
    lowers = [p for p in parts.values() if p not in chain and not p.shows_readings
              and len(p.full_terminals) == 2
              and {of[t] for t in p.full_terminals} - sheet.chassis == {nets[-1]}
              and {of[t] for t in p.full_terminals} & sheet.chassis]  # fmt: skip
    if len(chain) < 2 and not lowers:
        return None
    lower, named = next(iter(lowers), None), points[0] if len(points) == 1 else None
    used = 1 + (lower is not None) + (named is not None)
    value = {p.name: sheet.said(p) for p in (*chain, *lowers)}
    goes_on = len(on_net[nets[-1]]) > used
    first = {p.name: of[p.full_terminals[0]] for p in (*chain, *lowers)}
    return Divider(point, tuple(chain), tuple(nets), lower, named, value, first, goes_on)


def _spread(board: _Board, parts: Sequence[Part]) -> None:
    """Place parts from the switch outwards; meters last."""
    waiting = list(parts)
    while waiting:
        reached = [p for p in waiting if any(n in board.at for n in _nets(board, p))]
        plain = [p for p in reached if not p.shows_readings] or reached
        if not plain:
            _seed(board, waiting[0])
        part = min(plain or waiting[:1], key=lambda p: (_rank(board, p), waiting.index(p)))
        waiting.remove(part)
        _put_part(board, part)


def _nets(board: _Board, part: Part) -> list[int]:
    """Its nets but chassis, each once."""
    of = board.sheet.circuit.nets.of
    found = dict.fromkeys(of[t] for t in part.full_terminals)
    return [net for net in found if net not in board.sheet.chassis]


def _rank(board: _Board, part: Part) -> tuple[int, int]:
    """How far from the switch the part begins; what ends at chassis first."""
    nets = _nets(board, part)
    known = [board.at[net] for net in nets if net in board.at]
    far = [abs(x - (_THROW if side == _RIGHT else 0)) for side, at in known for x, _ in at]
    near = min(far, default=0)
    return (-len(nets), near) if board.manner.outward else (near, len(nets))


def _seed(board: _Board, part: Part) -> None:
    """A first place for a drawing, or a piece of it, that no switch leads to."""
    bottom = max((y for _, y in board.taken), default=0)
    for net in _nets(board, part)[:1]:
        board.at[net] = (_RIGHT, [(_THROW + 2, bottom + 4)])


def _put_part(board: _Board, part: Part) -> None:
    """A part: lying on its way outwards, standing to chassis or between two known nets."""
    of = board.sheet.circuit.nets.of
    ends = [of[t] for t in part.full_terminals]
    known = [net for net in _nets(board, part) if net in board.at]
    new = [net for net in _nets(board, part) if net not in board.at]
    value = board.sheet.said(part)
    if not (known and new):
        _put_standing(board, part, value, ends)
        return
    side, anchors = board.at[known[0]]
    first = ends.index(known[0])
    nets = [board.fresh() if net in board.sheet.chassis else net for net in ends]
    element = lying(part, value, nets, flip=(first != 0) == (side == _RIGHT))
    inner = element.ports[first].at
    wishes = [(x + 2 * side - inner[0], y - inner[1]) for x, y in anchors]
    here = board.put(element, wishes, side, board.manner.level)
    for net in new:
        spot = max((p for p in element.ports if p.net == net), key=lambda p: side * p.at[0])
        board.at[net] = (side, [(here[0] + spot.at[0], here[1] + spot.at[1])])
    for spot in element.ports:
        if spot.net < 0:
            x, y = here[0] + spot.at[0], here[1] + spot.at[1]
            board.put(chassis(spot.net), [(x + 2 * spot.out[0], y + 2)])


def _put_standing(board: _Board, part: Part, value: Said, ends: Sequence[int]) -> None:
    """A part upright: its upper end is the net that is higher up, chassis is below."""
    earth = board.sheet.chassis
    heights = [
        10_000 if net in earth else min((y for _, y in board.at[net][1]), default=0) for net in ends
    ]
    element = standing(part, value, ends, earth, flip=heights[0] > heights[-1])
    sides = [board.at[net] for net in dict.fromkeys(ends) if net not in earth]
    side = min((one for one, _ in sides), default=_RIGHT)
    if len(sides) < 2:
        anchors = [at for _, places in sides for at in places] or [(_THROW, 0)]
        board.put(element, [(x + 2 * side, y + 2) for x, y in anchors], side)
        return
    reach = [x for one, places in sides if one == side for x, _ in places]
    middle = sum(sum(y for _, y in places) / len(places) for _, places in sides) / len(sides)
    x = (max(reach) if side == _RIGHT else min(reach)) + 4 * side
    board.put(element, [(x, round(middle - element.rows / 2))], side)


def _put_points(board: _Board) -> None:
    """The points of the set that nets lead to; those on chassis have its symbol."""
    circuit = board.sheet.circuit
    for net, (side, anchors) in list(board.at.items()):
        for name in circuit.nets.members[net]:
            point = circuit.spec.points.get(name)
            if point is not None and not point.chassis and name not in board.named:
                wishes = [(x + far * side, y) for far in (2, 4) for x, y in anchors]
                board.put(point_element(point, net, side), wishes, side)


def _earthed_points(sheet: _Sheet) -> Iterator[Panel]:
    """Points that are no chassis by name but joined to it: each a drawing of its own."""
    of = sheet.circuit.nets.of
    for point in sheet.circuit.spec.points.values():
        if not point.chassis and of[point.name] in sheet.chassis:
            board = _Board(sheet)
            net = board.fresh()
            board.put(point_element(point, net, _RIGHT), [(0, 0)])
            board.put(chassis(net), [(-3, 1)])
            yield _painted(board, _lines(board)[0])


def _points_joined(sheet: _Sheet) -> Iterator[Panel]:
    """Points that are joined to each other and to no part: a drawing for each such net."""
    drawn = {net for nets in sheet._nets().values() for net in nets} | sheet.chassis
    found: dict[int, list[Point]] = {}
    for point in sheet.circuit.spec.points.values():
        found.setdefault(sheet.circuit.nets.of[point.name], []).append(point)
    for net, points in found.items():
        if net not in drawn and len(points) > 1:
            board = _Board(sheet)
            for number, point in enumerate(points):
                board.put(point_element(point, net, _RIGHT), [(0, 5 * number)])
            yield _painted(board, _lines(board)[0])


# Painting -------------------------------------------------------------------------------


def _lines(board: _Board) -> tuple[dict[int, Drawn], list[tuple[int, Port]]]:
    """Lines of all nets round the symbols, and the ports that none reaches."""
    shut = {node for element, at in board.placed for node in element.shut(at)}
    ports = {n: [port for _, port in found] for n, found in board.ports.items() if len(found) > 1}
    for port in (port for found in ports.values() for port in found):
        shut -= {port.at, (port.at[0] + port.out[0], port.at[1] + port.out[1])}
    xs, ys = [x for x, _ in board.taken], [y for _, y in board.taken]
    area = (min(xs) - _EDGE, min(ys) - _EDGE, max(xs) + _EDGE, max(ys) + _EDGE)
    return routed(ports, shut, area)


def _painted(board: _Board, drawn: Mapping[int, Drawn]) -> Panel:
    """Lines, then symbols at their places."""
    items: list[Item] = []
    for net, lines in drawn.items():
        joins = tuple(terminal for terminal, _ in board.ports[net])
        for course in lines.courses:
            points = tuple((x * GRID, y * GRID) for x, y in course)
            items.append(Line(points, f"net:{net}", str(net), joins, width=0.3))
        items += (joint(node, net) for node in sorted(lines.joints))
    for element, at in board.placed:
        items += (item.moved(at[0] * GRID, at[1] * GRID) for item in element.items)
    items += (gang(name, blades) for name, blades in board.blades.items() if len(blades) > 1)
    box = hull(item.box for item in items).grown(0.5)
    moved = tuple(item.moved(-box.left, -box.top) for item in items)
    return Panel(moved, box.width, box.height)


def _packed(blocks: Iterable[Panel], width: float) -> Panel:
    """Drawings in rows: each at the end of the first row that has the width, else below."""
    rows: list[list[Panel]] = []
    for block in blocks:
        for row in rows:
            if sum(one.width + _BLOCKS * GRID for one in row) + block.width <= width:
                row.append(block)
                break
        else:
            rows.append([block])
    items: list[Item] = []
    y = wide = 0.0
    for row in rows:
        x = 0.0
        for block in row:
            items += block.moved(x, y).items
            x += block.width + _BLOCKS * GRID
        wide, y = max(wide, x - _BLOCKS * GRID), y + max(one.height for one in row) + _BLOCKS * GRID
    return Panel(tuple(items), wide, max(0.0, y - _BLOCKS * GRID))
