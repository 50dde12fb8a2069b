"""While switching: between which nets and points something lets go, or meets, for a moment.

Gaps and bridges are sought between nets that a moving section closes or that reach one;
interruptions and strays between points on, or behind, the places at which the paths that a
control moves begin and end. ``passages`` answers each single question.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from math import prod

from rewire.circuit.circuit import ContactGraph
from rewire.circuit.connectivity import (
    beside,
    bonds_at_rest,
    connected,
    controls_of,
    moving,
    spread,
)
from rewire.circuit.graph import CandidatePairs, Link
from rewire.circuit.states import MOST_STATES, Frame, States
from rewire.compare.comparison import Comparison, Direction, Flow, TimingOf, unlike_contacts
from rewire.compare.findings import FindingKind, FoundIn, Groups, Move, StepFacts
from rewire.compare.passages import (
    BREAKS,
    MEETINGS,
    Assumption,
    Kinds,
    Passage,
    Span,
    assumptions,
)
from rewire.records.spec import Control


def step_facts(both: Comparison, states: States) -> StepFacts:
    """Everything found while switching, under each reading of the timings."""
    found = StepFacts()
    for assumed in assumptions(both.spec, both.other):
        search = SwitchingSearch(both, states, assumed)
        for control in both.spec.controls.values():
            for kinds in (BREAKS, MEETINGS):
                search.between_nets(kinds, control)
            for kinds in (BREAKS, MEETINGS):
                search.between_points(kinds, control)
        found.take(search.facts)
    return found


@dataclass(frozen=True, slots=True)
class Gate:
    """Two places at which the paths that a control moves begin and end."""

    places: tuple[int, int]
    points: tuple[str, str] | None
    """A point on each; None if one has none, or if points of one are apart in the original."""
    unlike: bool


@dataclass(frozen=True)
class SwitchingSearch:
    """Looks for what happens while switching, under one reading of the timings."""

    both: Comparison
    states: States
    assumed: Assumption
    facts: StepFacts = field(default_factory=StepFacts)

    def _passage(
        self, kinds: Kinds, spans: tuple[Span, Span], move: Move, asking: str, names: set[str]
    ) -> Passage:
        """What can matter in a move between two ends; ``names``: further controls that do."""
        names = names.union(*(span.controls for span in spans)) - {move[0]}
        frame = self.states.frame(names, f"moving {move[0]}: the {asking}")
        return Passage(spans, frame, move, kinds, self.assumed)

    def _shorting(self, graph: ContactGraph) -> Callable[[int], bool]:
        """Whether a contact of a graph, by its number, can be taken as shorting."""
        return lambda number: self.assumed.shorting(graph.contacts[number], True)

    # Between nets

    @cached_property
    def _unlike_nets(self) -> Mapping[FindingKind, frozenset[int]]:
        """Blocks of the wiring whose connections are asked about with an unlike contact."""
        down, up = self.both.down, self.both.up
        return {
            "gap": down.first.blocks_of(down.unlike(self.assumed.likeness)),
            "bridge": up.first.blocks_of(up.unlike(lambda c, f: self.assumed.likeness(c, not f))),
        }

    def between_nets(self, kinds: Kinds, control: Control) -> None:
        """Gaps, or bridges: of nets that both have a lug in a move, or reach one."""
        way = self.both.down if kinds is BREAKS else self.both.up
        fresh = self._unlike_nets[kinds.of_nets]
        reaching = reaching_by_move(way, control) if fresh else {}
        nets = sorted({net for one in reaching.values() for net in one.nets})
        tree = way.first.tree
        if fresh.isdisjoint(tree.blocks_between(nets)):
            return
        moved = way.first.links_by_control.get(control.name, ())
        candidates = CandidatePairs(tree, moved, nets, self._shorting(way.first))
        differing: dict[tuple[int, int], bool] = {}
        for move, one in reaching.items():
            for pair in kinds.pairs_in(candidates, *move[1:]):
                if not one.nets.issuperset(pair):
                    continue
                if pair not in differing:
                    differing[pair] = not fresh.isdisjoint(tree.path(*pair))
                if differing[pair]:
                    self._two_nets(kinds, way, pair, move, one)

    def _two_nets(
        self, kinds: Kinds, way: Direction, nets: tuple[int, int], move: Move, reaching: Reaching
    ) -> None:
        first = Span(way.first, nets)
        whole = Span(way.whole, (way.merged[nets[0]], way.merged[nets[1]]))
        here, there = (first, whole) if kinds is BREAKS else (whole, first)
        if whole.ends[0] == whole.ends[1] or not there.graph.tree.linked(*there.ends):
            return
        groups = [way.anchors[net] for net in nets]

        asking = f"paths between {groups[0][0]} and {groups[1][0]}"
        passage = self._passage(kinds, (here, there), move, asking, reaching.controls(nets))
        asked = self.states.possible_steps(passage.frame, *move)
        for net in nets:
            asked &= reaching.states(net, passage.frame, move)
        for found in passage.found(asked):
            self.facts.add(kinds.of_nets, groups, move, found)

    # Between points

    @cached_property
    def _unlike_flows(self) -> Mapping[FindingKind, Unlike]:
        here, there = self.both.flows
        likeness = self.assumed.likeness
        return {
            "interrupted": unlike_flows(here, there, likeness),
            "stray": unlike_flows(there, here, lambda c, first: likeness(c, not first)),
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
        own = graph.links_by_control[control.name]
        candidates = CandidatePairs(graph.tree, own, places, self._shorting(graph))
        gates: dict[tuple[int, int], Gate | None] = {}
        for move in _moves(graph, control):
            for pair in kinds.pairs_in(candidates, *move[1:]):
                if pair not in gates:
                    gates[pair] = self._gate(pair, moved, unlike)
                gate = gates[pair]
                if gate is not None and (
                    gate.unlike or any(self._standing.new(move[0], place) for place in pair)
                ):
                    self._behind(kinds, gate, move)

    def _gate(self, places: tuple[int, int], moved: frozenset[int], unlike: Unlike) -> Gate | None:
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
                self.facts.add(kinds.of_points, [(p,) for p in pair], move, found)

    def _between(self, kinds: Kinds, points: tuple[str, str], move: Move) -> list[FoundIn]:
        """What a move does between two points, gaps or bridges of the same move allowed for."""
        found = self._ask(kinds, points, move, ())
        besides = self.facts.during(kinds.of_nets, move)
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
                [(_places(flow, groups), found) for groups, found in besides if kinds is mended],
            )
            for flow, mended in zip(self.both.flows, (MEETINGS, BREAKS), strict=True)
        )
        asking = f"paths between {points[0]} and {points[1]}"
        passage = self._passage(kinds, (here, there), move, asking, set())
        return list(passage.found(self.states.possible_steps(passage.frame, *move)))


def _places(flow: Flow, groups: Groups) -> tuple[int, ...]:
    """The places of all the anchors that a gap or bridge names."""
    return tuple(dict.fromkeys(flow.anchors[a] for group in groups for a in group))


def _moves(graph: ContactGraph, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = [graph.contacts[n] for n in graph.contacts_by_control.get(control.name, ())]
    steps = (step for step in control.steps() if any(c.moves(*step) for c in contacts))
    return [(control.name, *step) for step in steps]


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


@dataclass
class StandingSide:
    """Points that contacts which a control does not move link to a place of the other wiring."""

    both: Comparison
    states: States
    _sides: dict[tuple[str, int], list[str]] = field(default_factory=dict)
    _new: dict[tuple[str, int], list[str]] = field(default_factory=dict)

    def side(self, control: str, place: int) -> list[str]:
        """Points that paths without anything of a control link to a place."""
        key = control, place
        if key not in self._sides:
            self._sides[key] = self._reached(control, place)
        return self._sides[key]

    def _reached(self, control: str, place: int) -> list[str]:
        flow = self.both.flows[1]
        tree, moved = flow.graph.tree, flow.graph.blocks_by_control[control]
        found = {place: None}
        waiting = [place]
        for one in waiting:
            for block in tree.blocks_at.get(one, ()):
                if block not in moved:
                    waiting += (p for p in tree.places_in[block] if p not in found)
                    found |= dict.fromkeys(tree.places_in[block])
        return [point for one in found for point in flow.points_at.get(one, ())]

    def new(self, control: str, place: int) -> list[str]:
        """Points of the side that only the other wiring connects to the place, in some state."""
        key = control, place
        if key not in self._new:
            self._new[key] = [p for p in self.side(*key) if self._comes_new(place, p, control)]
        return self._new[key]

    @cached_property
    def _unlike(self) -> frozenset[int]:
        here, there = self.both.flows
        return unlike_flows(there, here, lambda contact, first: None).blocks  # noqa: ARG005

    def _comes_new(self, place: int, point: str, control: str) -> bool:
        """Whether only the other wiring connects a point to a place, in some possible state.

        What the control moves is open in the original. More states than may be asked about
        count as yes: the question about the pair then refuses.
        """
        here, there = self.both.flows
        pair = place, there.points[point]
        if self._unlike.isdisjoint(there.graph.tree.path(*pair)):
            return False
        ends = here.points[min(there.points_at[place])], here.points[point]
        contacts = here.graph.contacts
        links_here = [
            k for k in here.graph.tree.between(ends) if contacts[k.contact].control != control
        ]
        links_there = there.graph.tree.between(pair)
        names = controls_of(links_there, there.graph.contacts) | controls_of(links_here, contacts)
        if prod(len(self.states.controls[name].positions) for name in names) > MOST_STATES:
            return True
        frame = self.states.frame(names)
        bonds = bonds_at_rest(links_there, there.graph.contacts, frame)
        new = connected(bonds, *pair, self.states.possible(frame))
        return bool(new & ~connected(bonds_at_rest(links_here, contacts, frame), *ends, new))


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
        found: dict[int, list[Link]] = {}
        for region in dict.fromkeys(one for one in regions if one):
            for net in region.border:
                found.setdefault(net, []).extend(region.links)
        return found

    @cached_property
    def nets(self) -> frozenset[int]:
        """All that may reach it."""
        return (self.closing & self.way.anchors.keys()).union(self._over)

    def controls(self, nets: tuple[int, int]) -> set[str]:
        """Controls that decide whether some nets reach it."""
        links = (self._over[net] for net in nets if net not in self.closing)
        contacts = self.way.first.contacts
        return set[str]().union(*(controls_of(its, contacts) for its in links))

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
    contacts = [way.first.contacts[n] for n in way.first.contacts_by_control.get(control.name, ())]
    found: dict[Move, Reaching] = {}
    known: dict[frozenset[int], Reaching] = {}
    for step in control.steps():
        movers = [contact for contact in contacts if contact.moves(*step)]
        closing = frozenset[int]().union(*(contact.closing(step) for contact in movers))
        if movers:
            found[(control.name, *step)] = known.setdefault(closing, Reaching(way, closing))
    return found
