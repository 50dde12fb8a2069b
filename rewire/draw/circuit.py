"""The circuit view: what carries a reading, drawn from its series and parallel structure.

Current runs from the top down. What is in series stands on one axis, what is in parallel in
columns between two rails, a bridge in columns between as many rails as it has nodes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from rewire.circuit.states import LimitReached
from rewire.draw.labels import lines_joined
from rewire.draw.scene import (
    MARGIN,
    PAPER,
    XY,
    Item,
    Line,
    Panel,
    Paper,
    Scene,
    Symbol,
    Text,
    around,
    ascent_mm,
    descent_mm,
    line_mm,
    middle_baseline,
    paragraphs,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.draw.series_parallel import Bridge, Leaf, Parallel, Series, Tree, leaves, structure_of
from rewire.draw.sheets import on_a_sheet
from rewire.values.reading_network import Network, NetworkBranch
from rewire.words.quantity import in_ohms, with_unit

MOST_BRANCHES = 200
"""More symbols than this make no picture that can be read."""
_SOURCE = -1
"""The edge that stands for what drives the reading."""
_POINTS, _TITLE = 8.0, 11.0
_WIDEST = 36.0
"""Words wider than this are wrapped, mm."""
_LUG, _RING, _ARROW = 1.9, 1.7, 1.7
_LEAD, _BESIDE, _NAMED, _COLUMNS = 1.6, 1.4, 4.6, 4.0
"""Least lead; from a symbol to its words; room for a name on an axis; between columns; mm."""
_HEAD, _FLOWING, _FOOT, _RAIL_GAP, _RAILS = 3.0, 6.4, 3.0, 2.6, 2.0
"""Over a column without and with a current; under it; between rails at least, and more; mm."""
_STUB, _ABOVE, _BELOW, _APART = 8.0, 5.0, 6.0, 3.0
_QUIET = 0.35
_SIZES: Mapping[str, XY] = {
    "resistor": (3.4, 9.0), "rheostat": (7.6, 9.0), "meter": (9.0, 9.0), "lamp": (7.0, 7.0),
    "fuse": (3.4, 8.0), "choke": (3.2, 10.0), "capacitor": (6.0, 5.0), "diode": (4.6, 5.0),
    "contact": (_LUG, 8.5), "drive": (8.0, 8.0),
}  # fmt: skip
"""Width and height of the symbols, mm."""


def circuit_view(network: Network, paper: Paper = "a4") -> tuple[Scene, ...]:
    """What carries one reading in one position, on one sheet: a larger one where it must be.

    Raises:
        LimitReached: more than 200 parts and contacts.
    """
    panel = circuit_panel(network, paper)
    return (on_a_sheet(panel, paper, title_of(network)),)


def circuit_panel(network: Network, paper: Paper = "a4") -> Panel:
    """The same as a panel: title, drawing, caption. It may be larger than the paper.

    Raises:
        LimitReached: more than 200 parts and contacts.
    """
    if len(network.branches) > MOST_BRANCHES:
        raise LimitReached(
            f"reading {network.reading.name}: {len(network.branches)} parts and contacts carry "
            f"it in {network.wiring}, more than the {MOST_BRANCHES} a circuit view can show"
        )
    width = PAPER[paper][0] - 2 * MARGIN
    title, y = paragraphs([(title_of(network), _TITLE, True)], width)
    items: list[Item] = [*title]
    if network.branches:
        drawn = _drawing(network)
        items += drawn.moved(0.0, y + _APART).items
        y += drawn.height + 2 * _APART
        width = max(width, drawn.width)
    said, tall = paragraphs([(one, _POINTS, False) for one in _caption(network)], width)
    return Panel((*items, *(text.moved(0.0, y) for text in said)), width, y + tall)


# Words over and under the drawing ---------------------------------------------------------


def title_of(network: Network) -> str:
    """Wiring, reading, position and full scale."""
    at = ", ".join(f"{control} at {position}" for control, position in network.state.items())
    said = [f"{network.wiring}: {network.reading.name}", at, f"full scale {_full(network)}"]
    return ", ".join(one for one in said if one)


def _full(network: Network) -> str:
    unit = "A" if network.reading.quantity == "current" else "V"
    return with_unit(network.reading.full_scale, unit)


def _caption(network: Network) -> Iterator[str]:
    """Where the pointer stands at full scale, and what else to know."""
    one, other = network.reading.places
    if network.deflection is not None:
        percent = f"{100.0 * network.deflection:.2f}".rstrip("0").rstrip(".")
        beyond = ", beyond its end" if network.deflection > 1.05 else ""
        yield (
            f"At {_full(network)} from {one} to {other} {network.meter} takes "
            f"{with_unit(network.meter_amps, 'A')} and stands at {percent} % of its scale{beyond}."
        )
    if network.insertion_ohms is not None:
        yield f"Between the two points the set sees {in_ohms(network.insertion_ohms)}."
    if network.deflection is not None and network.deflection < -1e-9:
        yield "The current goes through the meter from − to +."
    for drive in network.apart:
        yield (
            f"{with_unit(drive.amps, 'A')} flow from {drive.places[0]} to {drive.places[1]} as "
            "well, through nothing that is drawn here."
        )
    if network.reading.ac:
        yield "AC: rms values, resistances alone."
    if network.why:
        yield f"{network.why[0].upper()}{network.why[1:]}."


# The drawing ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Nodes:
    """What the nodes of a network are called on its drawing."""

    network: Network
    names: Mapping[int, str]
    """Names written at nodes: those with points, and the two points of the reading."""

    def point(self, node: int) -> str:
        """What the ring at a node shows."""
        own = self.network.nodes[node]
        return f"point:{own.points[0] if own.points else own.net}"

    def line(self, node: int, *points: XY) -> Line:
        """A piece of a node's line."""
        net = self.network.nodes[node].net
        return Line(points, f"net:{net}", net, (self.point(node),), width=0.3)

    def ring(self, node: int, at: XY) -> Symbol:
        """The ring at a named node."""
        net = self.network.nodes[node].net
        return Symbol("lug", around(at, _RING, _RING), self.point(node), net, width=0.25)

    def name(self, node: int, x: float, y: float, align: str = "left", bold: bool = False) -> Text:
        """A node's name about the height ``y``."""
        return text_at(
            self.names[node], x, middle_baseline(y, _POINTS), _POINTS, align=align, bold=bold,
            shows=self.point(node), net=self.network.nodes[node].net,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Diagram:
    """A network drawn: joined at x = 0, from y = 0 down to its height, mm."""

    items: tuple[Item, ...]
    left: float
    right: float
    height: float
    amps: float | None
    """From top to bottom, ampere; None if not known."""
    silent: bool = False
    """Its symbol says the current already."""

    def at(self, x: float, y: float) -> Iterator[Item]:
        """The items at a place."""
        return (item.moved(x, y) for item in self.items)


def _drawing(network: Network) -> Panel:
    """The whole network, its source at the left, with the two points of the reading."""
    nodes = Nodes(network, _names(network))
    top, bottom = network.entry, network.exit
    inner = arranged(structure_of([b.ends for b in network.branches], top, bottom), network)
    beside = inner.children if isinstance(inner, Parallel) else (inner,)
    figure = _parallel(Parallel((Leaf(_SOURCE, top, bottom), *beside), top, bottom), nodes)
    x = _STUB + 3.0 - figure.left
    items = [*figure.at(x, _ABOVE)]
    over = _ABOVE - 1.4 - descent_mm(_POINTS)
    under = _ABOVE + figure.height + 1.4 + ascent_mm(_POINTS)
    for node, y, baseline in ((top, _ABOVE, over), (bottom, _ABOVE + figure.height, under)):
        chassis = network.nodes[node].chassis
        left = x - _STUB
        items.append(nodes.line(node, (left, y), (x, y)))
        items.append(_chassis(nodes, node, (left, y)) if chassis else nodes.ring(node, (left, y)))
        aside = 3.6 if chassis and node == bottom else -_RING / 2
        name = nodes.name(node, left + aside, 0.0, bold=True)
        items.append(replace(name, y=baseline))
    width = max(x + figure.right, *(i.box.right for i in items))
    return Panel(tuple(lines_joined(items)), width, _ABOVE + figure.height + _BELOW)


def _chassis(nodes: Nodes, node: int, at: XY) -> Symbol:
    box = around((at[0], at[1] + 1.7), 4.4, 3.4)
    return Symbol("chassis", box, nodes.point(node), nodes.network.nodes[node].net)


def _names(network: Network) -> dict[int, str]:
    names = {}
    for number, node in enumerate(network.nodes):
        more = f" and {len(node.points) - 2} more" if len(node.points) > 2 else ""
        if node.points:
            names[number] = visible(" / ".join(node.points[:2])) + more
    for number, place in zip((network.entry, network.exit), network.reading.places, strict=True):
        names[number] = visible(place)
    return names


def arranged(tree: Tree, network: Network) -> Tree:
    """The same tree with the meter's column last of those side by side, small ones first."""

    def rank(child: Tree) -> tuple[bool, int, int]:
        edges = [leaf.edge for leaf in leaves(child)]
        metered = any(network.branches[edge].kind == "meter" for edge in edges)
        return metered, len(edges), min(edges)

    if isinstance(tree, Leaf):
        return tree
    children = [arranged(child, network) for child in tree.children]
    if isinstance(tree, Parallel):
        children.sort(key=rank)
    return replace(tree, children=tuple(children))


def _drawn(tree: Tree, nodes: Nodes) -> Diagram:
    if isinstance(tree, Leaf):
        return _leaf(tree, nodes)
    if isinstance(tree, Series):
        return _series(tree, nodes)
    return _parallel(tree, nodes) if isinstance(tree, Parallel) else _bridge(tree, nodes)


def _series(tree: Series, nodes: Nodes) -> Diagram:
    """One under another; where two meet at a named node, its ring and name between them."""
    figures = [_drawn(child, nodes) for child in tree.children]
    left, right = min(c.left for c in figures), max(c.right for c in figures)
    items: list[Item] = []
    y = 0.0
    for number, (child, figure) in enumerate(zip(tree.children, figures, strict=True)):
        if number and child.top in nodes.names:
            name = nodes.name(child.top, 2.2, y + _NAMED / 2)
            items += [nodes.line(child.top, (0.0, y), (0.0, y + _NAMED)), name]
            items.append(nodes.ring(child.top, (0.0, y + _NAMED / 2)))
            right = max(right, name.box.right)
            y += _NAMED
        items += figure.at(0.0, y)
        y += figure.height
    amps = next((figure.amps for figure in figures if figure.amps is not None), None)
    return Diagram(tuple(items), left, right, y, amps)


def _parallel(tree: Parallel, nodes: Nodes) -> Diagram:
    """Columns side by side between two rails, the first on the axis."""
    figures = [_drawn(child, nodes) for child in tree.children]
    height = max(_column_height(figure) for figure in figures)
    items: list[Item] = []
    x = right = 0.0
    for number, (child, figure) in enumerate(zip(tree.children, figures, strict=True)):
        x = right + _COLUMNS - figure.left if number else 0.0
        column = _column(child, figure, height, nodes)
        items += column.at(x, 0.0)
        right = x + column.right
    items += [nodes.line(tree.top, (0.0, 0.0), (x, 0.0))]
    items += [nodes.line(tree.bottom, (0.0, height), (x, height))]
    amps = [figure.amps for figure in figures]
    total = None if None in amps else sum(one or 0.0 for one in amps)
    return Diagram(tuple(items), figures[0].left, right, height, total)


def _shown_amps(figure: Diagram) -> float | None:
    unseen = figure.silent or figure.amps is None or abs(figure.amps) < 1e-15
    return None if unseen else figure.amps


def _column_height(figure: Diagram) -> float:
    return figure.height + _FOOT + (_HEAD if _shown_amps(figure) is None else _FLOWING)


def _column(tree: Tree, figure: Diagram, height: float, nodes: Nodes) -> Diagram:
    """A network in the middle of a height, leads to both ends, its current at the head."""
    amps = _shown_amps(figure)
    head = _HEAD if amps is None else _FLOWING
    top = head + (height - _column_height(figure)) / 2
    items: list[Item] = [
        nodes.line(tree.top, (0.0, 0.0), (0.0, top)),
        *figure.at(0.0, top),
        nodes.line(tree.bottom, (0.0, top + figure.height), (0.0, height)),
    ]
    right = figure.right
    if amps is not None:
        y, line = head / 2 + 0.2, nodes.line(tree.top)
        kind = "flow-down" if amps > 0 else "flow-up"
        said = text_at(
            with_unit(abs(amps), "A"), _ARROW / 2 + _BESIDE, middle_baseline(y, _POINTS), _POINTS,
            shows=line.shows, net=line.net,
        )  # fmt: skip
        arrow = Symbol(kind, around((0.0, y), _ARROW, 2.1), line.shows, line.net, width=0.1)
        items += [arrow, said]
        right = max(right, said.box.right)
    return replace(figure, items=tuple(items), right=right, height=height)


def _bridge(tree: Bridge, nodes: Nodes) -> Diagram:
    """Rails one under another and columns between them, names of the inner rails on the left.

    A column runs from its upper rail to its lower one and crosses those between at right
    angles; its symbols stand below its upper rail, above the next.
    """
    level = {node: number for number, node in enumerate(tree.rails)}
    children = sorted(tree.children, key=lambda c: (level[c.top] + level[c.bottom], level[c.top]))
    figures = [_drawn(child, nodes) for child in children]
    gaps = [_RAIL_GAP] * (len(tree.rails) - 1)
    for child, figure in zip(children, figures, strict=True):
        gaps[level[child.top]] = max(gaps[level[child.top]], _column_height(figure))
    at = dict(zip(tree.rails, accumulate((g + _RAILS for g in gaps), initial=0.0), strict=True))
    named = [node for node in tree.rails[1:-1] if node in nodes.names]
    gutter = max((width_mm(nodes.names[n], _POINTS) + 3.0 for n in named), default=0.0)
    items: list[Item] = []
    axes: dict[int, list[float]] = {tree.top: [0.0], tree.bottom: [0.0]}
    axes.update((node, [gutter]) for node in named)
    right = gutter
    for child, figure in zip(children, figures, strict=True):
        x = right + _COLUMNS - figure.left
        own = _column(child, figure, _column_height(figure), nodes)
        items += own.at(x, at[child.top])
        foot = at[child.top] + own.height
        items.append(nodes.line(child.bottom, (x, foot), (x, at[child.bottom])))
        for node in (child.top, child.bottom):
            axes.setdefault(node, []).append(x)
        right = x + own.right
    for node, y in at.items():
        items.append(nodes.line(node, (min(axes[node]), y), (max(axes[node]), y)))
    for node in named:
        items += [nodes.ring(node, (gutter, at[node]))]
        items += [nodes.name(node, gutter - 1.6, at[node], align="right")]
    drawn = zip(children, figures, strict=True)
    heads = [figure.amps for child, figure in drawn if child.top == tree.top]
    amps = None if None in heads else sum(one or 0.0 for one in heads)
    return Diagram(tuple(items), -1.0, right, at[tree.bottom], amps)


# What stands at one branch ------------------------------------------------------------------


def _leaf(leaf: Leaf, nodes: Nodes) -> Diagram:
    """A symbol with its leads, its words at the right."""
    if leaf.edge == _SOURCE:
        return _source(leaf, nodes)
    branch = nodes.network.branches[leaf.edge]
    upright = branch.ends[0] == leaf.top
    if branch.kind == "contact":
        return _contact(leaf, branch, nodes)
    if branch.kind == "drive":
        leaves_at, enters = branch.terminals
        shows = f"drive:{enters}"
        said = _words(f"{branch.value} {enters} to {leaves_at}, flowing as well", shows)
        symbol = "current-down" if upright else "current-up"
        return replace(_figure(leaf, nodes, symbol, shows, said), silent=True)
    shows = f"part:{branch.part}"
    drop = abs(branch.volts or 0.0)
    said = [*_words(branch.part, shows, bold=True), *_words(branch.value, shows)]
    said += _words(with_unit(drop, "V") if drop >= 1e-12 else "", shows, grey=_QUIET)
    kind = "rheostat" if branch.kind == "pot" else branch.kind
    symbol = "diode-up" if kind == "diode" and not upright else kind
    amps = branch.amps if branch.amps is None or upright else -branch.amps
    figure = replace(_figure(leaf, nodes, symbol, shows, said), amps=amps)
    if kind != "meter":
        return figure
    lugs = branch.terminals if upright else branch.terminals[::-1]
    shown = [f"lug:{lug}" if lug else shows for lug in lugs]
    ends = list(zip((leaf.top, leaf.bottom), shown, strict=True))
    unit = branch.value.partition(",")[0].rpartition(" ")[2] or "A"
    y = middle_baseline(figure.height / 2, _POINTS)
    letter = text_at(unit, 0.0, y, _POINTS, align="centre", shows=shows, on=shows)
    lettered = replace(figure, items=(*figure.items, letter))
    return _signed(lettered, nodes, "+−" if upright else "−+", ends)


def _source(leaf: Leaf, nodes: Nodes) -> Diagram:
    """What drives the reading, from its second place to its first inside the source."""
    network = nodes.network
    reading, current = network.reading, network.reading.quantity == "current"
    said = _words(_full(network) + (" AC" if reading.ac else ""), "source", bold=True)
    if not current and reading.source_resistance:
        said += _words(f"behind {in_ohms(reading.source_resistance)}", "source")
    found, unit = (network.volts, "V") if current else (network.amps, "A")
    if found is not None:
        said += _words(with_unit(found, unit), "source", grey=_QUIET)
    figure = _figure(leaf, nodes, "current-up" if current else "voltage", "source", said)
    if not current:
        figure = _signed(figure, nodes, "+−", [(leaf.top, "source"), (leaf.bottom, "source")])
    return replace(figure, silent=True)


def _figure(leaf: Leaf, nodes: Nodes, symbol: str, shows: str, said: Sequence[Text]) -> Diagram:
    size = _SIZES.get(symbol) or _SIZES["diode" if symbol.startswith("diode") else "drive"]
    step = line_mm(_POINTS)
    height = max(size[1], len(said) * step) + 2 * _LEAD
    middle, half = height / 2, size[1] / 2
    words = _beside(said, size[0] / 2 + _BESIDE, middle - len(said) * step / 2)
    items: tuple[Item, ...] = (
        nodes.line(leaf.top, (0.0, 0.0), (0.0, middle - half)),
        Symbol(symbol, around((0.0, middle), *size), shows),
        nodes.line(leaf.bottom, (0.0, middle + half), (0.0, height)),
        *words,
    )
    return Diagram(items, -size[0] / 2 - 0.8, _right(words, size[0] / 2), height, None)


def _signed(figure: Diagram, nodes: Nodes, signs: str, ends: Sequence[tuple[int, str]]) -> Diagram:
    """With plus and minus left of the two leads; ``ends`` are their nodes and what they show."""
    symbol = next(i for i in figure.items if isinstance(i, Symbol))
    heights = (symbol.box.top - 0.4, symbol.box.bottom + 0.4)
    added = [
        text_at(
            sign, -2.5, middle_baseline(y, _POINTS), _POINTS, align="centre", bold=True,
            shows=shows, net=nodes.network.nodes[node].net, on=symbol.shows,
        )
        for sign, y, (node, shows) in zip(signs, heights, ends, strict=True)
    ]  # fmt: skip
    return replace(figure, items=(*figure.items, *added), left=min(figure.left, -4.4))


def _contact(leaf: Leaf, branch: NetworkBranch, nodes: Nodes) -> Diagram:
    """Two lugs and the closed blade from one to the other; a leg of a bar has one lug."""
    upright = branch.ends[0] == leaf.top
    lugs = branch.terminals if upright else branch.terminals[::-1]
    words = [_words(lug, f"lug:{lug}", bold=True) for lug in lugs]
    step = line_mm(_POINTS)
    half = max(_SIZES["contact"][1], sum(map(len, words)) * step) / 2
    middle = half + _LEAD
    ends = (middle - half, middle + half)
    centres = [
        y + s * _LUG / 2 if lug else y for y, s, lug in zip(ends, (1, -1), lugs, strict=True)
    ]
    joins = tuple(f"lug:{lug}" for lug in lugs if lug)
    blade = Line(
        ((0.0, centres[0]), (0.0, centres[1])), f"part:{branch.part}", joins=joins, width=0.55
    )
    x = _LUG / 2 + _BESIDE
    said = [*_beside(words[0], x, ends[0]), *_beside(words[1], x, ends[1] - len(words[1]) * step)]
    discs = [
        Symbol("lug", around((0.0, y), _LUG, _LUG), f"lug:{lug}", nodes.network.nodes[node].net)
        for lug, y, node in zip(lugs, centres, (leaf.top, leaf.bottom), strict=True) if lug
    ]  # fmt: skip
    items: tuple[Item, ...] = (
        nodes.line(leaf.top, (0.0, 0.0), (0.0, ends[0])), blade, *discs,
        nodes.line(leaf.bottom, (0.0, ends[1]), (0.0, ends[1] + _LEAD)), *said,
    )  # fmt: skip
    amps = branch.amps if branch.amps is None or upright else -branch.amps
    return Diagram(items, -_LUG / 2 - 0.8, _right(said, _LUG / 2), ends[1] + _LEAD, amps)


def _words(text: str, shows: str, *, bold: bool = False, grey: float = 0.0) -> list[Text]:
    """Lines of text that are still to be placed."""
    lines = wrap(visible(text), _WIDEST, _POINTS, bold) if text else ()
    return [text_at(one, 0.0, 0.0, _POINTS, bold=bold, grey=grey, shows=shows) for one in lines]


def _beside(said: Sequence[Text], x: float, top: float) -> list[Text]:
    step = line_mm(_POINTS)
    down = (step + ascent_mm(_POINTS) - descent_mm(_POINTS)) / 2
    return [text.moved(x, top + n * step + down) for n, text in enumerate(said)]


def _right(said: Sequence[Text], least: float) -> float:
    return max((text.box.right for text in said), default=least)
