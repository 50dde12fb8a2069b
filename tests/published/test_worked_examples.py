"""Published figures, each through a spec and the solver.

``worked-examples.json`` names the source of every figure, what was printed there, and what exact
arithmetic gives. The bar is ``recomputed``; where a print differs from it (its note begins with
``[disagrees]``), the test says by how much, so that a print that agreed would fail.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rewire.spec import read_text
from rewire.spec.colours import COLOURS
from rewire.values import WiringValues, values_of
from rewire.values.assemble import work_out
from rewire.values.choosing import SERIES, neighbours
from rewire.values.warmth import COPPER, warmed
from rewire.values.wire import awg_diameter, ohms_per_metre

EXAMPLES = json.loads((Path(__file__).parent / "worked-examples.json").read_text("utf-8"))
BY_ID = {example["id"]: example for example in EXAMPLES}
Numbers = dict[str, Any]
EXACT = 6e-7
"""The recomputed figures are printed to seven digits."""


def ids(topic: str) -> list[str]:
    return [example["id"] for example in EXAMPLES if example["topic"] == topic]


def spec_text(parts: str, readings: str, points: str = "IN: {}, OUT: {}") -> str:
    """A spec of one wiring without a switch."""
    return (
        f"rewire: 1\ntitle: worked example\npoints: {{{points}}}\nreadings:\n{readings}\n"
        f"wirings:\n  original:\n    parts:\n{parts}\n  other:\n    parts:\n{parts}\n"
    )


def solved(parts: list[str], readings: list[str], points: str = "IN: {}, OUT: {}") -> WiringValues:
    text = spec_text(
        "\n".join(f"      {part}" for part in parts),
        "\n".join(f"  {reading}" for reading in readings),
        points,
    )
    return values_of(read_text(text.encode()))[0]


def movement(given: Numbers, between: str) -> str:
    scale = f"{given['meter_fs_A']} A" if "meter_fs_A" in given else f"{given['meter_fs_V']} V"
    return f"M1: {{meter: {scale}, resistance: {given['meter_ohms']} ohm, between: {between}}}"


def exact_ohms(result: WiringValues) -> dict[str, float]:
    return {fit.part: fit.exact_ohms for fit in result.fits if fit.exact_ohms is not None}


def agrees_with_print(example: Numbers, key: str, found: float) -> None:
    """A print is right to half a unit of its last digit, unless the note says that it is not."""
    printed = example["answer"][key]
    digits = len(repr(float(printed)).split(".")[1].removesuffix("0"))
    close = abs(found - printed) <= 0.501 * 10.0**-digits
    assert close != example["note"].startswith("[disagrees]"), (key, found, printed)


@pytest.mark.parametrize("name", ids("shunt"))
def test_shunt(name: str) -> None:
    example = BY_ID[name]
    given, exact = example["given"], example["recomputed"]
    result = solved(
        [movement(given, "[IN, OUT]"), "R1: {resistor: fit, for: full, between: [IN, OUT]}"],
        [f"full: {{current: [IN, OUT], full_scale: {given['range_A']} A}}"],
    )
    ohms = exact_ohms(result)["R1"]
    assert ohms == pytest.approx(exact["shunt_ohms"], rel=EXACT)
    agrees_with_print(example, "shunt_ohms", ohms)
    stress = {part.part: part for part in result.parts}
    if "shunt_current_A" in exact:
        assert stress["R1"].amps == pytest.approx(exact["shunt_current_A"], rel=EXACT)
    if "total_power_W" in exact:
        watts = [stress[part].watts for part in ("M1", "R1")]
        assert watts == pytest.approx([exact["meter_power_W"], exact["shunt_power_W"]], rel=1e-5)
        assert sum(w for w in watts if w) == pytest.approx(exact["total_power_W"], rel=EXACT)


@pytest.mark.parametrize("name", [n for n in ids("multiplier") if "chain" not in n])
def test_multiplier(name: str) -> None:
    example = BY_ID[name]
    given, exact = example["given"], example["recomputed"]
    if "voltmeter_fs_V" in given:
        given = {"meter_fs_V": given["voltmeter_fs_V"], "meter_ohms": given["voltmeter_ohms"],
                 "range_V": given["range_V"]}  # fmt: skip
    for key, volts in given.items():
        if not key.startswith("range"):
            continue
        result = solved(
            [movement(given, "[FOOT, OUT]"), "R1: {resistor: fit, for: v, between: [IN, FOOT]}"],
            [f"v: {{voltage: [IN, OUT], full_scale: {volts} V}}"],
            "IN: {}, OUT: {}, FOOT: {}",
        )
        answer = key.replace("range", "multiplier").replace("_V", "_ohms")
        assert exact_ohms(result)["R1"] == pytest.approx(exact[answer], rel=EXACT)
        assert exact_ohms(result)["R1"] == pytest.approx(example["answer"][answer], rel=1e-3)
        if "meter_fs_A" in exact:
            assert result.readings[0].meter_amps == pytest.approx(exact["meter_fs_A"], rel=EXACT)


@pytest.mark.parametrize("name", [n for n in ids("multiplier") if "chain" in n])
def test_chain_of_multipliers(name: str) -> None:
    example = BY_ID[name]
    given, exact = example["given"], example["recomputed"]
    count = sum(key.startswith("range") for key in given)
    below = ["FOOT", *(f"TAP{n}" for n in range(1, count + 1))]
    parts = [movement(given, "[FOOT, OUT]")]
    readings = []
    for n in range(1, count + 1):
        ends = f"[{below[n]}, {below[n - 1]}]"
        parts.append(f"R{n}: {{resistor: fit, for: v{n}, between: {ends}}}")
        volts = given[f"range_{n}_V"]
        readings.append(f"v{n}: {{voltage: [TAP{n}, OUT], full_scale: {volts} V}}")
    points = ", ".join(f"{point}: {{}}" for point in ("OUT", *below))
    found = exact_ohms(solved(parts, readings, points))
    for n in range(1, count + 1):
        assert found[f"R{n}"] == pytest.approx(exact[f"step_{n}_ohms"], rel=EXACT)
        assert found[f"R{n}"] == pytest.approx(example["answer"][f"step_{n}_ohms"], rel=1e-3)


@pytest.mark.parametrize("name", ids("ayrton"))
def test_shunt_with_taps(name: str) -> None:
    """Segment a lies between the common end and the tap of the highest range."""
    example = BY_ID[name]
    given, exact = example["given"], example["recomputed"]
    ranges = sorted((v for k, v in given.items() if k.startswith("range")), reverse=True)
    below = ["OUT", *(f"TAP{n}" for n in range(1, len(ranges) + 1))]
    parts = [movement(given, f"[{below[-1]}, OUT]")]
    readings = []
    for n, amps in enumerate(ranges, 1):
        parts.append(f"R{n}: {{resistor: fit, for: i{n}, between: [{below[n]}, {below[n - 1]}]}}")
        readings.append(f"i{n}: {{current: [TAP{n}, OUT], full_scale: {amps} A}}")
    result = solved(parts, readings, ", ".join(f"{point}: {{}}" for point in below))
    found = exact_ohms(result)
    for n, segment in enumerate("abc"[: len(ranges)], 1):
        assert found[f"R{n}"] == pytest.approx(exact[f"seg_{segment}_ohms"], rel=EXACT)
    assert sum(found.values()) == pytest.approx(exact["total_ohms"], rel=EXACT)
    printed = [example["answer"][f"seg_{segment}_ohms"] for segment in "abc"]
    close = np.allclose(printed, [found[f"R{n}"] for n in (1, 2, 3)], rtol=2e-5, atol=0)
    assert close != example["note"].startswith("[disagrees]")


def warm_shunted(given: Numbers, per_kelvin: dict[str, float], kelvin: float) -> float:
    """Change of a shunted meter, percent; the swamping resistor is left out where it is 0."""
    swamp = given["swamp_ohms"]
    foot = "[FOOT, OUT]" if swamp else "[IN, OUT]"
    parts = [
        f"M1: {{meter: {given['meter_fs_A']} A, resistance: {given['copper_ohms']} ohm, "
        f"between: {foot}}}",
        "R1: {resistor: fit, for: full, between: [IN, OUT]}",
    ]
    if swamp:
        parts.append(f"R2: {{resistor: {swamp} ohm, between: [IN, FOOT]}}")
    text = spec_text(
        "\n".join(f"      {part}" for part in parts),
        f"  full: {{current: [IN, OUT], full_scale: {given['range_A']} A}}",
        "IN: {}, OUT: {}, FOOT: {}",
    )
    spec = read_text(text.encode())
    worked = work_out(spec, spec.original)
    circuit = worked.setups["full"].circuit
    return warmed(worked.board, circuit, worked.known, kelvin, per_kelvin)


def test_no_swamping() -> None:
    example = BY_ID["swamping-bakshi-3-23-none"]
    given = example["given"]
    alphas = {"M1": given["alpha_copper_per_K"], "R1": given["alpha_manganin_per_K"]}
    error = warm_shunted(given, alphas, given["delta_T_K"])
    assert error == pytest.approx(example["recomputed"]["error_percent"], abs=1e-6)
    assert error == pytest.approx(example["answer"]["error_percent"], abs=5e-4)


def test_swamping() -> None:
    example = BY_ID["swamping-companion-1370-6-11-ammeter"]
    given, exact = example["given"], example["recomputed"]
    alpha = 1.0 / (given["temp_cold_C"] - given["copper_inferred_zero_C"])
    rise = given["temp_hot_C"] - given["temp_cold_C"]
    assert given["copper_ohms"] * (1 + alpha * rise) == pytest.approx(exact["hot_copper_ohms"])
    error = warm_shunted(given, {"M1": alpha, "R2": given["alpha_swamp_per_K"]}, rise)
    assert error == pytest.approx(exact["error_percent"], abs=1e-6)
    assert error == pytest.approx(example["answer"]["error_percent"], abs=3e-3)


def indicated(given: Numbers, meter_ohms: float) -> float:
    """Volts that a voltmeter shows across the load of a divider."""
    result = solved(
        [
            f"R1: {{resistor: {given['series_ohms']} ohm, between: [IN, TAP]}}",
            f"R2: {{resistor: {given['load_ohms']} ohm, between: [TAP, OUT]}}",
            f"M1: {{meter: {given['range_V']} V, resistance: {meter_ohms} ohm, "
            "between: [TAP, OUT]}",
        ],
        [f"v: {{voltage: [IN, OUT], full_scale: {given['supply_V']} V}}"],
        "IN: {}, OUT: {}, TAP: {}",
    )
    deflection = result.readings[0].deflection
    assert deflection is not None
    return deflection * given["range_V"]


@pytest.mark.parametrize("name", ids("loading"))
def test_a_voltmeter_loads_what_it_measures(name: str) -> None:
    example = BY_ID[name]
    given, exact, printed = example["given"], example["recomputed"], example["answer"]
    true = indicated(given, 1e12)
    assert true == pytest.approx(exact["true_V"], rel=EXACT)
    agreed = []
    for suffix in ("", "_1", "_2"):
        if f"sens{suffix}_ohms_per_V" not in given:
            continue
        volts = indicated(given, given[f"sens{suffix}_ohms_per_V"] * given["range_V"])
        assert volts == pytest.approx(exact[f"reading{suffix}_V"], rel=EXACT)
        agreed.append(abs(volts - printed[f"reading{suffix}_V"]) <= 0.00501)
        if f"error{suffix}_percent" in exact:
            error = 100 * (1 - volts / true)
            assert error == pytest.approx(exact[f"error{suffix}_percent"], abs=1e-5)
    assert all(agreed) != example["note"].startswith("[disagrees]")


def test_an_ammeter_takes_its_share() -> None:
    example = BY_ID["insertion-bird-10-4"]
    given, exact = example["given"], example["recomputed"]
    load = f"R1: {{resistor: {given['load_ohms']} ohm, between: [IN, MID]}}"
    reading = [f"i: {{voltage: [IN, OUT], full_scale: {given['supply_V']} V}}"]
    points = "IN: {}, OUT: {}, MID: {}"

    def with_meter(ohms: float) -> WiringValues:
        meter = (
            f"M1: {{meter: {given['ammeter_fs_A']} A, resistance: {ohms} ohm, between: [MID, OUT]}}"
        )
        return solved([load, meter], reading, points)

    assert with_meter(0).readings[0].meter_amps == pytest.approx(exact["expected_A"], rel=EXACT)
    result = with_meter(given["ammeter_ohms"])
    assert result.readings[0].meter_amps == pytest.approx(exact["actual_A"], rel=EXACT)
    watts = {part.part: part.watts for part in result.parts}
    assert watts["M1"] == pytest.approx(exact["ammeter_power_W"], rel=EXACT)
    assert watts["R1"] == pytest.approx(exact["load_power_W"], rel=EXACT)
    assert exact["actual_A"] == pytest.approx(example["answer"]["actual_A"], abs=5e-6)


@pytest.mark.parametrize("name", [n for n in ids("wire") if "awg" in n])
def test_wire(name: str) -> None:
    example = BY_ID[name]
    gauge, exact = example["given"]["awg"], example["recomputed"]
    assert awg_diameter(gauge) == pytest.approx(exact["diameter_m"], rel=EXACT)
    assert ohms_per_metre(gauge) == pytest.approx(exact["ohms_per_m"], rel=EXACT)
    assert ohms_per_metre(gauge) == pytest.approx(example["answer"]["ohms_per_m"], rel=2e-4)


def test_copper_and_temperature() -> None:
    example = BY_ID["wire-copper-temperature-coefficient"]
    given = example["given"]
    alpha = 1.0 / (given["temperature_C"] - given["inferred_zero_C"])
    assert alpha == pytest.approx(example["recomputed"]["alpha_per_K"], rel=1e-6)
    assert COPPER == example["answer"]["alpha_per_K"] == round(alpha, 5)


@pytest.mark.parametrize("name", ids("eseries"))
def test_preferred_values(name: str) -> None:
    """Each value of the decade is its own nearest; half way between two, both are offered."""
    decade = BY_ID[name]["answer"]["decade"]
    series = name.split("-")[1].upper()
    assert len(decade) == BY_ID[name]["given"]["values_per_decade"]
    assert series in SERIES
    for value, after in zip(decade, [*decade[1:], 10.0], strict=True):
        for power in (-1, 0, 4):
            scale = 10.0**power
            assert neighbours(series, value * scale) == pytest.approx((value * scale,))
            between = math.sqrt(value * after) * scale
            assert neighbours(series, between) == pytest.approx((value * scale, after * scale))


def test_preferred_values_of_24_depart_from_the_formula() -> None:
    exact = BY_ID["eseries-e24"]["recomputed"]
    formula = [round(10 ** (n / 24), 1) for n in range(24)]
    departing = [v for n, v in enumerate(formula) if neighbours("E24", v) != (v,)]
    assert formula == exact["geometric_rounded"]
    assert len(departing) == len(exact["differs_from_geometric"])


def test_colour_letters() -> None:
    codes = BY_ID["colour-iec-60757"]["answer"]["codes"]
    single = {code: name for code, name in codes.items() if len(code) == 2}
    assert {code: COLOURS[code] for code in single} == single


@pytest.mark.parametrize("name", ids("definition"))
def test_shorting_and_non_shorting(name: str) -> None:
    """The meter's fate between two shunts tells which contact lets go first."""
    example = BY_ID[name]["recomputed"]
    through = {timing: between_two_shunts(timing) for timing in ("shorting", "non-shorting")}
    assert (through["non-shorting"] > 1.05) == example["nonshorting_gap"]
    assert (through["shorting"] <= 1.0 + 1e-9) == example["shorting_overlap"]
    # With no shunt at all the movement takes all of the 100 mA.
    assert through["non-shorting"] == pytest.approx(100.0, rel=1e-6)


