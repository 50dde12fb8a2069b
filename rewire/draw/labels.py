"""Labels and lines between lugs: each clear of everything else.

A lug has one leader however many things are soldered to it; at its end the leader forks, one
branch for each label. A jumper bears its number in its own line, or beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Symbol,
    around,
    line_enters,
    line_mm,
    middle_baseline,
    segments,
    text_at,
    visible,
    width_mm,
    wrap,
)

POINTS = 8.0
FORK = 2.4
"""From the fork to the text, mm."""
SWATCH = (4.6, 2.0)
"""Width and height of a colour swatch, mm."""
SHADES = {
    "BK": "#1a1a1a", "BN": "#7b4a22", "RD": "#c9211e", "OG": "#f07d00", "YE": "#f5d800",
    "GN": "#2f8f2f", "BU": "#1f5fbf", "VT": "#7a3fa0", "GY": "#8c8c8c", "WH": "#ffffff",
    "PK": "#f3a6bd", "GD": "#cfa93a", "TQ": "#3fbfb5", "SR": "#c9ced3",
}  # fmt: skip
"""Letters of IEC 60757 → the shade a swatch is filled with (our own choice of shades)."""
_GAP = 1.1
"""Between one label and the next, mm."""
_TIGHT = 1.2
_NUMBER = 8.0
"""Size of a jumper's number, points; its height follows, mm."""
_NUMBER_HEIGHT = 3.0
_CLEAR = 0.25
_BESIDE = ((0, -1), (0, 1), (-1, 0), (1, 0), (-1, -1), (1, -1), (-1, 1), (1, 1))
_NEAR = 1e-6
_SHARP = math.sin(math.radians(25))
"""Lines that turn by less are arcs, which are drawn in smaller steps."""


@dataclass(frozen=True, slots=True)
class Label:
    """One thing soldered to a lug, in words."""

    lug: str
    kind: Literal["wire", "part", "net", "jumper"]
    id: str
    text: str
    colour: str | None = None

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"{self.kind}:{self.id}"


@dataclass(frozen=True, slots=True)
class Block:
    """All labels of one lug under each other, with their lines of text."""

    lug: str
    entries: tuple[tuple[Label, tuple[str, ...]], ...]

    @property
    def height(self) -> float:
        """Millimetres, gaps between the labels counted."""
        lines = sum(len(lines) for _, lines in self.entries)
        return lines * line_mm(POINTS) + _GAP * (len(self.entries) - 1)

    def branches(self) -> list[float]:
        """Heights of the branches below the top of the block: the middle of each first line."""
        heights: list[float] = []
        top = 0.0
        for _, lines in self.entries:
            heights.append(top + line_mm(POINTS) / 2)
            top += len(lines) * line_mm(POINTS) + _GAP
        return heights

    @property
    def stem(self) -> float:
        """Height of the leader below the top of the block."""
        branches = self.branches()
        return (branches[0] + branches[-1]) / 2


def blocks_for(labels: Iterable[Label], room: float) -> dict[str, Block]:
    """The labels of every lug that has any, wrapped into ``room`` mm from the branch's end on."""
    by_lug: dict[str, list[tuple[Label, tuple[str, ...]]]] = {}
    for label in labels:
        width = max(room - (SWATCH[0] + _TIGHT if label.colour else 0.0), 8.0)
        lines = wrap(visible(label.text), width, POINTS)
        by_lug.setdefault(label.lug, []).append((label, lines))
    return {lug: Block(lug, tuple(entries)) for lug, entries in by_lug.items()}


def paint_block(block: Block, fork: XY, side: int, net: str, branch: float = FORK) -> list[Item]:
    """The fork, swatches and texts of a block.

    Args:
        block: the labels of a lug.
        fork: where the leader arrives.
        side: 1 where the texts run to the right of the fork, -1 to the left.
        net: of the lug.
        branch: from the fork to the texts, mm.
    """
    x, y = fork
    heights = [y - block.stem + height for height in block.branches()]
    lug = (f"lug:{block.lug}",)
    items: list[Item] = []
    if len(heights) > 1:
        items.append(Line(((x, heights[0]), (x, heights[-1])), f"leader:{block.lug}", net, lug))
        items.append(joint(fork, f"joint:{block.lug}", net))
    for (label, lines), height in zip(block.entries, heights, strict=True):
        ends = ((x, height), (x + side * (branch - 0.6), height))
        dash: Literal["dotted", "solid"] = "dotted" if label.kind == "net" else "solid"
        items.append(Line(ends, label.shows, net, lug, dash=dash))
        start = x + side * branch
        if label.colour:
            items += swatch(label.colour, start + side * SWATCH[0] / 2, height, label.shows)
            start += side * (SWATCH[0] + _TIGHT)
        for number, line in enumerate(lines):
            base = middle_baseline(height + number * line_mm(POINTS), POINTS)
            items.append(text_at(
                line, start, base, POINTS, align="left" if side > 0 else "right",
                shows=label.shows, net=net,
            ))  # fmt: skip
    return items


def joint(at: XY, shows: str, net: str | None) -> Symbol:
    """The dot where lines of one net meet."""
    return Symbol("joint", around(at, 1.0, 1.0), shows, net, fill="black")


