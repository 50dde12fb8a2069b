"""Quick sums without a spec: shunts, multipliers, tapped shunts, through the same solver."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rewire.spec.model import (
    Control,
    Document,
    Meter,
    Net,
    Part,
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
from rewire.values.combos import Stock
from rewire.values.model import WiringValues

_HERE = Place("quick sum", 1, 1)


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
        ranges: full-scale currents, ampere.
        choice: how the shunts are to be had.
    """
    controls = {"RANGE": _control(len(ranges))}
    parts: dict[str, Part] = {"M1": _meter(movement, ("IN", "OUT"))}
    readings = {}
    for number, amps in enumerate(ranges, 1):
        name = f"R{number}"
        parts[name] = _resistor(name, f"range{number}", choice, ("IN", f"S1.A{number}"))
        readings[f"range{number}"] = _reading(number, "current", ("IN", "OUT"), amps)
    parts["S1"] = _switch(len(ranges), ("A",))
    nets = [("S1.A", "OUT")]
    return _solved(controls, parts, readings, nets, ("IN", "OUT"), choice)


def multipliers(
    movement: Movement, ranges: Sequence[float], choice: Choice, chained: bool
) -> WiringValues:
    """One multiplier for each range, or a chain with a tap for each.

    Args:
        movement: the meter.
        ranges: full-scale voltages, volt.
        choice: how the multipliers are to be had.
        chained: each step adds to the ones below it, the lowest range nearest the meter.
    """
    if chained:
        return _chained(movement, sorted(ranges), choice)
    controls = {"RANGE": _control(len(ranges))}
    parts: dict[str, Part] = {"M1": _meter(movement, ("S1.A", "OUT"))}
    readings = {}
    for number, volts in enumerate(ranges, 1):
        name = f"R{number}"
        parts[name] = _resistor(name, f"range{number}", choice, ("IN", f"S1.A{number}"))
        readings[f"range{number}"] = _reading(number, "voltage", ("IN", "OUT"), volts)
    parts["S1"] = _switch(len(ranges), ("A",))
    return _solved(controls, parts, readings, [], ("IN", "OUT"), choice)


def _chained(movement: Movement, ranges: Sequence[float], choice: Choice) -> WiringValues:
    taps = [f"TAP{number}" for number in range(1, len(ranges) + 1)]
    parts: dict[str, Part] = {"M1": _meter(movement, ("FOOT", "OUT"))}
    readings = {}
    below = ["FOOT", *taps]
    for number, volts in enumerate(ranges, 1):
        name = f"R{number}"
        ends = (below[number], below[number - 1])
        parts[name] = _resistor(name, f"range{number}", choice, ends)
        readings[f"range{number}"] = _reading(
            number, "voltage", (taps[number - 1], "OUT"), volts, switched=False
        )
    return _solved({}, parts, readings, [], ("FOOT", "OUT", *taps), choice)


def tapped_shunt(movement: Movement, ranges: Sequence[float], choice: Choice) -> WiringValues:
    """A shunt with taps, all of it always across the meter (a universal shunt).

    The current enters at a tap; the segments below the tap shunt the segments above
    it and the meter. All segments are solved together.

    Args:
        movement: the meter.
        ranges: full-scale currents, ampere; the highest is tapped nearest the common end.
        choice: how the segments are to be had.
    """
    high_first = sorted(ranges, reverse=True)
    taps = [f"TAP{number}" for number in range(1, len(ranges) + 1)]
    parts: dict[str, Part] = {"M1": _meter(movement, (taps[-1], "OUT"))}
    readings = {}
    below = ["OUT", *taps]
    for number, amps in enumerate(high_first, 1):
        name = f"R{number}"
        ends = (below[number], below[number - 1])
        parts[name] = _resistor(name, f"range{number}", choice, ends)
        readings[f"range{number}"] = _reading(
            number, "current", (taps[number - 1], "OUT"), amps, switched=False
        )
    return _solved({}, parts, readings, [], ("OUT", *taps), choice)


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
    return values_of(spec, ["original"], Wishes(stocks=choice.stocks))[0]


def _point(name: str) -> Point:
    return Point(name, False, False, None, False, None, 0.0, None, None, _HERE)


def _control(count: int) -> Control:
    return Control(
        "RANGE", tuple(f"range{n}" for n in range(1, count + 1)), False, False, None, _HERE
    )


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
        choose="drawer" if choice.stocks else choice.choose,
        tolerance_percent=choice.tolerance_percent,
        rating_watts=None,
        working_volts=None,
    )


def _reading(
    number: int, quantity: str, places: tuple[str, str], full_scale: float, switched: bool = True
) -> Reading:
    name = f"range{number}"
    return Reading(
        name=name,
        when={"RANGE": (name,)} if switched else {},
        quantity="current" if quantity == "current" else "voltage",
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


def _switch(throws: int, poles: tuple[str, ...]) -> Switch:
    """A range switch whose contacts have no resistance: quick sums leave them out."""
    sections: list[Section] = []
    terminals: list[str] = []
    for pole in poles:
        lugs = (pole, *(f"{pole}{n}" for n in range(1, throws + 1)))
        groups = tuple(((pole, lug),) for lug in lugs[1:])
        sections.append(Section(lugs, groups, "shorting", True, pole))
        terminals += lugs
    return Switch(
        name="S1",
        terminals=tuple(terminals),
        place=_HERE,
        form=f"{len(poles)}P{throws}T",
        control="RANGE",
        sections=tuple(sections),
        idle_lugs=(),
        throws=throws,
        throw_at=tuple(range(1, throws + 1)),
        poles=tuple(section.lugs for section in sections),
        style="rotary",
        layout=None,
        rating=SwitchRating(),
        contact_resistance=0.0,
    )
