"""What ``rewire values`` answers, as plain records. SI units; None is unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from rewire.words.arcs import PENCIL, ease, shown_arc

OVERLOADED = 1.05
"""Times full scale beyond which a meter counts as overloaded."""
BURNING = 2.0
"""Times full scale, or times a rating, beyond which something burns; common practice, no source."""
Whose = Literal["plan", "stock", "option"]
"""A movement: the plan's, the one that the maker fitted, or one of ``options``."""
_PASSED = {"rating", "overload", "piece-rating", "contact-amps", "contact-volts", "insulation"}
_UNRATED = {"rating-unknown", "working-volts", "contact-volts", "volts-unknown"}
USUAL_ACCEPT = 5.0
"""Percent of full scale that a panel meter's reading may be wrong where nothing else is said;
common practice, no source."""
_SLACK = 1e-7
"""Percent of full scale that rounding may come to."""


@dataclass(frozen=True, slots=True)
class DialFactor:
    """How one reading is taken off the printed dial of its meter."""

    scale: str
    """The arc, as the reading names it; the meter's best where it names none."""
    factor: float | None
    """The figures on the arc times this are the reading in ``unit``; None where the arc does not
    say its figures, or has a law of its own (dB, ohm)."""
    unit: str
    """``mA``, ``kV``; of AC, rms."""
    on_meter: bool
    """Whether the meter has that arc; also where its arcs are not given."""
    better: str | None = None
    """An arc of the same meter that is easier to read."""
    better_said: str = ""

    @property
    def at_sight(self) -> bool | None:
        """Whether nobody needs a pencil for it."""
        return None if self.factor is None else ease(self.factor) < PENCIL

    @property
    def said(self) -> str:
        """``0–5 arc: × 40 = mA``; without a factor where the figures are the reading."""
        if self.factor is None:
            return f"{shown_arc(self.scale)} arc"
        return f"{shown_arc(self.scale)} arc: {self.times}"

    @property
    def times(self) -> str:
        """``× 40 = mA``, ``÷ 15 = mA``, or the unit alone."""
        if self.factor is None or self.factor == 1.0:
            return "" if self.factor is None else self.unit
        sign, number = ("×", self.factor) if self.factor > 1.0 else ("÷", 1.0 / self.factor)
        return f"{sign} {number:.4g} = {self.unit}"


