"""A tolerance that is not given is unknown, never zero; a reading is off beyond what it accepts.

Reference: the deflections by hand with fractions, and the corners of boxes by numpy's dense solver.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import Readout, WiringValues
from rewire.values.wiring_values import values_of
from tests.values.reference import dense
from tests.values.test_tolerance import FULL_SCALE, random_made

SHUNT = """
rewire: 1
title: a meter and its shunt
points: {{IN: {{}}, OUT: {{chassis: yes}}}}
readings: {{a: {{current: [IN, OUT], full_scale: 100 mA{accept}}}}}
wirings:
  original: &w
    parts:
      M1: {{meter: 1 mA, resistance: 100 ohm{meter}, between: [IN, OUT]}}
      R1: {{resistor: {ohms} ohm{shunt}, between: [IN, OUT]}}
  other: *w
"""


def answered(text: str) -> WiringValues:
    return values_of(read_text(text.encode()))[0]


def shunted(ohms: str, meter: str = "", shunt: str = "", accept: str = "") -> Readout:
    result = answered(SHUNT.format(ohms=ohms, meter=meter, shunt=shunt, accept=accept))
    return result.readings[0]


def test_a_hundredth_of_a_percent_is_not_reported() -> None:
    """1.01 ohm for 1.0101: the meter gets 100 × 1.01 / 101.01 of its milliampere, 0.01 % too little."""
    one = shunted("1.01")
    assert one.error_percent == pytest.approx(float(100 * (Fraction(101, 10101) * 100 - 1)))
    assert (one.worst_low_percent, one.worst_high_percent) == (None, None)
    assert one.unstated == ("M1", "R1")
    assert (
        one.allowance
        == "up to 5 % of full scale is accepted; worst case not known: no tolerance given for M1, R1"
    )
    assert one.allowed(0.5) == (-5.0, 5.0)
    assert one.spread is None
    assert all(share.low_percent is None for share in one.shares)
    assert [share.value for share in one.shares] == ["M1", "R1"]
    assert not one.off


def test_one_tolerance_of_two_is_not_enough() -> None:
    one = shunted("1.01", shunt=", tolerance: 1 %")
    assert one.unstated == ("M1",)
    assert one.worst_low_percent is None
    known = [s for s in one.shares if s.low_percent is not None]
    assert [s.value for s in known] == ["R1"]
    low = float(Fraction("0.9999") / (100 + Fraction("0.9999")) * 100 - Fraction("1.01") / Fraction("1.0101"))  # fmt: skip
    assert known[0].low_percent == pytest.approx(100 * low, rel=1e-9)


@pytest.mark.parametrize(
    ("ohms", "meter", "accept", "off"),
    [
        ("1.05", "", "", False),  # 3.9 % high by hand
        ("1.1", "", "", True),  # 8.8 % high: beyond the usual 5 %
        ("1.1", ", accuracy: 10 %", "", False),
        ("1.1", "", ", accept: 9 %", False),
        ("1.05", "", ", accept: 3 %", True),
    ],
)
def test_off_is_what_is_beyond_what_the_reading_accepts(
    ohms: str, meter: str, accept: str, off: bool
) -> None:
    assert shunted(ohms, meter=meter, accept=accept).off is off


def test_a_sloppy_resistor_does_not_make_a_wrong_value_right() -> None:
    """8.2 kohm of 20 % where 9.9 belong: 20 % high, and worse at the end of its tolerance."""
    text = """
rewire: 1
title: a wrong multiplier of wide tolerance
points: {P: {}, COM: {chassis: yes}}
readings: {v: {voltage: [P, COM], full_scale: 10 V}}
wirings:
  original: &w
    parts:
      M1: {meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 1 %, accuracy: 2 %}
      R1: {resistor: 8.2 kohm, tolerance: 20 %}
    nets: [[P, R1.1], [R1.2, M1.+], [M1.-, COM]]
  other: *w
"""
    result = answered(text)
    one = result.readings[0]
    assert one.error_percent == pytest.approx(100 * (10 / 8.3 - 1))
    assert one.worst_high_percent == pytest.approx(100 * (10 / (0.8 * 8.2 + 0.099) - 1) + 2)
    assert one.off
    assert result.bad
    right = answered(text.replace("8.2 kohm, tolerance: 20", "9.9 kohm, tolerance: 1"))
    assert not right.readings[0].off
    # By hand: right at its nominal value, but a worst case of 25 % and more is not.
    wide = answered(text.replace("8.2 kohm", "9.9 kohm"))
    assert wide.readings[0].error_percent == pytest.approx(0.0)
    assert wide.readings[0].off


def test_a_value_that_moves_nothing_needs_no_tolerance() -> None:
    """A resistor across a stiff source, and a meter that all the current must go through."""
    text = """
rewire: 1
title: what does not matter
points: {IN: {}, OUT: {chassis: yes}}
readings:
  v: {voltage: [IN, OUT], full_scale: 10 V}
wirings:
  original: &w
    parts:
      M1: {meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 1 %, accuracy: 2 %}
      R1: {resistor: 9.9 kohm, tolerance: 1 %}
      R2: {resistor: 47 kohm}
    nets: [[IN, R1.1, R2.1], [R1.2, M1.+], [M1.-, OUT, R2.2]]
  other: *w
