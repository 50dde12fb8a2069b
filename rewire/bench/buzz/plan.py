"""What to touch on a finished wiring: the table, the shortest list, and what no touch shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np

from rewire.bench.buzz.job import Job, Pair, Probe, job_of, overloads, planned, probes, spreads
from rewire.bench.buzz.measure import Bank, Mask, Touch, readings
from rewire.bench.buzz.mistakes import Edit, Mistake, single_mistakes
from rewire.bench.buzz.network import Network, State
from rewire.bench.buzz.noticing import differs
from rewire.bench.buzz.rank import Found, Hypothesis, read_by
from rewire.bench.buzz.shortlist import SECONDS, Shortlist, Shown, cover, portions
from rewire.bench.buzz.suspects import Diagnosis, diagnose
from rewire.bench.continuity import pairs_to_buzz, states_to_buzz
from rewire.circuit.states import LimitReached
from rewire.records.spec import Spec, Switch, Wiring

MOST_CELLS = 3_000_000_000
"""Touches times single mistakes that are looked at."""


@dataclass(frozen=True, slots=True)
class Hidden:
    """A mistake that no touch shows while every switch stands in a position.

    ``between`` shows it while the knob is held between two positions of a switch that breaks
    before it makes; None if there is no such touch.
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
    """What touches must find, worked out so far."""

    @property
    def wiring(self) -> Wiring:
        """The wiring it is for."""
        return self.job.wiring

    @property
    def detectable(self) -> int:
        """Single mistakes that some touch shows."""
        return int(self.shown.seen.sum())

    def diagnosed(
        self,
        found: Sequence[Found],
        seconds: float,
        tell: Callable[[int, int], None] | None = None,
    ) -> Diagnosis:
        """What some readings say, see ``diagnose``."""
        kinds = [int(kind) for kind in self.shown.kind]
        self._work_out(list(dict.fromkeys(one.touch for one in found)))
        return diagnose(
            self.job, found, self.mistakes, self.shown.touches, kinds, seconds=seconds, tell=tell
        )

    def not_excluded(self, found: Sequence[Found]) -> int:
        """Single mistakes that could be shown, but not by the touches that were made."""
        job, touches = self.job, [one.touch for one in found]
        ohms = planned(job, touches)
        edits = [self.mistakes[n].edit for n in self.shown.few]
        there = readings(job.network, edits, job.states, touches)
        told = differs(ohms[:, None], there, spreads(job, touches, ohms)[:, None]).any(axis=0)
        left = ~np.asarray(told)[self.shown.kind]
        return int((left & self.shown.seen).sum())

    def probe(self, touch: Touch) -> Probe:
        """What one touch must find."""
        if touch not in self._known:
            self._work_out([touch])
        return self._known[touch]

    def _work_out(self, touches: Sequence[Touch]) -> None:
        """Many at once take hardly longer than one."""
        self._known.update(zip(touches, probes(self.job, touches), strict=True))

    def answers(self, touch: Touch, suspects: Sequence[Sequence[Mistake]]) -> list[float]:
        """Ohms that one touch reads for each of some suspects."""
        hypotheses = [Hypothesis(tuple(mistakes), 0.0) for mistakes in suspects]
        return [float(ohms) for ohms in read_by(self.job, hypotheses, [touch])[0]]

    def everything(self) -> list[Probe]:
        """Every pair of places in every state."""
        return probes(self.job, self.shown.touches)


