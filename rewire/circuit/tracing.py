"""Paths through a wiring, terminal by terminal, as one would follow them with a finger."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Joiner, Link, by_first

if TYPE_CHECKING:
    from rewire.circuit.circuit import Joint

Closed = Mapping[str, int]
"""Per control the positions (a set of bits) whose contacts count as closed.
A control that is not named closes nothing."""
Came = dict[str, tuple[str, str | None] | None]


@dataclass(frozen=True, slots=True)
class Trace:
    """Terminals in order, and between each two of them what joins them."""

    terminals: tuple[str, ...]
    by: tuple[str | None, ...]

    def in_words(self) -> str:
        """``A – wire W3 – S1.A – S1.A2 – B``."""
        steps = zip((None, *self.by), self.terminals, strict=True)
        return " – ".join(word for word in chain(*steps) if word is not None)


class Web:
    """Joints by terminal, so that following a path costs no more than its own length."""

    def __init__(self, joints: Sequence[Joint]) -> None:
        self.joints = joints
        self._at = by_first((m, n) for n, joint in enumerate(joints) for m in joint.members)

    def shortest(
        self, start: Iterable[str], ends: Collection[str], closed: Closed, parts: Collection[str]
    ) -> Trace | None:
        """A trace with the fewest steps, and of these the first in order of names.

        ``parts`` are those that may be gone through. Each joint is gone through once, so the work
        grows with the joints and not with the pairs of their members.
        """
        came: Came = dict.fromkeys(sorted(start))
        return _first(self._layers(came, closed, parts), ends, came)

    def fewest_parts(
        self, start: Iterable[str], ends: Collection[str], closed: Closed, parts: Collection[str]
    ) -> Trace | None:
        """As ``shortest``, but a path through fewer parts comes first, however long."""
        came: Came = dict.fromkeys(sorted(start))
        return _first(self._levels(came, closed, parts), ends, came)

    def reached(
        self, start: Iterable[str], closed: Closed, parts: Collection[str] = ()
    ) -> set[str]:
        """All terminals connected to some others with the controls so, or linked over ``parts``."""
        return set(chain(*self._layers(dict.fromkeys(start), closed, parts)))

    def linking(
        self, groups: Sequence[Collection[str]], closed: Closed, parts: Collection[str]
    ) -> frozenset[str]:
        """Those of ``parts`` that lie on any path between two groups of terminals."""
        reached = sorted(self.reached(chain(*groups), closed, parts))
        place = {name: number for number, name in enumerate(reached)}
        numbers = dict.fromkeys(n for name in place for n in self._at.get(name, ()))
        near = [j for j in map(self.joints.__getitem__, numbers) if _open_to(j, closed, parts)]
        joiner = Joiner(len(place))
        for members in (*groups, *(joint.members for joint in near if joint.part is None)):
            joiner.join([place[name] for name in members])
        ends = tuple(dict.fromkeys(joiner.root(place[min(group)]) for group in groups))
        links = [Link(NO_SECTION, (), ends, ALWAYS)]
        for joint in near:
            places = tuple(dict.fromkeys(joiner.root(place[name]) for name in joint.members))
            links.append(Link(NO_SECTION, (joint.part,) if joint.part else (), places, ALWAYS))
        tree = BlockTree([link for link in links if len(link.places) > 1])
        return frozenset(name for link in tree.between(ends) for name in link.lugs)

    def _layers(
        self, came: Came, closed: Closed, parts: Collection[str]
    ) -> Iterator[Sequence[str]]:
        """Terminals by their steps from those of ``came``, which learns how each is reached."""
        layer, used = list(came), set[int]()
        while layer:
            yield layer
            layer = [m for name in layer for m in self._next(name, closed, parts, came, used)]

    def _levels(
        self, came: Came, closed: Closed, parts: Collection[str]
    ) -> Iterator[Sequence[str]]:
        """The same by the parts gone through on the way."""
        level, used = list(came), set[int]()
        while level:
            for name in level:
                level += self._next(name, closed, (), came, used)
            yield level
            level = [m for name in level for m in self._next(name, closed, parts, came, used)]

    def _next(
        self, name: str, closed: Closed, parts: Collection[str], came: Came, used: set[int]
    ) -> Iterator[str]:
        """Terminals one step on that nothing reached before, in order of name."""
        onward: dict[str, str | None] = {}
        for number in self._at.get(name, ()):
            joint = self.joints[number]
            if number not in used and _open_to(joint, closed, parts):
                used.add(number)
                for member in joint.members:
                    onward.setdefault(member, joint.by)
        for member in sorted(onward.keys() - came.keys()):
            came[member] = name, onward[member]
            yield member


def _open_to(joint: Joint, closed: Closed, parts: Collection[str]) -> bool:
    """Whether a path may go through a joint."""
    if joint.part is not None:
        return joint.part in parts
    if joint.control is None:
        return True
    at = closed.get(joint.control, 0)
    return bool(joint.positions & at) or any(move & at == move for move in joint.passed)


def _first(layers: Iterator[Sequence[str]], ends: Collection[str], came: Came) -> Trace | None:
    """The way back from the first end that is reached."""
    end = next((name for layer in layers for name in layer if name in ends), None)
    if end is None:
        return None
    terminals: list[str] = [end]
    by: list[str | None] = []
    while (step := came[terminals[-1]]) is not None:
        terminals.append(step[0])
        by.append(step[1])
    return Trace(tuple(reversed(terminals)), tuple(reversed(by)))
