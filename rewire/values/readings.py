"""Readings: the circuit of each in a wiring, where its pointer stands, what the set sees of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

import numpy as np

from rewire.circuit.circuit import circuit_of
from rewire.circuit.dc import Array, Ends
from rewire.circuit.graph import BlockTree, Joiner, Link
from rewire.circuit.states import LimitReached, States
from rewire.compare.comparison import part_of
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.parts import Meter, Pot, Switch
from rewire.records.spec import Reading, Spec, Wiring
from rewire.values.dc_network import (
    NO_VALUE,
    Branch,
    DcNetwork,
    Driven,
    ReadingCircuit,
    Setup,
    Solved,
    State,
    Value,
    Values,
    answer,
)
from rewire.words.quantity import InSeries, Piece, Pieces, in_ohms, with_unit

WORN_CONTACT = 0.02
"""Ohm: the most a contact may have after endurance, MIL-DTL-18396E 3.5.4.10 (10 mΩ new)."""
MOST_STATES = 4096
"""Positions of controls that a reading leaves open and that are all looked at."""
NOT_A_SUM = (
    "a diode or capacitor lies in the only way to the meter: calibrate against a known source"
)
NO_PATH = "there is no path between its places"
_SAME = 1e-9
_TRIALS = 4
"""Sizes at which what is not known is tried."""


def dc_network_of(
    spec: Spec, wiring: Wiring, leads: Mapping[str, float] | None = None
) -> DcNetwork:
    """A wiring as branches; its nodes are its nets.

    Args:
        spec: the equipment.
        wiring: one of its wirings.
        leads: wires, by their ids, that are branches of so many ohms; the others join.
    """
    own = leads or {}
    bare = replace(wiring, wires=tuple(w for w in wiring.wires if w.id not in own))
    circuit = circuit_of(spec, bare if own else wiring)
    nets = circuit.nets
    network = DcNetwork(spec, wiring, nets, circuit.parts, len(nets.members))
    for part in network.parts.values():
        _add_part(network, part)
    for wire in wiring.wires:
        if wire.id in own:
            ends = network.node(wire.ends[0]), network.node(wire.ends[1])
            network.add_branch(wire.named, ends, own[wire.id])
    switches = spec.all_of(Switch, wiring)
    for link in circuit.links:
        contact = circuit.contacts[link.contact]
        nodes = [contact.place[lug] for lug in link.lugs]
        network.branches.extend(_contact(network, switches[contact.switch], link, nodes))
    return network


def bench_network(spec: Spec, wiring: Wiring) -> DcNetwork:
    """A wiring on which any one thing can fail: wires are branches, what blocks DC an open one."""
    network = dc_network_of(spec, wiring, {wire.id: 0.0 for wire in wiring.wires})
    blocked, network.blocked = network.blocked, []
    for branch in blocked:
        network.add_branch(branch.part, branch.ends, inf)
    return network


def _add_part(network: DcNetwork, part: Part) -> None:
    nodes = network.nodes_of(part)
    if part.open_in_sums:
        network.blocked.append(Branch(part.name, (nodes[0], nodes[1]), NO_VALUE))
    elif isinstance(part, Pot):
        _add_pot(network, part, nodes)
    elif part.pieces is not None:
        _add_pieces(network, part, part.pieces, (nodes[0], nodes[1]))
    else:
        for leg in part.legs:
            off = None if leg.tolerance_percent is None else leg.tolerance_percent / 100.0
            value = Value(part.name, part.name, leg.ohms, off, leg.most_ohms)
            network.branches.append(Branch(part.name, (nodes[0], nodes[1]), network.add(value)))


def _add_pieces(network: DcNetwork, part: Part, pieces: Pieces, ends: Ends) -> None:
    if isinstance(pieces, Piece):
        alone = pieces is part.pieces
        name = part.name if alone else f"{part.name} ({in_ohms(pieces.ohms)})"
        percent = part.legs[0].tolerance_percent
        off = None if percent is None else percent / 100.0
        value = network.add(Value(name, part.name, pieces.ohms, off))
        network.branches.append(Branch(part.name, ends, value))
    elif isinstance(pieces, InSeries):
        stops = [ends[0], *(network.new_node() for _ in pieces.items[1:]), ends[1]]
        for item, pair in zip(pieces.items, pairwise(stops), strict=True):
            _add_pieces(network, part, item, pair)
    else:
        for item in pieces.items:
            _add_pieces(network, part, item, ends)


def _add_pot(network: DcNetwork, part: Pot, nodes: Sequence[int]) -> None:
    ccw, wiper, cw = nodes
    off = None if part.tolerance_percent is None else part.tolerance_percent / 100.0
    whole = network.add(Value(part.name, part.name, part.ohms, off))
    at = None if part.setting_percent is None else part.setting_percent / 100.0
    share = network.add(Value(f"{part.name} setting", part.name, at, is_setting=True))
    network.branches.append(Branch(part.name, (ccw, wiper), whole, share))
    network.branches.append(Branch(part.name, (wiper, cw), whole, share, upper=True))


def _contact(
    network: DcNetwork, switch: Switch, link: Link, nodes: Sequence[int]
) -> Iterator[Branch]:
    """The branches of a closed group, each with a value of its own."""
    stated = switch.contact_resistance
    name = "–".join(switch.terminal(lug) for lug in link.lugs)
    legs = contact_legs(network, nodes)
    for lug, (ends, share) in zip(link.lugs, legs, strict=False):
        alone = len(legs) == 1
        lugs = tuple(map(switch.terminal, link.lugs if alone else [lug]))
        leg = name if alone else f"{lugs[0]} in {name}"
        worn = share * WORN_CONTACT if stated is None else None
        value = network.add(Value(leg, switch.name, share * (stated or 0.0), most=worn))
        yield Branch(
            switch.name, ends, value, control=switch.control, positions=link.positions,
            section=link.contact, contact=name, lugs=lugs,
        )  # fmt: skip


def contact_legs(network: DcNetwork, nodes: Sequence[int]) -> list[tuple[Ends, float]]:
    """A closed group: one branch for two lugs, else a star with half a contact per lug.

    Each with its two nodes and its share of a contact's ohms.
    """
    if len(nodes) == 2:
        return [((nodes[0], nodes[1]), 1.0)]
    centre = network.new_node()
    return [((node, centre), 0.5) for node in nodes]


@dataclass(frozen=True, slots=True)
class Routes:
    """The routes over some branches of a network."""

    branches: tuple[Branch, ...]
    ways: BlockTree

    @classmethod
    def over(cls, branches: Iterable[Branch]) -> Routes:
        """Routes over branches; those with both ends on one node link nothing."""
        kept = tuple(b for b in branches if b.ends[0] != b.ends[1])
        return cls(kept, BlockTree([Link(n, (), b.ends, 0) for n, b in enumerate(kept)]))

    def between(self, pairs: Iterable[Ends]) -> list[Branch]:
        """Branches on some route between the two nodes of any pair."""
        numbers = {link.contact for pair in pairs for link in self.ways.between(pair)}
        return [self.branches[number] for number in sorted(numbers)]

    def pass_through(self, pairs: Iterable[Ends], part: str | None) -> bool:
        """Whether a part is on some route between the two nodes of any pair."""
        return any(branch.part == part for branch in self.between(pairs))


def nodes_joined(network: DcNetwork, branches: Iterable[Branch]) -> Joiner:
    """Nodes that some branches join."""
    joiner = Joiner(network.count)
    for branch in branches:
        joiner.join(branch.ends)
    return joiner


def controls_between(network: DcNetwork, pairs: Iterable[Ends]) -> set[str]:
    """Controls with a contact on some route between the nodes of any pair."""
    on_routes = Routes.over([*network.branches, *network.blocked]).between(pairs)
    return {branch.control for branch in on_routes if branch.control is not None}


def meter_of(spec: Spec, wiring: Wiring, reading: Reading) -> Meter | None:
    """The meter that is read in a wiring: the original's, or the part in its role."""
    meters = spec.all_of(Meter, spec.original)
    name = reading.meter or (next(iter(meters)) if len(meters) == 1 else None)
    plays = roles_between(spec, wiring).seat.get(f"{name}.+")
    return spec.all_of(Meter, wiring).get(part_of(plays)) if plays else None


