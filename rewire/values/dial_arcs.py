"""How a reading is taken off its dial, and the arcs that a new plate needs.

The deflections of dB and ohm arcs are mathematics: 20 log10 of the ratio to full scale, and
Rin / (Rin + Rx) of a series ohmmeter (textbooks), Rin being what its probes see.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, log10
from typing import Literal

from rewire.records.parts import Meter
from rewire.records.spec import Reading, Wiring
from rewire.values.answers import Caution, DialFactor, Readout
from rewire.words.arcs import PENCIL, ArcKind, arc_kind, dial_ends, ease, figure_at_end, shown_arc
from rewire.words.quantity import with_unit

UNITS = {"current": "A", "voltage": "V"}
_PREFIXES = {"µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
_SMALLER = 0.05
"""Below this factor the next smaller prefix is tried: × 10 = µA rather than ÷ 100 = mA."""
_USUAL_ACCURACY = 2.0
"""Percent of full scale of a panel meter that does not say it; common practice, no source."""
_LEAST_DB = -20.0
"""Where a dB arc begins whose name does not say it; common practice, no source."""
Zero = Literal["left", "centre", "right"]


def dial_factor(reading: Reading, meter: Meter | None) -> DialFactor | None:
    """How a reading is taken off the dial of its meter; None where no arc is known."""
    arcs = meter.scales if meter is not None else ()
    zero = meter.zero if meter is not None else "left"
    ends = {arc: end for arc in arcs if (end := figure_at_end(arc, zero)) is not None}
    ranked = sorted(ends, key=lambda arc: ease(in_prefix(reading, ends[arc])[0]))
    scale = reading.scale or (ranked[0] if ranked else None)
    if scale is None:
        return None
    end = figure_at_end(scale, zero)
    factor, unit = (None, _unit(reading)) if end is None else in_prefix(reading, end)
    own = DialFactor(scale, factor, unit, not arcs or scale in arcs)
    if factor is None or not ranked:
        return own
    best, its_unit = in_prefix(reading, ends[ranked[0]])
    if ease(best) >= ease(factor):
        return own
    better = DialFactor(ranked[0], best, its_unit, on_meter=True)
    return replace(own, better=better.scale, better_said=better.said)


def scales_told(readouts: Sequence[Readout]) -> Iterator[Caution]:
    """Arcs that a meter does not have, and those whose figures cannot be used."""
    for one in readouts:
        if one.dial is None:
            continue
        if not one.dial.on_meter:
            arc = f"{one.name} is read on the {one.dial.scale} arc, which {one.meter} does not have"
            yield Caution("scale", arc)
        if one.dial.factor is None and arc_kind(one.dial.scale) == "linear":
            yield from _unused(one.name, one.dial.scale)


def _unused(reading: str, scale: str) -> Iterator[Caution]:
    ends = dial_ends(scale)
    if ends is not None:
        why = "fall towards full scale" if ends[0] > ends[1] else "have their 0 at neither end"
        said = f"the figures of the {shown_arc(scale)} arc {why}, so no factor is given for them"
        yield Caution("scale", f"{reading}: {said}")


def in_prefix(reading: Reading, end: float) -> tuple[float, str]:
    """The factor of an arc that ends in this figure, and the unit that makes it easiest."""
    unit, full_scale = UNITS[reading.quantity], reading.full_scale
    plain = {p: float(f"{full_scale / size / end:.9g}") for p, size in _PREFIXES.items()}
    exact = next((p for p, factor in plain.items() if factor == 1.0), None)
    own = with_unit(full_scale, unit).split(" ")[1].removesuffix(unit)
    natural = exact if exact is not None else own if own in plain else ""
    below = [*_PREFIXES][max(0, [*_PREFIXES].index(natural) - 1)]
    small = plain[natural] < _SMALLER and ease(plain[below]) < PENCIL
    chosen = below if small and exact is None else natural
    return plain[chosen], chosen + unit


def _unit(reading: Reading) -> str:
    return with_unit(reading.full_scale, UNITS[reading.quantity]).split(" ")[1]


@dataclass(frozen=True, slots=True)
class PlateArc:
    """One arc of a plate, with every reading that is read on it."""

    kind: ArcKind
    low: float
    """The figure where the pointer rests; minus ``high`` at the other end of a centre zero."""
    high: float
    """The figure at full deflection; of ohms the resistance at half deflection."""
    unit: str
    zero: Zero
    names: tuple[str, ...]
    """Each reading with its factor and unit, as the plate says it."""
    readings: tuple[str, ...]
    marks: tuple[tuple[float, str], ...] = ()
    """Figures to be marked, and why."""
    least_share: float = 0.01
    """Of full scale that a division is worth; finer than the meter is it would lie."""

    def share(self, figure: float) -> float:
        """Of full deflection at a figure; negative left of a centre zero."""
        if self.kind == "dB":
            return float(10.0 ** ((figure - self.high) / 20.0))
        if self.kind == "ohm":
            return 0.0 if figure == inf else self.high / (self.high + figure)
        low = 0.0 if self.zero == "centre" else self.low
        return (figure - low) / (self.high - low)

    @property
    def rest(self) -> float:
        """Share of full scale at which the pointer just leaves its stop: of a suppressed zero."""
        return self.low / self.high if self.kind == "linear" and self.zero != "centre" else 0.0

    @property
    def said(self) -> str:
        """``0–250 mA: cathode``."""
        if self.kind == "ohm":
            ends = f"∞–0 {self.unit}, {with_unit(self.high, 'Ω', 3)} in the middle"
        elif self.kind == "dB":
            ends = f"{self.low:g} to {self.high:+g} {self.unit}"
        else:
            begin = f"{self.high:g}–0" if self.zero == "centre" else f"{self.low:g}"
            ends = f"{begin}–{self.high:g} {self.unit}"
        return f"{ends}: {', '.join(self.readings)}"


def plate_arcs(wiring: Wiring, meter: Meter, readouts: Sequence[Readout]) -> tuple[PlateArc, ...]:
    """The arcs of a meter's plate for some of a wiring's readings, in their order.

    Readings whose full scales are alike but for a power of ten share an arc.
    """
    made: dict[object, PlateArc] = {}
    for readout in readouts:
        reading = wiring.readings[readout.name]
        arc = _ARCS[arc_kind(reading.scale)](reading, meter, readout)
        if arc is None:
            continue
        key = _shared(arc)
        if key not in made:
            made[key] = arc
            continue
        first, marks, name = made[key], arc.marks, _called(reading)
        if arc.kind == "linear":
            factor, unit = in_prefix(reading, first.high)
            marks, name = _marks(reading, first.high), _times(reading, factor, unit, first.unit)
        made[key] = replace(
            first,
            names=(*first.names, name),
            readings=(*first.readings, reading.name),
            marks=tuple(dict.fromkeys((*first.marks, *marks))),
        )
    return tuple(made.values())


def _shared(arc: PlateArc) -> object:
    """What arcs must have in common to be drawn as one."""
    if arc.kind != "linear" or arc.low > 0.0:
        return arc.kind, arc.low, arc.high, arc.unit
    lead = f"{arc.high / 10.0 ** int(log10(arc.high) // 1):.6g}"
    return arc.kind, lead


def _linear(reading: Reading, meter: Meter, _: Readout) -> PlateArc:
    unit = with_unit(reading.full_scale, UNITS[reading.quantity]).split(" ")[1]
    high = float(with_unit(reading.full_scale, UNITS[reading.quantity], 6).split(" ")[0])
    ends = dial_ends(reading.scale)
    low = 0.0
    if ends is not None and meter.zero == "left" and 0.0 < ends[0] < ends[1]:
        low = high * ends[0] / ends[1]
    accuracy = meter.accuracy_percent or _USUAL_ACCURACY
    begin = f"{high:g}–0" if meter.zero == "centre" else f"{low:g}"
    name = f"{_called(reading)} {begin}–{high:g} {unit}{' rms' if reading.ac else ''}"
    return PlateArc(
        "linear", low, high, unit, meter.zero, (name,), (reading.name,), _marks(reading, high),
        accuracy / 200.0,
    )  # fmt: skip


def _decibels(reading: Reading, meter: Meter, _: Readout) -> PlateArc:
    said = (reading.scale or "").replace("−", "-")
    words = re.sub(r"(?<=[0-9])(?=[dDvV])", " ", said).split()
    found = [float(w) for w in words if w.lstrip("+-").replace(".", "", 1).isdigit()]
    low, high = (min(found), max(found)) if len(found) > 1 else (_LEAST_DB, 0.0)
    unit = "VU" if "vu" in said.lower() else "dB"
    marks = tuple(
        (high + 20.0 * log10(value / reading.full_scale), why)
        for value, why in reading.marks if value > 0.0
    )  # fmt: skip
    zero: Zero = "right" if meter.zero == "right" else "left"
    named = (f"{_called(reading)} {unit}",)
    return PlateArc("dB", low, high, unit, zero, named, (reading.name,), marks)


def _ohms(reading: Reading, meter: Meter, readout: Readout) -> PlateArc | None:
    """Of a series ohmmeter: its battery is the voltage that is read, probes shorted."""
    inside = readout.insertion_ohms
    if reading.quantity != "voltage" or inside is None or not isfinite(inside):
        return None
    half = inside + (reading.source_resistance or 0.0)
    zero: Zero = "right" if meter.zero == "right" else "left"
    return PlateArc("ohm", inf, half, "Ω", zero, (f"{_called(reading)} Ω",), (reading.name,))


_ARCS = {"linear": _linear, "dB": _decibels, "ohm": _ohms}


def _called(reading: Reading) -> str:
    return reading.name.replace("_", " ").upper()


def _times(reading: Reading, factor: float, unit: str, drawn: str) -> str:
    """A further reading of an arc that is drawn in another one's unit."""
    times = "" if factor == 1.0 else f" ×{factor:g}" if factor > 1.0 else f" ÷{1 / factor:g}"
    return f"{_called(reading)}{times}{'' if unit == drawn else f' {unit}'}"


def _marks(reading: Reading, high: float) -> tuple[tuple[float, str], ...]:
    """The marks of a reading as figures of an arc that ends in ``high``."""
    return tuple((high * value / reading.full_scale, why) for value, why in reading.marks)
