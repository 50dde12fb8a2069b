"""Readings that cannot all be right, whatever the wiring is.

Resistance between places is a distance: from A to C it is at most that from A to B and on
from B to C (D. J. Klein and M. Randic, "Resistance distance", J. Math. Chem. 12, 1993; from
memory). So a reading is out of place where others lead from one of its places to the other
through less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import networkx as nx

from rewire.bench.buzz.noticing import BEEPS, LEADS, LEAKS, METER
from rewire.bench.buzz.rank import Found


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A reading, by number, and the others that it cannot stand beside."""

    reading: int
    others: tuple[int, ...]
    at_most: float
    """Ohms that the others leave for it."""


def contradictions(found: Sequence[Found]) -> Iterator[Contradiction]:
    """Readings that others make impossible, each told with the way that does."""
    for state in sorted({one.touch.state for one in found}):
        own = [n for n, one in enumerate(found) if one.touch.state == state]
        told: set[frozenset[int]] = set()
        for number in own:
            contradiction = _against(found, number, own)
            if contradiction is not None:
                together = frozenset((number, *contradiction.others))
                if together not in told:
                    told.add(together)
                    yield contradiction


def _against(found: Sequence[Found], number: int, own: Sequence[int]) -> Contradiction | None:
    least, _ = _range(found[number])
    if least <= 0.0:
        return None
    ways: nx.Graph[int] = nx.Graph()
    for other in own:
        most = _range(found[other])[1]
        if other != number and most < inf:
            one, two = found[other].touch.ends
            if not ways.has_edge(one, two) or ways.edges[one, two]["ohms"] > most:
                ways.add_edge(one, two, ohms=most, reading=other)
    one, two = found[number].touch.ends
    if one not in ways or two not in ways or not nx.has_path(ways, one, two):
        return None
    way = nx.dijkstra_path(ways, one, two, weight="ohms")
    edges = [ways.edges[a, b] for a, b in pairwise(way)]
    at_most = sum(edge["ohms"] for edge in edges)
    if least <= at_most:
        return None
    return Contradiction(number, tuple(edge["reading"] for edge in edges), at_most)


def _range(found: Found) -> tuple[float, float]:
    """Least and most ohms that may truly be there."""
    if found.told == "open" or (found.ohms or 0.0) >= LEAKS:
        return LEAKS, inf
    if found.told == "closed" or found.ohms is None:
        return 0.0, BEEPS
    off = LEADS + METER * found.ohms
    return found.ohms - off, found.ohms + off
