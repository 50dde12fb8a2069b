"""Quantities as people write them: ``4k7``, ``50 µA``, ``-38 V``, ``.01 mfd``, ``2 %``.

Letter codes for values (``4k7``, ``0R22``, ``2n2``) are those of IEC 60062;
prefixes and units those of the SI, with the old drawings' ``mfd`` and ``mmf``.
"""

from __future__ import annotations

import math
import re
import sys
from collections import deque
from dataclasses import dataclass

from rewire.words.wording import Wrong, shown

_LONGEST = 60
_LEAST, _MOST = 1e-18, 1e18
"""What no part, wire or instrument has, in any unit here; products of a few still are numbers."""


class BadQuantity(Wrong):
    """A text is not the quantity that is needed; ``hint`` shows one that is."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What a field needs: a unit, whether a number alone will do, and an example."""

    unit: str
    noun: str
    example: str
    bare: bool = False
    signed: bool = False
    zero: bool = True
    most: float = math.inf


OHMS = Measure("ohm", "a resistance", "10 ohm", bare=True)
SOME_OHMS = Measure("ohm", "a resistance", "10 ohm", bare=True, zero=False)
AMPS = Measure("A", "a current", "50 mA")
SOME_AMPS = Measure("A", "a current", "50 mA", zero=False)
VOLTS = Measure("V", "a voltage", "50 V")
SOME_VOLTS = Measure("V", "a voltage", "50 V", zero=False)
NAMED_VOLTS = Measure("V", "a voltage", "250 V", bare=True)
"""Where the key itself says volts."""
SIGNED_VOLTS = Measure("V", "a voltage", "-38 V", bare=True, signed=True)
NAMED_AMPS = Measure("A", "a current", "2 A", bare=True)
WATTS = Measure("W", "a power", "2 W", bare=True, zero=False)
FARADS = Measure("F", "a capacitance", "10 nF", zero=False)
HENRIES = Measure("H", "an inductance", "10 H", zero=False)
METRES = Measure("m", "a length", "40 mm", zero=False)
PERCENT = Measure("%", "a percentage", "2 %", bare=True, most=100.0)
SOME_PERCENT = Measure("%", "a percentage", "5 %", bare=True, zero=False, most=100.0)
TURNS = Measure("turns", "a number of turns", "10", bare=True, zero=False)

_UNITS = {
    "ohm": "ohm", "ohms": "ohm",
    "\N{GREEK CAPITAL LETTER OMEGA}": "ohm", "\N{OHM SIGN}": "ohm", "R": "ohm",
    "a": "A", "v": "V", "w": "W", "f": "F", "h": "H",
    "A": "A", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "V": "V", "volt": "V", "volts": "V",
    "W": "W", "watt": "W", "watts": "W",
    "F": "F", "farad": "F", "farads": "F",
    "H": "H", "henry": "H", "henries": "H", "henrys": "H", "hy": "H",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "%": "%", "percent": "%", "per cent": "%",
    "turn": "turns", "turns": "turns",
    "deg": "deg", "degree": "deg", "degrees": "deg", "°": "deg",
}  # fmt: skip
_PREFIXES = {
    "": 0, "f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "c": -2,
    "\N{MICRO SIGN}": -6, "\N{GREEK SMALL LETTER MU}": -6,
    "k": 3, "K": 3, "M": 6, "meg": 6, "Meg": 6, "MEG": 6, "G": 9, "T": 12,
    "micro": -6, "milli": -3, "kilo": 3, "kil": 3, "mega": 6,
}  # fmt: skip
_OLD_FARADS = {
    **dict.fromkeys(("mfd", "MFD", "Mfd", "mfds", "µfd", "μfd", "ufd"), -6),
    **dict.fromkeys(("mmf", "MMF", "mmfd", "MMFD", "uuf", "uuF", "µµF", "μμF", "µµf"), -12),
}
_LAST_OF_FARADS = frozenset("pnuµμ")
"""IEC 60062 writes 100 nF as 100n. A lone m is left out: old drawings mean microfarad by it."""
_INCHES = {"in": 25.4e-3, "inch": 25.4e-3, "inches": 25.4e-3, '"': 25.4e-3}
_FEET = {"ft": 0.3048, "foot": 0.3048, "feet": 0.3048}
_NAMES = {
    "ohm": "ohms", "A": "amperes", "V": "volts", "W": "watts", "F": "farads", "H": "henries",
    "m": "metres", "%": "percent", "turns": "turns", "deg": "degrees",
}  # fmt: skip
_CODE = {"R": ("ohm", 0), "F": ("F", 0)} | {
    letter: ("", _PREFIXES[letter]) for letter in ("p", "n", "u", "µ", "μ", "m", *"kKMGT")
}

