"""One wiring ready for the ohmmeter: what may be touched, and what each touch must find."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, islice, product
from math import prod
from typing import Literal

import networkx as nx
import numpy as np

from rewire.bench.ohmmeter import (
    SAMPLES,
    Assembly,
    Edit,
    Ends,
    NodePair,
    Ohms,
    ResistanceLink,
    State,
    Touch,
    readings,
)
from rewire.circuit.circuit import Case, circuit_of
from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached, States
from rewire.compare.roles import roles_between
from rewire.records.parts import Diode, Meter
from rewire.records.spec import Spec, Wiring
from rewire.values.dc_network import DcNetwork, bench_network
from rewire.values.readings import tried
from rewire.values.solved import solved_of
from rewire.words.quantity import in_ohms

Expect = Literal["closed", "open", "ohms"]
Pair = tuple[str, str]
Conducting = tuple[list[str], list[str]]
"""Diodes that conduct between two leads with plus at the first, and with plus at the second."""
Overloads = tuple[tuple[str, float], ...]
"""Movements, and times full scale at ``TEST_AMPS``."""

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
_USUAL = 0.05
"""Tolerance where none is stated; common practice, no source."""
_COLD = 0.4
"""A cold lamp's ohms are known no better; common practice, no source."""
_BY_EYE = 0.15
"""A pot's setting is known no better before it is adjusted; common practice, no source."""
UNKNOWN = "ohms unknown"


@dataclass(frozen=True, slots=True)
class Probe:
    """One touch of the two leads, and what must be found."""

    state: State
    between: Pair
    expect: Expect
    ohms: float | None = None
    """With ``ohms``: the resistance, None where a value in the path is not known."""
    diodes: tuple[str, ...] = ()
    """Diodes that conduct more than everything else, one way round: they are taken as open."""
    plus: tuple[str, ...] = ()
    """Where the positive lead must be for them to conduct."""
    spread: float = 0.0
    """Share by which the ohms may be off, all tolerances at their bad ends."""
    overloads: Overloads = ()


@dataclass(frozen=True, slots=True)
class Job:
    """A wiring ready to be buzzed."""

    spec: Spec
    wiring: Wiring
    network: Assembly
    states: tuple[State, ...]

    def touch(self, state: State, between: Pair) -> Touch:
        """The two leads on two places."""
        node = self.network.node
        return Touch(self.states.index(state), (node[between[0]], node[between[1]]))

    def pairs(self) -> list[Ends]:
        """Every pair of places but two bare lugs; ``LimitReached`` if these are too many."""
        bare = circuit_of(self.spec, self.wiring).bare
        places = self.network.touchable
        idle = [place for place in places if self.network.names[place] in bare]
        wired = [place for place in places if self.network.names[place] not in bare]
        count = len(wired) * (len(wired) - 1) // 2 + len(wired) * len(idle)
        if count * len(self.states) > MOST_TOUCHES:
            raise LimitReached(
                f"buzzing {self.wiring.name}: {count:,} pairs of lugs in {len(self.states):,} "
                f"states are {count * len(self.states):,} readings, more than {MOST_TOUCHES:,}; "
                "split the spec"
            )
        mixed = (sorted(pair) for pair in product(wired, idle))
        return sorted([*combinations(wired, 2), *((one, other) for one, other in mixed)])

    def all_touches(self) -> list[Touch]:
        """Those pairs in every state."""
        pairs = self.pairs()
        return [Touch(state, pair) for state in range(len(self.states)) for pair in pairs]


def assembly_of(spec: Spec, wiring: Wiring) -> Assembly:
    """A wiring as joints and resistances, worked out once; lamps are cold.

    Values to be fitted are those of ``rewire values``; raises ``LimitReached`` as that does.
    """
    return _network_of(Case(spec, wiring))


