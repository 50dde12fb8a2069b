"""Fits: what comes out makes the readings right by an independent sum, or says why nothing does."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import brentq

from rewire.reading import SpecError, read_text
from rewire.values.answers import WiringValues
from rewire.values.wiring_values import values_of
from tests.values.reference import Bar, Made, dense
from tests.values.test_tolerance import divider, random_made


def answered(text: str) -> WiringValues:
    return values_of(read_text(text.encode()))[0]


@pytest.mark.parametrize("seed", range(8))
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


@pytest.mark.parametrize("seed", range(8))
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


@pytest.mark.parametrize("seed", range(5))
def test_two_shunts_in_turn(seed: int) -> None:
    """By hand: the first shunt stays on in the high range, so the second carries the difference."""
    rng = np.random.default_rng(seed)
    meter, low, high = rng.integers(20, 900), rng.uniform(2e-3, 0.02), rng.uniform(0.05, 2)
    result = answered(TWO_RANGES.format(meter=meter, low=low, high=high))
    found = {fit.part: fit.exact_ohms for fit in result.fits}
    volts = 1e-3 * meter
    assert found["R1"] == pytest.approx(volts / (low - 1e-3), rel=1e-10)
    assert found["R2"] == pytest.approx(volts / (high - low), rel=1e-10)


@pytest.mark.parametrize("seed", range(6))
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
    assert "needs 1 mA for full scale; 500 µA cannot move it there" in first.why
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


def test_an_unknown_series_is_refused_with_its_place() -> None:
    text = TWO_RANGES.format(meter=100, low=0.01, high=1).replace("choose: exact", "choose: E13")
    with pytest.raises(SpecError, match=r"choose: 'E13' is no series .*write E"):
        answered(text)


@pytest.mark.parametrize("seed", range(6))
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


def test_a_shunt_that_is_too_low_says_which_would_do() -> None:
    """By hand: 1 A in 55 mohm drops 55 mV; 1 mA through 60 ohm wants 60: 60 mV / 999 mA."""
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 60 ohm, between: [MID, OUT]}\n"
        "      R5: {resistor: 55 mohm, between: [IN, OUT]}\n"
        "      R1: {resistor: fit, for: a, between: [IN, MID]}\n"
    )
    result = answered(
        "rewire: 1\ntitle: too low\npoints: {IN: {}, MID: {}, OUT: {}}\n"
        "readings: {a: {current: [IN, OUT], full_scale: 1 A}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    why = result.fits[0].why
    assert why is not None
    assert "with R1 replaced by a wire; R5 of 0.0601 Ω or more would do" in why


def stiff(part: str) -> str:
    wiring = (
        (
            "    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm}\n      R1: {resistor: 9.9 kohm}\n"
            f"      {part}\n"
            "    nets: [[IN, R1.1, X1.ccw], [R1.2, M1.+], [M1.-, OUT, X1.wiper]]\n"
        )
        .replace("X1.ccw", "X1.1" if "resistor: fit" in part else "X1.ccw")
        .replace("X1.wiper", "X1.2" if "resistor: fit" in part else "X1.wiper")
    )
    return (
        "rewire: 1\ntitle: stiff\npoints: {IN: {}, OUT: {}}\n"
        "readings: {v: {voltage: [IN, OUT], full_scale: 10 V}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )


@pytest.mark.parametrize(
    ("part", "called"),
    [("X1: {pot: 1 kohm, setting: fit, for: v}", "the setting of X1"),
     ("X1: {resistor: fit, for: v}", "X1")],
)  # fmt: skip
def test_what_lies_across_a_stiff_source_does_nothing(part: str, called: str) -> None:
    result = answered(stiff(part))
    why = result.pots[0].why if result.pots else result.fits[0].why
    assert why == f"v does not depend on {called}"


JOINT = """
rewire: 1
title: two values, two readings, each behind a source
points: {{A: {{}}, B: {{}}, D: {{}}}}
readings:
  p: {{voltage: [A, B], full_scale: {p!r} V, source_resistance: {rs!r} ohm}}
  q: {{voltage: [D, A], full_scale: {q!r} V, source_resistance: {rt!r} ohm}}
wirings:
  original: &w
    parts:
      M1: {{meter: 1 mA, resistance: 100 ohm, between: [D, B]}}
      {x}
      {y}
    nets: [{nets}]
  other: *w
