"""Calibration runs and acceptance tests of a log, against sums by hand and numpy's own line."""

from __future__ import annotations

import random
from collections.abc import Mapping

import numpy as np
import pytest

from rewire.bench.calibration import Calibration, calibration_of, judged, outcomes
from rewire.bench.record import record_of
from rewire.reading.benchlog import BenchLog, read_bench_log_text
from rewire.reading.read import read_text
from rewire.records.spec import Spec

RIGHT = {"RM": 100.0, "S1": 100.0 / 9.0, "S2": 100.0 / 99.0, "R3": 9900.0, "FS": 1e-3}
FULL = {"low": 10e-3, "high": 100e-3, "volts": 10.0}
ACCURACY = 2.0
SPEC = f"""
rewire: 1
title: t
controls: {{K: [LOW, HIGH, VOLTS]}}
points: {{P: {{}}, Q: {{chassis: yes}}, V: {{}}}}
parts:
  M1: {{meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 0 %, accuracy: {ACCURACY:g} %}}
  S1: {{resistor: {RIGHT["S1"]!r} ohm, tolerance: 0 %}}
  S2: {{resistor: {RIGHT["S2"]!r} ohm, tolerance: 0 %}}
  R3: {{resistor: 9900 ohm, tolerance: 0 %}}
readings:
  low: {{when: {{K: LOW}}, current: [P, Q], full_scale: 10 mA, scale: 0-10}}
  high: {{when: {{K: HIGH}}, current: [P, Q], full_scale: 100 mA, scale: 0-100}}
  volts: {{when: {{K: VOLTS}}, voltage: [V, Q], full_scale: 10 V, scale: 0-10}}
acceptance:
  - {{test: hum, expect: under 1 mV}}
  - {{test: power, expect: 20 W to 30 W}}
wirings:
  original: &wired
    parts: {{X1: {{switch: SP3T, control: K, contact_resistance: 0 ohm}}}}
    wires:
      - [P, M1.+]
      - [M1.-, Q]
      - [S1.1, P]
      - [S1.2, X1.A1]
      - [S2.1, P]
      - [S2.2, X1.A2]
      - [X1.A, Q]
      - [V, R3.1]
      - [R3.2, P]
  other: *wired
"""


def spec() -> Spec:
    return read_text(SPEC.encode())


def deflections(true: Mapping[str, float]) -> dict[str, float]:
    """Where the pointer stands at full scale of each reading: dividers, worked by hand."""
    rm, fs = true["RM"], true["FS"]
    return {
        "low": FULL["low"] * true["S1"] / (true["S1"] + rm) / fs,
        "high": FULL["high"] * true["S2"] / (true["S2"] + rm) / fs,
        "volts": FULL["volts"] / (true["R3"] + rm) / fs,
    }


def run(
    true: Mapping[str, float], rng: random.Random, noise: float = 0.0, zero: float = 0.0
) -> BenchLog:
    """A calibration run of a meter whose values are not those of the spec."""
    lines = []
    for name, slope in deflections(true).items():
        unit = "V" if name == "volts" else "A"
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            at = slope * share + zero + rng.uniform(-noise, noise)
            lines.append(
                f"  - {{reading: {name}, applied: {FULL[name] * share!r} {unit}, "
                f"indicated: {FULL[name] * at:.12f} {unit}}}\n"
            )
    text = "rewire_bench: 1\nwiring: other\ncalibration:\n" + "".join(lines)
    return read_bench_log_text(text.encode(), spec(), "log")


def judged_run(log: BenchLog) -> Calibration:
    whole = spec()
    return calibration_of(whole, whole.wirings["other"], log)


@pytest.mark.parametrize("seed", range(10))
def test_a_right_meter_passes_and_nothing_is_off(seed: int) -> None:
    found = judged_run(run(RIGHT, random.Random(seed), noise=0.003))
    assert found.passed
    assert not found.off
    assert found.explanations == ()


@pytest.mark.parametrize("seed", range(10))
def test_line_against_numpy(seed: int) -> None:
    rng = random.Random(seed)
    true = {key: value * rng.uniform(0.8, 1.2) for key, value in RIGHT.items()}
    log = run(true, rng, noise=0.02, zero=rng.uniform(-0.03, 0.03))
    for one in judged_run(log).runs:
        own = [entry for entry in log.calibration if entry.reading == one.reading]
        applied = np.array([entry.applied for entry in own]) / FULL[one.reading]
        indicated = np.array([entry.indicated for entry in own]) / FULL[one.reading]
        (slope, zero), covariance = np.polyfit(applied, indicated, 1, cov=True)
        rest = indicated - slope * applied - zero
        assert one.scale == pytest.approx(slope)
        assert one.zero_percent == pytest.approx(100.0 * zero, abs=1e-9)
        assert one.scale_sigma == pytest.approx(float(np.sqrt(covariance[0, 0])))
        assert one.linearity_percent == pytest.approx(100.0 * float(np.abs(rest).max()))


@pytest.mark.parametrize("seed", range(10))
def test_verdict_of_each_point(seed: int) -> None:
    """Values that are exact leave the meter's accuracy, in percent of full scale, alone."""
    rng = random.Random(seed)
    true = {key: value * rng.uniform(0.96, 1.04) for key, value in RIGHT.items()}
    found = judged_run(run(true, rng, noise=0.02))
    for one in found.runs:
        for point in one.points:
            off = 100.0 * (point.entry.indicated - point.entry.applied) / FULL[one.reading]
            assert point.error_percent == pytest.approx(off, abs=1e-9)
            assert point.passed == (abs(off) <= ACCURACY)
        assert one.passed == all(point.passed for point in one.points)


