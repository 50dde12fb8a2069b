"""The network of a reading: what carries it between its two places, and what flows there.

Plain records for whoever draws or tells it; unknown is None.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import networkx as nx

from rewire.circuit.dc import Ends
from rewire.circuit.graph import Joiner
from rewire.records.part import Part
from rewire.records.parts import Meter, Resistor
from rewire.records.spec import Drive, Reading, Spec, Wiring
from rewire.values.dc_network import (
    NO_VALUE,
    Branch,
    BranchFlow,
    DcNetwork,
    Setup,
    Solved,
    State,
    filled,
    flows,
)
from rewire.values.readings import (
    NOT_A_SUM,
    Routes,
    disagreeing,
    nodes_joined,
    nominal,
    shown_state,
)
from rewire.values.solved import solved_of
from rewire.words.quantity import in_ohms, pieces_said, with_unit


@dataclass(frozen=True, slots=True)
class NetworkNode:
    """A place where branches meet.

    ``net`` is the name that every picture of the wiring gives it, ``points`` are the points of
    the equipment on it, the chassis first.
    """

    net: str
    points: tuple[str, ...]
    chassis: bool


@dataclass(frozen=True, slots=True)
class NetworkBranch:
    """A part, a leg of a pot, a closed contact, or a standing current.

    ``kind`` is the part's kind, ``contact`` or ``drive``. ``terminals`` are the
    full names at its two ends, empty inside a part. ``amps`` flow from its first
    end to its second, ``volts`` are across it in the same sense; None where they
    are not known, or where contacts side by side share as they please.
    """

    kind: str
    part: str
    terminals: tuple[str, str]
    ends: Ends
    value: str
    ohms: float | None
    amps: float | None = None
    volts: float | None = None


@dataclass(frozen=True, slots=True)
class Network:
    """What carries one reading in one position, solved at full scale.

    ``state`` has the position of each control that the reading fixes, ``amps`` the current of
    the drive and ``volts`` those from the first place to the second at full scale; ``deflection``
    is a share of the scale. ``apart`` are standing currents that take none of these ways, ``why``
    says what is not known, or not to be seen. ``branches`` is empty where nothing carries it.
    """

    wiring: str
    reading: Reading
    state: Mapping[str, str]
    nodes: tuple[NetworkNode, ...]
    entry: int
    exit: int
    branches: tuple[NetworkBranch, ...]
    meter: str | None
    amps: float | None = None
    volts: float | None = None
    meter_amps: float | None = None
    deflection: float | None = None
    insertion_ohms: float | None = None
    apart: tuple[Drive, ...] = ()
    why: str | None = None


def networks_of(spec: Spec, wiring: Wiring) -> tuple[Network, ...]:
    """The networks of all readings of a wiring, in the order of the file.

    Raises:
        LimitReached, SpecError: as ``values_of``.
    """
    solved = solved_of(spec, wiring)
    return tuple(network_of(solved, name) for name in wiring.readings)


def network_of(solved: Solved, name: str) -> Network:
    """The network of one reading of a wiring.

    Error: that of the solver, see ``rewire.circuit.dc.solve``.
    """
    ready, network = solved.setups.get(name), solved.network
    if ready is None:
        said = "'never' forbids every state it could be taken in"
        return _nothing(solved, network.wiring.readings[name], said)
    pairs = network.pairs(ready.reading)
    if pairs is None:
        return _nothing(solved, ready.reading, ready.circuit.why or "")
    carrying, taken = selected(network, ready.reading, ready.meter, ready.states[0])
    flowing = _Flowing.of(solved, ready)
    branches = [flowing.solved(item) for item in _items(solved, carrying)]
    drives = [
        _drive(ready.reading.also[n], pairs[1 + n], flowing)
        for n in range(len(ready.reading.also))
        if _is_taken(pairs, taken, n) and pairs[1 + n][0] != pairs[1 + n][1]
    ]
    shown = [pairs[0], *(pairs[1 + n] for n in taken), *(b.ends for b in (*branches, *drives))]
    number = {node: n for n, node in enumerate(dict.fromkeys(n for ends in shown for n in ends))}
    own = Network(
        wiring=network.wiring.name,
        reading=ready.reading,
        state=shown_state(network, ready.reading, ready.states[0]),
        nodes=tuple(_node(network, node) for node in number),
        entry=number[pairs[0][0]],
        exit=number[pairs[0][1]],
        branches=tuple(
            replace(b, ends=(number[b.ends[0]], number[b.ends[1]])) for b in (*branches, *drives)
        ),
        meter=ready.meter_name,
        amps=_entering(network, branches, drives, pairs[0]),
        volts=flowing.across(pairs[0]),
        apart=tuple(
            drive
            for n, drive in enumerate(ready.reading.also)
            if not _is_taken(pairs, taken, n) or pairs[1 + n][0] == pairs[1 + n][1]
        ),
    )
    return _answered(own, solved, ready)


def _is_taken(pairs: Sequence[Ends], taken: Sequence[int], number: int) -> bool:
    """Whether a standing current flows between places whose current is shown."""
    return pairs[1 + number] in [pairs[1 + n] for n in taken]


def _nothing(solved: Solved, reading: Reading, why: str) -> Network:
    controls = solved.spec.controls
    fixed = {n: at[0] for n, at in reading.when.items() if n in controls and len(at) == 1}
    return Network(solved.network.wiring.name, reading, fixed, (), 0, 0, (), None, why=why)


def _answered(own: Network, solved: Solved, ready: Setup) -> Network:
    """With what the meter makes of it, or why that cannot be told."""
    loose = disagreeing(solved, ready)
    if loose:
        said = f"it depends on {', '.join(loose)}, which 'when' does not fix to one position"
        return replace(own, why=said)
    found = nominal(solved.network, ready.circuit, solved.values)
    share = None if found.amps is None else found.amps / (ready.full_scale or inf)
    return replace(
        own,
        amps=ready.reading.full_scale if ready.reading.quantity == "current" else own.amps,
        meter_amps=found.amps,
        deflection=share if ready.full_scale else None,
        insertion_ohms=found.insertion,
        why=found.why,
    )


def selected(
    network: DcNetwork, reading: Reading, meter: Meter | None, state: State
) -> tuple[list[Branch], tuple[int, ...]]:
    """Branches that carry a reading, and which of its standing currents flow in them too.

    Left out: whatever closed contacts bridge (no current flows in it), the meter
    and what lies beside it excepted; what hangs on the rest by one end. What a DC
    sum takes as open (capacitors, diodes) is there where it lies beside the meter,
    or in the only way to it.

    Returns:
        Branches of the network (those that block DC without a value) and numbers of
        ``reading.also``.
    """
    pairs = network.pairs(reading)
    if pairs is None or pairs[0][0] == pairs[0][1]:
        return [], ()
    closed = [branch for branch in network.branches if branch.closed(state)]
    contacts = [branch for branch in closed if branch.control is not None]
    bare = nodes_joined(network, (b for b in contacts if network.values[b.value].nominal == 0.0))
    if bare.root(pairs[0][0]) == bare.root(pairs[0][1]):
        return Routes.over(contacts).between(pairs[:1]), ()
    kept = _unbridged(closed, bare, pairs)
    if meter is not None and not Routes.over(kept).pass_through(pairs, meter.name):
        kept = _unbridged([*closed, *network.blocked], bare, pairs)
    beside = _beside([*closed, *network.blocked], network, bare, meter)
    every = {id(branch) for branch in (*kept, *beside)}
    in_order = [b for b in (*network.branches, *network.blocked) if id(b) in every]
    return _sharing(Routes.over(in_order), pairs)


def _unbridged(closed: Sequence[Branch], bare: Joiner, pairs: Sequence[Ends]) -> list[Branch]:
    """All contacts, and what is on a way when all that contacts tie is taken as one node.

    A part that contacts bridge, or that loops back to where it began, is on none.
    """
    merged = [replace(b, ends=(bare.root(b.ends[0]), bare.root(b.ends[1]))) for b in closed]
    roots = [(bare.root(one), bare.root(other)) for one, other in pairs]
    routes = Routes.over(merged).between(pair for pair in roots if pair[0] != pair[1])
    on_way = {id(branch) for branch in routes}
    return [
        branch
        for branch, one in zip(closed, merged, strict=True)
        if id(one) in on_way or (branch.control is not None and one.ends[0] == one.ends[1])
    ]


def _beside(
    branches: Sequence[Branch], network: DcNetwork, bare: Joiner, meter: Meter | None
) -> Iterator[Branch]:
    """The meter itself and what lies beside it, though contacts may bridge it or it may block."""
    if meter is None:
        return
    at_meter = set(network.nodes_of(meter))
    roots = {bare.root(node) for node in at_meter}
    for branch in branches:
        theirs = {bare.root(end) for end in branch.ends}
        here = set(branch.ends) == at_meter or (theirs == roots and len(roots) == 2)
        if here and branch.control is None:
            yield branch


def _sharing(routes: Routes, pairs: Sequence[Ends]) -> tuple[list[Branch], tuple[int, ...]]:
    """Routes of the reading, and of every standing current that shares some of them."""
    chosen, taken = routes.between(pairs[:1]), list[int]()
    left = list(range(len(pairs) - 1))
    while more := [n for n in left if set(routes.between([pairs[1 + n]])) & set(chosen)]:
        taken += more
        left = [n for n in left if n not in more]
        chosen = routes.between([pairs[0], *(pairs[1 + n] for n in taken)])
    return chosen, tuple(sorted(taken))


@dataclass(frozen=True, slots=True)
class _Item:
    """One symbol: its branch of the picture, and those of the network that it stands for."""

    shown: NetworkBranch
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class _Flowing:
    """What flows in a reading's circuit, by branches and nodes of the network."""

    flows: Mapping[tuple[int, int | None, bool, Ends], BranchFlow]
    volts: Mapping[int, float]

    @classmethod
    def of(cls, solved: Solved, ready: Setup) -> _Flowing:
        told = ready.circuit.why != NOT_A_SUM and not disagreeing(solved, ready)
        carried = (flows(ready.circuit, solved.values) or []) if told else []
        nodes, found = ready.circuit.nodes, {}
        for branch, flow in zip(ready.circuit.branches, carried, strict=False):
            ends = (nodes[branch.ends[0]], nodes[branch.ends[1]])
            found[branch.value, branch.share, branch.upper, ends] = flow
        return cls(found, _potentials([(key[3], flow.volts) for key, flow in found.items()]))

    def across(self, ends: Ends) -> float | None:
        """Volts between two nodes; None where nothing is known of them."""
        one, other = (self.volts.get(end) for end in ends)
        return None if one is None or other is None else one - other

    def solved(self, item: _Item) -> NetworkBranch:
        """An item with what flows; pieces of a resistor together carry what their sum does."""
        shown, first = item.shown, item.branches[0]
        flow = self.flows.get((first.value, first.share, first.upper, first.ends))
        volts = self.across(shown.ends)
        amps = None if flow is None else flow.amps
        if len(item.branches) > 1 and shown.kind != "contact":
            amps = volts / shown.ohms if volts is not None and shown.ohms else None
        if flow is None and volts is not None and first.value == NO_VALUE:
            amps = 0.0
        return replace(shown, amps=amps, volts=volts)


