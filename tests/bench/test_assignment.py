"""What goes with what, held against every way of pairing in small cases."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from rewire.bench.turnover import assigned


def best(worth: list[list[float]]) -> float:
    """Most that all pairs can be worth together: every way is tried."""
    rows, columns = len(worth), len(worth[0])
    if rows > columns:
        return best([list(column) for column in zip(*worth, strict=True)])
    return max(
        sum(worth[row][column] for row, column in enumerate(chosen))
        for chosen in permutations(range(columns), rows)
    )


@pytest.mark.parametrize("largest", [1, 3, 10_000_000])
@pytest.mark.parametrize("seed", range(24))
def test_no_other_way_of_pairing_is_worth_more(seed: int, largest: int) -> None:
    rng = np.random.default_rng(seed)
    shape = tuple(rng.integers(1, 7, 2))
    worth = rng.integers(0, largest + 1, shape) / 2
    pairs = assigned(worth)
    for side in zip(*pairs, strict=True):
        assert len(set(side)) == len(side) == min(shape)
    assert sum(worth[pair] for pair in pairs) == best(worth.tolist())


def test_equal_rows_and_columns_stay_in_their_order() -> None:
    assert assigned(np.ones((4, 4))) == [(n, n) for n in range(4)]
