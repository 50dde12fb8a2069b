"""How each thing beside the switches is drawn: rows of parts and points, single parts upright."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rewire.draw.leads import FINE, NEW, POINTS, TAG_HEIGHT, Lead, Stop, Tag, Thing, tag, tag_size
from rewire.draw.pen import CHASSIS, OUT, Block, Pen, shows_of, tag_said
from rewire.draw.scene import (
    XY,
    Line,
    Symbol,
    around,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.part import Part
from rewire.records.parts import Capacitor, Meter, Pot

_BODY = 8.0
_SIZES: Mapping[str, float] = {"capacitor": 6.0, "diode": 4.4, "lamp": 8.0}
"""Heights of the symbols when lying, mm; 3.2 of all others."""
_TERMINAL = 2.6
_LUG = 4.4
_ROW = 3.4
"""From one lead of a lug to the next, mm."""


def drawn_forms(thing: Thing) -> list[Block]:
    """The thing as it may be drawn: for the left, for the right; a single part standing too."""
    first, last = thing.stops[0], thing.stops[-1]
    if first is last and first.what is None:
        return [_end_of_one(thing, side, upright) for side in (-1, 1) for upright in (False, True)]
    if thing.lugged:
        return [_lugged(thing, side) for side in (-1, 1)]
    lying = [_row(thing, side, flat) for side in (-1, 1) for flat in (False, True)]
    ends = [end for _, end in thing.leads]
    parts = [stop for stop in thing.stops if stop.what is not None]
    if (
        len(thing.stops) > 2
        or len(parts) != 1
        or isinstance(parts[0].what, Tag)
        or parts[0].clip
        or len(ends) > len(set(ends))
    ):
        return lying
    ups = (-1, 1) if first is last else (1,) if first.what is None else (-1,)
    return [*lying, *(_standing(thing, parts[0], side, up) for side in (-1, 1) for up in ups)]


# Rows -------------------------------------------------------------------------------------


def _row(thing: Thing, side: int, flat: bool) -> Block:
    """Parts and points one after another, each link straight between two of them."""
    pen = Pen(thing, side, flat)
    free = _Free()
    rim = None
    u = 0.0
    for number, stop in enumerate(thing.stops):
        link = thing.links[number - 1] if number else None
        length = _link_length(link) if link else 0.0
        from_leaf = number > 0 and thing.stops[number - 1].what is None
        least = u + length + (CHASSIS[0] / 2 if from_leaf else 0.0)
        draw = (
            _part if isinstance(stop.what, Part) else _tag if isinstance(stop.what, Tag) else _leaf
        )
        start, end = draw(pen, stop, least, free, number)
        if link is not None:
            pen.link(link, (u, 0.0), (start, 0.0))
            if link.said:
                middle = start - length / 2 if from_leaf else u + length / 2
                pen.items += tag(link, pen.at(middle, 0.0))
        if isinstance(stop.what, Tag):
            rim = end
        u = end
    return pen.done(rim)


@dataclass(slots=True)
class _Free:
    """From where on there is room above and below a row, in ``u``."""

    above: float = -99.0
    below: float = -99.0


def _link_length(lead: Lead) -> float:
    return tag_size(lead.said)[0] + 2.4 if lead.said else 2.0


def _part(pen: Pen, stop: Stop, least: float, free: _Free, number: int) -> XY:
    """A lying part with its words above; where its leads begin and end."""
    said = _said(stop)
    half = _wide(said, pen.flat) / 2
    near, far = stop.ends
    first, taps = _straight_on(pen, near, number == 0)
    joint = max(least, free.above + 1.2) if taps else least
    clipped = 1.4 if stop.clip else 0.0
    body = max(joint + (1.6 + clipped if taps else clipped), free.above + 1.0 + half - _BODY / 2)
    if taps:
        body = max(body, joint + 1.2 + half - _BODY / 2)
        _joint(pen, near, joint, taps, (joint, body))
    for lead in first:
        start = joint if taps else body
        pen.door(lead, near, ((start, 0.0), (start - OUT, 0.0)))
    if _height(stop) > 4.0:
        body = max(body, free.below + 0.5)
        free.below = body + _BODY
    body = _clips(pen, stop, body, free)
    _symbol(pen, stop, body)
    end = body + _BODY
    lines = 1 if pen.flat else len(said)
    top = -_height(stop) / 2 - 0.4 - line_mm(POINTS) * lines
    if pen.flat:
        _on_one_line(pen, said, body + _BODY / 2, top, shows_of(stop))
    else:
        pen.words(said, body + _BODY / 2, top, "centre", shows_of(stop))
    free.above = body + _BODY / 2 + half
    free.below = max(free.below, body)
    return (joint if taps else body), _far_end(pen, stop, far, end, free)


def _far_end(pen: Pen, stop: Stop, far: str, end: float, free: _Free) -> float:
    last = stop.ends == pen.thing.stops[-1].ends
    straight, taps = _straight_on(pen, far, last)
    joint = end
    if taps:
        joint = max(end + (3.0 if stop.clip else 1.6), free.above + 1.2)
        _joint(pen, far, joint, taps, (end, joint))
    for lead in straight:
        pen.door(lead, far, ((joint, 0.0), (joint + OUT, 0.0)))
    return joint


def _straight_on(pen: Pen, end: str, open_end: bool) -> tuple[list[Lead], list[Lead]]:
    """The lead that goes on straight at an open end of a row, and those that leave at a dot."""
    leads = pen.thing.at(end)
    return (leads[:1], leads[1:]) if open_end else ([], leads)


def _joint(pen: Pen, end: str, u: float, taps: Sequence[Lead], stub: XY) -> None:
    """A dot, from which leads go up and down, and the piece of the part's own lead to it."""
    net, shows = taps[0].net, f"part:{end.partition('.')[0]}"
    for lead in taps:
        pen.door(lead, end, ((u, 0.0), (u, -OUT)), ((u, 0.0), (u, OUT)))
    dot = around(pen.at(u, 0.0), 1.2, 1.2)
    pen.items.append(Symbol("joint", dot, shows, net, FINE, fill="black"))
    pen.items.append(Line(tuple(pen.at(at, 0.0) for at in stub), shows, net, (shows,), FINE))


