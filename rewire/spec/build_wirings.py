"""Wirings: first the parts of all, so that every name is known, then what names them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rewire.spec.build_changes import Original, build_changes
from rewire.spec.build_parts import Parts, build_parts
from rewire.spec.build_readings import build_readings
from rewire.spec.build_wiring import build_nets, build_wires
from rewire.spec.checks import check_between
from rewire.spec.forms import Read
from rewire.spec.model import CUT, Reading, Role, Wiring
from rewire.spec.names import Desk, Scope, Stock, refuse_look_alikes
from rewire.spec.report import Nearest, shown
from rewire.spec.roles import give_roles, refuse_roles
from rewire.spec.text import Node, child

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
