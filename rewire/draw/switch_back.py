"""A switch from behind, deck by deck: its lugs where they are, its jumpers, the ways out for wires.

Neighbours on a ring are joined straight; other jumpers run on tracks of their own between the
rings, short ones outside (``arcs``). A wire leaves an outer lug straight up, down,
left or right, an inner lug between two outer ones. Lugs in rows have their jumpers routed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from rewire.draw.arcs import Arc, on_clock, plan_arcs, round_the_clock, tracks_of
from rewire.draw.courses import Disc, Door
from rewire.draw.leads import FINE, POINTS, Lead, drawn, tag, tag_size
from rewire.draw.lugs import Grid, Wafer
from rewire.draw.routing import CLEAR
from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Symbol,
    around,
    hull,
    line_enters,
    middle_baseline,
    text_at,
    width_mm,
)
from rewire.draw.springs import Rear, springs
from rewire.draw.tag_spots import tag_spot

LUG = 4.8
"""Height of a lug, mm."""
_TRACK = 2.2
_SHAFT = 1.3
_HUB = 10.0
"""Least radius of the inner ring, mm."""
_GAP, _PASS = 1.6, 3.0
"""Between two lugs at least, and where wires from inner lugs pass between them, mm."""
_LARGEST, _GROWS, _TRIES = 120.0, 0.4, 5
_NEIGHBOURS = 50.0
"""Lugs of a ring within this angle are joined straight, degrees."""
_SLOT = 1.5
_OUT = 0.8
"""How far a wire runs straight out of a wafer, mm."""
_ROW, _CLOSE, _COLUMN = 10.0, 8.0, 14.0
"""From row to row, in a single column, and from column to column, mm."""
_SAID = {"relay": ("coil",), "jack": ("panel side",)}
"""Beside what moves the springs."""
_LONGEST = 9.0
"""A wider name gives way to a number, mm."""


@dataclass(frozen=True, slots=True)
class Back:
    """A deck, or the rows of a switch, about its own middle."""

    items: tuple[Item, ...]
    lugs: Mapping[str, Box]
    """Terminal → the lug's outline."""
    doors: Mapping[str, tuple[Door, ...]]
    """Terminal → its ways out, as many as it has leads that leave, or more."""
    square: Box
    jumpers: frozenset[str]
    """``shows`` of the jumpers that are drawn here."""
    switch: str = ""
    title: str = ""
    solid: tuple[Box, ...] = ()
    """Where nothing else may stand."""
    shut: tuple[Box | Disc, ...] = ()
    """Where no wire may run but through a door."""
    sprung: bool = False
    """Whether springs run to the left of its lugs, so that all wires leave to the right."""

    def moved(self, dx: float, dy: float) -> Back:
        """The deck at another place."""
        return replace(
            self, items=tuple(item.moved(dx, dy) for item in self.items),
            lugs={lug: box.moved(dx, dy) for lug, box in self.lugs.items()},
            doors={lug: tuple(door.moved(dx, dy) for door in ways)
                   for lug, ways in self.doors.items()},
            square=self.square.moved(dx, dy),
            solid=tuple(box.moved(dx, dy) for box in self.solid),
            shut=tuple(one.moved(dx, dy) for one in self.shut),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Lugs:
    """The lugs of one deck as printed, with the leads that end on them."""

    switch: str
    commons: frozenset[str]
    shown: Mapping[str, str]
    net_of: Mapping[str, str]
    leads: Sequence[Lead]
    live: frozenset[str]

    def width(self, lug: str) -> float:
        """Of its outline, mm."""
        return max(LUG, width_mm(self.shown[lug], POINTS, lug in self.commons) + 1.8)

    def box(self, lug: str, centre: XY) -> Box:
        """Its outline about a centre."""
        return around(centre, self.width(lug), LUG)

    def terminal(self, lug: str) -> str:
        """Its full name."""
        return f"{self.switch}.{lug}"

    def leaving(self, lug: str, drawn_here: frozenset[str]) -> int:
        """How many leads go out from a lug; at least one way is kept."""
        end = self.terminal(lug)
        return sum(end in lead.ends for lead in self.leads if lead.shows not in drawn_here)

    def painted(self, lug: str, centre: XY) -> list[Item]:
        """Outline and name; a common is black, a lug that is or can be live has a double line."""
        shows, net = f"lug:{self.terminal(lug)}", self.net_of[lug]
        common = lug in self.commons
        kind = "lug" if self.width(lug) <= LUG + 0.3 else "round"
        box = around(centre, LUG if kind == "lug" else self.width(lug), LUG)
        fill = "#1a1a1a" if common else "#ffe3d6" if lug in self.live else "white"
        name = text_at(
            self.shown[lug], centre[0], middle_baseline(centre[1], POINTS), POINTS, "centre",
            bold=common, grey=1.0 if common else 0.0, shows=shows, net=net, on=shows,
        )  # fmt: skip
        return [Symbol(kind, box, shows, net, FINE, fill=fill), name]


def numbered(lugs: Sequence[str]) -> dict[str, str]:
    """Lug → what is printed in it: its name, or a number where that is too long."""
    shown: dict[str, str] = {}
    for lug in lugs:
        short = width_mm(lug, POINTS, bold=True) <= _LONGEST
        shown[lug] = lug if short else f"#{sum(s.startswith('#') for s in shown.values()) + 1}"
    return shown


# Wafers -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Ring:
    """Where the lugs of a wafer stand: clock angle and radius of each, mm."""

    angle: Mapping[str, float]
    radius: Mapping[str, float]
    outer: float
    first: float
    """Radius of the outermost track."""

    def centre(self, lug: str) -> XY:
        x, y = on_clock(self.angle[lug], self.radius[lug])
        return round(x, 1), round(y, 1)

    @property
    def edge(self) -> float:
        return self.outer + LUG / 2 + 1.0


def wafer_back(wafer: Wafer, lugs: Lugs) -> Back:
    """A wafer with its jumpers, as small as their tags let it be."""
    tries: list[Back] = []
    for more in range(_TRIES):
        back, crowded = _wafer(wafer, lugs, more * _GROWS)
        if not crowded:
            return back
        tries.append(back)
    return tries[0]


def _wafer(wafer: Wafer, lugs: Lugs, more: float) -> tuple[Back, bool]:
    own = {lugs.terminal(lug): lug for lug in wafer.lugs}
    within = [lead for lead in lugs.leads if all(end in own for end in lead.ends)]
    straight = _straight(wafer, within, own)
    bent = [lead for lead in within if lead not in straight]
    arcs = plan_arcs(wafer, {lead.shows: (own[lead.ends[0]], own[lead.ends[1]]) for lead in bent})
    ring = _ring(wafer, lugs, tracks_of(arcs), more)
    of = {lead.shows: lead for lead in within}
    lines = [drawn(lead, [ring.centre(own[end]) for end in lead.ends]) for lead in straight]
    lines += [drawn(of[arc.shows], _course(ring, arc, arcs)) for arc in arcs]
    here = frozenset(line.shows for line in lines)
    doors = _doors(wafer, lugs, ring, here, arcs)
    out = [door.points for ways in doors.values() for door in ways]
    boxes = {lug: lugs.box(lug, ring.centre(lug)) for lug in wafer.lugs}
    marks, crowded = _tags(
        lines, of, out, [*boxes.values(), around((0, 0), 2 * _SHAFT, 2 * _SHAFT)]
    )
    edge = ring.edge
    items: list[Item] = [
        Symbol("disc", around((0, 0), 2 * edge, 2 * edge), "wafer", width=FINE, grey=0.6,
               fill="#f4f4f4", backdrop=True),
        Symbol("disc", around((0, 0), 2 * _SHAFT, 2 * _SHAFT), "shaft", width=FINE, backdrop=True),
        *lines, *marks,
    ]  # fmt: skip
    for lug in wafer.lugs:
        items += lugs.painted(lug, ring.centre(lug))
    half = _half(ring)
    return Back(
        tuple(items), {lugs.terminal(lug): box for lug, box in boxes.items()},
        {lugs.terminal(lug): ways for lug, ways in doors.items()},
        Box(-half, -half, half, half), here, lugs.switch, wafer.title, tuple(_stairs(edge)),
        (Disc((0.0, 0.0), edge + CLEAR),),
    ), crowded  # fmt: skip


def _half(ring: _Ring) -> float:
    """From the middle to the lines on which wires leave; on the raster."""
    return 2.0 * math.ceil((ring.edge + CLEAR) / 2.0)


def _stairs(radius: float) -> Iterator[Box]:
    """Boxes that fill a disc."""
    for degrees in (15, 35, 55, 75):
        at = math.radians(degrees)
        yield around((0.0, 0.0), 2 * radius * math.cos(at), 2 * radius * math.sin(at))


def _straight(wafer: Wafer, leads: Sequence[Lead], own: Mapping[str, str]) -> list[Lead]:
    """One lead for each pair of neighbours on a ring."""
    found: dict[frozenset[str], Lead] = {}
    for lead in leads:
        ends = frozenset(own[end] for end in lead.ends)
        if any(_next_to(ring, ends) for ring in (wafer.outer, wafer.inner)):
            found.setdefault(ends, lead)
    return list(found.values())


def _next_to(ring: Sequence[tuple[str, float]], ends: frozenset[str]) -> bool:
    order = sorted(ring, key=lambda one: one[1])
    most = _NEIGHBOURS if len(ring) > 4 else 120.0
    return len(ends) == 2 and any(
        {a, b} == ends and (second - first) % 360 <= most
        for (a, first), (b, second) in zip(order, [*order[1:], *order[:1]], strict=True)
    )


def _ring(wafer: Wafer, lugs: Lugs, tracks: int, more: float) -> _Ring:
    wide = max((lugs.width(lug) for lug, _ in wafer.inner), default=0.0)
    inner = _spread(wafer.inner, lugs, max(_HUB, _SHAFT + wide / 2 + 1.5))
    hub = inner + wide / 2 if wafer.inner else _SHAFT + 2.0
    reach = max((lugs.width(lug) for lug, _ in wafer.outer), default=LUG) / 2
    least = hub + tracks * (_TRACK + more / 2) + 1.6 + reach + more / 2
    outer = _spread(wafer.outer, lugs, least, _PASS if wafer.inner else _GAP)
    angle = dict(wafer.outer + wafer.inner)
    radius = {lug: outer for lug, _ in wafer.outer} | {lug: inner for lug, _ in wafer.inner}
    return _Ring(angle, radius, outer if wafer.outer else inner, outer - reach - 1.2 - _TRACK / 2)


def _spread(
    ring: Sequence[tuple[str, float]], lugs: Lugs, radius: float, gap: float = _GAP
) -> float:
    """The least radius from this one on at which no lug meets another, or another's way out."""
    while radius < _LARGEST:
        boxes = [lugs.box(lug, on_clock(at, radius)).grown(gap / 2) for lug, at in ring]
        if not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[:n]):
            break
        radius += 0.5
    return radius


