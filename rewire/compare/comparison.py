"""Two wirings compared: their contacts on common places, and what differs at rest.

A *place* is a net, or several nets merged. An *anchor* is a point, or a terminal of a part that
has a role: both wirings have it, by its name in the original.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import Literal

from rewire.circuit.circuit import Circuit, Contact, ContactGraph, circuit_of
from rewire.circuit.connectivity import (
    Bond,
    beside,
    bonds_at_rest,
    connected,
    controls_of,
    partitions,
    reach,
    spread,
)
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Joiner, Link, by_first
from rewire.circuit.roles import Roles
from rewire.circuit.states import States
from rewire.compare.findings import RestFacts
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring

_ADDED = -1
"""The number of all added parts, next to the numbers of nets."""
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
        inside = by_first((joiner.root(places[0]), link) for link, places in pairs if places)
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
        return by_first((place, point) for point, place in self.points.items())


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
    names = by_first((seat[anchor], anchor) for anchor in sorted(seat))
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


@dataclass(frozen=True)
class Unlike:
    """Where one flow can do what another can't."""

    flow: Flow
    blocks: frozenset[int]
    """With a contact that the other flow has not alike."""
    split: frozenset[int]
    """Places whose points are on several places in the other flow."""

    def between(self, points: tuple[str, str]) -> bool:
        """Whether anything between two points is unlike."""
        a, b = (self.flow.points[point] for point in points)
        if a == b:
            return a in self.split
        tree = self.flow.graph.tree
        return tree.linked(a, b) and not self.blocks.isdisjoint(tree.path(a, b))


def unlike_flows(first: Flow, second: Flow, timing_of: TimingOf) -> Unlike:
    """Where the first flow can do what the second can't."""
    image = {
        place: {second.points[point] for point in points}
        for place, points in first.points_at.items()
    }
    split = frozenset(place for place, seen in image.items() if len(seen) > 1)
    known = {p: ("split", p) if p in split else ("at", *seen) for p, seen in image.items()}
    known_second = {place: ("at", place) for place in second.points_at}
    unlike = unlike_contacts((first.graph, known), (second.graph, known_second), timing_of)
    return Unlike(first, first.graph.blocks_of(unlike), split)


# At rest: what is dropped, inserted, joined or linked in which positions


def rest_facts(both: Comparison, states: States) -> RestFacts:
    """Everything found at rest between two wirings."""
    facts = RestFacts()
    for way in (both.down, both.up):
        for net in way.anchors:
            _net_facts(way, net, states, facts)
        _pair_facts(way, states, facts)
    if both.barred.bars:
        overlay = _overlay(both)
        for seeds, nets in _touched(both):
            _note_linked(overlay, seeds, nets, states, facts)
    return facts


def _net_facts(way: Direction, net: int, states: States, facts: RestFacts) -> None:
    """Step 1: the anchors of one net that are not all connected in the second wiring."""
    anchors = way.anchors[net]
    places = list(dict.fromkeys(way.seat[anchor] for anchor in anchors))
    if len(places) == 1:
        return
    links = way.second.tree_with_bars.between(places)
    frame = states.frame(controls_of(links), f"the net of {anchors[0]}")
    with_bars = bonds_at_rest(links, frame)
    at_place = [[a for a in anchors if way.seat[a] == place] for place in places]
    for labels, mask in partitions(
        places, bonds_at_rest(_contacts(links), frame), states.possible(frame)
    ):
        fragments = _grouped(at_place, labels)
        firsts = [places[label] for label in sorted(set(labels))]
        for linked, here in partitions(firsts, with_bars, mask):
            clusters = _grouped(fragments, linked)
            if len(clusters) > 1:
                facts.add(way.lost, clusters, frame, here)
            for label in set(linked) if way.lost == "dropped" else ():
                inside = [f for f, own in zip(fragments, linked, strict=True) if own == label]
                if len(inside) > 1:
                    facts.add("inserted", inside, frame, here)


def _grouped(names: Sequence[Sequence[str]], labels: Sequence[int]) -> list[tuple[str, ...]]:
    """Names of each group together, in order of the labels."""
    groups: dict[int, list[str]] = {label: [] for label in sorted(set(labels))}
    for some, label in zip(names, labels, strict=True):
        groups[label] += some
    return [tuple(group) for group in groups.values()]


def _pair_facts(way: Direction, states: States, facts: RestFacts) -> None:
    """Step 2: two nets that contacts connect in the first, but not in the second made whole."""
    for pair in _contact_pairs(way):
        ends = way.merged[pair[0]], way.merged[pair[1]]
        if ends[0] == ends[1]:
            continue
        groups = [way.anchors[net] for net in pair]
        before, now = way.first.tree.between(pair), way.whole.tree_with_bars.between(ends)
        asking = f"the paths between {groups[0][0]} and {groups[1][0]}"
        frame = states.frame(controls_of(before) | controls_of(now), asking)
        at, possible = beside(bonds_at_rest(before, frame)), states.possible(frame)
        # over no other net with anchors
        direct = spread(at, pair[0], possible, way.anchors.__contains__).get(pair[1], 0)
        kept = bonds_at_rest(_contacts(now), frame)
        lost = direct and direct & ~connected(kept, *ends, direct)
        if lost and way.lost == "dropped":
            linked = connected(bonds_at_rest(now, frame), *ends, lost)
            facts.add("inserted", groups, frame, linked)
            lost &= ~linked
        facts.add(way.lost, groups, frame, lost)


