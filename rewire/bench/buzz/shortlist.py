"""The fewest touches that show every single mistake: a set cover, solved by HiGHS through scipy.

Each touch shows some mistakes; every mistake that any touch shows must be shown by one that is
chosen. Mistakes that are shown whenever another is, and touches that show no more than another,
are left out first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from rewire.bench.buzz.job import Job, planned, spreads
from rewire.bench.buzz.measure import Mask, Numbers, Ohms, Touch, by_kind
from rewire.bench.buzz.mistakes import Mistake
from rewire.bench.buzz.noticing import differs

SECONDS = 10.0
"""The solver stops after so long, with what it has and the bound it has proved."""
_AWKWARD = 1e-4
"""What a touch through a delicate movement costs more than another: decides ties alone."""
_MOST_COMPARED = 4000


@dataclass(frozen=True, slots=True)
class Shown:
    """Which touches show which mistakes; mistakes that no touch tells apart are one row."""

    touches: tuple[Touch, ...]
    ohms: Ohms
    """What each touch reads on the wiring as it should be."""
    matrix: Mask
    """Of shape (kinds of mistakes, touches)."""
    kind: Numbers
    """Per mistake its row."""

    @property
    def seen(self) -> Mask:
        """Per mistake whether any touch shows it."""
        return _any(self.matrix, 1)[self.kind]


@dataclass(frozen=True, slots=True)
class Shortlist:
    """Touches that show together all that can be shown."""

    chosen: tuple[int, ...]
    """By number among the touches of ``Shown``."""
    at_least: int
    """No list can be shorter than this."""

    @property
    def is_shortest(self) -> bool:
        """Whether it is proved to be the shortest."""
        return len(self.chosen) <= self.at_least


def shown(job: Job, mistakes: Sequence[Mistake], touches: Sequence[Touch]) -> Shown:
    """Find which touches show which mistakes.

    Args:
        job: the wiring.
        mistakes: what may be wrong.
        touches: what may be touched.
    """
    ohms = planned(job, touches)
    spread = spreads(job, touches, ohms)
    row = np.zeros((len(mistakes), len(job.states)), dtype=np.intp)
    rows: list[list[Mask]] = [[] for _ in job.states]
    counts = [0] * len(job.states)
    for kinds in by_kind(job.network, [m.edit for m in mistakes], job.states, touches):
        own = kinds.touches
        state = touches[own[0]].state
        found = differs(ohms[own][:, None], kinds.ohms, spread[own][:, None])
        row[kinds.edits, state] = kinds.kind + counts[state]
        counts[state] += found.shape[1]
        rows[state].append(found.T)
    together, kind = np.unique(row, axis=0, return_inverse=True)
    matrix = np.zeros((len(together), len(touches)), dtype=np.bool_)
    for state, blocks in enumerate(rows):
        if blocks:
            own = np.array([n for n, touch in enumerate(touches) if touch.state == state])
            matrix[:, own] = np.vstack(blocks)[together[:, state]]
    return Shown(tuple(touches), ohms, matrix, kind.ravel())


def shortest(found: Shown, awkward: Mask, seconds: float = SECONDS) -> Shortlist:
    """The fewest touches that show every mistake that can be shown.

    Args:
        found: what each touch shows.
        awkward: touches better not chosen where another does as well.
        seconds: how long to try to prove it.
    """
    rows = _packed_once(found.matrix[_any(found.matrix, 1)])
    if not len(rows):
        return Shortlist((), 0)
    rows = _least(rows)
    columns = _useful(rows, awkward)
    chosen, bound = _cover(
        rows[:, columns], 1.0 + _AWKWARD * awkward[columns].astype(np.float64), seconds
    )
    return Shortlist(tuple(int(n) for n in columns[chosen]), bound)


def _any(table: Mask, axis: int) -> Mask:
    return np.asarray(table.any(axis=axis))


def _packed_once(rows: Mask) -> Mask:
    packed = np.ascontiguousarray(np.packbits(rows, axis=1))
    whole = packed.view(np.dtype((np.void, packed.shape[1]))).ravel()
    return rows[np.unique(whole, return_index=True)[1]]


def _least(rows: Mask) -> Mask:
    """Without mistakes that are shown whenever another one is."""
    rows = rows[np.argsort(rows.sum(axis=1), kind="stable")]
    if len(rows) > _MOST_COMPARED:
        return rows
    numbers = rows.astype(np.float32)
    within = numbers @ numbers.T >= numbers.sum(axis=1)[:, None]
    np.fill_diagonal(within, val=False)
    return np.asarray(rows[~_any(np.triu(within), 0)])


def _useful(rows: Mask, awkward: Mask) -> Numbers:
    """Touches that are not outdone by another one that shows all they show."""
    order = np.lexsort((awkward, -rows.sum(axis=0)))
    order = order[rows[:, order].any(axis=0)]
    packed = np.ascontiguousarray(np.packbits(rows[:, order].T, axis=1))
    whole = packed.view(np.dtype((np.void, packed.shape[1]))).ravel()
    order = order[np.sort(np.unique(whole, return_index=True)[1])]
    if len(order) > _MOST_COMPARED:
        return order
    numbers = rows[:, order].T.astype(np.float32)
    within = numbers @ numbers.T >= numbers.sum(axis=1)[:, None]
    outdone = _any(np.tril(within, -1), 1)
    return np.asarray(order[~outdone])


def _cover(rows: Mask, costs: Ohms, seconds: float) -> tuple[Numbers, int]:
    """Columns that cover all rows, and the least number that can."""
    count = rows.shape[1]
    solved = milp(
        costs,
        constraints=LinearConstraint(csr_array(rows.astype(np.float64)), lb=1.0),
        integrality=np.ones(count),
        bounds=Bounds(0.0, 1.0),
        options={"time_limit": seconds},
    )
    bound = ceil(float(solved.mip_dual_bound or 0.0) / (1.0 + _AWKWARD) - 1e-6)
    greedy = _greedy(rows)
    if solved.x is None:
        return greedy, max(bound, 1)
    chosen = np.nonzero(solved.x > 0.5)[0]
    covers = bool(rows[:, chosen].any(axis=1).all())
    return (chosen if covers and len(chosen) <= len(greedy) else greedy), max(bound, 1)


def _greedy(rows: Mask) -> Numbers:
    """At each step the touch that shows most of what is left."""
    left, chosen = np.ones(len(rows), dtype=np.bool_), []
    while left.any():
        best = int(rows[left].sum(axis=0).argmax())
        chosen.append(best)
        left &= ~rows[:, best]
    return np.array(chosen, dtype=np.intp)
