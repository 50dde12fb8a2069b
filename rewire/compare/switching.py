"""While switching: gaps and bridges (contract, 'While switching', 4 and 5)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import (
    QUESTIONS,
    Bond,
    Moving,
    controls_of,
    in_step,
    moving,
    spread,
)
from rewire.circuit.graph import BlockTree, CandidatePairs, Ends, Link, PairsIn
from rewire.circuit.states import Frame, States
from rewire.compare.facts import Found, Move, StepFacts
from rewire.compare.timing import Assumption
from rewire.compare.twins import TimingOf, Twins
from rewire.compare.views import Sight, Views, whole_keys
from rewire.records.spec import Control


@dataclass(frozen=True)
class Timed:
    """Two wirings under one reading of the timings."""

    views: Views
    assumed: Assumption

    @cached_property
    def lost(self) -> Twins:
        """The original's contacts held against the other wiring's."""
        return _twins(self.views.down, self.assumed.likeness)

    @cached_property
    def gained(self) -> Twins:
        """The other wiring's contacts held against the original's."""
        return _twins(self.views.up, lambda c, first: self.assumed.likeness(c, not first))


def gap_facts(timed: Timed, states: States, control: Control, facts: StepFacts) -> None:
    """Ties that the original holds through a move and the other wiring lets go of."""
    sight, assumed = timed.views.down, timed.assumed
    if not timed.lost.without:
        return
    shorts = (
        lambda n: assumed.breaks(sight.first.contacts[n], original=True),
        lambda n: assumed.breaks(sight.whole.contacts[n], original=False),
    )
    for pair, move, touch in suspects(sight, control, timed.lost, CandidatePairs.held):
        if not pair.legs_in_whole:
            continue
        frame, touched = pair.touched(move, touch, states)
        here = pair.here(frame, move, shorts[0])
        mask = touched and touched & here.before(*pair.nets) & here.after(*pair.nets)
        if not mask:
            continue
        there = pair.there(frame, move, shorts[1])
        mask &= there.before(*pair.merged) & there.after(*pair.merged)
        for question in QUESTIONS if mask else ():
            mask = mask and mask & ~question(there).always(*pair.merged)
            lost = mask and mask & question(here).always(*pair.nets)
            facts.add("gap", pair.groups, move, Found(frame, lost, question is in_step))


def bridge_facts(timed: Timed, states: States, control: Control, facts: StepFacts) -> None:
    """Ties that exist only for a moment in the other wiring, and never in the original."""
    sight, assumed = timed.views.up, timed.assumed
    if not timed.gained.without:
        return
    shorts = (
        lambda n: assumed.bridges(sight.first.contacts[n], original=False),
        lambda n: assumed.bridges(sight.whole.contacts[n], original=True),
    )
    for pair, move, touch in suspects(sight, control, timed.gained, CandidatePairs.met):
        if pair.merged[0] == pair.merged[1] or not crosses(pair.links, sight.first.contacts, move):
            continue
        frame, touched = pair.touched(move, touch, states)
        here = pair.here(frame, move, shorts[0])
        mask = touched and touched & ~here.before(*pair.nets) & ~here.after(*pair.nets)
        if not mask:
            continue
        there = pair.there(frame, move, shorts[1])
        for question in QUESTIONS:
            mask = mask and mask & question(here).ever(*pair.nets)
            met = mask and mask & ~question(there).ever(*pair.merged)
            facts.add("bridge", pair.groups, move, Found(frame, met, question is in_step))


def crosses(links: Sequence[Link], contacts: Sequence[Contact], move: Move) -> bool:
    """Whether some link opens and some other closes in a move, or one is passed over.

    Else the most that can be closed in between is what is closed before or after.
    """
    control, before, after = move
    opening = closing = False
    for link in links:
        if contacts[link.contact].control == control:
            was, will = link.positions >> before & 1, link.positions >> after & 1
            opening |= bool(was and not will)
            closing |= bool(will and not was)
            if (opening and closing) or (before, after) in link.passed:
                return True
    return False


def _twins(sight: Sight, timing_of: TimingOf) -> Twins:
    """The first's contacts held against those of the second made whole."""
    return Twins(sight.first, sight.whole, sight.key_in_first, whole_keys(sight), timing_of)


