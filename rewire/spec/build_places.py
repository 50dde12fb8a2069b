"""Controls, the states that cannot occur, and points: what parts and readings refer to."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as Listed

from rewire.spec.forms import Read
from rewire.spec.model import CUT, Control, Place, Point
from rewire.spec.names import Desk, check_control, check_position, refuse_look_alikes
from rewire.spec.text import Node, child

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
