"""Sections that are one arm and its throws, and the form that they make together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.records.spec import Section

_FEW = {1: "S", 2: "D"}


@dataclass(frozen=True, slots=True)
class Pole:
    """A section that is one arm and its throws."""

    common: str
    throws: tuple[str, ...]
    """In the order in which the detents close them."""
    throw_at: tuple[int | None, ...]
    """Per detent the throw, from 1; None for open."""
    either_way: bool
    """Two lugs that close on each other: which of them is the arm makes no difference."""


def plain_poles(sections: Sequence[Section]) -> list[Pole]:
    """The sections as arms that all move alike; empty where one of them is none."""
    poles = [_pole(section) for section in sections]
    whole = [pole for pole in poles if pole is not None]
    alike = len(whole) == len(poles) and len({pole.throw_at for pole in whole}) == 1
    return whole if alike else []


def _pole(section: Section) -> Pole | None:
    """A section as one arm; None where no lug takes part in all that it closes."""
    groups = [one for one in section.groups if one]
    if any(len(one) > 1 or len(one[0]) != 2 for one in groups):
        return None
    always = set(section.lugs).intersection(*(one[0] for one in groups))
    if not always:
        return None
    common = next(lug for lug in section.lugs if lug in always)
    throws: list[str] = []
    throw_at: list[int | None] = []
    for one in section.groups:
        other = next((lug for group in one for lug in group if lug != common), None)
        if other is not None and other not in throws:
            throws.append(other)
        throw_at.append(None if other is None else throws.index(other) + 1)
    return Pole(common, tuple(throws), tuple(throw_at), len(always) > 1)


def form_of(poles: Sequence[Pole]) -> str:
    """``DPDT``, ``3P4T`` and the like."""
    count, throws = len(poles), len(poles[0].throws)
    return f"{_FEW.get(count, count)}P{_FEW.get(throws, throws)}T"
