"""A wiring on its sources: the diodes that conduct then, and the most volts at each lug.

A lug gets its volts where it is connected to a high point in some position, and where they reach
it through parts: in operation, with the load off, and while one section of a switch, or every
contact of one control, is open. So the low end of a multiplier has the whole voltage, for its way
to chassis may open. A high point stands at the most that is written of it, whatever the parts
around it make of its source resistance: what held it down may have failed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, permutations, product
from math import inf, prod, sqrt

import numpy as np
import numpy.typing as npt

from rewire.circuit import States
from rewire.circuit.circuit import circuit_of
from rewire.circuit.connectivity import Beside, beside, bonds_at_rest, controls_of, spread
from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.records.parts import Diode
from rewire.records.spec import Point, Spec
from rewire.values.dc_network import NO_VALUE, Branch, DcNetwork, Values, filled
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wire import HIGH, insulation_for

Flags = npt.NDArray[np.bool_]
_SLOPE = 0.3
"""Ohm in series with a conducting diode, so that an ampere lifts it to a volt; from memory."""
_MOST_TURNS = 20
"""Rounds in which the diodes that conduct are found; more than any circuit with a few needs."""
_MOST_STATES = 10_000
_MOST_LOOKS = 20_000
_ANY_OHMS = (1e-3, 1e12)
_SLACK = 1e-6
_NO_OHMS = 1e-9
_ASKED = re.compile(r"insulation (?:for )?([0-9.]+) (k?)V(?: or more)?")
NONE: Flags = np.zeros(1, dtype=np.bool_)
ALL: Flags = np.ones(1, dtype=np.bool_)
OPEN: Array = np.full(1, inf)


@dataclass(frozen=True, slots=True)
class WorstMoment:
    """One moment: where the controls stand, what is open, and what is held at its most."""

    state: dict[str, int]
    opened: Collection[int] | None = None
    """Sections that are open, points at what they rise to; None in operation."""
    held: str | None = None
    """The point that stands at the most that is written of it."""
    fallen: Collection[str] = ()
    """Points that stand at 0 V, for what feeds them is cut off."""

    def volts(self, point: Point) -> float | None:
        """What a point stands at; None where it has no volts of its own."""
        if self.held == point.name:
            return point.most_volts
        if point.name in self.fallen:
            return 0.0
        steady = self.opened is None or point.rises_to is None
        return point.volts if steady else point.rises_to

    def closes(self, branch: Branch) -> bool:
        """Whether a branch conducts."""
        return branch.closed(self.state) and branch.section not in (self.opened or ())


def states_that_occur(spec: Spec) -> Iterator[dict[str, int]]:
    """Every combination of positions that can occur, by number; many where controls are many."""
    controls, never = spec.controls, [item.items() for item in spec.never]
    for at in product(*(enumerate(control.positions) for control in controls.values())):
        named = dict(zip(controls, (name for _, name in at), strict=True))
        if not any(item <= named.items() for item in never):
            yield dict(zip(controls, (number for number, _ in at), strict=True))


@dataclass(frozen=True, slots=True)
class Source:
    """A point of known volts: its volts and the ohms behind them, in each sample."""

    point: Point
    volts: Array
    ohms: Array
    """Infinite where it has no volts of its own."""

    @property
    def said(self) -> str:
        """``B_PLUS (up to 96 V behind 60 Ω)``: what is written of it."""
        point = self.point
        if not point.source_resistance:
            return f"{point.name} ({with_unit(point.volts, 'V', 3)}, source resistance not given)"
        behind = in_ohms(point.source_resistance)
        return f"{point.name} (up to {with_unit(point.most_volts, 'V', 3)} behind {behind})"


def source_at(point: Point, volts: Sequence[float | None], ohms: Array | float) -> Source:
    """A point behind some ohms; open where it has no volts of its own."""
    own = np.array(volts, dtype=float)
    return Source(point, np.nan_to_num(own), np.where(np.isnan(own), inf, ohms))


def by_source(sources: Sequence[Source], solved: Solution) -> list[Array]:
    """Volts that each source by itself puts on the nodes; the drives of the solution are theirs."""
    return [s.volts / s.ohms * solved.volts[n] for n, s in enumerate(sources)]


def closed_ohms(branch: Branch, ohms: Array, looks: Sequence[WorstMoment]) -> Array:
    """Ohms of a branch, a contact open where a look does not close it."""
    if branch.control is None:
        return ohms
    return np.where([look.closes(branch) for look in looks], ohms, inf)


@dataclass(frozen=True, slots=True)
class Samples:
    """Branches of a network with their ohms, shape (samples,) or (1,), and diodes that are open."""

    network: DcNetwork
    branches: Sequence[Branch]
    ohms: Sequence[Array]
    failed: Mapping[str, Flags] = field(default_factory=dict)

    def loads(self, pairs: Sequence[Ends]) -> list[tuple[Array, Flags]]:
        """Ohms between the nodes of each pair, and the nodes from which a drive there is lost."""
        if not pairs:
            return []
        solved = self.solved(pairs, pairs[-1][1])
        return [(solved.load(n, pair), solved.lost[n]) for n, pair in enumerate(pairs)]

    def fed(self, sources: Sequence[Source], ground: int) -> tuple[Samples, list[Ends]]:
        """The same with a source behind its own resistance at each point; and its nodes."""
        node = self.network.node
        feeds = [Branch(s.point.name, (node(s.point.name), ground), NO_VALUE) for s in sources]
        ohms = [*self.ohms, *(source.ohms for source in sources)]
        whole = Samples(self.network, [*self.branches, *feeds], ohms, self.failed)
        return whole, [feed.ends for feed in feeds]

    def solved(
        self, drives: Sequence[Ends], ground: int, on: Mapping[str, Flags] | None = None
    ) -> Solution:
        """Volts by an ampere of each drive, then by one into each diode; of these some are on."""
        count, diodes, ohms = max(self.network.count, ground + 1), list[Ends](), list(self.ohms)
        for name, conducts in (on or {}).items():
            diodes.append((self.network.node(f"{name}.A"), self.network.node(f"{name}.K")))
            ohms.append(np.where(conducts, _SLOPE, inf))
        ends = [*(branch.ends for branch in self.branches), *diodes]
        return solve(count, ends, ohms, [*drives, *diodes], ground)


def part_loads(pieces: Sequence[tuple[Array, Array]]) -> dict[str, Array]:
    """Watts of a part, the most volts and ampere of any piece; from those of each piece."""
    volts, amps = (np.array(np.broadcast_arrays(*of)) for of in zip(*pieces, strict=True))
    return {"watts": np.sum(volts * amps, axis=0), "volts": volts.max(0), "amps": amps.max(0)}


@dataclass(frozen=True, slots=True)
class Settled:
    """Samples with their diodes settled; arrays of shape (nodes, samples) or (nodes, 1).

    ``volts`` are those of the nodes, ``lifted`` what the diodes that conduct put there of it,
    ``on`` the diodes with the samples in which they conduct.
    """

    solved: Solution
    volts: Array
    lifted: Array
    on: dict[str, Flags]


def settled(
    samples: Samples,
    drives: Sequence[Ends],
    ground: int,
    driven: Callable[[Solution, Array], Array],
) -> Settled:
    """Which diodes conduct, and the volts of every node then.

    ``driven`` gives these volts from the solution of the drives and what the diodes put there.

    Source: superposition; a diode that conducts is its forward volts behind an ohm or less, and
    which ones do is found by turns.
    """
    known, node = samples.network.spec.all_of(Diode, samples.network.wiring), samples.network.node
    forward = {name: diode.conducts_at for name, diode in known.items() if diode.conducts_at}
    on = dict.fromkeys(forward, NONE)
    for _ in range(_MOST_TURNS):
        solved = samples.solved(drives, ground, on)
        lifted = np.zeros(solved.volts.shape[1:])
        for number, (name, own) in enumerate(forward.items(), len(drives)):
            lifted = lifted + np.where(on[name], own / _SLOPE, 0.0) * solved.volts[number]
        volts, was = driven(solved, lifted), on
        on = {
            name: (volts[node(f"{name}.A")] - volts[node(f"{name}.K")] > own)
            & ~samples.failed.get(name, NONE)
            for name, own in forward.items()
        }
        if all((was[name] == on[name]).all() for name in on):
            break
    return Settled(solved, volts, lifted, on)


def _overruled(network: DcNetwork, looks: Sequence[WorstMoment]) -> set[tuple[str, int]]:
    """Points without ohms that contacts connect to one of more volts, which feeds them; by look."""
    points = [p for p in network.spec.points.values() if not p.chassis and p.volts is not None]
    unlike = [
        (a, b) for a, b in permutations(points, 2) if a.ac == b.ac and not b.source_resistance
    ]
    found, tied = set[tuple[str, int]](), dict[tuple[int, ...], list[tuple[Point, Point]]]()
    for number, look in enumerate(looks if unlike else ()):
        state = tuple(look.state.values())
        if state not in tied:
            tied[state] = list(_tied(network, unlike, network.contacts(look.state)))
        closed = [b for b in network.contacts(look.state) if look.closes(b)] if tied[state] else []
        for high, low in _tied(network, tied[state], closed):
            stiff = high.name == look.held or not high.source_resistance
            if stiff and abs(look.volts(high) or 0.0) > abs(look.volts(low) or 0.0):
                found.add((low.name, number))
    return found


def _tied(
    network: DcNetwork, pairs: Sequence[tuple[Point, Point]], closed: Sequence[Branch]
) -> Iterator[tuple[Point, Point]]:
    """The pairs of points that some closed contacts connect."""
    ties = network.joined([branch.ends for branch in closed]) if pairs else None
    for one, other in pairs:
        if ties and ties.joins(network.node(one.name), network.node(other.name)):
            yield one, other


def _volts_of_sources(
    network: DcNetwork, values: Values, looks: Sequence[WorstMoment]
) -> tuple[Array, Array]:
    """Volts on every node: of all DC points together, and rms of each AC point by itself.

    Shapes (nodes, looks) and (AC points, nodes, looks). What is not known is open.
    """
    ground, known = network.chassis or 0, filled(values)
    sources, overruled = [], _overruled(network, looks)
    for point in (p for p in network.spec.points.values() if not p.chassis):
        own = max(point.source_resistance, _NO_OHMS)
        inner = np.where([look.held == point.name for look in looks], _NO_OHMS, own)
        stands = [
            None if (point.name, number) in overruled else look.volts(point)
            for number, look in enumerate(looks)
        ]
        sources.append(source_at(point, stands, inner))
    ohms = [
        closed_ohms(branch, branch.ohms(known) if branch.known(values) else OPEN, looks)
        for branch in network.branches
    ]
    samples, feeds = Samples(network, network.branches, ohms).fed(sources, ground)
    shape, seen = (network.count, len(looks)), by_source(sources, samples.solved(feeds, ground))
    volts = np.array([np.broadcast_to(own, shape) for own in seen]).reshape(-1, *shape)
    swings = np.array([source.point.ac for source in sources], dtype=bool)
    return volts[~swings].sum(axis=0), volts[swings]


@dataclass(frozen=True, slots=True)
class Live:
    """Volts to chassis of every node in every look; arrays of shape (nodes, looks).

    ``steady`` are those of the DC sources together; ``peaks`` those of each AC source, shape
    (AC sources, nodes, looks). ``known`` is false where a point whose volts are not given, or a
    diode, may feed the node: what is not given is unknown, never safe. ``floating`` is true where
    nothing links the node to chassis or to a source.
    """

    steady: Array
    peaks: Array
    known: Array
    floating: Array

    def apart(self, one: int, other: int) -> Array:
        """The most volts between two nodes in each look; NaN where one is not known or floats.

        Source: one AC source is in step with itself; of several the phases are unknown: peaks add.
        """
        if one == other:
            return np.zeros(self.steady.shape[1])
        swing = np.sum(np.abs(self.peaks[:, one] - self.peaks[:, other]), axis=0)
        sure = self.known * (1.0 - self.floating)
        volts = np.abs(self.steady[one] - self.steady[other]) + swing
        return np.where(sure[one] * sure[other] > 0.0, volts, np.nan)


def live(network: DcNetwork, values: Values, looks: Sequence[WorstMoment], ground: int) -> Live:
    """Volts of every node of a wiring in some looks; ``ground`` is the chassis."""
    steady, swinging = _volts_of_sources(network, values, looks)
    known, floating = np.ones(steady.shape), np.zeros(steady.shape)
    points = [p for p in network.spec.points.values() if not p.chassis]
    unsaid = [network.node(point.name) for point in points if point.volts is None]
    for number, look in enumerate(looks):
        closed = [branch for branch in network.branches if look.closes(branch)]
        fed = [(network.node(p.name), ground) for p in points if look.volts(p) is not None]
        paths = network.joined([*(b.ends for b in closed if b.known(values)), *fed])
        ties = network.joined([b.ends for b in closed if b.control is not None])
        vague = [b.ends for b in (*closed, *network.blocked) if not b.known(values)]
        loose = {paths.root(node) for ends in (unsaid, *vague) for node in ends}
        tied = {ties.root(node) for node in unsaid} - {ties.root(ground)}
        for node in range(network.count):
            floats = paths.root(node) != paths.root(ground)
            floating[node, number] = floats
            known[node, number] = ties.root(node) not in tied and not (
                floats and paths.root(node) in loose
            )
    return Live(steady, sqrt(2.0) * swinging, known, floating)


@dataclass(frozen=True, slots=True)
class LugVolts:
    """The most volts to chassis at one lug."""

    volts: float
    """With its sign; rms for AC."""
    ac: bool
    point: str | None
    """The point that it is connected to in some position; None where parts lie between."""

    @property
    def figure(self) -> str:
        """``-460 V``, ``3.27 kV``, ``115 V AC``: three figures, in print and picture alike."""
        return f"{with_unit(self.volts, 'V', 3)}{' AC' if self.ac else ''}"

    @property
    def said(self) -> str:
        """``-460 V (HT_MINUS)``, ``680 V, through parts``."""
        return f"{self.figure}{f' ({self.point})' if self.point else ', through parts'}"

    @property
    def insulation(self) -> str:
        """What a wire here must stand: the next usual rating."""
        return insulation_for(self.volts)

    def exceeds(self, other: LugVolts | None) -> bool:
        """Whether there are more volts here, but for rounding."""
        return other is None or abs(self.volts) > abs(other.volts) * (1.0 + _SLACK)


def insulation_asked(given: float | None, volts: LugVolts | None) -> str | None:
    """What a new wire must stand, from what the plan says of it and the volts at its ends."""
    if given is None:
        return volts.insulation if volts else None
    if volts and abs(volts.volts) > given:
        return f"{volts.insulation}, the {with_unit(given, 'V')} of the plan are too little"
    return f"insulation for {with_unit(given, 'V')}"


def insulation_volts(asked: str) -> str:
    """The volts alone, where no more than an insulation is asked for.

    >>> insulation_volts("insulation for 1.2 kV"), insulation_volts("sleeve it")
    ('1200', '')
    """
    found = _ASKED.fullmatch(asked)
    return f"{float(found[1]) * (1000 if found[2] else 1):g}" if found else ""


def high_points(spec: Spec) -> list[Point]:
    """Points of 50 V or more, the highest first."""
    points = (point for point in spec.points.values() if not point.chassis)
    high = [point for point in points if abs(point.most_volts) >= HIGH]
    return sorted(high, key=lambda p: (-abs(p.most_volts), p.name))


def most_volts(network: DcNetwork, values: Values) -> dict[str, LugVolts]:
    """Terminal or point → its volts, for each off the chassis that can stand at 50 V or more.

    Where the circuit is too large, or has no chassis, every part and contact passes all volts on:
    rather one caution too many.
    """
    points = network.spec.points.values()
    cold = {network.node(point.name) for point in points if point.chassis}
    through = _through_parts(network, values) if cold else None
    if through is None:
        through = {}
        everything = beside([(branch.ends, 1) for branch in network.branches])
        for point, node in _reached(network, everything, 1, cold):
            name = point.name if node == network.node(point.name) else None
            through.setdefault(node, LugVolts(point.most_volts, point.ac, name))
    found = _connected(network, cold)
    for node, volts in through.items():
        if volts.exceeds(found.get(node)):
            found[node] = volts
    _over_diodes(network, found, cold)
    return {place: found[node] for place, node in network.nets.of.items() if node in found}


def _connected(network: DcNetwork, cold: set[int]) -> dict[int, LugVolts]:
    """Nodes that contacts alone connect to a high point in some position."""
    spec, circuit = network.spec, circuit_of(network.spec, network.wiring)
    controls = controls_of(circuit.links)
    bonds, possible = [(link.places, 1) for link in circuit.links], 1
    if prod(len(spec.controls[name].positions) for name in controls) <= _MOST_STATES:
        states = States(spec.controls, spec.never)
        frame = states.frame(controls)
        bonds = bonds_at_rest(circuit.links, frame)
        possible = states.possible(frame)
    found: dict[int, LugVolts] = {}
    for point, node in _reached(network, beside(bonds), possible, cold):
        found.setdefault(node, LugVolts(point.most_volts, point.ac, point.name))
    return found


def _reached(
    network: DcNetwork, bonds: Beside, possible: int, cold: set[int]
) -> Iterator[tuple[Point, int]]:
    """Each high point, the highest first, and the nodes it reaches, not over the chassis."""
    for point in high_points(network.spec):
        start = network.node(point.name)
        reached = () if start in cold else spread(bonds, start, possible, cold.__contains__)
        yield from ((point, node) for node in reached if node not in cold)


def _through_parts(network: DcNetwork, values: Values) -> dict[int, LugVolts] | None:
    """The most of every node over all looks, in one solution; None where that is too much.

    Source: a node's volts are a ratio of two expressions that are of first degree in each
    resistance, so that they are greatest at one end of what a resistance may be.
    """
    unknown = [number for number, value in enumerate(values) if value is None]
    looks = list(islice(_looks(network), _MOST_LOOKS + 1))
    if network.chassis is None or len(looks) << len(unknown) > _MOST_LOOKS:
        return None
    corners = list(product((0, 1), repeat=len(unknown)))
    known, count = list(values), len(looks)
    for place, number in enumerate(unknown):
        ends = (0.0, 1.0) if network.values[number].is_setting else _ANY_OHMS
        known[number] = np.array([ends[corner[place]] for corner in corners] * count)
    looks = [look for look in looks for _ in corners]
    steady, swinging = _volts_of_sources(network, known, looks)
    return dict(_most(steady, np.sum(np.abs(swinging), axis=0)))


def _looks(network: DcNetwork) -> Iterator[WorstMoment]:
    """In operation; then with one point held high, and no section, one or all of a control open."""
    high = [point.name for point in high_points(network.spec)]
    for state in states_that_occur(network.spec):
        yield WorstMoment(state)
        closed = [b for b in network.branches if b.control and b.closed(state)]
        opened = [frozenset[int](), *(frozenset({branch.section}) for branch in closed)]
        for name in dict.fromkeys(b.control for b in closed):
            opened.append(frozenset(b.section for b in closed if b.control == name))
        for sections in dict.fromkeys(opened):
            yield from (WorstMoment(state, sections, name) for name in high)


def _most(steady: Array, swing: Array) -> Iterator[tuple[int, LugVolts]]:
    """Of each node the look with the most, from 50 V on; DC and rms add up."""
    sizes = np.abs(steady) + swing
    for node, look in enumerate(np.argmax(sizes, axis=1)):
        size, at_rest = float(sizes[node, look]), float(steady[node, look])
        if size >= HIGH * (1.0 - _SLACK):
            ac = size > 2.0 * abs(at_rest)
            yield node, LugVolts(-size if at_rest < 0 else size, ac, None)


def _over_diodes(network: DcNetwork, found: dict[int, LugVolts], cold: set[int]) -> None:
    """A diode may pass on what stands at one of its ends, and a capacitor does so with AC."""
    waiting = True
    while waiting:
        waiting = False
        for branch in network.blocked:
            for one, other in permutations(branch.ends):
                volts = found.get(one)
                passes = volts and (volts.ac or network.parts[branch.part].passes_dc)
                if volts and passes and other not in cold and volts.exceeds(found.get(other)):
                    found[other] = replace(volts, point=None)
                    waiting = True
