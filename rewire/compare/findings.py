"""What a comparison finds: plain records, ready to print or to draw; groups and states in words."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence, Set
from dataclasses import dataclass, field
from math import prod
from typing import TYPE_CHECKING, Literal, get_args

from rewire.circuit.graph import by_first
from rewire.circuit.states import Frame, States
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import listing

if TYPE_CHECKING:
    from rewire.records.spec import ChangeKind, Role

FindingKind = Literal[
    "missing", "reversed", "dropped", "inserted", "joined", "linked", "rule",
    "gap", "bridge", "interrupted", "stray", "undone", "live", "hint", "added", "altered",
    "spare", "timing",
]  # fmt: skip
ORDER: tuple[FindingKind, ...] = get_args(FindingKind)
"""Findings are listed in this order."""
Verdict = Literal["kept", "changed", "broken"]

INFORMATION: frozenset[FindingKind] = frozenset(
    {"live", "hint", "added", "altered", "spare", "timing"}
)
"""Kinds that never spoil a verdict by themselves."""

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
SWITCHING: frozenset[FindingKind] = frozenset({"gap", "bridge", "interrupted", "stray"})
"""What happens while a control moves."""


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
class AlsoConnected:
    """What is connected with the places of a finding over further contacts."""

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
    """``inserted``: added parts on a shortest path; ``linked``: all that link the groups."""
    was: tuple[str, ...] = ()
    """The path as it was in the original, terminal by terminal, in the first state."""
    was_in: State | None = None
    """That state, where the path was another in other states of the finding."""
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
    company: tuple[AlsoConnected, ...] = ()
    """What else is connected with them now; of a lost connection, what else was."""
    first: bool = False
    """``altered``: to be read before the others."""
    shortly: str = ""
    """What there is instead in the first state, in one clause; of what happens while switching,
    nothing."""
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
    compared: bool = True
    """False for the original of a spec without rules and without another wiring."""


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


def in_order(groups: Iterable[tuple[str, ...]]) -> Groups:
    """Anchors inside a group, and groups inside a finding, by code point."""
    return tuple(sorted(tuple(sorted(group)) for group in groups))


@dataclass(slots=True)
class RestFacts:
    """Per kind and groups, the states in which it holds."""

    of: dict[Key, tuple[Frame, int]] = field(default_factory=dict)

    def add(
        self, kind: FindingKind, groups: Sequence[tuple[str, ...]], frame: Frame, mask: int
    ) -> None:
        """Note a fact; one pair of places is always asked over one frame."""
        if mask:
            key = kind, in_order(groups)
            self.of[key] = frame, self.of.get(key, (frame, 0))[1] | mask

    def count(self, states: States, near: Set[str] | None = None) -> int:
        """Number of facts: pairs of groups, in full states; with ``near``, those that name one."""
        return sum(
            states.count(frame, mask) * (len(groups) * (len(groups) - 1) // 2)
            for (_, groups), (frame, mask) in self.of.items()
            if near is None or any(not near.isdisjoint(group) for group in groups)
        )


@dataclass(frozen=True, slots=True)
class FoundIn:
    """States of the others in which something is found in a move, by one of the two questions."""

    frame: Frame
    mask: int
    in_step: bool


StepFacts = dict[tuple[FindingKind, Move], list[tuple[Groups, FoundIn]]]
"""Per kind and move, what happens between which groups."""


CUT = "more such cases"
"""The end of a list that was cut short."""
MOST_NAMED = 3


def group_name(group: Sequence[str], points: Container[str]) -> str:
    """A group by its points if it has any, else by its first anchors."""
    named = [anchor for anchor in group if anchor in points] or list(group)
    if len(named) <= MOST_NAMED:
        return "/".join(named)
    return "/".join(named[:MOST_NAMED]) + f" (and {len(named) - MOST_NAMED} more)"


def group_names(groups: Groups, points: Container[str], joining: str = "and") -> str:
    """All groups of a finding."""
    return listing([group_name(group, points) for group in groups], joining)


def as_written(value: float, unit: str = "ohm") -> str:
    """A quantity as specs write it.

    >>> as_written(0.5), as_written(1e6), as_written(8e-6, "F")
    ('0.5 ohm', '1 Mohm', '8 uF')
    """
    text = in_ohms(value, 6) if unit == "ohm" else with_unit(value, unit, 6)
    return text.replace("Ω", "ohm").replace("µ", "u")


def when(finding: Finding, most: int) -> str:
    """When a finding holds, in words; empty if positions do not matter.

    The rest is counted after ``most`` phrases.
    """
    phrases = [*_in_each(finding.states), *_while_moving(finding.steps)]
    if len(phrases) > most:
        phrases = [*phrases[:most], f"and {len(phrases) - most} {CUT}"]
    return "; ".join(phrases)


def bare(step: Step) -> Step:
    """A step without the controls that do not move."""
    ends = step.before, step.after
    return Step(*(State(tuple(p for p in end.at if p[0] == _moved(step))) for end in ends))


def _moved(step: Step) -> str:
    """The control that moves."""
    return next(one[0] for one in step.before.at if one not in step.after.at)


def moves(finding: Finding) -> str:
    """The moves of a finding in words, wherever the other controls stand."""
    return "; ".join(_while_moving(dict.fromkeys(map(bare, finding.steps))))


def in_positions(states: Sequence[State]) -> str:
    """States of the same controls in words: ``METER: GRID, PLATE; or METER: HV with SEND: ON``."""
    return "; or ".join(_products(states))


def in_states(states: Sequence[State]) -> str:
    """States in words: ``in METER: GRID, PLATE``, or ``in every position``."""
    return "in every position" if any(not s.at for s in states) else f"in {in_positions(states)}"


def _in_each(states: Sequence[State]) -> list[str]:
    if any(not state.at for state in states):
        return ["in every position"]
    return [f"in {said}" for said in _products(states)] if states else []


def told_apart(said: Sequence[str | None], states: Sequence[State], most: int = 4) -> str | None:
    """What is said of each state as one text: alike, or each with the states it holds in.

    ``said`` has a text for each of the first states. The rest is counted after ``most`` texts.
    """
    at = by_first((text, state) for text, state in zip(said, states, strict=False) if text)
    unseen = len(states) - len(said)
    if len(at) < 2 and all(said):
        alike = next(iter(at), "")
        return f"{alike}; {unseen} further positions were not traced" if unseen else alike or None
    phrases = [f"in {in_positions(where)}: {text}" for text, where in at.items()]
    if len(phrases) > most:
        phrases = [*phrases[:most], f"and {len(phrases) - most} more in other positions"]
    if phrases and unseen:
        phrases.append(f"{unseen} further positions were not traced")
    return " | ".join(phrases) or None


def _while_moving(steps: Iterable[Step]) -> list[str]:
    """The moves of each control together that are made with the others standing alike."""
    stands: dict[tuple[str, str], list[State]] = {}
    for step in steps:
        control, after = _moved(step), step.after.as_dict()
        between = f"{step.before.as_dict()[control]} and {after.pop(control)}"
        stands.setdefault((control, between), []).append(State(tuple(after.items())))
    moved = by_first(
        ((control, with_others), between)
        for (control, between), others in stands.items()
        for with_others in _products(others)
    )
    return [
        f"while {control} moves between {', or '.join(betweens)}"
        + (f" (with {with_others})" if with_others else "")
        for (control, with_others), betweens in moved.items()
    ]


def _products(states: Sequence[State]) -> list[str]:
    """The states as few products of positions: one if they are one, else one per other control."""
    groups = [states]
    if prod(map(len, _product(states).values())) != len(states):
        first = states[0].at[0][0]
        rest = ((tuple(pair for pair in s.at if pair[0] != first), s) for s in states)
        groups = list(by_first(rest).values())
    products = map(_product, groups)
    return [" with ".join(f"{n}: {', '.join(at)}" for n, at in one.items()) for one in products]


def _product(states: Sequence[State]) -> dict[str, list[str]]:
    """Per control the positions of some states."""
    return by_first(dict.fromkeys(one for state in states for one in state.at))
