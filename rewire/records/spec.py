"""What a spec says, in SI units, with every name resolved.

Everything above reading takes these frozen records and nothing else. Each field says with its
``Key`` what may stand behind its key in a file. A record that could be wrong in a way its reader
wants to see carries its ``place`` in the file.

Names of terminals are plain text: a point's name (``CHASSIS``) or ``PART.LUG``
(``S1.A2``). A lug has no point in it, so the first point splits the two.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Literal, TypeVar, get_args

from rewire.records import keys
from rewire.records.keys import (
    OHMS,
    TEXT,
    VOLTS,
    YES_OR_NO,
    AnyNets,
    AnyPart,
    Items,
    Key,
    Named,
    WrittenAs,
    amount,
    word,
)
from rewire.records.part import Part, Place
from rewire.words import quantity
from rewire.words.wire import METALS, square_mm
from rewire.words.wording import Wrong, listed

ChangeKind = Literal[
    "insert", "link", "drop", "join", "gap", "bridge", "interrupt", "stray", "remove", "reverse"
]
CHANGES: tuple[ChangeKind, ...] = get_args(ChangeKind)
OF_PARTS = ("insert", "link", "remove", "reverse")
"""The changes that name parts; the others name two places."""
_SAID: dict[ChangeKind, str] = {
    "insert": "{parts} now in series between {places}", "link": "{parts} new across {places}",
    "drop": "{places} disconnected", "join": "{places} shorted to each other",
    "gap": "{places} open for a moment while switching",
    "bridge": "{places} short for a moment while switching",
    "interrupt": "current between {places} stops for a moment while switching",
    "stray": "current flows between {places} for a moment while switching",
    "remove": "{parts} removed", "reverse": "{parts} turned round",
}  # fmt: skip
Role = Literal["plan", "found", "tried"]
"""What a wiring is: to be built, what lay on the bench, or what was tried."""
_TOLD: tuple[Role, ...] = ("plan", "found", "tried")
CUT = "cut"
"""The end of a wire that was cut off and joins nothing."""
Kind = TypeVar("Kind", bound=Part)
Partial = Mapping[str, tuple[str, ...]]
"""Control name → the positions meant; a control left out stands for all."""
Text = Annotated[str | None, Key(TEXT, default=None)]
"""A text that may be left out."""
Flag = Annotated[bool, Key(YES_OR_NO, default=False)]
When = Annotated[Partial, Key(keys.WHEN, default={})]


@dataclass(frozen=True, slots=True)
class Notice:
    """Something read as written, but worth a second look (a bare ``50M``)."""

    place: Place
    message: str


@dataclass(frozen=True, slots=True)
class Document:
    """Who answers for the paper, and under which terms it may be shared."""

    WRITTEN = replace(keys.OR_NOTHING, american=True)
    author: Text = None
    date: Text = None
    revision: Text = None
    licence: Text = None


@dataclass(frozen=True, slots=True)
class Control:
    """What the operator moves; ``positions`` in order of travel."""

    WRITTEN = WrittenAs(as_whole="positions", other=keys.LIST)
    name: str
    positions: Annotated[tuple[str, ...], Key(keys.DISTINCT)]
    wraps: Flag
    moves_any: Annotated[bool, Key(word("any", any=True), "moves", default=False)]
    note: Text
    place: Place

    def steps(self) -> Iterator[tuple[int, int]]:
        """Pairs of positions (by index, earlier in travel first) that one move joins."""
        count = len(self.positions)
        if self.moves_any:
            yield from ((p, q) for p in range(count) for q in range(p + 1, count))
            return
        yield from ((p, p + 1) for p in range(count - 1))
        if self.wraps and count > 2:
            yield (0, count - 1)

    def goes_round(self, before: int, after: int) -> bool:
        """Whether a move goes from the last position on to the first, not back through all."""
        last = len(self.positions) - 1
        return self.wraps and not self.moves_any and last > 1 and (before, after) == (0, last)


@dataclass(frozen=True, slots=True)
class Point:
    """A place in the equipment that no swap changes. Volts are to chassis."""

    WRITTEN = WrittenAs(nothing=("", "null", "~"), other={"enum": [None, "", "null", "~"]})
    name: str
    chassis: Annotated[bool, Key(keys.CHASSIS, also=("live",), default=(False, False))]
    live: bool
    """True for the chassis of a set without a mains transformer."""
    volts: Annotated[float | None, Key(keys.SIGNED_VOLTS, default=None)]
    ac: Flag
    rises_to: Annotated[float | None, Key(keys.SIGNED_VOLTS, default=None)]
    source_resistance: Annotated[float, Key(OHMS, default=0.0)]
    note: Text
    where: Text
    place: Place

    @property
    def most_volts(self) -> float:
        """The most that is written of it, in volts with its sign; 0 where nothing is."""
        return max((volts or 0.0 for volts in (self.volts, self.rises_to)), key=abs)


@dataclass(frozen=True, slots=True)
class Net:
    """Schematic knowledge: all members are joined."""

    name: str | None
    members: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """Physical knowledge: one wire. A jumper has both ends on one part."""

    WRITTEN = WrittenAs(
        as_list=("from", "to", "colour"),
        other={"type": "array", "items": keys.TYPED, "minItems": 2, "maxItems": 3},
        american=True,
        more={"from": Key(TEXT), "to": Key(TEXT)},
    )
    id: Annotated[str, Key(keys.ID, default=None)]
    ends: tuple[str, str]
    jumper: bool
    colour: Annotated[str | None, Key(keys.COLOUR)] = None
    """Letters of IEC 60757."""
    gauge: Text = None
    """As written."""
    insulation_volts: Annotated[float | None, Key(VOLTS, "insulation")] = None
    twisted_with: Text = None
    screened: Flag = False
    length_metres: Annotated[float | None, Key(amount(quantity.METRES), "length")] = None
    note: Text = None
    place: Place

    @property
    def named(self) -> str:
        """``wire W3``, ``jumper J1``."""
        return f"{'jumper' if self.jumper else 'wire'} {self.id}"

    @property
    def square_mm(self) -> float | None:
        """Cross-section in mm², None where the gauge gives none."""
        return None if self.gauge is None else square_mm(self.gauge)

    @property
    def ohms(self) -> float | None:
        """Of its copper at 20 °C; None where its length or its cross-section is not given."""
        if self.length_metres is None or not self.square_mm:
            return None
        return METALS["copper"].resistivity * self.length_metres / self.square_mm


def _check_change(given: Collection[str]) -> None:
    kinds = [key for key in given if key in CHANGES]
    if len(kinds) != 1:
        said = " and ".join(kinds) or "none"
        raise Wrong(f"a change is of one kind; {said} given", f"one of {listed(CHANGES)}")
    if ("between" in given) != (kinds[0] in ("insert", "link")):
        hint = "write {insert: R50, between: [one, other]}; other kinds name the two themselves"
        raise Wrong("'between' goes with 'insert' and 'link', and only with them", hint)


def change_said(kind: ChangeKind, about: Sequence[str]) -> str:
    """A change in words, of its parts and then its places.

    >>> change_said("insert", ("R5", "HT", "S1.A"))
    'R5 now in series between HT and S1.A'
    """
    places = about if kind not in OF_PARTS else about[-2:] if kind in ("insert", "link") else ()
    parts = about[: len(about) - len(places)]
    return _SAID[kind].format(parts=" and ".join(parts), places=" and ".join(places))


@dataclass(frozen=True, slots=True)
class Change:
    """A difference that is meant; exactly one of the ten kinds."""

    WRITTEN = WrittenAs(
        check=_check_change,
        more={
            kind: Key(
                keys.ONE_OR_MORE if kind in OF_PARTS else keys.ANCHORS, default=None, vital=True
            )
            for kind in CHANGES
        }
        | {"between": Key(keys.ANCHORS, default=None, vital=True)},
    )
    kind: ChangeKind
    parts: tuple[str, ...]
    """The parts of ``insert``, ``link``, ``remove`` or ``reverse``."""
    anchors: tuple[str, ...]
    """The two places, by their names in the original; empty for remove and reverse."""
    when: When
    why: Text
    reversible: Annotated[bool, Key(YES_OR_NO, default=True)]
    place: Place


@dataclass(frozen=True, slots=True)
class Drive:
    """A standing current that flows beside the one that is read."""

    places: Annotated[tuple[str, str], Key(keys.PLACES, "current")]
    amps: Annotated[float, Key(keys.SOME_AMPS, "amount")]


def _check_reading(given: Collection[str]) -> None:
    if ("current" in given) == ("voltage" in given):
        raise Wrong("a reading has either 'current' or 'voltage'", "write current: [from, to]")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter must show, and when."""

    WRITTEN = WrittenAs(
        check=_check_reading,
        more={
            "current": Key(keys.PLACES, default=None, vital=True),
            "voltage": Key(keys.PLACES, default=None, vital=True),
        },
    )
    name: str
    when: When
    quantity: Literal["current", "voltage"]
    places: tuple[str, str]
    full_scale: Annotated[float, Key(keys.FULL_SCALE)]
    """Ampere or volt, after ``quantity``."""
    source_resistance: Annotated[float, Key(OHMS, default=0.0)]
    ac: Flag
    meter: Text
    """Reference of the original's meter; None where there is just one."""
    scale: Text
    also: Annotated[tuple[Drive, ...], Key(Items(Drive), default=())]
    marks: Annotated[tuple[tuple[float, str], ...], Key(Named(TEXT, TEXT), default={})]
    place: Place
    accept_percent: Annotated[float | None, Key(amount(quantity.SOME_PERCENT), "accept")] = None
    """Of full scale: beyond it the reading is off. None where the spec does not say."""