def _course(ring: _Ring, arc: Arc, arcs: Sequence[Arc]) -> tuple[XY, ...]:
    """Along the radius to the track, round, and along the radius to the other lug."""
    first = arc.at + _aside(ring, arc.start, arc, arcs)
    last = arc.at + arc.span + _aside(ring, arc.end, arc, arcs)
    count = max(1, tracks_of(arcs))
    hub = max((r + LUG / 2 for r in ring.radius.values() if r < ring.outer), default=_SHAFT + 2.0)
    pitch = (ring.first + _TRACK / 2 - hub - 1.0) / count
    track = ring.first - (arc.track + 0.5) * pitch + _TRACK / 2
    return (
        on_clock(first, ring.radius[arc.start]), *round_the_clock(first, last, track),
        on_clock(last, ring.radius[arc.end]),
    )  # fmt: skip


def _aside(ring: _Ring, lug: str, course: Arc, arcs: Sequence[Arc]) -> float:
    """Degrees beside the lug's own radius, so that its jumpers lie side by side."""
    if ring.radius[lug] < ring.outer:
        return 0.0
    turning = sorted(
        (arc for arc in arcs if lug in (arc.start, arc.end)),
        key=lambda a: (a.start == lug, a.track if a.start != lug else -a.track),
    )
    slots = min(len(turning), 3)
    slot = turning.index(course) * slots // len(turning)
    return math.degrees((slot - (slots - 1) / 2) * _SLOT / ring.outer)


