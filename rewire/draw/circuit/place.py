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
from rewire.draw.scene import XY
from rewire.words.quantity import with_unit

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
_LEAST = 2.6
_HEAD, _FLOWING, _FOOT = 3.0, 6.4, 3.0


Known = dict[int, tuple[Tree, "Cell"]]
"""Cells made already, by the identity of their trees (which are kept, so that it stays theirs)."""


@dataclass(frozen=True, slots=True)
class Cell:
    """The room of one part of the tree; its axis is at 0 and its top at 0 until it is settled.

    ``inside`` are the cells of what is in series, ``columns`` what stands side by
    side. ``rows`` are nodes with the height at which each runs: the named ones of
    an axis, all the rails of a bridge. ``shift`` is where it stands in its parent.
    """

    tree: Tree
    left: float
    right: float
    bottom: float
    inside: tuple[Cell, ...] = ()
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[int, float], ...] = ()
    shift: XY = (0.0, 0.0)
    axis: float = 0.0
    top: float = 0.0

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.bottom - self.top

    def moved(self, dx: float, dy: float) -> Cell:
        """The cell at another place in its parent."""
        return replace(self, shift=(self.shift[0] + dx, self.shift[1] + dy))

    def settled(self, dx: float, dy: float) -> Cell:
        """The cell and all inside it with all shifts carried out."""
        dx, dy = dx + self.shift[0], dy + self.shift[1]
        return Cell(
            self.tree, self.left + dx, self.right + dx, self.bottom + dy,
            tuple(cell.settled(dx, dy) for cell in self.inside),
            tuple(column.settled(dx, dy) for column in self.columns),
            tuple((node, y + dy) for node, y in self.rows),
            (0.0, 0.0), self.axis + dx, self.top + dy,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """A cell between two rails, with leads to them and the current written at its head.

    ``amps`` is None where none is written; ``flow_at`` is the height of its arrow.
    ``x`` is where its axis stands in its parent, and 0 once it is settled.
    """

    cell: Cell
    right: float
    top: float
    bottom: float
    amps: float | None
    flow_at: float
    x: float = 0.0

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.bottom - self.top

    def settled(self, dx: float, dy: float) -> Column:
        """The column with all shifts carried out."""
        dx += self.x
        return Column(
            self.cell.settled(dx, dy), self.right + dx, self.top + dy, self.bottom + dy,
            self.amps, self.flow_at + dy,
        )  # fmt: skip


def flow_words(amps: float) -> str:
    """A current as it is written beside its arrow."""
    return with_unit(abs(amps), "A")


def placed(tree: Tree, plan: Plan, known: Known | None = None) -> Cell:
    """The cell of a tree, its axis at 0 and its top at 0.

    Args:
        tree: the plan's, or a part of it.
        plan: figures, names and currents.
        known: cells made before with the same plan; linear in what is not among them.
    """
    known = {} if known is None else known
    if id(tree) not in known:
        known[id(tree)] = tree, _placed(tree, plan, known)
    return known[id(tree)][1]


def _placed(tree: Tree, plan: Plan, known: Known) -> Cell:
    if isinstance(tree, Leaf):
        return _leaf(tree, plan)
    if isinstance(tree, Series):
        return _series(tree, plan, known)
    if isinstance(tree, Parallel):
        return _parallel(tree, plan, known)
    return _bridge(tree, plan, known)


def _leaf(tree: Leaf, plan: Plan) -> Cell:
    figure = plan.figures[tree.edge]
    half = figure.width / 2
    left = -max(half + 0.8, 4.4 if figure.plus else 0.0)
    right = half + (BESIDE + figure.words_width if figure.words else 0.0)
    return Cell(tree, left, right, max(figure.height, figure.words_height) + 2 * LEAD)


def _series(tree: Series, plan: Plan, known: Known) -> Cell:
    y = left = right = 0.0
    inside: list[Cell] = []
    rows: list[tuple[int, float]] = []
    for child in tree.children:
        if inside and child.top in plan.names:
            rows.append((child.top, y + NAMED / 2))
            right = max(right, 2.2 + width_mm(plan.names[child.top], POINTS))
            y += NAMED
        cell = placed(child, plan, known)
        inside.append(cell.moved(0.0, y))
        y += cell.height
        left, right = min(left, cell.left), max(right, cell.right)
    return Cell(tree, left, right, y, tuple(inside), rows=tuple(rows))


def _parallel(tree: Parallel, plan: Plan, known: Known) -> Cell:
    """Columns side by side, the first on the axis, all of one height."""
    heads = [_column(child, plan, known) for child in tree.children]
    tallest = max(column.height for column in heads)
    beside: list[Column] = []
    x = 0.0
    for column in heads:
        x += _COLUMNS - column.cell.left if beside else 0.0
        beside.append(replace(_stretched(column, tallest), x=x))
        x += column.right
    return Cell(tree, heads[0].cell.left, x, tallest, columns=tuple(beside))


def _column(tree: Tree, plan: Plan, known: Known) -> Column:
    """Room above for the current, the network, a lead."""
    own = placed(tree, plan, known)
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
    return replace(column, cell=column.cell.moved(0.0, more), bottom=height)


def _bridge(tree: Bridge, plan: Plan, known: Known) -> Cell:
    """Rails one under another and columns between them, names of the rails on the left.

    This is always possible: a column runs from its upper rail to its lower one and
    crosses those between at right angles; its symbols stand below its upper rail.
    """
    spans = spans_of(tree)
    shown = column_order(spans)
    heads = [_column(tree.children[n], plan, known) for n in shown]
    rails = _rail_heights(heads, [spans[n][0] for n in shown], len(tree.rails))
    x = gutter(tree, plan)
    beside: list[Column] = []
    for column, number in zip(heads, shown, strict=True):
        upper, lower = (rails[rail] for rail in spans[number])
        x += _COLUMNS - column.cell.left
        beside.append(
            replace(
                column,
                cell=column.cell.moved(0.0, upper),
                top=upper,
                bottom=lower,
                flow_at=column.flow_at + upper,
                x=x,
            )
        )
        x += column.right
    rows = tuple(zip(tree.rails, rails, strict=True))
    return Cell(tree, -1.0, x, rails[-1], columns=tuple(beside), rows=rows)


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
    gaps = [_LEAST] * (count - 1)
    for column, rail in zip(columns, upper, strict=True):
        gaps[rail] = max(gaps[rail], column.height)
    return list(accumulate((gap + _RAILS for gap in gaps), initial=0.0))
