"""Which old wire becomes which new one, so that lifting, landing and cutting cost least.

An assignment problem (H. W. Kuhn, "The Hungarian method for the assignment problem", Naval
Research Logistics Quarterly 2, 1955), solved by shortest augmenting paths (D. F. Crouse, "On
implementing 2D rectangular assignment algorithms", IEEE Transactions on Aerospace and Electronic
Systems 52, 2016). networkx takes 20 s for 200 wires on one net where this takes a fraction of one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import networkx as nx
import numpy as np
import numpy.typing as npt

from rewire.bench.turnover import Turnover, WireOrLead
from rewire.circuit import LimitReached
from rewire.circuit.roles import part_of
from rewire.records.spec import CUT, Wire

Worth = npt.NDArray[np.float64]
Ends = tuple[tuple[str, str], tuple[str, str]]
"""Where the first end of a wire was and will be, then the second."""
Became = tuple[WireOrLead, WireOrLead, Ends, tuple[int, ...]]
"""Old link, new link, ends, and the numbers of the ends that are lifted and landed."""
_END = 10_000_000
"""Cost of one end lifted or landed: what the list is short in, before all else. So large that no
number of wires adds up to one end by what follows."""
_CUT = _END // 2
_FAR = 300
_OTHER_COLOUR, _UNSURE_COLOUR = 200, 50
_OTHER_LUG, _OTHER_ID = 20, 1
_MOST_CHOICES = 20_000_000
_NOBODY = -1


def matched(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> Iterator[Became]:
    """Old links that become new ones; those on no place in common are solved apart.

    Raises ``LimitReached`` for thousands of wires on one lug or net.
    """
    choices = {(one[0].id, one[1].id): (saves, one) for saves, one in _choices(turn, olds, news)}
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    graph.add_edges_from((("old", one), ("new", other)) for one, other in choices)
    for piece in nx.connected_components(graph):
        own = [(i, j) for i, j in choices if ("old", i) in piece]
        rows = list(dict.fromkeys(i for i, _ in own))
        columns = list(dict.fromkeys(j for _, j in own))
        _limit(len(rows) * len(columns))
        saved = np.zeros((len(rows), len(columns)))
        for i, j in own:
            saved[rows.index(i), columns.index(j)] = choices[i, j][0]
        cells = ((rows[row], columns[column]) for row, column in assigned(saved))
        yield from (choices[cell][1] for cell in cells if cell in choices)


def _choices(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> Iterator[tuple[int, Became]]:
    """Links that can serve for others, and what that saves."""
    on: dict[str, set[int]] = {}
    for number, link in enumerate(news):
        for place in (place for place in link.ends if place != CUT):
            on.setdefault(part_of(place) if turn.comes(place) else place, set()).add(number)
    looked = 0
    for link in olds:
        near: set[int] = set()
        for place in link.ends:
            keys = turn.heirs.get(part_of(place), ()) if turn.goes(place) else (place,)
            near.update(number for key in keys for number in on.get(key, ()))
        looked += len(near)
        _limit(looked)
        for number in sorted(near):
            best = max(_ways(turn, link, news[number]), key=lambda way: way[0], default=None)
            if best and best[0] > 0:
                yield best


def _limit(found: int) -> None:
    if found > _MOST_CHOICES:
        raise LimitReached(
            f"{found} pairs of wires to choose from on lugs that are connected; "
            f"the limit is {_MOST_CHOICES}"
        )


def _ways(turn: Turnover, old: WireOrLead, new: WireOrLead) -> Iterator[tuple[int, Became]]:
    """Both ways to make one link of another, and what that saves; none if it cannot serve."""
    if not _suits(old.wire, new.wire) or any(turn.is_own_lead(old, place) for place in old.ends):
        return
    whole = _END * len(turn.ends_to_lift(old)) + (_END if new.wire is None else 2 * _END + _CUT)
    unlike = 0 if old.id == new.id else _OTHER_ID
    if old.colour != new.colour:
        unlike += _OTHER_COLOUR if old.colour and new.colour else _UNSURE_COLOUR
    for one, other in (new.ends, new.ends[::-1]):
        ends = (old.ends[0], one), (old.ends[1], other)
        moved = tuple(n for n, end in enumerate(ends) if not turn.is_kept(*end))
        if _serves(turn, (old, new, ends, moved)):
            cost = sum(_end_cost(turn, *ends[n]) for n in moved)
            yield whole - cost - unlike, (old, new, ends, moved)


def _serves(turn: Turnover, way: Became) -> bool:
    """Whether an end stays on something, or both are handed on; a lead cannot leave its part."""
    old, new, ends, moved = way
    stays = any(was != CUT for n, (was, _) in enumerate(ends) if n not in moved)
    if not stays and not all(turn.is_handed(*end) for end in ends):
        return False
    metres = [link.wire.length_metres if link.wire else None for link in (old, new)]
    if moved and metres[0] is not None and metres[1] is not None and metres[0] < metres[1]:
        return False
    own = [link.ends[0] if link.wire is None else None for link in (old, new)]
    return not any(lead == at for n in moved for lead, at in zip(own, ends[n], strict=True))


def _end_cost(turn: Turnover, old: str, new: str) -> int:
    if CUT in (old, new):
        return _END + _FAR
    if not turn.is_handed(old, new):
        return 2 * _END + _FAR
    return 2 * _END + (0 if lug_of(old) == lug_of(new) else _OTHER_LUG)


def lug_of(place: str) -> str:
    """``A1`` of ``S1.A1``."""
    return place.split(".")[-1]


def _suits(old: Wire | None, new: Wire | None) -> bool:
    """Whether an old wire is good enough: what it is known to lack, it cannot be asked for."""
    if old is None or new is None:
        return True
    if (new.screened and not old.screened) or (old.gauge and new.gauge and old.gauge != new.gauge):
        return False
    has, needs = old.insulation_volts, new.insulation_volts
    return has is None or needs is None or has >= needs


def assigned(worth: Worth) -> list[tuple[int, int]]:
    """Row and column of each pair, by row, so that all are worth most; whole numbers stay exact."""
    if worth.shape[0] > worth.shape[1]:
        return sorted((row, column) for column, row in assigned(worth.T))
    costs = worth.max(initial=0.0) - worth
    prices = np.zeros(worth.shape[0]), np.zeros(worth.shape[1])
    taken_by = np.full(worth.shape[1], _NOBODY)
    for row in range(worth.shape[0]):
        _give_column(row, costs, prices, taken_by)
    return sorted((int(row), column) for column, row in enumerate(taken_by) if row != _NOBODY)


def _give_column(
    new: int, costs: Worth, prices: tuple[Worth, Worth], taken_by: npt.NDArray[np.intp]
) -> None:
    """Give one more row a column, by the cheapest chain of rows that change theirs."""
    row_price, column_price = prices
    reached_from, costs_to = np.full(len(taken_by), _NOBODY), np.full(len(taken_by), np.inf)
    is_open = np.ones(len(taken_by), dtype=np.bool_)
    row, column, spent = new, _NOBODY, 0.0
    while row != _NOBODY:
        through = spent + costs[row] - row_price[row] - column_price
        better = is_open & (through < costs_to)
        reached_from[better], costs_to[better] = row, through[better]
        spent = costs_to[is_open].min()
        nearest = np.flatnonzero(is_open & (costs_to == spent))
        column = int(nearest[np.argmin(taken_by[nearest] != _NOBODY)])
        is_open[column] = False
        row = int(taken_by[column])
    passed = ~is_open & (taken_by != _NOBODY)
    row_price[new] += spent
    row_price[taken_by[passed]] += spent - costs_to[passed]
    column_price[~is_open] -= spent - costs_to[~is_open]
    while row != new:  # along the chain back, each row takes the next column
        row = int(reached_from[column])
        before = np.flatnonzero(taken_by == row)
        taken_by[column] = row
        column = int(before[0]) if len(before) else column
