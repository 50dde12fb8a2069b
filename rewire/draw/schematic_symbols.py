"""Symbols of the circuit with their words and the spots where lines come to them.

Everything lies on a raster of ``GRID`` mm about an origin of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from rewire.draw.diagram import DrawnNet, DrawnPart, DrawnPole, Fate
from rewire.draw.net_routing import Node
from rewire.draw.scene import (
    XY,
    Box,
    Dash,
    Drawn,
    Line,
    Symbol,
    Text,
    around,
    ascent_mm,
    line_mm,
    middle_baseline,
    text_at,
)
from rewire.draw.schematic_words import (
    POINTS,
    Word,
    contact_words,
    run,
    wide,
    words_beside,
    words_over,
)
from rewire.records.spec import Point
from rewire.words.quantity import with_unit

GRID = 2.0
"""From one line of the raster to the next, mm."""
_EARTH = 2.8
"""Height of the chassis symbol, mm."""
_PITCH = 3
"""Rows of the raster from one throw to the next."""
_ACROSS = 4
"""Columns from common to throws."""
_CONTACT, _OVER = 1.5, 1.3
GANG = 2.5
"""Columns from a common to the line of its gang."""
MOVER = 2
"""Height of a coil or a plug, rows."""
_SIZES = {
    "resistor": (4, 3.0), "rheostat": (4, 5.0), "meter": (4, 8.0), "lamp": (3, 6.0),
    "fuse": (4, 3.0), "choke": (5, 3.0), "capacitor": (2, 5.0), "diode": (3, 4.6),
    "pot": (4, 8.0), "current": (4, 8.0), "voltage": (4, 8.0),
}  # fmt: skip
"""Kind of symbol → its length in columns and its width, mm."""
_POINTED = ("diode", "current")
"""These say themselves which way round they are."""
_Style = tuple[float, Dash, float]
_LINES: Mapping[Fate, _Style] = {
    "stays": (0.3, "solid", 0.0), "new": (0.7, "solid", 0.0), "goes": (0.3, "dashed", 0.45),
}  # fmt: skip
_SYMBOLS: Mapping[Fate, _Style] = {
    "stays": (0.35, "solid", 0.0), "new": (0.75, "solid", 0.0), "goes": (0.35, "dashed", 0.45),
}  # fmt: skip
"""Width in mm, dash and grey of what stays, is new, goes."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a net comes to a symbol: the node, the way out, the terminal and the net."""

    terminal: str
    net: DrawnNet
    at: Node
    out: Node


@dataclass(frozen=True)
class Element:
    """A symbol with its words."""

    items: tuple[Drawn, ...]
    ports: tuple[Spot, ...]
    closed_to_lines: tuple[Box, ...] = ()

    @cached_property
    def _covered(self) -> frozenset[Node]:
        boxes = (i.box.grown(0.5 if isinstance(i, Text) else 0.7) for i in self.items)
        return frozenset(n for box in (*boxes, *self.closed_to_lines) for n in _nodes(box))

    @cached_property
    def _wanted(self) -> frozenset[Node]:
        """What it covers, and two steps out of every port."""
        ways = (
            (p.at[0] + n * p.out[0], p.at[1] + n * p.out[1]) for p in self.ports for n in (0, 1, 2)
        )
        return self._covered | frozenset(ways)

    @property
    def rows(self) -> int:
        """Rows of the raster from its origin down."""
        return max(y for _, y in self._covered)

    def shut(self, at: Node) -> set[Node]:
        """Nodes on which it lies."""
        return {(x + at[0], y + at[1]) for x, y in self._covered}

    def cells(self, room: int) -> frozenset[Node]:
        """Nodes about its origin that it wants to itself, ``room`` more on every side."""
        near = range(-room, room + 1)
        return frozenset((x + dx, y + dy) for x, y in self._wanted for dx in near for dy in near)


def _nodes(box: Box) -> Iterator[Node]:
    for x in range(math.ceil(box.left / GRID), math.floor(box.right / GRID) + 1):
        for y in range(math.ceil(box.top / GRID), math.floor(box.bottom / GRID) + 1):
            yield x, y


