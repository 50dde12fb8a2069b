"""From a file of the right shape to the checked model: every name is looked up here."""

from __future__ import annotations

from dataclasses import dataclass

from rewire.spec.build_changes import Original, build_changes
from rewire.spec.build_parts import Lugs, Parts, build_parts
from rewire.spec.build_readings import build_readings, build_rules
from rewire.spec.build_wiring import build_nets, build_wires
from rewire.spec.checks import check_between, check_fits, check_names
from rewire.spec.model import Control, Point, Reading, Spec, Wiring
from rewire.spec.names import Desk, Scope, check_control, check_position, refuse_look_alikes
from rewire.spec.papers import papers
from rewire.spec.report import Nearest, Report
from rewire.spec.roles import give_roles, refuse_roles
from rewire.spec.shape import Shaped, child
from rewire.spec.text import Node
from rewire.spec.written import WrittenSpec
from rewire.spec.written_wirings import WrittenWiring

ORIGINAL = "original"


@dataclass(frozen=True, slots=True)
class _Begun:
    """A wiring whose parts are known, before anything that names them is looked at."""

    written: WrittenWiring
    node: Node
    parts: Parts
    scope: Scope


def build(shaped: Shaped, report: Report, digest: str) -> Spec:
    """The checked model; good only if the report has no faults afterwards.

    Args:
        shaped: what is left of the file after malformed values were cut out.
        report: receives the faults.
        digest: of the file's bytes.
    """
    written, tree = shaped.spec, shaped.tree
    desk = Desk(report, shaped.broken)
    desk.controls = _controls(written, tree, desk)
    points = _points(written, tree, desk)
    top, top_lugs = build_parts(written.parts, child(tree, "parts"), desk)
    stays = _scope("among the parts that stay", points, top_lugs, desk)
    begun = _begin(written, tree, points, top_lugs, desk)
    _check_wirings(written, tree, desk)
    first = begun.get(ORIGINAL)
    original = _original(first, top, stays)
    everything = {**top, **original.own}
    readings = build_readings(
        written.readings, child(tree, "readings"), original.scope, everything, desk
    )
    wirings = {
        name: _wiring(name, one, original, everything, readings, desk)
        for name, one in begun.items()
    }
    check_names(written, tree, desk)
    check_between(top, child(tree, "parts"), stays, {n: b.scope for n, b in begun.items()}, desk)
    refuse_roles(written.parts, child(tree, "parts"), "the part stays in every wiring", desk)
    if first is not None:
        at = child(first.node, "parts")
        refuse_roles(first.written.parts, at, "there is nothing before the original", desk)
    refuse_look_alikes(
        ((n, desk.key_place(tree, "readings", n)) for n in readings), "readings", report
    )
    for wiring in wirings.values():
        check_fits(top, child(tree, "parts"), wiring, child(begun[wiring.name].node, "parts"), desk)
    known = {*stays.points, *stays.lugs, *(p for one in begun.values() for p in one.scope.lugs)}
    return Spec(
        file=report.file,
        controls=desk.controls,
        never=_never(written, tree, desk),
        points=points,
        parts=top,
        readings=readings,
        rules=build_rules(written.rules, child(tree, "rules"), original.scope, desk),
        wirings=wirings,
        notices=tuple(report.notices),
        digest=digest,
        **papers(written, tree, known, desk),
    )


def _controls(written: WrittenSpec, tree: Node, desk: Desk) -> dict[str, Control]:
    controls = {}
    for name, one in written.controls.items():
        place = desk.key_place(tree, "controls", name)
        controls[name] = Control(
            name, one.positions, one.wraps, one.moves == "any", one.note, place
        )
        refuse_look_alikes(((p, place) for p in one.positions), "positions", desk.report)
    named = ((name, control.place) for name, control in controls.items())
    refuse_look_alikes(named, "controls", desk.report)
    return controls


def _never(written: WrittenSpec, tree: Node, desk: Desk) -> tuple[dict[str, str], ...]:
    for index, state in enumerate(written.never):
        at = child(tree, "never", index)
        for control, position in state.items():
            if check_control(control, desk.key_place(at, control), desk):
                check_position(control, position, desk.place(at, control), desk)
    return tuple(written.never)


