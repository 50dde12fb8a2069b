"""The circuit of a reading: what its meter takes, what its branches carry, its exact forms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf, sqrt

import networkx as nx
import numpy as np

from rewire.circuit.dc import TIED, Array, Ends, Solution, solve
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Spec
from rewire.values.answers import Combination
from rewire.values.dc_network import TINY, Branch, DcNetwork, State, Values, changed, filled

_NO_OHMS = 1e-20


@dataclass(frozen=True, slots=True)
class Driven:
    """Standing current between two nodes, ampere."""

    ends: Ends
    amps: float


@dataclass(frozen=True, slots=True)
class ReadingCircuit:
    """Branches of a network that can carry a reading, its drives and its meter.

    ``meter`` is the index of the meter's branch, None if its current is known without a sum: 0 if
    ``blind`` is false, unknown if it is true; ``why`` says so. ``branches`` is empty where the
    drive finds no path, or needs none. ``felt`` is whether its own drive flows through branches;
    else the standing ones alone do. ``count`` is the number of the network's nodes.
    """

    count: int
    branches: tuple[Branch, ...]
    ends: Ends
    amps: float | None
    volts: float | None
    source_ohms: float
    also: tuple[Driven, ...] = ()
    meter: int | None = None
    blind: bool = False
    why: str | None = None
    tied: bool = False
    felt: bool = True

    @property
    def values(self) -> tuple[int, ...]:
        """Numbers of the values its branches take their ohms from."""
        return tuple(dict.fromkeys(n for branch in self.branches for n in branch.numbers))

    def degree(self, number: int) -> int:
        """Number of branches that a value moves."""
        return sum(number in branch.numbers for branch in self.branches)

    def known(self, values: Values) -> bool:
        """Whether all its values are known."""
        return all(values[number] is not None for number in self.values)


@dataclass(frozen=True, slots=True)
class Setup:
    """A reading in one wiring, with its circuit in every state it may be taken in."""

    reading: Reading
    meter: Meter | None
    states: tuple[State, ...]
    circuits: tuple[ReadingCircuit, ...]

    @property
    def circuit(self) -> ReadingCircuit:
        """The circuit in the first state."""
        return self.circuits[0]

    @property
    def full_scale(self) -> float | None:
        """The meter's full-scale current, ampere; None where it cannot be known."""
        return None if self.meter is None else self.meter.movement_amps

    @property
    def meter_name(self) -> str | None:
        """The meter's reference here; None where the wiring has none for it."""
        return None if self.meter is None else self.meter.name


@dataclass(frozen=True, slots=True)
class Unknown:
    """A value to be found, and the reading it is found for."""

    part: str
    number: int
    setup: Setup
    is_setting: bool

    @property
    def name(self) -> str:
        """``R46``, or ``the setting of RV41``."""
        return f"the setting of {self.part}" if self.is_setting else self.part


@dataclass(frozen=True, slots=True)
class Fitted:
    """Every solution of one unknown, the one taken first; or why there is none, and the nearest."""

    solutions: tuple[float, ...]
    why: str | None = None
    nearest: float | None = None


