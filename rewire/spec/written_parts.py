"""Parts as a user writes them, one model for each kind."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from rewire.spec.fields import (
    Farads,
    Flag,
    Henries,
    NamedAmps,
    NamedVolts,
    Ohms,
    OneOrMore,
    Pair,
    Percent,
    SomeAmps,
    SomeOhms,
    SomeVolts,
    Text,
    Turns,
    Watts,
    wrong,
)
from rewire.spec.part_fields import (
    Contacts,
    DiodeKind,
    FullScale,
    MeterOhms,
    OwnLugs,
    Replaces,
    ResistorValue,
    Setting,
    StripLugs,
    Throws,
    TimingWritten,
)


class Written(BaseModel):
    """Whatever is not a key of the format is refused."""

    model_config = ConfigDict(extra="forbid", defer_build=True)


_SPELLINGS = {"color": "colour", "license": "licence", "polarized": "polarised"}


def _british(value: Any) -> Any:
    """American spellings of keys become the ones the models have."""
    if not isinstance(value, dict):
        return value
    for american, british in _SPELLINGS.items():
        if american in value and british in value:
            raise wrong(f"both {american} and {british} are given", "keep one of them")
    return {_SPELLINGS.get(key, key): item for key, item in value.items()}


def _spelled_both_ways(schema: dict[str, Any]) -> None:
    fields = schema["properties"]
    for american, british in _SPELLINGS.items():
        if british in fields:
            fields[american] = fields[british]


class BothSpellings(Written):
    """A mapping with a key that Americans spell another way."""

    model_config = ConfigDict(json_schema_extra=_spelled_both_ways)

    @model_validator(mode="before")
    @classmethod
    def _read_both(cls, value: Any) -> Any:
        return _british(value)


class WrittenPart(Written):
    """Keys that every part may have."""

    between: Pair | None = None
    replaces: Replaces | None = None
    note: Text | None = None
    where: Text | None = None
    label: Text | None = None


class WrittenSwitchRating(Written):
    """What a contact may break, and what the shaft may stand."""

    volts: NamedVolts | None = None
    amps: NamedAmps | None = None
    shaft_volts: NamedVolts | None = None


class WrittenSwitch(WrittenPart):
    """A switch, relay or jack."""

    switch: Text
    control: Text
    timing: TimingWritten | None = None
    positions: Throws | None = None
    lugs: OwnLugs | None = None
    contacts: Contacts | None = None
    style: Literal["toggle", "rotary", "slide", "push", "relay", "jack"] | None = None
    layout: Any = None
    rating: WrittenSwitchRating | None = None
    contact_resistance: Ohms | None = None


class WrittenMeter(WrittenPart):
    """A meter with a moving coil; or one made for AC, its rectifier in its case."""

    meter: FullScale
    resistance: MeterOhms = None
    resistance_tolerance: Percent | None = None
    accuracy: Percent | None = None
    ac: Flag = False
    zero: Literal["left", "centre", "center", "right"] = "left"
    scales: OneOrMore = ()


class WrittenResistor(WrittenPart):
    """A resistor, a built-up one, or one to be fitted."""

    resistor: ResistorValue
    tolerance: Percent | None = None
    rating: Watts | None = None
    working_volts: NamedVolts | None = None
    for_: Text | None = Field(None, alias="for")
    choose: Text | None = None


class WrittenPot(WrittenPart):
    """A pot or a rheostat."""

    pot: SomeOhms
    setting: Setting | None = None
    for_: Text | None = Field(None, alias="for")
    tolerance: Percent | None = None
    rating: Watts | None = None
    turns: Turns | None = None


class WrittenCapacitor(BothSpellings, WrittenPart):
    """A capacitor."""

    capacitor: Farads
    rating: NamedVolts | None = None
    polarised: Flag = False


class WrittenChoke(WrittenPart):
    """A choke; its winding resistance is what counts at DC."""

    choke: Henries
    resistance: Ohms


class WrittenDiode(WrittenPart):
    """A diode."""

    diode: DiodeKind


class WrittenLamp(WrittenPart):
    """A lamp; its current at rated volts gives its hot resistance."""

    lamp: SomeVolts
    current: SomeAmps | None = None


class WrittenFuse(WrittenPart):
    """A fuse."""

    fuse: SomeAmps
    resistance: Ohms | None = None


class WrittenStrip(WrittenPart):
    """A tag strip."""

    strip: StripLugs


KINDS: dict[str, type[WrittenPart]] = {
    "switch": WrittenSwitch,
    "meter": WrittenMeter,
    "resistor": WrittenResistor,
    "pot": WrittenPot,
    "capacitor": WrittenCapacitor,
    "choke": WrittenChoke,
    "diode": WrittenDiode,
    "lamp": WrittenLamp,
    "fuse": WrittenFuse,
    "strip": WrittenStrip,
}
"""The key that names a kind → what may be written beside it."""
