"""Readings and rules: what the meter must show, and what must hold whatever the original did."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from rewire.spec import quantity
from rewire.spec.forms import Read
from rewire.spec.model import Meter, Part, Place, Reading, Rule
from rewire.spec.names import Desk, Scope, check_when
from rewire.spec.quantity import BadQuantity
from rewire.spec.report import Hint, Nearest, listed, shown
from rewire.spec.text import Node, child

_UNITS = {"current": quantity.AMPS, "voltage": quantity.VOLTS}


def build_readings(
    read: Mapping[str, Read],
    node: Node,
    scope: Scope,
    parts: Mapping[str, Part],
    desk: Desk,
) -> dict[str, Reading]:
    """The readings of a file or of a wiring.

    Args:
        read: name → what is written of it.
        node: the mapping they stand in.
        scope: the places that can be named.
        parts: the parts of the original, among them its meters.
        desk: has the controls, receives the faults.
    """
    meters = [name for name, part in parts.items() if isinstance(part, Meter)]
    readings = {}
    for name, one in read.items():
        _check_meter(one, name, meters, node, scope, desk)
        for index, drive in enumerate(one.also):
            _check_places(drive.places, child(one.node, "also", index, "current"), scope, desk)
        readings[name] = _reading(name, one, desk.key_place(node, name), scope, desk)
    return readings


def _reading(name: str, one: Read, place: Place, scope: Scope, desk: Desk) -> Reading:
    node = one.node
    kind: Literal["current", "voltage"] = "current" if one.current else "voltage"
    places = one.current or one.voltage or ("", "")
    _check_places(places, child(node, kind), scope, desk)
    return Reading(
        name=name,
        when=check_when(one.when, child(node, "when"), desk),
        quantity=kind,
        places=places,
        full_scale=_full_scale(one, kind, desk),
        source_resistance=one.source_resistance,
        ac=one.ac,
        meter=one.meter,
        scale=one.scale,
        also=one.also,
        marks=_marks(one, kind, desk),
        place=place,
        accept_percent=one.accept,
    )


def _check_places(places: tuple[str, ...], node: Node, scope: Scope, desk: Desk) -> None:
    for index, name in enumerate(places):
        if not scope.has(name):
            scope.check(name, desk.place(node, index), desk.report)


def _full_scale(one: Read, kind: str, desk: Desk) -> float:
    amps, volts = one.full_scale
    value: float | None = amps if kind == "current" else volts
    if value is not None:
        return value
    measure = _UNITS[kind]
    message = f"full_scale: {measure.noun} is needed, for this is a reading of {kind}"
    desk.report.fault(desk.place(one.node, "full_scale"), message, f"such as {measure.example}")
    return 1.0


def _marks(one: Read, kind: str, desk: Desk) -> tuple[tuple[float, str], ...]:
    marks = []
    for written, text in one.marks.items():
        try:
            marks.append((quantity.read(written, _UNITS[kind]), text))
        except BadQuantity as error:
            place = desk.key_place(one.node, "marks", written)
            desk.report.fault(place, f"marks: {error.message}", error.hint)
    return tuple(marks)


def _check_meter(
    one: Read, name: str, meters: list[str], node: Node, scope: Scope, desk: Desk
) -> None:
    unsure = any(stock.vague or None in stock.lugs.values() for stock in scope.stocks)
    if one.meter is None:
        if len(meters) != 1 and not unsure:
            hint = f"one of {listed(meters)}" if meters else "add it to the original's parts"
            has = "several meters; say which by 'meter'" if meters else "no meter"
            message = f"reading {shown(name)}: the original has {has}"
            desk.report.fault(desk.key_place(node, name), message, hint)
        return
    if one.meter in meters or scope.has_unsure(one.meter):
        return
    place = desk.place(node, name, "meter")
    hint_word: Hint = Nearest(one.meter, meters)
    if scope.has_part(one.meter):
        desk.report.fault(place, f"{shown(one.meter)} is no meter of the original", hint_word)
    else:
        desk.report.fault(place, f"no meter {shown(one.meter)} in the original", hint_word)


def build_rules(read: Iterable[Read], scope: Scope, desk: Desk) -> tuple[Rule, ...]:
    """The rules of a file; their places are those of the original."""
    return tuple(_rule(one, scope, desk) for one in read)


def _rule(one: Read, scope: Scope, desk: Desk) -> Rule:
    node = one.node
    kind: Literal["connect", "isolate"] = "connect" if one.connect else "isolate"
    places = one.connect or one.isolate or ("", "")
    _check_places(places, child(node, kind), scope, desk)
    return Rule(
        kind=kind,
        places=places,
        limit=one.within if kind == "connect" else one.beyond,
        while_switching=one.while_switching,
        when=check_when(one.when, child(node, "when"), desk),
        why=one.why,
        place=desk.report.place(node.line, node.column),
    )