def _doors(
    wafer: Wafer, lugs: Lugs, ring: _Ring, here: frozenset[str], arcs: Sequence[Arc]
) -> dict[str, tuple[Door, ...]]:
    doors: dict[str, tuple[Door, ...]] = {}
    for lug, at in wafer.outer:
        count = lugs.leaving(lug, here)
        doors[lug] = tuple(_outer_doors(ring.centre(lug), at, count, ring.edge + CLEAR + _OUT))
    used: list[float] = []
    legs = [ring.angle[lug] for arc in arcs for lug in (arc.start, arc.end)
            if ring.radius[lug] < ring.outer]  # fmt: skip
    shut = [lugs.box(lug, ring.centre(lug)).grown(0.9) for lug, _ in wafer.outer]
    for lug, _ in wafer.inner:
        ways: list[Door] = []
        for _ in range(lugs.leaving(lug, here)):
            angle = _free_angle(ring, lug, [*used, *legs], shut)
            used.append(angle)
            ways += _inner_doors(ring, lug, angle)
        doors[lug] = tuple(ways)
    inner = [door.points for lug, _ in wafer.inner for door in doors[lug]]
    for lug, _ in wafer.outer:
        doors[lug] = tuple(door for door in doors[lug] if not door.extra or _apart(door, inner))
    return doors