def _check_rule(given: Collection[str]) -> None:
    if ("connect" in given) == ("isolate" in given):
        raise Wrong("a rule has either 'connect' or 'isolate'", "write connect: [one, other]")
    if "within" in given and "isolate" in given:
        raise Wrong("'within' goes with 'connect'", "isolate takes 'beyond'")
    if "beyond" in given and "connect" in given:
        raise Wrong("'beyond' goes with 'isolate'", "connect takes 'within'")


@dataclass(frozen=True, slots=True)
class Rule:
    """A connection that must, or must not, exist whatever the original did."""

    WRITTEN = WrittenAs(
        check=_check_rule,
        more={
            "connect": Key(keys.PLACES, default=None, vital=True),
            "isolate": Key(keys.PLACES, default=None, vital=True),
            "within": Key(OHMS, default=None),
            "beyond": Key(OHMS, default=None),
        },
    )
    kind: Literal["connect", "isolate"]
    places: tuple[str, str]
    limit: float | None
    """Ohm: ``within`` for connect, ``beyond`` for isolate."""
    while_switching: Flag
    when: When
    why: Text
    place: Place


PARTS = Named(AnyPart, keys.ID)
READINGS = Named(Reading, TEXT)


@dataclass(frozen=True, slots=True)
class Wiring:
    """One way the equipment is wired."""

    WRITTEN = keys.OR_NOTHING
    name: str
    parts: Annotated[Mapping[str, Part], Key(PARTS, default={})]
    nets: Annotated[tuple[Net, ...], Key(AnyNets, default=())]
    wires: Annotated[tuple[Wire, ...], Key(Items(Wire), default=())]
    changes: Annotated[tuple[Change, ...], Key(Items(Change), default=())]
    readings: Annotated[Mapping[str, Reading], Key(READINGS, default={})]
    """The readings in force here: the spec's, with this wiring's own in their place."""
    note: Text
    place: Place
    role: Annotated[Role | None, Key(word("plan", "found", "tried"), default=None)] = "plan"
    """None for the original."""
    cut_wires: tuple[Wire, ...] = ()
    """Wires with one end cut off: they join nothing, and that end is ``CUT``."""


