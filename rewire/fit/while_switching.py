"""While switching: the combination in which a landing fails, and the clauses that rule it out.

A landing that is right at rest is compared with the original. What the
comparison finds while switching holds in some combination of moving sections;
it is looked up here and put to the solver as a demand on every landing: connected
there, or not connected there. A finding that cannot be told in that way rules out
the landing it was found on and nothing else. So nothing good is ever ruled out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from math import prod

from rewire.circuit.circuit import Contact
from rewire.circuit.graph import Joiner
from rewire.compare.findings import Finding, Step
from rewire.fit.clauses import Literal
from rewire.fit.encoding import Closed, Connecting, Encoding, Guards, keep_two_apart
from rewire.fit.offers import Detents, Landing
from rewire.fit.task import WithoutSwitch, labels_of
from rewire.records.part import Section

WAIVABLE = ("gap", "bridge", "interrupted", "stray")
MOST_COMBINATIONS = 20_000
_MOST_STEPS = 40
_BREAKS = frozenset({"gap", "interrupted"})
_THROUGH_PARTS = frozenset({"interrupted", "stray"})

Nodes = tuple[int, ...]
Groups = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Closure:
    """What a moving section may close."""

    nodes: tuple[Nodes, ...]
    lugs: Groups
    how: str
    """``old``, ``new``, ``held`` or ``all``."""


@dataclass(frozen=True, slots=True)
class MovingSection:
    """A section on the move: on its own, and in step with all others of its control."""

    choices: tuple[Closure, ...]
    in_step: tuple[Closure, ...]
    """In between, at the old contacts, at the new."""
    section: int | None = None
    """Its number in the offer; None for another switch's."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of one control with the others somewhere, and what a finding says of it."""

    control: str
    before: int
    after: int
    state: Mapping[str, int]
    ends: Nodes
    breaks: bool
    """Two places must stay connected; else they must stay apart."""
    in_step: bool
    bars: tuple[Nodes, ...]
    """Parts that pass DC, where current through them counts, as nodes they link."""

    def step(self, control: str) -> tuple[int, int]:
        """Where a control stands before and after."""
        at = self.state[control]
        return (self.before, self.after) if control == self.control else (at, at)

    def fails(
        self, still: Sequence[Nodes], moving: Sequence[MovingSection]
    ) -> tuple[Closure, ...] | None:
        """The first combination in which the two places are not connected (or are)."""
        combinations: Iterable[tuple[Closure, ...]] = product(*(one.choices for one in moving))
        if self.in_step:
            combinations = zip(*(m.in_step for m in moving), strict=True) if moving else [()]
        for chosen in combinations:
            moved = (nodes for choice in chosen for nodes in choice.nodes)
            if _connected([*still, *self.bars, *moved], self.ends) != self.breaks:
                return chosen
        return None