@dataclass(frozen=True, slots=True)
class Readout:
    """What one reading comes to in one wiring."""

    name: str
    state: Mapping[str, str]
    meter: str | None
    deflection: float | None
    """Meter current over its full-scale current; 1 is right."""
    insertion_ohms: float | None
    """Infinite where there is no path; None where it is not known, or the points are shorted."""
    original_insertion_ohms: float | None
    meter_amps: float | None
    worst_low_percent: float | None = None
    worst_high_percent: float | None = None
    """Either is None where a tolerance that moves the reading is not given."""
    accuracy_percent: float | None = None
    accept_percent: float = USUAL_ACCEPT
    """Percent of full scale that the reading may be wrong."""
    unstated: tuple[str, ...] = ()
    """Parts that move the reading and whose tolerance is not given."""
    shares: tuple[Share, ...] = ()
    spread: Spread | None = None
    trimmed_percent: tuple[float, float] | None = None
    """Where 99 % of builds lie with the calibration pots set anew in each; with the accuracy."""
    percent_per_10_kelvin: float | None = None
    note: str | None = None
    refused: bool = False
    loading_percent: float | None = None
    original_loading_percent: float | None = None
    """Percent of the true value that the meter itself takes away, here and in the original."""
    dead: bool = False
    """The drive or the meter has no path here: nothing can be read."""
    dial: DialFactor | None = None
    """How it is read off the dial; None where no arc is known."""

    @property
    def error_percent(self) -> float | None:
        """Error in percent of full scale."""
        return None if self.deflection is None else 100.0 * (self.deflection - 1.0)

    @property
    def off(self) -> bool:
        """Whether it is off by more than it may be, set as well as possible."""
        if self.deflection is None:
            return self.dead
        ends = (self.error_percent or 0.0, *(self._set() or ()))
        return any(abs(end) > self.accept_percent + _SLACK for end in ends)

    @property
    def unknown(self) -> bool:
        """Whether nobody knows what it reads."""
        return self.deflection is None and not self.dead

    def _set(self) -> tuple[float, float] | None:
        """The worst case with the pots set; None if it is not known."""
        low, high = self.trimmed_percent or (self.worst_low_percent, self.worst_high_percent)
        return None if low is None or high is None else (low, high)

    def allowed(self, share: float = 1.0) -> tuple[float, float]:
        """Errors that a build that is right may have, with its pots set.

        Percent of full scale at a share of it, least and greatest, the meter's accuracy in them,
        which is the same everywhere; what the reading accepts where the worst case is not known.
        """
        band = self._set()
        if band is None:
            return -self.accept_percent, self.accept_percent
        own = self.accuracy_percent or 0.0
        return share * (band[0] + own) - own, share * (band[1] - own) + own

    @property
    def allowance(self) -> str:
        """What ``allowed`` comes to at full scale, in words."""
        low, high = self.allowed()
        if self._set() is None:
            return f"up to {high:g} % of full scale is accepted; {self.not_known}"
        said = "after setting" if self.trimmed_percent else "worst case"
        return f"{said} {low:+.1f} to {high:+.1f} % of full scale"

    @property
    def not_known(self) -> str:
        """That there is no worst case, and what is missing for it."""
        parts = ", ".join(self.unstated) or "what it hangs on"
        return f"worst case not known: no tolerance given for {parts}"


@dataclass(frozen=True, slots=True)
class Share:
    """What one value alone does to a reading at either end of its tolerance."""

    value: str
    low_percent: float | None
    high_percent: float | None
    """None where its tolerance is not given."""

    @property
    def size(self) -> float:
        """The larger of the two, without sign; 0 where they are not known."""
        return max(abs(self.low_percent or 0.0), abs(self.high_percent or 0.0))


@dataclass(frozen=True, slots=True)
class Spread:
    """A seeded Monte Carlo: errors in percent of full scale between which 99 % of builds lie."""

    samples: int
    seed: int
    uniform_percent: tuple[float, float]
    normal_percent: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Fit:
    """A resistance that was open, found."""

    part: str
    reading: str
    exact_ohms: float | None
    chosen_ohms: float | None
    chosen: str | None
    error_percent: float | None
    choose: str | None = None
    others: tuple[Combination, ...] = ()
    """Further choices, best first."""
    why: str | None = None
    """Why nothing fits, or what to know about the choice."""


@dataclass(frozen=True, slots=True)
class PieceLoad:
    """One piece of a combination and its watts."""

    ohms: float
    watts: float | None
    rating_watts: float | None

    @property
    def overloaded(self) -> bool:
        """Whether it is over its rating; the unknown is not counted as over."""
        known = self.watts is not None and self.rating_watts is not None
        return known and (self.watts or 0.0) > (self.rating_watts or 0.0) * (1.0 + 1e-9)


@dataclass(frozen=True, slots=True)
class Combination:
    """Pieces that make up a value."""

    written: str
    ohms: float
    error_percent: float
    """Of the value, not of a reading."""
    pieces: tuple[PieceLoad, ...]
    tolerance_percent: float | None = None
    """How far the whole may be off with every piece at its end; None if one is not known."""

    @property
    def overloaded(self) -> bool:
        """Whether a piece is over its rating."""
        return any(piece.overloaded for piece in self.pieces)


