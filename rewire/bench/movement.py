"""A movement from what was measured: its resistance and full scale, and its law.

Resistance and full-scale current come with their uncertainty; the circuit is a source of
``source`` volts behind ``series`` ohms, the source's own among them. The law is where the pointer
stood over what was fed. Between its points runs a monotone cubic (F. N. Fritsch and R. E. Carlson,
SIAM Journal on Numerical Analysis 17, 1980): it never turns back between two.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, isfinite, sqrt

from rewire.reading.benchlog import BenchLog
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Wiring

COVERAGE = 2.0
"""Standard deviations of a stated uncertainty; about 95 % (JCGM 100:2008, 6.2 and 6.3)."""


class Impossible(ValueError):
    """Figures that no movement gives; the message says why and what to look at."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure and by how much it may be off, as a limit, in its own unit."""

    value: float
    off: float = 0.0


@dataclass(frozen=True, slots=True)
class Estimate:
    """A result, its uncertainty, and what each figure contributes to that."""

    value: float
    uncertainty: float
    """Expanded by ``COVERAGE``; limits taken as rectangular (JCGM 100:2008, 4.3.7)."""
    worst: float
    """With every figure at the bad end of its limits, to first order."""
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Movement:
    """What a movement is."""

    method: str
    ohms: Estimate
    amps: Estimate | None
    """At full scale; None where no voltage was known."""
    uncorrected_ohms: float | None
    """What the rule of thumb gives that leaves the source's resistance out."""


Figures = Mapping[str, Measured]
Values = Mapping[str, float]
Sum = Callable[[Values], float]


def shunted_ohms(series: float, shunt: float, before: float, after: float) -> float:
    """Resistance of a movement that stands at ``after`` with a shunt across it, ``before`` without.

    Args:
        series: ohm, from the source to the movement, the source's own resistance included.
        shunt: ohm, across the movement.
        before: deflection without the shunt, share of full scale.
        after: deflection with it.

    With k = before / after it is R = Rs·Rsh·(k − 1) / (Rs − (k − 1)·Rsh), from the divider
    i = V·Rsh / (Rs·(Rsh + R) + R·Rsh) and V / (Rs + R). At half deflection k is 2 and
    R = Rs·Rsh / (Rs − Rsh); with Rs far larger than Rsh it is Rsh itself.

    >>> round(shunted_ohms(10_000.0, 100.0, 1.0, 0.5), 3)
    101.01
    """
    ratio = before / after
    if ratio <= 1.0:
        raise Impossible("with the shunt across it the pointer must stand lower than without")
    left = series - (ratio - 1.0) * shunt
    if left <= 0.0:
        raise Impossible(
            f"a series resistance of {series:g} ohm and a shunt of {shunt:g} ohm never give this "
            "ratio; was the supply turned up, or the source's own resistance left out?"
        )
    return series * shunt * (ratio - 1.0) / left


def two_series_ohms(series: float, then: float, before: float, after: float) -> float:
    """Resistance of a movement from two deflections, ``before`` and ``after``, of one source.

    Args:
        series: ohm, from the source to the movement, in the first reading.
        then: ohm in its place in the second.
        before: deflection in the first, share of full scale.
        after: deflection in the second.

    R = (Rs2 − k·Rs1) / (k − 1) with k = before / after, from V / (Rs + R) for both.

    >>> two_series_ohms(1000.0, 2100.0, 1.0, 0.5)
    100.0
    """
    ratio = before / after
    if ratio <= 1.0:
        raise Impossible("behind the second resistance the pointer must stand lower")
    ohms = (then - ratio * series) / (ratio - 1.0)
    if ohms <= 0.0:
        raise Impossible(
            f"{then:g} ohm is not enough more than {series:g} ohm here; was the supply the same?"
        )
    return ohms


def by_shunt(figures: Figures) -> Movement:
    """From ``series``, ``shunt``, ``before``, ``after`` it, and ``source`` if known."""
    rough = figures["shunt"].value * (figures["before"].value / figures["after"].value - 1.0)
    return _by("shunt", figures, rough, lambda f: shunted_ohms(
        f["series"], f["shunt"], f["before"], f["after"]
    ))  # fmt: skip


def by_two_series(figures: Figures) -> Movement:
    """From ``series``, ``then``, ``before``, ``after``, and ``source`` if known."""
    return _by("two series resistors", figures, None, lambda f: two_series_ohms(
        f["series"], f["then"], f["before"], f["after"]
    ))  # fmt: skip


def _by(method: str, figures: Figures, rough: float | None, ohms: Sum) -> Movement:
    """With the full-scale current from the first reading, if the source's volts are known."""
    amps = None
    if "source" in figures:
        amps = estimate(lambda f: f["source"] / (f["series"] + ohms(f)) / f["before"], figures)
    return Movement(method, estimate(ohms, figures), amps, rough)


def by_volts(figures: Figures) -> Movement:
    """From ``volts`` across it, ``before``, and ``amps``, or ``source`` and ``series``."""

    def current(f: Values) -> float:
        if "amps" in f:
            return f["amps"]
        if f["source"] <= f["volts"]:
            raise Impossible("the volts across the movement are not less than those of the source")
        return (f["source"] - f["volts"]) / f["series"]

    ohms = estimate(lambda f: f["volts"] / current(f), figures)
    return Movement("volts", ohms, estimate(lambda f: current(f) / f["before"], figures), None)