_NUMBER = re.compile(
    r"([-+\u2212]?)(\d+\.?\d*|\.\d+)((?:[eE][-+\u2212]?\d+)?)\s*(.*)", re.DOTALL | re.ASCII
)
_CODED = re.compile(r"([-+\u2212]?)(\d*)([RFpnuµμmkKMGT])(\d+)\s*(.*)", re.DOTALL | re.ASCII)
_FRACTION = re.compile(r"^([-\u2212]?)(?:([0-9]{1,2})[ -])?([0-9]{1,2})/([1-9][0-9]?)(?=\D|$)")
"""Of a watt, as resistors are sold, and of an inch: 1/4 W, 15/32 in, 2-1/2 in."""
_DC = re.compile(r"(?<=[AVavpst])\s*[dD]\.?[cC]\.?$")
"""After amperes or volts; ``VDC`` is volts."""
_AC = re.compile(r"(?<=[AVavpst])\s*[aA]\.?[cC]\.?$")
_EITHER_WAY = re.compile(r"(±|\+/-|\+-)\s*")


def read(text: str, measure: Measure) -> float:
    """A quantity in SI base units (percentages as percent).

    Args:
        text: as typed.
        measure: the unit needed and the values allowed.

    Raises:
        BadQuantity: it is not such a quantity.

    >>> read("4k7", OHMS), read("50 uA", AMPS), read("-38 V", SIGNED_VOLTS)
    (4700.0, 5e-05, -38.0)
    """
    value, unit = _split(text, measure)
    if unit != measure.unit:
        raise _wrong_unit(text, unit, measure)
    return _allowed(value, text, measure)


def read_either(text: str, measures: tuple[Measure, ...]) -> tuple[float, Measure]:
    """A quantity that may be one of several, told apart by its unit (a meter: A or V)."""
    examples = "write " + " or ".join(f"'{measure.example}'" for measure in measures)
    try:
        value, unit = _split(text, measures[0])
    except BadQuantity as wrong:
        own = _such_as(measures[0])
        raise BadQuantity(wrong.message, examples if wrong.hint == own else wrong.hint) from None
    for measure in measures:
        if unit == measure.unit:
            return _allowed(value, text, measure), measure
    nouns = " or ".join(measure.noun for measure in measures)
    raise BadQuantity(f"{shown(text)} is not {nouns}", examples)


