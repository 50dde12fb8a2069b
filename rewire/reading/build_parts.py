"""The parts of a wiring: what one can have wrong, and which of the original it stands for."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

from rewire.reading.build_meant import Original
from rewire.reading.build_switch import Common, build_switch
from rewire.reading.faults import Nearest
from rewire.reading.forms import Read
from rewire.reading.names import Desk, Lugs, check_lugs
from rewire.reading.parts import PartForm
from rewire.reading.text import Mapping as MappingNode, Node, Scalar, child
from rewire.records.spec import Meter, Part, Place, Pot, Resistor, Strip, Switch
from rewire.words.wording import shown

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


Claims = dict[str, tuple[str, Place]]
"""Terminal of the original → who claims it, and where that is written."""


def give_roles(
    parts: dict[str, Part],
    read: Mapping[str, Read],
    node: Node,
    original: Original,
    desk: Desk,
) -> dict[str, Part]:
    """The parts of a wiring with ``replaces`` written out lug by lug.

    Args:
        parts: the wiring's own parts.
        read: what is written of them, with ``replaces`` as typed.
        node: the mapping they stand in.
        original: whose terminals can be claimed.
        desk: receives the faults.
    """
    _check_circles(read, node, original, desk)
    claims: Claims = {}
    result: dict[str, Part] = {}
    for name, part in parts.items():
        _check_kind(part, original, desk)
        replaces = read[name].replaces
        if replaces is None:
            _claim_by_name(part, original, claims, desk)
            result[name] = part
            continue
        at = child(node, name, "replaces")
        roles = _roles(part, replaces, desk.key_place(node, name, "replaces"), at, original, desk)
        for lug, target in roles.items():
            _claim(target, part.name, desk.place(at, lug), claims, desk)
        result[name] = dataclasses.replace(part, replaces=roles)
    return result


def refuse_roles(read: Mapping[str, Read], node: Node, said: str, desk: Desk) -> None:
    """Fault every ``replaces`` where nothing can be replaced."""
    for name, one in read.items():
        if one.replaces is not None:
            place = desk.key_place(node, name, "replaces")
            desk.report.fault(place, f"'replaces' has no sense here: {said}", "take it out")


def _check_kind(part: Part, original: Original, desk: Desk) -> None:
    before = original.own.get(part.name)
    if before is None or before.kind == part.kind:
        return
    if isinstance(before, Switch | Strip) and isinstance(part, Switch | Strip):
        return
    message = f"{shown(part.name)} is a {part.kind} here and a {before.kind} in the original"
    desk.report.fault(part.place, message, "one reference is one role: choose another name")


def _claim_by_name(part: Part, original: Original, claims: Claims, desk: Desk) -> None:
    before = original.own.get(part.name)
    if before is None or before.kind != part.kind or isinstance(part, Switch | Strip):
        return
    for lug in part.terminals:
        _claim(part.terminal(lug), part.name, part.place, claims, desk)


def _claim(target: str, who: str, place: Place, claims: Claims, desk: Desk) -> None:
    known = claims.setdefault(target, (who, place))
    if known == (who, place):
        return
    message = f"{shown(target)} is claimed twice: by {known[0]} and by {who}"
    desk.report.fault(place, message, f"{known[0]} claims it in line {known[1].line}")


def _roles(
    part: Part,
    replaces: str | dict[str, str],
    place: Place,
    node: Node,
    original: Original,
    desk: Desk,
) -> dict[str, str]:
    if isinstance(part, Switch | Strip):
        desk.report.fault(place, f"a {part.kind} has no role to replace", "take 'replaces' out")
        return {}
    if isinstance(replaces, str):
        return _whole(part, replaces, desk.place(node), original, desk)
    roles = {}
    for lug, target in replaces.items():
        if lug not in part.terminals:
            message = f"{shown(part.name)} has no lug {shown(lug)}"
            desk.report.fault(desk.key_place(node, lug), message, Nearest(lug, part.terminals))
        elif _can_be_claimed(target, desk.place(node, lug), original, desk):
            roles[lug] = target
    return roles


def _whole(part: Part, target: str, place: Place, original: Original, desk: Desk) -> dict[str, str]:
    if target in original.top:
        _refuse_top(target, place, desk)
        return {}
    before = original.own.get(target)
    if before is None:
        scope = original.scope
        if "." in target and scope.has(target):
            hint = f"name the part, or write {{{part.terminals[0]}: {target}}}"
            desk.report.fault(place, f"{shown(target)} is a terminal, not a part", hint)
        elif not scope.has_part(target) and not scope.vague:
            message = f"no part {shown(target)} in the original"
            desk.report.fault(place, message, Nearest(target, original.own))
        return {}
    if before.kind != part.kind:
        message = f"{part.name} is a {part.kind} and cannot replace a whole {before.kind}"
        hint = f"go terminal by terminal: {{{part.terminals[0]}: {target}.{before.terminals[0]}}}"
        desk.report.fault(place, message, hint)
        return {}
    return {lug: before.terminal(lug) for lug in part.terminals}


def _can_be_claimed(target: str, place: Place, original: Original, desk: Desk) -> bool:
    name = target.partition(".")[0]
    if name in original.top:
        _refuse_top(name, place, desk)
        return False
    if "." not in target and original.scope.has(target):
        desk.report.fault(place, f"{shown(target)} is a point, not a terminal of a part")
        return False
    if not original.scope.check(target, place, desk.report):
        return False
    before = original.own.get(name)
    if isinstance(before, Switch | Strip):
        message = f"{shown(target)} is a lug of a {before.kind}, which has no role"
        desk.report.fault(place, message, "name a terminal of another kind of part")
        return False
    return before is not None


def _refuse_top(name: str, place: Place, desk: Desk) -> None:
    message = f"{shown(name)} stays in every wiring and cannot be replaced"
    desk.report.fault(place, message, "list it under the original's parts instead")


def _check_circles(read: Mapping[str, Read], node: Node, original: Original, desk: Desk) -> None:
    """A chain of parts each under the name of one that the next replaces must have an end."""
    after = {name: _targets(name, one) for name, one in read.items()}
    names = {name for name in after if name in original.own}
    done: set[str] = set()
    for start in after:
        circle = _circle_from(start, after, names, done)
        if circle:
            place = desk.key_place(node, circle[0], "replaces")
            way = " replaces ".join([*circle, circle[0]])
            desk.report.fault(
                place, f"a circle: {way}", "a part under its old name needs no 'replaces'"
            )


def _targets(name: str, one: Read) -> list[str]:
    if one.replaces is None:
        return []
    if isinstance(one.replaces, str):
        return [one.replaces]
    parts = dict.fromkeys(target.partition(".")[0] for target in one.replaces.values())
    return [part for part in parts if part != name]


def _circle_from(
    start: str, after: dict[str, list[str]], names: set[str], done: set[str]
) -> list[str]:
    """Parts of a circle that can be reached from a part and were not looked at before."""
    way: dict[str, None] = {}
    stack = [(start, False)]
    while stack:
        name, left = stack.pop()
        if left:
            del way[name]
            continue
        if name in way:
            return list(way)[list(way).index(name) :]
        if name in done:
            continue
        done.add(name)
        way[name] = None
        stack.append((name, True))
        stack.extend((other, False) for other in after.get(name, ()) if other in names)
    return []
