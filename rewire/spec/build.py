"""From a file of the right shape to the checked model: every name is looked up here."""

from __future__ import annotations

from collections.abc import Mapping

from rewire.spec.build_changes import Original
from rewire.spec.build_parts import Parts, build_parts
from rewire.spec.build_places import build_controls, build_never, build_points
from rewire.spec.build_readings import build_readings, build_rules
from rewire.spec.build_wirings import (
    ORIGINAL,
    Begun,
    begin_wirings,
    check_wiring_names,
    finish_wiring,
)
from rewire.spec.checks import check_between, check_fits, check_names, notice_unreached
from rewire.spec.doubts import notice_doubts
from rewire.spec.forms import Read
from rewire.spec.model import Spec, Wiring
from rewire.spec.names import Desk, Scope, Stock, refuse_look_alikes
from rewire.spec.papers import papers
from rewire.spec.roles import refuse_roles
from rewire.spec.text import Mapping as MappingNode
from rewire.spec.text import Node, child


def build(read: Read, tree: MappingNode, desk: Desk, digest: str) -> Spec:
    """The checked model; good only if the report has no faults afterwards.

    Args:
        read: what is written in the file; what was malformed is not in it.
        tree: the same with its places.
        desk: receives the faults.
        digest: of the file's bytes.
    """
    report = desk.report
    desk.controls = build_controls(read, tree, desk)
    points = build_points(read, tree, desk)
    top, lugs = build_parts(read.parts, child(tree, "parts"), desk)
    shared = (desk.stock_of_points(points), desk.stock_of_parts(lugs, "parts"))
    begun = begin_wirings(read.wirings, shared, desk)
    original = _original(begun.get(ORIGINAL), top, shared)
    at = child(tree, "readings")
    everything = {**top, **original.own}
    readings = build_readings(read.readings, at, original.scope, everything, desk)
    wirings = {name: finish_wiring(one, original, readings, desk) for name, one in begun.items()}
    _check_whole(read, tree, begun, wirings, top, shared, desk)
    named = {*points, *read.parts, *(p for one in read.wirings.values() for p in one.parts)}
    notice_doubts(tree, report)
    return Spec(
        file=report.file,
        controls=desk.controls,
        never=build_never(read, tree, desk),
        points=points,
        parts=top,
        readings=readings,
        rules=build_rules(read.rules, original.scope, desk),
        wirings=wirings,
        digest=digest,
        notices=tuple(
            sorted(report.notices, key=lambda note: (note.place.line, note.place.column))
        ),
        **papers(read, named, desk),
    )


def _original(first: Begun | None, top: Parts, shared: tuple[Stock, ...]) -> Original:
    if first is None:
        return Original(Scope("", (*shared, Stock(vague=True))), top, {})
    return Original(first.scope, top, first.parts)


def _check_whole(
    read: Read,
    tree: Node,
    begun: Mapping[str, Begun],
    wirings: Mapping[str, Wiring],
    top: Parts,
    shared: tuple[Stock, ...],
    desk: Desk,
) -> None:
    check_wiring_names(read.wirings, tree, desk)
    check_names(read, tree, desk)
    at = child(tree, "parts")
    scopes = {name: one.scope for name, one in begun.items()}
    check_between(top, at, Scope("among the parts that stay", shared), scopes, desk)
    refuse_roles(read.parts, at, "the part stays in every wiring", desk)
    readings = ((n, desk.key_place(tree, "readings", n)) for n in read.readings)
    refuse_look_alikes(readings, "readings", desk.report)
    notice_unreached(read, tree, top, wirings, desk)
    for name, wiring in wirings.items():
        check_fits(top, at, wiring, child(begun[name].read.node, "parts"), desk)