def doubt(text: str, unit: str) -> str | None:
    """What a quantity may have meant that is not what it says; None where it is clear.

    ``unit`` is the one that a number with a mere prefix has: ``ohm``, ``F`` or none.

    >>> doubt("2.2 Mohm", "ohm"), doubt("1 mA", "")
    (None, None)
    >>> doubt("1 MA", "")
    "'1 MA' is read as megaamperes; old drawings write MA for milliamperes: write 1 mA"
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        return None
    number, word = f"{match[1]}{match[2]}{match[3]}", match[4].replace(" ", "")
    if unit == "ohm" and word == "M":
        return (
            f"{shown(text)} is read as megohms; some old American drawings mean thousands "
            f"of ohms by M: write {number} Mohm or kohm to be clear"
        )
    if unit == "ohm" and word == "m":
        said = f"{shown(text)} is read as milliohms"
        return f"{said}: write {number} mohm, or {number} Mohm if megohms are meant"
    if unit == "F" and word == "mF":
        said = f"{shown(text)} is read as thousands of microfarads"
        return f"{said}; old drawings write mF for microfarads: write {number} uF"
    if word in ("MA", "MV", "MW"):
        noun, small = _NAMES[word[1]], f"m{word[1]}"
        said = f"{shown(text)} is read as mega{noun}; old drawings write {word} for milli{noun}"
        return f"{said}: write {number} {small}"
    return None


def without_comma(number: str) -> str:
    """The way out of a number with a comma: a decimal comma, or one that parts thousands.

    >>> without_comma("0,526 ohm"), without_comma("120,000")
    ('write 0.526 ohm', 'write 120000, or 120.000 if that is meant')
    """
    whole, _, rest = number.strip().partition(",")
    if whole.strip("0") and re.match(r"[0-9]{3}(?![0-9])", rest):
        return f"write {whole}{rest}, or {whole}.{rest} if that is meant"
    return f"write {whole}.{rest}"


def _split(text: str, measure: Measure) -> tuple[float, str]:
    stripped = text.strip()
    if measure.unit == "%":
        stripped = _EITHER_WAY.sub("", stripped, count=1)
    if measure.unit in ("W", "m"):
        stripped = _FRACTION.sub(_in_decimals, stripped)
    if not stripped:
        raise BadQuantity(
            "no value stands here", f"write {measure.noun} such as '{measure.example}'"
        )
    if len(stripped) > _LONGEST:
        raise BadQuantity(f"{shown(text)} is too long for a quantity", _such_as(measure))
    coded = _CODED.fullmatch(stripped)
    if coded:
        return _coded(coded, text, measure)
    number = _NUMBER.fullmatch(stripped)
    if number is None:
        raise _not_a_number(text, measure)
    return _plain(number, text, measure)


def _in_decimals(found: re.Match[str]) -> str:
    return f"{found[1]}{int(found[2] or 0) + int(found[3]) / int(found[4]):.10g}"


def _plain(match: re.Match[str], text: str, measure: Measure) -> tuple[float, str]:
    sign, digits, exponent, word = match.groups()
    if re.match(r",\d", word):
        raise BadQuantity(f"{shown(text)} has a comma in the number", without_comma(text))
    if not word and measure.bare:
        return _value(sign, digits, exponent, 0), measure.unit
    if not word and not measure.bare:
        raise BadQuantity(f"{shown(text)} has no unit", _such_as(measure))
    if word in _INCHES or word in _FEET:
        factor = (_INCHES | _FEET)[word]
        return _value(sign, digits, exponent, 0) * factor, "m"
    if measure.unit == "ohm" and word in _PREFIXES:
        return _value(sign, digits, exponent, _PREFIXES[word]), "ohm"
    if measure.unit == "F" and word in _LAST_OF_FARADS:
        return _value(sign, digits, exponent, _PREFIXES[word]), "F"
    scale, unit = _unit(word, text, measure)
    return _value(sign, digits, exponent, scale), unit


def _coded(match: re.Match[str], text: str, measure: Measure) -> tuple[float, str]:
    sign, whole, letter, fraction, word = match.groups()
    unit, scale = _CODE[letter]
    if word:
        extra, said = _unit(word, text, measure)
        if extra or unit not in ("", said):
            raise BadQuantity(f"{shown(text)} has two units", _such_as(measure))
        unit = said
    return _value(sign, f"{whole or '0'}.{fraction}", "", scale), unit or _implied(letter, measure)


def _implied(letter: str, measure: Measure) -> str:
    """IEC 60062 has small prefixes for capacitance and large ones for resistance."""
    if measure.unit in ("ohm", "F", "H"):
        return measure.unit
    return "F" if letter in "pnuµμ" else "ohm"


def _unit(word: str, text: str, measure: Measure) -> tuple[int, str]:
    """Power of ten and unit of a unit word (``kohm``, ``µA``, ``VDC``)."""
    word = _DC.sub("", word)
    if _AC.search(word):
        hint = f"write {_AC.sub('', text).strip()}; a meter or a reading says ac: yes for AC"
        raise BadQuantity(f"{shown(text)} says AC in the unit", hint)
    if word in _OLD_FARADS:
        return _OLD_FARADS[word], "F"
    if _unit_named(word):
        return 0, _unit_named(word)
    if word in ("MF", "mf", "Mf"):
        hint = "an old drawing's MF is microfarad: write uF, or mfd"
        raise BadQuantity(f"{shown(text)} has no clear unit", hint)
    for cut in range(len(word), 0, -1):
        prefix, rest = word[:cut].strip(), word[cut:].strip()
        unit = _unit_named(rest)
        if prefix in _PREFIXES and unit not in ("", "%", "turns", "deg"):
            return _PREFIXES[prefix], unit
    raise BadQuantity(f"{shown(word)} is not a unit known here", _such_as(measure))


def _unit_named(word: str) -> str:
    """A unit by its sign, or by its name in small letters or capitals; empty if it is none."""
    return _UNITS.get(word) or (_UNITS.get(word.lower(), "") if len(word) > 1 else "")


def _value(sign: str, digits: str, exponent: str, scale: int) -> float:
    """Put the prefix into the exponent, so that 2.2 M is as near to 2200000 as can be."""
    power = int(exponent[1:].replace("\u2212", "-") or "0") if exponent else 0
    value = float(f"{digits}e{power + scale}")
    if not value and digits.strip("0."):
        value = sys.float_info.min  # too small for a float, and no zero
    return -value if sign in ("-", "\u2212") else value


def _allowed(value: float, text: str, measure: Measure) -> float:
    if abs(value) > _MOST:
        raise BadQuantity(f"{shown(text)} is beyond anything that exists", _such_as(measure))
    if 0 < abs(value) < _LEAST:
        raise BadQuantity(f"{shown(text)} is too small to be anything", _such_as(measure))
    if value < 0 and not measure.signed:
        raise BadQuantity(f"{shown(text)} is negative", _such_as(measure))
    if value == 0 and not measure.zero:
        raise BadQuantity(f"{shown(text)} is zero", f"{measure.noun} above zero is needed")
    if value > measure.most:
        raise BadQuantity(
            f"{shown(text)} is over {measure.most:g} {measure.unit}", _such_as(measure)
        )
    return value + 0.0


def _not_a_number(text: str, measure: Measure) -> BadQuantity:
    word = text.strip().lower().lstrip("+-.\u2212")
    if word.startswith(("nan", "inf", "∞")):
        return BadQuantity(f"{shown(text)} is no value that a part can have", _such_as(measure))
    return BadQuantity(f"{shown(text)} is not {measure.noun}", _such_as(measure))


def _wrong_unit(text: str, unit: str, measure: Measure) -> BadQuantity:
    message = f"{shown(text)} is in {_NAMES[unit]}; {measure.noun} is needed here"
    return BadQuantity(message, _such_as(measure))


def _such_as(measure: Measure) -> str:
    return f"write {measure.noun} such as '{measure.example}'"


_SHOWN_PREFIXES = {-9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_PLAIN_BELOW_ONE = 1e-2


def with_unit(value: float | None, unit: str, digits: int = 4) -> str:
    """A quantity with the prefix that leaves one to three digits before the point.

    >>> with_unit(0.0125, "A"), with_unit(4990.0, "Ω"), with_unit(-0.09, "V"), with_unit(0, "W")
    ('12.5 mA', '4.99 kΩ', '-90 mV', '0 W')
    """
    if value is None:
        return "unknown"
    if not math.isfinite(value):
        return "unlimited" if value > 0 else "-unlimited"
    if value == 0.0 or abs(value) < 1e-13:
        return f"0 {unit}"
    rounded = float(f"{value:.{digits}g}")
    power = min(max(3 * math.floor(math.log10(abs(rounded)) / 3 + 1e-12), -9), 9)
    return f"{_rounded(rounded / 10.0**power, digits)} {_SHOWN_PREFIXES[power]}{unit}"


def in_ohms(value: float | None, digits: int = 4) -> str:
    """A resistance; from 10 mΩ to 1 Ω it is written in ohms, as on a drawing.

    >>> in_ohms(0.526), in_ohms(0.00502), in_ohms(199500.0)
    ('0.526 Ω', '5.02 mΩ', '199.5 kΩ')
    """
    if value is not None and _PLAIN_BELOW_ONE <= abs(value) < 1.0:
        return f"{float(f'{value:.{digits}g}'):g} Ω"
    return with_unit(value, "Ω", digits)


def in_percent(value: float | None, digits: int = 2) -> str:
    """A percentage with its sign.

    >>> in_percent(-0.1234), in_percent(3.0), in_percent(None)
    ('-0.12 %', '+3.00 %', 'unknown')
    """
    if value is None:
        return "unknown"
    shown = f"{value:+.{digits}f}"
    return f"{shown.replace('-', '', 1) if float(shown) == 0.0 else shown} %".replace(
        "+0.00 ", "0.00 "
    )


def in_full_scale(deflection: float) -> str:
    """Where a pointer stands, 1 at full scale, as a percentage of four digits.

    >>> in_full_scale(0.79984), in_full_scale(213.33333)
    ('79.98 %', '21,330 %')
    """
    return f"{float(f'{100.0 * deflection:.4g}'):,.9g} %"


def _rounded(value: float, digits: int) -> str:
    text = f"{float(f'{value:.{digits}g}'):.{digits}f}"
    return text.rstrip("0").rstrip(".")


_MOST_PIECES = 100
_DEEPEST = 20
_LONGEST_BUILT = 10_000
"""Letters of one; the pattern below takes a hundred times as many bytes."""
_TOKEN = re.compile(r"\s*(\|\||[()+|]|(?:\d\.?[eE]\+\d|[^()+|])+)")


@dataclass(frozen=True, slots=True)
class Piece:
    """One bought value in a built-up resistor."""

    ohms: float


@dataclass(frozen=True, slots=True)
class InSeries:
    """Pieces end to end."""

    items: tuple[Pieces, ...]


@dataclass(frozen=True, slots=True)
class InParallel:
    """Pieces side by side."""

    items: tuple[Pieces, ...]


Pieces = Piece | InSeries | InParallel


def total_ohms(pieces: Pieces) -> float:
    """Resistance of a built-up resistor, in ohm; 0 if any parallel piece is 0.

    >>> total_ohms(InSeries((Piece(0.22), Piece(0.18))))
    0.4
    >>> total_ohms(InParallel((Piece(10.0), Piece(10.0))))
    5.0
    """
    if isinstance(pieces, Piece):
        return pieces.ohms
    values = [total_ohms(item) for item in pieces.items]
    if isinstance(pieces, InSeries):
        return sum(values)
    if 0.0 in values:
        return 0.0
    return 1.0 / sum(1.0 / value for value in values)


def pieces_said(pieces: Pieces) -> str:
    """A built-up resistor in words: ``10 Ω || (4.7 kΩ + 330 Ω)``."""
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms)
    each = [pieces_said(p) if isinstance(p, Piece) else f"({pieces_said(p)})" for p in pieces.items]
    return (" + " if isinstance(pieces, InSeries) else " || ").join(each)


def read_pieces(text: str) -> Pieces:
    """The pieces of a resistor, ``+`` in series and ``||`` (binds tighter) in parallel.

    Raises:
        BadQuantity: a piece is not a resistance, or the signs do not fit together.

    >>> read_pieces("1 ohm + 10 ohm || 10 ohm")
    InSeries(items=(Piece(ohms=1.0), InParallel(items=(Piece(ohms=10.0), Piece(ohms=10.0)))))
    """
    if len(text) > _LONGEST_BUILT:
        raise BadQuantity(f"{shown(text)} is longer than {_LONGEST_BUILT} letters")
    tokens = values_and_signs(text)
    if not tokens:
        read(text, OHMS)
    if len(tokens) > 4 * _MOST_PIECES:
        raise BadQuantity(f"{shown(text)} has over {_MOST_PIECES} pieces")
    left = deque(tokens)
    result = _series(left, text, 0)
    if left:
        raise BadQuantity(f"{shown(text)} has {shown(left[0])} where '+' or '||' should be")
    return result


def values_and_signs(text: str) -> list[str]:
    """The values and signs of a built-up resistor, in order."""
    return [found for token in _TOKEN.findall(text) if (found := token.strip())]


def _series(left: deque[str], text: str, depth: int) -> Pieces:
    items = [_parallel(left, text, depth)]
    while left and left[0] == "+":
        left.popleft()
        items.append(_parallel(left, text, depth))
    return items[0] if len(items) == 1 else InSeries(tuple(items))


def _parallel(left: deque[str], text: str, depth: int) -> Pieces:
    items = [_one(left, text, depth)]
    while left and left[0] == "||":
        left.popleft()
        items.append(_one(left, text, depth))
    return items[0] if len(items) == 1 else InParallel(tuple(items))


def _one(left: deque[str], text: str, depth: int) -> Pieces:
    if not left:
        raise BadQuantity(f"{shown(text)} ends where a value should be")
    token = left.popleft()
    if token == "|":
        raise BadQuantity(f"{shown(text)} has a single '|'", "parallel is written '||'")
    if token == "(":
        return _bracket(left, text, depth)
    if token in ("+", "||", ")"):
        raise BadQuantity(f"{shown(text)} has {shown(token)} where a value should be")
    return Piece(read(token, OHMS))


def _bracket(left: deque[str], text: str, depth: int) -> Pieces:
    if depth >= _DEEPEST:
        raise BadQuantity(f"{shown(text)} has brackets over {_DEEPEST} deep")
    inner = _series(left, text, depth + 1)
    if not left or left.popleft() != ")":
        raise BadQuantity(f"{shown(text)} has a bracket that is not closed")
    return inner
