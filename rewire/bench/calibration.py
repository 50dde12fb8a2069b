"""A calibration run: errors, scale factor and zero, linearity, and what one value would explain."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.reading.benchlog import BenchLog, Indicated
from rewire.records.spec import Meter, Spec, Wiring
from rewire.values.answers import Readout
from rewire.values.dc_network import Solved, Value, answer
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of
from rewire.words.quantity import in_ohms, with_unit

LEAST_SIGMA = 0.004
"""Share by which a slope read off a panel meter is not known better; common practice, no source."""
EXPLAINS = 2.5
"""Standard deviations up to which a slope agrees."""
DETERMINED = 0.2
"""Share up to which a resistance counts as determined by the data."""
_GRID = 401
_ROUNDING = 1e-9
_DIRTY = 3.0
"""A contact of some tenths of an ohm stands in the list as a part three tolerances off would."""


@dataclass(frozen=True, slots=True)
class RunPoint:
    """One reading of a run, in percent of full scale."""

    entry: Indicated
    error_percent: float
    low_percent: float | None
    """What a build that is right may be off here; None where the reading is not known."""
    high_percent: float | None

    @property
    def passed(self) -> bool | None:
        """Whether the error is within the worst case."""
        if self.low_percent is None or self.high_percent is None:
            return None
        within = self.low_percent - _ROUNDING <= self.error_percent
        return within and self.error_percent <= self.high_percent + _ROUNDING


@dataclass(frozen=True, slots=True)
class Run:
    """The points of one reading and the line through them: indicated = zero + scale × applied."""

    reading: str
    full_scale: float
    points: tuple[RunPoint, ...]
    scale: float | None
    """None where all points are at one place, and that is zero."""
    scale_sigma: float
    """Standard deviation of the scale; 0 where two points leave no rest."""
    zero_percent: float
    linearity_percent: float | None
    """Farthest from the line, percent of full scale; None with fewer than three places."""
    expected: float | None
    """The scale that the values of the wiring give; None where it is not known."""

    @property
    def passed(self) -> bool | None:
        """Whether every point is within the worst case; None where none can be judged."""
        told = [point.passed for point in self.points]
        if False in told:
            return False
        return True if told and None not in told else None


@dataclass(frozen=True, slots=True)
class Explanation:
    """One value that, if it were so, would account for every scale of the runs."""

    name: str
    part: str
    planned: float | None
    found: float
    """Ohm, a share for the setting of a pot, ampere for a movement's full scale."""
    unit: str
    """``ohm``, ``setting`` or ``A``."""
    off_percent: float | None
    tolerance_percent: float | None
    rest: float
    """Root mean square of what it leaves, in standard deviations."""


@dataclass(frozen=True, slots=True)
class Determined:
    """A movement's resistance as the runs give it."""

    part: str
    ohms: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """All runs of a log."""

    runs: tuple[Run, ...]
    off: bool
    """Whether some scale is not what the values of the wiring give."""
    explanations: tuple[Explanation, ...]
    """Likeliest first; empty where nothing is off."""
    movements: tuple[Determined, ...]

    @property
    def passed(self) -> bool | None:
        """Whether every run is within its worst case; None where some cannot be judged."""
        told = [run.passed for run in self.runs]
        if False in told:
            return False
        return True if told and None not in told else None


def explanations_said(found: Sequence[Explanation]) -> str:
    """What stands above the values that would explain a run, or in their place."""
    if not found:
        return "No single value explains the scale factors: look for two, or for a mistake."
    if len(found) == 1:
        return "One value would explain the scale factors:"
    return "Any one of these would explain the scale factors, likeliest first:"