@lru_cache(maxsize=16)
def _network_of(case: Case) -> Assembly:
    spec, wiring = case.spec, case.wiring
    names = tuple(circuit_of(spec, wiring).terminals)
    node = {name: number for number, name in enumerate(names)}
    solid = [
        NodePair((node[net.members[0]], node[other]), soldered=True)
        for net in wiring.nets
        for other in net.members[1:]
    ]
    for part in spec.parts_of(wiring).values():
        for own, place in zip(part.full_terminals, part.between or (), strict=False):
            solid.append(NodePair((node[own], node[place]), soldered=True))
    wires = [NodePair((node[wire.ends[0]], node[wire.ends[1]])) for wire in wiring.wires]
    board = bench_network(spec, wiring, roles_between(spec, wiring))
    inner: dict[int, int] = {}
    bars = tuple(_bars(board, _samples(spec, wiring, board), node, inner))
    shorts = [NodePair(bar.ends, part=bar.part) for bar in bars if not bar.ohms[0]]
    return Assembly(
        names=names, count=len(names) + len(inner),
        joints=(*solid, *wires, *_contacts(spec, wiring, node), *shorts),
        wires=tuple(range(len(solid), len(solid) + len(wires))), bars=bars,
        positions={name: control.positions for name, control in spec.controls.items()},
    )  # fmt: skip


def _contacts(spec: Spec, wiring: Wiring, node: Mapping[str, int]) -> Iterator[NodePair]:
    """Two lugs that a switch closes; of a group of three or more, its first and each other."""
    for switch in circuit_of(spec, wiring).switches:
        for section in switch.sections:
            closed: dict[tuple[str, ...], int] = defaultdict(int)
            for position, groups in enumerate(section.groups):
                for group in groups:
                    closed[tuple(sorted(group))] |= 1 << position
            for lugs, positions in closed.items():
                first, *others = (node[switch.terminal(lug)] for lug in lugs)
                for other in others:
                    yield NodePair((first, other), switch.name, switch.control, positions)


def _samples(spec: Spec, wiring: Wiring, board: DcNetwork) -> list[Array]:
    """The values of a board; those that nobody knows at several sizes."""
    values = board.nominal()
    if any(part.fit_for for part in board.parts.values()):
        worked = solved_of(spec, wiring)
        found = zip(worked.network.values, worked.values, strict=True)
        known = {value.name: one for value, one in found if one is not None}
        named = zip(values, board.values, strict=True)
        values = [known.get(v.name) if one is None else one for one, v in named]
    for number, value in enumerate(board.values):
        if value.part in board.parts and board.parts[value.part].ac:
            values[number] = None  # an ohmmeter sees its rectifier, and that is given nowhere
    return tried(board, values)


def _bars(
    board: DcNetwork, samples: Sequence[Array], node: Mapping[str, int], inner: dict[int, int]
) -> Iterator[ResistanceLink]:
    """Every resistance of a part; nodes inside parts are numbered after the terminals."""
    for branch in board.branches:
        part = board.parts.get(branch.part)
        if part is None or part.sections:
            continue
        ohms = np.broadcast_to(branch.ohms(samples), (4,))[:SAMPLES] * part.cold_share
        off = board.values[branch.value].tolerance or _USUAL
        if part.cold_share < 1.0:
            off = _COLD
        if branch.share is not None:
            off = max(off, _BY_EYE)
        own = {board.node(terminal): node[terminal] for terminal in part.full_terminals}
        one, other = (
            own[end] if end in own else inner.setdefault(end, len(node) + len(inner))
            for end in branch.ends
        )
        yield ResistanceLink((one, other), branch.part, tuple(float(each) for each in ohms), off)


# What must be found


def job_of(spec: Spec, wiring: Wiring, states: Sequence[State]) -> Job:
    """Make a wiring ready; raises as ``assembly_of``."""
    return Job(spec, wiring, assembly_of(spec, wiring), tuple(dict(state) for state in states))


def planned(job: Job, touches: Sequence[Touch]) -> Ohms:
    """Ohms of each touch on the wiring as it should be, see ``readings``."""
    return np.asarray(readings(job.network, [Edit()], job.states, touches)[:, 0])


