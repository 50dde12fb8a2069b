"""Facts: what was found, pair by pair and state by state, before it is put in words."""

from __future__ import annotations

from dataclasses import dataclass, field

from rewire.circuit.states import Frame, States
from rewire.compare.findings import FindingKind

Groups = tuple[tuple[str, ...], ...]
Key = tuple[FindingKind, Groups]
Move = tuple[str, int, int]
"""A control, its position before, its position after (earlier in travel first)."""


def in_order(groups: list[tuple[str, ...]]) -> Groups:
    """Anchors inside a group, and groups inside a finding, by code point."""
    return tuple(sorted(tuple(sorted(group)) for group in groups))


@dataclass(slots=True)
class RestFacts:
    """Per kind and groups, the states in which it is so."""

    of: dict[Key, tuple[Frame, int]] = field(default_factory=dict)

    def add(
        self, kind: FindingKind, groups: list[tuple[str, ...]], frame: Frame, mask: int
    ) -> None:
        """Note a fact; one pair of places is always asked over one frame."""
        if not mask:
            return
        key = kind, in_order(groups)
        known = self.of.get(key, (frame, 0))[1]
        self.of[key] = frame, known | mask

    def count(self, states: States) -> int:
        """Facts as the contract counts them: pairs of groups, in full states."""
        return sum(
            states.count(frame, mask) * (len(groups) * (len(groups) - 1) // 2)
            for (_, groups), (frame, mask) in self.of.items()
        )


@dataclass(slots=True)
class StepFacts:
    """Per kind and groups, the moves, and the states of the others, in which it is so."""

    of: dict[Key, dict[Move, list[tuple[Frame, int]]]] = field(default_factory=dict)

    def add(
        self,
        kind: FindingKind,
        groups: list[tuple[str, ...]],
        move: Move,
        frame: Frame,
        mask: int,
    ) -> None:
        """Note a fact of one move."""
        if mask:
            moves = self.of.setdefault((kind, in_order(groups)), {})
            moves.setdefault(move, []).append((frame, mask))

    def during(self, kind: FindingKind, move: Move) -> list[tuple[Groups, Frame, int]]:
        """What was found of one kind in one move."""
        return [
            (groups, frame, mask)
            for (its_kind, groups), moves in self.of.items()
            if its_kind == kind
            for frame, mask in moves.get(move, ())
        ]

    def take(self, others: StepFacts) -> None:
        """Add all facts of another reading of the timings."""
        for (kind, groups), moves in others.of.items():
            for move, found in moves.items():
                for frame, mask in found:
                    self.add(kind, list(groups), move, frame, mask)