def reading_circuit(
    network: DcNetwork, reading: Reading, meter: str | None, state: State
) -> ReadingCircuit:
    """The circuit of a reading with the controls in ``state`` (those that can matter)."""
    pairs = network.pairs(reading)
    if pairs is None:
        return _without(reading, (0, 0), f"a place of it is missing in {network.wiring.name}")
    closed = [branch for branch in network.branches if branch.closed(state)]
    routes = Routes.over(closed)
    lost = next(standing_without_way(reading, pairs, routes.ways.linked), None)
    carrying = routes.between(pairs)
    diodes = _only_through_diodes(network, closed, pairs, meter, carrying)
    contacts = nodes_joined(network, (b for b in closed if b.control is not None))
    if contacts.root(pairs[0][0]) == contacts.root(pairs[0][1]):
        said, blind = "its two places are joined", reading.quantity == "voltage"
        without = replace(_without(reading, pairs[0], said, blind), tied=True)
    elif routes.ways.linked(*pairs[0]):
        whole = _carrying(network, reading, meter, pairs, carrying)
        whole = replace(whole, blind=True, why=NOT_A_SUM) if diodes and meter else whole
        return whole if lost is None else replace(whole, blind=True, why=lost)
    else:
        said, blind = NOT_A_SUM if diodes else NO_PATH, diodes or reading.quantity == "current"
        without = _without(reading, pairs[0], said, blind)
    if lost is not None:
        return replace(without, blind=True, why=lost)
    if without.blind or not reading.also:
        return without
    standing = [pairs[1], *pairs[1:]]  # its own drive, of no ampere, where the first of them flows
    still = _carrying(network, reading, meter, standing, routes.between(pairs[1:]))
    why = still.why if still.blind else without.why
    alone = replace(still, amps=0.0, volts=None, source_ohms=0.0, tied=without.tied)
    return replace(alone, why=why, felt=False)


