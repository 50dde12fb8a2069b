"""The reference itself, on hand cases and against second opinions from other libraries."""

from __future__ import annotations

import copy
import random

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tests.reference.circuit import components, read_circuit, states_of, steps_of
from tests.reference.compare import disagreements
from tests.reference.hand import FEED, THROWS, Spec, hand, kinds, swap, switch
from tests.reference.oracle import facts, judge, verdict
from tests.reference.rest import closed_in
from tests.reference.rules import resistance
from tests.reference.strategies import random_spec


@pytest.mark.parametrize(
    ("first", "second", "lost"),
    [
        ("shorting", "non-shorting", True),
        ("shorting", "shorting", False),
        ("non-shorting", "non-shorting", False),
        ("shorting", "unknown", True),
        ("unknown", "non-shorting", True),
        ("unknown", "unknown", False),  # the same switch is taken alike in both
        ("shorting", None, True),  # not stated is non-shorting
    ],
)
def test_gap_by_timing(first: str, second: str | None, lost: bool) -> None:
    found = facts(hand(FEED, FEED, swap(switch(first), switch(second))))
    assert kinds(found) == ({("gap", "A C"): 1} if lost else {})


def test_unknown_timing_of_another_form_is_taken_against_the_substitute() -> None:
    found = facts(hand(FEED, FEED, swap(switch("unknown"), switch("unknown", "DPDT"))))
    assert kinds(found) == {("gap", "A C"): 1}


@pytest.mark.parametrize("timing", ["shorting", "unknown"])
def test_bridge_between_throws(timing: str) -> None:
    found = facts(hand(THROWS, THROWS, swap(switch("non-shorting"), switch(timing))))
    assert kinds(found) == {("bridge", "A B"): 1}


def over_another_control() -> Spec:
    """A reaches B over S, a net without anchors, and T, which stands still."""
    wires = [["S.A", "A"], ["S.A1", "S.A2"], ["S.A2", "T.1"], ["T.2", "B"]]
    t = {"switch": "table", "control": "L", "contacts": {"ON": [["1", "2"]]}}
    parts = {
        "original": {"S": switch("shorting"), "T": t},
        "substitute": {"S": switch("non-shorting"), "T": t},
    }
    controls = {"K": ["P", "Q"], "L": ["OFF", "ON"]}
    return hand(wires, wires, parts, controls=controls)


def test_a_net_touches_over_contacts_that_stand_still() -> None:
    spec = over_another_control()
    assert kinds(facts(spec)) == {("gap", "A B"): 1}
    assert facts(spec)["steps"][0]["others"] == {"L": "ON"}
    assert disagreements(spec) == []


def test_interrupted_where_nothing_tied_is_lost() -> None:
    """Two throws end on resistors to one place: no tie in common, yet current stops."""
    resistors = {"R1": {"resistor": "5 ohm"}, "R2": {"resistor": "6 ohm"}}
    wires = [["S.A", "C"], ["S.A1", "R1.1"], ["S.A2", "R2.1"], ["R1.2", "A"], ["R2.2", "A"]]
    parts = {
        "original": {"S": switch("shorting"), **resistors},
        "substitute": {"S": switch("non-shorting"), **resistors},
    }
    assert kinds(facts(hand(wires, wires, parts))) == {("interrupted", "A C"): 1}


def test_stray_where_nothing_is_bridged() -> None:
    """One section still at its old contacts, the other at its new ones: a way over a resistor.

    The poles never stand so while they are in step.
    """
    parts = {"S": switch(), "T": switch(), "R": {"resistor": "5 ohm"}}
    before = [["S.A", "A"], ["S.A1", "R.1"], ["R.2", "T.A2"]]
    found = facts(hand(before, [*before, ["T.A", "B"]], parts))
    assert kinds(found) == {("joined", "B R.2"): 1, ("stray", "A B"): 1}
    assert [fact["in_step"] for fact in found["steps"]] == [False]


