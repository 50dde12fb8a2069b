"""Changes of a wiring that may mend it, the likeliest first: made on its record, not yet tried.

A jumper, a wire taken out or moved, two exchanged, a switch wired from its other end, a role, a
timing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, permutations
from typing import Literal

from rewire.circuit.circuit import circuit_of
from rewire.circuit.roles import Roles, part_of
from rewire.circuit.tracing import Web
from rewire.compare.findings import Finding, Result
from rewire.records.part import Part, Timing
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Position, Switch, lug_positions

Kind = Literal["added", "taken out", "moved", "exchanged", "reversed", "role", "timing", "declared"]
Whole = tuple[str, str]
_MOST_STATES = 12
_MOST_PAIRS = 24
_LOST = frozenset({"dropped", "inserted", "gap", "interrupted", "rule"})
_EXTRA = frozenset({"joined", "linked", "bridge", "stray", "inserted", "rule"})
_TIMINGS: tuple[tuple[Timing, str], ...] = (
    ("shorting", "make before it breaks (timing: shorting)"),
    ("non-shorting", "break before it makes (timing: non-shorting)"),
)


@dataclass(frozen=True, slots=True)
class Trial:
    """A wiring with one thing changed."""

    kind: Kind
    text: str
    wiring: Wiring
    joins: tuple[str, ...] = ()


# One end of a wire, a net or a lead


@dataclass(frozen=True, slots=True)
class End:
    """One end of a wire, one member of a net, or one lead of a part that says between what."""

    whole: Whole
    """What it is an end of: ``wire``, ``net`` or ``lead``, and its number or name."""
    number: int
    place: str
    stays: str
    """The other end; of a net, its first other member."""
    said: str

    @property
    def of(self) -> str:
        """``wire``, ``net`` or ``lead``."""
        return self.whole[0]


def ends_of(wiring: Wiring) -> Iterator[End]:
    """Every end in a wiring: of its wires, its nets, its parts' leads."""
    for number, wire in enumerate(wiring.wires):
        named = f"{'jumper' if wire.jumper else 'wire'} {wire.id}".rstrip()
        said = f"{named} ({wire.ends[0]} to {wire.ends[1]})"
        for at in (0, 1):
            yield End(("wire", str(number)), at, wire.ends[at], wire.ends[1 - at], said)
    for number, net in enumerate(wiring.nets):
        for at, member in enumerate(net.members):
            other = next((one for one in net.members if one != member), member)
            said = f"{member} of net {net.name}" if net.name else f"{member} (connected to {other})"
            yield End(("net", str(number)), at, member, other, said)
    for part in wiring.parts.values():
        for at, place in enumerate(part.between or ()):
            lug = part.full_terminals[at]
            yield End(("lead", part.name), at, place, lug, f"the lead {lug}")


def _moved(wiring: Wiring, to: Callable[[Whole, int, str], str | None]) -> Wiring:
    """The wiring with its ends where ``to`` says (None: off its net); what joins nothing goes."""
    wires, nets, parts = [], [], dict(wiring.parts)
    for number, wire in enumerate(wiring.wires):
        one, other = (to(("wire", str(number)), at, end) or end for at, end in enumerate(wire.ends))
        ends = one, other
        if one != other:
            same = ends == wire.ends
            wires.append(wire if same else replace(wire, ends=ends, jumper=_on_one_part(*ends)))
    for number, net in enumerate(wiring.nets):
        members = (to(("net", str(number)), at, member) for at, member in enumerate(net.members))
        left = tuple(member for member in members if member)
        if len(left) > 1:
            nets.append(net if left == net.members else replace(net, members=left))
    for name, part in wiring.parts.items():
        places = [to(("lead", name), at, end) or end for at, end in enumerate(part.between or ())]
        if part.between and tuple(places) != part.between:
            parts[name] = replace(part, between=(places[0], places[1]))
    return replace(wiring, wires=tuple(wires), nets=tuple(nets), parts=parts)


def landed(wiring: Wiring, lands: Mapping[End, str]) -> Wiring:
    """The wiring with some of its ends on other places; off a net, an end goes there by a wire."""
    to = {(end.whole, end.number): None if end.of == "net" else at for end, at in lands.items()}
    found = _moved(wiring, lambda whole, at, place: to.get((whole, at), place))
    for end, place in lands.items():
        if end.of == "net" and end.place != place:
            found = added(found, end.place, place)
    return found


