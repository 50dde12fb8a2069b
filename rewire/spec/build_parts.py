"""From a part as read to the part that the other layers see."""

from __future__ import annotations

from collections.abc import Mapping

from rewire.spec.build_switch import Common, build_switch
from rewire.spec.forms import Read
from rewire.spec.model import Meter, Part, Place, Pot, Resistor, Strip, Switch
from rewire.spec.names import Desk, Lugs, check_lugs
from rewire.spec.parts import PartForm
from rewire.spec.text import Mapping as MappingNode
from rewire.spec.text import Node, Scalar

Parts = dict[str, Part]


def build_parts(read: Mapping[str, Read], node: Node, desk: Desk) -> tuple[Parts, Lugs]:
    """All parts of one list, and the lugs of each (None where faults leave them unknown).

    Args:
        read: name → part.
        node: the mapping they stand in.
        desk: has the controls, receives the faults.
    """
    parts: Parts = {}
    lugs: Lugs = {}
    for name, one in read.items():
        part, lugs[name] = _build(name, one, desk.key_place(node, name), desk)
        if part is not None:
            parts[name] = part
    return parts, lugs


def _build(
    name: str, one: Read, place: Place, desk: Desk
) -> tuple[Part | None, tuple[str, ...] | None]:
    common = {"name": name, "place": place}
    form = one.form
    assert isinstance(form, PartForm)
    if form.record is Switch:
        return build_switch(one, common, desk)
    _check(form.record, one, desk)
    if form.record is Strip:
        strip = _strip(one, common, desk)
        return strip, strip.terminals if strip else None
    # Which part it stands for is judged when all parts are known.
    part = form.record(terminals=form.terminals, **{**one.values, "replaces": None, **common})
    return part, part.terminals


def _strip(one: Read, common: Common, desk: Desk) -> Strip | None:
    own = {key: one.values[key] for key in ("between", "note", "where", "label")}
    if isinstance(one.lugs, int):
        if not desk.affords(one.lugs, common["place"]):
            return None
        return Strip(terminals=tuple(map(str, range(1, one.lugs + 1))), **own, **common)
    check_lugs(one.lugs, desk.place(one.node, "strip"), desk.report)
    if not desk.affords(len(one.lugs), common["place"]):
        return None
    return Strip(terminals=tuple(dict.fromkeys(one.lugs)), **own, **common)


def _check(record: type[Part], one: Read, desk: Desk) -> None:
    """What one part can have wrong although each of its keys is right."""
    if record is Meter and one.full_scale_amps is None and one.resistance == 0:
        place = desk.place(one.node, "resistance")
        hint = "give its resistance, or unknown"
        desk.report.fault(place, "a meter for volts cannot have zero resistance", hint)
    elif record is Resistor:
        _check_fit(one.pieces is None, "resistor", one, desk)
    elif record is Pot:
        _check_fit(_says_fit(one.node), "setting", one, desk)


def _says_fit(pot: Node) -> bool:
    setting = pot.entries.get("setting") if isinstance(pot, MappingNode) else None
    return isinstance(setting, Scalar) and setting.text.strip() == "fit"


def _check_fit(fitted: bool, key: str, one: Read, desk: Desk) -> None:
    if fitted and one.fit_for is None:
        hint = "add for: NAME, the reading that must come out right"
        desk.report.fault(desk.place(one.node, key), "'fit' needs 'for'", hint)
    if one.fit_for is not None and not fitted:
        place = desk.key_place(one.node, "for")
        desk.report.fault(place, "'for' goes with 'fit'", f"write {key}: fit")
