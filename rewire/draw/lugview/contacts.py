"""Relays and jacks as the trade draws them: a moving contact beside those it can touch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rewire.spec.model import Section, Switch

Rows = tuple[tuple[str | None, ...], ...]
_MOST_FIXED = 4
_TALLEST = 12


@dataclass(frozen=True, slots=True)
class Blade:
    """A moving contact: from its own lug to one it can touch."""

    moving: str
    fixed: str
    at_first: bool
    """Whether the two are closed in the control's first position."""


def contact_rows(switch: Switch) -> tuple[Rows, tuple[Blade, ...]]:
    """Two columns to a section, moving contact left and fixed ones right; and the blades."""
    columns: list[list[str | None]] = []
    blades: list[Blade] = []
    for section in switch.sections:
        moving = moving_lug(section)
        if moving is None:
            columns.extend(_plain(section.lugs))
            continue
        fixed = [lug for lug in section.lugs if lug != moving]
        columns.extend(_changeover(moving, fixed))
        blades.extend(Blade(moving, lug, _closed_at_first(section, moving, lug)) for lug in fixed)
    columns.extend(_plain(switch.idle_lugs))
    deepest = max(len(column) for column in columns)
    padded = [[*column, *[None] * (deepest - len(column))] for column in columns]
    return tuple(tuple(column[row] for column in padded) for row in range(deepest)), tuple(blades)


def moving_lug(section: Section) -> str | None:
    """The lug that every closed group has, if the contacts are a blade among a few others."""
    groups = [group for at in section.groups for group in at]
    uses = Counter(lug for group in groups for lug in group)
    if len(section.lugs) > _MOST_FIXED + 1 or any(len(group) != 2 for group in groups):
        return None
    shared = [lug for lug in section.lugs if uses[lug] == len(groups)]
    return shared[0] if shared else None


def _changeover(moving: str, fixed: Sequence[str]) -> list[list[str | None]]:
    """The moving contact on a row of its own, half the fixed ones above it."""
    row = (len(fixed) + 1) // 2
    left: list[str | None] = [None] * row
    right: list[str | None] = [*fixed[:row], None, *fixed[row:]]
    return [[*left, moving], right]


def _closed_at_first(section: Section, moving: str, fixed: str) -> bool:
    return any(moving in group and fixed in group for group in section.groups[0])


def _plain(lugs: Sequence[str]) -> list[list[str | None]]:
    return [list(lugs[n : n + _TALLEST]) for n in range(0, len(lugs), _TALLEST)]
