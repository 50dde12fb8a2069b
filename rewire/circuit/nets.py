"""Nets: what wires, net lists and ``between`` join, whatever the switches do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.records.spec import Spec, Strip, Switch, Wiring


class Joiner:
    """Disjoint sets over the numbers 0 … n-1, joined one pair at a time.

    Union with path halving (R. E. Tarjan and J. van Leeuwen, "Worst-case
    analysis of set union algorithms", J. ACM 31(2), 1984): near-linear in all.
    """

    __slots__ = ("_parent",)

    def __init__(self, count: int) -> None:
        self._parent = list(range(count))

    def copy(self) -> Joiner:
        """The same sets, to be joined further on their own."""
        other = Joiner(0)
        other._parent = self._parent.copy()
        return other

    def root(self, item: int) -> int:
        """The number that stands for the set ``item`` is in."""
        parent = self._parent
        while parent[item] != item:
            parent[item] = parent[parent[item]]
            item = parent[item]
        return item

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
class Nets:
    """The nets of one wiring.

    ``of`` gives every terminal and point its net's number; ``members`` lists
    each net's terminals in order of name.
    """

    wiring: str
    of: Mapping[str, int]
    members: tuple[tuple[str, ...], ...]


def terminals_of(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """All points and terminals that exist in a wiring."""
    yield from spec.points
    for part in spec.parts_of(wiring).values():
        yield from (part.terminal(lug) for lug in part.terminals)


def joints_of(spec: Spec, wiring: Wiring) -> Iterator[tuple[str, ...]]:
    """Every statement that joins terminals: ``between``, net lists, wires."""
    for part in spec.parts_of(wiring).values():
        if part.between is not None:
            yield part.terminal(part.terminals[0]), part.between[0]
            yield part.terminal(part.terminals[1]), part.between[1]
    yield from (net.members for net in wiring.nets)
    yield from (wire.ends for wire in wiring.wires)


def bare_lugs(spec: Spec, wiring: Wiring) -> frozenset[str]:
    """Lugs of switches and tags of strips with nothing soldered to them."""
    lugs = {
        part.terminal(lug)
        for part in spec.parts_of(wiring).values()
        if isinstance(part, Switch | Strip)
        for lug in part.terminals
    }
    return frozenset(lugs.difference(*joints_of(spec, wiring)))


def nets_of(spec: Spec, wiring: Wiring) -> Nets:
    """The nets of a wiring; near-linear in its terminals and joints."""
    names = list(terminals_of(spec, wiring))
    return gather(wiring.name, names, joints_of(spec, wiring))


def gather(wiring: str, names: Sequence[str], joints: Iterable[tuple[str, ...]]) -> Nets:
    """Join ``names`` as ``joints`` say.

    >>> gather("w", ["A", "B", "C"], [("C", "A")]).members
    (('A', 'C'), ('B',))
    """
    index = {name: number for number, name in enumerate(names)}
    joiner = Joiner(len(names))
    for joint in joints:
        joiner.join([index[name] for name in joint])
    numbers = joiner.numbered()
    members: list[list[str]] = [[] for _ in range(max(numbers, default=-1) + 1)]
    for name, number in zip(names, numbers, strict=True):
        members[number].append(name)
    return Nets(
        wiring=wiring,
        of=dict(zip(names, numbers, strict=True)),
        members=tuple(tuple(sorted(net)) for net in members),
    )
