"""Added parts: across what nothing joined, beside a part of the original, and as declared."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from rewire.compare import compare
from rewire.compare.findings import Finding, Result
from tests.reading.builders import read


def supply(parts: dict[str, Any], wires: list[list[str]], *changes: Any) -> dict[str, Any]:
    """A supply with its bleeder; ``parts`` and ``wires`` come to it in the plan."""
    return {
        "rewire": "1",
        "title": "a supply with its bleeder",
        "controls": {"POWER": ["OFF", "ON"]},
        "points": {
            "CHASSIS": {"chassis": "yes"}, "HT": {"volts": "400 V"}, "LOAD": {}, "TAP": {},
        },
        "parts": {"R36": {"resistor": "47 kohm", "between": ["TAP", "CHASSIS"]}},
        "wirings": {
            "original": {
                "parts": {"S1": {"switch": "SPDT", "control": "POWER", "timing": "non-shorting"}},
                "wires": [["HT", "S1.A"], ["S1.A2", "LOAD"]],
            },
            "planned": {
                "parts": {
                    "S1": {"switch": "SPDT", "control": "POWER", "timing": "non-shorting"},
                    **parts,
                },
                "wires": [["HT", "S1.A"], ["S1.A2", "LOAD"], *wires],
                **({"changes": list(changes)} if changes else {}),
            },
        },
    }  # fmt: skip


def checked(spec: dict[str, Any]) -> Result:
    (result,) = compare(read(copy.deepcopy(spec)), ["planned"])
    return result


def of_kind(result: Result, kind: str) -> list[Finding]:
    return [finding for finding in result.findings if finding.kind == kind]


FUSE = {"F1": {"fuse": "1 A"}}
ACROSS = [["F1.1", "HT"], ["F1.2", "CHASSIS"]]


def test_a_fuse_from_high_voltage_to_chassis_breaks_the_wiring() -> None:
    result = checked(supply(FUSE, ACROSS))
    assert result.verdict == "broken"
    (found,) = of_kind(result, "linked")
    assert found.groups == (("CHASSIS", "R36.2"), ("HT",))
    assert found.through == ("F1",)
    assert [state.as_dict() for state in found.states] == [{}]


def test_a_declared_change_still_reports_its_volts() -> None:
    declared = {"link": "F1", "between": ["HT", "CHASSIS"], "why": "crowbar"}
    result = checked(supply(FUSE, ACROSS, declared))
    assert result.verdict == "changed"
    assert of_kind(result, "linked")[0].meant
    (live,) = of_kind(result, "live")
    assert live.message == "what is declared puts HT on CHASSIS in every position"


def test_a_resistor_beside_another_links_nothing_and_says_beside_which() -> None:
    result = checked(supply({"R40": {"resistor": "1 kohm", "between": ["TAP", "CHASSIS"]}}, []))
    assert result.verdict == "changed"
    assert not of_kind(result, "linked")
    (added,) = of_kind(result, "added")
    assert added.message == "resistor R40 is new, across CHASSIS and TAP, beside R36"


def test_a_capacitor_links_nothing() -> None:
    result = checked(supply({"C1": {"capacitor": "1 uF", "between": ["HT", "CHASSIS"]}}, []))
    assert result.verdict == "changed"
    assert not of_kind(result, "linked")


def test_only_while_the_contact_is_open() -> None:
    """A keeper across a contact links what the open contact keeps apart."""
    result = checked(supply({"R9": {"resistor": "1 Mohm", "between": ["HT", "LOAD"]}}, []))
    (found,) = of_kind(result, "linked")
    assert [state.as_dict() for state in found.states] == [{"POWER": "OFF"}]


SERIES = {"F1": {"fuse": "1 A"}, "R9": {"resistor": "10 ohm"}}
IN_SERIES = [["F1.1", "HT"], ["F1.2", "R9.1"], ["R9.2", "CHASSIS"]]
BESIDE = [["F1.1", "HT"], ["F1.2", "CHASSIS"], ["R9.1", "HT"], ["R9.2", "CHASSIS"]]


@pytest.mark.parametrize("wires", [IN_SERIES, BESIDE])
@pytest.mark.parametrize("parts", [["F1", "R9"], ["F1"]])
def test_all_parts_between_the_groups_must_be_declared(
    wires: list[list[str]], parts: list[str]
) -> None:
    result = checked(supply(SERIES, wires, {"link": parts, "between": ["HT", "CHASSIS"]}))
    (found,) = of_kind(result, "linked")
    assert found.through == ("F1", "R9")
    assert found.meant == (len(parts) == 2)
    assert not of_kind(result, "undone")


def test_parts_side_by_side_may_be_declared_one_by_one() -> None:
    declared = [{"link": name, "between": ["HT", "CHASSIS"]} for name in SERIES]
    assert checked(supply(SERIES, BESIDE, *declared)).verdict == "changed"


def test_a_declared_insert_does_not_cover_a_resistor_across_it() -> None:
    """The fuse is declared; with it taken out the resistor still links the two."""
    spec = supply(SERIES, [["F1.1", "TAP"], ["F1.2", "LOAD"]],
                  {"insert": "F1", "between": ["TAP", "LOAD"]})  # fmt: skip
    spec["wirings"]["original"]["wires"].append(["TAP", "LOAD"])
    assert checked(spec).verdict == "changed"
    spec["wirings"]["planned"]["wires"] += [["R9.1", "TAP"], ["R9.2", "LOAD"]]
    result = checked(spec)
    assert result.verdict == "broken"
    assert [finding.meant for finding in of_kind(result, "inserted")] == [False]
    assert not of_kind(result, "undone")
