"""While a knob turns: asked section by section and all in step; throws that are passed over.

Answers by hand, from how a wafer is built; the reference enumerates the same on random specs.
"""

from __future__ import annotations

import copy
from typing import Any

from rewire.compare import compare
from rewire.compare.findings import Finding, Result
from tests.reading.builders import read

METER = {"meter": "10 mA", "resistance": "10 ohm"}


def bias_meter(timing: str, new_timing: str, **rules: Any) -> dict[str, Any]:
    """A bias return that stands on the chassis over one pole or the other, by the position."""

    def wiring(switch: str, how: str) -> dict[str, Any]:
        part = {"switch": "2P3T", "control": "METER", "style": "rotary", "timing": how}
        return {
            "parts": {switch: part, "M1": METER},
            "wires": [
                [f"{switch}.A", "CHASSIS"], [f"{switch}.A1", "BIAS"], [f"{switch}.A3", "BIAS"],
                [f"{switch}.B", "M1.-"], [f"{switch}.B2", "BIAS"], ["M1.+", "CHASSIS"],
            ],
        }  # fmt: skip

    return {
        "rewire": "1",
        "title": "bias return over two poles",
        "controls": {"METER": ["ANODE", "GRID", "HT"]},
        "points": {"CHASSIS": {"chassis": "yes"}, "BIAS": {}},
        "wirings": {"original": wiring("S1", timing), "planned": wiring("S2", new_timing)},
        **rules,
    }


def swapped(original: dict[str, Any], new: dict[str, Any], wires: list[list[str]],
            new_wires: list[list[str]], control: Any = ("P", "Q")) -> dict[str, Any]:  # fmt: skip
    """One switch for another."""
    switch = {"control": "K", "timing": "non-shorting", "style": "rotary"}
    return {
        "rewire": "1",
        "title": "one switch for another",
        "controls": {"K": list(control) if isinstance(control, tuple) else control},
        "points": {"CH": {"chassis": "yes"}, "X": {"volts": "400 V"}, "Y": {}, "Z": {}},
        "wirings": {
            "original": {"parts": {"S1": {**switch, **original}}, "wires": wires},
            "planned": {"parts": {"S2": {**switch, **new}}, "wires": new_wires},
        },
    }


def checked(spec: dict[str, Any]) -> Result:
    (result,) = compare(read(copy.deepcopy(spec)), ["planned"])
    return result


def of_kind(result: Result, *kinds: str) -> list[Finding]:
    return [finding for finding in result.findings if finding.kind in kinds]


def test_losing_make_before_break_over_two_poles_stops_the_current() -> None:
    result = checked(bias_meter("shorting", "non-shorting"))
    assert result.verdict == "broken"
    (found,) = of_kind(result, "gap", "interrupted")
    assert found.kind == "interrupted"
    assert found.in_step is True
    assert "uneven" not in found.message
    assert len(found.steps) == 2


def test_the_same_switch_again_is_kept() -> None:
    for timing in ("shorting", "non-shorting"):
        assert checked(bias_meter(timing, timing)).verdict == "kept"


def test_what_may_happen_where_poles_are_uneven_says_so() -> None:
    """Two throws of different poles meet a common point only if one pole is ahead of the other."""
    poles = {"switch": "2P2T"}
    wires = [["S1.A", "X"], ["S1.A1", "Y"], ["S1.B", "CH"], ["S1.B2", "Z"]]
    new = [[place.replace("S1", "S2") for place in wire] for wire in wires]
    new[3] = ["S2.B2", "Y"]
    result = checked(swapped(poles, poles, wires, new))
    (found,) = of_kind(result, "bridge")
    assert found.in_step is False
    assert found.message.endswith(", if the poles are uneven")


def test_a_rule_broken_for_a_moment_says_by_which_question() -> None:
    rule = {"connect": ["BIAS", "CHASSIS"], "within": "50 ohm", "while_switching": "yes"}
    for timing, in_step in (("non-shorting", True), ("shorting", False)):
        spec = bias_meter(timing, timing, rules=[rule])
        (result,) = compare(read(spec), ["original"])
        (found,) = of_kind(result, "rule")
        assert found.in_step is in_step
        lets_go = "the old contacts open before the new ones close"
        assert (found.now == lets_go) is in_step
        assert "and for a moment do not" not in found.message


