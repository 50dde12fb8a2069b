"""Wirings: what names parts and points, once all of them are known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence as Listed
from dataclasses import dataclass, replace
from itertools import count

from rewire.reading.faults import Nearest
from rewire.reading.forms import Read, makes
from rewire.reading.names import Reader, Scope
from rewire.reading.parts import Parts, check_between, give_roles, refuse_roles
from rewire.reading.text import Node, Scalar, Sequence
from rewire.records.keys import two_in_one
from rewire.records.parts import Meter
from rewire.records.spec import (
    CHANGES,
    CUT,
    OF_PARTS,
    Change,
    Reading,
    Role,
    Rule,
    Wire,
    Wiring,
)
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wire import square_mm
from rewire.words.wording import listed, shown

ORIGINAL, AS_FOUND = "original", "as-found"
_ADDED = ("insert", "link")
_MEASURES = {"current": quantity.AMPS, "voltage": quantity.VOLTS}


@dataclass(frozen=True, slots=True)
class Begun:
    """A wiring whose parts are known, before anything that names them is read."""

    name: str
    read: Read
    parts: Parts
    scope: Scope


@makes(Rule)
def _rule(read: Read, reader: Reader) -> Rule:
    connects = read.connect is not None
    return Rule(
        **read.own(
            kind="connect" if connects else "isolate",
            places=read.connect if connects else read.isolate,
            limit=read.within if connects else read.beyond,
            place=reader.place(read.node),
        )
    )


@makes(Reading)
def _reading(read: Read, reader: Reader) -> Reading:
    kind = "current" if read.current else "voltage"
    _check_meter(read, reader)
    amps, volts = read.full_scale
    full_scale = amps if kind == "current" else volts
    if full_scale is None:
        measure = _MEASURES[kind]
        message = f"full_scale: {measure.noun} is needed, for this is a reading of {kind}"
        reader.fault(read.near("full_scale"), message, f"such as {measure.example}")
    return Reading(
        **read.own(
            name=read.name,
            quantity=kind,
            places=read.current or read.voltage,
            full_scale=full_scale or 1.0,
            marks=tuple(_marks(read, kind, reader)),
            place=reader.place(read.head),
        )
    )


def _marks(read: Read, kind: str, reader: Reader) -> Iterator[tuple[float, str]]:
    for written, text in read.marks.items():
        try:
            yield quantity.read(written, _MEASURES[kind]), text
        except BadQuantity as error:
            reader.fault(read.key("marks", written), f"marks: {error.message}", error.hint)


def _check_meter(read: Read, reader: Reader) -> None:
    """A reading is of a meter of the original, by name where it has several."""
    original, scope = reader.original, reader.scope
    parts = {**original.top, **original.own}
    meters = [name for name, part in parts.items() if isinstance(part, Meter)]
    if read.meter is None:
        unsure = any(stock.vague or None in stock.lugs.values() for stock in scope.stocks)
        if len(meters) != 1 and not unsure:
            hint = f"one of {listed(meters)}" if meters else "add it to the original's parts"
            has = "several meters; say which by 'meter'" if meters else "no meter"
            message = f"reading {shown(read.name)}: the original has {has}"
            reader.fault(read.head, message, hint)
    elif read.meter not in meters and not scope.has_unsure(read.meter):
        message = f"no meter {shown(read.meter)} in the original"
        if scope.has_part(read.meter):
            message = f"{shown(read.meter)} is no meter of the original"
        reader.fault(read.near("meter"), message, Nearest(read.meter, meters))


@makes(Change)
def _change(read: Read, reader: Reader) -> Change:
    kind = next(key for key in CHANGES if read.values[key] is not None)
    value: tuple[str, ...] = read.values[kind]
    parts = value if kind in OF_PARTS else ()
    for index, part in enumerate(parts):
        _check_part(kind, part, read.near(kind, index), reader)
    return Change(
        **read.own(
            kind=kind,
            parts=parts,
            anchors=(read.between or ()) if kind in OF_PARTS else value,
            place=reader.place(read.node),
        )
    )


def _check_part(kind: str, name: str, at: Node, reader: Reader) -> None:
    """Whether a part can be inserted, linked, removed or reversed."""
    original, own = reader.original, reader.own
    if kind in _ADDED:
        if name in original.top:
            reader.fault(at, f"{shown(name)} stays in every wiring: it is not added here")
        elif not own.has_part(name) and not own.vague:
            parts = [part for part in own.parts() if part not in original.top]
            reader.fault(at, f"no part {shown(name)} in this wiring", Nearest(name, parts))
        return
    part, scope = original.part(name), original.scope
    if kind == "remove" and name in original.top:
        hint = "list it under the original's parts instead"
        reader.fault(at, f"{shown(name)} stays in every wiring and cannot be removed", hint)
    elif kind == "reverse" and part is not None and not part.two_ended:
        reader.fault(at, f"{shown(name)} is a {part.kind}: it has no two ends to turn")
    elif not scope.has_part(name) and not scope.vague:
        reader.fault(at, f"no part {shown(name)} in the original", Nearest(name, scope.parts))


def finish(begun: Begun, reader: Reader) -> Wiring:
    """A wiring with everything that names its parts."""
    read, scope, original = begun.read, begun.scope, reader.original
    node = read.near("parts")
    check_between(begun.parts, node, scope, {}, reader)
    reader.own, reader.ids = scope, {}
    scopes = {
        "nets": scope,
        "wires": scope,
        "changes": original.scope,
        "readings": Scope(scope.said, (*original.scope.stocks, *scope.stocks)),
    }
    for key in ("nets", "wires", "changes", "readings", "note", "role"):
        reader.scope = scopes.get(key, scope)
        read.by.read(key, read, reader)
    wires = tuple(_numbered(read.wires, reader))
    return Wiring(
        **read.own(
            name=begun.name,
            parts=_with_roles(begun, reader),
            nets=read.nets,
            wires=tuple(wire for wire in wires if CUT not in wire.ends),
            readings={**reader.readings, **read.readings},
            place=reader.place(read.node),
            role=_role(begun, reader),
            cut_wires=tuple(wire for wire in wires if CUT in wire.ends),
        )
    )


def _role(begun: Begun, reader: Reader) -> Role | None:
    role: Role | None = begun.read.role
    if begun.name != ORIGINAL:
        return role or ("found" if begun.name == AS_FOUND else "plan")
    if role is not None:
        message = "the original has no role: it is what the others are compared with"
        reader.fault(begun.read.key("role"), message, "take it out")
    return None


def _with_roles(begun: Begun, reader: Reader) -> Parts:
    node = begun.read.entries.get("parts")
    if begun.name != ORIGINAL:
        return give_roles(begun.parts, node, reader) if node is not None else {}
    refuse_roles(node, "there is nothing before the original", reader)
    if begun.read.changes:
        hint = "say it in the wiring that differs"
        reader.fault(begun.read.key("changes"), "the original differs from nothing", hint)
    return begun.parts


@makes(Wire)
def _wire(read: Read, reader: Reader) -> Wire:
    """A wire, without a number where it has no id; one of its ends may be ``cut``."""
    ends = (read.values["from"], read.to)
    for end, key in zip(ends, ("from", "to"), strict=True):
        if end == CUT or reader.scope.has(end):
            continue
        reader.scope.check(end, reader.place(read.near(key)), reader.report)
        if two_in_one(end):  # what is meant by the other end stands in this one
            break
    if ends[0] == ends[1]:
        message = f"both ends of this wire are {shown(read.to)}"
        reader.fault(read.node, message, "name its other end")
    if read.id is not None and reader.ids.setdefault(read.id.casefold(), read.id) is not read.id:
        message = f"another wire has the id {shown(reader.ids[read.id.casefold()])} already"
        reader.fault(read.near("id"), message, "choose another, or leave it out")
    _check_colour(read, ends, reader)
    _notice_gauge(read, reader)
    part, dot, _ = ends[0].partition(".")
    jumper = bool(dot) and ends[1].startswith(f"{part}.")
    return Wire(**read.own(ends=ends, jumper=jumper, place=reader.place(read.node)))


def _check_colour(read: Read, ends: tuple[str, str], reader: Reader) -> None:
    """A third item that is a colour and a point as well says nothing for certain."""
    items = read.node.items if isinstance(read.node, Sequence) else []
    third = items[2] if len(items) > 2 and read.colour is not None else None
    if isinstance(third, Scalar) and reader.scope.has(third.text):
        message = f"{shown(third.text)} is a point of this spec and a colour as well"
        written = f"{{from: {ends[0]}, to: {ends[1]}, colour: {third.text}}}"
        reader.fault(third, message, f"write two wires if the point is meant, else {written}")


def _notice_gauge(read: Read, reader: Reader) -> None:
    if read.gauge is None or read.length_metres is None:
        return
    if square_mm(read.gauge) is None:
        message = (
            f"gauge {shown(read.gauge)} gives no cross-section: the resistance of this wire is "
            "not counted; write 0.5 mm2, 7/0.2 mm, 0.8 mm or 22 AWG"
        )
        reader.report.notice(reader.place(read.near("gauge")), message)


def _numbered(wires: Listed[Wire], reader: Reader) -> Iterator[Wire]:
    """The wires of a wiring; those without an id are numbered in order of appearance."""
    taken = set(reader.ids.values())
    numbers = {letter: _free(letter, taken) for letter in "WJ"}
    first: dict[frozenset[str], Wire] = {}
    for wire in wires:
        one = wire if wire.id else replace(wire, id=next(numbers["J" if wire.jumper else "W"]))
        other = first.setdefault(frozenset(one.ends), one)
        if other is not one and CUT not in one.ends:
            said = f"{one.id} joins {one.ends[0]} and {one.ends[1]}, and so does {other.id}"
            said += f" in line {other.place.line}: is one too many?"
            reader.report.notice(one.place, said)
        yield one


def _free(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for n in count(1) if (name := f"{letter}{n}") not in taken)