def explanation_said(one: Explanation) -> str:
    """What a value would have to be."""
    if one.unit == "setting":
        was = "" if one.planned is None else f" instead of {100.0 * one.planned:.1f} %"
        return f"{one.part} stands at {100.0 * one.found:.1f} % of travel from ccw{was}"
    if one.unit == "ohm" and one.planned == 0.0:
        return f"contact {one.name} has {in_ohms(one.found)}: clean it"
    was = "" if one.planned is None else f" instead of {_shown(one.planned, one.unit)}"
    off = "" if one.off_percent is None else f", {one.off_percent:+.1f} %"
    own = f" (its tolerance is {one.tolerance_percent:g} %)" if one.tolerance_percent else ""
    return f"{one.name} is {_shown(one.found, one.unit)}{was}{off}{own}"


def _shown(value: float, unit: str) -> str:
    return in_ohms(value) if unit == "ohm" else with_unit(value, unit)


def calibration_of(spec: Spec, wiring: Wiring, log: BenchLog) -> Calibration:
    """Judge the calibration runs of a log.

    Raises:
        LimitReached, SpecError: as ``rewire.values.values_of``.
    """
    if not log.calibration:
        return Calibration((), False, (), ())
    readouts = {one.name: one for one in values_of(spec, [wiring.name])[0].readings}
    worked = solved_of(spec, wiring)
    entries: dict[str, list[Indicated]] = {}
    for entry in log.calibration:
        entries.setdefault(entry.reading, []).append(entry)
    models = {name: _Model(worked, name) for name in entries if name in worked.setups}
    runs = tuple(
        _run(wiring.readings[name].full_scale, own, readouts.get(name), models.get(name))
        for name, own in entries.items()
    )
    slopes = _slopes(runs, models)
    off = any(abs(s.found - s.expected) > EXPLAINS * s.sigma for s in slopes if s.expected)
    explanations = tuple(_explanations(worked, slopes)) if off else ()
    return Calibration(runs, off, explanations, tuple(_movements(worked, slopes)))


class _Model:
    """What the pointer of a reading does at full scale, for values of the board."""

    def __init__(self, worked: Solved, reading: str) -> None:
        setup = worked.setups[reading]
        self.circuit, self.full_scale, self._values = setup.circuit, setup.full_scale, worked.values

    def deflection(self, changed: Mapping[int, Array] | None = None) -> Array | None:
        """Deflection with some values changed; None where others are not known."""
        if self.full_scale is None or self.circuit.meter is None:
            return None
        values = [(changed or {}).get(n, value) for n, value in enumerate(self._values)]
        if any(values[n] is None for n in self.circuit.values):
            return None
        known = [np.array([1.0]) if value is None else value for value in values]
        return np.asarray(answer(self.circuit, known).amps / self.full_scale)


def _run(
    full_scale: float, entries: Sequence[Indicated], readout: Readout | None, model: _Model | None
) -> Run:
    applied = np.array([entry.applied for entry in entries]) / full_scale
    indicated = np.array([entry.indicated for entry in entries]) / full_scale
    scale, zero, sigma = _line(applied, indicated)
    rest = indicated - zero - (scale or 0.0) * applied
    places = len(np.unique(applied))
    expected = model.deflection() if model is not None else None
    return Run(
        reading=entries[0].reading, full_scale=full_scale,
        points=tuple(_point(entry, full_scale, readout) for entry in entries),
        scale=scale, scale_sigma=sigma, zero_percent=100.0 * zero,
        linearity_percent=100.0 * float(np.abs(rest).max()) if places > 2 else None,
        expected=None if expected is None or not np.isfinite(expected[0]) else float(expected[0]),
    )  # fmt: skip


def _line(applied: Array, indicated: Array) -> tuple[float | None, float, float]:
    """Scale, zero and the standard deviation of the scale, by least squares.

    A single place above zero gives a scale with the zero taken as right.
    """
    spread = applied - applied.mean()
    squares = float(spread @ spread)
    if squares <= 0.0:
        here = float(applied[0])
        mean = float(indicated.mean())
        return (mean / here, 0.0, 0.0) if here else (None, mean, 0.0)
    scale = float(spread @ indicated) / squares
    zero = float(indicated.mean() - scale * applied.mean())
    rest = indicated - zero - scale * applied
    free = len(applied) - 2
    return scale, zero, sqrt(float(rest @ rest) / free / squares) if free > 0 else 0.0


