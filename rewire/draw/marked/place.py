"""Place: where rails and rungs stand, mm; every symbol stands in a gap between two rails."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rewire.draw.marked.labels import LINE, POINTS, Tag, height_of, natural_width, tags_of
from rewire.draw.marked.order import rail_order, rails_on
from rewire.draw.marked.rungs import Rung
from rewire.draw.measure import visible, wrap

Side = Literal["left", "right", "foot"]

NARROWEST = 14.0
"""Least distance between rails, mm."""
WIDEST = 46.0
_CLEAR = 0.9
"""From a rail to words, mm."""
ABOVE, _UNDER, BELOW = 1.0, 0.9, 1.0
RETURN = 2.6
"""From the foot of a symbol to a lead that comes back beneath it, mm."""
SYMBOL: Mapping[str, tuple[float, float]] = {
    "resistor": (7.0, 2.6), "meter": (6.4, 6.4), "pot": (7.0, 2.6), "contact": (7.4, 2.8),
    "lamp": (5.0, 5.0), "fuse": (7.0, 2.6), "choke": (7.6, 2.6), "capacitor": (4.0, 4.6),
    "diode": (4.4, 4.0), "tie": (3.0, 1.6),
}  # fmt: skip
"""Width and height of the symbols lying, mm."""


@dataclass(frozen=True, slots=True)
class Lead:
    """From a side of a symbol to a rail; None is an open end.

    ``level`` 0 runs straight, any other beneath the symbol, counted downwards.
    """

    rail: int | None
    side: Side
    level: int
    end: int
    """Number of the terminal, counted from 0."""


@dataclass(frozen=True, slots=True)
class Row:
    """A rung at its place; heights from the top of the row, mm."""

    rung: Rung
    tags: tuple[Tag, ...]
    below: tuple[str, ...]
    middle: float
    line: float
    """Height of the line through the symbol."""
    leads: tuple[Lead, ...]
    flipped: bool
    """The last terminal is at the left."""
    height: float

    def level(self, number: int) -> float:
        """Height of a lead."""
        return self.line + (SYMBOL[self.rung.kind][1] / 2 + RETURN * number if number else 0.0)


@dataclass(frozen=True, slots=True)
class Band:
    """Rows side by side whose lines run at one height."""

    rows: tuple[Row, ...]

    @property
    def line(self) -> float:
        """Height of the line from the top of the band, mm."""
        return max(row.line for row in self.rows)

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.line + max(row.height - row.line for row in self.rows)


@dataclass(frozen=True, slots=True)
class Placed:
    """A bundle of rungs: rails from the left with their places, and the bands from the top."""

    order: tuple[int, ...]
    at: Mapping[int, float]
    bands: tuple[Band, ...]


def placed(
    rungs: Sequence[Rung], numbers: Mapping[str, int], width: float, order: Sequence[int] = ()
) -> Placed:
    """Rails and rungs of one bundle in that width.

    Args:
        rungs: in the order in which they should come.
        numbers: key of a rung to its number.
        width: for all rails, mm.
        order: of the rails; where it is empty one is looked for.
    """
    used = {rail for rung in rungs for rail in rails_on(rung)}
    order = [rail for rail in order if rail in used] or rail_order(rungs)
    place = {rail: number for number, rail in enumerate(order)}
    wants = [natural_width(rung, numbers.get(rung.key)) for rung in rungs]
    edges = _edges(rungs, wants, place, width)
    at = {rail: edges[number] for rail, number in place.items()}
    rows = [_row(rung, numbers.get(rung.key), place, edges) for rung in rungs]
    return Placed(tuple(order), at, _bands(rows, place))


def _bands(rows: Sequence[Row], place: Mapping[int, int]) -> tuple[Band, ...]:
    """Each row in the first band where nothing stands in its way."""
    bands: list[list[Row]] = []
    taken: list[list[tuple[int, int]]] = []
    for row in rows:
        first, last = _reach(row.rung, place)
        free = (n for n, spans in enumerate(taken) if all(last < a or b < first for a, b in spans))
        number = next(free, len(bands))
        if number == len(bands):
            bands.append([])
            taken.append([])
        bands[number].append(row)
        taken[number].append((first, last))
    return tuple(Band(tuple(band)) for band in bands)


def _reach(rung: Rung, place: Mapping[int, int]) -> tuple[int, int]:
    """First and last rail that a rung covers, its symbol's gap included."""
    first, last = _span(rung, place)
    spots = [place[rail] for rail in rails_on(rung)]
    if len({rung.ends[0], rung.ends[-1]}) == 2 and None not in rung.ends:
        return min(spots), max(spots)
    return min(first, *spots), max(last + 1, *spots)


