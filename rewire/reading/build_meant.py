"""What names places of the original: differences that are meant, readings and rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, cast

from rewire.reading.faults import Hint, Nearest
from rewire.reading.format import CHANGES, OF_PARTS
from rewire.reading.forms import Read
from rewire.reading.names import Desk, Scope, check_when
from rewire.reading.text import Node, child
from rewire.records.spec import Change, ChangeKind, Meter, Part, Place, Reading, Rule, Strip, Switch
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import listed, shown

_ADDED = ("insert", "link")


@dataclass(frozen=True, slots=True)
class Original:
    """What the original has to name."""

    scope: Scope
    top: Mapping[str, Part]
    """Parts that stay in every wiring."""
    own: Mapping[str, Part]
    """Parts of the original only."""

    def part(self, name: str) -> Part | None:
        """A part of the original, staying or not."""
        return self.own.get(name) or self.top.get(name)


def build_changes(
    read: Iterable[Read], original: Original, own: Scope, desk: Desk
) -> tuple[Change, ...]:
    """The differences that are meant.

    Args:
        read: what is written of each.
        original: what can be named as an anchor, removed or reversed.
        own: the names of the wiring that has the changes.
        desk: has the controls, receives the faults.
    """
    return tuple(_change(one, original, own, desk) for one in read)


def _change(one: Read, original: Original, own: Scope, desk: Desk) -> Change:
    node = one.node
    kind = next(key for key in CHANGES if getattr(one, key) is not None)
    value: tuple[str, ...] = getattr(one, kind)
    parts = value if kind in OF_PARTS else ()
    for index, part in enumerate(parts):
        place = desk.place(node, kind, index)
        if kind in _ADDED:
            _check_added(part, place, original, own, desk)
        elif kind == "remove":
            _check_removed(part, place, original, desk)
        else:
            _check_reversed(part, place, original, desk)
    anchor_key = "between" if kind in _ADDED else kind
    anchors = (one.between or ()) if kind in OF_PARTS else value
    for index, anchor in enumerate(anchors):
        check_anchor(anchor, desk.place(node, anchor_key, index), original, desk)
    return Change(
        kind=cast(ChangeKind, kind),
        parts=parts,
        anchors=anchors,
        when=check_when(one.when, child(node, "when"), desk),
        why=one.why,
        reversible=one.reversible,
        place=desk.report.place(node.line, node.column),
    )


def check_anchor(name: str, place: Place, original: Original, desk: Desk) -> None:
    """Whether a name can be an anchor: a point, or a terminal of the original that is no lug."""
    if not original.scope.check(name, place, desk.report):
        return
    part = original.part(name.partition(".")[0])
    if "." in name and isinstance(part, Switch | Strip):
        hint = "name a point, or a terminal of another part, that it is wired to"
        message = f"{shown(name)} is a lug of a {part.kind}, which another wiring need not have"
        desk.report.fault(place, message, hint)


def _check_added(name: str, place: Place, original: Original, own: Scope, desk: Desk) -> None:
    if name in original.top:
        message = f"{shown(name)} stays in every wiring: it is not added here"
        desk.report.fault(place, message)
    elif not own.has_part(name) and not own.vague:
        parts = [part for part in own.parts() if part not in original.top]
        desk.report.fault(place, f"no part {shown(name)} in this wiring", Nearest(name, parts))


def _check_removed(name: str, place: Place, original: Original, desk: Desk) -> None:
    if name in original.top:
        message = f"{shown(name)} stays in every wiring and cannot be removed"
        desk.report.fault(place, message, "list it under the original's parts instead")
        return
    _check_in_original(name, place, original, desk)


def _check_reversed(name: str, place: Place, original: Original, desk: Desk) -> None:
    part = original.part(name)
    if part is not None and (len(part.terminals) != 2 or isinstance(part, Switch | Strip)):
        message = f"{shown(name)} is a {part.kind}: it has no two ends to turn"
        desk.report.fault(place, message)
        return
    _check_in_original(name, place, original, desk)


def _check_in_original(name: str, place: Place, original: Original, desk: Desk) -> None:
    scope = original.scope
    if not scope.has_part(name) and not scope.vague:
        desk.report.fault(
            place, f"no part {shown(name)} in the original", Nearest(name, scope.parts)
        )


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
