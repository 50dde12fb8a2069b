"""Contacts: what the sections of the switches close, seen on the nets of a wiring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from rewire.circuit.nets import Nets
from rewire.records.spec import Control, Section, Spec, Switch, Wiring

Places = tuple[int, ...]
"""Places (nets, or nets merged) that are linked with each other."""
Ends = tuple[int, int]
"""The positions before and after a move of a control."""
ALWAYS = -1
"""All bits set: a set of positions that no control narrows."""
NO_SECTION = -1


@dataclass(frozen=True)
class Contact:
    """One section of one switch, with the place every lug of it is on."""

    switch: str
    control: str
    section: Section
    place: Mapping[str, int]
    passing: Mapping[Ends, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    """By the two positions of a move, the earlier first: groups closed for a moment on the way,
    in the order they are met."""

    def moves(self, before: int, after: int) -> bool:
        """Whether its contacts differ between two positions of its control."""
        return self.closed[before] != self.closed[after]

    @cached_property
    def closed(self) -> tuple[frozenset[frozenset[str]], ...]:
        """Per position the groups of lugs that are tied, whatever their order."""
        return tuple(
            frozenset(frozenset(group) for group in groups) for groups in self.section.groups
        )

    def places(self, lugs: Sequence[str]) -> Places:
        """The different places that some lugs are on, in the order of the lugs."""
        return tuple(dict.fromkeys(self.place[lug] for lug in lugs))

    @cached_property
    def lugs_in_play(self) -> tuple[str, ...]:
        """Lugs that some position, or some move, closes on another lug, by name."""
        closed = (*self.section.groups, *self.passing.values())
        return tuple(sorted({lug for at in closed for group in at for lug in group}))

    @cached_property
    def closing(self) -> frozenset[int]:
        """Places with a lug that some position closes on another lug."""
        groups = (group for at in self.section.groups for group in at)
        return frozenset(self.place[lug] for group in groups for lug in group)

    def passed_over(self, ends: Ends) -> frozenset[int]:
        """Places with a lug that a move closes on its way."""
        return frozenset(self.place[lug] for group in self.passing.get(ends, ()) for lug in group)


@dataclass(frozen=True, slots=True)
class Link:
    """A group of lugs one section closes together, or a part that links its terminals.

    ``positions`` is the set of bits of the positions in which it is closed;
    ``ALWAYS`` for a part, whose ``contact`` is ``NO_SECTION``. ``passed`` are the moves that
    close it on their way, by their two positions.
    """

    contact: int
    lugs: tuple[str, ...]
    places: Places
    positions: int
    passed: frozenset[Ends] = frozenset()


def contacts_of(spec: Spec, wiring: Wiring, nets: Nets) -> tuple[Contact, ...]:
    """Every section of every switch of a wiring, in order of names."""
    switches = [p for p in spec.parts_of(wiring).values() if isinstance(p, Switch)]
    return tuple(
        _contact(switch, section, spec.controls[switch.control], nets)
        for switch in sorted(switches, key=lambda s: s.name)
        for section in switch.sections
    )


def _contact(switch: Switch, section: Section, control: Control, nets: Nets) -> Contact:
    passing = passing_of(switch, section, control)
    passed = (lug for groups in passing.values() for group in groups for lug in group)
    lugs = dict.fromkeys((*section.lugs, *passed))
    place = {lug: nets.of[switch.terminal(lug)] for lug in lugs}
    return Contact(switch.name, switch.control, section, place, passing)


def passing_of(
    switch: Switch, section: Section, control: Control
) -> dict[Ends, tuple[tuple[str, ...], ...]]:
    """Per move the contacts that a wiper closes on its way from a throw to one that is not next."""
    if switch.style not in ("rotary", "slide"):
        return {}
    return {
        (before, after): tuple((pole[0], pole[throw]) for throw in passed)
        for pole in switch.poles
        if pole[0] in section.lugs
        for before, after in control.steps()
        if (passed := throws_passed(switch, control, before, after))
    }


def throws_passed(switch: Switch, control: Control, before: int, after: int) -> list[int]:
    """Throws between those of two positions, in the order in which they are passed.

    Round the end, from the last position to the first, the knob goes on the other way round.
    """
    one, other = (None, None)
    if switch.throw_at is not None and switch.throws is not None:
        one, other = switch.throw_at[before], switch.throw_at[after]
    if one is None or other is None or one == other or switch.throws is None:
        return []
    up = list(range(one + 1, other)) or list(range(one - 1, other, -1))
    if not control.goes_round(before, after):
        return up
    on = range(1, switch.throws + 1)
    outside = [throw for throw in on if throw > max(one, other)]
    outside += [throw for throw in on if throw < min(one, other)]
    return outside if one > other else outside[::-1]


def links_of(contacts: Sequence[Contact]) -> Iterator[Link]:
    """One link for each different group of lugs of each section.

    Groups whose lugs are all on one place link nothing and are left out.
    """
    for number, contact in enumerate(contacts):
        closed: dict[tuple[str, ...], int] = {}
        for position, groups in enumerate(contact.section.groups):
            for group in groups:
                key = tuple(sorted(group))
                closed[key] = closed.get(key, 0) | 1 << position
        passed: dict[tuple[str, ...], set[Ends]] = {}
        for ends, on_the_way in contact.passing.items():
            for group in on_the_way:
                passed.setdefault(tuple(sorted(group)), set()).add(ends)
        for lugs in dict.fromkeys((*closed, *passed)):
            places = contact.places(lugs)
            if len(places) > 1:
                moves = frozenset(passed.get(lugs, ()))
                yield Link(number, lugs, places, closed.get(lugs, 0), moves)


def held_between(contact: Contact, before: int, after: int) -> tuple[tuple[str, ...], ...]:
    """Groups of lugs that are tied both before and after a step.

    A non-shorting section holds these while it moves: a long blade never lets
    go (contract, 'While switching').
    """
    old = [frozenset(group) for group in contact.section.groups[before]]
    new = [frozenset(group) for group in contact.section.groups[after]]
    both = (a & b for a in old for b in new)
    return tuple(tuple(sorted(group)) for group in both if len(group) > 1)
