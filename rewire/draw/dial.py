"""The plate of a dial at its true size: arcs, figures, marks, names, outline, holes and folds.

The trade's proportions (marks a fourteenth of the radius, figures two thirds of a mark high, the
names within the arcs) are common practice, no source. Nothing is printed that the spec does not
say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import asin, cos, degrees, hypot, inf, radians, sin, sqrt

from rewire.draw.dial_divisions import Division, divisions
from rewire.draw.scene import (
    MM_PER_POINT,
    XY,
    Box,
    Line,
    Panel,
    Text,
    hull,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.mount import Dial
from rewire.values.dial_arcs import PlateArc

LEAST_POINTS = 8.0
_CAP = 0.73
"""Height of a figure over the size of its letters: DejaVu Sans."""
_CLEAR = 0.45
"""From a figure to whatever is next to it, mm."""
_HUB = 0.16
"""Share of the radius about the pivot that the pointer's boss hides."""
_EDGE = 0.8
"""From the ink to the edge of the plate, mm."""
_FEW = 2
"""Figures; where no more than these have room, some that are left out do better."""
_LEAST_RADIUS = 12.0
"""Of an arc whose figures can be read, mm."""
_RED = "#c00000"
_BETWEEN_NAMES, _UNBROKEN = " · ", "\N{NO-BREAK SPACE}"
Ink = Line | Text
USUAL_SWEEP, USUAL_HOLE = 90.0, 3.0


class DialRefused(Exception):
    """The arcs do not go on the plate; ``message`` and ``hint`` say why, and what does."""

    def __init__(self, message: str, hint: str) -> None:
        super().__init__(message, hint)
        self.message, self.hint = message, hint


@dataclass(frozen=True, slots=True)
class Plate:
    """A dial with everything that it does not say filled in; mm, degrees, y upwards."""

    dial: Dial
    sweep: float
    pivot: XY
    size: XY
    assumed: tuple[str, ...]

    @property
    def radius(self) -> float:
        """Of the outer arc."""
        return self.dial.radius

    @property
    def mark(self) -> float:
        """Length of the longest mark."""
        return min(max(self.radius / 14.0, 1.9), 5.5)

    @property
    def points(self) -> float:
        """Size of the figures."""
        return max(LEAST_POINTS, 0.9 * self.mark / _CAP / MM_PER_POINT)

    def turn(self, share: float, zero: str) -> float:
        """Degrees clockwise from upright at which a pointer's share of its travel stands."""
        if zero == "centre":
            return self.sweep / 2.0 * share
        turn = self.sweep * (share - 0.5)
        return -turn if zero == "right" else turn


def plate_of(dial: Dial) -> Plate:
    """The plate, with sane sizes where the spec gives none; those are named as assumed."""
    sweep = USUAL_SWEEP if dial.sweep is None else dial.sweep
    assumed = [] if dial.sweep is not None else [f"sweep {sweep:g}°"]
    outer, half = dial.radius * 1.15 + 8.0, radians(min(sweep / 2.0, 90.0))
    below = max(0.28 * dial.radius, -outer * cos(radians(sweep / 2.0)))
    size = dial.plate or (2.0 * outer * sin(half) + 4.0, outer + below)
    if dial.outline == "circle" and dial.plate is None:
        size = (2.0 * outer, 2.0 * outer)
    if dial.plate is None:
        assumed.append(f"plate {size[0]:.0f} × {size[1]:.0f} mm")
    pivot = dial.pivot
    if pivot is None:
        low = size[1] / 2.0 if dial.outline == "circle" else max(size[1] - outer, -dial.radius)
        pivot = (size[0] / 2.0, low)
        assumed.append(f"pivot {pivot[0]:.1f} mm from the left, {pivot[1]:.1f} mm up")
    if dial.screws and dial.screw_hole is None:
        assumed.append(f"screw holes {USUAL_HOLE:g} mm")
    return Plate(dial, sweep, pivot, size, tuple(assumed))


