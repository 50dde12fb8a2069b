"""At rest: what is dropped, inserted or joined (contract, 'Comparing … at rest')."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.circuit import ContactGraph
from rewire.circuit.connectivity import Spreads, bonds_at_rest, controls_of, partitions
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Joiner, Link
from rewire.circuit.states import Frame, States
from rewire.compare.facts import RestFacts
from rewire.compare.findings import FindingKind
from rewire.compare.linked import linked_facts
from rewire.compare.timing import timing_aside
from rewire.compare.twins import Twins
from rewire.compare.views import Sight, Views, pairs_of, whole_keys


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
        """Facts as the contract counts them."""
        found = (self.in_nets, self.in_pairs, self.linked)
        return sum(facts.count(states) for facts in found)


def rest_facts(views: Views, states: States) -> AtRest:
    """Everything found at rest between two wirings."""
    found = AtRest(RestFacts(), RestFacts(), linked_facts(views, states))
    for sight, kinds in ((views.down, DOWN), (views.up, UP)):
        for net in sight.anchors:
            net_facts(sight, net, kinds, states, found.in_nets)
        pair_facts(sight, contact_pairs(sight), kinds, states, found.in_pairs)
    return found


def net_facts(sight: Sight, net: int, kinds: Kinds, states: States, facts: RestFacts) -> None:
    """Step 1: the anchors of one net that are not all tied in the second wiring."""
    anchors = sight.anchors[net]
    places = list(dict.fromkeys(sight.seat[anchor] for anchor in anchors))
    if len(places) == 1:
        return
    view = sight.second
    links = view.tree_with_bars.between(places)
    frame = states.frame(controls_of(links, view.contacts), f"the net of {anchors[0]}")
    bonds = bonds_at_rest(_contacts_only(links), view.contacts, frame)
    with_bars = bonds_at_rest(links, view.contacts, frame)
    at_place = {place: [a for a in anchors if sight.seat[a] == place] for place in places}
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


def contact_pairs(sight: Sight) -> Iterator[tuple[int, int]]:
    """Step 2: nets of the first that contacts without a twin may tie directly.

    Contacts with a twin in the second tie the same places there, so pairs tied
    over twins alone are never lost and are not looked at.
    """
    view = sight.first
    fresh = Twins(view, sight.whole, sight.key_in_first, whole_keys(sight), timing_aside).without
    seen: set[tuple[int, int]] = set()
    for places in _direct_places(view, sight.anchors.keys(), fresh):
        for pair in pairs_of(places):
            if pair not in seen:
                seen.add(pair)
                yield pair


def _direct_places(
    view: ContactGraph, anchored: Iterable[int], fresh: frozenset[int]
) -> Iterator[set[int]]:
    """Sets of anchored nets that contacts may tie over nets without anchors."""
    anchored = set(anchored)
    top = max((place for link in view.links for place in link.places), default=-1)
    joiner = Joiner(top + 1)
    for link in view.links:
        joiner.join([place for place in link.places if place not in anchored])
    borders: dict[int, set[int]] = {}
    worth: set[int] = set()
    for link in view.links:
        border = {place for place in link.places if place in anchored}
        loose = next((place for place in link.places if place not in anchored), None)
        if loose is None:
            if link.contact in fresh:
                yield border
            continue
        region = joiner.root(loose)
        borders.setdefault(region, set()).update(border)
        if link.contact in fresh:
            worth.add(region)
    yield from (borders[region] for region in sorted(worth))


def pair_facts(
    sight: Sight,
    pairs: Iterable[tuple[int, int]],
    kinds: Kinds,
    states: States,
    facts: RestFacts,
) -> None:
    """Two nets of the first that are directly tied, but not tied in the second made whole."""
    between: dict[Blocks, Between] = {}
    for pair in pairs:
        a, b = sight.merged[pair[0]], sight.merged[pair[1]]
        blocks = _blocks(sight.first.tree, pair), _blocks(sight.whole.tree_with_bars, (a, b))
        if a == b:
            continue
        groups = [sight.anchors[net] for net in pair]
        if blocks not in between:
            asking = f"the ways between {groups[0][0]} and {groups[1][0]}"
            between[blocks] = _between(sight, blocks, states, asking)
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


def _between(sight: Sight, blocks: Blocks, states: States, asking: str) -> Between:
    first, whole = sight.first, sight.whole
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
            stops=sight.anchors.__contains__,
        ),
        kept=Spreads(kept, possible),
        linked=Spreads(bonds_at_rest(links, whole.contacts, frame), possible),
    )


def _contacts_only(links: Iterable[Link]) -> list[Link]:
    return [link for link in links if link.contact != NO_SECTION or link.positions != ALWAYS]
