"""Relays and jacks as the trade draws them: a pile of springs, each with its lug at the rear.

The spring that moves is long; above it lie the contacts that it rests on, below it those
that it goes to when the relay pulls or the plug goes in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from rewire.spec.model import Section, Switch

_MOST_FIXED = 4
_TALLEST = 24
"""A pile of more lugs would not fit a sheet with their labels."""

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


def pile_of(switch: Switch, style: str) -> tuple[list[str | None], Pile] | None:
    """The lugs from the top, None between two sections, and what touches what.

    None where the style is neither, or the contacts are no springs beside each other, or too many.
    """
    if style not in _KINDS:
        return None
    column: list[str | None] = []
    contacts: list[Contact] = []
    for section in switch.sections:
        moving = moving_lug(section)
        if moving is None:
            return None
        column += [None] if column else []
        column += _section(section, moving, contacts)
    column += [None, *switch.idle_lugs] if switch.idle_lugs else []
    if not contacts or len(column) > _TALLEST:
        return None
    return column, Pile(_KINDS[style], tuple(contacts))


def _section(section: Section, moving: str, contacts: list[Contact]) -> list[str]:
    fixed = [lug for lug in section.lugs if lug != moving]
    resting = [lug for lug in fixed if any({moving, lug} <= set(g) for g in section.groups[0])]
    thrown = [lug for lug in fixed if lug not in resting]
    for rank, lug in enumerate(resting, 1):
        contacts.append(Contact(moving, lug, True, rank))
    for rank, lug in enumerate(thrown, 1):
        contacts.append(Contact(moving, lug, False, rank))
    return [*resting[::-1], moving, *thrown]


def moving_lug(section: Section) -> str | None:
    """The lug that every closed group has, if the contacts are a blade among a few others."""
    groups = [group for at in section.groups for group in at]
    uses = Counter(lug for group in groups for lug in group)
    if len(section.lugs) > _MOST_FIXED + 1 or any(len(group) != 2 for group in groups):
        return None
    shared = [lug for lug in section.lugs if uses[lug] == len(groups)]
    return shared[0] if shared else None
