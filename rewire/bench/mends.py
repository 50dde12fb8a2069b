"""What mends a broken wiring: the smallest change that the comparison, made anew, calls kept.

Changes are those of the bench: a jumper, a wire taken out or moved, two exchanged, a switch wired
from its other end, a role, a timing. Each is made on the record of the wiring. A quick count of
what is wrong at rest says which are worth a whole comparison; only what that calls kept is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice
from typing import Literal

from rewire.bench.apart import Apart
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
from rewire.circuit.roles import Roles
from rewire.circuit.states import LimitReached
from rewire.circuit.tracing import Closed, Web
from rewire.compare import compare_wiring
from rewire.compare.findings import DECLARES, INFORMATION, Finding, Result, State
from rewire.compare.roles import roles_between
from rewire.records.part import Place, Timing
from rewire.records.spec import Change, ChangeKind, Spec, Wiring
from rewire.records.switches import Switch

Kind = Literal["added", "taken out", "moved", "exchanged", "reversed", "role", "timing", "declared"]
_MOST_COUNTED = 1000
"""Changes that are counted, for one step."""
_MOST_COMPARED = (7, 3, 3)
"""Changes that are compared whole: for the first step, and where no single one does for more."""
_MOST_STATES = 12
_LARGE = 20_000
"""States of the controls from which no mend is looked for: each comparison takes too long."""
_LONG = 100
"""Wires, likewise."""
_MANY = 40
"""Findings from which no single change is to be expected."""
_MOST_PAIRS = 24
_LOST = frozenset({"dropped", "inserted", "gap", "interrupted", "rule"})
_EXTRA = frozenset({"joined", "linked", "bridge", "stray", "inserted", "rule"})
_PUT_IN = frozenset({"added", "role", "timing"})
_ON_PURPOSE: Mapping[str, ChangeKind] = {
    finding: change
    for change, finding in DECLARES.items()
    if finding in ("inserted", "linked", "gap", "bridge", "interrupted", "stray")
}
"""What one may well have meant, and how that is declared."""


@dataclass(frozen=True, slots=True)
class Mend:
    """A change that was tried, and what it takes away."""

    kind: Kind
    text: str
    """What to do, in words: ``a jumper S2.7 to S2.9``."""
    findings: tuple[int, ...]
    """Findings of the result, by number from 0, that are gone with it."""
    wiring: Wiring
    """The wiring with this change made, and those before it."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """A wiring with one thing changed."""

    kind: Kind
    text: str
    wiring: Wiring


def mends_of(spec: Spec, wiring: Wiring, result: Result) -> tuple[Mend, ...]:
    """The changes after all of which the comparison calls a broken wiring kept, or changed.

    The first of them mend it together, each by itself the findings that it names. What is merely
    declared comes last, for what may have been meant, with what must be done besides. Where some
    faults have no such change, those of the others are told if the two have nothing in common.
    """
    if result.verdict != "broken" or wiring is spec.original:
        return ()
    if result.states > _LARGE or len(_wrong(result)) > _MANY or len(wiring.wires) > _LONG:
        return ()
    try:
        found, left = _on_the_bench(spec, wiring, result)
        if left.verdict == "broken":
            return found if _apart(result, found, left) else ()
        return (*found, *_declared(spec, wiring, result))
    except LimitReached:
        return ()


def mends_all(result: Result, mends: Sequence[Mend]) -> bool:
    """Whether every fault of a wiring is gone when all of its mends are made."""
    gone = {number for mend in mends if mend.kind != "declared" for number in mend.findings}
    return all(n in gone for n, finding in enumerate(result.findings) if _is_wrong(finding))


def _apart(result: Result, found: Sequence[Mend], left: Result) -> bool:
    """Whether what is still wrong was so before, and at other places than what was mended.

    Nothing may have been taken off: it may belong to a part that is not there.
    """
    if any(mend.kind not in _PUT_IN for mend in found):
        return False
    old, still = _wrong(result), _wrong(left)
    gone = [result.findings[number] for mend in found for number in mend.findings]
    about, others = (_about(findings) for findings in (gone, still))
    return not about & others and all(any(_alike(one, f) for f in old) for one in still)


def _about(findings: Iterable[Finding]) -> set[str]:
    """The parts and points that some findings name."""
    names = {name for f in findings for group in f.groups for name in group}
    names |= {name for f in findings for name in (f.part, f.place, *f.through) if name}
    return names | {name.partition(".")[0] for name in names}


def _on_the_bench(spec: Spec, wiring: Wiring, result: Result) -> tuple[tuple[Mend, ...], Result]:
    """One change after the other, each that leaves the least, and what is wrong then."""
    found: list[Mend] = []
    left = result
    for most in _MOST_COMPARED:
        step = _best(spec, wiring, left, most)
        if step is None:
            break
        trial, after = step
        gone = _unlike(result, left) - _unlike(result, after)
        found.append(Mend(trial.kind, trial.text, tuple(sorted(gone)), trial.wiring))
        wiring, left = trial.wiring, after
        if after.verdict != "broken":
            break
    return tuple(found), left


def _unlike(result: Result, now: Result) -> set[int]:
    """Findings of the result that there still are, by number."""
    there = _wrong(now)
    return {
        number
        for number, finding in enumerate(result.findings)
        if _is_wrong(finding) and any(_alike(finding, other) for other in there)
    }


def _alike(one: Finding, other: Finding) -> bool:
    """Whether two findings are of one fault, between places that may have more on them now."""
    about = [(f.kind, f.part, f.rule, f.change, len(f.groups)) for f in (one, other)]
    return about[0] == about[1] and all(
        any(set(group) & set(same) for same in other.groups) for group in one.groups
    )


def _is_wrong(finding: Finding) -> bool:
    return not finding.meant and finding.kind not in INFORMATION


def _wrong(result: Result) -> list[Finding]:
    return [finding for finding in result.findings if _is_wrong(finding)]


def _best(spec: Spec, wiring: Wiring, result: Result, most: int) -> tuple[_Trial, Result] | None:
    """The first change that leaves nothing wrong, else the one that leaves the fewest findings.

    Of two that leave as many, the one that brings no fault of its own.
    """
    best: tuple[_Trial, Result] | None = None
    before = _wrong(result)
    least = len(before) - 1, len(before)
    for trial in _worth_comparing(spec, wiring, result, most):
        after = compare_wiring(spec, trial.wiring)
        if after.verdict != "broken":
            return trial, after
        wrong = _wrong(after)
        left = len(wrong), sum(not any(_alike(one, old) for old in before) for one in wrong)
        if left < least:
            best, least = (trial, after), left
    return best


def _worth_comparing(spec: Spec, wiring: Wiring, result: Result, most: int) -> Iterator[_Trial]:
    """Changes of roles and timings, then of the wiring: those that leave least wrong at rest."""
    yield from _roles(spec, wiring, result)
    yield from islice(_timings(spec, wiring, result), most)
    apart = Apart(spec, wiring)
    before = apart.pairs(wiring)
    counted: list[tuple[int, int, _Trial]] = []
    trials = _on_wires(spec, wiring, result, roles_between(spec, wiring))
    for number, trial in enumerate(islice(trials, _MOST_COUNTED)):
        pairs = apart.pairs(trial.wiring)
        if pairs == 0 < before:
            yield trial
        elif pairs <= before:
            counted.append((pairs, number, trial))
    yield from (trial for *_, trial in sorted(counted, key=lambda one: one[:2])[:most])


def _roles(spec: Spec, wiring: Wiring, result: Result) -> Iterator[_Trial]:
    """A new part that may stand for one that has nothing in its place."""
    missing = [f.part for f in _wrong(result) if f.kind == "missing" and f.part]
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
                yield _Trial("role", text, replace(wiring, parts=parts))


def _timings(spec: Spec, wiring: Wiring, result: Result) -> Iterator[_Trial]:
    """Another timing for the poles that move where something is wrong for a moment."""
    moving = {
        name
        for finding in _wrong(result)
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
                    yield _Trial("timing", text, replace(wiring, parts=parts))


def _on_wires(spec: Spec, wiring: Wiring, result: Result, roles: Roles) -> Iterator[_Trial]:
    """Changes of what is soldered, the likeliest first."""
    bench = _Bench(spec, wiring, _wrong(result), roles)
    yield from bench.jumpers()
    yield from bench.without()
    yield from bench.switches()
    yield from bench.moved()
    yield from bench.parts()
    yield from bench.lugs()
    yield from bench.exchanged()


class _Bench:
    """A wiring, what is wrong with it, and where to look for the reason."""

    def __init__(self, spec: Spec, wiring: Wiring, wrong: Sequence[Finding], roles: Roles) -> None:
        self.spec, self.wiring, self.wrong, self.roles = spec, wiring, wrong, roles
        self.circuit = circuit_of(spec, wiring)
        self.web = Web(self.circuit.joints)
        self.of = self.circuit.nets.of
        self.ends = list(ends_of(wiring))
        self.bridged = list(self._bridged())
        self.near = self._near()

    def _seats(self, group: Sequence[str]) -> list[str]:
        seats = (self.roles.place(anchor) for anchor in group)
        return [seat for seat in seats if seat is not None and seat in self.of]

    def _reached(self, group: Sequence[str], closed: Closed) -> frozenset[int]:
        return frozenset(self.of[at] for at in self.web.reached(self._seats(group), closed))

    def _closed(self, state: State) -> Closed:
        controls = self.spec.controls
        return {name: 1 << controls[name].positions.index(at) for name, at in state.at}

    def _bridged(self) -> Iterator[tuple[str, str]]:
        """Pairs of lugs between which one jumper closes what is open; throws before commons."""
        pairs: dict[tuple[int, int], None] = {}
        for finding in self.wrong:
            if finding.kind in _LOST and len(finding.groups) > 1:
                pairs.update(dict.fromkeys(self._pairs(finding)))
        commons = {
            switch.terminal(pole[0]) for switch in self.circuit.switches for pole in switch.poles
        }
        lugs = [self._lugs_of(one, other) for one, other in pairs]
        yield from sorted(lugs, key=lambda pair: len(commons.intersection(pair)))

    def _pairs(self, finding: Finding) -> list[tuple[int, int]]:
        states = [*finding.states, *(end for s in finding.steps for end in (s.before, s.after))]
        common: set[tuple[int, int]] | None = None
        for state in states[:_MOST_STATES]:
            closed = self._closed(state)
            sides = [self._reached(group, closed) for group in finding.groups]
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

    def _far(self, pair: tuple[str, str]) -> tuple[bool, tuple[str, str]]:
        """Lugs of one pole before those of two."""
        sections = (
            (switch, section) for switch in self.circuit.switches for section in switch.sections
        )
        together = any(
            set(pair) <= set(map(switch.terminal, section.lugs)) for switch, section in sections
        )
        return not together, pair

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

    def jumpers(self) -> Iterator[_Trial]:
        """One jumper or wire more, but none that shorts out the parts that are now in series."""
        for one, other in self.bridged:
            if self._shorts_out(one, other):
                continue
            yield _Trial("added", join_said(one, other), added(self.wiring, one, other))

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

    def without(self) -> Iterator[_Trial]:
        """One wire fewer."""
        if any(finding.kind in _EXTRA for finding in self.wrong):
            for end in self.ends:
                if end.place in self.near and end.first:
                    yield _Trial("taken out", f"take out {end.said}", taken_out(self.wiring, end))

    def switches(self) -> Iterator[_Trial]:
        """A switch wired from its other end, or from the other side."""
        for switch in self.spec.all_of(Switch, self.wiring).values():
            for lands, said in (
                (reversed_throws(switch), "in the reverse order of its throws"),
                (seen_from_the_other_side(switch), "mirrored, as seen from its other side"),
            ):
                if any(lug != other for lug, other in lands.items()):
                    text = f"wire {switch.name} {said}"
                    yield _Trial("reversed", text, relanded(self.wiring, lands))

    def moved(self) -> Iterator[_Trial]:
        """One end of a wire on another lug."""
        seen: set[tuple[End, int]] = set()
        for one, other in self.bridged:
            for stays, goes in ((one, other), (other, one)):
                for end in self.ends:
                    key = end, self.of[goes]
                    if key in seen or self.of[goes] in (self.of[end.place], self.of[end.stays]):
                        continue
                    if self.of[stays] in (self.of[end.stays], self.of[end.place]):
                        seen.add(key)
                        text = f"move {end.said} from {end.place} to {goes}"
                        yield _Trial("moved", text, landed(self.wiring, {end: goes}))

    def parts(self) -> Iterator[_Trial]:
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
                yield _Trial("exchanged", text, relanded(self.wiring, lands))

    def lugs(self) -> Iterator[_Trial]:
        """All that is on two lugs of a part exchanged."""
        for part in self.circuit.parts.values():
            lugs = [lug for lug in part.full_terminals if lug in self.near]
            if len(part.terminals) > 2:
                for one, other in combinations(lugs, 2):
                    yield self._exchange({one: other, other: one})

    def _exchange(self, lands: Mapping[str, str]) -> _Trial:
        one, other = lands
        text = f"exchange what is on {one} and {other}"
        return _Trial("exchanged", text, relanded(self.wiring, lands))

    def exchanged(self) -> Iterator[_Trial]:
        """The ends of two wires exchanged."""
        near = [end for end in self.ends if end.place in self.near]
        for one, other in combinations(near, 2):
            if (
                self.of[one.place] != self.of[other.place]
                and one.whole != other.whole
                and ((one.of == "net") == (other.of == "net"))
            ):
                text = f"exchange {one.said} and {other.said} on {one.place} and {other.place}"
                yield _Trial("exchanged", text, exchanged(self.wiring, one, other))


def _by_name(terminal: str) -> tuple[int, str]:
    """Lug 9 before lug 10."""
    return len(terminal), terminal


def _declared(spec: Spec, wiring: Wiring, result: Result) -> Iterator[Mend]:
    """All that may have been meant, declared at once, where the rest can be mended then."""
    wrong = [
        (number, finding)
        for number, finding in enumerate(result.findings)
        if _is_wrong(finding) and finding.kind in _ON_PURPOSE
    ]
    if not wrong:
        return
    changes = tuple(_changes((finding for _, finding in wrong), wiring.place))
    trial = replace(wiring, changes=(*wiring.changes, *changes))
    after = compare_wiring(spec, trial)
    text = f"changes: [{', '.join(map(_change_said, changes))}]"
    if after.verdict == "broken":
        rest, after = _on_the_bench(spec, trial, after)
        if after.verdict == "broken":
            return
        trial = rest[-1].wiring
        text = "; then ".join([text, *(one.text for one in rest)])
    yield Mend("declared", text, tuple(number for number, _ in wrong), trial)


def _changes(findings: Iterable[Finding], place: Place) -> Iterator[Change]:
    for finding in findings:
        kind = _ON_PURPOSE[finding.kind]
        for one, other in zip(finding.groups, finding.groups[1:], strict=False):
            # Points before lugs.
            first, second = (min(g, key=lambda name: ("." in name, name)) for g in (one, other))
            parts = finding.through if kind in ("insert", "link") else ()
            yield Change(kind, parts, (first, second), {}, None, True, place)


def _change_said(change: Change) -> str:
    places = f"[{', '.join(change.anchors)}]"
    if not change.parts:
        return f"{{{change.kind}: {places}}}"
    parts = change.parts[0] if len(change.parts) == 1 else f"[{', '.join(change.parts)}]"
    return f"{{{change.kind}: {parts}, between: {places}}}"
