"""While switching: the combination in which a wiring fails, and the clauses that rule it out.

A wiring that is right at rest is compared with the original. What the
comparison finds while switching holds in some combination of moving sections;
it is looked up here and put to the solver as a demand on every wiring: connected
there, or not connected there. A finding that cannot be told in that way rules out
the wiring it was found on and nothing else. So nothing good is ever ruled out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod
from operator import attrgetter

from rewire.circuit.circuit import Contact
from rewire.circuit.connectivity import Mover, moving
from rewire.circuit.graph import Joiner, Places
from rewire.circuit.states import Frame, States
from rewire.compare.findings import Finding, Move, Step
from rewire.fit.clauses import Literal
from rewire.fit.encoding import (
    Closed,
    Connecting,
    Encoding,
    Guards,
    Landing,
    keep_two_apart,
    mapped,
)
from rewire.fit.task import WithoutSwitch, labels_of

WAIVABLE = ("gap", "bridge", "interrupted", "stray")
MOST_COMBINATIONS = 20_000
_MOST_STEPS = 40
_BREAKS = frozenset({"gap", "interrupted"})
_THROUGH_PARTS = frozenset({"interrupted", "stray"})

_OLD, _NEW = map(attrgetter, ("old", "new"))
Stand = tuple[Places, ...]
"""The groups that a section closes somewhere in a move."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of one control with the others somewhere, and what a finding says of it."""

    control: str
    before: int
    after: int
    state: Mapping[str, int]
    ends: Places
    breaks: bool
    """Two points must stay connected; else they must stay apart."""
    in_step: bool
    bars: tuple[Places, ...]
    """Parts that pass DC, where current through them counts, as nodes they link."""

    def step(self, control: str) -> tuple[int, int]:
        """Where a control stands before and after."""
        at = self.state[control]
        return (self.before, self.after) if control == self.control else (at, at)

    def scene(
        self, contacts: Iterable[Contact], unknown_shorts: bool
    ) -> tuple[list[Places], dict[int, Mover]]:
        """What stands still of some contacts, and what moves, by their numbers."""
        still: list[Places] = []
        movers: dict[int, Mover] = {}
        for number, contact in enumerate(contacts):
            before, after = self.step(contact.control)
            if not contact.moves(before, after):
                still += map(contact.places, contact.section.groups[before])
                continue
            timing = contact.section.timing
            shorts = timing == "shorting" or (timing == "unknown" and unknown_shorts)
            move, links = (contact.control, before, after), tuple(contact.links(0))
            found = moving(links, (contact,), Frame(()), move, {0: shorts}.__getitem__)
            movers.update((number, mover) for mover in found.movers)
        return still, movers

    def fails(self, still: Sequence[Places], movers: Sequence[Mover]) -> tuple[Stand, ...] | None:
        """The first combination in which the two points are not connected (or are)."""
        stands = [mover.least if self.breaks else mover.most for mover in movers]
        combinations: Iterable[tuple[Stand, ...]] = product(*stands)
        if self.in_step and movers:
            combinations = zip(*((m.between, m.old, m.new) for m in movers), strict=True)
        for chosen in combinations:
            moved = (group for stand in chosen for group in stand)
            if _connected([*still, *self.bars, *moved], self.ends) != self.breaks:
                return chosen
        return None


