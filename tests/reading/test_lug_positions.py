"""Where lugs sit: one answer, which the picture, the ohmmeter and the order of work all read."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import pytest

from rewire.bench.mistakes import single_mistakes
from rewire.bench.probes import assembly_of
from rewire.draw.lugs import Grid, arrange
from rewire.reading import SpecError
from rewire.records.spec import Spec
from rewire.records.switches import Switch, layout_doubt, lug_positions, neighbours
from tests.reading.builders import read


def spec_of(switch: dict[str, Any], wires: list[list[str]] | None = None) -> Spec:
    form = {"switch": "3P6T", "control": "K", "style": "rotary", "timing": "non-shorting", **switch}
    wires = wires or [["X", "S1.A"]]
    return read({
        "rewire": "1", "title": "lugs", "controls": {"K": ["P1", "P2", "P3"]},
        "points": {"CH": {"chassis": "yes"}, "X": {}, "Y": {}, "Z": {}},
        "wirings": {
            "original": {"parts": {"S1": form}, "wires": wires},
            "other": {"parts": {"S1": form}, "wires": wires},
        },
    })  # fmt: skip


def switch_of(**keys: Any) -> Switch:
    switch = spec_of(keys).original.parts["S1"]
    assert isinstance(switch, Switch)
    return switch


@pytest.mark.parametrize("decks", ["1", "2", "3", [["A", "C"], ["B"]], [["B"], ["C"], ["A"]]])
def test_the_picture_and_the_order_of_work_have_the_same_decks(decks: Any) -> None:
    switch = switch_of(layout={"decks": decks})
    wafers = arrange(switch)
    assert isinstance(wafers, tuple)
    depth = lug_positions(switch).depth
    for number, wafer in enumerate(wafers):
        for lug in wafer.lugs:
            assert depth[lug] == len(wafers) - 1 - number


@pytest.mark.parametrize("decks", [[["A", "C"], ["B"]], [["A", "B"], ["C"]], [["C", "B"], ["A"]]])
def test_lugs_beside_each_other_in_the_picture_can_be_bridged(decks: Any) -> None:
    switch = switch_of(layout={"decks": decks})
    wafers = arrange(switch)
    assert isinstance(wafers, tuple)
    drawn = set()
    for wafer in wafers:
        ring = {lug: (at, True) for lug, at in wafer.inner} | {
            lug: (at, False) for lug, at in wafer.outer
        }
        for one, other in combinations(ring, 2):
            turn = abs(ring[one][0] - ring[other][0]) % 360
            if min(turn, 360 - turn) <= 30:
                drawn.add(frozenset((one, other)))
    assert {frozenset(pair) for pair in neighbours(switch)} == drawn


def test_a_bridge_between_two_poles_of_a_written_deck_is_suspected() -> None:
    wires = [["X", "S1.A"], ["Y", "S1.A6"], ["Z", "S1.C1"], ["CH", "S1.B1"]]
    spec = spec_of({"layout": {"decks": [["A", "C"], ["B"]]}}, wires)
    wiring = spec.wirings["other"]
    said = {m.text for m in single_mistakes(spec, wiring, assembly_of(spec, wiring))}
    assert "solder bridge between S1.A6 and S1.C1" in said
    assert not {text for text in said if "bridge" in text and "S1.B" in text and "S1.A" in text}


def test_springs_of_a_relay_are_bridged_as_they_are_drawn() -> None:
    """Drawn in a pile of one column, so no lug of pole A has one of pole B at its side."""
    switch = switch_of(switch="DPDT", style="relay", positions={"P1": "1", "P2": "2", "P3": "open"})
    drawn = arrange(switch)
    assert isinstance(drawn, Grid)
    column = [row[0] for row in drawn.rows]
    beside = {frozenset(p) for p in pairwise(column) if None not in p}
    assert {frozenset(pair) for pair in neighbours(switch)} == beside


@pytest.mark.parametrize(
    ("layout", "assumed"),
    [
        (None, "A A1 A2 A3 B B1 B2 B3"),
        ({"decks": "2"}, "A A1 A2 A3 B B1 B2 B3"),
        ({"clock": {"A1": "12", "B": "7"}}, "A A2 A3 B1 B2 B3"),
        ({"rows": [["A", "A1", "A2", "A3"], ["B", "B1", "B2", "B3"]]}, ""),
    ],
)
def test_what_the_spec_does_not_place_is_marked_as_assumed(layout: object, assumed: str) -> None:
    switch = switch_of(switch="2P3T", **({"layout": layout} if layout else {}))
    assert sorted(lug_positions(switch).assumed) == assumed.split()


HOURS = {"A1": "1", "A2": "2", "A3": "3"}


def test_throws_against_the_knob_are_told_with_the_lists_that_mend_it() -> None:
    """From behind, what goes clockwise at the knob goes anticlockwise."""
    spec = spec_of({"switch": "SP3T", "layout": {"clock": {**HOURS, "A": "6"}}})
    notes = [n.message for n in spec.notices if "against a knob" in n.message]
    assert len(notes) == 2
    assert "A1, A2, A3 run clockwise" in notes[0]
    assert "lugs: [[A, A3, A2, A1]]" in notes[0]
    mended = {"lugs": [["A", "A3", "A2", "A1"]]}
    turned = {"positions": {"P1": "3", "P2": "2", "P3": "1"}}
    for way in (mended, turned, {"layout": {"clock": {"A1": "3", "A2": "2", "A3": "1"}}}):
        keys = {"switch": "SP3T", "layout": {"clock": {**HOURS, "A": "6"}}, **way}
        assert not [n for n in spec_of(keys).notices if "against a knob" in n.message]


def test_a_common_in_line_with_a_throw_is_read_and_drawn() -> None:
    switch = switch_of(switch="SP3T", layout={"clock": {**HOURS, "A": "2"}, "inside": ["A"]})
    assert lug_positions(switch).of["A"].clock == lug_positions(switch).of["A2"].clock == 60.0
    (wafer,) = arrange(switch)
    ((_, drawn),) = wafer.inner
    assert 4.0 <= abs(drawn - 60.0) < 15.0
    assert {frozenset(p) for p in neighbours(switch)} >= {frozenset({"A", "A2"})}


@pytest.mark.parametrize(
    ("layout", "said"),
    [
        ("side by side", "layout: keys and values are needed here; write layout: {"),
        ({"deks": "2"}, "unknown key 'deks'; nearest is 'decks'"),
        ({"decks": "9"}, "write a number from 1 to 2"),
        ({"decks": "x"}, "'x' is not a number of decks"),
        ({"decks": [["A"], "B"]}, "a list of lugs is needed"),
        ({"decks": [["A"]]}, "leaves out B"),
        ({"decks": [["A"], ["C"]]}, "C"),
        ({"step": "200"}, "degrees between two throws"),
        ({"step": "wide"}, "write the degrees between two throws"),
        ({"clock": {"A9": "3"}}, "'A9', which is no lug of it; nearest is"),
        ({"clock": {"A1": "half past"}}, "write one such as 12"),
        ({"clock": "12"}, "lugs and their hours are needed"),
        ({"clock": {"A1": "3", "A2": "3"}}, "A1 and A2"),
        ({"rows": [["A", "A1"], ["B"]]}, "leaves out A2"),
        ({"rows": "A B"}, "lists of lugs are needed"),
        ({"rows": [["A", "A", "A1", "A2", "A3", "B", "B1", "B2", "B3"]]}, "stands there once"),
        ({"inside": ["Z"]}, "no lug of it"),
    ],
)
def test_a_layout_that_cannot_be_is_found_when_the_spec_is_read(layout: object, said: str) -> None:
    with pytest.raises(SpecError) as refused:
        switch_of(switch="2P3T", layout=layout)
    faults = refused.value.faults
    assert said in str(faults[0])
    assert faults[0].place.line > 1


DP3T_LUGS = [["A", "1", "2", "3"], ["B", "4", "5", "6"]]
SIX_HOURS = {lug: str(hour) for hour, lug in enumerate("123456", 1)}


@pytest.mark.parametrize(("keys", "doubt"), [
    ({}, "lug layout assumed: go by the letters"),
    ({"lugs": DP3T_LUGS}, "lug layout assumed: go by the numbers"),
    ({"lugs": [["A", "1a", "2a", "3a"], DP3T_LUGS[1]]}, "lug layout assumed: go by the names"),
    ({"lugs": DP3T_LUGS, "layout": {"step": "30", "inside": ["A", "B"]}},
     "place of lugs 1 and 4 assumed: go by the numbers"),
    ({"lugs": DP3T_LUGS, "layout": {"clock": SIX_HOURS}},
     "lug layout A, B assumed: go by the numbers"),
    ({"lugs": DP3T_LUGS, "layout": {"clock": {**SIX_HOURS, "A": "8", "B": "9"}}}, None),
])  # fmt: skip
def test_what_is_not_known_of_the_lugs_is_said_with_what_is_on_them(
    keys: dict[str, Any], doubt: str | None
) -> None:
    """A lug is found by what is printed beside it: common practice, no source."""
    assert layout_doubt(switch_of(**{"switch": "DP3T", **keys})) == doubt