"""
    one = answered(text).readings[0]
    assert one.unstated == ()
    assert one.worst_low_percent == pytest.approx(100 * (10 / (0.101 + 9.999) - 1) - 2)
    alone = SHUNT.replace("      R1: {{resistor: {ohms} ohm{shunt}, between: [IN, OUT]}}\n", "")
    one = answered(alone.format(ohms="", meter=", accuracy: 2 %", shunt="", accept="").replace("100 mA", "1 mA")).readings[0]  # fmt: skip
    assert (one.worst_low_percent, one.worst_high_percent) == pytest.approx((-2.0, 2.0))


def test_a_balanced_bridge_does_not_hide_that_its_resistor_matters() -> None:
    """Nothing flows in R5 while the bridge is balanced; 1 % off, it does and moves the meter."""
    text = """
rewire: 1
title: bridge
points: {A: {}, B: {chassis: yes}, C: {}, D: {}}
readings: {v: {voltage: [A, B], full_scale: 1 V}}
wirings:
  original: &w
    parts:
      R1: {resistor: 500 ohm, tolerance: 1 %, between: [A, C]}
      R2: {resistor: 500 ohm, tolerance: 1 %, between: [A, D]}
      R3: {resistor: 500 ohm, tolerance: 1 %, between: [C, B]}
      M1: {meter: 1 mA, resistance: 500 ohm, resistance_tolerance: 1 %, between: [D, B]}
      R5: {resistor: 1 kohm, between: [C, D]}
  other: *w
"""
    assert answered(text).readings[0].unstated == ("R5",)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_unstated_is_what_moves_the_reading(seed: int) -> None:
    """Tolerances taken away at random; which of them matter, by numpy beside the nominal values."""
    made = random_made(seed, pots=seed % 2, contacts=0)
    rng = np.random.default_rng(seed)
    bare = {name for name in made.ohms if rng.random() < 0.4}
    text = made.spec().decode()
    for name in bare:
        off = made.tolerance[name]
        key = "resistance_tolerance" if name == "M1" else "tolerance"
        start = text.index(f"  {name}: {{")
        lines = text[start:].replace(f", {key}: {off} %", "", 1)
        text = text[:start] + lines
        again = text.index(f"  {name}: {{", start + 5)
        text = text[:again] + text[again:].replace(f", {key}: {off} %", "", 1)
    one = answered(text).readings[0]
    if one.deflection is None or not one.deflection:
        return
    beside = {n: float(v) * float(rng.uniform(0.9, 1.1)) for n, v in made.ohms.items()}
    here = dense(made, beside)
    moving = {
        name for name in bare
        if abs(dense(made, {**beside, name: 3 * beside[name]}) - here) > 1e-7 * abs(here)
    }  # fmt: skip
    assert set(one.unstated) == moving
    if moving:
        assert (one.worst_low_percent, one.worst_high_percent, one.spread) == (None, None, None)
        return
    names = [n for n in made.ohms if n not in bare]
    corners = [
        dense(made, {n: float(made.ohms[n]) * (1 + s * made.tolerance[n] / 100)
                     for n, s in zip(names, signs, strict=True)}) / FULL_SCALE
        for signs in itertools.product((-1, 1), repeat=len(names))
    ]  # fmt: skip
    assert one.worst_low_percent is not None
    assert one.worst_high_percent is not None
    assert one.worst_low_percent <= 100 * (min(corners) - 1) + 1e-6
    assert one.worst_high_percent >= 100 * (max(corners) - 1) - 1e-6


def test_after_setting_counts_the_meter_s_accuracy_and_is_told_alike_everywhere() -> None:
    """A pot takes up all but the meter's own 2 %; a tenth up the scale that is 2 % as well."""
    text = """
rewire: 1
title: a pot that takes up everything
points: {A: {}, B: {chassis: yes}}
parts: {RS: {resistor: 1 ohm, tolerance: 1 %, between: [A, B]}}
readings: {r: {current: [A, B], full_scale: 100 mA}}
wirings:
  original: &w
    parts:
      M1: {meter: 500 uA, resistance: 100 ohm, resistance_tolerance: 10 %, accuracy: 2 %}
      RV1: {pot: 200 ohm, tolerance: 10 %, setting: fit, for: r}
    nets: [[A, RV1.ccw], [RV1.wiper, RV1.cw, M1.+], [M1.-, B]]
  other: *w
"""
    one = answered(text).readings[0]
    assert one.trimmed_percent == pytest.approx((-2.0, 2.0), abs=1e-6)
    assert one.allowed(0.1) == pytest.approx((-2.0, 2.0), abs=1e-6)
    assert one.allowance == "after setting -2.0 to +2.0 % of full scale"
    assert not one.off
    bare = answered(text.replace("200 ohm, tolerance: 10 %", "200 ohm")).readings[0]
    assert bare.unstated == ("RV1",)
    assert bare.worst_low_percent is None
    # The pot is set until the reading is right, whatever its own value is; not so the meter's.
    assert bare.trimmed_percent == pytest.approx((-2.0, 2.0), abs=1e-6)
    gone = answered(text.replace("resistance_tolerance: 10 %, ", "")).readings[0]
    assert gone.unstated == ("M1",)
    assert gone.trimmed_percent is None
