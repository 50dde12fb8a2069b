"""Columns of a bridge: which stands where between the rails."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rewire.draw.circuit.tree import Bridge

Span = tuple[int, int]
"""Upper and lower rail of a column, counted from the top."""
_ORDERS: tuple[Callable[[Span], tuple[float, float]], ...] = (
    lambda at: (at[0], at[1]),
    lambda at: (at[0], -at[1]),
    lambda at: (at[1], at[0]),
    lambda at: (-at[1], at[0]),
    lambda at: (at[0] + at[1], at[0]),
)


def spans_of(tree: Bridge) -> list[Span]:
    """Which rails each network of a bridge stands between."""
    level = {node: number for number, node in enumerate(tree.rails)}
    ends = ((level[child.top], level[child.bottom]) for child in tree.children)
    return [(min(pair), max(pair)) for pair in ends]


def column_order(spans: Sequence[Span]) -> list[int]:
    """Numbers of the columns from left to right, in the order tried that crosses fewest rails."""
    tried = [sorted(range(len(spans)), key=lambda n: (*key(spans[n]), n)) for key in _ORDERS]
    return min(tried, key=lambda order: crossings(spans, order))


def crossings(spans: Sequence[Span], order: Sequence[int]) -> int:
    """How often columns cross rails when they stand in this order."""
    reach: dict[int, list[int]] = {}
    for place, number in enumerate(order):
        for rail in spans[number]:
            reach.setdefault(rail, []).append(place)
    return sum(
        min(reach[rail]) < place < max(reach[rail])
        for place, number in enumerate(order)
        for rail in range(spans[number][0] + 1, spans[number][1])
        if rail in reach
    )
