"""Which of some things goes with which of some others, so that all are worth most together.

By shortest augmenting paths (D. F. Crouse, "On implementing 2D rectangular assignment algorithms",
IEEE Transactions on Aerospace and Electronic Systems 52, 2016). networkx pairs points of any
graph, and takes 20 s for 200 wires on one net where this takes a fraction of one.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Worth = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.intp]
NOBODY = -1


def assigned(worth: Worth) -> list[tuple[int, int]]:
    """Row and column of each pair, by row; as many pairs as there are rows or columns.

    Args:
        worth: of each row with each column. Whole numbers, and halves of them, stay exact.
    """
    if worth.shape[0] > worth.shape[1]:
        return sorted((row, column) for column, row in assigned(worth.T))
    costs = worth.max(initial=0.0) - worth
    row_price, column_price = np.zeros(worth.shape[0]), np.zeros(worth.shape[1])
    taken_by = np.full(worth.shape[1], NOBODY)
    for row in range(worth.shape[0]):
        _place(row, costs, row_price, column_price, taken_by)
    return sorted((int(row), column) for column, row in enumerate(taken_by) if row != NOBODY)


def _place(
    new: int, costs: Worth, row_price: Worth, column_price: Worth, taken_by: Numbers
) -> None:
    """Give one more row a column, by the cheapest chain of rows that change theirs."""
    count = costs.shape[1]
    reached_from, costs_to = np.full(count, NOBODY), np.full(count, np.inf)
    is_open = np.ones(count, dtype=np.bool_)
    row, spent = new, 0.0
    while True:
        through = spent + costs[row] - row_price[row] - column_price
        better = is_open & (through < costs_to)
        reached_from[better], costs_to[better] = row, through[better]
        spent = costs_to[is_open].min()
        nearest = np.flatnonzero(is_open & (costs_to == spent))
        column = int(nearest[np.argmin(taken_by[nearest] != NOBODY)])
        is_open[column] = False
        if taken_by[column] == NOBODY:
            break
        row = taken_by[column]
    passed = ~is_open & (taken_by != NOBODY)
    row_price[new] += spent
    row_price[taken_by[passed]] += spent - costs_to[passed]
    column_price[~is_open] -= spent - costs_to[~is_open]
    _hand_on(new, column, reached_from, taken_by)


def _hand_on(new: int, column: int, reached_from: Numbers, taken_by: Numbers) -> None:
    """Along the chain back from a free column, each row takes the next column."""
    row = NOBODY
    while row != new:
        row = int(reached_from[column])
        before = np.flatnonzero(taken_by == row)
        taken_by[column] = row
        column = int(before[0]) if len(before) else column
