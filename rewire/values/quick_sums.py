"""Quick sums without a spec of one's own: a few lines of spec are written and read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from json import dumps

from rewire.circuit.states import LimitReached
from rewire.reading import read_text
from rewire.records.spec import Spec
from rewire.words.quantity import with_unit

MOST_RANGES = 60
"""Throws of the largest range switch."""
MOST_TAPS = 10
"""Segments that are solved together; the time grows with more than their square."""
TELLING = frozenset({"rating-unknown", "working-volts", "piece-rating"})
"""Kinds of caution that mean something for a bare meter."""


@dataclass(frozen=True, slots=True)
class BenchMeter:
    """A meter on the bench: ampere or volt at full scale, ohm."""

    full_scale_amps: float | None
    full_scale_volts: float | None
    resistance: float
    tolerance_percent: float | None = None

    def written(self, between: tuple[str, str]) -> dict[str, object]:
        """As a spec has it."""
        amps, off = self.full_scale_amps, self.tolerance_percent
        return {
            "meter": f"{self.full_scale_volts!r} V" if amps is None else f"{amps!r} A",
            "resistance": f"{self.resistance!r} ohm",
            **({} if off is None else {"resistance_tolerance": f"{off!r} %"}),
            "between": list(between),
        }


@dataclass(frozen=True, slots=True)
class Choice:
    """Where the resistors come from: a series of values or ``drawer``, and a tolerance."""

    choose: str = "exact"
    tolerance_percent: float | None = None


Range = tuple[str, str]
"""A range as it is called, and as the spec has it, to the last digit."""


def shunts(movement: BenchMeter, ranges: Iterable[float], choice: Choice) -> Spec:
    """One shunt across the meter for each full-scale current, ampere, each another."""
    return _ranged(movement.written(("IN", "OUT")), _named(ranges, "A"), "OUT", choice)


def multipliers(movement: BenchMeter, ranges: Iterable[float], choice: Choice) -> Spec:
    """One multiplier for each full-scale voltage, volt, each another."""
    return _ranged(movement.written(("S1.A", "OUT")), _named(ranges, "V"), None, choice)


def chained_multipliers(movement: BenchMeter, ranges: Iterable[float], choice: Choice) -> Spec:
    """Multipliers in a chain, the lowest full-scale voltage at the tap nearest the meter."""
    meter = movement.written(("FOOT", "OUT"))
    return _laddered(meter, "FOOT", _named(sorted(ranges), "V"), choice)


def tapped_shunt(movement: BenchMeter, ranges: Sequence[float], choice: Choice) -> Spec:
    """A shunt with a tap for each full-scale current, all of it always across the meter.

    Raises:
        LimitReached: more taps than are solved together in a few seconds.
    """
    if len(ranges) > MOST_TAPS:
        raise LimitReached(
            f"a shunt with taps: {len(ranges):,} ranges, more than {MOST_TAPS}; a shunt for each "
            "range has no such limit: leave --tapped out"
        )
    meter = movement.written((f"TAP{len(ranges)}", "OUT"))
    return _laddered(meter, "OUT", _named(sorted(ranges, reverse=True), "A"), choice)


def _named(ranges: Iterable[float], unit: str) -> list[Range]:
    return [(with_unit(full_scale, unit), f"{full_scale!r} {unit}") for full_scale in ranges]


def _ranged(
    meter: Mapping[str, object], ranges: Sequence[Range], common: str | None, choice: Choice
) -> Spec:
    """The meter, a range switch, and on each throw a resistor from IN that is left open."""
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
        name: {"when": {"RANGE": name}, **_driven("IN", full_scale)} for name, full_scale in ranges
    }
    parts = {"M1": meter, "S1": switch, **_resistors(names, spots, choice)}
    wiring = {"parts": parts, "nets": [["S1.A", common]] if common else []}
    return _read(["IN", "OUT"], readings, wiring, {"controls": {"RANGE": names}})


def _laddered(
    meter: Mapping[str, object], foot: str, ranges: Sequence[Range], choice: Choice
) -> Spec:
    """Resistors one behind the other from ``foot`` up, a tap at the top of each."""
    taps = [f"TAP{number}" for number in range(1, len(ranges) + 1)]
    spots = list(zip(taps, [foot, *taps], strict=False))
    readings = {
        name: _driven(tap, full_scale) for tap, (name, full_scale) in zip(taps, ranges, strict=True)
    }
    parts = {"M1": meter, **_resistors(list(readings), spots, choice)}
    return _read([foot, "OUT", *taps], readings, {"parts": parts}, {})


def _driven(place: str, full_scale: str) -> dict[str, object]:
    quantity = "current" if full_scale.endswith("A") else "voltage"
    return {quantity: [place, "OUT"], "full_scale": full_scale}


def _resistors(
    readings: Sequence[str], spots: Sequence[tuple[str, str]], choice: Choice
) -> dict[str, object]:
    """One for each reading, to be found."""
    off = choice.tolerance_percent
    found = {"resistor": "fit", "choose": choice.choose}
    if off is not None:
        found["tolerance"] = f"{off!r} %"
    return {
        f"R{number}": {**found, "for": reading, "between": list(spot)}
        for number, (reading, spot) in enumerate(zip(readings, spots, strict=True), 1)
    }


def _read(
    points: Iterable[str],
    readings: Mapping[str, object],
    wiring: Mapping[str, object],
    more: Mapping[str, object],
) -> Spec:
    """The spec of one wiring, written as JSON and so as YAML."""
    named = {name: dict[str, object]() for name in points}
    whole = {"rewire": 1, "title": "quick sum", "points": named, "readings": readings, **more}
    return read_text(dumps({**whole, "wirings": {"original": wiring}}).encode())
