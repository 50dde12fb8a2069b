"""What is soldered beside the switch: parts, points of the set, chassis, each as a block.

A block stands at one side of the switch, its leads towards it; ``side`` is 1 to the right of the
switch and -1 to the left. Its own middle is the origin; ``u`` counts outwards from the switch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rewire.draw.labels import SHADES
from rewire.draw.leads import Lead
from rewire.draw.routing import Door
from rewire.draw.scene import (
    XY,
    Box,
    Dash,
    Item,
    Line,
    Symbol,
    Text,
    around,
    hull,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.part import Part
from rewire.records.parts import Capacitor, Meter, Pot
from rewire.records.spec import CUT, Point
from rewire.values.lug_volts import is_high
from rewire.words.quantity import with_unit

POINTS = 8.0
"""Size of every word, points."""
FINE, NEW, WIRE = 0.3, 0.7, 1.0
"""The three line weights: symbols, bare leads, tags and frames; parts that are new; wires; mm."""
ROW = 4.0
"""From one lead of a terminal to the next, mm."""
_BODY = 8.0
_STUB = 4.0
_WIDEST = 30.0
_TAG_HEIGHT = 3.3
_SIZES: Mapping[str, float] = {
    "resistor": 3.2, "fuse": 3.2, "choke": 3.2, "capacitor": 6.0, "diode": 4.4, "lamp": 8.0,
}  # fmt: skip
"""Heights of the symbols when lying, mm."""
_TERMINAL = 2.6
_LUG = 4.4
CHASSIS = (5.0, 3.0)
"""Width and height of the symbol, mm."""
LIVE = "⚡"


@dataclass(frozen=True, slots=True)
class Block:
    """Something beside the switch, drawn about its own origin."""

    name: str
    items: tuple[Item, ...]
    doors: Mapping[tuple[str, str], Door]
    """(``shows`` of a lead, terminal) → where its course begins."""
    box: Box
    solid: tuple[Box, ...]
    """What no wire may run through."""
    at_rim: bool = False
    within: frozenset[str] = frozenset()
    """``shows`` of the leads that are drawn whole inside the block."""


@dataclass(frozen=True, slots=True)
class Tag:
    """A place to solder to: a point of the set, a tag of a long strip."""

    name: str
    shows: str
    volts: str = ""
    live: bool = False
    where: str = ""


@dataclass(frozen=True, slots=True)
class Thing:
    """A part, a point or a chassis beside the switch, with its leads."""

    name: str
    what: Part | Tag | None
    """None for the chassis, or the loose end, of one lead."""
    leads: tuple[tuple[Lead, str], ...]
    """Each with the terminal of this thing at which it ends, in the order from the top."""
    value: str = ""
    rating: str = ""
    chassis: frozenset[str] = frozenset()
    """Names of the points that are drawn by the symbol of the chassis."""
    new: bool = False

    @property
    def lies(self) -> bool:
        """Whether it is a part of two leads, drawn by its symbol."""
        part = self.what
        return isinstance(part, Part) and part.two_ended and not part.shows_readings

    far_tags: frozenset[str] = frozenset()
    """``shows`` of the wires that have their number where they end at another thing."""

    def tagged_at_far_end(self, lead: Lead) -> bool:
        """Whether the other end of a lead carries its number already."""
        return lead.shows in self.far_tags

    def ending_at(self, terminal: str) -> list[Lead]:
        """The leads at one of its terminals."""
        return [lead for lead, end in self.leads if end == terminal]


def block_of(thing: Thing, side: int, flipped: bool) -> Block:
    """The thing drawn for one side of the switch; a lying part may be turned end for end."""
    if thing.what is None:
        return _chassis_block(thing, side)
    if isinstance(thing.what, Tag):
        return _tag_block(thing, thing.what, side)
    if thing.lies:
        return _lying_block(thing, thing.what, side, flipped)
    return _boxed_block(thing, thing.what, side)


# Lines and tags ---------------------------------------------------------------------------


def drawn(lead: Lead, points: Sequence[XY], joins: Iterable[str] = ()) -> Line:
    """The line of a lead: a wire in its colour, an own lead thin, a proposal dashed."""
    ends = tuple(
        f"{kind}:{name}" for end in (*lead.ends, *joins)
        for kind, name in (("lug", end), ("part", end.partition(".")[0]))
    )  # fmt: skip
    dash: Dash = "dashed" if lead.kind == "net" else "solid"
    if lead.colour is None or lead.kind in ("lead", "net"):
        return Line(tuple(points), lead.shows, lead.net, ends, FINE, dash)
    shades = [SHADES.get(lead.colour[n : n + 2], "#ffffff") for n in range(0, len(lead.colour), 2)]
    return Line(
        tuple(points), lead.shows, lead.net, ends, WIRE, colour=shades[0], cased=True,
        stripe=shades[1] if len(shades) > 1 else None,
    )  # fmt: skip


def tag_size(said: str) -> XY:
    """Width and height of a wire's tag, mm."""
    return (width_mm(visible(said), POINTS) + 1.4, _TAG_HEIGHT)


