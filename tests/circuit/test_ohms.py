"""Ohms between two nets against networkx on random networks."""

from __future__ import annotations

from math import inf

import networkx as nx
import pytest
from hypothesis import given, strategies as st

from rewire.circuit.ohms import ohms_between

NETS = 6
values = st.floats(0.01, 1e6, allow_nan=False)
parts = st.lists(st.tuples(st.integers(0, NETS - 1), st.integers(0, NETS - 1), values), max_size=12)


@given(parts)
def test_it_is_the_resistance_distance(found: list[tuple[int, int, float]]) -> None:
    """Reference: networkx resistance_distance (Klein and Randić) on each component."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(NETS))
    for a, b, ohms in found:
        if a != b:
            before = graph.get_edge_data(a, b, {"siemens": 0.0})["siemens"]
            graph.add_edge(a, b, siemens=before + 1.0 / ohms)
    for nets in nx.connected_components(graph):
        part = graph.subgraph(nets)
        for b in sorted(nets)[1:]:
            a = min(nets)
            expected = nx.resistance_distance(part, a, b, weight="siemens", invert_weight=False)
            assert ohms_between(NETS, found, a, b) == pytest.approx(expected, rel=1e-6)
    for a in range(NETS):
        for b in range(NETS):
            if not nx.has_path(graph, a, b):
                assert ohms_between(NETS, found, a, b) == inf


def test_zero_joins_and_infinity_does_not() -> None:
    """A part of zero ohms is a joint for the sums, an unknown one is left out."""
    found = [(0, 1, 0.0), (1, 2, 5.0), (2, 3, inf)]
    assert ohms_between(4, found, 0, 1) == 0.0
    assert ohms_between(4, found, 0, 2) == 5.0
    assert ohms_between(4, found, 0, 3) == inf