def _said(stop: Stop) -> list[tuple[str, bool]]:
    """Name and value of a part on one line, or under each other."""
    assert isinstance(stop.what, Part)
    value = [(line, False) for line in wrap(visible(" ".join(stop.value)), 24.0, POINTS) if line]
    return [(visible(stop.what.name), True), *value]


def _wide(said: Sequence[tuple[str, bool]], flat: bool) -> float:
    widths = [width_mm(line, POINTS, bold) for line, bold in said]
    return sum(widths) + 1.2 * (len(said) - 1) if flat else max(widths)


def _on_one_line(
    pen: Pen, said: Sequence[tuple[str, bool]], u: float, top: float, shows: str
) -> None:
    """Words of two looks side by side, together about ``u``."""
    x = pen.side * u - _wide(said, True) / 2
    for line, bold in said:
        base = middle_baseline(top + line_mm(POINTS) / 2, POINTS)
        pen.items.append(text_at(line, x, base, POINTS, bold=bold, shows=shows))
        x += width_mm(line, POINTS, bold) + 1.2


def _height(stop: Stop) -> float:
    return _SIZES.get(stop.what.kind, 3.2) if isinstance(stop.what, Part) else 0.0


def _clips(pen: Pen, stop: Stop, u: float, free: _Free) -> float:
    """Where a voltmeter is clipped on, and what it says, below a part; where the part begins."""
    if not stop.clip:
        return u
    reach = width_mm(stop.clip, POINTS) / 2
    u = max(u, free.below + 0.5 + reach - _BODY / 2)
    free.below = u + _BODY / 2 + reach
    for middle in (u - 1.0, u + _BODY + 1.0):
        pen.symbol("clip", pen.box(middle - 0.7, middle + 0.7, 0.4, 1.8), "clip", None)
    pen.words([(stop.clip, False)], u + _BODY / 2, 2.0, "centre", shows_of(stop))
    return u


