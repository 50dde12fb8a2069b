"""Wafers of rotary switches with their labels and jumpers: from plan to panel.

The middle of a wafer is the origin. Every leader leaves its lug along the radius and runs on
until it is level with its label or reaches the bend line; from there it goes to its fork. Labels
of the upper half are only ever pushed up and those of the lower half down, in the order of the
angles: so no two leaders cross (each stays above the next one's whole course). Jumpers run on
concentric tracks inside the ring; from deck to deck in upright lanes between forks and labels.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations, product

from rewire.draw.labels import FORK, Block, blocks_for, joint, joints, number_jumpers, paint_block
from rewire.draw.lugs import HEIGHT, JUMPER, Drawing, Face, Jumper, Wafer
from rewire.draw.scene import (
    XY,
    Item,
    Line,
    Panel,
    Symbol,
    around,
    enters,
    hull,
    text_at,
)

LEAST_ROOM = 28.0
"""Labels want at least this beside a wafer, mm."""
_MOST_TRACKS = 6
_TRACK = 3.0
"""From one jumper track to the next: room for a number in the line, mm."""
_APART = 9.0
"""Least angle between two jumpers that share a track, degrees."""
_SLOT = 1.3
"""Between two jumpers that leave an outer lug side by side, mm."""
_FAN = 7.0
"""From the bend line to the forks, mm."""
_BEND = 1.0
"""From the edge of the wafer to the bend line, mm."""
_SHAFT = 5.0
"""Radius kept free round the shaft, mm."""
_CLEAR = 0.8
_BETWEEN_BLOCKS = 1.5
_LARGEST = 200.0
_TITLE = 8.0
"""Size of a deck's title, points."""
_TITLE_ROOM = 6.0
_LANE = 1.6
"""From one lane between decks to the next, mm."""
_MOST_LANES = 8

