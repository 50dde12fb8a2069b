"""The kinds of field that only parts have: full scale, throws, contacts, settings."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import PlainValidator, WithJsonSchema

from rewire.spec import quantity
from rewire.spec.fields import LUG, NAME, read_text, wrong
from rewire.spec.model import Pieces
from rewire.spec.pieces import read_pieces
from rewire.spec.quantity import BadQuantity
from rewire.spec.report import listed, shown

TIMINGS = ("non-shorting", "shorting", "unknown")
_MOST_LUGS = 100_000


def _read_replaces(value: Any) -> Any:
    if isinstance(value, dict):
        if not value or not all(isinstance(target, str) for target in value.values()):
            raise wrong("lugs and what they replace are needed", "write {1: R12.1, 2: R12.2}")
        return {lug: read_text(target) for lug, target in value.items()}
    return read_text(value)


def _read_full_scale(value: Any) -> tuple[float | None, float | None]:
    """Amperes and volts at full scale, one of them None."""
    measures = (quantity.SOME_AMPS, quantity.SOME_VOLTS)
    try:
        number, measure = quantity.read_either(read_text(value), measures)
    except BadQuantity as error:
        raise wrong(error.message, error.hint) from None
    return (number, None) if measure.unit == "A" else (None, number)


def _read_diode(value: Any) -> str | float:
    word = read_text(value).strip()
    if word in ("silicon", "germanium"):
        return word
    try:
        return quantity.read(word, quantity.SOME_VOLTS)
    except BadQuantity as error:
        raise wrong(error.message, "write silicon, germanium or a forward voltage") from None


def _read_strip(value: Any) -> int | list[str]:
    if isinstance(value, list):
        return [str(lug) for lug in _lug_list(value)]
    word = read_text(value).strip()
    if not word.isascii() or not word.isdigit() or len(word) > 6:
        raise wrong(f"{shown(value)} is not a number of lugs", "write a number, or [name, name, …]")
    if not 0 < int(word) <= _MOST_LUGS:
        raise wrong(f"a strip of {int(word)} lugs", f"1 to {_MOST_LUGS} can be")
    return int(word)


def _lug_list(value: Any) -> list[str]:
    if not isinstance(value, list) or not value:
        raise wrong("a list of lugs is needed", "write [one, other, …]")
    for lug in value:
        if not isinstance(lug, str):
            raise wrong("each lug is one name", "write [one, other, …]")
    return value


def _read_timing(value: Any) -> Any:
    if isinstance(value, dict):
        return {lug: _timing(word) for lug, word in value.items()}
    return _timing(value)


def _timing(value: Any) -> str:
    word = read_text(value).strip()
    if word not in TIMINGS:
        hint = f"write one of {listed(TIMINGS)} (shorting is make before break)"
        raise wrong(f"{shown(value)} is no timing", hint)
    return word


def _read_throws(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise wrong("positions and their throws are needed", "write {POSITION: 1, OTHER: open}")
    return {position: _throw(throw) for position, throw in value.items()}


def _throw(value: Any) -> int | None:
    word = read_text(value).strip()
    if word == "open":
        return None
    if not word.isascii() or not word.isdigit() or len(word) > 4 or int(word) == 0:
        raise wrong(f"{shown(value)} is not a throw", "write a throw's number from 1 up, or open")
    return int(word)


def _read_own_lugs(value: Any) -> Any:
    """Lists of names by pole, one flat list, or a mapping from pole letter to list."""
    if isinstance(value, dict):
        return {letter: _lug_list(row) for letter, row in value.items()}
    rows = value if isinstance(value, list) else None
    if not rows:
        raise wrong("lists of lugs are needed", "write [[common, throw 1, throw 2], …]")
    if all(isinstance(row, list) for row in rows):
        return [_lug_list(row) for row in rows]
    return _lug_list(rows)


def _read_contacts(value: Any) -> Any:
    if value == "":
        return {}
    if not isinstance(value, dict):
        raise wrong("positions and groups of lugs are needed", "write {POSITION: [[A, A1], …]}")
    return {position: _groups(groups) for position, groups in value.items()}


def _groups(value: Any) -> list[list[str]]:
    if value == "":
        return []
    if not isinstance(value, list) or not all(isinstance(group, list) for group in value):
        raise wrong("a list of groups of lugs is needed", "write [[A, A1], [B, B1]]")
    return [_lug_list(group) for group in value]


def _read_setting(value: Any) -> float | Literal["fit"]:
    word = read_text(value).strip()
    if word == "fit":
        return "fit"
    try:
        return quantity.read(word, quantity.PERCENT)
    except BadQuantity as error:
        raise wrong(error.message, f"{error.hint}, or fit") from None


def _read_meter_ohms(value: Any) -> float | None:
    if value == "unknown":
        return None
    try:
        return quantity.read(read_text(value), quantity.OHMS)
    except BadQuantity as error:
        raise wrong(error.message, f"{error.hint}, or unknown") from None


def _read_resistor(value: Any) -> Pieces | Literal["fit"]:
    if value == "fit":
        return "fit"
    try:
        return read_pieces(read_text(value))
    except BadQuantity as error:
        raise wrong(error.message, error.hint) from None


_TYPED: dict[str, Any] = {"type": ["string", "number"]}
_LUG: dict[str, Any] = {"type": ["string", "integer"], "pattern": f"^{LUG}$"}
_LUGS: dict[str, Any] = {"type": "array", "items": _LUG, "minItems": 1}
_TIMING: dict[str, Any] = {"enum": list(TIMINGS)}


def _mapping(to: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": to}


def _either(*schemas: dict[str, Any]) -> WithJsonSchema:
    return WithJsonSchema({"anyOf": list(schemas)})


Replaces = Annotated[
    str | dict[str, str],
    PlainValidator(_read_replaces),
    _either({"type": "string", "pattern": f"^{NAME}$"}, _mapping({"type": "string"})),
]
FullScale = Annotated[
    tuple[float | None, float | None],
    PlainValidator(_read_full_scale),
    WithJsonSchema({"type": "string", "description": "at full scale, such as 1 mA or 50 mV"}),
]
MeterOhms = Annotated[float | None, PlainValidator(_read_meter_ohms), WithJsonSchema(_TYPED)]
ResistorValue = Annotated[
    Pieces | Literal["fit"], PlainValidator(_read_resistor), WithJsonSchema(_TYPED)
]
Setting = Annotated[float | Literal["fit"], PlainValidator(_read_setting), WithJsonSchema(_TYPED)]
DiodeKind = Annotated[str | float, PlainValidator(_read_diode), WithJsonSchema(_TYPED)]
StripLugs = Annotated[
    int | list[str],
    PlainValidator(_read_strip),
    _either({"type": ["integer", "string"]}, _LUGS),
]
TimingWritten = Annotated[
    str | dict[str, str], PlainValidator(_read_timing), _either(_TIMING, _mapping(_TIMING))
]
Throws = Annotated[
    dict[str, int | None], PlainValidator(_read_throws), WithJsonSchema(_mapping(_TYPED))
]
OwnLugs = Annotated[
    list[str] | list[list[str]] | dict[str, list[str]],
    PlainValidator(_read_own_lugs),
    _either(_LUGS, {"type": "array", "items": _LUGS}, _mapping(_LUGS)),
]
Contacts = Annotated[
    dict[str, list[list[str]]],
    PlainValidator(_read_contacts),
    WithJsonSchema(_mapping({"type": "array", "items": _LUGS})),
]
