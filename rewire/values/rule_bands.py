"""Rules at rest: those that are broken, and those that tolerances alone can break."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board, Branch
from rewire.values.diodes import diode_branches
from rewire.values.mishaps import rule_lost
from rewire.values.model import Caution
from rewire.values.trials import at, rule_ohms, rules_at, states_watched, watch


def rules_at_rest(board: Board, values: Sequence[Array]) -> Iterator[Caution]:
    """Rules that are broken at rest, and those that a build inside its tolerances may break.

    Args:
        board: the wiring.
        values: the board's values, all known.

    Raises:
        LimitReached: more states than are looked at.

    Source: ohms between two places never fall when any resistance rises (Rayleigh), so the worst
    of a connection is all at the most, of an isolation all at the least.
    """
    broken: set[int] = set()
    tight: set[int] = set()
    for state in states_watched(board, "rules") if board.spec.rules else ():
        closed = [b for b in board.branches if b.closed(state)]
        columns = [_column(board, branch, values) for branch in closed]
        closed += diode_branches(board)
        columns += [np.full(1, np.inf)] * (len(closed) - len(columns))
        seen = rule_ohms(board, closed, columns)
        watched = watch(
            board, [b.ends for b in closed], columns, seen, rules_at(board, state, False)
        )
        for number, lost in watched.broken.items():
            if at(lost, 0):
                broken.add(number)
            elif any(at(lost, sample) for sample in (1, 2)):
                tight.add(number)
    for number in sorted(broken):
        said = f"rule {number + 1} is broken: {rule_lost(board.spec, number)}"
        yield Caution("rule", said, bad=True)
    for number in sorted(tight - broken):
        lost_then = rule_lost(board.spec, number)
        said = f"rule {number + 1} holds as written; with tolerances at their worst {lost_then}"
        yield Caution("rule-tolerance", said)


def _column(board: Board, branch: Branch, values: Sequence[Array]) -> Array:
    """Ohms of a branch: nominal, all of its values at the least, at the most."""
    if branch.control is not None:
        return np.asarray(branch.ohms(values))
    nominal = float(values[branch.value][0])
    value = board.values[branch.value]
    whole = np.array([nominal, value.low(nominal), value.high(nominal)])
    share = 1.0 if branch.share is None else float(values[branch.share][0])
    return whole * (1.0 - share if branch.upper else share)