def _symbol(pen: Pen, stop: Stop, u: float) -> None:
    part = stop.what
    assert isinstance(part, Part)
    kind, tall = part.symbol, _height(stop)
    first_inside = stop.ends[0] == part.full_terminals[0]
    if kind == "diode" and first_inside != (pen.side > 0):
        kind = "diode-up"
    body = pen.box(u, u + _BODY, -tall / 2, tall / 2)
    pen.symbol(f"{kind}-lying", body, shows_of(stop), None, NEW if stop.new else FINE)
    if isinstance(part, Capacitor) and part.polarised:
        plus = u + (1.3 if first_inside else _BODY - 1.3)
        pen.words([("+", True)], plus, -3.2, "centre", shows_of(stop), shows_of(stop))


def _tag(pen: Pen, stop: Stop, least: float, free: _Free, number: int) -> XY:
    """A point with its name, volts and place below the row."""
    what = stop.what
    assert isinstance(what, Tag)
    said = tag_said(what)
    wide = max(width_mm(line, POINTS, bold) for line, bold in said)
    last = 0 < number == len(pen.thing.stops) - 1
    start = max(least, free.below + 1.0 + (wide - _TERMINAL if last else -_TERMINAL / 2))
    if pen.thing.at(what.name):
        start = max(start, max(free.above, free.below) + 1.5 - _TERMINAL / 2)
    middle, end = start + _TERMINAL / 2, start + _TERMINAL
    if pen.thing.at(what.name):
        free.above = middle + 0.5
    edge = end if last else middle + 1.3
    net = next((lead.net for lead in (*pen.thing.at(what.name), *pen.thing.links)
                if what.name in lead.ends), None)  # fmt: skip
    pen.symbol("point", pen.box(start, end, -_TERMINAL / 2, _TERMINAL / 2), f"lug:{what.name}", net)
    pen.words(said, edge, _TERMINAL / 2 + 0.3, "inwards" if last else "outwards", what.shows)
    free.below = max(edge if last else edge + wide, end)
    inner = ((middle, 0.0), (start - OUT, 0.0))
    outer = ((middle, 0.0), (end + OUT, 0.0))
    up, down = (((middle, 0.0), (middle, sign * (_TERMINAL / 2 + OUT))) for sign in (-1, 1))
    alone = len(pen.thing.stops) == 1
    ways = [inner] * (number == 0) + [outer] * (last or alone) + [up] + [down] * (not last)
    for lead in pen.thing.at(what.name):
        pen.door(lead, what.name, *ways)
    return start, end


def _leaf(pen: Pen, stop: Stop, least: float, free: _Free, number: int) -> XY:
    """The chassis at the end of a lead, or words where it goes to nothing drawn."""
    lead, end = pen.thing.links[number - 1 if number else 0], stop.value[0]
    u = least + CHASSIS[0] / 2 + 0.6 if end in pen.thing.chassis else least
    u = max(u, free.below + 0.8 + CHASSIS[0] / 2)
    if end in pen.thing.chassis:
        pen.chassis(lead, u, 0.0)
        free.below = u + CHASSIS[0] / 2
    else:
        pen.words(
            [(visible(stop.value[1]), True)], u + 1.0, -line_mm(POINTS) / 2, "outwards", lead.shows
        )
    return u, u


