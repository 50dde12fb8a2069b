"""Switches, controls, points, wires, readings, rules, changes: what each can have wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence as Listed
from typing import Any, TypeVar, cast

from rewire.reading.faults import Nearest
from rewire.reading.forms import BAD, Read, Reader, makes
from rewire.reading.names import check_lugs, refuse_look_alikes
from rewire.reading.text import Node, Scalar, Sequence
from rewire.records.keys import two_in_one
from rewire.records.lug_positions import LayoutError, lug_positions
from rewire.records.parts import Switch, Timing
from rewire.records.spec import (
    CHANGES,
    CUT,
    OF_PARTS,
    Change,
    Control,
    MeterOption,
    Page,
    PageNote,
    Point,
    Reading,
    Rule,
    Wire,
)
from rewire.records.switches import (
    Groups,
    default_lugs,
    linked,
    pole_letters,
    read_form,
    sections_of_poles,
    sections_of_table,
)
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wire import square_mm
from rewire.words.wording import listed, shown

_ADDED = ("insert", "link")
_MEASURES = {"current": quantity.AMPS, "voltage": quantity.VOLTS}


@makes(Rule)
def _rule(read: Read, reader: Reader) -> Rule:
    connects = read.connect is not None
    return Rule(
        **read.own(
            kind="connect" if connects else "isolate",
            places=read.connect if connects else read.isolate,
            limit=read.within if connects else read.beyond,
            place=reader.place(read.node),
        )
    )


@makes(Reading)
def _reading(read: Read, reader: Reader) -> Reading:
    kind = "current" if read.current else "voltage"
    _check_meter(read, f"reading {shown(read.name)}", "meter", reader)
    amps, volts = read.full_scale
    full_scale = amps if kind == "current" else volts
    if full_scale is None:
        measure = _MEASURES[kind]
        message = f"full_scale: {measure.noun} is needed, for this is a reading of {kind}"
        reader.fault(read.near("full_scale"), message, f"such as {measure.example}")
    return Reading(
        **read.own(
            name=read.name,
            quantity=kind,
            places=read.current or read.voltage,
            full_scale=full_scale or 1.0,
            marks=tuple(_marks(read, kind, reader)),
            place=reader.place(read.head),
        )
    )


def _marks(read: Read, kind: str, reader: Reader) -> Iterator[tuple[float, str]]:
    for written, text in read.marks.items():
        try:
            yield quantity.read(written, _MEASURES[kind]), text
        except BadQuantity as error:
            reader.fault(read.key("marks", written), f"marks: {error.message}", error.hint)


def _check_meter(read: Read, what: str, key: str, reader: Reader) -> None:
    """What is of a meter of the original names it, where it has several."""
    scope, meters, named = reader.scope, reader.original.meters, read.values[key]
    if named is None:
        unsure = any(stock.vague or None in stock.lugs.values() for stock in scope.stocks)
        if len(meters) != 1 and not unsure:
            hint = f"one of {listed(meters)}" if meters else "add it to the original's parts"
            has = f"several meters; say which by {shown(key)}" if meters else "no meter"
            reader.fault(read.head, f"{what}: the original has {has}", hint)
    elif named not in meters and not scope.has_unsure(named):
        message = f"no meter {shown(named)} in the original"
        if scope.has_part(named):
            message = f"{shown(named)} is no meter of the original"
        reader.fault(read.near(key), message, Nearest(named, meters))


@makes(MeterOption)
def _option(read: Read, reader: Reader) -> MeterOption:
    """An option is of a meter of the original, whatever wiring was read last."""
    reader.scope = reader.original.scope
    _check_meter(read, "option", "replaces", reader)
    if not read.resistance:
        message = "resistance: a movement has more than zero ohm"
        reader.fault(read.near("resistance"), message, "write what its coil measures")
    return MeterOption(**read.values)


@makes(Change)
def _change(read: Read, reader: Reader) -> Change:
    kind = next(key for key in CHANGES if read.values[key] is not None)
    value: tuple[str, ...] = read.values[kind]
    parts = value if kind in OF_PARTS else ()
    for index, part in enumerate(parts):
        _check_part(kind, part, read.near(kind, index), reader)
    return Change(
        **read.own(
            kind=kind,
            parts=parts,
            anchors=(read.between or ()) if kind in OF_PARTS else value,
            place=reader.place(read.node),
        )
    )


def _check_part(kind: str, name: str, at: Node, reader: Reader) -> None:
    """Whether a part can be inserted, linked, removed or reversed."""
    original, own = reader.original, reader.own
    if kind in _ADDED:
        if name in original.top:
            reader.fault(at, f"{shown(name)} stays in every wiring: it is not added here")
        elif not own.has_part(name) and not own.vague:
            parts = [part for part in own.parts() if part not in original.top]
            reader.fault(at, f"no part {shown(name)} in this wiring", Nearest(name, parts))
        return
    part, scope = original.part(name), original.scope
    if kind == "remove" and name in original.top:
        hint = "list it under the original's parts instead"
        reader.fault(at, f"{shown(name)} stays in every wiring and cannot be removed", hint)
    elif kind == "reverse" and part is not None and not part.two_ended:
        reader.fault(at, f"{shown(name)} is a {part.kind}: it has no two ends to turn")
    elif not scope.has_part(name) and not scope.vague:
        reader.fault(at, f"no part {shown(name)} in the original", Nearest(name, scope.parts))


@makes(Wire)
def _wire(read: Read, reader: Reader) -> Wire:
    """A wire, without a number where it has no id; one of its ends may be ``cut``."""
    ends = (read.values["from"], read.to)
    for end, key in zip(ends, ("from", "to"), strict=True):
        if end == CUT or reader.scope.has(end):
            continue
        reader.scope.check(end, reader.place(read.near(key)), reader.report)
        if two_in_one(end):  # what is meant by the other end stands in this one
            break
    if ends[0] == ends[1]:
        message = f"both ends of this wire are {shown(read.to)}"
        reader.fault(read.node, message, "name its other end")
    if read.id is not None and reader.ids.setdefault(read.id.casefold(), read.id) is not read.id:
        message = f"another wire has the id {shown(reader.ids[read.id.casefold()])} already"
        reader.fault(read.near("id"), message, "choose another, or leave it out")
    _check_colour(read, ends, reader)
    _notice_gauge(read, reader)
    part, dot, _ = ends[0].partition(".")
    jumper = bool(dot) and ends[1].startswith(f"{part}.")
    return Wire(**read.own(ends=ends, jumper=jumper, place=reader.place(read.node)))


def _check_colour(read: Read, ends: tuple[str, str], reader: Reader) -> None:
    """A third item that is a colour and a point as well says nothing for certain."""
    items = read.node.items if isinstance(read.node, Sequence) else []
    third = items[2] if len(items) > 2 and read.colour is not None else None
    if isinstance(third, Scalar) and reader.scope.has(third.text):
        message = f"{shown(third.text)} is a point of this spec and a colour as well"
        written = f"{{from: {ends[0]}, to: {ends[1]}, colour: {third.text}}}"
        reader.fault(third, message, f"write two wires if the point is meant, else {written}")


def _notice_gauge(read: Read, reader: Reader) -> None:
    if read.gauge is None or read.length_metres is None:
        return
    if square_mm(read.gauge) is None:
        message = (
            f"gauge {shown(read.gauge)} gives no cross-section: the resistance of this wire is "
            "not counted; write 0.5 mm2, 7/0.2 mm, 0.8 mm or 22 AWG"
        )
        reader.report.notice(reader.place(read.near("gauge")), message)


@makes(Control)
def _control(read: Read, reader: Reader) -> Control:
    place = reader.place(read.head)
    refuse_look_alikes(((p, place) for p in read.positions), "positions", reader.report)
    return Control(**read.own(name=read.name, place=place))


@makes(Point)
def _point(read: Read, reader: Reader) -> Point:
    at = read.head
    first = reader.chassis
    if read.chassis and first is not None:
        message = f"a second chassis; {first} is it already"
        reader.fault(at, message, "at most one point is the chassis")
    if read.name == CUT:
        message = "a point cannot be called cut: as the end of a wire it means cut off"
        reader.fault(at, message, "choose another name")
    reader.chassis = read.name if read.chassis else first
    return Point(**read.own(name=read.name, place=reader.place(at)))


@makes(Page)
def _page(read: Read, reader: Reader) -> Page:
    return Page(**read.own(place=reader.place(read.node)))


@makes(PageNote)
def _note(read: Read, reader: Reader) -> PageNote:
    known = reader.known
    if read.about is not None and known is not None and read.about not in known:
        message = f"about: no part or point {shown(read.about)}"
        reader.fault(read.near("about"), message, Nearest(read.about, known))
    return PageNote(**read.values)


_FORMS = ("SPST", "SPDT", "DPST", "DPDT", "3PDT", "4PDT", "SP3T", "2P6T", "3P4T", "table")

Poles = dict[str, list[str]]
_Owner = TypeVar("_Owner", str, int)


@makes(Switch)
def _switch(read: Read, reader: Reader) -> Any:
    """A switch; its lugs are noted even where faults leave the rest unknown."""
    found = _table(read, reader) if read.form == "table" else _plain(read, reader)
    if found is None:
        return BAD
    sections = found["sections"]
    used = {lug for section in sections for lug in section.lugs}
    idle = tuple(lug for lug in found["terminals"] if lug not in used)
    place = reader.place(read.head)
    switch = Switch(**read.own(name=read.name, place=place, replaces=None, idle_lugs=idle, **found))
    if switch.layout is not None:
        _check_layout(switch, read, reader)
    return switch


def _check_layout(switch: Switch, read: Read, reader: Reader) -> None:
    """A fault where the layout cannot be; a notice where its throws run against the knob."""
    try:
        against = lug_positions(switch).against_the_knob
    except LayoutError as error:
        reader.fault(read.key("layout"), f"layout of {switch.name}: {error}")
        return
    if against:
        throws = "; ".join(", ".join(pole) for pole in against)
        lists = ", ".join(f"[{', '.join([p[0], *p[:0:-1]])}]" for p in switch.poles)
        reader.report.notice(
            reader.place(read.key("layout")),
            f"{switch.name}: seen from behind, {throws} run clockwise, so against a knob that is "
            f"turned clockwise; if the first position is at the other end, write lugs: [{lists}]; "
            "if the hours were read at the knob, read them from behind",
        )


def _plain(read: Read, reader: Reader) -> dict[str, Any] | None:
    """What a switch has that has poles and throws."""
    form = read_form(read.form)
    if form is None:
        _refuse_form(read, reader)
        return None
    if read.contacts is not None:
        hint = "write switch: table, or take the contacts out"
        message = f"'contacts' does not go with {read.form}"
        reader.fault(read.key("contacts"), message, hint)
    part = read.head
    poles = _poles(read, form, reader) if reader.affords(form[0] * (form[1] + 1), part) else None
    if poles is None:
        return None
    lugs = tuple(lug for row in poles.values() for lug in row)
    _note_lugs(lugs, read, "lugs" if read.lugs else "switch", reader)
    timings = _timings(read, poles, {}, reader)
    control = _moved_by(read, reader)
    throw_at = _throw_at(read, form[1], control, reader) if control else None
    if throw_at is None or not reader.affords(len(poles) * len(throw_at), part):
        return None
    return {
        "terminals": lugs,
        "sections": tuple(sections_of_poles(poles, throw_at, timings)),
        "throws": form[1],
        "throw_at": tuple(throw_at),
        "poles": tuple(tuple(row) for row in poles.values()),
    }


def _table(read: Read, reader: Reader) -> dict[str, Any] | None:
    """What a switch has whose contacts are listed."""
    lugs = _table_lugs(read, reader)
    if lugs is None or _lacks_commas(read, reader):
        return None
    if read.positions is not None:
        message = "'positions' does not go with a table"
        reader.fault(read.key("positions"), message, "use 'contacts'")
    _note_lugs(lugs, read, "lugs" if read.lugs else "contacts", reader)
    control = _moved_by(read, reader)
    groups = _groups(read, control, reader)
    if groups is None:
        return None
    pieces = linked(lugs, groups)
    if not reader.affords(len(lugs) + len(pieces) * len(groups), read.head):
        return None
    others = {lug: -1 - index for index, lug in enumerate(lugs)}
    timings = _timings(read, dict(enumerate(pieces)), others, reader)
    sections = tuple(sections_of_table(pieces, groups, timings))
    return {
        "terminals": lugs, "sections": sections, "throws": None, "throw_at": None, "poles": (),
    }  # fmt: skip


def _note_lugs(lugs: tuple[str, ...], read: Read, key: str, reader: Reader) -> None:
    check_lugs(lugs, reader.place(read.near(key)), reader.report)
    reader.lugs[read.name] = lugs


def _refuse_form(read: Read, reader: Reader) -> None:
    form = read.form
    upper = form.strip().upper()
    hint: Any = Nearest(form, _FORMS)
    if read_form(upper):
        hint = f"write {upper}"
    elif form.strip().lower() == "table":
        hint = "write table"
    elif re.fullmatch(r"([SDTQ]|[0-9]+)P([SDT]|[0-9]+)T", upper):
        hint = "1 to 60 poles and 1 to 60 throws can be"
    reader.fault(read.near("switch"), f"{shown(form)} is no form of a switch", hint)


def _moved_by(read: Read, reader: Reader) -> Control | None:
    known = reader.has_control(read.control, read.near("control"))
    return reader.controls[read.control] if known else None


def _poles(read: Read, form: tuple[int, int], reader: Reader) -> Poles | None:
    letters = pole_letters(form[0])
    if read.lugs is None:
        return dict(zip(letters, default_lugs(*form), strict=True))
    rows = _rows(read.lugs, letters)
    size = form[1] + 1
    if rows is None or len(rows) != form[0] or any(len(row) != size for row in rows):
        throws = ", ".join(f"throw {n}" for n in range(1, min(form[1], 3) + 1))
        tail = ", …" if form[1] > 3 else ""
        message = f"{read.form} has {form[0]} times {size} lugs; other lists are given"
        hint = f"for each pole write [common, {throws}{tail}]"
        reader.fault(read.near("lugs"), message, hint)
        return None
    return dict(zip(letters, rows, strict=True))


def _rows(lugs: Any, letters: list[str]) -> list[list[str]] | None:
    if isinstance(lugs, dict):
        return [lugs[letter] for letter in letters] if set(lugs) == set(letters) else None
    if all(isinstance(row, list) for row in lugs):
        return cast(list[list[str]], lugs)
    return [lugs]


def _timings(
    read: Read, owned: Mapping[_Owner, Listed[str]], others: dict[str, _Owner], reader: Reader
) -> dict[_Owner, Timing]:
    """Section → its timing, where stated; lugs of no section own themselves, as in ``others``."""
    if read.timing is None or isinstance(read.timing, str):
        return dict.fromkeys(owned, cast(Timing, read.timing)) if read.timing else {}
    owner = others | {lug: one for one, lugs in owned.items() for lug in lugs}
    stated: dict[_Owner, Timing] = {}
    for lug, word in read.timing.items():
        key = read.key("timing", lug)
        if lug not in owner:
            reader.fault(key, f"timing: there is no lug {shown(lug)}", Nearest(lug, owner))
        elif stated.setdefault(owner[lug], word) != word:
            message = f"the section of {shown(lug)} has two timings"
            reader.fault(key, message, "name one lug of each section")
    return stated


def _throw_at(read: Read, throws: int, control: Control, reader: Reader) -> list[int | None] | None:
    if read.positions is not None:
        return _stated_throws(read, throws, control, reader)
    positions = len(control.positions)
    if throws == 1:
        hint = f"write positions: {{{control.positions[0]}: 1, …: open}}"
        reader.fault(read.near("switch"), f"{read.form} needs 'positions'", hint)
        return None
    if positions > throws:
        message = f"{read.form} has {throws} throws, {control.name} has {positions} positions"
        hint = "a switch with more throws is needed, or 'positions' must say which are open"
        reader.fault(read.near("switch"), message, hint)
        return None
    return list(range(1, positions + 1))


def _stated_throws(
    read: Read, throws: int, control: Control, reader: Reader
) -> list[int | None] | None:
    good = True
    stated: dict[str, int | None] = read.positions
    for position, throw in stated.items():
        good &= reader.has_position(control.name, position, read.key("positions", position))
        if throw is not None and throw > throws:
            by_throws = f"a switch of {throws} throw{'s' if throws > 1 else ''}"
            message = f"{by_throws} has no throw {throw}"
            reader.fault(read.near("positions", position), message, f"1 to {throws}, or open")
            good = False
    left = [position for position in control.positions if position not in stated]
    if left and good:
        message = f"{shown(left[0])} is not in 'positions': it is taken as open"
        reader.report.notice(reader.place(read.key("positions")), message)
    return [stated.get(position) for position in control.positions] if good else None


def _table_lugs(read: Read, reader: Reader) -> tuple[str, ...] | None:
    if read.contacts is None:
        hint = "write contacts: {POSITION: [[A, A1], …], …}"
        reader.fault(read.near("switch"), "a table needs 'contacts'", hint)
        return None
    named = read.lugs if read.lugs is not None else []
    if isinstance(named, dict) or any(isinstance(lug, list) for lug in named):
        hint = "write lugs: [one, other, …]"
        reader.fault(read.near("lugs"), "a table's lugs are one plain list", hint)
        return None
    if named:
        check_lugs(named, reader.place(read.near("lugs")), reader.report)
    grouped = [lug for _, _, group in _each_group(read) for lug in group]
    if not named and not grouped:
        reader.fault(read.near("contacts"), "this table names no lug at all")
        return None
    return tuple(dict.fromkeys([*named, *grouped]))


def _each_group(read: Read) -> Iterator[tuple[str, int, list[str]]]:
    """Position, number and lugs of every group of contacts."""
    for position, groups in read.contacts.items():
        yield from ((position, number, group) for number, group in enumerate(groups))


def _groups(read: Read, control: Control | None, reader: Reader) -> list[Groups] | None:
    good = True
    for position in read.contacts if control is not None else ():
        key = read.key("contacts", position)
        good &= reader.has_position(read.control, position, key)
    good &= _check_groups(read, reader)
    if control is None or not good:
        return None
    return [
        tuple(tuple(group) for group in read.contacts.get(position, ()))
        for position in control.positions
    ]


def _lacks_commas(read: Read, reader: Reader) -> bool:
    """Whether two lugs stand as one somewhere in the contacts; a fault for each such place."""
    found = False
    for position, number, group in _each_group(read):
        for forgotten in filter(None, map(two_in_one, group)):
            reader.fault(read.near("contacts", position, number), *forgotten)
            found = True
    return found


def _check_groups(read: Read, reader: Reader) -> bool:
    good = True
    seen: set[tuple[str, str]] = set()
    for position, number, group in _each_group(read):
        at = read.near("contacts", position, number)
        if len(group) < 2:
            hint = "leave it out: what is not listed closes nothing"
            reader.fault(at, f"in {shown(position)}: a group of one lug", hint)
            good = False
        for lug in group:
            if (position, lug) in seen:
                hint = "lugs that are closed together make one group"
                reader.fault(at, f"in {shown(position)}: {shown(lug)} closes twice", hint)
                good = False
            seen.add((position, lug))
    return good
