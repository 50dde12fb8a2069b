"""While switching: between which nets and points something lets go, or meets, for a moment.

Two questions are put to two kinds of graph. Between nets, contacts alone count: a *gap* is a
connection that the original holds through a move and the other wiring lets go of; a *bridge* is
one that the other wiring makes for a moment and the original never. Between points, parts count
too: a path for current is then *interrupted*, or *stray*.

Gaps and bridges are sought between nets that a moving section closes or that reach one;
interruptions and strays between points on, or behind, the places at which the paths that a
control moves begin and end.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from itertools import product
from math import prod

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import (
    QUESTIONS,
    Moving,
    beside,
    bonds_at_rest,
    connected,
    controls_of,
    in_step,
    moving,
    spread,
)
from rewire.circuit.graph import CandidatePairs, Link, PairsIn, Places, by_first
from rewire.circuit.states import MOST_STATES, Frame, States, widen
from rewire.compare.comparison import Comparison, Direction, Flow, Unlike, unlike_flows
from rewire.compare.findings import FindingKind, FoundIn, Groups, Move, StepFacts, in_order
from rewire.records.spec import Control, Spec, Wiring
from rewire.records.switches import Switch

Pair = tuple[int, int]
"""Two places."""


def step_facts(both: Comparison, states: States) -> StepFacts:
    """Everything found while switching, under each reading of the timings."""
    found: StepFacts = {}
    for assumed in assumptions(both.spec, both.other):
        search = SwitchingSearch(both, states, assumed)
        for control in both.spec.controls.values():
            for kinds in (BREAKS, MEETINGS):
                search.between_nets(kinds, control)
            for kinds in (BREAKS, MEETINGS):
                search.between_points(kinds, control)
        for key, facts in search.facts.items():
            found.setdefault(key, []).extend(facts)
    return found


@dataclass(frozen=True, slots=True)
class Assumption:
    """One reading of the timings that are not known, to the disadvantage of the other wiring.

    A switch that is the same in both wirings (``alike``) is taken alike in both. Any other is
    read against the other wiring: where a break would be found, the original as shorting and the
    other as non-shorting; where a bridge would, the reverse.
    """

    alike: frozenset[str]
    alike_shorting: bool

    def shorting(self, contact: Contact, unknown: bool) -> bool:
        """Whether a contact is taken as shorting; ``unknown`` says how an unknown one is taken."""
        timing = contact.section.timing
        if timing != "unknown":
            return timing == "shorting"
        return self.alike_shorting if contact.switch in self.alike else unknown

    def likeness(self, contact: Contact, first: bool) -> object:
        """What two contacts must have in common to be timed alike whatever is asked."""
        timing = contact.section.timing
        return timing if timing != "unknown" or contact.switch in self.alike else (timing, first)

    def unlikeness(self, contact: Contact, first: bool) -> object:
        """The same where the other wiring is looked at first."""
        return self.likeness(contact, not first)


def assumptions(spec: Spec, other: Wiring) -> Iterator[Assumption]:
    """The readings of unknown timings to try; what any of them finds counts."""
    here, there = spec.all_of(Switch, spec.original), spec.all_of(Switch, other)
    common = here.keys() & there.keys()
    alike = frozenset(n for n in common if _character(here[n]) == _character(there[n]))
    yield Assumption(alike, alike_shorting=True)
    if any(s.timing == "unknown" for name in alike for s in there[name].sections):
        yield Assumption(alike, alike_shorting=False)


def _character(switch: Switch) -> object:
    """All of a switch that its contacts and its timing depend on."""
    sections = frozenset(
        (frozenset(s.lugs), tuple(frozenset(map(frozenset, at)) for at in s.groups), s.timing)
        for s in switch.sections
    )
    return switch.control, frozenset(switch.terminals), sections


@dataclass(frozen=True)
class Span:
    """Two places of one wiring between which something is asked."""

    graph: ContactGraph
    ends: Pair
    besides: Sequence[tuple[Places, FoundIn]] = ()
    """Places that count as connected besides, and the states of the others in which they do."""

    @cached_property
    def links(self) -> list[Link]:
        """Links on any path between the ends, over what counts as connected too."""
        return self.graph.tree.between((*self.ends, *(p for one in self.besides for p in one[0])))

    @property
    def controls(self) -> set[str]:
        """Controls that can matter."""
        return controls_of(self.links).union(*(found.frame.names for _, found in self.besides))

    def mended(self, scene: Moving, frame: Frame) -> Moving:
        """A move with what counts as connected besides."""
        bonds = ((places, widen(at.frame, at.mask, frame)) for places, at in self.besides)
        return replace(scene, still=(*scene.still, *bonds))


@dataclass(frozen=True)
class Passage:
    """Two ends and everything between them while one control moves, in both wirings."""

    spans: tuple[Span, Span]
    """In the original, in the other wiring."""
    frame: Frame
    move: Move
    kinds: Kinds
    assumed: Assumption

    @cached_property
    def scenes(self) -> tuple[Moving, Moving]:
        """The original in the move, and the other wiring."""
        here, there = self.spans
        return self._moving(here, self.kinds.breaks), self._moving(there, not self.kinds.breaks)

    def _moving(self, span: Span, unknown_shorts: bool) -> Moving:
        contacts = span.graph.contacts

        def shorting(number: int) -> bool:
            return self.assumed.shorting(contacts[number], unknown_shorts)

        return moving(span.links, contacts, self.frame, self.move, shorting)

    def found(self, asked: int) -> Iterator[FoundIn]:
        """When it happens, out of some states of the others.

        A break: both wirings connect the ends before and after, the original all the way, the
        other not. A meeting: neither connects them before or after, the other on the way, the
        original never.
        """
        breaks, (here, there) = self.kinds.breaks, (span.ends for span in self.spans)
        for scene, ends in zip(self.scenes[::-1], (there, here), strict=True):
            for at_rest in (scene.before, scene.after):
                asked = asked and asked & (at_rest(*ends) if breaks else ~at_rest(*ends))
        if not asked:
            return
        mended = [
            span.mended(s, self.frame) for span, s in zip(self.spans, self.scenes, strict=True)
        ]
        for question in QUESTIONS:
            original, other = map(question, mended)
            if breaks:
                asked = asked and asked & ~other.always(*there)
                mask = asked and asked & original.always(*here)
            else:
                asked = asked and asked & other.ever(*there)
                mask = asked and asked & ~original.ever(*here)
            if mask:
                yield FoundIn(self.frame, mask, question is in_step)


@dataclass(frozen=True, slots=True)
class Kinds:
    """One of the two questions, with the kinds of finding that it leads to."""

    of_nets: FindingKind
    of_points: FindingKind
    pairs_in: PairsIn
    breaks: bool
    """Whether something lets go. Then the original is shorting where a timing is unknown, and the
    other wiring not; else the other way."""


BREAKS = Kinds("gap", "interrupted", CandidatePairs.held, breaks=True)
MEETINGS = Kinds("bridge", "stray", CandidatePairs.met, breaks=False)


@dataclass(frozen=True, slots=True)
class Gate:
    """Two places at which the paths that a control moves begin and end."""

    places: Pair
    points: tuple[str, str] | None
    """A point on each; None if one has none, or if points of one are apart in the original."""
    unlike: bool


@dataclass(frozen=True)
class SwitchingSearch:
    """Looks for what happens while switching, under one reading of the timings."""

    both: Comparison
    states: States
    assumed: Assumption
    facts: StepFacts = field(default_factory=dict)

    def _note(
        self, kind: FindingKind, groups: Iterable[tuple[str, ...]], found: FoundIn, move: Move
    ) -> None:
        self.facts.setdefault((kind, move), []).append((in_order(groups), found))

    def _passage(
        self, kinds: Kinds, spans: tuple[Span, Span], move: Move, asking: str, names: set[str]
    ) -> Passage:
        """A question over the controls on both spans, and those that say when it is asked."""
        names = names.union(*(span.controls for span in spans)) - {move[0]}
        frame = self.states.frame(names, f"moving {move[0]}: the paths between {asking}")
        return Passage(spans, frame, move, kinds, self.assumed)

    def _candidates(
        self, graph: ContactGraph, control: Control, places: Sequence[int]
    ) -> CandidatePairs:
        """Pairs of places that a control may connect, with any timing that is not known."""
        contacts, moved = graph.contacts, graph.links_by_control.get(control.name, ())
        return CandidatePairs(
            graph.tree, moved, places, lambda n: self.assumed.shorting(contacts[n], True)
        )

    # Between nets

    @cached_property
    def _unlike_nets(self) -> Mapping[FindingKind, frozenset[int]]:
        """Blocks of the wiring whose connections are asked about with an unlike contact."""
        down, up = self.both.down, self.both.up
        return {
            "gap": down.first.blocks_of(down.unlike(self.assumed.likeness)),
            "bridge": up.first.blocks_of(up.unlike(self.assumed.unlikeness)),
        }

    def between_nets(self, kinds: Kinds, control: Control) -> None:
        """Gaps, or bridges: of nets that both have a lug in a move, or reach one."""
        way = self.both.down if kinds.breaks else self.both.up
        fresh, tree = self._unlike_nets[kinds.of_nets], way.first.tree
        reaching = reaching_by_move(way, control) if fresh else {}
        nets = sorted({net for one in reaching.values() for net in one.nets})
        if fresh.isdisjoint(tree.blocks_between(nets)):
            return
        candidates = self._candidates(way.first, control, nets)
        differing: dict[Pair, bool] = {}
        for move, one in reaching.items():
            for pair in kinds.pairs_in(candidates, *move[1:]):
                if not one.nets.issuperset(pair):
                    continue
                if pair not in differing:
                    differing[pair] = not fresh.isdisjoint(tree.path(*pair))
                if differing[pair]:
                    self._two_nets(kinds, way, pair, move, one)

    def _two_nets(
        self, kinds: Kinds, way: Direction, nets: Pair, move: Move, reaching: Reaching
    ) -> None:
        first = Span(way.first, nets)
        whole = Span(way.whole, (way.merged[nets[0]], way.merged[nets[1]]))
        spans = (first, whole) if kinds.breaks else (whole, first)
        there = spans[1]
        if whole.ends[0] == whole.ends[1] or not there.graph.tree.linked(*there.ends):
            return
        groups = [way.anchors[net] for net in nets]
        asking = f"{groups[0][0]} and {groups[1][0]}"
        passage = self._passage(kinds, spans, move, asking, reaching.controls(nets))
        asked = self.states.possible_steps(passage.frame, *move)
        for net in nets:
            asked &= reaching.states(net, passage.frame, move)
        for found in passage.found(asked):
            self._note(kinds.of_nets, groups, found, move)

    # Between points

    @cached_property
    def _unlike_flows(self) -> Mapping[FindingKind, Unlike]:
        here, there = self.both.flows
        return {
            "interrupted": unlike_flows(here, there, self.assumed.likeness),
            "stray": unlike_flows(there, here, self.assumed.unlikeness),
        }

    @cached_property
    def _standing(self) -> StandingSide:
        return StandingSide(self.both, self.states)

    def between_points(self, kinds: Kinds, control: Control) -> None:
        """Interrupted paths, or strays: between what is behind the places that a move links.

        What is behind stands still, so that the two places speak for it, but for points that
        the two wirings do not connect to them alike.
        """
        unlike, graph = self._unlike_flows[kinds.of_points], self.both.flows[1].graph
        moved = graph.blocks_by_control.get(control.name, frozenset())
        if not moved or not (unlike.split or unlike.blocks):
            return
        places = sorted({place for block in moved for place in graph.tree.places_in[block]})
        candidates = self._candidates(graph, control, places)
        gates: dict[Pair, Gate | None] = {}
        for move in _moves(graph, control):
            for pair in kinds.pairs_in(candidates, *move[1:]):
                if pair not in gates:
                    gates[pair] = self._gate(pair, moved, unlike)
                gate = gates[pair]
                if gate is not None and (
                    gate.unlike or any(self._standing.new(move[0], place) for place in pair)
                ):
                    self._behind(kinds, gate, move)

    def _gate(self, places: Pair, moved: frozenset[int], unlike: Unlike) -> Gate | None:
        """Two places as a gate, if the path between them begins and ends at moving contacts."""
        flow = self.both.flows[1]
        tree = flow.graph.tree
        path = tree.path(*places) if tree.linked(*places) else ()
        if not path or path[0] not in moved or path[-1] not in moved:
            return None
        found = [min(flow.points_at.get(place, [""])) for place in places]
        if not all(found) or not self._unlike_flows["stray"].split.isdisjoint(places):
            return Gate(places, None, True)
        points = found[0], found[1]
        return Gate(places, points, unlike.between(points))

    def _behind(self, kinds: Kinds, gate: Gate, move: Move) -> None:
        """What a move does between the points behind a gate.

        If the points of the gate itself are no fact, only those can be that the two wirings do
        not connect to it alike.
        """
        unlike, name = self._unlike_flows[kinds.of_points], move[0]
        settled = not gate.unlike
        if gate.points is not None and gate.unlike:
            settled = not self._between(kinds, gate.points, move)
        sides = [self._standing.side(name, place) for place in gate.places]
        new = [self._standing.new(name, place) if settled else () for place in gate.places]
        rest = [point for point in sides[0] if point not in new[0]]
        pairs = [*product(new[0], sides[1]), *product(rest, new[1] if settled else sides[1])]
        for pair in pairs:
            for found in self._between(kinds, pair, move) if unlike.between(pair) else ():
                self._note(kinds.of_points, [(p,) for p in pair], found, move)

    def _between(self, kinds: Kinds, points: tuple[str, str], move: Move) -> list[FoundIn]:
        """What a move does between two points, gaps or bridges of the same move allowed for."""
        found = self._ask(kinds, points, move, ())
        besides = self.facts.get((kinds.of_nets, move), ())
        return self._ask(kinds, points, move, besides) if found and besides else found

    def _ask(
        self,
        kinds: Kinds,
        points: tuple[str, str],
        move: Move,
        besides: Sequence[tuple[Groups, FoundIn]],
    ) -> list[FoundIn]:
        here, there = (
            Span(
                flow.graph,
                (flow.points[points[0]], flow.points[points[1]]),
                [(_places(flow, groups), at) for groups, at in besides if kinds.breaks is mended],
            )
            for flow, mended in zip(self.both.flows, (False, True), strict=True)
        )
        passage = self._passage(kinds, (here, there), move, " and ".join(points), set())
        return list(passage.found(self.states.possible_steps(passage.frame, *move)))


def _places(flow: Flow, groups: Groups) -> tuple[int, ...]:
    """The places of all the anchors that a gap or bridge names."""
    return tuple(dict.fromkeys(flow.anchors[a] for group in groups for a in group))


def _moves(graph: ContactGraph, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = graph.contacts_by_control.get(control.name, ())
    steps = (step for step in control.steps() if any(c.moves(*step) for c in contacts))
    return [(control.name, *step) for step in steps]


class StandingSide:
    """Points that contacts which a control does not move link to a place of the other wiring."""

    def __init__(self, both: Comparison, states: States) -> None:
        self.flows, self.states = both.flows, states
        self.side, self.new = cache(self._side), cache(self._new)

    def _side(self, control: str, place: int) -> list[str]:
        """Points that paths without anything of a control link to a place."""
        flow = self.flows[1]
        tree, moved = flow.graph.tree, flow.graph.blocks_by_control[control]
        found = {place: None}
        waiting = [place]
        for one in waiting:
            for block in tree.blocks_at.get(one, ()):
                if block not in moved:
                    waiting += (p for p in tree.places_in[block] if p not in found)
                    found |= dict.fromkeys(tree.places_in[block])
        return [point for one in found for point in flow.points_at.get(one, ())]

    def _new(self, control: str, place: int) -> list[str]:
        """Points of the side that only the other wiring connects to the place, in some state."""
        return [p for p in self.side(control, place) if self._comes_new(place, p, control)]

    def _comes_new(self, place: int, point: str, control: str) -> bool:
        """Whether only the other wiring connects a point to a place, in some possible state.

        What the control moves is open in the original. More states than may be asked about
        count as yes: the question about the pair then refuses.
        """
        here, there = self.flows
        pair = place, there.points[point]
        ends = here.points[min(there.points_at[place])], here.points[point]
        links_here = [k for k in here.graph.tree.between(ends) if k.control != control]
        links_there = there.graph.tree.between(pair)
        names = controls_of((*links_there, *links_here))
        if prod(len(self.states.controls[name].positions) for name in names) > MOST_STATES:
            return True
        frame = self.states.frame(names)
        new = connected(bonds_at_rest(links_there, frame), *pair, self.states.possible(frame))
        return bool(new & ~connected(bonds_at_rest(links_here, frame), *ends, new))


@dataclass(frozen=True)
class Reaching:
    """Anchored nets that reach a moving section in a move, and when."""

    way: Direction
    closing: frozenset[int]
    """Nets on which a moving section has a lug that it closes."""

    @cached_property
    def _over(self) -> Mapping[int, Sequence[Link]]:
        """Per anchored net beside a region with such a lug: the contacts in between."""
        regions = (self.way.regions.get(place) for place in sorted(self.closing))
        known = dict.fromkeys(one for one in regions if one)
        return by_first((net, link) for one in known for net in one.border for link in one.links)

    @cached_property
    def nets(self) -> frozenset[int]:
        """All that may reach it."""
        return (self.closing & self.way.anchors.keys()).union(self._over)

    def controls(self, nets: Pair) -> set[str]:
        """Controls that decide whether some nets reach it."""
        return set[str]().union(
            *(controls_of(self._over[net]) for net in nets if net not in self.closing)
        )

    def states(self, net: int, frame: Frame, move: Move) -> int:
        """States of the others in which a net reaches the move, over no other anchored net."""
        if net in self.closing:
            return frame.full
        contacts, anchors = self.way.first.contacts, self.way.anchors
        still = moving(self._over[net], contacts, frame, move, lambda _: False).still
        mask = 0
        for place, where in spread(beside(still), net, frame.full, anchors.__contains__).items():
            mask |= where if place in self.closing and place not in anchors else 0
        return mask


def reaching_by_move(way: Direction, control: Control) -> dict[Move, Reaching]:
    """Which anchored nets may reach each move of a control in which something moves."""
    found: dict[Move, Reaching] = {}
    known: dict[frozenset[int], Reaching] = {}
    for move in _moves(way.first, control):
        contacts = way.first.contacts_by_control[control.name]
        movers = (contact for contact in contacts if contact.moves(*move[1:]))
        closing = frozenset[int]().union(*(contact.closing(move[1:]) for contact in movers))
        found[move] = known.setdefault(closing, Reaching(way, closing))
    return found
