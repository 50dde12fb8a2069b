"""Relays and jacks as the trade draws them: a pile of springs, each with its lug at the rear.

The spring that moves is long; above it lie the contacts that it rests on, below it those
that it goes to when the relay pulls or the plug goes in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from rewire.records.lug_positions import moving_lug, pile_column, resting_on, style_of
from rewire.records.spec import Section, Switch

Kind = Literal["relay", "jack"]


@dataclass(frozen=True, slots=True)
class Contact:
    """A fixed spring beside a moving one."""

    moving: str
    fixed: str
    closed: bool
    """Whether the two touch in the control's first position."""
    rank: int
    """1 is next to the moving spring; the others reach over it."""


@dataclass(frozen=True, slots=True)
class Pile:
    """Springs in a pile; ``facing`` is 1 where the lugs stand at their right ends, else -1."""

    kind: Kind
    contacts: tuple[Contact, ...]
    facing: int = 1

    @property
    def moving(self) -> tuple[str, ...]:
        """The springs that move, from the top."""
        return tuple(dict.fromkeys(contact.moving for contact in self.contacts))

    def renamed(self, name: Callable[[str], str]) -> Pile:
        """The same with other names for its lugs."""
        contacts = (replace(c, moving=name(c.moving), fixed=name(c.fixed)) for c in self.contacts)
        return replace(self, contacts=tuple(contacts))


_KINDS: dict[str, Kind] = {"relay": "relay", "jack": "jack"}


def pile_of(switch: Switch) -> Pile | None:
    """What touches what in a pile of springs; None where the lugs are no such pile."""
    if pile_column(switch) is None:
        return None
    contacts = tuple(one for section in switch.sections for one in _section(section))
    return Pile(_KINDS[style_of(switch)], contacts) if contacts else None


def _section(section: Section) -> Iterator[Contact]:
    moving = moving_lug(section)
    if moving is None:
        return
    resting = resting_on(section, moving)
    thrown = [lug for lug in section.lugs if lug != moving and lug not in resting]
    yield from (Contact(moving, lug, True, rank) for rank, lug in enumerate(resting, 1))
    yield from (Contact(moving, lug, False, rank) for rank, lug in enumerate(thrown, 1))
