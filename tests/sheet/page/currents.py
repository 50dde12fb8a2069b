"""Which contacts carry a reading, by solving the whole circuit: a reference of its own.

Every closed contact is a billionth of an ohm, every part its ohms; a current is driven between
the reading's two places, and what carries less than a millionth of it carries nothing.
(Kirchhoff's laws as Laplace's equation on the graph; mpmath solves it to fifty digits.)
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping
from typing import Any

import mpmath
import networkx as nx

from tests.reference.circuit import Circuit, kind_of

CONTACT = 1e-9
LEAST = 1e-6
_PREFIX = {"k": 1e3, "M": 1e6, "u": 1e-6, "m": 1e-3, "": 1.0}


def ohms_of(part: Mapping[str, Any]) -> float | None:
    """Ohms of a meter or resistor as written in the shipped specs; None where none are."""
    written = part.get("resistance") if kind_of(part) == "meter" else part.get("resistor")
    if written in (None, "fit"):
        return None
    pieces = [re.fullmatch(r"([\d.]+) ([kM]?)ohm", p.strip()) for p in str(written).split("+")]
    return sum(float(p[1]) * _PREFIX[p[2]] for p in pieces if p is not None)


def solved(
    circuit: Circuit, state: Mapping[str, str], places: tuple[str, str]
) -> tuple[dict[frozenset[str], float], dict[str, float]]:
    """Share of the driven current in each closed contact, and through each part, ``+`` to ``-``."""
    edges: list[tuple[int, int, float, Any]] = []
    for section in circuit.sections:
        for group in section.closed[state[section.control]]:
            for one, other in itertools.pairwise(sorted(group)):
                nets = circuit.numbers((one, other))
                edges.append((*nets, CONTACT, frozenset((one, other))))
    for name, part in circuit.parts.items():
        if kind_of(part) in ("meter", "resistor"):
            one, other = circuit.numbers(circuit.terminals[name])
            edges.append((one, other, ohms_of(part) or 100.0, name))
        elif kind_of(part) == "pot":
            ccw, wiper, cw = circuit.numbers(circuit.terminals[name])
            edges += [(ccw, wiper, 80.0, name), (wiper, cw, 120.0, name)]
    return _flows(edges, circuit.numbers(places))


def _flows(edges: list[tuple[int, int, float, Any]], ends: list[int]) -> tuple[Any, Any]:
    graph = nx.Graph([(one, other) for one, other, _, _ in edges])
    nodes = sorted(nx.node_connected_component(graph, ends[0]) - {ends[1]})
    at = {node: n for n, node in enumerate(nodes)}
    with mpmath.workdps(50):
        laplacian, driven = mpmath.zeros(len(nodes)), mpmath.zeros(len(nodes), 1)
        driven[at[ends[0]]] = 1
        for one, other, ohms, _ in edges:
            for here, there in ((one, other), (other, one)):
                if here in at and one != other:
                    laplacian[at[here], at[here]] += 1 / mpmath.mpf(ohms)
                    if there in at:
                        laplacian[at[here], at[there]] -= 1 / mpmath.mpf(ohms)
        solution = mpmath.lu_solve(laplacian, driven)
        volts = {node: solution[n] for node, n in at.items()}
        flows = [
            (name, float((volts.get(one, 0) - volts.get(other, 0)) / ohms))
            for one, other, ohms, name in edges
        ]
    contacts = {name: flow for name, flow in flows if isinstance(name, frozenset)}
    return contacts, {name: flow for name, flow in flows if isinstance(name, str)}
