"""Quick sums without a spec: shunts, multipliers, tapped shunts, through the same solver."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rewire.circuit.states import LimitReached
from rewire.records.spec import (
    Control,
    Document,
    Meter,
    Net,
    Part,
    Partial,
    Place,
    Point,
    Reading,
    Resistor,
    Section,
    Spec,
    Switch,
    SwitchRating,
    Wiring,
)
from rewire.values.assemble import Wishes, values_of
from rewire.values.choosing import DRAWER
from rewire.values.combos import Stock
from rewire.values.model import WiringValues
from rewire.words.quantity import with_unit

_HERE = Place("quick sum", 1, 1)
_UNITS = {"current": "A", "voltage": "V"}
MOST_TAPS = 10
"""Segments that are solved together; the time grows with more than their square."""
_TELLING = frozenset({"rating-unknown", "working-volts", "piece-rating"})
"""Kinds of caution that say something where there is no equipment around."""


@dataclass(frozen=True, slots=True)
class Movement:
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


def shunts(movement: Movement, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """One shunt for each range, across the meter.

    Args:
        movement: the meter.
        ranges: full-scale currents, ampere, each another.
        choice: how the shunts are to be had.
    """
    return _ranged(movement, ("IN", "OUT"), "current", ranges, [("S1.A", "OUT")], choice)


def multipliers(movement: Movement, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """One multiplier for each range.

    Args:
        movement: the meter.
        ranges: full-scale voltages, volt, each another.
        choice: how the multipliers are to be had.
    """
    return _ranged(movement, ("S1.A", "OUT"), "voltage", ranges, [], choice)


def chained_multipliers(
    movement: Movement, ranges: Sequence[float], choice: Choice
) -> WiringValues:
    """A chain of multipliers with a tap for each range, the lowest nearest the meter.

    Each range adds its resistor to those of the ranges below it.

    Args:
        movement: the meter.
        ranges: full-scale voltages, volt, each another.
        choice: how the multipliers are to be had.
    """
    return _laddered(movement, "FOOT", ("FOOT", "OUT"), "voltage", sorted(ranges), choice)


def tapped_shunt(movement: Movement, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """A shunt with taps, all of it always across the meter (a universal shunt).

    The current enters at a tap; the segments below the tap shunt the segments above
    it and the meter. All segments are solved together.

    Args:
        movement: the meter.
        ranges: full-scale currents, ampere, each another; the highest is tapped nearest
            the common end.
        choice: how the segments are to be had.

    Raises:
        LimitReached: more taps than are solved together in a few seconds.
    """
    if len(ranges) > MOST_TAPS:
        raise LimitReached(
            f"a shunt with taps: {len(ranges):,} ranges, more than {MOST_TAPS}; a shunt for each "
            "range has no such limit: leave --tapped out"
        )
    high_first = sorted(ranges, reverse=True)
    across = (f"TAP{len(ranges)}", "OUT")
    return _laddered(movement, "OUT", across, "current", high_first, choice)


def _ranged(
    movement: Movement,
    meter: tuple[str, str],
    quantity: Literal["current", "voltage"],
    ranges: Sequence[float],
    nets: Sequence[tuple[str, ...]],
    choice: Choice,
) -> WiringValues:
    """The meter, a range switch, and on each throw a resistor from IN that is to be found."""
    names = [with_unit(full_scale, _UNITS[quantity]) for full_scale in ranges]
    parts: dict[str, Part] = {"M1": _meter(movement, meter), "S1": _switch(len(names))}
    readings = {}
    for number, (name, full_scale) in enumerate(zip(names, ranges, strict=True), 1):
        ends = ("IN", f"S1.A{number}")
        parts[f"R{number}"] = _resistor(f"R{number}", name, choice, ends)
        when = {"RANGE": (name,)}
        readings[name] = _reading(name, quantity, ("IN", "OUT"), full_scale, when)
    controls = {"RANGE": Control("RANGE", tuple(names), False, False, None, _HERE)}
    return _solved(controls, parts, readings, nets, ("IN", "OUT"), choice)


def _laddered(
    movement: Movement,
    foot: str,
    meter: tuple[str, str],
    quantity: Literal["current", "voltage"],
    ranges: Sequence[float],
    choice: Choice,
) -> WiringValues:
    """Resistors one behind the other from ``foot`` up, a tap at the top of each."""
    taps = [f"TAP{number}" for number in range(1, len(ranges) + 1)]
    parts: dict[str, Part] = {"M1": _meter(movement, meter)}
    readings = {}
    for number, (below, tap, full_scale) in enumerate(
        zip([foot, *taps], taps, ranges, strict=False), 1
    ):
        part, name = f"R{number}", with_unit(full_scale, _UNITS[quantity])
        parts[part] = _resistor(part, name, choice, (tap, below))
        readings[name] = _reading(name, quantity, (tap, "OUT"), full_scale, {})
    points = dict.fromkeys((foot, "OUT", *taps))
    return _solved({}, parts, readings, [], tuple(points), choice)


def _solved(
    controls: Mapping[str, Control],
    parts: Mapping[str, Part],
    readings: Mapping[str, Reading],
    nets: Sequence[tuple[str, ...]],
    points: Sequence[str],
    choice: Choice,
) -> WiringValues:
    wiring = Wiring(
        name="original",
        parts=parts,
        nets=tuple(Net(None, net, _HERE) for net in nets),
        wires=(),
        changes=(),
        readings=readings,
        note=None,
        place=_HERE,
    )
    spec = Spec(
        file="quick sum",
        title="quick sum",
        equipment=None,
        summary=None,
        document=Document(),
        controls=controls,
        never=(),
        points={name: _point(name) for name in points},
        parts={},
        readings=readings,
        rules=(),
        wirings={"original": wiring},
    )
    found = values_of(spec, ["original"], Wishes(stocks=choice.stocks))[0]
    return replace(found, warnings=tuple(w for w in found.warnings if w.kind in _TELLING))


def _point(name: str) -> Point:
    return Point(name, False, False, None, False, None, 0.0, None, None, _HERE)


def _meter(movement: Movement, between: tuple[str, str]) -> Meter:
    return Meter(
        name="M1",
        terminals=("+", "-"),
        place=_HERE,
        between=between,
        full_scale_amps=movement.full_scale_amps,
        full_scale_volts=movement.full_scale_volts,
        resistance=movement.resistance,
        resistance_tolerance_percent=movement.tolerance_percent,
        accuracy_percent=None,
        zero="left",
        scales=(),
    )


def _resistor(name: str, reading: str, choice: Choice, between: tuple[str, str]) -> Resistor:
    return Resistor(
        name=name,
        terminals=("1", "2"),
        place=_HERE,
        between=between,
        pieces=None,
        fit_for=reading,
        choose=DRAWER if choice.stocks else choice.choose,
        tolerance_percent=choice.tolerance_percent,
        rating_watts=None,
        working_volts=None,
    )


def _reading(
    name: str,
    quantity: Literal["current", "voltage"],
    places: tuple[str, str],
    full_scale: float,
    when: Partial,
) -> Reading:
    return Reading(
        name=name,
        when=when,
        quantity=quantity,
        places=places,
        full_scale=full_scale,
        source_resistance=0.0,
        ac=False,
        meter=None,
        scale=None,
        also=(),
        marks=(),
        place=_HERE,
    )


def _switch(throws: int) -> Switch:
    """A range switch whose contacts have no resistance: quick sums leave them out."""
    lugs = ("A", *(f"A{n}" for n in range(1, throws + 1)))
    groups = tuple((("A", lug),) for lug in lugs[1:])
    section = Section(lugs, groups, "shorting", True, "A")
    return Switch(
        name="S1",
        terminals=lugs,
        place=_HERE,
        form=f"1P{throws}T",
        control="RANGE",
        sections=(section,),
        idle_lugs=(),
        throws=throws,
        throw_at=tuple(range(1, throws + 1)),
        poles=(lugs,),
        style="rotary",
        layout=None,
        rating=SwitchRating(),
        contact_resistance=0.0,
    )
