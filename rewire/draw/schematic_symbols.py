"""Symbols of the circuit with their words and the spots where lines come to them.

Everything lies on a raster of ``GRID`` mm about an origin of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from rewire.draw.net_routing import Node
from rewire.draw.scene import (
    XY,
    Box,
    Drawn,
    Line,
    Symbol,
    Text,
    around,
    ascent_mm,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
)
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Point
from rewire.records.switches import Switch
from rewire.words.quantity import with_unit

GRID = 2.0
"""From one line of the raster to the next, mm."""
_POINTS = 8.0
_EARTH = 2.8
"""Height of the chassis symbol, mm."""
_PITCH = 3
"""Rows of the raster from one throw to the next."""
_ACROSS = 4
"""Columns from common to throws."""
_CONTACT, _OVER = 1.5, 1.3
_SIZES = {
    "resistor": (4, 3.0), "rheostat": (4, 5.0), "meter": (4, 8.0), "lamp": (3, 6.0),
    "fuse": (4, 3.0), "choke": (5, 3.0), "capacitor": (2, 5.0), "diode": (3, 4.6),
    "pot": (4, 8.0),
}  # fmt: skip
"""Kind of symbol → its length in columns and its width, mm."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a net comes to a symbol: the node, the way out, the terminal and the net."""

    terminal: str
    net: int
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


@dataclass(frozen=True, eq=False)
class Row:
    """A pole of a switch, or several that are soldered lug by lug side by side."""

    switch: Switch
    name: str
    """The switch, where there are several; with a blank behind it."""
    lugs: tuple[tuple[str, ...], ...]
    """The common, then every throw: each with the lugs of the poles side by side."""
    nets: tuple[int, ...]
    closed: str | None
    """The throw on which the common is drawn."""

    def label(self, number: int) -> str:
        """What is written at the common (0) or a throw."""
        said = "∥".join(self.lugs[number])
        return f"{self.name}{said}" if number == 0 else said

    def label_columns(self, number: int) -> int:
        """Columns a label takes beside its contact."""
        wide = width_mm(visible(self.label(number)), _POINTS, number == 0)
        return math.ceil((wide + 2.2) / GRID)


def row_element(row: Row, earth: Set[int]) -> Element:
    """Contacts, blade and lugs' names; the common at the left; chassis where it is.

    A lug that nothing is ever closed on is a contact alone.

    Throws beside each other that are on chassis share its symbol.
    """
    middle = round(_PITCH * max(0, len(row.lugs) - 2) / 2)
    items: list[Drawn] = []
    ports: list[Spot] = []
    for number, lugs in enumerate(row.lugs):
        x, y = (0, middle) if number == 0 else (_ACROSS, _PITCH * (number - 1))
        side, net = (-1 if number == 0 else 1), row.nets[number]
        shows = f"lug:{row.switch.terminal(lugs[0])}"
        spot = (x * GRID, y * GRID)
        items.append(
            Symbol("contact", around(spot, _CONTACT, _CONTACT), shows, str(net), width=0.3)
        )
        items.append(text_at(
            visible(row.label(number)), spot[0] + side * 1.3, spot[1] - _OVER, _POINTS,
            "right" if number == 0 else "left", bold=number == 0, shows=shows, net=str(net),
        ))  # fmt: skip
        if net in earth:
            goes_on = number > 0 and row.nets[number + 1 : number + 2] == (net,)
            items += _earthed(row, number, spot, shows, goes_on)
        else:
            ports.append(Spot(shows, net, (x, y), (side, 0)))
    if len(row.lugs) < 2:
        return Element(tuple(items), tuple(ports))
    items.append(_blade(row, middle * GRID))
    inside = Box(0.0, 0.0, _ACROSS * GRID, _PITCH * GRID * (len(row.lugs) - 2))
    return Element(tuple(items), tuple(ports), (inside,))