def relanded(wiring: Wiring, lands: Mapping[str, str]) -> Wiring:
    """The wiring with all that is on some terminals on those that ``lands`` gives for them."""
    return _moved(wiring, lambda _, __, place: lands.get(place, place))


def added(wiring: Wiring, one: str, other: str) -> Wiring:
    """The wiring with a wire more."""
    wire = Wire(
        id="", ends=(one, other), jumper=_on_one_part(one, other), colour=None, gauge=None,
        insulation_volts=None, twisted_with=None, screened=False, length_metres=None, note=None,
        place=wiring.place,
    )  # fmt: skip
    return replace(wiring, wires=(*wiring.wires, wire))


def _on_one_part(one: str, other: str) -> bool:
    return "." in one and part_of(one) == part_of(other)


# A switch turned over


def seen_from_the_other_side(switch: Switch) -> dict[str, str]:
    """Terminal → the one in its place for somebody who looks from the wrong side."""
    positions = lug_positions(switch)
    if positions.round:
        lands = {lug: other for deck in positions.decks for lug, other in _turned(deck).items()}
    else:
        lands = {
            lug: other
            for row in positions.grid
            for lug, other in zip(row, reversed(row), strict=True)
            if lug is not None and other is not None
        }
    return {switch.terminal(lug): switch.terminal(other) for lug, other in lands.items()}


def reversed_throws(switch: Switch) -> dict[str, str]:
    """Terminal → that of the throw counted from the other end of those in use; none of a table."""
    used = sorted({at for at in switch.throw_at or () if at is not None})
    turned = dict(zip(used, reversed(used), strict=True))
    return {
        switch.terminal(pole[at]): switch.terminal(pole[other])
        for pole in switch.poles
        for at, other in turned.items()
    }


def _turned(deck: Sequence[Position]) -> dict[str, str]:
    """Each lug's mirror image: exact where the lugs allow, else counted from the other end."""
    ring = sorted(deck, key=lambda p: (p.clock or 0.0, p.inner))
    at = {_spot(p, 1): p.lug for p in ring}
    images = {p.lug: at.get(_spot(p, -1)) for p in ring}
    if None not in images.values():
        return {lug: image for lug, image in images.items() if image is not None}
    lugs = [p.lug for p in ring]
    return dict(zip(lugs, reversed(lugs), strict=True))


def _spot(lug: Position, side: int) -> tuple[bool, float]:
    return lug.inner, round(side * (lug.clock or 0.0) % 360, 3) % 360


# Roles and timings


def new_roles(spec: Spec, wiring: Wiring, result: Result) -> Iterator[Trial]:
    """A new part that may stand for one that has nothing in its place."""
    missing = [f.part for f in result.findings if f.kind == "missing" and not f.meant and f.part]
    new = [wiring.parts[f.part] for f in result.findings if f.kind == "added" and f.part]
    for old in (spec.original.parts[gone] for gone in missing):
        for part in (part for part in new if part.kind == old.kind):
            for own in (part.terminals, part.terminals[::-1]):
                seats = dict(zip(own, old.full_terminals, strict=True))
                said = f"{{{', '.join(f'{a}: {b}' for a, b in seats.items())}}}"
                said = old.name if own is part.terminals else said
                text = f"write 'replaces: {said}' with {part.name}"
                yield _with_parts("role", text, wiring, replace(part, replaces=seats))


def roles_exchanged(wiring: Wiring, wrong: Sequence[Finding]) -> Iterator[Trial]:
    """Two parts of a kind about which all is wrong: each may stand for what the other does."""
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
            said = (f"'replaces: {_replaced(part)}' with {part.name}" for part in pair)
            yield _with_parts("role", f"write {' and '.join(said)}", wiring, *pair)


def _replaced(part: Part) -> str:
    return ", ".join(dict.fromkeys(map(part_of, (part.replaces or {}).values())))


def _with_parts(kind: Kind, text: str, wiring: Wiring, *parts: Part) -> Trial:
    own = {**wiring.parts, **{part.name: part for part in parts}}
    return Trial(kind, text, replace(wiring, parts=own))


