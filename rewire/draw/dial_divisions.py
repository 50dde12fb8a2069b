"""Which figures and marks stand on an arc: divisions of 1, 2 or 5 times a power of ten.

The rule is that of IEC 60051-1 (direct acting indicating instruments), from memory; how near marks
and figures may stand is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, inf, log10

from rewire.values.dial_arcs import PlateArc

LEAST_GAP = 0.75
"""Millimetres from one mark to the next."""
_LONG, _MEDIUM, _SHORT = 1.0, 0.75, 0.5
"""Shares of the longest mark."""
_FIGURES = 5.0
"""Intervals between figures that are easiest to read."""
_MOST = 10.0
_UNEVEN = 1.8
"""Widest to closest eighth of an arc from which it is divided zone by zone."""
Along = Callable[[float], float]
"""Figure → millimetres along the arc."""


@dataclass(frozen=True, slots=True)
class Division:
    """A mark on an arc; ``figure`` is where, ``label`` what may stand there."""

    figure: float
    length: float
    """Of the longest mark."""
    label: str = ""


def divisions(arc: PlateArc, along: Along) -> Iterator[tuple[Division, ...]]:
    """Ways to divide an arc, the best first; the next has fewer figures."""
    if arc.kind == "linear" and not _crowded(arc, along):
        yield from _even(arc, along)
    else:
        yield _zoned(arc, along)


def _ends(arc: PlateArc) -> tuple[float, float]:
    return (-arc.high if arc.zero == "centre" else arc.low), arc.high


def _crowded(arc: PlateArc, along: Along) -> bool:
    """Whether the movement crowds some of the figures too much for even divisions."""
    low, high = _ends(arc)
    quarters = [along(low + (high - low) * n / 8.0) for n in range(9)]
    gaps = [abs(b - a) for a, b in pairwise(quarters)]
    return max(gaps) > _UNEVEN * min(gaps)


def _steps(least: float, most: float) -> Iterator[float]:
    """1, 2 and 5 times powers of ten, rising."""
    for power in range(floor(log10(least)), ceil(log10(most)) + 1):
        for lead in (1.0, 2.0, 5.0):
            yield float(f"{lead}e{power}")


def _multiples(step: float, low: float, high: float) -> list[float]:
    first, last = ceil(low / step - 1e-6), floor(high / step + 1e-6)
    return [float(f"{n * step:.9g}") for n in range(first, last + 1)]


def _divides(step: float, span: float) -> bool:
    return abs(span / step - round(span / step)) < 1e-6


def _even(arc: PlateArc, along: Along) -> Iterator[tuple[Division, ...]]:
    """Even divisions, the figures at either end first: they have the better right."""
    low, high = _ends(arc)
    span = arc.high - arc.low
    step = _fine_step(arc, along, low, high)
    for figured in _figure_steps(step, span, arc.low):
        half = figured / (2.0 if figured / step % 2 < 1e-6 else 5.0)
        medium = half if half / step > 1.5 and _divides(step, half) else figured
        figures = _multiples(step, low, high)
        ordered = dict.fromkeys((*figures[:1], *figures[-1:], *figures))
        yield tuple(_even_mark(one, figured, medium, arc) for one in ordered)


def _even_mark(figure: float, figured: float, medium: float, arc: PlateArc) -> Division:
    if _divides(figured, figure) or figure in (arc.low, arc.high):
        return Division(figure, _LONG, f"{abs(figure):g}")
    return Division(figure, _MEDIUM if _divides(medium, figure) else _SHORT)


def _fine_step(arc: PlateArc, along: Along, low: float, high: float) -> float:
    """The finest division that the eye, and the meter's accuracy, allow."""
    span = arc.high - arc.low

    def wide(step: float) -> bool:
        at = [along(figure) for figure in _multiples(step, low, high)]
        return min((abs(b - a) for a, b in pairwise(at)), default=inf) >= LEAST_GAP

    steps = [one for one in _steps(span * arc.least_share, span) if one >= span * arc.least_share]
    allowed = [step for step in steps if step <= span and wide(step)] or [span]
    whole = [step for step in allowed if _divides(step, span) and step <= 2.5 * allowed[0] + 1e-9]
    return (whole or allowed)[0]


