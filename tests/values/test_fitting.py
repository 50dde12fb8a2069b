"""Fits: what comes out makes the readings right by an independent sum, or says why nothing does."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import brentq

from rewire.spec import SpecError, read_text
from rewire.values import WiringValues, values_of
from tests.values.reference import Bar, Made, dense
from tests.values.test_tolerance import divider, random_made


def answered(text: str) -> WiringValues:
    return values_of(read_text(text.encode()))[0]


@pytest.mark.parametrize("seed", range(40))
def test_a_fitted_resistor_makes_the_reading_right(seed: int) -> None:
    """A value is hidden, its effect given as the full scale, and found again."""
    made = random_made(seed, pots=seed % 2, contacts=0)
    hidden = "R0"
    hit = dense(made, {})
    if abs(hit - dense(made, {hidden: float(made.ohms[hidden]) * 2})) < 1e-6 * abs(hit) or hit < 0:
        return
    text = made.spec().decode().replace("meter: 1 mA", f"meter: {hit!r} A")
    line = f"{hidden}: {{resistor: {float(made.ohms[hidden])!r} ohm"
    assert line in text
    text = text.replace(line, f"{hidden}: {{resistor: fit, for: r, choose: exact")
    result = answered(text)
    exact = result.fits[0].exact_ohms
    assert exact == pytest.approx(float(made.ohms[hidden]), rel=1e-6)
    assert dense(made, {hidden: exact}) == pytest.approx(hit, rel=1e-8)
    assert result.readings[0].deflection == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_every_setting_that_makes_the_reading_right_is_found(seed: int) -> None:
    """Zeros of deflection - 1 along the travel by a fine sweep and scipy.optimize.brentq."""
    made = random_made(seed, pots=1, contacts=0)
    trio, at = made.pots["RV0"]

    def off(share: float) -> float:
        bars = [b for b in made.bars if b.part != "RV0"]
        bars += [Bar("RV0", trio[:2], Fraction(share)), Bar("RV0", trio[1:], 1 - Fraction(share))]
        return dense(Made(made.nodes, bars, made.ohms, {}, made.drive, made.amount, made.voltage,
                          made.source), {}) / hit - 1  # fmt: skip

    hit = dense(made, {})
    if abs(hit) < 1e-9 or hit < 0 or abs(off(0.01) - off(0.99)) < 1e-6:
        return
    steps = np.linspace(1e-4, 1 - 1e-4, 400)
    values = [off(s) for s in steps]
    wanted = [
        brentq(off, a, b, xtol=1e-13)
        for a, b, fa, fb in zip(steps, steps[1:], values, values[1:], strict=False)
        if fa * fb < 0
    ]
    text = made.spec().decode().replace("meter: 1 mA", f"meter: {hit!r} A")
    setting = f"setting: {float(100 * at)!r} %"
    assert setting in text
    result = answered(text.replace(setting, "setting: fit, for: r"))
    found = [s / 100 for s in result.pots[0].solutions]
    assert found == pytest.approx(sorted(wanted), abs=1e-6) or any(
        abs(f - at) < 1e-6 for f in found
    )
    assert all(abs(off(min(max(s, 1e-9), 1 - 1e-9))) < 1e-6 for s in found)


TWO_RANGES = """
rewire: 1
title: a shunt that also moves the other range
controls: {{RANGE: [LOW, HIGH]}}
points: {{IN: {{}}, OUT: {{}}}}
readings:
  low: {{when: {{RANGE: LOW}}, current: [IN, OUT], full_scale: {low} A}}
  high: {{when: {{RANGE: HIGH}}, current: [IN, OUT], full_scale: {high} A}}
wirings:
  original: &same
    parts:
      M1: {{meter: 1 mA, resistance: {meter} ohm, between: [IN, OUT]}}
      R1: {{resistor: fit, for: low, choose: exact, between: [IN, OUT]}}
      R2: {{resistor: fit, for: high, choose: exact, between: [IN, S1.A2]}}
      S1: {{switch: SP2T, control: RANGE, contact_resistance: 0 ohm}}
    wires: [[S1.A, OUT]]
  other: *same
