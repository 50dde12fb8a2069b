"""One switch: its lugs, and what its contacts close in each position of its control."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, TypeVar, cast

from rewire.reading.faults import Nearest
from rewire.reading.fields import two_in_one
from rewire.reading.forms import Read
from rewire.reading.names import Desk, check_control, check_lugs, check_position
from rewire.records.lug_positions import LayoutError, lug_positions
from rewire.records.spec import Control, Place, Section, Switch, SwitchRating, Timing
from rewire.records.switches import (
    Groups,
    default_lugs,
    linked,
    pole_letters,
    read_form,
    sections_of_poles,
    sections_of_table,
)
from rewire.words.wording import shown

_FORMS = ("SPST", "SPDT", "DPST", "DPDT", "3PDT", "4PDT", "SP3T", "2P6T", "3P4T", "table")

_AS_READ = (
    "between", "note", "where", "label", "control", "style", "layout", "contact_resistance",
)  # fmt: skip

Common = dict[str, Any]
Poles = dict[str, list[str]]
_Owner = TypeVar("_Owner", str, int)


def build_switch(
    read: Read, common: Common, desk: Desk
) -> tuple[Switch | None, tuple[str, ...] | None]:
    """A switch and its lugs; either None where faults leave it unknown.

    Args:
        read: its keys.
        common: its name and place.
        desk: has the controls, receives the faults.
    """
    build = _table if read.switch == "table" else _plain
    switch, lugs = build(read, common, desk)
    if switch is not None and switch.layout is not None:
        _check_layout(switch, desk.key_place(read.node, "layout"), desk)
    return switch, lugs


def _check_layout(switch: Switch, place: Place, desk: Desk) -> None:
    """A fault where the layout cannot be; a notice where its throws run against the knob."""
    try:
        against = lug_positions(switch).against_the_knob
    except LayoutError as error:
        desk.report.fault(place, f"layout of {switch.name}: {error}")
        return
    if against:
        throws = "; ".join(", ".join(pole) for pole in against)
        lists = ", ".join(f"[{', '.join([p[0], *p[:0:-1]])}]" for p in switch.poles)
        desk.report.notice(
            place,
            f"{switch.name}: seen from behind, {throws} run clockwise, so against a knob that is "
            f"turned clockwise; if the first position is at the other end, write lugs: [{lists}]; "
            "if the hours were read at the knob, read them from behind",
        )


def _plain(read: Read, common: Common, desk: Desk) -> tuple[Switch | None, tuple[str, ...] | None]:
    form = read_form(read.switch)
    if form is None:
        _refuse_form(read, desk)
        return None, None
    if read.contacts is not None:
        place = desk.key_place(read.node, "contacts")
        hint = "write switch: table, or take the contacts out"
        desk.report.fault(place, f"'contacts' does not go with {read.switch}", hint)
    affordable = desk.affords(form[0] * (form[1] + 1), common["place"])
    poles = _poles(read, form, desk) if affordable else None
    if poles is None:
        return None, None
    lugs = tuple(lug for row in poles.values() for lug in row)
    check_lugs(lugs, desk.place(read.node, "lugs" if read.lugs else "switch"), desk.report)
    timings = _timings_of_poles(read, poles, desk)
    control = _control(read, desk)
    throw_at = _throw_at(read, form[1], control, desk) if control else None
    if throw_at is None or not desk.affords(len(poles) * len(throw_at), common["place"]):
        return None, lugs
    sections = sections_of_poles(poles, throw_at, timings)
    return (
        Switch(
            **common,
            **_further(read),
            terminals=lugs,
            sections=tuple(sections),
            idle_lugs=_idle(lugs, sections),
            throws=form[1],
            throw_at=tuple(throw_at),
            poles=tuple(tuple(row) for row in poles.values()),
        ),
        lugs,
    )


def _table(read: Read, common: Common, desk: Desk) -> tuple[Switch | None, tuple[str, ...] | None]:
    lugs = _table_lugs(read, desk)
    if lugs is None or _lacks_commas(read, desk):
        return None, None
    if read.positions is not None:
        place = desk.key_place(read.node, "positions")
        desk.report.fault(place, "'positions' does not go with a table", "use 'contacts'")
    check_lugs(lugs, desk.place(read.node, "lugs" if read.lugs else "contacts"), desk.report)
    control = _control(read, desk)
    groups = _groups(read, control, desk)
    if groups is None or control is None:
        return None, lugs
    pieces = linked(lugs, groups)
    if not desk.affords(len(lugs) + len(pieces) * len(groups), common["place"]):
        return None, lugs
    timings = _timings_of_table(read, lugs, pieces, desk)
    sections = sections_of_table(pieces, groups, timings)
    return (
        Switch(
            **common,
            **_further(read),
            terminals=lugs,
            sections=tuple(sections),
            idle_lugs=_idle(lugs, sections),
            throws=None,
            throw_at=None,
            poles=(),
        ),
        lugs,
    )


def _further(read: Read) -> Common:
    own = {key: read.values[key] for key in _AS_READ}
    return {**own, "rating": read.rating or SwitchRating(), "form": read.switch}


def _idle(lugs: Sequence[str], sections: Sequence[Section]) -> tuple[str, ...]:
    used = {lug for section in sections for lug in section.lugs}
    return tuple(lug for lug in lugs if lug not in used)


def _refuse_form(read: Read, desk: Desk) -> None:
    form = read.switch
    upper = form.strip().upper()
    hint: Any = Nearest(form, _FORMS)
    if read_form(upper):
        hint = f"write {upper}"
    elif form.strip().lower() == "table":
        hint = "write table"
    elif re.fullmatch(r"([SDTQ]|[0-9]+)P([SDT]|[0-9]+)T", upper):
        hint = "1 to 60 poles and 1 to 60 throws can be"
    desk.report.fault(
        desk.place(read.node, "switch"), f"{shown(form)} is no form of a switch", hint
    )


def _control(read: Read, desk: Desk) -> Control | None:
    if check_control(read.control, desk.place(read.node, "control"), desk):
        return desk.controls[read.control]
    return None


def _poles(read: Read, form: tuple[int, int], desk: Desk) -> Poles | None:
    letters = pole_letters(form[0])
    if read.lugs is None:
        return dict(zip(letters, default_lugs(*form), strict=True))
    place = desk.place(read.node, "lugs")
    rows = _rows(read.lugs, letters)
    size = form[1] + 1
    if rows is None or len(rows) != form[0] or any(len(row) != size for row in rows):
        throws = ", ".join(f"throw {n}" for n in range(1, min(form[1], 3) + 1))
        tail = ", …" if form[1] > 3 else ""
        message = f"{read.switch} has {form[0]} times {size} lugs; other lists are given"
        hint = f"for each pole write [common, {throws}{tail}]"
        desk.report.fault(place, message, hint)
        return None
    return dict(zip(letters, rows, strict=True))


def _rows(lugs: Any, letters: list[str]) -> list[list[str]] | None:
    if isinstance(lugs, dict):
        return [lugs[letter] for letter in letters] if set(lugs) == set(letters) else None
    if all(isinstance(row, list) for row in lugs):
        return cast(list[list[str]], lugs)
    return [lugs]


def _timings_of_poles(read: Read, poles: Poles, desk: Desk) -> dict[str, Timing]:
    if read.timing is None:
        return {}
    if isinstance(read.timing, str):
        return dict.fromkeys(poles, cast(Timing, read.timing))
    owner = {lug: letter for letter, row in poles.items() for lug in row}
    return _by_owner(read, owner, desk)


def _timings_of_table(
    read: Read,
    lugs: Sequence[str],
    pieces: Sequence[Sequence[str]],
    desk: Desk,
) -> dict[int, Timing]:
    if read.timing is None:
        return {}
    if isinstance(read.timing, str):
        return dict.fromkeys(range(len(pieces)), cast(Timing, read.timing))
    owner = {lug: -1 - index for index, lug in enumerate(lugs)}
    owner |= {lug: index for index, piece in enumerate(pieces) for lug in piece}
    return _by_owner(read, owner, desk)


def _by_owner(read: Read, owner: dict[str, _Owner], desk: Desk) -> dict[_Owner, Timing]:
    stated: dict[_Owner, Timing] = {}
    for lug, word in read.timing.items():
        place = desk.key_place(read.node, "timing", lug)
        if lug not in owner:
            desk.report.fault(place, f"timing: there is no lug {shown(lug)}", Nearest(lug, owner))
        elif stated.setdefault(owner[lug], cast(Timing, word)) != word:
            message = f"the section of {shown(lug)} has two timings"
            desk.report.fault(place, message, "name one lug of each section")
    return stated


def _throw_at(read: Read, throws: int, control: Control, desk: Desk) -> list[int | None] | None:
    if read.positions is not None:
        return _stated_throws(read, throws, control, desk)
    positions = len(control.positions)
    place = desk.place(read.node, "switch")
    if throws == 1:
        hint = f"write positions: {{{control.positions[0]}: 1, …: open}}"
        desk.report.fault(place, f"{read.switch} needs 'positions'", hint)
        return None
    if positions > throws:
        message = f"{read.switch} has {throws} throws, {control.name} has {positions} positions"
        hint = "a switch with more throws is needed, or 'positions' must say which are open"
        desk.report.fault(place, message, hint)
        return None
    return list(range(1, positions + 1))


def _stated_throws(
    read: Read, throws: int, control: Control, desk: Desk
) -> list[int | None] | None:
    good = True
    stated: dict[str, int | None] = read.positions
    for position, throw in stated.items():
        key = desk.key_place(read.node, "positions", position)
        good &= check_position(control.name, position, key, desk)
        if throw is not None and throw > throws:
            place = desk.place(read.node, "positions", position)
            hint = f"1 to {throws}, or open"
            desk.report.fault(place, f"{_by_throws(throws)} has no throw {throw}", hint)
            good = False
    left = [position for position in control.positions if position not in stated]
    if left and good:
        place = desk.key_place(read.node, "positions")
        desk.report.notice(place, f"{shown(left[0])} is not in 'positions': it is taken as open")
    return [stated.get(position) for position in control.positions] if good else None


def _by_throws(throws: int) -> str:
    """A switch by its throws, for a message."""
    return f"a switch of {throws} throw{'s' if throws > 1 else ''}"


def _table_lugs(read: Read, desk: Desk) -> tuple[str, ...] | None:
    if read.contacts is None:
        hint = "write contacts: {POSITION: [[A, A1], …], …}"
        desk.report.fault(desk.place(read.node, "switch"), "a table needs 'contacts'", hint)
        return None
    named = read.lugs if read.lugs is not None else []
    if isinstance(named, dict) or any(isinstance(lug, list) for lug in named):
        hint = "write lugs: [one, other, …]"
        desk.report.fault(desk.place(read.node, "lugs"), "a table's lugs are one plain list", hint)
        return None
    flat = cast(list[str], named)
    if flat:
        check_lugs(flat, desk.place(read.node, "lugs"), desk.report)
    contacts = (read.contacts or {}).values()
    grouped = [lug for groups in contacts for group in groups for lug in group]
    if not flat and not grouped:
        desk.report.fault(desk.place(read.node, "contacts"), "this table names no lug at all")
        return None
    return tuple(dict.fromkeys([*flat, *grouped]))


def _groups(read: Read, control: Control | None, desk: Desk) -> list[Groups] | None:
    good = True
    contacts = read.contacts or {}
    for position, groups in contacts.items():
        if control is not None:
            key = desk.key_place(read.node, "contacts", position)
            good &= check_position(control.name, position, key, desk)
        good &= _check_groups(position, groups, read, desk)
    if control is None or not good:
        return None
    return [
        tuple(tuple(group) for group in contacts.get(position, ()))
        for position in control.positions
    ]


def _lacks_commas(read: Read, desk: Desk) -> bool:
    """Whether two lugs stand as one somewhere in the contacts; a fault for each such place."""
    found = False
    for position, groups in (read.contacts or {}).items():
        for index, group in enumerate(groups):
            for forgotten in filter(None, map(two_in_one, group)):
                desk.report.fault(desk.place(read.node, "contacts", position, index), *forgotten)
                found = True
    return found


def _check_groups(position: str, groups: list[list[str]], read: Read, desk: Desk) -> bool:
    good = True
    seen: set[str] = set()
    for index, group in enumerate(groups):
        place = desk.place(read.node, "contacts", position, index)
        if len(group) < 2:
            hint = "leave it out: what is not listed closes nothing"
            desk.report.fault(place, f"in {shown(position)}: a group of one lug", hint)
            good = False
        for lug in group:
            if lug in seen:
                hint = "lugs that are closed together make one group"
                desk.report.fault(place, f"in {shown(position)}: {shown(lug)} closes twice", hint)
                good = False
            seen.add(lug)
    return good
