"""What a comparison finds: plain records, sorted, ready to print or to draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rewire.records.spec import Role

FindingKind = Literal[
    "missing",
    "reversed",
    "dropped",
    "inserted",
    "joined",
    "linked",
    "rule",
    "gap",
    "bridge",
    "interrupted",
    "stray",
    "undone",
    "live",
    "hint",
    "added",
    "altered",
    "spare",
    "timing",
]
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
class Company:
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
    company: tuple[Company, ...] = ()
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
