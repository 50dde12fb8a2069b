"""Lugs in rows and columns with their labels, jumpers and springs: from plan to panel.

Labels of a row leave to the nearer side. The outermost lug's leader runs straight out; that of
each lug further in runs below the row, deeper the further in it is, so that no two of them cross.
Below the leaders lie the jumper tracks of the next row. From row to row jumpers run in the lanes
between columns; two neighbours in one column are joined straight.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rewire.draw.labels import (
    FORK as BRANCH,
    Block,
    blocks_for,
    joints,
    number_jumpers,
    paint_block,
)
from rewire.draw.lugs import HEIGHT, JUMPER, Drawing, Grid, Jumper, Pile
from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Panel,
    Symbol,
    hull,
)
from rewire.draw.springs import HEAD, LONG_REACH, Rear, springs

_MOST_TRACKS = 6
_MOST_IN_LANE = 6
_TRACK = 3.0
"""From one jumper track to the next: room for a number in the line, mm."""
_FIRST_TRACK = 2.2
_LANE = 1.8
_LEAST_LANE = 5.0
_BETWEEN_BLOCKS = 1.5
_BETWEEN_SECTIONS = 2.0
_CLEAR = 1.4
_FORK = 4.0
"""From the edge of the switch to the forks of the labels, mm."""
_LEAST_ROOM = 28.0
"""Labels want at least this, mm; with less the columns are shared out."""
_SLOT = 1.5
"""Between two jumpers that leave a lug side by side, mm."""
_STRAIGHT = 1.6
"""A straight jumper's distance from the middle of its column, mm."""
_SPRINGS = 44.0
"""Room for springs beside the lugs, mm."""
_SAID = {
    "relay": ("coil (its two lugs are", "not in this spec)"),
    "jack": ("bushing in the panel:", "the plug comes in here"),
}
"""Beside what moves the springs."""

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Course:
    """A jumper from the cell ``start`` to ``end``; ``start`` is in the upper row, or left."""

    jumper: Jumper
    start: Cell
    end: Cell
    tracks: tuple[int, ...] = ()
    """Tracks above the rows of start and end (one where the row is the same); none: straight."""
    lane: int | None = None
    """Lane left of that column; None where both lugs are in one row, or joined straight."""
    place: int = 0
    """Which of the lane's places, counted from the left."""

    def turns(self, cell: Cell) -> tuple[int, int]:
        """Order on the top of a lug: left before right, outer before inner where it turns off."""
        track = self.tracks[0 if cell == self.start else -1]
        to = self.end[1] if cell == self.start else self.start[1]
        left = to < cell[1] if self.lane is None else self.lane <= cell[1]
        return (0, track) if left else (1, -track)


@dataclass(slots=True)
class Courses:
    """Courses of jumpers, and how many tracks and places in lanes they use."""

    courses: list[Course] = field(default_factory=list)
    without: list[Jumper] = field(default_factory=list)
    spans: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict)
    """Row → (track, from, to) in half columns."""
    in_lane: dict[int, int] = field(default_factory=dict)

    def straight(self, *, below: Cell | None = None, above: Cell | None = None) -> bool:
        """Whether a straight jumper leaves a cell downwards, or arrives from above."""
        return any(not c.tracks and (c.start == below or c.end == above) for c in self.courses)

    def track(self, row: int, *ends: int) -> int | None:
        """A track above a row that is free between two half columns, taken; None: all are full."""
        low, high = sorted(ends)
        spans = self.spans.setdefault(row, [])
        taken = {track for track, a, b in spans if a <= high and low <= b}
        free = next((t for t in range(_MOST_TRACKS) if t not in taken), None)
        if free is not None:
            spans.append((free, low, high))
        return free


def cells_of(grid: Grid) -> dict[str, Cell]:
    """Lug → (row, column)."""
    return {lug: (r, c) for r, row in enumerate(grid.rows) for c, lug in enumerate(row) if lug}


