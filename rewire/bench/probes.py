"""One wiring ready for the ohmmeter: what may be touched, and what each touch must find."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Literal

import networkx as nx
import numpy as np

from rewire.bench.assembly import Assembly, Edit, Ends, Ohms, State, assembly_of
from rewire.bench.ohmmeter import Touch, readings
from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.records.parts import Diode, Meter
from rewire.records.spec import Spec, Wiring

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
_MATTERS = 100.0
"""Ohms across a diode up to which a test current does not open it; common practice, no source."""
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
    network: Assembly
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
        places = self.network.touchable
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
    network = assembly_of(spec, wiring)
    node = {name: number for number, name in enumerate(network.names)}
    return Job(spec, wiring, network, tuple(dict(state) for state in states), node)


def planned(job: Job, touches: Sequence[Touch]) -> Ohms:
    """Ohms of each touch on the wiring as it should be, see ``readings``."""
    return np.asarray(readings(job.network, [Edit()], job.states, touches)[:, 0])


def spreads(job: Job, touches: Sequence[Touch], ohms: Ohms) -> Ohms:
    """Share by which each touch may be off, from the tolerances of what the current flows through.

    A resistance depends on each of its parts by the square of the current's share in it.
    """
    bars: dict[str, list[int]] = {}
    for number, bar in enumerate(job.network.bars):
        bars.setdefault(bar.part, []).append(number)
    edits = [Edit(scaled=tuple((bar, 1.0 + _STEP) for bar in own)) for own in bars.values()]
    off = [max(job.network.bars[bar].tolerance for bar in own) for own in bars.values()]
    changed = readings(job.network, edits, job.states, touches)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = (changed - ohms[:, None]) / (_STEP * ohms[:, None])
    return np.asarray(np.where(np.isfinite(shares), shares, 0.0) @ np.array(off))


def overloaded_movements(job: Job, touches: Sequence[Touch]) -> list[list[tuple[str, float]]]:
    """Per touch the movements that its test current sends beyond full scale, and how far.

    Where ohms are not known, at the worse of the sizes that are tried for them.
    """
    network = job.network
    found: list[list[tuple[str, float]]] = [[] for _ in touches]
    meters = [
        (meter.name, meter.movement_amps, bar)
        for meter in job.spec.all_of(Meter, job.wiring).values()
        for bar in network.bars_of(meter.name)[:1]
        if meter.movement_amps is not None and 0.0 < network.bars[bar].ohms[0] < np.inf
    ]
    if not meters:
        return found
    sizes = range(max(len(set(bar.ohms)) for bar in network.bars))
    known = [
        replace(network, bars=tuple(
            replace(bar, ohms=(bar.ohms[size],) * len(bar.ohms)) for bar in network.bars
        ))
        for size in sizes
    ]  # fmt: skip
    bars = [bar for _, _, bar in meters]
    driven = np.maximum.reduce([_driven(job, one, touches, bars) for one in known])
    for column, (name, amps, _) in enumerate(meters):
        times = driven[:, column] / amps
        for number in np.nonzero(times > _OVER)[0]:
            found[number].append((name, float(times[number])))
    return found


def _driven(job: Job, network: Assembly, touches: Sequence[Touch], bars: Sequence[int]) -> Ohms:
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
    spread, beyond = spreads(job, touches, ohms), overloaded_movements(job, touches)
    conducting = _conducting(job, touches, ohms)
    return [
        _probe(job, touch, float(ohms[n]), float(spread[n]), beyond[n], conducting[n])
        for n, touch in enumerate(touches)
    ]


def _probe(
    job: Job, touch: Touch, ohms: float, spread: float, beyond: list[tuple[str, float]], way: _Way
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


@dataclass(frozen=True, slots=True)
class _Way:
    """Diodes that conduct between the leads, and at which end (0, 1) the plus lead must be."""

    diodes: tuple[str, ...] = ()
    plus: tuple[int, ...] = ()


def _conducting(job: Job, touches: Sequence[Touch], ohms: Ohms) -> list[_Way]:
    """For each touch the diodes that an ohmmeter's own voltage makes conduct.

    Where nothing else passes current they are those on a way from lead to lead that goes
    through each from anode to cathode; elsewhere those across which the current through the
    rest leaves enough volts to open them.
    """
    named = job.spec.all_of(Diode, job.wiring)
    diodes = {n: (job.node[d.terminal("A")], job.node[d.terminal("K")]) for n, d in named.items()}
    found = [_Way()] * len(touches)
    for number in range(len(job.states) if diodes else 0):
        own = [n for n, touch in enumerate(touches) if touch.state == number]
        ends = [touches[n].ends for n in own]
        alone = _through(job.network, job.states[number], ends, diodes)
        beside = _beside(job.network, job.states[number], ends, diodes)
        for row, n in enumerate(own):
            found[n] = alone[row] if ohms[n] == np.inf else beside[row]
    return found


def _through(
    network: Assembly, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> list[_Way]:
    """Ways through diodes alone between pieces that nothing else links."""
    pieces: nx.Graph[int] = nx.Graph()
    pieces.add_nodes_from(range(network.count))
    at = network.at(state)
    pieces.add_edges_from(joint.ends for joint in network.joints if joint.is_closed(at))
    pieces.add_edges_from(bar.ends for bar in network.bars if bar.ohms[0] < np.inf)
    piece = {node: n for n, nodes in enumerate(nx.connected_components(pieces)) for node in nodes}
    oneway: nx.DiGraph[int] = nx.DiGraph()
    oneway.add_edges_from((piece[a], piece[k]) for a, k in diodes.values())
    reach = {node: nx.descendants(oneway, node) | {node} for node in oneway}

    def on_the_way(plus: int, minus: int) -> list[str]:
        start, end = piece[plus], piece[minus]
        if start == end or end not in reach.get(start, ()):
            return []
        return [
            name
            for name, (a, k) in diodes.items()
            if piece[a] != piece[k] and piece[a] in reach[start] and end in reach[piece[k]]
        ]

    return [_way(on_the_way(one, other), on_the_way(other, one)) for one, other in pairs]


def _way(forward: Sequence[str], backward: Sequence[str]) -> _Way:
    plus = (0,) * bool(forward) + (1,) * bool(backward)
    return _Way(tuple(dict.fromkeys((*forward, *backward))), plus)


def _beside(
    network: Assembly, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> list[_Way]:
    """Diodes beside resistance: volts from anode to cathode per ampere from lead to lead.

    They are half of R(A, minus) + R(K, plus) - R(A, plus) - R(K, minus), as in any network of
    resistances (superposition).
    """
    forward: list[list[str]] = [[] for _ in pairs]
    backward: list[list[str]] = [[] for _ in pairs]
    for name, (a, k) in diodes.items():
        corners = [((a, q), (k, p), (a, p), (k, q)) for p, q in pairs]
        touches = [Touch(0, ends) for four in corners for ends in four]
        found = readings(network, [Edit()], [state], touches)[:, 0].reshape(-1, 4)
        with np.errstate(invalid="ignore"):
            volts = (found[:, 0] + found[:, 1] - found[:, 2] - found[:, 3]) / 2.0
        for row in np.nonzero(np.abs(volts) > _MATTERS)[0]:
            if np.isfinite(volts[row]):
                (forward if volts[row] > 0.0 else backward)[row].append(name)
    return [_way(one, other) for one, other in zip(forward, backward, strict=True)]
