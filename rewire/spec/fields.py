"""The kinds of field that the models are made of: texts, names, quantities, pairs.

Every value arrives as a text, a list or a mapping; an empty text stands for
nothing at all. A field reads it and says in plain words what is wrong with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import no_info_before_validator_function

from rewire.spec import quantity
from rewire.spec.colours import BadColour, read_colour
from rewire.spec.quantity import BadQuantity, Measure
from rewire.spec.report import shown

NAME = r"[A-Za-z][A-Za-z0-9_-]*"
LUG = r"[A-Za-z0-9_+-]+"
_is_name = re.compile(NAME).fullmatch
_is_lug = re.compile(LUG).fullmatch
_WORDS = {
    **dict.fromkeys(("yes", "true", "on", "y"), True),
    **dict.fromkeys(("no", "false", "off", "n"), False),
}
_LONGEST_PLACES = 80
TYPED: dict[str, Any] = {"type": ["string", "number", "boolean"]}
"""What an editor may take a text for."""


def wrong(message: str, hint: str | None = None) -> PydanticCustomError:
    """What a field raises: a message for people and a way out."""
    return PydanticCustomError("said", "{said}", {"said": message, "hint": hint})


def read_text(value: Any) -> str:
    """Free text that says something."""
    if not isinstance(value, str):
        raise _not_a_text(value)
    if not value.strip():
        raise wrong("no value stands here", "write one, or take the key out")
    return value


def read_flag(value: Any) -> bool:
    """Yes or no, in any of YAML's words."""
    word = read_text(value).strip().lower()
    if word not in _WORDS:
        raise wrong(f"{shown(value)} is neither yes nor no", "write yes or no")
    return _WORDS[word]


def _quantity(measure: Measure) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        try:
            return quantity.read(read_text(value), measure)
        except BadQuantity as error:
            raise wrong(error.message, error.hint) from None

    return read


def _measure(measure: Measure) -> Any:
    schema = {**TYPED, "description": f"{measure.noun}, such as {measure.example}"}
    return (PlainValidator(_quantity(measure)), WithJsonSchema(schema))


def _read_colour(value: Any) -> str:
    try:
        return read_colour(read_text(value))
    except BadColour as error:
        raise wrong(f"{shown(value)}: {error.message}", error.hint) from None


def _read_name(value: Any) -> str:
    if _is_name(read_text(value)):
        return str(value)
    hint = "a name begins with a letter and has letters, digits, _ and - only"
    raise wrong(f"{shown(value)} cannot be a name", hint)


def _read_lug(value: Any) -> str:
    if _is_lug(read_text(value)):
        return str(value)
    hint = "a lug's name has letters, digits, _, + and - only"
    raise wrong(f"{shown(value)} cannot be a lug", hint)


def two_in_one(text: str) -> tuple[str, str] | None:
    """What is wrong with a place that holds a blank, and the way out; None if it holds none."""
    words = text.split()
    if len(words) < 2 or len(text) > _LONGEST_PLACES:
        return None
    return f"{shown(text)} is not one place", f"write a comma between two: {', '.join(words)}"


def read_pair(value: Any) -> tuple[str, str]:
    """Two places, ``[x, y]``."""
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], str):
        forgotten = two_in_one(value[0])
        if forgotten:
            raise wrong(*forgotten)
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("two places are needed here", "write [one, other]")
    if not all(isinstance(item, str) and item.strip() for item in value):
        raise wrong("two names are needed here", "write [one, other], names of points or terminals")
    if value[0] == value[1]:
        raise wrong(f"both places are {shown(value[0])}")
    return value[0], value[1]


def read_one_or_more(value: Any) -> tuple[str, ...]:
    """One text or a list of them, each once."""
    items = value if isinstance(value, list) else [value]
    if not items:
        raise wrong("an empty list", "name at least one")
    return tuple(dict.fromkeys(read_text(item) for item in items))


