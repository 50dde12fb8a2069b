"""One wiring made ready for the ohmmeter: its network, states, places, and what they read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Literal

import numpy as np

from rewire.bench.buzz.diodes import Way, ways
from rewire.bench.buzz.measure import Ohms, Touch, readings
from rewire.bench.buzz.mistakes import Edit
from rewire.bench.buzz.network import Bar, Ends, Network, State, network_of, representatives
from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.records.spec import Diode, Meter, Spec, Wiring

Expect = Literal["closed", "open", "ohms"]
Pair = tuple[str, str]

TEST_AMPS = 1e-3
"""What a digital ohmmeter drives on its lowest range; from memory. An analogue one on its times-one
range drives fifty times as much."""
MOST_TOUCHES = 200_000
"""Pairs of places times states that are looked at."""
OPEN_VOLTS = 3.0
"""What a digital ohmmeter has between its open leads at most: through 30 kΩ it drives 0.1 mA,
whatever its range; from memory."""
_STEP = 1e-4
_OVER = 1.01
"""Times full scale: what is but that harms no movement, and is below what the sum is good to."""
_CLOSED = 1e-9


@dataclass(frozen=True, slots=True)
class Probe:
    """One touch of the two leads, and what must be found."""

    state: State
    between: Pair
    expect: Expect
    ohms: float | None = None
    """With ``ohms``: the resistance, None where a value on the way is not known."""
    diodes: tuple[str, ...] = ()
    """Diodes that conduct more than the rest does, one way round: these are taken as open."""
    plus: tuple[str, ...] = ()
    """Where the positive lead must be for them to conduct."""
    spread: float = 0.0
    """Share by which the ohms may be off, all tolerances at their bad ends."""
    overloads: tuple[tuple[str, float], ...] = ()
    """Movements on the way, and times full scale at ``TEST_AMPS``."""


@dataclass(frozen=True, slots=True)
class Job:
    """A wiring ready to be buzzed."""

    spec: Spec
    wiring: Wiring
    network: Network
    states: tuple[State, ...]
    node: Mapping[str, int]

    def touch(self, state: State, between: Pair) -> Touch:
        """The two leads on two places."""
        return Touch(self.states.index(state), (self.node[between[0]], self.node[between[1]]))

    def pairs(self) -> list[Ends]:
        """Every pair of places that can be touched, but two lugs with nothing on them.

        Raises:
            LimitReached: in all states together these are more than can be looked at.
        """
        bare = circuit_of(self.spec, self.wiring).bare
        places = representatives(self.network)
        idle = [place for place in places if self.network.names[place] in bare]
        wired = [place for place in places if self.network.names[place] not in bare]
        count = len(wired) * (len(wired) - 1) // 2 + len(wired) * len(idle)
        if count * len(self.states) > MOST_TOUCHES:
            raise LimitReached(
                f"buzzing {self.wiring.name}: {count:,} pairs of places in {len(self.states):,} "
                f"states are {count * len(self.states):,} touches, more than {MOST_TOUCHES:,}; "
                "split the spec"
            )
        mixed = (sorted(pair) for pair in product(wired, idle))
        return sorted([*combinations(wired, 2), *((one, other) for one, other in mixed)])

    def all_touches(self) -> list[Touch]:
        """Those pairs in every state.

        Raises:
            LimitReached: see ``pairs``.
        """
        pairs = self.pairs()
        return [Touch(state, pair) for state in range(len(self.states)) for pair in pairs]


def job_of(spec: Spec, wiring: Wiring, states: Sequence[State]) -> Job:
    """Make a wiring ready.

    Raises:
        LimitReached: see ``network_of``.
    """
    return job_with(spec, wiring, states, network_of(spec, wiring))


def job_with(spec: Spec, wiring: Wiring, states: Sequence[State], network: Network) -> Job:
    """Make a wiring ready whose network is there already."""
    node = {name: number for number, name in enumerate(network.names)}
    return Job(spec, wiring, network, tuple(dict(state) for state in states), node)


def planned(job: Job, touches: Sequence[Touch]) -> Ohms:
    """Ohms of each touch on the wiring as it should be, see ``readings``."""
    return np.asarray(readings(job.network, [Edit()], job.states, touches)[:, 0])


def spreads(job: Job, touches: Sequence[Touch], ohms: Ohms) -> Ohms:
    """Share by which each touch may be off, from the tolerances of what the current flows through.

    A resistance depends on each of its parts by the square of the current's share in it.
    """
    parts = _by_part(job.network)
    edits = [Edit(scaled=tuple((bar, 1.0 + _STEP) for bar in bars)) for bars in parts.values()]
    off = np.array(
        [max(job.network.bars[bar].tolerance for bar in bars) for bars in parts.values()]
    )
    changed = readings(job.network, edits, job.states, touches)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = (changed - ohms[:, None]) / (_STEP * ohms[:, None])
    return np.asarray(np.where(np.isfinite(shares), shares, 0.0) @ off)


def _by_part(network: Network) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, bar in enumerate(network.bars):
        found.setdefault(bar.part, []).append(number)
    return found


def overloads(job: Job, touches: Sequence[Touch]) -> list[list[tuple[str, float]]]:
    """Per touch the movements that its test current sends beyond full scale, and how far.

    Where ohms are not known, at the worse of the sizes that are tried for them.
    """
    meters = []
    for part in job.spec.parts_of(job.wiring).values():
        amps = part.movement_amps if isinstance(part, Meter) else None
        for bar in _by_part(job.network).get(part.name, ())[:1]:
            if amps is not None and 0.0 < job.network.bars[bar].ohms[0] < np.inf:
                meters.append((part.name, amps, bar))
    found: list[list[tuple[str, float]]] = [[] for _ in touches]
    if not meters:
        return found
    bars = [bar for _, _, bar in meters]
    driven = np.maximum.reduce([_driven(job, one, touches, bars) for one in _sizes(job.network)])
    for column, (name, amps, _) in enumerate(meters):
        times = driven[:, column] / amps
        for number in np.nonzero(times > _OVER)[0]:
            found[number].append((name, float(times[number])))
    return found


def _sizes(network: Network) -> list[Network]:
    """The network with each size of what is not known taken as known; itself if all is known."""
    if all(len(set(bar.ohms)) == 1 for bar in network.bars):
        return [network]
    sizes = range(len(network.bars[0].ohms))
    return [replace(network, bars=tuple(_sized(bar, n) for bar in network.bars)) for n in sizes]


def _sized(bar: Bar, number: int) -> Bar:
    return replace(bar, ohms=(bar.ohms[number],) * len(bar.ohms))


def _driven(job: Job, network: Network, touches: Sequence[Touch], bars: Sequence[int]) -> Ohms:
    """Per touch and resistance, the amperes that an ohmmeter sends through it at most."""
    edits = [Edit(), *(Edit(scaled=((bar, 1.0 + _STEP),)) for bar in bars)]
    read = readings(network, edits, job.states, touches)
    steps = np.array([_STEP * network.bars[bar].ohms[0] for bar in bars])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.sqrt((read[:, 1:] - read[:, :1]) / steps)
        amps = share * np.minimum(TEST_AMPS, OPEN_VOLTS / read[:, :1])
    return np.asarray(np.where(np.isfinite(amps), amps, 0.0))


def probes(job: Job, touches: Sequence[Touch]) -> list[Probe]:
    """What each touch must find, in full."""
    ohms = planned(job, touches)
    spread, beyond = spreads(job, touches, ohms), overloads(job, touches)
    diodes = [p for p in job.spec.parts_of(job.wiring).values() if isinstance(p, Diode)]
    conducting = ways(job.network, job.states, touches, ohms, _ends(job, diodes))
    return [
        _probe(job, touch, float(ohms[n]), float(spread[n]), beyond[n], conducting[n])
        for n, touch in enumerate(touches)
    ]


def _ends(job: Job, diodes: Sequence[Diode]) -> dict[str, tuple[int, int]]:
    return {d.name: (job.node[d.terminal("A")], job.node[d.terminal("K")]) for d in diodes}


def _probe(
    job: Job, touch: Touch, ohms: float, spread: float, beyond: list[tuple[str, float]], way: Way
) -> Probe:
    between = job.network.names[touch.ends[0]], job.network.names[touch.ends[1]]
    state = job.states[touch.state]
    plus = tuple(between[end] for end in way.plus)
    if ohms == np.inf:
        return Probe(state, between, "open", None, way.diodes, plus)
    if ohms <= _CLOSED:
        return Probe(state, between, "closed", 0.0)
    known = None if np.isnan(ohms) else ohms
    return Probe(state, between, "ohms", known, way.diodes, plus, spread, tuple(beyond))
