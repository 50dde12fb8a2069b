"""Linked: added parts across what the original keeps apart (contract, 'Linked')."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import Bond, beside, bonds_at_rest, controls_of, reach, spread
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.circuit.states import Frame, States
from rewire.compare.facts import RestFacts
from rewire.compare.flows import Flow, flow_of
from rewire.compare.views import Views

Clusters = tuple[tuple[int, ...], ...]
"""Nets that added parts touch, gathered by what joins them without these parts."""


def linked_facts(views: Views, states: States) -> RestFacts:
    """Per state the clusters of anchors that added parts alone link."""
    facts = RestFacts()
    barred = views.down.second
    if not barred.bars:
        return facts
    original = views.spec.original
    seats = {anchor: anchor for anchor in views.roles.seat}
    both = _both(views, flow_of(views.spec, original, views.nets[0], seats))
    for seeds, touched in _touched(barred, views.added_on, views.up.anchors):
        if both.may_be_apart(touched):
            _note(both, seeds, touched, states, facts)
    return facts


@dataclass(frozen=True)
class Both:
    """The other wiring's nets and the original's places, anchors between them, as one graph."""

    view: ContactGraph
    """The other wiring with its added parts."""
    anchors: Mapping[int, tuple[str, ...]]
    seats: Mapping[int, tuple[int, ...]]
    """Per anchored net of the other wiring the original's places of its anchors."""
    here: tuple[Link, ...]
    """The original's contacts on those places."""
    contacts: tuple[Contact, ...]
    ways: BlockTree

    def may_be_apart(self, nets: Sequence[int]) -> bool:
        """Whether some state may show the nets in clusters: not if all have one place in common."""
        return len(nets) > 1 and not set.intersection(*(set(self.seats[net]) for net in nets))


def _both(views: Views, here: Flow) -> Both:
    barred, nets = views.down.second, len(views.nets[1].members)
    count = len(barred.contacts)
    links = tuple(
        replace(
            link,
            contact=link.contact + count,
            places=tuple(nets + place for place in link.places),
        )
        for link in here.view.links
    )
    seats = {
        net: tuple(dict.fromkeys(nets + here.anchors[name] for name in names))
        for net, names in views.up.anchors.items()
    }
    bonds = (
        Link(NO_SECTION, (), (net, place), ALWAYS)
        for net, places in seats.items()
        for place in places
    )
    return Both(
        view=barred,
        anchors=views.up.anchors,
        seats=seats,
        here=links,
        contacts=(*barred.contacts, *here.view.contacts),
        ways=BlockTree((*barred.links, *barred.bars, *links, *bonds)),
    )


def _touched(
    barred: ContactGraph, added_on: Sequence[int], anchored: Mapping[int, object]
) -> Iterator[tuple[list[int], list[int]]]:
    """Per piece of the wiring: nets of added parts, and anchored nets that these may touch."""
    ways = barred.tree_with_bars
    at = beside([(link.places, 1) for link in (*barred.links, *barred.bars)])
    pieces: dict[int, tuple[set[int], set[int]]] = {}
    for seed in added_on:
        seeds, touched = pieces.setdefault(ways.top_of(seed, frozenset()), (set(), set()))
        seeds.add(seed)
        found = [seed] if seed in anchored else spread(at, seed, 1, anchored.__contains__)
        touched.update(net for net in found if net in anchored)
    for seeds, touched in pieces.values():
        yield sorted(seeds), sorted(touched)


def _note(
    both: Both, seeds: Sequence[int], nets: Sequence[int], states: States, facts: RestFacts
) -> None:
    links = both.ways.between({*seeds, *nets})
    asking = f"added parts between {' and '.join(both.anchors[net][0] for net in nets[:4])}"
    frame = states.frame(controls_of(links, both.contacts), asking)
    scene = _scene(both, links, frame, states.possible(frame))
    touched = _touching(scene, seeds, both.anchors)
    for clusters, mask in _clusters(scene, nets, touched):
        groups = [tuple(a for net in one for a in both.anchors[net]) for one in clusters]
        facts.add("linked", groups, frame, mask)


@dataclass(frozen=True)
class Scene:
    """What links the nets of one piece, over the states of a frame."""

    possible: int
    gathering: Sequence[Bond]
    """Contacts and added parts of the other wiring."""
    holding: Sequence[Bond]
    """Contacts of either wiring."""
    seats: Mapping[int, tuple[int, ...]]

    def apart(self, start: int, gathered: Mapping[int, int]) -> dict[int, int]:
        """Per net the states in which it is held with ``start`` without the added parts.

        The original holds only what is gathered with it.
        """
        anchored = [
            ((net, place), where)
            for net, where in gathered.items()
            for place in self.seats.get(net, ())
        ]
        return reach([*self.holding, *anchored], start, self.possible)


def _scene(both: Both, links: Sequence[Link], frame: Frame, possible: int) -> Scene:
    own = [link for link in links if link.contact < len(both.view.contacts)]
    own = [link for link in own if link.contact != NO_SECTION or link.lugs]
    contacts = [link for link in links if link.contact != NO_SECTION]
    return Scene(
        possible=possible,
        gathering=bonds_at_rest(own, both.contacts, frame),
        holding=bonds_at_rest(contacts, both.contacts, frame),
        seats=both.seats,
    )


def _touching(scene: Scene, seeds: Sequence[int], anchored: Mapping[int, object]) -> dict[int, int]:
    """Per anchored net the states in which added parts touch it."""
    at = beside(scene.gathering)
    touched: dict[int, int] = {}
    for seed in seeds:
        if seed in anchored:
            touched[seed] = scene.possible
            continue
        for net, where in spread(at, seed, scene.possible, anchored.__contains__).items():
            if net in anchored:
                touched[net] = touched.get(net, 0) | where
    return touched


def _clusters(
    scene: Scene, nets: Sequence[int], touched: Mapping[int, int]
) -> Iterator[tuple[Clusters, int]]:
    """Two clusters or more that are gathered, and when."""
    gathered = {net: reach(scene.gathering, net, scene.possible) for net in nets}
    held = {net: scene.apart(net, gathered[net]) for net in nets}
    for number, first in enumerate(nets):
        fresh = scene.possible & touched.get(first, 0)
        for earlier in nets[:number]:
            fresh &= ~(gathered[earlier].get(first, 0) & touched.get(earlier, 0))
        found: list[tuple[Clusters, int]] = [(((first,),), fresh)]
        for net in nets[number + 1 :]:
            shown = gathered[first].get(net, 0) & touched.get(net, 0)
            found = [part for one in found for part in _with(one, net, shown, held) if part[1]]
        yield from ((clusters, where) for clusters, where in found if where and len(clusters) > 1)


def _with(
    one: tuple[Clusters, int], net: int, shown: int, held: Mapping[int, Mapping[int, int]]
) -> Iterator[tuple[Clusters, int]]:
    """A set of clusters where one more net may be in any of them, in its own, or in none."""
    clusters, where = one
    yield clusters, where & ~shown
    left = where & shown
    for number, cluster in enumerate(clusters):
        together = left & held[cluster[0]].get(net, 0)
        left &= ~together
        yield (*clusters[:number], (*cluster, net), *clusters[number + 1 :]), together
    yield (*clusters, (net,)), left
