"""While switching: the combination in which a landing fails, and the clauses that rule it out.

A landing that is right at rest is compared with the original. What the
comparison finds while switching holds in some combination of moving sections;
it is looked up here and put to the solver as a demand on every landing: tied
there, or not tied there. A finding that cannot be told in that way rules out
the landing it was found on and nothing else. So nothing good is ever ruled out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from math import prod

from rewire.circuit.contacts import Contact, held_between
from rewire.circuit.nets import Joiner
from rewire.compare.findings import Finding, Step
from rewire.fit.encode import Board, Closed, Guards, Paint, Reach
from rewire.fit.landing import Landing
from rewire.fit.offers import Detents
from rewire.fit.stubs import Bare
from rewire.fit.ties import joined, outside_contacts
from rewire.records.spec import Section

MOST_COMBINATIONS = 20_000
_BREAKS = frozenset({"gap", "interrupted"})
_THROUGH_PARTS = frozenset({"interrupted", "stray"})

State = dict[str, int]
Groups = tuple[tuple[int, ...], ...]


Choice = tuple[Groups, tuple[tuple[str, ...], ...], str]
"""What a section may close: groups of nodes, groups of lugs, how."""


@dataclass(frozen=True, slots=True)
class Mover:
    """A section on the move: on its own, and in step with all others of its control."""

    choices: tuple[Choice, ...]
    in_step: tuple[Choice, ...]
    """In between, at the old contacts, at the new."""
    section: int | None = None
    """Its number in the offer; None for another switch's."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of one control, with the others somewhere."""

    control: str
    before: int
    after: int
    state: State


