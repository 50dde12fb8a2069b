"""Who is joined with whom, against scipy's connected_components on random data."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import given, strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from rewire.circuit.circuit import gather
from rewire.circuit.connectivity import reach
from rewire.circuit.graph import Joiner

COUNT, STATES = 12, 4
places = st.integers(0, COUNT - 1)
groups = st.lists(st.lists(places, min_size=2, max_size=4, unique=True).map(tuple), max_size=10)
bonds = st.lists(
    st.tuples(
        st.lists(places, min_size=2, max_size=3, unique=True).map(tuple),
        st.integers(0, 2**STATES - 1),
    ),
    max_size=12,
)


def labels(joined: Sequence[tuple[int, ...]]) -> list[int]:
    """Component of each place, by scipy."""
    pairs = [(group[0], other) for group in joined for other in group[1:]]
    rows, columns = [a for a, _ in pairs], [b for _, b in pairs]
    matrix = coo_array((np.ones(len(pairs)), (rows, columns)), shape=(COUNT, COUNT))
    return [int(label) for label in connected_components(matrix, directed=False)[1]]


def same(one: Sequence[int], other: Sequence[int]) -> bool:
    """Whether two numberings gather the same places."""
    return len(set(zip(one, other, strict=True))) == len(set(one)) == len(set(other))


@given(groups)
def test_nets_are_the_connected_components(found: list[tuple[int, ...]]) -> None:
    joiner = Joiner(COUNT)
    for group in found:
        joiner.join(group)
    assert same(joiner.numbered(), labels(found))


@given(groups)
def test_named_nets_are_the_connected_components(found: list[tuple[int, ...]]) -> None:
    names = [f"P{n}" for n in range(COUNT)]
    nets = gather(names, [tuple(names[n] for n in group) for group in found])
    assert same([nets.of[name] for name in names], labels(found))


@given(bonds, places)
def test_what_is_tied_in_a_state_is_one_component(
    found: list[tuple[tuple[int, ...], int]], start: int
) -> None:
    reached = reach(found, start, 2**STATES - 1)
    for state in range(STATES):
        label = labels([group for group, closed in found if closed >> state & 1])
        tied = {place for place, states in reached.items() if states >> state & 1}
        assert tied == {place for place in range(COUNT) if label[place] == label[start]}
