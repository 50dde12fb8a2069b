"""The hook-up: a switch from behind with everything that is soldered to it, as it is wired.

Begin reading here; ``leads`` says what is joined, ``switch_back`` and ``off_switch`` how things
look, ``placement`` where they stand, ``routing`` where the wires run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.draw.in_place import (
    framed,
    heading,
    legend,
    must_stay,
    paragraph,
    words_in_place,
)
from rewire.draw.leads import Lead, leads_of
from rewire.draw.lugs import Grid, arrange
from rewire.draw.off_switch import Block, Thing, drawn, hanging, tag, tag_size
from rewire.draw.placement import Room, placed
from rewire.draw.routing import Disc, Door, Wish, raster_of, routed
from rewire.draw.scene import Box, Item, Line, Panel, Symbol, Text, hull
from rewire.draw.switch_back import Back, Lugs, numbered, rows_back, tag_spot, wafer_back
from rewire.records.part import Part
from rewire.records.parts import Switch
from rewire.records.spec import CUT, Spec, Wiring
from rewire.values.lug_volts import lug_volts
from rewire.values.solved import solved_of
from rewire.words.quantity import in_ohms

_LANES = 7.0
"""Over, under and between decks, for wires to pass, mm."""
_LONG = 45.0
"""A longer wire has its number at both ends, mm."""


def hook_up(spec: Spec, wiring: Wiring, width: float, height: float) -> Panel:
    """All switches of a wiring from behind, and everything soldered to them.

    Args:
        spec: the swap.
        wiring: what is drawn.
        width: of the panel, mm.
        height: that is wished, mm; the panel is taller where it must be.
    """
    leads = leads_of(spec, wiring)
    backs = _backs(spec, wiring, leads)
    head, top = paragraph(heading(spec, wiring), 1.0, 0.5, width - 2.0, "heading")
    below = [(legend(spec, wiring, leads), False)]
    warning, foot = framed(must_stay(spec, wiring), width, 0.0)
    foot += paragraph(below, 1.0, foot, width - 2.0, "legend")[1] - foot + 1.0
    backs, hung = _hung(backs, leads, _chassis(spec))
    tall = max(height - foot - top, _tall(backs))
    stack, inner = _stacked(backs, width, tall, top)
    things = [t for t in _things(spec, wiring, leads) if t.what or t.leads[0][0].shows not in hung]
    here = {shows for back in stack for shows in back.jumpers}
    free = [lead for lead in leads if lead.shows not in here]
    room = Box(1.0, top + 1.0, width - 1.0, top + tall)
    lug_at = {t: ways[0].points[-1] for back in stack for t, ways in back.doors.items() if ways}
    blocks = list(placed(Room(room, inner), things, free, lug_at).values())
    room = replace(room, bottom=max([room.bottom, *(block.box.bottom for block in blocks)]))
    lines = _routed(room.grown(0.5), stack, blocks, free)
    items: list[Item] = [item for back in stack for item in back.items]
    items += [item for block in blocks for item in block.items]
    items += lines
    items += _lug_tags(items, lines, {lead.shows: lead for lead in free}, stack)
    items, left = words_in_place(spec, wiring, stack, items)
    end = room.bottom + 1.5
    items += [*head, *(item.moved(0.0, end) for item in warning)]
    end += framed(must_stay(spec, wiring), width, 0.0)[1]
    told, end = paragraph(
        [(" ".join([below[0][0], *left]), False)], 1.0, end, width - 2.0, "legend"
    )
    return Panel((*items, *told), width, end + 1.0)


def hook_ups(spec: Spec, wiring: Wiring, width: float, height: float) -> list[Panel]:
    """The hook-up as panels, each to stand on a page of its own; one where all fits."""
    return [hook_up(spec, wiring, width, height)]


# Switches ---------------------------------------------------------------------------------


def _backs(spec: Spec, wiring: Wiring, leads: Sequence[Lead]) -> list[Back]:
    circuit = circuit_of(spec, wiring)
    live = lug_volts(spec, wiring)
    backs: list[Back] = []
    for switch in spec.all_of(Switch, wiring).values():
        shown = arrange(switch)
        lugs = Lugs(
            switch.name, frozenset(pole[0] for pole in switch.poles), numbered(switch.terminals),
            {lug: f"net {circuit.nets.of[switch.terminal(lug)]}" for lug in switch.terminals},
            leads, frozenset(lug for lug in switch.terminals if switch.terminal(lug) in live),
        )  # fmt: skip
        if isinstance(shown, Grid):
            backs.append(rows_back(shown, lugs))
        else:
            backs += [wafer_back(wafer, lugs) for wafer in shown]
    return backs


def _tall(backs: Sequence[Back]) -> float:
    return sum(_hull(back).height + _LANES for back in backs) + _LANES


def _hull(back: Back) -> Box:
    """The deck with what hangs on it."""
    return hull([back.square, *back.solid])


def _stacked(
    backs: Sequence[Back], width: float, height: float, top: float
) -> tuple[list[Back], tuple[float, float]]:
    """The decks under each other in the middle, and the lines to the left and right of them."""
    x = 2.0 * round(width / 4.0)
    y = top + (height - _tall(backs)) / 2.0 + _LANES
    made: list[Back] = []
    for back in backs:
        whole = _hull(back)
        made.append(_moved(back, x, 2.0 * round((y - whole.top) / 2.0)))
        y += whole.height + _LANES
    left = min((back.square.left for back in made), default=x)
    right = max((back.square.right for back in made), default=x)
    return made, (left, right)


def _moved(back: Back, dx: float, dy: float) -> Back:
    return replace(
        back, items=tuple(item.moved(dx, dy) for item in back.items),
        lugs={lug: box.moved(dx, dy) for lug, box in back.lugs.items()},
        doors={lug: tuple(_door_moved(door, dx, dy) for door in ways)
               for lug, ways in back.doors.items()},
        square=back.square.moved(dx, dy),
        solid=tuple(box.moved(dx, dy) for box in back.solid),
    )  # fmt: skip


def _door_moved(door: Door, dx: float, dy: float) -> Door:
    return replace(door, points=tuple((x + dx, y + dy) for x, y in door.points))


def _chassis(spec: Spec) -> frozenset[str]:
    return frozenset(point.name for point in spec.points.values() if point.chassis)


def _hung(
    stack: Sequence[Back], leads: Sequence[Lead], chassis: frozenset[str]
) -> tuple[list[Back], set[str]]:
    """Leads to the chassis from lugs whose way out is upright end on its symbol right there."""
    made, hung = [], set[str]()
    for back in stack:
        items, doors, solid = list(back.items), dict(back.doors), []
        for lead in leads:
            lug = next((end for end in lead.ends if end in doors), None)
            ways = doors.get(lug or "", ())
            upright = next((way for way in ways if way.upright and not way.extra), None)
            if lug is None or upright is None or not chassis & set(lead.ends):
                continue
            drawing = hanging(lead, upright, chassis)
            items += drawing
            solid += [item.box for item in drawing]
            doors[lug] = tuple(way for way in ways if way is not upright)
            hung.add(lead.shows)
        made.append(replace(
            back, items=tuple(items), doors=doors, jumpers=back.jumpers | hung,
            solid=(*back.solid, *solid),
        ))  # fmt: skip
    return made, hung


# What stands beside them ------------------------------------------------------------------


def _things(spec: Spec, wiring: Wiring, leads: Sequence[Lead]) -> list[Thing]:
    """Parts, points, and the far end of each lead that goes from a switch to the chassis."""
    parts = circuit_of(spec, wiring).parts
    chassis = _chassis(spec)
    values = _values(spec, wiring, parts)
    own = {part.terminal(lug) for part in parts.values() if not isinstance(part, Switch)
           for lug in part.terminals}  # fmt: skip
    own |= {point.name for point in spec.points.values() if not point.chassis}
    things: list[Thing] = []
    for name, part in parts.items():
        if isinstance(part, Switch):
            continue
        ends = set(part.full_terminals)
        ending = tuple((lead, t) for t in part.full_terminals for lead in leads
                       if t in lead.ends and t in ends)  # fmt: skip
        far = frozenset(
            lead.shows for lead, end in ending for other in lead.ends
            if other != end and other in own and other not in part.full_terminals
        )  # fmt: skip
        things.append(Thing(name, part, ending, values[name], _rating(part), chassis,
                            name in wiring.parts, far))  # fmt: skip
    for point in spec.points.values():
        ending = tuple((lead, point.name) for lead in leads if point.name in lead.ends)
        if ending and not point.chassis:
            things.append(Thing(point.name, point, ending, chassis=chassis))
    for lead in leads:
        for end, other in (lead.ends, lead.ends[::-1]):
            if end == CUT or (end in chassis and other not in own):
                things.append(Thing(f"{end} {lead.shows}", None, ((lead, end),), chassis=chassis))
    return things


def _values(spec: Spec, wiring: Wiring, parts: Mapping[str, Part]) -> dict[str, str]:
    """Each part's value as printed; what is fitted with the value that was chosen."""
    try:
        solved = solved_of(spec, wiring)
    except LimitReached:
        return {name: part.value for name, part in parts.items()}
    said = {name: part.value for name, part in parts.items()}
    for unknown in solved.unknowns:
        found = solved.chosen.get(unknown.part, solved.exact.get(unknown.part))
        if found is not None and unknown.is_setting:
            said[unknown.part] = f"{parts[unknown.part].value}, set {100.0 * found:.0f} %"
        elif found is not None:
            said[unknown.part] = in_ohms(found)
    return said