def estimate(function: Sum, figures: Figures) -> Estimate:
    """A function of measured figures by name, with its uncertainty to first order.

    Limits are taken as rectangular and independent. Source: law of propagation of uncertainty,
    JCGM 100:2008, 5.1.2; the slopes as in 5.1.3, note 2, from the function at both limits.
    """
    values = {name: figure.value for name, figure in figures.items()}
    loose = {name: figure.off for name, figure in figures.items() if figure.off > 0.0}
    try:
        value = function(values)
        swings = {name: _swing(value, function, values, name, off) for name, off in loose.items()}
    except ZeroDivisionError:
        raise Impossible("a figure that may be zero, as 100 % off, says nothing") from None
    variance = sum(swing**2 for swing in swings.values()) / 3.0
    if not isfinite(value) or not isfinite(variance):
        raise Impossible("the figures are too far apart for a sum")
    shares = {n: s**2 / 3.0 / variance if variance else 0.0 for n, s in swings.items()}
    worst = sum(abs(swing) for swing in swings.values())
    return Estimate(value, COVERAGE * sqrt(variance), worst, shares)


def _swing(value: float, function: Sum, values: Values, name: str, off: float) -> float:
    """How far a figure's limits carry the result either way."""
    try:
        ends = [function({**values, name: values[name] + way * off}) for way in (1.0, -1.0)]
    except Impossible:
        raise Impossible(
            f"these figures give {value:.4g} ohm, but they may be off by so much that it may as "
            "well be nothing: take resistors nearer to what the meter has, or measure them closer "
            "and say so with --resistors-off and --pointer-off"
        ) from None
    return (ends[0] - ends[1]) / 2.0


def least_series(source: float, movement: Movement) -> float | None:
    """Ohms below which a source drives the movement beyond full scale; None if not known."""
    if movement.amps is None:
        return None
    return max(0.0, source / movement.amps.value - movement.ohms.value)


# The law

LEAST_POINTS = 4
_REACH = 0.95
"""Share of full scale that must have been measured: beyond the last point nothing is known."""
_AT_REST = 0.02
"""A point nearer to zero than this share stands for the pointer at rest."""


@dataclass(frozen=True, slots=True)
class MovementLaw:
    """True shares of full scale, rising, with the pointer's share at each."""

    reading: str
    true: tuple[float, ...]
    pointer: tuple[float, ...]
    slopes: tuple[float, ...]
    measured: int

    def at(self, share: float) -> float:
        """The pointer's share at a true share; straight on beyond the last point."""
        if share < self.true[0]:
            return -self.at(-share) if self.true[0] == 0.0 else self._beyond(share, 0)
        if share > self.true[-1]:
            return self._beyond(share, -1)
        n = min(bisect_right(self.true, share), len(self.true) - 1) - 1
        wide = self.true[n + 1] - self.true[n]
        t = (share - self.true[n]) / wide
        rise = self.pointer[n + 1] - self.pointer[n]
        left, right = wide * self.slopes[n], wide * self.slopes[n + 1]
        bend = t * (left + t * (3 * rise - 2 * left - right + t * (left + right - 2 * rise)))
        return self.pointer[n] + bend

    def _beyond(self, share: float, end: int) -> float:
        return self.pointer[end] + self.slopes[end] * (share - self.true[end])

    @property
    def worst(self) -> tuple[float, float]:
        """The true share at which a linear plate is farthest off, and by how much of full scale."""
        both = zip(self.true, self.pointer, strict=True)
        share, off = max(((x, y - x) for x, y in both), key=lambda pair: abs(pair[1]))
        return share, off


def movement_law(log: BenchLog, wiring: Wiring, readings: Collection[str]) -> MovementLaw | None:
    """The law by that reading of a meter which was measured at most points; None without any.

    Raises ``SpecError`` for too few points, not up to full scale, or a pointer that turns back.
    """
    own = [entry for entry in log.calibration if entry.reading in readings]
    if not own:
        return None
    ((name, _),) = Counter(entry.reading for entry in own).most_common(1)
    entries, full_scale = [e for e in own if e.reading == name], wiring.readings[name].full_scale
    rows: dict[float, list[float]] = defaultdict(list)
    for entry in entries:
        rows[entry.applied / full_scale].append(entry.indicated / full_scale)
    points = sorted((true, sum(found) / len(found)) for true, found in rows.items())
    if points[0][0] > _AT_REST:
        points.insert(0, (0.0, 0.0))
    for why, then in _refused(points, len(rows)):
        message = f"no plate can be drawn by {name}: {why}"
        raise SpecError([Fault(entries[0].place, message, then)])
    true, pointer = zip(*points, strict=True)
    return MovementLaw(name, true, pointer, _slopes(points), len(rows))


def _refused(points: Sequence[tuple[float, float]], measured: int) -> Iterator[tuple[str, str]]:
    """Why no law can be had of these points, and what to do."""
    if measured < LEAST_POINTS:
        yield f"{measured} points were measured", f"measure {LEAST_POINTS} or more"
    if points[-1][0] < _REACH:
        said = f"measured up to {100 * points[-1][0]:.0f} % of full scale"
        yield said, "measure to full scale"
    for (x0, y0), (x1, y1) in pairwise(points):
        if y1 <= y0:
            between = f"between {100 * x0:.0f} and {100 * x1:.0f} % of full scale"
            said = f"the pointer turns back {between}"
            yield said, "measure there again; does it stick?"


def _slopes(points: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """At each point, small enough (the circle of radius 3) that no piece turns back."""
    chords = [(y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in pairwise(points)]
    slopes = [chords[0], *((a + b) / 2 for a, b in pairwise(chords)), chords[-1]]
    for n, chord in enumerate(chords):
        far = max(1.0, hypot(slopes[n] / chord, slopes[n + 1] / chord) / 3.0)
        slopes[n], slopes[n + 1] = slopes[n] / far, slopes[n + 1] / far
    return tuple(slopes)
