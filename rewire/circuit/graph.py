"""The block tree of a graph of links: which links can lie on a path between two places.

A link lies on some path between two places just when it belongs to one of the blocks (largest
parts that no single place cuts) between them in the tree of blocks and cut places (J. Hopcroft
and R. Tarjan, "Algorithm 447: efficient algorithms for graph manipulation", Comm. ACM 16(6),
1973). networkx finds the same blocks two to six times slower and takes longer to import than a
check takes, so they are found here.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations, pairwise
from typing import TypeVar

First = TypeVar("First")
Second = TypeVar("Second")
Places = tuple[int, ...]
"""Nets, or nets merged, that are linked with each other."""
Ends = tuple[int, int]
"""The positions before and after a move of a control."""
Edge = tuple[int, int]
"""Two places, the lower first."""
ALWAYS = -1
"""All bits set: a set of positions that no control narrows."""
NO_SECTION = -1


class Joiner:
    """Disjoint sets over the numbers 0 … n-1, joined one pair at a time, near-linear in all.

    Union with path halving: R. E. Tarjan and J. van Leeuwen, "Worst-case analysis of set union
    algorithms", J. ACM 31(2), 1984.
    """

    __slots__ = ("_parent",)

    def __init__(self, count: int) -> None:
        self._parent = list(range(count))

    def __len__(self) -> int:
        return len(self._parent)

    def copy(self) -> Joiner:
        """The same sets, to be joined further on their own."""
        other = Joiner(0)
        other._parent = self._parent.copy()
        return other

    def root(self, item: int) -> int:
        """The least number of the set that ``item`` is in."""
        parent = self._parent
        while parent[item] != item:
            parent[item] = parent[parent[item]]
            item = parent[item]
        return item

    def joins(self, one: int, other: int) -> bool:
        """Whether two numbers are in one set."""
        return self.root(one) == self.root(other)

    def join(self, items: Sequence[int]) -> None:
        """Put all ``items`` into one set."""
        first = self.root(items[0]) if items else 0
        for item in items[1:]:
            other = self.root(item)
            if other < first:
                first, other = other, first
            self._parent[other] = first

    def numbered(self) -> list[int]:
        """Per item the number of its set, counted 0, 1, 2 … in order of first items."""
        numbers: dict[int, int] = {}
        return [numbers.setdefault(self.root(i), len(numbers)) for i in range(len(self._parent))]


@dataclass(frozen=True, slots=True)
class Link:
    """Lugs that one section closes on each other, or a part that links its terminals."""

    contact: int
    """Number of the contact; ``NO_SECTION`` for a part."""
    lugs: tuple[str, ...]
    places: Places
    """What the lugs are on: nets, or nets merged."""
    positions: int
    """The positions in which it is closed, as a set of bits; ``ALWAYS`` for a part."""
    passed: frozenset[Ends] = frozenset()
    """Moves that close it in passing, by their two positions."""
    control: str = ""
    """What moves it; empty for a part."""


@dataclass(slots=True)
class BlockTree:
    """Blocks and cut places over some links; near-linear in these."""

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
        members: list[set[int]] = [set() for _ in {*self._block_of.values()}]
        for edge, block in self._block_of.items():
            members[block].update(edge)
        self.places_in = [sorted(places) for places in members]
        self.in_block = [[] for _ in members]
        for link in self.links:
            self.in_block[self.block_of(link)].append(link)
        self.blocks_at = by_first((p, n) for n, places in enumerate(self.places_in) for p in places)
        self._hang()

    def _hang(self) -> None:
        """Root each tree at its lowest place, breadth first."""
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
                        for below in self.places_in[block]:
                            if below not in self._depth:
                                self._depth[below] = self._depth[place] + 1
                                self._above_place[below] = block
                                self._root[below] = root
                                waiting.append(below)

    def block_of(self, link: Link) -> int:
        """The block a link belongs to."""
        a, b = link.places[:2]
        return self._block_of[min(a, b), max(a, b)]

    def linked(self, a: int, b: int) -> bool:
        """Whether any path links two places."""
        return a == b or (a in self._root and self._root.get(b) == self._root[a])

    def top_of(self, place: int, walls: Set[int]) -> int:
        """The highest place in the tree that can be reached without some blocks.

        Two places have the same one just when a path around these blocks links them.
        """
        while (above := self._above_place.get(place, -1)) != -1 and above not in walls:
            place = self._above_block[above]
        return place

    def path(self, a: int, b: int) -> tuple[int, ...]:
        """The blocks between two linked places, in order."""
        front: list[int] = []
        back: list[int] = []
        while a != b:
            above_a, above_b = self._above_place.get(a, -1), self._above_place.get(b, -1)
            if above_a == above_b:
                front.append(above_a)
                break
            if self._depth[a] >= self._depth[b]:
                front.append(above_a)
                a = self._above_block[above_a]
            else:
                back.append(above_b)
                b = self._above_block[above_b]
        return (*front, *reversed(back))

    def blocks_between(self, places: Iterable[int]) -> set[int]:
        """Blocks on any path between any two of ``places``."""
        known = (place for place in dict.fromkeys(places) if place in self._root)
        trees = by_first((self._root[place], place) for place in known)
        pairs = ((first, other) for first, *rest in trees.values() for other in rest)
        return {block for pair in pairs for block in self.path(*pair)}

    def between(self, places: Iterable[int]) -> list[Link]:
        """Links on any path between any two of ``places``."""
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
                low[above] = min(low[above], low[place])
                if place != root and low[place] >= order[above]:
                    _close(pending, (above, place), found)
    return found


def _close(pending: list[Edge], last: Edge, found: dict[Edge, int]) -> None:
    """Number all pending edges down to ``last`` as one more block."""
    block = found[next(reversed(found))] + 1 if found else 0
    edge = None
    while edge != last:
        edge = pending.pop()
        found[min(edge), max(edge)] = block


def _ring(places: Sequence[int]) -> Iterator[Edge]:
    """Edges whose blocks are those of all pairs of ``places``: a ring needs fewer."""
    round_them = places if len(places) == 2 else (*places, places[0])
    return ((a, b) if a < b else (b, a) for a, b in pairwise(round_them))


_SHARED = -2
"""In place of a contact's number: of several contacts, or of one that closes all at once."""