@dataclass(slots=True)
class Solved:
    """A wiring worked out: its network, its readings, its values as far as they can be found."""

    network: DcNetwork
    setups: dict[str, Setup]
    unknowns: list[Unknown]
    values: list[Array | None]
    found: dict[str, Fitted]
    exact: dict[str, float] = field(default_factory=dict)
    chosen: dict[str, float] = field(default_factory=dict)
    combined: dict[str, list[Combination]] = field(default_factory=dict)
    """Resistor → the best that a drawer has for it."""

    @property
    def spec(self) -> Spec:
        """The spec that it is a wiring of."""
        return self.network.spec

    @property
    def known(self) -> list[Array]:
        """Values, 1 where one is not known; only for circuits that do not contain it."""
        return filled(self.values)

    @property
    def all_known(self) -> bool:
        """Whether every value is known."""
        return all(value is not None for value in self.values)

    def values_in(self, network: DcNetwork) -> list[Array | None]:
        """The values of another network of the same wiring: as found, else as it is written."""
        own = zip(self.network.values, self.values, strict=True)
        found = {(value.part, value.name): known for value, known in own}
        both = zip(network.values, network.nominal(), strict=True)
        return [found.get((value.part, value.name), written) for value, written in both]

    def complete(self, setup: Setup) -> bool:
        """Whether a reading has a meter in circuit and all its values are known."""
        return setup.circuit.meter is not None and setup.circuit.known(self.values)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a circuit does, one number per sample.

    ``amps`` through the meter from + to -, ``insertion`` in ohm between the points of the drive,
    ``log_det`` the logarithm of what the meter's current is a fraction of: amps × exp(log_det)
    and exp(log_det), times the resistances that vary, are of first degree in each of them.
    """

    amps: Array
    insertion: Array
    log_det: Array


def answer(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    """Meter current and insertion resistance of a circuit with branches.

    NaN where a drive has no return path. Error: a few units in the last place of the larger of the
    meter's two terminal voltages, over the voltage across it.

    Source: superposition of the node equations' solutions, one per drive; a voltage drive V behind
    R into what a current drive sees as u, beside standing drives that put w across the same
    points, gives I = (V - w) / (R + u).
    """
    if circuit.meter is None or np.any(circuit.branches[circuit.meter].ohms(values) > 0.0):
        return _answer(circuit, values)
    return _through_no_resistance(circuit, values)


def _answer(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    ohms = [branch.ohms(values) for branch in circuit.branches]
    solved = _solution(circuit, ohms)
    insertion, log_det = solved.load(0, circuit.ends), solved.log_det
    if circuit.volts is not None:
        log_det = log_det + np.log(circuit.source_ohms + insertion)
    if circuit.meter is None:
        return Answer(np.zeros(insertion.shape), insertion, log_det)
    plus, minus = circuit.branches[circuit.meter].ends
    volts = _own_amps(circuit, solved) * solved.across(0, (plus, minus))
    lost = solved.lost[0, plus] | solved.lost[0, minus]
    for number, drive in enumerate(circuit.also, 1):
        volts = volts + drive.amps * solved.across(number, (plus, minus))
        lost = lost | solved.lost[number, list(drive.ends)].any(axis=0)
    # A tolerance of 100 % has a corner in which the meter is of no resistance: infinite, then.
    with np.errstate(divide="ignore", invalid="ignore"):
        amps = np.where(lost, np.nan, volts / ohms[circuit.meter])
    return Answer(amps, insertion, log_det)


def _own_amps(circuit: ReadingCircuit, solved: Solution, times: float = 1.0) -> Array:
    """What the reading's own drive gives, beside what the standing ones put across its points."""
    if circuit.volts is None:
        return np.array([(circuit.amps or 0.0) * times])
    whole, standing = circuit.source_ohms + solved.load(0, circuit.ends), np.zeros(1)
    for number, drive in enumerate(circuit.also, 1):
        standing = standing + drive.amps * solved.across(number, circuit.ends)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((circuit.volts * times - standing) / whole)


def _solution(circuit: ReadingCircuit, ohms: Sequence[Array]) -> Solution:
    """The nodes that branches or drives are on, solved for, among those of the network."""
    drives = [circuit.ends, *(drive.ends for drive in circuit.also)]
    ends = [branch.ends for branch in circuit.branches]
    nodes = list(dict.fromkeys(node for pair in (*drives, *ends) for node in pair))
    number = {node: n for n, node in enumerate(nodes)}
    own, fed = ([(number[a], number[b]) for a, b in pairs] for pairs in (ends, drives))
    solved = solve(len(nodes), own, ohms, fed, fed[0][1])
    shape = (len(drives), circuit.count, solved.volts.shape[2])
    volts, lost = np.zeros(shape), np.zeros(shape, dtype=np.bool_)
    volts[:, nodes], lost[:, nodes] = solved.volts, solved.lost
    return Solution(volts, lost, solved.log_det)


