"""The volts at each lug: sums by hand, and random circuits against a nodal matrix."""

from __future__ import annotations

import random
from itertools import product
from typing import Any

import numpy as np
import pytest

from rewire.records.spec import Spec
from rewire.values.solved import lug_volts
from rewire.values.sources import LugVolts
from tests.reading.builders import read

HIGH = 50.0


def multiplier(**more: Any) -> dict[str, Any]:
    """600 V over 60 kohm and a meter of 10 mA, with the meter's return over pole B."""
    return {
        "rewire": "1",
        "title": "multiplier",
        "controls": {"K": ["HT", "GRID"]},
        "points": {
            "CH": {"chassis": "yes"},
            "HT": {"volts": "600 V", "rises_to": "680 V"},
            "GRID": {"volts": "-1 V"},
        },
        "wirings": {
            "original": {
                "parts": {
                    "S1": {"switch": "DPDT", "control": "K"},
                    "M1": {"meter": "10 mA", "resistance": "10 ohm"},
                    "R8": {"resistor": "60 kohm", **more},
                },
                "wires": [
                    ["HT", "R8.1"], ["R8.2", "S1.A1"], ["GRID", "S1.A2"], ["S1.A", "M1.+"],
                    ["M1.-", "S1.B"], ["S1.B1", "CH"], ["S1.B2", "CH"],
                ],
            },
            "substitute": {},
        },
    }  # fmt: skip


def volts_of(spec: Spec, wiring: str = "original") -> dict[str, LugVolts]:
    return lug_volts(spec, spec.wirings[wiring])


def test_an_open_multiplier_has_the_full_volts_at_its_low_end() -> None:
    """Ohm's law: no current, no drop over 60 kohm. The meter floats up with it."""
    found = volts_of(read(multiplier()))
    for lug in ("R8.2", "S1.A1", "S1.A", "M1.+", "M1.-", "S1.B"):
        assert found[lug].volts == pytest.approx(680.0, rel=1e-3), lug
        assert found[lug].point is None
    assert found["R8.1"].said == "680 V (HT)"
    assert found["R8.2"].said == "680 V, through parts"
    assert not found.keys() & {"CH", "S1.B1", "S1.B2", "GRID", "S1.A2"}


@pytest.mark.parametrize("ohms", ["fitted", "unknown"])
def test_an_unknown_resistor_holds_nothing_back(ohms: str) -> None:
    spec = multiplier()
    parts = spec["wirings"]["original"]["parts"]
    if ohms == "unknown":
        parts["M1"] = {"meter": "10 mA"}
    else:
        spec["readings"] = {
            "r": {"voltage": ["HT", "CH"], "full_scale": "600 V", "when": {"K": "HT"}}
        }
        parts["R8"] = {"resistor": "fit", "for": "r"}
    assert volts_of(read(spec))["M1.-"].volts == pytest.approx(680.0, rel=1e-3)


def test_without_a_chassis_every_part_passes_all_volts_on() -> None:
    spec = multiplier()
    spec["points"]["CH"] = {}
    assert volts_of(read(spec))["M1.-"].volts == 680.0


@pytest.mark.parametrize(("volts", "needs"), [
    ("540 V", "insulation 600 V or more"), ("600 V", "insulation 600 V or more"),
    ("-3.2 kV", "insulation 5 kV or more"), ("601 V", "insulation 1 kV or more"),
    ("50 V", "insulation 300 V or more"), ("60 kV", "insulation for more than 60 kV"),
])  # fmt: skip
def test_a_wire_needs_the_next_usual_rating(volts: str, needs: str) -> None:
    """300, 600, 1000 V and 5 kV: usual ratings of wire, common practice, no source."""
    spec = multiplier()
    spec["points"]["HT"] = {"volts": volts}
    assert volts_of(read(spec))["HT"].insulation == needs


def test_a_diode_passes_volts_on_and_a_capacitor_only_those_of_ac() -> None:
    spec = multiplier()
    spec["points"]["MAINS"] = {"volts": "230 V", "ac": "yes"}
    spec["points"] |= {"X": {}, "Y": {}, "Z": {}}
    spec["wirings"]["original"]["parts"] |= {
        "D1": {"diode": "silicon", "between": ["HT", "X"]},
        "C1": {"capacitor": "10 nF", "between": ["HT", "Y"]},
        "C2": {"capacitor": "10 nF", "between": ["MAINS", "Z"]},
    }
    found = volts_of(read(spec))
    assert found["X"].volts == 680.0
    assert "Y" not in found
    assert found["Z"].said == "230 V AC, through parts"


def test_volts_of_dc_and_of_ac_on_one_lug_add_up() -> None:
    """Half of 80 V and half of 60 V rms by two equal resistors: 70 V, though neither is 50 V."""
    spec = {
        "rewire": "1", "title": "both", "controls": {"K": ["P", "Q"]},
        "points": {"CH": {"chassis": "yes"}, "DC": {"volts": "80 V"},
                   "AC": {"volts": "60 V", "ac": "yes"}},
        "wirings": {
            "original": {
                "parts": {"S1": {"switch": "SPDT", "control": "K"},
                          "R1": {"resistor": "10 kohm"}, "R2": {"resistor": "10 kohm"}},
                "wires": [["DC", "R1.1"], ["R1.2", "S1.A"], ["AC", "R2.1"], ["R2.2", "S1.A"]],
            },
            "substitute": {},
        },
    }  # fmt: skip
    assert volts_of(read(spec))["S1.A"].volts == pytest.approx(70.0, rel=1e-3)


