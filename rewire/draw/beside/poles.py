"""Poles of two switches put in one order: the common and each position at the same place.

A *place* is a pair: the number of a column, and of a row in it (0 the common, then one
row for each position of the control, then throws that no position uses).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.bench.assignment import assigned
from rewire.records.lug_positions import moving_lug
from rewire.records.spec import Section, Switch

Place = tuple[int, int]
Anchors = Mapping[str, frozenset[str]]
"""Terminal → the places of the equipment on its net, by their names in the original."""


@dataclass(frozen=True, slots=True)
class Pole:
    """A section of a switch: its lugs by row. ``letter`` is what it is called."""

    switch: str
    letter: str
    cells: Mapping[int, str]
    """Row → full name of the lug."""


def poles_of(switch: Switch) -> list[Pole]:
    """All sections of a switch in order, and last the lugs that are in none."""
    commons = {pole[0] for pole in switch.poles}
    poles = [_pole(switch, section, commons) for section in switch.sections]
    placed = {lug for pole in poles for lug in pole.cells.values()}
    left = [lug for lug in switch.idle_lugs if switch.terminal(lug) not in placed]
    if left:
        below = 1 + max((len(section.groups) for section in switch.sections), default=0)
        cells = {below + n: switch.terminal(lug) for n, lug in enumerate(left)}
        poles.append(Pole(switch.name, "idle lugs", cells))
    return poles


def _pole(switch: Switch, section: Section, commons: set[str]) -> Pole:
    common = next((lug for lug in section.lugs if lug in commons), None) or moving_lug(section)
    cells = {} if common is None else {0: switch.terminal(common)}
    own = next((pole for pole in switch.poles if common in pole), ())
    rest = [lug for lug in dict.fromkeys((*section.lugs, *own)) if lug != common]
    for row, groups in enumerate(section.groups, 1):
        closed = next((set(g) for g in groups if common is not None and common in g), set())
        thrown = next((lug for lug in rest if lug in closed), None)
        if thrown is not None:
            cells[row] = switch.terminal(thrown)
            rest.remove(thrown)
    last = len(section.groups) if common is not None else 0
    cells.update({last + n: switch.terminal(lug) for n, lug in enumerate(rest, 1)})
    return Pole(switch.name, section.pole or "–".join(section.lugs[:3]), cells)


@dataclass(frozen=True, slots=True)
class Columns:
    """The poles of either wiring, column by column; None where it has no such pole."""

    before: tuple[Pole | None, ...]
    after: tuple[Pole | None, ...]

    @property
    def rows(self) -> list[int]:
        """Rows in use, from the top; of two positions, the common stands between them."""
        used = {row for pole in (*self.before, *self.after) if pole for row in pole.cells}
        return [1, 0, 2] if used <= {0, 1, 2} and 0 in used else sorted(used)


def columns_for(
    before: Sequence[Pole], after: Sequence[Pole], old: Anchors, new: Anchors
) -> Columns:
    """Each pole beside the one that carries most of the same; what is over stands last."""
    partner = _partners(before, after, old, new)
    taken = set(partner.values())
    left = [before[n] for n in range(len(before))]
    right = [after[partner[n]] if n in partner else None for n in range(len(before))]
    further = [pole for n, pole in enumerate(after) if n not in taken]
    return Columns((*left, *(None for _ in further)), (*right, *further))


def _partners(
    before: Sequence[Pole], after: Sequence[Pole], old: Anchors, new: Anchors
) -> dict[int, int]:
    if not before or not after:
        return {}
    return dict(assigned(np.array([[_likeness(b, a, old, new) for a in after] for b in before])))


def _likeness(before: Pole, after: Pole, old: Anchors, new: Anchors) -> float:
    """Rows on which both carry something in common; the same letter settles what is even."""
    shared = sum(
        bool(old.get(before.cells[row], frozenset()) & new.get(after.cells[row], frozenset()))
        for row in before.cells.keys() & after.cells.keys()
    )
    return shared + (0.5 if before.letter == after.letter else 0.0)


def places_of(poles: Sequence[Pole | None]) -> dict[str, Place]:
    """Full name of a lug → its place."""
    return {
        lug: (column, row)
        for column, pole in enumerate(poles)
        if pole is not None
        for row, lug in pole.cells.items()
    }