def dial_plate(
    dial: Dial, arcs: Sequence[PlateArc], law: Callable[[float], float], dark: bool = False
) -> Panel:
    """The plate at its true size, its arcs from the outside in; ``dark`` is white on black.

    ``law``: true share of full deflection → where the pointer stands.

    Raises:
        DialRefused: it has no room for them.
    """
    plate = plate_of(dial)
    _check_shape(plate)
    ink = 1.0 if dark else 0.0
    drawn, inner = _arcs(plate, arcs, law)
    names = _named(plate, [tuple(map(visible, arc.names)) for arc in arcs], drawn, inner)
    items = [*drawn, *names]
    _see_that_it_fits(plate, items)
    width, height = plate.size
    flap = dial.flaps or 0.0
    cut = Line(tuple(_outline(plate)), "cut", width=0.15, fill="#000000" if dark else None)
    placed = [cut, *(replace(one, grey=ink) for one in (*items, *_holes(plate), *_cross(plate)))]
    placed += _flaps(plate) if flap else []
    return Panel(tuple(_on_paper(one, flap, height) for one in placed), width + 2 * flap, height)


# Arcs ---------------------------------------------------------------------------------------


def _arcs(
    plate: Plate, arcs: Sequence[PlateArc], law: Callable[[float], float]
) -> tuple[list[Ink], float]:
    """All arcs, two to a line (figures outside, then inside), and the radius free within."""
    if plate.radius < _LEAST_RADIUS:
        message = f"figures on a radius of {plate.radius:g} mm could not be read"
        raise DialRefused(message, f"give {_LEAST_RADIUS:g} mm or more")
    items: list[Ink] = []
    base = free = plate.radius
    for number, arc in enumerate(arcs):
        side = 1 if number % 2 == 0 else -1
        if number and side == 1:
            base = free - plate.mark - 3.0 * _CLEAR - _widest(plate, arc)
        if base < max(0.45 * plate.radius, _LEAST_RADIUS):
            message = f"there is room for {number} of the {len(arcs)} arcs"
            raise DialRefused(message, "choose with --reading, or give a larger radius")
        if side == 1:
            items.append(_line_of_arc(plate, base))
        made = _Arc(plate, arc, base, side, law)
        items += made.drawn()
        free = made.inner if side == -1 else base - _CLEAR
    return items, free


def _widest(plate: Plate, arc: PlateArc) -> float:
    """The most that a figure of an arc reaches outwards."""
    labels = (f"{arc.high:g}", f"{arc.high / 3:.1g}", "+10")
    wide = max(width_mm(label, plate.points) for label in labels)
    return hypot(wide, _cap(plate.points))


def _cap(points: float) -> float:
    return _CAP * points * MM_PER_POINT


def _line_of_arc(plate: Plate, radius: float) -> Line:
    """The arc itself; a chord of a degree is nearer to it than a printer's dot."""
    count = max(2, round(plate.sweep))
    turns = (plate.sweep * (n / count - 0.5) for n in range(count + 1))
    return Line(tuple(_at(plate, turn, radius) for turn in turns), "arc", width=0.25)


def _at(plate: Plate, turn: float, radius: float) -> XY:
    x, y = plate.pivot
    return x + radius * sin(radians(turn)), y + radius * cos(radians(turn))


