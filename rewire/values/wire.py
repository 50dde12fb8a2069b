"""Wire: how much of which wire makes a resistance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

from rewire.records.spec import Wire
from rewire.words.gauge import awg_diameter


@dataclass(frozen=True, slots=True)
class Metal:
    """Resistivity at 20 °C in Ω mm²/m, and its change per kelvin."""

    resistivity: float
    per_kelvin: float
    note: str


METALS: Mapping[str, Metal] = {
    "copper": Metal(1.0 / 58.0, 0.00393, "International Annealed Copper Standard"),
    "manganin": Metal(0.43, 1.5e-5, "usual figures, from memory"),
    "constantan": Metal(0.49, 3e-5, "usual figures, from memory"),
    "nichrome": Metal(1.09, 1.1e-4, "80/20, usual figures, from memory"),
}


def ohms_per_metre(gauge: int, metal: str = "copper") -> float:
    """Resistance of a metre of round wire at 20 °C, ohm.

    Args:
        gauge: AWG.
        metal: a key of ``METALS``.

    Error: a few percent for the alloys, which differ from maker to maker.

    Source: resistivity over cross-section; copper 1/58 Ω mm²/m (IACS, NBS Handbook 100).
    """
    square_mm = pi / 4.0 * (1000.0 * awg_diameter(gauge)) ** 2
    return METALS[metal].resistivity / square_mm


def copper_ohms(wire: Wire) -> float | None:
    """Resistance of a wire at 20 °C, ohm; None where its length or its cross-section is not given.

    Source: copper 1/58 Ω mm²/m (IACS, NBS Handbook 100).
    """
    if wire.length_metres is None or not wire.square_mm:
        return None
    return METALS["copper"].resistivity * wire.length_metres / wire.square_mm


def wire_length(ohms: float, gauge: int, metal: str = "copper") -> float:
    """Length of wire that has a resistance at 20 °C, metre.

    Args:
        ohms: wanted.
        gauge: AWG.
        metal: a key of ``METALS``.

    Error and source: those of ``ohms_per_metre``; leads and joints come on top.
    """
    return ohms / ohms_per_metre(gauge, metal)


def wire_warning(metal: str) -> str:
    """What the metal does when it warms.

    >>> wire_warning("copper")
    'copper changes by 0.39 % per °C: 3.9 % in 10 °C; use a low-tempco wire for a shunt'
    """
    percent = 100.0 * METALS[metal].per_kelvin
    if percent < 0.05:
        return f"{metal} changes by {percent:.2g} % per °C"
    return (
        f"{metal} changes by {percent:.2g} % per °C: {10 * percent:.2g} % in 10 °C; "
        "use a low-tempco wire for a shunt"
    )