def _apart(door: Door, others: Sequence[Sequence[XY]]) -> bool:
    """Whether a way out is clear of those from inner lugs."""
    (x, y), (u, v) = door.points
    lane = hull([around((x, y), 0.0, 0.0), around((u, v), 0.0, 0.0)]).grown(2.2)
    return not any(line_enters(other, lane) for other in others)


def _outer_doors(centre: XY, at: float, count: int, radius: float) -> Iterator[Door]:
    """Straight out, side by side where there are several."""
    step = min(2.0, (LUG - 0.8) / max(1, count - 1))
    sine, cosine = abs(math.sin(math.radians(at))), abs(math.cos(math.radians(at)))
    for n in range(count):
        aside = (n - (count - 1) / 2) * step
        for up in (True, False):
            steep = cosine if up else sine
            x, y = (centre[0] + aside, centre[1]) if up else (centre[0], centre[1] + aside)
            far = math.sqrt(max(0.0, radius**2 - (x if up else y) ** 2))
            if steep > 0.7 or (count == 1 and steep > 0.45):
                out = (x, math.copysign(far, y)) if up else (math.copysign(far, x), y)
                yield Door(((x, y), out), up, 0.0 if steep > 0.7 else 2.0)


def _free_angle(ring: _Ring, lug: str, used: Sequence[float], shut: Sequence[Box]) -> float:
    """The angle nearest to an inner lug's own at which a wire passes between outer lugs."""
    at, start = ring.angle[lug], ring.centre(lug)
    for step in range(90):
        for angle in (at + step * 2, at - step * 2):
            apart = (abs((angle - other + 180) % 360 - 180) for other in used)
            if any(d < 90 and ring.outer * math.sin(math.radians(d)) < 2.6 for d in apart):
                continue
            way = (start, on_clock(angle, ring.edge))
            if not any(line_enters(way, box) for box in shut):
                return angle % 360
    return at


def _inner_doors(ring: _Ring, lug: str, angle: float) -> Iterator[Door]:
    """Out between two outer lugs, then up, down, left or right."""
    start, (x, y) = ring.centre(lug), on_clock(angle, ring.edge + CLEAR)
    x, y = round(x, 1), round(y, 1)
    across, along = abs(x) >= abs(y) * 0.8, abs(y) >= abs(x) * 0.8
    if across:
        yield Door((start, (x, y), (x + math.copysign(_OUT, x), y)), False)
    if along:
        yield Door((start, (x, y), (x, y + math.copysign(_OUT, y))), True)