@dataclass(slots=True)
class _Arc:
    """One arc while it is drawn: its marks to one side of its line, figures beyond them."""

    plate: Plate
    arc: PlateArc
    base: float
    side: int
    law: Callable[[float], float]
    inner: float = inf

    def turn(self, figure: float) -> float:
        """Degrees from upright at a figure."""
        rest = self.arc.rest
        stands = self.law(rest + (1.0 - rest) * self.arc.share(figure))
        return self.plate.turn((stands - rest) / (1.0 - rest), self.arc.zero)

    def drawn(self) -> Iterator[Ink]:
        """Marks, figures, and what the spec marks on it."""
        half = self.plate.sweep / 2.0 + 1e-6
        self.inner = self.base - self.plate.mark - _CLEAR
        marks, texts = self._divided(half)
        for one in marks:
            yield self._mark(one)
        yield from texts
        for figure, why in self.arc.marks:
            if abs(self.turn(figure)) <= half:
                red = _RED if "red" in why.lower() else None
                shows = f"red:{figure:g}" if red else f"noted:{figure:g}"
                yield replace(self._mark(Division(figure, 1.0)), shows=shows, width=0.8, colour=red)

    def _divided(self, half: float) -> tuple[list[Division], list[Text]]:
        """The best way to divide it whose figures all have room; else as many as have."""
        best: tuple[list[Division], list[Text]] = ([], [])
        along = self._along
        for ways in divisions(self.arc, along):
            marks = [one for one in ways if abs(self.turn(one.figure)) <= half]
            texts = self._figures(marks)
            if len(texts) > len(best[1]):
                best = marks, texts
            if len(texts) == sum(1 for one in marks if one.label) and len(texts) > _FEW:
                best = marks, texts
                break
        if len(best[1]) < _FEW:
            message = f"no two figures have room on the arc {self.arc.said}"
            raise DialRefused(message, "give a larger radius or sweep")
        for text in best[1]:
            self.inner = min(self.inner, _nearest(self.plate.pivot, _ink(text)) - _CLEAR)
        shown = {text.shows for text in best[1]}
        short = [
            one if not one.label or _shows(one) in shown else replace(one, length=0.75)
            for one in best[0]
        ]
        return short, best[1]

    def _along(self, figure: float) -> float:
        """Millimetres along the shorter edge of the marks."""
        least = self.base - (self.plate.mark if self.side == -1 else 0.0)
        return radians(self.turn(figure)) * least

    def _mark(self, one: Division) -> Line:
        turn, width = self.turn(one.figure), 0.35 if one.length == 1.0 else 0.2
        ends = (self.base, self.base + self.side * one.length * self.plate.mark)
        points = tuple(_at(self.plate, turn, radius) for radius in ends)
        return Line(points, f"mark:{one.figure:g}", width=width)

    def _figures(self, marks: Iterable[Division]) -> list[Text]:
        """The figures, upright, each with room about it; those before have the better right."""
        placed: list[Text] = []
        for one in marks:
            if one.label:
                text = self._figure(one)
                room = _ink(text).grown(1.8 * _CLEAR)
                if not any(room.meets(_ink(other)) for other in placed):
                    placed.append(text)
        return placed

    def _figure(self, one: Division) -> Text:
        """A figure just clear of the circle that the marks end on."""
        turn, points = radians(self.turn(one.figure)), self.plate.points
        wide, high = width_mm(one.label, points), _cap(points)
        across, up = abs(sin(turn)), abs(cos(turn))
        edge = self.base + self.side * (self.plate.mark + _CLEAR)
        if self.side == 1:
            far = edge + (wide * across + high * up) / 2.0
        else:  # the corner farthest from the pivot lies on the circle
            b = across * wide + up * high
            far = -b / 2.0 + sqrt(b * b / 4.0 - (wide**2 + high**2) / 4.0 + edge**2)
        x, y = _at(self.plate, degrees(turn), far)
        return replace(text_at(one.label, x, y - high / 2.0, points, "centre"), shows=_shows(one))


def _shows(one: Division) -> str:
    return f"figure:{one.figure:g}"


def _ink(text: Text) -> Box:
    """What is black of a figure, y upwards."""
    return Box(text.x, text.y, text.x + text.width, text.y + _cap(text.points))


def _corners(box: Box) -> tuple[XY, ...]:
    return ((box.left, box.top), (box.right, box.top), (box.right, box.bottom),
            (box.left, box.bottom))  # fmt: skip