"""
POTS = {
    "x": "X: {pot: 10 kohm, setting: fit, for: p}",
    "y": "Y: {pot: 10 kohm, setting: fit, for: q}",
    "nets": "[A, X.ccw], [X.wiper, X.cw, D], [A, Y.ccw], [Y.wiper, Y.cw, B]",
}
RESISTORS = {
    "x": "X: {resistor: fit, for: p, choose: exact, between: [A, D]}",
    "y": "Y: {resistor: fit, for: q, choose: exact, between: [A, B]}",
    "nets": "",
}


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", [POTS, RESISTORS])
def test_every_pair_of_values_that_does_both_is_found(kind: dict[str, str], seed: int) -> None:
    """x from A to D, y from A to B, the meter from D to B; in ohms for 1 mA, by hand:

    p = Rs (1 + (100 + x) / y) + 100 + x, and q = Rt (1 + (100 + y) / x) + 100 + y. With
    x = Rt (100 + y) / (c - y), c = q - Rt - 100, the first is a quadratic in y.
    """
    rng = np.random.default_rng(seed)
    rs, rt, x, y = (float(f"{v:.4g}") for v in rng.uniform((200, 200, 500, 500), 6000))
    p, q = rs * (1 + (100 + x) / y) + 100 + x, rt * (1 + (100 + y) / x) + 100 + y
    c, d = q - rt - 100, p - rs - 100
    roots = np.roots([
        -(d + rt), d * c - 100 * rt + 100 * rs - rs * rt, -100 * rs * (c + rt)
    ]).real  # fmt: skip
    pairs = sorted((rt * (100 + one) / (c - one), one) for one in roots if 0 < one < c)
    wanted = [(one, other) for one, other in pairs if kind is RESISTORS or max(one, other) < 1e4]
    result = answered(JOINT.format(p=p * 1e-3, q=q * 1e-3, rs=rs, rt=rt, **kind))
    if kind is POTS:
        found = sorted(
            (100 * a, 100 * b)
            for a, b in zip(result.pots[0].solutions, result.pots[1].solutions, strict=True)
        )
        assert [*map(list, found)] == [pytest.approx(list(pair), rel=1e-6) for pair in wanted]
        return
    exact = tuple(fit.exact_ohms or 0.0 for fit in result.fits)
    assert any(exact == pytest.approx(pair, rel=1e-6) for pair in wanted)
    told = result.fits[0].why or ""
    assert (f"{len(wanted)} solutions" in told) is (len(wanted) > 1)


def test_what_two_readings_leave_open_is_not_called_exact() -> None:
    """Both values stand in series in both readings: their sum is all that is fixed."""
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}\n"
        "      R1: {resistor: fit, for: v, between: [IN, HALF]}\n"
        "      R2: {resistor: fit, for: w, between: [HALF, MID]}\n"
    )
    result = answered(
        "rewire: 1\ntitle: open\npoints: {IN: {}, HALF: {}, MID: {}, OUT: {}}\n"
        "readings:\n  v: {voltage: [IN, OUT], full_scale: 10 V}\n"
        "  w: {voltage: [IN, OUT], full_scale: 10 V, source_resistance: 0 ohm}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    assert [fit.exact_ohms for fit in result.fits] == [None, None]
    assert result.fits[0].why == (
        "v, w leave R1, R2 open: many values together do it; state one of them"
    )


def test_where_rounding_leaves_no_setting_it_says_so() -> None:
    """R1 is 10 kohm less the meter and 50 ohm; E3 has 10 kohm, and then no pot is low enough.

    By hand: 10 V through 10 kohm, the meter of 100 ohm and none of the pot is 0.9901 mA.
    """
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm}\n"
        "      S1: {switch: SPDT, control: K, contact_resistance: 0 ohm}\n"
        "      R1: {resistor: fit, for: w, choose: E3}\n"
        "      R7: {resistor: 50 ohm}\n"
        "      P1: {pot: 100 ohm, setting: fit, for: v}\n"
        "    nets: [[IN, R1.1], [R1.2, S1.A], [S1.A1, P1.ccw], [S1.A2, R7.1],\n"
        "      [P1.wiper, P1.cw, R7.2, M1.+], [M1.-, OUT]]\n"
    )
    text = (
        "rewire: 1\ntitle: rounding\ncontrols: {K: [P, Q]}\npoints: {IN: {}, OUT: {}}\n"
        "readings:\n  v: {when: {K: P}, voltage: [IN, OUT], full_scale: 10 V}\n"
        "  w: {when: {K: Q}, voltage: [IN, OUT], full_scale: 10 V}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    result = answered(text)
    pot = result.pots[0]
    assert (pot.setting_percent, pot.reaches) == (0.0, False)
    assert pot.why is not None
    assert pot.why.startswith("with R1 = 10 kΩ no setting is right, with the exact value there is")
    assert [one.deflection for one in result.readings] == pytest.approx([10 / 10.1, 10 / 10.15])
    exact = answered(text.replace("choose: E3", "choose: exact"))
    assert exact.pots[0].setting_percent == pytest.approx(50.0)


@pytest.mark.parametrize(("full_scale", "beside", "why"), [
    ("50 mV", "R2: {resistor: 100 ohm, between: [MID, OUT]}",
     "it gets too little current; the nearest is 50 % of full scale with R1 replaced by a wire"),
    ("10 V", "R2: {resistor: 900 ohm, between: [IN, MID]}",
     "it gets too much current; the nearest is 1000 % of full scale with R1 left out"),
])  # fmt: skip
def test_where_no_value_will_do_the_nearer_end_is_told(
    full_scale: str, beside: str, why: str
) -> None:
    """Ohm's law, 1 mA and 100 ohm: 50 mV give it 0.5 mA at most, 10 V over 900 ohm 10 mA at least."""
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}\n"
        "      R1: {resistor: fit, for: v, choose: exact, between: [IN, MID]}\n"
        f"      {beside}\n"
    )
    text = (
        "rewire: 1\ntitle: t\npoints: {IN: {}, MID: {}, OUT: {}}\n"
        f"readings: {{v: {{voltage: [IN, OUT], full_scale: {full_scale}}}}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )
    (fit,) = answered(text).fits
    assert (fit.exact_ohms, why in (fit.why or "")) == (None, True), fit.why
