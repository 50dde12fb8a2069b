"""From form or table to lugs and sections; networkx is the reference for connected pieces."""

from __future__ import annotations

from typing import Any

import networkx as nx
import pytest
from hypothesis import given, strategies as st

from rewire.records.switches import Switch, default_lugs, pole_letters, read_form
from tests.reading.builders import bare, faults, read


def built(control: list[str], **keys: Any) -> Switch:
    spec = bare(original={"parts": {"S1": {"control": "L", **keys}}})
    spec["controls"]["L"] = control
    part = read(spec).original.parts["S1"]
    assert isinstance(part, Switch)
    return part


@pytest.mark.parametrize(
    ("form", "size"),
    [
        ("SPST", (1, 1)), ("SPDT", (1, 2)), ("DPDT", (2, 2)), ("3PDT", (3, 2)), ("3P4T", (3, 4)),
        ("2P6T", (2, 6)), ("SP12T", (1, 12)), ("4PST", (4, 1)), ("24P11T", (24, 11)),
        ("60P60T", (60, 60)), ("61P2T", None), ("0PDT", None), ("SP0T", None), ("table", None),
        ("spdt", (1, 2)), ("SPDTX", None), ("SP٣T", None), ("", None),
    ],
)  # fmt: skip
def test_forms(form: str, size: tuple[int, int] | None) -> None:
    assert read_form(form) == size


def test_pole_letters_skip_i_and_o_and_go_on_after_z() -> None:
    letters = pole_letters(60)
    assert letters[:14] == list("ABCDEFGHJKLMNP")
    assert letters[23:27] == ["Z", "AA", "AB", "AC"]
    assert len(set(letters)) == 60
    assert not any(c in letter for letter in letters for c in "IO")


@given(st.integers(1, 60), st.integers(1, 60))
def test_default_lugs_never_clash(poles: int, throws: int) -> None:
    rows = default_lugs(poles, throws)
    flat = [lug for row in rows for lug in row]
    assert len(set(flat)) == len(flat) == poles * (throws + 1)


def test_a_plain_form_closes_one_throw_in_each_position() -> None:
    switch = built(["P", "Q"], switch="DP3T", timing="shorting")
    assert switch.terminals == ("A", "A1", "A2", "A3", "B", "B1", "B2", "B3")
    assert switch.throw_at == (1, 2)
    assert switch.idle_lugs == ("A3", "B3")
    first = switch.sections[0]
    assert first.lugs == ("A", "A1", "A2")
    assert first.groups == ((("A", "A1"),), (("A", "A2"),))
    assert {(s.pole, s.timing, s.timing_stated) for s in switch.sections} == {
        ("A", "shorting", True), ("B", "shorting", True),
    }  # fmt: skip


def test_positions_may_be_open_and_in_any_order() -> None:
    switch = built(["P", "Q", "R"], switch="SPDT", positions={"P": "2", "Q": "open", "R": "1"})
    assert switch.throw_at == (2, None, 1)
    assert switch.sections[0].groups == ((("A", "A2"),), (), (("A", "A1"),))
    assert not switch.sections[0].timing_stated
    assert switch.sections[0].timing == "non-shorting"


def test_a_switch_that_never_closes_has_no_section() -> None:
    switch = built(["P", "Q"], switch="SPST", positions={"P": "open", "Q": "open"})
    assert switch.sections == ()
    assert switch.idle_lugs == ("A", "A1")


def test_own_lugs_and_timing_by_any_lug_of_a_section() -> None:
    lugs = [["7", "6", "5"], ["x", "y", "z"]]
    switch = built(["P", "Q"], switch="DPDT", lugs=lugs, timing={"5": "unknown", "x": "shorting"})
    assert switch.poles == (("7", "6", "5"), ("x", "y", "z"))
    assert [section.timing for section in switch.sections] == ["unknown", "shorting"]


LUGS = [f"L{number}" for number in range(9)]


@st.composite
def tables(draw: st.DrawFn) -> dict[str, list[list[str]]]:
    contacts = {}
    for position in "PQR":
        rest = draw(st.permutations(LUGS))
        sizes = draw(st.lists(st.integers(2, 4), max_size=2))
        groups = []
        for size in sizes:
            groups.append(rest[:size])
            rest = rest[size:]
        contacts[position] = groups
    return contacts


@given(tables())
def test_sections_of_a_table_are_its_connected_pieces(contacts: dict[str, list[list[str]]]) -> None:
    switch = built(["P", "Q", "R"], switch="table", lugs=LUGS, contacts=contacts)
    graph: Any = nx.Graph()
    graph.add_nodes_from(LUGS)
    for groups in contacts.values():
        for group in groups:
            nx.add_path(graph, group)
    pieces = {frozenset(piece) for piece in nx.connected_components(graph) if len(piece) > 1}
    assert {frozenset(section.lugs) for section in switch.sections} == pieces
    assert set(switch.idle_lugs) == set(LUGS) - {lug for piece in pieces for lug in piece}
    for index, position in enumerate("PQR"):
        closed = [group for section in switch.sections for group in section.groups[index]]
        assert {frozenset(group) for group in closed} == {frozenset(g) for g in contacts[position]}
    for section in switch.sections:
        assert all(set(group) <= set(section.lugs) for at in section.groups for group in at)


@given(tables(), st.sampled_from(["shorting", "unknown"]))
def test_timing_of_a_table_goes_to_the_section_of_the_lug(
    contacts: dict[str, list[list[str]]], timing: str
) -> None:
    switch = built(
        ["P", "Q", "R"], switch="table", lugs=LUGS, contacts=contacts, timing={"L0": timing}
    )
    for section in switch.sections:
        assert section.timing == (timing if "L0" in section.lugs else "non-shorting")
        assert section.timing_stated == ("L0" in section.lugs)


@given(st.integers(1, 8), st.integers(1, 8))
def test_too_few_throws_are_refused_and_spare_ones_are_not(throws: int, positions: int) -> None:
    spec = bare(original={"parts": {"S1": {"switch": f"SP{throws}T", "control": "L"}}})
    spec["controls"]["L"] = [f"p{number}" for number in range(positions)]
    said = faults(spec)
    if throws == 1:
        assert "needs 'positions'" in said
    else:
        assert bool(said) == (positions > throws)
