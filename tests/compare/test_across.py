"""An added part across places that the original keeps apart is always told, and where.

The reference goes through every full state: nets, closed contacts and added parts as one graph.
"""

from __future__ import annotations

import random
from itertools import combinations
from pathlib import Path
from typing import Any

import networkx as nx
import pytest
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.compare import compare
from rewire.compare.findings import Across, Result
from tests.reference.circuit import Contacts, states_of
from tests.reference.oracle import compared
from tests.reference.rest import closed_in
from tests.reference.strategies import random_spec
from tests.reference.view import View, added_parts
from tests.spec.builders import read

Told = tuple[frozenset[frozenset[str]], tuple[tuple[str, str], ...]]
"""Two nets, by their anchors, and a full state."""


def linked(view: View, closed: Contacts, pair: tuple[int, int], added: list[str]) -> bool:
    """Whether contacts, and some parts, link two nets over no third with an anchor."""
    circuit = view.circuit
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(circuit.nets)))
    for group in (*(circuit.numbers(lugs) for lugs in closed), *circuit.dc_links(added)):
        graph.add_edges_from(combinations(set(group), 2))
    graph.remove_nodes_from([net for net in view.anchored() if net not in pair])
    return nx.has_path(graph, *pair)


def wanted(drawn: dict[str, Any]) -> set[Told]:
    original, other, _ = compared(drawn, "substitute")
    added = added_parts(other)
    found = set()
    for state in states_of(drawn):
        closed = closed_in(other.circuit, state)
        ties = original.made_whole(closed_in(original.circuit, state), other)
        for pair in combinations(other.anchored(), 2):
            names = frozenset(other.net(net) for net in pair)
            tied = any(all(anchors <= tie for anchors in names) for tie in ties)
            closer = linked(other, closed, pair, []), linked(other, closed, pair, added)
            if not tied and closer == (False, True):
                found.add((names, tuple(state.items())))
    return found


def all_told(result: Result) -> set[Across]:
    return {one for finding in result.findings for one in finding.across}


def with_parts_across(seed: int) -> dict[str, Any]:
    """A random spec whose substitute has up to four parts more, anywhere."""
    rng = random.Random(seed)
    drawn: dict[str, Any] = random_spec(rng, size=seed % 3)
    substitute = drawn["wirings"]["substitute"]
    wires = [w if isinstance(w, list) else [w["from"], w["to"]] for w in substitute["wires"]]
    places = sorted({place for wire in wires for place in wire[:2]} | set(drawn["points"]))
    for number in range(rng.randrange(5)):
        kind, value = rng.choice((("resistor", "10 ohm"), ("fuse", "1 A"), ("capacitor", "1 uF")))
        part = {kind: value, "between": rng.sample(places, 2)}
        substitute.setdefault("parts", {})[f"Z{number}"] = part
    return drawn


def test_random_specs_agree_with_every_state_gone_through() -> None:
    count = 0
    for seed in range(250):
        drawn = with_parts_across(seed)
        (result,) = compare(read(drawn), ["substitute"])
        found = set()
        for one in all_told(result):
            groups = frozenset(frozenset(group) for group in one.groups)
            for state in states_of(drawn):
                if any(at.as_dict().items() <= state.items() for at in one.states or ()):
                    found.add((groups, tuple(state.items())))
        assert found == wanted(drawn), seed
        count += len(found)
        for finding in result.findings:
            assert all(finding.part in one.parts for one in finding.across)
    assert count > 300


FUSED = """
rewire: 1
title: a fuse in the wrong place
controls: {METER: [BIAS, CATHODE]}
points: {CHASSIS: {chassis: yes}, HT: {volts: 400 V}, BIAS: {volts: -40 V}}
wirings:
  original:
    parts: {S1: {switch: SPDT, control: METER, timing: non-shorting}}
    wires: [[BIAS, S1.A1], [CHASSIS, S1.A2]]
  plan:
    parts:
      S1: {switch: SPDT, control: METER, timing: non-shorting}
      F1: {fuse: 1 A, between: [HT, S1.A]}
    wires: [[BIAS, S1.A1], [CHASSIS, S1.A2]]
"""


@pytest.fixture
def fused(tmp_path: Path) -> str:
    path = tmp_path / "fused.yaml"
    path.write_text(FUSED, "utf-8")
    return str(path)


def test_a_fuse_over_a_contact_is_told_with_its_places_and_positions(fused: str) -> None:
    done = CliRunner().invoke(rewire, ["check", fused], env={"COLUMNS": "200"})
    assert done.exit_code == 0  # by the contract an added part spoils no verdict
    first, _, rest = done.stdout.partition("\n\n")
    assert first.startswith("CHANGED")
    assert "links places that the original keeps apart" in " ".join(first.split())
    assert "CHASSIS and HT are linked through fuse F1 in METER: CATHODE" in rest
    assert "BIAS and HT are linked through fuse F1 in METER: BIAS" in rest
    loud, _, quiet = rest.partition("For information")
    assert "F1" in loud
    assert "F1" not in quiet


def test_a_part_across_places_that_the_original_ties_is_mere_information() -> None:
    """Beside a wire it links nothing new; only in the position where the tie lets go."""
    parts = {"S1": {"switch": "SPDT", "control": "K"}}
    wires = [["X", "S1.A"], ["Y", "S1.A1"]]
    drawn = {
        "rewire": "1", "title": "beside", "controls": {"K": ["P", "Q"]},
        "points": {"X": {}, "Y": {}, "Z": {}},
        "wirings": {
            "original": {"parts": parts, "wires": [*wires, ["X", "Z"]]},
            "plan": {
                "parts": {
                    **parts,
                    "R1": {"resistor": "10 ohm", "between": ["X", "Y"]},
                    "C1": {"capacitor": "1 uF", "between": ["Y", "Z"]},
                },
                "wires": [*wires, ["X", "Z"]],
            },
        },
    }  # fmt: skip
    (one,) = all_told(compare(read(drawn))[0])
    assert one.parts == ("R1",)
    assert [state.as_dict() for state in one.states or ()] == [{"K": "Q"}]
