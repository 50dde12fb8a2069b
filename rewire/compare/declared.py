"""Declared changes: which findings were meant, and which declarations found nothing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from rewire.circuit.connectivity import Bond, partitions
from rewire.circuit.states import Frame, States, widen
from rewire.compare.findings import FindingKind, Groups, Move
from rewire.records.spec import Change, ChangeKind

DECLARES: dict[ChangeKind, FindingKind] = {
    "insert": "inserted",
    "link": "linked",
    "drop": "dropped",
    "join": "joined",
    "gap": "gap",
    "bridge": "bridge",
    "interrupt": "interrupted",
    "stray": "stray",
    "remove": "missing",
    "reverse": "reversed",
}

THROUGH_PARTS: frozenset[FindingKind] = frozenset({"inserted", "linked"})
"""Kinds that are declared with the parts that link the groups."""


@dataclass(frozen=True, slots=True)
class Told:
    """States of one fact that are meant alike."""

    frame: Frame
    mask: int
    meant: bool = False
    why: str | None = None


@dataclass(slots=True)
class Declared:
    """The declared changes of a wiring, and which of them were found."""

    changes: Sequence[Change]
    states: States
    found: set[int] = field(default_factory=set)

    def of_part(self, kind: FindingKind, part: str) -> str | None:
        """The declaration that a part is removed or reversed; its reason, '' if none is given."""
        for number, change in enumerate(self.changes):
            if DECLARES[change.kind] == kind and part in change.parts:
                self.found.add(number)
                return change.why or ""
        return None

    def undone(self) -> list[int]:
        """Declarations that nothing was found for."""
        return [number for number in range(len(self.changes)) if number not in self.found]

    def parts_for(
        self, kind: FindingKind, groups: Groups, state: Mapping[str, str], linking: Collection[str]
    ) -> frozenset[str]:
        """Parts that are declared between two of some groups in a state."""
        naming = [
            (number, change)
            for number, change in enumerate(self.changes)
            if DECLARES[change.kind] == kind
            and _groups_named(change, groups) is not None
            and all(state.get(c, at[0]) in at for c, at in change.when.items())
        ]
        self.found.update(n for n, change in naming if not set(linking).isdisjoint(change.parts))
        return frozenset(part for _, change in naming for part in change.parts)

    def split(
        self, kind: FindingKind, groups: Groups, frame: Frame, mask: int, move: Move | None = None
    ) -> list[Told]:
        """Tell states that declarations cover from those they don't.

        Declarations cover a state if together they link all groups there; each
        names two anchors of different groups.
        """
        naming = [
            (number, change, pair)
            for number, change in enumerate(self.changes)
            if DECLARES[change.kind] == kind
            and (pair := _groups_named(change, groups)) is not None
            and self._covers(change, move)
        ]
        if not naming:
            return [Told(frame, mask)]
        moved = {move[0]} if move else set()
        names = {c.name for c in frame.controls}.union(*(c.when for _, c, _ in naming)) - moved
        wide = self.states.frame(names, "the declared changes")
        spread = widen(frame, mask, wide) & self._possible(wide, move)
        bonds: list[Bond] = []
        for number, change, pair in naming:
            where = self.states.selected(wide, change.when)
            bonds.append((pair, where))
            if where & spread and kind not in THROUGH_PARTS:
                self.found.add(number)
        covered = 0
        for labels, where in partitions(range(len(groups)), bonds, spread):
            if not any(labels):
                covered |= where
        why = "; ".join(dict.fromkeys(c.why for _, c, _ in naming if c.why)) or None
        if covered == spread:
            return [Told(frame, mask, True, why)]
        if not covered:
            return [Told(frame, mask)]
        return [Told(wide, spread & ~covered), Told(wide, covered, True, why)]

    def _covers(self, change: Change, move: Move | None) -> bool:
        """Both ends of a move must be covered; ``when`` of other controls is looked at by state."""
        if move is None or move[0] not in change.when:
            return True
        name, before, after = move
        positions = self.states.controls[name].positions
        return {positions[before], positions[after]} <= set(change.when[name])

    def _possible(self, frame: Frame, move: Move | None) -> int:
        if move is None:
            return self.states.possible(frame)
        return self.states.possible_steps(frame, *move)


def _groups_named(change: Change, groups: Groups) -> tuple[int, int] | None:
    """The two groups that a declaration's anchors are in, if they are two."""
    where = [
        number
        for anchor in change.anchors
        for number, group in enumerate(groups)
        if anchor in group
    ]
    return (where[0], where[1]) if len(where) == 2 and where[0] != where[1] else None
