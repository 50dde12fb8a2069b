"""Ways: which links can lie between two places, by blocks of the graph of links.

A way visits no place twice. A link lies on some way between two places just
when it belongs to one of the blocks (largest parts that no single place cuts)
on the path between them in the tree of blocks and cut places (J. Hopcroft and
R. Tarjan, "Algorithm 447: efficient algorithms for graph manipulation", Comm.
ACM 16(6), 1973). So a question about two places needs no other link.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import networkx as nx

from rewire.circuit.contacts import Link


@dataclass(frozen=True, slots=True)
class Leg:
    """One block on the path between two places, with the places it is entered and left at."""

    block: int
    enter: int
    leave: int


@dataclass(slots=True)
class Ways:
    """The tree of blocks and cut places over some links; built once, near-linear."""

    links: Sequence[Link]
    in_block: list[list[Link]] = field(init=False)
    """Links of each block."""
    places_in: list[list[int]] = field(init=False)
    """Places of each block, rising."""
    blocks_at: dict[int, list[int]] = field(init=False)
    """Blocks that meet at a place."""
    _block_of: dict[tuple[int, int], int] = field(init=False)
    _above_block: list[int] = field(init=False)
    _above_place: dict[int, int] = field(init=False, default_factory=dict)
    _depth: dict[int, int] = field(init=False, default_factory=dict)
    _root: dict[int, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        graph: nx.Graph[int] = nx.Graph()
        for link in self.links:
            graph.add_edges_from(_ring(link.places))
        self._block_of = {}
        self.places_in = []
        for number, edges in enumerate(nx.biconnected_component_edges(graph)):
            self._block_of.update(((min(e), max(e)), number) for e in edges)
            self.places_in.append(sorted({place for e in edges for place in e}))
        self.in_block = [[] for _ in self.places_in]
        for link in self.links:
            self.in_block[self.block_of(link)].append(link)
        self.blocks_at = {}
        for block, places in enumerate(self.places_in):
            for place in places:
                self.blocks_at.setdefault(place, []).append(block)
        self._hang()

    def _hang(self) -> None:
        """Hang each tree from its lowest place, breadth first."""
        self._above_block = [-1] * len(self.places_in)
        for root in sorted(self.blocks_at):
            if root in self._depth:
                continue
            self._depth[root], self._root[root] = 0, root
            waiting = deque([root])
            while waiting:
                place = waiting.popleft()
                for block in self.blocks_at[place]:
                    if self._above_block[block] == -1:
                        self._above_block[block] = place
                        waiting.extend(self._hang_block(block, place, root))

    def _hang_block(self, block: int, above: int, root: int) -> Iterator[int]:
        for place in self.places_in[block]:
            if place not in self._depth:
                self._depth[place] = self._depth[above] + 1
                self._above_place[place] = block
                self._root[place] = root
                yield place

    def block_of(self, link: Link) -> int:
        """The block a link belongs to."""
        a, b = link.places[:2]
        return self._block_of[min(a, b), max(a, b)]

    def linked(self, a: int, b: int) -> bool:
        """Whether there is any way at all."""
        return a == b or (a in self._root and self._root.get(b) == self._root[a])

    def legs(self, a: int, b: int) -> tuple[Leg, ...]:
        """The blocks between two places that are linked; as many steps as there are blocks."""
        if a == b:
            return ()
        front: list[Leg] = []
        back: list[Leg] = []
        while a != b:
            above_a, above_b = self._above_place.get(a, -1), self._above_place.get(b, -1)
            if above_a == above_b:
                front.append(Leg(above_a, a, b))
                break
            if self._depth[a] >= self._depth[b]:
                front.append(Leg(above_a, a, self._above_block[above_a]))
                a = front[-1].leave
            else:
                back.append(Leg(above_b, self._above_block[above_b], b))
                b = back[-1].enter
        return (*front, *reversed(back))

    def blocks_between(self, places: Iterable[int]) -> set[int]:
        """Blocks on any way between any two of ``places``."""
        trees: dict[int, list[int]] = {}
        for place in dict.fromkeys(places):
            if place in self._root:
                trees.setdefault(self._root[place], []).append(place)
        return {
            leg.block
            for first, *rest in trees.values()
            for other in rest
            for leg in self.legs(first, other)
        }

    def between(self, places: Iterable[int]) -> list[Link]:
        """Links on any way between any two of ``places``."""
        blocks = sorted(self.blocks_between(places))
        return [link for block in blocks for link in self.in_block[block]]


def _ring(places: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Edges whose blocks are those of all pairs of ``places``: a ring needs fewer."""
    if len(places) == 2:
        yield places[0], places[1]
        return
    yield from zip(places, (*places[1:], places[0]), strict=True)