def test_a_net_in_three_pieces_one_of_them_held_by_an_added_resistor() -> None:
    wires = [["A", "B"], ["B", "C"]]
    parts = {"original": {}, "substitute": {"Z": {"resistor": "1 ohm"}}}
    found = facts(hand(wires, [["A", "Z.1"], ["Z.2", "B"]], parts))
    assert kinds(found) == {("dropped", "A+B C"): 2, ("inserted", "A B"): 2}
    assert found["added"] == ["Z"]


def test_a_part_that_stays_is_turned_in_silence() -> None:
    there, back = [["X.1", "A"], ["X.2", "B"]], [["X.2", "A"], ["X.1", "B"]]
    spec = hand(there, back)
    spec["parts"] = {"X": {"resistor": "5 ohm"}}
    assert verdict(spec) == "kept"
    spec["parts"] = {"X": {"pot": "5 ohm", "setting": "50 %"}}
    spec["wirings"]["original"]["wires"] = [["X.ccw", "A"], ["X.wiper", "B"]]
    spec["wirings"]["substitute"]["wires"] = [["X.ccw", "B"], ["X.wiper", "A"]]
    assert verdict(spec) == "broken"


def test_a_turned_meter_is_reported() -> None:
    there, back = [["M.+", "A"], ["M.-", "B"]], [["M.-", "A"], ["M.+", "B"]]
    meter = {"M": {"meter": "1 mA", "resistance": "50 ohm"}}
    found = facts(hand(there, back, meter))
    assert found["rest"] == []
    assert found["reversed"] == ["M"]
    assert verdict(hand(there, back, meter)) == "broken"
    assert verdict(hand(there, back, meter, changes=[{"reverse": "M"}])) == "changed"


def test_declared_changes() -> None:
    both, one = [["A", "B"], ["B", "C"]], [["A", "B"]]
    assert verdict(hand(both, one)) == "broken"
    assert verdict(hand(both, one, changes=[{"drop": ["A", "C"]}])) == "changed"
    assert verdict(hand(both, one, changes=[{"drop": ["A", "B"]}])) == "broken"
    half = hand(both, one, changes=[{"drop": ["C", "A"], "when": {"K": "P"}}])
    assert [answer for _, answer in judge(half).meant] == [True, False]
    never = hand(both, both, changes=[{"join": ["A", "D"]}])
    assert judge(never).undone == {0: True}
    assert verdict(never) == "broken"
    assert verdict(hand(both, both)) == "kept"


@pytest.mark.parametrize(
    ("rule", "timing", "broken"),
    [
        ({"connect": ["A", "C"]}, "non-shorting", 0),
        ({"connect": ["A", "C"], "while_switching": "yes"}, "non-shorting", 1),
        ({"connect": ["A", "C"], "while_switching": "yes"}, "shorting", 0),
        ({"connect": ["A", "C"], "while_switching": "yes"}, "unknown", 1),
        ({"connect": ["A", "B"]}, "shorting", 2),
        ({"connect": ["A", "B"], "when": {"K": "P"}}, "shorting", 1),
        ({"isolate": ["A", "C"]}, "shorting", 2),
        ({"isolate": ["A", "B"]}, "shorting", 0),
    ],
)
def test_rules(rule: Spec, timing: str, broken: int) -> None:
    spec = hand(FEED, FEED, {"S": switch(timing)}, rules=[rule])
    assert len(judge(spec).rules) == broken


def test_travel() -> None:
    spec: Spec = {"controls": {"K": {"positions": list("PQRS"), "wraps": "yes"}}}
    assert steps_of(spec, "K") == [("P", "Q"), ("Q", "R"), ("R", "S"), ("P", "S")]
    spec = {"controls": {"K": {"positions": list("PQR"), "moves": "any"}}}
    assert steps_of(spec, "K") == [("P", "Q"), ("P", "R"), ("Q", "R")]
    spec = {"controls": {"K": {"positions": list("PQ"), "wraps": "yes"}}}
    assert steps_of(spec, "K") == [("P", "Q")]


