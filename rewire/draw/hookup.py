"""The hook-up: a switch from behind with everything that is soldered to it, as it is wired.

Begin reading here; ``leads`` says what is joined, ``switch_back`` and ``off_switch`` how things
look, ``placement`` where they stand, ``routing`` where the wires run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import networkx as nx

from rewire.circuit.circuit import circuit_of
from rewire.draw.in_place import Words, framed, paragraph, words_in_place
from rewire.draw.leads import Lead, leads_of
from rewire.draw.lugs import Grid, arrange
from rewire.draw.off_switch import Block, Thing, drawn, hanging, tag, tag_size
from rewire.draw.placement import Room, placed
from rewire.draw.routing import Disc, Door, Wish, price_of, raster_of, routed
from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Panel,
    Symbol,
    Text,
    around,
    hull,
    line_enters,
)  # fmt: skip
from rewire.draw.switch_back import Back, Lugs, numbered, rows_back, tag_spot, wafer_back
from rewire.draw.things import chassis_of, things_of
from rewire.records.parts import Strip
from rewire.records.spec import CUT, Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.solved import lug_volts

_LANES = 4.0
"""Over, under and between decks, for wires to pass, mm."""
_TRIES, _MANY = 4, 24
"""So many placements are routed and compared; one alone where there are many things."""
_SPREADS = (2.0, 4.0)
"""More room between things, tried in turn until every wire finds a course, mm."""
_JOINING = ("lug", "round", "chamfered", "joint", "chassis")
"""Kinds of symbols at which a line joins."""
_TALLEST, _MOST_LEADS = 150.0, 24
"""Decks that are taller together, mm, or have more leads stand on pictures of their own."""


def hook_up(spec: Spec, wiring: Wiring, width: float, height: float) -> Panel:
    """All switches of a wiring from behind, and everything soldered to them.

    Args:
        spec: the swap.
        wiring: what is drawn.
        width: of the panel, mm.
        height: that is wished, mm; the panel is taller where it must be.
    """
    return _panel(_whole(spec, wiring), width, height)[0]


def sound_hook_up(spec: Spec, wiring: Wiring, width: float, height: float) -> Panel | None:
    """The same; None where a lead finds no course, or lies over what it does not join."""
    panel, every_lead = _panel(_whole(spec, wiring), width, height)
    return panel if every_lead and not misleading(panel.items) else None


def misleading(items: Sequence[Item]) -> list[str]:
    """Lines that run over a lug, a joint or an end of another net, by what they show."""
    lines = [item for item in items if isinstance(item, Line) and item.net]
    spots: list[tuple[str | None, Box]] = [
             (item.net, item.box.grown(-0.1)) for item in items
             if isinstance(item, Symbol) and item.kind in _JOINING and item.net]  # fmt: skip
    spots += [(line.net, around(end, 0.4, 0.4)) for line in lines
              for end in (line.points[0], line.points[-1])]  # fmt: skip
    return [
        line.shows for line in lines
        if any(net != line.net and line_enters(line.points, spot) for net, spot in spots)
    ]  # fmt: skip


def _whole(spec: Spec, wiring: Wiring) -> Job:
    """Everything on one panel."""
    leads = leads_of(spec, wiring)
    parts = frozenset(circuit_of(spec, wiring).parts)
    return Job(spec, wiring, tuple(leads), tuple(_backs(spec, wiring, leads)), parts)


def hook_ups(spec: Spec, wiring: Wiring, width: float, height: float) -> list[Panel]:
    """The hook-up as panels, each to stand on a page of its own; one where all fits.

    Where it does not, a lead to a deck that is not shown ends on the name of its lug there.
    """
    leads = leads_of(spec, wiring)
    groups: list[list[Back]] = []
    for back in _backs(spec, wiring, leads):
        together = [*(groups[-1] if groups else []), back]
        if groups and _tall(together) <= _TALLEST and _busy(together, leads) <= _MOST_LEADS:
            groups[-1] = together
        else:
            groups.append([back])
    return [_panel(job, width, height)[0] for job in _jobs(spec, wiring, leads, groups or [[]])]


@dataclass(frozen=True, slots=True)
class Job:
    """What one panel shows."""

    spec: Spec
    wiring: Wiring
    leads: tuple[Lead, ...]
    backs: tuple[Back, ...]
    parts: frozenset[str]


def _jobs(
    spec: Spec, wiring: Wiring, leads: Sequence[Lead], groups: Sequence[Sequence[Back]]
) -> Iterator[Job]:
    """A job for each group of decks; what no group reaches is shown with the first."""
    parts = frozenset(circuit_of(spec, wiring).parts)
    reached = [_reached(spec, wiring, leads, group) for group in groups]
    known = {lead.shows for some in reached for lead in some}
    for lead in leads:
        if lead.shows not in known:
            places = ({end for other in some for end in other.ends} for some in reached)
            near = (n for n, there in enumerate(places) if there & set(lead.ends))
            reached[next(near, 0)].append(lead)
    named = [{end.partition(".")[0] for lead in some for end in lead.ends} for some in reached]
    named[0] |= parts - set().union(*named)
    for some, group, names in zip(reached, groups, named, strict=True):
        yield Job(spec, wiring, tuple(some), tuple(group), parts & names)


def _busy(backs: Sequence[Back], leads: Sequence[Lead]) -> int:
    """How many leads end on some decks."""
    lugs = {lug for back in backs for lug in back.lugs}
    return sum(bool(lugs & set(lead.ends)) for lead in leads)


def _reached(
    spec: Spec, wiring: Wiring, leads: Sequence[Lead], backs: Sequence[Back]
) -> list[Lead]:
    """The leads at some decks, and those at the parts and points that hang on them."""
    shown = {lug for back in backs for lug in back.lugs}
    lugs = {t for s in spec.all_of(Switch, wiring).values() for t in s.full_terminals}
    if shown == lugs:
        return list(leads)
    walls = (lugs - shown) | set(spec.points) | {CUT}
    strips = {t for s in spec.all_of(Strip, wiring).values() for t in s.full_terminals}
    ends = {end: end if end in lugs | strips else end.partition(".")[0] for lead in leads
            for end in lead.ends}  # fmt: skip
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(shown)
    graph.add_edges_from((ends[a], ends[b]) for a, b in (lead.ends for lead in leads)
                         if not {a, b} & walls)  # fmt: skip
    known = {one for lug in shown for one in nx.node_connected_component(graph, lug)}
    return [lead for lead in leads if any(ends[e] in known for e in lead.ends if e not in walls)]


def _panel(job: Job, width: float, height: float) -> tuple[Panel, bool]:
    """The panel, and whether every lead has its line."""
    lugs = frozenset(lug for back in job.backs for lug in back.lugs)
    words = Words(job.spec, job.wiring, lugs)
    head, top = paragraph(words.heading(), 1.0, 0.5, width - 2.0, "heading")
    said = words.legend(job.leads)
    warning, foot = framed(words.must_stay(), width)
    below = paragraph([(said, False)], 1.0, 0.0, width - 2.0, "legend")[1]
    frame = Box(0.0, top, width, height - foot - below - 2.5)
    picture, left, whole = _picture(job, frame)
    box = hull(item.box for item in picture)
    picture = [item.moved(0.0, top + 1.0 - box.top) for item in picture]
    bottom = top + box.height + 2.5
    words_under, end = paragraph(
        [(" ".join([said, *left]), False)], 1.0, 0.0, width - 2.0, "legend"
    )
    items = [
        *head, *picture, *(item.moved(0.0, bottom) for item in warning),
        *(item.moved(0.0, bottom + foot) for item in words_under),
    ]  # fmt: skip
    return Panel(tuple(items), width, bottom + foot + end + 1.0), whole


def _picture(job: Job, frame: Box) -> tuple[list[Item], list[str], bool]:
    """The drawing, sentences for what found no room in it, and whether every lead has its line."""
    spec, wiring, leads = job.spec, job.wiring, job.leads
    backs, hung = _hung(job.backs, leads, chassis_of(spec))
    stack, inner = _stacked(backs, frame)
    lug_at = {t: ways[0].points[-1] for back in stack for t, ways in back.doors.items() if ways}
    lugs = {lug for back in stack for lug in back.lugs}
    things = [thing for thing in things_of(spec, wiring, leads, lugs, job.parts)
              if thing.what or thing.leads[0][0].shows not in hung]  # fmt: skip
    here = {shows for back in stack for shows in back.jumpers}
    free = [lead for lead in leads if lead.shows not in here]
    room = Box(1.0, frame.top + 1.0, frame.right - 1.0, max(frame.bottom, frame.top + _tall(backs)))
    best = _best(Room(room, inner), stack, things, free, lug_at)
    blocks, lines = best.blocks, best.lines
    items: list[Item] = [item for back in stack for item in back.items]
    items += [item for block in blocks for item in block.items]
    items += lines
    items += _lug_tags(items, lines, {lead.shows: lead for lead in free}, stack)
    drawn_here = {item.shows for item in items if isinstance(item, Line)}
    told = [lead for lead in leads if lead.shows not in drawn_here]
    items += _told(stack, blocks, told)
    items, left = words_in_place(spec, wiring, stack, items, leads, told, frame.right)
    return items, left, not told


class Laid(NamedTuple):
    """Blocks and wires of one try, its lower edge, and how many wires found no course."""

    blocks: list[Block]
    lines: list[Line]
    bottom: float
    left_out: int

    @property
    def price(self) -> tuple[int, float]:
        """Wires left out; then height, and length, bends and crossings of the others in mm."""
        return self.left_out, 3.0 * self.bottom + price_of([line.points for line in self.lines])


def _best(
    room: Room, stack: Sequence[Back], things: Sequence[Thing], leads: Sequence[Lead],
    lug_at: Mapping[str, XY],
) -> Laid:  # fmt: skip
    """The best of a few tries; with more room between things where wires find no course."""
    rooms = [replace(room, number=n) for n in range(1, _TRIES if len(things) <= _MANY else 1)]
    laid = [_laid(room, stack, things, leads, lug_at)]
    if laid[0].left_out:
        rooms = [replace(room, spread=spread) for spread in _SPREADS]
    for other in rooms:
        laid.append(_laid(other, stack, things, leads, lug_at))
        if laid[0].left_out and not laid[-1].left_out:
            break
    return min(laid, key=lambda one: one.price)


def _laid(
    room: Room, stack: Sequence[Back], things: Sequence[Thing], leads: Sequence[Lead],
    lug_at: Mapping[str, XY],
) -> Laid:  # fmt: skip
    blocks = list(placed(room, things, leads, lug_at).values())
    bottom = max([room.box.bottom, *(block.box.bottom for block in blocks)])
    lines = _routed(replace(room.box, bottom=bottom).grown(0.5), stack, blocks, leads)
    within = {shows for block in blocks for shows in block.within}
    return Laid(blocks, lines, bottom, len(leads) - len(lines) - len(within))


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


def _stacked(backs: Sequence[Back], frame: Box) -> tuple[list[Back], tuple[float, float]]:
    """The decks under each other in the middle, and the lines to the left and right of them."""
    x = 2.0 * round(frame.width / 4.0)
    y = frame.top + max(0.0, frame.height - _tall(backs)) / 2.0 + _LANES
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


def _hung(
    backs: Sequence[Back], leads: Sequence[Lead], chassis: frozenset[str]
) -> tuple[list[Back], set[str]]:
    """Leads to the chassis from lugs whose way out is upright end on its symbol right there."""
    made, hung = [], set[str]()
    for back in backs:
        items, doors, solid = list(back.items), dict(back.doors), list[Box]()
        for lead in leads:
            lug = next((end for end in lead.ends if end in doors), "")
            upright = next(
                (way for way in doors.get(lug, ()) if way.upright and not way.extra), None
            )
            if upright is None or not chassis & set(lead.ends):
                continue
            others = [way for ways in doors.values() for way in ways if way is not upright]
            drawing = _clear_of(others, solid, lead, upright, chassis)
            items += drawing
            solid += [item.box for item in drawing]
            if drawing:
                doors[lug] = tuple(way for way in doors[lug] if way is not upright)
                hung.add(lead.shows)
        made.append(replace(
            back, items=tuple(items), doors=doors, jumpers=back.jumpers | hung,
            solid=(*back.solid, *solid),
        ))  # fmt: skip
    return made, hung


def _clear_of(
    others: Sequence[Door], solid: Sequence[Box], lead: Lead, way: Door, chassis: frozenset[str]
) -> list[Item]:
    """The drawing of a lead that hangs on its lug, clear of all else; none where it is not."""
    for side in (1, -1):
        drawing = hanging(lead, way, chassis, side)
        whole = hull([i.box for i in drawing if not isinstance(i, Line)]).grown(1.2)
        tall = whole.grown(4.0)
        ends = (other.points[-1] for other in others)
        if not any(map(whole.meets, solid)) and not any(
            whole.left < x < whole.right and tall.top < y < tall.bottom for x, y in ends
        ):
            return drawing
    return []


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


def _told(stack: Sequence[Back], blocks: Sequence[Block], leads: Sequence[Lead]) -> Iterator[Item]:
    """The beginnings of leads that found no course; words say where they go."""
    for lead in leads:
        for end in lead.ends:
            ways = [block.doors[lead.shows, end] for block in blocks
                    if (lead.shows, end) in block.doors]  # fmt: skip
            ways += [way for back in stack for way in back.doors.get(end, ())]
            if ways:
                yield replace(drawn(lead, ways[0].points), shows=f"{lead.shows}")


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