def tag(lead: Lead, at: XY) -> list[Item]:
    """Number and letters of a wire upon its line."""
    box = around(at, *tag_size(lead.said))
    text = text_at(
        visible(lead.said), at[0], middle_baseline(at[1], POINTS), POINTS, "centre",
        shows=lead.shows, net=lead.net, on=lead.shows,
    )  # fmt: skip
    return [Symbol("tag", box, lead.shows, lead.net, FINE), text]


def _stub(said: str, lug: float = 0.0) -> float:
    """How far a lead runs straight from its terminal: past the lug, as long as its tag."""
    if not said:
        return lug + _STUB
    return lug + 2.0 * math.ceil((tag_size(said)[0] + 2.0) / 2.0)


def _to_chassis(lead: Lead, thing: Thing) -> bool:
    return any(end in thing.chassis for end in lead.ends)


@dataclass(slots=True)
class _Drawing:
    """A block while it is drawn; ``x`` of a place is ``side`` times its ``u``."""

    thing: Thing
    side: int
    items: list[Item]
    doors: dict[tuple[str, str], Door]
    solid: list[Box]
    within: set[str]

    def at(self, u: float, y: float) -> XY:
        return (self.side * u, y)

    def box(self, u0: float, u1: float, top: float, bottom: float) -> Box:
        left, right = sorted((self.side * u0, self.side * u1))
        return Box(left, top, right, bottom)

    def lead(
        self, lead: Lead, terminal: str, start: XY, way: int, *, lug: float = 0.0,
        tagged: bool = True, via: Sequence[XY] = (),
    ) -> None:  # fmt: skip
        """A lead straight from its terminal, inwards (-1) or outwards (1), tagged.

        ``via`` are the places that it comes through on its way to ``start``.
        """
        said = lead.said if tagged else ""
        grounded = _to_chassis(lead, self.thing)
        length = _stub(said, lug)
        if grounded and len(self.thing.leads) > 2:
            longest = max(_stub(other.said, lug) for other, _ in self.thing.leads)
            length = longest + 3.0
        elif grounded and said:
            length += 2.0
        (u, y), end = start, start[0] + way * length
        points = (*(self.at(*at) for at in via), self.at(u, y), self.at(end, y))
        if grounded:
            self.items += [drawn(lead, points), *self.chassis(lead, end, y)]
            self.within.add(lead.shows)
        else:
            self.doors[lead.shows, terminal] = Door(points, False)
        if said:
            middle = u + way * (lug + _stub(said) / 2)
            self.items += tag(lead, self.at(middle, y))
        self.solid.append(self.box(u, end - way * 1.2, y - 0.8, y + 0.8))

    def chassis(self, lead: Lead, u: float, y: float) -> list[Item]:
        x = self.side * u
        box = Box(x - CHASSIS[0] / 2, y, x + CHASSIS[0] / 2, y + CHASSIS[1])
        point = next(end for end in lead.ends if end in self.thing.chassis)
        self.solid.append(box)
        return [Symbol("chassis", box, f"lug:{point}", lead.net, FINE),
                *_chassis_name(self.thing, point, box, lead)]  # fmt: skip

    def words(self, said: Sequence[tuple[str, bool]], u: float, y: float, align: str, up: bool,
              shows: str, on: str = "") -> None:  # fmt: skip
        """Lines of text under each other, all above ``y`` or all below it."""
        step = line_mm(POINTS)
        top = y - step * len(said) if up else y
        for number, (line, bold) in enumerate(said):
            base = middle_baseline(top + step * (number + 0.5), POINTS)
            x = self.side * u
            if align == "outer":
                how = "right" if self.side > 0 else "left"
            elif align == "inner":
                how = "left" if self.side > 0 else "right"
            else:
                how = "centre"
            self.items.append(text_at(line, x, base, POINTS, how, bold=bold, shows=shows, on=on))

    def named(self, name: str, value: str, u: float, y: float, shows: str) -> None:
        """Name and value on one line above ``y``, together about ``u``."""
        first, second = width_mm(name, POINTS, bold=True), width_mm(value, POINTS)
        x = self.side * u - (first + second + 1.2) / 2
        base = middle_baseline(y - line_mm(POINTS) / 2, POINTS)
        self.items.append(text_at(name, x, base, POINTS, bold=True, shows=shows))
        self.items.append(text_at(value, x + first + 1.2, base, POINTS, shows=shows))

    def done(self, at_rim: bool) -> Block:
        texts = [item.box.grown(0.2) for item in self.items if isinstance(item, Text)]
        symbols = [i.box for i in self.items if isinstance(i, Symbol)]
        ends = [around(door.points[-1], 0.0, 0.0) for door in self.doors.values()]
        lines = [i.box for i in self.items if isinstance(i, Line)]
        box = hull([*texts, *symbols, *ends, *lines, *self.solid])
        # what lies round a door's end must stay free: a door's own tag is inside its stub
        return Block(
            self.thing.name, tuple(self.items), self.doors, box,
            (*self.solid, *texts, *symbols), at_rim, frozenset(self.within),
        )  # fmt: skip