def line(net: DrawnNet, points: Sequence[XY], joins: Sequence[str], fate: Fate) -> Line:
    """A line of a net."""
    width, dash, grey = _LINES[fate]
    return Line(tuple(points), f"net:{net.own}", net.own, tuple(joins), width, dash, grey)


def _symbol(kind: str, box: Box, shows: str, net: DrawnNet, fate: Fate) -> Symbol:
    width, dash, grey = _SYMBOLS[fate]
    return Symbol(kind, box, shows, net.own, width, dash, grey=grey)


def _contact(at: XY, shows: str, net: DrawnNet, fate: Fate) -> Symbol:
    """The small disc of a contact."""
    disc = _symbol("contact", around(at, _CONTACT, _CONTACT), shows, net, fate)
    return replace(disc, width=0.6 if fate == "new" else 0.3, dash="solid")


# Poles ----------------------------------------------------------------------------------


def label_columns(row: DrawnPole, number: int) -> int:
    """Columns a label takes beside its contact."""
    return math.ceil((wide(contact_words(row, number)) + 2.2) / GRID)


def row_element(row: DrawnPole) -> Element:
    """Contacts, blade and lugs' names; the common at the left; chassis where it is.

    A lug that nothing is ever closed on is a contact alone.

    Throws beside each other that are on chassis share its symbol.
    """
    middle = round(_PITCH * max(0, len(row.lugs) - 2) / 2)
    items: list[Drawn] = []
    ports: list[Spot] = []
    for number, net in enumerate(row.nets):
        x, y = (0, middle) if number == 0 else (_ACROSS, _PITCH * (number - 1))
        side = -1 if number == 0 else 1
        shows, spot = _lug(row, number), (x * GRID, y * GRID)
        items.append(_contact(spot, shows, net, row.fate))
        words = contact_words(row, number)
        align = "right" if number == 0 else "left"
        items += run(words, (spot[0] + side * 1.3, spot[1] - _OVER), align, shows)
        if net.chassis:
            items += _earthed(row, number, spot)
        else:
            ports.append(Spot(shows, net, (x, y), (side, 0)))
    if len(row.lugs) < 2:
        return Element(tuple(items), tuple(ports))
    items.append(_blade(row, middle * GRID))
    inside = Box(0.0, 0.0, _ACROSS * GRID, _PITCH * GRID * (len(row.lugs) - 2))
    return Element(tuple(items), tuple(ports), (inside,))


def _lug(row: DrawnPole, number: int) -> str:
    """What a contact stands for."""
    name = row.switch.terminal(row.lugs[number][0])
    return f"{'gone' if row.fate == 'goes' else 'lug'}:{name}"


def _earthed(row: DrawnPole, number: int, spot: XY) -> Iterator[Drawn]:
    """A lug's line to chassis, or down to the next lug's line."""
    net, nets, shows = row.nets[number], row.nets, _lug(row, number)
    goes_on = number > 0 and nets[number + 1 : number + 2] == (net,)
    throws = range(1, len(row.lugs)) if number else (0,)
    column = (max(label_columns(row, n) for n in throws) + 1) * GRID
    x, y = spot[0] + (column if number else -column), spot[1]
    points = (spot, (x, y), (x, y + _PITCH * GRID))[: 3 if goes_on else 2]
    yield line(net, points, [shows], net.fate)
    if number > 1 and nets[number - 1] == net:
        yield _dot((x, y), net, net.fate)
    if not goes_on:
        yield _ground(x, y, net)


def _ground(x: float, y: float, net: DrawnNet) -> Symbol:
    """The chassis symbol under a place."""
    box = Box(x - 2.0, y, x + 2.0, y + _EARTH)
    grey = _LINES[net.fate][2]
    return Symbol("chassis", box, f"chassis:{net.own}", net.own, grey=grey)


def gang(name: str, blades: Sequence[XY]) -> Symbol:
    """The dashed line that says that blades move together; it joins nothing."""
    x, top, bottom = blades[0][0], blades[0][1], blades[-1][1]
    return Symbol("gang", Box(x, top, x, bottom), f"gang:{name}", width=0.25, dash="dashed",
                  fill=None, grey=0.45, backdrop=True)  # fmt: skip


