"""The picture's sheets: rows under each other, rails down through them, names at both ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rewire.draw.marked.flags import (
    LINE as FLAG_LINE,
    POINTS as FLAG_POINTS,
    Flag,
    flags_of,
    stairs_height,
)
from rewire.draw.marked.labels import GREY, LINE, POINTS, STRONG, tags_at
from rewire.draw.marked.order import rails_on
from rewire.draw.marked.place import ABOVE, BELOW, SYMBOL, Band, Lead, Placed, Row, placed
from rewire.draw.marked.rails import Rail
from rewire.draw.marked.rungs import Rung
from rewire.draw.marked.section import Section
from rewire.draw.measure import middle_baseline, text_at
from rewire.draw.scene import XY, Box, Dash, Item, Line, Panel, Symbol, around

_AFTER_NAMES = 1.5
_STUB = 1.6
_DOT = 1.1
LUG = 1.3
_LOOKS: dict[str, tuple[float, Dash, float]] = {
    "kept": (0.3, "solid", 0.0), "replaced": (0.3, "solid", 0.0), "new": (STRONG, "solid", 0.0),
    "removed": (0.3, "dashed", GREY),
}  # fmt: skip
"""Mark → line width in mm, dash, grey."""


Names = Literal["both ends", "top"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The bands of one sheet and the rails they need."""

    placed: Placed
    rails: tuple[Rail, ...]
    flags: tuple[Flag, ...]
    names: Names
    """Where the rails are named."""

    @property
    def foot(self) -> float:
        """Room for the names at the lower end, mm."""
        return stairs_height(self.flags) if self.names == "both ends" else 0.0

    @property
    def height(self) -> float:
        """Millimetres."""
        inner = sum(band.height for band in self.placed.bands)
        return stairs_height(self.flags) + self.foot + 2 * _AFTER_NAMES + inner


@dataclass(frozen=True, slots=True)
class Room:
    """What a picture has to fit: width and height in mm; and how its rails are named."""

    section: Section
    width: float
    height: float
    ending: str = ""
    """Added to every rail's name."""
    names: Names = "both ends"


def paged(bundles: Sequence[Sequence[Rung]], room: Room) -> list[Sheet]:
    """The sheets of all bundles; a rail that goes on elsewhere says where.

    Names at the lower end are given up where that puts all on one sheet.
    """
    for names in _ONE_SHEET if len(bundles) == 1 else ():
        sheets = list(_sheets(bundles[0], replace(room, names=names)))
        if len(sheets) == 1:
            return sheets
    wordy = replace(room, ending=_SOMEWHERE)
    sheets = [sheet for rungs in bundles for sheet in _sheets(rungs, wordy)]
    found: dict[int, list[int]] = {}
    for number, sheet in enumerate(sheets, 1):
        for rail in sheet.rails:
            found.setdefault(rail.number, []).append(number)
    return [_referring(sheet, n, found, room.width) for n, sheet in enumerate(sheets, 1)]


_ONE_SHEET: tuple[Names, ...] = ("both ends", "top")
_SOMEWHERE = " (goes on in parts 88, 88 …)"
"""As long as any such word, so that what is said in the end has room."""


def _referring(
    sheet: Sheet, number: int, found: Mapping[int, Sequence[int]], width: float
) -> Sheet:
    said = {}
    for rail in sheet.rails:
        others = [str(n) for n in found[rail.number] if n != number]
        if others:
            word = "part" if len(others) == 1 else "parts"
            more = " …" if len(others) > 2 else ""
            said[rail.number] = f" (goes on in {word} {', '.join(others[:2])}{more})"
    return replace(sheet, flags=flags_of(sheet.rails, sheet.placed.at, width, said))


def _sheets(rungs: Sequence[Rung], room: Room) -> Iterator[Sheet]:
    """As many sheets as the rungs of a bundle need."""
    whole = placed(rungs, room.section.numbers, room.width)
    bands: list[Band] = []
    for band in whole.bands:
        trial = _sheet(replace(whole, bands=(*bands, band)), room)
        if bands and trial.height > room.height:
            yield _spread(replace(whole, bands=tuple(bands)), room)
            bands = []
        bands.append(band)
    if bands:
        yield _spread(replace(whole, bands=tuple(bands)), room)


