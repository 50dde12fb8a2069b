"""The two ends of a drawing: how it is joined to the places of the reading, or to another part."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.draw.circuit.figures import POINTS
from rewire.draw.circuit.place import Cell
from rewire.draw.circuit.plan import Plan
from rewire.draw.circuit.route import Run
from rewire.draw.circuit.symbols import PROBE, Nets
from rewire.draw.measure import ascent_mm, descent_mm, middle_baseline, text_at
from rewire.draw.scene import XY, Box, Item, Symbol

STUB = 8.0
"""From the axis to the ring of a place, mm."""
ABOVE, BELOW = 5.0, 6.0
"""Room over and under a drawing for the names of its ends, mm."""
_CHASSIS = (4.4, 3.4)
_RISE = 3.5


def stubs_of(cell: Cell, plan: Plan) -> list[Run]:
    """Lines from a drawing to its ends: sideways to the places, upright to another part."""
    x, tree = cell.axis, cell.tree
    if plan.piece:
        return []
    if plan.part > 1:
        return [
            Run(tree.top, (x, cell.top - _RISE), (x, cell.top)),
            Run(tree.bottom, (x, cell.bottom), (x, cell.bottom + _RISE)),
        ]
    return [
        Run(tree.top, (x - STUB, cell.top), (x, cell.top)),
        Run(tree.bottom, (x - STUB, cell.bottom), (x, cell.bottom)),
    ]


def ends_of(cell: Cell, plan: Plan, nets: Nets, chassis: frozenset[int]) -> Iterator[Item]:
    """Rings, names, and the chassis symbol."""
    if plan.piece:
        return
    tree, x = cell.tree, cell.axis
    if plan.part > 1:
        for node, y, letter in (
            (tree.top, cell.top - _RISE, "a"), (tree.bottom, cell.bottom + _RISE, "b")
        ):  # fmt: skip
            yield nets.ring(node, (x, y))
            yield text_at(
                f"{plan.part}{letter}", x + 2.0, middle_baseline(y, POINTS), POINTS, bold=True,
                shows=nets.shows(node), net=nets.nets[node],
            )  # fmt: skip
        return
    over = cell.top - 1.4 - descent_mm(POINTS)
    under = cell.bottom + 1.4 + ascent_mm(POINTS)
    for node, y, baseline in ((tree.top, cell.top, over), (tree.bottom, cell.bottom, under)):
        yield _place(node, (x - STUB, y), nets, node in chassis)
        aside = 3.6 if node in chassis and baseline == under else -PROBE / 2
        yield text_at(
            plan.names[node], x - STUB + aside, baseline, POINTS, bold=True,
            shows=f"point:{nets.points[node]}", net=nets.nets[node],
        )  # fmt: skip


def _place(node: int, at: XY, nets: Nets, chassis: bool) -> Symbol:
    if not chassis:
        return nets.ring(node, at)
    width, height = _CHASSIS
    box = Box(at[0] - width / 2, at[1], at[0] + width / 2, at[1] + height)
    return Symbol("chassis", box, f"point:{nets.points[node]}", nets.nets[node])