def mover_element(row: DrawnPole) -> Element:
    """What throws the contacts of a relay or jack: over its gang, which begins at its foot."""
    kind, wide, said = ("relay-coil", 10.0, "coil") if row.switch.relay else ("plug", 8.0, "plug")
    width, dash, grey = _SYMBOLS[row.fate]
    x, shows = GANG * GRID, f"mover:{row.switch.name}"
    box = Box(x - wide / 2, 0.0, x + wide / 2, MOVER * GRID)
    symbol = Symbol(kind, box, shows, width=width, dash=dash, grey=grey)
    word = Word(f"{row.switch.name} {said}", True, struck=row.fate == "goes")
    at = (box.right + 1.2, middle_baseline(box.centre[1], POINTS))
    return Element((symbol, *run([word], at, "left", shows)), ())


def on_blade(row: DrawnPole) -> XY:
    """Where the line of its gang meets a blade: between two columns, so that no net runs along."""
    middle = round(_PITCH * (len(row.lugs) - 2) / 2) * GRID
    box = _blade(row, middle).box
    x = GANG * GRID
    part = (x - box.left) / box.width
    if box.height < 1.0:
        return x, middle
    end = box.top if box.top < middle - 0.1 else box.bottom
    return x, middle + (end - middle) * part


def _blade(row: DrawnPole, y: float) -> Symbol:
    """The blade from the common to the throw it stands on; lifted where it stands on none."""
    left, right = _CONTACT / 2, _ACROSS * GRID - _CONTACT / 2
    shows = f"blade:{row.switch.terminal(row.lugs[0][0])}"
    end = y - 3.0 if row.closed is None else _PITCH * GRID * (row.closed - 1)
    right = right if row.closed is not None else right - 1.5
    kind, box = "blade-level", Box(left, y - 0.3, right, y + 0.3)
    if abs(end - y) > 1e-6:
        kind = "blade-rising" if end < y else "blade-falling"
        box = Box(left, min(y, end), right, max(y, end))
    _, dash, grey = _SYMBOLS[row.fate]
    return Symbol(kind, box, shows, width=0.6, dash=dash, grey=grey)


# Parts ----------------------------------------------------------------------------------


