"""Quick sums without a spec of one's own: a few lines of spec are written, read and solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from json import dumps

from rewire.circuit.states import LimitReached
from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.drawer import Stock
from rewire.values.fitting import DRAWER
from rewire.values.wiring_values import Wishes, values_of
from rewire.words.quantity import with_unit

MOST_RANGES = 60
"""Throws of the largest range switch."""
MOST_TAPS = 10
"""Segments that are solved together; the time grows with more than their square."""
_TELLING = frozenset({"rating-unknown", "working-volts", "piece-rating"})
"""Kinds of caution that say something where there is no equipment around."""


@dataclass(frozen=True, slots=True)
class BenchMeter:
    """A meter as it lies on the bench: ampere or volt at full scale, ohm."""

    full_scale_amps: float | None
    full_scale_volts: float | None
    resistance: float
    tolerance_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """How the resistors are to be had: a series of values, a drawer, a tolerance."""

    choose: str = "exact"
    stocks: Sequence[Stock] = ()
    tolerance_percent: float | None = None


def shunts(movement: BenchMeter, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """One shunt across the meter for each full-scale current, ampere, each another."""
    return _ranged(movement, ("IN", "OUT"), _names(ranges, "A"), [("S1.A", "OUT")], choice)


def multipliers(movement: BenchMeter, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """One multiplier for each full-scale voltage, volt, each another."""
    return _ranged(movement, ("S1.A", "OUT"), _names(ranges, "V"), [], choice)


def chained_multipliers(
    movement: BenchMeter, ranges: Sequence[float], choice: Choice
) -> WiringValues:
    """A chain of multipliers with a tap for each full-scale voltage, the lowest nearest the meter.

    Each range adds its resistor to those of the ranges below it.
    """
    return _laddered(movement, "FOOT", ("FOOT", "OUT"), _names(sorted(ranges), "V"), choice)


def tapped_shunt(movement: BenchMeter, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """A shunt with a tap for each full-scale current, all of it always across the meter.

    The current enters at a tap; the segments below the tap shunt the segments above
    it and the meter. The highest range is tapped nearest the common end.

    Raises:
        LimitReached: more taps than are solved together in a few seconds.
    """
    if len(ranges) > MOST_TAPS:
        raise LimitReached(
            f"a shunt with taps: {len(ranges):,} ranges, more than {MOST_TAPS}; a shunt for each "
            "range has no such limit: leave --tapped out"
        )
    high_first = _names(sorted(ranges, reverse=True), "A")
    return _laddered(movement, "OUT", (f"TAP{len(ranges)}", "OUT"), high_first, choice)


def _names(ranges: Sequence[float], unit: str) -> list[tuple[str, str]]:
    """Each range as it is called, and as the spec has it, to the last digit."""
    return [(with_unit(full_scale, unit), f"{full_scale!r} {unit}") for full_scale in ranges]


def _ranged(
    movement: BenchMeter,
    meter: tuple[str, str],
    ranges: Sequence[tuple[str, str]],
    nets: Sequence[tuple[str, str]],
    choice: Choice,
) -> WiringValues:
    """The meter, a range switch, and on each throw a resistor from IN that is to be found."""
    names = [name for name, _ in ranges]
    if len(names) > MOST_RANGES:
        raise LimitReached(f"{len(names):,} ranges, more than the {MOST_RANGES} of a range switch")
    switch = {
        "switch": f"1P{len(names)}T", "control": "RANGE", "style": "rotary", "timing": "shorting",
        "positions": {name: number for number, name in enumerate(names, 1)},
        "contact_resistance": "0 ohm",
    }  # fmt: skip
    spots = [("IN", f"S1.A{number}") for number in range(1, len(names) + 1)]
    readings = {
        name: {"when": {"RANGE": name}, **_driven(("IN", "OUT"), full_scale)}
        for name, full_scale in ranges
    }
    parts = {"M1": _meter(movement, meter), "S1": switch, **_resistors(names, spots, choice)}
    own = {"controls": {"RANGE": names}, "points": {"IN": {}, "OUT": {}}, "readings": readings}
    return _solved(own, {"parts": parts, "nets": [list(net) for net in nets]}, choice)


def _laddered(
    movement: BenchMeter,
    foot: str,
    meter: tuple[str, str],
    ranges: Sequence[tuple[str, str]],
    choice: Choice,
) -> WiringValues:
    """Resistors one behind the other from ``foot`` up, a tap at the top of each."""
    taps = [f"TAP{number}" for number in range(1, len(ranges) + 1)]
    spots = list(zip(taps, [foot, *taps], strict=False))
    readings = {
        name: _driven((tap, "OUT"), full_scale)
        for tap, (name, full_scale) in zip(taps, ranges, strict=True)
    }
    points = {name: dict[str, object]() for name in (foot, "OUT", *taps)}
    parts = {"M1": _meter(movement, meter), **_resistors(list(readings), spots, choice)}
    return _solved({"points": points, "readings": readings}, {"parts": parts}, choice)


def _driven(places: tuple[str, str], full_scale: str) -> dict[str, object]:
    quantity = "current" if full_scale.endswith("A") else "voltage"
    return {quantity: list(places), "full_scale": full_scale}


def _meter(movement: BenchMeter, between: tuple[str, str]) -> dict[str, object]:
    amps, volts = movement.full_scale_amps, movement.full_scale_volts
    off = movement.tolerance_percent
    return {
        "meter": f"{volts!r} V" if amps is None else f"{amps!r} A",
        "resistance": f"{movement.resistance!r} ohm",
        **({} if off is None else {"resistance_tolerance": f"{off!r} %"}),
        "between": list(between),
    }


def _resistors(
    readings: Sequence[str], spots: Sequence[tuple[str, str]], choice: Choice
) -> dict[str, object]:
    """One for each reading, to be found."""
    off = choice.tolerance_percent
    found = {"resistor": "fit", "choose": DRAWER if choice.stocks else choice.choose}
    if off is not None:
        found["tolerance"] = f"{off!r} %"
    return {
        f"R{number}": {**found, "for": reading, "between": list(spot)}
        for number, (reading, spot) in enumerate(zip(readings, spots, strict=True), 1)
    }


def _solved(spec: dict[str, object], wiring: dict[str, object], choice: Choice) -> WiringValues:
    """The one wiring of a spec, which is JSON and so YAML."""
    text = dumps({"rewire": 1, "title": "quick sum", **spec, "wirings": {"original": wiring}})
    read = read_text(text.encode())
    found = values_of(read, ["original"], Wishes(stocks=choice.stocks))[0]
    return replace(found, warnings=tuple(w for w in found.warnings if w.kind in _TELLING))
