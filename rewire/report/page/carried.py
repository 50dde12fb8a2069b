"""What carries each reading, down to the single wire: the live path that the page lights.

The branches of a reading's circuit say which nets and contacts it takes. Inside a net it takes
the wires that lie on some way between two places where it enters or leaves; a wire that only
hangs on the net carries nothing of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.circuit.circuit import Contact, circuit_of
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.compare.turned import roles_between
from rewire.records.spec import Spec, Wiring
from rewire.report.page.numbers import when_numbers
from rewire.values.assemble import Worked
from rewire.values.board import Board, Branch
from rewire.values.network_select import selected
from rewire.values.readings import Setup

Data = dict[str, object]
MOST_STATES = 64
"""States of one reading whose paths are told apart; more are taken like the first."""


@dataclass(frozen=True, slots=True)
class Joints:
    """The terminals of a wiring as places, with everything that joins two of them."""

    terminals: Mapping[str, int]
    ways: BlockTree
    wires: Mapping[tuple[int, int], Sequence[int]]
    """Two terminals → numbers of the wires between them."""


def joints_in(spec: Spec, wiring: Wiring, terminals: Mapping[str, int]) -> Joints:
    """Wires, net lists and leads between numbered terminals."""
    links = [
        Link(NO_SECTION, (), tuple(dict.fromkeys(terminals[t] for t in joint)), ALWAYS)
        for joint in circuit_of(spec, wiring).soldered
    ]
    wires: dict[tuple[int, int], list[int]] = {}
    for number, wire in enumerate(wiring.wires):
        one, other = sorted(terminals[end] for end in wire.ends)
        wires.setdefault((one, other), []).append(number)
    return Joints(terminals, BlockTree([link for link in links if len(link.places) > 1]), wires)


def paths_data(spec: Spec, worked: Worked) -> list[Data]:
    """Every reading with the states it is taken in, and what carries it there."""
    board = worked.board
    terminals = {name: number for number, name in enumerate(board.nets.of)}
    joints = joints_in(spec, board.wiring, terminals)
    contacts = circuit_of(spec, board.wiring).contacts
    return [
        {
            "reading": name,
            "when": when_numbers(spec, setup.reading.when),
            "carried": list(_carried(board, setup, joints, contacts)),
        }
        for name, setup in worked.setups.items()
    ]


def _carried(
    board: Board, setup: Setup, joints: Joints, contacts: Sequence[Contact]
) -> Iterator[Data]:
    order = list(board.spec.controls)
    states = setup.states if len(setup.states) <= MOST_STATES else setup.states[:1]
    for state in states:
        branches, _ = selected(board, setup.reading, setup.meter, state)
        ports = set(_ports(board, setup, branches, contacts, state))
        known = [joints.terminals[name] for name in ports if name in joints.terminals]
        links = joints.ways.between(known)
        places = {frozenset(link.places) for link in links}
        pairs = {(min(p), max(p)) for p in places if len(p) == 2}
        yield {
            "at": sorted((order.index(name), at) for name, at in state.items()),
            "terminals": sorted({*known, *(place for link in links for place in link.places)}),
            "wires": sorted(n for pair in pairs for n in joints.wires.get(pair, ())),
            "contacts": sorted(set(_sections(board, branches))),
        }


def _sections(board: Board, branches: Sequence[Branch]) -> Iterator[tuple[int, int]]:
    """Sections with the nets that they take the reading from or to."""
    nets = range(len(board.nets.members))
    for branch in branches:
        if branch.control is not None:
            yield from ((branch.section, end) for end in branch.ends if end in nets)


def _ports(
    board: Board,
    setup: Setup,
    branches: Sequence[Branch],
    contacts: Sequence[Contact],
    state: Mapping[str, int],
) -> Iterator[str]:
    """Terminals at which the reading enters or leaves a net."""
    if not branches:
        return
    roles = roles_between(board.spec, board.wiring)
    yield from filter(None, map(roles.place, setup.reading.places))
    taken = set(_sections(board, branches))
    for section in {branch.section for branch in branches if branch.control is not None}:
        contact = contacts[section]
        for group in contact.section.groups[state[contact.control]]:
            yield from (
                f"{contact.switch}.{lug}" for lug in group if (section, contact.place[lug]) in taken
            )
    for branch in branches:
        part = board.parts[branch.part]
        if branch.control is None:
            lugs = (part.terminal(lug) for lug in part.terminals)
            yield from (lug for lug in lugs if board.node(lug) in branch.ends)
