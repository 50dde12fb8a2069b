"""What the values of keys can be: texts, names, quantities, pairs, and what parts have besides.

Every value arrives as a text, a list or a mapping; an empty text stands for nothing at all. A
field reads it, says in plain words what is wrong with it, and has the JSON Schema of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from rewire.reading.forms import Field, Schema
from rewire.reading.pieces import read_pieces
from rewire.words import quantity
from rewire.words.colours import BadColour, read_colour
from rewire.words.quantity import Measure
from rewire.words.wording import Wrong, listed, shown

NAME = r"[A-Za-z][A-Za-z0-9_-]*"
LUG = r"[A-Za-z0-9_+-]+"
VERSION = "1"
TIMINGS = ("non-shorting", "shorting", "unknown")
_is_name = re.compile(NAME).fullmatch
_YES_OR_NO = {
    **dict.fromkeys(("yes", "true", "on", "y"), True),
    **dict.fromkeys(("no", "false", "off", "n"), False),
}
_LONGEST_PLACES = 80
_MOST_LUGS = 100_000


def two_in_one(text: str) -> tuple[str, str] | None:
    """What is wrong with a place that holds a blank, and the way out; None if it holds none."""
    words = text.split()
    if len(words) < 2 or len(text) > _LONGEST_PLACES:
        return None
    return f"{shown(text)} is not one place", f"write a comma between two: {', '.join(words)}"


def read_text(value: Any) -> str:
    """Free text that says something."""
    if isinstance(value, dict):
        raise Wrong("a text is needed, not a mapping", "quote a text that holds ': '")
    if isinstance(value, list):
        raise Wrong("a text is needed, not a list", "quote a text that begins with '['")
    if not value.strip():
        raise Wrong("no value stands here", "write one, or take the key out")
    return str(value)


def read_name(value: Any) -> str:
    """The name of a point, a part or a wire."""
    if _is_name(read_text(value)):
        return str(value)
    hint = "a name begins with a letter and has letters, digits, _ and - only"
    raise Wrong(f"{shown(value)} cannot be a name", hint)


def _read_end(value: Any) -> str:
    if not isinstance(value, str):
        raise Wrong("a text is needed, not a list or mapping")
    if not value:
        raise Wrong("no value stands here")
    return value


def _read_flag(value: Any) -> bool:
    word = read_text(value).strip().lower()
    if word not in _YES_OR_NO:
        raise Wrong(f"{shown(value)} is neither yes nor no", "write yes or no")
    return _YES_OR_NO[word]


def _read_colour(value: Any) -> str:
    try:
        return read_colour(read_text(value))
    except BadColour as error:
        raise Wrong(f"{shown(value)}: {error.message}", error.hint) from None


def _read_pair(value: Any) -> tuple[str, str]:
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], str):
        forgotten = two_in_one(value[0])
        if forgotten:
            raise Wrong(*forgotten)
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("two places are needed here", "write [one, other]")
    if not all(isinstance(item, str) and item.strip() for item in value):
        raise Wrong("two names are needed here", "write [one, other], names of points or terminals")
    if value[0] == value[1]:
        raise Wrong(f"both places are {shown(value[0])}")
    return value[0], value[1]


def _read_one_or_more(value: Any) -> tuple[str, ...]:
    items = value if isinstance(value, list) else [value]
    if not items:
        raise Wrong("an empty list", "name at least one")
    return tuple(dict.fromkeys(read_text(item) for item in items))


def _read_when(value: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(value, dict):
        raise Wrong("controls and their positions are needed", "write {CONTROL: POSITION}")
    return {key: _read_one_or_more(item) for key, item in value.items()}


def _read_state(value: Any) -> dict[str, str]:
    if not isinstance(value, dict) or not value:
        raise Wrong("a state is needed", "write {CONTROL: POSITION, …}")
    if not all(isinstance(item, str) for item in value.values()):
        raise Wrong("one position for each control is needed", "write one line for each state")
    return {key: read_text(item) for key, item in value.items()}


def _read_spot(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("a spot on the page is a list of two fractions", "write [0.42, 0.31]")
    return _read_fraction(value[0]), _read_fraction(value[1])


def _read_fraction(value: Any) -> float:
    if not isinstance(value, str) or not re.fullmatch(r"\s*(0?\.[0-9]+|[01]\.?[0-9]*)\s*", value):
        hint = "0, 0 is the top left, 1, 1 the bottom right"
        raise Wrong("a fraction from 0 to 1 is needed", hint)
    if float(value) > 1:
        raise Wrong(f"{shown(value)} is over 1", "at is a fraction of the page's width and height")
    return float(value)


def _read_distinct(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of names is needed", "write [one, other, …]")
    seen: dict[str, None] = {}
    for name in map(read_text, value):
        if name in seen:
            raise Wrong(f"{shown(name)} stands twice in this list")
        seen[name] = None
    return tuple(seen)


def _read_members(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise Wrong("a net is a list of points and terminals", "write [one, other, …]")
    return tuple(read_text(item) for item in value)


def _read_chassis(value: Any) -> str:
    word = read_text(value).strip().lower()
    same = {"true": "yes", "on": "yes", "false": "no", "off": "no"}.get(word, word)
    if same not in ("yes", "live", "no"):
        hint = "write yes, or live without a transformer"
        raise Wrong(f"{shown(value)} is not yes, live or no", hint)
    return same


def _read_image(value: Any) -> str:
    """A path to a file beside the spec or below it."""
    path = read_text(value)
    steps = re.split(r"[/\\]", path)
    if ".." in steps or not steps[0] or ":" in steps[0] or steps[0].startswith("~"):
        raise Wrong(f"{shown(value)} does not lie beside the spec or below it", "copy it there")
    return path


def _read_version(value: Any) -> str:
    if read_text(value).strip() != VERSION:
        message = f"version {shown(value)} of the format is not known"
        raise Wrong(message, f"write rewire: {VERSION}")
    return VERSION


def _read_replaces(value: Any) -> str | dict[str, str]:
    if not isinstance(value, dict):
        return read_text(value)
    if not value or not all(isinstance(target, str) for target in value.values()):
        raise Wrong("lugs and what they replace are needed", "write {1: R12.1, 2: R12.2}")
    return {lug: read_text(target) for lug, target in value.items()}


def _read_full_scale(value: Any) -> tuple[float | None, float | None]:
    """Amperes and volts at full scale, one of them None."""
    measures = (quantity.SOME_AMPS, quantity.SOME_VOLTS)
    number, measure = quantity.read_either(read_text(value), measures)
    return (number, None) if measure.unit == "A" else (None, number)


def _read_diode(value: Any) -> tuple[str | None, float | None]:
    """The material, or the forward voltage."""
    word = read_text(value).strip()
    if word in ("silicon", "germanium"):
        return word, None
    hint = "write silicon, germanium or a forward voltage"
    return None, _hinted(word, quantity.SOME_VOLTS, lambda _: hint)


def _hinted(text: str, measure: Measure, hint: Callable[[str | None], str]) -> float:
    """A quantity, where something else can stand in its place."""
    try:
        return quantity.read(text, measure)
    except Wrong as error:
        raise Wrong(error.message, hint(error.hint)) from None


def _read_setting(value: Any) -> float | None:
    word = read_text(value).strip()
    if word == "fit":
        return None
    return _hinted(word, quantity.PERCENT, lambda hint: f"{hint}, or fit")


def _read_meter_ohms(value: Any) -> float | None:
    if value == "unknown":
        return None
    return _hinted(read_text(value), quantity.OHMS, lambda hint: f"{hint}, or unknown")


def _read_fuse_ohms(value: Any) -> tuple[float, bool]:
    """Ohms, and that they are stated."""
    return quantity.read(read_text(value), quantity.OHMS), True


def _read_strip(value: Any) -> int | tuple[str, ...]:
    """How many lugs, or their names."""
    if isinstance(value, list):
        return tuple(_lug_list(value))
    word = read_text(value).strip()
    if not word.isascii() or not word.isdigit() or len(word) > 6:
        raise Wrong(f"{shown(value)} is not a number of lugs", "write a number, or [name, name, …]")
    if not 0 < int(word) <= _MOST_LUGS:
        raise Wrong(f"a strip of {int(word)} lugs", f"1 to {_MOST_LUGS} can be")
    return int(word)


def _lug_list(value: Any) -> list[str]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of lugs is needed", "write [one, other, …]")
    if not all(isinstance(lug, str) for lug in value):
        raise Wrong("each lug is one name", "write [one, other, …]")
    return value


def _read_timing(value: Any) -> str | dict[str, str]:
    if isinstance(value, dict):
        return {lug: _timing(word) for lug, word in value.items()}
    return _timing(value)


def _timing(value: Any) -> str:
    word = read_text(value).strip()
    if word not in TIMINGS:
        hint = f"write one of {listed(TIMINGS)} (shorting is make before break)"
        raise Wrong(f"{shown(value)} is no timing", hint)
    return word


def _read_throws(value: Any) -> dict[str, int | None]:
    if not isinstance(value, dict) or not value:
        raise Wrong("positions and their throws are needed", "write {POSITION: 1, OTHER: open}")
    return {position: _throw(throw) for position, throw in value.items()}


def _throw(value: Any) -> int | None:
    word = read_text(value).strip()
    if word == "open":
        return None
    if not word.isascii() or not word.isdigit() or len(word) > 4 or int(word) == 0:
        raise Wrong(f"{shown(value)} is not a throw", "write a throw's number from 1 up, or open")
    return int(word)


def _read_own_lugs(value: Any) -> Any:
    """Lists of names by pole, one flat list, or a mapping from pole letter to list."""
    if isinstance(value, dict):
        return {letter: _lug_list(row) for letter, row in value.items()}
    if not isinstance(value, list) or not value:
        raise Wrong("lists of lugs are needed", "write [[common, throw 1, throw 2], …]")
    if all(isinstance(row, list) for row in value):
        return [_lug_list(row) for row in value]
    return _lug_list(value)


def _read_contacts(value: Any) -> dict[str, list[list[str]]]:
    if value == "":
        return {}
    if not isinstance(value, dict):
        raise Wrong("positions and groups of lugs are needed", "write {POSITION: [[A, A1], …]}")
    return {position: _groups(groups) for position, groups in value.items()}


def _groups(value: Any) -> list[list[str]]:
    if value == "":
        return []
    if not isinstance(value, list) or not all(isinstance(group, list) for group in value):
        raise Wrong("a list of groups of lugs is needed", "write [[A, A1], [B, B1]]")
    return [_lug_list(group) for group in value]


def amount(measure: Measure) -> Field:
    """The field of a quantity."""
    schema = {**TYPED, "description": f"{measure.noun}, such as {measure.example}"}
    return Field(lambda value: quantity.read(read_text(value), measure), schema)


def word(*known: str, meant: dict[str, str] | None = None) -> Field:
    """The field of a word of a list; ``meant`` are other spellings of some."""
    *most, last = (f"'{one}'" for one in known)
    hint = f"write {', '.join(most)} or {last}" if most else f"write {last}"

    def read(value: Any) -> str:
        if isinstance(value, str) and value in known:
            return (meant or {}).get(value, value)
        raise Wrong("this word is not known here", hint)

    kept: Schema = {"enum": list(known)} if most else {"const": known[0]}
    return Field(read, {**kept, "type": "string"})


def _mapping(to: Schema, **more: Any) -> Schema:
    return {"type": "object", "additionalProperties": to, **more}


def _list(of: Schema, least: int = 1, **more: Any) -> Schema:
    return {"type": "array", "items": of, "minItems": least, **more}


TYPED: Schema = {"type": ["string", "number", "boolean"]}
"""What an editor may take a text for."""
LIST = _list(TYPED)
_NUMBER: Schema = {"type": ["string", "number"]}
_LUG: Schema = {"type": ["string", "integer"], "pattern": f"^{LUG}$"}
_LUGS = _list(_LUG)
_ONE_OR_MORE: Schema = {"anyOf": [TYPED, LIST]}
_NAMED: Schema = {"type": "string", "pattern": f"^{NAME}$"}
_FRACTION: Schema = {"type": ["number", "string"], "minimum": 0, "maximum": 1}

ANYTHING = Field(lambda value: value, {})
TEXT = Field(read_text, TYPED)
END = Field(_read_end, TYPED)
ID = Field(read_name, _NAMED)
YES_OR_NO = Field(_read_flag, TYPED)
COLOUR = Field(_read_colour, {"type": "string", "pattern": "^([A-Za-z]{2}){1,4}$"})
PAIR = Field(_read_pair, _list(TYPED, 2, maxItems=2))
ONE_OR_MORE = Field(_read_one_or_more, _ONE_OR_MORE)
WHEN = Field(_read_when, _mapping(_ONE_OR_MORE))
STATE = Field(_read_state, _mapping(TYPED, minProperties=1))
SPOT = Field(_read_spot, _list(_FRACTION, 2, maxItems=2))
DISTINCT = Field(_read_distinct, LIST)
MEMBERS = Field(_read_members, _list({"type": "string"}))
CHASSIS = Field(_read_chassis, {"enum": ["yes", "live", "no", True, False]})
IMAGE = Field(_read_image, {"type": "string"})
FORMAT = Field(_read_version, {"enum": [int(VERSION), VERSION]})
REPLACES = Field(_read_replaces, {"anyOf": [_NAMED, _mapping({"type": "string"})]})
FULL_SCALE = Field(
    _read_full_scale, {"type": "string", "description": "at full scale, such as 1 mA or 50 mV"}
)
DIODE = Field(_read_diode, _NUMBER)
SETTING = Field(_read_setting, _NUMBER)
METER_OHMS = Field(_read_meter_ohms, _NUMBER)
FUSE_OHMS = Field(_read_fuse_ohms, amount(quantity.OHMS).json)
RESISTANCE = Field(lambda value: None if value == "fit" else read_pieces(read_text(value)), _NUMBER)
STRIP = Field(_read_strip, {"anyOf": [{"type": ["integer", "string"]}, _LUGS]})
_TIMING: Schema = {"enum": list(TIMINGS)}
TIMING = Field(_read_timing, {"anyOf": [_TIMING, _mapping(_TIMING)]})
THROWS = Field(_read_throws, _mapping(_NUMBER))
LUGS = Field(_read_own_lugs, {"anyOf": [_LUGS, {"type": "array", "items": _LUGS}, _mapping(_LUGS)]})
CONTACTS = Field(_read_contacts, _mapping({"type": "array", "items": _LUGS}))
