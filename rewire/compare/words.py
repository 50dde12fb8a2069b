"""Words for the bench: groups, states and what happened to a connection."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rewire.compare.facts import Groups
from rewire.compare.findings import State, Step
from rewire.spec.model import Control

MOST_NAMED = 3


def listing(names: Sequence[str], joining: str = "and") -> str:
    """``A``, ``A and B``, ``A, B and C``; a long list is cut with its count.

    >>> listing(["A", "B", "C"])
    'A, B and C'
    """
    names = list(names)
    if len(names) > 6:
        names = [*names[:5], f"{len(names) - 5} more"]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {joining} {names[-1]}"


def group_name(group: Sequence[str], points: Iterable[str]) -> str:
    """A group by its points if it has any, else by its first anchors."""
    known = set(points)
    named = [anchor for anchor in group if anchor in known] or list(group)
    if len(named) <= MOST_NAMED:
        return "/".join(named)
    return "/".join(named[:MOST_NAMED]) + f" (and {len(named) - MOST_NAMED} more)"


def group_names(groups: Groups, points: Iterable[str], joining: str = "and") -> str:
    """All groups of a finding."""
    return listing([group_name(group, points) for group in groups], joining)


def states_in_words(states: Sequence[State], controls: Mapping[str, Control]) -> str:
    """Where a finding holds: ``in METER CATHODE or SCREEN``, ``always``."""
    if not states or not states[0].at:
        return "always"
    names = [name for name, _ in states[0].at]
    if len(names) == 1:
        (name,) = names
        positions = [state.as_dict()[name] for state in states]
        if len(positions) == len(controls[name].positions):
            return f"in every position of {name}"
        return f"in {name} {listing(positions, 'or')}"
    return "in " + listing([_state_words(state) for state in states], "or")


def steps_in_words(steps: Sequence[Step]) -> str:
    """Which moves: ``moving METER between BIAS and CATHODE``."""
    return "moving " + listing([_step_words(step) for step in steps], "or")


def _state_words(state: State) -> str:
    return " with ".join(f"{name} {position}" for name, position in state.at)


def _step_words(step: Step) -> str:
    before, after = step.before.as_dict(), step.after.as_dict()
    moved = next(name for name in before if before[name] != after[name])
    words = f"{moved} between {before[moved]} and {after[moved]}"
    others = [f"{name} at {at}" for name, at in before.items() if name != moved]
    return f"{words} with {listing(others)}" if others else words
