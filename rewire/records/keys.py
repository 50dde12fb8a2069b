"""What may stand behind the keys of a file: each record says it of its own fields.

A value arrives as a text, a list or a mapping; an empty text stands for nothing at all. A field
reads it, says in plain words what is wrong with it, and has the JSON Schema of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from rewire.words import quantity
from rewire.words.quantity import Measure, doubt, read_pieces, values_and_signs
from rewire.words.wire import BadColour, read_colour
from rewire.words.wording import Wrong, listed, shown

NAME = r"[A-Za-z][A-Za-z0-9_-]*"
LUG = r"[A-Za-z0-9_+-]+"
VERSION = "1"
TIMINGS = ("non-shorting", "shorting", "unknown")
MISSING: Any = object()
Schema = dict[str, Any]
NOTHING: Schema = {"enum": [None, ""]}
TYPED: Schema = {"type": ["string", "number", "boolean"]}
"""What an editor may take a text for."""
_FLAGS = {
    **dict.fromkeys(("yes", "true", "on", "y"), True),
    **dict.fromkeys(("no", "false", "off", "n"), False),
}
_LONGEST_PLACES = 80
_MOST_LUGS = 100_000
_MOST_DECKS = 60
_TWENTIETH = 0.2
"""A bare percentage up to here may be a fraction: 0.05 for 5 %."""
_BARE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*")


@dataclass(frozen=True, slots=True, eq=False)
class ValueKind:
    """A value that is read whole from a text, a list or a mapping; ``read`` raises ``Wrong``."""

    read: Callable[[Any], Any]
    json: Schema
    names: str = ""
    """What the texts in it are names of: ``place``, ``anchor``, ``when`` or ``state``."""
    doubts: Callable[[str], Iterator[str]] | None = None
    """What a text may have meant that it does not say."""


@dataclass(frozen=True, slots=True)
class Items:
    """A list, or nothing."""

    of: Kind


@dataclass(frozen=True, slots=True)
class Named:
    """A mapping from names of the user's choice, or nothing."""

    of: Kind
    names: ValueKind


class AnyPart:
    """A part of any kind, told by the key that names its kind."""


class AnyNets:
    """Nets, in a mapping by their names or in a list without."""


Kind = ValueKind | Items | Named | type[Any]
"""Of a value; a class stands for the record of that class."""


@dataclass(frozen=True, slots=True)
class Key:
    """What may stand behind a key; of the field's name, where no other is given."""

    kind: Kind
    name: str = ""
    also: tuple[str, ...] = ()
    """Further fields that the value is for."""
    default: Any = MISSING
    """Where the key is left out; without it, that of the record's field, else it is needed."""
    vital: bool = False
    """Whether the rest has no sense where the value is malformed."""
    null: bool = True
    """Whether the schema takes null where the key may be left out."""


@dataclass(frozen=True, slots=True)
class WrittenAs:
    """How a record may be written, where not as a mapping of all its keys alone."""

    as_list: tuple[str, ...] = ()
    """The keys that the items of a list stand for, in order."""
    as_whole: str = ""
    """The key that a whole list stands for."""
    nothing: Collection[str] = ()
    """Texts that stand for a record without keys."""
    other: Schema | None = None
    """The schema of the other way."""
    check: Callable[[Collection[str]], None] | None = None
    """Raises ``Wrong`` where its keys do not go together."""
    american: bool = False
    """Whether a key may be spelt the American way."""
    more: Mapping[str, Key] = field(default_factory=dict)
    """Keys that no one field stands for."""


OR_NOTHING = WrittenAs(nothing=("",), other=NOTHING)


def two_in_one(text: str) -> tuple[str, str] | None:
    """What is wrong with a place that holds a blank, and the way out; None if it holds none."""
    words = text.split()
    if len(words) < 2 or len(text) > _LONGEST_PLACES:
        return None
    return f"{shown(text)} is not one place", f"write a comma between two: {', '.join(words)}"