def test_a_common_that_passes_over_a_grounded_throw_is_a_bridge() -> None:
    wires = [["X", "S1.A"], ["S1.A1", "Y"], ["S1.A2", "Z"]]
    new = [["X", "S2.A"], ["S2.A1", "Y"], ["S2.A3", "Z"], ["S2.A2", "CH"]]
    apart = {"switch": "SP3T", "positions": {"P": "1", "Q": "3"}}
    for style in ("rotary", "slide"):
        result = checked(swapped({"switch": "SPDT"}, {**apart, "style": style}, wires, new))
        assert result.verdict == "broken"
        (found,) = of_kind(result, "bridge")
        assert found.groups == (("CH",), ("X",))
        assert "as the knob goes past S2.A2" in found.message
        assert "S2.A2" in (found.now or "")
        assert not any("set the stop" in f.message for f in result.findings)
    toggled = checked(swapped({"switch": "SPDT"}, {**apart, "style": "toggle"}, wires, new))
    assert toggled.verdict == "kept"


def test_a_knob_that_goes_round_has_no_stop() -> None:
    wires = [["X", "S1.A"], ["S1.A1", "Y"], ["S1.A2", "Z"]]
    new = [["X", "S2.A"], ["S2.A1", "Y"], ["S2.A2", "Z"], ["S2.A4", "CH"]]
    round_and_round = {"positions": ["P", "Q", "R"], "wraps": "yes"}
    one = swapped({"switch": "SP3T"}, {"switch": "SP4T"}, wires, new, round_and_round)
    result = checked(one)
    assert [f.kind for f in result.findings if not f.meant and f.kind != "spare"] == ["bridge"]
    said = [f.message for f in result.findings if f.place == "S2 throw 4"]
    assert "no stop keeps the knob off it" in said[0]


def test_positions_out_of_the_order_of_the_throws_are_told() -> None:
    wires = [["X", "S1.A"], ["S1.A1", "Y"], ["S1.A2", "Z"], ["S1.A3", "CH"]]
    new = [["X", "S2.A"], ["S2.A2", "Y"], ["S2.A1", "Z"], ["S2.A3", "CH"]]
    at = {"switch": "SP3T", "positions": {"P": "2", "Q": "1", "R": "3"}}
    result = checked(swapped({"switch": "SP3T"}, at, wires, new, ("P", "Q", "R")))
    (told,) = of_kind(result, "hint")
    assert told.place == "S2"
    assert "2, 1, 3" in told.message
    assert [f.steps[0].before.as_dict() for f in of_kind(result, "bridge")] == [{"K": "Q"}]
    falling = {"switch": "SP3T", "positions": {"P": "3", "Q": "2", "R": "1"}}
    turned = [["X", "S2.A"], ["S2.A3", "Y"], ["S2.A2", "Z"], ["S2.A1", "CH"]]
    result = checked(swapped({"switch": "SP3T"}, falling, wires, turned, ("P", "Q", "R")))
    assert result.verdict == "kept"
    assert not of_kind(result, "hint")


def test_a_knob_that_goes_round_passes_nothing_from_the_last_throw_to_the_first() -> None:
    wires = [["X", "S1.A"], ["S1.A1", "Y"], ["S1.A2", "Z"]]
    new = [[place.replace("S1", "S2") for place in wire] for wire in wires]
    round_it = {"positions": ["P", "Q", "R"], "wraps": "yes"}
    free = {"switch": "SP3T", "style": "toggle"}
    assert checked(swapped(free, {"switch": "SP3T"}, wires, new, round_it)).verdict == "kept"
    grounded = [*new, ["S2.A4", "CH"]]
    result = checked(swapped(free, {"switch": "SP4T"}, wires, grounded, round_it))
    (found,) = of_kind(result, "bridge")
    assert [step.before.as_dict() for step in found.steps] == [{"K": "P"}]
    assert [step.after.as_dict() for step in found.steps] == [{"K": "R"}]
