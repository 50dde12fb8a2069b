"""The hook-up: the switches from behind with everything that is soldered to them, as it is wired.

Begin reading here; ``leads`` says what is joined, ``strands`` what stands in one row, ``blocks``,
``lugged`` and ``switch_back`` how things look, ``placement`` where they stand, ``routing`` where
wires run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from rewire.circuit.circuit import circuit_of
from rewire.draw.blocks import drawn_forms
from rewire.draw.in_place import LugWords, framed, paragraph, words_in_place
from rewire.draw.leads import Lead, Stop, Tag, drawn, leads_of, tag, tag_size
from rewire.draw.lugs import Grid, arrange
from rewire.draw.pen import Block
from rewire.draw.placement import Board, Placed, improved, placed, price
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
from rewire.draw.strands import Around, things_of
from rewire.draw.switch_back import Back, Lugs, numbered, rows_back, wafer_back
from rewire.draw.tag_spots import tag_spot
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.solved import lug_volts

_LANE = 8.0
"""Between decks at least, for wires to pass, mm."""
_ASIDE = (0.0, 20.0)
"""From the middle of the picture a single deck is tried, mm."""
_SIDE = 44.0
"""A row of a part and a point takes so much beside a deck, mm."""
_TRIES = 8
"""So often a picture that is not sound is improved."""
_TAG_ROOM, _LONGER = 5.0, 15.0
"""A wire is so much longer than its number, and longer yet where that found no room, mm."""
_LONG = 50.0
"""A longer wire has its number at both ends, mm."""
_JOINING = ("lug", "point", "round", "chamfered", "joint", "chassis")
"""Kinds of symbols at which a line joins."""


def hook_up(spec: Spec, wiring: Wiring, width: float, height: float) -> Panel | None:
    """All switches of a wiring from behind, with everything soldered to them; width in mm.

    None where a wire finds no course, has no room for its number, or lies over what it does not
    join: such a picture must not be shown. It is taller than ``height`` where it must be.
    """
    portion, words = _whole(spec, wiring)
    said = Lettering(words.heading(), words.legend(portion.leads), words.must_stay())
    return portion_drawn(spec, wiring, portion, said, (width, height))


def hook_up_in_brief(spec: Spec, wiring: Wiring, width: float, height: float) -> Panel | None:
    """The same beside another hook-up: no key, no ratings or whereabouts, each number once."""
    portion, words = _whole(spec, wiring)
    said = Lettering(words.heading_in_brief(), "", words.must_stay(), _in_brief, math.inf)
    return portion_drawn(spec, wiring, portion, said, (width, height))


def _in_brief(stop: Stop) -> Stop:
    if isinstance(stop.what, Tag):
        return replace(stop, what=replace(stop.what, where=""))
    return stop if stop.what is None else replace(stop, value=stop.value[:1])


def _in_full(stop: Stop) -> Stop:
    return stop


def _whole(spec: Spec, wiring: Wiring) -> tuple[Pictured, LugWords]:
    leads = leads_of(spec, wiring)
    backs = backs_of(spec, wiring, leads)
    words = LugWords(spec, wiring, frozenset(lug for back in backs for lug in back.lugs))
    return Pictured(backs, leads, frozenset(circuit_of(spec, wiring).parts)), words


class Pictured(NamedTuple):
    """What one picture shows: decks, leads, and the parts beside them."""

    backs: Sequence[Back]
    leads: Sequence[Lead]
    parts: Collection[str]


class Lettering(NamedTuple):
    """The words over, under and in a picture."""

    heading: Sequence[tuple[str, bool]]
    legend: str
    must_stay: Sequence[str]
    lettered: Callable[[Stop], Stop] = _in_full
    """A part or a point with what is said of it."""
    long: float = _LONG


def portion_drawn(
    spec: Spec, wiring: Wiring, portion: Pictured, said: Lettering, size: XY
) -> Panel | None:
    """The picture of some decks; None as for all of them. ``size`` as there, mm."""
    width, height = size
    head, top = paragraph(said.heading, 1.0, 0.5, width - 2.0, "heading")
    below = paragraph([(said.legend, False)], 1.0, 0.0, width - 2.0, "legend")[1]
    frame = Box(1.0, 0.0, width - 1.0, height - top - below - 2.0)
    laid = _best(spec, wiring, portion, frame, said)
    if laid.wrong:
        return None
    items, left = words_in_place(spec, wiring, laid.decks, laid.items, portion.leads, width)
    box = hull(item.box for item in items)
    bottom = top + box.height + 1.5
    under = " ".join(filter(None, [said.legend, *left]))
    told, end = paragraph([(under, False)], 1.0, 0.0, width - 2.0, "legend")
    return Panel((
        *head, *(item.moved(0.0, top + 0.5 - box.top) for item in items),
        *(item.moved(0.0, bottom) for item in told),
    ), width, bottom + end + 0.5)  # fmt: skip


def _warning(said: Sequence[str], width: float) -> list[list[Block]]:
    """What must not be left out, in a frame of several widths."""
    if not said:
        return []
    framings = [framed(said, share * width) for share in (0.33, 0.45, 1.0)]
    return [[Block(tuple(items), {}, items[0].box.grown(1.0), (items[0].box,))
             for items in framings]]  # fmt: skip


def misleading(items: Sequence[Item]) -> list[str]:
    """Lines that run over what they do not join, or end on nothing, by what they show."""
    lines = [item for item in items if isinstance(item, Line) and item.net]
    spots: list[tuple[str | None, Box]] = [
             (item.net, item.box.grown(-0.1)) for item in items
             if isinstance(item, Symbol) and item.kind in _JOINING and item.net]  # fmt: skip
    spots += [(line.net, around(end, 0.4, 0.4)) for line in lines
              for end in (line.points[0], line.points[-1])]  # fmt: skip
    symbols = [item for item in items if isinstance(item, Symbol)]
    chassis = [item.box.grown(-0.3) for item in symbols if item.kind == "chassis"]
    ends = [item.box.grown(0.4) for item in symbols]
    return [
        line.shows for line, bounds in zip(lines, [line.box for line in lines], strict=True)
        if any(net != line.net and bounds.meets(spot) and line_enters(line.points, spot)
               for net, spot in spots)
        or any(line_enters(line.points, box) for box in chassis)
        or (line.shows.startswith("part:") and not _ends_on(line, ends))
    ]  # fmt: skip


def _ends_on(line: Line, boxes: Sequence[Box]) -> bool:
    """Whether both ends of a part's lead are on something."""
    ends = [around(end, 0.1, 0.1) for end in (line.points[0], line.points[-1])]
    return all(any(box.meets(end) for box in boxes) for end in ends)