def _read_when(value: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(value, dict):
        raise wrong("controls and their positions are needed", "write {CONTROL: POSITION}")
    return {key: read_one_or_more(item) for key, item in value.items()}


def _read_state(value: Any) -> dict[str, str]:
    if not isinstance(value, dict) or not value:
        raise wrong("a state is needed", "write {CONTROL: POSITION, …}")
    if not all(isinstance(item, str) for item in value.values()):
        raise wrong("one position for each control is needed", "write one line for each state")
    return {key: read_text(item) for key, item in value.items()}


def _read_spot(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("a spot on the page is a list of two fractions", "write [0.42, 0.31]")
    return _read_fraction(value[0]), _read_fraction(value[1])


def _read_fraction(value: Any) -> float:
    if not isinstance(value, str) or not re.fullmatch(r"\s*(0?\.[0-9]+|[01]\.?[0-9]*)\s*", value):
        raise wrong(
            "a fraction from 0 to 1 is needed", "0, 0 is the top left, 1, 1 the bottom right"
        )
    number = float(value)
    if number > 1:
        raise wrong(f"{shown(value)} is over 1", "at is a fraction of the page's width and height")
    return number


def read_distinct(value: Any) -> tuple[str, ...]:
    """A list of texts that differ."""
    if not isinstance(value, list) or not value:
        raise wrong("a list of names is needed", "write [one, other, …]")
    names = [read_text(item) for item in value]
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise wrong(f"{shown(name)} stands twice in this list")
        seen.add(name)
    return tuple(names)


def _empty_list(value: Any) -> Any:
    return [] if value == "" else value


def _empty_dict(value: Any) -> Any:
    return {} if value == "" else value


def _not_a_text(value: Any) -> PydanticCustomError:
    if isinstance(value, dict):
        return wrong("a text is needed, not a mapping", "quote a text that holds ': '")
    return wrong("a text is needed, not a list", "quote a text that begins with '['")


@dataclass(frozen=True)
class Also:
    """Another way to write a field: how it becomes the usual one, and its schema."""

    usual: Callable[[Any], Any]
    schema: dict[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return no_info_before_validator_function(self.usual, handler(source))

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> dict[str, Any]:
        return {"anyOf": [handler(core), self.schema]}


NOTHING: dict[str, Any] = {"enum": [None, ""]}
EmptyList = Also(_empty_list, NOTHING)
EmptyDict = Also(_empty_dict, NOTHING)

Text = Annotated[str, PlainValidator(read_text), WithJsonSchema(TYPED)]
End = Annotated[str, Field(min_length=1), WithJsonSchema(TYPED)]
"""The end of a wire; read a hundred thousand times, so it is checked without Python."""
Name = Annotated[
    str, PlainValidator(_read_name), WithJsonSchema({"type": "string", "pattern": f"^{NAME}$"})
]
Lug = Annotated[
    str,
    PlainValidator(_read_lug),
    WithJsonSchema({"type": ["string", "integer"], "pattern": f"^{LUG}$"}),
]
Flag = Annotated[bool, PlainValidator(read_flag), WithJsonSchema(TYPED)]
Colour = Annotated[
    str,
    PlainValidator(_read_colour),
    WithJsonSchema({"type": "string", "pattern": "^([A-Za-z]{2}){1,4}$"}),
]

_PLACES = {"type": "array", "items": TYPED, "minItems": 2, "maxItems": 2}
LIST: dict[str, Any] = {"type": "array", "items": TYPED, "minItems": 1}
_ONE_OR_MORE: dict[str, Any] = {"anyOf": [TYPED, LIST]}
Pair = Annotated[tuple[str, str], PlainValidator(read_pair), WithJsonSchema(_PLACES)]
OneOrMore = Annotated[
    tuple[str, ...], PlainValidator(read_one_or_more), WithJsonSchema(_ONE_OR_MORE)
]
When = Annotated[
    dict[str, tuple[str, ...]],
    PlainValidator(_read_when),
    WithJsonSchema({"type": "object", "additionalProperties": _ONE_OR_MORE}),
]
State = Annotated[
    dict[str, str],
    PlainValidator(_read_state),
    WithJsonSchema({"type": "object", "additionalProperties": TYPED, "minProperties": 1}),
]
Spot = Annotated[
    tuple[float, float],
    PlainValidator(_read_spot),
    WithJsonSchema(
        {
            "type": "array",
            "items": {"type": ["number", "string"], "minimum": 0, "maximum": 1},
            "minItems": 2,
            "maxItems": 2,
        }
    ),
]
Distinct = Annotated[tuple[str, ...], PlainValidator(read_distinct), WithJsonSchema(LIST)]

Ohms = Annotated[float, *_measure(quantity.OHMS)]
SomeOhms = Annotated[float, *_measure(quantity.SOME_OHMS)]
Amps = Annotated[float, *_measure(quantity.AMPS)]
SomeAmps = Annotated[float, *_measure(quantity.SOME_AMPS)]
SomeVolts = Annotated[float, *_measure(quantity.SOME_VOLTS)]
NamedVolts = Annotated[float, *_measure(quantity.NAMED_VOLTS)]
SignedVolts = Annotated[float, *_measure(quantity.SIGNED_VOLTS)]
NamedAmps = Annotated[float, *_measure(quantity.NAMED_AMPS)]
Watts = Annotated[float, *_measure(quantity.WATTS)]
Farads = Annotated[float, *_measure(quantity.FARADS)]
Henries = Annotated[float, *_measure(quantity.HENRIES)]
Metres = Annotated[float, *_measure(quantity.METRES)]
Accepted = Annotated[float, *_measure(quantity.SOME_PERCENT)]
Percent = Annotated[float, *_measure(quantity.PERCENT)]
Turns = Annotated[float, *_measure(quantity.TURNS)]
