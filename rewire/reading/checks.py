"""Checks over a whole file: one name for one thing, what lies between, what is to be fitted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rewire.reading.faults import Nearest
from rewire.reading.forms import Read
from rewire.reading.names import Desk, Scope, refuse_look_alikes
from rewire.reading.text import Node
from rewire.records.spec import Part, Place, Pot, Resistor, Strip, Switch, Wiring
from rewire.words.wording import listed, shown


def check_names(read: Read, tree: Node, desk: Desk) -> None:
    """Points, parts that stay and parts of wirings share one stock of names."""
    owner: dict[str, str] = {}
    for name in read.points:
        owner[name] = "a point"
    for name in read.parts:
        if name in owner:
            _refuse_name(name, "a point", desk.key_place(tree, "parts", name), desk)
        owner.setdefault(name, "a part that stays in every wiring")
    for wiring, one in read.wirings.items():
        for name in one.parts:
            if name in owner:
                place = desk.key_place(tree, "wirings", wiring, "parts", name)
                _refuse_name(name, owner[name], place, desk)
    refuse_look_alikes(_all_names(read, tree, desk), "names", desk.report)


def _refuse_name(name: str, owner: str, place: Place, desk: Desk) -> None:
    desk.report.fault(place, f"{shown(name)} is {owner} already", "choose another name")


def _all_names(read: Read, tree: Node, desk: Desk) -> Iterator[tuple[str, Place]]:
    for key, names in (("points", read.points), ("parts", read.parts)):
        for name in names:
            yield name, desk.key_place(tree, key, name)
    for wiring, one in read.wirings.items():
        for name in one.parts:
            yield name, desk.key_place(tree, "wirings", wiring, "parts", name)


def check_between(
    parts: Mapping[str, Part],
    node: Node,
    scope: Scope,
    wirings: Mapping[str, Scope],
    desk: Desk,
) -> None:
    """Whether the places of each ``between`` exist.

    Args:
        parts: the parts to look at.
        node: the mapping they stand in.
        scope: the names known there.
        wirings: for parts that stay: the names of each wiring, where a name may
            also be good if every one of them has it.
        desk: receives the faults.
    """
    for name, part in parts.items():
        if part.between is None:
            continue
        if len(part.terminals) != 2 or isinstance(part, Switch | Strip):
            place = desk.key_place(node, name, "between")
            message = f"'between' is for parts of two terminals; a {part.kind} is none"
            desk.report.fault(place, message, "join its terminals by nets or wires")
            continue
        for index, at in enumerate(part.between):
            if scope.has(at):
                continue
            lacking = [said for said, one in wirings.items() if not one.has(at)]
            if wirings and not lacking:
                continue
            place = desk.place(node, name, "between", index)
            if not wirings or len(lacking) == len(wirings):
                scope.check(at, place, desk.report)
            else:
                message = (
                    f"{shown(name)} stays in every wiring, but {lacking[0]} has no {shown(at)}"
                )
                desk.report.fault(place, message, "name what every wiring has")


def notice_unreached(
    read: Read,
    tree: Node,
    top: Mapping[str, Part],
    wirings: Mapping[str, Wiring],
    desk: Desk,
) -> None:
    """Note the points that no wire, net or part reaches in any wiring: one may be forgotten."""
    reached = {end for part in top.values() for end in part.between or ()}
    for wiring in wirings.values():
        reached.update(end for wire in (*wiring.wires, *wiring.cut_wires) for end in wire.ends)
        reached.update(member for net in wiring.nets for member in net.members)
        reached.update(end for part in wiring.parts.values() for end in part.between or ())
    lost = [n for n, one in read.points.items() if n not in reached and one.chassis == "no"]
    if lost and any(wiring.wires or wiring.nets for wiring in wirings.values()):
        said = f"no wire or part of any wiring reaches {listed(lost)}: is one forgotten?"
        desk.report.notice(desk.key_place(tree, "points", lost[0]), said)


def check_fits(
    top: Mapping[str, Part], top_node: Node, wiring: Wiring, own_node: Node, desk: Desk
) -> None:
    """Whether each value left open names a reading, and one that no other value names."""
    first: dict[str, str] = {}
    for parts, node in ((top, top_node), (wiring.parts, own_node)):
        for name, part in parts.items():
            if not isinstance(part, Resistor | Pot) or part.fit_for is None:
                continue
            place = desk.place(node, name, "for")
            reading = part.fit_for
            known = wiring.readings
            if reading not in known:
                if not _is_cut(reading, wiring.name, desk):
                    message = f"for: no reading {shown(reading)}"
                    desk.report.fault(place, message, Nearest(reading, known))
            elif first.setdefault(reading, name) != name:
                message = f"{shown(first[reading])} is to be fitted for {shown(reading)} already"
                desk.report.fault(place, message, "one value can be fitted for one reading")


def _is_cut(reading: str, wiring: str, desk: Desk) -> bool:
    own = desk.is_broken("wirings", wiring, "readings", reading)
    return own or desk.is_broken("readings", reading)
