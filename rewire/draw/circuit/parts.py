"""Parts: a tree too large for one sheet, as several that refer to each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.draw.circuit.figures import part_figure
from rewire.draw.circuit.place import Cell, Known, placed
from rewire.draw.circuit.plan import Plan, amps_through
from rewire.draw.circuit.tree import Bridge, Leaf, Parallel, Series, Tree, leaves, parallel, series

_ANY = 99
_FIRST_BOX = -100
"""Edges of boxes count down from here."""


@dataclass(frozen=True, slots=True)
class Room:
    """What a drawing may take, mm."""

    width: float
    height: float

    def holds(self, plan: Plan, known: Known | None = None) -> bool:
        """Whether the tree of a plan fits."""
        return self.takes(placed(plan.tree, plan, known))

    def takes(self, cell: Cell) -> bool:
        """Whether a cell fits."""
        return cell.right - cell.left <= self.width and cell.height <= self.height


def parts_of(plan: Plan, room: Room) -> list[Plan]:
    """The plan, or where it does not fit the room, plans that refer to each other by number.

    The first shows the whole, with a box in place of each network that a later one
    shows. The largest network that fits the room is cut out first; where none does,
    rows and sets are halved and the columns of a bridge are dealt out in pieces.
    What still fits in the end is put back.
    """
    pending, done = [plan], list[Plan]()
    count = 1
    while pending:
        now, cuts = _fitted(pending.pop(0), room)
        for box in [leaf for leaf in leaves(now.tree) if leaf.edge in cuts]:
            count += 1
            now = replace(now, figures={**now.figures, box.edge: part_figure(count)})
            pending.append(replace(plan, tree=cuts[box.edge], part=count, figures=now.figures))
        if isinstance(now.tree, Bridge) and not room.holds(now):
            done.extend(_dealt(now, now.tree, room))
        else:
            done.append(now)
    return done


def _fitted(plan: Plan, room: Room) -> tuple[Plan, dict[int, Tree]]:
    """A plan with networks cut out until it fits, and what stands behind each box.

    A network cut out may hold boxes of earlier ones; these are put back in it.
    """
    cuts: dict[int, Tree] = {}
    known: Known = {}
    while not room.holds(plan, known) and (inner := _to_cut(plan, room, known)) is not None:
        box = Leaf(_FIRST_BOX - len(cuts), inner.top, inner.bottom)
        cuts[box.edge] = inner
        figures = {**plan.figures, box.edge: part_figure(_ANY)}
        amps = {**plan.amps, box.edge: (inner.top, amps_through(inner, plan))}
        plan = replace(plan, tree=_replaced(plan.tree, inner, box), figures=figures, amps=amps)
    for edge in sorted(cuts):
        back = replace(plan, tree=_put_back(plan.tree, {edge: cuts[edge]}))
        if room.holds(back, known):
            plan = back
    return plan, {edge: _put_back(tree, cuts) for edge, tree in cuts.items()}


def _put_back(tree: Tree, cuts: Mapping[int, Tree]) -> Tree:
    """The tree with networks in place of their boxes."""
    if isinstance(tree, Leaf):
        return _put_back(cuts[tree.edge], cuts) if tree.edge in cuts else tree
    children = tuple(_put_back(child, cuts) for child in tree.children)
    if isinstance(tree, Series):
        return series(children)
    return parallel(children) if isinstance(tree, Parallel) else replace(tree, children=children)


def _to_cut(plan: Plan, room: Room, known: Known) -> Tree | None:
    """The network to draw elsewhere; None where nothing is left but columns of a bridge."""
    every = [tree for tree in _inside(plan.tree) if not isinstance(tree, Leaf)]
    cells = [placed(tree, plan, known) for tree in every]
    fitting = [cell for cell in cells if room.takes(cell)]
    if fitting:
        return max(fitting, key=lambda cell: (cell.right - cell.left) * cell.height).tree
    whole = next((t for t in every if isinstance(t, Bridge)), None)
    if whole is not None:
        return whole
    halves = (_half(tree) for tree in (*every, plan.tree))
    return next((half for half in halves if half is not None), None)


def _half(tree: Tree) -> Tree | None:
    """The first half of a row or set of more than two."""
    if isinstance(tree, Bridge | Leaf) or len(tree.children) < 3:
        return None
    first = tree.children[: (len(tree.children) + 1) // 2]
    return type(tree)(first, first[0].top, first[-1].bottom)


def _inside(tree: Tree) -> Iterator[Tree]:
    """All networks inside one, the deepest first, itself left out."""
    if isinstance(tree, Leaf):
        return
    for child in tree.children:
        yield from _inside(child)
        yield child


def _replaced(tree: Tree, inner: Tree, box: Leaf) -> Tree:
    """The tree with a box for a network in it, or for the first children of a row or set."""
    if tree is inner:
        return box
    if isinstance(tree, Leaf):
        return tree
    if not isinstance(tree, Bridge) and not isinstance(inner, Leaf):
        count = len(inner.children)
        if type(tree) is type(inner) and tree.children[:count] == inner.children:
            return replace(tree, children=(box, *tree.children[count:]))
    children = tuple(_replaced(child, inner, box) for child in tree.children)
    same = all(a is b for a, b in zip(children, tree.children, strict=True))
    return tree if same else replace(tree, children=children)


def _dealt(plan: Plan, tree: Bridge, room: Room) -> list[Plan]:
    """The columns of a bridge in pieces that fit; every rail is named on each piece."""
    names = {**{node: f"rail {n}" for n, node in enumerate(tree.rails, 1)}, **plan.names}
    named = replace(plan, names=names, piece=(1, 1))
    level = {node: number for number, node in enumerate(tree.rails)}
    pieces: list[list[Tree]] = [[]]
    for child in sorted(tree.children, key=lambda c: sorted((level[c.top], level[c.bottom]))):
        tried = replace(named, tree=_piece(tree, [*pieces[-1], child]))
        if pieces[-1] and not room.holds(tried):
            pieces.append([])
        pieces[-1].append(child)
    return [
        replace(named, tree=_piece(tree, children), piece=(number, len(pieces)))
        for number, children in enumerate(pieces, 1)
    ]


def _piece(tree: Bridge, children: Sequence[Tree]) -> Bridge:
    """Some columns of a bridge, with the rails that they touch."""
    touched = {node for child in children for node in (child.top, child.bottom)}
    rails = tuple(node for node in tree.rails if node in touched)
    return replace(tree, children=tuple(children), rails=rails)
