"""From facts to findings: states told, meant ones told apart, evidence beside each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rewire.circuit.states import Frame, States, widen
from rewire.circuit.tracing import Closed
from rewire.compare.also_tied import Party, also_tied, party_of
from rewire.compare.comparison import Comparison
from rewire.compare.declared import THROUGH_PARTS, Declared
from rewire.compare.evidence import (
    Tracer,
    ends_in_words,
    figure_in_words,
    link_in_words,
    poles_gone,
    rule_in_words,
)
from rewire.compare.findings import (
    Finding,
    FindingKind,
    Found,
    Groups,
    Key,
    Move,
    RestFacts,
    State,
    Step,
    StepFacts,
)
from rewire.compare.rules import Broken
from rewire.compare.when import told_apart
from rewire.compare.words import group_names, listing
from rewire.records.spec import Rule, Spec

SAID: Mapping[FindingKind, str] = {
    "dropped": "{} are no longer joined",
    "inserted": "{} are joined only through {through}",
    "joined": "{} are joined, and were not",
    "linked": "{} are linked through {through}; nothing joined them",
    "gap": "{} let go of each other for a moment",
    "bridge": "{} are joined for a moment, and never were",
    "interrupted": "the current path between {} stops for a moment",
    "stray": "for a moment current can flow between {}",
}


_LETS_GO = {
    True: "the old contacts open before the new ones close",
    False: "one pole can let go before another has made contact",
}
"""How a connection is lost for a moment: in step, and where the poles are uneven."""


Ways = tuple[tuple[str, ...], str | None, str | None, tuple[str, ...]]
"""In one state: the way as it was, what is no more, what is there instead, where paths end."""
MOST_FOLLOWED = 24
"""States of one finding whose ways are followed one by one."""


@dataclass(frozen=True)
class Maker:
    """Makes findings about one wiring."""

    both: Comparison
    states: States

    @property
    def spec(self) -> Spec:
        """The spec both wirings are of."""
        return self.both.spec

    @cached_property
    def declared(self) -> Declared:
        """What the other wiring says it does otherwise."""
        return Declared(self.both.other.changes, self.states)

    @cached_property
    def here(self) -> Tracer:
        """Follows paths in the original."""
        return Tracer(self.both.here, {anchor: anchor for anchor in self.both.roles.seat})

    @cached_property
    def there(self) -> Tracer:
        """Follows paths in the other wiring."""
        nets = tuple(names for names in self.both.down.anchors.values() if len(names) > 1)
        return Tracer(self.both.there, self.both.roles.seat, nets)

    def at_rest(self, facts: RestFacts) -> Iterator[Finding]:
        """Findings about states."""
        for (kind, groups), (frame, mask) in facts.of.items():
            if kind not in THROUGH_PARTS:
                for its_frame, its_mask, meant, why in self.declared.split(
                    kind, groups, frame, mask
                ):
                    yield self._rest(kind, groups, its_frame, its_mask, meant, why, ())
                continue
            for (through, declared), part in self._by_parts(kind, groups, frame, mask).items():
                told: list[tuple[Frame, int, bool, str | None]] = [(frame, part, False, None)]
                if declared:
                    told = self.declared.split(kind, groups, frame, part)
                for its_frame, its_mask, meant, why in told:
                    yield self._rest(kind, groups, its_frame, its_mask, meant, why, through)

    def _by_parts(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int
    ) -> Mapping[tuple[tuple[str, ...], bool], int]:
        """States told apart by the added parts between the groups, and whether these are declared.

        They are declared if all on a shortest way are and no added part links the groups with
        the declared ones taken out.
        """
        found: dict[tuple[tuple[str, ...], bool], int] = {}
        added = self.both.roles.added
        for state in frame.states(mask):
            closed = self._closed(state)
            linking = self.there.linking(kind, groups, closed, added)
            through = tuple(sorted(linking))
            if kind == "inserted":
                through = self.there.through(groups, closed, added)
            parts = self.declared.parts_for(kind, groups, state, linking)
            left = [name for name in added if name not in parts]
            declared = parts.issuperset(through) and not (
                parts and self.there.linking(kind, groups, closed, left)
            )
            found[through, declared] = found.get((through, declared), 0) | 1 << frame.number(state)
        return found

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
            company=tuple(also_tied(party, self.states, groups, frame, mask)),
            ends_at=ends,
        )

    @cached_property
    def parties(self) -> Mapping[FindingKind, Party]:
        """Per kind of finding at rest, the wiring in which its places are tied."""
        lost = party_of(self.both, "dropped")
        new = party_of(self.both, "joined")
        return {"dropped": lost, "inserted": lost, "joined": new, "linked": new}

    def _evidence(self, kind: FindingKind, groups: Groups, state: State) -> Ways:
        """What there is to tell of one state."""
        closed = self._closed(state.as_dict())
        trace = self.here.way(groups, closed)
        was = trace.terminals if trace else ()
        gone = poles_gone(was, self.here, self.there) if kind == "dropped" else None
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
        if kind in THROUGH_PARTS:
            trace = self.there.over_parts(groups, closed, self.both.roles.added)
            return (trace.in_words() if trace else None), ()
        if kind == "stray":
            trace = self.there.flow(groups, closed)
            return (trace.in_words() if trace else None), ()
        return ends_in_words(self.there, groups, closed)

    def _message(self, kind: FindingKind, groups: Groups, through: tuple[str, ...]) -> str:
        names = group_names(groups, self.spec.points)
        return SAID[kind].format(names, through=listing(through) or "an added part")

    def while_switching(self, facts: StepFacts) -> Iterator[Finding]:
        """Findings about moves; parts of one finding that are meant alike are one."""
        for key, moves in facts.of.items():
            steps: dict[tuple[bool, str | None, bool], list[Step]] = {}
            for move in sorted(moves, key=self._order):
                for found in self._told_by_question(moves[move]):
                    for frame, mask, meant, why in self.declared.split(
                        *key, found.frame, found.mask, move=move
                    ):
                        its = steps.setdefault((meant, why, found.in_step), [])
                        its.extend(self._steps(move, frame, mask))
            for (meant, why, stepped), its_steps in steps.items():
                yield self._step_finding(key, tuple(its_steps), meant, why, stepped)

    def _order(self, move: Move) -> tuple[int, int, int]:
        return [*self.spec.controls].index(move[0]), move[1], move[2]

    def _told_by_question(self, found: Sequence[Found]) -> Iterator[Found]:
        """What happens in step, then what happens only where the poles are uneven.

        Sets of states over different frames are one, without controls that turned out idle.
        """
        first = found[0].frame
        same = all(one.frame is first for one in found)
        names = {control.name for one in found for control in one.frame.controls}
        wide = first if same else self.states.frame(names)
        masks = {True: 0, False: 0}
        for one in found:
            masks[one.in_step] |= widen(one.frame, one.mask, wide)
        if masks[True]:
            yield Found(wide, masks[True], True)
        if masks[False] & ~masks[True]:
            yield Found(wide, masks[False] & ~masks[True], False)

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
        self, key: Key, steps: tuple[Step, ...], meant: bool, why: str | None, stepped: bool
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
            now = _LETS_GO[stepped]
        else:
            now = self._now(kind, groups, closed)[0] or ""
        return Finding(
            kind=kind,
            meant=meant,
            message=self._message(kind, groups, ()) + self._unless(steps[0], stepped, now),
            groups=groups,
            steps=steps,
            in_step=stepped,
            was=was.terminals if was else (),
            now=now or None,
            why=why,
        )

    def _unless(self, step: Step, in_step: bool, now: str) -> str:
        """What must come to it: nothing, a throw that is passed over, or poles that are uneven."""
        if in_step:
            return ""
        before, after = (self._closed(end.as_dict()) for end in (step.before, step.after))
        passed = self.there.passed(before, after)
        on_the_way = [lug for lug in now.split(" – ") if lug in passed]
        if on_the_way:
            return f", as the knob goes past {listing(on_the_way)}"
        return ", if the poles are uneven"

    def rules(self, broken: Iterable[Broken]) -> Iterator[Finding]:
        """Rules that do not hold."""
        for one in broken:
            yield from self.broken_rule(one)

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
        for stepped in (True, False):
            yield from self._broken_in_moves(broken, said, stepped)

    def _broken_in_moves(self, broken: Broken, said: str, stepped: bool) -> Iterator[Finding]:
        """A rule that does not hold for a moment: in step, or only where the poles are uneven."""
        rule = self.spec.rules[broken.rule]
        by_move: dict[Move, list[Found]] = {}
        for move, found in broken.moves:
            by_move.setdefault(move, []).append(found)
        steps = tuple(
            step
            for move, its in by_move.items()
            for found in self._told_by_question(its)
            if found.in_step == stepped
            for step in self._steps(move, found.frame, found.mask)
        )
        if not steps:
            return
        now = _LETS_GO[stepped]
        if rule.kind == "isolate":
            before, after = (
                self._closed(end.as_dict()) for end in (steps[0].before, steps[0].after)
            )
            now = link_in_words(self.there, rule, {c: before[c] | after[c] for c in before})
        told = f"{said}; for a moment they {'are not' if rule.kind == 'connect' else 'do not'}"
        yield self._rule_finding(
            broken.rule,
            told + self._unless(steps[0], stepped, now),
            now,
            steps=steps,
            in_step=stepped,
        )

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
        in_step: bool | None = None,
    ) -> Finding:
        rule = self.spec.rules[number]
        return Finding(
            kind="rule",
            meant=False,
            message=message,
            groups=tuple(sorted((place,) for place in rule.places)),
            states=states,
            steps=steps,
            in_step=in_step,
            now=now,
            why=rule.why,
            rule=number,
        )

    def undone(self) -> Iterator[Finding]:
        """Declared changes that nothing was found for."""
        for number in self.declared.undone():
            change = self.both.other.changes[number]
            what = " and ".join(change.parts or change.anchors)
            yield Finding(
                kind="undone",
                meant=False,
                message=f"declared but not found: {change.kind} {what}",
                why=change.why,
                change=number,
            )
