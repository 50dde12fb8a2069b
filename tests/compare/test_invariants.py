"""What must not matter does not, and what must be found is, on random specs."""

from __future__ import annotations

import copy
import random
import re
from typing import Any

import pytest

from rewire.compare.findings import INFORMATION, Result
from tests.compare.rigs import result_of
from tests.reference.circuit import lugs_of
from tests.reference.oracle import facts
from tests.reference.strategies import random_spec

Spec = dict[str, Any]
SEEDS = range(8)


def drawn(seed: int) -> Spec:
    """A random spec without rules or declarations."""
    spec = copy.deepcopy(random_spec(random.Random(seed), 1))
    spec.pop("rules", None)
    for wiring in spec["wirings"].values():
        wiring.pop("changes", None)
    return spec


def against_itself(seed: int) -> Spec:
    """A random original, twice."""
    spec = drawn(seed)
    spec["wirings"]["substitute"] = copy.deepcopy(spec["wirings"]["original"])
    return spec


def told(result: Result) -> set[tuple[object, ...]]:
    """All that is said but names of spare places."""
    return {
        (f.kind, f.groups, f.states, frozenset(f.steps), f.part, f.meant)
        for f in result.findings
        if f.kind not in ("spare", "timing")
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_the_original_against_itself_is_kept(seed: int) -> None:
    """Whatever its switches and timings."""
    assert result_of(against_itself(seed)).verdict == "kept"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_original_breaks_the_rules_that_a_wiring_like_it_breaks(seed: int) -> None:
    """Held to the rules under its own name, or as another wiring: the same."""
    spec = copy.deepcopy(random_spec(random.Random(seed), 1))
    spec["wirings"]["substitute"] = copy.deepcopy(spec["wirings"]["original"])
    itself, like_it = (result_of(spec, name) for name in ("original", "substitute"))
    assert told(itself) == told(like_it)
    assert {f.kind for f in itself.findings} <= {"rule", *INFORMATION}
    broken = any(f.kind == "rule" for f in itself.findings)
    assert itself.verdict == ("broken" if broken else "kept")


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_the_file_and_the_ends_of_a_wire_change_nothing(seed: int) -> None:
    """Points, parts, nets and wires shuffled; each wire turned."""
    spec = drawn(seed)
    rng = random.Random(seed)

    def shuffled(mapping: Spec) -> Spec:
        return dict(rng.sample(sorted(mapping.items(), key=lambda item: item[0]), len(mapping)))

    other = copy.deepcopy(spec)
    other["points"] = shuffled(spec["points"])
    other["parts"] = shuffled(spec.get("parts", {}))
    for name, wiring in spec["wirings"].items():
        turned = copy.deepcopy(wiring)
        turned["parts"] = shuffled(wiring.get("parts", {}))
        wires = [turn(wire) for wire in wiring.get("wires", [])]
        turned["wires"] = rng.sample(wires, len(wires))
        other["wirings"][name] = turned
    assert told(result_of(other)) == told(result_of(spec))


def turn(wire: Any) -> Any:
    """A wire written the other way round."""
    if isinstance(wire, dict):
        return {**wire, "from": wire["to"], "to": wire["from"]}
    return [wire[1], wire[0], *wire[2:]]


@pytest.mark.parametrize("seed", SEEDS)
def test_new_names_for_parts_and_points_change_nothing_but_the_names(seed: int) -> None:
    """Prefixing every name keeps their order, so the answers are the same word for word."""
    spec = drawn(seed)
    names = [*spec["points"], *spec.get("parts", {})]
    names += [part for wiring in spec["wirings"].values() for part in wiring.get("parts", {})]
    pattern = re.compile(rf"^({'|'.join(map(re.escape, names))})(?=\.|$)")

    def renamed(value: Any) -> Any:
        if isinstance(value, dict):
            return {renamed(key): renamed(item) for key, item in value.items()}
        if isinstance(value, list | tuple):
            return [renamed(item) for item in value]
        return pattern.sub(r"Zz\1", value) if isinstance(value, str) else value

    def back(value: Any) -> Any:
        if isinstance(value, tuple):
            return tuple(back(item) for item in value)
        return value.removeprefix("Zz") if isinstance(value, str) else value

    there = {(f[0], back(f[1]), *f[2:4], back(f[4]), f[5]) for f in told(result_of(renamed(spec)))}
    assert there == told(result_of(spec))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wire_taken_out_breaks_it_just_when_the_reference_loses_a_tie(seed: int) -> None:
    """And the finding names anchors of the groups that the reference says it held together."""
    spec = against_itself(seed)
    wires = spec["wirings"]["substitute"].get("wires", [])
    for number in range(len(wires)):
        without = copy.deepcopy(spec)
        del without["wirings"]["substitute"]["wires"][number]
        expected = facts(without)
        result = result_of(without)
        lost = expected["rest"] or expected["steps"]
        assert (result.verdict == "broken") == bool(lost)
        named = {f.groups for f in result.findings if f.kind == "dropped"}
        held = (tuple(map(tuple, f["groups"])) for f in expected["rest"] if f["kind"] == "dropped")
        assert named == set(held)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wire_between_two_groups_is_found_as_joined(seed: int) -> None:
    """Two points that the original never ties."""
    spec = against_itself(seed)
    points = sorted(spec["points"])
    pairs = [(a, b) for a in points for b in points if a < b]
    for a, b in pairs:
        joined = copy.deepcopy(spec)
        joined["wirings"]["substitute"].setdefault("wires", []).append([a, b])
        expected = {f["kind"] for f in facts(joined)["rest"]}
        found = {f.kind for f in result_of(joined).findings} - INFORMATION
        assert ("joined" in expected) == ("joined" in found)


def test_the_specs_drawn_here_have_points_that_are_apart() -> None:
    """Guards the test above against joining only what is joined."""
    apart = 0
    for seed in SEEDS:
        joined = against_itself(seed)
        first, second, *_ = sorted(joined["points"])
        joined["wirings"]["substitute"].setdefault("wires", []).append([first, second])
        apart += any(f["kind"] == "joined" for f in facts(joined)["rest"])
    assert apart > len(SEEDS) // 2


def test_the_specs_drawn_here_have_switches_and_parts() -> None:
    """Guards the tests above against drawing nothing worth comparing."""
    kinds = [
        next(iter(part))
        for seed in SEEDS
        for part in drawn(seed)["wirings"]["original"]["parts"].values()
        if lugs_of(part)
    ]
    assert {"switch", "meter", "resistor"} <= set(kinds)
