"""Which rungs go on which sheet, and in which order the rails stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rewire.draw.marked.rungs import Rung

_MOST_PASSES = 8
_BEGINNINGS = 5
Spans = Sequence[tuple[tuple[int, ...], int]]
"""The rails that a rung reaches, and how many rungs reach the same ones."""


def rails_on(rung: Rung) -> set[int]:
    """The rails a rung reaches."""
    return {end for end in rung.ends if end is not None}


def clusters(rungs: Sequence[Rung], most_rails: int) -> list[list[Rung]]:
    """Rungs in bundles with no more rails than fit side by side.

    A bundle begins with the first rung left over and takes on, again and again, the one that
    needs the fewest further rails; among equals the first. Inside, the given order is kept.
    """
    every = len({rail for rung in rungs for rail in rails_on(rung)})
    most_rails = min(most_rails, _shared(every, most_rails))
    left = list(range(len(rungs)))
    bundles: list[list[Rung]] = []
    while left:
        rails: set[int] = set()
        chosen: list[int] = []
        while left:
            best = min(left, key=lambda n: (len(rails_on(rungs[n]) - rails), n))
            if chosen and len(rails | rails_on(rungs[best])) > most_rails:
                break
            rails |= rails_on(rungs[best])
            chosen.append(best)
            left.remove(best)
        bundles.append([rungs[n] for n in sorted(chosen)])
    return bundles


def _shared(every: int, most: int) -> int:
    """Rails for each of as few sheets as will do, and one for what both must have."""
    sheets = -(-every // most)
    return every if sheets < 2 else max(-(-every // sheets) + 1, 3)


def rail_order(rungs: Sequence[Rung]) -> list[int]:
    """An order of the rails with short rungs.

    Each rail in turn is put where the sum of all spans is least, until none moves; the best
    of a few beginnings is kept.
    """
    reaches = [tuple(sorted(rails_on(rung))) for rung in rungs]
    rails = list(dict.fromkeys(rail for reach in reaches for rail in reach))
    spans = tuple(Counter(reach for reach in reaches if len(reach) > 1).items())
    step = max(1, len(rails) // _BEGINNINGS)
    starts = [rails[n:] + rails[:n] for n in range(0, len(rails), step)] or [[]]
    orders = [_settled(start, spans) for start in starts]
    return min(orders, key=lambda order: _length(order, spans))


def _settled(start: Sequence[int], spans: Spans) -> list[int]:
    order: list[int] = []
    for rail in start:
        order = _best([*order, rail], rail, spans)
    for _ in range(_MOST_PASSES):
        before = list(order)
        for rail in before:
            order = _best(order, rail, spans)
        if order == before:
            break
    return order


def _best(order: list[int], rail: int, spans: Spans) -> list[int]:
    others = [other for other in order if other != rail]
    trials = [[*others[:n], rail, *others[n:]] for n in range(len(others), -1, -1)]
    return min(trials, key=lambda trial: _length(trial, spans))


def _length(order: Sequence[int], spans: Spans) -> int:
    at = {rail: number for number, rail in enumerate(order)}
    total = 0
    for reach, count in spans:
        places = [at[rail] for rail in reach if rail in at]
        if len(places) > 1:
            total += count * (max(places) - min(places))
    return total