def _chassis_name(thing: Thing, point: str, box: Box, lead: Lead) -> list[Item]:
    """The name of the chassis where there is more than one."""
    if len(thing.chassis) < 2:
        return []
    y = middle_baseline(box.bottom + line_mm(POINTS) / 2, POINTS)
    return [text_at(visible(point), box.centre[0], y, POINTS, "centre", shows=f"point:{point}",
                    net=lead.net)]  # fmt: skip


def hanging(lead: Lead, way: Door, chassis: frozenset[str], side: int) -> list[Item]:
    """A lead straight up or down from a lug to the chassis' symbol, its number in the line.

    ``side`` is 1 where the symbol of a lead that goes up stands at its right, else -1.
    """
    start, (x, y) = way.points[0], way.points[-1]
    down = 1 if y > start[1] else -1
    far = y + down * (_TAG_HEIGHT + 1.0 if lead.said else 0.0)
    box = Box(x - CHASSIS[0] / 2, far, x + CHASSIS[0] / 2, far + CHASSIS[1])
    if down < 0:
        wide = tag_size(lead.said)[0] / 2 if lead.said else 0.0
        aside = x + side * (wide + CHASSIS[0] / 2 + 0.8)
        box = Box(aside - CHASSIS[0] / 2, far, aside + CHASSIS[0] / 2, far + CHASSIS[1])
    point = next(end for end in lead.ends if end in chassis)
    points = [*way.points[:-1], (x, far)] + ([(box.centre[0], far)] if down < 0 else [])
    thing = Thing(point, None, ((lead, point),), chassis=chassis)
    items: list[Item] = [
        drawn(lead, points),
        Symbol("chassis", box, f"lug:{point}", lead.net, FINE),
    ]
    items += _chassis_name(thing, point, box, lead)
    if lead.said:
        items += tag(lead, (x, y + down * (_TAG_HEIGHT / 2 + 0.2)))
    return items