def _points(written: WrittenSpec, tree: Node, desk: Desk) -> dict[str, Point]:
    points = {}
    chassis = None
    for name, one in written.points.items():
        place = desk.key_place(tree, "points", name)
        if one.chassis != "no" and chassis is not None:
            message = f"a second chassis; {chassis} is it already"
            desk.report.fault(place, message, "at most one point is the chassis")
        chassis = name if one.chassis != "no" else chassis
        points[name] = Point(
            name=name,
            chassis=one.chassis != "no",
            live=one.chassis == "live",
            volts=one.volts,
            ac=one.ac,
            rises_to=one.rises_to,
            source_resistance=one.source_resistance,
            note=one.note,
            where=one.where,
            place=place,
        )
    return points


def _scope(said: str, points: dict[str, Point], lugs: Lugs, desk: Desk, *path: str) -> Scope:
    """The names of points and parts, with those that were cut out known but not their lugs."""
    cut: Lugs = dict.fromkeys(desk.broken_in("parts") | desk.broken_in(*path, "parts"))
    vague = any(desk.is_broken(*where) for where in (("points",), ("parts",), (*path, "parts")))
    return Scope(said, {*points, *desk.broken_in("points")}, {**cut, **lugs}, vague)


def _begin(
    written: WrittenSpec, tree: Node, points: dict[str, Point], top: Lugs, desk: Desk
) -> dict[str, _Begun]:
    names = sorted(written.wirings, key=lambda name: name != ORIGINAL)
    begun = {}
    for name in names:
        node = child(tree, "wirings", name)
        parts, lugs = build_parts(written.wirings[name].parts, child(node, "parts"), desk)
        said = f"in wiring '{name}'"
        scope = _scope(said, points, {**top, **lugs}, desk, "wirings", name)
        begun[name] = _Begun(written.wirings[name], node, parts, scope)
    return begun


def _original(first: _Begun | None, top: Parts, stays: Scope) -> Original:
    if first is None:
        return Original(Scope("", stays.points, stays.lugs, vague=True), top, {})
    return Original(first.scope, top, first.parts)


def _check_wirings(written: WrittenSpec, tree: Node, desk: Desk) -> None:
    names = set(written.wirings)
    if desk.is_broken("wirings"):
        return
    cut = desk.broken_in("wirings")
    place = desk.key_place(tree, "wirings")
    if ORIGINAL not in names | cut:
        message = "wirings: 'original' is missing"
        desk.report.fault(place, message, Nearest(ORIGINAL, names) if names else None)
    elif len(names | cut) < 2:
        hint = "add the wiring as found or as planned, under any name"
        desk.report.fault(place, "wirings: there is nothing to compare the original with", hint)
    refuse_look_alikes(
        ((name, desk.key_place(tree, "wirings", name)) for name in written.wirings),
        "wirings",
        desk.report,
    )


def _wiring(
    name: str,
    begun: _Begun,
    original: Original,
    everything: Parts,
    readings: dict[str, Reading],
    desk: Desk,
) -> Wiring:
    written, node, scope, parts = begun.written, begun.node, begun.scope, begun.parts
    check_between(parts, child(node, "parts"), scope, {}, desk)
    if name != ORIGINAL:
        parts = give_roles(parts, written.parts, child(node, "parts"), original, desk)
    elif written.changes:
        place = desk.key_place(node, "changes")
        hint = "say it in the wiring that differs"
        desk.report.fault(place, "the original differs from nothing", hint)
    either = (
        Scope(
            scope.said,
            scope.points,
            {**original.scope.lugs, **scope.lugs},
            scope.vague or original.scope.vague,
            set(original.scope.terminals),
        )
        if written.readings
        else scope
    )
    changes = child(node, "changes")
    own = build_readings(written.readings, child(node, "readings"), either, everything, desk)
    return Wiring(
        name=name,
        parts=parts,
        nets=build_nets(written.nets, child(node, "nets"), scope, desk),
        wires=build_wires(written.wires, child(node, "wires"), scope, desk),
        changes=build_changes(written.changes, changes, original, scope, desk),
        readings={**readings, **own},
        note=written.note,
        place=desk.report.place(node.line, node.column),
    )
