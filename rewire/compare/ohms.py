"""Ohms of parts as rules take them: never better than what the spec says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import singledispatch
from math import inf

from rewire.circuit.circuit import Nets
from rewire.records.parts import COLD
from rewire.records.spec import (
    Choke,
    Diode,
    Fuse,
    Lamp,
    Meter,
    Part,
    Pot,
    Resistor,
    total_ohms,
)


@dataclass(frozen=True, slots=True)
class Ohms:
    """A resistance between two nets; infinity where it can't be counted on."""

    a: int
    b: int
    ohms: float


def ohms_of(part: Part, nets: Nets, most: bool) -> Iterator[Ohms]:
    """A part's resistances, at the most or the least they may be.

    What is not stated counts as infinite where a connection is wanted and as
    zero where isolation is.
    """
    unknown = inf if most else 0.0
    places = [nets.of[part.terminal(lug)] for lug in part.terminals]
    if isinstance(part, Pot):
        lower, upper = _legs(part, most)
        yield Ohms(places[0], places[1], lower)
        yield Ohms(places[1], places[2], upper)
    elif part.passes_dc:
        known = None if isinstance(part, Diode) else resistance(part)
        share = COLD if isinstance(part, Lamp) and not most else 1.0
        yield Ohms(places[0], places[1], unknown if known is None else share * known)


def _legs(pot: Pot, most: bool) -> tuple[float, float]:
    """Legs ccw to wiper and wiper to cw; a setting that is not stated counts against the rule."""
    if pot.setting_percent is None:
        worst = pot.ohms if most else 0.0
        return worst, worst
    share = pot.setting_percent / 100.0
    return pot.ohms * share, pot.ohms * (1.0 - share)


@singledispatch
def resistance(part: Part) -> float | None:
    """Nominal resistance of a two-terminal part in ohm, None where it is not known."""
    raise TypeError(f"{part.kind} has no resistance")


@resistance.register
def _(part: Resistor) -> float | None:
    return None if part.pieces is None else total_ohms(part.pieces)


@resistance.register
def _(part: Meter) -> float | None:
    return part.resistance


@resistance.register
def _(part: Choke) -> float | None:
    return part.resistance


@resistance.register
def _(part: Fuse) -> float | None:
    return part.resistance


@resistance.register
def _(part: Lamp) -> float | None:
    if part.rated_amps is None:
        return None
    return part.rated_volts / part.rated_amps
