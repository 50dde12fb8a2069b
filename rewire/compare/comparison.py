"""Two wirings compared: which part replaces which, and their contacts on common places.

A *place* is a net, or several nets merged. An *anchor* is a point, or a terminal of a part that
has a role: both wirings have it, by its name in the original.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from rewire.circuit.circuit import Circuit, Contact, ContactGraph, circuit_of
from rewire.circuit.graph import Joiner, Link, gathered
from rewire.circuit.roles import Roles
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring

Known = Mapping[int, object]
"""The names of a place in both wirings."""
TimingOf = Callable[[Contact, bool], object]
"""What the timings of contacts that are alike have in common; told whether it is the first's."""


@dataclass(frozen=True, eq=False)
class Region:
    """Places without anchors that contacts may connect with each other, and what is around."""

    links: Sequence[Link]
    border: frozenset[int]
    """Anchored nets on any of the links."""


@dataclass(frozen=True)
class Direction:
    """One wiring (``first``), whose connections are looked for in the other (``second``)."""

    first: ContactGraph
    second: ContactGraph
    whole: ContactGraph
    """The second with the anchors of each net of the first on one place: made whole by it."""
    anchors: Mapping[int, tuple[str, ...]]
    """Per net of the first that has any, its anchors."""
    seat: Mapping[str, int]
    """Anchor → its place in the second."""
    merged: Sequence[int]
    """Per net of the first its place in ``whole``."""
    lost: Literal["dropped", "joined"]
    """What a connection is called that the second has not."""

    @cached_property
    def regions(self) -> Mapping[int, Region]:
        """Per place of the first without anchors its region."""
        links = self.first.links
        joiner = Joiner(1 + max((place for link in links for place in link.places), default=-1))
        loose = [[place for place in link.places if place not in self.anchors] for link in links]
        for places in loose:
            joiner.join(places)
        pairs = zip(links, loose, strict=True)
        inside = gathered((joiner.root(places[0]), link) for link, places in pairs if places)
        found = {
            root: Region(its, frozenset(p for k in its for p in k.places if p in self.anchors))
            for root, its in inside.items()
        }
        return {place: found[joiner.root(place)] for places in loose for place in places}

    def unlike(self, timing_of: TimingOf) -> frozenset[int]:
        """Contacts of the first, by number, that the second made whole has not alike."""
        known = {net: ("net", self.merged[net]) for net in self.anchors}
        known_whole = {place: ("net", place) for _, place in known.values()}
        return unlike_contacts((self.first, known), (self.whole, known_whole), timing_of)


@dataclass(frozen=True)
class Flow:
    """Where current can go in one wiring: nets between which it always can are one place."""

    graph: ContactGraph
    points: Mapping[str, int]
    """Point → its place."""
    anchors: Mapping[str, int]
    """Anchor → its place."""

    @cached_property
    def points_at(self) -> Mapping[int, Sequence[str]]:
        """Points by place."""
        return gathered((place, point) for point, place in self.points.items())


@dataclass(frozen=True)
class Comparison:
    """All that a comparison of two wirings looks at, for one set of roles."""

    spec: Spec
    other: Wiring
    roles: Roles

    @cached_property
    def here(self) -> Circuit:
        """The original."""
        return circuit_of(self.spec, self.spec.original)

    @cached_property
    def there(self) -> Circuit:
        """The other wiring."""
        return circuit_of(self.spec, self.other)

    @cached_property
    def _seats(self) -> tuple[dict[str, int], dict[str, int]]:
        """Anchor → its net in the original, and in the other wiring."""
        here, there = self.here.nets.of, self.there.nets.of
        seat = self.roles.seat
        return {a: here[a] for a in seat}, {a: there[t] for a, t in seat.items()}

    @cached_property
    def _merged(self) -> tuple[list[int], list[int]]:
        """Per net of either wiring its place when nets that have an anchor in common are one."""
        count = len(self.here.nets.members)
        joiner = Joiner(count + len(self.there.nets.members))
        for anchor, net in self._seats[0].items():
            joiner.join((net, count + self._seats[1][anchor]))
        numbers = joiner.numbered()
        return numbers[:count], numbers[count:]

    @cached_property
    def added(self) -> tuple[Part, ...]:
        """Parts of the other wiring that replace nothing."""
        return tuple(self.other.parts[name] for name in self.roles.added)

    @cached_property
    def barred(self) -> ContactGraph:
        """The other wiring's contacts, with added parts that pass DC as bars."""
        bars = tuple(self.there.bars(self.added))
        return ContactGraph(self.there.contacts, bars) if bars else self.there.graph

    @cached_property
    def down(self) -> Direction:
        """What the original connects and the other may not: dropped, inserted, gap."""
        (seat, seats), (merged, places) = self._seats, self._merged
        whole, anchors = self.barred.moved_to(places), _by_net(seat)
        return Direction(self.here.graph, self.barred, whole, anchors, seats, merged, "dropped")

    @cached_property
    def up(self) -> Direction:
        """What the other connects and the original may not: joined, bridge."""
        (seats, seat), (places, merged) = self._seats, self._merged
        here, anchors = self.here.graph, _by_net(seat)
        whole = here.moved_to(places)
        return Direction(self.there.graph, here, whole, anchors, seats, merged, "joined")

    @cached_property
    def flows(self) -> tuple[Flow, Flow]:
        """Where current can go in the original, and in the other wiring."""
        here, there = (
            Flow(
                graph=circuit.flow_graph,
                points={p: circuit.flow_places[circuit.nets.of[p]] for p in self.spec.points},
                anchors={a: circuit.flow_places[net] for a, net in seat.items()},
            )
            for circuit, seat in zip((self.here, self.there), self._seats, strict=True)
        )
        return here, there


def _by_net(seat: Mapping[str, int]) -> dict[int, tuple[str, ...]]:
    names = gathered((seat[anchor], anchor) for anchor in sorted(seat))
    return {net: tuple(anchors) for net, anchors in names.items()}


def unlike_contacts(
    first: tuple[ContactGraph, Known], second: tuple[ContactGraph, Known], timing_of: TimingOf
) -> frozenset[int]:
    """Numbers of the contacts of ``first`` that ``second`` has not alike.

    Contacts are alike if they are the same section of a switch of the same name and control,
    with the same contacts in the same positions, on the same places, and timed alike. A path over
    such contacts alone exists in both wirings in every state and at every moment of a move, so
    nothing can be found on it.
    """
    there = {_likeness(c, *second, timing_of(c, False)) for c in second[0].contacts}
    return frozenset(
        number
        for number, contact in enumerate(first[0].contacts)
        if _likeness(contact, *first, timing_of(contact, True)) not in there
    )


def _likeness(contact: Contact, graph: ContactGraph, known: Known, timing: object) -> object:
    """A place that both wirings do not know is known by the lugs on it."""
    places = tuple(
        (lug, known.get(contact.place[lug], ()) or graph.lugs_at[contact.place[lug]])
        for lug in contact.lugs_in_play
    )
    passing = frozenset(contact.passing.items())
    return contact.switch, contact.control, contact.closed, passing, places, timing