def _figure_steps(step: float, span: float, low: float) -> list[float]:
    """Steps from one figure to the next, multiples of a division, the best first."""
    known = [
        *_steps(step, span),
        *(2.5 * one for one in _steps(10.0, span) if f"{one:e}"[0] == "1"),
    ]
    whole = [one for one in known if step <= one <= span and _divides(step, one)]

    def worth(one: float) -> float:
        count = span / one
        broken = 0.0 if _divides(one, span) and _divides(one, low) else 4.0
        fraction = 0.0 if one == int(one) else 1.5
        return abs(count - _FIGURES) + broken + fraction + (20.0 if count > _MOST else 0.0)

    return sorted({*whole} or {span}, key=worth)


def _zoned(arc: PlateArc, along: Along) -> tuple[Division, ...]:
    """Marks of an arc that is wide at one end and close at the other, zone by zone."""
    knots = _knots(arc)
    marks = {figure: Division(figure, _LONG, _label(figure, arc)) for figure in knots}
    for low, high in pairwise(sorted(one for one in knots if one != inf)):
        least = {"dB": 0.5, "ohm": 0.0, "linear": arc.high * arc.least_share}[arc.kind]
        inside = _between(low, high, along, least)
        for n, figure in enumerate(inside, 1):
            middle = len(inside) % 2 == 1 and n == (len(inside) + 1) // 2 and len(inside) > 1
            marks.setdefault(figure, Division(figure, _MEDIUM if middle else _SHORT))
    return tuple(marks.values())


def _between(low: float, high: float, along: Along, least: float) -> list[float]:
    """Marks from one knot to the next: the finest that leave room, or none."""
    span = high - low
    for step in _steps(span / 25.0, span):
        if step < max(span, least) and step >= least and _divides(step, span):
            inside = [float(f"{low + n * step:.9g}") for n in range(round(span / step) + 1)]
            if min(abs(along(b) - along(a)) for a, b in pairwise(inside)) >= LEAST_GAP:
                return inside[1:-1]
    return []


def _knots(arc: PlateArc) -> list[float]:
    """Figures that are worth a number, the most worth first."""
    if arc.kind == "ohm":
        shown = [one for one in _steps(arc.high / 20.0, arc.high * 20.0)
                 if 0.03 < arc.share(one) < 0.97]  # fmt: skip
        leads = sorted(shown, key=lambda one: "152".index(f"{one:e}"[0]))
        return [inf, 0.0, *leads]
    if arc.kind == "linear":
        span = arc.high - arc.low
        step = next(one for one in _steps(span / 100.0, span) if one >= span / 100.0)
        low, high = _ends(arc)
        figures = _multiples(_figure_steps(step, span, arc.low)[0], low, high)
        return [*dict.fromkeys((figures[0], *reversed(figures)))]
    whole = [float(n) for n in range(ceil(arc.low), floor(arc.high) + 1)]
    ends = [n for n in (0.0, arc.high, arc.low) if arc.low <= n <= arc.high]
    tens, fives = ([n for n in whole if n % m == 0] for m in (10, 5))
    below = [n for n in whole if n >= -10.0]
    return [*dict.fromkeys((*ends, *tens, *fives, *below))]


def _label(figure: float, arc: PlateArc) -> str:
    if arc.kind == "linear":
        return f"{abs(figure):g}"
    if arc.kind == "dB":
        return f"{figure:+g}".replace("-", "−") if figure else "0"
    if figure == inf:
        return "∞"
    sizes: Sequence[tuple[float, str]] = ((1e6, "M"), (1e3, "k"))
    size, letter = next((one for one in sizes if figure >= one[0]), (1.0, ""))
    return f"{figure / size:g}{letter}"
