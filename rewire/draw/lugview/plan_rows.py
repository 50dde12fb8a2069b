"""Which lane and which track each jumper takes between rows and columns. No millimetres yet.

Jumpers run above the row of the lug they leave, in tracks, and from row to row
in the lanes between columns. Two neighbours in one column are joined straight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rewire.draw.lugview.arrange import Grid
from rewire.draw.lugview.landings import Jumper

MOST_TRACKS = 6
_MOST_IN_LANE = 6
Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Course:
    """A jumper from the cell ``start`` to ``end``; ``start`` is in the upper row, or left."""

    jumper: Jumper
    start: Cell
    end: Cell
    lane: int | None = None
    """Lane left of that column; None where both lugs are in one row, or joined straight."""
    place: int = 0
    """Which of the lane's places, counted from the left."""
    tracks: tuple[int, ...] = ()
    """Tracks above the rows of start and end (one track where the row is the same)."""

    @property
    def straight(self) -> bool:
        """Down a column to the next lug."""
        return not self.tracks


@dataclass(slots=True)
class RowPlan:
    """Courses, and how many tracks and lane places they use."""

    courses: list[Course] = field(default_factory=list)
    without: list[Jumper] = field(default_factory=list)
    spans: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict)
    """Row → (track, from, to) in half columns."""
    in_lane: dict[int, int] = field(default_factory=dict)

    def tracks_above(self, row: int) -> int:
        """Tracks in use above a row."""
        return max((track + 1 for track, _, _ in self.spans.get(row, [])), default=0)

    def straight_below(self, cell: Cell) -> bool:
        """Whether a straight jumper leaves downwards."""
        return any(c.straight and c.start == cell for c in self.courses)

    def straight_above(self, cell: Cell) -> bool:
        """Whether a straight jumper arrives from above."""
        return any(c.straight and c.end == cell for c in self.courses)


def cells_of(grid: Grid) -> dict[str, Cell]:
    """Lug → (row, column)."""
    return {
        lug: (r, c)
        for r, row in enumerate(grid.rows)
        for c, lug in enumerate(row)
        if lug is not None
    }


def plan_rows(grid: Grid, jumpers: Sequence[Jumper]) -> RowPlan:
    """A course for every jumper that finds one; the others in ``without``."""
    cells = cells_of(grid)
    plan = RowPlan()
    for jumper in sorted(jumpers, key=lambda j: _length(j, cells)):
        start, end = sorted(cells[lug] for lug in jumper.ends)
        course = None
        if start != end:
            course = (
                _straight(grid, plan, jumper, start, end)
                or _in_one_row(plan, jumper, start, end)
                or _by_lane(plan, jumper, start, end, _lanes(grid, start[1], end[1]))
            )
        if course is None:
            plan.without.append(jumper)
        else:
            plan.courses.append(course)
    return plan


def _length(jumper: Jumper, cells: dict[str, Cell]) -> tuple[int, int]:
    (r1, c1), (r2, c2) = (cells[lug] for lug in jumper.ends)
    return abs(r1 - r2), abs(c1 - c2)


def _straight(grid: Grid, plan: RowPlan, jumper: Jumper, start: Cell, end: Cell) -> Course | None:
    if start[1] != end[1] or plan.straight_below(start):
        return None
    between = [grid.rows[r][start[1]] for r in range(start[0] + 1, end[0])]
    if any(lug is not None for lug in between):
        return None
    return Course(jumper, start, end)


def _in_one_row(plan: RowPlan, jumper: Jumper, start: Cell, end: Cell) -> Course | None:
    if start[0] != end[0]:
        return None
    track = _track(plan, start[0], 2 * start[1] + 1, 2 * end[1] + 1)
    return None if track is None else Course(jumper, start, end, tracks=(track,))


def _by_lane(
    plan: RowPlan, jumper: Jumper, start: Cell, end: Cell, lanes: Sequence[int]
) -> Course | None:
    if start[0] == end[0]:
        return None
    for lane in lanes:
        if plan.in_lane.get(lane, 0) >= _MOST_IN_LANE:
            continue
        upper = _track(plan, start[0], *sorted((2 * start[1] + 1, 2 * lane)))
        lower = _track(plan, end[0], *sorted((2 * end[1] + 1, 2 * lane)))
        if upper is None or lower is None:
            continue
        place = plan.in_lane.setdefault(lane, 0)
        plan.in_lane[lane] += 1
        return Course(jumper, start, end, lane, place, (upper, lower))
    return None


def _lanes(grid: Grid, first: int, second: int) -> list[int]:
    """Lanes between the two columns, or beside the one, nearest the edge first.

    The springs of a pile leave only the lane on the other side of the lugs.
    """
    columns = len(grid.rows[0])
    if grid.pile:
        return [1] if grid.pile.facing > 0 else [0]
    if first == second:
        beside = [first, first + 1]
        return beside if first < columns / 2 else beside[::-1]
    return list(range(min(first, second) + 1, max(first, second) + 1))


def _track(plan: RowPlan, row: int, low: int, high: int) -> int | None:
    spans = plan.spans.setdefault(row, [])
    taken = {track for track, a, b in spans if a <= high and low <= b}
    free = next((t for t in range(MOST_TRACKS) if t not in taken), None)
    if free is not None:
        spans.append((free, low, high))
    return free