Ring = Sequence[tuple[str, float]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The room for one panel, and how the switch is looked at; mm."""

    width: float
    height: float
    seen_from: str
    fork: float = 0.0
    """Least distance of the forks from the middle, so that decks under each other agree."""
    branch: float = FORK
    """From a fork to its labels: lanes for jumpers to other decks lie there."""
    prefer: Mapping[str, int] = field(default_factory=dict)
    """Side, -1 or 1, of lugs that stand at twelve or six o'clock."""


@dataclass(frozen=True, slots=True)
class _Spot:
    """A lug's place: clock angle and radius about the middle of the wafer."""

    lug: str
    angle: float
    radius: float
    inner: bool

    @property
    def centre(self) -> XY:
        return on_clock(self.angle, self.radius)


@dataclass(frozen=True, slots=True)
class Arc:
    """A jumper's course: the shorter way round, clockwise from ``start``."""

    jumper: Jumper
    start: str
    end: str
    at: float
    """Clock angle of ``start``."""
    span: float
    track: int = 0

    def covers(self, other: Arc) -> bool:
        """Whether the two come too near each other to share a track."""
        return (
            (other.at - self.at) % 360 <= self.span + _APART
            or (self.at - other.at) % 360 <= other.span + _APART
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Rings:
    """A wafer's lugs with the radii of its jumper tracks and its edge, mm."""

    spots: Mapping[str, _Spot]
    first: float
    """Radius of the outermost jumper track."""
    edge: float
    """Nothing of the wafer lies further out."""
    fork: float
    """Distance of the forks from the middle."""


def plan_arcs(wafer: Wafer, jumpers: Sequence[Jumper]) -> tuple[list[Arc], list[Jumper]]:
    """Tracks for the jumpers, short ones outside; and the jumpers that found none."""
    angle = dict(wafer.outer + wafer.inner)
    arcs: list[Arc] = []
    without: list[Jumper] = []
    for wished in sorted((_arc(j, angle) for j in jumpers), key=lambda a: a.span):
        taken = {a.track for a in arcs if a.covers(wished)}
        free = next((t for t in range(_MOST_TRACKS) if t not in taken), None)
        if free is None or wished.start == wished.end:
            without.append(wished.jumper)
        else:
            arcs.append(replace(wished, track=free))
    return _least_crossing(wafer, arcs), without


def _arc(jumper: Jumper, angle: Mapping[str, float]) -> Arc:
    first, second = jumper.ends
    span = (angle[second] - angle[first]) % 360
    if span > 180:
        first, second, span = second, first, 360 - span
    return Arc(jumper, first, second, angle[first], span)


def _least_crossing(wafer: Wafer, arcs: list[Arc]) -> list[Arc]:
    """The tracks in the order in which the fewest legs cross an arc."""
    inner, angle = {lug for lug, _ in wafer.inner}, dict(wafer.outer + wafer.inner)
    over = [
        (own.track, other.track, lug in inner)
        for own, other in product(arcs, arcs) if own.track != other.track
        for lug in (own.start, own.end) if 0 < (angle[lug] - other.at) % 360 < other.span
    ]  # fmt: skip

    def crossings(order: tuple[int, ...]) -> int:
        return sum((order[own] < order[other]) == is_inner for own, other, is_inner in over)

    best = min(permutations(range(tracks_of(arcs))), key=crossings)
    return [replace(a, track=best[a.track]) for a in arcs]


def tracks_of(arcs: Iterable[Arc]) -> int:
    """How many tracks some arcs take."""
    return max((a.track + 1 for a in arcs), default=0)


def has_room(wafer: Wafer, faces: Mapping[str, Face], width: float) -> bool:
    """Whether there is room for labels beside the bare wafer in the middle of ``width`` mm."""
    return width / 2 - _rings_for(wafer, faces, 0, 0.0).fork >= LEAST_ROOM


def wafer_panel(drawing: Drawing, wafer: Wafer, sheet: Sheet) -> tuple[Panel, float]:
    """The wafer in the middle of its room, and how far from there its labels fork, mm.

    Jumpers that find no way become labels.
    """
    while True:
        arcs, without = plan_arcs(wafer, drawing.jumpers)
        tracks = tracks_of(arcs)
        rings = _rings_for(wafer, drawing.faces, tracks, sheet.fork)
        free = sheet.width / 2 - rings.fork - sheet.branch
        if not without and free < LEAST_ROOM - FORK:
            without = [a.jumper for a in arcs if a.track == tracks - 1]
        if without:
            drawing = drawing.told(without)
            continue
        labels = list(_labels(rings, blocks_for(drawing.labels, free), sheet.prefer))
        leaders = [_leader(drawing, rings, *label) for label in labels]
        lines = [_jumper_line(drawing, rings, arc, arcs) for arc in arcs]
        solid = [drawing.faces[s.lug].box(s.centre) for s in rings.spots.values()]
        said = {jumper.shows: jumper.said for jumper in drawing.jumpers}
        numbers, crowded = number_jumpers(said, lines, leaders, solid)
        if not crowded:
            break
        drawing = drawing.told(j for j in drawing.jumpers if j.shows in crowded)
    items = [*leaders, *lines, *joints([*lines, *leaders]), *numbers]
    for spot in rings.spots.values():
        items += drawing.faces[spot.lug].painted(spot.centre, drawing.net_of[spot.lug])
    for block, side, y in labels:
        at = (side * rings.fork, y)
        items += paint_block(block, at, side, drawing.net_of[block.lug], sheet.branch)
    return _framed(items, rings, sheet, wafer.title), rings.fork


def on_clock(degrees: float, radius: float) -> XY:
    """Point at a clock angle (0 is twelve o'clock, clockwise on paper, y down), mm."""
    angle = math.radians(degrees)
    return (radius * math.sin(angle), -radius * math.cos(angle))


def round_the_clock(start: float, end: float, radius: float, step: float = 3.0) -> tuple[XY, ...]:
    """Points along a circle from one clock angle to another, ``end`` taken as is."""
    count = max(1, math.ceil(abs(end - start) / step))
    return tuple(on_clock(start + (end - start) * n / count, radius) for n in range(count + 1))


def _rings_for(wafer: Wafer, faces: Mapping[str, Face], tracks: int, fork: float) -> _Rings:
    """The tightest rings on which no lug meets another or another's leader.

    ``fork`` is the least distance of the forks from the middle, mm.
    """
    reach = {lug: math.hypot(faces[lug].width, HEIGHT) / 2 for lug in wafer.lugs}
    outmost, inmost = (
        max((reach[lug] for lug, _ in ring), default=0.0) for ring in (wafer.outer, wafer.inner)
    )
    inner = _spread(wafer.inner, faces, _SHAFT + inmost)
    hub = inner + inmost if wafer.inner else _SHAFT
    radius = _spread(wafer.outer, faces, hub + 1.2 + tracks * _TRACK + outmost)
    spots = _spots(wafer, radius, inner)
    while wafer.outer and radius < _LARGEST and not _leaves(spots, faces, radius):
        radius += 0.5
        spots = _spots(wafer, radius, inner)
    edge = (radius + outmost if wafer.outer else hub) + 0.8
    return _Rings(spots, radius - outmost - _TRACK / 2, edge, max(fork, edge + _BEND + _FAN))


def _spots(wafer: Wafer, radius: float, inner: float) -> dict[str, _Spot]:
    return {
        **{lug: _Spot(lug, at, radius, False) for lug, at in wafer.outer},
        **{lug: _Spot(lug, at, inner, True) for lug, at in wafer.inner},
    }


def _spread(ring: Ring, faces: Mapping[str, Face], radius: float) -> float:
    """The least radius from this one on at which no two lugs of a ring meet."""
    while radius < _LARGEST:
        boxes = [faces[lug].box(on_clock(at, radius)).grown(_CLEAR / 2) for lug, at in ring]
        if not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[:n]):
            break
        radius += 0.5
    return radius


def _leaves(spots: Mapping[str, _Spot], faces: Mapping[str, Face], radius: float) -> bool:
    """Whether every radius through a lug is clear of the other lugs on the way out."""
    boxes = {lug: faces[lug].box(spot.centre).grown(_CLEAR) for lug, spot in spots.items()}
    return not any(
        enters((spot.centre, on_clock(spot.angle, 2 * radius)), box)
        for spot in spots.values() for lug, box in boxes.items() if lug != spot.lug
    )  # fmt: skip


def _labels(
    rings: _Rings, blocks: Mapping[str, Block], prefer: Mapping[str, int]
) -> Iterator[tuple[Block, int, float]]:
    """Each block with its side and the height of its leader, in an order without crossings."""
    spots = sorted((s for s in rings.spots.values() if s.lug in blocks), key=lambda s: s.angle)
    sides = {
        1: [s for s in spots if 0 < s.angle < 180], -1: [s for s in spots if 180 < s.angle < 360]
    }  # fmt: skip
    for spot in (s for s in spots if s.angle in (0.0, 180.0)):
        load = {side: sum(blocks[s.lug].height + _BETWEEN_BLOCKS for s in own)
                for side, own in sides.items()}  # fmt: skip
        lighter = 1 if load[1] <= load[-1] else -1
        sides[1 if prefer.get(spot.lug, lighter) > 0 else -1].append(spot)
    for side, own in sides.items():
        yield from ((block, side, y) for block, y in _heights(own, blocks, rings.edge))


def _heights(
    spots: Sequence[_Spot], blocks: Mapping[str, Block], edge: float
) -> Iterator[tuple[Block, float]]:
    """From the middle up, then down from there: as near to the lugs as the blocks allow."""

    def down(spot: _Spot) -> float:
        return min(spot.angle, 360 - spot.angle)

    ordered = [(spot, blocks[spot.lug]) for spot in sorted(spots, key=down)]
    ceiling, floor = math.inf, -math.inf
    for spot, block in reversed([one for one in ordered if down(one[0]) <= 90]):
        below = block.height - block.stem
        y = min(on_clock(spot.angle, edge)[1], ceiling - below)
        yield block, y
        floor = max(floor, y + below + _BETWEEN_BLOCKS)
        ceiling = y - block.stem - _BETWEEN_BLOCKS
    for spot, block in (one for one in ordered if down(one[0]) > 90):
        y = max(on_clock(spot.angle, edge)[1], floor + block.stem)
        yield block, y
        floor = y - block.stem + block.height + _BETWEEN_BLOCKS


def _leader(drawing: Drawing, rings: _Rings, block: Block, side: int, y: float) -> Line:
    """From the lug along the radius, then level or slanting to the fork."""
    spot = rings.spots[block.lug]
    x1, y1 = on_clock(spot.angle, 1.0)
    ways = ((y, y1), (rings.edge + _BEND, abs(x1)))
    length = min(way / unit for way, unit in ways if abs(unit) > 1e-9 and way / unit > 0)
    course = dict.fromkeys((spot.centre, on_clock(spot.angle, length), (side * rings.fork, y)))
    lug = f"lug:{spot.lug}"
    return Line(tuple(course), f"leader:{spot.lug}", drawing.net_of[spot.lug], (lug,))


def _jumper_line(drawing: Drawing, rings: _Rings, course: Arc, arcs: Sequence[Arc]) -> Line:
    """Along the radius to the track, round, and along the radius to the other lug."""
    start, end = rings.spots[course.start], rings.spots[course.end]
    first = course.at + _aside(start, course, arcs)
    last = course.at + course.span + _aside(end, course, arcs)
    points = (
        on_clock(first, start.radius),
        *round_the_clock(first, last, rings.first - course.track * _TRACK),
        on_clock(last, end.radius),
    )
    joins = (f"lug:{start.lug}", f"lug:{end.lug}")
    jumper = course.jumper
    return Line(points, jumper.shows, drawing.net_of[start.lug], joins, width=JUMPER)


def _aside(spot: _Spot, course: Arc, arcs: Sequence[Arc]) -> float:
    """Degrees beside the lug's own radius, so that its jumpers lie side by side.

    Jumpers that turn clockwise leave on the clockwise side, the deepest in the middle; more than
    three share, which is seen by a dot. Inner lugs have one way out.
    """
    if spot.inner:
        return 0.0
    turning = sorted(
        (a for a in arcs if spot.lug in (a.start, a.end)),
        key=lambda a: (a.start == spot.lug, a.track if a.start != spot.lug else -a.track),
    )
    slots = min(len(turning), 3)
    slot = turning.index(course) * slots // len(turning)
    return math.degrees((slot - (slots - 1) / 2) * _SLOT / spot.radius)


def _framed(items: Sequence[Item], rings: _Rings, sheet: Sheet, title: str) -> Panel:
    """Over the disc, shifted so that the room begins at the origin, under the title."""
    turns = "turns-left" if sheet.seen_from == "behind" else "turns-right"
    backdrop = [
        Symbol(kind, around((0, 0), wide, wide), shows, grey=grey, fill=fill, width=0.25,
               backdrop=True)
        for kind, wide, shows, grey, fill in (
            ("disc", 2 * (rings.edge - 0.4), "wafer", 0.75, "#f6f6f6"),
            ("disc", 2.6, "shaft", 0.45, "white"), (turns, 4.6, "turns", 0.35, "white"),
        )
    ]  # fmt: skip
    disc = around((0, 0), 2 * rings.edge, 2 * rings.edge)
    bounds = hull([disc, *(item.box for item in items)])
    head = _TITLE_ROOM if title else 1.0
    middle = sheet.width / 2
    shifted = [item.moved(middle, head - bounds.top) for item in (*backdrop, *items)]
    if title:
        shifted.append(text_at(title, middle, 4.0, _TITLE, align="centre", bold=True))
    return Panel(tuple(shifted), sheet.width, head + bounds.height + 2.0)


def with_lanes(sheet: Sheet, wafers: Sequence[Wafer], across: Sequence[Jumper]) -> Sheet:
    """The sheet with room for lanes, in which jumpers run from deck to deck.

    Lugs at twelve and six o'clock get sides, so that both ends of a jumper leave alike.
    """
    angle = {lug: at for wafer in wafers for lug, at in wafer.outer + wafer.inner}
    prefer: dict[str, int] = {}
    for jumper in across:
        sides = [prefer.get(lug, 0) if angle[lug] % 180 == 0 else 1 if angle[lug] < 180 else -1
                 for lug in jumper.ends]  # fmt: skip
        for lug in jumper.ends:
            prefer.setdefault(lug, sides[0] or sides[1] or -1)
    lanes = min(len(across), _MOST_LANES)
    return replace(sheet, branch=FORK + lanes * _LANE + 0.8, prefer=prefer)


def laned(panel: Panel, across: Sequence[Jumper]) -> Panel:
    """The two ends of a jumper joined by a lane where both leave the decks on one side.

    Both branches begin at forks of one distance; the lane crosses them at right angles. The ends
    keep their labels, which say the same in words.
    """
    lanes: list[Item] = []
    used = {-1: 0, 1: 0}
    for jumper in across:
        ends = [
            i for i in panel.items if isinstance(i, Line) and i.shows == jumper.shows and i.joins
        ]
        sides = {1 if end.points[-1][0] > end.points[0][0] else -1 for end in ends}
        if len(ends) != 2 or len(sides) != 1:
            continue
        (side,) = sides
        if used[side] < _MOST_LANES:
            x = ends[0].points[0][0] + side * (1.4 + used[side] * _LANE)
            used[side] += 1
            at = [(x, end.points[0][1]) for end in ends]
            net = ends[0].net
            lanes.append(Line(tuple(at), jumper.shows, net, width=JUMPER))
            lanes += (joint(spot, jumper.shows, net) for spot in at)
    return replace(panel, items=(*panel.items, *lanes))