def _spread(part: Placed, room: Room) -> Sheet:
    """The bands of a sheet, its own rails alone spread over its width if that fits too."""
    rungs = [row.rung for band in part.bands for row in band.rows]
    spread = _sheet(placed(rungs, room.section.numbers, room.width, part.order), room)
    return spread if spread.height <= room.height else _sheet(part, room)


def _sheet(part: Placed, room: Room) -> Sheet:
    rails = room.section.rails.rails
    used = {rail for band in part.bands for row in band.rows for rail in rails_on(row.rung)}
    order = tuple(rails[number] for number in part.order if number in used)
    endings = dict.fromkeys(used, room.ending)
    return Sheet(part, order, flags_of(order, part.at, room.width, endings), room.names)


def sheet_panel(sheet: Sheet, width: float) -> Panel:
    """The items of a sheet."""
    items: list[Item] = []
    y = stairs_height(sheet.flags) + _AFTER_NAMES
    for band in sheet.placed.bands:
        for row in band.rows:
            items.extend(_row_items(row, y + band.line - row.line, sheet.placed))
        y += band.height
    bottom = y + _AFTER_NAMES + sheet.foot
    for rail, flag in _with_flags(sheet):
        items.extend(_rail_items(rail, flag, sheet.placed.at[rail.number], bottom, sheet.names))
    return Panel(tuple(items), width, bottom)


def _with_flags(sheet: Sheet) -> Iterator[tuple[Rail, Flag]]:
    flags = {flag.rail: flag for flag in sheet.flags}
    yield from ((rail, flags[rail.number]) for rail in sheet.rails)


def net_of(rail: int | None) -> str | None:
    """The name of a rail's net in the scene."""
    return None if rail is None else f"rail {rail}"


def _rail_items(rail: Rail, flag: Flag, x: float, bottom: float, names: Names) -> Iterator[Item]:
    width, dash, grey = _LOOKS[rail.fate]
    shows = f"rail:{rail.number}"
    boxes = {"top": flag.box(0.0, True)}
    if names == "both ends":
        boxes["bottom"] = flag.box(bottom, False)
    foot = boxes["bottom"].top - 0.3 if "bottom" in boxes else bottom
    yield Line(
        ((x, boxes["top"].bottom + 0.3), (x, foot)), shows, net_of(rail.number),
        width=0.45 if rail.fate == "kept" else width, dash=dash, grey=grey,
    )  # fmt: skip
    for end, box in boxes.items():
        named = f"{shows}:{end}"
        for number, line in enumerate(flag.lines):
            height = box.top + FLAG_LINE * (number + 0.5)
            text = text_at(
                line, x, middle_baseline(height, FLAG_POINTS), FLAG_POINTS,
                align="left" if flag.at_left else "right", grey=grey, shows=named, on=named,
                bold=rail.fate == "new" or bool(rail.points), net=net_of(rail.number),
            )  # fmt: skip
            yield text
            if rail.fate == "removed":
                ends = ((text.x, height), (text.x + text.width, height))
                yield Line(ends, named, width=0.3, grey=0.25)


def _row_items(row: Row, top: float, placed: Placed) -> Iterator[Item]:
    rung = row.rung
    shows = f"rung:{rung.side.shows}"
    if rung.moved:
        shows += f":{rung.mark}"
    yield from tags_at(row.tags, row.middle, top + ABOVE)
    yield from _symbol(row, top, shows)
    for lead in row.leads:
        yield from _lead(row, lead, top, placed, shows)
    foot = top + row.height - BELOW - LINE * len(row.below)
    grey = GREY if rung.mark == "removed" else 0.0
    for number, line in enumerate(row.below):
        y = middle_baseline(foot + LINE * (number + 0.5), POINTS)
        yield text_at(
            line, row.middle, y, POINTS, align="centre", grey=grey, shows=f"{shows}:below"
        )