def _potentials(drops: Sequence[tuple[Ends, float]]) -> dict[int, float]:
    """Volts of each node against the first, by the drops between them."""
    graph: nx.Graph[int] = nx.Graph()
    for (a, b), drop in drops:
        graph.add_edge(a, b, drop=drop, first=a)
    found = {drops[0][0][0]: 0.0} if drops else {}
    for here, there in nx.bfs_edges(graph, next(iter(found))) if found else ():
        drop = graph.edges[here, there]["drop"]
        found[there] = found[here] + (-drop if graph.edges[here, there]["first"] == here else drop)
    return found


def _items(solved: Solved, branches: Sequence[Branch]) -> list[_Item]:
    """Branches as symbols: a resistor is one whatever it is built of, then closed contacts."""
    network = solved.network
    contacts = [branch for branch in branches if branch.control is not None]
    of_part: dict[str, list[Branch]] = {}
    single: list[_Item] = []
    for branch in branches:
        if branch.control is not None:
            continue
        if isinstance(network.parts[branch.part], Resistor):
            of_part.setdefault(branch.part, []).append(branch)
        else:
            single.append(_single(solved, branch, branches))
    built = [_built_up(solved, network.parts[name], own) for name, own in of_part.items()]
    return [*single, *built, *_contacts(solved, contacts)]


