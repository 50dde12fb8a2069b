"""While switching: gaps and bridges (contract, 'While switching', 4 and 5)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from rewire.circuit.contacts import Contact, Link
from rewire.circuit.glances import Glances
from rewire.circuit.states import Frame, States
from rewire.circuit.ties import Bond, Moving, controls_of, moving, spread
from rewire.circuit.ways import Leg, Ways
from rewire.compare.facts import Move, StepFacts
from rewire.compare.timing import Assumption
from rewire.compare.twins import TimingOf, Twins
from rewire.compare.views import Sight, View, Views, pairs_of, whole_keys
from rewire.spec.model import Control


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
    whole = sight.whole
    rich = rich_blocks(whole, control.name)
    if not rich or not timed.lost.without:
        return
    shorts = (
        lambda n: assumed.breaks(sight.first.contacts[n], original=True),
        lambda n: assumed.breaks(whole.contacts[n], original=False),
    )
    here_at_a_glance = Glances(sight.first.ways, sight.first.contacts, control.name)
    there_at_a_glance = Glances(whole.ways, whole.contacts, control.name)

    def worth(pair: Pair, before: int, after: int) -> bool:
        return (
            timed.lost.differ(pair.blocks, (control.name, before, after))
            and there_at_a_glance.may_let_go(pair.legs_in_whole, before, after)
            and here_at_a_glance.may_be_tied(pair.legs, 1 << before)
            and here_at_a_glance.may_be_tied(pair.legs, 1 << after)
        )

    for pair in candidates(sight, control, timed.lost.blocks):
        if rich.isdisjoint(leg.block for leg in pair.legs_in_whole):
            continue
        for move, frame, touched in pair.steps(control, states, worth):
            here = pair.here(frame, move, shorts[0])
            mask = touched & here.always(*pair.nets)
            if not mask:
                continue
            there = pair.there(frame, move, shorts[1])
            mask &= there.before(*pair.merged) & there.after(*pair.merged)
            if mask:
                mask &= ~there.always(*pair.merged)
            facts.add("gap", pair.groups, move, frame, mask)


def bridge_facts(timed: Timed, states: States, control: Control, facts: StepFacts) -> None:
    """Ties that exist only for a moment in the other wiring, and never in the original."""
    sight, assumed = timed.views.up, timed.assumed
    if not timed.gained.without or lone_breaking_section(sight.first, control.name, assumed):
        return
    shorts = (
        lambda n: assumed.bridges(sight.first.contacts[n], original=False),
        lambda n: assumed.bridges(sight.whole.contacts[n], original=True),
    )
    glances = Glances(sight.first.ways, sight.first.contacts, control.name)

    def worth(pair: Pair, before: int, after: int) -> bool:
        return timed.gained.differ(pair.blocks, (control.name, before, after)) and glances.may_meet(
            pair.legs, before, after
        )

    for pair in candidates(sight, control, timed.gained.blocks):
        if pair.merged[0] == pair.merged[1]:
            continue
        for move, frame, touched in pair.steps(control, states, worth):
            if not crosses(pair.links, sight.first.contacts, move):
                continue
            here = pair.here(frame, move, shorts[0])
            mask = touched & here.ever(*pair.nets)
            mask &= ~here.before(*pair.nets) & ~here.after(*pair.nets)
            if mask:
                mask &= ~pair.there(frame, move, shorts[1]).ever(*pair.merged)
            facts.add("bridge", pair.groups, move, frame, mask)


def rich_blocks(view: View, control: str) -> frozenset[int]:
    """Blocks in which a control moves several links: only these can let go in between.

    A link closed before and after is held in between, and what stands still
    stays, so a block with one moving link keeps what it ties at both ends.
    """
    count: dict[int, int] = {}
    for link in view.links_by_control.get(control, ()):
        block = view.ways.block_of(link)
        count[block] = count.get(block, 0) + 1
    return frozenset(block for block, links in count.items() if links > 1)


def lone_breaking_section(view: View, control: str, assumed: Assumption) -> bool:
    """Whether all that a control moves is one non-shorting section of the other wiring.

    Such a section links no more in between than before or after.
    """
    numbers = view.contacts_by_control.get(control, ())
    return len(numbers) == 1 and not any(
        assumed.bridges(view.contacts[number], original=False) for number in numbers
    )


def _twins(sight: Sight, timing_of: TimingOf) -> Twins:
    """The first's contacts held against those of the second made whole."""
    return Twins(sight.first, sight.whole, sight.key_in_first, whole_keys(sight), timing_of)


