"""Words for touches, states and mistakes, shared by report, wizard and log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rewire.compare.words import listing

if TYPE_CHECKING:
    from rewire.bench.buzz.job import Pair
    from rewire.bench.buzz.mistakes import Mistake
    from rewire.bench.buzz.network import State


def telling_controls(states: Sequence[State]) -> list[str]:
    """Controls that do not stand alike in all states."""
    names = list(states[0]) if states else []
    return [name for name in names if len({state[name] for state in states}) > 1]


def state_said(state: State, names: Sequence[str] | None = None) -> str:
    """``METER at BIAS``; position alone where there is one control."""
    kept = list(state) if names is None else names
    if names is not None and len(names) == 1:
        return state[names[0]]
    return ", ".join(f"{name} at {state[name]}" for name in kept)


def places(pair: Pair) -> str:
    """``S1.A to S1.A1``."""
    return f"{pair[0]} to {pair[1]}"


def faults(mistakes: Sequence[Mistake]) -> str:
    """One mistake, or two."""
    return " and ".join(mistake.text for mistake in mistakes)


def gathered(hypotheses: Sequence[Sequence[Mistake]]) -> list[str]:
    """Hypotheses in words; a wire that may be on several wrong lugs is told once."""
    wrong: dict[str, list[str]] = {}
    said: dict[str, None] = {}
    for mistakes in hypotheses:
        first = mistakes[0]
        if len(mistakes) > 1 or first.kind != "wrong lug":
            said[faults(mistakes)] = None
            continue
        instead = first.lugs[1]
        before, _, after = first.text.partition(f" on {instead} instead")
        wrong.setdefault(f"{before} on \0 instead{after}", []).append(instead)
        said[f"{before} on \0 instead{after}"] = None
    return [text.replace("\0", listing(wrong.get(text, ()), "or")) for text in said]
