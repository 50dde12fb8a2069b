"""Which places closed contacts connect, in every state of a frame at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from operator import and_, attrgetter, or_
from typing import TYPE_CHECKING

from rewire.circuit.graph import Ends, Link, Places
from rewire.circuit.states import Frame, LimitReached

if TYPE_CHECKING:
    from rewire.circuit.circuit import Contact

Stands = tuple[tuple[Places, ...], ...]
"""Where a moving section may be, each by the groups that it closes there."""
Bond = tuple[Places, int]
"""Places that are linked, and the set of states in which they are."""
Beside = dict[int, list[Bond]]
"""Bonds by place."""
MOST_BRANCHES = 20_000
"""Combinations looked at for one pair in one step before the question is refused by name."""


def bonds_at_rest(links: Iterable[Link], frame: Frame) -> list[Bond]:
    """Links as bonds over a frame that has all their controls."""
    return [
        (link.places, frame.where(link.control, link.positions) if link.control else frame.full)
        for link in links
    ]


def controls_of(links: Iterable[Link]) -> set[str]:
    """Names of the controls that move any of the links."""
    return {link.control for link in links if link.control}


def beside(bonds: Iterable[Bond]) -> Beside:
    """Bonds by the places they link; those that are never closed are left out."""
    at: Beside = {}
    for bond in bonds:
        if bond[1]:
            for place in bond[0]:
                at.setdefault(place, []).append(bond)
    return at


def reach(bonds: Iterable[Bond], start: int, states: int) -> dict[int, int]:
    """For each place, the states (out of ``states``) in which it is connected to ``start``.

    Each place is visited again only while its set of states grows.

    >>> reach([((0, 1), 0b01), ((1, 2), 0b11)], 0, 0b11)
    {0: 3, 1: 1, 2: 1}
    """
    return spread(beside(bonds), start, states)


def spread(
    at: Beside, start: int, states: int, stops: Callable[[int], bool] | None = None
) -> dict[int, int]:
    """As ``reach``, over bonds listed by place; goes on from no place that ``stops``."""
    found = {start: states}
    waiting = [start]
    while waiting:
        place = waiting.pop()
        if stops is not None and place != start and stops(place):
            continue
        here = found[place]
        for places, closed in at.get(place, ()):
            through = here & closed
            if not through:
                continue
            for other in places:
                known = found.get(other, 0)
                if through & ~known:
                    found[other] = known | through
                    waiting.append(other)
    return found


def connected(bonds: Iterable[Bond], a: int, b: int, states: int) -> int:
    """States in which two places are connected."""
    return states if a == b else reach(bonds, a, states).get(b, 0)


def partitions(
    places: Sequence[int], bonds: Sequence[Bond], states: int
) -> list[tuple[tuple[int, ...], int]]:
    """How ``places`` fall into connected groups, with the states of each.

    A partition is told by the index of the first place in each one's group.

    >>> partitions([7, 8, 9], [((7, 9), 0b01)], 0b11)
    [((0, 1, 0), 1), ((0, 1, 2), 2)]
    """
    classes: list[tuple[tuple[int, ...], int]] = [((), states)]
    reached: dict[int, dict[int, int]] = {}
    for index, place in enumerate(places):
        refined: list[tuple[tuple[int, ...], int]] = []
        for labels, mask in classes:
            for first in dict.fromkeys(labels):
                if first not in reached:
                    reached[first] = reach(bonds, places[first], states)
                together = mask & reached[first].get(place, 0)
                if together:
                    refined.append(((*labels, first), together))
                    mask &= ~together
                if not mask:
                    break
            if mask:
                refined.append(((*labels, index), mask))
        classes = refined
    return classes


@dataclass(frozen=True, slots=True)
class Mover:
    """A section that moves in a step, or all of them in step, by the places it links.

    ``old`` and ``new`` are its groups before and after; ``held`` what it keeps all the way;
    ``between`` what it closes half way. ``least`` and ``most`` are the places where it may
    stand with the fewest and with the most contacts closed; those that close more, or fewer,
    than one of these need not be tried.
    """

    old: tuple[Places, ...]
    new: tuple[Places, ...]
    held: tuple[Places, ...]
    between: tuple[Places, ...]
    least: Stands
    most: Stands


@dataclass(frozen=True, slots=True)
class Moving:
    """Some links while one control moves: what stands still, and what moves."""

    still: tuple[Bond, ...]
    movers: tuple[Mover, ...]
    states: int
    """All states of the other controls."""

    def _closed(self, groups: Iterable[Places]) -> list[Bond]:
        return [*self.still, *((group, self.states) for group in groups)]

    def before(self, a: int, b: int) -> int:
        """States of the others in which two places are connected before the step."""
        old = (group for mover in self.movers for group in mover.old)
        return connected(self._closed(old), a, b, self.states)

    def after(self, a: int, b: int) -> int:
        """States of the others in which two places are connected after the step."""
        new = (group for mover in self.movers for group in mover.new)
        return connected(self._closed(new), a, b, self.states)

    def always(self, a: int, b: int) -> int:
        """States of the others in which two places stay connected in every combination.

        Connections only grow with contacts, so only what closes least is tried.
        """
        least = attrgetter("least")
        return _Search(self.states, a, b, least, and_).found(self.still, self.movers)

    def ever(self, a: int, b: int) -> int:
        """States of the others in which two places are connected in some combination.

        Only what closes most is tried.
        """
        most = attrgetter("most")
        return _Search(self.states, a, b, most, or_).found(self.still, self.movers)


Question = Callable[[Moving], Moving]
"""Which combinations are meant: ``each_on_its_own`` or ``in_step``."""


def each_on_its_own(scene: Moving) -> Moving:
    """Sections that do not move quite together: each may be anywhere in its travel."""
    return scene


def in_step(scene: Moving) -> Moving:
    """All sections at the old contacts, all in between, all at the new."""
    if not scene.movers:
        return scene
    told = ((m.old, m.new, m.held, m.between) for m in scene.movers)
    old, new, held, between = (tuple(chain(*groups)) for groups in zip(*told, strict=True))
    stands = (between, old, new)
    return replace(scene, movers=(Mover(old, new, held, between, stands, stands),))


QUESTIONS: tuple[Question, ...] = (each_on_its_own, in_step)


@dataclass(slots=True)
class _Search:
    """Branch and bound over the sections whose old and new contacts can't be ordered."""

    states: int
    a: int
    b: int
    stands: Callable[[Mover], Stands]
    """The stages of a section that are tried."""
    joined: Callable[[int, int], int]
    """Whether all that is tried must connect the places (and), or any (or)."""
    branches: int = 0

    def found(self, still: Sequence[Bond], movers: Sequence[Mover]) -> int:
        """States in which all combinations, or any, connect the two places."""
        sure = [self.stands(mover)[0] for mover in movers if len(self.stands(mover)) == 1]
        closed = [(group, self.states) for groups in sure for group in groups]
        return self._of([*still, *closed], [m for m in movers if len(self.stands(m)) > 1])

    def _of(self, fixed: list[Bond], free: list[Mover]) -> int:
        low, high, pick = self._bounds(fixed, free)
        if pick is None:
            return low
        rest = [mover for mover in free if mover is not pick]
        end = self.joined(low, high)
        found = low ^ high ^ end
        for groups in self.stands(pick):
            with_it = [*fixed, *((group, self.states) for group in groups)]
            found = self.joined(found, self._of(with_it, rest))
            if found == end:
                break
        return found

    def _bounds(self, fixed: list[Bond], free: list[Mover]) -> tuple[int, int, Mover | None]:
        """Least and most that the free sections allow, and one worth deciding next."""
        self._count()
        held = [(group, self.states) for mover in free for group in mover.held]
        low = connected([*fixed, *held], self.a, self.b, self.states)
        if not free or low == self.states:
            return low, low, None
        wide = [
            ((group, self.states), mover)
            for mover in free
            for group in dict.fromkeys(chain(*mover.most))
        ]
        high = connected([*fixed, *(bond for bond, _ in wide)], self.a, self.b, self.states)
        marked = [*((bond, None) for bond in fixed), *wide]
        while undecided := high & ~low:
            state = undecided & -undecided
            used = _sections_on_way(marked, self.a, self.b, state)
            if self.joined is and_ or not all(self._at_once(*one) for one in used.items()):
                return low, high, next(iter(used))
            low |= state
        return low, high, None

    def _at_once(self, mover: Mover, groups: set[Places]) -> bool:
        """Whether a section closes some groups at once in one of the places where it may stand."""
        return any(groups.issubset(stand) for stand in self.stands(mover))

    def _count(self) -> None:
        self.branches += 1
        if self.branches > MOST_BRANCHES:
            raise LimitReached(
                f"while switching: more than {MOST_BRANCHES:,} combinations of sections "
                "would have to be tried for one pair of points"
            )


