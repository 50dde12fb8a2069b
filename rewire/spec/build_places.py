"""Controls, the states that cannot occur, and points: what parts and readings refer to."""

from __future__ import annotations

from rewire.spec.model import CUT, Control, Point
from rewire.spec.names import Desk, check_control, check_position, refuse_look_alikes
from rewire.spec.shape import child
from rewire.spec.text import Node
from rewire.spec.written import WrittenSpec


def build_controls(written: WrittenSpec, tree: Node, desk: Desk) -> dict[str, Control]:
    """What the operator moves."""
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


def build_never(written: WrittenSpec, tree: Node, desk: Desk) -> tuple[dict[str, str], ...]:
    """The states that cannot occur."""
    for index, state in enumerate(written.never):
        at = child(tree, "never", index)
        for control, position in state.items():
            if check_control(control, desk.key_place(at, control), desk):
                check_position(control, position, desk.place(at, control), desk)
    return tuple(written.never)


def build_points(written: WrittenSpec, tree: Node, desk: Desk) -> dict[str, Point]:
    """The places that no swap changes."""
    points = {}
    chassis = None
    for name, one in written.points.items():
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