def _contact_pairs(way: Direction) -> Iterable[tuple[int, int]]:
    """Nets of the first that contacts which the second has not alike may connect directly.

    Pairs that only contacts alike connect are never lost, and are not looked at.
    """
    numbers = way.unlike(lambda contact, first: None)  # noqa: ARG005
    unlike = [link for link in way.first.links if link.contact in numbers]
    sets = dict.fromkeys(
        way.regions[loose].border if loose is not None else frozenset(link.places)
        for link in unlike
        for loose in [next((p for p in link.places if p not in way.anchors), None)]
    )
    return dict.fromkeys(pair for nets in sets for pair in combinations(sorted(nets), 2))


def _contacts(links: Iterable[Link]) -> list[Link]:
    return [link for link in links if link.control]


@dataclass(frozen=True)
class Overlay:
    """The other wiring's nets and the original's places, anchors between them, as one graph."""

    anchors: Mapping[int, tuple[str, ...]]
    seats: Mapping[int, tuple[int, ...]]
    """Per anchored net of the other wiring the original's places of its anchors."""
    others: frozenset[int]
    """Contacts and added parts of the other wiring, by ``id``."""
    tree: BlockTree


def _overlay(both: Comparison) -> Overlay:
    here, nets = both.flows[0], len(both.there.nets.members)
    others = (*both.barred.links, *both.barred.bars)
    links = [replace(k, places=tuple(nets + p for p in k.places)) for k in here.graph.links]
    seats = {
        net: tuple(dict.fromkeys(nets + here.anchors[name] for name in names))
        for net, names in both.up.anchors.items()
    }
    pairs = ((net, place) for net, places in seats.items() for place in places)
    between = (Link(NO_SECTION, (), pair, ALWAYS) for pair in pairs)
    tree = BlockTree((*others, *links, *between))
    return Overlay(both.up.anchors, seats, frozenset(map(id, others)), tree)


def _touched(both: Comparison) -> Iterator[tuple[list[int], list[int]]]:
    """Per piece of the wiring: nets of added parts, and anchored nets that these may reach."""
    barred, anchored = both.barred, both.up.anchors
    at = beside([(link.places, 1) for link in (*barred.links, *barred.bars)])
    of = both.there.nets.of
    added_on = {of[t] for part in both.added if part.passes_dc for t in part.full_terminals}
    pieces: dict[int, tuple[list[int], set[int]]] = {}
    for seed in sorted(added_on):
        piece = barred.tree_with_bars.top_of(seed, frozenset())
        seeds, touched = pieces.setdefault(piece, ([], set()))
        seeds.append(seed)
        found = [seed] if seed in anchored else spread(at, seed, 1, anchored.__contains__)
        touched.update(net for net in found if net in anchored)
    yield from ((seeds, sorted(touched)) for seeds, touched in pieces.values())


def _note_linked(
    overlay: Overlay, seeds: Sequence[int], nets: Sequence[int], states: States, facts: RestFacts
) -> None:
    """Step 3: nets that the other wiring gathers, and that only its added parts hold together.

    Contacts of either wiring hold a cluster; the original holds only what is gathered with it.
    """
    links = overlay.tree.between({*seeds, *nets})
    asking = f"added parts between {' and '.join(overlay.anchors[net][0] for net in nets[:4])}"
    frame = states.frame(controls_of(links), asking)
    own = bonds_at_rest((k for k in links if id(k) in overlay.others), frame)
    holding = bonds_at_rest(_contacts(links), frame)
    possible = states.possible(frame)
    reached = [bond for seed in seeds for bond in _reached(overlay, own, seed, possible)]
    for some_nets, mask in _gathered(nets, own, possible):
        inside = reach(own, some_nets[0], mask)
        seated = [
            ((net, place), where)
            for net, where in inside.items()
            for place in overlay.seats.get(net, ())
        ]
        for touched, here in partitions([_ADDED, *some_nets], reached, mask):
            some = [net for net, label in zip(some_nets, touched[1:], strict=True) if not label]
            for held, where in partitions(some, [*holding, *seated], here):
                clusters = _grouped([overlay.anchors[net] for net in some], held)
                if len(clusters) > 1:
                    facts.add("linked", clusters, frame, where)


def _gathered(
    nets: Sequence[int], bonds: Sequence[Bond], states: int
) -> Iterator[tuple[list[int], int]]:
    """Groups of nets that are connected, and the states in which they are."""
    for labels, mask in partitions(nets, bonds, states):
        for first in sorted(set(labels)):
            yield [net for net, label in zip(nets, labels, strict=True) if label == first], mask


def _reached(overlay: Overlay, own: Sequence[Bond], seed: int, possible: int) -> Iterator[Bond]:
    """An added part on a net as bonds to the anchored nets that it reaches over no other."""
    found = {seed: possible}
    if seed not in overlay.anchors:
        found = spread(beside(own), seed, possible, overlay.anchors.__contains__)
    yield from (((_ADDED, net), where) for net, where in found.items() if net in overlay.anchors)
