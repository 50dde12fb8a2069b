"""Reading a bench log: what was measured on a finished wiring, checked against its spec."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path
from typing import Literal, TypeVar

from rewire.reading.faults import Nearest, Report
from rewire.reading.load import bytes_of, is_marked, whole_tree_of
from rewire.reading.text import Mapping, Node, Scalar, Sequence
from rewire.records.spec import Place, Reading, Spec, Wiring
from rewire.words import quantity
from rewire.words.quantity import BadQuantity, Measure
from rewire.words.wording import shown

Told = Literal["closed", "open", "ohms"]
Entry = TypeVar("Entry")

_TOP = (
    "rewire_bench", "wiring", "continuity", "calibration", "acceptance", "by", "date", "serial",
    "instruments", "notes",
)  # fmt: skip
_CONTINUITY = ("when", "between", "found", "note")
_CALIBRATION = ("reading", "applied", "indicated", "note")
_ACCEPTANCE = ("test", "found", "note")
_UNITS = {
    "current": Measure("A", "a current", "50 mA", signed=True),
    "voltage": Measure("V", "a voltage", "50 V", signed=True),
}
_OF_FULL_SCALE = Measure("%", "a percentage of full scale", "50 %", signed=True)
_OPEN_WORDS = ("open", "OL", "O.L", "0L", "OPEN", "∞")
_CLOSED_WORDS = ("closed", "CLOSED", "beep")
_ARC = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)\s*(?:-|–|to)\s*(-?[0-9]+(?:\.[0-9]+)?)")


@dataclass(frozen=True, slots=True)
class Buzzed:
    """One touch of the leads and what was found."""

    when: dict[str, str]
    """Control → position; controls left out may stand anywhere."""
    between: tuple[str, str]
    found: Told
    ohms: float | None
    place: Place
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Indicated:
    """One point of a calibration run, both in ampere or volt after the reading."""

    reading: str
    applied: float
    indicated: float
    place: Place
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Accepted:
    """What an acceptance test gave, as written."""

    test: str
    found: str
    place: Place
    note: str | None = None


@dataclass(frozen=True, slots=True)
class BenchLog:
    """What was measured on one wiring of a spec."""

    file: str
    wiring: str
    continuity: tuple[Buzzed, ...] = ()
    calibration: tuple[Indicated, ...] = ()
    acceptance: tuple[Accepted, ...] = ()
    by: str | None = None
    date: str | None = None
    serial: str | None = None
    instruments: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Desk:
    """What one log is checked against."""

    report: Report
    spec: Spec
    wiring: Wiring
    places: frozenset[str] = field(default_factory=frozenset)

    def fault(self, node: Node | Scalar, message: str, hint: str | Nearest | None = None) -> None:
        self.report.fault(self.report.place(node.line, node.column), message, hint)


def read_bench_log(path: str | Path, spec: Spec, wiring: str | None = None) -> BenchLog:
    """Read and check a bench log.

    Args:
        path: of the file.
        spec: the spec it belongs to.
        wiring: the wiring it must be of; None for the one it names.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    return read_bench_log_text(bytes_of(path, "the bench log"), spec, str(path), wiring)


def read_bench_log_text(
    data: bytes, spec: Spec, file: str = "<text>", wiring: str | None = None
) -> BenchLog:
    """Read and check a bench log that is already in memory; see ``read_bench_log``."""
    report = Report(file)
    tree = whole_tree_of(data, report, "rewire_bench: 1")
    desk = _desk(tree, report, spec, wiring)
    if desk is None:
        raise report.error()
    log = _log(tree, desk)
    if report:
        raise report.error()
    return log


def _desk(tree: Mapping, report: Report, spec: Spec, asked: str | None) -> _Desk | None:
    if not is_marked(tree, report, "rewire_bench", "a bench log"):
        return None
    named = tree.entries.get("wiring")
    name = named.text.strip() if isinstance(named, Scalar) else ""
    at = report.place(*((named.line, named.column) if named else (tree.line, tree.column)))
    if not name:
        report.fault(at, "the log does not say which wiring", Nearest("", list(spec.wirings)))
        return None
    if name not in spec.wirings:
        report.fault(at, f"no wiring is called {shown(name)}", Nearest(name, list(spec.wirings)))
        return None
    if asked is not None and name != asked:
        report.fault(
            at, f"this log is of {shown(name)}", f"ask for --wiring {name}, or change the log"
        )
        return None
    wiring = spec.wirings[name]
    parts = spec.parts_of(wiring).values()
    terminals = {part.terminal(lug) for part in parts for lug in part.terminals}
    return _Desk(report, spec, wiring, frozenset({*spec.points, *terminals}))


