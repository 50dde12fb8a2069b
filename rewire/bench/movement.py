"""A movement's resistance and full-scale current from what was measured, with uncertainty.

The circuit is a source of ``source`` volts behind ``series`` ohms, the source's own among them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite, sqrt

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
    """Figure → share of the variance."""


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
    """From readings without and with a shunt; half deflection is one of them.

    Args:
        figures: ``series``, ``shunt`` in ohm, ``before``, ``after`` as shares of full scale,
            and ``source`` in volts if it is known.

    Raises:
        Impossible: no movement gives these figures.
    """
    ratio = figures["before"].value / figures["after"].value
    rough = figures["shunt"].value * (ratio - 1.0)
    return _by(
        "shunt", lambda f: shunted_ohms(*_of(f, "series shunt before after")), figures, rough
    )


def by_two_series(figures: Figures) -> Movement:
    """From readings behind two resistances.

    Args:
        figures: ``series``, ``then`` in ohm, ``before``, ``after``, and ``source`` if known.

    Raises:
        Impossible: no movement gives these figures.
    """
    return _by(
        "two series resistors",
        lambda f: two_series_ohms(*_of(f, "series then before after")),
        figures,
    )


def _of(values: Values, names: str) -> list[float]:
    return [values[name] for name in names.split()]


def _by(method: str, ohms: Sum, figures: Figures, rough: float | None = None) -> Movement:
    """With the full-scale current from the first reading, if the source's volts are known."""

    def amps(f: Values) -> float:
        return f["source"] / (f["series"] + ohms(f)) / f["before"]

    known = "source" in figures
    return Movement(
        method, estimate(ohms, figures), estimate(amps, figures) if known else None, rough
    )


def by_volts(figures: Figures) -> Movement:
    """From volts across the movement.

    Args:
        figures: ``volts``, ``before``, and ``amps``, or ``source`` and ``series``.

    Raises:
        Impossible: no movement gives these figures.
    """

    def current(f: Values) -> float:
        if "amps" in f:
            return f["amps"]
        if f["source"] <= f["volts"]:
            raise Impossible("the volts across the movement are not less than those of the source")
        return (f["source"] - f["volts"]) / f["series"]

    ohms = estimate(lambda f: f["volts"] / current(f), figures)
    return Movement("volts", ohms, estimate(lambda f: current(f) / f["before"], figures), None)


def estimate(function: Sum, figures: Figures) -> Estimate:
    """A function of measured figures, with its uncertainty to first order.

    Args:
        function: of the figures by name.
        figures: values and limits; each rectangular and independent of the others.

    Source: law of propagation of uncertainty, JCGM 100:2008, 5.1.2; the slopes are taken as
    5.1.3, note 2 has it, from the function at both limits.
    """
    values = {name: figure.value for name, figure in figures.items()}
    try:
        value = function(values)
        swings = _swings(value, function, figures, values)
    except ZeroDivisionError:
        raise Impossible("a figure that may be zero, as 100 % off, says nothing") from None
    variance = sum(swing**2 for swing in swings.values()) / 3.0
    if not isfinite(value) or not isfinite(variance):
        raise Impossible("the figures are too far apart for a sum")
    shares = {n: s**2 / 3.0 / variance if variance else 0.0 for n, s in swings.items()}
    worst = sum(abs(swing) for swing in swings.values())
    return Estimate(value, COVERAGE * sqrt(variance), worst, shares)


def _swings(value: float, function: Sum, figures: Figures, values: Values) -> dict[str, float]:
    """How far each figure's limits carry the result either way, where it has limits."""
    loose = {name: figure for name, figure in figures.items() if figure.off > 0.0}
    try:
        return {
            name: (
                function({**values, name: figure.value + figure.off})
                - function({**values, name: figure.value - figure.off})
            )
            / 2.0
            for name, figure in loose.items()
        }
    except Impossible:
        raise Impossible(
            f"these figures give {value:.4g} ohm, but they may be off by so much that it may as "
            "well be nothing: take resistors nearer to what the meter has, or measure them closer "
            "and say so with --resistors-off and --pointer-off"
        ) from None


def least_series(source: float, movement: Movement) -> float | None:
    """Ohms below which a source drives the movement beyond full scale; None if not known."""
    if movement.amps is None:
        return None
    return max(0.0, source / movement.amps.value - movement.ohms.value)