def _earthed(row: Row, number: int, spot: XY, shows: str, goes_on: bool) -> Iterator[Drawn]:
    """A lug's line to chassis, or down to the next lug's line."""
    net = str(row.nets[number])
    throws = range(1, len(row.lugs)) if number else (0,)
    column = (max(row.label_columns(n) for n in throws) + 1) * GRID
    x, y = spot[0] + (column if number else -column), spot[1]
    end = (x, y + _PITCH * GRID) if goes_on else (x, y)
    yield Line((spot, (x, y), end)[: 3 if goes_on else 2], f"net:{net}", net, (shows,), width=0.3)
    if number > 1 and row.nets[number - 1] == row.nets[number]:
        yield Symbol("joint", around((x, y), 1.0, 1.0), f"joint:{net}", net, fill="black")
    if goes_on:
        return
    yield Symbol("chassis", Box(x - 2.0, y, x + 2.0, y + _EARTH), f"chassis:{net}", net)


def gang(name: str, blades: Sequence[XY]) -> Symbol:
    """The dashed line that says that blades move together; it joins nothing."""
    x, top, bottom = blades[0][0], blades[0][1], blades[-1][1]
    return Symbol("gang", Box(x, top, x, bottom), f"gang:{name}", width=0.25, dash="dashed",
                  fill=None, grey=0.45, backdrop=True)  # fmt: skip


def on_blade(row: Row) -> XY:
    """Where the line of its gang meets a blade: between two columns, so that no net runs along."""
    middle = round(_PITCH * (len(row.lugs) - 2) / 2) * GRID
    box = _blade(row, middle).box
    x = 2.5 * GRID
    part = (x - box.left) / box.width
    if box.height < 1.0:
        return x, middle
    end = box.top if box.top < middle - 0.1 else box.bottom
    return x, middle + (end - middle) * part


def _blade(row: Row, y: float) -> Symbol:
    """The blade from the common to the throw it stands on; lifted where it stands on none."""
    throws = [lugs[0] for lugs in row.lugs[1:]]
    left, right = _CONTACT / 2, _ACROSS * GRID - _CONTACT / 2
    shows = f"blade:{row.switch.name}.{row.lugs[0][0]}"
    end = _PITCH * GRID * throws.index(row.closed) if row.closed in throws else y - 3.0
    right = right if row.closed in throws else right - 1.5
    if abs(end - y) < 1e-6:
        return Symbol("blade-level", Box(left, y - 0.3, right, y + 0.3), shows, width=0.6)
    kind = "blade-rising" if end < y else "blade-falling"
    return Symbol(kind, Box(left, min(y, end), right, max(y, end)), shows, width=0.6)


@dataclass(frozen=True, slots=True)
class Said:
    """What is written beside a part."""

    value: str
    old: str = ""
    """The value that it takes the place of, where that was another."""
    new: bool = False
    """Whether it is put in: outlined heavily."""

    @property
    def outline(self) -> float:
        """Of its symbol, mm."""
        return _HEAVY if self.new else _THIN


_THIN, _HEAVY = 0.35, 0.75
_BLANK = 1.2
_BESIDE_EACH_OTHER = 24.0
"""A value and the old one that take more have a line each, mm."""


def _values(said: Said, x: float, y: float, part: Part) -> Iterator[Drawn]:
    """The value from ``x`` on, then the old one struck through."""
    if said.value:
        shows = f"part:{part.name}"
        value = text_at(visible(said.value), x, y, _POINTS, shows=shows, on=shows)
        x += value.width + _BLANK
        yield value
    yield from _struck(said, x, y, part)


def _struck(said: Said, x: float, y: float, part: Part, align: str = "left") -> Iterator[Drawn]:
    """The old value, struck through."""
    if said.old:
        shows = f"old:{part.name}"
        gone = text_at(visible(said.old), x, y, _POINTS, align, grey=0.3, shows=shows, on=shows)
        yield gone
        box = Box(gone.x - 0.3, y - 1.1, gone.x + gone.width + 0.3, y - 0.9)
        yield Symbol("strike", box, shows, width=0.2)