def text_of(value: Any) -> str:
    """Free text that says something."""
    if isinstance(value, dict):
        raise Wrong("a text is needed, not a mapping", "quote a text that holds ': '")
    if isinstance(value, list):
        raise Wrong("a text is needed, not a list", "quote a text that begins with '['")
    if not value.strip():
        raise Wrong("no value stands here", "write one, or take the key out")
    return str(value)


def _texts(value: Any, message: str, hint: str = "write [one, other, …]") -> list[str]:
    """A list of one text or more."""
    if not isinstance(value, list) or not value:
        raise Wrong(message, hint)
    return [text_of(item) for item in value]


def _dict(value: Any, message: str, hint: str) -> dict[str, Any]:
    if not isinstance(value, dict) or not value:
        raise Wrong(message, hint)
    return value


def _name(value: Any) -> str:
    if re.fullmatch(NAME, text_of(value)):
        return str(value)
    hint = "a name begins with a letter and has letters, digits, _ and - only"
    raise Wrong(f"{shown(value)} cannot be a name", hint)


def _end(value: Any) -> str:
    if not isinstance(value, str):
        raise Wrong("a text is needed, not a list or mapping")
    if not value:
        raise Wrong("no value stands here")
    return value


def _flag(value: Any) -> bool:
    word = text_of(value).strip().lower()
    if word not in _FLAGS:
        raise Wrong(f"{shown(value)} is neither yes nor no", "write yes or no")
    return _FLAGS[word]


def _colour(value: Any) -> str:
    try:
        return read_colour(text_of(value))
    except BadColour as error:
        raise Wrong(f"{shown(value)}: {error.message}", error.hint) from None


def _pair(value: Any) -> tuple[str, str]:
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


def _one_or_more(value: Any) -> tuple[str, ...]:
    if value == []:
        raise Wrong("an empty list", "name at least one")
    return tuple(dict.fromkeys(map(text_of, value if isinstance(value, list) else [value])))


