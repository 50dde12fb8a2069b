"""From facts to findings: states told, meant ones told apart, evidence beside each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rewire.circuit.states import Frame, States, widen
from rewire.circuit.traces import Closed
from rewire.compare.company import Party, company_of, party_of
from rewire.compare.evidence import (
    Tracer,
    ends_in_words,
    figure_in_words,
    link_in_words,
    poles_gone,
    rule_in_words,
)
from rewire.compare.facts import Groups, Key, Move, RestFacts, StepFacts
from rewire.compare.findings import Finding, FindingKind, State, Step
from rewire.compare.meant import Declared
from rewire.compare.rules import Broken
from rewire.compare.views import Views
from rewire.compare.when import told_apart
from rewire.compare.words import group_names
from rewire.spec.model import Rule, Spec, Wiring

SAID: Mapping[FindingKind, str] = {
    "dropped": "{} are no longer joined",
    "inserted": "{} are joined only through {through}",
    "joined": "{} are joined, and were not",
    "gap": "{} let go of each other for a moment",
    "bridge": "{} are joined for a moment, and never were",
    "interrupted": "the current path between {} stops for a moment",
    "stray": "for a moment current can flow between {}",
}


Ways = tuple[tuple[str, ...], str | None, str | None, tuple[str, ...]]
"""In one state: the way as it was, what is no more, what is there instead, where paths end."""
MOST_FOLLOWED = 24
"""States of one finding whose ways are followed one by one."""


@dataclass(frozen=True)
class Maker:
    """Makes findings about one wiring."""

    spec: Spec
    other: Wiring
    views: Views
    states: States
    declared: Declared
    here: Tracer
    there: Tracer

    def at_rest(self, facts: RestFacts) -> Iterator[Finding]:
        """Findings about states."""
        for (kind, groups), (frame, mask) in facts.of.items():
            for through, part in self._by_through(kind, groups, frame, mask):
                for its_frame, its_mask, meant, why in self.declared.split(
                    kind, groups, frame, part, through
                ):
                    yield self._rest(kind, groups, its_frame, its_mask, meant, why, through)

    def _by_through(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int
    ) -> Iterable[tuple[tuple[str, ...], int]]:
        """States told apart by the added parts on the shortest way."""
        if kind != "inserted":
            return [((), mask)]
        found: dict[tuple[str, ...], int] = {}
        for state in frame.states(mask):
            through = self.there.through(groups, self._closed(state), self.views.roles.added)
            found[through] = found.get(through, 0) | 1 << frame.number(state)
        return found.items()

    def _closed(self, state: Mapping[str, str]) -> Closed:
        controls = self.spec.controls
        return {name: 1 << controls[name].positions.index(at) for name, at in state.items()}

    def _rest(
        self,
        kind: FindingKind,
        groups: Groups,
        frame: Frame,
        mask: int,
        meant: bool,
        why: str | None,
        through: tuple[str, ...],
    ) -> Finding:
        states = [State(tuple(state.items())) for state in frame.states(mask)]
        ways = [self._evidence(kind, groups, state) for state in states[:MOST_FOLLOWED]]
        was, _, _, ends = ways[0]
        party = self.parties[kind]
        return Finding(
            kind=kind,
            meant=meant,
            message=self._message(kind, groups, through),
            groups=groups,
            states=tuple(states),
            through=through,
            was=was,
            was_in=states[0] if any(other != was for other, *_ in ways) else None,
            now="; ".join(self._told(ways, states)) or None,
            why=why,
            company=tuple(company_of(party, self.states, groups, frame, mask)),
            ends_at=ends,
        )

    @cached_property
    def parties(self) -> Mapping[FindingKind, Party]:
        """Per kind of finding at rest, the wiring in which its places are tied."""
        lost = party_of(self.views, "dropped")
        return {"dropped": lost, "inserted": lost, "joined": party_of(self.views, "joined")}

    def _evidence(self, kind: FindingKind, groups: Groups, state: State) -> Ways:
        """What there is to tell of one state."""
        closed = self._closed(state.as_dict())
        trace = self.here.way(groups, closed)
        was = trace.terminals if trace else ()
        gone = poles_gone(was, self.spec, self.other) if kind == "dropped" else None
        return was, gone, *self._now(kind, groups, closed)

    def _told(self, ways: Sequence[Ways], states: Sequence[State]) -> Iterator[str]:
        """What the other wiring has no more, and what there is instead."""
        for said in ([gone for _, gone, _, _ in ways], [now for _, _, now, _ in ways]):
            text = told_apart(said, states)
            if text:
                yield text

    def _now(
        self, kind: FindingKind, groups: Groups, closed: Closed
    ) -> tuple[str | None, tuple[str, ...]]:
        """What is there instead, in words, and where a dropped path ends."""
        if kind in ("joined", "bridge"):
            trace = self.there.way(groups, closed)
            return (trace.in_words() if trace else None), ()
        if kind == "inserted":
            trace = self.there.over_parts(groups, closed, self.views.roles.added)
            return (trace.in_words() if trace else None), ()
        if kind == "stray":
            trace = self.there.flow(groups, closed)
            return (trace.in_words() if trace else None), ()
        return ends_in_words(self.there, groups, closed)

    def _message(self, kind: FindingKind, groups: Groups, through: tuple[str, ...]) -> str:
        names = group_names(groups, self.spec.points)
        return SAID[kind].format(names, through=" and ".join(through) or "an added part")

    def while_switching(self, facts: StepFacts) -> Iterator[Finding]:
        """Findings about moves; parts of one finding that are meant alike are one."""
        for key, moves in facts.of.items():
            steps: dict[tuple[bool, str | None], list[Step]] = {}
            for move in sorted(moves, key=self._order):
                frame, mask = self._united(moves[move])
                for its_frame, its_mask, meant, why in self.declared.split(
                    *key, frame, mask, move=move
                ):
                    steps.setdefault((meant, why), []).extend(
                        self._steps(move, its_frame, its_mask)
                    )
            for (meant, why), its_steps in steps.items():
                yield self._step_finding(key, tuple(its_steps), meant, why)

    def _order(self, move: Move) -> tuple[int, int, int]:
        return [*self.spec.controls].index(move[0]), move[1], move[2]

    def _united(self, found: list[tuple[Frame, int]]) -> tuple[Frame, int]:
        """Sets of states over different frames as one, without controls that turned out idle."""
        if len(found) == 1:
            return found[0]
        names = {control.name for frame, _ in found for control in frame.controls}
        wide = self.states.frame(names)
        mask = 0
        for frame, its in found:
            mask |= widen(frame, its, wide)
        return wide, mask

    def _steps(self, move: Move, frame: Frame, mask: int) -> Iterator[Step]:
        name, before, after = move
        positions = self.spec.controls[name].positions
        for others in frame.states(mask):
            ends = []
            for position in (positions[before], positions[after]):
                full = {**others, name: position}
                ends.append(State(tuple((c, full[c]) for c in self.spec.controls if c in full)))
            yield Step(*ends)

    def _step_finding(
        self, key: Key, steps: tuple[Step, ...], meant: bool, why: str | None
    ) -> Finding:
        kind, groups = key
        before = self._closed(steps[0].before.as_dict())
        after = self._closed(steps[0].after.as_dict())
        was = (
            self.here.flow(groups, before)
            if kind == "interrupted"
            else (self.here.way(groups, before))
        )
        closed = {name: before[name] | after[name] for name in before}
        if kind in ("gap", "interrupted"):
            now = "the old contacts open before the new ones close"
        else:
            now = self._now(kind, groups, closed)[0] or ""
        return Finding(
            kind=kind,
            meant=meant,
            message=self._message(kind, groups, ()),
            groups=groups,
            steps=steps,
            was=was.terminals if was else (),
            now=now or None,
            why=why,
        )

    def broken_rule(self, broken: Broken) -> Iterator[Finding]:
        """A rule that does not hold, at rest and while switching."""
        rule = self.spec.rules[broken.rule]
        said = f"rule {broken.rule + 1}: {rule_in_words(rule)}"
        if broken.at_rest:
            states = tuple(
                State(tuple(state.items())) for state in broken.frame.states(broken.at_rest)
            )
            links = [self._link(rule, state) for state in states[:MOST_FOLLOWED]]
            now = told_apart(links, states) or ""
            yield self._rule_finding(broken.rule, said, now, states=states)
        steps = tuple(
            s for move, frame, mask in broken.moves for s in self._steps(move, frame, mask)
        )
        if steps:
            before = self._closed(steps[0].before.as_dict())
            after = self._closed(steps[0].after.as_dict())
            closed = {name: before[name] | after[name] for name in before}
            now = "the old contacts open before the new ones close"
            if rule.kind == "isolate":
                now = link_in_words(self.there, rule, closed)
            said += ", and for a moment do not"
            yield self._rule_finding(broken.rule, said, now, steps=steps)

    def _link(self, rule: Rule, state: State) -> str:
        closed = self._closed(state.as_dict())
        link = link_in_words(self.there, rule, closed)
        return link + figure_in_words(self.there, rule, closed)

    def _rule_finding(
        self,
        number: int,
        message: str,
        now: str,
        states: tuple[State, ...] = (),
        steps: tuple[Step, ...] = (),
    ) -> Finding:
        rule = self.spec.rules[number]
        return Finding(
            kind="rule",
            meant=False,
            message=message,
            groups=tuple(sorted((place,) for place in rule.places)),
            states=states,
            steps=steps,
            now=now,
            why=rule.why,
            rule=number,
        )

    def undone(self) -> Iterator[Finding]:
        """Declared changes that nothing was found for."""
        for number in self.declared.undone():
            change = self.other.changes[number]
            what = " and ".join(change.parts or change.anchors)
            yield Finding(
                kind="undone",
                meant=False,
                message=f"declared but not found: {change.kind} {what}",
                why=change.why,
                change=number,
            )
