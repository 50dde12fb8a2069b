"""The fewest touches, held against every choice of them in small cases."""

from __future__ import annotations

from itertools import chain, combinations

import numpy as np
import pytest

from rewire.bench.ohmmeter import Mask
from rewire.bench.short_list import fewest


def random_rows(rng: np.random.Generator) -> tuple[Mask, Mask]:
    """Rows that can all be covered, and which columns are awkward."""
    count, width = rng.integers(1, 10), rng.integers(1, 10)
    rows = rng.random((count, width)) < 0.3
    rows[np.arange(count), rng.integers(0, width, count)] = True
    return rows, rng.random(width) < 0.4


def best(rows: Mask, awkward: Mask) -> tuple[int, int]:
    """How many columns cover all rows, and how many awkward ones are among them: all are tried."""
    width = rows.shape[1]
    tried = chain.from_iterable(combinations(range(width), n) for n in range(width + 1))
    covers = [list(columns) for columns in tried if rows[:, list(columns)].any(axis=1).all()]
    return min((len(columns), int(awkward[columns].sum())) for columns in covers)


@pytest.mark.parametrize("seed", range(50))
def test_no_list_is_shorter_or_less_awkward(seed: int) -> None:
    rows, awkward = random_rows(np.random.default_rng(seed))
    chosen, bound = fewest(rows, awkward)
    assert rows[:, chosen].any(axis=1).all()
    assert (len(chosen), int(awkward[chosen].sum())) == best(rows, awkward)
    assert bound == len(chosen)


def test_out_of_time_there_is_a_cover_and_a_bound_below_it() -> None:
    rng = np.random.default_rng(1)
    rows = rng.random((300, 120)) < 0.1
    rows[np.arange(300), rng.integers(0, 120, 300)] = True
    chosen, bound = fewest(rows, np.zeros(120, dtype=np.bool_), seconds=0.0)
    assert rows[:, chosen].any(axis=1).all()
    assert 1 <= bound < len(chosen)
