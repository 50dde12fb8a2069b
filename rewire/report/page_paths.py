"""What the page's script knows of each wiring: nets, contacts, and what carries each reading."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from rewire.circuit.circuit import circuit_of
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.compare.roles import roles_between
from rewire.records.spec import Wiring
from rewire.report.packet import Packet
from rewire.values.dc_network import Branch
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.reading_network import selected

Data = dict[str, object]
_MOST_STATES = 64
"""States of one reading whose paths are told apart; more are taken like the first."""


def wiring_data(packet: Packet, wiring: Wiring) -> Data:
    """A wiring as numbers, ready to be written as JSON.

    Terminals and nets are counted; a contact has its control's number, and for each position the
    groups of lugs that it connects; a path says which of these carry a reading.
    """
    circuit, solved = circuit_of(packet.spec, wiring), packet.solved.get(wiring.name)
    order = list(packet.spec.controls)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    contacts = [
        {
            "control": order.index(contact.control),
            "closed": [
                [[number[f"{contact.switch}.{lug}"] for lug in group] for group in groups]
                for groups in contact.section.groups
            ],
        }
        for contact in circuit.contacts
    ]
    wires = [{"id": w.id, "ends": [number[end] for end in w.ends]} for w in wiring.wires]
    return {
        "name": wiring.name,
        "computed": solved is not None,
        "terminals": list(circuit.nets.of),
        "nets": list(circuit.nets.of.values()),
        "contacts": contacts,
        "wires": wires,
        "paths": list(_paths(solved)) if solved is not None else [],
    }


def _paths(solved: Solved) -> Iterator[Data]:
    """Every reading with the states it is taken in, and what carries it there."""
    spec, wiring = solved.network.spec, solved.network.wiring
    circuit = circuit_of(spec, wiring)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    joints = [tuple(dict.fromkeys(number[t] for t in joint)) for joint in circuit.soldered]
    ways = BlockTree([Link(NO_SECTION, (), joint, ALWAYS) for joint in joints if len(joint) > 1])
    for name, setup in solved.setups.items():
        states = setup.states if len(setup.states) <= _MOST_STATES else setup.states[:1]
        carried = [_carried(solved, setup, state, ways) for state in states]
        yield {"reading": name, "when": dict(setup.reading.when), "carried": carried}


def _carried(solved: Solved, setup: Setup, state: Mapping[str, int], ways: BlockTree) -> Data:
    """What carries a reading in one state, down to the single wire.

    The branches of its circuit say which nets and contacts it takes. Inside a net it takes the
    wires that lie on some way between two terminals where it enters or leaves; a wire that only
    hangs on the net carries nothing of it.
    """
    board = solved.network
    controls, number = board.spec.controls, {name: n for n, name in enumerate(board.nets.of)}
    branches, _ = selected(board, setup.reading, setup.meter, state)
    taken = _sections(solved, branches)
    ports = {number[t] for t in _ports(solved, setup, branches, state) if t in number}
    links = {frozenset(link.places) for link in ways.between(list(ports))}
    wires = (frozenset(number[end] for end in wire.ends) for wire in board.wiring.wires)
    return {
        "at": {name: controls[name].positions[at] for name, at in state.items()},
        "terminals": sorted(ports.union(*links)),
        "wires": [n for n, ends in enumerate(wires) if ends in links],
        "contacts": sorted(taken),
    }


def _sections(solved: Solved, branches: Iterable[Branch]) -> set[tuple[int, int]]:
    """Sections with the nets that they take the reading from or to."""
    nets = range(len(solved.network.nets.members))
    closed = (branch for branch in branches if branch.control is not None)
    return {(branch.section, end) for branch in closed for end in branch.ends if end in nets}


def _ports(
    solved: Solved, setup: Setup, branches: Sequence[Branch], state: Mapping[str, int]
) -> Iterator[str]:
    """Terminals at which the reading enters or leaves a net."""
    if not branches:
        return
    board, taken = solved.network, _sections(solved, branches)
    contacts = circuit_of(board.spec, board.wiring).contacts
    yield from filter(
        None, map(roles_between(board.spec, board.wiring).place, setup.reading.places)
    )
    for section in {section for section, _ in taken}:
        contact = contacts[section]
        lugs = (lug for group in contact.section.groups[state[contact.control]] for lug in group)
        yield from (
            f"{contact.switch}.{lug}" for lug in lugs if (section, contact.place[lug]) in taken
        )
    for branch in (branch for branch in branches if branch.control is None):
        part = board.parts[branch.part]
        ends = map(part.terminal, part.terminals)
        yield from (end for end in ends if board.node(end) in branch.ends)
