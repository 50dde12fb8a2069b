"""Reading a bench log: what was measured on a finished wiring, checked against its spec."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import BAD, At, Read, Reader, keys_of, makes
from rewire.reading.names import Scope
from rewire.reading.text import Mapping, Scalar, bytes_of, marked_tree
from rewire.records.keys import (
    ANYTHING,
    PLACES,
    STATE,
    TEXT,
    TYPED,
    Items,
    Key,
    ValueKind,
    WrittenAs,
)
from rewire.records.part import Place
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Spec
from rewire.words import quantity
from rewire.words.arcs import figures_of
from rewire.words.quantity import BadQuantity, Measure
from rewire.words.wording import Wrong, shown

Told = Literal["closed", "open", "ohms"]

_UNITS = {
    "current": Measure("A", "a current", "50 mA", signed=True),
    "voltage": Measure("V", "a voltage", "50 V", signed=True),
}
_OF_FULL_SCALE = Measure("%", "a percentage of full scale", "50 %", signed=True)
_WORDS: dict[str, Told] = {
    **dict.fromkeys(("open", "ol", "o.l", "0l", "∞"), "open"),
    **dict.fromkeys(("closed", "beep"), "closed"),
}


def _found(value: Any) -> tuple[Told, float | None]:
    """Closed, open, or ohms and how many."""
    word = TEXT.read(value).strip()
    if word.lower() in _WORDS:
        return _WORDS[word.lower()], None
    try:
        return "ohms", quantity.read(word, quantity.OHMS)
    except BadQuantity as error:
        hint = "write closed, open, or ohms such as '12.3 ohm'"
        raise Wrong(error.message, hint) from None


def _maybe(field: ValueKind, nothing: Any) -> ValueKind:
    """The same, or nothing at all."""
    return ValueKind(lambda value: nothing if value == "" else field.read(value), {}, field.names)


def _notes(value: Any) -> tuple[str, ...]:
    items = value if isinstance(value, list) else [value]
    return tuple(TEXT.read(item).strip() for item in items if item != "")


_Words = Annotated[str | None, Key(_maybe(TEXT, None), default=None)]


@dataclass(frozen=True, slots=True)
class Buzzed:
    """One touch of the leads and what was found."""

    when: Annotated[dict[str, str], Key(_maybe(STATE, {}), default={})]
    """Control → position; controls left out may stand anywhere."""
    between: Annotated[tuple[str, str], Key(PLACES)]
    found: Annotated[Told, Key(ValueKind(_found, TYPED), also=("ohms",))]
    ohms: float | None
    place: Place
    note: _Words = None


@dataclass(frozen=True, slots=True)
class Indicated:
    """One point of a calibration run, both in ampere or volt after the reading."""

    reading: Annotated[str, Key(TEXT)]
    applied: Annotated[float, Key(TEXT)]
    indicated: Annotated[float, Key(TEXT)]
    place: Place
    note: _Words = None


@dataclass(frozen=True, slots=True)
class Accepted:
    """What an acceptance test gave, as written."""

    test: Annotated[str, Key(TEXT)]
    found: Annotated[str, Key(TEXT)]
    place: Place
    note: _Words = None


@dataclass(frozen=True, slots=True)
class BenchLog:
    """What was measured on one wiring of a spec."""

    WRITTEN = WrittenAs(more={"rewire_bench": Key(ANYTHING)})
    file: str
    wiring: Annotated[str, Key(TEXT)]
    continuity: Annotated[tuple[Buzzed, ...], Key(Items(Buzzed))] = ()
    calibration: Annotated[tuple[Indicated, ...], Key(Items(Indicated))] = ()
    acceptance: Annotated[tuple[Accepted, ...], Key(Items(Accepted))] = ()
    by: _Words = None
    date: _Words = None
    serial: _Words = None
    instruments: _Words = None
    notes: Annotated[tuple[str, ...], Key(ValueKind(_notes, {}))] = ()


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
    tree = marked_tree(data, report, "rewire_bench", "a bench log")
    name = _wiring(tree, report, spec, wiring)
    if name is None:
        raise report.error()
    one = spec.wirings[name]
    lugs = {part.name: part.terminals for part in spec.parts_of(one).values()}
    scope = Scope(f"in wiring {shown(name)}", set(spec.points), {**lugs})
    reader = Reader(report, controls={**spec.controls}, scope=scope, spec=spec, wiring=one)
    log = keys_of(BenchLog).take(tree, At(), reader)
    if report:
        raise report.error()
    return cast(BenchLog, log)


def _wiring(tree: Mapping, report: Report, spec: Spec, asked: str | None) -> str | None:
    """The wiring that a log is of; None, and a fault, where that is not clear."""
    named = tree.entries.get("wiring")
    name = named.text.strip() if isinstance(named, Scalar) else ""
    at = (named or tree).place
    near = Nearest(name, list(spec.wirings))
    if not name:
        report.fault(at, "the log does not say which wiring", near)
    elif name not in spec.wirings:
        report.fault(at, f"no wiring is called {shown(name)}", near)
    elif asked is not None and name != asked:
        hint = f"ask for --wiring {name}, or change the log"
        report.fault(at, f"this log is of {shown(name)}", hint)
    else:
        return name
    return None


@makes(BenchLog)
def _log(read: Read, reader: Reader) -> Any:
    return read.record(file=reader.report.file, wiring=read.wiring.strip())


@makes(Indicated)
def _indicated(read: Read, reader: Reader) -> Any:
    readings = reader.wiring.readings if reader.wiring else {}
    reading = readings.get(read.reading.strip())
    if reading is None:
        message = f"no reading is called {shown(read.reading.strip())}"
        reader.fault(read.near("reading"), message, Nearest(read.reading, list(readings)))
        return BAD
    both = {key: _amount(read, key, reading, reader) for key in ("applied", "indicated")}
    if None in both.values():
        return BAD
    return read.record(reading=reading.name, **both)


def _amount(read: Read, key: str, reading: Reading, reader: Reader) -> float | None:
    """A value in the reading's unit: as such, in percent of full scale, or as on the dial."""
    text, measure = read.values[key].strip(), _UNITS[reading.quantity]
    on_dial = _on_dial(text, reading, reader) if key == "indicated" else None
    if on_dial is not None:
        return on_dial * reading.full_scale
    try:
        value, unit = quantity.read_either(text, (measure, _OF_FULL_SCALE))
    except BadQuantity as error:
        hint = f"write {measure.noun} such as '{measure.example}', or percent of full scale"
        if key == "indicated":
            hint += "; a bare number is read on an arc named by its ends, such as scale: 0-250"
        reader.fault(read.near(key), error.message, hint)
        return None
    return value if unit is measure else value / 100.0 * reading.full_scale


def _on_dial(text: str, reading: Reading, reader: Reader) -> float | None:
    """Share of full scale that a bare number on the reading's arc stands for."""
    meters = reader.spec.all_of(Meter, reader.wiring) if reader.spec and reader.wiring else {}
    rests = {meter.zero for meter in meters.values()}
    ends = figures_of(reading.scale, rests.pop() if len(rests) == 1 else "left")
    try:
        number = float(text)
    except ValueError:
        return None
    if ends is None or not isfinite(number):
        return None
    return (number - ends[0]) / (ends[1] - ends[0])


@makes(Accepted)
def _accepted(read: Read, reader: Reader) -> Any:
    name = read.test.strip()
    tests = [test.test for test in reader.spec.acceptance] if reader.spec else []
    if name not in tests:
        message = f"no acceptance test is called {shown(name)}"
        reader.fault(read.near("test"), message, Nearest(name, tests))
        return BAD
    return read.record(test=name, found=read.found.strip())
