"""What to touch on a finished wiring: the table, the fewest touches, and what no touch shows.

Each touch shows some mistakes; every mistake that any touch shows must be shown by one of the
list: a set cover, solved as maximum satisfiability. There are tens of thousands of mistakes and
touches, and few mistakes decide: so the cover is made for some of them, the rest is looked at on
the chosen touches alone, and those that stay hidden are taken in. A bound proved for some
mistakes holds for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import islice
from threading import Timer
from time import monotonic

import numpy as np
from pysat.examples.rc2 import RC2
from pysat.formula import WCNF

from rewire.bench.mistakes import Mistake, single_mistakes
from rewire.bench.ohmmeter import Bank, Edit, Mask, Numbers, Ohms, State, Touch, differs
from rewire.bench.probes import (
    Job,
    Pair,
    Probe,
    job_of,
    overloaded_movements,
    pairs_to_buzz,
    planned,
    probes,
    spreads,
    states_to_buzz,
)
from rewire.circuit.circuit import Case, circuit_of
from rewire.circuit.states import LimitReached
from rewire.records.spec import Spec, Wiring

SECONDS = 10.0
"""After so long the search ends with what it has and the bound it has proved."""
MOST_CELLS = 3_000_000_000
"""Touches times single mistakes that are looked at."""
_MOST_SHORTENED = 150
"""Readings in a table for whose shortest list is searched where nobody asked for it."""
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
    kind: Numbers
    """Per mistake the number of its kind; those of one kind read alike everywhere."""
    few: tuple[int, ...]
    bank: Bank
    """The wiring with one mistake of each kind."""
    seen: Mask
    """Per mistake whether any touch shows it."""


@dataclass(frozen=True, slots=True)
class Shortlist:
    """Touches that show together all that can be shown."""

    chosen: tuple[int, ...]
    """By number among the touches."""
    at_least: int

    @property
    def is_shortest(self) -> bool:
        """Whether it is proved to be the shortest."""
        return len(self.chosen) <= self.at_least


@dataclass(frozen=True, slots=True)
class Hidden:
    """A mistake that no touch shows while every switch stands in a position.

    ``between`` shows it with the knob held between two positions; None if there is no such touch.
    """

    mistake: Mistake
    between: Pair | None


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything to be touched on one wiring, and what it can show."""

    job: Job
    mistakes: tuple[Mistake, ...]
    shown: Shown
    shortlist: Shortlist
    short: tuple[Probe, ...]
    """The touches of the shortest list, state by state."""
    table: tuple[Probe, ...]
    """What a person would buzz, pair by pair, in every state."""
    hidden: tuple[Hidden, ...]
    harmless: int
    """Mistakes that change no connection at all, such as another lug of the same net."""
    _known: dict[Touch, Probe] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def wiring(self) -> Wiring:
        """The wiring it is for."""
        return self.job.wiring

    @property
    def detectable(self) -> int:
        """Single mistakes that some touch shows."""
        return int(self.shown.seen.sum())

    def look_at(self, touches: Sequence[Touch]) -> None:
        """Work out what some touches must find: many at once take hardly longer than one."""
        new = [touch for touch in dict.fromkeys(touches) if touch not in self._known]
        self._known.update(zip(new, probes(self.job, new), strict=True))

    def probe(self, touch: Touch) -> Probe:
        """What one touch must find."""
        if touch not in self._known:
            self.look_at([touch])
        return self._known[touch]

    def everything(self) -> list[Probe]:
        """Every pair of places in every state."""
        return probes(self.job, self.shown.touches)


def plan_of(
    spec: Spec, wiring: Wiring, also: Sequence[State] = (), seconds: float = SECONDS
) -> Plan:
    """What to touch on a wiring; ``also`` in states in which something was touched already.

    The search ends after so many seconds. Raises ``LimitReached`` for too many lugs or states.
    """
    states: list[State] = [*states_to_buzz(spec, wiring)]
    job = job_of(spec, wiring, [*states, *(state for state in also if state not in states)])
    touches = job.all_touches()
    most = MOST_CELLS // max(1, len(touches))
    mistakes = tuple(islice(single_mistakes(spec, wiring, job.network), most + 1))
    if len(mistakes) > most:
        raise LimitReached(
            f"buzzing {wiring.name}: {len(touches):,} readings and more than {most:,} single "
            f"mistakes are more than {MOST_CELLS:,} pairs of these; split the spec"
        )
    awkward = np.array([bool(one) for one in overloaded_movements(job, touches)], dtype=np.bool_)
    found, short = cover(job, mistakes, touches, awkward, seconds)
    chosen = sorted(short.chosen, key=lambda n: (touches[n].state, n))
    hidden, harmless = _hidden(job, [mistakes[n] for n in np.flatnonzero(~found.seen)])
    pairs = pairs_to_buzz(spec, wiring)
    return Plan(
        job=job, mistakes=mistakes, shown=found, shortlist=replace(short, chosen=tuple(chosen)),
        short=tuple(probes(job, [touches[n] for n in chosen])),
        table=tuple(probes(job, [job.touch(s, pair) for s in job.states for pair in pairs])),
        hidden=tuple(hidden), harmless=harmless,
    )  # fmt: skip