def _tags(
    lines: Sequence[Line], of: Mapping[str, Lead], out: Sequence[Sequence[XY]], solid: list[Box]
) -> tuple[list[Item], bool]:
    """A tag on each jumper or beside it, and whether one found no place."""
    items, taken, crowded = list[Item](), list(solid), False
    for line in sorted(lines, key=lambda one: len(one.points)):
        lead = of[line.shows]
        if not lead.said:
            continue
        others = [other.points for other in lines if other is not line]
        spot = tag_spot(line.points, tag_size(lead.said), taken, [*others, *out])
        if spot is None:
            crowded = True
            continue
        mark = tag(lead, spot)
        taken.append(mark[0].box)
        items += mark
    return items, crowded


# Rows -------------------------------------------------------------------------------------


def rows_back(grid: Grid, lugs: Lugs) -> Back:
    """Lugs in rows and columns, with room for wires between them."""
    columns = len(grid.rows[0])
    inside = sum(
        all(end.partition(".")[0] == lugs.switch for end in lead.ends) for lead in lugs.leads
    )
    widest = max(lugs.width(lug) for lug in grid.lugs)
    step = 2.0 * math.ceil((max(_COLUMN, widest + 9.0) + min(inside, 6)) / 2.0)
    pitch = _ROW if columns > 1 else _CLOSE
    heights = accumulate(pitch if any(row) else pitch / 2 for row in grid.rows)
    at = {
        lug: ((c - (columns - 1) / 2) * step, y)
        for y, row in zip(heights, grid.rows, strict=True) for c, lug in enumerate(row)
        if lug is not None
    }  # fmt: skip
    middle = 2.0 * round(sum(y for _, y in at.values()) / len(at) / 2.0)
    at = {lug: (2.0 * round(x / 2.0), y - middle) for lug, (x, y) in at.items()}
    boxes = {lug: lugs.box(lug, centre) for lug, centre in at.items()}
    body = hull(boxes.values()).grown(2.4)
    items: list[Item] = [Symbol("chamfered", body, "body", width=FINE, grey=0.6, fill="#f4f4f4",
                                backdrop=True)]  # fmt: skip
    moved = _sprung(grid, at, lugs)
    doors: dict[str, tuple[Door, ...]] = {}
    for lug, centre in at.items():
        items += lugs.painted(lug, centre)
        ways = _row_doors(centre, lugs.width(lug), columns > 1)
        doors[lugs.terminal(lug)] = tuple(
            way for way in ways if not moved or way.points[-1][0] >= centre[0]
        )
    shut = [*boxes.values()]
    if moved:
        items += moved
        body = hull([body, *(item.box for item in moved)])
        shut.append(replace(body, right=min(box.left for box in boxes.values()) - 0.4))
    square = Box(*(2.0 * math.floor(v / 2.0) for v in (body.left, body.top)),
                 *(2.0 * math.ceil(v / 2.0) for v in (body.right, body.bottom)))  # fmt: skip
    return Back(
        tuple(items), {lugs.terminal(lug): box for lug, box in boxes.items()}, doors, square,
        frozenset(), lugs.switch, "", (square,), tuple(shut), bool(moved),
    )  # fmt: skip


def _sprung(grid: Grid, at: Mapping[str, XY], lugs: Lugs) -> list[Item]:
    """The springs of a relay or jack, with what moves them."""
    if grid.pile is None:
        return []
    rear = {
        lug: Rear(lugs.terminal(lug), centre, lugs.width(lug) / 2, lugs.net_of[lug])
        for lug, centre in at.items()
    }
    return springs(grid.pile, rear, _SAID[grid.pile.kind])


def _row_doors(centre: XY, width: float, upwards: bool) -> Iterator[Door]:
    """Left and right, then down, and up where there is room for both between two rows."""
    x, y = centre
    far = 2.0 * math.ceil((width / 2 + CLEAR) / 2.0)
    for sign in (-1, 1):
        yield Door((centre, (x + sign * far, y)), False)
    for sign in (-1, 1) if upwards else (1,):
        yield Door((centre, (x, y + sign * 4.0)), True, 4.0)
