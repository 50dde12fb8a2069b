"""Placing rows and columns of lugs: heights and widths of lanes, sides of labels. Pure geometry.

Labels of a row leave to the nearer side. The outermost lug's leader runs
straight out; that of each lug further in runs below the row, deeper the further
in it is, so that no two of them cross. Below the leaders lie the jumper tracks
of the next row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rewire.draw.lugview.arrange import Grid
from rewire.draw.lugview.contacts import Pile
from rewire.draw.lugview.labels import Block
from rewire.draw.lugview.lugs import HEIGHT, Face
from rewire.draw.lugview.plan_rows import RowPlan, cells_of
from rewire.draw.lugview.springs import HEAD, ROOM

TRACK = 3.0
_FIRST_TRACK = 2.2
_LANE = 1.8
_LEAST_LANE = 5.0
_BETWEEN_BLOCKS = 1.5
_BETWEEN_SECTIONS = 2.0
_CLEAR = 1.4


@dataclass(frozen=True, slots=True)
class Leader:
    """Where a lug's leader runs: straight out at its own height, or down to ``y`` first."""

    lug: str
    side: int
    y: float
    straight: bool
    block: Block
    top: float


@dataclass(slots=True)
class Frame:
    """All coordinates, mm; x from the left edge of the switch, y from its top."""

    columns: list[float] = field(default_factory=list)
    lanes: list[list[float]] = field(default_factory=list)
    """Per lane the x of its places."""
    width: float = 0.0
    rows: list[float] = field(default_factory=list)
    leaders: list[Leader] = field(default_factory=list)
    bottom: float = 0.0

    def track(self, row: int, track: int) -> float:
        """Height of a jumper track above a row."""
        return self.rows[row] - HEIGHT / 2 - _FIRST_TRACK - track * TRACK


def place_columns(grid: Grid, faces: Mapping[str, Face], plan: RowPlan) -> Frame:
    """Widths, before anything is known about labels."""
    frame = Frame()
    x = 0.0
    count = len(grid.rows[0])
    sprung = {1: 0, -1: count}.get(grid.pile.facing) if grid.pile else None
    for column in range(count + 1):
        kept = grid.lanes[column] if grid.lanes else 0
        places = max(plan.in_lane.get(column, 0), kept)
        least = ROOM if column == sprung else _LEAST_LANE if 0 < column < count else 2.0
        room = max(least, (places + 1) * _LANE + 1.0)
        spare = room - (places - 1) * _LANE
        frame.lanes.append([x + spare / 2 + n * _LANE for n in range(places)])
        x += room
        if column < count:
            wide = max(faces[row[column]].width for row in grid.rows if row[column])  # type: ignore[index]
            frame.columns.append(x + wide / 2)
            x += wide
    frame.width = x
    return frame


def place_rows(grid: Grid, frame: Frame, plan: RowPlan, blocks: Mapping[str, Block]) -> None:
    """Heights of rows, tracks and labels, from the top down."""
    floor = {-1: 0.0, 1: 0.0}
    zone = HEAD if grid.pile else 0.0
    for number, row in enumerate(grid.rows):
        if not any(row):
            frame.rows.append(zone + _BETWEEN_SECTIONS / 2)
            zone += _BETWEEN_SECTIONS
            continue
        sides = _sides(row, blocks, floor, grid.pile)
        tracks = plan.tracks_above(number)
        above = _FIRST_TRACK + tracks * TRACK if tracks else _CLEAR
        if any(plan.straight_above((number, c)) for c in range(len(row))):
            above = max(above, _FIRST_TRACK + TRACK)
        y = zone + above + HEIGHT / 2
        for side, lugs in sides.items():
            if lugs and _outermost(row, side) == lugs[0]:
                y = max(y, floor[side] + blocks[lugs[0]].stem)
        frame.rows.append(y)
        zone = y + HEIGHT / 2 + _CLEAR
        for side, lugs in sides.items():
            zone = max(zone, _place_side(frame, row, side, lugs, blocks, floor, y))
    frame.bottom = max(zone, floor[-1], floor[1])


def _sides(
    row: Sequence[str | None],
    blocks: Mapping[str, Block],
    floor: Mapping[int, float],
    pile: Pile | None,
) -> dict[int, list[str]]:
    """Per side the lugs whose leaders go there, outermost first.

    Each goes to its nearer side; one in the middle where more room is left, and a pile's
    away from its springs.
    """
    middle = (len(row) - 1) / 2
    lighter = pile.facing if pile else -1 if floor[-1] <= floor[1] else 1
    sides: dict[int, list[str]] = {-1: [], 1: []}
    for column, lug in enumerate(row):
        if lug is not None and lug in blocks:
            side = lighter if column == middle else (-1 if column < middle else 1)
            sides[side].append(lug)
    return {-1: sides[-1], 1: sides[1][::-1]}


def _outermost(row: Sequence[str | None], side: int) -> str:
    present = [lug for lug in row if lug is not None]
    return present[0] if side < 0 else present[-1]


def _place_side(
    frame: Frame,
    row: Sequence[str | None],
    side: int,
    lugs: Sequence[str],
    blocks: Mapping[str, Block],
    floor: dict[int, float],
    y: float,
) -> float:
    """Leaders of one side of a row; returns how deep they reach."""
    level = y + HEIGHT / 2 + _CLEAR
    reach = level
    for lug in lugs:
        block = blocks[lug]
        straight = _outermost(row, side) == lug
        at = y if straight else max(level, floor[side] + block.stem)
        top = at - block.stem
        frame.leaders.append(Leader(lug, side, at, straight, block, top))
        floor[side] = top + block.height + _BETWEEN_BLOCKS
        if not straight:
            reach = at + _CLEAR
            level = at + _CLEAR
    return reach


def centres(grid: Grid, frame: Frame) -> dict[str, tuple[float, float]]:
    """Lug → middle, mm."""
    return {lug: (frame.columns[c], frame.rows[r]) for lug, (r, c) in cells_of(grid).items()}