def _sections_on_way(
    marked: Sequence[tuple[Bond, Mover | None]], a: int, b: int, state: int
) -> dict[Mover, set[Places]]:
    """Free sections on a path from a to b that is closed throughout in ``state``, the last first.

    Each with the groups that it closes on the path.
    """
    came: dict[int, tuple[int, Places, Mover | None]] = {a: (a, (), None)}
    waiting = [a]
    for place in waiting:
        for (places, closed), mover in marked:
            if closed & state and place in places:
                for other in places:
                    if other not in came:
                        came[other] = (place, places, mover)
                        waiting.append(other)
    used: dict[Mover, set[Places]] = {}
    while b != a:
        b, places, mover = came[b]
        if mover is not None:
            used.setdefault(mover, set()).add(places)
    return used


def moving(
    links: Sequence[Link],
    contacts: Sequence[Contact],
    frame: Frame,
    step: tuple[str, int, int],
    shorting: Callable[[int], bool],
) -> Moving:
    """Split links into those that stand still in a step and the sections that move.

    ``frame`` has the controls of the links without the one that moves, ``step`` is that control
    with its position before and after, ``shorting`` tells how a contact is taken, by its number.
    """
    control, before, after = step
    still: list[Bond] = []
    by_section: dict[int, list[Link]] = {}
    for link in links:
        if not link.control:
            still.append((link.places, frame.full))
        elif link.control != control:
            still.append((link.places, frame.where(link.control, link.positions)))
        elif not contacts[link.contact].moves(before, after):
            still += [(link.places, frame.full)] if link.positions >> before & 1 else []
        elif link.positions & (1 << before | 1 << after) or (before, after) in link.passed:
            by_section.setdefault(link.contact, []).append(link)
    movers = tuple(
        _mover(contacts[number], theirs, (before, after), shorting(number))
        for number, theirs in by_section.items()
    )
    return Moving(tuple(still), movers, frame.full)


def _mover(contact: Contact, links: Sequence[Link], ends: Ends, shorts: bool) -> Mover:
    old, new = (tuple(k.places for k in links if k.positions >> at & 1) for at in ends)
    in_play = {place for link in links for place in link.places}
    groups = (contact.places(lugs) for lugs in contact.held(*ends))
    held = tuple(g for g in groups if len(g) > 1 and in_play.issuperset(g))
    by_lugs = {link.lugs: link.places for link in links}
    passed = [by_lugs.get(tuple(sorted(group))) for group in contact.passing.get(ends, ())]
    stops = (old, *((places,) if places else () for places in passed), new)
    if not shorts:
        return Mover(old, new, held, held, (held,), stops)
    between = (*old, *new)
    moments = dict.fromkeys((*((*one, *other) for one, other in pairwise(stops)), between))
    return Mover(old, new, held, between, stops, tuple(moments))