@pytest.mark.parametrize("seed", range(12))
def test_the_value_that_is_off_is_among_the_explanations(seed: int) -> None:
    """And whatever else is offered gives the same pointer in every reading, by hand."""
    rng = random.Random(seed)
    name = rng.choice(["S1", "S2", "R3", "RM", "FS"])
    factor = rng.choice([0.3, 0.7, 0.85, 1.2, 1.5, 4.0])
    true = {**RIGHT, name: RIGHT[name] * factor}
    found = judged_run(run(true, rng, noise=0.0005))
    assert found.off
    called = {"RM": "M1", "FS": "M1 full scale"}.get(name, name)
    offered = {one.name: one for one in found.explanations}
    assert offered[called].found == pytest.approx(true[name], rel=0.01)
    assert offered[called].off_percent == pytest.approx(100.0 * (factor - 1.0), abs=4.0)
    wanted = deflections(true)
    keys = {"M1": "RM", "M1 full scale": "FS"}
    for one in found.explanations:
        contact = {"X1.A–X1.A1": "S1", "X1.A–X1.A2": "S2"}.get(one.name)
        value = one.found + RIGHT[contact] if contact else one.found  # in series with its shunt
        there = deflections({**RIGHT, contact or keys.get(one.name, one.name): value})
        for reading, pointer in wanted.items():
            assert there[reading] == pytest.approx(pointer, rel=0.012), one


@pytest.mark.parametrize("seed", range(8))
def test_true_meter_resistance(seed: int) -> None:
    """Two shunts and a multiplier determine it, whatever the movement's sensitivity."""
    rng = random.Random(seed)
    true = {**RIGHT, "RM": rng.uniform(60.0, 160.0), "FS": RIGHT["FS"] * rng.uniform(0.9, 1.1)}
    (movement,) = judged_run(run(true, rng, noise=0.0005)).movements
    assert abs(movement.ohms - true["RM"]) <= max(3.0 * movement.sigma, 0.01 * true["RM"])


def test_two_values_off_are_not_explained_by_one() -> None:
    true = {**RIGHT, "S1": RIGHT["S1"] * 1.3, "R3": RIGHT["R3"] * 0.7}
    found = judged_run(run(true, random.Random(1)))
    assert found.off
    assert found.explanations == ()
    assert found.passed is False


@pytest.mark.parametrize(
    ("expect", "found", "passed"),
    [
        ("20 W to 30 W", "24 W", True), ("20 W to 30 W", "31 W", False),
        ("20 to 30 W", "20 W", True), ("30 W to 20 W", "25 W", True),
        ("36 W to 44 W", "40000 mW", True), ("80 mA to 0.1 A", "92 mA", True),
        ("-38 V to -35 V", "-36 V", True), ("-38 V to -35 V", "-34 V", False),
        ("1000 Hz to 1100 Hz", "1050 Hz", True), ("1000 Hz to 1100 Hz", "1.05 kHz", None),
        ("under 1 mV", "800 uV", True), ("at most 1 mV", "1.2 mV", False),
        ("at least 10 Mohm", "20 Mohm", True), ("over 2 V", "1 V", False),
        ("20 W to 30 W", "24 V", None), ("20 W to 30 W", "plenty", None),
        ("no hum", "pass", True), ("no hum", "failed", False), ("no hum", "a little", None),
        ("20 W to 30 W", "pass", True), ("3 to 5", "4", True), ("3 to 5", "4 V", None),
    ],
)  # fmt: skip
def test_acceptance(expect: str, found: str, passed: bool | None) -> None:
    assert judged(expect, found) is passed


def test_tests_that_are_left_out_are_told() -> None:
    text = "rewire_bench: 1\nwiring: other\nacceptance: [{test: power, found: 19 W}]\n"
    log = read_bench_log_text(text.encode(), spec(), "log")
    told = [(one.test.test, one.found is not None, one.passed) for one in outcomes(spec(), log)]
    assert told == [("hum", False, None), ("power", True, False)]


@pytest.mark.parametrize("seed", range(10))
def test_record_hides_nothing(seed: int) -> None:
    """Every line of a random log is in the record with its verdict, and so is what was left out."""
    rng = random.Random(seed)
    want = {"LOW": RIGHT["S1"] * 100.0 / (RIGHT["S1"] + 100.0), "HIGH": 100.0 / 100.0}
    lines: list[str] = []
    good: list[bool | None] = []
    for at, ohms in want.items():
        if rng.random() < 0.7:
            read = ohms * rng.choice([1.0, 1.0, 3.0])
            lines.append(f"  - {{when: {{K: {at}}}, between: [P, Q], found: {read!r} ohm}}\n")
            good.append(read == ohms)
        if rng.random() < 0.7:
            word = rng.choice(["open", "closed"])
            lines.append(f"  - {{when: {{K: {at}}}, between: [S1.2, Q], found: {word}}}\n")
            if at == "LOW":
                good.append(word == "closed")
            else:  # 12 ohm are there: a beep through them tells nothing
                good.append(None if word == "closed" else False)
    head = "rewire_bench: 1\nwiring: other\n"
    text = head + ("continuity:\n" + "".join(lines) if lines else "")
    log = read_bench_log_text(text.encode(), spec(), "log")
    record = record_of(spec(), log)
    assert [line.passed for line in record.lines] == good
    touched = {(line.state["K"], frozenset(line.found.between)) for line in record.lines}
    for probe in record.untouched:
        assert (probe.state["K"], frozenset(probe.between)) not in touched
    assert record.unread == ("low", "high", "volts")
    assert record.failures == good.count(False)