def _end_of_one(thing: Thing, side: int, upright: bool) -> Block:
    """The chassis, or words, at the end of one lead, with its number."""
    pen, stop = Pen(thing, side), thing.stops[0]
    (lead, terminal), end = thing.leads[0], stop.value[0]
    size = tag_size(lead.said) if lead.said else (2.0, 2.0)
    far = (0.0, -size[1] - 1.4) if upright else (-size[0] - CHASSIS[0] / 2 - 1.0, 0.0)
    pen.door(lead, terminal, ((0.0, 0.0), far))
    if lead.said:
        middle = (0.0, far[1] / 2) if upright else (-CHASSIS[0] / 2 - 0.2 - size[0] / 2, 0.0)
        pen.items += tag(lead, pen.at(*middle))
        pen.solid.append(pen.items[0].box)
    if end in thing.chassis:
        pen.chassis(lead, 0.0, 0.0)
        return pen.done()
    top = 0.3 if upright else -line_mm(POINTS) / 2
    pen.words([(visible(stop.value[1]), True)], 0.0 if upright else 0.8, top,
              "centre" if upright else "outwards", lead.shows)  # fmt: skip
    return pen.done()


# A single part, standing ------------------------------------------------------------------


def _standing(thing: Thing, stop: Stop, side: int, up: int) -> Block:
    """Upright, its end towards the switch up (-1) or down, its words at the outer side."""
    pen = Pen(thing, side)
    part = stop.what
    assert isinstance(part, Part)
    tall, wide = _BODY / 2, _height(stop) / 2
    first_up = (stop.ends[0] == part.full_terminals[0]) == (up < 0)
    kind = "diode-up" if part.symbol == "diode" and not first_up else part.symbol
    body = pen.box(-wide, wide, -tall, tall)
    pen.symbol(kind, body, shows_of(stop), None, NEW if stop.new else FINE)
    said = _said(stop)
    pen.words(said, wide + 0.9, -line_mm(POINTS) * len(said) / 2, "outwards", shows_of(stop))
    if isinstance(part, Capacitor) and part.polarised:
        at = -tall - 0.4 if first_up else tall - 2.4
        pen.words([("+", True)], -wide - 0.2, at, "inwards", shows_of(stop), shows_of(stop))
    for end, way in zip(stop.ends, (up, -up), strict=True):
        for lead in thing.at(end):
            pen.door(lead, end, ((0.0, way * tall), (0.0, way * (tall + OUT))))
    for lead in thing.links:
        _down(pen, lead, tall)
    return pen.done()


def _down(pen: Pen, lead: Lead, top: float) -> None:
    """A lead down to the chassis, or to words where it goes, its number in it."""
    bottom = top + (TAG_HEIGHT + 1.6 if lead.said else 1.5)
    pen.link(lead, (0.0, top), (0.0, bottom))
    if lead.said:
        pen.items += tag(lead, pen.at(0.0, (top + bottom) / 2))
    end, said = next(stop.value for stop in pen.thing.stops if stop.what is None)
    if end in pen.thing.chassis:
        pen.chassis(lead, 0.0, bottom)
    else:
        pen.words([(visible(said), True)], 0.0, bottom + 0.3, "centre", lead.shows)


# Parts with several lugs -------------------------------------------------------------------


def _lugged(thing: Thing, side: int) -> Block:
    """A meter, a pot, a strip, a point with many leads: its lugs at its inner edge, from behind."""
    pen = Pen(thing, side)
    what = thing.stops[0].what
    assert what is not None
    lugs = [what.name] if isinstance(what, Tag) else _turned(what, side)
    straps = _straps(thing, lugs)
    strapped = [straps[shows] for shows in straps]
    grounded = any(end in thing.chassis for lead, _ in thing.leads for end in lead.ends)
    row = CHASSIS[1] + 2.0 if grounded else _ROW
    spots: dict[str, float] = {}
    y = 0.0
    for number, terminal in enumerate(lugs):
        leads = [lead for lead in thing.at(terminal) if lead.shows not in straps]
        tall = row * max(0, len(leads) - 1)
        if number:
            y += _pitch(what, frozenset(lugs[number - 1 : number + 1]) in strapped)
        net = next((lead.net for lead in thing.at(terminal)), None)
        lug = pen.box(-_LUG / 2, _LUG / 2, y - _LUG / 2, y + tall + _LUG / 2)
        pen.symbol("chamfered" if tall else "lug", lug, f"lug:{terminal}", net)
        for count, lead in enumerate(leads):
            _out_of_lug(pen, lead, terminal, y + count * row)
        spots[terminal] = y + tall / 2
        y += tall
    for lead in {lead.shows: lead for lead, _ in thing.leads}.values():
        if lead.shows in straps:
            first, second = sorted(spots[end] for end in lead.ends)
            pen.link(lead, (0.0, first), (0.0, second))
            if lead.said:
                pen.items += tag(lead, pen.at(0.0, (first + second) / 2))
    if isinstance(what, Tag):
        pen.words(tag_said(what), _LUG / 2, y + _LUG / 2 + 0.3, "inwards", what.shows)
        return pen.done(_LUG / 2)
    return pen.done(_body(pen, thing.stops[0], spots, y))


