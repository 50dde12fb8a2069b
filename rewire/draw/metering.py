"""Which contacts of a switch carry no part of the metering, and what they carry instead.

A closed contact carries metering if one of its nets leads to a meter: over other parts and over
closed contacts, but never on through a point of the equipment, for beyond a point begins the
equipment itself. The chassis leads nowhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import networkx as nx

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.records.part import Section
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch

_MOST_TOLD = 4
"""Throws of one pole that are listed; the wire list has them all."""


@dataclass(frozen=True, slots=True)
class _Closed:
    """A group of lugs that one section closes in one position, and their nets."""

    section: Section
    position: int
    lugs: tuple[str, ...]
    nets: frozenset[int]


def not_metering(spec: Spec, wiring: Wiring, switch: Switch) -> list[str]:
    """One sentence for each pole that somewhere connects two points no meter is in between.

    Nothing is said of a switch that has no part in metering at all.
    """
    circuit = circuit_of(spec, wiring)
    closed = _closed(circuit, switch)
    positions = spec.controls[switch.control].positions
    carried: dict[str, dict[str, list[str]]] = {}
    for one in _idle(circuit, switch, closed):
        said = _carried(circuit, switch, one, closed)
        pole = one.section.pole
        name = f"Pole {pole}" if pole is not None else f"Section {'–'.join(one.section.lugs)}"
        if said:
            carried.setdefault(name, {}).setdefault(said, []).append(positions[one.position])
    told = {
        name: [said if len(at) == len(positions) else f"{said} in {' and '.join(at)}"
               for said, at in ways.items()]
        for name, ways in carried.items()
    }  # fmt: skip
    return [f"{name} carries {_listed(ways)}: do not omit" for name, ways in told.items()]


def _listed(ways: Sequence[str]) -> str:
    """All of a few, the first of many."""
    if len(ways) > _MOST_TOLD:
        left = len(ways) - _MOST_TOLD + 1
        return f"{', '.join(ways[: _MOST_TOLD - 1])} and {left} more"
    return ", ".join(ways)


def _closed(circuit: Circuit, switch: Switch) -> list[_Closed]:
    return [
        _Closed(section, position, group, _nets(circuit, switch, group))
        for section in switch.sections
        for position, groups in enumerate(section.groups)
        for group in groups
    ]


def _nets(circuit: Circuit, switch: Switch, group: Sequence[str]) -> frozenset[int]:
    return frozenset(circuit.nets.of[switch.terminal(lug)] for lug in group)


def _idle(circuit: Circuit, switch: Switch, closed: Sequence[_Closed]) -> list[_Closed]:
    """Closed contacts from which no meter is reached in their position; none if that is all."""
    reach = {at: _metered(circuit, switch, at) for at in {one.position for one in closed}}
    idle = [one for one in closed if not one.nets & reach[one.position]]
    return idle if len(idle) < len(closed) else []


def _metered(circuit: Circuit, switch: Switch, position: int) -> set[int]:
    """Nets from which a meter is reached without passing through a point, the chassis left out.

    This switch stands at ``position``, any other anywhere.
    """
    spec, of = circuit.spec, circuit.nets.of
    points = {of[name] for name in spec.points}
    graph: nx.DiGraph[int] = nx.DiGraph()
    meters = [m.terminal(t) for m in spec.all_of(Meter, circuit.wiring).values()
              for t in m.terminals]  # fmt: skip
    graph.add_nodes_from(of[terminal] for terminal in meters)
    for group in _joined(circuit, switch, position):
        graph.add_edges_from((a, b) for a, b in permutations(group, 2) if a not in points)
    reach = {of[terminal] for terminal in meters}
    reach |= {net for terminal in meters for net in nx.descendants(graph, of[terminal])}
    return reach - {of[point.name] for point in spec.points.values() if point.chassis}


def _joined(circuit: Circuit, switch: Switch, position: int) -> Iterator[frozenset[int]]:
    """Nets that a part joins, or a contact."""
    for part in circuit.parts.values():
        if part.passes_dc:
            yield frozenset(circuit.nets.of[part.terminal(lug)] for lug in part.terminals)
    for other in circuit.switches:
        for section in other.sections:
            closed = section.groups if other is not switch else section.groups[position:][:1]
            yield from (_nets(circuit, other, group) for groups in closed for group in groups)


def _carried(circuit: Circuit, switch: Switch, one: _Closed, closed: Sequence[_Closed]) -> str:
    """``BIAS to GRID over jumper J1``: what a closed contact connects, by the plainest names.

    Where a jumper leads from it to another contact of the switch, that one's far end counts.
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(one.nets)
    for other in closed:
        if other.position == one.position and other.lugs != one.lugs:
            graph.add_edges_from(combinations(other.nets, 2))
    known: dict[str, None] = {}
    over: set[int] = set()
    for lug in one.lugs:
        passed: list[int] = []
        start = circuit.nets.of[switch.terminal(lug)]
        order = nx.bfs_edges(graph, start, sort_neighbors=sorted)
        for net in (start, *(net for _, net in order)):
            place = _place(circuit, switch, net)
            if place is not None:
                known[place] = None
                over.update(passed)
                break
            passed.append(net)
    jumpers = [w.id for w in circuit.wiring.wires
               if w.jumper and circuit.nets.of[w.ends[0]] in over]  # fmt: skip
    if len(known) < 2:
        return ""
    said = " to ".join(known)
    return f"{said} over jumper {' and '.join(jumpers)}" if jumpers else said


def _place(circuit: Circuit, switch: Switch, net: int) -> str | None:
    """A point, else a terminal of another part."""
    members, points = circuit.nets.members[net], circuit.spec.points
    parts = (m for m in members if m not in points and m.split(".")[0] != switch.name)
    return next((m for m in members if m in points), None) or next(parts, None)