def plan_rows(grid: Grid, jumpers: Sequence[Jumper]) -> Courses:
    """A course for every jumper that finds one, the shortest first; the others in ``without``."""
    cells = cells_of(grid)
    plan = Courses()

    def length(jumper: Jumper) -> tuple[int, int]:
        (r1, c1), (r2, c2) = (cells[lug] for lug in jumper.ends)
        return abs(r1 - r2), abs(c1 - c2)

    for jumper in sorted(jumpers, key=length):
        start, end = sorted(cells[lug] for lug in jumper.ends)
        course = _course(grid, plan, jumper, start, end) if start != end else None
        if course is None:
            plan.without.append(jumper)
        else:
            plan.courses.append(course)
    return plan


def _course(grid: Grid, plan: Courses, jumper: Jumper, start: Cell, end: Cell) -> Course | None:
    (r1, c1), (r2, c2) = start, end
    if r1 == r2:
        track = plan.track(r1, 2 * c1 + 1, 2 * c2 + 1)
        return None if track is None else Course(jumper, start, end, (track,))
    between = [grid.rows[r][c1] for r in range(r1 + 1, r2)]
    if c1 == c2 and not any(between) and not plan.straight(below=start):
        return Course(jumper, start, end)
    for lane in _lanes(grid, c1, c2):
        place = plan.in_lane.get(lane, 0)
        if place < _MOST_IN_LANE:
            upper = plan.track(r1, 2 * c1 + 1, 2 * lane)
            lower = plan.track(r2, 2 * c2 + 1, 2 * lane)
            if upper is not None and lower is not None:
                plan.in_lane[lane] = place + 1
                return Course(jumper, start, end, (upper, lower), lane, place)
    return None


def _lanes(grid: Grid, first: int, second: int) -> Sequence[int]:
    """Lanes between the two columns, or beside the one, nearest the edge first.

    The springs of a pile leave only the lane on the other side of the lugs.
    """
    if grid.pile:
        return [1] if grid.pile.facing > 0 else [0]
    if first != second:
        return range(min(first, second) + 1, max(first, second) + 1)
    beside = [first, first + 1]
    return beside if first < len(grid.rows[0]) / 2 else beside[::-1]


@dataclass(frozen=True, slots=True)
class _Leader:
    """Where a lug's leader runs: straight out at its own height, or down to ``y`` first."""

    block: Block
    side: int
    y: float
    straight: bool


@dataclass(slots=True)
class _Frame:
    """All coordinates, mm; x from the left edge of the switch, y from its top."""

    drawing: Drawing
    grid: Grid
    plan: Courses
    columns: list[float] = field(default_factory=list)
    lanes: list[list[float]] = field(default_factory=list)
    """Per lane the x of its places."""
    width: float = 0.0
    rows: list[float] = field(default_factory=list)
    leaders: list[_Leader] = field(default_factory=list)

    def track(self, row: int, track: int) -> float:
        """Height of a jumper track above a row."""
        return self.rows[row] - HEIGHT / 2 - _FIRST_TRACK - track * _TRACK

    def centres(self) -> dict[str, XY]:
        """Lug → its middle."""
        cells = cells_of(self.grid).items()
        return {lug: (self.columns[c], self.rows[r]) for lug, (r, c) in cells}

    def fork(self, leader: _Leader) -> XY:
        """Where a leader ends."""
        return (-_FORK if leader.side < 0 else self.width + _FORK), leader.y


def rows_panel(drawing: Drawing, grid: Grid, width: float) -> Panel | None:
    """The switch in the middle of ``width`` mm, or None where several columns are too wide.

    Jumpers that find no way become labels.
    """
    while True:
        frame = _columns(drawing, grid)
        room = (width - frame.width) / (1 if grid.pile else 2) - _FORK
        if room < _LEAST_ROOM and len(grid.rows[0]) > 1:
            return None
        _place_rows(frame, blocks_for(drawing.labels, room - BRANCH))
        lines = [_jumper_line(frame, course) for course in frame.plan.courses]
        leaders = [_leader_line(frame, leader) for leader in frame.leaders]
        upright = list(_lugs_and_labels(frame))
        solid = [item.box for item in upright if not isinstance(item, Line)]
        others = [*leaders, *(item for item in upright if isinstance(item, Line))]
        said = {jumper.shows: jumper.said for jumper in drawing.jumpers}
        numbers, crowded = number_jumpers(said, lines, others, solid)
        if not frame.plan.without and not crowded:
            break
        given_up = (j for j in drawing.jumpers if j in frame.plan.without or j.shows in crowded)
        drawing = drawing.told(given_up)
    moved = _sprung(frame, grid.pile) if grid.pile else []
    dots = joints([*lines, *leaders])
    return _framed(frame, [*moved, *leaders, *lines, *dots, *numbers, *upright], width)


