"""From a part as written to the part that the other layers see."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from rewire.spec.build_switch import Common, build_switch
from rewire.spec.model import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    Lamp,
    Meter,
    Part,
    Pot,
    Resistor,
    Strip,
)
from rewire.spec.names import Desk, Lugs, check_lugs
from rewire.spec.text import Mapping as MappingNode
from rewire.spec.text import Node
from rewire.spec.written_parts import (
    WrittenCapacitor,
    WrittenChoke,
    WrittenDiode,
    WrittenFuse,
    WrittenLamp,
    WrittenMeter,
    WrittenPart,
    WrittenPot,
    WrittenResistor,
    WrittenStrip,
    WrittenSwitch,
)

_TWO = ("1", "2")
Parts = dict[str, Part]


def build_parts(written: Mapping[str, WrittenPart], node: Node, desk: Desk) -> tuple[Parts, Lugs]:
    """All parts of one list, and the lugs of each (None where faults leave them unknown).

    Args:
        written: name → part as read.
        node: the mapping they stand in.
        desk: has the controls, receives the faults.
    """
    parts: Parts = {}
    lugs: Lugs = {}
    if not isinstance(node, MappingNode):
        return parts, lugs
    for name, one in written.items():
        key = node.keys[name]
        own = node.entries[name]
        common = {
            "name": name,
            "place": desk.report.place(key.line, key.column),
            "between": one.between,
            "note": one.note,
            "where": one.where,
            "label": one.label,
        }
        part, lugs[name] = _build(one, own, common, desk)
        if part is not None:
            parts[name] = part
    return parts, lugs


def _build(
    written: WrittenPart, node: Node, common: Common, desk: Desk
) -> tuple[Part | None, tuple[str, ...] | None]:
    if isinstance(written, WrittenSwitch):
        return build_switch(written, node, common, desk)
    _check(written, node, desk)
    if isinstance(written, WrittenStrip) and not desk.affords(_size(written), common["place"]):
        return None, None
    part = _made(written, common)
    return part, part.terminals


def _size(strip: WrittenStrip) -> int:
    return strip.strip if isinstance(strip.strip, int) else len(strip.strip)


@functools.singledispatch
def _made(written: Any, common: Common) -> Part:
    raise TypeError(f"no kind of part: {type(written)} {common}")


@_made.register
def _(written: WrittenMeter, common: Common) -> Part:
    amps, volts = written.meter
    return Meter(
        **common,
        terminals=("+", "-"),
        full_scale_amps=amps,
        full_scale_volts=volts,
        resistance=written.resistance,
        resistance_tolerance_percent=written.resistance_tolerance,
        accuracy_percent=written.accuracy,
        ac=written.ac,
        zero="centre" if written.zero == "center" else written.zero,
        scales=written.scales,
    )


@_made.register
def _(written: WrittenResistor, common: Common) -> Part:
    return Resistor(
        **common,
        terminals=_TWO,
        pieces=None if written.resistor == "fit" else written.resistor,
        fit_for=written.for_,
        choose=written.choose,
        tolerance_percent=written.tolerance,
        rating_watts=written.rating,
        working_volts=written.working_volts,
    )


@_made.register
def _(written: WrittenPot, common: Common) -> Part:
    return Pot(
        **common,
        terminals=("ccw", "wiper", "cw"),
        ohms=written.pot,
        setting_percent=None if written.setting == "fit" else written.setting,
        fit_for=written.for_,
        tolerance_percent=written.tolerance,
        rating_watts=written.rating,
        turns=written.turns,
    )


@_made.register
def _(written: WrittenCapacitor, common: Common) -> Part:
    return Capacitor(
        **common,
        terminals=_TWO,
        farads=written.capacitor,
        rating_volts=written.rating,
        polarised=written.polarised,
    )


@_made.register
def _(written: WrittenChoke, common: Common) -> Part:
    return Choke(**common, terminals=_TWO, henries=written.choke, resistance=written.resistance)


@_made.register
def _(written: WrittenDiode, common: Common) -> Part:
    kind = written.diode
    return Diode(
        **common,
        terminals=("A", "K"),
        material="silicon" if kind == "silicon" else "germanium" if kind == "germanium" else None,
        forward_volts=kind if isinstance(kind, float) else None,
    )


@_made.register
def _(written: WrittenLamp, common: Common) -> Part:
    return Lamp(**common, terminals=_TWO, rated_volts=written.lamp, rated_amps=written.current)


@_made.register
def _(written: WrittenFuse, common: Common) -> Part:
    return Fuse(
        **common,
        terminals=_TWO,
        rated_amps=written.fuse,
        resistance=written.resistance or 0.0,
        resistance_stated=written.resistance is not None,
    )


@_made.register
def _(written: WrittenStrip, common: Common) -> Part:
    return Strip(**common, terminals=_strip_lugs(written.strip))


def _strip_lugs(written: int | list[str]) -> tuple[str, ...]:
    if isinstance(written, int):
        return tuple(str(number) for number in range(1, written + 1))
    return tuple(dict.fromkeys(written))


def _check(written: WrittenPart, node: Node, desk: Desk) -> None:
    """What one part can have wrong although each of its keys is right."""
    match written:
        case WrittenMeter(meter=(None, _), resistance=0):
            place = desk.place(node, "resistance")
            hint = "give its resistance, or unknown"
            desk.report.fault(place, "a meter for volts cannot have zero resistance", hint)
        case WrittenResistor():
            _check_fit(written.resistor == "fit", written.for_, "resistor", node, desk)
        case WrittenPot():
            _check_fit(written.setting == "fit", written.for_, "setting", node, desk)
        case WrittenStrip():
            if isinstance(written.strip, list):
                check_lugs(written.strip, desk.place(node, "strip"), desk.report)


def _check_fit(fitted: bool, reading: str | None, key: str, node: Node, desk: Desk) -> None:
    if fitted and reading is None:
        hint = "add for: NAME, the reading that must come out right"
        desk.report.fault(desk.place(node, key), "'fit' needs 'for'", hint)
    if reading is not None and not fitted:
        desk.report.fault(desk.key_place(node, "for"), "'for' goes with 'fit'", f"write {key}: fit")
