"""What was measured with power on: calibration runs, what explains them, acceptance tests.

Of a run: errors, scale factor and zero, linearity.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import inf, sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.reading.benchlog import Accepted, BenchLog, Indicated
from rewire.reading.faults import Fault, SpecError
from rewire.records.parts import Meter
from rewire.records.spec import Acceptance, Spec, Wiring
from rewire.values.answers import Readout
from rewire.values.dc_network import filled
from rewire.values.meter_circuit import Solved, answer
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import shown

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
_PASSED = frozenset({"pass", "passed", "ok", "good", "yes", "y"})
_FAILED = frozenset({"fail", "failed", "bad", "no", "n"})
_MEASURES = (
    quantity.SIGNED_VOLTS, quantity.AMPS, quantity.WATTS, quantity.OHMS, quantity.FARADS,
    quantity.HENRIES, quantity.METRES,
)  # fmt: skip
_BARE = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*([^\d\s].*)?")
_ONE_SIDED = re.compile(
    r"(?:(under|below|less than|at most|up to)|over|above|more than|at least)\s+(.+)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class RunPoint:
    """One reading of a run, in percent of full scale."""

    entry: Indicated
    error_percent: float
    low_percent: float | None = None
    """How far a correct build may be off here; None where the reading is not known."""
    high_percent: float | None = None

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


@dataclass(frozen=True, slots=True)
class Determined:
    """A movement's resistance as the runs give it, ohm, with its standard deviation."""

    part: str
    ohms: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """All runs of a log."""

    runs: tuple[Run, ...] = ()
    off: bool = False
    """Whether some scale is not what the values of the wiring give."""
    explanations: tuple[Explanation, ...] = ()
    """Likeliest first; empty where nothing is off."""
    movements: tuple[Determined, ...] = ()

    @property
    def passed(self) -> bool | None:
        """Whether every run is within its worst case; None where some cannot be judged."""
        return _all_passed(run.passed for run in self.runs)


def _all_passed(told: Iterable[bool | None]) -> bool | None:
    """False where one failed; None where none failed, but some or all cannot be judged."""
    found = set(told)
    if False in found:
        return False
    return True if found == {True} else None


def calibration_of(spec: Spec, wiring: Wiring, log: BenchLog) -> Calibration:
    """Judge the calibration runs of a log; raises as ``rewire.values.values_of``."""
    if not log.calibration:
        return Calibration()
    readouts = {one.name: one for one in values_of(spec, [wiring.name])[0].readings}
    worked = solved_of(spec, wiring)
    names = list(dict.fromkeys(entry.reading for entry in log.calibration))
    entries = sorted(log.calibration, key=lambda entry: names.index(entry.reading))
    runs = tuple(
        _run(worked, wiring.readings[name].full_scale, list(own), readouts.get(name))
        for name, own in groupby(entries, key=lambda entry: entry.reading)
    )
    slopes = _Slopes(worked, runs)
    explanations = tuple(_explanations(slopes)) if slopes.off else ()
    return Calibration(runs, slopes.off, explanations, tuple(_movements(slopes)))


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
        reading, full_scale, tuple(_point(entry, full_scale, readout) for entry in entries),
        scale, sigma, zero_percent=100.0 * zero,
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
        return RunPoint(entry, error)
    return RunPoint(entry, error, *readout.allowed(abs(entry.applied) / full_scale))


def _deflection(worked: Solved, reading: str, changed: Mapping[int, Array]) -> Array | None:
    """Where the pointer stands at full scale with some values changed; None if not known."""
    setup = worked.setups.get(reading)
    if setup is None or setup.full_scale is None or setup.circuit.meter is None:
        return None
    values = [changed.get(n, value) for n, value in enumerate(worked.values)]
    if not setup.circuit.known(values):
        return None
    return np.asarray(answer(setup.circuit, filled(values)).amps / setup.full_scale)


# What one value would explain