# Blocks -----------------------------------------------------------------------------------


def _chassis_block(thing: Thing, side: int) -> Block:
    """The far end of one lead of the switch: the chassis' symbol, or where it was cut off."""
    draw = _Drawing(thing, side, [], {}, [], set())
    ((lead, end),) = thing.leads
    length = _stub(lead.said) + 2.0
    draw.doors[lead.shows, end] = Door((draw.at(0.0, 0.0), draw.at(-length, 0.0)), False)
    if lead.said:
        draw.items += tag(lead, draw.at(-length / 2 - 1.0, 0.0))
    draw.solid.append(draw.box(-length + 1.2, 0.0, -0.8, 0.8))
    if end not in thing.chassis:
        said = "cut off" if end == CUT else f"to {visible(end)}"
        draw.words([(said, True)], 1.0, -line_mm(POINTS) / 2, "inner", False, lead.shows)
    else:
        draw.items += draw.chassis(lead, 0.0, 0.0)
    return draw.done(False)


def _tag_block(thing: Thing, point: Tag, side: int) -> Block:
    draw = _Drawing(thing, side, [], {}, [], set())
    shows, rows = point.shows, max(1, len(thing.leads))
    net = thing.leads[0][0].net if thing.leads else None
    tall = ROW * (rows - 1)
    shape = draw.box(-_TERMINAL, 0.0, -_TERMINAL / 2, tall + _TERMINAL / 2)
    kind = "lug" if rows == 1 else "chamfered"
    draw.items.append(Symbol(kind, shape, f"lug:{point.name}", net, FINE))
    for row, (lead, terminal) in enumerate(thing.leads):
        draw.lead(lead, terminal, (-_TERMINAL / 2, row * ROW), -1, lug=_TERMINAL / 2)
    volts, name = point.volts, visible(point.name)
    beside = f"{name} {volts}"
    together = width_mm(beside, POINTS, bold=True) <= _WIDEST
    above = (beside,) if together else wrap(name, _WIDEST, POINTS, bold=True)
    draw.words([(line, True) for line in above], 0.0, -2.2, "outer", True, shows)
    below = [(volts, point.live)] if volts and not together else []
    if point.where:
        below += [(line, False) for line in wrap(visible(point.where), _WIDEST, POINTS)]
    draw.words(below, 0.0, tall + 2.2, "outer", False, shows)
    return draw.done(True)


def tag_of(point: Point) -> Tag:
    """A point of the set with the most volts that can stand there, and a sign where they hurt."""
    said = ""
    if point.volts is not None or point.rises_to is not None:
        said = f"{with_unit(point.most_volts, 'V')}{' AC' if point.ac else ''}"
    live = is_high(point)
    volts = (f"{LIVE} {said}" if live and said else said).replace("-", "−")
    return Tag(point.name, f"point:{point.name}", volts, live, point.where or "")


def _lying_block(thing: Thing, part: Part, side: int, flipped: bool) -> Block:
    draw = _Drawing(thing, side, [], {}, [], set())
    shows, tall = f"part:{part.name}", _SIZES.get(part.kind, _SIZES["resistor"])
    inner, outer = part.full_terminals[::-1] if flipped else part.full_terminals
    kind = part.symbol
    if kind == "diode" and (inner == part.full_terminals[0]) != (side > 0):
        kind = "diode-up"
    body = draw.box(0.0, _BODY, -tall / 2, tall / 2)
    net = thing.leads[0][0].net if thing.leads else None
    draw.items.append(Symbol(f"{kind}-lying", body, shows, net, NEW if thing.new else FINE))
    for terminal, u, way in ((inner, 0.0, -1), (outer, _BODY, 1)):
        _leads_at_end(draw, thing, terminal, (u, way))
    middle, gap = _BODY / 2, tall / 2 + 0.5
    draw.named(visible(part.name), visible(thing.value), middle, -gap, shows)
    if thing.rating:
        draw.words([(visible(thing.rating), False)], middle, gap, "centre", False, shows)
    if isinstance(part, Capacitor) and part.polarised:
        u = 1.3 if inner == part.full_terminals[0] else _BODY - 1.3
        draw.words([("+", True)], u, 0.1, "centre", True, shows, shows)
    return draw.done(False)