def crosses(links: Sequence[Link], contacts: Sequence[Contact], move: Move) -> bool:
    """Whether some link opens and some other closes in a move.

    Without both, the most that can be closed in between is what is closed
    before or after.
    """
    control, before, after = move
    opening = closing = False
    for link in links:
        if contacts[link.contact].control == control:
            was, will = link.positions >> before & 1, link.positions >> after & 1
            opening |= bool(was and not will)
            closing |= bool(will and not was)
    return opening and closing


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


def touch(view: View, anchored: Mapping[int, object], movers: tuple[int, ...]) -> Touch:
    """Which anchored nets may touch a move of ``movers`` (numbers of contacts)."""
    closing = {place for number in movers for place in view.contacts[number].closing}
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
    view: View,
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


@dataclass(slots=True)
class Pair:
    """Two nets of the first that may touch a move, with the ways between them."""

    sight: Sight
    nets: tuple[int, int]
    legs: Sequence[Leg]
    links: Sequence[Link]
    touches: Mapping[tuple[int, int], Touch]
    legs_in_whole: tuple[Leg, ...] = field(init=False)
    links_in_whole: Sequence[Link] = field(init=False)

    def __post_init__(self) -> None:
        a, b = self.merged
        ways = self.sight.whole.ways
        if a == b or not ways.linked(a, b):
            self.legs_in_whole, self.links_in_whole = (), ()
            return
        self.legs_in_whole = ways.legs(a, b)
        self.links_in_whole = links_on(ways, self.legs_in_whole)

    @property
    def merged(self) -> tuple[int, int]:
        """Their places in the second made whole."""
        return self.sight.merged[self.nets[0]], self.sight.merged[self.nets[1]]

    @property
    def blocks(self) -> list[int]:
        """Blocks of the first on the ways between them."""
        return [leg.block for leg in self.legs]

    @property
    def groups(self) -> list[tuple[str, ...]]:
        """Their anchors."""
        return [self.sight.anchors[net] for net in self.nets]

    def steps(
        self, control: Control, states: States, worth: Callable[[Pair, int, int], bool]
    ) -> Iterator[tuple[Move, Frame, int]]:
        """Moves worth a look that both may touch, and the states of the others in which they do."""
        first = self.sight.first
        fixed = controls_of(self.links, first.contacts)
        fixed |= controls_of(self.links_in_whole, self.sight.whole.contacts)
        asking = f"moving {control.name}: the ways between " + " and ".join(
            group[0] for group in self.groups
        )
        for (before, after), touched in self.touches.items():
            if not worth(self, before, after) or not touched.nets.issuperset(self.nets):
                continue
            names = fixed.union(*(touched.controls(net, first.contacts) for net in self.nets))
            frame = states.frame(names - {control.name}, asking)
            move = control.name, before, after
            mask = states.possible_steps(frame, *move)
            for net in self.nets:
                mask &= touched.states(
                    net, first.contacts, frame, move, self.sight.anchors.__contains__
                )
            if mask:
                yield move, frame, mask

    def here(self, frame: Frame, move: Move, shorts: Callable[[int], bool]) -> Moving:
        """The ways in the first, in a move."""
        return moving(self.links, self.sight.first.contacts, frame, move, shorts)

    def there(self, frame: Frame, move: Move, shorts: Callable[[int], bool]) -> Moving:
        """The ways in the second made whole, in a move."""
        return moving(self.links_in_whole, self.sight.whole.contacts, frame, move, shorts)


def candidates(sight: Sight, control: Control, fresh: frozenset[int]) -> Iterator[Pair]:
    """Pairs that may touch a move, with a contact on the way that has no twin."""
    if not fresh:
        return
    view = sight.first
    numbers = view.contacts_by_control.get(control.name, ())
    touches: dict[tuple[int, int], Touch] = {}
    known: dict[tuple[int, ...], Touch] = {}
    for step in control.steps():
        movers = tuple(n for n in numbers if view.contacts[n].moves(*step))
        if not movers:
            continue
        if movers not in known:
            known[movers] = touch(view, sight.anchors, movers)
        touches[step] = known[movers]
    nets = {net for found in known.values() for net in found.nets}
    if fresh.isdisjoint(view.ways.blocks_between(sorted(nets))):
        return
    for a, b in pairs_of(nets):
        if not view.ways.linked(a, b):
            continue
        legs = view.ways.legs(a, b)
        if not fresh.isdisjoint(leg.block for leg in legs):
            yield Pair(sight, (a, b), legs, links_on(view.ways, legs), touches)


def links_on(ways: Ways, legs: Sequence[Leg]) -> list[Link]:
    """All links of the blocks on a path."""
    return [link for leg in legs for link in ways.in_block[leg.block]]