def _point(entry: Indicated, full_scale: float, readout: Readout | None) -> RunPoint:
    error = 100.0 * (entry.indicated - entry.applied) / full_scale
    if readout is None or readout.deflection is None:
        return RunPoint(entry, error, None, None)
    return RunPoint(entry, error, *readout.allowed(abs(entry.applied) / full_scale))


@dataclass(frozen=True, slots=True)
class _Slope:
    """The scale of a run beside what gives it."""

    model: _Model
    found: float
    sigma: float
    expected: float | None


def _slopes(runs: Sequence[Run], models: Mapping[str, _Model]) -> list[_Slope]:
    return [
        _Slope(models[run.reading], run.scale, max(run.scale_sigma, LEAST_SIGMA * abs(run.scale)),
               run.expected)
        for run in runs
        if run.scale and run.reading in models
    ]  # fmt: skip


def _explanations(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Explanation]:
    found = [*_sensitivities(worked, slopes)]
    for number, value in enumerate(worked.network.values):
        if any(number in slope.model.circuit.values for slope in slopes):
            found += _by_value(worked, slopes, number, value)
    yield from sorted(found, key=lambda one: (not _is_adjusted(worked, one), _strange(one)))


def _is_adjusted(worked: Solved, one: Explanation) -> bool:
    """Whether it is a pot that is set while calibrating."""
    return any(u.part == one.part and u.is_setting for u in worked.unknowns) and one.unit != "ohm"


def _strange(one: Explanation) -> float:
    """How far beyond its tolerance it would have to be; a dirty contact is nothing strange."""
    if not one.planned and one.unit == "ohm":
        return _DIRTY if one.found < 1.0 else _DIRTY * 10.0
    return abs(one.off_percent or 0.0) / max(one.tolerance_percent or 0.0, 1.0)


def _by_value(
    worked: Solved, slopes: Sequence[_Slope], number: int, value: Value
) -> Iterator[Explanation]:
    planned = worked.values[number]
    start = None if planned is None else float(planned[0])
    best = _least(slopes, number, _grid(value, start))
    if best is None or best[1] > EXPLAINS:
        return
    at, rest = best
    off = None if not start else 100.0 * (at / start - 1.0)
    unit = "setting" if value.is_setting else "ohm"
    share = None if value.is_setting else value.tolerance
    tolerance = None if share is None else 100.0 * share
    yield Explanation(value.name, value.part, start, at, unit, off, tolerance, rest)


def _grid(value: Value, start: float | None) -> Array:
    if value.is_setting:
        return np.linspace(0.0, 1.0, _GRID)
    if not start:
        return np.geomspace(1e-3, 1e5, _GRID)
    return start * np.geomspace(0.05, 20.0, _GRID)


def _least(slopes: Sequence[_Slope], number: int, grid: Array) -> tuple[float, float] | None:
    """The value that leaves least, refined around the best of a grid, and what it leaves."""
    for _ in range(4):
        rest = _rest(slopes, {number: grid})
        if rest is None or not np.isfinite(rest).any():
            return None
        best = int(np.nanargmin(rest))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
        found = float(grid[best]), float(rest[best])
        grid = np.linspace(low, high, _GRID)
    return found


def _rest(slopes: Sequence[_Slope], changed: Mapping[int, Array]) -> Array | None:
    """Root mean square of what is left, in standard deviations, per sample."""
    squares: Array = np.zeros(1)
    for slope in slopes:
        deflection = slope.model.deflection(changed)
        if deflection is None:
            return None
        squares = squares + ((deflection - slope.found) / slope.sigma) ** 2
    return np.asarray(np.sqrt(squares / len(slopes)))


