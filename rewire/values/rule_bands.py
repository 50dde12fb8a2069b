"""Rule bands: rules that hold as written and that tolerances alone can break."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board, Branch
from rewire.values.diodes import diode_branches
from rewire.values.mishaps import rule_lost
from rewire.values.model import Caution
from rewire.values.trials import at, rule_ohms, rules_at, states_watched, watch


def tight_rules(board: Board, values: Sequence[Array]) -> Iterator[Caution]:
    """Rules with a limit that a build inside its tolerances may break, at rest.

    Args:
        board: the wiring.
        values: the board's values, all known.

    Raises:
        LimitReached: more states than are looked at.

    Source: ohms between two places never fall when any resistance rises (Rayleigh), so the worst
    of a connection is all at the most, of an isolation all at the least.
    """
    limited = [rule for rule in board.spec.rules if rule.limit is not None]
    told: set[int] = set()
    for state in states_watched(board, "tolerances") if limited else ():
        closed = [b for b in board.branches if b.closed(state)]
        columns = [_column(board, branch, values) for branch in closed]
        closed += diode_branches(board)
        columns += [np.full(1, np.inf)] * (len(closed) - len(columns))
        seen = rule_ohms(board, closed, columns)
        watched = watch(
            board, [b.ends for b in closed], columns, seen, rules_at(board, state, False)
        )
        for number, broken in watched.broken.items():
            beside = any(at(broken, sample) for sample in (1, 2))
            if beside and not at(broken, 0) and number not in told:
                told.add(number)
                lost = rule_lost(board.spec, number)
                said = f"rule {number + 1} holds as written; with tolerances at their worst {lost}"
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