@dataclass(frozen=True, slots=True)
class MeterOption:
    """Another movement for which the plan's values are worked out too."""

    full_scale_amps: Annotated[
        float | None, Key(keys.FULL_SCALE, "meter", also=("full_scale_volts",))
    ]
    full_scale_volts: float | None
    resistance: Annotated[float, Key(OHMS)]
    resistance_tolerance_percent: Annotated[
        float | None, Key(keys.SHARE, "resistance_tolerance", default=None)
    ]
    accuracy_percent: Annotated[float | None, Key(keys.SHARE, "accuracy", default=None)]
    replaces: Text
    """Reference of the original's meter; None where there is just one."""
    note: Text


@dataclass(frozen=True, slots=True)
class Bench:
    """Test gear at hand."""

    WRITTEN = keys.OR_NOTHING
    series_resistor_ohms: Annotated[
        float | None, Key(amount(quantity.SOME_OHMS), "series_resistor")
    ] = None
    series_resistor_watts: Annotated[float | None, Key(keys.WATTS, "rating")] = None
    supply_volts: Annotated[float | None, Key(VOLTS)] = None
    supply_amps: Annotated[float | None, Key(keys.AMPS)] = None


@dataclass(frozen=True, slots=True)
class Found:
    """Something found on the bench besides the wiring."""

    what: Annotated[str, Key(TEXT)]
    where: Text
    plan: Annotated[
        Literal["keep", "remove", "replace"] | None,
        Key(word("keep", "remove", "replace"), default=None),
    ]
    why: Text
    part: Text
    """The part that it is about, by its reference in any wiring."""

    @property
    def said(self) -> str:
        """What was found, the part first."""
        part = self.part
        return self.what if part is None or self.what.startswith(part) else f"{part}: {self.what}"

    @property
    def planned(self) -> str:
        """What is planned with it, in words; empty where nothing is said."""
        return "take out" if self.plan == "remove" else self.plan or ""


