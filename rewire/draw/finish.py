"""Last touches on routed lines: numbers in jumpers, dots where lines of one net join."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from rewire.draw.geometry import along, lies_within, line_enters, segments
from rewire.draw.measure import middle_baseline, text_at, width_mm
from rewire.draw.scene import XY, Box, Item, Line, Symbol, around

POINTS = 7.0
_HEIGHT = 2.7
_CLEAR = 0.25
_STEP = 1.0
_BESIDE = ((0, -1), (0, 1), (-1, 0), (1, 0), (-1, -1), (1, -1), (-1, 1), (1, 1))


def number_jumpers(
    numbered: Sequence[Line],
    others: Sequence[Line],
    solid: Sequence[Box],
    said: Mapping[str, str] | None = None,
) -> tuple[list[Item], list[Line]]:
    """A number in each jumper's line, clear of everything else; and the jumpers without room.

    ``said`` gives the number by what a line shows, where it is not the name in that.
    """
    items: list[Item] = []
    crowded: list[Line] = []
    taken = list(solid)
    for line in numbered:
        rest = [*others, *(other for other in numbered if other is not line)]
        name = (said or {}).get(line.shows) or line.shows.partition(":")[2]
        box = _room(line, name, rest, taken)
        if box is None:
            crowded.append(line)
            continue
        taken.append(box)
        items.extend(_number(line, name, box))
    return items, crowded


def _room(line: Line, name: str, others: Iterable[Line], taken: Sequence[Box]) -> Box | None:
    """A place in the line itself, else beside it."""
    width = width_mm(name, POINTS, bold=True) + 1.0
    courses = [other.points for other in others]
    for spot in along(line.points, _STEP):
        box = around(spot, width, _HEIGHT)
        if not _hides_corner(line, box.grown(_CLEAR)) and _clear(box, courses, taken):
            return box
    for x, y in along(line.points, _STEP):
        for dx, dy in _BESIDE:
            box = around((x + dx * (width / 2 + 0.5), y + dy * (_HEIGHT / 2 + 0.5)),
                         width, _HEIGHT)  # fmt: skip
            if _clear(box, [*courses, line.points], taken):
                return box
    return None


def _clear(box: Box, courses: Sequence[Sequence[XY]], taken: Sequence[Box]) -> bool:
    wider = box.grown(_CLEAR)
    if any(wider.meets(b) for b in taken):
        return False
    return not any(line_enters(course, wider) for course in courses)


def _hides_corner(line: Line, box: Box) -> bool:
    """Whether a turn of the line would vanish behind its number; an arc turns too little."""
    points = line.points
    return any(box.left < x < box.right and box.top < y < box.bottom for x, y in _corners(points))


def _corners(points: Sequence[XY]) -> Iterator[XY]:
    """Where a line turns by more than some 25 degrees; an arc is drawn in smaller steps."""
    for (x0, y0), (x1, y1), (x2, y2) in zip(points, points[1:], points[2:], strict=False):
        cross = abs((x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1))
        if cross > 0.4 * math.hypot(x1 - x0, y1 - y0) * math.hypot(x2 - x1, y2 - y1):
            yield x1, y1


def _number(line: Line, name: str, box: Box) -> list[Item]:
    x, y = box.centre
    gap = [Symbol("gap", box, line.shows, line.net, width=0.0)]
    if not line_enters(line.points, box):
        gap = []
    text = text_at(
        name, x, middle_baseline(y, POINTS), POINTS,
        align="centre", bold=True, shows=line.shows, net=line.net, on=line.shows,
    )  # fmt: skip
    return [*gap, text]


def joints(lines: Sequence[Line]) -> list[Symbol]:
    """A dot wherever a line turns inside another line of its own net.

    An arc only crosses what it meets: there is no solder where it does.
    """
    dots: dict[XY, Symbol] = {}
    for line in lines:
        for point in _corners(line.points):
            if any(_branches(point, other) for other in lines if other is not line
                   and other.net == line.net):  # fmt: skip
                spot = (round(point[0], 3), round(point[1], 3))
                dots[spot] = Symbol(
                    "joint", around(spot, 1.1, 1.1), line.shows, line.net, fill="black"
                )
    return list(dots.values())


def _branches(point: XY, other: Line) -> bool:
    return any(lies_within(point, piece) for piece in segments(other.points))
