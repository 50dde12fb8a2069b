"""What every kind of part says of itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from rewire.records import keys
from rewire.records.keys import TEXT, Key, WrittenAs
from rewire.words.quantity import Pieces, in_ohms, with_unit

if TYPE_CHECKING:
    from rewire.records.mount import Mount

Timing = Literal["non-shorting", "shorting", "unknown"]
Style = Literal["toggle", "rotary", "slide", "push", "relay", "jack"]
Worse = Literal["less", "more", "other"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a file: line and column count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Leg:
    """What conducts DC between two lugs of a part; contacts apart."""

    lugs: tuple[str, str]
    ohms: float | None
    """Nominal; None where it is not known or is to be fitted."""
    tolerance_percent: float | None = None
    """0 for what is taken as it is stated; None where it should be given and is not."""
    most_ohms: float | None = None
    """The most it may be, where the nominal value is not stated."""
    upper: bool | None = None
    """Of a pot: whether it is the leg from wiper to cw; None for everything else."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A value that a spec states of a part, for comparing two parts of a kind."""

    word: str
    """What it is called; empty for the main value."""
    value: float | str | None
    unit: str = ""
    worse: Worse | None = None
    """Which change of it is grave."""
    unknown: str | None = None
    """What is said where there is none; without it, a missing value is not compared."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value of a kind: whether parts lists, ratings and the comparison of two parts have it."""

    of: str
    """The field or property."""
    unit: str = ""
    word: str | None = None
    """What it is called where two parts are compared; None if it is not."""
    worse: Worse | None = None
    rated: str = ""
    """``watts``, ``volts`` or ``amps`` if it is a rating."""
    listed: bool = True
    unknown: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What every kind of part has in common, and what holds of most kinds.

    A kind that needs a field of the name of a property here gives it ``= field()``: without, the
    property would be its default.
    """

    kind: ClassVar[str]
    """The key that names the kind in a spec, ``resistor`` say, and its name in words."""
    WRITTEN: ClassVar[WrittenAs] = WrittenAs()
    lugs: ClassVar[tuple[str, ...]] = ("1", "2")
    """The lugs of every part of the kind; none where each part has its own."""
    passes_dc: ClassVar[bool] = True
    """Whether current can flow through it at rest (a diode: either way round)."""
    open_in_sums: ClassVar[bool] = False
    """Whether a DC sum takes it as open between its two ends."""
    has_role: ClassVar[bool] = True
    """Whether a part of another wiring can take its place lug by lug: not so for bare lugs."""
    by_ohms: ClassVar[bool] = False
    """Whether it is bought by its ohms, so that a wrong decade is a usual mistake."""
    fixed_ohms: ClassVar[bool] = False
    """Whether it is a plain resistance, of one piece or built up."""
    shows_readings: ClassVar[bool] = False
    lugs_in_a_row: ClassVar[bool] = False
    """Whether its lugs stand side by side, so that solder can bridge two of them."""
    on_leads: ClassVar[bool] = False
    """Whether it has wire leads, and leaves together with what is soldered to them."""
    order_at_bench: ClassVar[int] = 2
    """Parts of the lowest number are lifted and mounted first, and taken out last."""
    caution: ClassVar[str | None] = None
    """What keeps whoever takes it out from harm."""
    cold_share: ClassVar[float] = 1.0
    """Ohms when cold over those in use."""
    main: ClassVar[Figure | None] = None
    figures: ClassVar[tuple[Figure, ...]] = ()
    """Its values besides the main one."""

    name: str
    terminals: tuple[str, ...]
    """Bare lug names, in the order of the kind's table in the format."""
    place: Place
    between: Annotated[tuple[str, str] | None, Key(keys.PAIR)] = None
    replaces: Annotated[Mapping[str, str] | None, Key(keys.REPLACES)] = None
    """Own lug → terminal of the original, for example ``{"ccw": "R12.1"}``; a
    whole part that is replaced is written out lug by lug here."""
    note: Annotated[str | None, Key(TEXT)] = None
    where: Annotated[str | None, Key(TEXT)] = None
    label: Annotated[str | None, Key(TEXT)] = None

    def terminal(self, lug: str) -> str:
        """Full name of one of its lugs."""
        return f"{self.name}.{lug}"

    def __init_subclass__(cls) -> None:
        """Note the kind."""
        if "kind" in cls.__dict__:
            KINDS[cls.kind] = cls

    @property
    def full_terminals(self) -> tuple[str, ...]:
        """Full names of all its lugs."""
        return tuple(f"{self.name}.{lug}" for lug in self.terminals)

    @property
    def per_kelvin(self) -> float:
        """Usual change of its resistance per kelvin."""
        return 0.0

    @property
    def symbol(self) -> str:
        """The name of its symbol in a circuit diagram."""
        return self.kind

    @property
    def two_ended(self) -> bool:
        """Whether it has two ends that can be told from each other or exchanged."""
        return self.has_role and len(self.terminals) == 2

    @property
    def polar(self) -> bool:
        """Whether it matters which way round it is connected."""
        return False

    @property
    def turns_freely(self) -> bool:
        """Whether its two ends may be exchanged without any difference."""
        return self.two_ended and not self.polar

    @property
    def legs(self) -> tuple[Leg, ...]:
        """What conducts DC in it; none for what is open in sums, and for switches."""
        return ()

    @property
    def ohms_end_to_end(self) -> float | None:
        """Nominal ohms between its two ends; None where not known, or no sum has them."""
        return self.legs[0].ohms if len(self.legs) == 1 else None

    @property
    def most_ohms(self) -> float:
        """The most that a leg of unknown resistance may have."""
        return inf

    @property
    def value(self) -> str:
        """Its main value as written beside its symbol; empty if it has none."""
        return "" if self.main is None else _said(getattr(self, self.main.of), self.main.unit)

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """What it may stand: ``watts``, ``volts`` or ``amps``, and how many."""
        values = ((one.rated, getattr(self, one.of)) for one in self._all_figures() if one.rated)
        return tuple((what, most) for what, most in values if most)

    @property
    def stated(self) -> tuple[Stated, ...]:
        """What is compared when a part of the same kind takes its place."""
        return tuple(
            Stated(one.word, getattr(self, one.of), one.unit, one.worse, one.unknown)
            for one in self._all_figures()
            if one.word is not None
        )

    def _all_figures(self) -> tuple[Figure, ...]:
        return self.figures if self.main is None else (self.main, *self.figures)

    @property
    def described(self) -> str:
        """Kind, value and ratings, as on a parts list."""
        return ", ".join([f"{self.kind} {self.value}".rstrip(), *self._further()])

    def _further(self) -> Iterator[str]:
        """What the parts list says after kind and value."""
        for one in self.figures:
            value = getattr(self, one.of)
            if one.listed and value is not None:
                yield _said(value, one.unit)

    def described_as(self, fitted: str | None) -> str:
        """The same with the value that was found, for a kind whose value may be left open."""
        return self.described

    @property
    def sections(self) -> tuple[Section, ...]:
        """The contacts of a switch; no other kind has any."""
        return ()

    @property
    def care(self) -> tuple[str, ...]:
        """What to mind with it in hand."""
        return ()

    @property
    def mount(self) -> Mount | None:
        """What the panel sees of it, where that is given."""
        return None

    @property
    def relay(self) -> bool:
        """Whether a coil moves it."""
        return False

    @property
    def pieces(self) -> Pieces | None:
        """What it is built up from; of resistors alone."""
        return None

    @property
    def ac(self) -> bool:
        """Whether it is a meter made for AC."""
        return False

    @property
    def fit_for(self) -> str | None:
        """The reading for which its value is to be fitted."""
        return None

    @property
    def track_ohms(self) -> float | None:
        """Ohms of its track from end to end, if it has a wiper; of pots alone."""
        return None

    @property
    def setting_percent(self) -> float | None:
        """Where its wiper stands, from ccw, if it has one and that is stated."""
        return None

    @property
    def choose(self) -> str | None:
        """Where its value is to come from, if that is open: a series, a drawer."""
        return None

    @property
    def rating_watts(self) -> float | None:
        """Watts it may take, where stated."""
        return None

    @property
    def working_volts(self) -> float | None:
        """Volts it may have across it, where stated (a resistor)."""
        return None


def _said(value: float, unit: str) -> str:
    if unit in ("%", "turns"):
        return f"{value:g} {unit}"
    return in_ohms(value) if unit == "ohm" else with_unit(value, unit)


@dataclass(frozen=True, slots=True)
class Section:
    """Lugs that the contacts of any position link together; one of them moves as one.

    ``groups[i]`` are the groups of lugs closed together when the control stands
    at its position ``i``; each group has two lugs or more, groups are disjoint.
    """

    lugs: tuple[str, ...]
    groups: tuple[tuple[tuple[str, ...], ...], ...]
    timing: Timing
    timing_stated: bool
    pole: str | None
    """The letter of the pole in a plain form, None for a piece of a table."""

    @property
    def named(self) -> str:
        """Its pole, or its first lug."""
        return self.pole or self.lugs[0]


KINDS: dict[str, type[Part]] = {}
"""The key that names a kind in a spec → the kind, of the rooms that are imported."""
