"""A calibration run: errors, scale factor and zero, linearity, and what one value would explain."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.reading.benchlog import BenchLog, Indicated
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.values.answers import Readout
from rewire.values.dc_network import filled
from rewire.values.meter_circuit import Solved, answer
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of

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
    """How far a correct build may be off here; None where the reading is not known."""
    high_percent: float | None

    @property
    def passed(self) -> bool | None:
        """Whether the error is within the worst case."""
        if self.low_percent is None or self.high_percent is None:
            return None
        low, high = self.low_percent - _ROUNDING, self.high_percent + _ROUNDING
        return low <= self.error_percent <= high


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
        return _all_passed(point.passed for point in self.points)


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
        return _all_passed(run.passed for run in self.runs)


def _all_passed(told: Iterable[bool | None]) -> bool | None:
    """False where one failed; None where none failed, but some or all cannot be judged."""
    found = list(told)
    if False in found:
        return False
    return True if found and None not in found else None


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
    runs = tuple(
        _run(worked, wiring.readings[name].full_scale, own, readouts.get(name))
        for name, own in entries.items()
    )
    slopes = [
        _Slope(run.reading, run.scale, max(run.scale_sigma, LEAST_SIGMA * abs(run.scale)),
               run.expected)
        for run in runs
        if run.scale and run.reading in worked.setups
    ]  # fmt: skip
    off = any(abs(s.found - s.expected) > EXPLAINS * s.sigma for s in slopes if s.expected)
    explanations = tuple(_explanations(worked, slopes)) if off else ()
    return Calibration(runs, off, explanations, tuple(_movements(worked, slopes)))


def _run(
    worked: Solved, full_scale: float, entries: Sequence[Indicated], readout: Readout | None
) -> Run:
    reading = entries[0].reading
    applied = np.array([entry.applied for entry in entries]) / full_scale
    indicated = np.array([entry.indicated for entry in entries]) / full_scale
    scale, zero, sigma = _line(applied, indicated)
    rest = indicated - zero - (scale or 0.0) * applied
    expected = _deflection(worked, reading, {})
    return Run(
        reading=reading, full_scale=full_scale,
        points=tuple(_point(entry, full_scale, readout) for entry in entries),
        scale=scale, scale_sigma=sigma, zero_percent=100.0 * zero,
        linearity_percent=100.0 * float(np.abs(rest).max()) if len({*applied}) > 2 else None,
        expected=None if expected is None or not np.isfinite(expected[0]) else float(expected[0]),
    )  # fmt: skip


def _line(applied: Array, indicated: Array) -> tuple[float | None, float, float]:
    """Scale, zero and the standard deviation of the scale, by least squares.

    A single place above zero gives a scale with the zero taken as right.
    """
    spread = applied - applied.mean()
    squares = float(spread @ spread)
    if squares <= 0.0:
        here, mean = float(applied[0]), float(indicated.mean())
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


def _deflection(worked: Solved, reading: str, changed: Mapping[int, Array]) -> Array | None:
    """Where the pointer of a reading stands at full scale with some values changed.

    None where others are not known.
    """
    setup = worked.setups.get(reading)
    if setup is None or setup.full_scale is None or setup.circuit.meter is None:
        return None
    values = [changed.get(n, value) for n, value in enumerate(worked.values)]
    if any(values[n] is None for n in setup.circuit.values):
        return None
    return np.asarray(answer(setup.circuit, filled(values)).amps / setup.full_scale)


# What one value would explain


@dataclass(frozen=True, slots=True)
class _Slope:
    """The scale of a run, as found and as the values give it."""

    reading: str
    found: float
    sigma: float
    expected: float | None


def _explanations(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Explanation]:
    found = [*_sensitivity(worked, slopes)]
    for number in range(len(worked.values)):
        if _depending(worked, slopes, number):
            found += _by_value(worked, slopes, number)
    set_by_hand = {one.part for one in worked.unknowns if one.is_setting}

    def order(one: Explanation) -> tuple[bool, float]:
        return one.part not in set_by_hand or one.unit == "ohm", _strange(one)

    yield from sorted(found, key=order)


def _depending(worked: Solved, slopes: Sequence[_Slope], number: int) -> list[_Slope]:
    """Slopes to which a value of the board counts."""
    return [s for s in slopes if number in worked.setups[s.reading].circuit.values]


def _strange(one: Explanation) -> float:
    """How far beyond its tolerance it would have to be; a dirty contact is nothing strange."""
    if not one.planned and one.unit == "ohm":
        return _DIRTY if one.found < 1.0 else _DIRTY * 10.0
    return abs(one.off_percent or 0.0) / max(one.tolerance_percent or 0.0, 1.0)


def _by_value(worked: Solved, slopes: Sequence[_Slope], number: int) -> Iterator[Explanation]:
    value, planned = worked.network.values[number], worked.values[number]
    best = _best(worked, slopes, number, lambda model: model)
    if best is None:
        return
    start = None if planned is None else float(planned[0])
    share = None if value.is_setting else value.tolerance
    yield Explanation(
        value.name, value.part, start, best[0], "setting" if value.is_setting else "ohm",
        None if not start else 100.0 * (best[0] / start - 1.0),
        None if share is None else 100.0 * share, best[1],
    )  # fmt: skip


def _sensitivity(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Explanation]:
    """The movement's full-scale current, which moves all readings by one factor."""
    nominal = [slope.expected for slope in slopes if slope.expected is not None]
    meters = list(worked.spec.all_of(Meter, worked.network.wiring).values())
    amps = worked.setups[slopes[0].reading].full_scale
    if len(meters) != 1 or len(nominal) < len(slopes) or not amps:
        return
    model = np.array(nominal)[:, None]
    factor = float(_common_factor(slopes, model)[0])
    rest = float(_left(slopes, factor * model)[0])
    if rest <= EXPLAINS and factor > 0.0:
        name = meters[0].name
        off, tolerance = 100.0 * (1.0 / factor - 1.0), meters[0].accuracy_percent
        said = f"{name} full scale"
        yield Explanation(said, name, amps, amps / factor, "A", off, tolerance, rest)


