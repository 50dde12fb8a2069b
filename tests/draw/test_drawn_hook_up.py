"""The hook-up on the card, read back from its finished SVG: it is the plan, terminal by terminal.

A card has a hook-up up to 24 wires; beyond, each switch has a page of its own.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.draw.marred import FAULTS
from tests.draw.pictures_drawn import SPECS, at_random, shipped, svg
from tests.draw.readback import disagreements, read_back, wires_astray

DRAWN = [path for path in SPECS if len(shipped(path).spec.wirings["substitute"].wires) <= 24]
SEEDS = 120
IN_ONE = 20
_MOST_UNSURE = 0.02
"""Share of numbers that may stand nearer to another wire than to their own, and of random pictures
with a line that passes over a lug: the routing looks for a course without, and may find none."""


@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_the_hook_up_of_a_shipped_spec_is_its_plan(path: Path) -> None:
    one = shipped(path)
    read = read_back(svg(one.hook_up), one.in_hook_up)
    assert read.troubles == ()
    assert read.nets == one.in_hook_up.nets


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_random_hook_ups_are_their_plans(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        one = at_random(seed)
        assert read_back(svg(one.hook_up), one.in_hook_up).nets == one.in_hook_up.nets, seed


def test_numbers_stand_beside_their_own_wires_and_lines_keep_off_lugs() -> None:
    drawn = [*map(shipped, DRAWN), *map(at_random, range(SEEDS // 2))]
    reads = [(read_back(svg(one.hook_up), one.in_hook_up), one.in_hook_up) for one in drawn]
    wires = sum(len(known.wires) for _, known in reads)
    assert sum(len(list(wires_astray(*each))) for each in reads) <= _MOST_UNSURE * wires
    assert sum(bool(read.troubles) for read, _ in reads) <= _MOST_UNSURE * len(reads)


@pytest.mark.parametrize("fault", [fault for fault in FAULTS if "names" not in fault])
@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_a_hook_up_with_one_fault_is_not_the_plan(path: Path, fault: str) -> None:
    one = shipped(path)
    painted = svg(one.hook_up)
    whole = set(disagreements(painted, one.in_hook_up))
    for seed in range(4):
        marred = FAULTS[fault](painted, random.Random(seed), one.in_hook_up)
        assert marred is None or set(disagreements(marred, one.in_hook_up)) - whole, seed
