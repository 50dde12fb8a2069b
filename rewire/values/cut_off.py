"""Points that a contact feeds, and the moments in which it has cut them off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

import networkx as nx
import numpy as np

from rewire.circuit.dc import Array
from rewire.values.dc_network import Branch, DcNetwork, Values, filled
from rewire.values.sources import WorstMoment

_UNKNOWN_OHMS = 1e6
_FED_OHMS = 1000.0
"""Ohms of shunts, fuses and chokes, over which a point is still fed; common practice, no source."""
_CUT_TIMES = 10.0
"""Times its least ohms from which a point is no longer fed; common practice, no source."""


def cut_off(
    network: DcNetwork, values: Values, looks: Sequence[WorstMoment]
) -> list[tuple[int, WorstMoment]]:
    """Looks in which points have lost what feeds them, each alone and all together; of which look.

    A point is fed by one of its own sign that is as high or higher, over contacts and parts. It is
    cut off in a look in which the ohms of that way are over 1 kohm and ten times their least.
    """
    feeders = dict(_feeders(network))
    if not feeders:
        return []
    known, seen = filled(values, _UNKNOWN_OHMS), dict[tuple[int, ...], dict[str, float]]()
    closed = [tuple(n for n, b in enumerate(network.branches) if look.closes(b)) for look in looks]
    for numbers in dict.fromkeys(closed):
        graph = _ways(network, known, [network.branches[n] for n in numbers])
        seen[numbers] = {name: _ohms_to(graph, *nodes) for name, nodes in feeders.items()}
    most = {
        name: max(_FED_OHMS, _CUT_TIMES * min(there[name] for there in seen.values()))
        for name in feeders
    }
    found = list[tuple[int, WorstMoment]]()
    for number, look in enumerate(looks):
        ohms = seen[closed[number]]
        down = tuple(name for name in feeders if ohms[name] > most[name])
        sets = dict.fromkeys([*((name,) for name in down), down]) if down else {}
        found += [(number, replace(look, fallen=names)) for names in sets]
    return found


def _feeders(network: DcNetwork) -> Iterator[tuple[str, tuple[int, set[int]]]]:
    """Points that another may feed, each with its node and those of the others."""
    points = [point for point in network.spec.points.values() if point.volts and not point.chassis]
    for point in points:
        own = point.volts or 0.0
        others = (p for p in points if p is not point and p.ac == point.ac)
        above = {network.node(p.name) for p in others if p.most_volts / own >= 1.0}
        if above - {network.node(point.name)}:
            yield point.name, (network.node(point.name), above)


def _ways(network: DcNetwork, known: Sequence[Array], closed: Sequence[Branch]) -> nx.Graph[int]:
    """What current can take besides the chassis, with its ohms: parts, diodes, closed contacts.

    A value that cannot be fitted may come out below 0; it counts as 0 here.
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(network.count))
    for branch in closed:
        ohms = 0.0 if branch.control else max(float(np.max(branch.ohms(known))), 0.0)
        has = graph.get_edge_data(*branch.ends, {"ohms": inf})
        graph.add_edge(*branch.ends, ohms=min(ohms, has["ohms"]))
    passing = (b for b in network.blocked if network.parts[b.part].passes_dc)
    graph.add_edges_from((b.ends for b in passing), ohms=0.0)
    graph.remove_nodes_from([] if network.chassis is None else [network.chassis])
    return graph


def _ohms_to(graph: nx.Graph[int], node: int, sources: set[int]) -> float:
    """The least ohms in series between a node and any of some others."""
    if node not in graph:
        return 0.0
    found = nx.single_source_dijkstra_path_length(graph, node, weight="ohms")
    return min((ohms for other, ohms in found.items() if other in sources), default=inf)
