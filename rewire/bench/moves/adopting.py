"""Wires that would come out, taken to make joins of nets that the second wiring knows as nets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.bench.moves.groups import Group
from rewire.bench.moves.links import Link, is_own_lead
from rewire.bench.moves.parts import Turnover


@dataclass(frozen=True, slots=True)
class Adopted:
    """A wire that stays on one end and makes a join of a net with the other."""

    link: Link
    number: int
    """Which end moves, 0 or 1."""
    to: str
    """Where that end goes, in the second wiring."""


def adopt(
    turn: Turnover, out: Sequence[Link], nets: Sequence[Sequence[Group]]
) -> tuple[list[Adopted], list[list[Group]]]:
    """For each wire that would come out, the best join it can make with one end moved.

    Args:
        turn: what becomes of the parts.
        out: links that nothing of the second wiring asks for by name.
        nets: per net of the second wiring the groups of its places that hang together already.

    Returns:
        The wires that serve, and the nets with what they join put into one group.
    """
    left = [list(groups) for groups in nets]
    adopted = []
    for link in out:
        found = min(_offers(turn, link, left), key=lambda offer: offer[0], default=None)
        if found is not None:
            _, net, (one, other), work = found
            adopted.append(work)
            left[net][one] += left[net][other]
            del left[net][other]
    return adopted, left


def _offers(
    turn: Turnover, link: Link, nets: Sequence[Sequence[Group]]
) -> Iterator[tuple[int, int, tuple[int, int], Adopted]]:
    """Rank (0 is best), net, the two groups that would be joined, what the wire would do."""
    if link.wire is None:
        return
    for number, place in enumerate(link.ends):
        stays = link.ends[1 - number]
        if turn.goes(stays) or is_own_lead(turn, link, place):
            continue
        for net, groups in enumerate(nets):
            one = next((n for n, group in enumerate(groups) if stays in group), None)
            if one is None:
                continue
            for other, group in enumerate(groups):
                if other != one:
                    for to in group:
                        yield _rank(turn, place, to), net, (one, other), Adopted(link, number, to)


def _rank(turn: Turnover, old: str, new: str) -> int:
    """Best is the like lug of the part that takes over, then any of its lugs."""
    if not turn.is_handed(old, new):
        return 2
    return 0 if old.split(".")[-1] == new.split(".")[-1] else 1
