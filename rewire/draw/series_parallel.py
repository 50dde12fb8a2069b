"""The series and parallel structure of a network between two nodes.

Works on bare numbers: edges are pairs of nodes, a leaf names its edge.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import networkx as nx

Edge = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Leaf:
    """One edge, from ``top`` to ``bottom``."""

    edge: int
    top: int
    bottom: int


@dataclass(frozen=True, slots=True)
class Series:
    """Networks end to end: each begins at the node where the one before it ends."""

    children: tuple[Tree, ...]
    top: int
    bottom: int


@dataclass(frozen=True, slots=True)
class Parallel:
    """Networks side by side between the same two nodes."""

    children: tuple[Tree, ...]
    top: int
    bottom: int


@dataclass(frozen=True, slots=True)
class Bridge:
    """Networks linked in neither way; each child stands between two nodes of its own.

    ``rails`` are their nodes from the top down; each child has its upper one at its top.
    """

    children: tuple[Tree, ...]
    top: int
    bottom: int
    rails: tuple[int, ...]


Tree = Leaf | Series | Parallel | Bridge


def structure_of(edges: Sequence[Edge], top: int, bottom: int) -> Tree:
    """The tree of a network between two nodes.

    Args:
        edges: each by its two nodes; every edge lies on some way between ``top``
            and ``bottom`` that visits no node twice, and joins two nodes.
        top: where the current comes in.
        bottom: where it leaves.

    Returns:
        A tree in which every edge is one leaf. Without a ``Bridge`` in it, the
        network is series-parallel; a bridge is as small as cutting at single
        nodes and at its two ends makes it.

    Raises:
        ValueError: no edges, or ``top`` and ``bottom`` are one node.

    Series and parallel edges are merged until none are left: linear in the edges
    but for the joining of lists (J. Valdes, R. E. Tarjan and E. L. Lawler, "The
    recognition of series parallel digraphs", SIAM J. Comput. 11(2), 1982; for
    two-terminal networks R. J. Duffin, "Topology of series-parallel networks", J.
    Math. Anal. Appl. 10, 1965; both from memory). What is left is cut at its
    cut nodes (Hopcroft and Tarjan 1973) and at its two ends, linear for each level.
    """
    if not edges or top == bottom:
        raise ValueError("a network needs an edge and two different ends")
    rest = _reduced(edges, top, bottom)
    return _cut(rest, top, bottom)


def flipped(tree: Tree) -> Tree:
    """The same network seen from its other end."""
    if isinstance(tree, Leaf):
        return Leaf(tree.edge, tree.bottom, tree.top)
    if isinstance(tree, Series):
        return Series(tuple(flipped(c) for c in reversed(tree.children)), tree.bottom, tree.top)
    if isinstance(tree, Parallel):
        return Parallel(tuple(flipped(c) for c in tree.children), tree.bottom, tree.top)
    children = tuple(flipped(child) for child in tree.children)
    return Bridge(children, tree.bottom, tree.top, tree.rails[::-1])


def between(tree: Tree, top: int) -> Tree:
    """The network with that one of its two ends at the top."""
    return tree if tree.top == top else flipped(tree)


def leaves(tree: Tree) -> Iterator[Leaf]:
    """All edges, in order."""
    if isinstance(tree, Leaf):
        yield tree
        return
    for child in tree.children:
        yield from leaves(child)


def series(children: Iterable[Tree]) -> Tree:
    """Networks in a row, rows inside it dissolved."""
    flat: list[Tree] = []
    for child in children:
        flat.extend(child.children if isinstance(child, Series) else (child,))
    return flat[0] if len(flat) == 1 else Series(tuple(flat), flat[0].top, flat[-1].bottom)


def parallel(children: Iterable[Tree]) -> Tree:
    """Networks side by side, all turned like the first, sets inside it dissolved."""
    flat: list[Tree] = []
    for child in children:
        turned = between(child, flat[0].top) if flat else child
        flat.extend(turned.children if isinstance(turned, Parallel) else (turned,))
    return flat[0] if len(flat) == 1 else Parallel(tuple(flat), flat[0].top, flat[0].bottom)


def _reduced(edges: Sequence[Edge], top: int, bottom: int) -> list[Tree]:
    """Merge what is in series or parallel until nothing is."""
    beside: dict[int, dict[int, Tree]] = {}
    for number, (a, b) in enumerate(edges):
        _put(beside, Leaf(number, a, b))
    waiting = deque(beside)
    while waiting:
        node = waiting.popleft()
        if node in (top, bottom) or len(beside.get(node, ())) != 2:
            continue
        (a, first), (b, second) = beside.pop(node).items()
        del beside[a][node], beside[b][node]
        _put(beside, series((between(first, a), between(second, node))))
        waiting.extend((a, b))
    return [tree for a, row in beside.items() for b, tree in row.items() if a < b]


def _put(beside: dict[int, dict[int, Tree]], tree: Tree) -> None:
    """Add a network between two nodes, beside what is there already."""
    known = beside.get(tree.top, {}).get(tree.bottom)
    whole = tree if known is None else parallel((known, tree))
    beside.setdefault(tree.top, {})[tree.bottom] = whole
    beside.setdefault(tree.bottom, {})[tree.top] = whole


def _cut(trees: Sequence[Tree], top: int, bottom: int) -> Tree:
    """Cut what could not be merged: side by side, else end to end, else a bridge."""
    if len(trees) == 1:
        return between(trees[0], top)
    sides = _side_by_side(trees, top, bottom)
    if len(sides) > 1:
        return parallel(_cut(side, top, bottom) for side in sides)
    stops = _end_to_end(trees, top, bottom)
    if len(stops) > 1:
        return series(_cut(part, a, b) for part, a, b in stops)
    rails = _rails(trees, top, bottom)
    level = {node: number for number, node in enumerate(rails)}
    down = (between(t, min(t.top, t.bottom, key=level.__getitem__)) for t in trees)
    return Bridge(tuple(down), top, bottom, rails)


def _side_by_side(trees: Sequence[Tree], top: int, bottom: int) -> list[list[Tree]]:
    """Parts that meet at the two ends alone."""
    graph: nx.Graph[int] = nx.Graph()
    inner = [[n for n in (t.top, t.bottom) if n not in (top, bottom)] for t in trees]
    for nodes in inner:
        nx.add_path(graph, nodes)
    owner = {n: k for k, group in enumerate(nx.connected_components(graph)) for n in group}
    groups: dict[int, list[Tree]] = {}
    for tree, nodes in zip(trees, inner, strict=True):
        groups.setdefault(owner[nodes[0]] if nodes else -1, []).append(tree)
    return list(groups.values())


def _end_to_end(trees: Sequence[Tree], top: int, bottom: int) -> list[tuple[list[Tree], int, int]]:
    """Parts that follow each other from top to bottom, with the nodes each begins and ends at."""
    graph: nx.Graph[int] = nx.Graph((tree.top, tree.bottom) for tree in trees)
    blocks = [{n for e in edges for n in e} for edges in nx.biconnected_component_edges(graph)]
    parts = []
    here = top
    while here != bottom:
        block = next(b for b in blocks if here in b)
        blocks.remove(block)
        there = next((n for n in sorted(block) if any(n in b for b in blocks)), bottom)
        parts.append(([t for t in trees if {t.top, t.bottom} <= block], here, there))
        here = there
    return parts


def _rails(trees: Sequence[Tree], top: int, bottom: int) -> tuple[int, ...]:
    """Nodes from the top down: the nearer to the top (in steps) the higher."""
    graph: nx.Graph[int] = nx.Graph((tree.top, tree.bottom) for tree in trees)
    down = nx.single_source_shortest_path_length(graph, top)
    up = nx.single_source_shortest_path_length(graph, bottom)
    inner = sorted(set(graph) - {top, bottom}, key=lambda node: (down[node] - up[node], node))
    return (top, *inner, bottom)
