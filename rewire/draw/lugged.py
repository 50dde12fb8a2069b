"""Parts with several lugs beside the switches, from behind: meters, pots, strips, busy points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from rewire.draw.leads import FINE, POINTS, Lead, tag, tag_size
from rewire.draw.pen import CHASSIS, OUT, Block, Pen, shows_of, tag_said
from rewire.draw.scene import (
    Symbol,
    line_mm,
    visible,
    width_mm,
    wrap,
)
from rewire.draw.strands import Stop, Tag, Thing
from rewire.records.part import Part
from rewire.records.parts import Meter, Pot

LUG = 4.4
_ROW = 3.4
"""From one lead of a lug to the next, mm."""


def lugged(thing: Thing, side: int) -> Block:
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
        lug = pen.box(-LUG / 2, LUG / 2, y - LUG / 2, y + tall + LUG / 2)
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
        pen.words(tag_said(what), LUG / 2, y + LUG / 2 + 0.3, "inwards", what.shows)
        return pen.done(LUG / 2)
    return pen.done(_body(pen, thing.stops[0], spots, y))


def _out_of_lug(pen: Pen, lead: Lead, terminal: str, y: float) -> None:
    """A wire straight inwards from a lug, or a short one to the chassis."""
    if not any(end in pen.thing.chassis for end in lead.ends):
        pen.door(lead, terminal, ((0.0, y), (-LUG / 2 - OUT, y)))
        return
    length = LUG / 2 + (tag_size(lead.said)[0] + 1.4 if lead.said else 0.0) + 3.4
    pen.link(lead, (0.0, y), (-length, y))
    pen.chassis(lead, -length, y)
    if lead.said:
        pen.items += tag(lead, pen.at(-LUG / 2 - 0.5 - tag_size(lead.said)[0] / 2, y))


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
    begin = LUG / 2 + 0.8 + wide + (0.0 if meter else 1.4)
    outer = begin + text + 1.4
    half = max(tall / 2 + 1.2, bottom / 2 + LUG / 2 + 1.2)
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
            pen.words([(names[terminal], False)], LUG / 2 + 0.8, y - line_mm(POINTS) / 2,
                      "outwards", f"lug:{terminal}")  # fmt: skip
    pen.words(said, begin + text / 2, middle - tall / 2, "centre", shows)
    pen.solid.append(case)
    return outer
