"""The fewest touches that show every single mistake: a set cover, solved as maximum satisfiability.

Each touch shows some mistakes; every mistake that any touch shows must be shown by one that is
chosen. There are tens of thousands of mistakes and touches, and few mistakes decide: so the
cover is made for some of them, the rest is looked at on the chosen touches alone, and those that
stay hidden are taken in. A bound proved for some mistakes holds for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from threading import Timer
from time import monotonic

import numpy as np
import numpy.typing as npt
from pysat.examples.rc2 import RC2
from pysat.formula import WCNF

from rewire.bench.buzz.job import Job, planned, spreads
from rewire.bench.buzz.measure import Bank, Mask, Numbers, Ohms, Touch, corners
from rewire.bench.buzz.mistakes import Mistake
from rewire.bench.buzz.noticing import differs
from rewire.circuit.states import LimitReached

SECONDS = 10.0
"""After so long the search ends with what it has and the bound it has proved."""
_MOST_COMPARED = 10_000
_COMPARED_AT_ONCE = 500
_AT_ONCE = 150
"""Mistakes that are taken in at once."""
_CELLS = 4_000_000
_ROUNDS = 25
_MOST_HELD = 200_000_000
"""Resistances of mistaken networks, of eight bytes each."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What may be touched, and which single mistakes that can show."""

    touches: tuple[Touch, ...]
    ohms: Ohms
    """What each touch reads on the wiring as it should be."""
    spread: Ohms
    """Share by which each may be off."""
    kind: Numbers
    """Per mistake the number of its kind; those of one kind read alike everywhere."""
    few: tuple[int, ...]
    """Per kind one mistake of it."""
    seen: Mask
    """Per mistake whether any touch shows it."""


@dataclass(frozen=True, slots=True)
class Shortlist:
    """Touches that show together all that can be shown."""

    chosen: tuple[int, ...]
    """By number among the touches."""
    at_least: int
    """No list can be shorter than this."""

    @property
    def is_shortest(self) -> bool:
        """Whether it is proved to be the shortest."""
        return len(self.chosen) <= self.at_least


def cover(
    job: Job,
    mistakes: Sequence[Mistake],
    touches: Sequence[Touch],
    awkward: Mask,
    seconds: float = SECONDS,
) -> tuple[Shown, Shortlist]:
    """Find the fewest touches that show every mistake that can be shown.

    Args:
        job: the wiring.
        mistakes: what may be wrong.
        touches: what may be touched.
        awkward: touches better not chosen where another does as well.
        seconds: how long to try to shorten the list.

    Raises:
        LimitReached: more resistances than can be held.
    """
    ohms = planned(job, touches)
    kind = Bank(job.network, [m.edit for m in mistakes], job.states).kinds()
    few = _first_of_each(kind)
    _check_size(job, len(few))
    bank = Bank(job.network, [mistakes[n].edit for n in few], job.states)
    search = _Search(bank, touches, ohms, spreads(job, touches, ohms), awkward, len(few))
    search.take(_to_begin_with([mistakes[n] for n in few]))
    search.grow()
    best, least = search.shortened(monotonic() + seconds)
    seen = np.asarray(~search.dead[kind])
    found = Shown(tuple(touches), ohms, search.spread, kind, few, seen)
    return found, Shortlist(tuple(sorted(best)), least)


def _check_size(job: Job, kinds: int) -> None:
    numbers = kinds * len(job.states) * corners(job.network) ** 2 // 2
    if numbers > _MOST_HELD:
        raise LimitReached(
            f"buzzing {job.wiring.name}: {kinds:,} kinds of mistakes in {len(job.states):,} states "
            f"are up to {numbers:,} resistances to be held, more than {_MOST_HELD:,}; "
            "split the spec"
        )


def _first_of_each(kind: Numbers) -> tuple[int, ...]:
    return tuple(int(n) for n in np.unique(kind, return_index=True)[1])


def _to_begin_with(mistakes: Sequence[Mistake]) -> list[int]:
    """What is usual: wires left out, bridges, parts; some of the rest."""
    usual = [n for n, m in enumerate(mistakes) if m.kind not in ("wrong lug", "exchanged")]
    return usual[: 2 * _AT_ONCE] or list(range(min(len(mistakes), _AT_ONCE)))


