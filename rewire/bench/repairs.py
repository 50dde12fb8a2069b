"""Changes of a wiring that may mend it, the likeliest first: made on its record, not yet tried.

A jumper, a wire taken out or moved, two exchanged, a switch wired from its other end, a role, a
timing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, permutations
from typing import Literal

from rewire.bench.landings import (
    End,
    added,
    ends_of,
    exchanged,
    join_said,
    landed,
    relanded,
    reversed_throws,
    seen_from_the_other_side,
    taken_out,
)
from rewire.circuit.circuit import circuit_of
from rewire.circuit.roles import Roles, part_of
from rewire.circuit.tracing import Closed, Web
from rewire.compare.findings import Finding, Result, State
from rewire.records.part import Part, Timing
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch, lug_positions

Kind = Literal["added", "taken out", "moved", "exchanged", "reversed", "role", "timing", "declared"]
_MOST_STATES = 12
_MOST_PAIRS = 24
_LOST = frozenset({"dropped", "inserted", "gap", "interrupted", "rule"})
_EXTRA = frozenset({"joined", "linked", "bridge", "stray", "inserted", "rule"})


@dataclass(frozen=True, slots=True)
class Trial:
    """A wiring with one thing changed."""

    kind: Kind
    text: str
    wiring: Wiring
    joins: tuple[str, ...] = ()
    """What a new wire connects."""


def new_roles(spec: Spec, wiring: Wiring, result: Result) -> Iterator[Trial]:
    """A new part that may stand for one that has nothing in its place."""
    missing = [f.part for f in result.findings if f.kind == "missing" and not f.meant and f.part]
    new = [f.part for f in result.findings if f.kind == "added" and f.part]
    for gone in missing:
        old = spec.original.parts[gone]
        for part in (wiring.parts[name] for name in new):
            if part.kind != old.kind:
                continue
            for own in (part.terminals, part.terminals[::-1]):
                seats = dict(zip(own, old.full_terminals, strict=True))
                parts = {**wiring.parts, part.name: replace(part, replaces=seats)}
                whole = own is part.terminals
                said = gone if whole else f"{{{', '.join(f'{a}: {b}' for a, b in seats.items())}}}"
                text = f"write 'replaces: {said}' with {part.name}"
                yield Trial("role", text, replace(wiring, parts=parts))


def roles_exchanged(wiring: Wiring, wrong: Sequence[Finding]) -> Iterator[Trial]:
    """Two parts of a kind that may each stand for what the other replaces: all about them is wrong.

    Nobody solders all the leads of two parts to each other's lugs.
    """
    named = Counter(
        name for f in wrong for name in {part_of(anchor) for group in f.groups for anchor in group}
    )
    parts = [
        part
        for part in wiring.parts.values()
        if part.replaces and all(named[part_of(theirs)] > 1 for theirs in part.replaces.values())
    ]
    for one, other in combinations(parts, 2):
        if one.kind == other.kind and one.terminals == other.terminals:
            pair = replace(one, replaces=other.replaces), replace(other, replaces=one.replaces)
            said = [f"'replaces: {_replaced(part)}' with {part.name}" for part in pair]
            parts_now = {**wiring.parts, **{part.name: part for part in pair}}
            text = f"write {' and '.join(said)}"
            yield Trial("role", text, replace(wiring, parts=parts_now))


def _replaced(part: Part) -> str:
    """What a part stands for, as one writes it."""
    theirs = part.replaces or {}
    names = dict.fromkeys(map(part_of, theirs.values()))
    return ", ".join(names)


def new_timings(spec: Spec, wiring: Wiring, wrong: Sequence[Finding]) -> Iterator[Trial]:
    """Another timing for the poles that move where something is wrong for a moment."""
    moving = {
        name
        for finding in wrong
        for step in finding.steps
        for name, at in step.before.at
        if step.after.as_dict()[name] != at
    }
    timings: tuple[tuple[Timing, str], ...] = (
        ("shorting", "make before it breaks (timing: shorting)"),
        ("non-shorting", "break before it makes (timing: non-shorting)"),
    )
    switches = [s for s in spec.all_of(Switch, wiring).values() if s.control in moving]
    for switch in switches:
        of_poles = [
            ((n,), f": pole {section.pole}")
            for n, section in enumerate(switch.sections)
            if section.pole and len(switch.sections) > 1
        ]
        for numbers, said in (*of_poles, (tuple(range(len(switch.sections))), "")):
            for timing, words in timings:
                sections = tuple(
                    replace(s, timing=timing, timing_stated=True) if n in numbers else s
                    for n, s in enumerate(switch.sections)
                )
                if sections != switch.sections and switch.name in wiring.parts:
                    parts = {**wiring.parts, switch.name: replace(switch, sections=sections)}
                    text = f"{switch.name}{said} must {words}"
                    yield Trial("timing", text, replace(wiring, parts=parts))


class Faulty:
    """A wiring, what is wrong with it, and where to look for the reason."""

    def __init__(self, spec: Spec, wiring: Wiring, wrong: Sequence[Finding], roles: Roles) -> None:
        self.spec, self.wiring, self.wrong, self.roles = spec, wiring, wrong, roles
        self.circuit = circuit_of(spec, wiring)
        self.web = Web(self.circuit.joints)
        self.of = self.circuit.nets.of
        self.ends = list(ends_of(wiring))
        self.meant = {name for c in wiring.changes if c.kind == "insert" for name in c.parts}
        self.extra = [part for part in self.circuit.parts.values() if part.name in roles.added]
        self.at = {
            switch.terminal(lug): position
            for switch in self.circuit.switches
            for lug, position in lug_positions(switch).of.items()
        }
        named = {part for finding in wrong for part in (*finding.through, finding.part)}
        self.sound = self.meant - named
        self.bridged = list(self._bridged())
        self.near = self._near()

    def _seats(self, group: Sequence[str]) -> list[str]:
        seats = (self.roles.place(anchor) for anchor in group)
        return [seat for seat in seats if seat is not None and seat in self.of]

    def straight(self) -> Iterator[Trial]:
        """What the findings themselves point at: a part turned, a new one on the wrong lug."""
        for finding in self.wrong:
            seats = sorted(
                seat
                for theirs, seat in self.roles.seat.items()
                if finding.kind == "reversed" and part_of(theirs) == finding.part
            )
            if len(seats) == 2:
                yield self._exchange(dict(zip(seats, seats[::-1], strict=True)))
        yield from self._new_ones_moved()

    def on_wires(self) -> Iterator[Trial]:
        """Changes of what is soldered, the likeliest first."""
        yield from self.jumpers()
        yield from self.without()
        yield from self.switches()
        yield from self.moved()
        yield from self.parts()
        yield from self.lugs()
        yield from self.exchanged()

    def _new_ones_moved(self) -> Iterator[Trial]:
        """One lead of a new part on the other of two places between which something is lost."""
        sides = [
            [
                min(seats, key=lambda name: "." in name)
                for g in f.groups
                if (seats := self._seats(g))
            ]
            for f in self.wrong
            if f.kind in _LOST
        ]
        pairs = dict.fromkeys(
            pair for side in sides if len(side) == 2 for pair in permutations(side)
        )
        for stays, goes in pairs:
            for part in (part for part in self.extra if part.two_ended and part.passes_dc):
                for lug, other in permutations(part.full_terminals):
                    if self.of[other] == self.of[stays] and self.of[lug] != self.of[goes]:
                        yield from self._soldered_to(lug, goes)

    def _soldered_to(self, lug: str, goes: str) -> Iterator[Trial]:
        """A lead on another place than now; of a wire on it the far end."""
        ends = [e for e in self.ends if lug in (e.place, e.stays) and e.place != e.stays]
        lead = next((e for e in ends if e.of == "lead" and e.stays == lug), None)
        wire = next((e for e in ends if e.of == "wire" and e.stays == lug), None)
        net = next((e for e in ends if e.of == "net" and e.place == lug), None)
        said = f"solder {lug} to {goes}"
        if lead:
            text = f"{said}, not to {lead.place}"
            yield Trial("moved", text, landed(self.wiring, {lead: goes}))
        elif wire:
            text = f"move {wire.said} from {wire.place} to {goes}"
            yield Trial("moved", text, landed(self.wiring, {wire: goes}))
        elif net:
            yield Trial("moved", f"{said}, not to {net.stays}", landed(self.wiring, {net: goes}))
        else:
            yield Trial("added", said, added(self.wiring, lug, goes), (lug, goes))

    def _reached(
        self, group: Sequence[str], closed: Closed, parts: Collection[str]
    ) -> frozenset[int]:
        reached = self.web.reached(self._seats(group), closed, parts)
        return frozenset(self.of[at] for at in reached)

    def _closed(self, state: State) -> Closed:
        controls = self.spec.controls
        return {name: 1 << controls[name].positions.index(at) for name, at in state.at}

    def _bridged(self) -> Iterator[tuple[str, str]]:
        """Pairs of lugs between which one jumper closes what is open; throws before commons."""
        pairs: dict[tuple[int, int], None] = {}
        for finding in self.wrong:
            if finding.kind in _LOST and len(finding.groups) > 1:
                for parts in ((), self.meant):
                    pairs.update(dict.fromkeys(self._pairs(finding, parts)))
        commons = {
            switch.terminal(pole[0]) for switch in self.circuit.switches for pole in switch.poles
        }
        lugs = [self._lugs_of(one, other) for one, other in pairs]
        yield from sorted(lugs, key=lambda pair: len(commons.intersection(pair)))

    def _pairs(self, finding: Finding, parts: Collection[str]) -> list[tuple[int, int]]:
        """Nets that a jumper could connect, in every state of a finding; also over some parts."""
        states = [*finding.states, *(end for s in finding.steps for end in (s.before, s.after))]
        common: set[tuple[int, int]] | None = None
        for state in states[:_MOST_STATES]:
            closed = self._closed(state)
            sides = [self._reached(group, closed, parts) for group in finding.groups]
            here = {
                (min(one, other), max(one, other))
                for first, second in combinations(sides, 2)
                for one in first
                for other in second
                if one != other
            }
            common = here if common is None else common & here
        return sorted(common or ())[:_MOST_PAIRS]

    def _lugs_of(self, one: int, other: int) -> tuple[str, str]:
        """A lug of either net: on one part if that can be, else a point."""
        first, second = (self.circuit.nets.members[net] for net in (one, other))
        on_one = [
            (min(a, b, key=_by_name), max(a, b, key=_by_name))
            for a in first
            for b in second
            if "." in a
            and a.partition(".")[0] == b.partition(".")[0]
            and not self.circuit.parts[a.partition(".")[0]].has_role
        ]
        apart = self._solder_at(first), self._solder_at(second)
        return min(on_one, key=self._far, default=apart)

    def _far(self, pair: tuple[str, str]) -> tuple[object, ...]:
        """Lugs of one pole before those of two, then one wafer, then the nearest on it."""
        sections = (
            (switch, section) for switch in self.circuit.switches for section in switch.sections
        )
        together = any(
            set(pair) <= set(map(switch.terminal, section.lugs)) for switch, section in sections
        )
        one, other = (self.at.get(lug) for lug in pair)
        if one is None or other is None:
            return not together, 0, 0.0, pair
        turn = abs((one.clock or 0.0) - (other.clock or 0.0)) % 360.0
        rows = abs(one.row - other.row) + abs(one.column - other.column)
        decks = abs(one.deck - other.deck)
        return not together, decks, min(turn, 360.0 - turn) + rows, pair

    def _solder_at(self, members: Sequence[str]) -> str:
        """A point, else a lug of a switch or strip, else the lead of a part; the first by name."""
        bare = {p.name for p in self.circuit.parts.values() if not p.has_role}
        order = {name: "." in name and 1 + (name.partition(".")[0] not in bare) for name in members}
        return min(members, key=lambda name: (order[name], name))

    def _near(self) -> frozenset[str]:
        """All that is connected, in any position, with what the findings name."""
        closed = {name: (1 << len(c.positions)) - 1 for name, c in self.spec.controls.items()}
        groups = [group for finding in self.wrong for group in finding.groups]
        turned = [
            anchor
            for finding in self.wrong
            for anchor in self.roles.seat
            if finding.part and anchor.partition(".")[0] == finding.part
        ]
        seats = [seat for group in (*groups, turned) for seat in self._seats(group)]
        return frozenset(self.web.reached(seats, closed))

    def jumpers(self) -> Iterator[Trial]:
        """One jumper or wire more, but none that shorts out the parts that are now in series."""
        for one, other in self.bridged:
            if self._shorts_out(one, other):
                continue
            wiring = added(self.wiring, one, other)
            yield Trial("added", join_said(one, other), wiring, (one, other))

    def _shorts_out(self, one: str, other: str) -> bool:
        """Whether two lugs are the ends of parts that were put in series: a fuse, a multiplier."""
        for finding in self.wrong:
            parts = [self.circuit.parts[name] for name in finding.through if finding.kind in _LOST]
            left = [{self.of[lug] for lug in part.full_terminals} for part in parts]
            chain = {self.of[one]}
            while reached := [nets for nets in left if nets & chain]:
                chain.update(*reached)
                left = [nets for nets in left if nets not in reached]
            if self.of[other] in chain:
                return True
        return False

    def without(self) -> Iterator[Trial]:
        """One wire fewer, those on a part that connects too much first."""
        through = {part for finding in self.wrong for part in finding.through}

        def elsewhere(end: End) -> bool:
            return through.isdisjoint(map(part_of, (end.place, end.stays)))

        if any(finding.kind in _EXTRA for finding in self.wrong):
            near = (end for end in self.ends if end.first and end.place in self.near)
            for end in sorted(near, key=elsewhere):
                yield Trial("taken out", f"take out {end.said}", taken_out(self.wiring, end))

    def switches(self) -> Iterator[Trial]:
        """A switch wired from its other end, or from the other side."""
        for switch in self.spec.all_of(Switch, self.wiring).values():
            for lands, said in (
                (reversed_throws(switch), "in the reverse order of its throws"),
                (seen_from_the_other_side(switch), "mirrored, as seen from its other side"),
            ):
                if any(lug != other for lug, other in lands.items()):
                    text = f"wire {switch.name} {said}"
                    yield Trial("reversed", text, relanded(self.wiring, lands))

    def moved(self) -> Iterator[Trial]:
        """One end of a wire on another lug."""
        seen: set[tuple[End, int]] = set()
        for one, other in self.bridged:
            for stays, goes in ((one, other), (other, one)):
                for end in self.ends:
                    if {part_of(end.place), part_of(end.stays)} <= self.sound:
                        continue
                    key = end, self.of[goes]
                    if key in seen or self.of[goes] in (self.of[end.place], self.of[end.stays]):
                        continue
                    if self.of[stays] in (self.of[end.stays], self.of[end.place]):
                        seen.add(key)
                        text = f"move {end.said} from {end.place} to {goes}"
                        yield Trial("moved", text, landed(self.wiring, {end: goes}))

    def parts(self) -> Iterator[Trial]:
        """The two leads of a part exchanged, or two parts of a kind."""
        near = [p for p in self.circuit.parts.values() if self.near & set(p.full_terminals)]
        for part in (p for p in near if p.two_ended):
            one, other = part.full_terminals
            yield self._exchange({one: other, other: one})
        alike = (p for p in combinations([p for p in near if p.has_role], 2))
        for first, second in alike:
            if first.kind == second.kind:
                lands = dict(zip(first.full_terminals, second.full_terminals, strict=True))
                lands |= {other: lug for lug, other in lands.items()}
                text = f"exchange {first.name} and {second.name}"
                yield Trial("exchanged", text, relanded(self.wiring, lands))

    def lugs(self) -> Iterator[Trial]:
        """All that is on two lugs of a part exchanged."""
        for part in self.circuit.parts.values():
            lugs = [lug for lug in part.full_terminals if lug in self.near]
            if len(part.terminals) > 2:
                for one, other in combinations(lugs, 2):
                    yield self._exchange({one: other, other: one})

    def _exchange(self, lands: Mapping[str, str]) -> Trial:
        one, other = lands
        text = f"exchange what is on {one} and {other}"
        return Trial("exchanged", text, relanded(self.wiring, lands))

    def exchanged(self) -> Iterator[Trial]:
        """The ends of two wires exchanged."""
        near = [end for end in self.ends if end.place in self.near]
        for one, other in combinations(near, 2):
            if (
                self.of[one.place] != self.of[other.place]
                and one.whole != other.whole
                and ((one.of == "net") == (other.of == "net"))
            ):
                text = f"exchange {one.said} and {other.said} on {one.place} and {other.place}"
                yield Trial("exchanged", text, exchanged(self.wiring, one, other))


def _by_name(terminal: str) -> tuple[int, str]:
    """Lug 9 before lug 10."""
    return len(terminal), terminal
