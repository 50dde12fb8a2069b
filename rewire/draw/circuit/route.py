"""Route: leads and rails between what was placed, all upright or level, joints with dots."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rewire.draw.circuit.place import Cell, Column, gutter, names_beside
from rewire.draw.circuit.plan import Plan
from rewire.draw.circuit.tree import Bridge, Leaf, Parallel, Series
from rewire.draw.scene import XY

_NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class Run:
    """A straight piece of a node, from one place to another, mm."""

    node: int
    start: XY
    end: XY


def runs_of(cell: Cell, plan: Plan) -> Iterator[Run]:
    """Every lead and rail of a cell and of all inside it."""
    tree = cell.tree
    if isinstance(tree, Leaf):
        half = plan.figures[tree.edge].height / 2
        middle = (cell.top + cell.bottom) / 2
        yield _upright(tree.top, cell.axis, cell.top, middle - half)
        yield _upright(tree.bottom, cell.axis, middle + half, cell.bottom)
    elif isinstance(tree, Series):
        yield from _along_axis(cell)
    elif isinstance(tree, Parallel):
        last = cell.columns[-1].cell.axis
        yield Run(tree.top, (cell.axis, cell.top), (last, cell.top))
        yield Run(tree.bottom, (cell.axis, cell.bottom), (last, cell.bottom))
    elif isinstance(tree, Bridge):
        yield from _rails(cell, tree, plan)
    for inner in cell.inside:
        yield from runs_of(inner, plan)
    for column in cell.columns:
        yield from _leads(column)
        yield from runs_of(column.cell, plan)


def _upright(node: int, x: float, top: float, bottom: float) -> Run:
    return Run(node, (x, top), (x, bottom))


def _along_axis(cell: Cell) -> Iterator[Run]:
    """Leads between the networks of a row, where a name makes room between them."""
    for above, below in zip(cell.inside, cell.inside[1:], strict=False):
        if below.top > above.bottom + _NEAR:
            yield _upright(below.tree.top, cell.axis, above.bottom, below.top)


def _leads(column: Column) -> Iterator[Run]:
    cell = column.cell
    yield _upright(cell.tree.top, cell.axis, column.top, cell.top)
    yield _upright(cell.tree.bottom, cell.axis, cell.bottom, column.bottom)


def _rails(cell: Cell, tree: Bridge, plan: Plan) -> Iterator[Run]:
    """The rails of a bridge; the outer ones begin at the axis, named ones at their names."""
    named = names_beside(tree, plan)
    for node, y in cell.rows:
        ends = [c.cell.axis for c in cell.columns if node in (c.cell.tree.top, c.cell.tree.bottom)]
        start = min(ends)
        if node in named:
            start = cell.axis + gutter(tree, plan)
        elif node in (tree.top, tree.bottom):
            start = cell.axis
        yield Run(node, (start, y), (max(ends), y))


def joints_of(runs: Iterable[Run]) -> list[tuple[int, XY]]:
    """Places where three or more lines of one node meet."""
    by_node: dict[int, list[Run]] = {}
    for run in runs:
        if run.start != run.end:
            by_node.setdefault(run.node, []).append(run)
    found: dict[tuple[int, float, float], XY] = {}
    for node, theirs in by_node.items():
        for x, y in dict.fromkeys(end for run in theirs for end in (run.start, run.end)):
            if len({d for run in theirs for d in _directions(run, (x, y))}) > 2:
                found.setdefault((node, round(x, 3), round(y, 3)), (x, y))
    return [(key[0], at) for key, at in found.items()]


def merged(runs: Iterable[Run]) -> list[Run]:
    """Runs of one node that continue or cover each other, as one."""
    lanes: dict[tuple[int, bool, float], list[tuple[float, float]]] = {}
    for run in runs:
        (x0, y0), (x1, y1) = run.start, run.end
        if abs(x0 - x1) < _NEAR and abs(y0 - y1) < _NEAR:
            continue
        level = abs(y0 - y1) < _NEAR
        lane, ends = (y0, (x0, x1)) if level else (x0, (y0, y1))
        lanes.setdefault((run.node, level, round(lane, 6)), []).append((min(ends), max(ends)))
    found: list[Run] = []
    for (node, level, at), spans in lanes.items():
        for low, high in _united(spans):
            start, end = ((low, at), (high, at)) if level else ((at, low), (at, high))
            found.append(Run(node, start, end))
    return found


def _united(spans: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    united: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if united and low <= united[-1][1] + _NEAR:
            united[-1] = (united[-1][0], max(high, united[-1][1]))
        else:
            united.append((low, high))
    return united


def _directions(run: Run, at: XY) -> Iterator[str]:
    """Ways in which a straight run leaves a place on it."""
    (x0, y0), (x1, y1) = run.start, run.end
    x, y = at
    if abs(x0 - x1) < _NEAR:
        if abs(x - x0) < _NEAR:
            low, high = min(y0, y1), max(y0, y1)
            yield from (["up"] if low < y - _NEAR and y < high + _NEAR else [])
            yield from (["down"] if high > y + _NEAR and y > low - _NEAR else [])
    elif abs(y - y0) < _NEAR:
        low, high = min(x0, x1), max(x0, x1)
        yield from (["left"] if low < x - _NEAR and x < high + _NEAR else [])
        yield from (["right"] if high > x + _NEAR and x > low - _NEAR else [])
