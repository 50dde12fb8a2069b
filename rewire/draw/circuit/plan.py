"""What placing works from: a tree, a figure for each of its edges, names and currents."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rewire.draw.circuit.figures import Figure
from rewire.draw.circuit.tree import Leaf, Parallel, Series, Tree


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything placing needs to know."""

    tree: Tree
    figures: Mapping[int, Figure]
    """Edge of the tree → what stands there."""
    names: Mapping[int, str]
    """Nodes that bear a name, and the name as it is written."""
    amps: Mapping[int, tuple[int, float | None]]
    """Edge → the node its current leaves from, and ampere; None where not known."""
    part: int = 1
    """Number of the part that this draws; the first has the whole in it."""
    piece: tuple[int, int] | None = None
    """Which of how many pieces of a bridge dealt out over sheets; None where it is whole."""
    silent: frozenset[int] = frozenset()
    """Edges at which no current is written, because their figure says it."""


def amps_through(tree: Tree, plan: Plan) -> float | None:
    """Current of a network from its top to its bottom, ampere; None if it is not known."""
    if isinstance(tree, Leaf):
        start, amps = plan.amps.get(tree.edge, (tree.top, None))
        return amps if amps is None or start == tree.top else -amps
    if isinstance(tree, Series):
        known = (amps_through(child, plan) for child in tree.children)
        return next((amps for amps in known if amps is not None), None)
    leaving = tree.children
    if not isinstance(tree, Parallel):
        leaving = tuple(c for c in tree.children if tree.top in (c.top, c.bottom))
    parts = [amps_through(child, plan) for child in leaving]
    signs = [1.0 if child.top == tree.top else -1.0 for child in leaving]
    if any(amps is None for amps in parts):
        return None
    return sum(sign * (amps or 0.0) for sign, amps in zip(signs, parts, strict=True))


def written_amps(tree: Tree, plan: Plan) -> float | None:
    """The current to write at the head of a column; None where there is nothing to write."""
    if isinstance(tree, Leaf) and tree.edge in plan.silent:
        return None
    amps = amps_through(tree, plan)
    return None if amps is None or abs(amps) < 1e-15 else amps
