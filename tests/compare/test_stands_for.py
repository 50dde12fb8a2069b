"""Which part stands for which: what is computed, printed and soldered goes by one answer."""

from __future__ import annotations

from typing import Any

import pytest

from rewire.bench.moves import moves_of
from rewire.bench.probes import pairs_to_buzz
from rewire.bench.short_list import plan_of
from rewire.compare import compare
from rewire.compare.roles import roles_between
from rewire.draw.scanned import heirs_of
from rewire.records.spec import Spec
from rewire.values.wiring_values import values_of
from tests.reading.builders import read


def shunted(kind: dict[str, Any], rule: list[str], reading: list[str]) -> Spec:
    """A shunt across a meter, in the second wiring with its ends exchanged."""

    ends = ("1.A", "1.K") if "diode" in kind else ("1.1", "1.2")

    def wiring(near: str, far: str) -> dict[str, Any]:
        return {
            "parts": {
                "S1": {"switch": "SPDT", "control": "METER", "timing": "shorting"},
                "M1": {"meter": "1 mA", "resistance": "50 ohm"},
                "R1": kind,
            },
            "wires": [
                ["FEED", near.replace("1.1", ends[0]).replace("1.2", ends[1])],
                ["FEED", "S1.A1"],
                [far.replace("1.1", ends[0]).replace("1.2", ends[1]), "CHASSIS"],
                ["M1.-", "CHASSIS"], ["S1.A", "M1.+"],
            ],
        }  # fmt: skip

    return read({
        "rewire": "1", "title": "turned", "controls": {"METER": ["A", "B"]},
        "points": {"CHASSIS": {"chassis": "yes"}, "FEED": {"volts": "10 V", "rises_to": "40 V"}},
        "readings": {
            "one": {"when": {"METER": "A"}, "current": reading, "full_scale": "101 mA"},
        },
        "rules": [{"connect": rule, "why": "without it the valve runs away"}],
        "wirings": {"original": wiring("R1.1", "R1.2"), "turned": wiring("R1.2", "R1.1")},
    })  # fmt: skip


RESISTOR = {"resistor": "0.5 ohm", "rating": "1 W"}


def test_a_rule_at_a_resistor_that_lies_the_other_way_round_is_watched() -> None:
    spec = shunted(RESISTOR, ["R1.1", "FEED"], ["FEED", "CHASSIS"])
    (result,) = compare(spec)
    assert result.verdict == "kept"
    for name in spec.wirings:
        (values,) = values_of(spec, [name])
        feed = next(m for m in values.faults if m.what.startswith("wire W1 "))
        assert feed.rules == (0,), name
        assert "R1.1 and FEED no longer connected" in feed.message, name


def test_a_reading_at_a_resistor_that_lies_the_other_way_round_is_the_same() -> None:
    """0.5 ohm beside 50 ohm: 1 mA of 101 mA goes through the meter, by hand."""
    spec = shunted(RESISTOR, ["R1.1", "FEED"], ["R1.1", "CHASSIS"])
    for name in spec.wirings:
        (values,) = values_of(spec, [name])
        (reading,) = values.readings
        assert reading.meter_amps == pytest.approx(0.001), name


def test_a_resistor_that_lies_the_other_way_round_is_not_turned() -> None:
    spec = shunted(RESISTOR, ["R1.1", "FEED"], ["FEED", "CHASSIS"])
    assert moves_of(spec, "original", "turned").steps == ()
    assert moves_of(spec, "turned", "original").steps == ()


def test_a_diode_that_lies_the_other_way_round_is_turned() -> None:
    spec = shunted({"diode": "silicon"}, ["FEED", "CHASSIS"], ["FEED", "CHASSIS"])
    kinds = {step.kind for step in moves_of(spec, "original", "turned").steps}
    assert {"lift", "land"} <= kinds