"""


@pytest.mark.parametrize("seed", range(10))
def test_two_shunts_in_turn(seed: int) -> None:
    """By hand: the first shunt stays on in the high range, so the second carries the difference."""
    rng = np.random.default_rng(seed)
    meter, low, high = rng.integers(20, 900), rng.uniform(2e-3, 0.02), rng.uniform(0.05, 2)
    result = answered(TWO_RANGES.format(meter=meter, low=low, high=high))
    found = {fit.part: fit.exact_ohms for fit in result.fits}
    volts = 1e-3 * meter
    assert found["R1"] == pytest.approx(volts / (low - 1e-3), rel=1e-10)
    assert found["R2"] == pytest.approx(volts / (high - low), rel=1e-10)


@pytest.mark.parametrize("seed", range(12))
def test_several_at_once_make_all_readings_right(seed: int) -> None:
    """A shunt with taps and a multiplier on it: every reading depends on every resistor."""
    rng = np.random.default_rng(seed)
    amps = np.sort(rng.uniform(3e-3, 1.0, 3))[::-1]
    meter = int(rng.integers(20, 500))
    points = "OUT: {}, T1: {}, T2: {}, T3: {}, HV: {}"
    readings = "\n".join(
        f"  i{n}: {{current: [T{n}, OUT], full_scale: {a!r} A}}"
        for n, a in enumerate(map(float, amps), 1)
    )
    parts = "\n".join(
        f"      R{n}: {{resistor: fit, for: i{n}, choose: exact, between: [{here}, {below}]}}"
        for n, (here, below) in enumerate([("T1", "OUT"), ("T2", "T1"), ("T3", "T2")], 1)
    )
    wiring = (
        f"    parts:\n{parts}\n      M1: {{meter: 1 mA, resistance: {meter} ohm, between: [T3, OUT]}}\n"
        "      R4: {resistor: fit, for: v, choose: exact, between: [HV, T3]}\n"
    )
    result = answered(
        f"rewire: 1\ntitle: taps\npoints: {{{points}}}\nreadings:\n{readings}\n"
        "  v: {voltage: [HV, OUT], full_scale: 250 V}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    for one in result.readings:
        assert one.deflection == pytest.approx(1.0, abs=1e-9)
    found = [fit.exact_ohms for fit in result.fits]
    total = 1e-3 * meter / (amps[2] - 1e-3)
    # By hand: below tap n lies V (1 + R/Rm) … so that I_n × (segments below) = i_m × (all + Rm).
    for n in range(3):
        below = 1e-3 * (total + meter) / amps[n]
        assert sum(f for f in found[: n + 1] if f) == pytest.approx(below, rel=1e-8)


def test_the_same_meter_cannot_be_made_more_sensitive() -> None:
    text = TWO_RANGES.format(meter=100, low=5e-4, high=1)
    result = answered(text)
    first = next(fit for fit in result.fits if fit.part == "R1")
    assert first.exact_ohms is None
    assert first.why is not None
    assert "needs 1 mA for full scale; 500 µA can't move it there" in first.why
    assert "pick a movement of 500 µA or less" in first.why
    assert result.bad


def test_a_range_that_nothing_reaches_names_the_nearest() -> None:
    """A volt over 2 kohm gives half a milliampere however small the multiplier is."""
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 2 kohm, between: [MID, OUT]}\n"
        "      R1: {resistor: fit, for: v, between: [IN, MID]}\n"
    )
    result = answered(
        "rewire: 1\ntitle: too little\npoints: {IN: {}, MID: {}, OUT: {}}\n"
        "readings: {v: {voltage: [IN, OUT], full_scale: 1 V}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    why = result.fits[0].why
    assert why is not None
    assert "50 % of full scale with R1 replaced by a wire" in why


def test_a_series_that_is_none_is_refused_with_its_place() -> None:
    text = TWO_RANGES.format(meter=100, low=0.01, high=1).replace("choose: exact", "choose: E13")
    with pytest.raises(SpecError, match=r"choose: 'E13' is no series .*nearest is 'E"):
        answered(text)


@pytest.mark.parametrize("seed", range(25))
def test_a_pot_reaches_what_every_corner_needs(seed: int) -> None:
    """Settings needed at random builds lie between the stated ones; the ends are met at corners."""
    rng = np.random.default_rng(seed)
    made = divider(int(rng.integers(20, 200)), int(rng.integers(20, 200)), 50, 10)
    made.tolerance |= {"M1": 10, "R1": 5}
    hit = dense(made, {})
    text = made.spec().decode().replace("meter: 1 mA", f"meter: {hit!r} A")
    pot = answered(text.replace("setting: 50.0 %", "setting: fit, for: r")).pots[0]
    assert pot.lowest_percent is not None
    assert pot.highest_percent is not None

    def needed(values: dict[str, float]) -> float | None:
        def off(share: float) -> float:
            bars = [b for b in made.bars if b.part != "RV1"]
            bars += [Bar("RV1", (1, 2), Fraction(share)), Bar("RV1", (2, 3), 1 - Fraction(share))]
            moved = Made(4, bars, made.ohms, {}, made.drive, made.amount, True)
            return dense(moved, values) / hit - 1

        return brentq(off, 0.0, 1.0, xtol=1e-12) if off(0.0) * off(1.0) < 0 else None

    low, high = pot.lowest_percent / 100, pot.highest_percent / 100
    found = []
    for _ in range(40):
        values = {
            n: float(made.ohms[n]) * (1 + made.tolerance[n] / 100 * float(s))
            for n, s in zip(made.tolerance, rng.choice([rng.uniform(-1, 1), -1, 1], 3), strict=True)
        }
        setting = needed(values)
        if setting is None:
            assert not pot.reaches
            continue
        found.append(setting)
        assert low - 1e-6 <= setting <= high + 1e-6
    if pot.reaches:
        assert min(found) == pytest.approx(low, abs=0.05)
        assert max(found) == pytest.approx(high, abs=0.05)


def test_a_rheostat_at_its_stops_and_with_its_wiper_off() -> None:
    """200 ohm in the meter's lead, the free end tied to the wiper: a bad wiper leaves 200 ohm."""
    text = """
rewire: 1
title: rheostat
points: {{IN: {{}}, OUT: {{}}}}
readings: {{v: {{voltage: [IN, OUT], full_scale: 1 V}}}}
wirings:
  original: &same
    parts:
      M1: {{meter: 1 mA, resistance: 850 ohm, resistance_tolerance: 5 %, between: [RV1.wiper, OUT]}}
      RV1: {{pot: 200 ohm, setting: fit, for: v}}
    wires: [[RV1.ccw, IN]{tied}]
  other: *same
"""
    tied = answered(text.format(tied=", [RV1.cw, RV1.wiper]")).pots[0]
    free = answered(text.format(tied="")).pots[0]
    for pot in (tied, free):
        assert pot.setting_percent == pytest.approx(75.0)
        assert pot.at_ccw == pytest.approx(1000 / 850)
        assert pot.at_cw == pytest.approx(1000 / 1050)
        assert (pot.lowest_percent, pot.highest_percent) == pytest.approx((53.75, 96.25))
        # Percent of reading per percent of travel: 2 ohm more in a thousand.
        assert pot.percent_per_percent == pytest.approx(-0.2)
    assert tied.when_open == pytest.approx(1000 / 1050)
    assert free.when_open == 0.0