def _rating(part: Part) -> str:
    said = [f"{most:g} {unit[0].upper()}" for unit, most in part.ratings if unit == "watts"]
    resistance = getattr(part, "resistance", None)
    if part.kind == "meter" and resistance is not None:
        said.append(in_ohms(resistance))
    return ", ".join(said)


# Wires ------------------------------------------------------------------------------------


def _routed(
    room: Box, stack: Sequence[Back], blocks: Sequence[Block], leads: Sequence[Lead]
) -> list[Line]:
    doors: dict[tuple[str, str], tuple[Door, ...]] = {}
    within = {shows for block in blocks for shows in block.within}
    for block in blocks:
        doors.update({key: (door,) for key, door in block.doors.items()})
    for back in stack:
        doors.update({(lead.shows, t): ways for t, ways in back.doors.items() for lead in leads})
    wishes = [
        Wish(lead.shows, (doors[lead.shows, lead.ends[0]], doors[lead.shows, lead.ends[1]]))
        for lead in leads
        if lead.shows not in within and all((lead.shows, end) in doors for end in lead.ends)
    ]
    obstacles: list[Box | Disc] = [solid for block in blocks for solid in block.solid]
    for back in stack:
        shut = list(back.lugs.values()) if back.open_within else [back.square.grown(-1.0)]
        obstacles += [*shut, *back.solid]
    ends = {door.points[-1] for ways in doors.values() for door in ways}
    raster = raster_of(room, ends, [*obstacles, *(Disc(end, 0.1) for end in ends)])
    courses = routed(raster, wishes)
    by_name = {lead.shows: lead for lead in leads}
    return [drawn(by_name[shows], points) for shows, points in courses.items()]


def _lug_tags(
    items: Sequence[Item], lines: Sequence[Line], leads: Mapping[str, Lead], stack: Sequence[Back]
) -> Iterator[Item]:
    """The number at the lug of every long wire."""
    taken = [i.box for i in items if isinstance(i, Text | Symbol) and not _backdrop(i)]
    every = [item for item in items if isinstance(item, Line)]
    lugs = {lug: box for back in stack for lug, box in back.lugs.items()}
    for line in lines:
        lead = leads[line.shows]
        at_lug = [end for end in lead.ends if end in lugs]
        if not lead.said or not at_lug:
            continue
        others = [other.points for other in every if other is not line]
        spot = tag_spot(line.points, tag_size(lead.said), taken, others, 0.15)
        if spot is not None:
            mark = tag(lead, spot)
            taken.append(mark[0].box)
            yield from mark


def _backdrop(item: Item) -> bool:
    return isinstance(item, Symbol) and item.backdrop