def new_timings(spec: Spec, wiring: Wiring, wrong: Sequence[Finding]) -> Iterator[Trial]:
    """Another timing for the poles that move where something is wrong for a moment."""
    steps = [step for finding in wrong for step in finding.steps]
    moving = {name for s in steps for name, at in s.before.at if s.after.as_dict()[name] != at}
    switches = [s for name, s in spec.all_of(Switch, wiring).items() if name in wiring.parts]
    for switch in (switch for switch in switches if switch.control in moving):
        whole = (range(len(switch.sections)), "")
        poles = [(range(n, n + 1), f": pole {s.pole}") for n, s in enumerate(switch.sections)
                 if s.pole and len(switch.sections) > 1]  # fmt: skip
        for numbers, said in (*poles, whole):
            for timing, words in _TIMINGS:
                sections = tuple(
                    replace(s, timing=timing, timing_stated=True) if n in numbers else s
                    for n, s in enumerate(switch.sections)
                )
                if sections != switch.sections:
                    text, part = (
                        f"{switch.name}{said} must {words}",
                        replace(switch, sections=sections),
                    )
                    yield _with_parts("timing", text, wiring, part)


# What is soldered


class Faulty:
    """A wiring, what is wrong with it, and where to look for the reason."""

    def __init__(self, spec: Spec, wiring: Wiring, wrong: Sequence[Finding], roles: Roles) -> None:
        self.spec, self.wiring, self.wrong, self.roles = spec, wiring, wrong, roles
        self.circuit = circuit_of(spec, wiring)
        self.web = Web(self.circuit.joints)
        self.of = self.circuit.nets.of
        self.ends = list(ends_of(wiring))
        self.meant = {name for c in wiring.changes if c.kind == "insert" for name in c.parts}
        self.bridged = self._bridged()
        self.near = self._near()

    def trials(self) -> Iterator[Trial]:
        """What the findings point at, then other changes of what is soldered, likeliest first."""
        for trials in (
            self._new_ones_moved, self._jumpers, self._without, self._switches,
            self._ends_moved, self._parts, self._lugs, self._ends_exchanged,
        ):  # fmt: skip
            yield from trials()

    def _seats(self, group: Sequence[str]) -> list[str]:
        seats = (self.roles.place(anchor) for anchor in group)
        return [seat for seat in seats if seat is not None and seat in self.of]

    def _new_ones_moved(self) -> Iterator[Trial]:
        """One lead of a new part on the other of two places between which something is lost."""
        lost = [[self._seats(group) for group in f.groups] for f in self.wrong if f.kind in _LOST]
        sides = [[min(s, key=lambda name: "." in name) for s in seats if s] for seats in lost]
        pairs = dict.fromkeys(p for side in sides if len(side) == 2 for p in permutations(side))
        new = [p for p in self.circuit.parts.values() if p.name in self.roles.added]
        for stays, goes in pairs:
            for part in (part for part in new if part.two_ended and part.passes_dc):
                for lug, other in permutations(part.full_terminals):
                    if self.of[other] == self.of[stays] and self.of[lug] != self.of[goes]:
                        yield self._soldered_to(lug, goes)

    def _soldered_to(self, lug: str, goes: str) -> Trial:
        """A lead on another place than now; of a wire on it the far end."""
        ends = [e for e in self.ends if lug in (e.place, e.stays) and e.place != e.stays]
        said = f"solder {lug} to {goes}"
        for end in (e for e in ends if e.of == "lead" and e.stays == lug):
            text = f"{said}, not to {end.place}"
            return Trial("moved", text, landed(self.wiring, {end: goes}))
        for end in (e for e in ends if e.of == "wire" and e.stays == lug):
            return self._moved_to(end, goes)
        for end in (e for e in ends if e.of == "net" and e.place == lug):
            text = f"{said}, not to {end.stays}"
            return Trial("moved", text, landed(self.wiring, {end: goes}))
        return Trial("added", said, added(self.wiring, lug, goes), (lug, goes))

    def _moved_to(self, end: End, goes: str) -> Trial:
        text = f"move {end.said} from {end.place} to {goes}"
        return Trial("moved", text, landed(self.wiring, {end: goes}))

    def _bridged(self) -> list[tuple[str, str]]:
        """Pairs of lugs between which one jumper closes what is open; throws before commons."""
        pairs: dict[tuple[int, int], None] = {}
        for finding in self.wrong:
            if finding.kind in _LOST and len(finding.groups) > 1:
                for parts in (set[str](), self.meant):
                    pairs.update(dict.fromkeys(self._pairs(finding, parts)))
        commons = {s.terminal(pole[0]) for s in self.circuit.switches for pole in s.poles}
        lugs = (self._lugs_of(one, other) for one, other in pairs)
        return sorted(lugs, key=lambda pair: len(commons.intersection(pair)))

    def _pairs(self, finding: Finding, parts: set[str]) -> list[tuple[int, int]]:
        """Nets that a jumper could connect, in every state of a finding; also over some parts."""
        states = [*finding.states, *(end for s in finding.steps for end in (s.before, s.after))]
        common: set[tuple[int, int]] | None = None
        for state in states[:_MOST_STATES]:
            closed = {n: 1 << self.spec.controls[n].positions.index(at) for n, at in state.at}
            reached = [self.web.reached(self._seats(g), closed, parts) for g in finding.groups]
            nets = [{self.of[at] for at in names} for names in reached]
            here = {
                (min(one, other), max(one, other))
                for first, second in combinations(nets, 2)
                for one in first
                for other in second - {one}
            }
            common = here if common is None else common & here
        return sorted(common or ())[:_MOST_PAIRS]

    def _lugs_of(self, one: int, other: int) -> tuple[str, str]:
        """A lug of either net: near each other on one part if that can be, else a point."""
        first, second = (self.circuit.nets.members[net] for net in (one, other))
        bare = {part.name for part in self.circuit.parts.values() if not part.has_role}
        pairs = [
            (min(a, b, key=_by_name), max(a, b, key=_by_name))
            for a in first
            for b in second
            if _on_one_part(a, b) and part_of(a) in bare
        ]
        if pairs:
            return min(pairs, key=self._far)
        # a point, else a lug of a switch or strip, else the lead of a part; the first by name
        one_of, other_of = (
            min(net, key=lambda name: ("." in name and 1 + (part_of(name) not in bare), name))
            for net in (first, second)
        )
        return one_of, other_of

    def _far(self, pair: tuple[str, str]) -> tuple[object, ...]:
        """Lugs of one pole before those of two, then one wafer, then the nearest on it."""
        switch = next((s for s in self.circuit.switches if s.name == part_of(pair[0])), None)
        if switch is None:
            return True, 0, 0.0, pair
        lugs = [lug.partition(".")[2] for lug in pair]
        together = any(set(lugs) <= set(section.lugs) for section in switch.sections)
        where = self.circuit.positions[switch.name].of
        if not set(lugs) <= where.keys():
            return not together, 0, 0.0, pair
        one, other = (where[lug] for lug in lugs)
        turn = abs((one.clock or 0.0) - (other.clock or 0.0)) % 360.0
        rows = abs(one.row - other.row) + abs(one.column - other.column)
        return not together, abs(one.deck - other.deck), min(turn, 360.0 - turn) + rows, pair

    def _near(self) -> frozenset[str]:
        """All that is connected, in any position, with what the findings name."""
        closed = {name: (1 << len(c.positions)) - 1 for name, c in self.spec.controls.items()}
        named = [group for finding in self.wrong for group in finding.groups]
        about = {finding.part for finding in self.wrong}
        named.append(tuple(anchor for anchor in self.roles.seat if part_of(anchor) in about))
        return frozenset(self.web.reached([s for g in named for s in self._seats(g)], closed))

    def _jumpers(self) -> Iterator[Trial]:
        """One jumper or wire more, but none that shorts out the parts that are now in series."""
        for one, other in self.bridged:
            if not self._shorts_out(one, other):
                text = f"a {'jumper' if _on_one_part(one, other) else 'wire'} {one} to {other}"
                yield Trial("added", text, added(self.wiring, one, other), (one, other))

    def _shorts_out(self, one: str, other: str) -> bool:
        """Whether two lugs are the ends of parts that were put in series: a fuse, a multiplier."""
        for finding in (finding for finding in self.wrong if finding.kind in _LOST):
            parts = [self.circuit.parts[name] for name in finding.through]
            left = [{self.of[lug] for lug in part.full_terminals} for part in parts]
            chain = {self.of[one]}
            while reached := [nets for nets in left if nets & chain]:
                chain.update(*reached)
                left = [nets for nets in left if nets not in reached]
            if self.of[other] in chain:
                return True
        return False

    def _without(self) -> Iterator[Trial]:
        """One wire fewer, those on a part that connects too much first."""
        if not any(finding.kind in _EXTRA for finding in self.wrong):
            return
        through = {part for finding in self.wrong for part in finding.through}
        ends = [e for e in self.ends if e.place in self.near
                and (e.of == "net" or (e.of == "wire" and e.number == 0))]  # fmt: skip
        for end in sorted(ends, key=lambda e: through.isdisjoint(map(part_of, (e.place, e.stays)))):
            lands = {end: end.stays if end.of == "wire" else end.place}
            yield Trial("taken out", f"take out {end.said}", landed(self.wiring, lands))

    def _switches(self) -> Iterator[Trial]:
        """A switch wired from its other end, or from the other side."""
        for switch in self.circuit.switches:
            for lands, said in (
                (reversed_throws(switch), "in the reverse order of its throws"),
                (seen_from_the_other_side(switch), "mirrored, as seen from its other side"),
            ):
                if any(lug != other for lug, other in lands.items()):
                    text = f"wire {switch.name} {said}"
                    yield Trial("reversed", text, relanded(self.wiring, lands))

    def _ends_moved(self) -> Iterator[Trial]:
        """One end of a wire on another lug, but not of one between parts that are rightly there."""
        sound = self.meant - {name for f in self.wrong for name in (*f.through, f.part)}
        ends = [e for e in self.ends if not {part_of(e.place), part_of(e.stays)} <= sound]
        seen: set[tuple[End, int]] = set()
        for stays, goes in (way for pair in self.bridged for way in (pair, pair[::-1])):
            for end in ends:
                on, net = (self.of[end.place], self.of[end.stays]), self.of[goes]
                if self.of[stays] in on and net not in on and (end, net) not in seen:
                    seen.add((end, net))
                    yield self._moved_to(end, goes)

    def _parts(self) -> Iterator[Trial]:
        """The two leads of a part exchanged, or two parts of a kind."""
        near = [p for p in self.circuit.parts.values() if self.near & set(p.full_terminals)]
        for part in (p for p in near if p.two_ended):
            yield self._exchange(*part.full_terminals)
        for first, second in combinations([p for p in near if p.has_role], 2):
            if first.kind == second.kind:
                lands = dict(zip(first.full_terminals, second.full_terminals, strict=True))
                lands |= {other: lug for lug, other in lands.items()}
                text = f"exchange {first.name} and {second.name}"
                yield Trial("exchanged", text, relanded(self.wiring, lands))

    def _lugs(self) -> Iterator[Trial]:
        """All that is on two lugs of a part exchanged."""
        for part in (part for part in self.circuit.parts.values() if len(part.terminals) > 2):
            for pair in combinations([lug for lug in part.full_terminals if lug in self.near], 2):
                yield self._exchange(*pair)

    def _exchange(self, one: str, other: str) -> Trial:
        text = f"exchange what is on {one} and {other}"
        return Trial("exchanged", text, relanded(self.wiring, {one: other, other: one}))

    def _ends_exchanged(self) -> Iterator[Trial]:
        """The ends of two wires exchanged; two members of nets change nets."""
        near = [end for end in self.ends if end.place in self.near]
        for one, other in combinations(near, 2):
            nets = (one.of == "net") + (other.of == "net")
            if (
                nets != 1
                and one.whole != other.whole
                and self.of[one.place] != self.of[other.place]
            ):
                text = f"exchange {one.said} and {other.said} on {one.place} and {other.place}"
                places = (other.stays, one.stays) if nets else (other.place, one.place)
                wiring = landed(self.wiring, dict(zip((one, other), places, strict=True)))
                yield Trial("exchanged", text, wiring)


def _by_name(terminal: str) -> tuple[int, str]:
    """Lug 9 before lug 10."""
    return len(terminal), terminal