@dataclass
class Moments:
    """The moves of an original without its old switch, and of landings on an offer."""

    bare: Bare
    board: Board
    outside: tuple[Contact, ...] = field(init=False)
    _touching: dict[tuple[Detents, int, int, int], int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.outside = outside_contacts(self.bare)

    @cached_property
    def bars(self) -> list[tuple[int, ...]]:
        """Parts that pass DC, as nodes they link."""
        spec, bare = self.bare.spec, self.bare
        return [
            tuple(bare.node(part.terminal(lug)) for lug in part.terminals)
            for part in spec.parts_of(bare.wiring).values()
            if part.passes_dc
        ]

    def rule_out(self, landing: Landing, finding: Finding, waived: frozenset[str]) -> None:
        """Add clauses that no landing with this finding satisfies, and that every good one does."""
        told = finding.kind in ("gap", "bridge", "interrupted", "stray") and not (
            (finding.kind == "interrupted" and "gap" in waived)
            or (finding.kind == "stray" and "bridge" in waived)
        )
        for step in finding.steps[:40] if told else ():
            if not self._demand(landing, finding, self._moment(step)):
                told = False
        if not told:
            self.rule_out_landing(landing)

    def rule_out_landing(self, landing: Landing) -> None:
        """Some lug is on another net, or the switch is used or timed in another way."""
        board = self.board
        others = self.other_nets(landing)
        others += [
            -v if timing == "shorting" else v
            for v, timing in zip(board.shorting, landing.timings, strict=True)
        ]
        board.clauses.add(*others)

    def other_nets(self, landing: Landing) -> list[int]:
        """One of these holds in a landing with other nets, or served by other detents."""
        board = self.board
        of_lug = {lug: (stubs, lugs[0]) for stubs, lugs in landing.nets for lug in lugs}
        others = [-board.way[board.ways.index(landing.way)]] if len(board.ways) > 1 else []
        for number, lug in enumerate(board.lugs):
            others.append(self._elsewhere(number, of_lug.get(lug)))
        together = {
            pair for stubs, _ in landing.nets for pair in ((stubs[0], o) for o in stubs[1:])
        }
        return others + [-v if pair in together else v for pair, v in board.absorbed.items()]

    def _elsewhere(self, lug: int, net: tuple[tuple[int, ...], str] | None) -> int:
        board = self.board
        if net is None:
            return board.used[lug]
        stubs, first = net
        return (
            -board.stub_at[lug][stubs[0]] if stubs else -board.private_at[lug][board.number[first]]
        )

    def _moment(self, step: Step) -> Moment:
        before, after = step.before.as_dict(), step.after.as_dict()
        control = next(name for name, at in before.items() if after[name] != at)
        positions = self.bare.spec.controls[control].positions
        others = {name: at for name, at in before.items() if name != control}
        pair = before[control], after[control]
        state = _completed(self.bare, control, pair, others)
        return Moment(control, positions.index(pair[0]), positions.index(pair[1]), state)

    def _demand(self, landing: Landing, finding: Finding, moment: Moment) -> bool:
        """Put one moment to the solver; False if the combination could not be found."""
        breaks = finding.kind in _BREAKS
        bars = self.bars if finding.kind in _THROUGH_PARTS else []
        ends = tuple(self.bare.node(group[0]) for group in finding.groups[:2])
        combinations = _in_step if finding.in_step else _each_on_its_own
        for alike_shorting in (True, False):
            still, movers = self._parts(
                [*self.outside, *self._old_contacts()], moment, breaks, alike_shorting, old=True
            )
            if _too_many(movers):
                continue
            if _failing(still, combinations(movers), bars, ends, breaks) is not None:
                continue
            still, movers = self._new(landing, moment, breaks, alike_shorting)
            if _too_many(movers):
                continue
            chosen = _failing(still, combinations(movers), bars, ends, breaks)
            if chosen is not None:
                return self._tell(landing, moment, ends, breaks, bars, movers, chosen)
        return False

    def _old_contacts(self) -> Iterator[Contact]:
        switch = self.bare.switch
        for section in switch.sections:
            place = {lug: self.bare.lug_node[lug] for lug in section.lugs}
            yield Contact(switch.name, switch.control, section, place)

    def _new(
        self, landing: Landing, moment: Moment, breaks: bool, alike_shorting: bool
    ) -> tuple[list[tuple[int, ...]], list[Mover]]:
        """What stands still and what moves in the new wiring."""
        still, movers = self._parts(self.outside, moment, breaks, alike_shorting, old=False)
        place = self._places(landing)
        still += (stubs for stubs, _ in landing.nets if len(stubs) > 1)
        here = moment.control == self.bare.switch.control
        at = moment.state[self.bare.switch.control]
        ends = (moment.before, moment.after) if here else (at, at)
        before, after = (landing.way[end] for end in ends)
        for number, section in enumerate(self.board.offer.switch.sections):
            timing = landing.timings[number]
            if _same(section, before, after):
                still += (_nodes(group, place) for group in section.groups[before])
            else:
                shorts = timing == "shorting" or (timing == "unknown" and not breaks)
                movers.append(_mover(section, before, after, place, shorts, breaks, number))
        return still, movers

    def _places(self, landing: Landing) -> dict[str, int]:
        """Per lug of the new switch its node; what no stub is on has a node of its own."""
        base = self.bare.nodes
        place = {lug: base + number for lug, number in self.board.number.items()}
        for stubs, lugs in landing.nets:
            node = stubs[0] if stubs else place[lugs[0]]
            place |= dict.fromkeys(lugs, node)
        return place

    def _parts(
        self,
        contacts: Sequence[Contact],
        moment: Moment,
        breaks: bool,
        alike_shorting: bool,
        old: bool,
    ) -> tuple[list[tuple[int, ...]], list[Mover]]:
        still: list[tuple[int, ...]] = []
        movers: list[Mover] = []
        for contact in contacts:
            at = moment.state[contact.control]
            step = (moment.before, moment.after) if contact.control == moment.control else (at, at)
            if _same(contact.section, *step):
                still += (_nodes(g, contact.place) for g in contact.section.groups[step[0]])
                continue
            is_old = old and contact.switch == self.bare.switch.name
            unknown = breaks if is_old else alike_shorting
            timing = contact.section.timing
            shorts = timing == "shorting" or (timing == "unknown" and unknown)
            movers.append(_mover(contact.section, *step, contact.place, shorts, breaks))
        return still, movers

    def _tell(
        self,
        landing: Landing,
        moment: Moment,
        ends: tuple[int, ...],
        breaks: bool,
        bars: Sequence[tuple[int, ...]],
        movers: Sequence[Mover],
        chosen: Sequence[Choice],
    ) -> bool:
        closed, guards = self._closed(landing, moment, movers, chosen)
        groups = [*bars, *self._outside_closed(moment, movers, chosen)]
        labels = joined(self.bare.nodes, groups, self.bare.nodes)
        stubs = range(len(self.bare.stubs))
        sides = [{stub for stub in stubs if labels[stub] == labels[end]} for end in ends]
        outside = labels[: len(stubs)]
        if breaks:
            self._must_tie(closed, outside, sides, guards)
            return True
        touching = self._touch(landing, moment, ends) if not bars else ()
        if touching is None:
            return False
        Paint(self.board, closed).never_tied(sides[0], sides[1], outside, (*guards, *touching))
        return True

    def _must_tie(
        self, closed: list[Closed], outside: tuple[int, ...], sides: list[set[int]], guards: Guards
    ) -> None:
        if not sides[0] or not sides[1]:
            self.board.clauses.add(*guards)
            return
        root, goal = (outside[min(side)] for side in sides)
        over = [blob for blob in sorted(set(outside)) if blob not in (root, goal)]
        steps = len(closed) + min(len(self.board.absorbed), len(outside))
        Reach(self.board, closed, outside, steps, over).tied([(root, goal)], guards)

    def _closed(
        self, landing: Landing, moment: Moment, movers: Sequence[Mover], chosen: Sequence[Choice]
    ) -> tuple[list[Closed], Guards]:
        """What the new switch closes in this combination, and what that rests on."""
        board = self.board
        here = moment.control == self.bare.switch.control
        at = moment.before if here else moment.state[self.bare.switch.control]
        detent = landing.way[at]
        guards = [-board.way[board.ways.index(landing.way)]] if len(board.ways) > 1 else []
        moving = {m.section: choice for m, choice in zip(movers, chosen, strict=True)}
        closed: list[Closed] = []
        for number, section in enumerate(board.offer.switch.sections):
            lugs: Sequence[tuple[str, ...]] = section.groups[detent]
            if number in moving:
                _, lugs, how = moving[number]
                if section.timing != "unknown" and how == "held":
                    guards.append(board.shorting[number])
                if section.timing != "unknown" and how == "all":
                    guards.append(-board.shorting[number])
            closed += (Closed(tuple(board.number[g] for g in group)) for group in lugs)
        return closed, tuple(guards)

    def _outside_closed(
        self, moment: Moment, movers: Sequence[Mover], chosen: Sequence[Choice]
    ) -> Iterator[tuple[int, ...]]:
        for mover, choice in zip(movers, chosen, strict=True):
            if mover.section is None:
                yield from choice[0]
        for contact in self.outside:
            at = moment.state[contact.control]
            step = (moment.before, moment.after) if contact.control == moment.control else (at, at)
            if _same(contact.section, *step):
                yield from (_nodes(g, contact.place) for g in contact.section.groups[step[0]])

    def _touch(self, landing: Landing, moment: Moment, ends: tuple[int, ...]) -> Guards | None:
        """Opposites of: each end has a lug that moves. None if it touches in another way."""
        moved = {
            place
            for contact in self.outside
            if contact.control == moment.control and contact.moves(moment.before, moment.after)
            for place in contact.closing
        }
        found: list[int] = []
        for end in ends:
            if end in moved:
                continue
            literal = self._touches(landing, moment, end)
            if literal is None:
                return None
            found.append(-literal)
        return tuple(found)

    def _touches(self, landing: Landing, moment: Moment, stub: int) -> int | None:
        if moment.control != self.bare.switch.control or stub >= len(self.bare.stubs):
            return None
        before, after = landing.way[moment.before], landing.way[moment.after]
        net = next((stubs for stubs, _ in landing.nets if stub in stubs), None)
        lugs = {
            lug
            for section in self.board.offer.switch.sections
            if not _same(section, before, after)
            for detent in landing.way
            for group in section.groups[detent]
            for lug in group
        }
        landed = next((set(of_net) for stubs, of_net in landing.nets if stub in stubs), set())
        if net is None or net[0] != stub or not lugs & landed:
            return None
        key = landing.way, moment.before, moment.after, stub
        if key not in self._touching:
            board = self.board
            on = [board.stub_at[board.number[lug]][stub] for lug in sorted(lugs)]
            self._touching[key] = board.clauses.is_any(on)
        return self._touching[key]


def _mover(
    section: Section,
    before: int,
    after: int,
    place: Mapping[str, int],
    shorts: bool,
    breaks: bool,
    number: int | None = None,
) -> Mover:
    """What a moving section may close: the least there is if breaks are sought, else the most."""
    old, new = section.groups[before], section.groups[after]
    held = held_between(Contact("", "", section, {}), before, after)
    ends: list[tuple[tuple[tuple[str, ...], ...], str]] = [(old, "old"), (new, "new")]
    between = ((*old, *new), "all") if shorts else (held, "held")
    own = ends if shorts == breaks else [between]
    return Mover(_choices(own, place), _choices([between, *ends], place), number)


def _choices(
    ways: Sequence[tuple[tuple[tuple[str, ...], ...], str]], place: Mapping[str, int]
) -> tuple[Choice, ...]:
    return tuple((tuple(_nodes(g, place) for g in groups), groups, how) for groups, how in ways)


def _nodes(group: Sequence[str], place: Mapping[str, int]) -> tuple[int, ...]:
    return tuple(place[lug] for lug in group)


def _same(section: Section, before: int, after: int) -> bool:
    one, other = (
        frozenset(frozenset(group) for group in section.groups[at]) for at in (before, after)
    )
    return one == other


def _too_many(movers: Sequence[Mover]) -> bool:
    return prod(len(mover.choices) for mover in movers) > MOST_COMBINATIONS


def _each_on_its_own(movers: Sequence[Mover]) -> Iterator[tuple[Choice, ...]]:
    """Every combination that matters."""
    yield from product(*(mover.choices for mover in movers))


def _in_step(movers: Sequence[Mover]) -> Iterator[tuple[Choice, ...]]:
    """All in between, all at the old contacts, all at the new."""
    yield from zip(*(mover.in_step for mover in movers), strict=True) if movers else [()]


def _failing(
    still: Sequence[tuple[int, ...]],
    combinations: Iterable[tuple[Choice, ...]],
    bars: Sequence[tuple[int, ...]],
    ends: tuple[int, ...],
    breaks: bool,
) -> tuple[Choice, ...] | None:
    """The first combination in which two places are not tied (or are)."""
    for chosen in combinations:
        moved = (group for choice in chosen for group in choice[0])
        if _tied([*still, *bars, *moved], ends) != breaks:
            return chosen
    return None


def _tied(groups: Sequence[tuple[int, ...]], ends: tuple[int, ...]) -> bool:
    joiner = Joiner(1 + max([*ends, *(max(group) for group in groups)]))
    for group in groups:
        joiner.join(group)
    return joiner.root(ends[0]) == joiner.root(ends[1])


def _completed(bare: Bare, control: str, pair: tuple[str, str], fixed: Mapping[str, str]) -> State:
    """A position of every control that goes with a step, at both ends of which it can occur."""
    controls = bare.spec.controls
    names = [name for name in controls if name != control]
    at: dict[str, str] = {}

    def allowed() -> bool:
        for end in pair:
            here = {**at, control: end}
            if any(all(here.get(n) == p for n, p in item.items()) for item in bare.spec.never):
                return False
        return True

    def place(index: int) -> bool:
        if index == len(names):
            return True
        name = names[index]
        for position in (fixed[name],) if name in fixed else controls[name].positions:
            at[name] = position
            if allowed() and place(index + 1):
                return True
            del at[name]
        return False

    place(0)
    numbers = {name: controls[name].positions.index(position) for name, position in at.items()}
    return {**numbers, control: controls[control].positions.index(pair[0])}
