"""Settings that pots need over the tolerances, by closed formulas of my own at every corner.

A pot as a variable resistor, in series with a meter and across a shunt; both ways round.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from rewire.reading import read_spec
from rewire.values.answers import PotAnswer, Readout
from rewire.values.wiring_values import values_of
from tests.values.test_fitting import answered

NUMBERS = Path(__file__).parent / "numbers"


def signs(count: int) -> list[tuple[int, ...]]:
    return list(itertools.product((-1, 1), repeat=count))


def off(value: float, percent: float, sign: float) -> float:
    return value * (1 + sign * percent / 100)


def in_series(volts: float, meter: float, fixed: float, track: float, tolerances: list[float],
              turned: bool) -> tuple[PotAnswer, Readout]:  # fmt: skip
    a, b, c = tolerances
    lugs = ("cw", "ccw") if turned else ("ccw", "cw")
    result = answered(
        "rewire: 1\ntitle: series\npoints: {IN: {}, OUT: {}}\n"
        f"readings: {{r: {{voltage: [IN, OUT], full_scale: {volts!r} V}}}}\nwirings:\n"
        "  original: &w\n    parts:\n"
        f"      M1: {{meter: 1 mA, resistance: {meter!r} ohm, resistance_tolerance: {a!r} %}}\n"
        f"      R1: {{resistor: {fixed!r} ohm, tolerance: {b!r} %}}\n"
        f"      RV1: {{pot: {track!r} ohm, tolerance: {c!r} %, setting: fit, for: r}}\n"
        f"    nets: [[IN, R1.1], [R1.2, RV1.{lugs[0]}], [RV1.wiper, RV1.{lugs[1]}, M1.+], "
        "[M1.-, OUT]]\n  other: *w\n"
    )
    return result.pots[0], result.readings[0]


@pytest.mark.parametrize("seed", range(8))
def test_in_series_with_the_meter(seed: int) -> None:
    """The share s of track P: V / 1 mA = Rm + R + s P."""
    rng = np.random.default_rng(seed)
    meter, fixed, track = (float(f"{v:.4g}") for v in rng.uniform((50, 500, 50), (500, 3000, 900)))
    tolerances = [float(v) for v in rng.choice([0.0, 1.0, 2.0, 5.0, 10.0], 3)]
    at = float(rng.uniform(0.05, 0.95))
    volts = 1e-3 * (meter + fixed + at * track)
    turned = bool(rng.random() < 0.5)
    pot, _ = in_series(volts, meter, fixed, track, tolerances, turned)
    needed = [
        (volts / 1e-3 - off(meter, tolerances[0], x) - off(fixed, tolerances[1], y))
        / off(track, tolerances[2], z)
        for x, y, z in signs(3)
    ]
    if turned:
        needed = [1 - share for share in needed]
    judged(pot, needed)


def judged(pot: PotAnswer, needed: list[float]) -> None:
    """The printed range is what the corners need, up to the stop that some of them pass."""
    low, high = max(min(needed), 0.0), min(max(needed), 1.0)
    assert pot.lowest_percent == pytest.approx(100 * low, abs=1e-4)
    assert pot.highest_percent == pytest.approx(100 * high, abs=1e-4)
    assert pot.reaches is (min(needed) >= 0 and max(needed) <= 1)
    assert ("below its ccw stop" in (pot.why or "")) is (min(needed) < 0)
    assert ("beyond its cw stop" in (pot.why or "")) is (max(needed) > 1)


@pytest.mark.parametrize("seed", range(8))
def test_across_a_shunt(seed: int) -> None:
    """1 / (s P) = I / (i Rm) - 1 / Rm - 1 / R; no pot is enough where that is not above zero."""
    rng = np.random.default_rng(seed)
    meter = float(f"{rng.uniform(500, 3000):.4g}")
    exact = 50e-6 * meter / (10e-3 - 50e-6)
    fixed = float(f"{exact * rng.uniform(1.005, 1.3):.5g}")
    track = float(f"{1 / (1 / exact - 1 / fixed) / rng.uniform(0.05, 0.95):.4g}")
    tolerances = [float(v) for v in rng.choice([0.0, 0.5, 1.0, 3.0], 3)]
    turned = bool(rng.random() < 0.5)
    lug = "cw" if turned else "ccw"
    a, b, c = tolerances
    result = answered(
        "rewire: 1\ntitle: trim\npoints: {A: {}, B: {}}\n"
        "readings: {r: {current: [A, B], full_scale: 10 mA}}\nwirings:\n"
        "  original: &w\n    parts:\n"
        f"      M1: {{meter: 50 uA, resistance: {meter!r} ohm, resistance_tolerance: {a!r} %}}\n"
        f"      R1: {{resistor: {fixed!r} ohm, tolerance: {b!r} %}}\n"
        f"      RV1: {{pot: {track!r} ohm, tolerance: {c!r} %, setting: fit, for: r}}\n"
        f"    nets: [[A, M1.+, R1.1, RV1.{lug}], [B, M1.-, R1.2, RV1.wiper]]\n  other: *w\n"
    )
    needed = []
    for x, y, z in signs(3):
        siemens = (10e-3 / 50e-6 - 1) / off(meter, a, x) - 1 / off(fixed, b, y)
        share = 1 / siemens / off(track, c, z) if siemens > 0 else math.inf
        needed.append(1 - share if turned else share)
    judged(result.pots[0], needed)


@pytest.mark.parametrize(("name", "low"), [("trim", 17.0), ("trim2", 21.0)])
def test_a_trimmer_across_a_shunt_that_is_too_low_in_some_builds(name: str, low: float) -> None:
    """By hand: 1 kohm across 13 ohm (12.8) of 1 %, a meter of 2.5 kohm and 3 %."""
    (result,) = values_of(read_spec(str(NUMBERS / f"{name}.yaml")))
    pot = result.pots[0]
    assert pot.reaches is False
    assert pot.lowest_percent == pytest.approx(low, abs=0.5)
    assert pot.highest_percent == 100.0
    assert pot.why == "within the tolerances RV1 may have to stand beyond its cw stop"


@pytest.mark.parametrize("seed", range(4))
def test_after_setting_against_builds_of_my_own(seed: int) -> None:
    """A trimmer across 13 ohm: builds drawn here, each set as well as it can be, by hand."""
    rng = np.random.default_rng(seed)
    meter = 2500 * rng.uniform(0.97, 1.03, 200_000)
    fixed = 13 * rng.uniform(0.99, 1.01, 200_000)
    siemens = 199 / meter - 1 / fixed
    ohms = np.where(siemens > 1e-3, 1 / np.maximum(siemens, 1e-9), 1000.0)
    shunt = 1 / (1 / fixed + 1 / ohms)
    errors = 100 * (10e-3 * shunt / (shunt + meter) / 50e-6 - 1)
    (result,) = values_of(read_spec(str(NUMBERS / "trim.yaml")))
    found = result.readings[0].trimmed_percent
    assert found is not None
    expected = np.percentile(errors, (0.5, 99.5))
    assert found == pytest.approx((expected[0] - 2, expected[1] + 2), abs=0.15)
    assert -1.6 < expected[0] < -1.2


@pytest.mark.parametrize("seed", range(6))
def test_a_pot_that_divides_needs_what_random_builds_need(seed: int) -> None:
    """Track of 30 %, so that its own value counts inside its band as well; a sweep by hand.

    V through R1 into the track; the meter from the wiper to the foot of the track.
    """
    rng = np.random.default_rng(seed)
    series, meter, track = (float(f"{v:.3g}") for v in rng.uniform((5, 20, 80), (300, 400, 300)))
    at = float(rng.uniform(0.2, 0.6))

    def amps(share: float | np.ndarray, r: float, m: float, p: float) -> float | np.ndarray:
        foot = share * p * m / (share * p + m)
        return foot / (r + (1 - share) * p + foot) / m

    full = float(amps(at, series, meter, track))
    off_r, off_m, off_p = (float(v) for v in rng.choice([1.0, 5.0, 10.0, 30.0], 3))
    result = answered(
        "rewire: 1\ntitle: divider\npoints: {A: {}, B: {}}\n"
        "readings: {r: {voltage: [A, B], full_scale: 1 V}}\nwirings:\n  original: &w\n    parts:\n"
        f"      M1: {{meter: {full!r} A, resistance: {meter!r} ohm, resistance_tolerance: {off_m} %}}\n"
        f"      R1: {{resistor: {series!r} ohm, tolerance: {off_r} %}}\n"
        f"      RV1: {{pot: {track!r} ohm, tolerance: {off_p} %, setting: fit, for: r}}\n"
        "    nets: [[A, R1.1], [R1.2, RV1.cw], [RV1.wiper, M1.+], [RV1.ccw, M1.-, B]]\n  other: *w\n"
    )
    pot = result.pots[0]
    assert pot.lowest_percent is not None
    assert pot.highest_percent is not None
    shares = np.linspace(0, 1, 4001)
    needed, missing = [], 0
    tracks = np.linspace(-1, 1, 21)
    for x, y, z in [*itertools.product((-1, 1), (-1, 1), tracks), *rng.uniform(-1, 1, (40, 3))]:
        values = off(series, off_r, x), off(meter, off_m, y), off(track, off_p, z)
        above = np.flatnonzero(np.diff(np.sign(amps(shares, *values) - full)))
        if not len(above):
            missing += 1
            continue
        needed.append(float(shares[above[np.argmin(np.abs(shares[above] - at))]]) + 1 / 8000)
    assert pot.reaches is (missing == 0)
    assert pot.lowest_percent <= 100 * min(needed) + 0.02
    assert pot.highest_percent >= 100 * max(needed) - 0.02
    assert pot.lowest_percent == pytest.approx(100 * min(needed), abs=0.05)
    if pot.reaches:
        assert pot.highest_percent == pytest.approx(100 * max(needed), abs=0.05)


def test_a_wiper_off_its_track_leaves_what_a_strap_makes_of_it() -> None:
    """200 ohm from end to end, and a tenth of an ohm from the far end to the meter: 1 ohm shunts it.

    By hand: 100 mA divides between 1 ohm and 200 + 0.1 + 100 ohm; 400 uA is full scale.
    """
    (result,) = values_of(read_spec(str(NUMBERS / "pot.yaml")))
    by_hand = 0.1 / (1 + 300.1) / 400e-6
    assert result.pots[0].when_open == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("name", ["pot", "pot2", "trim", "trim2"])
def test_the_single_faults_say_the_same_of_an_open_wiper(name: str) -> None:
    (result,) = values_of(read_spec(str(NUMBERS / f"{name}.yaml")))
    fault = next(f for f in result.faults if f.what == "RV1 wiper open")
    assert fault.times_full_scale == pytest.approx(result.pots[0].when_open, rel=1e-9)


def wide(track: float, volts: float, turns: str = "") -> str:
    wiring = (
        "    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 0 %}\n"
        "      R1: {resistor: 100 ohm, tolerance: 0 %}\n"
        f"      RV1: {{pot: {track!r} ohm, tolerance: 0 %, setting: fit, for: r{turns}}}\n"
        "    nets: [[IN, R1.1], [R1.2, RV1.cw], [RV1.wiper, RV1.ccw, M1.+], [M1.-, OUT]]\n"
    )
    return (
        "rewire: 1\ntitle: coarse\npoints: {IN: {}, OUT: {}}\n"
        f"readings: {{r: {{voltage: [IN, OUT], full_scale: {volts!r} V}}}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )


def test_a_pot_near_its_stop_that_nobody_can_set_is_told_first() -> None:
    """10 kohm of which 100 ohm are left: 1 % of its travel is a third of 300 ohm, by hand."""
    result = answered(wide(10e3, 0.3))
    assert result.pots[0].setting_percent == pytest.approx(99.0)
    assert result.pots[0].percent_per_percent == pytest.approx(100 / 3)
    (told,) = (w for w in result.warnings if w.kind == "pot")
    assert told.first
    assert told.message.startswith("RV1 stands at 99.0 % of its travel, near its cw stop, and is ")
    assert "1 % of its travel, about what a hand can set, is 33 % of r" in told.message
    turned = answered(wide(10e3, 0.3, ", turns: 25"))
    assert all("too coarse" not in w.message for w in turned.warnings)
    fine = answered(wide(200.0, 0.3))
    assert not [w for w in fine.warnings if w.kind == "pot"]


def test_a_contact_in_the_leg_of_a_shunt_is_told_first() -> None:
    """20 mohm worn on top of 10 mohm: three times the volts, so 200 % more, by hand."""
    text = """
rewire: 1
title: contact in the leg of a shunt
controls: {RANGE: [A, B]}
points: {IN: {}, COM: {chassis: yes}}
readings: {inside: {when: {RANGE: A}, current: [IN, COM], full_scale: 10 A}}
wirings:
  original: &w
    parts:
      S1: {switch: SPDT, control: RANGE}
      M1: {meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 1 %}
      RS: {resistor: 0.0100010001 ohm, tolerance: 1 %}
    nets: [[IN, S1.A, M1.+], [S1.A1, RS.1], [COM, RS.2, M1.-]]
  other: *w
"""
    result = answered(text)
    assert result.readings[0].off
    (told,) = (w for w in result.warnings if w.kind == "contact")
    assert told.first
    assert "contact S1.A–S1.A1" in told.message
    assert "200 % of full scale" in told.message
    outside = answered(text.replace("[IN, S1.A, M1.+], [S1.A1, RS.1]", "[IN, S1.A], [S1.A1, M1.+, RS.1]"))  # fmt: skip
    assert not [w for w in outside.warnings if w.kind == "contact"]
