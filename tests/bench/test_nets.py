"""Where a wiring is known only as nets: lug by lug what comes off, and what must be joined."""

from __future__ import annotations

import random
from itertools import pairwise, product
from pathlib import Path
from typing import Any

import networkx as nx
import pytest

from rewire.bench.moves import moves_of
from rewire.bench.work_list import Moves
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from tests.bench.shipped import SPECS, shipped, shipped_moves
from tests.bench.workbench import assert_same, worked_through
from tests.reading.builders import read


def spec_of(original: dict[str, Any], other: dict[str, Any]) -> Spec:
    return read({
        "rewire": "1", "title": "nets", "controls": {"K": ["P", "Q"]},
        "points": {"CH": {"chassis": "yes"}, "HOT": {"volts": "300 V"}, "X": {}},
        "wirings": {"original": original, "other": other},
    })  # fmt: skip


def switch(name: str) -> dict[str, Any]:
    return {name: {"switch": "SPDT", "control": "K"}}


def there(spec: Spec) -> Moves:
    moves = moves_of(spec, "original", "other")
    assert_same(spec, worked_through(spec, moves), spec.wirings["other"])
    return moves


def at_lugs(moves: Moves) -> list[tuple[str, str | None, str | None]]:
    return [(step.kind, step.place, step.destination) for step in moves.steps if step.lug]


def test_from_nets_to_wires_each_lug_says_where_its_net_goes() -> None:
    spec = spec_of(
        {"parts": switch("S1"), "nets": [["HOT", "S1.A"], ["CH", "S1.A1"], ["X", "S1.A2"]]},
        {"parts": switch("S2"),
         "wires": [["HOT", "S2.A", "RD"], ["S2.A1", "X"], ["S2.A2", "CH"]]},
    )  # fmt: skip
    moves = there(spec)
    assert at_lugs(moves)[:3] == [
        ("free", "S1.A", "S2.A"),
        ("free", "S1.A1", "S2.A2"),
        ("free", "S1.A2", "S2.A1"),
    ]
    assert [step.kind for step in moves.steps if step.lug][3:] == ["wire"] * 3


def test_to_nets_it_says_what_must_be_joined_and_invents_no_wire() -> None:
    spec = spec_of(
        {"parts": switch("S1"), "wires": [["HOT", "S1.A"], ["CH", "S1.A1"]]},
        {"parts": switch("S1"), "nets": {"supply": ["HOT", "S1.A"], "far": ["CH", "S1.A2", "X"]}},
    )
    moves = there(spec)
    (join,) = (step for step in moves.steps if step.kind == "join")
    assert (join.place, join.partners) == ("X", ("CH", "S1.A2"))
    assert join.text == "X: wire to CH, S1.A2"
    # the wire of CH goes on as a join of its net: no name, for the plan gives it none
    (land,) = (step for step in moves.steps if step.kind == "land")
    assert (land.place, land.other, land.wire, land.becomes) == ("S1.A2", "CH", "W2", None)
    assert not [step for step in moves.steps if step.kind == "wire"]
    assert [(stay.wire, stay.becomes) for stay in moves.stays] == [("W1", None)]


def test_a_net_that_stays_is_not_touched_but_where_it_changes() -> None:
    spec = spec_of(
        {"parts": switch("S1"), "nets": [["HOT", "S1.A1", "S1.A2", "X"]]},
        {"parts": switch("S1"), "nets": [["HOT", "S1.A1", "S1.A2"]]},
    )
    moves = there(spec)
    assert at_lugs(moves) == [("free", "X", None)]
    assert moves.nets_stay == (("HOT", "S1.A1", "S1.A2"),)


def random_wiring(rng: random.Random, name: str) -> dict[str, Any]:
    """Places in random groups, each told as a net or as a chain of wires."""
    places = ["CH", "HOT", "X", f"{name}.A", f"{name}.A1", f"{name}.A2", "R1.1", "R1.2"]
    rng.shuffle(places)
    told: dict[str, Any] = {"nets": [], "wires": []}
    while len(places) > 1:
        group = [places.pop() for _ in range(min(len(places), rng.choice([1, 2, 2, 3, 4])))]
        if len(group) > 1 and rng.random() < 0.6:
            told["nets"].append(group)
        elif len(group) > 1:
            told["wires"] += [list(pair) for pair in pairwise(group)]
    told["parts"] = {**switch(name), "R1": {"resistor": "10 ohm"}}
    return {key: value for key, value in told.items() if value}


@pytest.mark.parametrize("seed", range(16))
def test_random_nets_and_wires(seed: int) -> None:
    rng = random.Random(seed)
    there(spec_of(random_wiring(rng, "S1"), random_wiring(rng, rng.choice(["S1", "S2"]))))


def tied_at(spec: Spec, wiring: Wiring, at: dict[str, int]) -> Any:
    """Graph of what nets and closed contacts join with the controls at these positions."""
    graph = nx.Graph()
    graph.add_nodes_from(spec.points)
    for group in [*(w.ends for w in wiring.wires), *(n.members for n in wiring.nets)]:
        nx.add_path(graph, group)
    for part in spec.parts_of(wiring).values():
        lugs = [part.terminal(lug) for lug in part.terminals]
        graph.add_edges_from(zip(lugs, part.between or (), strict=False))
        if isinstance(part, Switch):
            for section in part.sections:
                for group in section.groups[at[part.control]]:
                    nx.add_path(graph, [part.terminal(lug) for lug in group])
    return graph


def hottest(spec: Spec, wiring: Wiring) -> dict[str, float]:
    """Place → the most volts of a point it is tied to in some state in which no chassis is."""
    found: dict[str, float] = {}
    chassis = {name for name, point in spec.points.items() if point.chassis}
    high = {p.name: max(abs(p.volts or 0.0), abs(p.rises_to or 0.0)) for p in spec.points.values()}
    for state in product(*(range(len(c.positions)) for c in spec.controls.values())):
        at = dict(zip(spec.controls, state, strict=True))
        named = {name: spec.controls[name].positions[n] for name, n in at.items()}
        if any(never.items() <= named.items() for never in spec.never):
            continue
        for group in nx.connected_components(tied_at(spec, wiring, at)):
            volts = max((high[place] for place in group if place in high), default=0.0)
            if volts >= 50.0 and not group & chassis:
                found |= {place: max(found.get(place, 0.0), volts) for place in group}
    return found


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_no_lug_that_can_carry_50_volts_is_without_them(path: Path) -> None:
    """50 V is the project's own limit; which voltage is dangerous depends on where one is."""
    spec = shipped(path)
    for source, target in product(spec.wirings, repeat=2):
        before, after = (hottest(spec, spec.wirings[name]) for name in (source, target))
        moves = shipped_moves(path, source, target)
        told = {lug: abs(one.volts.volts) for one in moves.live for lug in one.lugs}
        for step in moves.steps:
            volts = {"lift": before, "free": before, "land": after, "wire": after, "join": after}
            hot = volts.get(step.kind, {}).get(step.place or "", 0.0)
            if hot:
                assert told[step.lug or ""] >= 0.999 * hot, step.text