class _Search:
    """Mistakes taken in so far, and touches that show them."""

    def __init__(
        self,
        bank: Bank,
        touches: Sequence[Touch],
        ohms: Ohms,
        spread: Ohms,
        awkward: Mask,
        count: int,
    ) -> None:
        self._bank, self._touches, self._ohms = bank, touches, ohms
        self.spread, self._awkward = spread, awkward
        self.dead: Mask = np.zeros(count, dtype=np.bool_)
        """Per mistake whether no touch shows it."""
        self.rows: Mask = np.zeros((0, len(touches)), dtype=np.bool_)
        self.chosen: list[int] = []

    def take(self, mistakes: Sequence[int]) -> None:
        """Take mistakes in; those that no touch shows are set aside."""
        for own in portions(mistakes, len(self._touches)):
            found = self._bank.read(self._touches, own)
            rows = differs(self._ohms[:, None], found, self.spread[:, None]).T
            is_dead = ~_any(rows, 1)
            self.dead[np.array(own)[is_dead]] = True
            self.rows = np.vstack([self.rows, rows[~is_dead]])

    def hidden(self, chosen: Sequence[int], among: Sequence[int] | None = None) -> list[int]:
        """Mistakes, not set aside, that the chosen touches do not show."""
        left = np.nonzero(~self.dead)[0] if among is None else np.array(among, dtype=np.intp)
        at = np.array(chosen, dtype=np.intp)
        for touch in _portions(at):
            if not len(left):
                break
            found = self._bank.read([self._touches[n] for n in touch], left.tolist())
            plan, spread = self._ohms[touch][:, None], self.spread[touch][:, None]
            left = left[~_any(differs(plan, found, spread), 0)]
        return [int(n) for n in left]

    def grow(self) -> None:
        """Take in what stays hidden and choose touches for it, until nothing does."""
        left: list[int] | None = None
        while True:
            self.chosen += _greedy(self.rows, self.chosen)
            left = self.hidden(self.chosen, left)
            if not left:
                return
            self.take(left[:: max(1, len(left) // _AT_ONCE)])
            left = [n for n in left if not self.dead[n]]

    def shortened(self, until: float) -> tuple[list[int], int]:
        """A list as short as can be found until then, and a bound."""
        best, least = self.chosen, 1 if len(self.rows) else 0
        for _ in range(_ROUNDS):
            seconds = until - monotonic()
            if seconds <= 0.0 or len(best) <= least:
                break
            chosen, bound = self._solved(seconds)
            least = max(least, bound)
            left = self.hidden(chosen)
            if not left:
                best = min(best, chosen, key=len)
                break
            patched = self._patched(chosen, left)
            best = min(best, patched, key=len)
        return best, min(least, len(best))

    def _patched(self, chosen: list[int], left: list[int]) -> list[int]:
        """The chosen touches and more of them for what they leave hidden."""
        patched, taken = list(chosen), False
        while left:
            before = len(self.rows)
            self.take(left[:: max(1, len(left) // _AT_ONCE)])
            patched += _greedy(self.rows[before:], patched)
            left = self.hidden(patched, [n for n in left if not self.dead[n]])
            taken = True
        return patched if taken else chosen

    def _solved(self, seconds: float) -> tuple[list[int], int]:
        rows, columns = _reduced(self.rows, self._awkward)
        chosen, bound = fewest(rows, self._awkward[columns], seconds)
        return [int(n) for n in columns[chosen]], bound


def portions(mistakes: Sequence[int], touches: int) -> Iterator[list[int]]:
    """Mistakes, so many at once that what the touches read on them fits a table."""
    each = max(1, _CELLS // max(1, touches))
    for start in range(0, len(mistakes), each):
        yield list(mistakes[start : start + each])


def _portions(chosen: Numbers) -> Iterator[Numbers]:
    for start in range(0, len(chosen), 8):
        yield chosen[start : start + 8]


def _any(table: Mask, axis: int) -> Mask:
    return np.asarray(table.any(axis=axis))


def _reduced(rows: Mask, awkward: Mask) -> tuple[Mask, Numbers]:
    """The same choice with fewer mistakes and touches, and which touches are left.

    A mistake that is shown whenever another one is goes, and so does a touch that shows nothing
    but what another one shows.
    """
    columns = np.arange(rows.shape[1])
    before = None
    while rows.shape != before:
        before = rows.shape
        rows = rows[_largest(~rows, np.zeros(len(rows)))]
        useful = _largest(rows.T, awkward[columns])
        rows, columns = rows[:, useful], columns[useful]
    return rows, columns


def _largest(sets: Mask, awkward: Mask | Ohms) -> Numbers:
    """Numbers of the sets that lie within no other; of equal ones, the first not awkward."""
    order = np.lexsort((awkward, -sets.sum(axis=1)))
    order = order[np.sort(np.unique(_packed(sets[order]), return_index=True)[1])]
    if len(order) > _MOST_COMPARED:
        return order
    kept = order[:0]
    for start in range(0, len(order), _COMPARED_AT_ONCE):
        block = order[start : start + _COMPARED_AT_ONCE]
        numbers = sets[np.concatenate([kept, block])].astype(np.float32)
        own = numbers[len(kept) :]
        within = own @ numbers.T >= own.sum(axis=1)[:, None]
        kept = np.concatenate([kept, block[~_any(np.tril(within, len(kept) - 1), 1)]])
    return kept


def _packed(rows: Mask) -> npt.NDArray[np.void]:
    packed = np.ascontiguousarray(np.packbits(rows, axis=1))
    return packed.view(np.dtype((np.void, packed.shape[1]))).ravel()


def fewest(rows: Mask, awkward: Mask, seconds: float = SECONDS) -> tuple[Numbers, int]:
    """The fewest columns that cover all rows, of those the least awkward; and a lower bound.

    Args:
        rows: what covers what.
        awkward: columns to be chosen only where that saves another column.
        seconds: when they are over, a cover that may be longer, and the bound proved until then.
    """
    one = len(awkward) + 1
    costs = one + awkward.astype(np.intp)
    formula = WCNF()
    formula.extend([(np.flatnonzero(row) + 1).tolist() for row in rows])
    formula.extend([[-n - 1] for n in range(len(awkward))], weights=costs.tolist())
    with RC2(formula, adapt=True, minz=True) as solver:
        timer = Timer(seconds, solver.interrupt)
        timer.start()
        try:
            model = solver.compute(expect_interrupt=True)
        finally:
            timer.cancel()
            timer.join()
        bound = -(-int(solver.cost) // (one + 1))
    if model is None:
        return np.array(_greedy(rows, []), dtype=np.intp), bound
    return np.array([n - 1 for n in model if 0 < n < one], dtype=np.intp), bound


def _greedy(rows: Mask, chosen: Sequence[int]) -> list[int]:
    """Touches to be added to those chosen: at each step the one that shows most of what is left."""
    left = ~_any(rows[:, list(chosen)], 1)
    rows, added = rows[left], []
    while len(rows):
        best = int(rows.sum(axis=0).argmax())
        added.append(best)
        rows = rows[~rows[:, best]]
    return added