def swatch(colour: str, x: float, y: float, shows: str) -> list[Item]:
    """A wire's colours as a small bar beside the letters that say the same."""
    letters = [colour[i : i + 2] for i in range(0, len(colour), 2)]
    width, height = SWATCH
    each = width / max(1, len(letters))
    left = x - width / 2
    return [
        Symbol(
            "swatch", around((left + each * (n + 0.5), y), each, height), shows,
            width=0.15, fill=SHADES.get(pair, "white"),
        )
        for n, pair in enumerate(letters)
    ]  # fmt: skip


def number_jumpers(
    jumpers: Mapping[str, str], lines: Sequence[Line], others: Sequence[Line], solid: Iterable[Box]
) -> tuple[list[Item], set[str]]:
    """A number in each jumper's line, and the jumpers (``shows``) without room for one.

    Args:
        jumpers: ``shows`` → its number.
        lines: of the jumpers.
        others: further lines.
        solid: what else no number may cover.
    """
    items: list[Item] = []
    crowded: set[str] = set()
    taken = list(solid)
    for line in lines:
        courses = [other.points for other in (*others, *lines) if other is not line]
        box = _room(line, jumpers[line.shows], courses, taken)
        if box is None:
            crowded.add(line.shows)
            continue
        taken.append(box)
        if line_enters(line.points, box):
            items.append(Symbol("gap", box, line.shows, line.net, width=0.0))
        x, y = box.centre
        items.append(text_at(
            jumpers[line.shows], x, middle_baseline(y, _NUMBER), _NUMBER, align="centre",
            bold=True, shows=line.shows, net=line.net, on=line.shows,
        ))  # fmt: skip
    return items, crowded


def _room(
    line: Line, number: str, courses: Sequence[Sequence[XY]], taken: Sequence[Box]
) -> Box | None:
    """A place in the line itself, clear of its corners, else beside it."""
    width, height = width_mm(number, _NUMBER, bold=True) + 1.0, _NUMBER_HEIGHT

    def clear(box: Box, of: Sequence[Sequence[XY]]) -> bool:
        wider = box.grown(_CLEAR)
        return not (any(map(wider.meets, taken)) or any(line_enters(c, wider) for c in of))

    corners = [around(corner, 0.0, 0.0) for corner in _corners(line.points)]
    places = list(_along(line.points, 1.0))
    within = (around(spot, width, height) for spot in places)
    beside = (
        around((x + dx * (width / 2 + 0.5), y + dy * (height / 2 + 0.5)), width, height)
        for x, y in places for dx, dy in _BESIDE
    )  # fmt: skip
    for box in within:
        if not any(map(box.grown(_CLEAR).meets, corners)) and clear(box, courses):
            return box
    return next((box for box in beside if clear(box, (*courses, line.points))), None)


def _corners(points: Sequence[XY]) -> Iterator[XY]:
    for (x0, y0), (x1, y1), (x2, y2) in zip(points, points[1:], points[2:], strict=False):
        cross = abs((x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1))
        if cross > _SHARP * math.hypot(x1 - x0, y1 - y0) * math.hypot(x2 - x1, y2 - y1):
            yield x1, y1


def joints(lines: Sequence[Line]) -> list[Symbol]:
    """A dot wherever a line turns inside another line of its own net.

    An arc only crosses what it meets: there is no solder where it does.
    """
    dots: dict[XY, Symbol] = {}
    for line in lines:
        rest = [other for other in lines if other is not line and other.net == line.net]
        for x, y in _corners(line.points):
            pieces = (piece for other in rest for piece in segments(other.points))
            if any(_lies_within((x, y), piece) for piece in pieces):
                spot = (round(x, 3), round(y, 3))
                dots[spot] = joint(spot, line.shows, line.net)
    return list(dots.values())


def _lies_within(point: XY, segment: tuple[XY, XY]) -> bool:
    """Whether the point lies on the segment, its two ends not counted."""
    (x0, y0), (x1, y1) = segment
    dx, dy = x1 - x0, y1 - y0
    length = math.hypot(dx, dy)
    if length < _NEAR:
        return False
    along = ((point[0] - x0) * dx + (point[1] - y0) * dy) / length
    aside = abs((point[0] - x0) * dy - (point[1] - y0) * dx) / length
    return aside < 1e-3 and 1e-3 < along < length - 1e-3


def _along(points: Sequence[XY], step: float) -> Iterator[XY]:
    """Places on a polyline, from its middle outwards, ``step`` mm apart."""
    places = list(_walk(points, step))
    middle = len(places) // 2
    for offset in range(len(places)):
        sign = 1 if offset % 2 else -1
        index = middle + sign * ((offset + 1) // 2)
        if 0 <= index < len(places):
            yield places[index]


def _walk(points: Sequence[XY], step: float) -> Iterator[XY]:
    carried = step / 2
    for (x0, y0), (x1, y1) in segments(points):
        length = math.hypot(x1 - x0, y1 - y0)
        while carried < length:
            part = carried / length
            yield (x0 + (x1 - x0) * part, y0 + (y1 - y0) * part)
            carried += step
        carried -= length
