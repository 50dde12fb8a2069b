"""Nobody who is tied with the places of a finding, in any of its positions, goes unsaid.

The ties are those of the brute-force reference in ``tests/reference``, state by state.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import pytest

from rewire.compare import compare
from rewire.compare.findings import Finding, State, group_name, told_apart
from rewire.report.check import company, was
from tests.reading.builders import read
from tests.reference.circuit import states_of
from tests.reference.oracle import compared
from tests.reference.rest import closed_in
from tests.reference.strategies import random_spec
from tests.reference.view import View

AT_REST = ("dropped", "inserted", "joined")


def at_one_of(states: Iterable[State], full: Mapping[str, str]) -> bool:
    return any(state.as_dict().items() <= full.items() for state in states)


def tied_with(view: View, finding: Finding, full: Mapping[str, str]) -> Iterator[frozenset[str]]:
    """Nets without a place of the finding that are in its tie in one state."""
    own = {place for group in finding.groups for place in group}
    first = finding.groups[0][0]
    closed = closed_in(view.circuit, full)
    tie = next(group for group in view.tied(closed) if first in group)
    yield from (net for net in view.anchored_nets() if net <= tie and not net & own)


def said_in(finding: Finding, full: Mapping[str, str]) -> set[str]:
    return {
        one.place
        for one in finding.company
        if one.states is not None and (not one.states or at_one_of(one.states, full))
    }


def test_random_specs_name_every_other_connection_in_every_state() -> None:
    looked_at = told_apart = 0
    for seed in range(40):
        drawn: dict[str, Any] = random_spec(random.Random(seed), size=seed % 3)
        spec = read(drawn)
        original, other, _ = compared(drawn, "substitute")
        (result,) = compare(spec, ["substitute"])
        for finding in (f for f in result.findings if f.kind in AT_REST):
            view = other if finding.kind == "joined" else original
            fulls = [full for full in states_of(drawn) if at_one_of(finding.states, full)]
            for state in (state for one in finding.company for state in one.states or ()):
                assert any(at_one_of([state], full) for full in fulls), (seed, finding, state)
            for full in fulls:
                wanted = {
                    group_name(sorted(net), spec.points) for net in tied_with(view, finding, full)
                }
                assert said_in(finding, full) == wanted, (seed, finding, full)
                looked_at += 1
            told_apart += any(one.states for one in finding.company)
    assert looked_at > 75
    assert told_apart > 3


def shorted() -> dict[str, Any]:
    """Two leads joined for good; in SHUNT the first of them stands on the chassis, as it always
    did."""
    parts = {"S1": {"switch": "SPDT", "control": "USE"}}
    wires = [["LEAD", "S1.A"], ["S1.A1", "CHASSIS"]]
    return {
        "rewire": "1", "title": "shorted", "controls": {"USE": ["SHUNT", "READ"]},
        "points": {"CHASSIS": {"chassis": "yes"}, "LEAD": {}, "HOT": {"volts": "300 V"}},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "other": {"parts": parts, "wires": [*wires, ["LEAD", "HOT"]]},
        },
    }  # fmt: skip


def test_joined_in_every_position_and_with_the_chassis_in_one() -> None:
    (result,) = compare(read(shorted()))
    (joined,) = (finding for finding in result.findings if finding.kind == "joined")
    assert joined.groups == (("HOT",), ("LEAD",))
    assert [state.as_dict() for state in joined.states] == [{}]
    assert company(joined) == "is connected to CHASSIS in USE: SHUNT"


@pytest.mark.parametrize(
    ("ruled_out", "told"),
    [
        (["Q0"], "is connected to C in K: P0 with L: Q1"),
        (["Q1"], ""),
        (["Q0", "Q2"], "is connected to C in all of these positions"),
    ],
)
def test_states_ruled_out_by_never_are_not_reported(ruled_out: list[str], told: str) -> None:
    """A and B are joined in P0; C stands on A in Q1, which only ``never`` links to P0."""
    parts = {
        "S1": {"switch": "table", "control": "K", "contacts": {"P0": [["a", "b"]]}},
        "S2": {"switch": "table", "control": "L", "contacts": {"Q1": [["a", "c"]]}},
    }
    wires = [["A", "S1.a"], ["A", "S2.a"], ["C", "S2.c"]]
    spec = read({
        "rewire": "1", "title": "never", "controls": {"K": ["P0", "P1"], "L": ["Q0", "Q1", "Q2"]},
        "never": [{"K": "P0", "L": at} for at in ruled_out],
        "points": {"A": {}, "B": {}, "C": {}},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "other": {"parts": parts, "wires": [*wires, ["B", "S1.b"]]},
        },
    })  # fmt: skip
    (joined,) = (f for f in compare(spec)[0].findings if f.kind == "joined")
    assert company(joined) == told


def test_a_way_that_differs_from_position_to_position_says_where_it_holds() -> None:
    contacts = {"P": [["a", "b"]], "Q": [["a", "c"]]}
    parts = {"S1": {"switch": "table", "control": "K", "contacts": contacts}}
    spec = read({
        "rewire": "1", "title": "two ways", "controls": {"K": ["P", "Q"]},
        "points": {"X": {}, "Y": {}},
        "wirings": {
            "original": {"parts": parts, "wires": [["X", "S1.a"], ["Y", "S1.b"], ["Y", "S1.c"]]},
            "lost": {"parts": parts, "wires": [["X", "S1.a"]]},
        },
    })  # fmt: skip
    (dropped,) = (f for f in compare(spec)[0].findings if f.kind == "dropped")
    assert was(dropped) == "X – S1.a – S1.b – Y (in K: P)"
    assert dropped.now == (
        "in K: P: X stops at S1.a and S1.b; nothing is connected to Y | "
        "in K: Q: X stops at S1.a and S1.c; nothing is connected to Y"
    )


def many(points: int, positions: int) -> dict[str, Any]:
    """A lead joined for good to a pole that turns over many points, the chassis the last of all."""
    names = [f"P{n:02}" for n in range(points - 1)] + ["ZERO"]
    parts = {"S1": {"switch": f"SP{positions}T", "control": "K"}}
    wires = [["LEAD", "S1.A"], *([f"S1.A{n}", p] for n, p in enumerate(names, 1))]
    return {
        "rewire": "1", "title": "many", "controls": {"K": [f"K{n}" for n in range(positions)]},
        "points": {"LEAD": {}, "HOT": {}, **{name: {} for name in names}},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "other": {"parts": parts, "wires": [*wires, ["LEAD", "HOT"]]},
        },
    }  # fmt: skip


def test_the_last_of_many_positions_is_not_cut_off() -> None:
    (joined,) = (f for f in compare(read(many(30, 30)))[0].findings if f.kind == "joined")
    assert company(joined).endswith("ZERO in K: K29")
    assert company(joined).count(" in K: ") == 30


def test_states_that_were_not_followed_are_counted() -> None:
    states = [State((("K", f"K{n}"),)) for n in range(30)]
    assert told_apart(["a"] * 24, states) == "a; 6 further positions were not traced"
    apart = told_apart(["a"] * 12 + ["b"] * 12, states) or ""
    assert apart.endswith(" | 6 further positions were not traced")
    assert told_apart(["a"] * 30, states) == "a"
    assert told_apart([None] * 30, states) is None