@dataclass
class Switching:
    """The moves of an original without its old switch, and of landings on an offer."""

    bare: WithoutSwitch
    encoding: Encoding
    _moves_at: dict[tuple[Detents, int, int, int], Literal] = field(
        init=False, default_factory=dict
    )

    def rule_out(self, landing: Landing, finding: Finding, waived: frozenset[str]) -> None:
        """Add clauses that no landing with this finding satisfies, and that every good one does."""
        eased = {"interrupted": "gap", "stray": "bridge"}.get(finding.kind) in waived
        told = finding.kind in WAIVABLE and not eased
        for step in finding.steps[:_MOST_STEPS] if told else ():
            told &= self._demand(landing, self._moment(finding, step))
        if not told:
            self.encoding.clauses.add(*self.other_nets(landing), *self._other_timings(landing))

    def other_nets(self, landing: Landing) -> list[Literal]:
        """One of these holds in a landing with other nets, or served by other detents."""
        return [-literal for literal in self.encoding.literals_of(landing)]

    def _other_timings(self, landing: Landing) -> Iterator[Literal]:
        for literal, timing in zip(self.encoding.shorting, landing.timings, strict=True):
            yield -literal if timing == "shorting" else literal

    def _moment(self, finding: Finding, step: Step) -> Moment:
        before, after = step.before.as_dict(), step.after.as_dict()
        control = next(name for name, at in before.items() if after[name] != at)
        positions = self.bare.spec.controls[control].positions
        others = {name: at for name, at in before.items() if name != control}
        pair = before[control], after[control]
        return Moment(
            control=control,
            before=positions.index(pair[0]),
            after=positions.index(pair[1]),
            state=_completed(self.bare, control, pair, others),
            ends=tuple(self.bare.node(group[0]) for group in finding.groups[:2]),
            breaks=finding.kind in _BREAKS,
            in_step=bool(finding.in_step),
            bars=tuple(self._bars()) if finding.kind in _THROUGH_PARTS else (),
        )

    def _bars(self) -> Iterator[Nodes]:
        for part in self.bare.spec.parts_of(self.bare.wiring).values():
            if part.passes_dc:
                yield tuple(self.bare.node(part.terminal(lug)) for lug in part.terminals)

    def _demand(self, landing: Landing, moment: Moment) -> bool:
        """Put one moment to the solver; False if the combination could not be found."""
        breaks = moment.breaks
        for alike_shorting in (True, False):
            still, others = _split(self.bare.contacts, moment, alike_shorting)
            old_still, old = _split(self.bare.old_contacts, moment, breaks)
            new_still, new = self._new(landing, moment)
            if _too_many([*others, *old]) or _too_many([*others, *new]):
                continue
            if moment.fails([*still, *old_still], [*others, *old]) is not None:
                continue
            chosen = moment.fails([*still, *new_still], [*others, *new])
            if chosen is not None:
                return self._tell(landing, moment, still, [*others, *new], chosen)
        return False

    def _new(self, landing: Landing, moment: Moment) -> tuple[list[Nodes], list[MovingSection]]:
        """What stands still and what moves in the new switch."""
        place = self._places(landing)
        still = [stubs for stubs, _ in landing.nets if len(stubs) > 1]
        moving: list[MovingSection] = []
        step = self._detents(landing, moment)
        for number, section in enumerate(self.encoding.offer.switch.sections):
            if _same(section, *step):
                still += (_nodes(group, place) for group in section.groups[step[0]])
                continue
            timing = landing.timings[number]
            shorts = timing == "shorting" or (timing == "unknown" and not moment.breaks)
            one = _moving(section, step, place, shorts, moment.breaks)
            moving.append(replace(one, section=number))
        return still, moving

    def _detents(self, landing: Landing, moment: Moment) -> tuple[int, int]:
        before, after = moment.step(self.bare.switch.control)
        return landing.detents[before], landing.detents[after]

    def _places(self, landing: Landing) -> dict[str, int]:
        """Per lug of the new switch its node; what no stub is on has a node of its own."""
        base = self.bare.nodes
        place = {lug: base + number for lug, number in self.encoding.number.items()}
        for stubs, lugs in landing.nets:
            place |= dict.fromkeys(lugs, stubs[0] if stubs else place[lugs[0]])
        return place

    def _tell(
        self,
        landing: Landing,
        moment: Moment,
        still: Sequence[Nodes],
        moving: Sequence[MovingSection],
        chosen: Sequence[Closure],
    ) -> bool:
        closed, guards = self._closed(landing, moment, moving, chosen)
        pairs = zip(moving, chosen, strict=True)
        elsewhere = (n for one, choice in pairs if one.section is None for n in choice.nodes)
        groups = [*moment.bars, *still, *elsewhere]
        labels = labels_of(self.bare.nodes, groups, self.bare.nodes)
        stubs = range(len(self.bare.stubs))
        sides = [{stub for stub in stubs if labels[stub] == labels[end]} for end in moment.ends]
        outside = labels[: len(stubs)]
        if moment.breaks:
            self._must_connect(closed, outside, sides, guards)
            return True
        touching = () if moment.bars else self._lugs_move_at_both(landing, moment)
        if touching is None:
            return False
        keep_two_apart(self.encoding, closed, outside, sides, (*guards, *touching))
        return True

    def _must_connect(
        self, closed: list[Closed], outside: Nodes, sides: list[set[int]], guards: Guards
    ) -> None:
        if not sides[0] or not sides[1]:
            self.encoding.clauses.add(*guards)
            return
        root, goal = (outside[min(side)] for side in sides)
        through = [blob for blob in sorted(set(outside)) if blob not in (root, goal)]
        steps = len(closed) + min(len(self.encoding.absorbed), len(outside))
        reach = Connecting(self.encoding, closed, outside, steps)
        reach.connect([(root, goal)], guards, through)

    def _closed(
        self,
        landing: Landing,
        moment: Moment,
        moving: Sequence[MovingSection],
        chosen: Sequence[Closure],
    ) -> tuple[list[Closed], Guards]:
        """What the new switch closes in this combination, and what that rests on."""
        encoding, guards = self.encoding, []
        if len(encoding.detents) > 1:
            guards.append(-encoding.served_by[encoding.detents.index(landing.detents)])
        choices = {m.section: choice for m, choice in zip(moving, chosen, strict=True)}
        detent, _ = self._detents(landing, moment)
        closed: list[Closed] = []
        for number, section in enumerate(encoding.offer.switch.sections):
            choice = choices.get(number)
            if choice and section.timing != "unknown" and choice.how in ("held", "all"):
                literal = encoding.shorting[number]
                guards.append(literal if choice.how == "held" else -literal)
            lugs = choice.lugs if choice else section.groups[detent]
            closed += (Closed(tuple(encoding.number[g] for g in group)) for group in lugs)
        return closed, tuple(guards)

    def _lugs_move_at_both(self, landing: Landing, moment: Moment) -> Guards | None:
        """Opposites of: each end has a lug that moves. None if that cannot be told."""
        moved = {
            place
            for contact in self.bare.contacts
            if contact.control == moment.control and contact.moves(moment.before, moment.after)
            for place in contact.closing()
        }
        found = [
            self._lug_moves_at(landing, moment, end) for end in moment.ends if end not in moved
        ]
        return None if None in found else tuple(-literal for literal in found if literal)

    def _lug_moves_at(self, landing: Landing, moment: Moment, stub: int) -> Literal | None:
        if moment.control != self.bare.switch.control or stub >= len(self.bare.stubs):
            return None
        step = self._detents(landing, moment)
        lugs = {
            lug
            for section in self.encoding.offer.switch.sections
            if not _same(section, *step)
            for detent in landing.detents
            for group in section.groups[detent]
            for lug in group
        }
        on_stub = next((of_net for stubs, of_net in landing.nets if stubs[:1] == (stub,)), ())
        if not lugs & {*on_stub}:
            return None
        key = landing.detents, moment.before, moment.after, stub
        if key not in self._moves_at:
            at, number = self.encoding.stub_at, self.encoding.number
            here = [at[number[lug]][stub] for lug in sorted(lugs)]
            self._moves_at[key] = self.encoding.clauses.is_any(here)
        return self._moves_at[key]