def _leads_at_end(draw: _Drawing, thing: Thing, terminal: str, end: tuple[float, int]) -> None:
    """The leads at one end of a lying part: one straight on, others from a dot beside the words."""
    u, way = end
    leads = thing.ending_at(terminal)
    beyond = _words_wide(thing) / 2 - _BODY / 2 + 1.6
    for number, lead in enumerate(leads):
        tagged = not thing.tagged_at_far_end(lead)
        if len(leads) == 1:
            draw.lead(lead, terminal, (u, 0.0), way, tagged=tagged)
            continue
        joint = (u + way * max(2.0, beyond), 0.0)
        row = ROW * ((number + 1) // 2) * (-1 if number % 2 else 1)
        via = ((u, 0.0),) if number == 0 else ((u, 0.0), joint)
        draw.lead(lead, terminal, (joint[0], row), way, tagged=tagged, via=via)
    if len(leads) > 1:
        dot = around(draw.at(*joint), 1.2, 1.2)
        draw.items.append(Symbol("joint", dot, leads[0].shows, leads[0].net, FINE, fill="black"))
        reach = ROW * (len(leads) // 2)
        draw.solid.append(draw.box(joint[0] - 0.8, joint[0] + 0.8, -reach, reach))
        draw.solid.append(draw.box(u, joint[0], -0.8, 0.8))


def _words_wide(thing: Thing) -> float:
    """Width of the words over a lying part, mm."""
    return (
        width_mm(visible(thing.name), POINTS, True) + width_mm(visible(thing.value), POINTS) + 1.2
    )


def _boxed_block(thing: Thing, part: Part, side: int) -> Block:
    """A meter, a pot, a strip: all its lugs at its inner edge, as they stand seen from behind."""
    draw = _Drawing(thing, side, [], {}, [], set())
    shows = f"part:{part.name}"
    lugs = _turned(part, side)
    straps = _straps(thing, lugs)
    spots: dict[str, float] = {}
    y = 0.0
    for number, terminal in enumerate(lugs):
        leads = [lead for lead in thing.ending_at(terminal) if lead.shows not in straps]
        tall = ROW * max(0, len(leads) - 1)
        strapped = number and frozenset((lugs[number - 1], terminal)) in straps.values()
        if number:
            y += _pitch(part, bool(strapped))
        net = next((lead.net for lead in thing.ending_at(terminal)), None)
        lug = draw.box(-_LUG / 2, _LUG / 2, y - _LUG / 2, y + tall + _LUG / 2)
        kind = "chamfered" if tall else "lug"
        draw.items.append(Symbol(kind, lug, f"lug:{terminal}", net, FINE))
        for row, lead in enumerate(leads):
            draw.lead(lead, terminal, (0.0, y + row * ROW), -1, lug=_LUG / 2)
        spots[terminal] = y
        y += tall
    _strapped(draw, straps, thing, spots)
    top, bottom = -_LUG / 2, y + _LUG / 2
    _body(draw, thing, part, spots, top, bottom, shows)
    return draw.done(True)


def _pitch(part: Part, strapped: bool) -> float:
    if isinstance(part, Meter):
        return 12.0
    return 8.0 if strapped else 5.0


def _turned(part: Part, side: int) -> list[str]:
    """The lugs from the top down: a pot is turned, never mirrored (common practice, no source)."""
    lugs = list(part.full_terminals)
    return lugs[::-1] if isinstance(part, Pot) and side > 0 else lugs


def _straps(thing: Thing, lugs: Sequence[str]) -> dict[str, frozenset[str]]:
    """``shows`` of the leads between two neighbouring lugs of the part → those lugs."""
    found: dict[str, frozenset[str]] = {}
    next_to = [frozenset(pair) for pair in pairwise(lugs)]
    for lead, _ in thing.leads:
        ends = frozenset(lead.ends)
        if ends in next_to and ends not in found.values():
            found[lead.shows] = ends
    return found


def _strapped(
    draw: _Drawing, straps: Mapping[str, frozenset[str]], thing: Thing, spots: Mapping[str, float]
) -> None:
    for lead in {lead.shows: lead for lead, _ in thing.leads}.values():
        if lead.shows not in straps:
            continue
        first, second = sorted(spots[end] for end in lead.ends)
        draw.items.append(drawn(lead, (draw.at(0.0, first), draw.at(0.0, second))))
        draw.within.add(lead.shows)
        if lead.said:
            draw.items += tag(lead, draw.at(0.0, (first + second) / 2))


def _body(
    draw: _Drawing, thing: Thing, part: Part, spots: Mapping[str, float], top: float,
    bottom: float, shows: str,
) -> None:  # fmt: skip
    """The case behind the lugs, the lugs' names, and what the part is."""
    said = [(visible(part.name), True)]
    said += [(line, False) for one in (*thing.value.split(", "), thing.rating) if one
             for line in wrap(visible(one), 22.0, POINTS)]  # fmt: skip
    names = {t: visible(t.partition(".")[2]) for t in spots}
    meter = isinstance(part, Meter)
    first = _LUG / 2 + 0.8
    wide = 0.0 if meter else max(width_mm(name, POINTS) for name in names.values())
    text = max(width_mm(line, POINTS, bold) for line, bold in said)
    begin = first + wide + 1.6
    end = begin + text + 1.6
    tall = line_mm(POINTS) * len(said)
    middle = (top + bottom) / 2
    if meter:
        size = max(end + 2.2 + 1.0, bottom - top + 4.0, 22.0)
        case = draw.box(-2.6, -2.6 + size, middle - size / 2, middle + size / 2)
        draw.items.insert(0, Symbol("disc", case, shows, None, FINE, fill="#f6f6f6", backdrop=True))
        begin, end = first, size - 4.0
        tall = line_mm(POINTS) * len(said)
    else:
        over = max(0.0, (tall - (bottom - top)) / 2) + 1.2
        case = draw.box(-0.6, end, top - over, bottom + over)
        draw.items.insert(0, Symbol("chamfered", case, shows, None, FINE, fill="#f6f6f6",
                                    backdrop=True))  # fmt: skip
    for terminal, y in spots.items():
        name = names[terminal]
        if meter:
            draw.items.append(text_at(
                name, 0.0, middle_baseline(y, POINTS), POINTS, "centre", bold=True,
                shows=f"lug:{terminal}", on=f"lug:{terminal}",
            ))  # fmt: skip
        else:
            draw.words([(name, False)], first, y - line_mm(POINTS) / 2, "inner", False,
                       f"lug:{terminal}")  # fmt: skip
    draw.words(said, (begin + end) / 2, middle - tall / 2, "centre", False, shows)
    draw.solid.append(case)


def moved(block: Block, dx: float, dy: float) -> Block:
    """The block at another place."""
    doors = {
        key: replace(door, points=tuple((x + dx, y + dy) for x, y in door.points))
        for key, door in block.doors.items()
    }
    return replace(
        block, items=tuple(item.moved(dx, dy) for item in block.items), doors=doors,
        box=block.box.moved(dx, dy), solid=tuple(box.moved(dx, dy) for box in block.solid),
    )  # fmt: skip


Blocks = Callable[[Thing, int, bool], Block]
