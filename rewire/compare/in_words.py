"""Groups, states and steps in words, as short as they can be said."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from math import prod

from rewire.compare.findings import Finding, Groups, State, Step
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import listing

CUT = "more such cases"
"""The end of a list that was cut short."""
MOST_NAMED = 3

Positions = dict[str, tuple[str, ...]]


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
    """When a finding holds, in words; empty where it is not a matter of positions.

    Args:
        finding: any finding.
        most: phrases after which the rest is counted.
    """
    phrases = [*_states(finding.states), *_steps(finding.steps)]
    left = len(phrases) - most
    if left > 0:
        phrases = [*phrases[:most], f"and {left} {CUT}"]
    return "; ".join(phrases)


def bare(step: Step) -> Step:
    """A step without the controls that stand."""
    before, after = step.before.as_dict(), step.after.as_dict()
    moved = [name for name, at in before.items() if after[name] != at]
    return Step(*(State(tuple((name, at[name]) for name in moved)) for at in (before, after)))


def moves(finding: Finding) -> str:
    """The moves of a finding in words, wherever the other controls stand."""
    return "; ".join(_steps(dict.fromkeys(map(bare, finding.steps))))


def in_positions(states: Sequence[State]) -> str:
    """States in words: ``METER: GRID, PLATE; or METER: HV with SEND: ON``.

    Args:
        states: over the same controls; at least one.
    """
    return "; or ".join(map(_said, _gathered(states)))


def in_states(states: Sequence[State]) -> str:
    """States in words: ``in METER: GRID, PLATE``, or ``in every position``.

    Args:
        states: over the same controls; at least one.
    """
    return "in every position" if any(not s.at for s in states) else f"in {in_positions(states)}"


def _states(states: Sequence[State]) -> list[str]:
    if not states:
        return []
    if any(not state.at for state in states):
        return ["in every position"]
    return [f"in {_said(positions)}" for positions in _gathered(states)]


def told_apart(said: Sequence[str | None], states: Sequence[State], most: int = 4) -> str | None:
    """What is said of each state as one text: alike, or each with the states it holds in.

    Args:
        said: of the first states, one text each.
        states: all of them, over the same controls.
        most: different texts after which the rest is counted.
    """
    at: dict[str, list[State]] = {}
    for text, state in zip(said, states, strict=False):
        if text:
            at.setdefault(text, []).append(state)
    unseen = len(states) - len(said)
    if len(at) < 2 and all(said):
        alike = next(iter(at), "")
        return f"{alike}; {unseen} further states were not followed" if unseen else alike or None
    phrases = [f"in {in_positions(where)}: {text}" for text, where in at.items()]
    left = len(phrases) - most
    if left > 0:
        phrases = [*phrases[:most], f"and {left} other ways in other positions"]
    if phrases and unseen:
        phrases.append(f"{unseen} further states were not followed")
    return " | ".join(phrases) or None


def _steps(steps: Iterable[Step]) -> list[str]:
    stands: dict[tuple[str, str], list[State]] = {}
    for step in steps:
        control, between, others = _split(step)
        stands.setdefault((control, between), []).append(others)
    moves: dict[tuple[str, str], list[str]] = {}
    for (control, between), others_at in stands.items():
        for positions in _gathered(others_at):
            moves.setdefault((control, _said(positions)), []).append(between)
    return [_moving(control, betweens, rest) for (control, rest), betweens in moves.items()]


def _moving(control: str, betweens: list[str], others: str) -> str:
    tail = f" (with {others})" if others else ""
    return f"while {control} moves between {', or '.join(betweens)}{tail}"


def _split(step: Step) -> tuple[str, str, State]:
    """The control that moves, its two positions in words, and where the others stand."""
    after = step.after.as_dict()
    control, at = next((name, at) for name, at in step.before.at if after[name] != at)
    others = tuple(pair for pair in step.before.at if pair[0] != control)
    return control, f"{at} and {after[control]}", State(others)


def _gathered(states: Sequence[State]) -> list[Positions]:
    """The states as few products of positions: one if they are one, else one per other control."""
    whole = _product(states)
    if prod(len(positions) for positions in whole.values()) == len(states):
        return [whole]
    first = states[0].at[0][0]
    groups: dict[tuple[tuple[str, str], ...], list[State]] = {}
    for state in states:
        rest = tuple(pair for pair in state.at if pair[0] != first)
        groups.setdefault(rest, []).append(state)
    return [_product(group) for group in groups.values()]


def _product(states: Sequence[State]) -> Positions:
    positions: dict[str, dict[str, None]] = {}
    for state in states:
        for name, at in state.at:
            positions.setdefault(name, {})[at] = None
    return {name: tuple(at) for name, at in positions.items()}


def _said(positions: Positions) -> str:
    return " with ".join(f"{name}: {', '.join(at)}" for name, at in positions.items())