def _span(rung: Rung, place: Mapping[int, int]) -> tuple[int, int]:
    """First and last gap in which the symbol may stand.

    A rung that ends on one rail stands beside it, at the right where there is a right.
    """
    ends = [end for end in (rung.ends[0], rung.ends[-1]) if end is not None]
    spots = sorted(place[end] for end in ends or rails_on(rung))
    if len(set(spots)) > 1:
        return spots[0], spots[-1] - 1
    last = max(len(place) - 1, 1)
    gap = min(spots[0], last - 1)
    return gap, gap


def _edges(
    rungs: Sequence[Rung], wants: Sequence[float], place: Mapping[int, int], width: float
) -> list[float]:
    """Places of the rails: gaps as wide as what must stand in them, the rest shared out evenly."""
    gaps = [NARROWEST] * max(len(place) - 1, 1)
    for rung, want in sorted(zip(rungs, wants, strict=True), key=lambda p: -p[1]):
        first, last = _span(rung, place)
        if max(gaps[first : last + 1]) >= want + 2 * _CLEAR:
            continue
        if first == last:
            gaps[first] = min(want + 2 * _CLEAR, WIDEST)
    gaps = _fitted(gaps, width - 2.0)
    edges = [max((width - sum(gaps)) / 2, 1.0)]
    for gap in gaps:
        edges.append(edges[-1] + gap)
    return edges


def _fitted(gaps: Sequence[float], width: float) -> list[float]:
    """The gaps wider or narrower, so that they fill the width; the widest give way first."""
    spare = width - sum(gaps)
    if spare >= 0:
        return [gap + min(spare / len(gaps), WIDEST - NARROWEST) for gap in gaps]
    low, high = NARROWEST, max(gaps)
    for _ in range(40):
        cap = (low + high) / 2
        low, high = (low, cap) if sum(min(gap, cap) for gap in gaps) > width else (cap, high)
    return [min(gap, low) for gap in gaps]


def _row(rung: Rung, number: int | None, place: Mapping[int, int], edges: list[float]) -> Row:
    first, last = _span(rung, place)
    gap = max(range(first, last + 1), key=lambda g: (round(edges[g + 1] - edges[g], 3), -g))
    room = edges[gap + 1] - edges[gap] - 2 * _CLEAR
    tags = tags_of(rung, number, room)
    flipped, leads = _leads(rung, place, gap)
    below = wrap(visible(rung.below), room, POINTS) if rung.below else ()
    half = SYMBOL[rung.kind][1] / 2
    line = ABOVE + height_of(tags) + _UNDER + half
    foot = line + half + RETURN * max(lead.level for lead in leads)
    height = foot + (0.7 if below else 0.0) + LINE * len(below) + BELOW
    middle = (edges[gap] + edges[gap + 1]) / 2
    return Row(rung, tags, below, middle, line, leads, flipped, height)


def _leads(rung: Rung, place: Mapping[int, int], gap: int) -> tuple[bool, tuple[Lead, ...]]:
    """Whether the symbol is turned end for end, and its leads."""
    ends = {0: rung.ends[0], len(rung.ends) - 1: rung.ends[-1]}
    first, last = ends
    tap = [Lead(rung.ends[1], "foot", 1, 1)] if len(rung.ends) == 3 else []
    one, other = ends[first], ends[last]
    if one is not None and other is not None and one != other:
        flipped = place[one] > place[other]
        left, right = (last, first) if flipped else (first, last)
        straight = (Lead(ends[left], "left", 0, left), Lead(ends[right], "right", 0, right))
        return flipped, (*straight, *tap)
    near, far = (last, first) if one is None else (first, last)
    rail = ends[near]
    near_side: Side = "left" if rail is None or place[rail] <= gap else "right"
    far_side: Side = "right" if near_side == "left" else "left"
    back = 0 if ends[far] is None else 1 + len(tap)
    flipped = (near_side == "left") == (near == last)
    return flipped, (Lead(rail, near_side, 0, near), Lead(ends[far], far_side, back, far), *tap)