def _wide(said: Said) -> float:
    """Of the value and the old one, mm."""
    wide = [width_mm(visible(text), _POINTS) for text in (said.value, said.old) if text]
    return sum(wide) + _BLANK * max(0, len(wide) - 1)


def lying(part: Part, said: Said, nets: Sequence[int], *, flip: bool) -> Element:
    """A part on its side; flipped, its first terminal is at the right. A wiper comes from above."""
    kind = part.symbol if part.symbol in _SIZES else "resistor"
    long, wide = _SIZES[kind]
    box = Box(0.0, -wide / 2, long * GRID, wide / 2)
    spots: list[tuple[Node, Node]] = [((0, 0), (-1, 0)), ((long, 0), (1, 0))]
    if flip:
        spots.reverse()
    if len(part.terminals) == 3:
        spots.insert(1, ((long // 2, -2), (0, -1)))
    turned = "-up" if flip and kind == "diode" else ""
    shows = f"part:{part.name}"
    items: list[Drawn] = [Symbol(f"{kind}{turned}-lying", box, shows, str(nets[0]), said.outline)]
    items += _words_over(part, said, box, shows)
    items += _sign(part, box, shows, nets[0])
    if kind == "pot":
        x = 0.0 if flip else box.right
        items.append(text_at("cw", x, -2.3, _POINTS, "centre", shows=shows, on=shows))
    if part.polar and kind != "diode":
        y = 0.9 + ascent_mm(_POINTS)
        ends = ((-1.4, flip), (box.right + 1.4, not flip))
        items += (text_at("−" if neg else "+", x, y, _POINTS, "centre", shows=shows)
                  for x, neg in ends)  # fmt: skip
    return Element(tuple(items), _spots(shows, nets, spots))


def standing(
    part: Part, said: Said, nets: Sequence[int], earth: Set[int], *, flip: bool
) -> Element:
    """A part upright; flipped, its first terminal is below. An end on chassis has its symbol."""
    kind = part.symbol if part.symbol in _SIZES else "resistor"
    long, wide = _SIZES[kind]
    box = Box(-wide / 2, 0.0, wide / 2, long * GRID)
    spots: list[tuple[Node, Node]] = [((0, 0), (0, -1)), ((0, long), (0, 1))]
    if flip:
        spots.reverse()
    if len(part.terminals) == 3:
        spots.insert(1, ((2, long // 2), (1, 0)))
    turned = "-up" if flip and kind == "diode" else ""
    shows = f"part:{part.name}"
    items: list[Drawn] = [Symbol(f"{kind}{turned}", box, shows, str(nets[0]), said.outline)]
    items += _words_beside(part, said, box, shows)
    items += _sign(part, box, shows, nets[0])
    if kind == "pot":
        y = ascent_mm(_POINTS) if flip else box.bottom + 1.2
        items.append(text_at("cw", 2.2 if flip else 0.8, y, _POINTS, shows=shows, on=shows))
    if part.polar and kind != "diode":
        ends = ((-0.9, flip), (box.bottom + 0.4 + ascent_mm(_POINTS), not flip))
        items += (text_at("−" if neg else "+", 2.2, y, _POINTS, shows=shows)
                  for y, neg in ends)  # fmt: skip
    ports = []
    for spot in _spots(shows, nets, spots):
        if spot.net in earth:
            items += _grounded(spot, shows, wide / 2 + 3.0)
        else:
            ports.append(spot)
    return Element(tuple(items), tuple(ports))


def _spots(shows: str, nets: Sequence[int], spots: Sequence[tuple[Node, Node]]) -> tuple[Spot, ...]:
    return tuple(Spot(shows, n, at, out) for n, (at, out) in zip(nets, spots, strict=True))


def _grounded(spot: Spot, shows: str, beside: float) -> Iterator[Drawn]:
    """Chassis at the end of a part that stands."""
    x, y = spot.at[0] * GRID, spot.at[1] * GRID
    dx, dy = spot.out[0] * 2 * GRID, max(spot.out[1], 0) * GRID
    if spot.out[1] < 0:
        dx, dy = -beside, -GRID
    net = str(spot.net)
    way = ((x, y), (x, y + dy), (x + dx, y + dy))
    points = way if dx and dy else (way[0], way[2])
    yield Line(points, f"net:{net}", net, (shows,), width=0.3)
    x, y = points[-1]
    yield Symbol("chassis", Box(x - 2.0, y, x + 2.0, y + _EARTH), f"chassis:{net}", net)


def _sign(part: Part, box: Box, shows: str, net: int) -> Iterator[Text]:
    """What a meter shows."""
    if isinstance(part, Meter):
        y = middle_baseline(box.centre[1], _POINTS)
        letter = "V" if part.full_scale_volts is not None else _ampere(part.movement_amps)
        yield text_at(letter, box.centre[0], y, _POINTS, "centre",
                      shows=shows, net=str(net), on=shows)  # fmt: skip


def _ampere(amps: float | None) -> str:
    """The unit a movement of that full scale is marked with; M where it is not known."""
    if amps is None:
        return "M"
    return "µA" if amps < 1e-3 else "mA" if amps < 1.0 else "A"


def _words_over(part: Part, said: Said, box: Box, shows: str) -> Iterator[Drawn]:
    """Reference and value above a part that lies, the old value below it.

    All of it below, in two lines, where a wiper comes from above.
    """
    name, x, wide = visible(part.name), box.centre[0], _wide(said)
    if len(part.terminals) == 3:
        y = 1.5 + ascent_mm(_POINTS) + 0.8
        yield text_at(name, x, y, _POINTS, "centre", bold=True, shows=shows, on=shows)
        yield from _values(said, x - wide / 2, y + line_mm(_POINTS), part)
        return
    yield from _struck(said, x, box.bottom + 0.7 + ascent_mm(_POINTS), part, "centre")
    above = replace(said, old="")
    long, y, wide = width_mm(name, _POINTS, True), box.top - 0.9, _wide(above)
    x -= (long + (_BLANK + wide if wide else 0.0)) / 2
    yield text_at(name, x, y, _POINTS, bold=True, shows=shows, on=shows)
    yield from _values(above, x + long + _BLANK, y, part)


def _words_beside(part: Part, said: Said, box: Box, shows: str) -> Iterator[Drawn]:
    """Reference and value at the right of a part that stands; at the left of a pot."""
    below = said.old if _wide(said) > _BESIDE_EACH_OTHER else ""
    beside = replace(said, old="") if below else said
    wide = _wide(beside)
    x, align = box.right + (2.6 if part.polar else 0.8), "left"
    if len(part.terminals) == 3:
        x, align = -2.3, "right"
    y = box.centre[1] - (0.5 if wide else -1.0)
    yield text_at(visible(part.name), x, y, _POINTS, align, bold=True, shows=shows, on=shows)
    y += line_mm(_POINTS)
    yield from _values(beside, x if align == "left" else x - wide, y, part)
    if below:
        yield from _struck(said, x, y + line_mm(_POINTS), part, align)


def chassis(net: int) -> Element:
    """The chassis symbol, its line coming from above."""
    symbol = Symbol("chassis", Box(-2.0, 0.0, 2.0, _EARTH), f"chassis:{net}", str(net))
    return Element((symbol,), (Spot(symbol.shows, net, (0, 0), (0, -1)),))


def _most(point: Point) -> str:
    """The highest volts that are told of a point."""
    if point.rises_to is not None:
        return f"up to {with_unit(point.rises_to, 'V')}".replace("-", "−")
    return "" if point.volts is None else with_unit(point.volts, "V").replace("-", "−")


def point_element(point: Point, net: int, side: int) -> Element:
    """A place of the set, its name over its volts on the far side of its line."""
    shows = f"point:{point.name}"
    items: list[Drawn] = [Symbol("point", around((0.0, 0.0), 1.5, 1.5), shows, str(net), width=0.3)]
    align = "left" if side > 0 else "right"
    said = _most(point)
    name = visible(point.name)
    y = -0.2 if said else middle_baseline(0.0, _POINTS)
    items.append(text_at(name, side * 1.4, y, _POINTS, align, bold=True, shows=shows))
    if said:
        items.append(text_at(said, side * 1.4, line_mm(_POINTS) - 0.4, _POINTS, align, shows=shows))
    return Element(tuple(items), (Spot(shows, net, (0, 0), (-side, 0)),))


@dataclass(frozen=True, slots=True)
class Divider:
    """Parts in series from a point of the set down to a tap, and what goes on from there."""

    point: Point
    chain: tuple[Part, ...]
    nets: tuple[int, ...]
    """From the point's to the tap's."""
    lower: Part | None
    """From the tap to chassis."""
    tap_point: Point | None
    values: Mapping[str, Said]
    first: Mapping[str, int]
    """Part → the net of its first terminal."""
    goes_on: bool
    """Whether a line leads to the tap."""

    @property
    def tap(self) -> int:
        """Its net."""
        return self.nets[-1]


def divider_element(divider: Divider, side: int) -> Element:
    """A divider upright, its supply at the top; the line to its tap comes from the switch."""
    items: list[Drawn] = list(point_element(divider.point, divider.nets[0], 1).items)
    y, above = 0, f"point:{divider.point.name}"
    for part, (upper, lower) in zip(divider.chain, pairwise(divider.nets), strict=True):
        below = f"part:{part.name}"
        items.append(_wire(upper, (0, y), (0, y + 2), above, below))
        flip = divider.first[part.name] != upper
        nets = (lower, upper) if flip else (upper, lower)
        element = standing(part, divider.values[part.name], nets, frozenset(), flip=flip)
        items += (item.moved(0.0, (y + 2) * GRID) for item in element.items)
        y, above = y + 2 + max(spot.at[1] for spot in element.ports), below
    tap = y + 2
    items.append(_wire(divider.tap, (0, y), (0, tap), above))
    if divider.lower is not None:
        part = divider.lower
        flip, earth = divider.first[part.name] != divider.tap, -1_000_000
        nets = (earth, divider.tap) if flip else (divider.tap, earth)
        element = standing(part, divider.values[part.name], nets, {earth}, flip=flip)
        items.append(_wire(divider.tap, (0, tap), (0, tap + 2), f"part:{part.name}"))
        items += (item.moved(0.0, (tap + 2) * GRID) for item in element.items)
    if divider.tap_point is not None:
        named = point_element(divider.tap_point, divider.tap, side)
        items += (item.moved(side * 2 * GRID, tap * GRID) for item in named.items)
        items.append(
            _wire(divider.tap, (0, tap), (2 * side, tap), f"point:{divider.tap_point.name}")
        )
    arms = 1 + divider.goes_on + (divider.lower is not None) + (divider.tap_point is not None)
    if arms > 2:
        items.append(joint((0, tap), divider.tap))
    return Element(tuple(items), (Spot(above, divider.tap, (0, tap), (-side, 0)),))


def _wire(net: int, start: Node, end: Node, *joins: str) -> Line:
    """A straight line of a net."""
    points = tuple((x * GRID, y * GRID) for x, y in (start, end))
    return Line(points, f"net:{net}", str(net), joins, width=0.3)


def flag(number: int, net: int, out: Node) -> Element:
    """The number of a net whose places are too far apart for a line; the same wherever it is."""
    shows = f"flag:{number}"
    side = out[0] or 1
    name = text_at(f"({number + 1})", side * 1.4, middle_baseline(0.0, _POINTS), _POINTS,
                   "left" if side > 0 else "right", bold=True, shows=shows)  # fmt: skip
    mark = Symbol("point", around((0.0, 0.0), 1.5, 1.5), shows, str(net), width=0.3)
    return Element((mark, name), (Spot(shows, net, (0, 0), (-out[0], -out[1])),))


def joint(node: Node, net: int) -> Symbol:
    """The dot where lines of one net meet."""
    spot = (node[0] * GRID, node[1] * GRID)
    return Symbol("joint", around(spot, 1.0, 1.0), f"joint:{net}", str(net), fill="black")
