"""Trees of random networks against sums and graphs that know nothing of trees."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise

import networkx as nx
import pytest
from networkx.algorithms.approximation import treewidth_min_degree

from rewire.draw.series_parallel import (
    Bridge,
    Leaf,
    Parallel,
    Series,
    Tree,
    flipped,
    leaves,
    structure_of,
)

SEEDS = range(150)


class Grown:
    """A network grown from rows and sets, its resistance summed up while it grows."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.nodes = 2
        self.edges: list[tuple[int, int]] = []
        self.ohms: list[Fraction] = []
        self.total = self.grow(0, 1, self.rng.randint(0, 5))

    def grow(self, a: int, b: int, depth: int) -> Fraction:
        if depth == 0 or self.rng.random() < 0.2:
            self.edges.append((a, b) if self.rng.random() < 0.5 else (b, a))
            self.ohms.append(Fraction(self.rng.randint(1, 60), self.rng.randint(1, 9)))
            return self.ohms[-1]
        count = self.rng.randint(2, 3)
        if self.rng.random() < 0.5:
            first, self.nodes = self.nodes, self.nodes + count - 1
            stops = [a, *range(first, self.nodes), b]
            return sum((self.grow(x, y, depth - 1) for x, y in pairwise(stops)), start=Fraction(0))
        return 1 / sum(1 / self.grow(a, b, depth - 1) for _ in range(count))

    def shuffled(self) -> None:
        order = list(range(len(self.edges)))
        self.rng.shuffle(order)
        self.edges = [self.edges[n] for n in order]
        self.ohms = [self.ohms[n] for n in order]


def summed(tree: Tree, ohms: list[Fraction]) -> Fraction:
    if isinstance(tree, Leaf):
        return ohms[tree.edge]
    assert not isinstance(tree, Bridge)
    parts = [summed(child, ohms) for child in tree.children]
    return sum(parts) if isinstance(tree, Series) else 1 / sum(1 / part for part in parts)


def well_formed(tree: Tree, edges: list[tuple[int, int]]) -> None:
    """Every child stands where its parent says, and no row lies in a row nor a set in a set."""
    if isinstance(tree, Leaf):
        assert {tree.top, tree.bottom} == set(edges[tree.edge])
        return
    assert len(tree.children) > 1
    for child in tree.children:
        well_formed(child, edges)
        assert isinstance(tree, Bridge) or type(child) is not type(tree)
    if isinstance(tree, Series):
        assert (tree.children[0].top, tree.children[-1].bottom) == (tree.top, tree.bottom)
        assert all(a.bottom == b.top for a, b in pairwise(tree.children))
    if isinstance(tree, Parallel):
        assert all((c.top, c.bottom) == (tree.top, tree.bottom) for c in tree.children)
    if isinstance(tree, Bridge):
        assert (tree.rails[0], tree.rails[-1]) == (tree.top, tree.bottom)
        level = {node: n for n, node in enumerate(tree.rails)}
        assert all(level[c.top] < level[c.bottom] for c in tree.children)


@pytest.mark.parametrize("seed", SEEDS)
def test_rows_and_sets_come_back_with_their_resistance(seed: int) -> None:
    """Exact fractions: the sum made while the network grew is the sum over its tree."""
    made = Grown(seed)
    made.shuffled()
    tree = structure_of(made.edges, 0, 1)
    assert sorted(leaf.edge for leaf in leaves(tree)) == list(range(len(made.edges)))
    assert summed(tree, made.ohms) == made.total
    well_formed(tree, made.edges)
    back = flipped(tree)
    assert summed(back, made.ohms) == made.total
    well_formed(back, made.edges)


def two_ended(seed: int) -> list[tuple[int, int]]:
    """A random network whose edges all lie on a way from 0 to 1, some of them doubled."""
    rng = random.Random(seed)
    size = rng.randint(3, 9)
    graph = nx.gnm_random_graph(size, rng.randint(size - 1, 2 * size), seed=seed)
    graph.add_edge(0, 1)
    block = next(b for b in nx.biconnected_component_edges(graph) if {0, 1} in map(set, b))
    edges = [e for e in block if set(e) != {0, 1}] or [(0, 1)]
    edges += rng.sample(edges, min(len(edges), rng.choice((0, 0, 2))))
    rng.shuffle(edges)
    return edges


def bridges_in(tree: Tree) -> int:
    inside = () if isinstance(tree, Leaf) else tree.children
    return isinstance(tree, Bridge) + sum(bridges_in(child) for child in inside)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_bridge_is_found_just_where_there_is_one(seed: int) -> None:
    """Series-parallel between two nodes means: with an edge between these, of treewidth two.

    R. J. Duffin 1965 (no bridge, that is no subdivision of the complete graph on four
    nodes); taking nodes of least degree first finds width two wherever it is; from memory.
    """
    edges = two_ended(seed)
    tree = structure_of(edges, 0, 1)
    assert sorted(leaf.edge for leaf in leaves(tree)) == list(range(len(edges)))
    well_formed(tree, edges)
    closed = nx.Graph([*edges, (0, 1)])
    assert (bridges_in(tree) > 0) == (treewidth_min_degree(closed)[0] > 2)


def ohms_of(tree: Tree, ohms: list[float]) -> float:
    """Resistance of a tree; a bridge of its children's by networkx's resistance distance."""
    if isinstance(tree, Leaf):
        return ohms[tree.edge]
    parts = [ohms_of(child, ohms) for child in tree.children]
    if isinstance(tree, Series):
        return sum(parts)
    if isinstance(tree, Parallel):
        return 1 / sum(1 / part for part in parts)
    graph = nx.MultiGraph()
    for child, part in zip(tree.children, parts, strict=True):
        graph.add_edge(child.top, child.bottom, weight=part)
    return float(nx.resistance_distance(graph, tree.top, tree.bottom, weight="weight"))


@pytest.mark.parametrize("seed", SEEDS)
def test_resistance_over_the_tree_is_that_of_the_network(seed: int) -> None:
    """networkx.resistance_distance on the whole network (D. J. Klein and M. Randić 1993)."""
    edges = two_ended(seed)
    rng = random.Random(seed)
    ohms = [rng.uniform(0.5, 50.0) for _ in edges]
    graph = nx.MultiGraph()
    for (a, b), one in zip(edges, ohms, strict=True):
        graph.add_edge(a, b, weight=one)
    whole = nx.resistance_distance(graph, 0, 1, weight="weight")
    assert ohms_of(structure_of(edges, 0, 1), ohms) == pytest.approx(whole, rel=1e-9)


def test_a_ladder_of_a_hundred_rungs_is_a_tree_two_hundred_deep() -> None:
    """Its resistance by the continued fraction that a ladder is (from memory)."""
    rungs = 100
    edges = [
        (0, 2),
        *((n, n + 1) for n in range(2, rungs + 1)),
        *((n, 1) for n in range(2, rungs + 2)),
    ]
    ohms = Fraction(1)
    for _ in range(rungs - 1):
        ohms = 1 / (1 + 1 / (1 + ohms))
    assert summed(structure_of(edges, 0, 1), [Fraction(1)] * len(edges)) == 1 + ohms


@pytest.mark.parametrize(("edges", "ends"), [([], (0, 1)), ([(0, 1)], (0, 0))])
def test_no_network_is_said(edges: list[tuple[int, int]], ends: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="two different ends"):
        structure_of(edges, *ends)
