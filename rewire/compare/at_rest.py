"""At rest: what is dropped, inserted, joined or linked in which positions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations

from rewire.circuit.circuit import Contact
from rewire.circuit.connectivity import (
    beside,
    bonds_at_rest,
    connected,
    controls_of,
    partitions,
    reach,
    spread,
)
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.circuit.states import Frame, States
from rewire.compare.comparison import Comparison, Direction
from rewire.compare.findings import RestFacts


@dataclass(frozen=True, slots=True)
class AtRest:
    """What was found at rest, by the step that found it."""

    in_nets: RestFacts
    in_pairs: RestFacts
    linked: RestFacts

    def count(self, states: States, near: Set[str] | None = None) -> int:
        """Number of facts, at rest; with ``near``, those that name one of some anchors."""
        found = (self.in_nets, self.in_pairs, self.linked)
        return sum(facts.count(states, near) for facts in found)


def rest_facts(both: Comparison, states: States) -> AtRest:
    """Everything found at rest between two wirings."""
    found = AtRest(RestFacts(), RestFacts(), linked_facts(both, states))
    for way in (both.down, both.up):
        for net in way.anchors:
            net_facts(way, net, states, found.in_nets)
        pair_facts(way, states, found.in_pairs)
    return found


def net_facts(way: Direction, net: int, states: States, facts: RestFacts) -> None:
    """Step 1: the anchors of one net that are not all connected in the second wiring."""
    anchors = way.anchors[net]
    places = list(dict.fromkeys(way.seat[anchor] for anchor in anchors))
    if len(places) == 1:
        return
    view = way.second
    links = view.tree_with_bars.between(places)
    frame = states.frame(controls_of(links, view.contacts), f"the net of {anchors[0]}")
    bonds = bonds_at_rest(_contacts_only(links), view.contacts, frame)
    with_bars = bonds_at_rest(links, view.contacts, frame)
    at_place = {place: [a for a in anchors if way.seat[a] == place] for place in places}
    for labels, mask in partitions(places, bonds, states.possible(frame)):
        fragments = _grouped([at_place[place] for place in places], labels)
        firsts = [places[label] for label in sorted(set(labels))]
        for linked, here in partitions(firsts, with_bars, mask):
            clusters = _grouped(fragments, linked)
            if len(clusters) > 1:
                facts.add(way.lost, clusters, frame, here)
            for label in set(linked) if way.linked else ():
                inside = [f for f, own in zip(fragments, linked, strict=True) if own == label]
                if way.linked and len(inside) > 1:
                    facts.add(way.linked, inside, frame, here)


def _grouped(names: Sequence[Sequence[str]], labels: Sequence[int]) -> list[tuple[str, ...]]:
    """Names of each group together, in order of the labels."""
    groups: dict[int, list[str]] = {label: [] for label in sorted(set(labels))}
    for some, label in zip(names, labels, strict=True):
        groups[label] += some
    return [tuple(group) for group in groups.values()]


def pair_facts(way: Direction, states: States, facts: RestFacts) -> None:
    """Step 2: two nets that contacts connect in the first, but not in the second made whole."""
    for pair in _contact_pairs(way):
        ends = way.merged[pair[0]], way.merged[pair[1]]
        if ends[0] == ends[1]:
            continue
        groups = [way.anchors[net] for net in pair]
        before, now = way.first.tree.between(pair), way.whole.tree_with_bars.between(ends)
        names = controls_of(before, way.first.contacts) | controls_of(now, way.whole.contacts)
        frame = states.frame(names, f"the paths between {groups[0][0]} and {groups[1][0]}")
        direct = _directly_connected(way, before, pair, frame, states.possible(frame))
        kept = bonds_at_rest(_contacts_only(now), way.whole.contacts, frame)
        lost = direct and direct & ~connected(kept, *ends, direct)
        if lost and way.linked:
            linked = connected(bonds_at_rest(now, way.whole.contacts, frame), *ends, lost)
            facts.add(way.linked, groups, frame, linked)
            lost &= ~linked
        facts.add(way.lost, groups, frame, lost)


def _directly_connected(
    way: Direction, links: Sequence[Link], pair: tuple[int, int], frame: Frame, possible: int
) -> int:
    """States in which contacts connect two nets of the first over no net with anchors."""
    at = beside(bonds_at_rest(links, way.first.contacts, frame))
    return spread(at, pair[0], possible, way.anchors.__contains__).get(pair[1], 0)


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


def _contacts_only(links: Iterable[Link]) -> list[Link]:
    return [link for link in links if link.contact != NO_SECTION]


def linked_facts(both: Comparison, states: States) -> RestFacts:
    """Step 3: per state the clusters of anchors that added parts alone link."""
    facts = RestFacts()
    if both.barred.bars:
        overlay = _overlay(both)
        for seeds, nets in _touched(both):
            _note_linked(overlay, seeds, nets, states, facts)
    return facts


@dataclass(frozen=True)
class Overlay:
    """The other wiring's nets and the original's places, anchors between them, as one graph."""

    anchors: Mapping[int, tuple[str, ...]]
    seats: Mapping[int, tuple[int, ...]]
    """Per anchored net of the other wiring the original's places of its anchors."""
    contacts: tuple[Contact, ...]
    """Of the other wiring, then of the original."""
    others: int
    """How many are of the other wiring."""
    tree: BlockTree

    def is_others(self, link: Link) -> bool:
        """Whether a link is a contact or an added part of the other wiring."""
        return link.contact < self.others and (link.contact != NO_SECTION or bool(link.lugs))


