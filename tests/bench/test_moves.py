"""A list of moves, worked through, gives the second wiring; no way of keeping wires is shorter."""

from __future__ import annotations

import random
from itertools import permutations
from pathlib import Path

import pytest

from rewire.bench.moves import moves_of
from rewire.records.spec import Spec
from tests.bench.shipped import SPECS, shipped, shipped_moves
from tests.bench.workbench import assert_same, worked_through
from tests.reading.builders import read
from tests.reference.circuit import kind_of
from tests.reference.generate import original_parts, random_wires, written_wiring
from tests.reference.strategies import random_spec


def there(spec: Spec, source: str, target: str) -> None:
    moves = moves_of(spec, source, target)
    assert_same(spec, worked_through(spec, moves), spec.wirings[target])


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_shipped_specs_from_every_wiring_to_every_other(path: Path) -> None:
    spec = shipped(path)
    for source, target in permutations(spec.wirings, 2):
        moves = shipped_moves(path, source, target)
        assert_same(spec, worked_through(spec, moves), spec.wirings[target])


@pytest.mark.parametrize("seed", range(16))
def test_random_pairs_there_and_back(seed: int) -> None:
    spec = read(random_spec(random.Random(seed), size=seed % 3))
    there(spec, "original", "substitute")
    there(spec, "substitute", "original")


@pytest.mark.parametrize("seed", range(6))
def test_random_wirings_that_share_little(seed: int) -> None:
    """A second wiring drawn apart from the first: other parts, other wires."""
    rng = random.Random(seed)
    drawn = random_spec(rng, size=seed % 2)
    drawn.pop("rules", None)
    first = drawn["wirings"]["original"]["parts"]
    parts = {}
    for name, part in original_parts(rng, drawn, 1).items():
        same_kind = name not in first or kind_of(first[name]) == kind_of(part)
        parts[name if same_kind else f"Z{name}"] = part
    wires = random_wires(rng, drawn, parts)
    drawn["wirings"]["substitute"] = written_wiring(rng, parts, wires)
    spec = read(drawn)
    there(spec, "original", "substitute")
    there(spec, "substitute", "original")


@pytest.mark.parametrize("seed", range(6))
def test_from_a_wiring_to_itself_there_is_nothing_to_do(seed: int) -> None:
    spec = read(random_spec(random.Random(seed)))
    for name in spec.wirings:
        moves = moves_of(spec, name, name)
        assert moves.steps == ()
        assert len(moves.stays) >= len(spec.wirings[name].wires)
