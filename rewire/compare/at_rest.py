"""At rest: what is dropped, inserted, joined or linked in which positions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import (
    Bond,
    Spreads,
    beside,
    bonds_at_rest,
    controls_of,
    partitions,
    reach,
    spread,
)
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Joiner, Link
from rewire.circuit.states import Frame, States
from rewire.compare.comparison import Comparison, Direction
from rewire.compare.findings import FindingKind, RestFacts


@dataclass(frozen=True, slots=True)
class Kinds:
    """What a lost tie is called in one direction of the comparison."""

    lost: FindingKind
    linked: FindingKind | None
    """Lost, but linked over added parts."""


DOWN = Kinds("dropped", "inserted")
UP = Kinds("joined", None)


@dataclass(frozen=True, slots=True)
class AtRest:
    """What was found at rest, by the step that found it."""

    in_nets: RestFacts
    in_pairs: RestFacts
    linked: RestFacts

    def count(self, states: States) -> int:
        """Number of facts, at rest."""
        found = (self.in_nets, self.in_pairs, self.linked)
        return sum(facts.count(states) for facts in found)


def rest_facts(both: Comparison, states: States) -> AtRest:
    """Everything found at rest between two wirings."""
    found = AtRest(RestFacts(), RestFacts(), linked_facts(both, states))
    for way, kinds in ((both.down, DOWN), (both.up, UP)):
        for net in way.anchors:
            net_facts(way, net, kinds, states, found.in_nets)
        pair_facts(way, contact_pairs(way), kinds, states, found.in_pairs)
    return found


def net_facts(way: Direction, net: int, kinds: Kinds, states: States, facts: RestFacts) -> None:
    """Step 1: the anchors of one net that are not all tied in the second wiring."""
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
        firsts = sorted(set(labels))
        if len(firsts) == 1:
            continue
        fragments = [
            tuple(a for i, place in enumerate(places) if labels[i] == f for a in at_place[place])
            for f in firsts
        ]
        for linked, here in partitions([places[f] for f in firsts], with_bars, mask):
            _note_fragments(fragments, linked, kinds, frame, here, facts)


def _note_fragments(
    fragments: Sequence[tuple[str, ...]],
    linked: tuple[int, ...],
    kinds: Kinds,
    frame: Frame,
    mask: int,
    facts: RestFacts,
) -> None:
    """Clusters of fragments are apart: lost. Fragments of one cluster are linked."""
    clusters = [
        [fragments[i] for i, label in enumerate(linked) if label == first]
        for first in sorted(set(linked))
    ]
    if len(clusters) > 1:
        whole = [tuple(a for fragment in cluster for a in fragment) for cluster in clusters]
        facts.add(kinds.lost, whole, frame, mask)
    for cluster in clusters:
        if len(cluster) > 1 and kinds.linked is not None:
            facts.add(kinds.linked, cluster, frame, mask)


def contact_pairs(way: Direction) -> Iterator[tuple[int, int]]:
    """Step 2: nets of the first that contacts which the second has not alike may tie directly.

    Pairs that only contacts alike connect are never lost, and are not looked at.
    """
    unlike = way.unlike(lambda contact, first: None)  # noqa: ARG005
    seen: dict[tuple[int, int], None] = {}
    for places in _direct_places(way.first, way.anchors.keys(), unlike):
        seen.update(dict.fromkeys(combinations(sorted(places), 2)))
    yield from seen


def _direct_places(
    graph: ContactGraph, anchored: Set[int], unlike: frozenset[int]
) -> Iterator[set[int]]:
    """Sets of anchored nets that contacts may connect over nets without anchors."""
    joiner = Joiner(1 + max((place for link in graph.links for place in link.places), default=-1))
    for link in graph.links:
        joiner.join([place for place in link.places if place not in anchored])
    borders: dict[int, set[int]] = {}
    worth: set[int] = set()
    for link in graph.links:
        border = {p for p in link.places if p in anchored}
        loose = next((place for place in link.places if place not in anchored), None)
        if loose is None:
            if link.contact in unlike:
                yield border
            continue
        region = joiner.root(loose)
        borders.setdefault(region, set()).update(border)
        if link.contact in unlike:
            worth.add(region)
    yield from (borders[region] for region in sorted(worth))


def pair_facts(
    way: Direction,
    pairs: Iterable[tuple[int, int]],
    kinds: Kinds,
    states: States,
    facts: RestFacts,
) -> None:
    """Two nets of the first that are directly tied, but not tied in the second made whole."""
    between: dict[Blocks, Between] = {}
    for pair in pairs:
        a, b = way.merged[pair[0]], way.merged[pair[1]]
        blocks = _blocks(way.first.tree, pair), _blocks(way.whole.tree_with_bars, (a, b))
        if a == b:
            continue
        groups = [way.anchors[net] for net in pair]
        if blocks not in between:
            asking = f"the ways between {groups[0][0]} and {groups[1][0]}"
            between[blocks] = _between(way, blocks, states, asking)
        ways = between[blocks]
        direct = ways.direct.tied(*pair)
        lost = direct and direct & ~ways.kept.tied(a, b)
        if not lost:
            continue
        linked = lost & ways.linked.tied(a, b)
        if kinds.linked is not None:
            facts.add(kinds.linked, groups, ways.frame, linked)
        facts.add(kinds.lost, groups, ways.frame, lost & ~linked)


Blocks = tuple[tuple[int, ...], tuple[int, ...]]
"""Blocks between two nets: in the first, and in the second made whole with added parts."""


def _blocks(ways: BlockTree, pair: tuple[int, int]) -> tuple[int, ...]:
    return tuple(sorted(ways.blocks_between(pair)))


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between two nets, and between any others with the same blocks between them."""

    frame: Frame
    direct: Spreads
    """Ties of the first over no anchored net."""
    kept: Spreads
    """Ties of the second made whole."""
    linked: Spreads
    """As ``kept``, over added parts too."""


