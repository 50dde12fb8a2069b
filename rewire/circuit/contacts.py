"""Contacts: what the sections of the switches close, seen on the nets of a wiring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rewire.circuit.nets import Nets
from rewire.spec.model import Section, Spec, Switch, Wiring

Places = tuple[int, ...]
"""Places (nets, or nets merged) that are linked with each other."""
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
        """Lugs that some position closes on another lug, by name."""
        return tuple(sorted({lug for at in self.section.groups for group in at for lug in group}))

    @cached_property
    def closing(self) -> frozenset[int]:
        """Places with a lug that some position closes on another lug."""
        return frozenset(self.place[lug] for lug in self.lugs_in_play)


@dataclass(frozen=True, slots=True)
class Link:
    """A group of lugs one section closes together, or a part that links its terminals.

    ``positions`` is the set of bits of the positions in which it is closed;
    ``ALWAYS`` for a part, whose ``contact`` is ``NO_SECTION``.
    """

    contact: int
    lugs: tuple[str, ...]
    places: Places
    positions: int


def contacts_of(spec: Spec, wiring: Wiring, nets: Nets) -> tuple[Contact, ...]:
    """Every section of every switch of a wiring, in order of names."""
    switches = [p for p in spec.parts_of(wiring).values() if isinstance(p, Switch)]
    return tuple(
        Contact(
            switch=switch.name,
            control=switch.control,
            section=section,
            place={lug: nets.of[switch.terminal(lug)] for lug in section.lugs},
        )
        for switch in sorted(switches, key=lambda s: s.name)
        for section in switch.sections
    )


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
        for lugs, positions in closed.items():
            places = contact.places(lugs)
            if len(places) > 1:
                yield Link(number, lugs, places, positions)


def held_between(contact: Contact, before: int, after: int) -> tuple[tuple[str, ...], ...]:
    """Groups of lugs that are tied both before and after a step.

    A non-shorting section holds these while it moves: a long blade never lets
    go (contract, 'While switching').
    """
    old = [frozenset(group) for group in contact.section.groups[before]]
    new = [frozenset(group) for group in contact.section.groups[after]]
    both = (a & b for a in old for b in new)
    return tuple(tuple(sorted(group)) for group in both if len(group) > 1)
