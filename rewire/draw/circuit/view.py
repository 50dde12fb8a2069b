"""The circuit view: what carries a reading, drawn from its series and parallel structure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rewire.circuit.states import LimitReached
from rewire.draw.circuit.ends import ABOVE, BELOW, STUB, ends_of, stubs_of
from rewire.draw.circuit.figures import Figure, figure_of, source_figure
from rewire.draw.circuit.parts import Room, parts_of
from rewire.draw.circuit.place import placed
from rewire.draw.circuit.plan import Plan
from rewire.draw.circuit.symbols import Nets, items_of
from rewire.draw.circuit.tree import Bridge, Leaf, Parallel, Tree, leaves, tree_of
from rewire.draw.circuit.words import SMALL, TITLE, caption_of, lines_down, title_of
from rewire.draw.measure import visible
from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper, Scene
from rewire.draw.stack import stacked
from rewire.values.network import Network

SOURCE = -1
"""The edge of the tree that stands for what drives the reading."""
MOST_BRANCHES = 200
"""A network of more symbols than this is no picture any more."""
_LEFT = STUB + 3.0
_APART = 3.0


def circuit_view(network: Network, paper: Paper = "a4") -> tuple[Scene, ...]:
    """Sheets that show what carries one reading in one position.

    Args:
        network: from ``rewire.values.network``.
        paper: what it is printed on.

    Returns:
        One sheet, or several whose parts refer to each other by number.

    Raises:
        LimitReached: more than 200 parts and contacts.
    """
    return stacked(circuit_panels(network, paper), paper, title_of(network))


def circuit_panels(network: Network, paper: Paper = "a4") -> tuple[Panel, ...]:
    """The same as panels, for a page that holds other things too.

    Raises:
        LimitReached: more than 200 parts and contacts.
    """
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    if not network.branches:
        return (_panel(network, None, "", width),)
    if len(network.branches) > MOST_BRANCHES:
        raise LimitReached(
            f"reading {network.reading.name}: {len(network.branches)} parts and contacts carry "
            f"it in {network.wiring}, more than the {MOST_BRANCHES} a circuit view can show"
        )
    plan = plan_of(network)
    spare = _panel(network, None, ", part 10, piece 10 of 10", width).height
    room = Room(width - _LEFT, height - spare - ABOVE - BELOW - 2 * _APART)
    plans = parts_of(plan, room)
    many = len(plans) > 1
    return tuple(_panel(network, one, _part(one) if many else "", width) for one in plans)


def _part(plan: Plan) -> str:
    piece = f", piece {plan.piece[0]} of {plan.piece[1]}" if plan.piece else ""
    return f", part {plan.part}{piece}"


def plan_of(network: Network) -> Plan:
    """What placing needs to know of a network with branches."""
    edges = [branch.ends for branch in network.branches]
    meters = {n for n, branch in enumerate(network.branches) if branch.kind == "meter"}
    inner = arranged(tree_of(edges, network.entry, network.exit), meters)
    beside = inner.children if isinstance(inner, Parallel) else (inner,)
    source = Leaf(SOURCE, network.entry, network.exit)
    tree = Parallel((source, *beside), network.entry, network.exit)
    drives = {n for n, branch in enumerate(network.branches) if branch.kind == "drive"}
    return Plan(
        tree=tree,
        figures=_figures(network, inner),
        names=_names(network),
        amps={n: (b.ends[0], b.amps) for n, b in enumerate(network.branches)},
        silent=frozenset({SOURCE, *drives}),
    )


def arranged(tree: Tree, meters: Iterable[int]) -> Tree:
    """The same tree with the meter's column last of those side by side, small ones first."""
    wanted = set(meters)

    def rank(child: Tree) -> tuple[bool, int, int]:
        edges = [leaf.edge for leaf in leaves(child)]
        return not wanted.isdisjoint(edges), len(edges), min(edges)

    if isinstance(tree, Leaf):
        return tree
    children = [arranged(child, wanted) for child in tree.children]
    if isinstance(tree, Parallel):
        children.sort(key=rank)
    if isinstance(tree, Bridge):
        return replace(tree, children=tuple(children))
    return type(tree)(tuple(children), tree.top, tree.bottom)


def _figures(network: Network, tree: Tree) -> dict[int, Figure]:
    figures = {SOURCE: source_figure(network)}
    for leaf in leaves(tree):
        branch = network.branches[leaf.edge]
        figures[leaf.edge] = figure_of(branch, upright=branch.ends[0] == leaf.top)
    return figures


def _names(network: Network) -> dict[int, str]:
    """Names of the nodes that bear points, and of the two places of the reading."""
    names = {n: _named(node.points) for n, node in enumerate(network.nodes) if node.points}
    for node, place in zip((network.entry, network.exit), network.reading.places, strict=True):
        names[node] = visible(place)
    return names


def _named(points: tuple[str, ...]) -> str:
    more = f" and {len(points) - 2} more" if len(points) > 2 else ""
    return visible(" / ".join(points[:2])) + more


def _panel(network: Network, plan: Plan | None, part: str, width: float) -> Panel:
    """Title, drawing, caption; the caption stands under the first part."""
    title, y = lines_down([(f"{title_of(network)}{part}", TITLE, True)], width)
    items: list[Item] = list(title)
    if plan is not None:
        drawn, height = _drawing(network, plan)
        items += [item.moved(0.0, y + _APART) for item in drawn]
        y += height + 2 * _APART
    if plan is None or plan.part == 1:
        said, tall = lines_down([(one, SMALL, False) for one in caption_of(network)], width)
        items += [text.moved(0.0, y) for text in said]
        y += tall
    return Panel(tuple(items), width, y)


def _drawing(network: Network, plan: Plan) -> tuple[list[Item], float]:
    """Items of one part with the top at 0, and the height they take, mm."""
    cell = placed(plan.tree, plan)
    cell = cell.settled(_LEFT - (cell.left if plan.part > 1 else 0.0), ABOVE)
    nets = _nets(network)
    chassis = frozenset(n for n, node in enumerate(network.nodes) if node.chassis)
    items = [
        *items_of(cell, plan, nets, stubs_of(cell, plan)),
        *ends_of(cell, plan, nets, chassis),
    ]
    return items, ABOVE + cell.height + BELOW


def _nets(network: Network) -> Nets:
    called = {n: node.points[0] for n, node in enumerate(network.nodes) if node.points}
    nets = {n: node.net for n, node in enumerate(network.nodes)}
    return Nets(nets, {n: called.get(n, nets[n]) for n in nets})
