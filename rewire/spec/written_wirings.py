"""Wirings as a user writes them: parts, nets, wires, changes, and readings of their own."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Union

from pydantic import (
    BeforeValidator,
    Discriminator,
    Field,
    PlainValidator,
    Tag,
    WithJsonSchema,
    model_validator,
)

from rewire.spec.fields import (
    TYPED,
    Accepted,
    Also,
    Colour,
    EmptyDict,
    EmptyList,
    End,
    Flag,
    Metres,
    Name,
    NamedVolts,
    Ohms,
    OneOrMore,
    Pair,
    SomeAmps,
    Text,
    When,
    read_text,
    two_in_one,
    wrong,
)
from rewire.spec.part_fields import FullScale
from rewire.spec.report import listed, nearest, shown
from rewire.spec.written_parts import (
    KINDS,
    BothSpellings,
    Written,
    WrittenCapacitor,
    WrittenChoke,
    WrittenDiode,
    WrittenFuse,
    WrittenLamp,
    WrittenMeter,
    WrittenPot,
    WrittenResistor,
    WrittenStrip,
    WrittenSwitch,
)

CHANGES = (
    "insert", "link", "drop", "join", "gap", "bridge", "interrupt", "stray", "remove", "reverse",
)  # fmt: skip


def _check_kind(value: Any) -> Any:
    if not isinstance(value, dict):
        raise wrong("a part is a mapping", "write {resistor: 10 ohm}")
    kinds = [key for key in value if key in KINDS]
    if len(kinds) == 1:
        return value
    if kinds:
        raise wrong(f"a part has one kind; {' and '.join(kinds)} are given", "keep one of them")
    guesses = [found for key in value if (found := nearest(key, list(KINDS)))]
    hint = f"nearest is {shown(guesses[0])}" if guesses else f"give one of {listed(KINDS)}"
    raise wrong("no key names the kind of this part", hint)


def _kind_of(value: Any) -> str:
    return next((f"<{key}>" for key in value if key in KINDS), "")


WrittenAnyPart = Annotated[
    Union[  # noqa: UP007 - tags go on the members one by one
        Annotated[WrittenSwitch, Tag("<switch>")],
        Annotated[WrittenMeter, Tag("<meter>")],
        Annotated[WrittenResistor, Tag("<resistor>")],
        Annotated[WrittenPot, Tag("<pot>")],
        Annotated[WrittenCapacitor, Tag("<capacitor>")],
        Annotated[WrittenChoke, Tag("<choke>")],
        Annotated[WrittenDiode, Tag("<diode>")],
        Annotated[WrittenLamp, Tag("<lamp>")],
        Annotated[WrittenFuse, Tag("<fuse>")],
        Annotated[WrittenStrip, Tag("<strip>")],
    ],
    Discriminator(_kind_of),
    BeforeValidator(_check_kind),
]
Parts = Annotated[dict[Name, WrittenAnyPart], EmptyDict]


class WrittenWire(BothSpellings):
    """One wire, also as ``[from, to]`` or ``[from, to, colour]``."""

    from_: End = Field(alias="from")
    to: End
    colour: Colour | None = None
    id: Name | None = None
    gauge: Text | None = None
    insulation: NamedVolts | None = None
    twisted_with: Text | None = None
    screened: Flag = False
    length: Metres | None = None
    note: Text | None = None


def _read_wire(value: Any) -> Any:
    if isinstance(value, str):
        raise wrong("a wire has two ends", "write [from, to]")
    if not isinstance(value, list):
        return value
    if not 2 <= len(value) <= 3:
        forgotten = next(filter(None, map(two_in_one, filter(_is_text, value))), None)
        if forgotten:
            raise wrong(*forgotten)
        raise wrong(f"a wire of {len(value)} items", "write [from, to] or [from, to, colour]")
    return dict(zip(("from", "to", "colour"), value, strict=False))


def _is_text(value: Any) -> bool:
    return isinstance(value, str)


_ENDS = {"type": "array", "items": TYPED, "minItems": 2, "maxItems": 3}
Wires = Annotated[list[Annotated[WrittenWire, Also(_read_wire, _ENDS)]], EmptyList]


def _read_members(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise wrong("a net is a list of points and terminals", "write [one, other, …]")
    return tuple(read_text(item) for item in value)


_NET = {"type": "array", "items": {"type": "string"}, "minItems": 1}
Members = Annotated[tuple[str, ...], PlainValidator(_read_members), WithJsonSchema(_NET)]
Nets = Annotated[
    Union[  # noqa: UP007 - tags go on the members one by one
        Annotated[dict[Text, Members], Tag("<named>")], Annotated[list[Members], Tag("<plain>")]
    ],
    Discriminator(lambda value: "<named>" if isinstance(value, dict) else "<plain>"),
    EmptyList,
]


class WrittenChange(Written):
    """A difference that is meant; exactly one of the first ten keys."""

    insert: OneOrMore | None = None
    link: OneOrMore | None = None
    drop: Pair | None = None
    join: Pair | None = None
    gap: Pair | None = None
    bridge: Pair | None = None
    interrupt: Pair | None = None
    stray: Pair | None = None
    remove: OneOrMore | None = None
    reverse: OneOrMore | None = None
    between: Pair | None = None
    when: When = Field(default_factory=dict)
    why: Text | None = None
    reversible: Flag = True

    @model_validator(mode="before")
    @classmethod
    def _check_kind(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        kinds = [key for key in value if key in CHANGES]
        if len(kinds) != 1:
            given = " and ".join(kinds) or "none"
            raise wrong(f"a change is of one kind; {given} given", f"one of {listed(CHANGES)}")
        if ("between" in value) != (kinds[0] in ("insert", "link")):
            hint = "write {insert: R50, between: [one, other]}; other kinds name places themselves"
            raise wrong("'between' goes with 'insert' and 'link', and only with them", hint)
        return value


class WrittenDrive(Written):
    """A standing current."""

    current: Pair
    amount: SomeAmps


class WrittenReading(Written):
    """What a meter must show."""

    when: When = Field(default_factory=dict)
    current: Pair | None = None
    voltage: Pair | None = None
    full_scale: FullScale
    source_resistance: Ohms = 0.0
    ac: Flag = False
    meter: Text | None = None
    scale: Text | None = None
    also: Annotated[list[WrittenDrive], EmptyList] = Field(default_factory=list)
    marks: Annotated[dict[Text, Text], EmptyDict] = Field(default_factory=dict)
    accept: Accepted | None = None

    @model_validator(mode="before")
    @classmethod
    def _check_quantity(cls, value: Any) -> Any:
        if isinstance(value, dict) and ("current" in value) == ("voltage" in value):
            raise wrong("a reading has either 'current' or 'voltage'", "write current: [from, to]")
        return value


Readings = Annotated[dict[Text, WrittenReading], EmptyDict]


class WrittenWiring(Written):
    """One way the equipment is wired."""

    role: Literal["plan", "found", "tried"] | None = None
    parts: Parts = Field(default_factory=dict)
    nets: Nets = Field(default_factory=list)
    wires: Wires = Field(default_factory=list)
    changes: Annotated[list[WrittenChange], EmptyList] = Field(default_factory=list)
    readings: Readings = Field(default_factory=dict)
    note: Text | None = None