def _sensitivities(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Explanation]:
    """Each movement's full-scale current, which moves all its readings by one factor."""
    expected = [slope.expected for slope in slopes]
    meters = [part for part in worked.network.parts.values() if isinstance(part, Meter)]
    if len(meters) != 1 or any(one is None for one in expected):
        return
    nominal = np.array([one or 0.0 for one in expected])
    found, sigma = (np.array([getattr(s, key) for s in slopes]) for key in ("found", "sigma"))
    factor = float((nominal * found / sigma**2).sum() / (nominal**2 / sigma**2).sum())
    rest = sqrt(float((((factor * nominal - found) / sigma) ** 2).mean()))
    amps = slopes[0].model.full_scale
    if rest <= EXPLAINS and amps and factor > 0.0:
        off = 100.0 * (1.0 / factor - 1.0)
        name = f"{meters[0].name} full scale"
        tolerance = meters[0].accuracy_percent
        yield Explanation(name, meters[0].name, amps, amps / factor, "A", off, tolerance, rest)


def _movements(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Determined]:
    """Movements whose resistance two readings or more give, as each depends on it in its own way.

    The resistance is found together with a common factor for the full-scale current, so that a
    movement that is merely more or less sensitive is not taken for one of other ohms. Where a pot
    was set by hand in the same circuits, its setting and the movement cannot be told apart.
    """
    by_hand = {unknown.number for unknown in worked.unknowns if unknown.is_setting}
    if any(by_hand & set(slope.model.circuit.values) for slope in slopes):
        return
    for number, value in enumerate(worked.network.values):
        if not isinstance(worked.network.parts.get(value.part), Meter):
            continue
        own = [slope for slope in slopes if number in slope.model.circuit.values]
        if len(own) >= 2:
            yield from _determined(worked, own, number, value)


def _determined(
    worked: Solved, slopes: Sequence[_Slope], number: int, value: Value
) -> Iterator[Determined]:
    planned = worked.values[number]
    grid = _grid(value, None if planned is None else float(planned[0]))
    for _ in range(4):
        rest = _ratio_rest(slopes, number, grid)
        if rest is None or not np.isfinite(rest).all():
            return
        best = int(rest.argmin())
        at, least = float(grid[best]), float(rest[best])
        grid = np.linspace(grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)], _GRID)
    sigma = _curvature(slopes, number, at)
    if sigma is not None and sigma < DETERMINED * at and least <= EXPLAINS:
        yield Determined(value.part, at, sigma)


def _ratio_rest(slopes: Sequence[_Slope], number: int, grid: Array) -> Array | None:
    """As ``_rest``, with the best common factor for each sample."""
    rows = [slope.model.deflection({number: grid}) for slope in slopes]
    shapes = [np.broadcast_to(row, grid.shape) for row in rows if row is not None]
    if len(shapes) < len(slopes):
        return None
    model = np.array(shapes)
    found = np.array([slope.found for slope in slopes])[:, None]
    sigma = np.array([slope.sigma for slope in slopes])[:, None]
    factor = (model * found / sigma**2).sum(axis=0) / (model**2 / sigma**2).sum(axis=0)
    return np.asarray(np.sqrt((((factor * model - found) / sigma) ** 2).mean(axis=0)))


def _curvature(slopes: Sequence[_Slope], number: int, at: float) -> float | None:
    """Standard deviation of a resistance from how fast the readings part when it is changed.

    Of each relative slope, what a common factor takes up is left out.
    """
    steps = np.array([at, at * 1.001])
    pulls = []
    for slope in slopes:
        both = slope.model.deflection({number: steps})
        if both is None:
            return None
        low, high = np.broadcast_to(both, steps.shape)
        pulls.append((high - low) / (0.001 * at) / low)
    sigma = np.array([slope.sigma / abs(slope.found) for slope in slopes])
    weight = 1.0 / sigma**2
    pull = np.array(pulls)
    apart = pull - float((weight * pull).sum() / weight.sum())
    information = float((weight * apart**2).sum())
    return 1.0 / sqrt(information) if information > 0.0 else None