class Laid(NamedTuple):
    """One try: the decks, all that is drawn, and how many things are wrong with it."""

    decks: list[Back]
    items: list[Item]
    wrong: int
    """Wires without a course or without their number, and lines that mislead."""
    untagged: Collection[str]
    """``shows`` of the wires without their number."""


def _best(spec: Spec, wiring: Wiring, portion: Pictured, frame: Box, said: Lettering) -> Laid:
    """The cheapest sound one of a few pictures, or the one with the fewest faults."""
    here = {shows for back in portion.backs for shows in back.jumpers}
    free = [lead for lead in portion.leads if lead.shows not in here]
    around_decks = Around(free, {lug for back in portion.backs for lug in back.lugs}, portion.parts)
    things: list[Sequence[Block]] = [
        drawn_forms(replace(thing, stops=tuple(map(said.lettered, thing.stops))))
        for thing in things_of(spec, wiring, around_decks)
    ]
    things += _warning(said.must_stay, frame.width)
    boards = (
        (_board(decks, frame, things, free), decks) for decks in _arranged(portion.backs, frame)
    )
    starts = [(board, placed(board, things), decks) for board, decks in boards]
    board, one, decks = min(starts, key=lambda start: price(*start[:2]))
    tries: list[Laid] = []
    for seed in range(_TRIES):
        one = improved(board, things, one, seed)
        tries.append(_painted(decks, board, one, said.long))
        if not tries[-1].wrong:
            break
        board = replace(board, least=_longer(board.least, tries[-1].untagged))
    return min(tries, key=lambda one: one.wrong)


def _longer(least: Mapping[str, float], untagged: Collection[str]) -> dict[str, float]:
    """Wires that had no room for their number must be longer."""
    return {shows: far + (_LONGER if shows in untagged else 0.0) for shows, far in least.items()}


def _board(
    decks: Sequence[Back], frame: Box, things: Sequence[Sequence[Block]], leads: Sequence[Lead]
) -> Board:
    return Board(
        frame, tuple(box for back in decks for box in back.solid),
        tuple(one for back in decks for one in back.shut),
        {lead.shows: lead for lead in leads}, _least(things, leads),
        {lug: doors for back in decks for lug, doors in back.doors.items()},
    )  # fmt: skip


def _painted(decks: list[Back], board: Board, one: Placed, long: float) -> Laid:
    """All that is drawn, and what is wrong with it."""
    blocks = one.blocks.values()
    lines = [drawn(board.leads[s], course.points) for s, course in one.courses.items()]
    within = {shows for block in blocks for shows in block.within}
    items: list[Item] = [item for back in decks for item in back.items]
    items += [item for block in blocks for item in block.items]
    items += lines
    marks, untagged = _tags(items, lines, board, long)
    items += marks
    lost = len(board.leads) - len(lines) - len(within)
    return Laid(decks, items, lost + len(untagged) + len(misleading(items)), untagged)


def _least(things: Sequence[Sequence[Block]], leads: Sequence[Lead]) -> dict[str, float]:
    """``shows`` of a lead whose number stands on its course → how long that must be, mm."""
    done = {item.shows for forms in things for item in forms[0].items
            if isinstance(item, Symbol) and item.kind == "tag"}  # fmt: skip
    return {lead.shows: tag_size(lead.said)[0] + _TAG_ROOM
            for lead in leads if lead.said and lead.shows not in done}  # fmt: skip


