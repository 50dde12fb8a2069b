"""Crowds: the pairs of places that a move of one control can tie at all, found together.

Exact answers cost a search over sections and states. Closing every contact of the controls that
stand still ties at least as much as any state of theirs does, so few pairs are left to be asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from rewire.circuit.contacts import Link
from rewire.circuit.nets import Joiner
from rewire.circuit.ways import Ways


@dataclass(slots=True)
class Crowd:
    """Places put in groups that the moves of one control may tie.

    Near-linear in the places asked about and the blocks that the control moves, for each position.
    """

    ways: Ways
    moved: Sequence[Link]
    """What the control moves."""
    places: Sequence[int]
    """The places asked about, rising."""
    _node_of: dict[int, int] = field(init=False, default_factory=dict)
    _still: Joiner = field(init=False)
    _labels: dict[tuple[int, ...], list[int]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        blocks = {self.ways.block_of(link) for link in self.moved}
        beside = {place for block in blocks for place in self.ways.places_in[block]}
        tops: dict[int, int] = {}
        for place in sorted(beside.union(self.places)):
            top = self.ways.top_of(place, blocks)
            self._node_of[place] = tops.setdefault(top, len(tops))
        self._still = Joiner(len(tops))
        own = set(map(id, self.moved))
        for block in blocks:
            for link in self.ways.in_block[block]:
                if id(link) not in own:
                    self._still.join(self._nodes(link.places))

    def held(self, before: int, after: int) -> Iterator[tuple[int, int]]:
        """Pairs that may be tied before a move and after it."""
        was, will = self._labels_at((before,)), self._labels_at((after,))
        yield from self._pairs(zip(was, will, strict=True))

    def met(self, before: int, after: int) -> Iterator[tuple[int, int]]:
        """Pairs that may be tied at some moment of a move."""
        yield from self._pairs(self._labels_at((before, after)))

    def _pairs(self, labels: Iterable[object]) -> Iterator[tuple[int, int]]:
        groups: dict[object, list[int]] = {}
        for place, label in zip(self.places, labels, strict=True):
            groups.setdefault(label, []).append(place)
        for group in groups.values():
            yield from combinations(group, 2)

    def _labels_at(self, positions: tuple[int, ...]) -> list[int]:
        labels = self._labels.get(positions)
        if labels is None:
            joiner = self._still.copy()
            for link in self.moved:
                closed = any(link.positions >> at & 1 for at in positions)
                if closed or positions in link.passed:
                    joiner.join(self._nodes(link.places))
            labels = [joiner.root(self._node_of[place]) for place in self.places]
            self._labels[positions] = labels
        return labels

    def _nodes(self, places: Sequence[int]) -> list[int]:
        return [self._node_of[place] for place in places]


PairsIn = Callable[[Crowd, int, int], Iterator[tuple[int, int]]]
"""``Crowd.held`` or ``Crowd.met``: the pairs that a move from one position to another is about."""