def standing_without_way(
    reading: Reading, pairs: Sequence[Ends], linked: Callable[[int, int], bool]
) -> Iterator[str]:
    """The standing drives of a reading that find no way from their first place to their second."""
    for drive, pair in zip(reading.also, pairs[1:], strict=True):
        if not linked(*pair):
            one, other = drive.places
            amps = with_unit(drive.amps, "A")
            yield f"the standing current of {amps} from {one} to {other} has no way back"


def _without(reading: Reading, ends: Ends, why: str, blind: bool = True) -> ReadingCircuit:
    amps, volts = _drive(reading)
    return ReadingCircuit(0, (), ends, amps, volts, reading.source_resistance, blind=blind, why=why)


def _drive(reading: Reading) -> tuple[float | None, float | None]:
    """Ampere or volt of the drive at full scale."""
    return (reading.full_scale, None) if reading.quantity == "current" else (
        None, reading.full_scale
    )  # fmt: skip


def _only_through_diodes(
    network: DcNetwork,
    closed: Sequence[Branch],
    pairs: Sequence[Ends],
    meter: str | None,
    carrying: Sequence[Branch],
) -> bool:
    """Whether the meter is reached, but only through what a DC sum takes as open."""
    if meter is None or not network.blocked or any(b.part == meter for b in carrying):
        return False
    return Routes.over([*closed, *network.blocked]).pass_through(pairs, meter)


def _carrying(
    network: DcNetwork,
    reading: Reading,
    meter: str | None,
    pairs: Sequence[Ends],
    carrying: Sequence[Branch],
) -> ReadingCircuit:
    """The circuit that some branches are, with nodes of its own."""
    nodes = dict.fromkeys(n for ends in (*pairs, *(b.ends for b in carrying)) for n in ends)
    number = {node: i for i, node in enumerate(nodes)}
    branches = tuple(
        replace(branch, ends=(number[branch.ends[0]], number[branch.ends[1]]))
        for branch in carrying
    )
    at = next((i for i, b in enumerate(branches) if b.part == meter), None)
    why = f"{meter} is not in circuit" if at is None else None
    if meter is None:
        why = f"no part of {network.wiring.name} has the role of its meter"
    amps, volts = _drive(reading)
    (start, end), *standing = [(number[one], number[other]) for one, other in pairs]
    return ReadingCircuit(
        count=len(number),
        branches=branches,
        ends=(start, end),
        amps=amps,
        volts=volts,
        source_ohms=reading.source_resistance if volts is not None else 0.0,
        also=tuple(
            Driven(ends, drive.amps) for ends, drive in zip(standing, reading.also, strict=True)
        ),
        meter=at,
        blind=meter is None,
        why=why,
        nodes=tuple(number),
    )


def setup(network: DcNetwork, states: States, reading: Reading) -> Setup | None:
    """Find the circuits of a reading; None if it can never be taken (``never`` forbids it).

    Raises:
        LimitReached: more states than are looked at.
    """
    meter = meter_of(network.spec, network.wiring, reading)
    names = controls_between(network, network.pairs(reading) or []) | set(reading.when)
    frame = states.frame(names, f"reading {reading.name}")
    mask = states.possible(frame) & states.selected(frame, reading.when)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"reading {reading.name}: the positions its 'when' leaves open make "
            f"{mask.bit_count():,} states, more than {MOST_STATES:,}; fix more controls in 'when'"
        )
    found = [numbered(network, state) for state in frame.states(mask)]
    if not found:
        return None
    name = meter.name if meter else None
    circuits = tuple(reading_circuit(network, reading, name, state) for state in found)
    return Setup(reading, meter, tuple(found), circuits)


