"""Which old wire becomes which new one: the assignment that leaves the least work.

An assignment problem (H. W. Kuhn, "The Hungarian method for the assignment problem", Naval
Research Logistics Quarterly 2, 1955). Links that have no place in common, directly or over
other links, are independent of each other and are solved apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.bench.assignment import assigned
from rewire.bench.moves.links import Link, Pair, cost_in, cost_out, reused
from rewire.bench.moves.parts import Turnover
from rewire.circuit import LimitReached
from rewire.circuit.nets import Joiner
from rewire.compare.roles import part_of
from rewire.records.spec import CUT

_MOST_CELLS = 20_000_000


@dataclass(frozen=True, slots=True)
class Matching:
    """What becomes of each link."""

    pairs: tuple[Pair, ...]
    out: tuple[Link, ...]
    into: tuple[Link, ...]


def match(turn: Turnover, olds: Sequence[Link], news: Sequence[Link]) -> Matching:
    """Pair old links with new ones so that lifting, landing and cutting cost least.

    Raises:
        LimitReached: thousands of wires that all hang on one place.
    """
    choices = dict(_choices(turn, olds, news))
    taken = [choices[cell] for group in _apart(choices) for cell in _solved(turn, choices, group)]
    gone = {id(pair.old) for pair in taken}
    filled = {id(pair.new) for pair in taken}
    return Matching(
        pairs=tuple(taken),
        out=tuple(link for link in olds if id(link) not in gone),
        into=tuple(link for link in news if id(link) not in filled),
    )


def saving(turn: Turnover, pair: Pair) -> int:
    """What is saved by making one link of the other instead of taking out and putting in."""
    return cost_out(turn, pair.old) + cost_in(pair.new) - pair.cost


Cell = tuple[int, int]


def _choices(
    turn: Turnover, olds: Sequence[Link], news: Sequence[Link]
) -> Iterator[tuple[Cell, Pair]]:
    """Pairs of links, by their numbers, that can serve and save something."""
    on: dict[str, set[int]] = {}
    for number, link in enumerate(news):
        for place in (end for end in link.ends if end != CUT):
            on.setdefault(part_of(place) if turn.comes(place) else place, set()).add(number)
    count = 0
    for number, link in enumerate(olds):
        for other in sorted(_near(turn, link, on)):
            count += 1
            if count > _MOST_CELLS:
                raise _too_many(count)
            pair = reused(turn, link, news[other])
            if pair and saving(turn, pair) > 0:
                yield (number, other), pair


def _near(turn: Turnover, link: Link, on: dict[str, set[int]]) -> set[int]:
    """New links with an end at a place of this one, or at the part that takes its part's place."""
    near: set[int] = set()
    for place in link.ends:
        keys = turn.heirs.get(part_of(place), ()) if turn.goes(place) else (place,)
        near.update(number for key in keys for number in on.get(key, ()))
    return near


def _apart(choices: dict[Cell, Pair]) -> list[list[Cell]]:
    """Choices in groups that share no link with each other."""
    joiner = Joiner(2 * max((max(cell) for cell in choices), default=0) + 2)
    for i, j in choices:
        joiner.join((2 * i, 2 * j + 1))
    groups: dict[int, list[Cell]] = {}
    for cell in choices:
        groups.setdefault(joiner.root(2 * cell[0]), []).append(cell)
    return list(groups.values())


def _solved(turn: Turnover, choices: dict[Cell, Pair], group: list[Cell]) -> Iterator[Cell]:
    rows = {i: n for n, i in enumerate(dict.fromkeys(i for i, _ in group))}
    columns = {j: n for n, j in enumerate(dict.fromkeys(j for _, j in group))}
    if len(rows) * len(columns) > _MOST_CELLS:
        raise _too_many(len(rows) * len(columns))
    saved = np.zeros((len(rows), len(columns)))
    for i, j in group:
        saved[rows[i], columns[j]] = saving(turn, choices[i, j])
    back = {(rows[i], columns[j]): (i, j) for i, j in group}
    yield from (back[pair] for pair in assigned(saved) if pair in back)


def _too_many(count: int) -> LimitReached:
    return LimitReached(
        f"{count} pairs of wires to choose from on places that hang together; "
        f"the limit is {_MOST_CELLS}"
    )