class _Slopes:
    """The scales of runs, and what the circuit would make of them with another value in it."""

    def __init__(self, worked: Solved, runs: Iterable[Run]) -> None:
        self.worked = worked
        self.runs = [run for run in runs if run.scale and run.reading in worked.setups]
        self.found = np.array([run.scale for run in self.runs], dtype=float)[:, None]
        sigma = np.array([run.scale_sigma for run in self.runs])[:, None]
        self.sigma = np.maximum(sigma, LEAST_SIGMA * np.abs(self.found))

    @property
    def off(self) -> bool:
        """Whether some scale is not what the values give."""
        both = zip(self.runs, self.found[:, 0], self.sigma[:, 0], strict=True)
        return any(abs(found - r.expected) > EXPLAINS * s for r, found, s in both if r.expected)

    def depending(self, number: int) -> list[Run]:
        """Runs to which a value of the board counts."""
        setups = self.worked.setups
        return [r for r in self.runs if number in setups[r.reading].circuit.values]

    def model(self, number: int, grid: Array) -> Array | None:
        """The scales that each size of a value gives, of shape (slopes, grid)."""
        rows = [_deflection(self.worked, run.reading, {number: grid}) for run in self.runs]
        known = [np.broadcast_to(row, grid.shape) for row in rows if row is not None]
        return np.array(known) if len(known) == len(self.runs) else None

    def left(self, model: Array) -> Array:
        """Root mean square of what a model leaves, in standard deviations."""
        return np.asarray(np.sqrt((((model - self.found) / self.sigma) ** 2).mean(axis=0)))

    def common_factor(self, model: Array) -> Array:
        """The factor for all slopes that leaves least."""
        weighed = model / self.sigma**2
        return np.asarray((weighed * self.found).sum(axis=0) / (weighed * model).sum(axis=0))

    def best(self, number: int, fitted: Callable[[Array], Array]) -> float | None:
        """The size of a value that leaves least, by a grid ever finer; None if that is too much."""
        grid = _grid(self.worked, number)
        for _ in range(4):
            model = self.model(number, grid)
            rest = None if model is None else self.left(fitted(model))
            if rest is None or not np.isfinite(rest).any():
                return None
            best = int(np.nanargmin(rest))
            found, least = float(grid[best]), float(rest[best])
            grid = np.linspace(grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)], _GRID)
        return found if least <= EXPLAINS else None


def _grid(worked: Solved, number: int) -> Array:
    """Values that are tried for one of the board."""
    start = worked.values[number]
    if worked.network.values[number].is_setting:
        return np.linspace(0.0, 1.0, _GRID)
    if start is None or not start[0]:
        return np.geomspace(1e-3, 1e5, _GRID)
    return float(start[0]) * np.geomspace(0.05, 20.0, _GRID)


def _explanations(slopes: _Slopes) -> list[Explanation]:
    """What one value would have to be, pots set by hand first, then what is least strange."""
    by_hand = {one.part for one in slopes.worked.unknowns if one.is_setting}
    numbers = range(len(slopes.worked.values))
    found = [*_sensitivity(slopes), *(one for n in numbers for one in _by_value(slopes, n))]
    return sorted(found, key=lambda one: (one.part not in by_hand or one.unit == "ohm",
                                          _strange(one)))  # fmt: skip


def _strange(one: Explanation) -> float:
    """How far beyond its tolerance it would have to be; a dirty contact is nothing strange."""
    if not one.planned and one.unit == "ohm":
        return _DIRTY if one.found < 1.0 else _DIRTY * 10.0
    return abs(one.off_percent or 0.0) / max(one.tolerance_percent or 0.0, 1.0)


def _by_value(slopes: _Slopes, number: int) -> Iterator[Explanation]:
    value, planned = slopes.worked.network.values[number], slopes.worked.values[number]
    found = slopes.best(number, lambda model: model) if slopes.depending(number) else None
    if found is None:
        return
    start = None if planned is None else float(planned[0])
    share = None if value.is_setting else value.tolerance
    yield Explanation(
        value.name, value.part, start, found, "setting" if value.is_setting else "ohm",
        100.0 * (found / start - 1.0) if start else None, None if share is None else 100.0 * share,
    )  # fmt: skip


def _sensitivity(slopes: _Slopes) -> Iterator[Explanation]:
    """The movement's full-scale current, which moves all readings by one factor."""
    worked = slopes.worked
    meters = list(worked.spec.all_of(Meter, worked.network.wiring).values())
    amps = worked.setups[slopes.runs[0].reading].full_scale
    nominal = [run.expected for run in slopes.runs if run.expected is not None]
    if len(meters) != 1 or len(nominal) < len(slopes.runs) or not amps:
        return
    model = np.array(nominal)[:, None]
    factor = float(slopes.common_factor(model)[0])
    if factor > 0.0 and float(slopes.left(factor * model)[0]) <= EXPLAINS:
        name, off = meters[0].name, 100.0 * (1.0 / factor - 1.0)
        accuracy = meters[0].accuracy_percent
        yield Explanation(f"{name} full scale", name, amps, amps / factor, "A", off, accuracy)


