"""Ways and ties against networkx on random links, and against naive enumeration."""

from __future__ import annotations

from itertools import combinations, pairwise, product
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, strategies as st

from rewire.circuit.circuit import gather
from rewire.circuit.connectivity import Mover, Moving, in_step, partitions, reach
from rewire.circuit.graph import NO_SECTION, BlockTree, Link, blocks_of
from rewire.circuit.states import Frame, LimitReached, States, narrow, widen
from rewire.records.part import Place
from rewire.records.spec import Control

HERE = Place("test", 1, 1)
PLACES = range(7)

groups = st.lists(st.sampled_from(PLACES), min_size=2, max_size=4, unique=True).map(tuple)
links = st.lists(groups, max_size=9).map(
    lambda found: [Link(NO_SECTION, (str(n),), places, -1) for n, places in enumerate(found)]
)


def graph_of(found: list[Link]) -> nx.Graph[int]:
    """Every pair of places that one link joins, as an edge that knows its links."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(PLACES)
    for link in found:
        graph.add_edges_from(combinations(link.places, 2))
    return graph


@given(links)
def test_links_between_are_those_on_some_simple_path(found: list[Link]) -> None:
    """Reference: networkx all_simple_paths, edge by edge."""
    tree, graph = BlockTree(found), graph_of(found)
    for a, b in combinations(PLACES, 2):
        edges = {
            frozenset(step) for path in nx.all_simple_paths(graph, a, b) for step in pairwise(path)
        }
        expected = {
            link.lugs
            for link in found
            if any(frozenset(pair) in edges for pair in combinations(link.places, 2))
        }
        assert {link.lugs for link in tree.between((a, b))} == expected


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), max_size=60))
def test_blocks_are_the_biconnected_components(pairs: list[tuple[int, int]]) -> None:
    """Reference: networkx biconnected_component_edges."""
    edges = {(min(pair), max(pair)) for pair in pairs if pair[0] != pair[1]}
    found: dict[int, set[tuple[int, int]]] = {}
    for edge, block in blocks_of(sorted(edges)).items():
        found.setdefault(block, set()).add(edge)
    expected = {
        frozenset((min(edge), max(edge)) for edge in block)
        for block in nx.biconnected_component_edges(nx.Graph(sorted(edges)))
    }
    assert {frozenset(block) for block in found.values()} == expected


def test_a_chain_of_a_hundred_thousand_links_is_no_danger() -> None:
    """No recursion: each link is a block of its own."""
    edges = [(n, n + 1) for n in range(100_000)]
    assert len(set(blocks_of(edges).values())) == len(edges)


@given(links)
def test_a_path_leads_from_one_place_to_the_other(found: list[Link]) -> None:
    """Reference: networkx has_path; each block has a place in common with the one before."""
    tree, graph = BlockTree(found), graph_of(found)
    for a, b in combinations(PLACES, 2):
        assert tree.linked(a, b) == nx.has_path(graph, a, b)
        if not tree.linked(a, b):
            continue
        reached = {a}
        for block in tree.path(a, b):
            assert reached & set(tree.places_in[block])
            reached = set(tree.places_in[block])
        assert b in reached


@given(st.lists(st.tuples(groups, st.integers(0, 15)), max_size=8))
def test_reach_and_partitions_agree_with_components_state_by_state(
    bonds: list[tuple[tuple[int, ...], int]],
) -> None:
    """Reference: networkx connected_components in each of four states by itself."""
    found = {place: reach(bonds, place, 15) for place in PLACES}
    told = partitions(list(PLACES), bonds, 15)
    assert sum(mask for _, mask in told) == 15
    for state in range(4):
        graph: nx.Graph[int] = nx.Graph()
        graph.add_nodes_from(PLACES)
        for places, closed in bonds:
            if closed >> state & 1:
                nx.add_path(graph, places)
        (labels,) = (labels for labels, mask in told if mask >> state & 1)
        for a, b in combinations(PLACES, 2):
            together = nx.has_path(graph, a, b)
            assert bool(found[a].get(b, 0) >> state & 1) == together
            assert (labels[a] == labels[b]) == together


@st.composite
def moves(draw: st.DrawFn) -> Moving:
    """A few sections that move over a few things that stand still, in two states of the others."""
    some = st.lists(groups, max_size=2).map(tuple)
    movers = []
    for _ in range(draw(st.integers(0, 3))):
        old, new = draw(some), draw(some)
        both = (tuple(sorted(set(a) & set(b))) for a in old for b in new)
        held = tuple(group for group in both if len(group) > 1)
        both_ends = (*old, *new)
        shorting = draw(st.booleans())
        movers.append(
            Mover(old, new, held, both_ends, (old, new), (both_ends,))
            if shorting
            else Mover(old, new, held, held, (held,), (old, new))
        )
    still = draw(st.lists(st.tuples(groups, st.integers(0, 3)), max_size=3))
    return Moving(tuple(still), tuple(movers), 3)


@given(moves())
def test_always_and_ever_agree_with_every_combination(scene: Moving) -> None:
    """Reference: all three phases of every section, one by one, with networkx."""
    phases = [(m.old, m.between, m.new) for m in scene.movers]
    check_against(scene, list(product(*phases)))


@given(moves())
def test_in_step_always_and_ever_agree_with_the_three_moments(scene: Moving) -> None:
    """Reference: all at the old contacts, all in between, all at the new, with networkx."""
    phases = [(m.old, m.between, m.new) for m in scene.movers] or [((), (), ())]
    check_against(in_step(scene), list(zip(*phases, strict=True)))


def check_against(scene: Moving, combinations_closed: list[tuple[Any, ...]]) -> None:
    for state in range(2):
        tied = []
        for chosen in combinations_closed:
            graph: nx.Graph[int] = nx.Graph()
            graph.add_nodes_from(PLACES)
            for places in (g for groups in chosen for g in groups):
                nx.add_path(graph, places)
            for places, closed in scene.still:
                if closed >> state & 1:
                    nx.add_path(graph, places)
            tied.append(graph)
        for a, b in combinations(PLACES, 2):
            seen = [nx.has_path(graph, a, b) for graph in tied]
            assert bool(scene.always(a, b) >> state & 1) == all(seen)
            assert bool(scene.ever(a, b) >> state & 1) == any(seen)
            assert bool(scene.before(a, b) >> state & 1) == seen[0]
            assert bool(scene.after(a, b) >> state & 1) == seen[-1]


def control(name: str, count: int) -> Control:
    """A control with numbered positions."""
    return Control(name, tuple(f"P{n}" for n in range(count)), False, False, None, HERE)


@given(st.lists(st.integers(1, 5), min_size=1, max_size=4), st.data())
def test_states_as_bits_are_the_product_of_positions(sizes: list[int], data: st.DataObject) -> None:
    """Reference: itertools.product."""
    controls = tuple(control(f"K{n}", size) for n, size in enumerate(sizes))
    frame = Frame(controls)
    everything = list(frame.states(frame.full))
    assert everything == [
        dict(zip((c.name for c in controls), at, strict=True))
        for at in product(*(c.positions for c in controls))
    ]
    chosen = data.draw(st.sampled_from(controls))
    bits = data.draw(st.integers(0, (1 << len(chosen.positions)) - 1))
    mask = frame.where(chosen.name, bits)
    for number, state in enumerate(everything):
        assert frame.number(state) == number
        at = chosen.positions.index(state[chosen.name])
        assert (mask >> number & 1) == (bits >> at & 1)
    small = Frame((chosen,))
    assert narrow(frame, widen(small, bits, frame), small) == bits


@given(st.lists(st.tuples(st.sampled_from("ABCDEFG"), st.sampled_from("ABCDEFG")), max_size=9))
def test_nets_are_connected_components(joints: list[tuple[str, str]]) -> None:
    """Reference: networkx connected_components."""
    graph = nx.Graph(joints)
    graph.add_nodes_from("ABCDEFG")
    nets = gather(list("ABCDEFG"), joints)
    assert {frozenset(net) for net in nets.members} == {
        frozenset(net) for net in nx.connected_components(graph)
    }


@given(st.data())
def test_states_that_cannot_occur_are_left_out(data: st.DataObject) -> None:
    """Reference: itertools.product, with every ``never`` looked at in every state."""
    names = ("A", "B", "C", "D")
    controls = {name: control(name, data.draw(st.integers(2, 3))) for name in names}
    never = data.draw(
        st.lists(
            st.dictionaries(st.sampled_from(names), st.sampled_from(("P0", "P1")), min_size=2),
            max_size=3,
        )
    )
    states = States(controls, tuple(never))
    every = [
        dict(zip(names, at, strict=True))
        for at in product(*(controls[name].positions for name in names))
    ]
    can_be = [s for s in every if not any(n.items() <= s.items() for n in never)]
    assert states.total() == len(can_be)
    frame = states.frame(data.draw(st.sets(st.sampled_from(names), min_size=1)))
    possible = states.possible(frame)
    for number, partial in enumerate(frame.states(frame.full)):
        shown = [s for s in can_be if partial.items() <= s.items()]
        assert bool(possible >> number & 1) == bool(shown)
        assert states.count(frame, 1 << number) == len(shown)


def test_a_frame_of_more_than_a_million_states_is_refused_by_name() -> None:
    """The stated limit, with the controls in the message."""
    states = States({f"K{n}": control(f"K{n}", 10) for n in range(7)}, ())
    assert states.frame([f"K{n}" for n in range(6)]).size == 1_000_000
    with pytest.raises(LimitReached, match="K0, K1, K2, K3, K4, K5, K6 have 10,000,000"):
        states.frame([f"K{n}" for n in range(7)], "the paths between A and B")
