"""Wire: its colours by their letters, the cross-section that a gauge means, what makes its ohms.

Source of the letters: IEC 60757 (code for designation of colours): two letters for each
colour, those of a wire of several colours joined. The standard joins them in the
order of its table; the order typed is kept, for a tracer is commonly written
last (common practice, no source). Lower case is read too and made upper case.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

from rewire.words.wording import Wrong, shown

_AREA = re.compile(r"([0-9]{0,6}\.?[0-9]{1,9}) ?(?:mm2|mm²|mm\^2|sq\.? ?mm)")
_STRANDS = re.compile(r"([0-9]{1,4}) ?[/x×] ?([0-9]{0,6}\.?[0-9]{1,9})(?: ?mm)?")
_DIAMETER = re.compile(r"([0-9]{0,6}\.?[0-9]{1,9}) ?mm")
_AWG = re.compile(r"(?:AWG ?#?([0-9]{1,2}(?:/0)?)|#?([0-9]{1,2}(?:/0)?) ?AWG)", re.IGNORECASE)
_THICKEST, _THINNEST = -3, 56
"""4/0, and the thinnest that is drawn."""


def awg_diameter(gauge: int) -> float:
    """Diameter of a round wire of an American gauge, metre.

    Args:
        gauge: AWG; 0 for 1/0, -1 for 2/0 and so on.

    Error: the standard rounds to a tenth of a mil, this does not.

    Source: ASTM B258: 0.005 inch at 36, 0.46 inch at 4/0, in equal ratios over 39 steps.

    >>> round(awg_diameter(36) / 25.4e-6, 6)
    5.0
    """
    return float(0.005 * 0.0254 * 92.0 ** ((36 - gauge) / 39.0))


def square_mm(gauge: str) -> float | None:
    """Cross-section in mm² of a gauge as written; None for words that give none.

    >>> square_mm("0.5 mm2"), square_mm("plain")
    (0.5, None)
    >>> round(square_mm("22 AWG"), 3), round(square_mm("7/0.2 mm"), 3)
    (0.326, 0.22)
    """
    text = " ".join(gauge.split())
    if found := _AREA.fullmatch(text):
        return float(found[1]) or None
    if found := _STRANDS.fullmatch(text):
        return int(found[1]) * _round(float(found[2])) or None
    if found := _DIAMETER.fullmatch(text):
        return _round(float(found[1])) or None
    number = _awg_number(text)
    return None if number is None else _round(1000.0 * awg_diameter(number))


def _round(millimetres: float) -> float:
    return pi / 4.0 * millimetres**2


def _awg_number(text: str) -> int | None:
    found = _AWG.fullmatch(text)
    if found is None:
        return None
    written = found[1] or found[2]
    number = 1 - int(written[:-2]) if written.endswith("/0") else int(written)
    return number if _THICKEST <= number <= _THINNEST else None


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
    return METALS[metal].resistivity / _round(1000.0 * awg_diameter(gauge))


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


COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
}
"""Letters → colour, in the order of the standard's table."""

_MOST = 4
_OTHER_NAMES = {name: letters for letters, name in COLOURS.items()} | {"gray": "GY"}


def read_colour(text: str) -> str:
    """The letters of a wire's colours, upper case.

    Raises:
        Wrong: not letters of IEC 60757.

    >>> read_colour("bkwh")
    'BKWH'
    """
    letters = text.strip().upper()
    pairs = [letters[i : i + 2] for i in range(0, len(letters), 2)]
    if letters and len(pairs) <= _MOST and all(pair in COLOURS for pair in pairs):
        return letters
    word = text.strip().lower()
    words = [_OTHER_NAMES.get(one, "") for one in re.split(r"[-/+ ]+", word)]
    if all(words):
        message = f"{shown(text)}: a colour is written in letters"
        raise Wrong(message, f"{word} is {''.join(words)}")
    parts = re.split(r"[-/+ ]+", letters)
    if len(parts) > 1 and all(one in COLOURS for one in parts):
        message = f"{shown(text)}: the letters of a wire stand together"
        raise Wrong(message, f"write {''.join(parts)}")
    known = ", ".join(f"{pair} {name}" for pair, name in COLOURS.items())
    message = f"{shown(text)}: these are not letters of IEC 60757"
    raise Wrong(message, f"write two letters for each: {known}")


def colour_said(text: str) -> str:
    """The letters of a colour as people say it, or as it is written.

    Raises:
        Wrong: neither.

    >>> colour_said("red"), colour_said("black/white"), colour_said("gnye")
    ('RD', 'BKWH', 'GNYE')
    """
    words = re.split(r"[-/+]", text.strip().lower())
    if all(word in _OTHER_NAMES for word in words):
        return read_colour("".join(_OTHER_NAMES[word] for word in words))
    return read_colour(text)


HIGH = 50.0
"""Volts from which a lug or a wire gets a caution: the project's own limit, DC or rms."""
INSULATION = (300, 600, 1000, 5000, 10_000, 15_000, 20_000, 30_000, 40_000)
"""Usual ratings of hook-up and high-tension wire, volts; common practice, no source."""
_SLACK = 1e-6


def insulation_for(volts: float) -> str:
    """What a wire must stand at so many volts: the next usual rating.

    >>> insulation_for(-540.0), insulation_for(3300.0)
    ('insulation 600 V or more', 'insulation 5 kV or more')
    """
    least = next((one for one in INSULATION if one >= abs(volts) * (1.0 - _SLACK)), None)
    if least is None:
        return f"insulation for more than {abs(volts) / 1000:g} kV"
    said = f"{least / 1000:g} kV" if least >= 1000 else f"{least} V"
    return f"insulation {said} or more"