def _movements(slopes: _Slopes) -> Iterator[Determined]:
    """Movements whose resistance two readings or more give, as each depends on it in its own way.

    The resistance is found together with a common factor for the full-scale current, so that a
    movement that is merely more or less sensitive is not taken for one of other ohms. Where a pot
    was set by hand in the same circuits, its setting and the movement cannot be told apart.
    """
    worked = slopes.worked
    if any(slopes.depending(one.number) for one in worked.unknowns if one.is_setting):
        return
    meters = worked.spec.all_of(Meter, worked.network.wiring)
    for number, value in enumerate(worked.network.values):
        runs = slopes.depending(number) if value.part in meters else []
        own = _Slopes(worked, runs)
        ohms = own.best(number, _with_factor(own)) if len(runs) > 1 else None
        sigma = ohms and _sigma(own, number, ohms)
        if ohms and sigma and sigma < DETERMINED * ohms:
            yield Determined(value.part, ohms, sigma)


def _with_factor(slopes: _Slopes) -> Callable[[Array], Array]:
    return lambda model: slopes.common_factor(model) * model


def _sigma(slopes: _Slopes, number: int, at: float) -> float | None:
    """Standard deviation of a resistance, beside a common factor of all the slopes."""
    both = slopes.model(number, np.array([at, at * 1.001]))
    if both is None:
        return None
    pull = (both[:, 1] - both[:, 0]) / (0.001 * at) / both[:, 0]
    weight = (slopes.found / slopes.sigma)[:, 0] ** 2
    apart = pull - float((weight * pull).sum() / weight.sum())
    information = float((weight * apart**2).sum())
    return 1.0 / sqrt(information) if information > 0.0 else None


# Acceptance tests


@dataclass(frozen=True, slots=True)
class Outcome:
    """One acceptance test and its result; ``passed`` is None where words cannot be judged."""

    test: Acceptance
    found: Accepted | None
    passed: bool | None


def outcomes(spec: Spec, log: BenchLog) -> list[Outcome]:
    """Every acceptance test of a spec in its order; those that the log leaves out too."""
    found = []
    for test in spec.acceptance:
        own = [one for one in log.acceptance if one.test == test.test]
        for one in own:
            _check_unit(test, one)
        found += [Outcome(test, one, judged(test.expect, one.found)) for one in own]
        found += [] if own else [Outcome(test, None, None)]
    return found


def _check_unit(test: Acceptance, one: Accepted) -> None:
    """Raise ``SpecError`` for a figure that has not the unit of the expected one."""
    limits, value = _limits(test.expect), _quantity(one.found)
    no_number = one.found.strip().lower() in ("nan", "inf", "-inf")
    if limits is None or (value is None and not no_number):
        return
    if no_number or value is None or value[1] != limits[2]:
        message = f"test {shown(test.test)}: found {shown(one.found)} is not in {limits[2]}"
        bare = one.found.strip() if value is not None and not value[1] else "25"
        hint = f"write found: {bare} {limits[2]}" if limits[2] else "write a number alone"
        raise SpecError([Fault(one.place, message, f"{hint}; {shown(test.expect)} is expected")])


def judged(expect: str, found: str) -> bool | None:
    """Whether a result is as expected; None where a person must say.

    Expected is a range, a limit such as ``under 1 V``, or text; found a quantity, pass or fail.

    >>> judged("36 W to 44 W", "40 W"), judged("36 to 44 W", "35 W"), judged("clean", "pass")
    (True, False, True)
    """
    word = found.strip().lower()
    if word in _PASSED or word in _FAILED:
        return word in _PASSED
    limits, value = _limits(expect), _quantity(found)
    if limits is None or value is None or value[1] != limits[2]:
        return None
    return limits[0] <= value[0] <= limits[1]


def _limits(text: str) -> tuple[float, float, str] | None:
    """Least, most and unit of a range or a limit."""
    one_sided = _ONE_SIDED.fullmatch(text.strip())
    if one_sided is not None:
        limit = _quantity(one_sided[2])
        if limit is None:
            return None
        return (-inf, *limit) if one_sided[1] else (limit[0], inf, limit[1])
    low, _, high = text.partition(" to ")
    first, last = _quantity(low), _quantity(high)
    if first is None or first[1] == "":
        first = _quantity(f"{low} {_unit_of(high)}")
    if first is None or last is None or first[1] != last[1]:
        return None
    return min(first[0], last[0]), max(first[0], last[0]), last[1]


def unit_expected(test: Acceptance) -> str:
    """The unit in which a test wants its figure; empty where it wants words."""
    limits = _limits(test.expect)
    return limits[2] if limits is not None else ""


def _unit_of(text: str) -> str:
    match = _BARE.fullmatch(text)
    return (match[2] or "").strip() if match else ""


def _quantity(text: str) -> tuple[float, str] | None:
    """A value and its unit; an unknown unit, such as Hz, as written."""
    bare = _BARE.fullmatch(text)
    for measure in _MEASURES if bare is None or bare[2] else ():
        try:
            return quantity.read(text.strip(), measure), measure.unit
        except BadQuantity:
            continue
    return None if bare is None else (float(bare[1]), (bare[2] or "").strip())