def _columns(drawing: Drawing, grid: Grid) -> _Frame:
    """Courses and widths, before anything is known about labels."""
    frame = _Frame(drawing, grid, plan_rows(grid, drawing.jumpers))
    count = len(grid.rows[0])
    sprung = {1: 0, -1: count}[grid.pile.facing] if grid.pile else None
    for column in range(count + 1):
        places = frame.plan.in_lane.get(column, 0)
        least = _SPRINGS if column == sprung else _LEAST_LANE if 0 < column < count else 2.0
        room = max(least, (places + 1) * _LANE + 1.0)
        first = frame.width + (room - (places - 1) * _LANE) / 2
        frame.lanes.append([first + n * _LANE for n in range(places)])
        frame.width += room
        if column < count:
            wide = max(drawing.faces[lug].width for row in grid.rows if (lug := row[column]))
            frame.columns.append(frame.width + wide / 2)
            frame.width += wide
    return frame


def _place_rows(frame: _Frame, blocks: Mapping[str, Block]) -> None:
    """Heights of rows, tracks and labels, from the top down."""
    floor = {-1: 0.0, 1: 0.0}
    zone = HEAD if frame.grid.pile else 0.0
    for number, row in enumerate(frame.grid.rows):
        if not any(row):
            frame.rows.append(zone + _BETWEEN_SECTIONS / 2)
            zone += _BETWEEN_SECTIONS
            continue
        leaving = list(_leaving(frame.grid.pile, row, blocks, floor))
        y = zone + _above(frame.plan, number, len(row)) + HEIGHT / 2
        y = max([y, *(floor[side] + one.stem for one, side, straight in leaving if straight)])
        frame.rows.append(y)
        zone = y + HEIGHT / 2 + _CLEAR
        level = {-1: zone, 1: zone}
        for block, side, straight in leaving:
            at = y if straight else max(level[side], floor[side] + block.stem)
            frame.leaders.append(_Leader(block, side, at, straight))
            floor[side] = at - block.stem + block.height + _BETWEEN_BLOCKS
            if not straight:
                level[side] = at + _CLEAR
                zone = max(zone, level[side])


def _above(plan: Courses, number: int, columns: int) -> float:
    """Room for jumpers over a row, mm."""
    tracks = max((track + 1 for track, _, _ in plan.spans.get(number, [])), default=0)
    straight = any(plan.straight(above=(number, column)) for column in range(columns))
    tracks = max(tracks, 1 if straight else 0)
    return _FIRST_TRACK + tracks * _TRACK if tracks else _CLEAR


def _leaving(
    pile: Pile | None,
    row: Sequence[str | None],
    blocks: Mapping[str, Block],
    floor: Mapping[int, float],
) -> Iterator[tuple[Block, int, bool]]:
    """Labels of a row with their side, outermost first, and whether the leader runs straight.

    Each goes to its nearer side; one in the middle where more room is left, and a pile's away
    from its springs.
    """
    middle = (len(row) - 1) / 2
    lighter = pile.facing if pile else -1 if floor[-1] <= floor[1] else 1
    own = {lug: lighter if n == middle else -1 if n < middle else 1 for n, lug in enumerate(row)}
    for side in (-1, 1):
        present = [lug for lug in row[::-side] if lug]
        for lug in present:
            if lug in blocks and own[lug] == side:
                yield blocks[lug], side, lug == present[0]


