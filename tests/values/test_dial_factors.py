"""What the pointer says: figures on the arc times the factor must be the reading, by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from rewire.reading import read_text
from rewire.values.answers import DialFactor, Readout
from rewire.values.wiring_values import values_of

SPEC = """
rewire: 1
title: A dial
controls: {{METER: [A]}}
points: {{P: {{}}, C: {{chassis: yes}}}}
parts: {{M1: {{meter: 1 mA, resistance: 75 ohm, between: [P, C]{scales}}}}}
readings: {{r: {{when: {{METER: A}}, {quantity}: [P, C], full_scale: {full}{scale}}}}}
wirings: {{original: {{}}}}
"""


def readout(full: str, scale: str = "", scales: str = "", quantity: str = "current") -> Readout:
    text = SPEC.format(
        full=full, quantity=quantity, scale=f', scale: "{scale}"' if scale else "",
        scales=f", scales: [{scales}]" if scales else "",
    )  # fmt: skip
    return values_of(read_text(text.encode()), ["original"])[0].readings[0]


def dial(*given: str, **more: str) -> DialFactor:
    found = readout(*given, **more).dial
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("full", "scale", "said", "at_sight"),
    [  # worked by hand: full scale over the figure at the end of the arc
        ("200 mA", "0-5", "0–5 arc: × 40 = mA", True),
        ("5 mA", "0-75", "0–75 arc: ÷ 15 = mA", False),
        ("250 mA", "0-250", "0–250 arc: mA", True),
        ("1 A", "0-1000", "0–1000 arc: mA", True),
        ("50 mA", "0-100", "0–100 arc: ÷ 2 = mA", True),
        ("1 mA", "0-100", "0–100 arc: × 10 = µA", True),
        ("25 mA", "10-0-10", "10–0–10 arc: × 2.5 = mA", True),
        ("30 mA", "0-10", "0–10 arc: × 3 = mA", False),
        ("30 mA", "-20 to +3 dB", "-20 to +3 dB arc", None),
        ("30 mA", "red arc", "red arc arc", None),
    ],
)
def test_a_factor_is_said_as_a_tradesman_says_it(
    full: str, scale: str, said: str, at_sight: bool | None
) -> None:
    found = dial(full, scale)
    assert found.said == said
    assert found.at_sight is at_sight


def test_the_arc_that_serves_best_is_named() -> None:
    found = dial("5 mA", "0-75", "0-75, 0-250, 0-500")
    assert (found.better, found.better_said) == ("0-500", "0–500 arc: × 10 = µA")
    assert dial("250 mA", "0-250", "0-75, 0-250, 0-25").better is None
    assert dial("250 mA", "", "0-75, 0-25").scale == "0-25"


def test_an_arc_that_the_meter_has_not_is_a_note() -> None:
    text = SPEC.format(
        full="1 mA", quantity="current", scale=", scale: 0-10", scales=", scales: [0-1]"
    )
    found = values_of(read_text(text.encode()), ["original"])[0]
    assert [one.message for one in found.warnings if one.kind == "scale"] == [
        "r is read on the 0-10 arc, which M1 does not have"
    ]
    assert found.answer == "good"


SIZES = {"µ": -6, "m": -3, "": 0, "k": 3, "M": 6}


@given(
    st.integers(1, 999), st.sampled_from(["uA", "mA", "A"]),
    st.sampled_from([1, 1.5, 2.5, 3, 4, 5, 10, 15, 30, 75, 100, 250, 300, 500, 1000]),
)  # fmt: skip
def test_a_figure_times_the_factor_is_the_reading(number: int, unit: str, end: float) -> None:
    found = dial(f"{number} {unit}", f"0-{end:g}")
    assert found.factor is not None
    true = Fraction(number) * Fraction(10) ** SIZES[unit[:-1].replace("u", "µ")]
    told = Fraction(str(end)) * Fraction(found.factor) * Fraction(10) ** SIZES[found.unit[:-1]]
    assert float(told / true) == pytest.approx(1.0, abs=1e-8)
    leads = {Fraction(lead) * Fraction(10) ** n for lead in ("1", "2", "2.5", "4", "5")
             for n in range(-9, 10)}  # fmt: skip
    exact = true / Fraction(str(end)) / Fraction(10) ** SIZES[found.unit[:-1]]
    assert found.at_sight == (exact in leads)


@pytest.mark.parametrize(
    ("scale", "zero", "why"),
    [
        ("20-0", "left", "the figures of the 20–0 arc fall towards full scale"),
        ("20-0", "right", None),
        ("-20 to 3", "left", "the figures of the -20 to 3 arc have their 0 at neither end"),
        ("-20 to 3 dB", "left", None),
        ("0-20", "left", None),
    ],
)
def test_figures_that_cannot_be_used_are_said(scale: str, zero: str, why: str | None) -> None:
    text = SPEC.format(full="20 mA", quantity="current", scale=f', scale: "{scale}"', scales=(
        f", zero: {zero}"
    ))  # fmt: skip
    found = values_of(read_text(text.encode()), ["original"])[0]
    told = [w.message for w in found.warnings if w.kind == "scale"]
    assert told == ([f"r: {why}, so no factor is given for them"] if why else [])
    dial = found.readings[0].dial
    assert dial is not None
    assert (dial.factor == 1.0) is (scale in {"0-20", "20-0"} and why is None)
