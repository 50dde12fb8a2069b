"""The law of a movement: where its pointer stood over what was fed, by a bench log.

Between the measured points runs a monotone cubic (F. N. Fritsch and R. E. Carlson, SIAM Journal on
Numerical Analysis 17, 1980): it passes through every point and never turns back between two.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from rewire.reading.benchlog import BenchLog, Indicated
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Wiring

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

    Raises:
        SpecError: fewer than four points, not up to full scale, or the pointer turns back.
    """
    by_reading: dict[str, list[Indicated]] = defaultdict(list)
    for entry in log.calibration:
        if entry.reading in readings:
            by_reading[entry.reading].append(entry)
    if not by_reading:
        return None
    name, entries = max(by_reading.items(), key=lambda pair: len(pair[1]))
    full_scale = wiring.readings[name].full_scale
    rows: dict[float, list[float]] = defaultdict(list)
    for entry in entries:
        rows[entry.applied / full_scale].append(entry.indicated / full_scale)
    points = sorted((true, sum(found) / len(found)) for true, found in rows.items())
    if points[0][0] > _AT_REST:
        points.insert(0, (0.0, 0.0))
    said = _refused(points, len(rows))
    if said is not None:
        raise SpecError([Fault(entries[0].place, f"no plate can be drawn by {name}: {said[0]}",
                               said[1])])  # fmt: skip
    true, pointer = zip(*points, strict=True)
    return MovementLaw(name, true, pointer, _slopes(points), len(rows))


def _refused(points: Sequence[tuple[float, float]], measured: int) -> tuple[str, str] | None:
    """Why no law can be had of these points, and what to do."""
    if measured < LEAST_POINTS:
        return f"{measured} points were measured", f"measure {LEAST_POINTS} or more"
    if points[-1][0] < _REACH:
        return f"measured up to {100 * points[-1][0]:.0f} % of full scale", "measure to full scale"
    for (x0, y0), (x1, y1) in pairwise(points):
        if y1 <= y0:
            between = f"between {100 * x0:.0f} and {100 * x1:.0f} % of full scale"
            return f"the pointer turns back {between}", "measure there again; does it stick?"
    return None


def _slopes(points: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """At each point, small enough (the circle of radius 3) that no piece turns back."""
    chords = [(y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in pairwise(points)]
    slopes = [chords[0], *((a + b) / 2 for a, b in pairwise(chords)), chords[-1]]
    for n, chord in enumerate(chords):
        far = hypot(slopes[n] / chord, slopes[n + 1] / chord)
        if far > 3.0:
            slopes[n], slopes[n + 1] = 3.0 / far * slopes[n], 3.0 / far * slopes[n + 1]
    return tuple(slopes)