def _overlay(both: Comparison) -> Overlay:
    barred, here = both.barred, both.flows[0]
    nets, count = len(both.there.nets.members), len(barred.contacts)
    links = [
        replace(k, contact=k.contact + count, places=tuple(nets + place for place in k.places))
        for k in here.graph.links
    ]
    seats = {
        net: tuple(dict.fromkeys(nets + here.anchors[name] for name in names))
        for net, names in both.up.anchors.items()
    }
    between = (
        Link(NO_SECTION, (), (net, place), ALWAYS)
        for net, places in seats.items()
        for place in places
    )
    return Overlay(
        anchors=both.up.anchors,
        seats=seats,
        contacts=(*barred.contacts, *here.graph.contacts),
        others=count,
        tree=BlockTree((*barred.links, *barred.bars, *links, *between)),
    )


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
    """Nets that the other wiring gathers fall into clusters when the added parts are left out.

    Contacts of either wiring hold a cluster; the original holds only what is gathered with it.
    """
    links = overlay.tree.between({*seeds, *nets})
    asking = f"added parts between {' and '.join(overlay.anchors[net][0] for net in nets[:4])}"
    frame = states.frame(controls_of(links, overlay.contacts), asking)
    own = bonds_at_rest(filter(overlay.is_others, links), overlay.contacts, frame)
    holding = bonds_at_rest(_contacts_only(links), overlay.contacts, frame)
    possible = states.possible(frame)
    reached = [
        ((_ADDED, net), where)
        for seed in seeds
        for net, where in _reached(overlay, own, seed, possible).items()
    ]
    for labels, mask in partitions(nets, own, possible):
        for first in sorted(set(labels)):
            group = [net for net, label in zip(nets, labels, strict=True) if label == first]
            gathered = reach(own, group[0], mask)
            seated = [
                ((net, place), where)
                for net, where in gathered.items()
                for place in overlay.seats.get(net, ())
            ]
            for touched, here in partitions([_ADDED, *group], reached, mask):
                some = [net for net, label in zip(group, touched[1:], strict=True) if not label]
                for held, where in partitions(some, [*holding, *seated], here):
                    clusters = _grouped([overlay.anchors[net] for net in some], held)
                    if len(clusters) > 1:
                        facts.add("linked", clusters, frame, where)


_ADDED = -1
"""The number of all added parts, next to the numbers of nets."""


def _reached(
    overlay: Overlay, own: Sequence[tuple[tuple[int, ...], int]], seed: int, possible: int
) -> dict[int, int]:
    """Per anchored net the states in which an added part on a net reaches it."""
    if seed in overlay.anchors:
        return {seed: possible}
    found = spread(beside(own), seed, possible, overlay.anchors.__contains__)
    return {net: where for net, where in found.items() if net in overlay.anchors}
