"""Readings that cannot all be right, whatever the wiring is.

Resistance between places is a distance: from A to C it is at most that from A to B and on
from B to C (D. J. Klein and M. Randic, "Resistance distance", J. Math. Chem. 12, 1993; from
memory). So a reading is out of place where others lead from one of its places to the other
through less.
"""

from __future__ import annotations

import functools
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
        for contradiction in _in_state(found, own):
            together = frozenset((contradiction.reading, *contradiction.others))
            if together not in told:
                told.add(together)
                yield contradiction


def _in_state(found: Sequence[Found], own: Sequence[int]) -> Iterator[Contradiction]:
    """A reading never helps against itself: it leads through no less than it read."""
    ways = _ways(found, own)
    ohms_from = functools.cache(
        lambda place: nx.single_source_dijkstra_path_length(ways, place, weight="ohms")
    )
    for number in own:
        least, _ = _range(found[number])
        one, two = found[number].touch.ends
        if least <= 0.0 or one not in ways:
            continue
        at_most = ohms_from(one).get(two, inf)
        if at_most < least:
            way = nx.dijkstra_path(ways, one, two, weight="ohms")
            others = tuple(ways.edges[a, b]["reading"] for a, b in pairwise(way))
            yield Contradiction(number, others, at_most)


def _ways(found: Sequence[Found], own: Sequence[int]) -> nx.Graph[int]:
    """Places with the most ohms that a reading leaves between two of them."""
    ways: nx.Graph[int] = nx.Graph()
    for number in own:
        most = _range(found[number])[1]
        one, two = found[number].touch.ends
        if most < inf and (not ways.has_edge(one, two) or ways.edges[one, two]["ohms"] > most):
            ways.add_edge(one, two, ohms=most, reading=number)
    return ways


def _range(found: Found) -> tuple[float, float]:
    """Least and most ohms that may truly be there."""
    if found.told == "open" or (found.ohms or 0.0) >= LEAKS:
        return LEAKS, inf
    if found.told == "closed" or found.ohms is None:
        return 0.0, BEEPS
    off = LEADS + METER * found.ohms
    return found.ohms - off, found.ohms + off
