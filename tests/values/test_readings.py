"""Readings of random circuits against sympy's exact rational solution and networkx."""

from __future__ import annotations

from fractions import Fraction

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from rewire.circuit.dc import TIED, solve
from rewire.reading import read_text
from rewire.values.wiring_values import values_of
from tests.values.reference import Bar, Made, exact

OHMS = st.sampled_from([Fraction(n) for n in (1, 2, 3, 7, 10, 47, 150, 1000, 33000, 10**6)])


@st.composite
def circuits(draw: st.DrawFn) -> Made:
    """Random bars, bridges among them, a meter, pots, contacts; zero ohms, too."""
    nodes = draw(st.integers(3, 6))
    pair = st.lists(st.integers(0, nodes - 1), min_size=2, max_size=2, unique=True).map(tuple)
    ohms = {"M1": draw(OHMS)}
    bars = [Bar("M1", draw(pair))]
    sizes = st.one_of(*[OHMS] * 12, st.just(Fraction(0)))
    for n in range(draw(st.integers(2, 9))):
        ohms[f"R{n}"] = draw(sizes)
        bars.append(Bar(f"R{n}", draw(pair)))
    pots = {}
    for n in range(draw(st.integers(0, 2))):
        at = Fraction(draw(st.sampled_from([5, 25, 50, 60, 95, 99, 0, 100])), 100)
        place = tuple(draw(st.lists(st.integers(0, nodes - 1), min_size=3, max_size=3)))
        ohms[f"RV{n}"] = draw(OHMS)
        pots[f"RV{n}"] = (place, at)
        bars += [Bar(f"RV{n}", place[:2], at), Bar(f"RV{n}", place[1:], 1 - at)]
    voltage = draw(st.booleans())
    also = draw(st.lists(st.tuples(pair, st.sampled_from([Fraction(1, 100), Fraction(1, 8)])),
                         max_size=2))  # fmt: skip
    return Made(
        nodes, bars, ohms, {}, draw(pair), Fraction(draw(st.integers(1, 50)), 10), voltage,
        draw(st.sampled_from([Fraction(0), Fraction(5), Fraction(10000)])) if voltage else Fraction(0),
        also, pots, draw(st.sampled_from([0, 0, 1, 2]).flatmap(lambda n: st.lists(pair, min_size=n, max_size=n))),
    )  # fmt: skip


def tied_by_zeros(made: Made) -> bool:
    """Whether bars of no resistance make the sum singular: nothing but them from end to end."""
    graph = nx.Graph(made.contacts)
    graph.add_nodes_from(range(made.nodes))
    loops = list(made.contacts)
    for bar in made.bars:
        if made.ohms[bar.part] * bar.share == 0 and bar.ends[0] != bar.ends[1]:
            if nx.has_path(graph, *bar.ends):
                return True
            graph.add_edge(*bar.ends)
            loops.append(bar.ends)
    return nx.has_path(graph, *made.drive)


@settings(max_examples=40)
@given(circuits())
def test_readings_agree_with_rational_arithmetic(made: Made) -> None:
    one = values_of(read_text(made.spec()))[0].readings[0]
    if tied_by_zeros(made):
        # Zeros from end to end, or in a ring: what a ring carries is open, so nothing is compared
        # but that an answer, or a reason for none, comes.
        assert one.deflection is not None or one.note
        return
    wanted = exact(made)
    if wanted is None:
        # No way for the drive; or a standing drive without one that the meter need not notice.
        assert one.deflection in (None, 0.0) or made.also
        return
    amps, into = wanted
    assert one.insertion_ohms == pytest.approx(float(into), rel=1e-9)
    scale = float(made.amount) / float(into + made.source) if made.voltage else float(made.amount)
    assert one.meter_amps is not None
    assert one.meter_amps == pytest.approx(float(amps), rel=1e-8, abs=1e-9 * scale)
    assert one.deflection == pytest.approx(float(amps) / 1e-3, rel=1e-8, abs=1e-6 * scale)


def random_network(rng: np.random.Generator) -> nx.Graph:
    graph = nx.gnm_random_graph(
        int(rng.integers(2, 9)), int(rng.integers(1, 16)), int(rng.integers(1 << 30))
    )
    for _, _, data in graph.edges(data=True):
        data["ohms"] = float(10 ** rng.uniform(-2, 5))
    return graph


