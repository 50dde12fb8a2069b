"""The network of a reading as it is drawn: what carries it, and what flows there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from rewire.circuit.dc import Ends
from rewire.circuit.graph import Joiner
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Drive, Reading
from rewire.values import readings
from rewire.values.dc_network import NO_VALUE, Branch, DcNetwork, Routes, State, filled
from rewire.values.meter_circuit import Currents, Solved, flow_of
from rewire.values.readings import Nominal
from rewire.words.quantity import in_ohms, pieces_said, with_unit


@dataclass(frozen=True, slots=True)
class NetworkNode:
    """A net where branches meet, by its name in every picture, and its points."""

    net: str
    points: tuple[str, ...]
    chassis: bool


@dataclass(frozen=True, slots=True)
class NetworkBranch:
    """A part, a leg of a pot, a closed contact, or the drive of a standing current.

    ``terminals`` are empty inside a part. ``amps`` flow from the first end to the second, None
    where they are not known, or where contacts side by side share as they please.
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

    ``amps`` and ``volts`` are those of the drive, ``apart`` standing currents on another path;
    ``why`` says what is not known. ``branches`` is empty where nothing carries it.
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


def network_of(solved: Solved, name: str) -> Network:
    """The network of one reading of a wiring."""
    ready, network = solved.setups.get(name), solved.network
    reading = network.wiring.readings[name]
    pairs = network.pairs(reading)
    if ready is None or pairs is None:
        controls, why = (
            solved.spec.controls,
            readings.NEVER_TAKEN if ready is None else ready.circuit.why,
        )
        fixed = {n: at[0] for n, at in reading.when.items() if n in controls and len(at) == 1}
        return Network(network.wiring.name, reading, fixed, (), 0, 0, (), None, why=why)
    loose, circuit = readings.disagreeing(solved, ready), ready.circuit
    found = readings.nominal_of(solved, ready)
    if loose:
        found = Nominal(None, None, readings.depends_on(loose))
    unsolved = loose or circuit.why == readings.NOT_A_SUM
    flow = Currents() if unsolved else flow_of(circuit, solved.values)
    carrying, taken = selected(network, reading, ready.meter, ready.states[0])
    branches = [_with_flow(symbol, flow) for symbol in _symbols(solved, carrying)]
    seen = {pairs[1 + n] for n in taken if len({*pairs[1 + n]}) == 2}
    standing = list(zip(reading.also, pairs[1:], strict=True))
    own = flow.amps if branches and circuit.felt else None
    branches += [_drive(drive, pair, flow.volts) for drive, pair in standing if pair in seen]
    nodes = [*pairs[0], *(end for n in taken for end in pairs[1 + n])]
    nodes = list(dict.fromkeys([*nodes, *(end for b in branches for end in b.ends)]))
    number = {node: n for n, node in enumerate(nodes)}
    share = None if found.amps is None else found.amps / (ready.full_scale or inf)
    return Network(
        wiring=network.wiring.name,
        reading=reading,
        state=network.fixed(reading, ready.states[0]),
        nodes=tuple(_node(network, node) for node in nodes),
        entry=number[pairs[0][0]],
        exit=number[pairs[0][1]],
        branches=tuple(replace(b, ends=(number[b.ends[0]], number[b.ends[1]])) for b in branches),
        meter=ready.meter_name,
        amps=reading.full_scale if reading.quantity == "current" and not loose else own,
        volts=_across(flow.volts, pairs[0]) if circuit.felt else None,
        meter_amps=found.amps,
        deflection=share if ready.full_scale else None,
        insertion_ohms=found.insertion,
        apart=tuple(drive for drive, pair in standing if pair not in seen),
        why=found.why,
    )


def selected(
    network: DcNetwork, reading: Reading, meter: Meter | None, state: State
) -> tuple[list[Branch], tuple[int, ...]]:
    """Branches that carry a reading, and the numbers of its standing currents in them.

    Left out: what closed contacts bridge (no current flows in it), and what hangs on the rest by
    one end; not the meter and what lies beside it. What a DC sum takes as open (capacitors, diodes)
    is there beside the meter, or in the only path to it.
    """
    pairs = network.pairs(reading)
    if pairs is None or pairs[0][0] == pairs[0][1]:
        return [], ()
    closed = [branch for branch in network.branches if branch.closed(state)]
    contacts = [branch for branch in closed if branch.control is not None]
    bare = network.joined(b.ends for b in contacts if not network.values[b.value].nominal)
    if bare.joins(*pairs[0]):
        return Routes(contacts).between(pairs[:1]), ()
    kept = _unbridged(closed, bare, pairs)
    if meter and all(branch.part != meter.name for branch in Routes(kept).between(pairs)):
        kept = _unbridged([*closed, *network.blocked], bare, pairs)
    beside = _beside([*closed, *network.blocked], network, bare, meter)
    every = {id(branch) for branch in (*kept, *beside)}
    in_order = [b for b in (*network.branches, *network.blocked) if id(b) in every]
    return _sharing(Routes(in_order), pairs)