@dataclass(frozen=True, slots=True)
class PotAnswer:
    """The setting of a calibration pot, and whether it can always be reached."""

    part: str
    reading: str
    setting_percent: float | None
    solutions: tuple[float, ...]
    reaches: bool | None
    """None where a tolerance that moves the setting is not given."""
    lowest_percent: float | None
    highest_percent: float | None
    percent_per_percent: float | None = None
    """Change of the reading, percent, per percent of travel."""
    when_open: float | None = None
    at_ccw: float | None = None
    at_cw: float | None = None
    """Times full scale through the meter: wiper open, at either stop; worst reading."""
    advice: str | None = None
    why: str | None = None

    @property
    def left_percent(self) -> tuple[float, float] | None:
        """Travel left below the lowest and above the highest setting that may be needed."""
        if self.lowest_percent is None or self.highest_percent is None:
            return None
        return self.lowest_percent, 100.0 - self.highest_percent


@dataclass(frozen=True, slots=True)
class PartStress:
    """The most a part has to stand at full scale of any reading.

    ``ok`` is None where nothing flows in it, or its rating is not stated.
    """

    part: str
    watts: float | None
    reading: str | None
    rating_watts: float | None
    volts: float | None
    working_volts: float | None
    amps: float | None
    overload_watts: float | None
    ok: bool | None
    why: str | None = None
    unrated: bool = False
    """Whether it carries a load and its rating is not stated."""
    risen_watts: float | None = None
    risen_volts: float | None = None
    """With the points of a voltage at what they can rise to; None where that is not more."""


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One line of a bench test."""

    percent: float
    true_value: float
    """Ampere or volt at the points of the reading."""
    supply_volts: float
    supply_amps: float
    knob_volts: float
    """What to set the supply to before the last bit is turned up by the meter that senses."""
    deflection: float | None
    series_watts: float
    mark: str | None = None


@dataclass(frozen=True, slots=True)
class Sense:
    """A resistor in the lead that shows the true current as volts, and its own errors.

    ``insertion_percent`` is what it does to the current at the same supply volts,
    ``burden_percent`` what a voltmeter of ``burden_ohms`` across it reads wrong.
    """

    ohms: float
    full_scale_volts: float
    full_scale_watts: float
    insertion_percent: float
    burden_ohms: float
    burden_percent: float


@dataclass(frozen=True, slots=True)
class BenchTest:
    """How to prove one reading with a supply and a series resistor."""

    reading: str
    quantity: str
    series_ohms: float
    """0 where there is none: the supply goes straight to the two points."""
    places: tuple[str, str]
    """Plus of the supply, and minus."""
    rows: tuple[BenchRow, ...]
    notes: tuple[str, ...] = ()
    sense: Sense | None = None
    """For a current."""
    left_out: tuple[float, ...] = ()
    """Steps, percent of full scale, that would harm a part or a hand."""


@dataclass(frozen=True, slots=True)
class Strain:
    """A part over its rating."""

    part: str
    quantity: str
    """``watts``, ``volts`` or ``amps``."""
    has: float
    may: float

    @property
    def times(self) -> float:
        """How many times what it may."""
        return self.has / self.may


@dataclass(frozen=True, slots=True)
class Mishap:
    """What happens when one thing fails, or for a moment while switching."""

    what: str
    reading: str | None
    times_full_scale: float | None
    deflection: float | None
    rules: tuple[int, ...] = ()
    rises: tuple[tuple[str, float], ...] = ()
    message: str = ""
    overload: bool = False
    """Whether the meter takes more than full scale, and more than without it."""
    strains: tuple[Strain, ...] = ()
    in_step: bool = True
    """While switching: whether it happens at every turn, not only if the poles are uneven."""
    as_original: bool = False
    """Whether it takes uneven poles, and the original does the same then."""

    @property
    def bad(self) -> bool:
        """Whether the meter or a part is overloaded or a rule is broken, and was not before."""
        return (bool(self.rules or self.strains) or self.overload) and not self.as_original


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to know; ``bad`` if it makes the answer bad, ``first`` if it must not be missed."""

    kind: str
    message: str
    bad: bool = False
    part: str | None = None
    first: bool = False

    @property
    def is_rating(self) -> bool:
        """Whether a rating is passed."""
        return self.bad and self.kind in _PASSED