def plan_of(
    spec: Spec, wiring: Wiring, also: Sequence[State] = (), seconds: float = SECONDS
) -> Plan:
    """Work out what to touch.

    Args:
        spec: the checked model.
        wiring: one of its wirings.
        also: states in which something was touched already.
        seconds: limit of the search for the shortest list.

    Raises:
        LimitReached: too many places, states or both.
        SpecError: a ``choose`` that is no series of values.
    """
    states: list[State] = [*states_to_buzz(spec, wiring)]
    states += [state for state in also if state not in states]
    job = job_of(spec, wiring, states)
    touches = job.all_touches()
    mistakes = _so_many(job, single_mistakes(spec, wiring, job.network), len(touches))
    beyond = overloads(job, touches)
    awkward = np.array([bool(one) for one in beyond], dtype=np.bool_)
    found, short = cover(job, mistakes, touches, awkward, seconds)
    chosen = sorted(short.chosen, key=lambda n: (touches[n].state, n))
    hidden, harmless = _hidden(job, mistakes, ~found.seen)
    pairs = pairs_to_buzz(spec, wiring)
    return Plan(
        job=job, mistakes=mistakes, shown=found, shortlist=replace(short, chosen=tuple(chosen)),
        short=tuple(probes(job, [touches[n] for n in chosen])),
        table=tuple(probes(job, [job.touch(s, pair) for s in job.states for pair in pairs])),
        hidden=tuple(hidden), harmless=harmless,
    )  # fmt: skip


def _so_many(job: Job, mistakes: Iterator[Mistake], touches: int) -> tuple[Mistake, ...]:
    """All mistakes, if they are not too many for so many touches."""
    most = MOST_CELLS // max(1, touches)
    found = tuple(islice(mistakes, most + 1))
    if len(found) > most:
        raise LimitReached(
            f"buzzing {job.wiring.name}: {touches:,} touches and more than {most:,} single "
            f"mistakes are more than {MOST_CELLS:,} readings; split the spec"
        )
    return found


def _hidden(job: Job, mistakes: Sequence[Mistake], unseen: Mask) -> tuple[list[Hidden], int]:
    """Of the mistakes that no touch shows, those that show with all contacts open; the others."""
    unseen_ones = [mistakes[n] for n in _numbers(unseen)]
    left = [one for one in unseen_ones if not one.edit.contacts]
    shown = _shown_with_all_open(job, [mistake.edit for mistake in left])
    held = _can_be_held(job)
    hidden = [Hidden(left[n], pair if held else None) for n, pair in shown.items()]
    return hidden, len(unseen_ones) - len(hidden)


def _shown_with_all_open(job: Job, edits: Sequence[Edit]) -> dict[int, Pair | None]:
    """Which edits show with all contacts open, and a pair that beeps no more, if there is one."""
    network = replace(job.network, contacts=())
    touches = [Touch(0, pair) for pair in job.pairs()]
    bank = Bank(network, [*edits, Edit()], job.states[:1])
    *kinds, right = bank.kinds().tolist()
    few = [kinds.index(kind) for kind in dict.fromkeys(kinds) if kind != right]
    ohms = bank.read(touches, [len(edits)])
    pairs: dict[int, Pair | None] = {}
    for own in portions(few, len(touches)):
        apart = differs(ohms, bank.read(touches, own), np.zeros(1))
        for column, number in enumerate(own):
            if apart[:, column].any():
                showing = _numbers(apart[:, column] & (ohms[:, 0] <= 0.0))
                pairs[kinds[number]] = _pair(network, touches, showing)
    return {n: pairs[kind] for n, kind in enumerate(kinds) if kind in pairs}


def _numbers(mask: Mask) -> list[int]:
    return [int(n) for n in np.nonzero(mask)[0]]


def _pair(network: Network, touches: Sequence[Touch], showing: Sequence[int]) -> Pair | None:
    if not showing:
        return None
    one, other = touches[showing[0]].ends
    return network.names[one], network.names[other]


def _can_be_held(job: Job) -> bool:
    """Whether every switch lets go of everything between two positions."""
    switches = [p for p in job.spec.parts_of(job.wiring).values() if isinstance(p, Switch)]
    return all(section.timing == "non-shorting" for s in switches for section in s.sections)


def by_pair(found: Sequence[Probe]) -> Mapping[Pair, list[Probe]]:
    """Probes of each pair, in the order of the states."""
    pairs: dict[Pair, list[Probe]] = {}
    for probe in found:
        pairs.setdefault(probe.between, []).append(probe)
    return pairs