def _ohms(solved: Solved, branch: Branch) -> float | None:
    known = branch.known(solved.values)
    return float(branch.ohms(filled(solved.values))[0]) if known else None


def _single(solved: Solved, branch: Branch, every: Sequence[Branch]) -> _Item:
    part, ohms = solved.network.parts[branch.part], _ohms(solved, branch)
    lugs, said = part.full_terminals, _said(part, ohms)
    if branch.share is not None:
        lugs = lugs[1:] if branch.upper else lugs[:2]
        legs = sum(other.part == part.name for other in every)
        said = _pot_said(solved, branch, ohms, legs)
    shown = NetworkBranch(part.kind, part.name, (lugs[0], lugs[1]), branch.ends, said, ohms)
    return _Item(shown, (branch,))


def _said(part: Part, ohms: float | None) -> str:
    """The value as one writes it beside the symbol, with the ohms that it has in sums."""
    value = f"{part.value}{' AC' if part.ac else ''}"
    if not part.legs or ohms == 0.0:
        return value
    hot = " hot" if part.cold_share < 1.0 and ohms is not None else ""
    return f"{value}, {'? Ω' if ohms is None else in_ohms(ohms)}{hot}"


def _pot_said(solved: Solved, branch: Branch, ohms: float | None, legs: int) -> str:
    share = solved.values[branch.share] if branch.share is not None else None
    at = "" if share is None else f" at {100.0 * float(share[0]):.3g} %"
    now = "" if ohms is None else f": {in_ohms(ohms)}"
    leg = f", {'wiper–cw' if branch.upper else 'ccw–wiper'}" if legs > 1 else ""
    return f"{in_ohms(solved.network.values[branch.value].nominal)} pot{at}{leg}{now}"


