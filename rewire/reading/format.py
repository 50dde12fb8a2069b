"""The format of a spec: every key but those of parts, and what may stand behind it."""

from __future__ import annotations

from rewire.reading import fields
from rewire.reading.fields import LIST, PAIR, TEXT, TYPED, WHEN, YES_OR_NO, amount, two_in_one, word
from rewire.reading.forms import (
    NOTHING,
    Form,
    Items,
    Named,
    OneOf,
    mapping,
    may,
    need,
    or_nothing,
)
from rewire.reading.parts import PARTS
from rewire.reading.text import Mapping, Node, Scalar, Sequence
from rewire.records.spec import Acceptance, Bench, Document, Drive, Found, Task
from rewire.words import quantity
from rewire.words.quantity import METRES, NAMED_AMPS, NAMED_VOLTS, OHMS, SIGNED_VOLTS, SOME_AMPS
from rewire.words.wording import Wrong, listed

CHANGES = (
    "insert", "link", "drop", "join", "gap", "bridge", "interrupt", "stray", "remove", "reverse",
)  # fmt: skip
OF_PARTS = ("insert", "link", "remove", "reverse")
"""The changes that name parts; the others name two places."""
Entries = dict[str, Node]


def _positions(node: Node) -> Entries:
    return {"positions": node} if isinstance(node, Sequence) else mapping(node)


def _of_point(node: Node) -> Entries:
    is_empty = isinstance(node, Scalar) and node.text in ("", "null", "~")
    return {} if is_empty else mapping(node)


def _ends(node: Node) -> Entries:
    """The keys of a wire, which is mostly written ``[from, to]`` or ``[from, to, colour]``."""
    if isinstance(node, Scalar):
        raise Wrong("a wire has two ends", "write [from, to]")
    if not isinstance(node, Sequence):
        return mapping(node)
    if 2 <= len(node.items) <= 3:
        return dict(zip(("from", "to", "colour"), node.items, strict=False))
    texts = (item.text for item in node.items if isinstance(item, Scalar))
    forgotten = next(filter(None, map(two_in_one, texts)), None)
    if forgotten:
        raise Wrong(*forgotten)
    hint = "write [from, to] or [from, to, colour]"
    raise Wrong(f"a wire of {len(node.items)} items", hint)


def _check_rule(entries: Entries) -> None:
    if ("connect" in entries) == ("isolate" in entries):
        raise Wrong("a rule has either 'connect' or 'isolate'", "write connect: [one, other]")
    if "within" in entries and "isolate" in entries:
        raise Wrong("'within' goes with 'connect'", "isolate takes 'beyond'")
    if "beyond" in entries and "connect" in entries:
        raise Wrong("'beyond' goes with 'isolate'", "connect takes 'within'")


def _check_reading(entries: Entries) -> None:
    if ("current" in entries) == ("voltage" in entries):
        raise Wrong("a reading has either 'current' or 'voltage'", "write current: [from, to]")


def _check_change(entries: Entries) -> None:
    kinds = [key for key in entries if key in CHANGES]
    if len(kinds) != 1:
        given = " and ".join(kinds) or "none"
        raise Wrong(f"a change is of one kind; {given} given", f"one of {listed(CHANGES)}")
    if ("between" in entries) != (kinds[0] in ("insert", "link")):
        hint = "write {insert: R50, between: [one, other]}; other kinds name places themselves"
        raise Wrong("'between' goes with 'insert' and 'link', and only with them", hint)


def _check_note(entries: Entries) -> None:
    if not ("about" in entries or "text" in entries):
        raise Wrong("this note says nothing", "give 'about' a part, or 'text'")