def _unbridged(closed: Sequence[Branch], bare: Joiner, pairs: Sequence[Ends]) -> list[Branch]:
    """All contacts, and what is on a path when all that contacts connect is taken as one node."""
    merged = [replace(b, ends=(bare.root(b.ends[0]), bare.root(b.ends[1]))) for b in closed]
    roots = [(bare.root(one), bare.root(other)) for one, other in pairs]
    routes = Routes(merged).between(pair for pair in roots if pair[0] != pair[1])
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


Symbol = tuple[NetworkBranch, tuple[Branch, ...]]
"""A branch of the picture, and those of the network that it stands for."""


def _across(volts: Mapping[int, float], ends: Ends) -> float | None:
    """Volts between two nodes; None where nothing is known of them."""
    one, other = (volts.get(end) for end in ends)
    return None if one is None or other is None else one - other


def _with_flow(symbol: Symbol, flow: Currents) -> NetworkBranch:
    """A symbol with what flows; pieces of a resistor together carry what their sum does."""
    shown, own = symbol
    of, across = flow.branches.get(own[0]), _across(flow.volts, shown.ends)
    amps = None if of is None else of.amps
    if len(own) > 1 and shown.kind != "contact":
        amps = across / shown.ohms if across is not None and shown.ohms else None
    if own[0].value == NO_VALUE and across is not None:
        amps = 0.0
    return replace(shown, amps=amps, volts=across)


def _symbols(solved: Solved, branches: Sequence[Branch]) -> Iterator[Symbol]:
    """Branches as symbols: a resistor is one whatever it is built of, then closed contacts."""
    of_part: dict[str, list[Branch]] = {}
    for branch in branches:
        if branch.control is None:
            of_part.setdefault(branch.part, []).append(branch)
    built = {name: own for name, own in of_part.items() if solved.network.parts[name].fixed_ohms}
    for branch in branches:
        if branch.control is None and branch.part not in built:
            yield _single(solved, branch, len(of_part[branch.part])), (branch,)
    for name, own in built.items():
        yield _built_up(solved, solved.network.parts[name], own[0]), tuple(own)
    yield from _contacts(solved, [branch for branch in branches if branch.control is not None])


def _ohms(solved: Solved, branch: Branch) -> float | None:
    known = branch.known(solved.values)
    return float(branch.ohms(filled(solved.values))[0]) if known else None


def _single(solved: Solved, branch: Branch, legs: int) -> NetworkBranch:
    """A part of one branch, or a leg of a pot, with the value that one writes beside it."""
    part, ohms = solved.network.parts[branch.part], _ohms(solved, branch)
    lugs, said = part.full_terminals, f"{part.value}{' AC' if part.ac else ''}"
    if branch.share is not None:
        lugs = lugs[1:] if branch.upper else lugs[:2]
        share = solved.values[branch.share]
        at = "" if share is None else f" at {100.0 * float(share[0]):.3g} %"
        now = "" if ohms is None else f": {in_ohms(ohms)}"
        leg = f", {'wiper–cw' if branch.upper else 'ccw–wiper'}" if legs > 1 else ""
        said = f"{in_ohms(solved.network.values[branch.value].nominal)} pot{at}{leg}{now}"
    elif part.legs and ohms != 0.0:
        hot = " hot" if part.cold_share < 1.0 and ohms is not None else ""
        said += f", {'? Ω' if ohms is None else in_ohms(ohms)}{hot}"
    return NetworkBranch(part.kind, part.name, (lugs[0], lugs[1]), branch.ends, said, ohms)


def _built_up(solved: Solved, part: Part, first: Branch) -> NetworkBranch:
    one, other = part.full_terminals
    ends = (solved.network.node(one), solved.network.node(other))
    ohms, said = part.ohms_end_to_end, pieces_said(part.pieces) if part.pieces else ""
    if len(solved.network.of_part(part.name)) == 1:
        ohms = _ohms(solved, first)
        said = "value open" if ohms is None else in_ohms(ohms)
    return NetworkBranch(part.kind, part.name, (one, other), ends, said, ohms)


def _contacts(solved: Solved, contacts: Sequence[Branch]) -> Iterator[Symbol]:
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


def _contact(solved: Solved, ends: Ends, *legs: Branch) -> Symbol:
    """One contact by its lugs; of one leg of a group that has more, one lug is known."""
    one, other = (*(lug for leg in legs for lug in leg.lugs), "")[:2]
    whole = sum(_ohms(solved, leg) or 0.0 for leg in legs)
    return NetworkBranch("contact", legs[0].part, (one, other), ends, "", whole), legs


def _drive(drive: Drive, ends: Ends, volts: Mapping[int, float]) -> NetworkBranch:
    """A standing current as a branch; inside its source it runs from the second point."""
    turned, places = (ends[1], ends[0]), (drive.places[1], drive.places[0])
    said, across = with_unit(drive.amps, "A"), _across(volts, turned)
    return NetworkBranch("drive", "", places, turned, said, None, drive.amps, across)


def _node(network: DcNetwork, node: int) -> NetworkNode:
    members = network.nets.members[node] if node < len(network.nets.members) else ()
    points = [network.spec.points[name] for name in members if name in network.spec.points]
    points.sort(key=lambda point: not point.chassis)
    chassis = any(point.chassis for point in points)
    return NetworkNode(f"net {node}", tuple(point.name for point in points), chassis)
