"""Readings as dials: where the pointer stands when the true value is full scale, in words too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from rewire.draw.scene import XY
from rewire.records.spec import Meter, Reading, Spec, Wiring
from rewire.report.page.numbers import when_numbers
from rewire.values.model import Readout, WiringValues
from rewire.words.quantity import with_unit

_HALF = 48.0
"""Degrees from the middle of the arc to either end of the scale."""
_STOP = 0.06
"""How far past an end of the scale the pointer can go, of the scale."""
_CENTRE: XY = (40.0, 44.0)
_RADIUS = 34.0
_TICKS = 10


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of the scale, and what is written at it."""

    ends: tuple[XY, XY]
    said: str
    at: XY


@dataclass(frozen=True, slots=True)
class Dial:
    """One reading in one wiring, ready to be drawn and told."""

    name: str
    when: Sequence[tuple[int, list[int]]]
    positions: str
    """The positions it is taken in, in words."""
    pointer: str
    """Where the pointer stands, in percent of full scale, or a word."""
    words: tuple[str, ...]
    tip: XY | None
    """End of the pointer; None where no place is known."""
    band: str
    """Path of the worst case along the arc; empty where it is not known."""
    ticks: tuple[Tick, ...]
    arc: str
    off: bool


def dials_of(spec: Spec, wiring: Wiring, values: WiringValues) -> Iterator[Dial]:
    """The dials of a wiring, one for each reading."""
    for readout in values.readings:
        reading = wiring.readings[readout.name]
        part = spec.parts_of(wiring).get(readout.meter or "")
        zero = part.zero if isinstance(part, Meter) else "left"
        yield _dial(spec, reading, readout, zero)


def _dial(spec: Spec, reading: Reading, readout: Readout, zero: str) -> Dial:
    share = readout.deflection
    scale = _Scale(zero)
    return Dial(
        name=reading.name,
        when=when_numbers(spec, reading.when),
        positions=_positions(reading.when),
        pointer="no sum" if share is None else f"{100.0 * share:.1f} %",
        words=tuple(_words(reading, readout, scale)),
        tip=None if share is None else _at(scale.place(share), _RADIUS - 3.0),
        band=_band(scale, readout),
        ticks=tuple(scale.ticks()),
        arc=_arc(0.0, 1.0, _RADIUS),
        off=readout.off,
    )


def _positions(when: Mapping[str, Sequence[str]]) -> str:
    return ", ".join(f"{name}: {' or '.join(at)}" for name, at in when.items()) or "always"


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where a share of full scale lies on the arc, 0 its left end and 1 its right."""

    zero: str

    def place(self, share: float) -> float:
        """Held by the stops."""
        at = {"left": share, "right": 1.0 - share}.get(self.zero, (1.0 + share) / 2.0)
        return min(max(at, -_STOP), 1.0 + _STOP)

    def beyond(self, share: float) -> bool:
        """Whether the pointer lies against a stop."""
        least = -1.0 if self.zero == "centre" else 0.0
        return not least - 0.005 <= share <= 1.005

    def ticks(self) -> Iterator[Tick]:
        """Eleven marks, every other one with its percents."""
        least = -1.0 if self.zero == "centre" else 0.0
        for number in range(_TICKS + 1):
            share = least + (1.0 - least) * number / _TICKS
            place = self.place(share)
            long = number % 5 == 0
            ends = (_at(place, _RADIUS), _at(place, _RADIUS + (3.0 if long else 1.6)))
            yield Tick(ends, f"{100.0 * share:.0f}" if long else "", _at(place, _RADIUS + 6.2))


def _at(place: float, radius: float) -> XY:
    angle = radians(-_HALF + 2 * _HALF * place)
    return (
        round(_CENTRE[0] + radius * sin(angle), 2),
        round(_CENTRE[1] - radius * cos(angle), 2),
    )


def _arc(start: float, end: float, radius: float) -> str:
    (x0, y0), (x1, y1) = _at(start, radius), _at(end, radius)
    return f"M{x0} {y0}A{radius} {radius} 0 0 1 {x1} {y1}"


def _band(scale: _Scale, readout: Readout) -> str:
    if readout.deflection is None:
        return ""
    ends = sorted(scale.place(1.0 + end / 100.0) for end in readout.allowed())
    return _arc(ends[0], ends[1], _RADIUS - 2.0)


def _words(reading: Reading, readout: Readout, scale: _Scale) -> Iterator[str]:
    unit = "A" if reading.quantity == "current" else "V"
    full = with_unit(reading.full_scale, unit)
    share, meter = readout.deflection, readout.meter or "the meter"
    if share is not None:
        of_scale = f" (scale {reading.scale})" if reading.scale else ""
        shown = with_unit(reading.full_scale * share, unit)
        yield (
            f"At a true {full} the pointer of {meter} stands at {100.0 * share:.1f} % of its "
            f"scale: it reads as {shown}{of_scale}."
        )
        if scale.beyond(share):
            yield "That is off the scale: the pointer lies against its stop."
    if share is not None:
        yield f"{readout.allowance[0].upper()}{readout.allowance[1:]}."
    if readout.off and share is not None:
        yield f"Wrong: it may be more than {readout.accept_percent:g} % of full scale off."
    if readout.note:
        yield f"{readout.note}."