@dataclass(frozen=True)
class Touch:
    """Anchored nets that touch a move of one wiring, and when."""

    directly: frozenset[int]
    regions: Mapping[int, Sequence[Link]]
    """Per anchored net next to a region: the standing links it may reach a moving lug by."""
    seeds: frozenset[int]
    """Nets without anchors on which a moving section has a lug it closes."""

    @cached_property
    def nets(self) -> frozenset[int]:
        """All that may touch."""
        return frozenset((*self.directly, *self.regions))

    def controls(self, net: int, contacts: Sequence[Contact]) -> set[str]:
        """Controls that decide whether a net touches."""
        return set() if net in self.directly else controls_of(self.regions[net], contacts)

    def states(
        self,
        net: int,
        contacts: Sequence[Contact],
        frame: Frame,
        move: Move,
        anchored: Callable[[int], bool],
    ) -> int:
        """States of the others in which an anchored net touches the move."""
        if net in self.directly:
            return frame.full
        if net not in self.regions:
            return 0
        at: dict[int, list[Bond]] = {}
        for bond in moving(self.regions[net], contacts, frame, move, _as_it_stands).still:
            for place in bond[0]:
                at.setdefault(place, []).append(bond)
        found = spread(at, net, frame.full, stops=anchored)
        mask = 0
        for place in self.seeds & found.keys():
            mask |= found[place]
        return mask


def _as_it_stands(number: int) -> bool:  # noqa: ARG001
    """Nothing that moves is asked about here, so no timing matters."""
    return False


def touch_of(
    view: ContactGraph, anchored: Mapping[int, object], movers: tuple[int, ...], ends: Ends
) -> Touch:
    """Which anchored nets may touch a move of ``movers`` (numbers of contacts)."""
    moving = [view.contacts[number] for number in movers]
    closing = {place for contact in moving for place in contact.closing(ends)}
    seeds = {place for place in closing if place not in anchored}
    regions: dict[int, list[Link]] = {}
    reached: set[int] = set()
    for seed in sorted(seeds):
        if seed in reached:
            continue
        links, border = _region(view, anchored, movers, seed, reached)
        for net in border:
            regions.setdefault(net, []).extend(links)
    return Touch(frozenset(closing - seeds), regions, frozenset(seeds))


def _region(
    view: ContactGraph,
    anchored: Mapping[int, object],
    movers: tuple[int, ...],
    seed: int,
    reached: set[int],
) -> tuple[list[Link], set[int]]:
    """Standing links around a net without anchors, as far as anchored nets stop them."""
    links: dict[int, Link] = {}
    border: set[int] = set()
    reached.add(seed)
    waiting = [seed]
    while waiting:
        for link in view.links_at.get(waiting.pop(), ()):
            if link.contact in movers or id(link) in links:
                continue
            links[id(link)] = link
            for place in link.places:
                if place in anchored:
                    border.add(place)
                elif place not in reached:
                    reached.add(place)
                    waiting.append(place)
    return list(links.values()), border