def _nearest(pivot: XY, box: Box) -> float:
    """From the pivot to a box."""
    dx = max(box.left - pivot[0], 0.0, pivot[0] - box.right)
    dy = max(box.top - pivot[1], 0.0, pivot[1] - box.bottom)
    return hypot(dx, dy)


# Names --------------------------------------------------------------------------------------


def _named(
    plate: Plate, names: Sequence[Sequence[str]], drawn: Sequence[Ink], inner: float
) -> list[Text]:
    """A name on each line; where that takes too much room, those of an arc on one, and smaller."""
    best: list[Text] = []
    apart = [name for of_arc in names for name in of_arc]
    joined = [_BETWEEN_NAMES.join(of_arc) for of_arc in names]
    all_in_one = _BETWEEN_NAMES.join(name.replace(" ", _UNBROKEN) for name in apart)
    for points in dict.fromkeys((max(LEAST_POINTS, 0.8 * plate.points), LEAST_POINTS)):
        packed = wrap(all_in_one, 1.2 * inner, points)
        for lines in (apart, joined, packed):
            made = list(_names(plate, lines, points, drawn, inner))
            if len(made) == len(lines):
                return made
            best = max(best, made, key=lambda texts: sum(len(text.text) for text in texts))
    return best


def _names(
    plate: Plate, lines: Sequence[str], points: float, drawn: Sequence[Ink], inner: float
) -> Iterator[Text]:
    """The readings within the arcs, outer ones first, where nothing else is.

    Below the pivot many a movement hides its plate.
    """
    high, (x, pivot) = _cap(points), plate.pivot
    least = max(_EDGE, pivot + _HUB * plate.radius)
    y = pivot + inner - 0.05 * plate.radius - high
    solid = [_bounds(one).grown(2.0 * _CLEAR) for one in drawn if one.shows != "arc"]
    solid += [Box(u, v, u, v).grown(2.0 * _CLEAR)
              for one in drawn if isinstance(one, Line) and one.shows == "arc"
              for u, v in one.points]  # fmt: skip
    outline = _outline(plate)
    for line in lines:
        said = line.replace(_UNBROKEN, " ").removesuffix(_BETWEEN_NAMES.rstrip())
        text = replace(text_at(said, x, y, points, "centre"), shows="name")
        while y > least and not _is_clear(text, solid, outline):
            y -= 0.25
            text = replace(text, y=y)
        if y <= least:
            return
        yield text
        y -= 1.7 * high


def _bounds(item: Ink) -> Box:
    return _ink(item) if isinstance(item, Text) else item.box


def _is_clear(text: Text, solid: Sequence[Box], outline: Sequence[XY]) -> bool:
    box = _ink(text)
    inside = all(_within(corner, outline) for corner in _corners(box))
    return inside and not any(box.meets(one) for one in solid)


# Outline ------------------------------------------------------------------------------------


def _outline(plate: Plate) -> list[XY]:
    """The edge, from its lower left and back to it."""
    (wide, high), (x, y) = plate.size, plate.pivot
    if plate.dial.outline == "circle":
        turns = (radians(n * 2.0) for n in range(181))
        return [(wide / 2.0 * (1.0 + sin(t)), wide / 2.0 * (1.0 + cos(t))) for t in turns]
    if plate.dial.outline == "sector":
        top = high - y
        left, right = (degrees(asin(min(1.0, side / top))) for side in (x, wide - x))
        count = 60
        turns = (-left + (left + right) * n / count for n in range(count + 1))
        arc = [_at(plate, turn, top) for turn in turns]
        return [(arc[0][0], 0.0), *arc, (arc[-1][0], 0.0), (arc[0][0], 0.0)]
    return [(0.0, 0.0), (0.0, high), (wide, high), (wide, 0.0), (0.0, 0.0)]