def numbered(network: DcNetwork, state: Mapping[str, str]) -> dict[str, int]:
    """A state with the numbers of its positions for their names."""
    controls = network.spec.controls
    return {name: controls[name].positions.index(at) for name, at in state.items()}


def shown_state(network: DcNetwork, reading: Reading, state: State) -> dict[str, str]:
    """Position of each control that a reading fixes."""
    controls, when = network.spec.controls, reading.when
    return {name: controls[name].positions[at] for name, at in state.items() if name in when}


@dataclass(frozen=True, slots=True)
class Nominal:
    """Nominal answer of one circuit: ampere through the meter and insertion resistance, ohm.

    None is unknown, ``why`` says why.
    """

    amps: float | None
    insertion: float | None
    why: str | None = None


def nominal(network: DcNetwork, circuit: ReadingCircuit, values: Values) -> Nominal:
    """What a circuit does with these values.

    A value that is not known is tried at several sizes: what it does not change is known.
    """
    without = np.inf if circuit.why == NO_PATH else None
    if circuit.tied:
        without = None if circuit.amps is None else 0.0
    if not circuit.branches:
        return Nominal(None if circuit.blind else 0.0, without, circuit.why)
    if not circuit.felt:
        return replace(nominal(network, replace(circuit, felt=True), values), insertion=without)
    found = answer(circuit, tried(network, values))
    amps, insertion = _settled(found.amps), _settled(found.insertion)
    if circuit.blind:
        return Nominal(None, insertion, circuit.why)
    if amps is None:
        unknown = (network.values[n].name for n in circuit.values if values[n] is None)
        named = ", ".join(dict.fromkeys(unknown))
        return Nominal(None, insertion, f"it depends on what is not known: {named}")
    if circuit.amps is not None:
        most = circuit.amps + sum(abs(drive.amps) for drive in circuit.also)
        amps = 0.0 if abs(amps) < 1e-14 * most else amps  # a shorted meter takes no current
    return Nominal(amps, insertion, circuit.why)


def tried(network: DcNetwork, values: Values) -> list[Array]:
    """Values with those that are not known at several sizes, if there are any.

    No two have the same sizes, nor the same sum: what several of them come to
    together is not known either.
    """
    return [
        value if value is not None else _sizes(n, network.values[n].is_setting)
        for n, value in enumerate(values)
    ]


def _sizes(number: int, is_setting: bool) -> Array:
    """Shares of a travel, or 10 ohm to 40 kohm, at random but always the same for a value."""
    at = np.random.default_rng(number).uniform(0.05, 0.95, _TRIALS)
    return at if is_setting else np.asarray(10.0 ** (1.0 + 3.6 * at))


def _settled(found: Array) -> float | None:
    """The one number that all samples agree on, if they do."""
    first = float(found[0])
    if not np.isfinite(found).all() or np.ptp(found) > _SAME * max(abs(first), 1e-300):
        return None
    return first


def disagreeing(solved: Solved, ready: Setup) -> tuple[str, ...]:
    """Controls that ``when`` leaves open and on which the reading depends."""
    if len(ready.circuits) == 1:
        return ()
    seen = {
        circuit: nominal(solved.network, circuit, solved.values)
        for circuit in dict.fromkeys(ready.circuits)
    }
    answers = [seen[circuit] for circuit in ready.circuits]
    if all(_alike(answers[0], one) for one in answers[1:]):
        return ()
    return tuple(_guilty(ready.states, answers)) or tuple(ready.states[0])


def _guilty(states: Sequence[State], answers: Sequence[Nominal]) -> Iterator[str]:
    """Controls that change the answer when they alone move."""
    for name in states[0]:
        groups: dict[tuple[tuple[str, int], ...], Nominal] = {}
        for state, one in zip(states, answers, strict=True):
            rest = tuple((other, at) for other, at in state.items() if other != name)
            if not _alike(groups.setdefault(rest, one), one):
                yield name
                break


def _alike(one: Nominal, other: Nominal) -> bool:
    return all(
        a == b or (a is not None and b is not None and abs(a - b) <= _SAME * max(abs(a), abs(b)))
        for a, b in ((one.amps, other.amps), (one.insertion, other.insertion))
    )
