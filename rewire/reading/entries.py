"""Controls, points, wires, readings, rules, changes, parts: what each can have wrong."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rewire.reading.faults import Nearest
from rewire.reading.forms import BAD, Read, Reader, makes
from rewire.reading.names import check_lugs, refuse_look_alikes
from rewire.reading.text import Node, Scalar, Sequence
from rewire.records.part import Part
from rewire.records.parts import Meter, Pot, Resistor, Strip
from rewire.records.spec import (
    CHANGES,
    CUT,
    OF_PARTS,
    Change,
    Control,
    Found,
    PageNote,
    Point,
    Reading,
    Rule,
    Wire,
)
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wire import square_mm
from rewire.words.wording import listed, shown, two_in_one

_ADDED = ("insert", "link")
_MEASURES = {"current": quantity.AMPS, "voltage": quantity.VOLTS}


@makes(Rule)
def _rule(read: Read, _: Reader) -> Any:
    connects = read.connect is not None
    return read.record(
        kind="connect" if connects else "isolate",
        places=read.connect if connects else read.isolate,
        limit=read.within if connects else read.beyond,
    )


@makes(Reading)
def _reading(read: Read, reader: Reader) -> Any:
    kind = "current" if read.current else "voltage"
    _check_meter(read, reader)
    amps, volts = read.full_scale
    full_scale = amps if kind == "current" else volts
    if full_scale is None:
        measure = _MEASURES[kind]
        message = f"full_scale: {measure.noun} is needed for a reading of {kind}"
        reader.fault(read.near("full_scale"), message, f"write {measure.example} or the like")
    return read.record(
        quantity=kind,
        places=read.current or read.voltage,
        full_scale=full_scale or 1.0,
        marks=tuple(_marks(read, kind, reader)),
    )


def _marks(read: Read, kind: str, reader: Reader) -> Iterator[tuple[float, str]]:
    for written, text in read.marks.items():
        try:
            yield quantity.read(written, _MEASURES[kind]), text
        except BadQuantity as error:
            reader.fault(read.key("marks", written), f"marks: {error.message}", error.hint)


def _check_meter(read: Read, reader: Reader) -> None:
    """A reading is of a meter of the original, by name where it has several."""
    meters, scope = reader.original.meters, reader.scope
    if read.meter is None and len(meters) != 1:
        hint = f"one of {listed(meters)}" if meters else "add it to the original's parts"
        has = "several meters; say which by 'meter'" if meters else "no meter"
        reader.fault(read.head, f"reading {shown(read.name)}: the original has {has}", hint)
    elif read.meter is not None and read.meter not in meters and not scope.has_unsure(read.meter):
        message = f"no meter {shown(read.meter)} in the original"
        if read.meter in scope.lugs:
            message = f"{shown(read.meter)} is no meter of the original"
        reader.fault(read.near("meter"), message, Nearest(read.meter, meters))


@makes(Change)
def _change(read: Read, reader: Reader) -> Any:
    kind = next(key for key in CHANGES if read.values[key] is not None)
    value: tuple[str, ...] = read.values[kind]
    parts = value if kind in OF_PARTS else ()
    for index, part in enumerate(parts):
        _check_part(kind, part, read.near(kind, index), reader)
    anchors = (read.between or ()) if kind in OF_PARTS else value
    return read.record(kind=kind, parts=parts, anchors=anchors)


def _check_part(kind: str, name: str, at: Node, reader: Reader) -> None:
    """Whether a part can be inserted, linked, removed or reversed."""
    original, part = reader.original, reader.original.part(name)
    stays = name in original.top
    if kind in _ADDED:
        if stays:
            reader.fault(at, f"{shown(name)} stays in every wiring: it is not added here")
        elif name not in reader.own.lugs:
            parts = [part for part in reader.own.lugs if part not in original.top]
            reader.fault(at, f"no part {shown(name)} in this wiring", Nearest(name, parts))
    elif kind == "remove" and stays:
        hint = "list it under the original's parts instead"
        reader.fault(at, f"{shown(name)} stays in every wiring and cannot be removed", hint)
    elif kind == "reverse" and part is not None and not part.two_ended:
        reader.fault(at, f"{shown(name)} is a {part.kind}: it has no two ends to turn")
    elif name not in original.scope.lugs:
        near = Nearest(name, original.scope.lugs)
        reader.fault(at, f"no part {shown(name)} in the original", near)


@makes(Wire)
def _wire(read: Read, reader: Reader) -> Any:
    """A wire, without a number where it has no id; one of its ends may be ``cut``."""
    ends = (read.values["from"], read.to)
    for end, key in zip(ends, ("from", "to"), strict=True):
        known = end == CUT or reader.scope.check(end, read.near(key).place, reader.report)
        if not known and two_in_one(end):  # what is meant by the other end stands in this one
            break
    if ends[0] == ends[1]:
        message = f"both ends of this wire are {shown(read.to)}"
        reader.fault(read.node, message, "name its other end")
    if read.id is not None and reader.ids.setdefault(read.id.casefold(), read.id) is not read.id:
        message = f"another wire has the id {shown(reader.ids[read.id.casefold()])} already"
        reader.fault(read.near("id"), message, "choose another, or leave it out")
    _check_colour(read, ends, reader)
    if read.gauge and read.length_metres is not None and square_mm(read.gauge) is None:
        message = (
            f"gauge {shown(read.gauge)} gives no cross-section: the resistance of this wire is "
            "not counted; write 0.5 mm2, 7/0.2 mm, 0.8 mm or 22 AWG"
        )
        reader.report.notice(read.near("gauge").place, message)
    part, dot, _ = ends[0].partition(".")
    return read.record(ends=ends, jumper=bool(dot) and ends[1].startswith(f"{part}."))


def _check_colour(read: Read, ends: tuple[str, str], reader: Reader) -> None:
    """A third item that is a colour and a point as well says nothing for certain."""
    items = read.node.items if isinstance(read.node, Sequence) else []
    third = items[2] if len(items) > 2 and read.colour is not None else None
    if isinstance(third, Scalar) and third.text in reader.scope.names:
        message = f"{shown(third.text)} is a point of this spec and a colour as well"
        written = f"{{from: {ends[0]}, to: {ends[1]}, colour: {third.text}}}"
        reader.fault(third, message, f"write two wires if the point is meant, else {written}")


@makes(Control)
def _control(read: Read, reader: Reader) -> Any:
    if len(read.positions) == 1 and " " in read.positions[0].strip():
        said = f"{read.name} has one position, {shown(read.positions[0])}: is a comma missing?"
        reader.report.notice(read.near("positions", 0).place, said)
    positions = ((position, read.head.place) for position in read.positions)
    refuse_look_alikes(positions, "positions", reader.report)
    return read.record()


@makes(Point)
def _point(read: Read, reader: Reader) -> Any:
    first = reader.chassis
    if read.chassis and first is not None:
        message = f"a second chassis; {first} is it already"
        reader.fault(read.head, message, "at most one point is the chassis")
    if read.name == CUT:
        message = "a point cannot be called cut: as the end of a wire it means cut off"
        reader.fault(read.head, message, "choose another name")
    reader.chassis = read.name if read.chassis else first
    return read.record()


@makes(PageNote)
def _note(read: Read, reader: Reader) -> Any:
    if read.about is not None and read.about not in reader.known:
        message = f"about: no part or point {shown(read.about)}"
        reader.fault(read.near("about"), message, Nearest(read.about, reader.known))
    return read.record()


@makes(Found)
def _found(read: Read, reader: Reader) -> Any:
    parts = reader.known - reader.scope.points
    if read.part is not None and read.part not in parts:
        message = f"part: no part {shown(read.part)} in any wiring"
        reader.fault(read.near("part"), message, Nearest(read.part, parts, "write its reference"))
    return read.record()


@makes(Part)
def _part(read: Read, _: Reader) -> Any:
    """A part of a kind that always has the same lugs; its role is judged when all are known."""
    return read.record(terminals=read.by.record.lugs, replaces=None)


@makes(Meter)
def _meter(read: Read, reader: Reader) -> Any:
    if read.full_scale_amps is None and read.resistance == 0:
        hint = "give its resistance, or unknown"
        message = "a meter for volts cannot have zero resistance"
        reader.fault(read.near("resistance"), message, hint)
    return _part(read, reader)


@makes(Resistor)
def _resistor(read: Read, reader: Reader) -> Any:
    return _fitted(read.pieces is None, "resistor", read, reader)


@makes(Pot)
def _pot(read: Read, reader: Reader) -> Any:
    setting = read.entries.get("setting")
    fitted = isinstance(setting, Scalar) and setting.text.strip() == "fit"
    return _fitted(fitted, "setting", read, reader)


def _fitted(fitted: bool, key: str, read: Read, reader: Reader) -> Any:
    if fitted and read.fit_for is None:
        hint = "add for: NAME, the reading that must come out right"
        reader.fault(read.near(key), "'fit' needs 'for'", hint)
    if read.fit_for is not None and not fitted:
        reader.fault(read.key("for"), "'for' goes with 'fit'", f"write {key}: fit")
    return _part(read, reader)


@makes(Strip)
def _strip(read: Read, reader: Reader) -> Any:
    lugs = read.strip
    if isinstance(lugs, tuple):
        check_lugs(lugs, read.near("strip").place, reader.report)
    if not reader.affords(lugs if isinstance(lugs, int) else len(lugs), read.head):
        return BAD
    if isinstance(lugs, int):
        lugs = map(str, range(1, lugs + 1))
    reader.lugs[read.name] = terminals = tuple(dict.fromkeys(lugs))
    return read.record(terminals=terminals, replaces=None)
