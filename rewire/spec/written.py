"""The whole file as a user writes it; the JSON Schema is made from these models."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator

from rewire.spec.fields import (
    LIST,
    Also,
    Distinct,
    EmptyDict,
    EmptyList,
    Flag,
    Name,
    NamedAmps,
    NamedVolts,
    Ohms,
    Pair,
    SignedVolts,
    SomeOhms,
    Spot,
    State,
    Text,
    Watts,
    When,
    read_text,
    wrong,
)
from rewire.spec.report import shown
from rewire.spec.written_parts import BothSpellings, Written
from rewire.spec.written_wirings import Parts, Readings, WrittenWiring

VERSION = "1"


class WrittenDocument(BothSpellings):
    """Who answers for the paper."""

    author: Text | None = None
    date: Text | None = None
    revision: Text | None = None
    licence: Text | None = None


class WrittenControl(Written):
    """What the operator moves."""

    positions: Distinct
    wraps: Flag = False
    moves: Literal["any"] | None = None
    note: Text | None = None


class WrittenPoint(Written):
    """A place in the equipment."""

    chassis: Annotated[
        Literal["yes", "live", "no"],
        BeforeValidator(lambda value: _read_chassis(value)),
        WithJsonSchema({"enum": ["yes", "live", "no", True, False]}),
    ] = "no"
    volts: SignedVolts | None = None
    ac: Flag = False
    rises_to: SignedVolts | None = None
    source_resistance: Ohms = 0.0
    note: Text | None = None
    where: Text | None = None


def _read_chassis(value: Any) -> str:
    word = read_text(value).strip().lower()
    same = {"true": "yes", "on": "yes", "false": "no", "off": "no"}.get(word, word)
    if same not in ("yes", "live", "no"):
        raise wrong(
            f"{shown(value)} is not yes, live or no", "write yes, or live without a transformer"
        )
    return same


def _read_empty_point(value: Any) -> Any:
    return {} if value in ("", "null", "~") else value


def _read_control(value: Any) -> Any:
    return {"positions": value} if isinstance(value, list) else value


_NO_POINT = {"enum": [None, "", "null", "~"]}
Points = Annotated[
    dict[Name, Annotated[WrittenPoint, Also(_read_empty_point, _NO_POINT)]], EmptyDict
]


class WrittenRule(Written):
    """A connection that must, or must not, exist."""

    connect: Pair | None = None
    isolate: Pair | None = None
    within: Ohms | None = None
    beyond: Ohms | None = None
    while_switching: Flag = False
    when: When = Field(default_factory=dict)
    why: Text | None = None

    @model_validator(mode="before")
    @classmethod
    def _check_kind(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        if ("connect" in value) == ("isolate" in value):
            raise wrong("a rule has either 'connect' or 'isolate'", "write connect: [one, other]")
        if "within" in value and "isolate" in value:
            raise wrong("'within' goes with 'connect'", "isolate takes 'beyond'")
        if "beyond" in value and "connect" in value:
            raise wrong("'beyond' goes with 'isolate'", "connect takes 'within'")
        return value


class WrittenBench(Written):
    """Test gear at hand."""

    series_resistor: SomeOhms | None = None
    rating: Watts | None = None
    supply_volts: NamedVolts | None = None
    supply_amps: NamedAmps | None = None


class WrittenFound(Written):
    """Something found on the bench besides the wiring."""

    what: Text
    where: Text | None = None
    plan: Literal["keep", "remove", "replace"] | None = None
    why: Text | None = None


class WrittenTask(Written):
    """A line of work."""

    do: Text
    where: Text | None = None
    caution: Text | None = None


class WrittenProcedure(Written):
    """Work before and after the rewiring."""

    before: Annotated[list[WrittenTask], EmptyList] = Field(default_factory=list)
    after: Annotated[list[WrittenTask], EmptyList] = Field(default_factory=list)


class WrittenAcceptance(Written):
    """A test of the finished set."""

    test: Text
    how: Text | None = None
    expect: Text


class WrittenPageNote(Written):
    """A note on a scanned page."""

    at: Spot
    about: Text | None = None
    text: Text | None = None

    @model_validator(mode="before")
    @classmethod
    def _check_says_something(cls, value: Any) -> Any:
        if isinstance(value, dict) and not ("about" in value or "text" in value):
            raise wrong("this note says nothing", "give 'about' a part, or 'text'")
        return value


def _read_image(value: Any) -> str:
    """A path to a file beside the spec or below it."""
    path = read_text(value)
    steps = re.split(r"[/\\]", path)
    if ".." in steps or not steps[0] or ":" in steps[0] or steps[0].startswith("~"):
        raise wrong(f"{shown(value)} does not lie beside the spec or below it", "copy it there")
    return path


Image = Annotated[str, PlainValidator(_read_image), WithJsonSchema({"type": "string"})]


class WrittenPage(Written):
    """A scanned page to be annotated."""

    image: Image
    title: Text | None = None
    notes: Annotated[list[WrittenPageNote], EmptyList] = Field(default_factory=list)


def _read_version(value: Any) -> str:
    if read_text(value).strip() != VERSION:
        raise wrong(
            f"version {shown(value)} of the format is not known", f"write rewire: {VERSION}"
        )
    return VERSION


Version = Annotated[
    str, PlainValidator(_read_version), WithJsonSchema({"enum": [int(VERSION), VERSION]})
]


class WrittenSpec(Written):
    """One swap."""

    rewire: Version
    title: Text
    equipment: Text | None = None
    summary: Text | None = None
    document: Annotated[WrittenDocument, EmptyDict] = Field(default_factory=WrittenDocument)
    controls: Annotated[
        dict[Text, Annotated[WrittenControl, Also(_read_control, LIST)]], EmptyDict
    ] = Field(default_factory=dict)
    never: Annotated[list[State], EmptyList] = Field(default_factory=list)
    points: Points = Field(default_factory=dict)
    parts: Parts = Field(default_factory=dict)
    readings: Readings = Field(default_factory=dict)
    rules: Annotated[list[WrittenRule], EmptyList] = Field(default_factory=list)
    wirings: Annotated[dict[Text, Annotated[WrittenWiring, EmptyDict]], EmptyDict]
    bench: Annotated[WrittenBench, EmptyDict] = Field(default_factory=WrittenBench)
    cautions: Annotated[list[Text], EmptyList] = Field(default_factory=list)
    found: Annotated[list[WrittenFound], EmptyList] = Field(default_factory=list)
    procedure: Annotated[WrittenProcedure, EmptyDict] = Field(default_factory=WrittenProcedure)
    acceptance: Annotated[list[WrittenAcceptance], EmptyList] = Field(default_factory=list)
    pages: Annotated[list[WrittenPage], EmptyList] = Field(default_factory=list)