def between_two_shunts(timing: str) -> float:
    text = f"""
rewire: 1
title: two shunts
controls: {{RANGE: [LOW, HIGH]}}
points: {{IN: {{}}, OUT: {{}}}}
parts:
  M1: {{meter: 1 mA, resistance: 100 ohm, between: [IN, OUT]}}
  R1: {{resistor: 11.111111 ohm, between: [IN, S1.A1]}}
  R2: {{resistor: 1.010101 ohm, between: [IN, S1.A2]}}
  S1: {{switch: SP2T, control: RANGE, timing: {timing}}}
readings:
  low: {{when: {{RANGE: LOW}}, current: [IN, OUT], full_scale: 10 mA}}
  high: {{when: {{RANGE: HIGH}}, current: [IN, OUT], full_scale: 100 mA}}
wirings:
  original: {{wires: [[S1.A, OUT]]}}
  other: {{wires: [[S1.A, OUT]]}}
"""
    moments = values_of(read_text(text.encode()))[0].switching
    return max(
        moment.times_full_scale or 0.0 for moment in moments
        if timing == "non-shorting" or moment.reading == "low"
    )  # fmt: skip


def test_volume_indicator() -> None:
    """Zero VU is 4 dB over a milliwatt in 600 ohm; with +3 at full scale it stands at 71 %."""
    level, scale = BY_ID["vu-reference-level"], BY_ID["vu-ballistics-and-scale"]
    given = level["given"]
    milliwatt = math.sqrt(1e-3 * given["load_ohms"])
    zero = milliwatt * 10 ** (given["level_dB_above_1mW_in_600_ohms"] / 20)
    assert zero == pytest.approx(level["recomputed"]["zero_vu_V"], rel=1e-6)
    top = zero * 10 ** (scale["answer"]["scale_max_vu"] / 20)
    result = solved(
        [
            f"M1: {{meter: {scale['answer']['movement_fs_A']} A, resistance: 3900 ohm, "
            "between: [FOOT, OUT]}",
            "R1: {resistor: fit, for: plus3, between: [IN, FOOT]}",
        ],
        [
            f"plus3: {{voltage: [IN, OUT], full_scale: {top} V, ac: yes}}",
            f"zero: {{voltage: [IN, OUT], full_scale: {zero} V, ac: yes}}",
        ],
        "IN: {}, OUT: {}, FOOT: {}",
    )
    stands = result.readings[1].deflection
    exact = scale["recomputed"]["zero_vu_fraction_of_fs_if_plus3_is_fs"]
    assert stands == pytest.approx(exact, rel=1e-6)
    assert "rms" in (result.readings[1].note or "")


