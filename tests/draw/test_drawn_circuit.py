"""The circuit on the card, read back from its finished SVG: it is the plan, contact by contact."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.draw.contacts import closed_drawn, closed_meant, idle, lying_on
from tests.draw.drawing import drawing_of
from tests.draw.marred import FAULTS
from tests.draw.pictures_drawn import SPECS, Drawn, at_random, shipped, svg
from tests.draw.readback import disagreements

SEEDS = 400
IN_ONE = 50


def check(one: Drawn) -> None:
    """Nets, contacts of every position, and the blades in the first."""
    painted = svg(one.circuit)
    assert disagreements(painted, one.in_circuit) == []
    meant, spare = closed_meant(one.plain, one.wiring), idle(one.plain, one.wiring)
    drawn = closed_drawn(painted, one.plain, one.wiring, one.in_circuit)
    for at, groups in meant.items():
        assert groups - spare <= drawn[at] <= groups, at
    first = dict(reversed(meant))
    for pair in lying_on(drawing_of(painted), one.in_circuit):
        switch = pair[0].partition(".")[0]
        assert any(set(pair) <= group for group in meant[switch, first[switch]]), pair


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_the_circuit_of_a_shipped_spec_is_its_plan(path: Path) -> None:
    check(shipped(path))


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_random_circuits_are_their_plans(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        check(at_random(seed))


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_circuit_with_one_fault_is_not_the_plan(path: Path, fault: str) -> None:
    one = shipped(path)
    painted = svg(one.circuit)
    for seed in range(4):
        marred = FAULTS[fault](painted, random.Random(seed), one.in_circuit)
        assert marred is None or disagreements(marred, one.in_circuit), seed