def _through_no_resistance(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    """A meter of no resistance, from what 1 Ω and 2 Ω instead of it give.

    One over the meter's current is of first degree in the meter's resistance (Thévenin), and so
    is the determinant times that resistance: both are exact.
    """
    assert circuit.meter is not None
    number = circuit.branches[circuit.meter].value
    one, two = (_answer(circuit, changed(values, number, ohms)) for ohms in (1.0, 2.0))
    none = one.amps == 0.0
    # At a stop of a pot nothing may be left in series: infinite, then, as beside a source of 0 Ω.
    with np.errstate(divide="ignore", invalid="ignore"):
        amps = np.where(none, 0.0, 1.0 / np.where(none, 1.0, 2.0 / one.amps - 1.0 / two.amps))
        log_det = one.log_det + np.log(2.0 - 2.0 * np.exp(two.log_det - one.log_det))
    unread = replace(circuit, meter=None)
    return Answer(amps, _answer(unread, changed(values, number, 0.0)).insertion, log_det)


@dataclass(frozen=True, slots=True)
class BranchFlow:
    """Ampere of a branch from its first end to its second.

    ``amps`` is None where branches of no ohms side by side share as they please; ``at_most``.
    """

    amps: float | None
    at_most: float
    volts: float


@dataclass(frozen=True, slots=True)
class Currents:
    """What flows in a circuit; nothing where it has no branches or a value is not known."""

    branches: Mapping[Branch, BranchFlow] = field(default_factory=dict)
    volts: Mapping[int, float] = field(default_factory=dict)
    """Of its nodes, against one of them."""
    amps: float | None = None
    """Of the reading's own drive."""


def flow_of(circuit: ReadingCircuit, values: Values, times: float = 1.0) -> Currents:
    """What flows at so many times full scale; nothing where a drive has no return path."""
    if not circuit.branches or not circuit.known(values):
        return Currents()
    known = filled(values)
    ohms = [float(np.ravel(branch.ohms(known))[0]) for branch in circuit.branches]
    if circuit.meter is not None and ohms[circuit.meter] == 0.0:
        ohms[circuit.meter] = TINY
    solved = _solution(circuit, [np.array([o]) for o in ohms])
    own = float(_own_amps(circuit, solved, times)[0])
    drives = [Driven(circuit.ends, own), *circuit.also]
    amps = np.array([drive.amps for drive in drives])
    if solved.lost.any() or not np.isfinite(amps).all():
        return Currents()
    left = np.zeros(circuit.count)
    for drive in drives:
        left[list(drive.ends)] += (drive.amps, -drive.amps)
    volts = np.tensordot(amps, solved.volts[:, :, 0], axes=1)
    nodes = {node for branch in circuit.branches for node in branch.ends}
    branches = _with_ties(dict(zip(circuit.branches, ohms, strict=True)), volts, left)
    return Currents(branches, {node: float(volts[node]) for node in nodes}, own)


def _with_ties(ohms: dict[Branch, float], volts: Array, left: Array) -> dict[Branch, BranchFlow]:
    """Currents by Ohm's law; without resistance by Kirchhoff's, from what nodes have left over."""
    found: dict[Branch, BranchFlow] = {}
    ties: nx.MultiGraph[int] = nx.MultiGraph()
    for branch, own in ohms.items():
        a, b = branch.ends
        drop = float(volts[a] - volts[b]) if own > _NO_OHMS else 0.0
        amps = drop / own if own > _NO_OHMS else 0.0
        found[branch] = BranchFlow(amps, abs(amps), drop)
        left[[a, b]] -= (amps, -amps)
        if own <= _NO_OHMS:
            ties.add_edge(a, b, key=branch)
    for nodes in nx.connected_components(ties):
        most = float(sum(max(left[node], 0.0) for node in nodes))
        for branch in [key for _, _, key in ties.subgraph(nodes).edges(keys=True)]:
            a, b = branch.ends  # the graph may name them the other way round
            cut = ties.subgraph(nodes).copy()
            cut.remove_edge(a, b, branch)
            side = nx.node_connected_component(cut, a)
            one_way = None if b in side else float(sum(left[node] for node in side))
            found[branch] = BranchFlow(one_way, most if one_way is None else abs(one_way), 0.0)
    return found


@dataclass(frozen=True, slots=True)
class Load:
    """What one reading puts on one part; volts are across the piece that has most of them."""

    reading: str
    watts: float
    volts: float
    amps: float

    def times(self, part: Part) -> float:
        """At most so many times this load is within the part's ratings."""
        has = {"watts": self.watts, "volts": self.volts, "amps": self.amps}
        return min(
            (
                sqrt(may / has[quantity]) if quantity == "watts" else may / has[quantity]
                for quantity, may in part.ratings
                if has[quantity]
            ),
            default=inf,
        )


def loads_of(solved: Solved, setup: Setup, times: float = 1.0) -> dict[str, Load]:
    """What so many times full scale of a reading puts on each part in its circuit."""
    by_part: dict[str, list[BranchFlow]] = {}
    for branch, flow in flow_of(setup.circuit, solved.values, times).branches.items():
        by_part.setdefault(branch.part, []).append(flow)
    return {
        part: Load(
            setup.reading.name,
            watts=sum(abs(flow.volts) * flow.at_most for flow in theirs),
            volts=max(abs(flow.volts) for flow in theirs),
            amps=max(flow.at_most for flow in theirs),
        )
        for part, theirs in by_part.items()
    }


@dataclass(frozen=True, slots=True)
class RationalForm:
    """A current as a fraction of two polynomials in one value, lowest degree first."""

    numerator: Array
    denominator: Array

    def against(self, target: float) -> Array:
        """Coefficients of numerator - target × denominator, which is 0 where it is met."""
        return np.asarray(self.numerator - target * self.denominator)

    def slope(self) -> Array:
        """Numerator of the derivative, n'd - nd', in which terms of third degree cancel."""
        n, d = self.numerator, self.denominator
        first = n[1] * d[0] - n[0] * d[1]
        if len(n) == 2:
            return np.asarray([first])
        return np.asarray([first, 2.0 * (n[2] * d[0] - n[0] * d[2]), n[2] * d[1] - n[1] * d[2]])


def rational_form(
    circuit: ReadingCircuit, values: Sequence[Array], number: int, points: Sequence[float]
) -> RationalForm:
    """The meter's current as a fraction of polynomials in the value ``number``.

    ``points`` are one more than the degree, none of them 0 (nor 1, for a setting); far from them
    the coefficients lose digits.

    Source: the determinant of the node equations is of first degree in each conductance,
    W. K. Chen, "Applied Graph Theory", 1971, from memory.
    """
    samples = max(value.shape[0] for value in values)
    at = np.repeat(np.asarray(points, dtype=float), samples)
    spread = [np.tile(v, len(points)) if v.shape[0] > 1 else v for v in values]
    spread[number] = at
    found = answer(circuit, spread)
    weight = found.log_det + weight_of(circuit, {number}, spread)
    shape = (len(points), samples)
    weight = np.broadcast_to(weight, at.shape).reshape(shape)
    below = np.exp(weight - weight.max(axis=0))
    above = np.broadcast_to(found.amps, at.shape).reshape(shape) * below
    inverse = np.linalg.inv(np.vander(np.asarray(points, dtype=float), increasing=True))
    return RationalForm(inverse @ above, inverse @ below)


def setting_form(unknown: Unknown, values: Sequence[Array]) -> RationalForm:
    """The current of a reading as a fraction of polynomials in the setting of its pot."""
    circuit = unknown.setup.circuit
    points = (0.25, 0.75) if circuit.degree(unknown.number) == 1 else (0.2, 0.5, 0.8)
    return rational_form(circuit, values, unknown.number, points)


def weight_of(circuit: ReadingCircuit, numbers: set[int], values: Sequence[Array]) -> Array:
    """Logarithm of the product of the resistances that some values move."""
    moved = (branch for branch in circuit.branches if numbers & {*branch.numbers})
    logs = (np.log(np.maximum(branch.ohms(values), TIED)) for branch in moved)
    return np.asarray(sum(logs, start=np.zeros(1)))


def roots(coefficients: Array, low: float, high: float) -> Array:
    """Real zeros, shape (2, samples), of polynomials of degree 2 or less between bounds; else NaN.

    Source: the quadratic formula in the form without cancellation (W. H. Press and others,
    "Numerical Recipes", 5.6, from memory).
    """
    missing = np.zeros((3 - len(coefficients), coefficients.shape[1]))
    c, b, a = np.concatenate([coefficients, missing])
    with np.errstate(divide="ignore", invalid="ignore"):
        half = -0.5 * (b + np.copysign(np.sqrt(b * b - 4.0 * a * c), b))
        found = np.stack([c / half, half / a])
    found[~np.isfinite(found) | (found < low) | (found > high)] = np.nan
    return found