def _movements(worked: Solved, slopes: Sequence[_Slope]) -> Iterator[Determined]:
    """Movements whose resistance two readings or more give, as each depends on it in its own way.

    The resistance is found together with a common factor for the full-scale current, so that a
    movement that is merely more or less sensitive is not taken for one of other ohms. Where a pot
    was set by hand in the same circuits, its setting and the movement cannot be told apart.
    """
    if any(_depending(worked, slopes, one.number) for one in worked.unknowns if one.is_setting):
        return
    meters = worked.spec.all_of(Meter, worked.network.wiring)
    for number, value in enumerate(worked.network.values):
        own = _depending(worked, slopes, number)
        if value.part in meters and len(own) >= 2:
            yield from _determined(worked, own, number)


def _determined(worked: Solved, slopes: Sequence[_Slope], number: int) -> Iterator[Determined]:
    best = _best(worked, slopes, number, lambda model: _common_factor(slopes, model) * model)
    sigma = best and _sigma(worked, slopes, number, best[0])
    if best and sigma is not None and sigma < DETERMINED * best[0]:
        yield Determined(worked.network.values[number].part, best[0], sigma)


def _best(
    worked: Solved, slopes: Sequence[_Slope], number: int, fitted: Callable[[Array], Array]
) -> tuple[float, float] | None:
    """The size of a value that leaves least, refined around the best of a grid, and what it leaves.

    None where that is more than explains the slopes.
    """
    grid = _grid(worked, number)
    for _ in range(4):
        model = _model(worked, slopes, number, grid)
        rest = None if model is None else _left(slopes, fitted(model))
        if rest is None or not np.isfinite(rest).any():
            return None
        best = int(np.nanargmin(rest))
        found = float(grid[best]), float(rest[best])
        grid = np.linspace(grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)], _GRID)
    return found if found[1] <= EXPLAINS else None


def _grid(worked: Solved, number: int) -> Array:
    """Values that are tried for one of the board."""
    start = worked.values[number]
    if worked.network.values[number].is_setting:
        return np.linspace(0.0, 1.0, _GRID)
    if start is None or not start[0]:
        return np.geomspace(1e-3, 1e5, _GRID)
    return float(start[0]) * np.geomspace(0.05, 20.0, _GRID)


def _model(worked: Solved, slopes: Sequence[_Slope], number: int, grid: Array) -> Array | None:
    """The scales that each value of a grid gives, of shape (slopes, grid)."""
    rows = [_deflection(worked, slope.reading, {number: grid}) for slope in slopes]
    known = [np.broadcast_to(row, grid.shape) for row in rows if row is not None]
    return np.array(known) if len(known) == len(slopes) else None


def _left(slopes: Sequence[_Slope], model: Array) -> Array:
    """Root mean square of what a model leaves, in standard deviations."""
    found, sigma = np.array([(slope.found, slope.sigma) for slope in slopes]).T[:, :, None]
    return np.asarray(np.sqrt((((model - found) / sigma) ** 2).mean(axis=0)))


def _common_factor(slopes: Sequence[_Slope], model: Array) -> Array:
    """The factor for all slopes that leaves least."""
    found, sigma = np.array([(slope.found, slope.sigma) for slope in slopes]).T[:, :, None]
    weighed = model / sigma**2
    return np.asarray((weighed * found).sum(axis=0) / (weighed * model).sum(axis=0))


def _sigma(worked: Solved, slopes: Sequence[_Slope], number: int, at: float) -> float | None:
    """Standard deviation of a resistance from how fast the readings part when it is changed.

    Of each relative slope, what a common factor takes up is left out.
    """
    both = _model(worked, slopes, number, np.array([at, at * 1.001]))
    if both is None:
        return None
    pull = (both[:, 1] - both[:, 0]) / (0.001 * at) / both[:, 0]
    weight = np.array([(slope.found / slope.sigma) ** 2 for slope in slopes])
    apart = pull - float((weight * pull).sum() / weight.sum())
    information = float((weight * apart**2).sum())
    return 1.0 / sqrt(information) if information > 0.0 else None
