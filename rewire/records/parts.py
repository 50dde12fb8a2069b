"""The kinds of parts: one class for each, which says everything about its kind.

Whoever needs to know how a part behaves asks the part (``passes_dc``, ``legs``, ``polar``,
``ratings``, ``value``, ``described``) and not which kind it is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt
from typing import Annotated, Literal

from rewire.records import keys
from rewire.records.keys import (
    CHOICE,
    OHMS,
    SHARE,
    TEXT,
    VOLTS,
    WATTS,
    Key,
    WrittenAs,
    amount,
    word,
)
from rewire.records.mount import Dial, MeterMount
from rewire.records.part import Figure, Leg, Part, Stated
from rewire.words import quantity
from rewire.words.quantity import (
    Pieces,
    in_ohms,
    pieces_said,
    total_ohms,
    with_unit,
)

COLD = 0.1
"""Ohms of a cold filament over those of a hot one, from memory."""
COPPER = 0.00393
"""Change of a copper winding's resistance per kelvin at 20 °C, IEC 60028."""
FORWARD_VOLTS = {"silicon": 0.7, "germanium": 0.3}
_FUSE_DROPS = ((0.05, 10.0), (0.1, 5.0), (0.25, 2.0), (0.5, 1.3), (1.0, 0.65))
"""Rated ampere, up to which a fuse drops so many volts: IEC 60127-2, from memory, rounded up."""
_LARGE_FUSE_DROP = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter(Part):
    """A meter with a moving coil; or one made for AC, its rectifier in its case.

    Exactly one of amps and volts at full scale is written.
    """

    kind = "meter"
    shows_readings = True
    lugs = ("+", "-")
    order_at_bench = 1
    full_scale_amps: Annotated[
        float | None,
        Key(keys.FULL_SCALE, "meter", also=("full_scale_volts",)),
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
    dial: Annotated[Dial | None, Key(Dial)] = None
    """The plate to be printed for it."""
    mount: Annotated[MeterMount | None, Key(MeterMount)] = None

    @property
    def polar(self) -> bool:
        return True

    @property
    def care(self) -> tuple[str, ...]:
        return ("short its terminals while it is carried: that brakes the pointer",)

    @property
    def per_kelvin(self) -> float:
        return COPPER

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
        return (Leg(("+", "-"), self.resistance, self.resistance_tolerance_percent),)

    @property
    def value(self) -> str:
        amps = self.full_scale_amps
        return with_unit(self.full_scale_volts, "V") if amps is None else with_unit(amps, "A")

    @property
    def described(self) -> str:
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
    fixed_ohms = True
    on_leads = True
    figures = (
        Figure("ohms_end_to_end", "ohm", "", listed=False, unknown="to be worked out"),
        Figure("tolerance_percent", "%"),
        Figure("rating_watts", "W", "rating", "less", "watts"),
        Figure("working_volts", "V", "working volts", "less", "volts"),
    )
    pieces: Annotated[Pieces | None, Key(keys.RESISTANCE, "resistor")] = field()
    fit_for: Annotated[str | None, Key(TEXT, "for")] = None
    choose: Annotated[str | None, Key(CHOICE)] = None
    tolerance_percent: Annotated[float | None, Key(SHARE, "tolerance")] = None
    rating_watts: Annotated[float | None, Key(WATTS, "rating")] = None
    working_volts: Annotated[float | None, Key(VOLTS)] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        ohms = None if self.pieces is None else total_ohms(self.pieces)
        return (Leg(("1", "2"), ohms, self.tolerance_percent),)

    @property
    def value(self) -> str:
        return "? Ω" if self.pieces is None else pieces_said(self.pieces)

    def described_as(self, fitted: str | None) -> str:
        value = f" {self.value}" if self.pieces is not None else fitted and f" {fitted}"
        open_still = f", value still open: see rewire values (for {self.fit_for})"
        return ", ".join([f"resistor{value or open_still}", *self._further()])

    @property
    def described(self) -> str:
        return self.described_as(None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pot(Part):
    """A pot or a rheostat; ``setting_percent`` (from ccw) None: not stated, or to be fitted."""

    kind = "pot"
    lugs = ("ccw", "wiper", "cw")
    lugs_in_a_row = True
    by_ohms = True
    main = Figure("ohms", "ohm", "")
    figures = (
        Figure("tolerance_percent", "%"),
        Figure("rating_watts", "W", "rating", "less", "watts"),
        Figure("track_amps", rated="amps", listed=False),
        Figure("turns", "turns"),
    )
    ohms: Annotated[float, Key(amount(quantity.SOME_OHMS), "pot")]
    setting_percent: Annotated[float | None, Key(keys.SETTING, "setting")] = None
    fit_for: Annotated[str | None, Key(TEXT, "for")] = None
    tolerance_percent: Annotated[float | None, Key(SHARE, "tolerance")] = None
    rating_watts: Annotated[float | None, Key(WATTS, "rating")] = None
    turns: Annotated[float | None, Key(amount(quantity.TURNS))] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        share = None if self.setting_percent is None else self.setting_percent / 100.0
        lower, upper = (None, None)
        if share is not None:
            lower, upper = self.ohms * share, self.ohms * (1.0 - share)
        return (
            Leg(("ccw", "wiper"), lower, self.tolerance_percent, upper=False),
            Leg(("wiper", "cw"), upper, self.tolerance_percent, upper=True),
        )

    @property
    def most_ohms(self) -> float:
        return self.ohms

    @property
    def value(self) -> str:
        setting = "" if self.setting_percent is None else f" at {self.setting_percent:g} %"
        return f"{in_ohms(self.ohms)}{setting}"

    @property
    def described(self) -> str:
        return ", ".join([f"pot {in_ohms(self.ohms)}", *self._further()])

    @property
    def track_ohms(self) -> float:
        return self.ohms

    @property
    def track_amps(self) -> float | None:
        """Amps at which any piece of the track takes its share of the rated watts."""
        return None if self.rating_watts is None else sqrt(self.rating_watts / self.ohms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor(Part):
    """A capacitor: no path at rest."""

    kind = "capacitor"
    passes_dc = False
    open_in_sums = True
    on_leads = True
    caution = "discharge it first, and measure"
    main = Figure("farads", "F")
    figures = (
        Figure("polarity", word="", listed=False),
        Figure("farads", "F", "", listed=False),
        Figure("rating_volts", "V", "rating", "less", "volts"),
    )
    WRITTEN = WrittenAs(american=True)
    farads: Annotated[float, Key(amount(quantity.FARADS), "capacitor")]
    rating_volts: Annotated[float | None, Key(VOLTS, "rating")] = None
    polarised: Annotated[bool, Key(keys.YES_OR_NO)] = False
    """An electrolytic: terminal 1 is plus."""

    @property
    def polar(self) -> bool:
        return self.polarised

    @property
    def value(self) -> str:
        return f"{self.farads * 1e12:.4g} pF" if self.farads < 1e-9 else with_unit(self.farads, "F")

    @property
    def described(self) -> str:
        return ", ".join([f"capacitor {with_unit(self.farads, 'F')}", *self._further()])

    @property
    def polarity(self) -> str:
        """In words."""
        return "polarised" if self.polarised else "not polarised"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choke(Part):
    """A choke; its winding resistance is what counts at DC."""

    kind = "choke"
    main = Figure("henries", "H", "")
    figures = (Figure("resistance", "ohm", "resistance"),)
    henries: Annotated[float, Key(amount(quantity.HENRIES), "choke")]
    resistance: Annotated[float, Key(OHMS)]

    @property
    def legs(self) -> tuple[Leg, ...]:
        return (Leg(("1", "2"), self.resistance, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Part):
    """A diode: a path either way round, open in sums."""

    kind = "diode"
    lugs = ("A", "K")
    open_in_sums = True
    on_leads = True
    material: Annotated[
        Literal["silicon", "germanium"] | None,
        Key(keys.DIODE, "diode", also=("forward_volts",)),
    ]
    forward_volts: float | None

    @property
    def polar(self) -> bool:
        return True

    @property
    def conducts_at(self) -> float | None:
        """Volts at which it conducts, None where neither they nor the material are given."""
        if self.forward_volts is not None:
            return self.forward_volts
        return FORWARD_VOLTS.get(self.material) if self.material else None

    @property
    def value(self) -> str:
        return self.material or with_unit(self.forward_volts, "V")

    @property
    def described(self) -> str:
        return f"diode, {self.material or f'{self.value} forward'}"

    @property
    def stated(self) -> tuple[Stated, ...]:
        return (Stated("", self.material or self.forward_volts, "V", unknown="not stated"),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Part):
    """A lamp; its current at rated volts gives its hot resistance, which sums take."""

    kind = "lamp"
    cold_share = COLD
    main = Figure("rated_volts", "V", "", rated="volts")
    figures = (Figure("rated_amps", "A", "current"),)
    rated_volts: Annotated[float, Key(amount(quantity.SOME_VOLTS), "lamp")]
    rated_amps: Annotated[float | None, Key(keys.SOME_AMPS, "current")] = None

    @property
    def legs(self) -> tuple[Leg, ...]:
        hot = self.rated_volts / self.rated_amps if self.rated_amps else None
        return (Leg(("1", "2"), hot, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Part):
    """A fuse that is whole."""

    kind = "fuse"
    main = Figure("rated_amps", "A", "", "more", "amps")
    figures = (Figure("resistance", "ohm", "resistance", listed=False),)
    rated_amps: Annotated[float, Key(keys.SOME_AMPS, "fuse")]
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
        most = None if self.resistance_stated else self.most_ohms
        return (Leg(("1", "2"), self.resistance, 0.0, most),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip(Part):
    """A tag strip: lugs that are not joined to each other."""

    kind = "strip"
    lugs = ()
    lugs_in_a_row = True
    WRITTEN = WrittenAs(more={"strip": Key(keys.STRIP)})
    passes_dc = False
    has_role = False

    @property
    def value(self) -> str:
        return f"{len(self.terminals)} lugs"

    @property
    def described(self) -> str:
        return f"tag strip of {len(self.terminals)}"
