"""The kinds of parts: one class for each, which says everything about its kind.

Whoever needs to know how a part behaves asks the part (``passes_dc``, ``legs``, ``polar``,
``ratings``, ``value``, ``described``) and not which kind it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Annotated, ClassVar, Literal

from rewire.records import keys
from rewire.records.keys import OHMS, SHARE, TEXT, VOLTS, WATTS, Key, Written, amount, word
from rewire.words import quantity
from rewire.words.quantity import (
    InParallel as InParallel,
    InSeries as InSeries,
    Piece as Piece,
    Pieces as Pieces,
    in_ohms,
    pieces_said as pieces_said,
    total_ohms as total_ohms,
    with_unit,
)

Timing = Literal["non-shorting", "shorting", "unknown"]
Style = Literal["toggle", "rotary", "slide", "push", "relay", "jack"]
COLD = 0.1
"""Ohms of a cold filament over those of a hot one, from memory."""
COPPER = 0.00393
"""Change of a copper winding's resistance per kelvin at 20 °C, IEC 60028."""
FORWARD_VOLTS = {"silicon": 0.7, "germanium": 0.3}
_FUSE_DROPS = ((0.05, 10.0), (0.1, 5.0), (0.25, 2.0), (0.5, 1.3), (1.0, 0.65))
"""Rated ampere, up to which a fuse drops so many volts: IEC 60127-2, from memory, rounded up."""
_LARGE_FUSE_DROP = 0.25


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
    worse: Literal["less", "more", "other"] | None = None
    """Which change of it is grave."""
    unknown: str | None = None
    """What is said where there is none; without it, a missing value is not compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What every kind of part has in common, and what holds of most kinds.

    A kind that needs a field of the name of a property here gives it ``= field()``: without, the
    property would be its default.
    """

    kind: ClassVar[str]
    """The key that names the kind in a spec, ``resistor`` say, and its name in words."""
    WRITTEN: ClassVar[Written] = Written()
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
    lugs_in_a_row: ClassVar[bool] = False
    """Whether its lugs stand side by side, so that solder can bridge two of them."""
    on_leads: ClassVar[bool] = False
    """Whether it has wire leads, and leaves together with what is soldered to them."""
    holds_charge: ClassVar[bool] = False
    care: ClassVar[str | None] = None
    """What to mind with it in hand."""
    caution: ClassVar[str | None] = None
    """What keeps whoever takes it out from harm."""
    cold_share: ClassVar[float] = 1.0
    """Ohms when cold over those in use."""
    per_kelvin: ClassVar[float] = 0.0
    """Usual change of its resistance per kelvin."""

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

    @property
    def full_terminals(self) -> tuple[str, ...]:
        """Full names of all its lugs."""
        return tuple(f"{self.name}.{lug}" for lug in self.terminals)

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
    def value(self) -> str:
        """Its main value as written beside its symbol; empty if it has none."""
        return ""

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """What it may stand: ``watts``, ``volts`` or ``amps``, and how many."""
        return ()

    @property
    def stated(self) -> tuple[Stated, ...]:
        """What is compared when a part of the same kind takes its place."""
        return ()

    @property
    def described(self) -> str:
        """Kind, value and ratings, as on a parts list."""
        return ", ".join([f"{self.kind} {self.value}".rstrip(), *self._further()])

    def described_as(self, fitted: str | None) -> str:
        """The same with the value that was found, for a kind whose value may be left open."""
        return self.described

    def _further(self) -> Iterator[str]:
        """What the parts list says after kind and value."""
        yield from ()

    @property
    def sections(self) -> tuple[Section, ...]:
        """The contacts of a switch; no other kind has any."""
        return ()

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
    def rating_watts(self) -> float | None:
        """Watts it may take, where stated."""
        return None

    @property
    def working_volts(self) -> float | None:
        """Volts it may have across it, where stated (a resistor)."""
        return None


def _percent(value: float | None) -> list[str]:
    return [] if value is None else [f"{value:g} %"]


def _rated(value: float | None, unit: str) -> list[str]:
    return [] if value is None else [with_unit(value, unit)]


