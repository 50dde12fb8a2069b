"""From a wiring as written to its nets and wires."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from collections.abc import Sequence as Listed

from rewire.spec.fields import two_in_one
from rewire.spec.forms import Read
from rewire.spec.gauge import square_mm
from rewire.spec.model import CUT, Net, Wire
from rewire.spec.names import Desk, Scope
from rewire.spec.report import shown
from rewire.spec.text import Node, Scalar, Sequence, child

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
    return Wire(
        id=number,
        ends=(one.start, one.to),
        jumper=jumper,
        colour=one.colour,
        gauge=one.gauge,
        insulation_volts=one.insulation,
        twisted_with=one.twisted_with,
        screened=one.screened,
        length_metres=one.length,
        note=one.note,
        place=desk.place(one.node),
    )


def _notice_gauge(one: Read, desk: Desk) -> None:
    if one.gauge is None or one.length is None or square_mm(one.gauge) is not None:
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
