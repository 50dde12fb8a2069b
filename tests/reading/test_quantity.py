"""Quantities against libraries and standards.

References: the library quantiphy for SI prefixes, the library rkm_codes for the
letter codes of IEC 60062. Metre per inch and foot: the international yard and
pound agreement of 1959 (0.0254 m, 0.3048 m). What old drawings' mfd and mmf mean:
common practice, no source.
"""

from __future__ import annotations

import math

import pytest
import rkm_codes
from hypothesis import assume, given, strategies as st
from quantiphy import Quantity

from rewire.words import quantity
from rewire.words.quantity import BadQuantity, Measure, doubt, read

MEASURES = {
    "Ω": quantity.OHMS, "V": quantity.SIGNED_VOLTS, "A": quantity.AMPS, "W": quantity.WATTS,
    "F": quantity.FARADS, "H": quantity.HENRIES, "m": quantity.METRES,
}  # fmt: skip
DIGITS = st.decimals("0.001", "9999", places=3, allow_nan=False).map(lambda d: format(d, "f"))


@given(
    number=DIGITS,
    exponent=st.sampled_from(["", "e-3", "E+2", "e0"]),
    prefix=st.sampled_from(["", "p", "n", "u", "µ", "μ", "m", "k", "M", "G", "T"]),
    unit=st.sampled_from(sorted(MEASURES)),
    blank=st.sampled_from(["", " ", "  "]),
)
def test_prefixes_agree_with_quantiphy(
    number: str, exponent: str, prefix: str, unit: str, blank: str
) -> None:
    assume(prefix or unit != "m")  # quantiphy reads a lone m as milli
    assume(prefix + unit != "MF")  # refused here: old drawings mean microfarad by it
    ours = read(f"{number}{exponent}{blank}{prefix}{unit}", MEASURES[unit])
    theirs = float(Quantity(f"{number}{exponent}")) * float(Quantity(f"1{prefix}{unit}"))
    assert math.isclose(ours, theirs, rel_tol=1e-12)


@given(
    whole=st.one_of(st.just(""), st.integers(0, 999).map(str)),
    letter=st.sampled_from(["R", "K", "k", "M", "G"]),
    fraction=st.integers(0, 99).map(str),
)
def test_letter_codes_of_resistance_agree_with_iec_60062(
    whole: str, letter: str, fraction: str
) -> None:
    code = f"{whole}{letter}{fraction}"
    assert math.isclose(read(code, quantity.OHMS), float(rkm_codes.from_rkm(code)), rel_tol=1e-12)


@given(
    whole=st.one_of(st.just(""), st.integers(0, 999).map(str)),
    letter=st.sampled_from(["p", "n", "u", "µ", "m"]),
    fraction=st.integers(1, 99).map(str),
)
def test_letter_codes_of_capacitance_agree_with_iec_60062(
    whole: str, letter: str, fraction: str
) -> None:
    code = f"{whole}{letter}{fraction}"
    assert math.isclose(read(code, quantity.FARADS), float(rkm_codes.from_rkm(code)), rel_tol=1e-12)


@given(whole=st.integers(1, 999).map(str), letter=st.sampled_from(["p", "n", "u", "µ"]))
def test_a_letter_at_the_end_is_a_capacitance_too(whole: str, letter: str) -> None:
    code = f"{whole}{letter}"
    assert math.isclose(read(code, quantity.FARADS), float(rkm_codes.from_rkm(code)), rel_tol=1e-12)
    with pytest.raises(BadQuantity):
        read(code, quantity.VOLTS)


@given(st.floats(1e-9, 1e9, allow_nan=False))
def test_a_number_comes_back_as_the_very_float(value: float) -> None:
    assert read(f"{value!r} V", quantity.VOLTS) == value
    assert read(f"-{value!r} V", quantity.SIGNED_VOLTS) == -value


