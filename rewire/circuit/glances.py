"""Glances: quick bounds on what a move can tie, block by block.

Exact answers cost a search over sections and states. Most pairs are settled
by a bound: closing every contact of the controls that stand still ties at
least as much as any state of theirs does, opening them all ties at most as
much. A way is tied just when each of its legs is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from rewire.circuit.contacts import Contact, Link
from rewire.circuit.nets import Joiner
from rewire.circuit.ways import Leg, Ways


@dataclass(slots=True)
class Glances:
    """Bounds for the moves of one control over some ways; labels are kept per block."""

    ways: Ways
    contacts: Sequence[Contact]
    control: str
    _labels: dict[tuple[int, int, bool], dict[int, int]] = field(default_factory=dict)

    def may_be_tied(self, legs: Sequence[Leg], positions: int) -> bool:
        """Whether legs can be tied with contacts of any of ``positions`` (bits) closed."""
        return all(self._joined(leg, positions, most=True) for leg in legs)

    def must_be_tied(self, legs: Sequence[Leg], positions: int) -> bool:
        """Whether contacts closed in all of ``positions`` (bits) tie the legs by themselves."""
        return all(self._joined(leg, positions, most=False) for leg in legs)

    def may_let_go(self, legs: Sequence[Leg], before: int, after: int) -> bool:
        """Whether legs may be tied before and after a move and not in between."""
        return (
            self.may_be_tied(legs, 1 << before)
            and self.may_be_tied(legs, 1 << after)
            and not self.must_be_tied(legs, 1 << before | 1 << after)
        )

    def may_meet(self, legs: Sequence[Leg], before: int, after: int) -> bool:
        """Whether legs may be tied within a move and neither before nor after."""
        return (
            self.may_be_tied(legs, 1 << before | 1 << after)
            and not self.must_be_tied(legs, 1 << before)
            and not self.must_be_tied(legs, 1 << after)
        )

    def block_may_let_go(self, block: int, before: int, after: int) -> bool:
        """Whether any two places of a block may be tied before and after, not in between."""
        was = self._labels_of(block, 1 << before, most=True)
        will = self._labels_of(block, 1 << after, most=True)
        held = self._labels_of(block, 1 << before | 1 << after, most=False)
        labels: dict[tuple[int, int], object] = {}
        for place in was.keys() & will.keys():
            ends, between = (was[place], will[place]), held.get(place, ("loose", place))
            if labels.setdefault(ends, between) != between:
                return True
        return False

    def _joined(self, leg: Leg, positions: int, most: bool) -> bool:
        labels = self._labels_of(leg.block, positions, most)
        enter = labels.get(leg.enter)
        return enter is not None and enter == labels.get(leg.leave)

    def _labels_of(self, block: int, positions: int, most: bool) -> dict[int, int]:
        key = block, positions, most
        labels = self._labels.get(key)
        if labels is None:
            labels = self._labels[key] = self._label(*key)
        return labels

    def _label(self, block: int, positions: int, most: bool) -> dict[int, int]:
        labels: dict[int, int] = {}
        members: dict[int, list[int]] = {}
        for link in self.ways.in_block[block]:
            if self._counts(link, positions, most):
                _merge(labels, members, link.places)
        return labels

    def _counts(self, link: Link, positions: int, most: bool) -> bool:
        if self.contacts[link.contact].control != self.control:
            return most
        closed = link.positions & positions
        return bool(closed) if most else closed == positions


def _merge(labels: dict[int, int], members: dict[int, list[int]], places: Sequence[int]) -> None:
    """Give all ``places`` and what is labelled like them one label."""
    label = labels.setdefault(places[0], places[0])
    own = members.setdefault(label, [places[0]])
    for place in places[1:]:
        other = labels.get(place)
        if other == label:
            continue
        for moved in members.pop(other) if other is not None else [place]:
            labels[moved] = label
            own.append(moved)


@dataclass(slots=True)
class Crowd:
    """Places put in groups that the moves of one control may tie, all at a glance.

    As above: with every contact of the controls that stand still closed. Near-linear in the
    places asked about and the blocks that the control moves, for each position.
    """

    ways: Ways
    moved: Sequence[Link]
    """What the control moves."""
    places: Sequence[int]
    """The places asked about, rising."""
    _node_of: dict[int, int] = field(init=False, default_factory=dict)
    _still: Joiner = field(init=False)
    _labels: dict[int, list[int]] = field(init=False, default_factory=dict)

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
        was, will = self._labels_at(1 << before), self._labels_at(1 << after)
        yield from self._pairs(zip(was, will, strict=True))

    def met(self, before: int, after: int) -> Iterator[tuple[int, int]]:
        """Pairs that may be tied at some moment of a move."""
        yield from self._pairs(self._labels_at(1 << before | 1 << after))

    def _pairs(self, labels: Iterable[object]) -> Iterator[tuple[int, int]]:
        groups: dict[object, list[int]] = {}
        for place, label in zip(self.places, labels, strict=True):
            groups.setdefault(label, []).append(place)
        for group in groups.values():
            yield from combinations(group, 2)

    def _labels_at(self, positions: int) -> list[int]:
        labels = self._labels.get(positions)
        if labels is None:
            joiner = self._still.copy()
            for link in self.moved:
                if link.positions & positions:
                    joiner.join(self._nodes(link.places))
            labels = [joiner.root(self._node_of[place]) for place in self.places]
            self._labels[positions] = labels
        return labels

    def _nodes(self, places: Sequence[int]) -> list[int]:
        return [self._node_of[place] for place in places]


PairsIn = Callable[[Crowd, int, int], Iterator[tuple[int, int]]]
"""``Crowd.held`` or ``Crowd.met``: the pairs that a move from one position to another is about."""
