"""What is told of parts beside what is joined: altered, reversed, exchanged, forgotten; volts."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from rewire.compare import compare
from rewire.compare.findings import Finding, Result
from rewire.report.checked import Checked, full_sections
from rewire.report.text import lines_of
from tests.reading.builders import read


def swap(original: dict[str, Any], planned: dict[str, Any], **more: Any) -> Result:
    spec = {
        "rewire": "1",
        "title": "parts in their role",
        "controls": {"K": ["P", "Q", "R"]},
        "points": {
            "CH": {"chassis": "yes"}, "X": {}, "Y": {}, "Z": {}, "HT": {"volts": "400 V"},
        },
        "wirings": {"original": original, "planned": planned},
        **more,
    }  # fmt: skip
    (result,) = compare(read(copy.deepcopy(spec)), ["planned"])
    return result


def of_kind(result: Result, kind: str) -> list[Finding]:
    return [finding for finding in result.findings if finding.kind == kind]


WIRES = [["X", "R1.1"], ["R1.2", "CH"], ["Y", "F1.1"], ["F1.2", "M1.+"], ["M1.-", "CH"]]


def test_other_values_are_listed_with_both_and_the_grave_ones_first() -> None:
    result = swap(
        {
            "parts": {
                "F1": {"fuse": "1 A"},
                "M1": {"meter": "1 mA", "resistance": "60 ohm"},
                "A1": {"resistor": "1 kohm", "between": ["X", "Y"]},
                "R1": {"resistor": "10 ohm", "rating": "5 W"},
            },
            "wires": WIRES,
        },
        {
            "parts": {
                "F1": {"fuse": "100 A"},
                "M1": {"meter": "100 A", "resistance": "60 ohm"},
                "A1": {"resistor": "2 kohm", "between": ["X", "Y"]},
                "R1": {"resistor": "10 ohm", "rating": "0.1 W"},
            },
            "wires": WIRES,
        },
    )
    assert result.verdict == "kept"
    told = of_kind(result, "altered")
    assert [finding.message for finding in told] == [
        "fuse F1: 100 A, was 1 A",
        "meter M1: full scale 100 A, was 1 mA",
        "resistor R1: rating 100 mW, was 5 W",
        "resistor A1: 2 kohm, was 1 kohm",
    ]
    assert [finding.part for finding in told] == ["F1", "M1", "R1", "A1"]


def test_the_same_values_are_not_listed() -> None:
    parts = {"R1": {"resistor": "10 ohm", "rating": "5 W"}}
    same = {"R1": {"resistor": "0.01 kohm", "rating": "5 W"}}
    wires = WIRES[:2]
    assert swap({"parts": parts, "wires": wires}, {"parts": same, "wires": wires}).findings == ()


@pytest.mark.parametrize("polarised", [True, False])
def test_a_capacitor_with_a_plus_is_reversed_where_it_is_turned(polarised: bool) -> None:
    part: dict[str, Any] = {"capacitor": "8 uF", "rating": "450 V"}
    if polarised:
        part["polarised"] = "yes"
    result = swap(
        {"parts": {"C1": part}, "wires": [["X", "C1.1"], ["C1.2", "CH"]]},
        {"parts": {"C1": part}, "wires": [["X", "C1.2"], ["C1.1", "CH"]]},
    )
    assert [finding.part for finding in of_kind(result, "reversed")] == ["C1"] * polarised
    assert result.verdict == ("broken" if polarised else "kept")


@pytest.mark.parametrize(
    ("old", "new", "lugs"),
    [
        ({"diode": "silicon"}, {"diode": "silicon"}, ("A", "K")),
        ({"meter": "1 mA", "resistance": "50 ohm"},) * 2 + (("+", "-"),),
    ],
)
def test_crossed_roles_are_reversed_and_shown(
    old: dict[str, Any], new: dict[str, Any], lugs: tuple[str, str]
) -> None:
    one, two = lugs
    result = swap(
        {"parts": {"D1": old}, "wires": [["X", f"D1.{one}"], [f"D1.{two}", "CH"]]},
        {
            "parts": {"D2": {**new, "replaces": {one: f"D1.{two}", two: f"D1.{one}"}}},
            "wires": [{"from": "X", "to": f"D2.{two}", "id": "W7"}, [f"D2.{one}", "CH"]],
        },
    )
    (found,) = of_kind(result, "reversed")
    assert found.part == "D1"
    assert "D2" in found.message
    assert f"D2.{two} (wire W7) is where D1.{one} was" in (found.now or "")


def test_crossed_roles_on_crossed_wires_are_as_they_were() -> None:
    result = swap(
        {"parts": {"D1": {"diode": "silicon"}}, "wires": [["X", "D1.A"], ["D1.K", "CH"]]},
        {
            "parts": {"D2": {"diode": "silicon", "replaces": {"A": "D1.K", "K": "D1.A"}}},
            "wires": [["X", "D2.A"], ["D2.K", "CH"]],
        },
    )
    assert result.verdict == "kept"


def test_two_parts_alike_that_have_changed_places_are_named() -> None:
    parts = {name: {"resistor": "10 ohm"} for name in ("R1", "R2")}
    wires = [["X", "R1.1"], ["Y", "R2.1"], ["R1.2", "Z"], ["R2.2", "CH"]]
    swapped = [["X", "R2.1"], ["Y", "R1.1"], ["R2.2", "Z"], ["R1.2", "CH"]]
    result = swap({"parts": parts, "wires": wires}, {"parts": parts, "wires": swapped})
    assert result.verdict == "broken"
    (hint,) = of_kind(result, "hint")
    assert hint.message.startswith("R1 and R2 are exchanged; they are alike: write `replaces: R2`")
    other = {**parts, "R2": {"resistor": "20 ohm"}}
    assert not of_kind(
        swap({"parts": other, "wires": wires}, {"parts": other, "wires": swapped}), "hint"
    )


def test_a_forgotten_replaces_is_asked_after() -> None:
    meter = {"meter": "1 mA", "resistance": "60 ohm"}
    result = swap(
        {"parts": {"M1": meter}, "wires": [["X", "M1.+"], ["M1.-", "CH"]]},
        {"parts": {"M2": meter}, "wires": [["X", "M2.+"], ["M2.-", "CH"]]},
    )
    (missing,) = of_kind(result, "missing")
    assert missing.message.endswith("did you mean M2: replaces: M1?")


def test_a_switch_wired_from_the_other_end_is_told_so() -> None:
    switch = {"switch": "SP3T", "control": "K", "timing": "non-shorting"}
    right = [["HT", "S1.A"], ["S1.A1", "X"], ["S1.A2", "Y"], ["S1.A3", "Z"]]
    backwards = [["HT", "S2.A"], ["S2.A3", "X"], ["S2.A2", "Y"], ["S2.A1", "Z"]]
    result = swap(
        {"parts": {"S1": switch}, "wires": right}, {"parts": {"S2": switch}, "wires": backwards}
    )
    (hint,) = of_kind(result, "hint")
    assert hint.message.startswith("S2 is wired the wrong way round")


def test_a_declared_join_that_shorts_the_supply_stands_in_the_line_of_the_verdict() -> None:
    pole = {"control": "K", "timing": "non-shorting"}
    result = swap(
        {
            "parts": {"S1": {"switch": "DP3T", **pole}},
            "wires": [["HT", "S1.A"], ["S1.A1", "X"], ["CH", "S1.B"], ["S1.B2", "X"]],
        },
        {
            "parts": {"S2": {"switch": "SP3T", **pole}},
            "wires": [["HT", "S2.A"], ["S2.A1", "X"], ["CH", "X"]],
            "changes": [{"join": ["CH", "X"], "why": "no pole left"}],
        },
    )
    assert result.verdict == "changed"
    (live,) = of_kind(result, "live")
    assert [state.as_dict() for state in live.states] == [{"K": "P"}]
    first = next(lines_of(full_sections([Checked(result)]), 1000))
    assert "but what is declared puts HT on CH in K: P: see that it is meant" in first


def test_lugs_nobody_uses_are_one_line_and_ends_are_told_where_wires_are() -> None:
    switch = {"switch": "SP3T", "control": "K", "timing": "non-shorting"}
    result = swap(
        {"parts": {"S1": switch}, "wires": [["HT", "S1.A"], ["S1.A1", "X"]]},
        {
            "parts": {"S1": switch, "R9": {"resistor": "1 kohm"}},
            "wires": [["HT", "R9.1"], ["S1.A1", "X"]],
        },
    )
    assert "  - lugs S1.A, S1.A2, S1.A3 are not used" in lines_of(
        full_sections([Checked(result)]), 1000
    )
    (dropped,) = of_kind(result, "dropped")
    assert "HT is connected to R9.1 alone" in (dropped.now or "")
