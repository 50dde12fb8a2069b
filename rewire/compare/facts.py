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


@dataclass(frozen=True, slots=True)
class Found:
    """States of the others in which something is found in a move, by one of the two questions."""

    frame: Frame
    mask: int
    in_step: bool


@dataclass(slots=True)
class StepFacts:
    """Per kind and groups, the moves, and the states of the others, in which it is so."""

    of: dict[Key, dict[Move, list[Found]]] = field(default_factory=dict)
    _during: dict[tuple[FindingKind, Move], list[tuple[Groups, Found]]] = field(
        default_factory=dict
    )

    def add(
        self, kind: FindingKind, groups: list[tuple[str, ...]], move: Move, found: Found
    ) -> None:
        """Note a fact of one move."""
        if not found.mask:
            return
        key = kind, in_order(groups)
        self.of.setdefault(key, {}).setdefault(move, []).append(found)
        self._during.setdefault((kind, move), []).append((key[1], found))

    def during(self, kind: FindingKind, move: Move) -> list[tuple[Groups, Found]]:
        """What was found of one kind in one move."""
        return self._during.get((kind, move), [])

    def take(self, others: StepFacts) -> None:
        """Add all facts of another reading of the timings."""
        for (kind, groups), moves in others.of.items():
            for move, facts in moves.items():
                for found in facts:
                    self.add(kind, list(groups), move, found)