def _between(way: Direction, blocks: Blocks, states: States, asking: str) -> Between:
    first, whole = way.first, way.whole
    links_first = [link for block in blocks[0] for link in first.tree.in_block[block]]
    links = [link for block in blocks[1] for link in whole.tree_with_bars.in_block[block]]
    names = controls_of(links_first, first.contacts) | controls_of(links, whole.contacts)
    frame = states.frame(names, asking)
    possible = states.possible(frame)
    kept = bonds_at_rest(_contacts_only(links), whole.contacts, frame)
    return Between(
        frame=frame,
        direct=Spreads(
            bonds_at_rest(links_first, first.contacts, frame),
            possible,
            stops=way.anchors.__contains__,
        ),
        kept=Spreads(kept, possible),
        linked=Spreads(bonds_at_rest(links, whole.contacts, frame), possible),
    )


def _contacts_only(links: Iterable[Link]) -> list[Link]:
    return [link for link in links if link.contact != NO_SECTION or link.positions != ALWAYS]


Clusters = tuple[tuple[int, ...], ...]
"""Nets that added parts touch, gathered by what joins them without these parts."""


def linked_facts(both: Comparison, states: States) -> RestFacts:
    """Per state the clusters of anchors that added parts alone link."""
    facts = RestFacts()
    if both.barred.bars:
        overlay = _overlay(both)
        for seeds, nets in _touched(both):
            if overlay.may_be_apart(nets):
                _note(overlay, seeds, nets, states, facts)
    return facts


@dataclass(frozen=True)
class Overlay:
    """The other wiring's nets and the original's places, anchors between them, as one graph."""

    graph: ContactGraph
    """The other wiring with its added parts."""
    anchors: Mapping[int, tuple[str, ...]]
    seats: Mapping[int, tuple[int, ...]]
    """Per anchored net of the other wiring the original's places of its anchors."""
    contacts: tuple[Contact, ...]
    """Of both."""
    tree: BlockTree

    def may_be_apart(self, nets: Sequence[int]) -> bool:
        """Whether some state may show the nets in clusters: not if all have one place in common."""
        return len(nets) > 1 and not set.intersection(*(set(self.seats[net]) for net in nets))


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
        graph=barred,
        anchors=both.up.anchors,
        seats=seats,
        contacts=(*barred.contacts, *here.graph.contacts),
        tree=BlockTree((*barred.links, *barred.bars, *links, *between)),
    )


def _touched(both: Comparison) -> Iterator[tuple[list[int], list[int]]]:
    """Per piece of the wiring: nets of added parts, and anchored nets that these may reach."""
    barred, anchored = both.barred, both.up.anchors
    at = beside([(link.places, 1) for link in (*barred.links, *barred.bars)])
    of = both.there.nets.of
    added_on = {of[t] for part in both.added if part.passes_dc for t in part.full_terminals}
    pieces: dict[int, tuple[set[int], set[int]]] = {}
    for seed in sorted(added_on):
        piece = barred.tree_with_bars.top_of(seed, frozenset())
        seeds, touched = pieces.setdefault(piece, (set(), set()))
        seeds.add(seed)
        found = [seed] if seed in anchored else spread(at, seed, 1, anchored.__contains__)
        touched.update(net for net in found if net in anchored)
    for seeds, touched in pieces.values():
        yield sorted(seeds), sorted(touched)


def _note(
    overlay: Overlay, seeds: Sequence[int], nets: Sequence[int], states: States, facts: RestFacts
) -> None:
    links = overlay.tree.between({*seeds, *nets})
    asking = f"added parts between {' and '.join(overlay.anchors[net][0] for net in nets[:4])}"
    frame = states.frame(controls_of(links, overlay.contacts), asking)
    piece = _piece(overlay, links, frame, states.possible(frame))
    touched = _touching(piece, seeds, overlay.anchors)
    for clusters, mask in _clusters(piece, nets, touched):
        groups = [tuple(a for net in one for a in overlay.anchors[net]) for one in clusters]
        facts.add("linked", groups, frame, mask)


@dataclass(frozen=True)
class LinkPiece:
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


def _piece(overlay: Overlay, links: Sequence[Link], frame: Frame, possible: int) -> LinkPiece:
    own = [link for link in links if link.contact < len(overlay.graph.contacts)]
    own = [link for link in own if link.contact != NO_SECTION or link.lugs]
    contacts = [link for link in links if link.contact != NO_SECTION]
    return LinkPiece(
        possible=possible,
        gathering=bonds_at_rest(own, overlay.contacts, frame),
        holding=bonds_at_rest(contacts, overlay.contacts, frame),
        seats=overlay.seats,
    )


def _touching(
    piece: LinkPiece, seeds: Sequence[int], anchored: Mapping[int, object]
) -> dict[int, int]:
    """Per anchored net the states in which added parts touch it."""
    at = beside(piece.gathering)
    touched: dict[int, int] = {}
    for seed in seeds:
        if seed in anchored:
            touched[seed] = piece.possible
            continue
        for net, where in spread(at, seed, piece.possible, anchored.__contains__).items():
            if net in anchored:
                touched[net] = touched.get(net, 0) | where
    return touched


def _clusters(
    piece: LinkPiece, nets: Sequence[int], touched: Mapping[int, int]
) -> Iterator[tuple[Clusters, int]]:
    """Two clusters or more that are gathered, and when."""
    gathered = {net: reach(piece.gathering, net, piece.possible) for net in nets}
    held = {net: piece.apart(net, gathered[net]) for net in nets}
    for number, first in enumerate(nets):
        fresh = piece.possible & touched.get(first, 0)
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