def lying(piece: DrawnPart, *, flip: bool) -> Element:
    """A part on its side; flipped, its first terminal is at the right. A wiper comes from above."""
    shows = piece.shows
    kind = piece.symbol if piece.symbol in _SIZES else "resistor"
    long, broad = _SIZES[kind]
    box = Box(0.0, -broad / 2, long * GRID, broad / 2)
    spots: list[tuple[Node, Node]] = [((0, 0), (-1, 0)), ((long, 0), (1, 0))]
    if flip:
        spots.reverse()
    if len(piece.nets) == 3:
        spots.insert(1, ((long // 2, -2), (0, -1)))
    turned = "-up" if flip and kind in _POINTED else ""
    name = f"{kind}{turned}-lying"
    items: list[Drawn] = [_symbol(name, box, shows, piece.nets[0], piece.said.fate)]
    items += [*words_over(piece, box, flip=flip), *_clips(piece, box)]
    items += _sign(piece, box)
    if kind == "pot":
        items += _mark(piece, "cw", (0.0 if flip else box.right, -2.3), "centre")
    if piece.polar and kind not in _POINTED:
        y = 0.9 + ascent_mm(POINTS)
        for x, negative in ((-1.4, flip), (box.right + 1.4, not flip)):
            items += _mark(piece, "−" if negative else "+", (x, y), "centre")
    return Element(tuple(items), _spots(piece, spots))


def standing(piece: DrawnPart, *, flip: bool) -> Element:
    """A part upright; flipped, its first terminal is below. An end on chassis has its symbol."""
    shows = piece.shows
    kind = piece.symbol if piece.symbol in _SIZES else "resistor"
    long, broad = _SIZES[kind]
    box = Box(-broad / 2, 0.0, broad / 2, long * GRID)
    spots: list[tuple[Node, Node]] = [((0, 0), (0, -1)), ((0, long), (0, 1))]
    if flip:
        spots.reverse()
    if len(piece.nets) == 3:
        spots.insert(1, ((2, long // 2), (1, 0)))
    turned = "-up" if flip and kind in _POINTED else ""
    items: list[Drawn] = [_symbol(f"{kind}{turned}", box, shows, piece.nets[0], piece.said.fate)]
    items += [*words_beside(piece, box, flip=flip), *_clips(piece, box)]
    items += _sign(piece, box)
    if kind == "pot":
        y = ascent_mm(POINTS) if flip else box.bottom + 1.2
        items += _mark(piece, "cw", (2.2 if flip else 0.8, y), "left")
    if piece.polar and kind not in _POINTED:
        below = box.bottom + 0.4 + ascent_mm(POINTS)
        for y, negative in ((-0.9, flip), (below, not flip)):
            items += _mark(piece, "−" if negative else "+", (2.2, y), "left")
    ports = []
    for spot in _spots(piece, spots):
        if spot.net.chassis:
            items += _grounded(spot, broad / 2 + 3.0)
        else:
            ports.append(spot)
    return Element(tuple(items), tuple(ports))


def _clips(piece: DrawnPart, box: Box) -> Iterator[Symbol]:
    """Where a voltmeter is clipped on: at both ends of a part, below one that lies."""
    if not piece.said.clip:
        return
    lies = box.width > box.height
    for end in (-1, 1):
        x, y = (end * (box.width / 2 + 1.0), 1.3) if lies else (-1.1, end * (box.height / 2 + 1.0))
        place = around((box.centre[0] + x, box.centre[1] + y), 1.4, 1.4)
        kind, shows = "clip" if lies else "clip-right", f"clip:{piece.name}"
        yield _symbol(kind, place, shows, piece.nets[0], "stays")


def _spots(piece: DrawnPart, spots: Sequence[tuple[Node, Node]]) -> tuple[Spot, ...]:
    return tuple(
        Spot(piece.shows, net, at, out) for net, (at, out) in zip(piece.nets, spots, strict=True)
    )


def _mark(piece: DrawnPart, text: str, at: XY, align: str) -> Iterator[Text]:
    """The sign of an end."""
    grey = _SYMBOLS[piece.said.fate][2]
    yield text_at(text, *at, POINTS, align, grey=grey, shows=piece.shows, on=piece.shows)


def _grounded(spot: Spot, beside: float) -> Iterator[Drawn]:
    """Chassis at the end of a part that stands."""
    x, y = spot.at[0] * GRID, spot.at[1] * GRID
    dx, dy = spot.out[0] * 2 * GRID, max(spot.out[1], 0) * GRID
    if spot.out[1] < 0:
        dx, dy = -beside, -GRID
    way = ((x, y), (x, y + dy), (x + dx, y + dy))
    points = way if dx and dy else (way[0], way[2])
    yield line(spot.net, points, [spot.terminal], spot.net.fate)
    yield _ground(*points[-1], spot.net)


def _sign(piece: DrawnPart, box: Box) -> Iterator[Text]:
    """What a meter shows."""
    if piece.letter:
        y = middle_baseline(box.centre[1], POINTS)
        yield from _mark(piece, piece.letter, (box.centre[0], y), "centre")


# Points, chassis, dots ------------------------------------------------------------------


def chassis(net: DrawnNet) -> Element:
    """The chassis symbol, its line coming from above."""
    symbol = _ground(0.0, 0.0, net)
    return Element((symbol,), (Spot(symbol.shows, net, (0, 0), (0, -1)),))


def _most(point: Point) -> str:
    """The highest volts that are told of a point."""
    if point.rises_to is not None:
        return f"up to {with_unit(point.rises_to, 'V')}".replace("-", "−")
    return "" if point.volts is None else with_unit(point.volts, "V").replace("-", "−")


def point_element(point: Point, net: DrawnNet, side: int) -> Element:
    """A place of the set, its name over its volts on the far side of its line."""
    shows = f"point:{point.name}"
    disc = around((0.0, 0.0), _CONTACT, _CONTACT)
    items: list[Drawn] = [Symbol("point", disc, shows, net.own, width=0.3)]
    align = "left" if side > 0 else "right"
    said = _most(point)
    y = -0.2 if said else middle_baseline(0.0, POINTS)
    lines = [(Word(point.name, True), y), (Word(said), line_mm(POINTS) - 0.4)]
    for word, at in lines[: 2 if said else 1]:
        items += run([word], (side * 1.4, at), align, shows)
    return Element(tuple(items), (Spot(shows, net, (0, 0), (-side, 0)),))


def net_flag(words: Sequence[Word], net: DrawnNet, out: Node) -> Element:
    """The number of a net whose places are too far apart for a line; the same wherever it is."""
    shows = f"flag:{net.own}"
    side, align = (1, "left") if (out[0] or 1) > 0 else (-1, "right")
    disc = around((0.0, 0.0), _CONTACT, _CONTACT)
    width, _, grey = _LINES[net.fate]
    items: list[Drawn] = [Symbol("point", disc, shows, net.own, width=width, grey=grey)]
    items += run(words, (side * 1.4, middle_baseline(0.0, POINTS)), align, shows)
    return Element(tuple(items), (Spot(shows, net, (0, 0), (-out[0], -out[1])),))


def joint(node: Node, net: DrawnNet, fate: Fate) -> Symbol:
    """The dot where lines of one net meet."""
    return _dot((node[0] * GRID, node[1] * GRID), net, fate)


def _dot(at: XY, net: DrawnNet, fate: Fate) -> Symbol:
    grey = _LINES[fate][2]
    fill = "black" if not grey else "#737373"
    return Symbol("joint", around(at, 1.0, 1.0), f"joint:{net.own}", net.own, fill=fill, grey=grey)


# Dividers -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Divider:
    """Parts in series from a point of the set down to a tap, and what goes on from there."""

    point: Point
    chain: tuple[DrawnPart, ...]
    nets: tuple[DrawnNet, ...]
    """From the point's to the tap's."""
    lower: DrawnPart | None
    """From the tap to chassis."""
    tap_point: Point | None
    goes_on: bool
    """Whether a line leads to the tap."""

    @property
    def tap(self) -> DrawnNet:
        """Its net."""
        return self.nets[-1]

    @property
    def arms(self) -> int:
        """Lines that meet at the tap."""
        return 1 + self.goes_on + (self.lower is not None) + (self.tap_point is not None)


def divider_element(divider: Divider, side: int) -> Element:
    """A divider upright, its supply at the top; the line to its tap comes from the switch."""
    items: list[Drawn] = list(point_element(divider.point, divider.nets[0], 1).items)
    y, above = 0, f"point:{divider.point.name}"
    for piece, (upper, _) in zip(divider.chain, pairwise(divider.nets), strict=True):
        items.append(wire(upper, (0, y), (0, y + 2), above, piece.shows))
        element = standing(piece, flip=piece.nets[0] != upper)
        items += (item.moved(0.0, (y + 2) * GRID) for item in element.items)
        y, above = y + 2 + max(spot.at[1] for spot in element.ports), piece.shows
    tap = y + 2
    items.append(wire(divider.tap, (0, y), (0, tap), above))
    if divider.lower is not None:
        lower = divider.lower
        element = standing(lower, flip=lower.nets[0] != divider.tap)
        items.append(wire(divider.tap, (0, tap), (0, tap + 2), lower.shows))
        items += (item.moved(0.0, (tap + 2) * GRID) for item in element.items)
    if divider.tap_point is not None:
        named = point_element(divider.tap_point, divider.tap, side)
        items += (item.moved(side * 2 * GRID, tap * GRID) for item in named.items)
        items.append(
            wire(divider.tap, (0, tap), (2 * side, tap), f"point:{divider.tap_point.name}")
        )
    if divider.arms > 2:
        items.append(joint((0, tap), divider.tap, "stays"))
    return Element(tuple(items), (Spot(above, divider.tap, (0, tap), (-side, 0)),))


def wire(net: DrawnNet, start: Node, end: Node, *joins: str) -> Line:
    """A straight line of a net."""
    return line(net, [(x * GRID, y * GRID) for x, y in (start, end)], joins, net.fate)