def _built_up(solved: Solved, part: Part, theirs: Sequence[Branch]) -> _Item:
    terminals = part.full_terminals
    ends = (solved.network.node(terminals[0]), solved.network.node(terminals[1]))
    if len(solved.network.of_part(part.name)) == 1:
        ohms = _ohms(solved, theirs[0])
        said = "value open" if ohms is None else in_ohms(ohms)
    else:
        ohms, said = part.ohms_end_to_end, pieces_said(part.pieces) if part.pieces else ""
    shown = NetworkBranch(part.kind, part.name, (terminals[0], terminals[1]), ends, said, ohms)
    return _Item(shown, tuple(theirs))


def _contacts(solved: Solved, contacts: Sequence[Branch]) -> Iterator[_Item]:
    """Closed contacts; two legs that meet at a bar nobody else uses are one contact."""
    nets = len(solved.network.nets.members)
    met = Counter(end for branch in contacts for end in branch.ends if end >= nets)
    waiting: dict[int, Branch] = {}
    for branch in contacts:
        inner = branch.ends[1]
        if inner < nets or met[inner] != 2:
            yield _contact(solved, branch.ends, branch)
        elif inner in waiting:
            first = waiting.pop(inner)
            yield _contact(solved, (first.ends[0], branch.ends[0]), first, branch)
        else:
            waiting[inner] = branch


def _contact(solved: Solved, ends: Ends, *legs: Branch) -> _Item:
    """One contact, by its lugs from the names of the values; of one leg of a star but one is."""
    names = [solved.network.values[leg.value].name.partition(" in ") for leg in legs]
    one, other = names[0][0], names[-1][0] if len(legs) > 1 else ""
    if len(legs) == 1 and not names[0][1]:
        one, _, other = one.partition("–")
    ohms = [_ohms(solved, leg) for leg in legs]
    whole = ohms[0] if len(legs) == 1 else sum(o for o in ohms if o is not None)
    return _Item(NetworkBranch("contact", legs[0].part, (one, other), ends, "", whole), legs)


def _drive(drive: Drive, ends: Ends, flowing: _Flowing) -> NetworkBranch:
    """A standing current as a branch; inside its source it runs from the second place."""
    turned = (ends[1], ends[0])
    said, places = with_unit(drive.amps, "A"), (drive.places[1], drive.places[0])
    volts = flowing.across(turned)
    return NetworkBranch("drive", "", places, turned, said, None, drive.amps, volts)


def _entering(
    network: DcNetwork,
    branches: Sequence[NetworkBranch],
    drives: Sequence[NetworkBranch],
    ends: Ends,
) -> float | None:
    """Current of the drive: what leaves the places that contacts join to its first."""
    joiner = Joiner(network.count)
    for branch in branches:
        if branch.amps is None or not branch.ohms:
            joiner.join(branch.ends)
    root, total = joiner.root(ends[0]), 0.0
    if root == joiner.root(ends[1]) or all(branch.amps is None for branch in branches):
        return None
    for branch in (*branches, *drives):
        from_here, to_here = (joiner.root(end) == root for end in branch.ends)
        if from_here != to_here:
            total += (branch.amps or 0.0) * (1.0 if from_here else -1.0)
    return total


def _node(network: DcNetwork, node: int) -> NetworkNode:
    members = network.nets.members[node] if node < len(network.nets.members) else ()
    points = [network.spec.points[name] for name in members if name in network.spec.points]
    points.sort(key=lambda point: not point.chassis)
    chassis = any(point.chassis for point in points)
    return NetworkNode(f"net {node}", tuple(point.name for point in points), chassis)
