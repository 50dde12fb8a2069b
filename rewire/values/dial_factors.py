"""What the pointer says: the arc that is read, and by what its figures are multiplied."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Literal

from rewire.reading.benchlog import dial_ends
from rewire.records.parts import Meter
from rewire.records.spec import Reading
from rewire.words.quantity import with_unit

ArcKind = Literal["linear", "dB", "ohm"]
UNITS = {"current": "A", "voltage": "V"}
SIGHT = (1.0, 2.0, 2.5, 4.0, 5.0)
"""Times a power of ten: factors that are multiplied at sight; common practice, no source."""
_BOTH_WAYS = re.compile(r"([0-9.]+)\s*(?:-|–|to)\s*0\s*(?:-|–|to)\s*([0-9.]+)")
_PREFIXES = {"µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
_SMALLER = 0.05
"""Below this factor the next smaller prefix is tried: × 10 = µA rather than ÷ 100 = mA."""


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
        return None if self.factor is None else _rank(self.factor) < _PENCIL

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


def shown_arc(scale: str) -> str:
    """``0-5`` as it is printed: ``0–5``."""
    return re.sub(r"(?<=[0-9])-(?=[0-9])", "–", scale)


def arc_kind(scale: str | None) -> ArcKind:
    """The law that an arc is drawn by, from its name: ``-20 to +3 dB``, ``ohm``, or linear."""
    words = (scale or "").lower()
    if re.search(r"(?<![a-z])(db|vu)\b", words):
        return "dB"
    return "ohm" if re.search(r"\bohms?\b|ω", words) else "linear"


def figure_at_end(scale: str | None) -> float | None:
    """The figure of a linear arc at full scale; None where its name does not say it.

    >>> figure_at_end("0-250"), figure_at_end("50-0-50"), figure_at_end("-20 to +3 dB")
    (250.0, 50.0, None)
    """
    both = _BOTH_WAYS.fullmatch((scale or "").strip())
    if both is not None:
        return float(both[2]) if both[1] == both[2] else None
    ends = dial_ends(scale)
    if ends is None or arc_kind(scale) != "linear":
        return None
    return max(ends) if min(ends) >= 0.0 or max(ends) == -min(ends) else None


def dial_factor(reading: Reading, meter: Meter | None) -> DialFactor | None:
    """How a reading is taken off the dial of its meter; None where no arc is known."""
    arcs = meter.scales if meter is not None else ()
    ranked = sorted(_ranked(reading, arcs), key=lambda one: one[0])
    scale = reading.scale or (ranked[0][1] if ranked else None)
    if scale is None:
        return None
    end = figure_at_end(scale)
    factor, unit = (None, _unit(reading)) if end is None else in_prefix(reading, end)
    own = DialFactor(scale, factor, unit, not arcs or scale in arcs)
    if factor is None or not ranked or ranked[0][0] >= _rank(factor):
        return own
    better = ranked[0][1]
    times = DialFactor(better, *in_prefix(reading, figure_at_end(better) or 1.0), on_meter=True)
    return DialFactor(scale, factor, unit, own.on_meter, better, times.said)


def _ranked(reading: Reading, arcs: Sequence[str]) -> Iterator[tuple[int, str]]:
    for arc in arcs:
        end = figure_at_end(arc)
        if end is not None:
            yield _rank(in_prefix(reading, end)[0]), arc


_PENCIL = 3


def _rank(factor: float) -> int:
    """0: the figures are the reading; 1: a power of ten; 2: at sight; 3: with a pencil."""
    if factor == 1.0:
        return 0
    lead = float(f"{factor / 10.0 ** floor(log10(factor) + 1e-9):.6g}")
    return 1 if lead == 1.0 else 2 if lead in SIGHT else _PENCIL


def in_prefix(reading: Reading, end: float) -> tuple[float, str]:
    """The factor of an arc that ends in this figure, and the unit that makes it easiest."""
    unit, full_scale = UNITS[reading.quantity], reading.full_scale
    plain = {p: float(f"{full_scale / size / end:.9g}") for p, size in _PREFIXES.items()}
    exact = next((p for p, factor in plain.items() if factor == 1.0), None)
    own = with_unit(full_scale, unit).split(" ")[1].removesuffix(unit)
    natural = exact if exact is not None else own if own in plain else ""
    below = [*_PREFIXES][max(0, [*_PREFIXES].index(natural) - 1)]
    small = plain[natural] < _SMALLER and _rank(plain[below]) < _PENCIL
    chosen = below if small and exact is None else natural
    return plain[chosen], chosen + unit


def _unit(reading: Reading) -> str:
    return with_unit(reading.full_scale, UNITS[reading.quantity]).split(" ")[1]
