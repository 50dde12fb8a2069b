"""Diodes across a meter, held to models of real ones.

Where the program gives a figure, it takes the diodes as open: with a diode's own curve the reading
lies within the worst case that it gives. Model parameters are from memory: what a diode has in
SPICE that states nothing, and a common small-signal type.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.simulator import engine, judge, told
from tests.simulator.readings import Taken

METERS = [
    ("50 uA", 1),
    ("50 uA", 2.5),
    ("50 uA", 3.2),
    ("50 uA", 7),
    ("200 uA", 0.6),
    ("1 mA", 0.1),
]


def spec(meter: str, kilohms: float) -> dict[str, Any]:
    """A voltmeter of 10 V with a silicon diode either way round across its meter."""
    amps = float(meter.split()[0]) * (1e-6 if "uA" in meter else 1e-3)
    wiring = {
        "parts": {
            "M1": {
                "meter": meter,
                "resistance": f"{kilohms} kohm",
                "resistance_tolerance": "1 %",
                "accuracy": "2 %",
            },
            "R1": {"resistor": f"{10 / amps - 1000 * kilohms:.6g} ohm", "tolerance": "1 %"},
            "D1": {"diode": "silicon"},
            "D2": {"diode": "silicon"},
        },
        "nets": [
            ["IN", "R1.1"],
            ["R1.2", "M1.+", "D1.A", "D2.K"],
            ["COM", "M1.-", "D1.K", "D2.A"],
        ],
    }
    return {
        "rewire": "1",
        "title": "Diodes across a meter",
        "points": {"IN": {}, "COM": {"chassis": "yes"}},
        "readings": {"v": {"voltage": ["IN", "COM"], "full_scale": "10 V"}},
        "wirings": {"original": wiring, "other": wiring},
    }


def with_curves(one: Taken, diode: str) -> float:
    """The meter's deflection, its diodes by their own curve."""
    values = one.rig.nominal
    circuit, nodes = one.circuit(values), one.net.merged(values)[1]
    ends = [(nodes(f"{name}.A"), nodes(f"{name}.K")) for name in ("D1", "D2")]
    [volts] = engine.volts([replace(circuit, silicon=ends)], diode)
    return float(one.through_meter(values, volts)) / float(one.meter_amps)


def answers(tmp_path: Path) -> list[tuple[Taken, dict[str, Any]]]:
    files = []
    for number, (meter, kilohms) in enumerate(METERS):
        files.append(tmp_path / f"{number}.yaml")
        files[-1].write_text(yaml.safe_dump(spec(meter, kilohms)), encoding="utf-8")
    return [
        (Taken(rig, "v", {}), result["readings"][0]) for rig, result in told.values_at_once(files)
    ]


@pytest.mark.parametrize("diode", ["ideal", "small"])
def test_a_figure_that_is_given_holds_with_real_diodes(diode: str, tmp_path: Path) -> None:
    trusted = 0
    for one, reading in answers(tmp_path):
        if reading["deflection"] is None:
            continue
        trusted += 1
        percent = 100.0 * (with_curves(one, diode) - 1.0)
        assert reading["worst_low_percent"] <= percent <= reading["worst_high_percent"]
    assert trusted >= 3


def test_no_figure_where_the_diodes_take_current(tmp_path: Path) -> None:
    """A 50 µA meter of 7 kΩ stands at 0.35 V: the small-signal type takes some % of its current."""
    refused = [(one, r) for one, r in answers(tmp_path) if r["deflection"] is None]
    assert refused
    worst = min(with_curves(one, "small") for one, _ in refused)
    assert worst < 0.95


PROTECTED = told.ROOT / "tests" / "values" / "numbers" / "p7-diodes.yaml"


def test_diodes_that_protect_a_meter_from_an_open_shunt() -> None:
    """A shunt opens: an ampere meets the diodes, which hold the meter to about ten times."""
    [(rig, result)] = [each for each in told.values([PROTECTED]) if each[0].name == "original"]
    [fault] = [f for f in result["faults"] if f["what"] == "RS open"]
    one = Taken(rig, "a", {}, judge.Upset(opened="RS"))
    real = with_curves(one, "small")
    assert fault["times_full_scale"] == pytest.approx(real, rel=0.4)
