"""Parts: a tree too large for one sheet, as several that refer to each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.draw.circuit.figures import part_figure
from rewire.draw.circuit.place import placed
from rewire.draw.circuit.plan import Plan, amps_through
from rewire.draw.circuit.tree import Bridge, Leaf, Tree


@dataclass(frozen=True, slots=True)
class Room:
    """What a drawing may take, mm."""

    width: float
    height: float

    def holds(self, plan: Plan) -> bool:
        """Whether the tree of a plan fits."""
        cell = placed(plan.tree, plan)
        return cell.right - cell.left <= self.width and cell.height <= self.height


def parts_of(plan: Plan, room: Room) -> list[Plan]:
    """The plan, or where it does not fit the room, plans that refer to each other by number.

    The first shows the whole, with a box in place of each network that a later one
    shows. The largest network that fits the room is cut out first; where none does,
    rows and sets are halved and the columns of a bridge are dealt out in pieces.
    """
    pending, done = [plan], list[Plan]()
    count = 1
    while pending:
        now = pending.pop(0)
        while not room.holds(now) and (inner := _to_cut(now, room)) is not None:
            count += 1
            now, cut = _cut(now, inner, count)
            pending.append(cut)
        if isinstance(now.tree, Bridge) and not room.holds(now):
            done.extend(_dealt(now, now.tree, room))
        else:
            done.append(now)
    return done


def _to_cut(plan: Plan, room: Room) -> Tree | None:
    """The network to draw elsewhere; None where nothing is left but columns of a bridge."""
    every = [tree for tree in _inside(plan.tree) if not isinstance(tree, Leaf)]
    sizes = {tree: placed(tree, plan) for tree in every}
    fitting = [tree for tree in every if room.holds(replace(plan, tree=tree))]
    if fitting:
        return max(fitting, key=lambda t: (sizes[t].right - sizes[t].left) * sizes[t].height)
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


def _cut(plan: Plan, inner: Tree, number: int) -> tuple[Plan, Plan]:
    """The plan with a box in place of a network, and the plan of that network."""
    box = Leaf(-number, inner.top, inner.bottom)
    figures = {**plan.figures, box.edge: part_figure(number)}
    amps = {**plan.amps, box.edge: (inner.top, amps_through(inner, plan))}
    rest = replace(plan, tree=_replaced(plan.tree, inner, box), figures=figures, amps=amps)
    return rest, replace(plan, tree=inner, part=number)


def _replaced(tree: Tree, inner: Tree, box: Leaf) -> Tree:
    if tree == inner:
        return box
    if isinstance(tree, Leaf):
        return tree
    if type(inner) is type(tree) and not isinstance(tree, Bridge):
        count = len(inner.children)
        if tree.children[:count] == inner.children:
            return replace(tree, children=(box, *tree.children[count:]))
    return replace(tree, children=tuple(_replaced(c, inner, box) for c in tree.children))


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
