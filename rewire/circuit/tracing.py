"""Paths through a wiring, terminal by terminal, as one would follow them with a finger."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rewire.circuit.circuit import Joint
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Joiner, Link

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
        words = list(self.terminals[:1])
        for by, terminal in zip(self.by, self.terminals[1:], strict=True):
            words += [terminal] if by is None else [by, terminal]
        return " – ".join(words)


@dataclass(slots=True)
class Web:
    """Joints by terminal, so that following a path costs no more than its own length."""

    joints: Sequence[Joint]
    _at: dict[str, list[int]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        for number, joint in enumerate(self.joints):
            for member in joint.members:
                self._at.setdefault(member, []).append(number)

    def shortest(
        self,
        start: Iterable[str],
        is_end: Callable[[str], bool],
        closed: Closed,
        parts: Collection[str] = (),
    ) -> Trace | None:
        """A trace with the fewest steps, and of these the first in order of names.

        ``parts`` are those that may be gone through. Each joint is gone through once, so the work
        grows with the joints and not with the pairs of their members.
        """
        came: Came = dict.fromkeys(sorted(start))
        for layer in self._layers(came, closed, parts):
            ends = [name for name in layer if is_end(name)]
            if ends:
                return _trace_back(came, ends[0])
        return None

    def fewest_parts(
        self,
        start: Iterable[str],
        is_end: Callable[[str], bool],
        closed: Closed,
        parts: Collection[str],
    ) -> Trace | None:
        """As ``shortest``, but a path through fewer parts comes first, however long."""
        came: Came = dict.fromkeys(sorted(start))
        layer = list(came)
        used: set[int] = set()
        while layer:
            level = list(layer)
            while layer:
                layer = list(self._next_layer(layer, closed, (), came, used))
                level += layer
            ends = [name for name in level if is_end(name)]
            if ends:
                return _trace_back(came, ends[0])
            layer = list(self._next_layer(level, closed, parts, came, used))
        return None

    def reached(
        self, start: Iterable[str], closed: Closed, parts: Collection[str] = ()
    ) -> set[str]:
        """All terminals connected to some others with the controls so, or linked over ``parts``."""
        came: Came = dict.fromkeys(sorted(start))
        return {name for layer in self._layers(came, closed, parts) for name in layer}

    def linking(
        self, groups: Sequence[Collection[str]], closed: Closed, parts: Collection[str]
    ) -> frozenset[str]:
        """Those of ``parts`` that lie on any path between two groups of terminals."""
        place = {
            name: number
            for number, name in enumerate(
                sorted(self.reached((name for group in groups for name in group), closed, parts))
            )
        }
        joints = {n: self.joints[n] for name in place for n in self._at.get(name, ())}
        near = [joint for joint in joints.values() if _open_to(joint, closed, parts)]
        joiner = Joiner(len(place))
        for members in (*groups, *(joint.members for joint in near if joint.part is None)):
            joiner.join([place[name] for name in members])
        ends = tuple(dict.fromkeys(joiner.root(place[min(group)]) for group in groups))
        links = [Link(NO_SECTION, (), ends, ALWAYS)] if len(ends) > 1 else []
        for joint in near:
            places = tuple(dict.fromkeys(joiner.root(place[name]) for name in joint.members))
            if joint.part is not None and len(places) > 1:
                links.append(Link(NO_SECTION, (joint.part,), places, ALWAYS))
        return frozenset(name for link in BlockTree(links).between(ends) for name in link.lugs)

    def _layers(
        self, came: Came, closed: Closed, parts: Collection[str]
    ) -> Iterator[Sequence[str]]:
        """Terminals by their steps from those of ``came``, which learns how each is reached."""
        layer, used = list(came), set[int]()
        while layer:
            yield layer
            layer = list(self._next_layer(layer, closed, parts, came, used))

    def _next_layer(
        self,
        layer: Sequence[str],
        closed: Closed,
        parts: Collection[str],
        came: Came,
        used: set[int],
    ) -> Iterator[str]:
        """Terminals one step on, each from the first that reaches it, in order of its path."""
        for name in layer:
            onward: dict[str, str | None] = {}
            for number in self._at.get(name, ()):
                joint = self.joints[number]
                if number not in used and _open_to(joint, closed, parts):
                    used.add(number)
                    for member in joint.members:
                        onward.setdefault(member, joint.by)
            for member in sorted(onward):
                if member not in came:
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


def _trace_back(came: Came, end: str) -> Trace:
    terminals: list[str] = [end]
    by: list[str | None] = []
    step = came[end]
    while step is not None:
        terminals.append(step[0])
        by.append(step[1])
        step = came[step[0]]
    return Trace(tuple(reversed(terminals)), tuple(reversed(by)))