def _log(tree: Mapping, desk: _Desk) -> BenchLog:
    _refuse_unknown(tree, _TOP, desk)
    words = {key: _text(tree, key, desk) for key in ("by", "date", "serial", "instruments")}
    return BenchLog(
        file=desk.report.file,
        wiring=desk.wiring.name,
        continuity=tuple(_each(tree, "continuity", _CONTINUITY, desk, _buzzed)),
        calibration=tuple(_each(tree, "calibration", _CALIBRATION, desk, _indicated)),
        acceptance=tuple(_each(tree, "acceptance", _ACCEPTANCE, desk, _accepted)),
        notes=tuple(_notes(tree, desk)),
        **words,
    )


def _refuse_unknown(node: Mapping, known: tuple[str, ...], desk: _Desk) -> None:
    for key, at in node.keys.items():
        if key not in known:
            desk.fault(at, f"unknown key {shown(key)}", Nearest(key, known))


def _text(node: Mapping, key: str, desk: _Desk) -> str | None:
    value = node.entries.get(key)
    if value is None or (isinstance(value, Scalar) and not value.text.strip()):
        return None
    if isinstance(value, Scalar):
        return value.text.strip()
    desk.fault(value, f"{key}: a text is needed", "put text in quotes")
    return None


def _notes(tree: Mapping, desk: _Desk) -> Iterator[str]:
    node = tree.entries.get("notes")
    items = node.items if isinstance(node, Sequence) else [node] if node is not None else []
    for item in items:
        if isinstance(item, Scalar):
            if item.text.strip():
                yield item.text.strip()
        else:
            desk.fault(item, "notes: a text is needed", "put text in quotes")


def _each(
    tree: Mapping,
    key: str,
    keys: tuple[str, ...],
    desk: _Desk,
    read: Callable[[Mapping, _Desk], Entry | None],
) -> Iterator[Entry]:
    node = tree.entries.get(key)
    if node is None or (isinstance(node, Scalar) and node.bare):
        return
    if not isinstance(node, Sequence):
        desk.fault(node, f"{key}: a list is needed", f"write - {{{keys[0]}: …, {keys[1]}: …}}")
        return
    for item in node.items:
        if not isinstance(item, Mapping):
            desk.fault(item, f"{key}: a mapping is needed", f"write - {{{keys[0]}: …}}")
            continue
        _refuse_unknown(item, keys, desk)
        entry = read(item, desk)
        if entry is not None:
            yield entry


def _buzzed(item: Mapping, desk: _Desk) -> Buzzed | None:
    between = _pair(item, desk)
    found = _reading_of(item, desk)
    when = _when(item, desk)
    if between is None or found is None or when is None:
        return None
    told, ohms = found
    place = desk.report.place(item.line, item.column)
    return Buzzed(when, between, told, ohms, place, _text(item, "note", desk))


def _pair(item: Mapping, desk: _Desk) -> tuple[str, str] | None:
    node = item.entries.get("between")
    names = node.items if isinstance(node, Sequence) else []
    if len(names) != 2 or not all(isinstance(name, Scalar) for name in names):
        desk.fault(node or item, "between: two places are needed", "write between: [S1.A, S1.A1]")
        return None
    first, second = (name.text.strip() for name in names if isinstance(name, Scalar))
    good = [_is_place(name, desk) for name in names if isinstance(name, Scalar)]
    if first == second:
        desk.fault(names[0], f"both places are {shown(first)}")
        return None
    return (first, second) if all(good) else None


def _is_place(name: Scalar, desk: _Desk) -> bool:
    word = name.text.strip()
    if word in desk.places:
        return True
    message = f"wiring {shown(desk.wiring.name)} has no place {shown(word)}"
    desk.fault(name, message, Nearest(word, desk.places))
    return False


def _when(item: Mapping, desk: _Desk) -> dict[str, str] | None:
    node = item.entries.get("when")
    if node is None or (isinstance(node, Scalar) and node.bare):
        return {}
    if not isinstance(node, Mapping):
        desk.fault(node, "when: controls and their positions are needed", "write {CONTROL: AT}")
        return None
    found = {name: at for name in node.entries for at in _position(node, name, desk)}
    return found if len(found) == len(node.entries) else None