@dataclass(frozen=True, slots=True)
class OptionPart:
    """A shunt, a multiplier or a pot as a movement wants it."""

    part: str
    reading: str
    ohms: float | None
    """Of a resistor what to buy, of a pot end to end; None where no value does it."""
    setting_percent: float | None = None
    """Of a pot, from ccw."""
    reaches: bool | None = None
    """Of a pot: whether it can be set whatever the tolerances do; None where one is not given."""
    lowest_percent: float | None = None
    highest_percent: float | None = None


@dataclass(frozen=True, slots=True)
class OptionReading:
    """What a reading comes to with a movement, as its values are written."""

    name: str
    error_percent: float | None
    """Of full scale."""
    insertion_ohms: float | None


@dataclass(frozen=True, slots=True)
class OptionRow:
    """One movement, and everything that the plan needs for it."""

    whose: Whose
    meter: str
    """The plan's meter that it would replace."""
    full_scale_amps: float | None
    full_scale_volts: float | None
    resistance: float | None
    note: str | None
    parts: tuple[OptionPart, ...]
    readings: tuple[OptionReading, ...]
    why: str | None
    """Why it cannot work, in words; None where it can."""

    @property
    def works(self) -> bool:
        """Whether every reading comes out right with it."""
        return self.why is None


@dataclass(frozen=True, slots=True)
class WiringValues:
    """Everything about one wiring."""

    wiring: str
    readings: tuple[Readout, ...]
    fits: tuple[Fit, ...] = ()
    pots: tuple[PotAnswer, ...] = ()
    parts: tuple[PartStress, ...] = ()
    bench: tuple[BenchTest, ...] = ()
    switching: tuple[Mishap, ...] = ()
    faults: tuple[Mishap, ...] = ()
    warnings: tuple[Caution, ...] = ()
    refusals: tuple[str, ...] = ()
    """Readings that the spec leaves open, with file and line."""
    overload: float | None = None
    """Times full scale of the second sum of watts; None if there was none."""
    options: tuple[OptionRow, ...] = ()
    """Other movements, for a plan, where they are asked for; the plan's own first."""

    @property
    def limited(self) -> bool:
        """Whether part of the answer is missing because a limit was reached."""
        return any(warning.kind == "limit" for warning in self.warnings)

    @property
    def exceeded(self) -> tuple[str, ...]:
        """What is over its rating, each part once."""
        parts = [part.part for part in self.parts if part.ok is False]
        parts += [w.part or w.kind for w in self.warnings if w.is_rating]
        return tuple(dict.fromkeys(parts))

    @property
    def unrated(self) -> tuple[str, ...]:
        """What carries current and has no rating, or is at unknown volts."""
        parts = [part.part for part in self.parts if part.unrated]
        told = (w for w in self.warnings if not w.bad and w.kind in _UNRATED)
        parts += [w.part or "the points' volts" for w in told]
        return tuple(dict.fromkeys(parts))

    @property
    def bad_moments(self) -> tuple[Mishap, ...]:
        """Moments of switching in which the meter is overloaded or a rule is broken."""
        return tuple(moment for moment in self.switching if moment.bad)

    @property
    def bad(self) -> bool:
        """Whether anything that was worked out is bad."""
        return (
            any(reading.off for reading in self.readings)
            or any(fit.exact_ohms is None for fit in self.fits)
            or any(pot.reaches is False for pot in self.pots)
            or any(warning.bad for warning in self.warnings)
            or bool(self.exceeded or self.bad_moments)
        )

    @property
    def answer(self) -> Literal["good", "bad", "unknown"]:
        """Bad if anything is; else unknown if a reading is not known."""
        if self.bad:
            return "bad"
        return "unknown" if any(reading.unknown for reading in self.readings) else "good"