DOCUMENT = Form(
    "WrittenDocument",
    "Who answers for the paper.",
    dict.fromkeys(("author", "date", "revision", "licence"), may(TEXT)),
    entries=or_nothing,
    other=NOTHING,
    american=True,
    make=Document,
)
CONTROL = Form(
    "WrittenControl",
    "What the operator moves.",
    {
        "positions": need(fields.DISTINCT),
        "wraps": may(YES_OR_NO, default=False),
        "moves": may(word("any")),
        "note": may(TEXT),
    },
    entries=_positions,
    other=LIST,
)
POINT = Form(
    "WrittenPoint",
    "A place in the equipment.",
    {
        "chassis": may(fields.CHASSIS, default="no"),
        "volts": may(amount(SIGNED_VOLTS)),
        "ac": may(YES_OR_NO, default=False),
        "rises_to": may(amount(SIGNED_VOLTS)),
        "source_resistance": may(amount(OHMS), default=0.0),
        "note": may(TEXT),
        "where": may(TEXT),
    },
    entries=_of_point,
    other={"enum": [None, "", "null", "~"]},
)
RULE = Form(
    "WrittenRule",
    "A connection that must, or must not, exist.",
    {
        "connect": may(PAIR, vital=True),
        "isolate": may(PAIR, vital=True),
        "within": may(amount(OHMS)),
        "beyond": may(amount(OHMS)),
        "while_switching": may(YES_OR_NO, default=False),
        "when": may(WHEN, default={}),
        "why": may(TEXT),
    },
    check=_check_rule,
)
DRIVE = Form(
    "WrittenDrive",
    "A standing current.",
    {"current": need(PAIR, "places"), "amount": need(amount(SOME_AMPS), "amps")},
    loose=False,
    make=Drive,
)
READING = Form(
    "WrittenReading",
    "What a meter must show.",
    {
        "when": may(WHEN, default={}),
        "current": may(PAIR, vital=True),
        "voltage": may(PAIR, vital=True),
        "full_scale": need(fields.FULL_SCALE, stand_in=(1.0, 1.0)),
        "source_resistance": may(amount(OHMS), default=0.0),
        "ac": may(YES_OR_NO, default=False),
        "meter": may(TEXT),
        "scale": may(TEXT),
        "also": may(Items(DRIVE, loose=False), default=()),
        "marks": may(Named(TEXT, TEXT, loose=False), default={}),
        "accept": may(amount(quantity.SOME_PERCENT)),
    },
    check=_check_reading,
)
READINGS = Named(READING, TEXT)
WIRE = Form(
    "WrittenWire",
    "One wire, also as ``[from, to]`` or ``[from, to, colour]``.",
    {
        "from": need(fields.END, "start"),
        "to": need(fields.END),
        "colour": may(fields.COLOUR),
        "id": may(fields.ID),
        "gauge": may(TEXT),
        "insulation": may(amount(NAMED_VOLTS), "insulation_volts"),
        "twisted_with": may(TEXT),
        "screened": may(YES_OR_NO, default=False),
        "length": may(amount(METRES), "length_metres"),
        "note": may(TEXT),
    },
    entries=_ends,
    other={"type": "array", "items": TYPED, "minItems": 2, "maxItems": 3},
    american=True,
)
CHANGE = Form(
    "WrittenChange",
    "A difference that is meant; exactly one of the first ten keys.",
    {
        **{
            kind: may(fields.ONE_OR_MORE if kind in OF_PARTS else PAIR, vital=True)
            for kind in CHANGES
        },
        "between": may(PAIR, vital=True),
        "when": may(WHEN, default={}),
        "why": may(TEXT),
        "reversible": may(YES_OR_NO, default=True),
    },
    check=_check_change,
)
_NAMED_NETS, _PLAIN_NETS = Named(fields.MEMBERS, TEXT), Items(fields.MEMBERS)
NETS = OneOf(
    (_NAMED_NETS, _PLAIN_NETS),
    lambda node: _NAMED_NETS if isinstance(node, Mapping) else _PLAIN_NETS,
)
WIRING = Form(
    "WrittenWiring",
    "One way the equipment is wired.",
    {
        "role": may(word("plan", "found", "tried")),
        "parts": may(PARTS, default={}),
        "nets": may(NETS, default=()),
        "wires": may(Items(WIRE), default=()),
        "changes": may(Items(CHANGE), default=()),
        "readings": may(READINGS, default={}),
        "note": may(TEXT),
    },
    entries=or_nothing,
    other=NOTHING,
)
BENCH = Form(
    "WrittenBench",
    "Test gear at hand.",
    {
        "series_resistor": may(amount(quantity.SOME_OHMS), "series_resistor_ohms"),
        "rating": may(amount(quantity.WATTS), "series_resistor_watts"),
        "supply_volts": may(amount(NAMED_VOLTS)),
        "supply_amps": may(amount(NAMED_AMPS)),
    },
    entries=or_nothing,
    other=NOTHING,
    make=Bench,
)
FOUND = Form(
    "WrittenFound",
    "Something found on the bench besides the wiring.",
    {
        "what": need(TEXT),
        "where": may(TEXT),
        "plan": may(word("keep", "remove", "replace")),
        "why": may(TEXT),
    },
    loose=False,
    make=Found,
)
TASK = Form(
    "WrittenTask",
    "A line of work.",
    {"do": need(TEXT), "where": may(TEXT), "caution": may(TEXT)},
    loose=False,
    make=Task,
)
PROCEDURE = Form(
    "WrittenProcedure",
    "Work before and after the rewiring.",
    dict.fromkeys(("before", "after"), may(Items(TASK), default=())),
    entries=or_nothing,
    other=NOTHING,
    make=lambda before, after: (before, after),
)
ACCEPTANCE = Form(
    "WrittenAcceptance",
    "A test of the finished set.",
    {"test": need(TEXT), "how": may(TEXT), "expect": need(TEXT)},
    loose=False,
    make=Acceptance,
)
PAGE_NOTE = Form(
    "WrittenPageNote",
    "A note on a scanned page.",
    {"at": need(fields.SPOT), "about": may(TEXT), "text": may(TEXT)},
    check=_check_note,
    loose=False,
)
PAGE = Form(
    "WrittenPage",
    "A scanned page to be annotated.",
    {
        "image": need(fields.IMAGE),
        "title": may(TEXT),
        "notes": may(Items(PAGE_NOTE), default=()),
    },
    loose=False,
)
SPEC = Form(
    "rewire spec",
    "One swap.",
    {
        "rewire": need(fields.FORMAT, stand_in=fields.VERSION),
        "title": need(TEXT, stand_in="?"),
        "equipment": may(TEXT),
        "summary": may(TEXT),
        "document": may(DOCUMENT, default=Document()),
        "controls": may(Named(CONTROL, TEXT), default={}),
        "never": may(Items(fields.STATE), default=()),
        "points": may(Named(POINT, fields.ID), default={}),
        "parts": may(PARTS, default={}),
        "readings": may(READINGS, default={}),
        "rules": may(Items(RULE), default=()),
        "wirings": need(Named(WIRING, TEXT)),
        "bench": may(BENCH, default=Bench()),
        "cautions": may(Items(TEXT), default=()),
        "found": may(Items(FOUND), default=()),
        "procedure": may(PROCEDURE, default=((), ())),
        "acceptance": may(Items(ACCEPTANCE), default=()),
        "pages": may(Items(PAGE), default=()),
    },
)