def _position(node: Mapping, name: str, desk: _Desk) -> Iterator[str]:
    control, value = desk.spec.controls.get(name), node.entries[name]
    if control is None:
        hint = Nearest(name, list(desk.spec.controls))
        desk.fault(node.keys[name], f"no control {shown(name)}", hint)
    elif not isinstance(value, Scalar):
        desk.fault(value, "one position is needed here", "write one line for each position")
    elif value.text.strip() not in control.positions:
        word = value.text.strip()
        message = f"control {shown(name)} has no position {shown(word)}"
        desk.fault(value, message, Nearest(word, control.positions))
    else:
        yield value.text.strip()


def _reading_of(item: Mapping, desk: _Desk) -> tuple[Told, float | None] | None:
    node = item.entries.get("found")
    if not isinstance(node, Scalar) or not node.text.strip():
        hint = "write found: closed, found: open or found: 12.3 ohm"
        desk.fault(node or item, "what was found is missing", hint)
        return None
    word = node.text.strip()
    if word in _CLOSED_WORDS:
        return "closed", None
    if word in _OPEN_WORDS:
        return "open", None
    try:
        return "ohms", quantity.read(word, quantity.OHMS)
    except BadQuantity as error:
        desk.fault(node, error.message, "write closed, open, or ohms such as '12.3 ohm'")
        return None


def _indicated(item: Mapping, desk: _Desk) -> Indicated | None:
    name = _text(item, "reading", desk) or ""
    reading = desk.wiring.readings.get(name)
    if reading is None:
        node = item.entries.get("reading") or item
        hint = Nearest(name, list(desk.wiring.readings))
        desk.fault(node, f"no reading is called {shown(name)}", hint)
        return None
    applied = _amount(item, "applied", reading, desk)
    indicated = _amount(item, "indicated", reading, desk)
    if applied is None or indicated is None:
        return None
    place = desk.report.place(item.line, item.column)
    return Indicated(name, applied, indicated, place, _text(item, "note", desk))


def _amount(item: Mapping, key: str, reading: Reading, desk: _Desk) -> float | None:
    """A value in the reading's unit: as such, in percent of full scale, or as on the dial."""
    node = item.entries.get(key)
    measure = _UNITS[reading.quantity]
    if not isinstance(node, Scalar) or not node.text.strip():
        desk.fault(node or item, f"{key} is missing", f"write {key}: {measure.example}")
        return None
    text = node.text.strip()
    on_dial = _on_dial(text, reading) if key == "indicated" else None
    if on_dial is not None:
        return on_dial * reading.full_scale
    try:
        value, unit = quantity.read_either(text, (measure, _OF_FULL_SCALE))
    except BadQuantity as error:
        hint = f"write {measure.noun} such as '{measure.example}', or percent of full scale"
        if key == "indicated":
            hint += "; a bare number is read on an arc named by its ends, such as scale: 0-250"
        desk.fault(node, error.message, hint)
        return None
    return value if unit is measure else value / 100.0 * reading.full_scale


def _on_dial(text: str, reading: Reading) -> float | None:
    """Deflection that a bare number on the reading's arc stands for, if the arc says its ends."""
    ends = dial_ends(reading.scale)
    try:
        number = float(text)
    except ValueError:
        return None
    if ends is None or not isfinite(number):
        return None
    return (number - ends[0]) / (ends[1] - ends[0])


def dial_ends(scale: str | None) -> tuple[float, float] | None:
    """The two ends of an arc that is named by them; None for any other text.

    >>> dial_ends("0-250"), dial_ends("red arc")
    ((0.0, 250.0), None)
    """
    match = _ARC.fullmatch((scale or "").strip())
    if match is None or float(match[1]) == float(match[2]):
        return None
    return float(match[1]), float(match[2])


def _accepted(item: Mapping, desk: _Desk) -> Accepted | None:
    name, found = _text(item, "test", desk) or "", _text(item, "found", desk)
    tests = [test.test for test in desk.spec.acceptance]
    if name not in tests:
        node = item.entries.get("test") or item
        desk.fault(node, f"no acceptance test is called {shown(name)}", Nearest(name, tests))
        return None
    if found is None:
        desk.fault(item, "what was found is missing", "write found: 40 W, or found: pass")
        return None
    place = desk.report.place(item.line, item.column)
    return Accepted(name, found, place, _text(item, "note", desk))
