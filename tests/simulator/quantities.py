"""Quantities as a spec writes them, as exact fractions in SI units."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import pi

# Prefixes of the SI brochure; both code points of the micro and the ohm sign (Unicode).
PREFIXES = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
PLAIN = re.compile(
    r"([+-]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*([pnuµμmkMG]?)(ohm|Ω|Ω|V|A|W|H|F|%|m2|m)?"
)
# IEC 60062: the letter stands in the place of the decimal mark.
CODED = re.compile(r"([0-9]*)([RkKMG])([0-9]*)(?:\s*(?:ohm|Ω|Ω))?")


COPPER = Fraction(1, 58)
"""Ohm mm²/m at 20 °C: the International Annealed Copper Standard, IEC 60028."""


def copper(length: str, gauge: str) -> Fraction:
    """Ohms of a wire; a gauge is square millimetres, or a number of the American wire gauge.

    Source: ASTM B258, a wire of gauge n is 0.005 inch times 92 to the (36 - n)/39 thick.
    """
    if square := re.fullmatch(r"([0-9.]+)\s*mm2", gauge):
        return COPPER * quantity(length) / Fraction(square[1])
    number = int(re.sub(r"[^0-9]", "", gauge))
    thick = 0.127 * 92.0 ** ((36 - number) / 39)
    return COPPER * quantity(length) / Fraction(pi / 4 * thick**2)


def quantity(text: str) -> Fraction:
    """A number with a prefix and a unit: ``50 uA``, ``4k7``, ``2 %`` (two, not a fiftieth)."""
    text = text.strip()
    if coded := CODED.fullmatch(text):
        whole, letter, rest = coded.groups()
        power = 0 if letter == "R" else PREFIXES[letter.replace("K", "k")]
        return Fraction(f"{whole or 0}.{rest or 0}") * Fraction(10) ** power
    plain = PLAIN.fullmatch(text)
    if not plain:
        raise ValueError(f"no quantity: {text!r}")
    return Fraction(plain[1]) * Fraction(10) ** PREFIXES[plain[2]]


@dataclass(frozen=True)
class Pieces:
    """A resistor as it is built: a piece (its number), or others in series or in parallel."""

    how: str
    of: tuple["Pieces", ...] = ()
    number: int = 0

    def ohms(self, pieces: list[Fraction]) -> Fraction:
        if self.how == "piece":
            return pieces[self.number]
        each = [one.ohms(pieces) for one in self.of]
        if self.how == "series":
            return sum(each[1:], each[0])
        return 1 / sum((1 / ohms for ohms in each[1:]), 1 / each[0])

    def loads(self, pieces: list[Fraction], volts: float) -> Iterator[tuple[float, float]]:
        """Volts and amperes of every piece, with so many volts across the whole."""
        whole = float(self.ohms(pieces))
        if self.how == "piece":
            yield volts, volts / whole
        for one in self.of:
            share = float(one.ohms(pieces)) / whole if self.how == "series" else 1.0
            yield from one.loads(pieces, volts * share)


def built(text: str) -> tuple[Pieces, list[Fraction]]:
    """``10 ohm + 12 ohm || 15 ohm``: how it is built, and its pieces; ``||`` binds tighter."""
    tokens = re.findall(r"\|\||[+()]|[^+()|]+", re.sub(r"(?<=[0-9])e\+", "e", text))
    tokens = [token.strip() for token in tokens if token.strip()]
    found: list[Fraction] = []

    def several(sign: str, how: str, inner: Callable[[], Pieces]) -> Pieces:
        each = [inner()]
        while tokens and tokens[0] == sign:
            tokens.pop(0)
            each.append(inner())
        return each[0] if len(each) == 1 else Pieces(how, tuple(each))

    def one() -> Pieces:
        if tokens[0] == "(":
            tokens.pop(0)
            inside = whole()
            tokens.pop(0)
            return inside
        found.append(quantity(tokens.pop(0)))
        return Pieces("piece", number=len(found) - 1)

    def whole() -> Pieces:
        return several("+", "series", lambda: several("||", "parallel", one))

    return whole(), found
