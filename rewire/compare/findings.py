"""What a comparison finds: plain records, sorted, ready to print or to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from rewire.circuit.states import Frame, States
from rewire.records.spec import Role

FindingKind = Literal[
    "missing", "reversed", "dropped", "inserted", "joined", "linked", "rule",
    "gap", "bridge", "interrupted", "stray", "undone", "live", "hint", "added", "altered",
    "spare", "timing",
]  # fmt: skip
ORDER: tuple[FindingKind, ...] = get_args(FindingKind)
"""Findings are told in this order."""
Verdict = Literal["kept", "changed", "broken"]

INFORMATION: frozenset[FindingKind] = frozenset(
    {"live", "hint", "added", "altered", "spare", "timing"}
)
"""Kinds that never spoil a verdict by themselves."""


@dataclass(frozen=True, slots=True)
class State:
    """Positions of the controls that matter, in the order of the file; empty means always."""

    at: tuple[tuple[str, str], ...]

    def as_dict(self) -> dict[str, str]:
        """Control name → position."""
        return dict(self.at)


@dataclass(frozen=True, slots=True)
class Step:
    """One control moving between neighbouring positions, ``before`` earlier in travel."""

    before: State
    after: State


@dataclass(frozen=True, slots=True)
class AlsoTied:
    """What is tied with the places of a finding over further contacts."""

    place: str
    """A point, or the first anchors of a net, by their names in the original."""
    states: tuple[State, ...] | None
    """Those of the finding's states in which it is so, told apart by further controls where those
    matter; empty: all of them; None: some, too many to tell."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One fact about a wiring, with every state or step in which it holds.

    ``groups`` are anchors by their names in the original; the pairs across the
    groups are exactly the pairs the finding speaks of.
    """

    kind: FindingKind
    meant: bool
    message: str
    """In plain words, for the bench."""
    groups: tuple[tuple[str, ...], ...] = ()
    states: tuple[State, ...] = ()
    steps: tuple[Step, ...] = ()
    in_step: bool | None = None
    """While switching: whether it happens at every turn, all sections together; if not, it may
    happen where the poles are uneven. None at rest."""
    through: tuple[str, ...] = ()
    """``inserted``: added parts on a shortest way; ``linked``: all that link the groups."""
    was: tuple[str, ...] = ()
    """The way as it was in the original, terminal by terminal, in the first state."""
    was_in: State | None = None
    """That state, where the way was another in other states of the finding."""
    now: str | None = None
    """What is there instead, in words, told apart by states where it differs; for a dropped path,
    where it ends."""
    why: str | None = None
    """The reason given with the declared change, or with the rule."""
    part: str | None = None
    """``missing``, ``altered``, ``reversed``: by its name in the original; ``added``: its own."""
    rule: int | None = None
    change: int | None = None
    place: str | None = None
    """``spare``, ``timing`` and ``hint``: the lug, part or throw spoken of."""
    company: tuple[AlsoTied, ...] = ()
    """``joined``, ``linked``: what else is tied with them now; of what is lost, what else was."""
    first: bool = False
    """``altered``: to be read before the others."""
    ends_at: tuple[str, ...] = ()
    """Lugs or poles in the other wiring where a dropped path ends (for drawing)."""


@dataclass(frozen=True, slots=True)
class Result:
    """The comparison of one wiring with the original."""

    wiring: str
    verdict: Verdict
    states: int
    """States that can occur (``never`` left out)."""
    findings: tuple[Finding, ...]
    role: Role | None = "plan"
    """Of the wiring; None for the original."""


def verdict_of(findings: Sequence[Finding]) -> Verdict:
    """``kept``, ``changed`` or ``broken``: meant differences change, others break."""
    telling = [finding for finding in findings if finding.kind not in INFORMATION]
    if not all(finding.meant for finding in telling):
        return "broken"
    if telling or any(finding.kind == "added" for finding in findings):
        return "changed"
    return "kept"


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
        """Number of facts: pairs of groups, in full states."""
        return sum(
            states.count(frame, mask) * (len(groups) * (len(groups) - 1) // 2)
            for (_, groups), (frame, mask) in self.of.items()
        )


@dataclass(frozen=True, slots=True)
class FoundIn:
    """States of the others in which something is found in a move, by one of the two questions."""

    frame: Frame
    mask: int
    in_step: bool


@dataclass(slots=True)
class StepFacts:
    """Per kind and groups, the moves, and the states of the others, in which it is so."""

    of: dict[Key, dict[Move, list[FoundIn]]] = field(default_factory=dict)
    _during: dict[tuple[FindingKind, Move], list[tuple[Groups, FoundIn]]] = field(
        default_factory=dict
    )

    def add(
        self, kind: FindingKind, groups: list[tuple[str, ...]], move: Move, found: FoundIn
    ) -> None:
        """Note a fact of one move."""
        if not found.mask:
            return
        key = kind, in_order(groups)
        self.of.setdefault(key, {}).setdefault(move, []).append(found)
        self._during.setdefault((kind, move), []).append((key[1], found))

    def during(self, kind: FindingKind, move: Move) -> list[tuple[Groups, FoundIn]]:
        """What was found of one kind in one move."""
        return self._during.get((kind, move), [])

    def take(self, others: StepFacts) -> None:
        """Add all facts of another reading of the timings."""
        for (kind, groups), moves in others.of.items():
            for move, facts in moves.items():
                for found in facts:
                    self.add(kind, list(groups), move, found)
