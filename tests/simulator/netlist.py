"""Plain circuits: resistors, current sources, at most one voltage source."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import networkx as nx

Ends = tuple[str, str]


class Joined:
    """Names put together into nodes; a node goes by the least of its names."""

    def __init__(self) -> None:
        self.parent: dict[str, str] = {}

    def __call__(self, name: str) -> str:
        while (up := self.parent.get(name, name)) != name:
            name = up
        return name

    def join(self, names: Iterable[str]) -> None:
        roots = sorted({self(name) for name in names})
        for root in roots[1:]:
            self.parent[root] = roots[0]

    def copy(self) -> "Joined":
        other = Joined()
        other.parent = dict(self.parent)
        return other


@dataclass(frozen=True)
class Source:
    """Volts from ``ends[1]`` up to ``ends[0]``, behind a resistance."""

    ends: Ends
    volts: Fraction
    ohms: Fraction = Fraction(0)


@dataclass(frozen=True)
class Circuit:
    """Resistors by name, none of zero ohms, and what drives current through them.

    ``currents`` enter at the first end and leave at the second.
    """

    resistors: dict[str, tuple[Ends, Fraction]]
    currents: Sequence[tuple[Ends, Fraction]] = ()
    source: Source | None = None
    silicon: Sequence[Ends] = field(default=())
    """Diodes, anode first, which the simulator alone knows."""

    def edges(self) -> list[Ends]:
        return [ends for ends, _ in self.resistors.values()] + (
            [self.source.ends] if self.source else []
        )

    def grounds(self) -> Joined:
        """Pieces that hang together; each is grounded at the node it goes by."""
        pieces = Joined()
        for ends in [*self.edges(), *self.silicon]:
            pieces.join(ends)
        return pieces


def on_ways(links: Mapping[str, Ends], pairs: Iterable[Ends]) -> set[str]:
    """Names of the links on some way between the two nodes of any pair, no node met twice."""
    graph = nx.Graph()
    graph.add_edges_from(ends for ends in links.values() if ends[0] != ends[1])
    found: set[str] = set()
    for pair in pairs:
        if pair[0] == pair[1]:
            continue
        closed = graph.copy()
        closed.add_edge(*pair)
        ring = next(c for c in nx.biconnected_components(closed) if set(pair) <= c)
        linked = graph.has_edge(*pair) or len(ring) > 2
        if linked:
            found |= {n for n, ends in links.items() if set(ends) <= ring and ends[0] != ends[1]}
    return found