def _symbol(row: Row, top: float, shows: str) -> Iterator[Item]:
    rung = row.rung
    width, dash, grey = _LOOKS["new" if rung.mark == "replaced" else rung.mark]
    wide, tall = SYMBOL[rung.kind]
    box = around((row.middle, top + row.line), wide, tall)
    if rung.kind == "contact":
        yield from _contact(box, shows, _LOOKS[rung.mark])
    else:
        yield Symbol(_form(row), box, shows, width=width, dash=dash, grey=grey)
    if rung.kind == "meter":
        yield from _meter(row, box, shows, grey)
    if rung.kind == "pot":
        arrow = Box(row.middle - 0.7, box.bottom, row.middle + 0.7, box.bottom + 1.4)
        yield Symbol("flow-up", arrow, shows, width=0.1, grey=grey)
    if rung.mark == "removed":
        ends = ((box.left + 1.2, box.top - 0.4), (box.right - 1.2, box.bottom + 0.4))
        yield Line(ends, shows, width=0.4, grey=0.25)


def _form(row: Row) -> str:
    """Which symbol is drawn, lying."""
    kind = row.rung.kind
    if kind == "tie":
        return "box"
    if kind == "diode" and row.flipped:
        return "diode-up-lying"
    return "resistor-lying" if kind == "pot" else f"{kind}-lying"


def _meter(row: Row, box: Box, shows: str, grey: float) -> Iterator[Item]:
    """The unit it counts in, and its signs."""
    unit = row.rung.side.value.rpartition(" ")[2]
    x, y = box.centre
    yield text_at(
        unit,
        x,
        middle_baseline(y, POINTS),
        POINTS,
        align="centre",
        grey=grey,
        shows=shows,
        on=shows,
    )
    signs = ("−", "+") if row.flipped else ("+", "−")
    for sign, at in zip(signs, (box.left - 1.6, box.right + 1.6), strict=True):
        yield text_at(sign, at, y - 1.35, POINTS, align="centre", grey=grey, shows=f"{shows}:sign")


def _contact(box: Box, shows: str, look: tuple[float, Dash, float]) -> Iterator[Item]:
    """Two lugs and a blade that stands open."""
    width, dash, grey = look
    y = box.centre[1]
    for x in (box.left + LUG / 2, box.right - LUG / 2):
        yield Symbol("disc", around((x, y), LUG, LUG), shows, width=0.3, grey=grey)
    blade = Box(box.left + LUG, box.top - 0.3, box.right - LUG - 0.6, y)
    yield Symbol("rising", blade, shows, width=width, dash=dash, grey=grey)


def _lead(row: Row, lead: Lead, top: float, placed: Placed, shows: str) -> Iterator[Item]:
    width, dash, grey = _LOOKS[row.rung.mark]
    points = _course(row, lead, top, placed)
    yield Line(
        points, f"{shows}:{lead.side}", net_of(lead.rail), joins=(shows, f"end:{lead.end}"),
        width=width, dash=dash, grey=grey,
    )  # fmt: skip
    fill = "black" if lead.rail is not None else "white"
    x, y = points[-1]
    if lead.rail is not None:
        dot = around((x, y), _DOT, _DOT)
        yield Symbol("joint", dot, f"{shows}:{lead.side}", net_of(lead.rail), fill=fill, grey=grey)
    else:
        side = {"left": (-1, 0), "right": (1, 0), "foot": (0, 1)}[lead.side]
        end = around((x + 0.6 * side[0], y + 0.6 * side[1]), 1.2, 1.2)
        yield Symbol("disc", end, f"{shows}:{lead.side}", None, grey=grey)


def _course(row: Row, lead: Lead, top: float, placed: Placed) -> tuple[XY, ...]:
    """From the symbol to the rail."""
    wide, tall = SYMBOL[row.rung.kind]
    y, level = top + row.line, top + row.level(lead.level)
    sign = {"left": -1.0, "right": 1.0, "foot": 0.0}[lead.side]
    start = (row.middle + sign * wide / 2, y + (tall / 2 if lead.side == "foot" else 0.0))
    if lead.rail is None:
        return start, (start[0] + sign * _STUB, start[1] + (_STUB if lead.side == "foot" else 0.0))
    x = placed.at[lead.rail]
    if lead.level == 0:
        return start, (x, y)
    out = start[0] + sign * _STUB
    turn = ((out, y),) if sign else ()
    return start, *turn, (out, level), (x, level)
