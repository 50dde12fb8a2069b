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
from rewire.spec.model import Spec, Wiring
from rewire.spec.names import Desk, Scope, Stock, refuse_look_alikes
from rewire.spec.papers import papers
from rewire.spec.report import Report
from rewire.spec.roles import refuse_roles
from rewire.spec.shape import Shaped, child
from rewire.spec.text import Node
from rewire.spec.written import WrittenSpec


def build(shaped: Shaped, report: Report, digest: str) -> Spec:
    """The checked model; good only if the report has no faults afterwards.

    Args:
        shaped: what is left of the file after malformed values were cut out.
        report: receives the faults.
        digest: of the file's bytes.
    """
    written, tree = shaped.spec, shaped.tree
    desk = Desk(report, shaped.broken)
    desk.controls = build_controls(written, tree, desk)
    points = build_points(written, tree, desk)
    top, lugs = build_parts(written.parts, child(tree, "parts"), desk)
    shared = (desk.stock_of_points(points), desk.stock_of_parts(lugs, "parts"))
    begun = begin_wirings(written, tree, shared, desk)
    original = _original(begun.get(ORIGINAL), top, shared)
    at = child(tree, "readings")
    everything = {**top, **original.own}
    readings = build_readings(written.readings, at, original.scope, everything, desk)
    wirings = {name: finish_wiring(one, original, readings, desk) for name, one in begun.items()}
    _check_whole(written, tree, begun, wirings, top, shared, desk)
    named = {*points, *written.parts, *(p for one in written.wirings.values() for p in one.parts)}
    notice_doubts(tree, report)
    return Spec(
        file=report.file,
        controls=desk.controls,
        never=build_never(written, tree, desk),
        points=points,
        parts=top,
        readings=readings,
        rules=build_rules(written.rules, child(tree, "rules"), original.scope, desk),
        wirings=wirings,
        digest=digest,
        notices=tuple(
            sorted(report.notices, key=lambda note: (note.place.line, note.place.column))
        ),
        **papers(written, tree, named, desk),
    )


def _original(first: Begun | None, top: Parts, shared: tuple[Stock, ...]) -> Original:
    if first is None:
        return Original(Scope("", (*shared, Stock(vague=True))), top, {})
    return Original(first.scope, top, first.parts)


def _check_whole(
    written: WrittenSpec,
    tree: Node,
    begun: Mapping[str, Begun],
    wirings: Mapping[str, Wiring],
    top: Parts,
    shared: tuple[Stock, ...],
    desk: Desk,
) -> None:
    check_wiring_names(written, tree, desk)
    check_names(written, tree, desk)
    at = child(tree, "parts")
    scopes = {name: one.scope for name, one in begun.items()}
    check_between(top, at, Scope("among the parts that stay", shared), scopes, desk)
    refuse_roles(written.parts, at, "the part stays in every wiring", desk)
    readings = ((n, desk.key_place(tree, "readings", n)) for n in written.readings)
    refuse_look_alikes(readings, "readings", desk.report)
    notice_unreached(written, tree, top, wirings, desk)
    for name, wiring in wirings.items():
        check_fits(top, at, wiring, child(begun[name].node, "parts"), desk)
