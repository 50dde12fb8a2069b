"""The circuit on the card, read back from its finished SVG: it is the plan, contact by contact."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from rewire.draw.scene import XY
from tests.draw.contacts import closed_drawn, closed_meant, idle, lying_on
from tests.draw.drawing import drawing_of
from tests.draw.marred import FAULTS
from tests.draw.pictures_drawn import SPECS, Drawn, at_random, shipped, svg
from tests.draw.readback import disagreements, spots_of

SMALL = [path for path in SPECS if path.stem not in ("bandswitch", "relay-and-switch")]
"""Quickest to spoil and to read back, again and again."""
SEEDS = 40
IN_ONE = 20


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


def test_a_ring_of_shunts_is_one_column_with_the_meter_across_it() -> None:
    """In order from the first throw to the last, as universal shunts are (common practice)."""
    one = shipped(next(path for path in SPECS if path.stem == "light-meter"))
    ends: dict[str, list[XY]] = {}
    for spot in spots_of(drawing_of(svg(one.circuit)), one.in_circuit)[0]:
        ends.setdefault(spot.terminal.partition(".")[0], []).append(spot.at)
    column = [sorted(ends[name]) for name in ("R11", "R12", "R13", "R14")]
    assert len({round(x, 1) for both in column for x, _ in both}) == 1
    heights = [y for both in column for _, y in both]
    assert heights == sorted(heights)
    (left, *_), meter = heights, sorted(ends["M2"])
    assert meter[0][0] == meter[1][0] > column[0][0][0]
    assert left < min(y for _, y in meter)
    assert max(y for _, y in meter) < heights[-1]


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_random_circuits_are_their_plans(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        check(at_random(seed))


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
def test_a_circuit_with_one_fault_is_not_the_plan(path: Path, fault: str) -> None:
    one = shipped(path)
    painted = svg(one.circuit)
    for seed in range(2):
        marred = FAULTS[fault](painted, random.Random(seed), one.in_circuit)
        assert marred is None or disagreements(marred, one.in_circuit), seed
