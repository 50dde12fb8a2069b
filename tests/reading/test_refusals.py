"""What is refused although every key and every value is of the right kind."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, strategies as st

from rewire.records.parts import Pot, Resistor
from tests.reading.builders import bare, faults, full, put, read

R = {"resistor": "1 ohm"}
M = {"meter": "1 mA"}
SUB = ("wirings", "substitute")


def claims(original: dict[str, Any], other: dict[str, Any], **more: Any) -> dict[str, Any]:
    return bare(original={"parts": original}, substitute={"parts": other}) | more


ROLES: list[tuple[str, dict[str, Any], str]] = [
    (
        "replaced whole and kept as well",
        claims({"M1": M}, {"M1": M, "M2": {**M, "replaces": "M1"}}),
        "'M1.+' is claimed twice",
    ),
    (
        "replaced by two",
        claims({"M1": M}, {"M2": {**M, "replaces": "M1"}, "M3": {**M, "replaces": "M1"}}),
        "claimed twice: by M2 and by M3",
    ),
    (
        "one terminal claimed by two",
        claims(
            {"R1": R},
            {"R2": {**R, "replaces": {"1": "R1.1"}}, "R3": {**R, "replaces": {"2": "R1.1"}}},
        ),
        "'R1.1' is claimed twice",
    ),
    (
        "one terminal claimed by both ends of one part",
        claims({"R1": R}, {"R2": {**R, "replaces": {"1": "R1.1", "2": "R1.1"}}}),
        "'R1.1' is claimed twice",
    ),
    (
        "a part that stays, whole",
        claims({}, {"R2": {**R, "replaces": "R9"}}, parts={"R9": R}),
        "'R9' stays in every wiring and cannot be replaced",
    ),
    (
        "a part that stays, by terminal",
        claims({}, {"R2": {**R, "replaces": {"1": "R9.1"}}}, parts={"R9": R}),
        "'R9' stays in every wiring and cannot be replaced",
    ),
    (
        "a switch lug",
        claims(
            {"S1": {"switch": "SP3T", "control": "K"}}, {"R2": {**R, "replaces": {"1": "S1.A"}}}
        ),
        "'S1.A' is a lug of a switch, which has no role",
    ),
    (
        "a strip lug",
        claims({"X1": {"strip": "2"}}, {"R2": {**R, "replaces": {"1": "X1.1"}}}),
        "'X1.1' is a lug of a strip, which has no role",
    ),
    (
        "by a switch",
        claims({"R1": R}, {"S1": {"switch": "SP3T", "control": "K", "replaces": "R1"}}),
        "a switch has no 'replaces'; take it out: a switch takes the place of the one",
    ),
    (
        "by a strip",
        claims({"R1": R}, {"X1": {"strip": "2", "replaces": {"1": "R1.1"}}}),
        "a strip has no",
    ),
    ("another kind, whole", claims({"R1": R}, {"M2": {**M, "replaces": "R1"}}), "whole resistor"),
    (
        "a terminal for a whole",
        claims({"R1": R}, {"R2": {**R, "replaces": "R1.1"}}),
        "is a terminal",
    ),
    ("a point", claims({"R1": R}, {"R2": {**R, "replaces": {"1": "CH"}}}), "'CH' is a point"),
    ("itself", claims({"M1": M}, {"M1": {**M, "replaces": "M1"}}), "a circle: M1 replaces M1"),
    (
        "a circle of two",
        claims({"M1": M, "M2": M}, {"M1": {**M, "replaces": "M2"}, "M2": {**M, "replaces": "M1"}}),
        "a circle: ",
    ),
    (
        "a circle of three, by terminals",
        claims(
            {"R1": R, "R2": R, "R3": R},
            {
                "R1": {**R, "replaces": {"1": "R2.1", "2": "R2.2"}},
                "R2": {**R, "replaces": {"1": "R3.1"}},
                "R3": {**R, "replaces": "R1"},
            },
        ),
        "a circle: ",
    ),
    (
        "another kind under one name",
        claims({"R1": R}, {"R1": M}),
        "is a meter here and a resistor in",
    ),
    (
        "a switch where a resistor was",
        claims({"R1": R}, {"R1": {"switch": "SP3T", "control": "K"}}),
        "'R1' is a switch here and a resistor in the original",
    ),
    (
        "in the original",
        claims({"R1": R, "R2": {**R, "replaces": "R1"}}, {}),
        "'replaces' has no sense",
    ),
    (
        "by a part that stays",
        claims({"R1": R}, {}, parts={"R9": {**R, "replaces": "R1"}}),
        "'replaces' has no sense here: the part stays",
    ),
]


@pytest.mark.parametrize(("spec", "said"), [case[1:] for case in ROLES], ids=[c[0] for c in ROLES])
def test_a_claim_that_cannot_be(spec: dict[str, Any], said: str) -> None:
    assert said in faults(spec)


def test_a_switch_may_become_a_strip_and_a_chain_has_an_end() -> None:
    spec = claims(
        {"S1": {"switch": "SP3T", "control": "K"}, "R1": R, "R2": R},
        {"S1": {"strip": "4"}, "R1": {**R, "replaces": "R2"}, "R3": {**R, "replaces": "R1"}},
    )
    assert faults(spec) == ""


def test_replaces_is_written_out_lug_by_lug() -> None:
    parts = read(full()).wirings["substitute"].parts
    assert parts["M2"].replaces == {"+": "M1.+", "-": "M1.-"}
    assert parts["RV1"].replaces == {"ccw": "R12.1"}
    assert parts["RV2"].replaces is None


@given(st.permutations(range(6)), st.integers(0, 5))
def test_replacements_in_a_ring_are_refused_and_a_broken_ring_is_read(
    order: list[int], cut: int
) -> None:
    names = [f"R{number}" for number in order]
    ring = {name: {**R, "replaces": names[(place + 1) % 6]} for place, name in enumerate(names)}
    original = dict.fromkeys(names, R)
    assert "a circle" in faults(claims(original, ring))
    del ring[names[cut]]
    assert faults(claims(original, ring)) == ""


def switch(**keys: Any) -> dict[str, Any]:
    part = {"switch": "SP3T", "control": "K", **keys}
    return bare(substitute={"parts": {"S1": part}})


SWITCHES: list[tuple[dict[str, Any], str]] = [
    (switch(switch="SPDT"), "SPDT has 2 throws, K has 3 positions"),
    (switch(switch="SPST"), "SPST needs 'positions'"),
    (switch(positions={"P": "4"}), "no throw 4"),
    (switch(positions={"P": "0"}), "not a throw"),
    (switch(positions={"Z": "1"}), "no position 'Z'"),
    (switch(switch="spdt"), "SPDT has 2 throws"),
    (switch(switch="DP99T"), "1 to 60 throws"),
    (switch(switch="DPXT"), "not a switch form"),
    (switch(switch="DPD"), "nearest is 'DPDT'"),
    (switch(switch="Table"), "a table needs 'contacts'"),
    (switch(lugs=["C", "1", "2"]), "SP3T has 1 pole of 4 lugs"),
    (switch(lugs=[["C", "1", "2", "2"]]), "lug '2' stands twice"),
    (switch(lugs=[["C", "a", "A", "2"]]), "differ in case alone"),
    (switch(lugs=[["C", "1.1", "2", "3"]]), "'1.1' cannot be a lug"),
    (switch(contacts={"P": [["A", "B"]]}), "'contacts' does not go with SP3T"),
    (switch(timing={"A": "shorting", "A1": "unknown"}), "has two timings"),
    (switch(switch="table"), "a table needs 'contacts'"),
    (switch(switch="table", contacts={"P": [["A"]]}), "a group of one lug"),
    (switch(switch="table", contacts={"P": [["A", "B"], ["B", "C"]]}), "'B' closes twice"),
    (switch(switch="table", contacts={"P": [["A", "A"]]}), "'A' closes twice"),
    (switch(switch="table", contacts={"Z": [["A", "B"]]}), "no position 'Z'"),
    (switch(switch="table", contacts={"P": []}), "names no lug"),
    (switch(switch="table", lugs=["A", "A"], contacts={}), "lug 'A' stands twice"),
    (switch(switch="table", lugs=[["A", "B"]], contacts={}), "one plain list"),
    (
        switch(switch="table", contacts={"P": [["A", "B"]]}, positions={"P": "1"}),
        "'positions' does",
    ),
    (switch(between=["CH", "X"]), "'between' is for parts of two terminals"),
]


@pytest.mark.parametrize(("spec", "said"), SWITCHES, ids=[said for _, said in SWITCHES])
def test_a_switch_that_cannot_be(spec: dict[str, Any], said: str) -> None:
    assert said in faults(spec)


def with_parts(**parts: Any) -> dict[str, Any]:
    return bare(original={"parts": {"R1": R, "M1": M}}) | {"parts": parts}


def change(**keys: Any) -> dict[str, Any]:
    spec = claims({"R1": R, "S1": {"switch": "SP3T", "control": "K"}}, {"R5": R})
    spec["parts"] = {"R9": R}
    return put(spec, (*SUB, "changes"), [keys])


def reading(**keys: Any) -> dict[str, Any]:
    base = {"current": ["X", "CH"], "full_scale": "1 A"} | keys
    spec = bare(original={"parts": {"M1": M}})
    return spec | {"readings": {"r": {k: v for k, v in base.items() if v is not None}}}


FIT = {"resistor": "fit", "for": "r"}
OTHERS: list[tuple[dict[str, Any], str]] = [
    (put(bare(), ("points", "cut"), {}), "a point cannot be called cut"),
    (bare(original={"role": "found"}), "the original has no role"),
    (bare(substitute={"role": "planned"}), "write plan"),
    (put(reading(), ("readings", "r", "accept"), "0 %"), "'0 %' is zero"),
    (bare(substitute={"wires": [["cut", "cut"]]}), "both ends of this wire are 'cut'"),
    (change(link="R5", between=["X", "R1.1"], drop=["X", "CH"]), "a change is of one kind"),
    (change(link="R5"), "'between' goes with 'insert' and 'link'"),
    (change(link="R9", between=["X", "CH"]), "'R9' stays in every wiring"),
    (change(link="R6", between=["X", "CH"]), "no part 'R6' in this wiring"),
    (
        bare() | {"wirings": {"Original": {}, "b": {}}},
        "'original' is missing; write original, not Original",
    ),
    (bare(Original={}), "differ in case alone"),
    (put(bare(), ("points", "ch"), {}), "names 'ch' and 'CH' differ in case alone"),
    (put(bare(), ("points", "Y"), {"chassis": "live"}), "a second chassis; CH is it already"),
    (bare() | {"parts": {"X": R}}, "'X' is a point already"),
    (bare(substitute={"parts": {"X": R}}), "'X' is a point already"),
    (bare(substitute={"parts": {"R9": R}}) | {"parts": {"R9": R}}, "'R9' is a part that stays"),
    (bare(substitute={"parts": {"r9": R}}) | {"parts": {"R9": R}}, "differ in case alone"),
    (bare(original={"parts": {"R1": R}}, substitute={"parts": {"r1": R}}), "differ in case alone"),
    (put(bare(), ("controls", "k"), ["A"]), "controls 'k' and 'K' differ in case alone"),
    (put(bare(), ("controls", "L"), ["A", "a"]), "positions 'a' and 'A' differ in case alone"),
    (put(bare(), ("controls", "L"), ["A", "A"]), "'A' stands twice"),
    (put(bare(), ("controls", "L"), []), "a list of names is needed"),
    (bare() | {"never": [{}]}, "a state is needed"),
    (bare() | {"never": [{"K": ["P", "Q"]}]}, "one position for each control"),
    (with_parts(R2={**R, "between": ["X", "X"]}), "both ends are 'X'"),
    (with_parts(R2={**R, "between": ["X", "R1.1"]}), "substitute has no 'R1.1'"),
    (with_parts(R2={**R, "between": ["X", "R7.1"]}), "no part 'R7'"),
    (
        with_parts(P2={"pot": "1k", "between": ["X", "CH"]}),
        "'between' is for parts of two terminals",
    ),
    (with_parts(X2={"strip": "2", "between": ["X", "CH"]}), "'between' is for parts of two"),
    (with_parts(X2={"strip": ["a", "A"]}), "lugs 'A' and 'a' differ in case alone"),
    (with_parts(X2={"strip": ["a", "a"]}), "lug 'a' stands twice"),
    (with_parts(X2={"strip": "0"}), "1 to 100000 can be"),
    (with_parts(M2={"meter": "50 mV", "resistance": "0"}), "cannot have zero resistance"),
    (bare(original={"wires": [["X", "X"]]}), "both ends of this wire are 'X'"),
    (
        bare(
            original={
                "wires": [
                    {"from": "X", "to": "CH", "id": "w"},
                    {"from": "X", "to": "CH", "id": "W"},
                ]
            }
        ),
        "another wire has the id 'w' already",
    ),
    (
        put(bare(), ("wirings", "original", "changes"), [{"drop": ["X", "CH"]}]),
        "differs from nothing",
    ),
    (change(drop=["X", "CH"], join=["X", "CH"]), "a change is of one kind; drop and join given"),
    (change(why="no kind"), "a change is of one kind; none given"),
    (change(drop=["X", "CH"], between=["X", "CH"]), "'between' goes with 'insert'"),
    (change(drop=["X", "S1.A"]), "'S1.A' is a lug of a switch"),
    (change(drop=["X", "X"]), "both ends are 'X'"),
    (change(drop=["X", "R5.1"]), "no part 'R5' in wiring 'original'"),
    (change(insert="R1", between=["X", "CH"]), "no part 'R1' in this wiring"),
    (change(insert="R9", between=["X", "CH"]), "'R9' stays in every wiring"),
    (change(insert=[], between=["X", "CH"]), "an empty list"),
    (change(remove="R9"), "'R9' stays in every wiring and cannot be removed"),
    (change(remove="R5"), "no part 'R5' in the original"),
    (change(reverse="S1"), "it has no two ends to turn"),
    (reading(voltage=["X", "CH"]), "either 'current' or 'voltage'"),
    (reading(current=None), "either 'current' or 'voltage'"),
    (reading(full_scale="1 V"), "a current is needed"),
    (reading(current=["X", "X"]), "both ends are 'X'"),
    (reading(marks={"5 V": "red"}), "marks: '5 V' is in volts"),
    (reading(also=[{"current": ["X", "CH"], "amount": "1 V"}]), "in volts"),
    (put(reading(), ("parts", "M2"), M), "several meters; say which by 'meter'"),
    (put(reading(), ("wirings", "original"), {}), "the original has no meter"),
    (
        put(reading(), (*SUB, "parts"), {"R1": FIT, "R2": FIT}),
        "'R1' is fitted for 'r' already",
    ),
    (
        put(put(reading(), ("parts", "R1"), FIT), (*SUB, "parts"), {"R2": FIT}),
        "fitted for 'r' already",
    ),
    (
        put(
            reading(),
            (*SUB, "parts"),
            {"R1": FIT, "P1": {"pot": "1k", "setting": "fit", "for": "r"}},
        ),
        "fitted for 'r' already",
    ),
    (put(reading(), (*SUB, "parts"), {"R1": {"resistor": "fit"}}), "'fit' needs 'for'"),
    (put(reading(), (*SUB, "parts"), {"R1": {**R, "for": "r"}}), "'for' goes with 'fit'"),
    (bare() | {"rules": [{"connect": ["X", "CH"], "beyond": "1"}]}, "'beyond' goes with 'isolate'"),
    (bare() | {"rules": [{"isolate": ["X", "CH"], "within": "1"}]}, "'within' goes with 'connect'"),
    (bare() | {"rules": [{"connect": ["X", "CH"], "isolate": ["X", "CH"]}]}, "either 'connect' or"),
    (bare() | {"pages": [{"image": "../x.png"}]}, "does not lie beside the spec"),
    (bare() | {"pages": [{"image": "/etc/x.png"}]}, "does not lie beside the spec"),
    (bare() | {"pages": [{"image": "C:\\x.png"}]}, "does not lie beside the spec"),
    (bare() | {"pages": [{"image": "a\\..\\x.png"}]}, "does not lie beside the spec"),
    (bare() | {"pages": [{"image": "x.png", "notes": [{"at": ["0", "1"]}]}]}, "says nothing"),
    (
        bare() | {"pages": [{"image": "x.png", "notes": [{"at": ["0", "2"], "text": "x"}]}]},
        "0 to 1",
    ),
    (bare() | {"pages": [{"image": "x.png", "notes": [{"at": ["0"], "text": "x"}]}]}, "list"),
    (bare() | {"document": {"licence": "a", "license": "b"}}, "both license and licence are given"),
]


@pytest.mark.parametrize(
    ("spec", "said"), OTHERS, ids=[f"{n}-{o[1]}" for n, o in enumerate(OTHERS)]
)
def test_what_does_not_go_together(spec: dict[str, Any], said: str) -> None:
    assert said in faults(spec)


def test_all_that_is_wrong_is_said_at_once() -> None:
    spec = full()
    put(spec, ("parts", "R1", "tolerance"), "5 V")
    put(spec, ("parts", "R1", "between"), ["FEED", "CHASIS"])
    put(spec, ("readings", "bias", "full_scale"), "much")
    put(spec, ("readings", "bias", "when"), {"METRE": "BIAS"})
    put(spec, ("wirings", "original", "wires", 0), ["S1.99", "M1.+", "red"])
    put(spec, ("wirings", "substitute", "changes", 1, "when"), {"METER": "BIAZ"})
    put(spec, ("wirings", "substitute", "parts", "M2", "replaces"), "M7")
    del spec["title"]
    said = faults(spec)
    for word in ("title", "5 V", "CHASIS", "much", "METRE", "'99'", "red is RD", "BIAZ", "M7"):
        assert word in said
    assert said.count("\n") == 8


def test_a_malformed_part_is_not_called_unknown_as_well() -> None:
    spec = bare(
        original={"parts": {"S1": {"switch": "nonsense", "control": "K"}}, "wires": [["X", "S1.A"]]}
    )
    said = faults(spec)
    assert "not a switch form" in said
    assert "\n" not in said


def test_long_lists_of_faults_are_cut() -> None:
    wires = [["X", f"S1.Q{number}"] for number in range(1000)]
    parts = {"S1": {"switch": "SP3T", "control": "K"}}
    lines = faults(bare(original={"parts": parts, "wires": wires})).split("\n")
    assert len(lines) == 101
    assert lines[-1] == "<text>: and 900 more"


def test_american_spellings_of_keys_are_read() -> None:
    spec = bare(original={"wires": [{"from": "X", "to": "CH", "color": "rd"}]})
    spec["document"] = {"license": "CC0"}
    read_back = read(spec)
    assert read_back.original.wires[0].colour == "RD"
    assert read_back.document.licence == "CC0"


def test_a_bare_mega_is_read_with_a_notice() -> None:
    spec = bare(original={"parts": {"R1": {"resistor": "1M + 50 M"}, "P1": {"pot": "2M2"}}})
    result = read(spec)
    assert len(result.notices) == 2
    assert all("mega" in notice.message or "megohms" in notice.message for notice in result.notices)
    pot = result.original.parts["P1"]
    resistor = result.original.parts["R1"]
    assert isinstance(pot, Pot)
    assert isinstance(resistor, Resistor)
    assert pot.ohms == 2.2e6


def test_wires_are_numbered_around_ids_of_ones_own() -> None:
    parts = {"S1": {"switch": "DP3T", "control": "K"}}
    wires = [
        ["X", "S1.A"], ["S1.A1", "S1.B"], {"from": "X", "to": "S1.B1", "id": "W2"},
        ["X", "S1.B2"], {"from": "S1.A2", "to": "S1.A3", "id": "J1"}, ["S1.A3", "S1.B3"],
        ["X", "CH"],
    ]  # fmt: skip
    built = read(bare(original={"parts": parts, "wires": wires})).original.wires
    assert [wire.id for wire in built] == ["W1", "J2", "W2", "W3", "J1", "J3", "W4"]
    assert [wire.jumper for wire in built] == [False, True, False, False, True, True, False]