def spreads(job: Job, touches: Sequence[Touch], ohms: Ohms) -> Ohms:
    """Share by which each reading may be off, from the tolerances of what carries its current."""
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

    Where ohms are not known, at the worse of the sizes that are tried for them. The share of the
    current that is in a movement is what the reading changes with its ohms, to the power 1/2.
    """
    network = job.network
    meters = [
        (meter.name, meter.movement_amps, bar)
        for meter in job.spec.all_of(Meter, job.wiring).values()
        for bar in network.bars_of(meter.name)[:1]
        if meter.movement_amps is not None and 0.0 < network.bars[bar].ohms[0] < np.inf
    ]
    found: list[list[tuple[str, float]]] = [[] for _ in touches]
    times = np.zeros((len(touches), len(meters)))
    edits = [Edit(), *(Edit(scaled=((bar, 1.0 + _STEP),)) for _, _, bar in meters)]
    for size in range(
        max((len(set(bar.ohms)) for bar in network.bars), default=0) if meters else 0
    ):
        ohms = [bar.ohms[size] for bar in network.bars]
        bars = (replace(b, ohms=(o,) * SAMPLES) for b, o in zip(network.bars, ohms, strict=True))
        read = readings(replace(network, bars=tuple(bars)), edits, job.states, touches)
        steps = np.array([_STEP * ohms[bar] * amps**2 for _, amps, bar in meters])
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.sqrt((read[:, 1:] - read[:, :1]) / steps)
            over = share * np.minimum(TEST_AMPS, OPEN_VOLTS / read[:, :1])
        times = np.maximum(times, np.where(np.isfinite(over), over, 0.0))
    for number, column in np.argwhere(times > _OVER):
        found[number].append((meters[column][0], float(times[number, column])))
    return found


def probes(job: Job, touches: Sequence[Touch]) -> list[Probe]:
    """What each touch must find, in full."""
    ohms = planned(job, touches)
    spread, beyond = spreads(job, touches, ohms), overloaded_movements(job, touches)
    conducting = _conducting(job, touches, ohms)
    found = []
    for n, (touch, (forward, backward)) in enumerate(zip(touches, conducting, strict=True)):
        one, other = (job.network.names[end] for end in touch.ends)
        at = job.states[touch.state], (one, other)
        diodes = tuple(dict.fromkeys((*forward, *backward)))
        plus = (one,) * bool(forward) + (other,) * bool(backward)
        if ohms[n] == np.inf:
            found.append(Probe(*at, "open", None, diodes, plus))
        elif ohms[n] <= _CLOSED:
            found.append(Probe(*at, "closed", 0.0))
        else:
            known = None if np.isnan(ohms[n]) else float(ohms[n])
            off = float(spread[n]), tuple(beyond[n])
            found.append(Probe(*at, "ohms", known, diodes, plus, *off))
    return found


def _conducting(job: Job, touches: Sequence[Touch], ohms: Ohms) -> list[Conducting]:
    """For each touch the diodes that an ohmmeter's own voltage makes conduct.

    Where nothing else passes current they are those on a path from lead to lead that goes
    through each from anode to cathode; elsewhere those across which the current through the
    rest leaves enough volts to open them.
    """
    node = job.network.node
    named = job.spec.all_of(Diode, job.wiring)
    diodes = {n: (node[d.terminal("A")], node[d.terminal("K")]) for n, d in named.items()}
    found: list[Conducting] = [([], [])] * len(touches)
    for number in range(len(job.states) if diodes else 0):
        own = [n for n, touch in enumerate(touches) if touch.state == number]
        ends = [touches[n].ends for n in own]
        alone = _through(job.network, job.states[number], ends, diodes)
        beside = _beside(job.network, job.states[number], ends, diodes)
        for n, one, other in zip(own, alone, beside, strict=True):
            found[n] = one if ohms[n] == np.inf else other
    return found


def _through(
    network: Assembly, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> Iterator[Conducting]:
    """Per pair the diodes in series between its leads, plus at the first, then at the second."""
    pieces: nx.Graph[int] = nx.Graph()
    pieces.add_nodes_from(range(network.count))
    at = network.at(state)
    pieces.add_edges_from(joint.ends for joint in network.joints if joint.is_closed(at))
    pieces.add_edges_from(bar.ends for bar in network.bars if bar.ohms[0] < np.inf)
    piece = {node: n for n, nodes in enumerate(nx.connected_components(pieces)) for node in nodes}
    ends = {name: (piece[a], piece[k]) for name, (a, k) in diodes.items()}
    oneway: nx.DiGraph[int] = nx.DiGraph(list(ends.values()))
    reach = {node: nx.descendants(oneway, node) | {node} for node in oneway}

    def on_the_way(plus: int, minus: int) -> list[str]:
        if plus == minus or minus not in reach.get(plus, ()):
            return []
        return [
            n for n, (a, k) in ends.items() if a != k and a in reach[plus] and minus in reach[k]
        ]

    for one, other in pairs:
        yield on_the_way(piece[one], piece[other]), on_the_way(piece[other], piece[one])


def _beside(
    network: Assembly, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> list[Conducting]:
    """Diodes beside resistance: volts from anode to cathode per ampere from lead to lead.

    They are half of R(A, minus) + R(K, plus) - R(A, plus) - R(K, minus), as in any network of
    resistances (superposition).
    """
    found: list[Conducting] = [([], []) for _ in pairs]
    for name, (a, k) in diodes.items():
        corners = [((a, q), (k, p), (a, p), (k, q)) for p, q in pairs]
        touches = [Touch(0, ends) for four in corners for ends in four]
        read = readings(network, [Edit()], [state], touches)[:, 0].reshape(-1, 4)
        with np.errstate(invalid="ignore"):
            volts = (read[:, 0] + read[:, 1] - read[:, 2] - read[:, 3]) / 2.0
        for row in np.nonzero(np.isfinite(volts) & (np.abs(volts) > _MATTERS))[0]:
            found[row][0 if volts[row] > 0.0 else 1].append(name)
    return found


# What a person would buzz


def continuity(
    spec: Spec, wiring: Wiring, pairs: Sequence[Pair], states: Sequence[State]
) -> list[Probe]:
    """What pairs of places must read in some states, state by state; raises as ``assembly_of``.

    Contacts and wires count as no ohms; capacitors and diodes are open; lamps are cold.
    """
    job = job_of(spec, wiring, states)
    return probes(job, [job.touch(state, pair) for state in job.states for pair in pairs])


def pairs_to_buzz(spec: Spec, wiring: Wiring) -> list[Pair]:
    """Pairs to buzz, each once: commons to throws, rules, readings, points to chassis."""
    pairs: dict[Pair, None] = {}
    bare = circuit_of(spec, wiring).bare
    for switch in circuit_of(spec, wiring).switches:
        for section in switch.sections:
            first, *others = (switch.terminal(lug) for lug in section.lugs)
            pairs |= dict.fromkeys((first, lug) for lug in others if not {first, lug} <= bare)
    there = set(circuit_of(spec, wiring).terminals)
    for named in _places(spec, wiring):
        one, other = map(roles_between(spec, wiring).place, named)
        if one in there and other in there and one != other and (other, one) not in pairs:
            pairs[one or "", other or ""] = None
    return list(pairs)


def _places(spec: Spec, wiring: Wiring) -> Iterator[Pair]:
    yield from (rule.places for rule in spec.rules)
    yield from (reading.places for reading in wiring.readings.values())
    chassis = next((point.name for point in spec.points.values() if point.chassis), None)
    if chassis is not None:
        yield from ((name, chassis) for name in spec.points if name != chassis)


def allowed_states(spec: Spec, names: Collection[str], most: int) -> list[dict[str, str]]:
    """Every state of some controls outside ``never``, none if more than ``most``."""
    if prod(len(spec.controls[name].positions) for name in names) > most:
        return []
    states = States(spec.controls, spec.never)
    frame = states.frame(names)
    return list(frame.states(states.possible(frame)))


def states_to_buzz(spec: Spec, wiring: Wiring, most: int = 12) -> list[dict[str, str]]:
    """Every state of the controls that move a switch of a wiring, where these are few.

    Else each control through its positions alone, the others as early as ``never`` allows.
    Raises ``LimitReached`` where ``never`` ties together too many states.
    """
    moving = {switch.control for switch in circuit_of(spec, wiring).switches}
    if few := allowed_states(spec, moving, most):
        return few
    states, firsts = States(spec.controls, spec.never), {}
    for name in (name for name in spec.controls if name in moving):
        frame = states.frame({name}.union(*states.never))
        for number in range(len(spec.controls[name].positions)):
            mask = states.possible(frame) & frame.where(name, 1 << number)
            for state in islice(frame.states(mask), 1):
                usual = {other: control.positions[0] for other, control in spec.controls.items()}
                firsts[tuple({**usual, **state}.values())] = {**usual, **state}
    return list(firsts.values())


def marked(said: str, probe: Probe) -> str:
    """What must be found, with a star where a digital ohmmeter overdrives a movement."""
    return f"{said}*" if probe.overloads else said


def expected(probe: Probe) -> str:
    """What must be found, in words."""
    if probe.expect != "ohms":
        said: str = probe.expect
    else:
        said = UNKNOWN if probe.ohms is None else in_ohms(probe.ohms, 3)
    if probe.diodes:
        said += f" ({', '.join(probe.diodes)} conducts with + at {' or '.join(probe.plus)})"
    return said