class CandidatePairs:
    """The pairs of places that a move of one control can connect at all, found together.

    Closing every contact of the controls that stand still connects at least as much as any of
    their positions does, so few pairs are left for an exact search. Near-linear in the places
    and in the blocks that the control moves, for each position.
    """

    def __init__(
        self,
        tree: BlockTree,
        moved: Sequence[Link],
        places: Sequence[int],
        shorting: Callable[[int], bool],
    ) -> None:
        """Pairs of ``places`` (rising) that the links ``moved`` by the control may connect.

        ``shorting`` tells of a contact, by its number, whether it can close its old and its new
        contacts at once.
        """
        self.moved, self.places, self.shorting = moved, places, shorting
        blocks = {tree.block_of(link) for link in moved}
        beside = {place for block in blocks for place in tree.places_in[block]}
        tops: dict[int, int] = {}
        # Nodes are places, those that what stands still may connect taken as one.
        self._node_of = {
            place: tops.setdefault(tree.top_of(place, blocks), len(tops))
            for place in sorted(beside.union(places))
        }
        self._places_at = by_first((self._node_of[place], place) for place in places)
        own = set(map(id, moved))
        others = (k for block in blocks for k in tree.in_block[block] if id(k) not in own)
        # Over every node twice: as the old contacts reach it, and apart as the new ones do.
        self._twin, self._still = len(tops), Joiner(2 * len(tops))
        self._standing: set[int] = set()
        for link in others:
            self._still.join(self._nodes(link))
            self._standing.update(self._nodes(link))
        self._may_be, self._surely = cache(self._may_be_at), cache(self._surely_at)

    def _closed(self, position: int) -> list[Link]:
        return [link for link in self.moved if link.positions >> position & 1]

    def _nodes(self, link: Link) -> list[int]:
        return [self._node_of[place] for place in link.places]

    def held(self, before: int, after: int) -> Iterator[Edge]:
        """Pairs that may be connected before a move and after it."""
        was, will = self._may_be(before), self._may_be(after)
        places = self._touched(self._closed(before))
        yield from _alike(((was[place], will[place]), place) for place in places)

    def met(self, before: int, after: int) -> Iterator[Edge]:
        """Pairs that may be connected at a moment of a move and are not surely so at rest.

        Where nothing but a section that does not short is on a place, what its old contacts
        connect there never meets what its new ones do.
        """
        ends = 1 << before | 1 << after
        every = [k for k in self.moved if k.positions & ends or (before, after) in k.passed]
        own = self._of_one_section(every, before, after)
        joiner = self._still.copy()
        for link in every:
            at_new = not link.positions >> before & 1
            nodes = self._nodes(link)
            joiner.join([n + self._twin if at_new and n in own else n for n in nodes])
        seen = [
            (joiner.root(node), place)
            for place in self._touched(every)
            for here in [self._node_of[place]]
            for node in ((here, here + self._twin) if here in own else (here,))
        ]
        at_rest = [self._surely(position) for position in (before, after)]
        for one, other in dict.fromkeys(_alike(seen)):
            if not any(labels[one] == labels[other] for labels in at_rest):
                yield one, other

    def _of_one_section(self, every: Sequence[Link], before: int, after: int) -> set[int]:
        """Nodes with nothing but one section that lets go of all before it closes anything."""
        both = 1 << before | 1 << after
        holds_all = [k for k in every if k.positions & both == both or (before, after) in k.passed]
        holding = {link.contact for link in holds_all}
        owner = dict.fromkeys(self._standing, _SHARED)
        for link in every:
            holds = link.contact in holding or self.shorting(link.contact)
            number = _SHARED if holds else link.contact
            for node in self._nodes(link):
                owner[node] = number if owner.get(node, number) == number else _SHARED
        return {node for node, number in owner.items() if number != _SHARED}

    def _touched(self, links: Iterable[Link]) -> list[int]:
        """Places on which some links, or what stands still, may connect something."""
        nodes = self._standing.union(node for link in links for node in self._nodes(link))
        return sorted(place for node in nodes for place in self._places_at.get(node, ()))

    def _may_be_at(self, position: int) -> Mapping[int, int]:
        """Per place a number, the same for those that may be connected in a position."""
        joiner = self._still.copy()
        for link in self._closed(position):
            joiner.join(self._nodes(link))
        return {place: joiner.root(self._node_of[place]) for place in self.places}

    def _surely_at(self, position: int) -> Mapping[int, int]:
        """Per place a number, the same for those that are connected whatever else is closed."""
        numbers = {place: number for number, place in enumerate(self._node_of)}
        joiner = Joiner(len(numbers))
        for link in self._closed(position):
            joiner.join([numbers[place] for place in link.places])
        return {place: joiner.root(numbers[place]) for place in self.places}


def _alike(labelled: Iterable[tuple[object, int]]) -> Iterator[Edge]:
    """Pairs of places of the same label."""
    for group in by_first(labelled).values():
        yield from combinations(group, 2)


def by_first(pairs: Iterable[tuple[First, Second]]) -> dict[First, list[Second]]:
    """The second of each pair by the first."""
    found: dict[First, list[Second]] = {}
    for first, second in pairs:
        found.setdefault(first, []).append(second)
    return found


def bits(positions: int) -> Iterator[int]:
    """The numbers of the bits that are set."""
    while positions:
        lowest = positions & -positions
        yield lowest.bit_length() - 1
        positions ^= lowest


PairsIn = Callable[[CandidatePairs, int, int], Iterator[Edge]]
"""``CandidatePairs.held`` or ``CandidatePairs.met``, for a move from one position to another."""