def test_resistances_from_the_handbook() -> None:
    """Ohm's law: in series, in parallel, and a balanced bridge of five equal resistors (one R)."""
    arms = [("A", "B"), ("A", "C"), ("B", "D"), ("C", "D"), ("B", "C")]
    bridge = {f"R{n}": {"resistor": "10 ohm", "between": list(ends)} for n, ends in enumerate(arms)}
    circuit = read_circuit(hand([], [], bridge), "original")
    assert resistance(circuit, frozenset(), ["A", "D"], "isolate") == pytest.approx(10.0)
    assert resistance(circuit, frozenset(), ["A", "CH"], "isolate") == float("inf")
    chain = {"R1": {"resistor": "10 ohm"}, "P": {"pot": "40 ohm", "setting": "25 %"}}
    wires = [["A", "R1.1"], ["R1.2", "P.ccw"], ["P.wiper", "B"], ["P.cw", "B"]]
    circuit = read_circuit(hand(wires, wires, chain), "original")
    assert resistance(circuit, frozenset(), ["A", "B"], "isolate") == pytest.approx(20.0)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 30), st.lists(st.lists(st.integers(0, 29), min_size=1, max_size=5)))
def test_components_agree_with_scipy(count: int, drawn: list[list[int]]) -> None:
    groups = [[node % count for node in group] for group in drawn]
    edges = [(group[0], other) for group in groups for other in group[1:]]
    assert set(components(range(count), groups)) == by_scipy(count, edges)


def by_scipy(count: int, edges: list[tuple[int, int]]) -> set[frozenset[int]]:
    """Connected components by `scipy.sparse.csgraph`."""
    ends = np.array(edges, dtype=int).reshape(-1, 2)
    matrix = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    number, labels = connected_components(matrix, directed=False)
    return {frozenset(np.flatnonzero(labels == n).tolist()) for n in range(number)}


def test_ties_of_random_circuits_agree_with_scipy() -> None:
    """Terminal by terminal, from the wires and contacts of plain wirings."""
    for seed in range(10):
        spec = random_spec(random.Random(seed), size=1)
        circuit = read_circuit(spec, "substitute")
        index = {terminal: n for n, terminal in enumerate(circuit.net_of)}
        nets = [(index[min(net)], index[terminal]) for net in circuit.nets for terminal in net]
        for state in states_of(spec):
            closed = closed_in(circuit, state)
            contacts = [(index[min(group)], index[lug]) for group in closed for lug in group]
            ours = {
                frozenset(index[t] for number in numbers for t in circuit.nets[number])
                for numbers in circuit.joined(closed)
            }
            assert ours == by_scipy(len(index), nets + contacts)


def test_a_wiring_is_kept_against_itself() -> None:
    for seed in range(30):
        spec = copy.deepcopy(random_spec(random.Random(seed), size=1))
        spec["wirings"]["substitute"] = spec["wirings"]["original"]
        spec.pop("rules", None)
        assert verdict(spec) == "kept", f"seed {seed}"


def test_random_specs_are_made_again_from_their_seed_and_find_everything() -> None:
    wanted = {
        "dropped", "inserted", "joined", "linked", "gap", "bridge", "interrupted", "stray",
        "missing", "added", "reversed", "rule", "undone", "meant", "kept", "changed", "broken",
    }  # fmt: skip
    found: set[str] = set()
    for seed in range(300):
        spec = random_spec(random.Random(seed), size=seed % 3)
        assert seed % 10 or spec == random_spec(random.Random(seed), size=seed % 3)
        judged = judge(spec)
        found.update({fact["kind"] for fact in [*judged.found["rest"], *judged.found["steps"]]})
        found.update(kind for kind in ("missing", "added", "reversed") if judged.found[kind])
        found.update({"rule" for _ in judged.rules} | {str(judged.verdict)})
        found.update({"undone" for answer in judged.undone.values() if answer})
        found.update({"meant" for _, answer in judged.meant if answer})
        if seed >= 20 and found >= wanted:
            return
    raise AssertionError(f"never drawn: {wanted - found}")