def _check_shape(plate: Plate) -> None:
    """Whether the sizes go together.

    Raises:
        DialRefused: they do not.
    """
    (wide, high), (x, y), outline = plate.size, plate.pivot, plate.dial.outline
    if outline == "circle" and abs(wide - high) > 0.01:
        raise DialRefused("a circle has one diameter", f"write plate: [{wide:g} mm, {wide:g} mm]")
    if outline == "sector" and not (y < high and 0.0 < x < wide):
        raise DialRefused(
            "the pivot lies over or beside the plate", "it is measured from the lower left"
        )
    if outline != "rectangle" and plate.dial.flaps:
        raise DialRefused("only a rectangle has flaps", "take flaps out, or the outline")


def _see_that_it_fits(plate: Plate, items: Iterable[Ink]) -> None:
    """Whether all ink lies on the plate.

    Raises:
        DialRefused: it does not.
    """
    wide, high = plate.size
    outline = _outline(plate)
    points: list[XY] = []
    for item in items:
        points += _corners(_ink(item)) if isinstance(item, Text) else item.points
    if not all(_within(point, outline) for point in points):
        ink = hull(Box(x, y, x, y) for x, y in points)
        (x, y), edge = plate.pivot, _EDGE + 0.05
        taken = ink.width + 2.0 * edge, ink.height + 2.0 * edge
        raise DialRefused(
            f"arcs and figures take {taken[0]:.0f} × {taken[1]:.0f} mm about a pivot "
            f"{x - ink.left + edge:.1f} mm from their left and {y - ink.top + edge:.1f} mm up; "
            f"the plate is {wide:g} × {high:g} mm with its pivot at {x:g}, {y:g}",
            "give a smaller radius or a larger plate; pivot is measured from the lower left",
        )  # fmt: skip


def _within(point: XY, outline: Sequence[XY]) -> bool:
    """Whether a point lies inside a convex edge that runs clockwise, clear of it."""
    x, y = point
    return all(
        (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) <= -_EDGE * hypot(x1 - x0, y1 - y0)
        for (x0, y0), (x1, y1) in pairwise(outline) if hypot(x1 - x0, y1 - y0) > 1e-9
    )  # fmt: skip


def _holes(plate: Plate) -> Iterator[Line]:
    """Screw holes with their centres."""
    half = (plate.dial.screw_hole or USUAL_HOLE) / 2.0
    for x, y in plate.dial.screws:
        turns = (radians(n * 10.0) for n in range(37))
        ring = tuple((x + half * sin(t), y + half * cos(t)) for t in turns)
        yield Line(ring, "hole", width=0.15)
        yield Line(((x - 0.6, y), (x + 0.6, y)), "hole-centre", width=0.1)
        yield Line(((x, y - 0.6), (x, y + 0.6)), "hole-centre", width=0.1)


def _cross(plate: Plate) -> Iterator[Line]:
    """The pivot, where it lies on the plate."""
    x, y = plate.pivot
    yield Line(((x - 1.5, y), (x + 1.5, y)), "pivot", width=0.1)
    yield Line(((x, y - 1.5), (x, y + 1.5)), "pivot", width=0.1)


def _flaps(plate: Plate) -> list[Line]:
    """What is folded behind a rectangle: cut round about, folded along the dashes."""
    (wide, high), flap = plate.size, plate.dial.flaps or 0.0
    slant = min(2.0, high / 4.0)
    lines = []
    for edge, out in ((0.0, -flap), (wide, wide + flap)):
        cut = ((edge, 0.0), (out, slant), (out, high - slant), (edge, high))
        lines.append(Line(cut, "cut", width=0.15))
        lines.append(Line(((edge, 0.0), (edge, high)), "fold", width=0.2, dash="dashed"))
    return lines


# On paper -----------------------------------------------------------------------------------


def _on_paper(item: Ink, left: float, height: float) -> Ink:
    """The same with y downwards, beside the left flap."""
    if isinstance(item, Text):
        return replace(item, x=item.x + left, y=height - item.y)
    return replace(item, points=tuple((x + left, height - y) for x, y in item.points))
