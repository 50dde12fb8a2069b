"""What the page's script looks up: contacts, nets and wires of each wiring, and its live paths.

Linear in the rig: what is joined is worked out in the page from the contacts, position by
position, so the product of all controls never stands in the file. Controls, positions, terminals,
sections and wires go by their numbers.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence

from rewire.circuit.circuit import circuit_of
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.compare.roles import roles_between
from rewire.compare.telling import Told, tellings
from rewire.records.spec import Spec, Wiring
from rewire.report.contents import about_finding
from rewire.report.packet import Packet
from rewire.values.assemble import Worked
from rewire.values.board import Branch
from rewire.values.network_select import selected
from rewire.values.readings import Setup

Data = dict[str, object]
_JOINERS = "\u200c\u200d"
"""Needed to write some languages; they turn nothing."""
_LONGEST = 6000
_MOST_STATES = 64
"""States of one reading whose paths are told apart; more are taken like the first."""


def page_data(packet: Packet) -> Data:
    """Controls, wirings and findings, ready to be written as JSON."""
    spec = packet.spec
    first = next(iter(packet.plans), packet.wirings[0])
    return {
        "digest": spec.digest,
        "controls": [
            {
                "name": seen(control.name),
                "positions": list(map(seen, control.positions)),
                "wraps": control.wraps,
            }
            for control in spec.controls.values()
        ],
        "never": [state_numbers(spec, item) for item in spec.never],
        "first": packet.wirings.index(first),
        "wirings": [_wiring(packet, wiring) for wiring in packet.wirings],
        "findings": dict(_findings(packet)),
    }


def seen(text: str, most: int = _LONGEST) -> str:
    r"""The text with characters that cannot be seen spelt out, and cut where it is endless.

    >>> seen("a\u202eb\tc")
    'a‹U+202E›b c'
    """
    shown = "".join(map(_shown_character, text[:most]))
    if len(text) <= most:
        return shown
    return (
        f"{shown}…"
        if most < _LONGEST
        else f"{shown} … ({len(text) - most} more characters in the spec)"
    )


def _shown_character(character: str) -> str:
    if character in "\t\n\r":
        return " "
    if character in _JOINERS or unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Cn"}:
        return character
    return f"‹U+{ord(character):04X}›"


def state_numbers(spec: Spec, state: Mapping[str, str]) -> list[tuple[int, int]]:
    """A state: pairs of a control's number and its position's."""
    order = list(spec.controls)
    return sorted(
        (order.index(name), spec.controls[name].positions.index(at)) for name, at in state.items()
    )


def when_numbers(spec: Spec, when: Mapping[str, Sequence[str]]) -> list[tuple[int, list[int]]]:
    """A condition: each control's number with those of the positions that fulfil it."""
    order = list(spec.controls)
    return [
        (order.index(name), [spec.controls[name].positions.index(at) for at in positions])
        for name, positions in when.items()
    ]


def _wiring(packet: Packet, wiring: Wiring) -> Data:
    circuit, worked = circuit_of(packet.spec, wiring), packet.worked.get(wiring.name)
    order = list(packet.spec.controls)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    contacts = [
        {
            "switch": contact.switch,
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
        "computed": worked is not None,
        "terminals": list(circuit.nets.of),
        "nets": list(circuit.nets.of.values()),
        "contacts": contacts,
        "wires": wires,
        "paths": list(_paths(worked)) if worked is not None else [],
    }


def _paths(worked: Worked) -> Iterator[Data]:
    """Every reading with the states it is taken in, and what carries it there."""
    spec, wiring = worked.board.spec, worked.board.wiring
    circuit = circuit_of(spec, wiring)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    joints = [tuple(dict.fromkeys(number[t] for t in joint)) for joint in circuit.soldered]
    ways = BlockTree([Link(NO_SECTION, (), joint, ALWAYS) for joint in joints if len(joint) > 1])
    for name, setup in worked.setups.items():
        states = setup.states if len(setup.states) <= _MOST_STATES else setup.states[:1]
        carried = [_carried(worked, setup, state, ways) for state in states]
        when = when_numbers(spec, setup.reading.when)
        yield {"reading": name, "when": when, "carried": carried}


def _carried(worked: Worked, setup: Setup, state: Mapping[str, int], ways: BlockTree) -> Data:
    """What carries a reading in one state, down to the single wire.

    The branches of its circuit say which nets and contacts it takes. Inside a net it takes the
    wires that lie on some way between two terminals where it enters or leaves; a wire that only
    hangs on the net carries nothing of it.
    """
    board = worked.board
    order, number = list(board.spec.controls), {name: n for n, name in enumerate(board.nets.of)}
    branches, _ = selected(board, setup.reading, setup.meter, state)
    taken = _sections(worked, branches)
    ports = {number[t] for t in _ports(worked, setup, branches, state) if t in number}
    links = {frozenset(link.places) for link in ways.between(list(ports))}
    wires = (frozenset(number[end] for end in wire.ends) for wire in board.wiring.wires)
    return {
        "at": sorted((order.index(name), at) for name, at in state.items()),
        "terminals": sorted(ports.union(*links)),
        "wires": [n for n, ends in enumerate(wires) if ends in links],
        "contacts": sorted(taken),
    }


def _sections(worked: Worked, branches: Iterable[Branch]) -> set[tuple[int, int]]:
    """Sections with the nets that they take the reading from or to."""
    nets = range(len(worked.board.nets.members))
    closed = (branch for branch in branches if branch.control is not None)
    return {(branch.section, end) for branch in closed for end in branch.ends if end in nets}


def _ports(
    worked: Worked, setup: Setup, branches: Sequence[Branch], state: Mapping[str, int]
) -> Iterator[str]:
    """Terminals at which the reading enters or leaves a net."""
    if not branches:
        return
    board, taken = worked.board, _sections(worked, branches)
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


def _findings(packet: Packet) -> Iterator[tuple[str, Data]]:
    """Where to look for each finding: a wiring, a state, and the terminals of each side."""
    for telling in tellings(packet.results):
        wiring = packet.spec.wirings[telling.result.wiring]
        for told in (*telling.wrong, *telling.meant, *telling.known):
            sides = list(filter(None, _sides(packet.spec, wiring, told)))
            if sides:
                first = told.first
                holds = (*first.states, *(step.before for step in first.steps))[:1]
                state = [
                    pair for one in holds for pair in state_numbers(packet.spec, one.as_dict())
                ]
                found: Data = {"wiring": wiring.name, "state": state, "sides": sides}
                yield about_finding(telling, told), found


def _sides(spec: Spec, wiring: Wiring, told: Told) -> Iterator[list[str]]:
    """Places and parts of the original as they are in this wiring, where it has them."""
    first, roles = told.first, roles_between(spec, wiring)
    groups = dict.fromkeys(group for finding in told.findings for group in finding.groups)
    named = filter(None, (*first.ends_at, first.place, first.part))
    parts, terminals = spec.parts_of(wiring), circuit_of(spec, wiring).nets.of
    for names in groups or [tuple(named)]:
        found: list[str] = []
        for own in filter(None, map(roles.place, names)):
            if own in terminals:
                found.append(own)
            elif own in parts:
                found += map(parts[own].terminal, parts[own].terminals)
        yield list(dict.fromkeys(found))