@dataclass
class Switching:
    """The moves of an original without its old switch, and of wirings on an offer."""

    bare: WithoutSwitch
    encoding: Encoding
    _moves_at: dict[tuple[object, ...], Literal] = field(init=False, default_factory=dict)

    def rule_out(self, landing: Landing, finding: Finding, waived: frozenset[str]) -> None:
        """Add clauses that no wiring with this finding satisfies, and that every good one does."""
        eased = {"interrupted": "gap", "stray": "bridge"}.get(finding.kind) in waived
        rule = None if finding.rule is None else self.bare.spec.rules[finding.rule]
        opens = rule is not None and rule.kind == "connect" and bool(finding.steps)
        told = (finding.kind in WAIVABLE and not eased) or opens
        for step in finding.steps[:_MOST_STEPS] if told else ():
            told &= self._demand(landing, self._moment(finding, step))
        if not told:
            timed = zip(self.encoding.shorting, landing.timings, strict=True)
            timings = (-literal if timing == "shorting" else literal for literal, timing in timed)
            self.encoding.clauses.add(*self.other_nets(landing), *timings)

    def other_nets(self, landing: Landing) -> list[Literal]:
        """One of these holds in a wiring with other nets, or served by other detents."""
        return [-literal for literal in self.encoding.literals_of(landing)]

    def _moment(self, finding: Finding, step: Step) -> Moment:
        before, after = step.before.as_dict(), step.after.as_dict()
        control = next(name for name, at in before.items() if after[name] != at)
        positions = self.bare.spec.controls[control].positions
        ends = positions.index(before.pop(control)), positions.index(after[control])
        return Moment(
            control=control,
            before=ends[0],
            after=ends[1],
            state=self._completed((control, *ends), before),
            ends=tuple(self.bare.node(group[0]) for group in finding.groups[:2]),
            breaks=finding.kind in (*_BREAKS, "rule"),
            in_step=bool(finding.in_step),
            bars=tuple(self._bars(finding)),
        )

    def _completed(self, move: Move, fixed: Mapping[str, str]) -> dict[str, int]:
        """A position of every control that goes with a move, at both ends of which it can occur."""
        spec = self.bare.spec
        states, controls = States(spec.controls, spec.never), spec.controls
        frame = states.frame({*fixed, *(name for item in spec.never for name in item)} - {move[0]})
        mask = states.possible_steps(frame, *move)
        mask &= states.selected(frame, {name: (at,) for name, at in fixed.items()})
        found = next(frame.states(mask), {})
        numbers = {name: controls[name].positions.index(at) for name, at in found.items()}
        return dict.fromkeys(controls, 0) | numbers | {move[0]: move[1]}

    def _bars(self, finding: Finding) -> Iterator[Places]:
        """Parts that carry what a finding is about; of a rule with a limit those it can count on.

        Whatever their ohms: connected over none of them is never within a limit.
        """
        rule = None if finding.rule is None else self.bare.spec.rules[finding.rule]
        if finding.kind not in _THROUGH_PARTS and (rule is None or rule.limit is None):
            return
        for part in self.bare.spec.parts_of(self.bare.wiring).values():
            if part.passes_dc and not (rule and part.open_in_sums):
                yield tuple(self.bare.node(part.terminal(lug)) for lug in part.terminals)

    def _contacts(self, landing: Landing) -> list[Contact]:
        """The sections of the new switch at the positions, every lug on a place of its own."""
        place = {lug: self.bare.nodes + n for lug, n in self.encoding.number.items()}
        switch, control = (
            self.encoding.offer.timed(landing.timings).switch,
            self.bare.switch.control,
        )
        sections = (mapped(section, landing.detents) for section in switch.sections)
        return [Contact(switch.name, control, section, place) for section in sections]

    def _demand(self, landing: Landing, moment: Moment) -> bool:
        """Put one moment to the solver; False if the combination could not be found."""
        new_still, new = moment.scene(self._contacts(landing), not moment.breaks)
        old_still, old = moment.scene(self.bare.old_contacts, moment.breaks)
        base, number = self.bare.nodes, self.encoding.number
        nets = [(*stubs, *(base + number[lug] for lug in lugs)) for stubs, lugs in landing.nets]
        for alike_shorting in (True, False):
            still, others = moment.scene(self.bare.contacts, alike_shorting)
            before, after = [*others.values(), *old.values()], [*others.values(), *new.values()]
            sizes = [prod(max(len(m.least), len(m.most)) for m in some) for some in (before, after)]
            if max(sizes) > MOST_COMBINATIONS:
                continue
            if moment.fails([*still, *old_still], before) is not None:
                continue
            chosen = moment.fails([*still, *nets, *new_still], after)
            if chosen is not None:
                outside = [*still, *(g for stand in chosen[: len(others)] for g in stand)]
                if not moment.breaks:
                    outside += self._at_rest(moment, zip(after, chosen, strict=True))
                stands = dict(zip(new, chosen[len(others) :], strict=True))
                return self._tell(landing, moment, outside, new, stands)
        return False

    def _at_rest(self, moment: Moment, stands: Iterable[tuple[Mover, Stand]]) -> Iterator[Places]:
        """What every wiring that is right at rest connects in a combination.

        All that the original connects before the step, or after it, if whatever moves still
        closes all that it closed there.
        """
        chosen = list(stands)
        for at, closes in ((moment.before, _OLD), (moment.after, _NEW)):
            if all(set(closes(mover)) <= set(stand) for mover, stand in chosen):
                state = {**moment.state, moment.control: at}
                for contact in (*self.bare.contacts, *self.bare.old_contacts):
                    yield from map(contact.places, contact.section.groups[state[contact.control]])

    def _tell(
        self,
        landing: Landing,
        moment: Moment,
        outside: Sequence[Places],
        movers: Mapping[int, Mover],
        stands: Mapping[int, Stand],
    ) -> bool:
        """What must be connected, or apart, with so much connected outside the new switch."""
        closed = self._closed(landing, moment, stands)
        guards = tuple(self._guards(landing, movers, stands))
        count = self.bare.nodes + len(self.bare.lug_node)
        labels = labels_of(count, [*moment.bars, *outside], self.bare.nodes)
        stubs = range(len(self.bare.stubs))
        sides = [{stub for stub in stubs if labels[stub] == labels[end]} for end in moment.ends]
        if moment.breaks:
            self._must_connect(closed, labels[: len(stubs)], sides, guards)
            return True
        touching = () if moment.bars else self._lugs_move_at_both(landing, moment)
        if touching is None:
            return False
        apart = (*guards, *touching)
        keep_two_apart(self.encoding, closed, labels[: len(stubs)], sides, apart)
        return True

    def _must_connect(
        self, closed: list[Closed], outside: Places, sides: list[set[int]], guards: Guards
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
        self, landing: Landing, moment: Moment, stands: Mapping[int, Stand]
    ) -> list[Closed]:
        """What the new switch closes in a combination."""
        found = []
        for number, contact in enumerate(self._contacts(landing)):
            standing = contact.section.groups[moment.step(contact.control)[0]]
            for group in stands.get(number, tuple(map(contact.places, standing))):
                found.append(Closed(tuple(place - self.bare.nodes for place in group)))
        return found

    def _guards(
        self, landing: Landing, movers: Mapping[int, Mover], stands: Mapping[int, Stand]
    ) -> Iterator[Literal]:
        """What a combination rests on: the choice of detents, and timings."""
        encoding = self.encoding
        if len(encoding.detents) > 1:
            yield -encoding.served_by[encoding.detents.index(landing.detents)]
        for number, stand in stands.items():
            timing = landing.timings[number]
            if timing != "unknown" and stand not in (movers[number].old, movers[number].new):
                literal = encoding.shorting[number]
                yield -literal if timing == "shorting" else literal

    def _lugs_move_at_both(self, landing: Landing, moment: Moment) -> Guards | None:
        """Opposites of: each end has a lug that moves. None if that cannot be told."""
        moved = _moved_by(self.bare.contacts, moment)
        found = [
            self._lug_moves_at(landing, moment, end) for end in moment.ends if end not in moved
        ]
        return None if None in found else tuple(-literal for literal in found if literal)

    def _lug_moves_at(self, landing: Landing, moment: Moment, stub: int) -> Literal | None:
        if moment.control != self.bare.switch.control or stub >= len(self.bare.stubs):
            return None
        moved = {place - self.bare.nodes for place in _moved_by(self._contacts(landing), moment)}
        on_stub = next((of_net for stubs, of_net in landing.nets if stubs[:1] == (stub,)), ())
        if not moved & {self.encoding.number[lug] for lug in on_stub}:
            return None
        key = landing.detents, moment.before, moment.after, stub
        if key not in self._moves_at:
            here = [self.encoding.at[lug][stub] for lug in sorted(moved)]
            self._moves_at[key] = self.encoding.clauses.is_any(here)
        return self._moves_at[key]


def _moved_by(contacts: Iterable[Contact], moment: Moment) -> set[int]:
    """Places with a lug of a section that a step moves."""
    moving = (c for c in contacts if c.control == moment.control)
    return {p for c in moving if c.moves(moment.before, moment.after) for p in c.closing()}


def _connected(groups: Sequence[Places], ends: Places) -> bool:
    joiner = Joiner(1 + max([*ends, *(max(group) for group in groups if group)]))
    for group in groups:
        joiner.join(group)
    return joiner.root(ends[0]) == joiner.root(ends[1])
