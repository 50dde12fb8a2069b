"""Wirings: first the parts of all, so that every name is known, then what names them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence as Listed
from dataclasses import dataclass

from rewire.reading.build_meant import Original, build_changes, build_readings
from rewire.reading.build_parts import Parts, build_parts, give_roles, refuse_roles
from rewire.reading.checks import check_between
from rewire.reading.faults import Nearest
from rewire.reading.fields import two_in_one
from rewire.reading.forms import Read
from rewire.reading.names import Desk, Scope, Stock, refuse_look_alikes
from rewire.reading.text import Node, Scalar, Sequence, child
from rewire.records.spec import CUT, Net, Reading, Role, Wire, Wiring
from rewire.words.gauge import square_mm
from rewire.words.wording import shown

ORIGINAL = "original"
AS_FOUND = "as-found"


@dataclass(frozen=True, slots=True)
class Begun:
    """A wiring whose parts are known, before anything that names them is looked at."""

    name: str
    read: Read
    parts: Parts
    scope: Scope


def begin_wirings(
    read: Mapping[str, Read], shared: tuple[Stock, ...], desk: Desk
) -> dict[str, Begun]:
    """Every wiring with its parts, the original first.

    Args:
        read: name → what is written of it.
        shared: the points and the parts that stay.
        desk: has the controls, receives the faults.
    """
    begun = {}
    for name in sorted(read, key=lambda name: name != ORIGINAL):
        one = read[name]
        parts, lugs = build_parts(one.parts, child(one.node, "parts"), desk)
        own = desk.stock_of_parts(lugs, "wirings", name, "parts")
        scope = Scope(f"in wiring {shown(name)}", (*shared, own))
        begun[name] = Begun(name, one, parts, scope)
    return begun


def finish_wiring(
    begun: Begun, original: Original, readings: Mapping[str, Reading], desk: Desk
) -> Wiring:
    """A wiring with everything that names its parts.

    Args:
        begun: its parts and names.
        original: what roles, changes and readings refer to.
        readings: of the whole file.
        desk: has the controls, receives the faults.
    """
    read, scope = begun.read, begun.scope
    node = read.node
    check_between(begun.parts, child(node, "parts"), scope, {}, desk)
    either = Scope(scope.said, (*original.scope.stocks, *scope.stocks))
    meters = {**original.top, **original.own} if read.readings else {}
    at_readings = child(node, "readings")
    own_readings = build_readings(read.readings, at_readings, either, meters, desk)
    wires = build_wires(read.wires, scope, desk)
    return Wiring(
        name=begun.name,
        parts=_parts_with_roles(begun, original, desk),
        nets=build_nets(read.nets, child(node, "nets"), begun.name, scope, desk),
        wires=tuple(wire for wire in wires if CUT not in wire.ends),
        changes=build_changes(read.changes, original, scope, desk),
        readings={**readings, **own_readings},
        note=read.note,
        place=desk.report.place(node.line, node.column),
        role=_role(begun, desk),
        cut_wires=tuple(wire for wire in wires if CUT in wire.ends),
    )


def _role(begun: Begun, desk: Desk) -> Role | None:
    role: Role | None = begun.read.role
    if begun.name != ORIGINAL:
        return role or ("found" if begun.name == AS_FOUND else "plan")
    if role is not None:
        place = desk.key_place(begun.read.node, "role")
        message = "the original has no role: it is what the others are compared with"
        desk.report.fault(place, message, "take it out")
    return None


def _parts_with_roles(begun: Begun, original: Original, desk: Desk) -> Parts:
    read, node = begun.read, begun.read.node
    at = child(node, "parts")
    if begun.name != ORIGINAL:
        return give_roles(begun.parts, read.parts, at, original, desk)
    refuse_roles(read.parts, at, "there is nothing before the original", desk)
    if read.changes:
        hint = "say it in the wiring that differs"
        place = desk.key_place(node, "changes")
        desk.report.fault(place, "the original differs from nothing", hint)
    return begun.parts


def check_wiring_names(read: Mapping[str, Read], tree: Node, desk: Desk) -> None:
    """Whether there is an original."""
    if desk.is_broken("wirings"):
        return
    names = set(read) | desk.broken_in("wirings")
    place = desk.key_place(tree, "wirings")
    if ORIGINAL not in names:
        hint = Nearest(ORIGINAL, names) if names else None
        desk.report.fault(place, "wirings: 'original' is missing", hint)
    named = ((name, desk.key_place(tree, "wirings", name)) for name in read)
    refuse_look_alikes(named, "wirings", desk.report)


Members = tuple[str, ...]


def build_nets(
    read: Mapping[str, Members] | Listed[Members], node: Node, wiring: str, scope: Scope, desk: Desk
) -> tuple[Net, ...]:
    """The nets of a wiring, named if they stand in a mapping."""
    rows: list[tuple[str | None, Members, Node]]
    if isinstance(read, Mapping):
        rows = [(name, one, child(node, name)) for name, one in read.items()]
        places = [desk.key_place(node, name) for name in read]
    else:
        nodes = desk.kept(node, "wirings", wiring, "nets")
        rows = [(None, one, at) for one, at in zip(read, nodes, strict=bool(read))]
        places = [desk.place(at) for at in nodes]
    for _, members, at in rows:
        for index, member in enumerate(members):
            if not scope.has(member):
                scope.check(member, desk.place(at, index), desk.report)
    return tuple(
        Net(name, tuple(dict.fromkeys(members)), place)
        for (name, members, _), place in zip(rows, places, strict=False)
    )


def build_wires(read: Listed[Read], scope: Scope, desk: Desk) -> tuple[Wire, ...]:
    """The wires of a wiring; those without an id are numbered in order of appearance.

    One end of a wire may be ``cut``.
    """
    taken = _own_ids(read, desk)
    numbers = {letter: _free(letter, taken) for letter in "WJ"}
    wires = []
    for one in read:
        at = one.node
        for end, key in ((one.start, "from"), (one.to, "to")):
            if end == CUT or scope.has(end) or scope.check(end, desk.place(at, key), desk.report):
                continue
            if two_in_one(end):  # what is meant by the other end stands in this one
                break
        if one.start == one.to:
            message = f"both ends of this wire are {shown(one.to)}"
            desk.report.fault(desk.report.place(at.line, at.column), message, "name its other end")
        _check_colour(one, scope, desk)
        _notice_gauge(one, desk)
        jumper = _is_jumper(one.start, one.to)
        wires.append(_wire(one, jumper, one.id or next(numbers["J" if jumper else "W"]), desk))
    _notice_twice(wires, desk)
    return tuple(wires)


def _notice_twice(wires: list[Wire], desk: Desk) -> None:
    first: dict[frozenset[str], Wire] = {}
    for wire in wires:
        other = first.setdefault(frozenset(wire.ends), wire)
        if other is not wire and CUT not in wire.ends:
            said = f"{wire.id} joins {wire.ends[0]} and {wire.ends[1]}, and so does {other.id}"
            desk.report.notice(wire.place, f"{said} in line {other.place.line}: is one too many?")


def _check_colour(one: Read, scope: Scope, desk: Desk) -> None:
    """A third item that is a colour and a point as well says nothing for certain."""
    node = one.node
    if not isinstance(node, Sequence) or one.colour is None or len(node.items) < 3:
        return
    third = node.items[2]
    if isinstance(third, Scalar) and scope.has(third.text):
        message = f"{shown(third.text)} is a point of this spec and a colour as well"
        ends = f"from: {one.start}, to: {one.to}"
        hint = f"write two wires if the point is meant, else {{{ends}, colour: {third.text}}}"
        desk.report.fault(desk.report.place(third.line, third.column), message, hint)


def _wire(one: Read, jumper: bool, number: str, desk: Desk) -> Wire:
    own = {key: value for key, value in one.values.items() if key not in ("start", "to", "id")}
    ends = (one.start, one.to)
    return Wire(id=number, ends=ends, jumper=jumper, place=desk.place(one.node), **own)


def _notice_gauge(one: Read, desk: Desk) -> None:
    if one.gauge is None or one.length_metres is None or square_mm(one.gauge) is not None:
        return
    message = (
        f"gauge {shown(one.gauge)} gives no cross-section: the resistance of this wire is not "
        "counted; write 0.5 mm2, 7/0.2 mm, 0.8 mm or 22 AWG"
    )
    desk.report.notice(desk.place(one.node, "gauge"), message)


def _is_jumper(one: str, other: str) -> bool:
    part, dot, _ = one.partition(".")
    return bool(dot) and other.startswith(f"{part}.")


def _own_ids(read: Listed[Read], desk: Desk) -> set[str]:
    seen: dict[str, str] = {}
    for one in read:
        if one.id is None:
            continue
        known = seen.get(one.id.casefold())
        if known is not None:
            message = f"another wire has the id {shown(known)} already"
            desk.report.fault(
                desk.place(one.node, "id"), message, "choose another, or leave it out"
            )
        seen[one.id.casefold()] = one.id
    return set(seen.values())


def _free(letter: str, taken: set[str]) -> Iterator[str]:
    number = 0
    while True:
        number += 1
        if f"{letter}{number}" not in taken:
            yield f"{letter}{number}"