def asked_for(spec: Spec, wiring: Wiring, table: Sequence[Probe]) -> tuple[Probe, ...]:
    """The readings of a table that a person is asked for: few that show as much, else all."""
    few = _fewest(Case(spec, wiring)) if 1 < len(table) <= _MOST_SHORTENED else ()
    return few if few and 2 * len(few) <= len(table) else tuple(table)


@lru_cache(maxsize=8)
def _fewest(case: Case) -> tuple[Probe, ...]:
    try:
        return plan_of(case.spec, case.wiring).short
    except LimitReached:
        return ()  # a shorter way to the same, no more: the whole table is asked for then


def _hidden(job: Job, unseen: Sequence[Mistake]) -> tuple[list[Hidden], int]:
    """Mistakes that show with all contacts open, each with a pair that beeps no more."""
    joints = (replace(one, positions=0) if one.switch else one for one in job.network.joints)
    network = replace(job.network, joints=tuple(joints))
    touches = [Touch(0, pair) for pair in job.pairs()]
    left = [mistake for mistake in unseen if not mistake.kind.startswith("contact")]
    bank = Bank(network, [*(mistake.edit for mistake in left), Edit()], job.states[:1])
    *kinds, right = bank.kinds().tolist()
    few = [kinds.index(kind) for kind in dict.fromkeys(kinds) if kind != right]
    ohms = bank.read(touches, [len(left)])
    switches = circuit_of(job.spec, job.wiring).switches
    opens = all(section.timing == "non-shorting" for s in switches for section in s.sections)
    pairs: dict[int, Pair | None] = {}
    for own in portions(few, len(touches)):
        apart = differs(ohms, bank.read(touches, own), np.zeros(1))
        for column, number in enumerate(own):
            if apart[:, column].any():
                closed = np.flatnonzero(apart[:, column] & (ohms[:, 0] <= 0.0) & opens)
                ends = [network.names[end] for at in closed[:1] for end in touches[at].ends]
                pairs[kinds[number]] = (ends[0], ends[1]) if ends else None
    hidden = [Hidden(m, pairs[k]) for m, k in zip(left, kinds, strict=True) if k in pairs]
    return hidden, len(unseen) - len(hidden)


def by_pair(found: Sequence[Probe]) -> Mapping[Pair, list[Probe]]:
    """Probes of each pair, in the order of the states."""
    pairs: dict[Pair, list[Probe]] = {}
    for probe in found:
        pairs.setdefault(probe.between, []).append(probe)
    return pairs


def cover(
    job: Job, mistakes: Sequence[Mistake], touches: Sequence[Touch], awkward: Mask,
    seconds: float = SECONDS,
) -> tuple[Shown, Shortlist]:  # fmt: skip
    """The fewest touches that show every mistake that can be shown, best without awkward ones.

    Raises ``LimitReached`` for more resistances than can be held.
    """
    ohms = planned(job, touches)
    kind = Bank(job.network, [m.edit for m in mistakes], job.states).kinds()
    few = tuple(int(n) for n in np.unique(kind, return_index=True)[1])
    numbers = len(few) * len(job.states) * job.network.corners**2 // 2
    if numbers > _MOST_HELD:
        raise LimitReached(
            f"buzzing {job.wiring.name}: {len(few):,} kinds of mistakes in {len(job.states):,} "
            f"states are up to {numbers:,} resistances to be held, more than {_MOST_HELD:,}; "
            "split the spec"
        )
    bank = Bank(job.network, [mistakes[n].edit for n in few], job.states)
    none = np.zeros(len(mistakes), dtype=np.bool_)
    found = Shown(tuple(touches), ohms, spreads(job, touches, ohms), kind, few, bank, none)
    search = _Search(found, awkward)
    # first what is usual: wires left out, bridges, parts
    usual = [n for n, of in enumerate(few) if mistakes[of].kind not in ("wrong lug", "exchanged")]
    search.take(usual[: 2 * _AT_ONCE] or list(range(min(len(few), _AT_ONCE))))
    short = search.shortest(monotonic() + seconds)
    return replace(found, seen=np.asarray(~search.dead[kind])), short


