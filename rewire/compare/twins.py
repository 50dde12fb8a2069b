"""Twins: contacts that both wirings have alike, between which nothing can be found.

A twin is the same section of a switch of the same name and control, with the
same contacts in the same positions, on the same places, and timed alike. A way
over contacts with a twin alone exists in both wirings, in every state and in
every combination of a move, so no fact can be found on it. While one control
moves, its contacts are only those of the position before and of the position
after: a section that differs elsewhere is a twin in that move.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.compare.facts import Move

KeyOf = Callable[[int], object]
"""What a place is known by in both wirings."""
TimingOf = Callable[[Contact, bool], object]
"""What the timings of twins have in common; told whether the contact is the first's."""


@dataclass(frozen=True)
class Twins:
    """The contacts of a first wiring, held against those of a second."""

    first: ContactGraph
    second: ContactGraph
    key_first: KeyOf
    key_second: KeyOf
    timing_of: TimingOf
    _moved: dict[Move, frozenset[int]] = field(default_factory=dict)

    @cached_property
    def without(self) -> frozenset[int]:
        """Contacts of the first, by number, that have no twin in the second."""
        return self._without(
            range(len(self.first.contacts)), range(len(self.second.contacts)), None
        )

    def _without(
        self, first: Iterable[int], second: Iterable[int], at: Sequence[int] | None
    ) -> frozenset[int]:
        there = (self.second.contacts[number] for number in second)
        twins = {_likeness(c, self.key_second, self.timing_of(c, False), at) for c in there}
        return frozenset(
            number
            for number in first
            if _likeness(
                contact := self.first.contacts[number],
                self.key_first,
                self.timing_of(contact, True),
                at,
            )
            not in twins
        )

    @cached_property
    def blocks(self) -> frozenset[int]:
        """Blocks of the first with a contact that has no twin."""
        return frozenset(self._controls)

    @cached_property
    def _controls(self) -> Mapping[int, frozenset[str]]:
        """Per block the controls that move a contact without a twin in it."""
        found: dict[int, set[str]] = {}
        for number in self.without:
            for block in self.first.blocks_of_contact[number]:
                found.setdefault(block, set()).add(self.first.contacts[number].control)
        return {block: frozenset(controls) for block, controls in found.items()}

    def differ(self, blocks: Iterable[int], move: Move) -> bool:
        """Whether some block has a contact without a twin, in a move."""
        moved = None
        for block in blocks:
            controls = self._controls.get(block)
            if controls is None:
                continue
            if len(controls) > 1 or move[0] not in controls:
                return True
            moved = self._in_move(move) if moved is None else moved
            if block in moved:
                return True
        return False

    def _in_move(self, move: Move) -> frozenset[int]:
        """Blocks with a contact that the move moves or holds, and that has no twin in it."""
        if move not in self._moved:
            fresh = self._without(
                (n for n in self.first.contacts_by_control[move[0]] if n in self.without),
                self.second.contacts_by_control.get(move[0], ()),
                move[1:],
            )
            blocks = self.first.blocks_of_contact
            self._moved[move] = frozenset(block for number in fresh for block in blocks[number])
        return self._moved[move]


def _likeness(contact: Contact, key_of: KeyOf, timing: object, at: Sequence[int] | None) -> object:
    """What two contacts have in common if they are twins, at some positions or at all."""
    if at is None:
        closed, lugs = contact.closed, contact.lugs_in_play
        passed: object = frozenset(contact.passing.items())
    else:
        before, after = at
        closed = tuple(contact.closed[position] for position in at)
        on_the_way = contact.passing.get((before, after), ())
        passed, groups = on_the_way, (*on_the_way, *(g for at_end in closed for g in at_end))
        lugs = tuple(sorted({lug for group in groups for lug in group}))
    places = tuple((lug, key_of(contact.place[lug])) for lug in lugs)
    return contact.switch, contact.control, closed, passed, places, timing