def _leader_line(frame: _Frame, leader: _Leader) -> Line:
    """Out of the lug and to the fork."""
    lug = leader.block.lug
    x, y = frame.centres()[lug]
    points: tuple[XY, ...] = ((x, y), frame.fork(leader))
    if not leader.straight:
        x -= 0.8 if frame.plan.straight(below=cells_of(frame.grid)[lug]) else 0.0
        points = ((x, y), (x, leader.y), frame.fork(leader))
    net = frame.drawing.net_of[lug]
    return Line(points, f"leader:{lug}", net, (f"lug:{lug}",))


def _jumper_line(frame: _Frame, course: Course) -> Line:
    """From lug to lug, level and upright."""
    first, second = (frame.grid.rows[r][c] or "" for r, c in (course.start, course.end))
    r1, r2 = course.start[0], course.end[0]
    y1, y2 = frame.rows[r1], frame.rows[r2]
    if not course.tracks:
        x = frame.columns[course.start[1]] + _STRAIGHT
        points: tuple[XY, ...] = ((x, y1), (x, y2))
    else:
        x1, x2 = (_slot(frame, course, cell) for cell in (course.start, course.end))
        upper, lower = frame.track(r1, course.tracks[0]), frame.track(r2, course.tracks[-1])
        points = ((x1, y1), (x1, upper), (x2, upper), (x2, y2))
        if course.lane is not None:
            lane = frame.lanes[course.lane][course.place]
            points = (*points[:2], (lane, upper), (lane, lower), (x2, lower), (x2, y2))
    joins = (f"lug:{first}", f"lug:{second}")
    jumper = course.jumper
    return Line(points, jumper.shows, frame.drawing.net_of[first], joins, width=JUMPER)


def _slot(frame: _Frame, course: Course, cell: Cell) -> float:
    """Side by side on the top of the lug, those that turn left on the left.

    Where the lug is too narrow for all, they share, which is seen by a dot.
    """
    ending = [c for c in frame.plan.courses if c.tracks and cell in (c.start, c.end)]
    order = sorted(ending, key=lambda c: c.turns(cell))
    half = frame.drawing.faces[frame.grid.rows[cell[0]][cell[1]] or ""].width / 2 - 0.9
    right = 0.2 if frame.plan.straight(above=cell) else half
    slots = min(len(order), int((right + half) / _SLOT) + 1)
    slot = order.index(course) * slots // len(order)
    return frame.columns[cell[1]] + (right - half) / 2 + (slot - (slots - 1) / 2) * _SLOT


def _lugs_and_labels(frame: _Frame) -> Iterator[Item]:
    drawing = frame.drawing
    for lug, at in frame.centres().items():
        yield from drawing.faces[lug].painted(at, drawing.net_of[lug])
    for one in frame.leaders:
        yield from paint_block(one.block, frame.fork(one), one.side, drawing.net_of[one.block.lug])


def _framed(frame: _Frame, items: Sequence[Item], width: float) -> Panel:
    """With the body of the switch: in the middle, a pile at the edge that its springs are at."""
    inside = [i.box.top for i in items if i.box.left >= 0.0 and i.box.right <= frame.width]
    roof = min(frame.rows[0] - 5.0, min(inside) - 1.0)
    bounds = hull(item.box for item in items)
    body = Box(0.0, roof, frame.width, frame.rows[-1] + 5.0)
    symbol = Symbol("box", body, "body", grey=0.75, fill="#f6f6f6", width=0.25, backdrop=True)
    top = min(bounds.top, body.top)
    pile = frame.grid.pile
    spare = width - frame.width
    left = spare / 2 if pile is None else 0.0 if pile.facing > 0 else spare
    height = max(bounds.bottom, body.bottom) - top + 3.0
    return Panel(tuple(i.moved(left, 1.0 - top) for i in (symbol, *items)), width, height)


def _sprung(frame: _Frame, pile: Pile) -> list[Item]:
    """The springs of a pile, with what moves them."""
    faces, net_of = frame.drawing.faces, frame.drawing.net_of
    rear = {lug: Rear(at, faces[lug].width / 2, net_of[lug]) for lug, at in frame.centres().items()}
    return springs(pile, rear, LONG_REACH, _SAID[pile.kind])
