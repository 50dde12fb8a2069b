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
from rewire.words.wire import read_colour
from rewire.words.wording import Wrong, in_brackets, listed, nearest, shown

NAME = r"[A-Za-z][A-Za-z0-9_-]*"
LUG = r"[A-Za-z0-9_+-]+"
VERSION = "1"
TIMINGS = ("non-shorting", "shorting", "unknown")
_SHORTING_SAID = {"make before break": True, "break before make": False, "nonshorting": False}
MISSING: Any = object()
Schema = dict[str, Any]
NOTHING: Schema = {"enum": [None, ""]}
TYPED: Schema = {"type": ["string", "number", "boolean"]}
_FLAGS = {
    **dict.fromkeys(("yes", "true", "on", "y"), True),
    **dict.fromkeys(("no", "false", "off", "n"), False),
}
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


def text_of(value: Any) -> str:
    """Free text that says something."""
    if isinstance(value, dict):
        raise Wrong("a text is needed, not a mapping", "quote a text that holds ': '")
    if isinstance(value, list):
        raise Wrong("a text is needed, not a list", "quote a text that begins with '['")
    if not value.strip():
        raise Wrong("no value stands here", "write one, or take the key out")
    return str(value)


def _list(of: Schema, least: int = 1, **more: Any) -> Schema:
    return {"type": "array", "items": of, "minItems": least, **more}


def _mapping(to: Schema, **more: Any) -> Schema:
    return {"type": "object", "additionalProperties": to, **more}


LIST = _list(TYPED)
_NUMBER: Schema = {"type": ["string", "number"]}
_COUNT: Schema = {"type": ["integer", "string"]}
_LUG: Schema = {"type": ["string", "integer"], "pattern": f"^{LUG}$"}
_LUGS = _list(_LUG)
_EITHER: Schema = {"anyOf": [TYPED, LIST]}
_NAMED: Schema = {"type": "string", "pattern": f"^{NAME}$"}
_FRACTION: Schema = {"type": ["number", "string"], "minimum": 0, "maximum": 1}
_COLOUR: Schema = {"type": "string", "pattern": "^([A-Za-z]{2}){1,4}$"}
_TIMING: Schema = {"enum": list(TIMINGS)}
_TWO = _list(TYPED, 2, maxItems=2)


Reader = Callable[[Any], Any]
"""From what stands in a file to a value; raises ``Wrong``."""


def _list_of(read: Reader, message: str, hint: str = "write [one, other, …]") -> Reader:
    """Every item of a list that is not empty."""

    def each(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list) or not value:
            raise Wrong(message, hint)
        return tuple(read(item) for item in value)

    return each


def _named(read: Reader, message: str, hint: str, least: int = 1) -> Reader:
    """Every value of a mapping; with ``least`` 0 there may be none."""

    def each(value: Any) -> dict[str, Any]:
        if not isinstance(value, dict) or len(value) < least:
            raise Wrong(message, hint)
        return {key: read(item) for key, item in value.items()}

    return each


def _matched(value: Any, pattern: str, message: str, hint: str | None) -> str:
    """A text that is of a pattern."""
    word = text_of(value).strip()
    if not re.fullmatch(pattern, word):
        raise Wrong(f"{shown(value)} {message}", hint)
    return word


def _name(value: Any) -> str:
    hint = "a name begins with a letter and has letters, digits, _ and - only"
    if not re.fullmatch(NAME, text_of(value)):
        like = re.sub(r"[^A-Za-z0-9_-]+", "_", value.strip()[:40])
        known = f"write {like}; {hint}" if re.fullmatch(NAME, like) else hint
        raise Wrong(f"{shown(value)} cannot be a name", known)
    return str(value)


def _flag(value: Any) -> bool:
    word = text_of(value).strip().lower()
    if word not in _FLAGS:
        raise Wrong(f"{shown(value)} is neither yes nor no", "write yes or no")
    return _FLAGS[word]


def _pair(value: Any) -> tuple[str, str]:
    if not isinstance(value, list) or len(value) != 2:
        text = value[0] if isinstance(value, list) and len(value) == 1 else value
        written = in_brackets(text) if isinstance(text, str) else "[one, other]"
        raise Wrong("two points or terminals are needed here", f"write {written}")
    if not all(isinstance(item, str) and item.strip() for item in value):
        raise Wrong("two names are needed here", "write [one, other], names of points or terminals")
    if value[0] == value[1]:
        raise Wrong(f"both ends are {shown(value[0])}", "name the other one")
    return value[0], value[1]


def _one_or_more(value: Any) -> tuple[str, ...]:
    if value == []:
        raise Wrong("an empty list", "name at least one")
    return tuple(dict.fromkeys(map(text_of, value if isinstance(value, list) else [value])))


def _position(value: Any) -> str:
    if isinstance(value, list):
        raise Wrong("one position for each control is needed", "write one line for each state")
    return text_of(value)


