"""What a comparison finds: plain records, sorted, ready to print or to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

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
    "added",
    "spare",
    "timing",
]
Verdict = Literal["kept", "changed", "broken"]

INFORMATION: frozenset[FindingKind] = frozenset({"added", "spare", "timing"})
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
class Across:
    """Two places that added parts link and the original does not tie."""

    groups: tuple[tuple[str, ...], ...]
    parts: tuple[str, ...]
    """Added parts on the ways between them."""
    states: tuple[State, ...] | None
    """In which it is so; None: some, too many to tell."""
    message: str


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
    through: tuple[str, ...] = ()
    """Added parts on a shortest way (``inserted``)."""
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
    """``missing``, ``added``, ``reversed``: by its name in the original, added: its own."""
    rule: int | None = None
    change: int | None = None
    place: str | None = None
    """``spare`` and ``timing``: the lug, part or throw spoken of."""
    company: tuple[Company, ...] = ()
    """``joined``: what else is tied with them now; ``dropped``, ``inserted``: what else was."""
    across: tuple[Across, ...] = ()
    """``added``: what it links, alone or with others, that the original keeps apart."""
    ends_at: tuple[str, ...] = ()
    """Lugs or poles in the other wiring where a dropped path ends (for drawing)."""


def parted(findings: Sequence[Finding]) -> tuple[list[Finding], list[Finding]]:
    """Information to be told loudly, then all other.

    By the contract an added part spoils no verdict; one across places that the original keeps
    apart must not be read over for that.
    """
    known = [finding for finding in findings if finding.kind in INFORMATION]
    return [f for f in known if f.across], [f for f in known if not f.across]


@dataclass(frozen=True, slots=True)
class Result:
    """The comparison of one wiring with the original."""

    wiring: str
    verdict: Verdict
    states: int
    """States that can occur (``never`` left out)."""
    findings: tuple[Finding, ...]