def test_class_index() -> None:
    """The limit of error is a share of full scale, whatever the range."""
    example = BY_ID["class-index-worked"]
    given, exact = example["given"], example["recomputed"]
    for n in (1, 2):
        amps = given[f"range_{n}_A"]
        result = solved(
            [
                f"M1: {{meter: 1 mA, resistance: 60 ohm, accuracy: {given['class_index']} %, "
                "between: [IN, OUT]}",
                "R1: {resistor: fit, for: full, between: [IN, OUT]}",
            ],
            [f"full: {{current: [IN, OUT], full_scale: {amps} A}}"],
        )
        one = result.readings[0]
        assert one.worst_high_percent is not None
        assert one.worst_low_percent == pytest.approx(-one.worst_high_percent, abs=1e-9)
        off = one.worst_high_percent / 100
        assert off * amps == pytest.approx(exact[f"max_error_{n}_A"], rel=1e-6)
        divisions = off * given["scale_divisions"]
        assert divisions == pytest.approx(exact["max_error_divisions"], rel=1e-6)


TESTED: dict[str, Callable[..., None]] = {
    "shunt": test_shunt, "multiplier": test_multiplier, "ayrton": test_shunt_with_taps,
    "swamping": test_swamping, "loading": test_a_voltmeter_loads_what_it_measures,
    "insertion": test_an_ammeter_takes_its_share, "wire": test_wire,
    "eseries": test_preferred_values, "colour": test_colour_letters,
    "definition": test_shorting_and_non_shorting, "vu": test_volume_indicator,
    "class": test_class_index,
}  # fmt: skip


def test_every_topic_has_its_test() -> None:
    assert {example["topic"] for example in EXAMPLES} == set(TESTED)
