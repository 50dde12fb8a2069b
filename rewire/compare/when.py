"""States and steps in words, as short as they can be said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod

from rewire.compare.findings import Finding, State, Step

CUT = "more such cases"
"""The end of a list that was cut short."""

Positions = dict[str, tuple[str, ...]]


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


def _states(states: Sequence[State]) -> list[str]:
    if not states:
        return []
    if any(not state.at for state in states):
        return ["in every position"]
    return [f"in {_said(positions)}" for positions in _gathered(states)]


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