@dataclass(frozen=True)
class Pair:
    """Two nets of the first that may touch a move, with the ways between them."""

    sight: Sight
    nets: tuple[int, int]

    @cached_property
    def legs(self) -> tuple[int, ...]:
        """The blocks between them in the first."""
        return self.sight.first.tree.path(*self.nets)

    @cached_property
    def links(self) -> list[Link]:
        """What can lie between them in the first."""
        return links_on(self.sight.first.tree, self.legs)

    @cached_property
    def legs_in_whole(self) -> tuple[int, ...]:
        """The blocks between them in the second made whole; none if they can't be tied there."""
        ways = self.sight.whole.tree
        return ways.path(*self.merged) if ways.linked(*self.merged) else ()

    @cached_property
    def links_in_whole(self) -> list[Link]:
        """What can lie between them in the second made whole."""
        return links_on(self.sight.whole.tree, self.legs_in_whole)

    @property
    def merged(self) -> tuple[int, int]:
        """Their places in the second made whole."""
        return self.sight.merged[self.nets[0]], self.sight.merged[self.nets[1]]

    @property
    def groups(self) -> list[tuple[str, ...]]:
        """Their anchors."""
        return [self.sight.anchors[net] for net in self.nets]

    def touched(self, move: Move, touch: Touch, states: States) -> tuple[Frame, int]:
        """The frame of a move, and the states of the others in which both nets touch it."""
        first = self.sight.first
        names = controls_of(self.links, first.contacts)
        names |= controls_of(self.links_in_whole, self.sight.whole.contacts)
        names = names.union(*(touch.controls(net, first.contacts) for net in self.nets))
        asking = f"moving {move[0]}: the ways between " + " and ".join(
            group[0] for group in self.groups
        )
        frame = states.frame(names - {move[0]}, asking)
        mask = states.possible_steps(frame, *move)
        for net in self.nets:
            mask &= touch.states(net, first.contacts, frame, move, self.sight.anchors.__contains__)
        return frame, mask

    def here(self, frame: Frame, move: Move, shorts: Callable[[int], bool]) -> Moving:
        """The ways in the first, in a move."""
        return moving(self.links, self.sight.first.contacts, frame, move, shorts)

    def there(self, frame: Frame, move: Move, shorts: Callable[[int], bool]) -> Moving:
        """The ways in the second made whole, in a move."""
        return moving(self.links_in_whole, self.sight.whole.contacts, frame, move, shorts)


def suspects(
    sight: Sight, control: Control, twins: Twins, pairs_in: PairsIn
) -> Iterator[tuple[Pair, Move, Touch]]:
    """Pairs that may touch a move, with a contact on the way that has no twin in it.

    Args:
        sight: whose first wiring is asked about.
        control: what moves.
        twins: the first's contacts held against the second's.
        pairs_in: the pairs that a move can be about.
    """
    view = sight.first
    touches = _touches(sight, control)
    nets = sorted({net for touch in touches.values() for net in touch.nets})
    if twins.blocks.isdisjoint(view.tree.blocks_between(nets)):
        return
    crowd = CandidatePairs(view.tree, view.links_by_control.get(control.name, ()), nets)
    known: dict[tuple[int, int], Pair] = {}
    for move, touch in touches.items():
        for nets_of_pair in pairs_in(crowd, *move[1:]):
            if not touch.nets.issuperset(nets_of_pair):
                continue
            if nets_of_pair not in known:
                known[nets_of_pair] = Pair(sight, nets_of_pair)
            pair = known[nets_of_pair]
            if twins.differ(pair.legs, move):
                yield pair, move, touch


def _touches(sight: Sight, control: Control) -> dict[Move, Touch]:
    """Which nets may touch each move of a control in which something moves."""
    view = sight.first
    numbers = view.contacts_by_control.get(control.name, ())
    touches: dict[Move, Touch] = {}
    known: dict[tuple[tuple[int, ...], object], Touch] = {}
    for step in control.steps():
        movers = tuple(n for n in numbers if view.contacts[n].moves(*step))
        passing = any(step in view.contacts[n].passing for n in movers)
        key = movers, passing and step
        if movers and key not in known:
            known[key] = touch_of(view, sight.anchors, movers, step)
        if movers:
            touches[(control.name, *step)] = known[key]
    return touches


def links_on(ways: BlockTree, legs: Sequence[int]) -> list[Link]:
    """All links of the blocks on a path."""
    return [link for block in legs for link in ways.in_block[block]]
