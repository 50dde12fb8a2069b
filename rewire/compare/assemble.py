"""From facts to findings: declared changes apart from losses, each with its evidence."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from rewire.circuit.connectivity import Bond, partitions
from rewire.circuit.graph import by_first
from rewire.circuit.states import Frame, States, widen
from rewire.circuit.tracing import Closed
from rewire.compare.comparison import Comparison
from rewire.compare.evidence import (
    Tracer,
    also_connected,
    endings,
    figure_in_words,
    link_in_words,
    poles_gone,
    rule_in_words,
)
from rewire.compare.findings import (
    DECLARES,
    SWITCHING,
    THROUGH_PARTS,
    Finding,
    FindingKind,
    FoundIn,
    Groups,
    Move,
    RestFacts,
    State,
    Step,
    StepFacts,
    group_names,
    told_apart,
)
from rewire.compare.rules import Broken
from rewire.records.spec import Change, Spec
from rewire.words.wording import listing

SAID: Mapping[FindingKind, str] = {
    "dropped": "{} disconnected",
    "inserted": "{through} now in series between {}",
    "joined": "{} shorted to each other",
    "linked": "{through} new across {}, separate circuits in the original",
    "gap": "{} opens for a moment",
    "bridge": "{} shorts for a moment",
    "interrupted": "current from {} stops for a moment",
    "stray": "current flows for a moment from {}",
}
_OPENS = {
    True: "the old contacts open before the new ones close",
    False: "one pole can open before another has closed",
}
"""How a connection is lost for a moment: in step, and where the poles are uneven."""
MOST_FOLLOWED = 24
"""States of one finding whose paths are followed one by one."""


@dataclass(frozen=True, slots=True)
class Portion:
    """Some states of a fact: all declared, or none."""

    frame: Frame
    mask: int
    meant: bool = False
    why: str | None = None


@dataclass(slots=True)
class Declared:
    """The declared changes of a wiring, and which of them were found."""

    changes: Sequence[Change]
    states: States
    found: set[int] = field(default_factory=set)

    def of_part(self, kind: FindingKind, part: str) -> str | None:
        """The reason declared for a part removed or reversed; '' if none is given."""
        for number, change in enumerate(self.changes):
            if DECLARES[change.kind] == kind and part in change.parts:
                self.found.add(number)
                return change.why or ""
        return None

    def _naming(
        self, kind: FindingKind, groups: Groups
    ) -> Iterator[tuple[int, Change, tuple[int, int]]]:
        """Declarations of a kind, by number, and the two groups that their anchors are in."""
        for number, change in enumerate(self.changes):
            if DECLARES[change.kind] == kind:
                where = [n for a in change.anchors for n, group in enumerate(groups) if a in group]
                if len(where) == 2 and where[0] != where[1]:
                    yield number, change, (where[0], where[1])

    def parts_for(
        self, kind: FindingKind, groups: Groups, state: Mapping[str, str], linking: Collection[str]
    ) -> frozenset[str]:
        """Parts that are declared between two of some groups in a state."""
        here = [
            (number, change.parts)
            for number, change, _ in self._naming(kind, groups)
            if all(state.get(c, at[0]) in at for c, at in change.when.items())
        ]
        self.found.update(n for n, parts in here if not set(linking).isdisjoint(parts))
        return frozenset(part for _, parts in here for part in parts)

    def split(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int, move: Move | None = None
    ) -> list[Portion]:
        """Tell states that declarations cover from those they don't.

        Declarations cover a state if together they link all groups there; each
        names two anchors of different groups.
        """
        naming = [one for one in self._naming(kind, groups) if self._covers(one[1], move)]
        if not naming:
            return [Portion(frame, mask)]
        names = set(frame.names).union(*(change.when for _, change, _ in naming))
        wide = self.states.frame(names - {move[0]} if move else names, "the declared changes")
        spread = widen(frame, mask, wide)
        spread &= self.states.possible_steps(wide, *move) if move else self.states.possible(wide)
        bonds: list[Bond] = []
        for number, change, pair in naming:
            where = self.states.selected(wide, change.when)
            bonds.append((pair, where))
            if where & spread and kind not in THROUGH_PARTS:
                self.found.add(number)
        told = partitions(range(len(groups)), bonds, spread)
        covered = next((where for labels, where in told if not any(labels)), 0)
        why = "; ".join(dict.fromkeys(c.why for _, c, _ in naming if c.why)) or None
        if covered == spread:
            return [Portion(frame, mask, True, why)]
        if not covered:
            return [Portion(frame, mask)]
        return [Portion(wide, spread & ~covered), Portion(wide, covered, True, why)]

    def _covers(self, change: Change, move: Move | None) -> bool:
        """Both ends of a move must be covered; ``when`` of other controls is looked at by state."""
        if move is None or move[0] not in change.when:
            return True
        name, before, after = move
        positions = self.states.controls[name].positions
        return {positions[before], positions[after]} <= set(change.when[name])


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
            by_parts: dict[tuple[tuple[str, ...], bool], int] = {((), True): mask}
            if kind in THROUGH_PARTS:
                by_parts = self._by_parts(kind, groups, frame, mask)
            for (through, declared), its in by_parts.items():
                split = self.declared.split(kind, groups, frame, its) if declared else None
                for told in split or [Portion(frame, its)]:
                    yield self._rest(kind, groups, told, through)

    def _by_parts(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int
    ) -> dict[tuple[tuple[str, ...], bool], int]:
        """States told apart by the added parts between the groups, and whether these are declared.

        They are declared if all on a shortest path are and no added part links the groups with
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

    def _closed(self, *states: Mapping[str, str]) -> Closed:
        """What is closed in a state, or before or after a step."""
        controls, closed = self.spec.controls, dict[str, int]()
        for name, at in (one for state in states for one in state.items()):
            closed[name] = closed.get(name, 0) | 1 << controls[name].positions.index(at)
        return closed

    def _rest(
        self, kind: FindingKind, groups: Groups, told: Portion, through: tuple[str, ...]
    ) -> Finding:
        states = [State(tuple(state.items())) for state in told.frame.states(told.mask)]
        closed = [self._closed(state.as_dict()) for state in states[:MOST_FOLLOWED]]
        traces = [self.here.path(groups, at) for at in closed]
        was = [trace.terminals if trace else () for trace in traces]
        if kind == "dropped":
            sides = [endings(self.there, groups, at) for at in closed]
            now: list[str | None] = ["; ".join(side.said for side in both) for both in sides]
            gone = [poles_gone(path, self.here, self.there) for path in was]
            shortly = [min(sides[0], key=lambda side: side.reached).said, gone[0]]
        else:
            now = [self._now(kind, groups, at) for at in closed]
            sides, gone, shortly = [[]], [None] * len(now), now[:1]
        instead = (told_apart(said, states) for said in (gone, now))
        held = told.frame, told.mask
        way = self.both.up if kind in ("joined", "linked") else self.both.down
        return Finding(
            kind=kind,
            meant=told.meant,
            message=self._message(kind, groups, through),
            groups=groups,
            states=tuple(states),
            through=through,
            was=was[0],
            was_in=states[0] if any(path != was[0] for path in was) else None,
            now="; ".join(filter(None, instead)) or None,
            why=told.why,
            company=tuple(also_connected(way, self.states, groups, held, self.spec.points)),
            ends_at=tuple(lug for side in sides[0] for lug in side.lugs),
            shortly="; ".join(filter(None, shortly)),
        )

    def _now(self, kind: FindingKind, groups: Groups, closed: Closed) -> str | None:
        """The path that there is instead, in words."""
        if kind in THROUGH_PARTS:
            trace = self.there.over_parts(groups, closed, self.both.roles.added)
        elif kind == "stray":
            trace = self.there.flow(groups, closed)
        else:
            trace = self.there.path(groups, closed)
        return trace.in_words() if trace else None

    def _message(self, kind: FindingKind, groups: Groups, through: tuple[str, ...]) -> str:
        joining = "to" if kind in SWITCHING else "and"
        names = group_names(groups, self.spec.points, joining)
        return SAID[kind].format(names, through=listing(through) or "an added part")

    def while_switching(self, facts: StepFacts) -> Iterator[Finding]:
        """Findings about moves; parts of one finding that are meant alike are one."""
        all_of = ((kind, g, move, at) for (kind, move), some in facts.items() for g, at in some)
        by_groups = by_first(((kind, groups), (move, at)) for kind, groups, move, at in all_of)
        for (kind, groups), found_in in by_groups.items():
            by_move = by_first(found_in)
            steps: dict[tuple[bool, str | None, bool], list[Step]] = {}
            for move in sorted(by_move, key=self._order):
                for at in self._told_by_question(by_move[move]):
                    for told in self.declared.split(kind, groups, at.frame, at.mask, move):
                        its = steps.setdefault((told.meant, told.why, at.in_step), [])
                        its.extend(self._steps(move, told.frame, told.mask))
            for (meant, why, stepped), own in steps.items():
                plain = Finding(kind, meant, "", groups, steps=tuple(own), in_step=stepped, why=why)
                yield self._step_finding(plain)

    def _order(self, move: Move) -> tuple[int, int, int]:
        return [*self.spec.controls].index(move[0]), move[1], move[2]

    def _told_by_question(self, found: Sequence[FoundIn]) -> Iterator[FoundIn]:
        """What happens in step, then what happens only where the poles are uneven.

        Sets of states over different frames are one, without controls that turned out idle.
        """
        wide = self.states.frame(frozenset[str]().union(*(one.frame.names for one in found)))
        masks = {True: 0, False: 0}
        for one in found:
            masks[one.in_step] |= widen(one.frame, one.mask, wide)
        masks[False] &= ~masks[True]
        yield from (FoundIn(wide, mask, stepped) for stepped, mask in masks.items() if mask)

    def _steps(self, move: Move, frame: Frame, mask: int) -> Iterator[Step]:
        name, *ends = move
        control = self.spec.controls[name]
        for others in frame.states(mask):
            full = ({**others, name: control.positions[end]} for end in ends)
            yield Step(
                *(State(tuple((c, at[c]) for c in self.spec.controls if c in at)) for at in full)
            )

    def _step_finding(self, plain: Finding) -> Finding:
        """A finding about moves with its sentence and its evidence."""
        kind, groups, step = plain.kind, plain.groups, plain.steps[0]
        find = self.here.flow if kind == "interrupted" else self.here.path
        was = find(groups, self._closed(step.before.as_dict()))
        now: str | None = _OPENS[bool(plain.in_step)]
        if kind not in ("gap", "interrupted"):
            now = self._now(kind, groups, self._closed_in(step))
        message = self._message(kind, groups, ()) + self._unless(plain, now or "")
        return replace(plain, message=message, was=was.terminals if was else (), now=now)

    def _closed_in(self, step: Step) -> Closed:
        """What is closed before or after a step."""
        return self._closed(step.before.as_dict(), step.after.as_dict())

    def _unless(self, plain: Finding, now: str) -> str:
        """What must come to it: nothing, a throw that is passed over, or poles that are uneven."""
        if plain.in_step:
            return ""
        passed = self.there.passed(self._closed_in(plain.steps[0]))
        on_the_way = [lug for lug in now.split(" – ") if lug in passed]
        if on_the_way:
            return f", as the knob goes past {listing(on_the_way)}"
        return ", if the poles are uneven"

    def rules(self, broken: Iterable[Broken]) -> Iterator[Finding]:
        """Rules that do not hold, at rest and while switching."""
        for one in broken:
            rule = self.spec.rules[one.rule]
            message = f"rule {one.rule + 1}: {rule_in_words(rule)}"
            groups = tuple(sorted((place,) for place in rule.places))
            plain = Finding("rule", False, message, groups, why=rule.why, rule=one.rule)
            if one.at_rest:
                states = tuple(State(tuple(s.items())) for s in one.frame.states(one.at_rest))
                links = [self._link(one.rule, state) for state in states[:MOST_FOLLOWED]]
                yield replace(plain, states=states, now=told_apart(links, states) or "")
            for stepped in (True, False):
                steps = tuple(
                    step
                    for move, its in by_first(one.moves).items()
                    for found in self._told_by_question(its)
                    if found.in_step == stepped
                    for step in self._steps(move, found.frame, found.mask)
                )
                if steps:
                    yield self._rule_in_moves(replace(plain, steps=steps, in_step=stepped))

    def _rule_in_moves(self, plain: Finding) -> Finding:
        """For a moment: at every turn, or only where the poles are uneven."""
        rule = self.spec.rules[plain.rule or 0]
        now, verb = _OPENS[bool(plain.in_step)], "opens"
        if rule.kind == "isolate":
            now, verb = link_in_words(self.there, rule, self._closed_in(plain.steps[0])), "shorts"
        said = f"{plain.message}; {verb} for a moment{self._unless(plain, now)}"
        return replace(plain, message=said, now=now)

    def _link(self, number: int, state: State) -> str:
        rule, closed = self.spec.rules[number], self._closed(state.as_dict())
        link = link_in_words(self.there, rule, closed)
        return link + figure_in_words(self.there, rule, closed)

    def undone(self) -> Iterator[Finding]:
        """Declared changes that nothing was found for."""
        for number, change in enumerate(self.both.other.changes):
            if number not in self.declared.found:
                what = " and ".join(change.parts or change.anchors)
                said = f"declared under changes, but does not happen: {change.kind} {what}"
                yield Finding("undone", False, said, why=change.why, change=number)
