"""From facts to findings: declared changes apart from losses, each with its evidence."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from rewire.circuit.connectivity import Bond, partitions
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
    THROUGH_PARTS,
    Finding,
    FindingKind,
    FoundIn,
    Groups,
    Key,
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


SWITCHING: frozenset[FindingKind] = frozenset({"gap", "bridge", "interrupted", "stray"})
"""What happens while a control moves."""
_OPENS = {
    True: "the old contacts open before the new ones close",
    False: "one pole can open before another has closed",
}
"""How a connection is lost for a moment: in step, and where the poles are uneven."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What there is to tell of one state."""

    was: tuple[str, ...]
    """The path as it was."""
    gone: str | None
    """What the other wiring no longer has of it."""
    now: str | None
    shortly: str | None
    """The same in one clause."""
    ends: tuple[str, ...]


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

    def undone(self) -> list[int]:
        """Declarations that nothing was found for."""
        return [number for number in range(len(self.changes)) if number not in self.found]

    def parts_for(
        self, kind: FindingKind, groups: Groups, state: Mapping[str, str], linking: Collection[str]
    ) -> frozenset[str]:
        """Parts that are declared between two of some groups in a state."""
        naming = [
            (number, change)
            for number, change in enumerate(self.changes)
            if DECLARES[change.kind] == kind
            and _groups_named(change, groups) is not None
            and all(state.get(c, at[0]) in at for c, at in change.when.items())
        ]
        self.found.update(n for n, change in naming if not set(linking).isdisjoint(change.parts))
        return frozenset(part for _, change in naming for part in change.parts)

    def split(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int, move: Move | None = None
    ) -> list[Portion]:
        """Tell states that declarations cover from those they don't.

        Declarations cover a state if together they link all groups there; each
        names two anchors of different groups.
        """
        naming = [
            (number, change, pair)
            for number, change in enumerate(self.changes)
            if DECLARES[change.kind] == kind
            and (pair := _groups_named(change, groups)) is not None
            and self._covers(change, move)
        ]
        if not naming:
            return [Portion(frame, mask)]
        moved = {move[0]} if move else set()
        names = {c.name for c in frame.controls}.union(*(c.when for _, c, _ in naming)) - moved
        wide = self.states.frame(names, "the declared changes")
        spread = widen(frame, mask, wide) & self._possible(wide, move)
        bonds: list[Bond] = []
        for number, change, pair in naming:
            where = self.states.selected(wide, change.when)
            bonds.append((pair, where))
            if where & spread and kind not in THROUGH_PARTS:
                self.found.add(number)
        covered = 0
        for labels, where in partitions(range(len(groups)), bonds, spread):
            if not any(labels):
                covered |= where
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

    def _possible(self, frame: Frame, move: Move | None) -> int:
        if move is None:
            return self.states.possible(frame)
        return self.states.possible_steps(frame, *move)


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
                for told in self.declared.split(kind, groups, frame, mask):
                    yield self._rest(kind, groups, told)
                continue
            for (through, declared), its in self._by_parts(kind, groups, frame, mask).items():
                split = self.declared.split(kind, groups, frame, its) if declared else None
                for told in split or [Portion(frame, its)]:
                    yield self._rest(kind, groups, told, through)

    def _by_parts(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int
    ) -> Mapping[tuple[tuple[str, ...], bool], int]:
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

    def _closed(self, state: Mapping[str, str]) -> Closed:
        controls = self.spec.controls
        return {name: 1 << controls[name].positions.index(at) for name, at in state.items()}

    def _rest(
        self, kind: FindingKind, groups: Groups, told: Portion, through: tuple[str, ...] = ()
    ) -> Finding:
        states = [State(tuple(state.items())) for state in told.frame.states(told.mask)]
        followed = [self._evidence(kind, groups, state) for state in states[:MOST_FOLLOWED]]
        first = followed[0]
        held = told.frame, told.mask
        tied_in = self.both.up if kind in ("joined", "linked") else self.both.down
        return Finding(
            kind=kind,
            meant=told.meant,
            message=self._message(kind, groups, through),
            groups=groups,
            states=tuple(states),
            through=through,
            was=first.was,
            was_in=states[0] if any(other.was != first.was for other in followed) else None,
            now="; ".join(_instead(followed, states)) or None,
            why=told.why,
            company=tuple(also_connected(tied_in, self.states, groups, held, self.spec.points)),
            ends_at=first.ends,
            shortly="; ".join(filter(None, (first.shortly, first.gone))),
        )

    def _evidence(self, kind: FindingKind, groups: Groups, state: State) -> Seen:
        """What there is to tell of one state."""
        closed = self._closed(state.as_dict())
        trace = self.here.path(groups, closed)
        was = trace.terminals if trace else ()
        if kind != "dropped":
            now = self._now(kind, groups, closed)
            return Seen(was, None, now, now, ())
        gone = poles_gone(was, self.here, self.there)
        sides = endings(self.there, groups, closed)
        shortest = min(sides, key=lambda side: side.reached)
        lugs = tuple(lug for side in sides for lug in side.lugs)
        return Seen(was, gone, "; ".join(side.said for side in sides), shortest.said, lugs)

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
        for key, moves in facts.of.items():
            steps: dict[tuple[bool, str | None, bool], list[Step]] = {}
            for move in sorted(moves, key=self._order):
                for found in self._told_by_question(moves[move]):
                    split = self.declared.split(*key, found.frame, found.mask, move=move)
                    for told in split:
                        its = steps.setdefault((told.meant, told.why, found.in_step), [])
                        its.extend(self._steps(move, told.frame, told.mask))
            for (meant, why, stepped), its_steps in steps.items():
                yield self._step_finding(key, tuple(its_steps), meant, why, stepped)

    def _order(self, move: Move) -> tuple[int, int, int]:
        return [*self.spec.controls].index(move[0]), move[1], move[2]

    def _told_by_question(self, found: Sequence[FoundIn]) -> Iterator[FoundIn]:
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
            yield FoundIn(wide, masks[True], True)
        if masks[False] & ~masks[True]:
            yield FoundIn(wide, masks[False] & ~masks[True], False)

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
        find = self.here.flow if kind == "interrupted" else self.here.path
        was = find(groups, self._closed(steps[0].before.as_dict()))
        now = _OPENS[stepped]
        if kind not in ("gap", "interrupted"):
            now = self._now(kind, groups, self._closed_in(steps[0])) or ""
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

    def _closed_in(self, step: Step) -> Closed:
        """What is closed before or after a step."""
        before, after = (self._closed(end.as_dict()) for end in (step.before, step.after))
        return {name: at | after[name] for name, at in before.items()}

    def _unless(self, step: Step, in_step: bool, now: str) -> str:
        """What must come to it: nothing, a throw that is passed over, or poles that are uneven."""
        if in_step:
            return ""
        passed = self.there.passed(self._closed_in(step))
        on_the_way = [lug for lug in now.split(" – ") if lug in passed]
        if on_the_way:
            return f", as the knob goes past {listing(on_the_way)}"
        return ", if the poles are uneven"

    def rules(self, broken: Iterable[Broken]) -> Iterator[Finding]:
        """Rules that do not hold, at rest and while switching."""
        for one in broken:
            plain = self._rule(one.rule)
            if one.at_rest:
                states = tuple(State(tuple(s.items())) for s in one.frame.states(one.at_rest))
                links = [self._link(one.rule, state) for state in states[:MOST_FOLLOWED]]
                yield replace(plain, states=states, now=told_apart(links, states) or "")
            for stepped in (True, False):
                yield from self._rule_in_moves(plain, one, stepped)

    def _rule(self, number: int) -> Finding:
        """That a rule does not hold, without when and how."""
        rule = self.spec.rules[number]
        return Finding(
            kind="rule",
            meant=False,
            message=f"rule {number + 1}: {rule_in_words(rule)}",
            groups=tuple(sorted((place,) for place in rule.places)),
            why=rule.why,
            rule=number,
        )

    def _rule_in_moves(self, plain: Finding, broken: Broken, stepped: bool) -> Iterator[Finding]:
        """For a moment: at every turn, or only where the poles are uneven."""
        rule = self.spec.rules[broken.rule]
        by_move: dict[Move, list[FoundIn]] = {}
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
        now, verb = _OPENS[stepped], "opens"
        if rule.kind == "isolate":
            now, verb = link_in_words(self.there, rule, self._closed_in(steps[0])), "shorts"
        said = f"{plain.message}; {verb} for a moment{self._unless(steps[0], stepped, now)}"
        yield replace(plain, message=said, now=now, steps=steps, in_step=stepped)

    def _link(self, number: int, state: State) -> str:
        rule, closed = self.spec.rules[number], self._closed(state.as_dict())
        link = link_in_words(self.there, rule, closed)
        return link + figure_in_words(self.there, rule, closed)

    def undone(self) -> Iterator[Finding]:
        """Declared changes that nothing was found for."""
        for number in self.declared.undone():
            change = self.both.other.changes[number]
            what = " and ".join(change.parts or change.anchors)
            yield Finding(
                kind="undone",
                meant=False,
                message=f"declared under changes, but does not happen: {change.kind} {what}",
                why=change.why,
                change=number,
            )


def _instead(followed: Sequence[Seen], states: Sequence[State]) -> Iterator[str]:
    """What the other wiring no longer has, and what there is instead."""
    for said in ([one.gone for one in followed], [one.now for one in followed]):
        text = told_apart(said, states)
        if text:
            yield text


def _groups_named(change: Change, groups: Groups) -> tuple[int, int] | None:
    """The two groups that a declaration's anchors are in, if they are two."""
    where = [
        number
        for anchor in change.anchors
        for number, group in enumerate(groups)
        if anchor in group
    ]
    return (where[0], where[1]) if len(where) == 2 and where[0] != where[1] else None
