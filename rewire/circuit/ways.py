"""Ways: which links can lie between two places, by blocks of the graph of links.

A way visits no place twice. A link lies on some way between two places just
when it belongs to one of the blocks (largest parts that no single place cuts)
on the path between them in the tree of blocks and cut places (J. Hopcroft and
R. Tarjan, "Algorithm 447: efficient algorithms for graph manipulation", Comm.
ACM 16(6), 1973). So a question about two places needs no other link.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, field

from rewire.circuit.contacts import Link

Edge = tuple[int, int]
"""Two places, the lower first."""


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
    _block_of: dict[Edge, int] = field(init=False)
    _above_block: list[int] = field(init=False)
    _above_place: dict[int, int] = field(init=False, default_factory=dict)
    _depth: dict[int, int] = field(init=False, default_factory=dict)
    _root: dict[int, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        edges = dict.fromkeys(edge for link in self.links for edge in _ring(link.places))
        self._block_of = blocks_of(edges)
        members: list[set[int]] = [
            set() for _ in range(max(self._block_of.values(), default=-1) + 1)
        ]
        for edge, block in self._block_of.items():
            members[block].update(edge)
        self.places_in = [sorted(places) for places in members]
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

    def top_of(self, place: int, walls: Set[int]) -> int:
        """The highest place in the tree that ways around some blocks lead to.

        Two places have the same one just when a way without these blocks links them.
        """
        while (above := self._above_place.get(place, -1)) != -1 and above not in walls:
            place = self._above_block[above]
        return place

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


def blocks_of(edges: Iterable[Edge]) -> dict[Edge, int]:
    """Number of the block that each edge belongs to; linear in the edges.

    An edge closes a block when nothing below it leads back above its upper
    end. Works without recursion, so a long chain is no danger.

    >>> blocks_of([(0, 1), (1, 2), (0, 2), (2, 3)])
    {(2, 3): 0, (0, 2): 1, (1, 2): 1, (0, 1): 1}
    """
    beside: dict[int, list[int]] = {}
    for a, b in edges:
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    found: dict[Edge, int] = {}
    order: dict[int, int] = {}
    low: dict[int, int] = {}
    blocks = 0
    for root in beside:
        if root in order:
            continue
        order[root] = low[root] = len(order)
        pending: list[Edge] = []
        trail = [(root, root, iter(beside[root]))]
        while trail:
            above, place, others = trail[-1]
            for other in others:
                if other not in order:
                    order[other] = low[other] = len(order)
                    pending.append((place, other))
                    trail.append((place, other, iter(beside[other])))
                    break
                if other != above and order[other] < order[place]:
                    pending.append((place, other))
                    low[place] = min(low[place], order[other])
            else:
                trail.pop()
                if place == root:
                    continue
                low[above] = min(low[above], low[place])
                if low[place] >= order[above]:
                    _close(pending, (above, place), blocks, found)
                    blocks += 1
    return found


def _close(pending: list[Edge], last: Edge, block: int, found: dict[Edge, int]) -> None:
    """Number all pending edges down to ``last`` as one block."""
    edge = None
    while edge != last:
        edge = pending.pop()
        found[min(edge), max(edge)] = block


def _ring(places: Sequence[int]) -> Iterator[Edge]:
    """Edges whose blocks are those of all pairs of ``places``: a ring needs fewer."""
    last = len(places) - 1
    for number in range(1 if last == 1 else last + 1):
        a, b = places[number], places[number + 1 if number < last else 0]
        yield (a, b) if a < b else (b, a)
