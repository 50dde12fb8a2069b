"""While switching: what lets go, and what meets, for a moment.

Two questions are put to two kinds of graph. Between nets, contacts alone count: a *gap* is a
connection that the original holds through a move and the other wiring lets go of; a *bridge* is
one that the other wiring makes for a moment and the original never. Between points, parts count
too: a path for current is then *interrupted*, or *stray*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from itertools import product

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import (
    QUESTIONS,
    Moving,
    controls_of,
    in_step,
    moving,
)
from rewire.circuit.graph import CandidatePairs, Link, PairsIn, Places
from rewire.circuit.states import Frame, States, widen
from rewire.compare.comparison import Comparison, Direction, Flow
from rewire.compare.findings import FindingKind, FoundIn, Groups, Move, StepFacts
from rewire.compare.standing_side import (
    Reaching,
    StandingSide,
    Unlike,
    reaching_by_move,
    unlike_flows,
)
from rewire.records.parts import Switch
from rewire.records.spec import Control, Spec, Wiring

Asked = Iterator[tuple[bool, int]]
"""By each of two questions (whether all sections move in step) the states of the others in which
it is so; none where it never is."""


@dataclass(frozen=True, slots=True)
class Assumption:
    """One reading of the timings that are not known, to the disadvantage of the other wiring.

    A switch that is the same in both wirings (``alike``) is taken alike in both. Any other is
    read against the other wiring: where a break would be found, the original as shorting and the
    other as non-shorting; where a bridge would, the reverse.
    """

    alike: frozenset[str]
    alike_shorting: bool

    def breaks(self, contact: Contact, original: bool) -> bool:
        """Whether a contact is taken as shorting when gaps and interruptions are sought."""
        return self._shorting(contact, unknown=original)

    def bridges(self, contact: Contact, original: bool) -> bool:
        """Whether a contact is taken as shorting when bridges and strays are sought."""
        return self._shorting(contact, unknown=not original)

    def _shorting(self, contact: Contact, unknown: bool) -> bool:
        timing = contact.section.timing
        if timing != "unknown":
            return timing == "shorting"
        return self.alike_shorting if contact.switch in self.alike else unknown

    def likeness(self, contact: Contact, first: bool) -> object:
        """What two contacts must have in common to be timed alike whatever is asked."""
        timing = contact.section.timing
        return timing if timing != "unknown" or contact.switch in self.alike else (timing, first)


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


Extra = tuple[Places, Frame, int]
"""Places that count as connected besides, and the states of the others in which they do."""


@dataclass(frozen=True)
class Span:
    """Two places of one wiring between which something is asked."""

    graph: ContactGraph
    ends: tuple[int, int]
    besides: Sequence[Extra] = ()

    @cached_property
    def links(self) -> list[Link]:
        """Links on any path between the ends, over what counts as connected too."""
        return self.graph.tree.between((*self.ends, *(p for one in self.besides for p in one[0])))

    @property
    def controls(self) -> set[str]:
        """Controls that can matter."""
        names = controls_of(self.links, self.graph.contacts)
        return names.union(c.name for _, frame, _ in self.besides for c in frame.controls)


@dataclass(frozen=True, slots=True)
class Passage:
    """Two ends and everything between them while one control moves, in both wirings."""

    frame: Frame
    possible: int
    ends: tuple[tuple[int, int], tuple[int, int]]
    """In the original, in the other wiring."""
    here: Moving
    there: Moving
    mended_here: Moving
    """With what counts as connected besides."""
    mended_there: Moving

    def let_go(self, asked: int) -> Asked:
        """States in which the original holds the ends through the move and the other lets go."""
        here, there = self.ends
        mask = asked & self.there.before(*there)
        mask = mask and mask & self.there.after(*there)
        mask = mask and mask & self.here.before(*here) & self.here.after(*here)
        for question in QUESTIONS:
            mask = mask and mask & ~question(self.mended_there).always(*there)
            held = mask and mask & question(self.here).always(*here)
            if held:
                yield question is in_step, held

    def meet(self, asked: int) -> Asked:
        """States in which the ends meet for a moment in the other wiring, never in the original."""
        here, there = self.ends
        mask = asked & ~self.there.before(*there)
        mask = mask and mask & ~self.there.after(*there)
        mask = mask and mask & ~self.here.before(*here) & ~self.here.after(*here)
        for question in QUESTIONS:
            mask = mask and mask & question(self.there).ever(*there)
            met = mask and mask & ~question(self.mended_here).ever(*here)
            if met:
                yield question is in_step, met


@dataclass(frozen=True, slots=True)
class Kinds:
    """One of the two questions, with the kinds of finding that it leads to."""

    of_nets: FindingKind
    of_points: FindingKind
    pairs_in: PairsIn
    shorts: Callable[[Assumption, Contact, bool], bool]
    answer: Callable[[Passage, int], Asked]


BREAKS = Kinds("gap", "interrupted", CandidatePairs.held, Assumption.breaks, Passage.let_go)
MEETINGS = Kinds("bridge", "stray", CandidatePairs.met, Assumption.bridges, Passage.meet)


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
        self, kinds: Kinds, move: Move, spans: tuple[Span, Span], asking: str, names: set[str]
    ) -> Passage:
        """What can matter in a move between two ends, in the original and in the other wiring."""
        names = names.union(*(span.controls for span in spans)) - {move[0]}
        frame = self.states.frame(names, f"moving {move[0]}: the {asking}")
        plain, mended = [], []
        for span, original in zip(spans, (True, False), strict=True):
            contacts = span.graph.contacts
            shorts = partial(self._shorts, kinds, contacts, original)
            scene = moving(span.links, contacts, frame, move, shorts)
            bonds = tuple((places, widen(f, mask, frame)) for places, f, mask in span.besides)
            plain.append(scene)
            mended.append(replace(scene, still=(*scene.still, *bonds)))
        possible = self.states.possible_steps(frame, *move)
        return Passage(frame, possible, (spans[0].ends, spans[1].ends), *plain, *mended)

    def _shorts(
        self, kinds: Kinds, contacts: Sequence[Contact], original: bool, number: int
    ) -> bool:
        return kinds.shorts(self.assumed, contacts[number], original)

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
        candidates = CandidatePairs(tree, moved, nets)
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
        if kinds is MEETINGS and not crosses(there, move):
            return
        groups = [way.anchors[net] for net in nets]
        asking = f"ways between {groups[0][0]} and {groups[1][0]}"
        names = reaching.controls(nets, way.first)
        passage = self._passage(kinds, move, (here, there), asking, names)
        asked = passage.possible
        for net in nets:
            asked &= reaching.states(net, way, passage.frame, move)
        for stepped, mask in kinds.answer(passage, asked):
            self.facts.add(kinds.of_nets, groups, move, FoundIn(passage.frame, mask, stepped))

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
        """Interrupted paths, or strays: between what hangs behind the places that a move links.

        What hangs behind stands still, so that the two places speak for it, but for points that
        the two wirings do not connect to them alike.
        """
        unlike, graph = self._unlike_flows[kinds.of_points], self.both.flows[1].graph
        moved = graph.blocks_by_control.get(control.name, frozenset())
        if not moved or not (unlike.split or unlike.blocks):
            return
        places = sorted({place for block in moved for place in graph.tree.places_in[block]})
        links = graph.links_by_control[control.name]
        candidates = CandidatePairs(graph.tree, links, places)
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
        """Two places as a gate, if the path between them starts and ends with what is moved."""
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
        if kinds is MEETINGS and not crosses(Span(self.both.flows[1].graph, gate.places), move):
            return
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
        spans = []
        for flow, mended in zip(self.both.flows, (MEETINGS, BREAKS), strict=True):
            extras = _extras(flow, besides) if kinds is mended else ()
            ends = flow.points[points[0]], flow.points[points[1]]
            spans.append(Span(flow.graph, ends, extras))
        asking = f"paths between {points[0]} and {points[1]}"
        passage = self._passage(kinds, move, (spans[0], spans[1]), asking, set())
        answers = kinds.answer(passage, passage.possible)
        return [FoundIn(passage.frame, mask, stepped) for stepped, mask in answers]


def _extras(flow: Flow, facts: Sequence[tuple[Groups, FoundIn]]) -> list[Extra]:
    """Gaps or bridges as connections between all the anchors they name."""
    extras = []
    for groups, found in facts:
        places = tuple(dict.fromkeys(flow.anchors[a] for group in groups for a in group))
        if len(places) > 1:
            extras.append((places, found.frame, found.mask))
    return extras


def crosses(span: Span, move: Move) -> bool:
    """Whether some link opens and some other closes in a move, or one is passed over.

    Else the most that can be closed in between is what is closed before or after.
    """
    control, before, after = move
    opening = closing = False
    for link in span.links:
        if span.graph.contacts[link.contact].control == control:
            was, will = link.positions >> before & 1, link.positions >> after & 1
            opening |= bool(was and not will)
            closing |= bool(will and not was)
            if (opening and closing) or (before, after) in link.passed:
                return True
    return False


def _moves(graph: ContactGraph, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = [graph.contacts[n] for n in graph.contacts_by_control.get(control.name, ())]
    steps = (step for step in control.steps() if any(c.moves(*step) for c in contacts))
    return [(control.name, *step) for step in steps]