def _when(value: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(value, dict):
        raise Wrong("controls and their positions are needed", "write {CONTROL: POSITION}")
    return {key: _one_or_more(item) for key, item in value.items()}


def _state(value: Any) -> dict[str, str]:
    state = _dict(value, "a state is needed", "write {CONTROL: POSITION, …}")
    if not all(isinstance(item, str) for item in state.values()):
        raise Wrong("one position for each control is needed", "write one line for each state")
    return {key: text_of(item) for key, item in state.items()}


def _spot(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("a spot on the page is a list of two fractions", "write [0.42, 0.31]")
    return _fraction(value[0]), _fraction(value[1])


def _fraction(value: Any) -> float:
    if not isinstance(value, str) or not re.fullmatch(r"\s*(0?\.[0-9]+|[01]\.?[0-9]*)\s*", value):
        hint = "0, 0 is the top left, 1, 1 the bottom right"
        raise Wrong("a fraction from 0 to 1 is needed", hint)
    if float(value) > 1:
        raise Wrong(f"{shown(value)} is over 1", "at is a fraction of the page's width and height")
    return float(value)


def _distinct(value: Any) -> tuple[str, ...]:
    names = _texts(value, "a list of names is needed")
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise Wrong(f"{shown(name)} stands twice in this list")
        seen.add(name)
    return tuple(names)


def _chassis(value: Any) -> tuple[bool, bool]:
    """Whether a point is the chassis, and whether that is live."""
    word = text_of(value).strip().lower()
    same = {"true": "yes", "on": "yes", "false": "no", "off": "no"}.get(word, word)
    if same not in ("yes", "live", "no"):
        hint = "write yes, or live without a transformer"
        raise Wrong(f"{shown(value)} is not yes, live or no", hint)
    return same != "no", same == "live"


def _image(value: Any) -> str:
    """A path to a file beside the spec or below it."""
    path = text_of(value)
    steps = re.split(r"[/\\]", path)
    if ".." in steps or not steps[0] or ":" in steps[0] or steps[0].startswith("~"):
        raise Wrong(f"{shown(value)} does not lie beside the spec or below it", "copy it there")
    return path


def _version(value: Any) -> str:
    if text_of(value).strip() != VERSION:
        message = f"version {shown(value)} of the format is not known"
        raise Wrong(message, f"write rewire: {VERSION}")
    return VERSION


def _replaces(value: Any) -> str | dict[str, str]:
    if not isinstance(value, dict):
        return text_of(value)
    if not value or not all(isinstance(target, str) for target in value.values()):
        raise Wrong("lugs and what they replace are needed", "write {1: R12.1, 2: R12.2}")
    return {lug: text_of(target) for lug, target in value.items()}


def _full_scale(value: Any) -> tuple[float | None, float | None]:
    """Amperes and volts at full scale, one of them None."""
    measures = (quantity.SOME_AMPS, quantity.SOME_VOLTS)
    number, measure = quantity.read_either(text_of(value), measures)
    return (number, None) if measure.unit == "A" else (None, number)


def _diode(value: Any) -> tuple[str | None, float | None]:
    """The material, or the forward voltage."""
    word = text_of(value).strip()
    if word in ("silicon", "germanium"):
        return word, None
    try:
        return None, quantity.read(word, quantity.SOME_VOLTS)
    except Wrong as error:
        hint = "write silicon, germanium or a forward voltage"
        raise Wrong(error.message, hint) from None


def _or_word(word: str, measure: Measure) -> Callable[[Any], float | None]:
    """A quantity, or a word that stands for none."""

    def read(value: Any) -> float | None:
        text = text_of(value).strip()
        if text == word:
            return None
        try:
            return quantity.read(text, measure)
        except Wrong as error:
            raise Wrong(error.message, f"{error.hint}, or {word}") from None

    return read


def _resistance(value: Any) -> Any:
    return None if value == "fit" else read_pieces(text_of(value))


def _strip(value: Any) -> int | tuple[str, ...]:
    """How many lugs, or their names."""
    if isinstance(value, list):
        return tuple(_lugs(value))
    word = text_of(value).strip()
    if not word.isascii() or not word.isdigit() or len(word) > 6:
        raise Wrong(f"{shown(value)} is not a number of lugs", "write a number, or [name, name, …]")
    if not 0 < int(word) <= _MOST_LUGS:
        raise Wrong(f"a strip of {int(word)} lugs", f"1 to {_MOST_LUGS} can be")
    return int(word)


def _lugs(value: Any) -> list[str]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of lugs is needed", "write [one, other, …]")
    if not all(isinstance(lug, str) for lug in value):
        raise Wrong("each lug is one name", "write [one, other, …]")
    return value


def _timing(value: Any) -> str | dict[str, str]:
    if isinstance(value, dict):
        return {lug: str(_timing(text_of(word))) for lug, word in value.items()}
    word = text_of(value).strip()
    if word not in TIMINGS:
        hint = f"write one of {listed(TIMINGS)} (shorting is make before break)"
        raise Wrong(f"{shown(value)} is no timing", hint)
    return word


def _throws(value: Any) -> dict[str, int | None]:
    hint = "write {POSITION: 1, OTHER: open}"
    throws = _dict(value, "positions and their throws are needed", hint)
    return {position: _throw(throw) for position, throw in throws.items()}


def _throw(value: Any) -> int | None:
    word = text_of(value).strip()
    if word == "open":
        return None
    if not word.isascii() or not word.isdigit() or len(word) > 4 or int(word) == 0:
        raise Wrong(f"{shown(value)} is not a throw", "write a throw's number from 1 up, or open")
    return int(word)


def _own_lugs(value: Any) -> Any:
    """Lists of names by pole, one flat list, or a mapping from pole letter to list."""
    if isinstance(value, dict):
        return {letter: _lugs(row) for letter, row in value.items()}
    if not isinstance(value, list) or not value:
        raise Wrong("lists of lugs are needed", "write [[common, throw 1, throw 2], …]")
    if all(isinstance(row, list) for row in value):
        return [_lugs(row) for row in value]
    return _lugs(value)


def _contacts(value: Any) -> dict[str, list[list[str]]]:
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
    return [_lugs(group) for group in value]


def _lug_rows(value: Any) -> tuple[tuple[str, ...], ...]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of lists of lugs is needed", "write [[one, other], [third, fourth]]")
    return tuple(tuple(_lugs(row)) for row in value)


def _decks(value: Any) -> int | tuple[tuple[str, ...], ...]:
    if isinstance(value, list):
        return _lug_rows(value)
    word = text_of(value).strip()
    if not word.isascii() or not word.isdigit() or not 0 < int(word[:5]) <= _MOST_DECKS:
        hint = "write how many, or the poles deck by deck: [[A, C], [B]]"
        raise Wrong(f"{shown(value)} is not a number of decks", hint)
    return int(word)


def _step(value: Any) -> float:
    word = text_of(value).strip().removesuffix("°")
    if not _BARE.fullmatch(word) or not 0 < float(word) <= 360:
        raise Wrong(f"{shown(value)} is no step", "write the degrees between two throws")
    return float(word)


def _clock(value: Any) -> dict[str, float]:
    if not isinstance(value, dict):
        raise Wrong("lugs and their hours are needed", "write {A1: 12, A2: 1:30}")
    return {lug: _degrees(lug, text_of(hour)) for lug, hour in value.items()}


def _degrees(lug: str, hour: str) -> float:
    match = re.fullmatch(r"([0-9]{1,2})(?::([0-5][0-9]))?", hour.strip())
    if match is None or int(match[1]) > 12:
        raise Wrong(f"{shown(hour)} for {shown(lug)} is no hour", "write one such as 12, 3 or 1:30")
    return (int(match[1]) % 12) * 30.0 + int(match[2] or 0) * 0.5


def _of_unit(unit: str) -> Callable[[str], Iterator[str]]:
    """What quantities of a unit may have meant."""
    if unit == "%":
        return _maybe_a_fraction
    return lambda text: (said for one in values_and_signs(text) if (said := doubt(one, unit)))


def _maybe_a_fraction(text: str) -> Iterator[str]:
    if _BARE.fullmatch(text) and 0 < float(text) <= _TWENTIETH:
        percent = f"{100 * float(text):g}"
        yield f"{shown(text)} is read as {text.strip()} %; write {percent} % if that is meant"


def amount(measure: Measure) -> ValueKind:
    """The field of a quantity."""
    schema = {**TYPED, "description": f"{measure.noun}, such as {measure.example}"}
    unit = measure.unit if measure.unit in ("ohm", "F", "%") else ""
    return ValueKind(
        lambda value: quantity.read(text_of(value), measure), schema, doubts=_of_unit(unit)
    )


def word(*known: str, **meant: Any) -> ValueKind:
    """The field of a word of a list; ``meant`` is what some of them mean."""
    *most, last = (f"'{one}'" for one in known)
    hint = f"write {', '.join(most)} or {last}" if most else f"write {last}"

    def read(value: Any) -> Any:
        if isinstance(value, str) and value in known:
            return meant.get(value, value)
        raise Wrong("this word is not known here", hint)

    kept: Schema = {"enum": list(known)} if most else {"const": known[0]}
    return ValueKind(read, {**kept, "type": "string"})


def _mapping(to: Schema, **more: Any) -> Schema:
    return {"type": "object", "additionalProperties": to, **more}


def _list(of: Schema, least: int = 1, **more: Any) -> Schema:
    return {"type": "array", "items": of, "minItems": least, **more}


LIST = _list(TYPED)
_NUMBER: Schema = {"type": ["string", "number"]}
_LUG: Schema = {"type": ["string", "integer"], "pattern": f"^{LUG}$"}
_LUGS = _list(_LUG)
_EITHER: Schema = {"anyOf": [TYPED, LIST]}
_NAMED: Schema = {"type": "string", "pattern": f"^{NAME}$"}
_FRACTION: Schema = {"type": ["number", "string"], "minimum": 0, "maximum": 1}
_TIMING: Schema = {"enum": list(TIMINGS)}
_TWO = _list(TYPED, 2, maxItems=2)
_MEMBERS_NEEDED = "a net is a list of points and terminals"

ANYTHING = ValueKind(lambda value: value, {})
TEXT = ValueKind(text_of, TYPED)
END = ValueKind(_end, TYPED)
ID = ValueKind(_name, _NAMED)
YES_OR_NO = ValueKind(_flag, TYPED)
COLOUR = ValueKind(_colour, {"type": "string", "pattern": "^([A-Za-z]{2}){1,4}$"})
PAIR = ValueKind(_pair, _TWO)
PLACES = ValueKind(_pair, _TWO, "place")
ANCHORS = ValueKind(_pair, _TWO, "anchor")
ONE_OR_MORE = ValueKind(_one_or_more, _EITHER)
WHEN = ValueKind(_when, _mapping(_EITHER), "when")
STATE = ValueKind(_state, _mapping(TYPED, minProperties=1), "state")
SPOT = ValueKind(_spot, _list(_FRACTION, 2, maxItems=2))
DISTINCT = ValueKind(_distinct, LIST)
MEMBERS = ValueKind(
    lambda value: tuple(_texts(value, _MEMBERS_NEEDED)), _list({"type": "string"}), "place"
)
CHASSIS = ValueKind(_chassis, {"enum": ["yes", "live", "no", True, False]})
IMAGE = ValueKind(_image, {"type": "string"})
FORMAT = ValueKind(_version, {"enum": [int(VERSION), VERSION]})
REPLACES = ValueKind(_replaces, {"anyOf": [_NAMED, _mapping({"type": "string"})]})
FULL_SCALE = ValueKind(
    _full_scale,
    {"type": "string", "description": "at full scale, such as 1 mA or 50 mV"},
    doubts=_of_unit(""),
)
DIODE = ValueKind(_diode, _NUMBER, doubts=_of_unit(""))
SETTING = ValueKind(_or_word("fit", quantity.PERCENT), _NUMBER)
METER_OHMS = ValueKind(_or_word("unknown", quantity.OHMS), _NUMBER, doubts=_of_unit("ohm"))
OHMS = amount(quantity.OHMS)
FUSE_OHMS = ValueKind(lambda value: (OHMS.read(value), True), OHMS.json, doubts=OHMS.doubts)
RESISTANCE = ValueKind(_resistance, _NUMBER, doubts=_of_unit("ohm"))
STRIP = ValueKind(_strip, {"anyOf": [{"type": ["integer", "string"]}, _LUGS]})
TIMING = ValueKind(_timing, {"anyOf": [_TIMING, _mapping(_TIMING)]})
THROWS = ValueKind(_throws, _mapping(_NUMBER))
LUGS = ValueKind(_own_lugs, {"anyOf": [_LUGS, _list(_LUGS), _mapping(_LUGS)]})
LUG_LIST = ValueKind(lambda value: tuple(_lugs(value)), _LUGS)
LUG_ROWS = ValueKind(_lug_rows, _list(_list(TYPED)))
DECKS = ValueKind(_decks, {"anyOf": [{"type": ["integer", "string"]}, _list(_LUGS)]})
STEP = ValueKind(_step, _NUMBER)
CLOCK = ValueKind(_clock, _mapping(_NUMBER))
CONTACTS = ValueKind(_contacts, _mapping({"type": "array", "items": _LUGS}))
SHARE = amount(quantity.PERCENT)
WATTS = amount(quantity.WATTS)
VOLTS = amount(quantity.NAMED_VOLTS)
AMPS = amount(quantity.NAMED_AMPS)
SIGNED_VOLTS = amount(quantity.SIGNED_VOLTS)
SOME_AMPS = amount(quantity.SOME_AMPS)
