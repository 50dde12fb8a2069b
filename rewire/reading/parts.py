"""The kinds of part: the keys of each, in the order of the format, and the record it becomes."""

from __future__ import annotations

from rewire.reading import fields
from rewire.reading.fields import TEXT, amount, word
from rewire.reading.forms import Form, Key, Named, OneOf, may, need
from rewire.reading.text import Mapping, Node
from rewire.records.spec import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    Lamp,
    Meter,
    Part,
    Piece,
    Pot,
    Resistor,
    Strip,
    Switch,
    SwitchRating,
)
from rewire.words import quantity
from rewire.words.quantity import NAMED_AMPS, NAMED_VOLTS, OHMS, PERCENT, WATTS
from rewire.words.wording import Wrong, listed, nearest, shown

_TWO = ("1", "2")
_EVERY = {
    "between": may(fields.PAIR),
    "replaces": may(fields.REPLACES),
    "note": may(TEXT),
    "where": may(TEXT),
    "label": may(TEXT),
}
"""Keys that every part may have."""

RATING = Form(
    "WrittenSwitchRating",
    "What a contact may break, and what the shaft may stand.",
    {
        "volts": may(amount(NAMED_VOLTS)),
        "amps": may(amount(NAMED_AMPS)),
        "shaft_volts": may(amount(NAMED_VOLTS)),
    },
    loose=False,
    make=SwitchRating,
)


class PartForm(Form):
    """A kind of part: its record, its terminals where they are always the same, its keys."""

    def __init__(
        self, record: type[Part], terminals: tuple[str, ...], said: str, keys: dict[str, Key]
    ) -> None:
        super().__init__(
            f"Written{record.__name__}", said, _EVERY | keys, american=record is Capacitor
        )
        self.record = record
        self.terminals = terminals


KINDS: dict[str, PartForm] = {
    "switch": PartForm(
        Switch,
        (),
        "A switch, relay or jack.",
        {
            "switch": need(TEXT),
            "control": need(TEXT),
            "timing": may(fields.TIMING),
            "positions": may(fields.THROWS),
            "lugs": may(fields.LUGS, vital=True),
            "contacts": may(fields.CONTACTS, vital=True),
            "style": may(word("toggle", "rotary", "slide", "push", "relay", "jack")),
            "layout": may(fields.ANYTHING, null=False),
            "rating": may(RATING),
            "contact_resistance": may(amount(OHMS)),
        },
    ),
    "meter": PartForm(
        Meter,
        ("+", "-"),
        "A meter with a moving coil; or one made for AC, its rectifier in its case.",
        {
            "meter": need(
                fields.FULL_SCALE,
                ("full_scale_amps", "full_scale_volts"),
                stand_in=(1e-3, None),
            ),
            "resistance": may(fields.METER_OHMS, null=False),
            "resistance_tolerance": may(amount(PERCENT), "resistance_tolerance_percent"),
            "accuracy": may(amount(PERCENT), "accuracy_percent"),
            "ac": may(fields.YES_OR_NO, default=False),
            "zero": may(
                word("left", "centre", "center", "right", meant={"center": "centre"}),
                default="left",
            ),
            "scales": may(fields.ONE_OR_MORE, default=()),
        },
    ),
    "resistor": PartForm(
        Resistor,
        _TWO,
        "A resistor, a built-up one, or one to be fitted.",
        {
            "resistor": need(fields.RESISTANCE, "pieces", stand_in=Piece(1.0)),
            "tolerance": may(amount(PERCENT), "tolerance_percent"),
            "rating": may(amount(WATTS), "rating_watts"),
            "working_volts": may(amount(NAMED_VOLTS)),
            "for": may(TEXT, "fit_for"),
            "choose": may(TEXT),
        },
    ),
    "pot": PartForm(
        Pot,
        ("ccw", "wiper", "cw"),
        "A pot or a rheostat.",
        {
            "pot": need(amount(quantity.SOME_OHMS), "ohms", stand_in=1.0),
            "setting": may(fields.SETTING, "setting_percent"),
            "for": may(TEXT, "fit_for"),
            "tolerance": may(amount(PERCENT), "tolerance_percent"),
            "rating": may(amount(WATTS), "rating_watts"),
            "turns": may(amount(quantity.TURNS)),
        },
    ),
    "capacitor": PartForm(
        Capacitor,
        _TWO,
        "A capacitor.",
        {
            "capacitor": need(amount(quantity.FARADS), "farads", stand_in=1e-9),
            "rating": may(amount(NAMED_VOLTS), "rating_volts"),
            "polarised": may(fields.YES_OR_NO, default=False),
        },
    ),
    "choke": PartForm(
        Choke,
        _TWO,
        "A choke; its winding resistance is what counts at DC.",
        {
            "choke": need(amount(quantity.HENRIES), "henries", stand_in=1.0),
            "resistance": need(amount(OHMS)),
        },
    ),
    "diode": PartForm(
        Diode,
        ("A", "K"),
        "A diode.",
        {"diode": need(fields.DIODE, ("material", "forward_volts"), stand_in=("silicon", None))},
    ),
    "lamp": PartForm(
        Lamp,
        _TWO,
        "A lamp; its current at rated volts gives its hot resistance.",
        {
            "lamp": need(amount(quantity.SOME_VOLTS), "rated_volts", stand_in=1.0),
            "current": may(amount(quantity.SOME_AMPS), "rated_amps"),
        },
    ),
    "fuse": PartForm(
        Fuse,
        _TWO,
        "A fuse.",
        {
            "fuse": need(amount(quantity.SOME_AMPS), "rated_amps", stand_in=1.0),
            "resistance": may(
                fields.FUSE_OHMS, ("resistance", "resistance_stated"), default=(0.0, False)
            ),
        },
    ),
    "strip": PartForm(Strip, (), "A tag strip.", {"strip": need(fields.STRIP, "lugs")}),
}
"""The key that names a kind → what may be written beside it."""


def _kind_of(node: Node) -> PartForm:
    if not isinstance(node, Mapping):
        raise Wrong("a part is a mapping", "write {resistor: 10 ohm}")
    kinds = [key for key in node.entries if key in KINDS]
    if len(kinds) == 1:
        return KINDS[kinds[0]]
    if kinds:
        raise Wrong(f"a part has one kind; {' and '.join(kinds)} are given", "keep one of them")
    guesses = [found for key in node.entries if (found := nearest(key, list(KINDS)))]
    hint = f"nearest is {shown(guesses[0])}" if guesses else f"give one of {listed(KINDS)}"
    raise Wrong("no key names the kind of this part", hint)


PARTS = Named(OneOf(tuple(KINDS.values()), _kind_of), fields.ID)