def _spot(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("a spot on the page is a list of two fractions", "write [0.42, 0.31]")
    return _fraction(value[0]), _fraction(value[1])


def _fraction(value: Any) -> float:
    hint, pattern = "0, 0 is the top left, 1, 1 the bottom right", r"0?\.[0-9]+|0\.?|1\.?0*"
    return float(_matched(value, pattern, "is no fraction from 0 to 1", hint))


def _distinct(value: Any) -> tuple[str, ...]:
    names: tuple[str, ...] = _list_of(text_of, "a list of names is needed")(value)
    twice = next((name for n, name in enumerate(names) if name in names[:n]), None)
    if twice is not None:
        raise Wrong(f"{shown(twice)} stands twice in this list")
    return names


def _chassis(value: Any) -> tuple[bool, bool]:
    """Whether a point is the chassis, and whether that is live."""
    word = text_of(value).strip().lower()
    if word == "live":
        return True, True
    if word not in ("yes", "true", "on", "no", "false", "off"):
        hint = "write yes, or live without a transformer"
        raise Wrong(f"{shown(value)} is not yes, live or no", hint)
    return _FLAGS[word], False


def _image(value: Any) -> str:
    """A path to a file beside the spec or below it."""
    path = text_of(value)
    steps = re.split(r"[/\\]", path)
    if ".." in steps or not steps[0] or ":" in steps[0] or steps[0].startswith("~"):
        raise Wrong(f"{shown(value)} does not lie beside the spec or below it", "copy it there")
    return path


def _version(value: Any) -> str:
    if text_of(value).strip() == VERSION:
        return VERSION
    raise Wrong(f"version {shown(value)} of the format is not known", f"write rewire: {VERSION}")


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
        raise Wrong(error.message, "write silicon, germanium or a forward voltage") from None


def _or_word(word: str, measure: Measure) -> Reader:
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


def _either(kind: type, own: Reader, other: Reader) -> Reader:
    return lambda value: (own if isinstance(value, kind) else other)(value)


def _resistance(value: Any) -> Any:
    return None if value == "fit" else read_pieces(text_of(value))


def _count(what: str, most: int, hint: str) -> Reader:
    """A whole number from 1 up."""

    def read(value: Any) -> int:
        word = _matched(value, r"[0-9]{1,6}", f"is not {what}", hint)
        if not 0 < int(word) <= most:
            raise Wrong(f"{shown(value)} is not {what}", f"1 to {most} can be")
        return int(word)

    return read


def _lug(value: Any) -> str:
    if not isinstance(value, str):
        raise Wrong("each lug is one name", "write [one, other, …]")
    return value


_lugs = _list_of(_lug, "a list of lugs is needed")
_lug_rows = _list_of(_lugs, "lists of lugs are needed", "write [[one, other], [third, fourth]]")


def _timing(value: Any) -> str | dict[str, str]:
    hint = f"write one of {listed(TIMINGS)} (shorting is make before break)"
    shorts = _SHORTING_SAID.get(str(value).strip().lower().replace("-", " "))
    if shorts is not None:
        hint = f"write {'shorting' if shorts else 'non-shorting'}"
    if isinstance(value, dict):
        return {key: str(_timing(text_of(one))) for key, one in value.items()}
    return _matched(value, "|".join(TIMINGS), "is not a timing", hint)


_throw_number = _count("a throw", 9999, "write a throw's number from 1 up, or open")


def _throw(value: Any) -> Any:
    return None if str(value).strip() == "open" else _throw_number(value)


def _own_lugs(value: Any) -> Any:
    """Lists of names by pole, one flat list, or a mapping from pole letter to list."""
    needed, hint = "lists of lugs are needed", "write [[common, throw 1, throw 2], …]"
    if isinstance(value, dict):
        return _named(_lugs, needed, hint, least=0)(value)
    nested = isinstance(value, list) and all(isinstance(row, list) for row in value)
    return _list_of(_lugs if nested else _lug, needed, hint)(value)


def _groups(value: Any) -> tuple[tuple[str, ...], ...]:
    if value and not (isinstance(value, list) and all(isinstance(one, list) for one in value)):
        raise Wrong("a list of groups of lugs is needed", "write [[A, A1], [B, B1]]")
    return tuple(map(_lugs, value or ()))


def _step(value: Any) -> float:
    message, hint = "is no step", "write the degrees between two throws, up to 360"
    word = _matched(value, r"([0-9]{1,3}\.?[0-9]*)°?", message, hint).removesuffix("°")
    if not 0 < float(word) <= 360:
        raise Wrong(f"{shown(value)} {message}", hint)
    return float(word)


def _degrees(value: Any) -> float:
    pattern, hint = r"([0-9]|1[0-2])(:[0-5][0-9])?", "write one such as 12, 3 or 1:30"
    hour, _, minutes = _matched(value, pattern, "is no hour", hint).partition(":")
    return (int(hour) % 12) * 30.0 + int(minutes or 0) * 0.5


_when = _named(
    _one_or_more, "controls and their positions are needed", "write {CONTROL: POSITION}", 0
)
_state = _named(_position, "a state is needed", "write {CONTROL: POSITION, …}")
_members = _list_of(text_of, "a net is a list of points and terminals")
_replaced = _named(text_of, "lugs and what they replace are needed", "write {1: R12.1, 2: R12.2}")
_lug_count = _count("a number of lugs", _MOST_LUGS, "write a number, or [name, name, …]")
_throws = _named(
    _throw, "positions and their throws are needed", "write {POSITION: 1, OTHER: open}"
)
_deck_count = _count(
    "a number of decks", _MOST_DECKS, "write how many, or the poles deck by deck: [[A, C], [B]]"
)
_clock = _named(_degrees, "lugs and their hours are needed", "write {A1: 12, A2: 1:30}", 0)
_contacts = _named(
    _groups, "positions and groups of lugs are needed", "write {POSITION: [[A, A1], …]}", 0
)


def _of_unit(unit: str) -> Callable[[str], Iterator[str]]:
    """What quantities of a unit may have meant."""
    if unit == "%":
        return _maybe_a_fraction
    return lambda text: (said for one in values_and_signs(text) if (said := doubt(one, unit)))


def _maybe_a_fraction(text: str) -> Iterator[str]:
    if _BARE.fullmatch(text) and 0 < float(text) <= _TWENTIETH:
        percent = f"{100 * float(text):g}"
        yield f"{shown(text)} is read as {text.strip()} %; write {percent} % if that is meant"


def _choice(value: Any) -> str:
    """Where a resistor is chosen from: series of preferred values, ``or`` between, or a word."""
    text = text_of(value)
    names = text.split(" or ")
    known = _SERIES if len(names) > 1 else (*_SERIES, "exact", "drawer")
    for name in names:
        if name not in known:
            meant = nearest(name, known)
            hint = f"write {meant}" if meant else f"write one of {listed(known)}"
            raise Wrong(f"{shown(name)} is no series of preferred values", hint)
    return text


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
        if not isinstance(value, str):
            raise Wrong("one word is needed", hint)
        close = nearest(value, known)
        raise Wrong(f"{shown(value)} is not known here", f"write {close}" if close else hint)

    kept: Schema = {"enum": list(known)} if most else {"const": known[0]}
    return ValueKind(read, {**kept, "type": "string"})


_SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")
"""Preferred values: IEC 60063."""
CHOICE = ValueKind(_choice, TYPED)
ANYTHING = ValueKind(lambda value: value, {})
TEXT = ValueKind(text_of, TYPED)
ID = ValueKind(_name, _NAMED)
YES_OR_NO = ValueKind(_flag, TYPED)
COLOUR = ValueKind(lambda value: read_colour(text_of(value)), _COLOUR)
PAIR = ValueKind(_pair, _TWO)
PLACES = ValueKind(_pair, _TWO, "place")
ANCHORS = ValueKind(_pair, _TWO, "anchor")
ONE_OR_MORE = ValueKind(_one_or_more, _EITHER)
WHEN = ValueKind(_when, _mapping(_EITHER), "when")
STATE = ValueKind(_state, _mapping(TYPED, minProperties=1), "state")
SPOT = ValueKind(_spot, _list(_FRACTION, 2, maxItems=2))
DISTINCT = ValueKind(_distinct, LIST)
MEMBERS = ValueKind(_members, _list({"type": "string"}), "place")
CHASSIS = ValueKind(_chassis, {"enum": ["yes", "live", "no", True, False]})
IMAGE = ValueKind(_image, {"type": "string"})
FORMAT = ValueKind(_version, {"enum": [int(VERSION), VERSION]})
REPLACES = ValueKind(
    _either(str, text_of, _replaced), {"anyOf": [_NAMED, _mapping({"type": "string"})]}
)
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
STRIP = ValueKind(_either(list, _lugs, _lug_count), {"anyOf": [_COUNT, _LUGS]})
TIMING = ValueKind(_timing, {"anyOf": [_TIMING, _mapping(_TIMING)]})
THROWS = ValueKind(_throws, _mapping(_NUMBER))
LUGS = ValueKind(_own_lugs, {"anyOf": [_LUGS, _list(_LUGS), _mapping(_LUGS)]})
LUG_LIST = ValueKind(_lugs, _LUGS)
LUG_ROWS = ValueKind(_lug_rows, _list(_list(TYPED)))
DECKS = ValueKind(_either(list, _lug_rows, _deck_count), {"anyOf": [_COUNT, _list(_LUGS)]})
STEP = ValueKind(_step, _NUMBER)
CLOCK = ValueKind(_clock, _mapping(_NUMBER))
CONTACTS = ValueKind(
    lambda value: _contacts(value or {}), _mapping({"type": "array", "items": _LUGS})
)
SHARE = amount(quantity.PERCENT)
WATTS = amount(quantity.WATTS)
VOLTS = amount(quantity.NAMED_VOLTS)
AMPS = amount(quantity.NAMED_AMPS)
SIGNED_VOLTS = amount(quantity.SIGNED_VOLTS)
SOME_AMPS = amount(quantity.SOME_AMPS)