@dataclass(frozen=True, slots=True)
class Task:
    """A line of work before or after the rewiring."""

    do: Annotated[str, Key(TEXT)]
    where: Text
    caution: Text


@dataclass(frozen=True, slots=True)
class Procedure:
    """Work before and after the rewiring."""

    WRITTEN = keys.OR_NOTHING
    before: Annotated[tuple[Task, ...], Key(Items(Task))] = ()
    after: Annotated[tuple[Task, ...], Key(Items(Task))] = ()


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A test of the finished set."""

    test: Annotated[str, Key(TEXT)]
    how: Text
    expect: Annotated[str, Key(TEXT)]


def _check_note(given: Collection[str]) -> None:
    if not ("about" in given or "text" in given):
        raise Wrong("this note says nothing", "give 'about' a part, or 'text'")


@dataclass(frozen=True, slots=True)
class PageNote:
    """A note on a scanned page, at a fraction of width and height from the top left."""

    WRITTEN = WrittenAs(check=_check_note)
    at: Annotated[tuple[float, float], Key(keys.SPOT)]
    about: Text
    text: Text


@dataclass(frozen=True, slots=True)
class Page:
    """A scanned page to be annotated; ``image`` as written, relative to the spec."""

    image: Annotated[str, Key(keys.IMAGE)]
    title: Text
    notes: Annotated[tuple[PageNote, ...], Key(Items(PageNote), default=())]
    place: Place


@dataclass(frozen=True, slots=True)
class Spec:
    """One swap: the equipment, and every way it is or was wired."""

    WRITTEN = WrittenAs(
        more={
            "rewire": Key(keys.FORMAT),
            "procedure": Key(Procedure, default=Procedure()),
        }
    )
    file: str
    title: Annotated[str, Key(TEXT)]
    equipment: Text
    summary: Text
    document: Annotated[Document, Key(Document, default=Document())]
    controls: Annotated[Mapping[str, Control], Key(Named(Control, TEXT), default={})]
    never: Annotated[tuple[Mapping[str, str], ...], Key(Items(keys.STATE), default=())]
    points: Annotated[Mapping[str, Point], Key(Named(Point, keys.ID), default={})]
    parts: Annotated[Mapping[str, Part], Key(PARTS, default={})]
    """Parts that stay in every wiring."""
    readings: Annotated[Mapping[str, Reading], Key(READINGS, default={})]
    rules: Annotated[tuple[Rule, ...], Key(Items(Rule), default=())]
    wirings: Annotated[Mapping[str, Wiring], Key(Named(Wiring, TEXT))]
    """``original`` first, then the others in the order of the file."""
    options: Annotated[tuple[MeterOption, ...], Key(Items(MeterOption))] = ()
    bench: Annotated[Bench, Key(Bench)] = field(default_factory=Bench)
    cautions: Annotated[tuple[str, ...], Key(Items(TEXT))] = ()
    found: Annotated[tuple[Found, ...], Key(Items(Found))] = ()
    before: tuple[Task, ...] = ()
    after: tuple[Task, ...] = ()
    acceptance: Annotated[tuple[Acceptance, ...], Key(Items(Acceptance))] = ()
    pages: Annotated[tuple[Page, ...], Key(Items(Page))] = ()
    notices: tuple[Notice, ...] = ()
    digest: str = ""
    """SHA-256 of the file's bytes, in hex."""

    @property
    def original(self) -> Wiring:
        """The wiring as the maker built it."""
        return self.wirings["original"]

    @property
    def others(self) -> tuple[Wiring, ...]:
        """Every wiring but the original: the plans first, then what was found, then trials."""
        mine = (w for w in self.wirings.values() if w.name != "original")
        return tuple(sorted(mine, key=lambda w: _TOLD.index(w.role or "plan")))

    @property
    def told(self) -> tuple[Wiring, ...]:
        """Every wiring in the order in which people are told of them: the original last."""
        return (*self.others, self.original)

    def parts_of(self, wiring: Wiring) -> dict[str, Part]:
        """All parts present in a wiring, the ones that stay first."""
        return {**self.parts, **wiring.parts}

    def all_of(self, kind: type[Kind], wiring: Wiring) -> dict[str, Kind]:
        """Name → part, of all parts of one kind in a wiring: its switches, its meters."""
        parts = self.parts_of(wiring).items()
        return {name: part for name, part in parts if isinstance(part, kind)}
