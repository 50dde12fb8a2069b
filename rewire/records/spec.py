"""The checked model: what a spec says, in SI units, with every name resolved.

Everything above this layer reads these frozen records and nothing else. A
record that could be wrong in a way its reader wants to see carries its
``place`` in the file.

Names of terminals are plain text: a point's name (``CHASSIS``) or ``PART.LUG``
(``S1.A2``). A lug has no point in it, so the first point splits the two.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from rewire.records.parts import (
    Capacitor as Capacitor,
    Choke as Choke,
    Diode as Diode,
    Fuse as Fuse,
    InParallel as InParallel,
    InSeries as InSeries,
    Lamp as Lamp,
    Meter as Meter,
    Part as Part,
    Piece as Piece,
    Pieces as Pieces,
    Place as Place,
    Pot as Pot,
    Resistor as Resistor,
    Section as Section,
    Strip as Strip,
    Style as Style,
    Switch as Switch,
    SwitchRating as SwitchRating,
    Timing as Timing,
    total_ohms as total_ohms,
)
from rewire.words.gauge import METALS, square_mm

ChangeKind = Literal[
    "insert", "link", "drop", "join", "gap", "bridge", "interrupt", "stray", "remove", "reverse"
]
Role = Literal["plan", "found", "tried"]
"""What a wiring is: to be built, what lay on the bench, or what was tried."""
_TOLD: tuple[Role, ...] = ("plan", "found", "tried")
CUT = "cut"
"""The end of a wire that was cut off and joins nothing."""
Kind = TypeVar("Kind", bound=Part)
Partial = Mapping[str, tuple[str, ...]]
"""Control name → the positions meant; a control left out stands for all."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something read as written, but worth a second look (a bare ``50M``)."""

    place: Place
    message: str


@dataclass(frozen=True, slots=True)
class Document:
    """Who answers for the paper, and under which terms it may be shared."""

    author: str | None = None
    date: str | None = None
    revision: str | None = None
    licence: str | None = None


@dataclass(frozen=True, slots=True)
class Control:
    """What the operator moves; ``positions`` in order of travel."""

    name: str
    positions: tuple[str, ...]
    wraps: bool
    moves_any: bool
    note: str | None
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

    name: str
    chassis: bool
    live: bool
    """True for the chassis of a set without a mains transformer."""
    volts: float | None
    ac: bool
    rises_to: float | None
    source_resistance: float
    note: str | None
    where: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Net:
    """Schematic knowledge: all members are joined."""

    name: str | None
    members: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Wire:
    """Physical knowledge: one wire. A jumper has both ends on one part."""

    id: str
    ends: tuple[str, str]
    jumper: bool
    colour: str | None
    """Letters of IEC 60757."""
    gauge: str | None
    """As written."""
    insulation_volts: float | None
    twisted_with: str | None
    screened: bool
    length_metres: float | None
    note: str | None
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


@dataclass(frozen=True, slots=True)
class Change:
    """A difference that is meant."""

    kind: ChangeKind
    parts: tuple[str, ...]
    """The parts of ``insert``, ``link``, ``remove`` or ``reverse``."""
    anchors: tuple[str, ...]
    """The two places, by their names in the original; empty for remove and reverse."""
    when: Partial
    why: str | None
    reversible: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Drive:
    """A standing current that flows beside the one that is read."""

    places: tuple[str, str]
    amps: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter must show, and when."""

    name: str
    when: Partial
    quantity: Literal["current", "voltage"]
    places: tuple[str, str]
    full_scale: float
    """Ampere or volt, after ``quantity``."""
    source_resistance: float
    ac: bool
    meter: str | None
    """Reference of the original's meter; None where there is just one."""
    scale: str | None
    also: tuple[Drive, ...]
    marks: tuple[tuple[float, str], ...]
    place: Place
    accept_percent: float | None = None
    """Of full scale: beyond it the reading is off. None where the spec does not say."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A connection that must, or must not, exist whatever the original did."""

    kind: Literal["connect", "isolate"]
    places: tuple[str, str]
    limit: float | None
    """Ohm: ``within`` for connect, ``beyond`` for isolate."""
    while_switching: bool
    when: Partial
    why: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Wiring:
    """One way the equipment is wired."""

    name: str
    parts: Mapping[str, Part]
    nets: tuple[Net, ...]
    wires: tuple[Wire, ...]
    changes: tuple[Change, ...]
    readings: Mapping[str, Reading]
    """The readings in force here: the spec's, with this wiring's own in their place."""
    note: str | None
    place: Place
    role: Role | None = "plan"
    """None for the original."""
    cut_wires: tuple[Wire, ...] = ()
    """Wires with one end cut off: they join nothing, and that end is ``CUT``."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Test gear at hand."""

    series_resistor_ohms: float | None = None
    series_resistor_watts: float | None = None
    supply_volts: float | None = None
    supply_amps: float | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """Something found on the bench besides the wiring."""

    what: str
    where: str | None
    plan: Literal["keep", "remove", "replace"] | None
    why: str | None


@dataclass(frozen=True, slots=True)
class Task:
    """A line of work before or after the rewiring."""

    do: str
    where: str | None
    caution: str | None


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A test of the finished set."""

    test: str
    how: str | None
    expect: str


@dataclass(frozen=True, slots=True)
class PageNote:
    """A note on a scanned page, at a fraction of width and height from the top left."""

    at: tuple[float, float]
    about: str | None
    text: str | None


@dataclass(frozen=True, slots=True)
class Page:
    """A scanned page to be annotated; ``image`` as written, relative to the spec."""

    image: str
    title: str | None
    notes: tuple[PageNote, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Spec:
    """One swap: the equipment, and every way it is or was wired."""

    file: str
    title: str
    equipment: str | None
    summary: str | None
    document: Document
    controls: Mapping[str, Control]
    never: tuple[Mapping[str, str], ...]
    points: Mapping[str, Point]
    parts: Mapping[str, Part]
    """Parts that stay in every wiring."""
    readings: Mapping[str, Reading]
    rules: tuple[Rule, ...]
    wirings: Mapping[str, Wiring]
    """``original`` first, then the others in the order of the file."""
    bench: Bench = field(default_factory=Bench)
    cautions: tuple[str, ...] = ()
    found: tuple[Found, ...] = ()
    before: tuple[Task, ...] = ()
    after: tuple[Task, ...] = ()
    acceptance: tuple[Acceptance, ...] = ()
    pages: tuple[Page, ...] = ()
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
