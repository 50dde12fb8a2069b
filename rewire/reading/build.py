"""From what was read of a file to the checked model: every name is looked up here."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence as Listed
from typing import Any

from rewire.reading.build_meant import Original, build_readings, build_rules
from rewire.reading.build_parts import Parts, build_parts, refuse_roles
from rewire.reading.build_wirings import (
    ORIGINAL,
    Begun,
    begin_wirings,
    check_wiring_names,
    finish_wiring,
)
from rewire.reading.checks import check_between, check_fits, check_names, notice_unreached
from rewire.reading.doubts import notice_doubts
from rewire.reading.faults import Nearest
from rewire.reading.forms import Read
from rewire.reading.names import (
    Desk,
    Scope,
    Stock,
    check_control,
    check_position,
    refuse_look_alikes,
)
from rewire.reading.text import Mapping as MappingNode, Node, child
from rewire.records.spec import CUT, Control, Page, PageNote, Place, Point, Spec, Wiring
from rewire.words.wording import shown


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


_MOST_TRIALS = 20_000


def build_controls(read: Read, tree: Node, desk: Desk) -> dict[str, Control]:
    """What the operator moves."""
    controls = {}
    for name, one in read.controls.items():
        place = desk.key_place(tree, "controls", name)
        controls[name] = Control(
            name, one.positions, one.wraps, one.moves == "any", one.note, place
        )
        refuse_look_alikes(((p, place) for p in one.positions), "positions", desk.report)
    named = ((name, control.place) for name, control in controls.items())
    refuse_look_alikes(named, "controls", desk.report)
    return controls


def build_never(read: Read, tree: Node, desk: Desk) -> tuple[dict[str, str], ...]:
    """The states that cannot occur; refused if they leave none."""
    known = True
    nodes = desk.kept(child(tree, "never"), "never")
    for state, at in zip(read.never, nodes, strict=bool(read.never)):
        for control, position in state.items():
            known = (
                check_control(control, desk.key_place(at, control), desk)
                and check_position(control, position, desk.place(at, control), desk)
                and known
            )
    if read.never and known:
        _check_possible(read.never, desk.key_place(tree, "never"), desk)
    return tuple(read.never)


def _check_possible(never: Listed[dict[str, str]], place: Place, desk: Desk) -> None:
    named = {name: desk.controls[name].positions for state in never for name in state}
    if not _can_be({}, never, named):
        message = "never: these rule out every state, so nothing is left to compare"
        desk.report.fault(place, message, "name only what an interlock prevents")
        return
    for name, positions in named.items():
        for position in positions:
            if not _can_be({name: position}, never, named):
                message = f"never: {name} can never stand at {position}, whatever else is set"
                desk.report.notice(place, f"{message}: that position is not looked at")


def _can_be(
    fixed: dict[str, str], never: Listed[dict[str, str]], named: Mapping[str, tuple[str, ...]]
) -> bool:
    """Whether some state with these positions is not ruled out.

    Positions are tried one control after the other, and only where a line of ``never`` still asks
    for one. What is not decided after ``_MOST_TRIALS`` counts as possible: the comparison has
    limits of its own.
    """
    waiting = [(fixed, never)]
    for _ in range(_MOST_TRIALS):
        if not waiting:
            return False
        at, lines = waiting.pop()
        open_lines = [s for s in lines if all(at.get(n, p) == p for n, p in s.items())]
        if not open_lines:
            return True
        control = next((n for n in open_lines[0] if n not in at), None)
        if control is not None:
            waiting += [({**at, control: p}, open_lines) for p in named[control]]
    return True


def build_points(read: Read, tree: Node, desk: Desk) -> dict[str, Point]:
    """The places that no swap changes."""
    points = {}
    chassis = None
    for name, one in read.points.items():
        place = desk.key_place(tree, "points", name)
        if one.chassis != "no" and chassis is not None:
            message = f"a second chassis; {chassis} is it already"
            desk.report.fault(place, message, "at most one point is the chassis")
        if name == CUT:
            message = "a point cannot be called cut: as the end of a wire it means cut off"
            desk.report.fault(place, message, "choose another name")
        chassis = name if one.chassis != "no" else chassis
        kind = {"chassis": one.chassis != "no", "live": one.chassis == "live"}
        points[name] = Point(name=name, place=place, **{**one.values, **kind})
    return points


_AS_READ = ("title", "equipment", "summary", "document", "bench", "cautions", "found", "acceptance")


def papers(read: Read, known: Collection[str], desk: Desk) -> dict[str, Any]:
    """The fields of a spec that are printed as they stand.

    Args:
        read: the file.
        known: every point and part, for notes on scanned pages.
        desk: receives the faults.
    """
    before, after = read.procedure
    pages = tuple(_page(page, known, desk) for page in read.pages)
    own = {key: read.values[key] for key in _AS_READ}
    return {**own, "before": before, "after": after, "pages": pages}


def _page(page: Read, known: Collection[str], desk: Desk) -> Page:
    notes = tuple(_note(note, known, desk) for note in page.notes)
    return Page(page.image, page.title, notes, desk.place(page.node))


def _note(note: Read, known: Collection[str], desk: Desk) -> PageNote:
    if note.about is not None and note.about not in known and not _may_be_cut(note.about, desk):
        message = f"about: no part or point {shown(note.about)}"
        desk.report.fault(desk.place(note.node, "about"), message, Nearest(note.about, known))
    return PageNote(**note.values)


def _may_be_cut(name: str, desk: Desk) -> bool:
    """Whether a part or a point of this name may have been cut out as malformed."""
    return any(
        cut[-1] in (name, "points", "parts", "wirings") or (cut[0] == "wirings" and len(cut) == 2)
        for cut in desk.broken
    )