def _split(
    contacts: Sequence[Contact], moment: Moment, unknown_shorts: bool
) -> tuple[list[Nodes], list[MovingSection]]:
    """What stands still and what moves of switches that are not the new one."""
    still: list[Nodes] = []
    moving: list[MovingSection] = []
    for contact in contacts:
        step = moment.step(contact.control)
        if _same(contact.section, *step):
            still += (_nodes(g, contact.place) for g in contact.section.groups[step[0]])
            continue
        timing = contact.section.timing
        shorts = timing == "shorting" or (timing == "unknown" and unknown_shorts)
        moving.append(_moving(contact.section, step, contact.place, shorts, moment.breaks))
    return still, moving


def _moving(
    section: Section,
    step: tuple[int, int],
    place: Mapping[str, int],
    shorts: bool,
    breaks: bool,
) -> MovingSection:
    """What a moving section may close: the least there is if breaks are sought, else the most."""
    old, new = (section.groups[at] for at in step)
    held = Contact("", "", section, {}).held(*step)
    between = _choice(place, (*old, *new), "all") if shorts else _choice(place, held, "held")
    ends = (_choice(place, old, "old"), _choice(place, new, "new"))
    return MovingSection(ends if shorts == breaks else (between,), (between, *ends))


def _choice(place: Mapping[str, int], lugs: Groups, how: str) -> Closure:
    return Closure(tuple(_nodes(group, place) for group in lugs), lugs, how)


def _nodes(group: Sequence[str], place: Mapping[str, int]) -> Nodes:
    return tuple(place[lug] for lug in group)


def _same(section: Section, before: int, after: int) -> bool:
    one, other = ({frozenset(group) for group in section.groups[at]} for at in (before, after))
    return one == other


def _too_many(moving: Sequence[MovingSection]) -> bool:
    return prod(len(one.choices) for one in moving) > MOST_COMBINATIONS


def _connected(groups: Sequence[Nodes], ends: Nodes) -> bool:
    joiner = Joiner(1 + max([*ends, *(max(group) for group in groups)]))
    for group in groups:
        joiner.join(group)
    return joiner.root(ends[0]) == joiner.root(ends[1])


def _completed(
    bare: WithoutSwitch, control: str, pair: tuple[str, str], fixed: Mapping[str, str]
) -> dict[str, int]:
    """A position of every control that goes with a step, at both ends of which it can occur."""
    controls, never = bare.spec.controls, bare.spec.never
    choices = {
        name: (fixed[name],) if name in fixed else own.positions
        for name, own in controls.items()
        if name != control
    }

    def allowed(at: Mapping[str, str]) -> bool:
        both = [{**at, control: end} for end in pair]
        return not any(item.items() <= here.items() for here in both for item in never)

    def completed(at: dict[str, str], rest: Sequence[str]) -> dict[str, str] | None:
        if not rest:
            return at
        here = ({**at, rest[0]: position} for position in choices[rest[0]])
        found = (completed(one, rest[1:]) for one in here if allowed(one))
        return next((one for one in found if one is not None), None)

    at = completed({}, tuple(choices)) or {}
    numbers = {name: controls[name].positions.index(position) for name, position in at.items()}
    return {**numbers, control: controls[control].positions.index(pair[0])}