def _known(*ratings: tuple[str, float | None]) -> tuple[tuple[str, float], ...]:
    return tuple((what, most) for what, most in ratings if most is not None)


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


@dataclass(frozen=True, slots=True)
class SwitchRating:
    """Volts and amps a contact may break; volts to shaft and panel."""

    WRITTEN = Written(loose=False)
    volts: Annotated[float | None, Key(VOLTS)] = None
    amps: Annotated[float | None, Key(keys.AMPS)] = None
    shaft_volts: Annotated[float | None, Key(VOLTS)] = None


_TIMINGS = {"shorting": "make before break", "non-shorting": "break before make"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A switch, relay or jack: lugs, and what is closed in each position."""

    kind = "switch"
    lugs = ()
    passes_dc = False
    has_role = False
    WRITTEN = Written(
        more={
            "timing": Key(keys.TIMING, default=None),
            "positions": Key(keys.THROWS, default=None),
            "lugs": Key(keys.LUGS, default=None, vital=True),
            "contacts": Key(keys.CONTACTS, default=None, vital=True),
        }
    )
    form: Annotated[str, Key(TEXT, "switch")]
    """``3P4T`` and the like, or ``table``."""
    control: Annotated[str, Key(TEXT)]
    sections: tuple[Section, ...] = field()
    idle_lugs: tuple[str, ...]
    """Lugs in no section: no position ever closes them on another."""
    throws: int | None
    """Throws a pole has; None for a table."""
    throw_at: tuple[int | None, ...] | None
    """Per position of the control: the throw number, None for open. None for a table."""
    poles: tuple[tuple[str, ...], ...]
    """Plain forms: per pole the lugs (common, throw 1, throw 2 …); empty for a table."""
    style: Annotated[
        Style | None, Key(word("toggle", "rotary", "slide", "push", "relay", "jack"), default=None)
    ]
    layout: Annotated[object, Key(keys.ANYTHING, default=None, null=False)]
    """As written (text, mappings and lists); ``lug_positions`` gives it its meaning."""
    rating: Annotated[SwitchRating, Key(SwitchRating, default=SwitchRating())]
    contact_resistance: Annotated[float | None, Key(OHMS, default=None)]

    @property
    def value(self) -> str:
        """Its form."""
        return "" if self.form == "table" else self.form

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """What a contact may break."""
        return _known(("amps", self.rating.amps))

    @property
    def described(self) -> str:
        """Form, timing and ratings."""
        style = {"relay": "relay", "jack": "jack"}.get(self.style or "", f"{self.style} switch")
        noun = "switch" if self.style is None else style
        first = f"{self.form} {noun}"
        if self.form == "table":
            first = f"{noun} of {len(self.terminals)} lugs"
        rated = [*_rated(self.rating.volts, "V"), *_rated(self.rating.amps, "A")]
        return ", ".join([first, *self._timing(), *rated])

    def _timing(self) -> Iterator[str]:
        timings = {section.timing for section in self.sections}
        if len(timings) == 1:
            yield _TIMINGS.get(timings.pop(), "timing unknown")
        elif timings:
            each = (f"{s.pole or '/'.join(s.lugs)} {s.timing}" for s in self.sections)
            yield f"timing mixed: {'; '.join(each)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter(Part):
    """A meter with a moving coil; or one made for AC, its rectifier in its case.

    Exactly one of amps and volts at full scale is written.
    """

    kind = "meter"
    lugs = ("+", "-")
    care = "join its terminals with a wire for carrying: that brakes the pointer"
    per_kelvin = COPPER
    full_scale_amps: Annotated[
        float | None,
        Key(keys.FULL_SCALE, "meter", also=("full_scale_volts",), stand_in=(1e-3, None)),
    ]
    full_scale_volts: float | None
    resistance: Annotated[float | None, Key(keys.METER_OHMS, default=None, null=False)]
    """Ohm; None where it is unknown."""
    resistance_tolerance_percent: Annotated[
        float | None, Key(SHARE, "resistance_tolerance", default=None)
    ]
    accuracy_percent: Annotated[float | None, Key(SHARE, "accuracy", default=None)]
    zero: Annotated[
        Literal["left", "centre", "right"],
        Key(word("left", "centre", "center", "right", center="centre"), default="left"),
    ]
    scales: Annotated[tuple[str, ...], Key(keys.ONE_OR_MORE, default=())]
    ac: Annotated[bool, Key(keys.YES_OR_NO)] = False
    """Made for AC, with a rectifier in its case or an iron: what it is given for is rms."""

    @property
    def polar(self) -> bool:
        """It reads backwards the wrong way round."""
        return True

    @property
    def movement_amps(self) -> float | None:
        """Full-scale current, ampere; of a meter in volts, volts over nominal resistance."""
        if self.full_scale_amps is not None:
            return self.full_scale_amps
        if self.full_scale_volts is None or not self.resistance:
            return None
        return self.full_scale_volts / self.resistance

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Its movement."""
        return (Leg(("+", "-"), self.resistance, self.resistance_tolerance_percent),)

    @property
    def value(self) -> str:
        """Full scale."""
        amps = self.full_scale_amps
        return with_unit(self.full_scale_volts, "V") if amps is None else with_unit(amps, "A")

    @property
    def described(self) -> str:
        """Full scale, resistance, zero and scales."""
        said = [f"meter {self.value}{' AC' if self.ac else ''}"]
        if self.resistance is not None:
            said.append(in_ohms(self.resistance))
        if self.zero != "left":
            said.append(f"zero {self.zero}")
        if self.scales:
            said.append(f"scales {', '.join(self.scales)}")
        return ", ".join(said)

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Full scale, AC or DC, resistance."""
        amps = self.full_scale_amps
        scale, unit = (self.full_scale_volts, "V") if amps is None else (amps, "A")
        return (
            Stated("full scale", scale, unit, "other"),
            Stated("made for", "AC" if self.ac else "DC", worse="other"),
            Stated("resistance", self.resistance, "ohm"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor(Part):
    """A resistor, a built-up one, or one to be fitted: then ``pieces`` is None."""

    kind = "resistor"
    by_ohms = True
    on_leads = True
    pieces: Annotated[Pieces | None, Key(keys.RESISTANCE, "resistor", stand_in=Piece(1.0))] = (
        field()
    )
    fit_for: Annotated[str | None, Key(TEXT, "for")] = None
    choose: Annotated[str | None, Key(TEXT)] = None
    tolerance_percent: Annotated[float | None, Key(SHARE, "tolerance")] = None
    rating_watts: Annotated[float | None, Key(WATTS, "rating")] = None
    working_volts: Annotated[float | None, Key(VOLTS)] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The whole of it, whatever it is built of."""
        ohms = None if self.pieces is None else total_ohms(self.pieces)
        return (Leg(("1", "2"), ohms, self.tolerance_percent),)

    @property
    def value(self) -> str:
        """Its pieces, or that the value is open."""
        return "? Ω" if self.pieces is None else pieces_said(self.pieces)

    @property
    def described(self) -> str:
        """Value, tolerance and ratings."""
        return self.described_as(None)

    def described_as(self, fitted: str | None) -> str:
        """The same with the value that was found for one to be fitted."""
        value = f" {self.value}" if self.pieces is not None else fitted and f" {fitted}"
        open_still = f", value still open: see rewire values (for {self.fit_for})"
        return ", ".join([
            f"resistor{value or open_still}", *_percent(self.tolerance_percent),
            *_rated(self.rating_watts, "W"), *_rated(self.working_volts, "V"),
        ])  # fmt: skip

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """Watts of each piece, and its working volts."""
        return _known(("watts", self.rating_watts), ("volts", self.working_volts or None))

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Ohms and ratings."""
        return (
            Stated("", self.ohms_end_to_end, "ohm", unknown="to be found"),
            Stated("rating", self.rating_watts, "W", "less"),
            Stated("working volts", self.working_volts, "V", "less"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pot(Part):
    """A pot or a rheostat; ``setting_percent`` (from ccw) None: not stated, or to be fitted."""

    kind = "pot"
    lugs = ("ccw", "wiper", "cw")
    lugs_in_a_row = True
    by_ohms = True
    ohms: Annotated[float, Key(amount(quantity.SOME_OHMS), "pot", stand_in=1.0)]
    setting_percent: Annotated[float | None, Key(keys.SETTING, "setting")] = None
    fit_for: Annotated[str | None, Key(TEXT, "for")] = None
    tolerance_percent: Annotated[float | None, Key(SHARE, "tolerance")] = None
    rating_watts: Annotated[float | None, Key(WATTS, "rating")] = None
    turns: Annotated[float | None, Key(amount(quantity.TURNS))] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        """From ccw to the wiper and from the wiper to cw."""
        share = None if self.setting_percent is None else self.setting_percent / 100.0
        lower, upper = (None, None)
        if share is not None:
            lower, upper = self.ohms * share, self.ohms * (1.0 - share)
        return (
            Leg(("ccw", "wiper"), lower, self.tolerance_percent, upper=False),
            Leg(("wiper", "cw"), upper, self.tolerance_percent, upper=True),
        )

    @property
    def value(self) -> str:
        """Ohms and setting."""
        setting = "" if self.setting_percent is None else f" at {self.setting_percent:g} %"
        return f"{in_ohms(self.ohms)}{setting}"

    @property
    def described(self) -> str:
        """Ohms, tolerance, rating and turns."""
        turns = [f"{self.turns:g} turns"] if self.turns else []
        rated = [*_percent(self.tolerance_percent), *_rated(self.rating_watts, "W"), *turns]
        return ", ".join([f"pot {in_ohms(self.ohms)}", *rated])

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """Watts of the whole track, and the amps at which any piece of it takes its share."""
        watts = self.rating_watts
        amps = None if watts is None else sqrt(watts / self.ohms)
        return _known(("watts", watts), ("amps", amps))

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Ohms and rating."""
        return Stated("", self.ohms, "ohm"), Stated("rating", self.rating_watts, "W", "less")


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor(Part):
    """A capacitor: no path at rest."""

    kind = "capacitor"
    passes_dc = False
    open_in_sums = True
    on_leads = True
    holds_charge = True
    caution = "discharge it first, and measure"
    WRITTEN = Written(american=True)
    farads: Annotated[float, Key(amount(quantity.FARADS), "capacitor", stand_in=1e-9)]
    rating_volts: Annotated[float | None, Key(VOLTS, "rating")] = None
    polarised: Annotated[bool, Key(keys.YES_OR_NO)] = False
    """An electrolytic: terminal 1 is plus."""

    @property
    def polar(self) -> bool:
        """An electrolytic is."""
        return self.polarised

    @property
    def value(self) -> str:
        """In units of a picofarad at the least: nothing smaller is made as a part."""
        return f"{self.farads * 1e12:.4g} pF" if self.farads < 1e-9 else with_unit(self.farads, "F")

    @property
    def described(self) -> str:
        """Farads and rating."""
        return ", ".join([f"capacitor {with_unit(self.farads, 'F')}", *self._further()])

    def _further(self) -> Iterator[str]:
        yield from _rated(self.rating_volts, "V")

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """Its volts."""
        return _known(("volts", self.rating_volts))

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Polarity, farads and rating."""
        return (
            Stated("", "polarised" if self.polarised else "not polarised"),
            Stated("", self.farads, "F"),
            Stated("rating", self.rating_volts, "V", "less"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Choke(Part):
    """A choke; its winding resistance is what counts at DC."""

    kind = "choke"
    henries: Annotated[float, Key(amount(quantity.HENRIES), "choke", stand_in=1.0)]
    resistance: Annotated[float, Key(OHMS)]

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Its winding."""
        return (Leg(("1", "2"), self.resistance, 0.0),)

    @property
    def value(self) -> str:
        """Henries."""
        return with_unit(self.henries, "H")

    def _further(self) -> Iterator[str]:
        yield in_ohms(self.resistance)

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Henries and resistance."""
        return Stated("", self.henries, "H"), Stated("resistance", self.resistance, "ohm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Part):
    """A diode: a path either way round, open in sums."""

    kind = "diode"
    lugs = ("A", "K")
    open_in_sums = True
    on_leads = True
    material: Annotated[
        Literal["silicon", "germanium"] | None,
        Key(keys.DIODE, "diode", also=("forward_volts",), stand_in=("silicon", None)),
    ]
    forward_volts: float | None

    @property
    def polar(self) -> bool:
        """It conducts one way."""
        return True

    @property
    def conducts_at(self) -> float | None:
        """Volts at which it conducts, None where neither they nor the material are given."""
        if self.forward_volts is not None:
            return self.forward_volts
        return FORWARD_VOLTS.get(self.material) if self.material else None

    @property
    def value(self) -> str:
        """Material or forward volts."""
        return self.material or with_unit(self.forward_volts, "V")

    @property
    def described(self) -> str:
        """Material or forward volts."""
        return f"diode, {self.material or f'{self.value} forward'}"

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Material or forward volts."""
        return (Stated("", self.material or self.forward_volts, "V"),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Part):
    """A lamp; its current at rated volts gives its hot resistance, which sums take."""

    kind = "lamp"
    cold_share = COLD
    rated_volts: Annotated[float, Key(amount(quantity.SOME_VOLTS), "lamp", stand_in=1.0)]
    rated_amps: Annotated[float | None, Key(keys.SOME_AMPS, "current")] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The hot filament."""
        hot = self.rated_volts / self.rated_amps if self.rated_amps else None
        return (Leg(("1", "2"), hot, 0.0),)

    @property
    def value(self) -> str:
        """Rated volts."""
        return with_unit(self.rated_volts, "V")

    def _further(self) -> Iterator[str]:
        yield from _rated(self.rated_amps, "A")

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """Rated volts."""
        return (("volts", self.rated_volts),)

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Rated volts and current."""
        return Stated("", self.rated_volts, "V"), Stated("current", self.rated_amps, "A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Part):
    """A fuse that is whole."""

    kind = "fuse"
    rated_amps: Annotated[float, Key(keys.SOME_AMPS, "fuse", stand_in=1.0)]
    resistance: Annotated[float, Key(keys.FUSE_OHMS, also=("resistance_stated",))] = 0.0
    resistance_stated: bool = False
    """If not, its resistance is 0 in nominal sums, and a band from there in the worst case."""

    @property
    def most_ohms(self) -> float:
        """The most ohms that a fuse of its rating may have: largest drop over rated current."""
        drop = next((v for amps, v in _FUSE_DROPS if self.rated_amps <= amps), _LARGE_FUSE_DROP)
        return drop / self.rated_amps

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Its wire."""
        most = None if self.resistance_stated else self.most_ohms
        return (Leg(("1", "2"), self.resistance, 0.0, most),)

    @property
    def value(self) -> str:
        """Rated amps."""
        return with_unit(self.rated_amps, "A")

    @property
    def ratings(self) -> tuple[tuple[str, float], ...]:
        """Rated amps."""
        return (("amps", self.rated_amps),)

    @property
    def stated(self) -> tuple[Stated, ...]:
        """Rated amps and resistance."""
        return (
            Stated("", self.rated_amps, "A", "more"),
            Stated("resistance", self.resistance, "ohm"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip(Part):
    """A tag strip: lugs that are not joined to each other."""

    kind = "strip"
    lugs = ()
    lugs_in_a_row = True
    WRITTEN = Written(more={"strip": Key(keys.STRIP)})
    passes_dc = False
    has_role = False

    @property
    def value(self) -> str:
        """How many lugs."""
        return f"{len(self.terminals)} lugs"

    @property
    def described(self) -> str:
        """How many lugs."""
        return f"tag strip of {len(self.terminals)}"


KINDS: dict[str, type[Part]] = {
    kind.kind: kind
    for kind in (
        Switch, Meter, Resistor, Pot, Capacitor, Choke, Diode, Lamp, Fuse, Strip,
    )
}  # fmt: skip
"""The key that names a kind in a spec → the kind."""