class _Search:
    """Mistakes taken in so far, and which touches show them."""

    def __init__(self, shown: Shown, awkward: Mask) -> None:
        self._shown, self._awkward = shown, awkward
        self.dead: Mask = np.zeros(len(shown.few), dtype=np.bool_)
        """Per mistake whether no touch shows it."""
        self.rows: Mask = np.zeros((0, len(shown.touches)), dtype=np.bool_)

    def take(self, mistakes: Sequence[int]) -> None:
        """Take mistakes in; those that no touch shows are set aside."""
        shown = self._shown
        for own in portions(mistakes, len(shown.touches)):
            found = shown.bank.read(shown.touches, own)
            rows = differs(shown.ohms[:, None], found, shown.spread[:, None]).T
            is_dead = ~rows.any(axis=1)
            self.dead[np.array(own)[is_dead]] = True
            self.rows = np.vstack([self.rows, rows[~is_dead]])

    def _hidden(self, chosen: Sequence[int], among: Sequence[int] | None) -> list[int]:
        """Mistakes, not set aside, that the chosen touches do not show."""
        shown, at = self._shown, np.array(chosen, dtype=np.intp)
        left = np.nonzero(~self.dead)[0] if among is None else np.array(among, dtype=np.intp)
        for some in (at[start : start + 8] for start in range(0, len(at), 8)):
            if not len(left):
                break
            found = shown.bank.read([shown.touches[n] for n in some], left.tolist())
            apart = differs(shown.ohms[some][:, None], found, shown.spread[some][:, None])
            left = left[~apart.any(axis=0)]
        return [int(n) for n in left]

    def completed(self, chosen: Sequence[int]) -> list[int]:
        """The chosen touches and more of them for what they hide, which is taken in."""
        complete, left = [*chosen, *_greedy(self.rows, chosen)], None
        while left := self._hidden(complete, left):
            self.take(left[:: max(1, len(left) // _AT_ONCE)])
            complete += _greedy(self.rows, complete)
            left = [n for n in left if not self.dead[n]]
        return complete

    def shortest(self, until: float) -> Shortlist:
        """A list as short as can be found until then, and a bound."""
        best, least = self.completed([]), 1 if len(self.rows) else 0
        for _ in range(_ROUNDS):
            seconds = until - monotonic()
            if seconds <= 0.0 or len(best) <= least:
                break
            rows, columns = _reduced(self.rows, self._awkward)
            chosen, bound = fewest(rows, self._awkward[columns], seconds)
            complete = self.completed(columns[chosen].tolist())
            best, least = min(best, complete, key=len), max(least, bound)
            if len(complete) == len(chosen):
                break
        return Shortlist(tuple(sorted(best)), min(least, len(best)))


def portions(mistakes: Sequence[int], touches: int) -> Iterator[list[int]]:
    """Mistakes, so many at once that what the touches read on them fits a table."""
    each = max(1, _CELLS // max(1, touches))
    for start in range(0, len(mistakes), each):
        yield list(mistakes[start : start + each])


def _reduced(rows: Mask, awkward: Mask) -> tuple[Mask, Numbers]:
    """The choice without mistakes shown whenever another is, and touches that show no more."""
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
    packed = np.ascontiguousarray(np.packbits(sets[order], axis=1))
    alike = packed.view(np.dtype((np.void, packed.shape[1]))).ravel()
    order = order[np.sort(np.unique(alike, return_index=True)[1])]
    if len(order) > _MOST_COMPARED:
        return order
    kept = order[:0]
    for start in range(0, len(order), _COMPARED_AT_ONCE):
        block = order[start : start + _COMPARED_AT_ONCE]
        numbers = sets[np.concatenate([kept, block])].astype(np.float32)
        own = numbers[len(kept) :]
        within = own @ numbers.T >= own.sum(axis=1)[:, None]
        kept = np.concatenate([kept, block[~np.tril(within, len(kept) - 1).any(axis=1)]])
    return kept


def fewest(rows: Mask, awkward: Mask, seconds: float = SECONDS) -> tuple[Numbers, int]:
    """The fewest columns that cover all rows, of those the least awkward; and a lower bound.

    After so many seconds a cover that may be longer, and the bound proved until then.
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
    left = ~rows[:, list(chosen)].any(axis=1)
    rows, added = rows[left], []
    while len(rows):
        best = int(rows.sum(axis=0).argmax())
        added.append(best)
        rows = rows[~rows[:, best]]
    return added
