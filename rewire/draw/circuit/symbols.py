"""Items of a scene for what was placed: symbols, words, arrows, names of nodes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.circuit.figures import LUG, POINTS, Figure
from rewire.draw.circuit.place import ARROW, BESIDE, Cell, Column, flow_words, gutter, names_beside
from rewire.draw.circuit.plan import Plan
from rewire.draw.circuit.route import Run, joints_of, merged, runs_of
from rewire.draw.circuit.tree import Bridge, Leaf, Series
from rewire.draw.measure import ascent_mm, descent_mm, line_mm, middle_baseline, text_at
from rewire.draw.scene import XY, Item, Line, Symbol, around

PROBE = 1.7
"""Diameter of the ring at a named place, mm."""
_DOT = 1.2
_WIRE = 0.3
_BLADE = 0.55
_ARROW = 2.1


@dataclass(frozen=True, slots=True)
class Nets:
    """What the nodes are called: their nets, and what a picture shows of them."""

    nets: Mapping[int, str]
    points: Mapping[int, str]
    """Named nodes → the name that their ring shows."""

    def line(self, node: int, start: XY, end: XY) -> Line:
        """A piece of a node's line."""
        return Line((start, end), self.shows(node), self.nets[node], self.joins(node), width=_WIRE)

    def shows(self, node: int) -> str:
        """What the lines of a node show."""
        return f"net:{self.nets[node]}"

    def joins(self, node: int) -> tuple[str, ...]:
        """What the lines of a node may touch."""
        return (f"point:{self.points[node]}",) if node in self.points else ()

    def ring(self, node: int, at: XY) -> Symbol:
        """The ring at a named place."""
        shows = f"point:{self.points[node]}"
        return Symbol("lug", around(at, PROBE, PROBE), shows, self.nets[node], width=0.25)


def items_of(cell: Cell, plan: Plan, nets: Nets, stubs: Sequence[Run] = ()) -> Iterator[Item]:
    """Everything drawn of a cell: lines (and stubs that lead to it), joints, symbols, words."""
    runs = [*stubs, *runs_of(cell, plan)]
    yield from (nets.line(run.node, run.start, run.end) for run in merged(runs))
    for node, at in joints_of(runs):
        dot = around(at, _DOT, _DOT)
        yield Symbol("joint", dot, nets.shows(node), nets.nets[node], fill="black")
    yield from _things(cell, plan, nets)


def _things(cell: Cell, plan: Plan, nets: Nets) -> Iterator[Item]:
    tree = cell.tree
    if isinstance(tree, Leaf):
        middle = (cell.top + cell.bottom) / 2
        yield from figure_items(plan.figures[tree.edge], (cell.axis, middle), tree, nets)
    elif isinstance(tree, Series):
        for node, y in cell.rows:
            yield from _named(node, (cell.axis, y), plan, nets)
    elif isinstance(tree, Bridge):
        yield from _rail_names(cell, tree, plan, nets)
    for inner in cell.inside:
        yield from _things(inner, plan, nets)
    for column in cell.columns:
        yield from _flow(column, nets)
        yield from _things(column.cell, plan, nets)


def _named(node: int, at: XY, plan: Plan, nets: Nets) -> Iterator[Item]:
    """A ring on an axis and its name to the right."""
    yield nets.ring(node, at)
    yield text_at(
        plan.names[node], at[0] + 2.0, middle_baseline(at[1], POINTS), POINTS,
        shows=f"point:{nets.points[node]}", net=nets.nets[node],
    )  # fmt: skip


def _rail_names(cell: Cell, tree: Bridge, plan: Plan, nets: Nets) -> Iterator[Item]:
    named = names_beside(tree, plan)
    x = cell.axis + gutter(tree, plan)
    for node, y in cell.rows:
        if node in named:
            yield nets.ring(node, (x, y))
            yield text_at(
                named[node], x - 1.6, middle_baseline(y, POINTS), POINTS, align="right",
                shows=f"point:{nets.points[node]}", net=nets.nets[node],
            )  # fmt: skip


