"""Solved examples of books and manuals: each printed figure of worked-examples.json as a record.

``ours_*`` take what an example gives and return what the program makes of it, under the keys
that the example's answer has.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from functools import cache, partial
from pathlib import Path

from rewire.reading import read_text
from rewire.records.parts import COPPER
from rewire.values.answers import WiringValues
from rewire.values.meter_circuit import answer
from rewire.values.solved import solved_of
from rewire.words.quantity import with_unit
from rewire.words.wire import awg_diameter, ohms_per_metre
from tests.published.record import (
    Numbers,
    Record,
    exact_ohms,
    half_digit,
    movement,
    solved,
    spec_text,
)

EXAMPLES = json.loads((Path(__file__).parent / "worked-examples.json").read_text("utf-8"))
BY_ID: dict[str, Numbers] = {example["id"]: example for example in EXAMPLES}


def ids(topic: str) -> list[str]:
    return [example["id"] for example in EXAMPLES if example["topic"] == topic]


def ours_shunt(given: Numbers) -> Numbers:
    result = solved(
        [movement(given, "[IN, OUT]"), "R1: {resistor: fit, for: full, between: [IN, OUT]}"],
        [f"full: {{current: [IN, OUT], full_scale: {given['range_A']} A}}"],
    )
    stress = {part.part: part for part in result.parts}
    watts = {name: stress[name].watts or 0.0 for name in ("M1", "R1")}
    return {
        "shunt_ohms": exact_ohms(result)["R1"],
        "shunt_current_A": stress["R1"].amps,
        "meter_power_W": watts["M1"],
        "shunt_power_W": watts["R1"],
        "total_power_W": sum(watts.values()),
    }


def ours_multiplier(given: Numbers) -> Numbers:
    if "voltmeter_fs_V" in given:
        renamed = {"meter_fs_V": given["voltmeter_fs_V"], "meter_ohms": given["voltmeter_ohms"]}
        given = {**renamed, "range_V": given["range_V"]}
    if "range_4_V" in given:
        return ours_chain(given)
    found: Numbers = {}
    for key in [key for key in given if key.startswith("range")]:
        result = solved(
            [movement(given, "[FOOT, OUT]"), "R1: {resistor: fit, for: v, between: [IN, FOOT]}"],
            [f"v: {{voltage: [IN, OUT], full_scale: {given[key]} V}}"],
            "IN: {}, OUT: {}, FOOT: {}",
        )
        answer = key.replace("range", "multiplier").replace("_V", "_ohms")
        found[answer] = exact_ohms(result)["R1"]
        found["meter_fs_A"] = result.readings[0].meter_amps
    return found


def ours_chain(given: Numbers) -> Numbers:
    count = sum(key.startswith("range") for key in given)
    below = ["FOOT", *(f"TAP{n}" for n in range(1, count + 1))]
    parts = [movement(given, "[FOOT, OUT]")]
    readings = []
    for n in range(1, count + 1):
        parts.append(f"R{n}: {{resistor: fit, for: v{n}, between: [{below[n]}, {below[n - 1]}]}}")
        volts = given[f"range_{n}_V"]
        readings.append(f"v{n}: {{voltage: [TAP{n}, OUT], full_scale: {volts} V}}")
    points = ", ".join(f"{point}: {{}}" for point in ("OUT", *below))
    found = exact_ohms(solved(parts, readings, points))
    return {f"step_{n}_ohms": found[f"R{n}"] for n in range(1, count + 1)}


def ours_ayrton(given: Numbers) -> Numbers:
    """Segment a lies between the common end and the tap of the highest range."""
    ranges = sorted((v for k, v in given.items() if k.startswith("range")), reverse=True)
    below = ["OUT", *(f"TAP{n}" for n in range(1, len(ranges) + 1))]
    parts = [movement(given, f"[{below[-1]}, OUT]")]
    readings = []
    for n, amps in enumerate(ranges, 1):
        parts.append(f"R{n}: {{resistor: fit, for: i{n}, between: [{below[n]}, {below[n - 1]}]}}")
        readings.append(f"i{n}: {{current: [TAP{n}, OUT], full_scale: {amps} A}}")
    found = exact_ohms(solved(parts, readings, ", ".join(f"{point}: {{}}" for point in below)))
    segments = {f"seg_{'abc'[n - 1]}_ohms": found[f"R{n}"] for n in range(1, len(ranges) + 1)}
    return {**segments, "total_ohms": sum(found.values())}


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
    worked = solved_of(spec, spec.original)
    circuit = worked.setups["full"].circuit
    warm = [
        ohms * (1.0 + kelvin * per_kelvin.get(value.part, 0.0))
        for value, ohms in zip(worked.network.values, worked.known, strict=True)
    ]
    hot, cold = (float(answer(circuit, ohms).amps[0]) for ohms in (warm, worked.known))
    return 100.0 * (hot / cold - 1.0)


def ours_swamping(given: Numbers) -> Numbers:
    if not given["swamp_ohms"]:
        alphas = {"M1": given["alpha_copper_per_K"], "R1": given["alpha_manganin_per_K"]}
        return {"error_percent": warm_shunted(given, alphas, given["delta_T_K"])}
    alpha = 1.0 / (given["temp_cold_C"] - given["copper_inferred_zero_C"])
    rise = given["temp_hot_C"] - given["temp_cold_C"]
    per_kelvin = {"M1": alpha, "R2": given["alpha_swamp_per_K"]}
    return {"error_percent": warm_shunted(given, per_kelvin, rise)}


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
    return float((result.readings[0].deflection or 0.0) * given["range_V"])


def ours_loading(given: Numbers) -> Numbers:
    true = indicated(given, 1e14)
    found: Numbers = {"true_V": true}
    for suffix in ("", "_1", "_2"):
        if f"sens{suffix}_ohms_per_V" in given:
            volts = indicated(given, given[f"sens{suffix}_ohms_per_V"] * given["range_V"])
            found[f"reading{suffix}_V"] = volts
            found[f"error{suffix}_percent"] = 100 * (1 - volts / true)
    return found


def ours_insertion(given: Numbers) -> Numbers:
    load = f"R1: {{resistor: {given['load_ohms']} ohm, between: [IN, MID]}}"
    reading = [f"i: {{voltage: [IN, OUT], full_scale: {given['supply_V']} V}}"]

    def with_meter(ohms: float) -> WiringValues:
        meter = (
            f"M1: {{meter: {given['ammeter_fs_A']} A, resistance: {ohms} ohm, between: [MID, OUT]}}"
        )
        return solved([load, meter], reading, "IN: {}, OUT: {}, MID: {}")

    result = with_meter(given["ammeter_ohms"])
    watts = {part.part: part.watts for part in result.parts}
    return {
        "expected_A": with_meter(0).readings[0].meter_amps,
        "actual_A": result.readings[0].meter_amps,
        "ammeter_power_W": watts["M1"],
        "load_power_W": watts["R1"],
    }


def ours_wire(given: Numbers) -> Numbers:
    if "awg" not in given:
        return {"alpha_per_K": COPPER}
    gauge = given["awg"]
    return {"diameter_m": awg_diameter(gauge), "ohms_per_m": ohms_per_metre(gauge)}


def ours_level(given: Numbers) -> Numbers:
    """The level that a meter of 7500 ohm in all stands for, back from its full-scale voltage."""
    level = given.get("level_dB_above_1mW_in_600_ohms")
    if level is None:
        return {}
    zero = math.sqrt(1e-3 * given["load_ohms"]) * 10 ** (level / 20)
    result = solved(
        [
            "M1: {meter: 200 uA, resistance: 3900 ohm, between: [FOOT, OUT]}",
            "R1: {resistor: 3600 ohm, between: [IN, FOOT]}",
        ],
        [f"zero: {{voltage: [IN, OUT], full_scale: {zero} V}}"],
        "IN: {}, OUT: {}, FOOT: {}",
    )
    return {"zero_vu_V": (result.readings[0].meter_amps or 0.0) * 7500.0}


def ours_class(given: Numbers) -> Numbers:
    """The limit of error is a share of full scale, whatever the range."""
    found: Numbers = {}
    for n in (1, 2):
        amps = given[f"range_{n}_A"]
        result = solved(
            [
                "M1: {meter: 1 mA, resistance: 60 ohm, resistance_tolerance: 0 %, "
                f"accuracy: {given['class_index']} %, between: [IN, OUT]}}",
                "R1: {resistor: fit, for: full, tolerance: 0 %, between: [IN, OUT]}",
            ],
            [f"full: {{current: [IN, OUT], full_scale: {amps} A}}"],
        )
        off = (result.readings[0].worst_high_percent or 0.0) / 100
        found[f"max_error_{n}_A"] = off * amps
        found["max_error_divisions"] = off * given["scale_divisions"]
    return found


OURS: dict[str, Callable[[Numbers], Numbers]] = {
    "shunt": ours_shunt, "multiplier": ours_multiplier, "ayrton": ours_ayrton,
    "swamping": ours_swamping, "loading": ours_loading, "insertion": ours_insertion,
    "wire": ours_wire, "vu": ours_level, "class": ours_class,
}  # fmt: skip
_UNITS = {"ohms": "Ω", "A": "A", "V": "V", "W": "W", "percent": "%", "m": "Ω/m", "K": "/K"}
_GIVEN = {"ohms": "Ω", "A": "A", "V": "V", "C": " °C", "K": " K", "Hz": "Hz"}
_ROUNDED = {"alpha_per_K"}
"""Where the program holds the rounded figure, as the trade does."""
_SHARE = 0.02
"""A print is never taken to be coarser than this, however few digits it has."""
LOOSE = {
    "error_percent": 3e-3, "alpha_per_K": 5e-6, "actual_A": 5e-6, "ohms_per_m": 7e-5,
    "max_error_divisions": 1e-6,
}  # fmt: skip
"""Where the source rounded on the way, and by how much the print may be off for it."""


@cache
def answered(name: str) -> Numbers:
    """What the program answers to one example."""
    return OURS[BY_ID[name]["topic"]](BY_ID[name]["given"])


def worked() -> Iterator[Record]:
    """Every printed figure that the program answers."""
    for example in EXAMPLES:
        if example["topic"] not in OURS:
            continue
        for key, printed in example["answer"].items():
            if key in answered(example["id"]):
                yield _record(example, key, printed)


def _record(example: Numbers, key: str, printed: float) -> Record:
    name = example["id"]
    exact = example["recomputed"].get(key)
    within = max(min(half_digit(printed), _SHARE * abs(printed)), LOOSE.get(key, 0.0))
    off = exact is not None and abs(exact - printed) > within
    given = ", ".join(said(k, v) for k, v in example["given"].items())
    return Record(
        topic=example["topic"],
        source=example["source"],
        known=example["known"],
        what=f"{named(key)}, from {given}",
        published=printed,
        ours=partial(_ours, name, key),
        unit=_UNITS.get(key.rpartition("_")[2], "divisions"),
        within=within,
        looser="the source rounded on the way" if within > half_digit(printed) else None,
        exact=None if key in _ROUNDED else exact,
        departs=_why(example) if off else None,
    )


def named(key: str) -> str:
    """What a key of an answer asks for, without its unit."""
    if "_per_" in key:
        return {"ohms_per_m": "resistance", "alpha_per_K": "temperature coefficient"}[key]
    return key.rpartition("_")[0].replace("_", " ").replace(" fs", " full scale")


def said(key: str, value: float) -> str:
    """One given figure in words.

    >>> said("meter_fs_A", 0.001), said("sens_1_ohms_per_V", 20e3), said("awg", 16)
    ('meter full scale 1 mA', 'sens 1 20 kΩ/V', 'awg 16')
    """
    words, _, last = key.rpartition("_")
    if key.endswith("_ohms_per_V"):
        words = key.removesuffix("_ohms_per_V").replace("_", " ")
        return f"{words} {with_unit(value, 'Ω')}/V"
    words = words.replace("_per", "").replace("_", " ").replace(" fs", " full scale")
    if key.startswith("level_dB"):
        return f"{value:g} dB over 1 mW in 600 Ω"
    words += ":" if words[-1:].isdigit() else ""
    if last not in _GIVEN:
        return f"{key.replace('_', ' ')} {value:g}"
    unit = _GIVEN[last]
    if key.startswith("alpha"):
        return f"{words} {value:g} /K"
    return f"{words} {value:g}{unit}" if unit[0] == " " else f"{words} {with_unit(value, unit)}"


def _ours(name: str, key: str) -> float:
    return float(answered(name)[key])


def _why(example: Numbers) -> str:
    told = example["note"].partition("] ")[2].removeprefix("DISAGREES").lstrip(": ")
    told = told.partition(" Figure read")[0].partition(" FLAG")[0]
    return str(told.removeprefix("(rounding): ").removeprefix("(method): "))