def random_circuit(seed: int) -> dict[str, Any]:
    """Points of any volts, resistors and a meter anywhere, one switch of two poles."""
    rng = random.Random(seed)
    points: dict[str, Any] = {"CH": {"chassis": "yes"}}
    for n in range(rng.randint(1, 3)):
        points[f"P{n}"] = {
            "volts": f"{rng.choice([-400, -60, -1, 0, 1, 45, 90, 300, 600])} V",
            "source_resistance": f"{rng.choice([10, 1000, 100_000])} ohm",
        }
        if rng.random() < 0.5:
            points[f"P{n}"]["rises_to"] = f"{rng.choice([-500, -70, 55, 120, 700])} V"
    lugs = [f"S1.{pole}{n}" for pole in "AB" for n in ("", 1, 2)]
    places = [*points, *lugs, "M1.+", "M1.-"]
    resistors = {
        f"R{n}": {"resistor": f"{rng.choice([1, 100, 10_000, 1_000_000])} ohm",
                  "between": rng.sample(places, 2)}
        for n in range(rng.randint(1, 4))
    }  # fmt: skip
    wires: list[list[str]] = []
    fed = {name for name in points if name != "CH"}
    joined = {place: {place} for place in places}
    for _ in range(rng.randint(3, 8)):
        one, other = rng.sample(places, 2)
        both = joined[one] | joined[other]
        if len(both & (fed | {"CH"})) < 2 and [one, other] not in wires:
            wires.append([one, other])
            joined |= dict.fromkeys(both, both)
    wiring = {
        "parts": {"S1": {"switch": "DPDT", "control": "K"}, "M1": {"meter": "1 mA", "resistance": "100 ohm"},
                  **resistors},
        "wires": wires,
    }  # fmt: skip
    return {
        "rewire": "1", "title": "random", "controls": {"K": ["P", "Q"]}, "points": points,
        "wirings": {"original": wiring, "substitute": {}},
    }  # fmt: skip


def number(text: str) -> float:
    return float(text.split()[0])


def solved(spec: dict[str, Any], closed: list[tuple[str, str]], *, risen: bool) -> dict[str, float]:
    """Nodal analysis: a conductance matrix, contacts and wires of a milliohm, sources behind theirs."""
    wiring = spec["wirings"]["original"]
    names = sorted({p for w in (*wiring["wires"], *closed) for p in w} | {*spec["points"]}
                   | {p for r in wiring["parts"].values() for p in r.get("between", ())}
                   | {"M1.+", "M1.-"})  # fmt: skip
    at = {name: n for n, name in enumerate(names)}
    matrix, amps = np.zeros((len(names),) * 2), np.zeros(len(names))
    bars = [(*w, 1e-3) for w in (*wiring["wires"], *closed)] + [("M1.+", "M1.-", 100.0)]
    bars += [(*r["between"], number(r["resistor"])) for r in wiring["parts"].values()
             if "resistor" in r]  # fmt: skip
    for one, other, ohms in bars:
        i, j = at[one], at[other]
        matrix[[i, j], [i, j]] += 1 / ohms
        matrix[[i, j], [j, i]] -= 1 / ohms
    matrix += np.eye(len(names)) * 1e-10
    matrix[at["CH"], at["CH"]] += 1e5
    for name, point in spec["points"].items():
        if name != "CH":
            volts = number(point.get("rises_to", point["volts"]) if risen else point["volts"])
            ohms = number(point["source_resistance"])
            matrix[at[name], at[name]] += 1 / ohms
            amps[at[name]] += volts / ohms
    found = np.linalg.solve(matrix, amps)
    return {name: float(found[n]) for name, n in at.items()}


def looks(spec: dict[str, Any]) -> list[dict[str, float]]:
    """At rest with the loads on; then with the loads off, each pole closed or open for itself."""
    told = []
    for throw in (1, 2):
        poles = [(f"S1.{pole}", f"S1.{pole}{throw}") for pole in "AB"]
        told.append(solved(spec, poles, risen=False))
        for kept in product((True, False), repeat=2):
            closed = [pole for pole, keep in zip(poles, kept, strict=True) if keep]
            told.append(solved(spec, closed, risen=True))
    return told


@pytest.mark.parametrize("block", range(2))
def test_no_live_lug_is_left_out(block: int) -> None:
    """Whatever a nodal matrix puts at 50 V or more has its volts, and not less of them."""
    live = 0
    for seed in range(60 * block, 60 * block + 60):
        written = random_circuit(seed)
        spec = read(written)
        found = volts_of(spec)
        for look in looks(written):
            for place, volts in look.items():
                if abs(volts) >= HIGH * 1.01:
                    live += 1
                    assert place in found, (seed, place, volts)
                    assert abs(found[place].volts) >= abs(volts) * 0.99, (seed, place, volts)
    assert live > 500
