"""Place: where each part of a network stands, mm; current runs from the top down.

What is in series stands on one axis, what is in parallel in columns between two
rails. A cell is the room of one part of the tree; its axis is where it is joined on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from rewire.draw.circuit.columns import column_order, spans_of
from rewire.draw.circuit.figures import POINTS
from rewire.draw.circuit.plan import Plan, written_amps
from rewire.draw.circuit.tree import Bridge, Leaf, Parallel, Series, Tree
from rewire.draw.measure import width_mm
from rewire.values.units import with_unit

LEAD = 1.6
"""Least length of a lead, mm."""
BESIDE = 1.4
"""From a symbol or an arrow to its words, mm."""
ARROW = 1.7
"""Width of the arrow of a current, mm."""
NAMED = 4.4
"""Height of the place of a named node on an axis, mm."""
_COLUMNS = 4.0
_RAILS = 2.0
_HEAD, _FLOWING, _FOOT = 3.0, 6.4, 3.0


@dataclass(frozen=True, slots=True)
class Cell:
    """The room of one part of the tree.

    ``inside`` are the cells of what is in series, ``columns`` what stands side by
    side. ``rows`` are nodes with the height at which each runs: the named ones of
    an axis, all the rails of a bridge.
    """

    tree: Tree
    axis: float
    left: float
    right: float
    top: float
    bottom: float
    inside: tuple[Cell, ...] = ()
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[int, float], ...] = ()

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.bottom - self.top

    def moved(self, dx: float, dy: float) -> Cell:
        """The cell and all inside it at another place."""
        return replace(
            self,
            axis=self.axis + dx, left=self.left + dx, right=self.right + dx,
            top=self.top + dy, bottom=self.bottom + dy,
            inside=tuple(cell.moved(dx, dy) for cell in self.inside),
            columns=tuple(column.moved(dx, dy) for column in self.columns),
            rows=tuple((node, y + dy) for node, y in self.rows),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """A cell between two rails, with leads to them and the current written at its head.

    ``amps`` is None where none is written; ``flow_at`` is the height of its arrow.
    """

    cell: Cell
    right: float
    top: float
    bottom: float
    amps: float | None
    flow_at: float

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.bottom - self.top

    def moved(self, dx: float, dy: float) -> Column:
        """The column at another place."""
        return Column(
            self.cell.moved(dx, dy), self.right + dx, self.top + dy, self.bottom + dy,
            self.amps, self.flow_at + dy,
        )  # fmt: skip


def flow_words(amps: float) -> str:
    """A current as it is written beside its arrow."""
    return with_unit(abs(amps), "A")


def placed(tree: Tree, plan: Plan) -> Cell:
    """The cell of a tree, its axis at 0 and its top at 0."""
    if isinstance(tree, Leaf):
        return _leaf(tree, plan)
    if isinstance(tree, Series):
        return _series(tree, plan)
    if isinstance(tree, Parallel):
        return _parallel(tree, plan)
    return _bridge(tree, plan)


def _leaf(tree: Leaf, plan: Plan) -> Cell:
    figure = plan.figures[tree.edge]
    half = figure.width / 2
    left = -max(half + 0.8, 4.4 if figure.plus else 0.0)
    right = half + (BESIDE + figure.words_width if figure.words else 0.0)
    height = max(figure.height, figure.words_height) + 2 * LEAD
    return Cell(tree, 0.0, left, right, 0.0, height)


def _series(tree: Series, plan: Plan) -> Cell:
    y = left = right = 0.0
    inside: list[Cell] = []
    rows: list[tuple[int, float]] = []
    for child in tree.children:
        if inside and child.top in plan.names:
            rows.append((child.top, y + NAMED / 2))
            right = max(right, 2.2 + width_mm(plan.names[child.top], POINTS))
            y += NAMED
        inside.append(placed(child, plan).moved(0.0, y))
        y = inside[-1].bottom
        left, right = min(left, inside[-1].left), max(right, inside[-1].right)
    return Cell(tree, 0.0, left, right, 0.0, y, tuple(inside), rows=tuple(rows))


def _parallel(tree: Parallel, plan: Plan) -> Cell:
    """Columns side by side, the first on the axis, all of one height."""
    heads = [_column(child, plan) for child in tree.children]
    tallest = max(column.height for column in heads)
    beside: list[Column] = []
    for column in heads:
        x = beside[-1].right + _COLUMNS - column.cell.left if beside else 0.0
        beside.append(_stretched(column, tallest).moved(x, 0.0))
    left, right = beside[0].cell.left, beside[-1].right
    return Cell(tree, 0.0, left, right, 0.0, tallest, columns=tuple(beside))


def _column(tree: Tree, plan: Plan) -> Column:
    """Room above for the current, the network, a lead."""
    own = placed(tree, plan)
    amps = written_amps(tree, plan)
    head, right = _HEAD, own.right
    if amps is not None:
        head = _FLOWING
        right = max(right, ARROW / 2 + BESIDE + width_mm(flow_words(amps), POINTS))
    height = own.height + head + _FOOT
    return Column(own.moved(0.0, head), right, 0.0, height, amps, head / 2 + 0.2)


def _stretched(column: Column, height: float) -> Column:
    """A column that fills a greater height, the network in the middle of it."""
    more = (height - column.height) / 2
    return replace(column, cell=column.cell.moved(0.0, more), bottom=column.top + height)


def _bridge(tree: Bridge, plan: Plan) -> Cell:
    """Rails one under another and columns between them, names of the rails on the left.

    This is always possible: a column runs from its upper rail to its lower one and
    crosses those between at right angles; its symbols stand below its upper rail.
    """
    order = tree.rails
    spans = spans_of(tree)
    shown = column_order(spans)
    heads = [_column(tree.children[n], plan) for n in shown]
    rails = _rail_heights(heads, [spans[n][0] for n in shown], len(order))
    x = gutter(tree, plan)
    beside: list[Column] = []
    for column, number in zip(heads, shown, strict=True):
        upper, lower = spans[number]
        x += _COLUMNS - column.cell.left
        beside.append(replace(column.moved(x, rails[upper]), bottom=rails[lower]))
        x = beside[-1].right
    rows = tuple(zip(order, rails, strict=True))
    return Cell(tree, 0.0, -1.0, x, 0.0, rails[-1], columns=tuple(beside), rows=rows)


def names_beside(tree: Bridge, plan: Plan) -> dict[int, str]:
    """Rails that bear their name on the left; the outer ones only where nothing else names them."""
    ends = () if plan.piece and tree is plan.tree else (tree.top, tree.bottom)
    return {n: plan.names[n] for n in tree.rails if n in plan.names and n not in ends}


def gutter(tree: Bridge, plan: Plan) -> float:
    """Room left of a bridge for the names of its rails, mm."""
    widths = (width_mm(name, POINTS) for name in names_beside(tree, plan).values())
    return max((width + 3.0 for width in widths), default=0.0)


def _rail_heights(columns: Sequence[Column], upper: Sequence[int], count: int) -> list[float]:
    """Where each rail runs: below the tallest column that stands in the gap above it."""
    gaps = [0.0] * (count - 1)
    for column, rail in zip(columns, upper, strict=True):
        gaps[rail] = max(gaps[rail], column.height)
    return list(accumulate((gap + _RAILS for gap in gaps), initial=0.0))