def removed(rule: list[str] | None, reading: list[str], new: dict[str, Any]) -> Spec:
    old = {
        "parts": {
            "S1": {"switch": "SPDT", "control": "K", "timing": "non-shorting"},
            "M1": {"meter": "1 mA", "resistance": "100 ohm"},
            "R1": {"resistor": "100 kohm"},
        },
        "wires": [["HT", "R1.1"], ["R1.2", "S1.A1"], ["S1.A", "M1.+"], ["M1.-", "CH"]],
    }
    return read({
        "rewire": "1", "title": "a place of a part that is gone", "controls": {"K": ["P", "Q"]},
        "points": {"CH": {"chassis": "yes"}, "HT": {"volts": "100 V"}},
        "readings": {"r": {"when": {"K": "P"}, "voltage": reading, "full_scale": "100 V"}},
        **({"rules": [{"connect": rule}]} if rule else {}),
        "wirings": {"original": old, "new": new},
    })  # fmt: skip


SWITCH = {"switch": "SPDT", "control": "K", "timing": "non-shorting"}
METER = {"meter": "1 mA", "resistance": "100 ohm"}
GONE = {
    "parts": {"S1": SWITCH, "M1": METER},
    "wires": [["HT", "S1.A1"], ["S1.A", "M1.+"], ["M1.-", "CH"]],
    "changes": [{"remove": "R1", "why": "the new meter has its multiplier inside"}],
}
OTHER_SWITCH = {
    **GONE, "parts": {"S2": SWITCH, "M1": METER},
    "wires": [["HT", "S2.A1"], ["S2.A", "M1.+"], ["M1.-", "CH"]],
}  # fmt: skip
REPLACED = {
    "parts": {"S1": SWITCH, "M1": METER, "R12": {"resistor": "100 kohm", "replaces": "R1"}},
    "wires": [["HT", "R12.1"], ["R12.2", "S1.A1"], ["S1.A", "M1.+"], ["M1.-", "CH"]],
}


@pytest.mark.parametrize(
    ("rule", "reading", "new", "touched"),
    [
        (None, ["R1.1", "CH"], GONE, set()),
        (None, ["S1.A1", "CH"], OTHER_SWITCH, set()),
        (["R1.1", "HT"], ["HT", "CH"], GONE, set()),
        (None, ["R1.1", "CH"], REPLACED, {("R12.1", "CH")}),
    ],
)
def test_a_place_that_the_new_wiring_has_not_is_not_buzzed(
    rule: list[str] | None, reading: list[str], new: dict[str, Any], touched: set[tuple[str, str]]
) -> None:
    spec = removed(rule, reading, new)
    wiring = spec.wirings["new"]
    pairs = set(pairs_to_buzz(spec, wiring))
    assert not {place for pair in pairs for place in pair if place.startswith("R1.")}
    assert touched <= pairs
    assert plan_of(spec, wiring, seconds=0.2).short


def test_a_name_that_is_given_to_another_part_does_not_stand_for_the_old_one() -> None:
    new = {
        "parts": {
            "S1": SWITCH,
            "M1": METER,
            "R1": {"resistor": "1 ohm", "replaces": {"1": "M1.+"}},
        },
        "wires": [["HT", "S1.A1"], ["S1.A", "M1.+"], ["M1.-", "CH"]],
    }
    new["parts"]["M1"] = {**METER, "replaces": {"-": "M1.-"}}
    spec = removed(None, ["R1.1", "CH"], new)
    roles = roles_between(spec, spec.wirings["new"])
    assert roles.place("R1.1") is None
    assert roles.place("M1.+") == "R1.1"
    assert roles.place("HT") == "HT"


def test_the_part_in_its_place_is_one_for_pictures_and_lists() -> None:
    spec = removed(None, ["R1.1", "CH"], REPLACED)
    wiring = spec.wirings["new"]
    assert heirs_of(spec, wiring) == {"M1": "M1", "R1": "R12"}
    assert roles_between(spec, wiring).forerunners("R12") == ("R1",)