# Switches ---------------------------------------------------------------------------------


def backs_of(
    spec: Spec, wiring: Wiring, leads: Sequence[Lead], *, mirrored: bool = False, position: int = 0
) -> list[Back]:
    """Every deck of every switch, its springs as in a position; mirrored, as from the front."""
    circuit = circuit_of(spec, wiring)
    live = lug_volts(spec, wiring)
    backs: list[Back] = []
    for switch in spec.all_of(Switch, wiring).values():
        shown = arrange(switch, mirrored=mirrored, position=position)
        commons = {pole[0] for pole in switch.poles}
        if isinstance(shown, Grid) and shown.pile:
            commons |= {spring.moving for spring in shown.pile.springs}
        lugs = Lugs(
            switch.name, frozenset(commons), numbered(switch.terminals),
            {lug: f"net {circuit.nets.of[switch.terminal(lug)]}" for lug in switch.terminals},
            leads, frozenset(lug for lug in switch.terminals if switch.terminal(lug) in live),
        )  # fmt: skip
        if isinstance(shown, Grid):
            backs.append(rows_back(shown, lugs))
        else:
            backs += [wafer_back(wafer, lugs) for wafer in shown]
    return sorted(backs, key=lambda back: not back.sprung)


def _arranged(backs: Sequence[Back], frame: Box) -> Iterator[list[Back]]:
    """The decks side by side, as many as there is room for, and in fewer columns."""
    widest = max((_hull(back).width for back in backs), default=0.0)
    most = max(1, min(len(backs), int((frame.width - 30.0) // (widest + _LANE))))
    for columns in range(most, max(0, most - 2), -1):
        decks = list(_in_columns(backs, columns, frame))
        for aside in _ASIDE if len(decks) == 1 and not decks[0].sprung else (0.0,):
            yield [back.moved(aside, 0.0) for back in decks]


def _in_columns(backs: Sequence[Back], columns: int, frame: Box) -> Iterator[Back]:
    rows = [backs[n : n + columns] for n in range(0, len(backs), columns)]
    heights = [max(_hull(back).height for back in row) for row in rows]
    free = frame.height - sum(heights)
    lane = max(_LANE, free / (len(rows) + 1))
    y = max(2.0, (frame.height - sum(heights) - lane * (len(rows) - 1)) / 2)
    for row, height in zip(rows, heights, strict=True):
        for back, x in zip(row, _lefts(row, frame.left, frame.width), strict=True):
            box = _hull(back)
            middle = y + height / 2 - box.centre[1]
            yield back.moved(2.0 * math.ceil((x - box.left) / 2), 2.0 * round(middle / 2))
        y += height + lane


def _lefts(row: Sequence[Back], left: float, width: float) -> Iterator[float]:
    """Where each deck of a row begins; one whose wires all leave to the right is at the edge."""
    if row and row[0].sprung:
        yield left
        taken = _hull(row[0]).width + _SIDE
        row, left, width = row[1:], left + taken, width - taken
    free = width - sum(_hull(back).width for back in row)
    gap = free / max(1, len(row))
    gap = gap if gap >= 2 * _SIDE else min(free / 4, 12.0)
    x = left + (free - gap * (len(row) - 1)) / 2
    for back in row:
        yield x
        x += _hull(back).width + gap


def _hull(back: Back) -> Box:
    """The deck with what hangs on it."""
    return hull(back.solid)


# Wires ------------------------------------------------------------------------------------


def _tags(
    items: Sequence[Item], lines: Sequence[Line], board: Board, long: float
) -> tuple[list[Item], list[str]]:
    """The number of each wire upon it, at both ends of a long one; and those that found no room."""
    leads, frame = board.leads, board.frame
    marks: list[Item] = []
    taken = [i.box for i in items if isinstance(i, Text | Symbol) and not _backdrop(i)]
    outside = frame.grown(1e3)
    taken += [replace(outside, right=frame.left), replace(outside, left=frame.right)]
    every = [item for item in items if isinstance(item, Line)]
    done = {item.shows for item in items if isinstance(item, Symbol) and item.kind == "tag"}
    for line in sorted(lines, key=_length):
        said = leads[line.shows].said
        if not said:
            continue
        others = [other.points for other in every if other is not line]
        wished = (0.12, 0.88) if _length(line) > long else (0.5,)
        for share in wished[: 1 if line.shows in done and len(wished) > 1 else 2]:
            if line.shows in done and len(wished) == 1:
                continue
            spot = tag_spot(line.points, tag_size(said), taken, others, share)
            if spot is None:
                continue
            mark = tag(leads[line.shows], spot)
            taken.append(mark[0].box)
            marks += mark
            done.add(line.shows)
    return marks, [shows for shows in (line.shows for line in lines)
                   if leads[shows].said and shows not in done]  # fmt: skip


def _length(line: Line) -> float:
    return sum(math.dist(a, b) for a, b in zip(line.points, line.points[1:], strict=False))


def _backdrop(item: Item) -> bool:
    return isinstance(item, Symbol) and item.backdrop
