"""One wrong reading in a buzz-out that would be a plain form without it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from rewire.bench.identify.poles import form_of, plain_poles
from rewire.circuit.circuit import gather
from rewire.reading.buzzout import Buzzout
from rewire.records.switches import Groups, linked, sections_of_table

Pair = tuple[str, str]
_FEW = 4
"""Corrections that are worth naming; where more would do, none is likely."""


@dataclass(frozen=True, slots=True)
class Misread:
    """A reading that may be wrong, and the form that the switch has if it is."""

    form: str
    detent: str
    closed: Pair | None
    """What read closed and should not have; None if that is not it."""
    missing: Pair | None
    """What should have read closed and did not; None if that is not it."""


def misreadings(buzzout: Buzzout) -> list[Misread]:
    """Single readings, one too many or one too few, but for which all arms move alike.

    Where there is none: one that was taken on the wrong lug, so that one is too many and
    another too few in the same detent.
    """
    desk = _Desk(buzzout)
    found = [*desk.one_too_many(), *desk.one_too_few()] or list(desk.on_the_wrong_lug())
    return found if len(found) <= _FEW else []


class _Desk:
    """A buzz-out, and what it would be with other groups closed in one detent."""

    def __init__(self, buzzout: Buzzout) -> None:
        self._buzzout, self._lugs = buzzout, buzzout.lugs
        self._numbers = range(len(buzzout.detents))

    def one_too_many(self) -> Iterator[Misread]:
        for number in self._numbers:
            for pair, left in self._without_one(number):
                yield from self._plain(number, left, pair, None)

    def one_too_few(self) -> Iterator[Misread]:
        for number in self._numbers:
            closed = self._buzzout.closed[number]
            for pair in self._free_pairs(number, closed):
                yield from self._plain(number, (*closed, pair), None, pair)

    def on_the_wrong_lug(self) -> Iterator[Misread]:
        for number in self._numbers:
            for pair, left in self._without_one(number):
                for other in self._free_pairs(number, left):
                    if len({*pair, *other}) == 3:
                        yield from self._plain(number, (*left, other), pair, other)

    def _plain(
        self, number: int, groups: Groups, closed: Pair | None, missing: Pair | None
    ) -> Iterator[Misread]:
        """It, if the switch is a plain form with these groups closed in that detent."""
        every = [*self._buzzout.closed]
        every[number] = groups
        if not _may_be_plain(every):
            return
        sections = sections_of_table(linked(self._lugs, every), every, {})
        poles = plain_poles(sections)
        if poles:
            detent = self._buzzout.detents[number]
            yield Misread(form_of(poles), detent, closed, missing)

    def _without_one(self, number: int) -> Iterator[tuple[Pair, Groups]]:
        """Each pair that was touched, and what is closed without it; out of a group, each lug."""
        touched = self._buzzout.touched[number]
        for own, group in enumerate(touched):
            rest = (*touched[:own], *touched[own + 1 :])
            if len(group) == 2:
                yield (group[0], group[1]), self._joined(rest)
                continue
            for lug in group:
                left = tuple(one for one in group if one != lug)
                yield (left[0], lug), self._joined((*rest, left))

    def _joined(self, groups: Groups) -> Groups:
        nets = gather(self._lugs, groups).members
        order = {lug: number for number, lug in enumerate(self._lugs)}
        return tuple(tuple(sorted(net, key=order.__getitem__)) for net in nets if len(net) > 1)

    def _free_pairs(self, number: int, closed: Groups) -> Iterator[Pair]:
        """Pairs that may be missing: an arm, closed wherever it may, and a throw it may have."""
        others = [groups for n, groups in enumerate(self._buzzout.closed) if n != number]
        used = [{lug for group in groups for lug in group} for groups in others if groups]
        arms = set(self._lugs).intersection(*used)
        busy = {lug for group in closed for lug in group}
        free = [lug for lug in self._lugs if lug not in busy]
        idle = set(self._lugs).difference(*used)
        mates = {frozenset(group) for groups in others for group in groups}
        for one, other in combinations(free, 2):
            if {one, other} & arms and ({one, other} & idle or {one, other} in mates):
                yield one, other


def _may_be_plain(every: Sequence[Groups]) -> bool:
    """Whether in each detent as many pairs are closed as in any other, or nothing is."""
    counts = {len(groups) for groups in every if groups}
    return len(counts) == 1 and all(len(group) == 2 for groups in every for group in groups)
