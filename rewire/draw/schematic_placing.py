"""Where the symbols of a circuit stand.

Poles stand under each other, commons at the left of their throws. What hangs between commons
stands further left, what the throws lead to further right, each part one column beyond the net it
is reached over (layers after Sugiyama, Tagawa and Toda, IEEE Trans. SMC 11, 1981, here found
breadth first from the switch). Chassis is drawn where it is used.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rewire.draw.diagram import Diagram, DrawnNet, DrawnPart, DrawnPole, Member
from rewire.draw.net_routing import Node, Port
from rewire.draw.scene import XY, Drawn
from rewire.draw.schematic_symbols import (
    GANG,
    GRID,
    MOVER,
    Divider,
    Element,
    Spot,
    chassis,
    divider_element,
    joint,
    label_columns,
    lying,
    mover_element,
    on_blade,
    point_element,
    row_element,
    standing,
    wire,
)
from rewire.records.spec import Point

LEFT, RIGHT = -1, 1
_THROW = 4
"""Columns from a common to its throws."""
_LEAD = 1
"""Rows of wire over and under each part."""
_BESIDE = 3
"""Columns from the words of the resistors to the meter."""
_LANES = 3
"""Columns kept free beside the throws for lines that run up and down."""
_BETWEEN_ROWS = 4
"""Rows kept free between poles, for lines."""


@dataclass(frozen=True, slots=True)
class Manner:
    """One way of placing parts; which reads best is seen when the lines are drawn."""

    outward: bool = True
    """What leads on goes before what ends at chassis."""
    gap: int = 5
    """Columns from the lanes of a throw to a divider."""
    level: int = 2
    """What a row up or down costs a part that lies, in columns outwards."""
    free: int = 1
    """Rows and columns kept free round everything, for lines."""


@dataclass
class Board:
    """One drawing while it is laid out, on a raster of ``GRID`` mm."""

    diagram: Diagram
    manner: Manner = Manner()
    placed: list[tuple[Element, Node]] = field(default_factory=list)
    taken: set[Node] = field(default_factory=set)
    ports: dict[DrawnNet, list[Port]] = field(default_factory=dict)
    at: dict[int, tuple[int, list[Node]]] = field(default_factory=dict)
    """Place of nets → the side it is on, and the places where parts may join it."""
    named: set[str] = field(default_factory=set)
    """Points that stand in a divider."""
    blades: dict[str, list[XY]] = field(default_factory=dict)
    """Switch → where the line of its gang meets its blades, from the top."""
    grounds: dict[DrawnNet, list[DrawnNet]] = field(default_factory=dict)
    """Net that is chassis only before or only after → chassis symbols of its own."""
    own: int = 0

    def put(self, element: Element, wishes: Sequence[Node], side: int = 0, level: int = 1) -> Node:
        """Place an element as near to one of some places as there is room.

        A row up or down costs ``level`` times what a column costs.
        """
        cells, own = element.cells(self.manner.free), element.cells(0)
        here = next(
            (x, y) for x, y in _around(wishes, side, level)
            if not any((dx + x, dy + y) in self.taken for dx, dy in cells)
        )  # fmt: skip
        self.placed.append((element, here))
        self.taken.update((dx + here[0], dy + here[1]) for dx, dy in own)
        for spot in element.ports:
            node = (spot.at[0] + here[0], spot.at[1] + here[1])
            self.ports.setdefault(spot.net, []).append(Port(node, spot.out, spot.terminal))
        return here

    def fresh(self, like: DrawnNet) -> DrawnNet:
        """A net that is drawn apart from all others, in the look of one of them."""
        self.own -= 1
        return replace(like, group=self.own, place=self.own)


def _around(wishes: Sequence[Node], side: int, level: int) -> Iterator[Node]:
    """Spots from the wished ones on, nearest first; a side looks only away from the switch."""
    for far in range(2000):
        for down in range(far // level + 1):
            across = far - level * down
            for x, y in wishes:
                for dx in sorted({across * side} if side else {across, -across}):
                    for dy in sorted({down, -down}, reverse=True):
                        yield x + dx, y + dy


def laid_out(diagram: Diagram, members: Sequence[Member], manner: Manner) -> Board:
    """Poles under each other, then everything they lead to."""
    board, y = Board(diagram, manner), 0
    for row in (member for member in members if isinstance(member, DrawnPole)):
        y = _put_row(board, row, y) + _BETWEEN_ROWS
    left = _put_ladders(board, [piece for piece in members if isinstance(piece, DrawnPart)])
    left = _put_dividers(board, left)
    _spread(board, left)
    _put_points(board)
    put_grounds(board)
    return board


def _put_row(board: Board, row: DrawnPole, y: int) -> int:
    """A pole, over the first of a relay or jack what moves them; returns its lowest row."""
    if row.switch.style in ("relay", "jack") and row is _first_of(board.diagram, row):
        _, y = board.put(mover_element(row), [(0, y + n) for n in range(40)])
        y += MOVER
        board.blades[row.switch.name] = [(GANG * GRID, y * GRID)]
    element = row_element(row)
    _, y = board.put(element, [(0, y + n) for n in range(40)])
    if len(row.lugs) > 1:
        x, down = on_blade(row)
        board.blades.setdefault(row.switch.name, []).append((x, down + y * GRID))
    for spot in element.ports:
        side, place = spot.out[0], spot.net.place
        if side == LEFT and place in board.at:
            continue
        if side == RIGHT and board.at.get(place, (RIGHT,))[0] == LEFT:
            del board.at[place]
        beside = label_columns(row, row.nets.index(spot.net)) + (_LANES if side == RIGHT else 0)
        anchor = (spot.at[0] + side * beside, y + spot.at[1])
        board.at.setdefault(place, (side, []))[1].append(anchor)
    return y + element.rows


def _first_of(diagram: Diagram, row: DrawnPole) -> DrawnPole:
    """The first pole of its switch that closes anything."""
    return next((r for r in diagram.rows if r.switch is row.switch and len(r.lugs) > 1), row)


def _put_ladders(board: Board, pieces: Sequence[DrawnPart]) -> list[DrawnPart]:
    """Rings of shunts beside the pole that taps them; returns the parts left over."""
    left = list(pieces)
    for ladder in _ladders(board.diagram, pieces):
        if not all(piece in left for piece in (ladder.meter, *ladder.chain)):
            continue
        element = _ladder_element(ladder)
        taps = [(spot.at[1], board.at[spot.net.place][1]) for spot in element.ports
                if spot.net.place in board.at]  # fmt: skip
        far = max(x for _, at in taps for x, _ in at) + board.manner.gap
        down, ((_, first), *_) = taps[0]
        x, y = board.put(element, [(far, first - down)], RIGHT)
        for spot in element.ports:
            board.at.setdefault(spot.net.place, (RIGHT, [(x, y + spot.at[1] + 2)]))
        left = [piece for piece in left if piece not in (ladder.meter, *ladder.chain)]
    return left


# Dividers -------------------------------------------------------------------------------


def _put_dividers(board: Board, pieces: Sequence[DrawnPart]) -> list[DrawnPart]:
    """Parts in series from a point down to a net, upright; returns the parts left over."""
    left = list(pieces)
    for name, net in board.diagram.points.items():
        divider = _divider_from(board, board.diagram.spec.points[name], net, left)
        if divider is None:
            continue
        side, anchors = board.at.get(divider.tap.place, (RIGHT, [(_THROW + 2, 0)]))
        element = divider_element(divider, side)
        top = min((y for _, y in board.taken), default=0)
        tap = element.ports[0].at[1]
        wishes = [(x + board.manner.gap * side, max(y - tap, top)) for x, y in anchors]
        x, y = board.put(element, wishes, side)
        board.at.setdefault(divider.tap.place, (side, [(x, y + tap)]))
        board.named |= {name, *([divider.tap_point.name] if divider.tap_point else [])}
        left = [piece for piece in left if piece not in (*divider.chain, divider.lower)]
    return left


def _divider_from(
    board: Board, point: Point, start: DrawnNet, pieces: Sequence[DrawnPart]
) -> Divider | None:
    """The parts in series from a point to the first net that something else is on.

    None where there is one part alone and nothing from there to chassis.
    """
    on, split = board.diagram.on, board.diagram.split
    nets, chain = [start], list[DrawnPart]()
    while len(nets) < 2 or (len(on[nets[-1].group]) == 2 and nets[-1].place not in board.at):
        here = nets[-1]
        nexts = [p for p in on[here.group] if p in pieces and p not in chain]
        if here.chassis or here.group in split or len(nexts) != 1 or len(on[start.group]) != 2:
            return None
        (piece,) = nexts
        if not isinstance(piece, DrawnPart) or len(piece.nets) != 2 or piece.letter:
            return None
        chain.append(piece)
        nets.append(piece.nets[0] if piece.nets[1] == here else piece.nets[1])
    tap = nets[-1]
    if tap.chassis or tap in nets[:-1] or tap.group in split:
        return None
    points = [m for m in on[tap.group] if isinstance(m, Point)]
    lowers = [p for p in pieces if p not in chain and not p.letter
              and len(p.nets) == 2 and p.members == (tap,)
              and any(net.chassis for net in p.nets)]  # fmt: skip
    if len(chain) < 2 and not lowers:
        return None
    lower, named = next(iter(lowers), None), points[0] if len(points) == 1 else None
    goes_on = len(on[tap.group]) > 1 + (lower is not None) + (named is not None)
    return Divider(point, tuple(chain), tuple(nets), lower, named, goes_on)


# Other parts ----------------------------------------------------------------------------


def _spread(board: Board, pieces: Sequence[DrawnPart]) -> None:
    """Place parts from the switch outwards; meters last."""
    waiting = list(pieces)
    while waiting:
        reached = [p for p in waiting if any(net.place in board.at for net in _ends(p))]
        plain = [p for p in reached if not p.letter] or reached
        if not plain:
            _seed(board, waiting[0])
        piece = min(plain or waiting[:1], key=lambda p: (_rank(board, p), waiting.index(p)))
        waiting.remove(piece)
        _put_part(board, piece)


def _ends(piece: DrawnPart) -> tuple[DrawnNet, ...]:
    """The nets that a part lies between, but what is chassis in the end."""
    return tuple(net for net in piece.members if not net.low)


def _rank(board: Board, piece: DrawnPart) -> tuple[int, int]:
    """How far from the switch the part begins; what ends at chassis first."""
    nets = _ends(piece)
    known = [board.at[net.place] for net in nets if net.place in board.at]
    far = [abs(x - (_THROW if side == RIGHT else 0)) for side, at in known for x, _ in at]
    near = min(far, default=0)
    return (-len(nets), near) if board.manner.outward else (near, len(nets))


def _seed(board: Board, piece: DrawnPart) -> None:
    """A first place for a drawing, or a piece of it, that no switch leads to."""
    bottom = max((y for _, y in board.taken), default=0)
    for net in _ends(piece)[:1]:
        board.at[net.place] = (RIGHT, [(_THROW + 2, bottom + 4)])


def _put_part(board: Board, piece: DrawnPart) -> None:
    """A part: lying on its way outwards, standing to chassis or between two known nets."""
    known = [net for net in _ends(piece) if net.place in board.at]
    new = [net for net in _ends(piece) if net.place not in board.at]
    if not (known and new):
        _put_standing(board, piece)
        return
    side, anchors = board.at[known[0].place]
    first = next(n for n, net in enumerate(piece.nets) if net.place == known[0].place)
    apart = tuple(board.fresh(net) if net.chassis else net for net in piece.nets)
    element = lying(replace(piece, nets=apart), flip=(first != 0) == (side == RIGHT))
    inner = element.ports[first].at
    wishes = [(x + 2 * side - inner[0], y - inner[1]) for x, y in anchors]
    here = board.put(element, wishes, side, board.manner.level)
    for net in new:
        own = (p for p in element.ports if p.net.place == net.place)
        spot = max(own, key=lambda p: side * p.at[0])
        board.at[net.place] = (side, [(here[0] + spot.at[0], here[1] + spot.at[1])])
    for spot in element.ports:
        if spot.net.chassis:
            x, y = here[0] + spot.at[0], here[1] + spot.at[1]
            board.put(chassis(spot.net), [(x + 2 * spot.out[0], y + 2)])


def _put_standing(board: Board, piece: DrawnPart) -> None:
    """A part upright: its upper end is the net that is higher up, chassis is below."""
    heights = [
        10_000 if net.low else min((y for _, y in board.at[net.place][1]), default=0)
        for net in piece.nets
    ]
    element = standing(piece, flip=heights[0] > heights[-1])
    sides = [board.at[net.place] for net in _ends(piece)]
    side = min((one for one, _ in sides), default=RIGHT)
    if len(sides) < 2:
        anchors = [at for _, places in sides for at in places] or [(_THROW, 0)]
        board.put(element, [(x + 2 * side, y + 2) for x, y in anchors], side)
        return
    reach = [x for one, places in sides if one == side for x, _ in places]
    middle = sum(sum(y for _, y in places) / len(places) for _, places in sides) / len(sides)
    x = (max(reach) if side == RIGHT else min(reach)) + 4 * side
    board.put(element, [(x, round(middle - element.rows / 2))], side)


def _put_points(board: Board) -> None:
    """The points of the set that nets lead to; those on chassis have its symbol."""
    for name, net in board.diagram.points.items():
        point = board.diagram.spec.points[name]
        if name in board.named or net.chassis or point.chassis:
            continue
        side, anchors = board.at.get(net.place) or _beside(board, net)
        wishes = [(x + far * side, y) for far in (2, 4) for x, y in anchors]
        if wishes:
            board.put(point_element(point, net, side), wishes, side)


def _beside(board: Board, net: DrawnNet) -> tuple[int, list[Node]]:
    """Where a net comes out of symbols that is not one of those that parts were placed by."""
    near = [port for own, ports in board.ports.items() if own.group == net.group for port in ports]
    return RIGHT, [(p.at[0] + 2 * p.out[0], p.at[1] + 2 * p.out[1]) for p in near]


def put_grounds(board: Board) -> None:
    """Chassis for each net that is on it only before, or only after."""
    for net, ports in list(board.ports.items()):
        for number, on_it in enumerate(net.earth):
            if not on_it or net.chassis:
                continue
            half = replace(net, before=None) if number else replace(net, after=None)
            own = board.fresh(half)
            (x, y), (dx, dy) = ports[0].at, ports[0].out
            board.put(chassis(own), [(x + n * dx, y + n * dy + n // 2) for n in (4, 7)])
            board.grounds.setdefault(net, []).append(own)


# A ring of shunts: one column of resistors that the switch taps, the meter across all of it.
# In each position some are in series with the meter, the others beside both (a universal shunt).


@dataclass(frozen=True, slots=True)
class Ladder:
    """Resistors from the top down, their nets, and the meter across all of them."""

    chain: tuple[DrawnPart, ...]
    nets: tuple[DrawnNet, ...]
    meter: DrawnPart
    tapped: frozenset[DrawnNet]
    """Nets that something else is on."""


def _ladders(diagram: Diagram, pieces: Sequence[DrawnPart]) -> Iterator[Ladder]:
    """Rings of a meter and two resistors or more, with a pole that taps them twice or oftener."""
    for meter in pieces:
        if not meter.letter or len(meter.nets) != 2 or meter.nets[0] == meter.nets[1]:
            continue
        for start, end in (meter.nets, meter.nets[::-1]):
            found = _chain(diagram, pieces, meter, (start, end))
            if found and (row := _tapped(diagram, found.nets)):
                turned = replace(found, chain=found.chain[::-1], nets=found.nets[::-1])
                yield found if _downwards(row, found.nets) else turned
                break


def _chain(
    diagram: Diagram, pieces: Sequence[DrawnPart], meter: DrawnPart, ends: tuple[DrawnNet, DrawnNet]
) -> Ladder | None:
    """The resistors one after another from one end of the meter to the other."""
    nets, chain = [ends[0]], list[DrawnPart]()
    while nets[-1] != ends[1]:
        here = nets[-1]
        nexts = [p for p in pieces if here in p.nets and p not in (meter, *chain)]
        if here.group in diagram.split or here.chassis or len(nexts) != 1:
            return None
        (piece,) = nexts
        if len(piece.nets) != 2 or piece.nets[0] == piece.nets[1] or piece.letter:
            return None
        chain.append(piece)
        nets.append(piece.nets[0] if piece.nets[1] == here else piece.nets[1])
        if nets[-1] in nets[:-1]:
            return None
    whole = len(chain) > 1 and ends[1].group not in diagram.split and not ends[1].chassis
    tapped = frozenset(net for net in nets if len(diagram.on[net.group]) > 2)
    return Ladder(tuple(chain), tuple(nets), meter, tapped) if whole else None


def _tapped(diagram: Diagram, nets: Sequence[DrawnNet]) -> DrawnPole | None:
    """The pole whose throws tap a chain between two of its parts."""
    return next((row for row in diagram.rows
                 if len({net for net in row.nets[1:] if net in nets[1:-1]}) > 1), None)  # fmt: skip


def _downwards(row: DrawnPole, nets: Sequence[DrawnNet]) -> bool:
    """Whether the throws follow each other as the nets do, from the top down."""
    at = [row.nets.index(net) for net in nets if net in row.nets]
    return at[0] < at[-1]


def _ladder_element(ladder: Ladder) -> Element:
    """The resistors under each other, the meter to their right, a way to each net at the left."""
    items: list[Drawn] = []
    levels = [0]
    for piece, (upper, lower) in zip(ladder.chain, pairwise(ladder.nets), strict=True):
        y = levels[-1] + _LEAD
        items.append(wire(upper, (0, levels[-1]), (0, y), piece.shows))
        items += _upright(piece, upper, (0, y))
        foot = y + _length(piece)
        levels.append(foot + _LEAD)
        items.append(wire(lower, (0, foot), (0, levels[-1]), piece.shows))
    meter, (first, *_, last) = ladder.meter, ladder.nets
    across = math.ceil(max(item.box.right for item in items) / GRID) + _BESIDE
    top = (levels[-1] - _length(meter)) // 2
    foot = top + _length(meter)
    for net, level, end in ((first, 0, top), (last, levels[-1], foot)):
        items.append(wire(net, (0, level), (across, level), meter.shows))
        items.append(wire(net, (across, level), (across, end), meter.shows))
    items += _upright(meter, first, (across, top))
    items += (
        joint((0, y), net, net.fate)
        for y, net in zip(levels, ladder.nets, strict=True) if net in ladder.tapped
    )  # fmt: skip
    shows = [ladder.chain[0].shows, *(piece.shows for piece in ladder.chain)]
    return Element(tuple(items), tuple(
        Spot(shown, net, (0, y), (-1, 0))
        for shown, net, y in zip(shows, ladder.nets, levels, strict=True) if net in ladder.tapped
    ))  # fmt: skip


def _length(piece: DrawnPart) -> int:
    return max(spot.at[1] for spot in standing(piece, flip=False).ports)


def _upright(piece: DrawnPart, upper: DrawnNet, at: tuple[int, int]) -> Iterator[Drawn]:
    element = standing(piece, flip=piece.nets[0] != upper)
    yield from (item.moved(at[0] * GRID, at[1] * GRID) for item in element.items)
