"""The DC solver. Imported only where ohms are asked for, because it loads numpy."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rewire.circuit.nets import Joiner

Resistance = tuple[int, int, float]
"""Two nodes and the ohms between them; 0 joins them, infinity is left out."""


def resistance_between(count: int, resistances: Sequence[Resistance], a: int, b: int) -> float:
    """Ohms between two nodes of a network of resistances.

    Args:
        count: number of nodes, numbered from 0.
        resistances: what links them, ohm; zero-ohm items join their nodes.
        a, b: the two nodes.

    Returns:
        Ohm; 0.0 if the nodes are one, infinity if nothing links them.

    Source: node equations G v = i with one ampere from a to b, G the
    conductance Laplacian with b as its reference (D. J. Klein and M. Randić,
    "Resistance distance", J. Math. Chem. 12, 1993, gives the same by the
    pseudo-inverse).
    """
    joiner = Joiner(count)
    for one, two, ohms in resistances:
        if ohms == 0.0:
            joiner.join((one, two))
    linked = Joiner(count)
    for one, two, ohms in resistances:
        if ohms != float("inf"):
            linked.join((one, two))
    source, sink = joiner.root(a), joiner.root(b)
    if source == sink:
        return 0.0
    if linked.root(a) != linked.root(b):
        return float("inf")
    inside = {joiner.root(n) for n in range(count) if linked.root(n) == linked.root(a)}
    row = {node: number for number, node in enumerate(sorted(inside - {sink}))}
    matrix = np.zeros((len(row), len(row)))
    for one, two, ohms in resistances:
        p, q = joiner.root(one), joiner.root(two)
        if p == q or p not in inside or ohms == float("inf"):
            continue
        for node, other in ((p, q), (q, p)):
            if node in row:
                matrix[row[node], row[node]] += 1.0 / ohms
                if other in row:
                    matrix[row[node], row[other]] -= 1.0 / ohms
    current = np.zeros(len(row))
    current[row[source]] = 1.0
    return float(np.linalg.solve(matrix, current)[row[source]])