def resistance_between(count: int, bars: list[tuple[int, int, float]], a: int, b: int) -> float:
    """The volts that one ampere from a to b drops; infinite where it has no way."""
    ohms = [np.array([r]) for _, _, r in bars]
    solved = solve(count, [(one, two) for one, two, _ in bars], ohms, [(a, b)], b)
    return float("inf") if solved.lost[0, a, 0] else float(solved.volts[0, a, 0])


@pytest.mark.parametrize("seed", range(24))
def test_resistance_agrees_with_the_resistance_distance(seed: int) -> None:
    """networkx.resistance_distance (D. J. Klein and M. Randić, J. Math. Chem. 12, 1993)."""
    rng = np.random.default_rng(seed)
    graph = random_network(rng)
    bars = [(a, b, d["ohms"]) for a, b, d in graph.edges(data=True)]
    for a, b in [tuple(int(n) for n in rng.choice(len(graph), 2, replace=False)) for _ in range(5)]:
        found = resistance_between(len(graph), bars, a, b)
        if not nx.has_path(graph, a, b):
            assert found == float("inf")
            continue
        part = graph.subgraph(nx.node_connected_component(graph, a))
        wanted = nx.resistance_distance(part, a, b, weight="ohms", invert_weight=True)
        assert found == pytest.approx(wanted, rel=1e-7)


@pytest.mark.parametrize("seed", range(10))
def test_many_at_once_are_the_same_as_one_at_a_time(seed: int) -> None:
    """Zero and infinite ohms in some samples and not in others, several drives."""
    rng = np.random.default_rng(seed)
    graph = random_network(rng)
    nodes, samples = len(graph), 40
    ends = list(graph.edges)
    ohms = [10 ** rng.uniform(-3, 6, samples) for _ in ends]
    for column in ohms:
        column[rng.random(samples) < 0.15] = 0.0
        column[rng.random(samples) < 0.15] = np.inf
    drives = [tuple(int(n) for n in rng.choice(nodes, 2, replace=False)) for _ in range(3)]
    ground = drives[0][1]
    together = solve(nodes, ends, ohms, drives, ground)
    for sample in range(samples):
        alone = solve(nodes, ends, [c[sample : sample + 1] for c in ohms], drives, ground)
        assert (together.lost[:, :, sample] == alone.lost[:, :, 0]).all()
        np.testing.assert_allclose(
            together.volts[:, :, sample], alone.volts[:, :, 0], rtol=1e-13, atol=1e-300
        )


@pytest.mark.parametrize("seed", range(10))
def test_opens_and_shorts_are_the_same_as_leaving_out_and_joining(seed: int) -> None:
    rng = np.random.default_rng(seed)
    graph = random_network(rng)
    bars = [
        (a, b, float(rng.choice([0.0, np.inf, d["ohms"]], p=[0.2, 0.2, 0.6])))
        for a, b, d in graph.edges(data=True)
    ]
    found = resistance_between(len(graph), bars, 0, 1)
    joined = nx.Graph()
    joined.add_nodes_from(range(len(graph)))
    joined.add_edges_from((a, b) for a, b, ohms in bars if ohms == 0.0)
    label = {n: min(nodes) for nodes in nx.connected_components(joined) for n in nodes}
    kept = [
        (label[a], label[b], 1 / r) for a, b, r in bars if 0.0 < r < np.inf and label[a] != label[b]
    ]
    if label[0] == label[1]:
        assert abs(found) <= 100 * TIED
        return
    whole = nx.Graph()
    whole.add_nodes_from(label.values())
    for a, b, siemens in kept:
        whole.add_edge(
            a, b, siemens=whole.get_edge_data(a, b, {"siemens": 0.0})["siemens"] + siemens
        )
    if not nx.has_path(whole, label[0], label[1]):
        assert found == float("inf")
        return
    part = whole.subgraph(nx.node_connected_component(whole, label[0]))
    wanted = nx.resistance_distance(part, label[0], label[1], weight="siemens", invert_weight=False)
    assert found == pytest.approx(wanted, rel=1e-7)