@pytest.mark.parametrize(
    ("text", "measure", "value"),
    [
        ("10 ohm", quantity.OHMS, 10.0),
        ("10\N{GREEK CAPITAL LETTER OMEGA}", quantity.OHMS, 10.0),
        ("10\N{OHM SIGN}", quantity.OHMS, 10.0),
        ("4k7", quantity.OHMS, 4700.0),
        ("0R22", quantity.OHMS, 0.22),
        ("R47", quantity.OHMS, 0.47),
        ("2.2 Mohm", quantity.OHMS, 2.2e6),
        ("50M", quantity.OHMS, 50e6),
        ("10k", quantity.OHMS, 10e3),
        ("1 megohm", quantity.OHMS, 1e6),
        ("22 kilohms", quantity.OHMS, 22e3),
        ("10 mohm", quantity.OHMS, 0.01),
        ("0", quantity.OHMS, 0.0),
        ("50 uA", quantity.AMPS, 50e-6),
        ("50 \N{MICRO SIGN}A", quantity.AMPS, 50e-6),
        ("50 \N{GREEK SMALL LETTER MU}A", quantity.AMPS, 50e-6),
        ("1e-5 A", quantity.AMPS, 1e-5),
        ("-38 V", quantity.SIGNED_VOLTS, -38.0),
        ("\N{MINUS SIGN}38 V", quantity.SIGNED_VOLTS, -38.0),
        ("2 %", quantity.PERCENT, 2.0),
        ("± 2 %", quantity.PERCENT, 2.0),
        ("+/-5%", quantity.PERCENT, 5.0),
        ("0.01 mfd", quantity.FARADS, 0.01e-6),
        (".01 MFD", quantity.FARADS, 0.01e-6),
        ("250 mmf", quantity.FARADS, 250e-12),
        ("100 uuF", quantity.FARADS, 100e-12),
        ("4u7 F", quantity.FARADS, 4.7e-6),
        ("40 mm", quantity.METRES, 0.04),
        ("2 in", quantity.METRES, 0.0508),
        ("1 ft", quantity.METRES, 0.3048),
        ("30 cm", quantity.METRES, 0.3),
        ("1/2 W", quantity.WATTS, 0.5),
        ("4,7 V", quantity.VOLTS, None),
        ("10,000 ohm", quantity.OHMS, None),
        ("8 MF", quantity.FARADS, None),
        ("50", quantity.AMPS, None),
        ("1 A V", quantity.AMPS, None),
        ("4k7 k", quantity.OHMS, None),
        ("4k7 V", quantity.OHMS, None),
        ("--1 V", quantity.SIGNED_VOLTS, None),
        ("1_000 ohm", quantity.OHMS, None),
        ("0x10 ohm", quantity.OHMS, None),
        ("١٠ ohm", quantity.OHMS, None),
        ("1e5000 ohm", quantity.OHMS, None),
        ("1" * 400 + " ohm", quantity.OHMS, None),
        ("120 %", quantity.PERCENT, None),
        ("", quantity.OHMS, None),
        (" ", quantity.OHMS, None),
    ],
)
def test_what_people_write(text: str, measure: Measure, value: float | None) -> None:
    if value is None:
        with pytest.raises(BadQuantity):
            read(text, measure)
        return
    assert math.isclose(read(text, measure), value, rel_tol=1e-12)


@given(st.text(max_size=20), st.sampled_from(sorted(MEASURES)))
def test_any_text_is_a_finite_value_or_refused(text: str, unit: str) -> None:
    measure = MEASURES[unit]
    try:
        value = read(text, measure)
    except BadQuantity:
        return
    assert math.isfinite(value)
    assert measure.signed or value >= 0
    assert any(c.isdigit() for c in text)


@pytest.mark.parametrize("text", ["10 V", "10 A", "10 W", "10 F", "10 H", "10 mm", "10 %"])
def test_a_wrong_unit_is_named_and_a_right_one_shown(text: str) -> None:
    with pytest.raises(BadQuantity, match="a resistance is needed") as caught:
        read(text, quantity.OHMS)
    assert caught.value.hint is not None
    assert "10 ohm" in caught.value.hint


def test_what_is_too_small_for_a_number_is_no_zero() -> None:
    for text in ("1e-400 ohm", "1e-19 ohm"):
        with pytest.raises(BadQuantity, match="too small"):
            read(text, quantity.OHMS)
    assert read("0e-400 ohm", quantity.OHMS) == 0.0


def test_only_a_bare_mega_is_doubtful() -> None:
    assert doubt("50M", "ohm")
    assert doubt(" 1.5 M ", "ohm")
    for clear in ("50 Mohm", "2M2", "50k", "50", "M"):
        assert doubt(clear, "ohm") is None