def _flow(column: Column, nets: Nets) -> Iterator[Item]:
    """The arrow at the head of a column, and how much flows."""
    if column.amps is None:
        return
    node, x, y = column.cell.tree.top, column.cell.axis, column.flow_at
    kind = "flow-down" if column.amps > 0 else "flow-up"
    net = nets.nets[node]
    yield Symbol(kind, around((x, y), ARROW, _ARROW), nets.shows(node), net, width=0.1)
    yield text_at(
        flow_words(column.amps), x + ARROW / 2 + BESIDE, middle_baseline(y, POINTS), POINTS,
        shows=nets.shows(node), net=net,
    )  # fmt: skip


def figure_items(figure: Figure, at: XY, tree: Leaf, nets: Nets) -> Iterator[Item]:
    """A part's symbol about a place, its words to the right."""
    if figure.kind == "contact":
        yield from _contact(figure, at, tree, nets)
    else:
        yield Symbol(figure.symbol, around(at, figure.width, figure.height), figure.shows)
        yield from _letter(figure, at)
        yield from _polarity(figure, at, tree, nets)
    yield from _words(figure, at)


def _contact(figure: Figure, at: XY, tree: Leaf, nets: Nets) -> Iterator[Item]:
    """Two lugs and the closed blade from one to the other; a leg of a bar has one lug."""
    x, y = at
    top, bottom = y - figure.height / 2, y + figure.height / 2
    ends = ((figure.lugs[0], tree.top, top + LUG / 2), (figure.lugs[1], tree.bottom,
                                                       bottom - LUG / 2))  # fmt: skip
    joins = tuple(f"lug:{lug}" for lug in figure.lugs if lug)
    first, last = (height if lug else end for (lug, _, height), end in
                   zip(ends, (top, bottom), strict=True))  # fmt: skip
    yield Line(((x, first), (x, last)), figure.shows, joins=joins, width=_BLADE)
    for lug, node, height in ends:
        if lug:
            yield Symbol("lug", around((x, height), LUG, LUG), f"lug:{lug}", nets.nets[node])


def _letter(figure: Figure, at: XY) -> Iterator[Item]:
    if figure.letter:
        yield text_at(
            figure.letter, at[0], middle_baseline(at[1], POINTS), POINTS, align="centre",
            shows=figure.shows, on=figure.shows,
        )  # fmt: skip


def _polarity(figure: Figure, at: XY, tree: Leaf, nets: Nets) -> Iterator[Item]:
    """Plus and minus beside the two leads, left of them."""
    if not figure.plus:
        return
    x, y = at
    for sign, node, side in (("+", tree.top, -1), ("−", tree.bottom, 1)):
        shown = sign if figure.plus == -1 else {"+": "−", "−": "+"}[sign]
        lug = figure.lugs[0 if side == -1 else 1]
        spot = y + side * (figure.height / 2 + 0.4)
        yield text_at(
            shown, x - 2.5, middle_baseline(spot, POINTS), POINTS, align="centre", bold=True,
            shows=f"lug:{lug}" if lug else figure.shows, net=nets.nets[node], on=figure.shows,
        )  # fmt: skip


def _words(figure: Figure, at: XY) -> Iterator[Item]:
    """Lines to the right of a symbol; a contact's stand at its two lugs."""
    x = at[0] + figure.width / 2 + BESIDE
    line = line_mm(POINTS)
    head = len(figure.words) - figure.tail
    top = at[1] - figure.words_height / 2
    low = top + head * line
    if figure.tail:
        top, low = at[1] - figure.height / 2, at[1] + figure.height / 2 - figure.tail * line
    for number, words in enumerate(figure.words):
        start = top + number * line if number < head else low + (number - head) * line
        baseline = start + (line + ascent_mm(POINTS) - descent_mm(POINTS)) / 2
        yield text_at(
            words.text, x, baseline, POINTS, bold=words.bold, grey=words.grey, shows=words.shows
        )