def _out_of_lug(pen: Pen, lead: Lead, terminal: str, y: float) -> None:
    """A wire straight out of a lug, of a part inwards; or a short one to the chassis."""
    if not any(end in pen.thing.chassis for end in lead.ends):
        sides = (-1, 1) if isinstance(pen.thing.stops[0].what, Tag) else (-1,)
        pen.door(lead, terminal, *(((0.0, y), (side * (_LUG / 2 + OUT), y)) for side in sides))
        return
    length = _LUG / 2 + (tag_size(lead.said)[0] + 1.4 if lead.said else 0.0) + 3.4
    pen.link(lead, (0.0, y), (-length, y))
    pen.chassis(lead, -length, y)
    if lead.said:
        pen.items += tag(lead, pen.at(-_LUG / 2 - 0.5 - tag_size(lead.said)[0] / 2, y))


def _pitch(what: Part | Tag | None, strapped: bool) -> float:
    if isinstance(what, Meter):
        return 10.0
    return 8.2 if strapped else 5.0


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


def _body(pen: Pen, stop: Stop, spots: Mapping[str, float], bottom: float) -> float:
    """The case behind the lugs, the lugs' names, and what the part is; its outer edge."""
    part, shows = stop.what, shows_of(stop)
    assert isinstance(part, Part)
    said = [(visible(part.name), True)]
    said += [(line, False) for one in stop.value for line in wrap(visible(one), 21.0, POINTS)]
    meter = isinstance(part, Meter)
    names = {t: visible(t.partition(".")[2]).replace("-", "−" if meter else "-") for t in spots}
    wide = 0.0 if meter else max(width_mm(name, POINTS) for name in names.values())
    text = max(width_mm(line, POINTS, bold) for line, bold in said)
    tall, middle = line_mm(POINTS) * len(said), bottom / 2
    begin = _LUG / 2 + 0.8 + wide + (0.0 if meter else 1.4)
    outer = begin + text + 1.4
    half = max(tall / 2 + 1.2, bottom / 2 + _LUG / 2 + 1.2)
    if meter:
        half = max(half, (outer + 2.2) / 2, 9.0)
        outer = -2.2 + 2 * half
    case = pen.box(-2.2 if meter else -0.6, outer, middle - half, middle + half)
    pen.items.insert(0, Symbol("disc" if meter else "chamfered", case, shows, None, FINE,
                               fill="#f6f6f6", backdrop=True))  # fmt: skip
    for terminal, y in spots.items():
        if meter:
            pen.words([(names[terminal], True)], 0.0, y - line_mm(POINTS) / 2, "centre",
                      f"lug:{terminal}", f"lug:{terminal}")  # fmt: skip
        else:
            pen.words([(names[terminal], False)], _LUG / 2 + 0.8, y - line_mm(POINTS) / 2,
                      "outwards", f"lug:{terminal}")  # fmt: skip
    pen.words(said, begin + text / 2, middle - tall / 2, "centre", shows)
    pen.solid.append(case)
    return outer
