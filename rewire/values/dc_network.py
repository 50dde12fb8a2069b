"""The DC network of a wiring, and the circuit of a reading in it: what they are and what flows.

Every number that may be off, unknown or still to be found is a *value*: a piece of a resistor, a
movement, a pot's end-to-end resistance, where its wiper stands, a contact. A branch takes its
ohms from a value, a pot's leg from two of them. Values are arrays of shape (samples,), or (1,)
where all samples share one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

import networkx as nx
import numpy as np

from rewire.circuit.circuit import Nets
from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.circuit.graph import ALWAYS
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Point, Reading, Spec, Wiring

NO_VALUE = -1
"""In place of a value's number where a branch's ohms are given elsewhere."""
TINY = 1e-6
"""Ohm: stands for a meter of no resistance where only watts and volts are asked for."""
_NONE = 1e-20
State = Mapping[str, int]
"""Control → number of its position."""
Values = Sequence[Array | None]
"""The values of a network; None where one is not known."""


@dataclass(frozen=True, slots=True)
class Value:
    """One number of a wiring that can vary on its own.

    ``nominal`` is in ohm, or a share from 0 to 1 for the setting of a pot; None where it is not
    known or to be found. ``tolerance`` is a share of the nominal, None where none is given:
    unknown, never zero. ``most`` is what a contact may come to in the worst case instead.
    """

    name: str
    part: str
    nominal: float | None
    tolerance: float | None = 0.0
    most: float | None = None
    is_setting: bool = False

    def low(self, nominal: float) -> float:
        """Least it may be, as far as is known."""
        return nominal * (1.0 - (self.tolerance or 0.0))

    def high(self, nominal: float) -> float:
        """Most it may be, as far as is known."""
        return nominal * (1.0 + (self.tolerance or 0.0)) if self.most is None else self.most


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance between two nodes.

    ``share`` is the value that sets a pot's leg, ``upper`` tells the leg from wiper to cw.
    ``positions`` are the positions (bits) of ``control`` in which a contact is closed, and
    ``contact`` names the group of lugs that it closes. ``lugs`` are those that it joins itself:
    two, or one where it is a leg of a larger group.
    """

    part: str
    ends: Ends
    value: int
    share: int | None = None
    upper: bool = False
    control: str | None = None
    positions: int = ALWAYS
    section: int = -1
    contact: str = ""
    lugs: tuple[str, ...] = ()

    @property
    def numbers(self) -> tuple[int, ...]:
        """Numbers of the values that its ohms are taken from."""
        return (self.value,) if self.share is None else (self.value, self.share)

    def ohms(self, values: Sequence[Array]) -> Array:
        """Its resistance, ohm, from all values of the network; shapes broadcast."""
        whole = values[self.value]
        if self.share is None:
            return whole
        return whole * (1.0 - values[self.share] if self.upper else values[self.share])

    def known(self, values: Values) -> bool:
        """Whether all that its ohms are taken from is known."""
        return self.value != NO_VALUE and all(values[n] is not None for n in self.numbers)

    def closed(self, state: State) -> bool:
        """Whether it conducts with the controls at these positions; of others nothing is closed."""
        if self.control is None:
            return True
        return self.control in state and bool(self.positions >> state[self.control] & 1)


@dataclass(slots=True)
class DcNetwork:
    """The values and branches of one wiring. Nodes are its nets, and a few inside parts.

    ``blocked`` are the parts that a DC sum takes as open: diodes and capacitors.
    """

    spec: Spec
    wiring: Wiring
    nets: Nets
    parts: Mapping[str, Part]
    count: int
    values: list[Value] = field(default_factory=list)
    branches: list[Branch] = field(default_factory=list)
    blocked: list[Branch] = field(default_factory=list)

    def node(self, terminal: str) -> int:
        """The node of a terminal or point."""
        return self.nets.of[terminal]

    def nodes_of(self, part: Part) -> list[int]:
        """The nodes of all terminals of a part."""
        return [self.nets.of[terminal] for terminal in part.full_terminals]

    def place(self, named: str) -> int | None:
        """The node of a place of a reading or rule; None if the wiring has no such place."""
        own = roles_between(self.spec, self.wiring).place(named)
        return self.nets.of.get(own) if own else None

    def ends(self, places: tuple[str, str]) -> Ends | None:
        """The nodes of two places; None if one is missing in this wiring."""
        one, other = map(self.place, places)
        return None if one is None or other is None else (one, other)

    def pairs(self, reading: Reading) -> list[Ends] | None:
        """Nodes of the drive and of the standing drives; None if a place is missing here."""
        named = [reading.places, *(drive.places for drive in reading.also)]
        known = [ends for places in named if (ends := self.ends(places)) is not None]
        return known if len(known) == len(named) else None

    @property
    def chassis(self) -> int | None:
        """The node of the chassis; None where no point is said to be it."""
        points = self.spec.points.values()
        return next((self.node(point.name) for point in points if point.chassis), None)

    def full_state(self, state: State) -> dict[str, int]:
        """A reading's state completed by the first positions of the other controls."""
        return {name: state.get(name, 0) for name in self.spec.controls}

    def new_node(self) -> int:
        """One more node, inside a part or a group of contacts."""
        self.count += 1
        return self.count - 1

    def add(self, value: Value) -> int:
        """One more value; its number."""
        self.values.append(value)
        return len(self.values) - 1

    def add_branch(self, name: str, ends: Ends, ohms: float) -> int:
        """One more branch of so many ohms, exactly; its number."""
        self.branches.append(Branch(name, ends, self.add(Value(name, name, ohms))))
        return len(self.branches) - 1

    def copy(self) -> DcNetwork:
        """The same, to be changed on its own."""
        return replace(self, values=list(self.values), branches=list(self.branches))

    def nominal(self) -> list[Array | None]:
        """Nominal values as arrays of shape (1,), None where one is not known."""
        return [
            None if v.nominal is None else np.array([v.nominal], dtype=float) for v in self.values
        ]

    def of_part(self, part: str) -> list[int]:
        """Numbers of the values of a part, the setting of a pot last."""
        return [number for number, value in enumerate(self.values) if value.part == part]

    def parts_of(self, numbers: Iterable[int]) -> tuple[str, ...]:
        """The parts that some values belong to, each once."""
        return tuple(dict.fromkeys(self.values[n].part for n in numbers))


@dataclass(frozen=True, slots=True)
class Driven:
    """Standing current between two nodes, ampere."""

    ends: Ends
    amps: float


@dataclass(frozen=True, slots=True)
class ReadingCircuit:
    """Branches that can carry a reading, its drives and its meter.

    ``meter`` is the index of the meter's branch, None if its current is known without a sum: 0 if
    ``blind`` is false, unknown if it is true; ``why`` says so. ``branches`` is empty where the
    drive finds no way, or needs none. ``felt`` is whether its own drive flows through branches;
    else the standing ones alone do. ``nodes`` gives for each of its nodes the network's.
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
    nodes: tuple[int, ...] = ()
    felt: bool = True

    @property
    def values(self) -> tuple[int, ...]:
        """Numbers of the values its branches take their ohms from."""
        return tuple(dict.fromkeys(n for branch in self.branches for n in branch.numbers))

    def degree(self, number: int) -> int:
        """Number of branches that a value moves."""
        return sum(number in branch.numbers for branch in self.branches)


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
    """What came of one unknown: every solution, the one taken first; or why there is none.

    ``nearest`` is what comes nearest where there is no solution.
    """

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

    @property
    def spec(self) -> Spec:
        """What it is a wiring of."""
        return self.network.spec

    @property
    def known(self) -> list[Array]:
        """Values with 1 for what is not known; for circuits that have none of these."""
        return filled(self.values)

    @property
    def all_known(self) -> bool:
        """Whether every value is known."""
        return all(value is not None for value in self.values)

    def complete(self, setup: Setup) -> bool:
        """Whether a reading has a meter in circuit and all its values are known."""
        used = setup.circuit.values
        return setup.circuit.meter is not None and all(self.values[n] is not None for n in used)


def filled(values: Values, ohms: float = 1.0) -> list[Array]:
    """Values with a number for what is not known."""
    return [np.array([ohms]) if value is None else value for value in values]


def changed(values: Sequence[Array], number: int, ohms: float) -> list[Array]:
    """Values with one of them another."""
    other = list(values)
    other[number] = np.array([ohms])
    return other


@dataclass(frozen=True, slots=True)
class Answer:
    """What a circuit does, one number per sample.

    ``amps`` through the meter from + to -, ``insertion`` in ohm between the places of the drive,
    ``log_det`` the logarithm of what the meter's current is a fraction of: amps × exp(log_det)
    and exp(log_det), times the resistances that vary, are of first degree in each of them.
    """

    amps: Array
    insertion: Array
    log_det: Array


def answer(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    """Meter current and insertion resistance of a circuit with branches.

    NaN where a drive has no way back.

    Error: a few units in the last place of the larger of the meter's two terminal
    voltages, over the voltage across it.

    Source: superposition of the node equations' solutions, one per drive; a
    voltage drive V behind R into what a current drive I sees as u, beside standing
    drives that give w across the same places: I = (V - w) / (R + u).
    """
    if circuit.meter is None or np.any(circuit.branches[circuit.meter].ohms(values) > 0.0):
        return _answer(circuit, values)
    return _through_no_resistance(circuit, values)


def _answer(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    ohms = [branch.ohms(values) for branch in circuit.branches]
    solved = _solution(circuit, ohms)
    insertion = np.where(solved.lost[0, circuit.ends[0]], np.inf, solved.across(0, circuit.ends))
    own, log_det = np.array([circuit.amps or 0.0]), solved.log_det
    if circuit.volts is not None:
        standing: Array = np.zeros(1)
        for number, drive in enumerate(circuit.also, 1):
            standing = standing + drive.amps * solved.across(number, circuit.ends)
        whole = circuit.source_ohms + insertion
        own, log_det = (circuit.volts - standing) / whole, log_det + np.log(whole)
    if circuit.meter is None:
        return Answer(np.zeros(insertion.shape), insertion, log_det)
    plus, minus = circuit.branches[circuit.meter].ends
    volts = own * solved.across(0, (plus, minus))
    lost = solved.lost[0, plus] | solved.lost[0, minus]
    for number, drive in enumerate(circuit.also, 1):
        volts = volts + drive.amps * solved.across(number, (plus, minus))
        lost = lost | solved.lost[number, list(drive.ends)].any(axis=0)
    # A tolerance of 100 % has a corner in which the meter is of no resistance: infinite, then.
    with np.errstate(divide="ignore", invalid="ignore"):
        amps = np.where(lost, np.nan, volts / ohms[circuit.meter])
    return Answer(amps, insertion, log_det)


def _solution(circuit: ReadingCircuit, ohms: Sequence[Array]) -> Solution:
    drives = [circuit.ends, *(drive.ends for drive in circuit.also)]
    ends = [branch.ends for branch in circuit.branches]
    return solve(circuit.count, ends, ohms, drives, circuit.ends[1])


def _through_no_resistance(circuit: ReadingCircuit, values: Sequence[Array]) -> Answer:
    """A meter of no resistance, from what 1 Ω and 2 Ω in its place give.

    One over the meter's current is of first degree in the meter's resistance
    (Thévenin), and so is the determinant times that resistance: both are exact.
    """
    assert circuit.meter is not None
    number = circuit.branches[circuit.meter].value
    one, two = (_answer(circuit, changed(values, number, ohms)) for ohms in (1.0, 2.0))
    none = one.amps == 0.0
    # At a stop of a pot nothing may be left in series: infinite, then, as beside a source of 0 Ω.
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = np.where(none, 1.0, 2.0 / one.amps - 1.0 / two.amps)
        amps = np.where(none, 0.0, 1.0 / whole)
        log_det = one.log_det + np.log(2.0 - 2.0 * np.exp(two.log_det - one.log_det))
    unread = replace(circuit, meter=None)
    return Answer(amps, _answer(unread, changed(values, number, 0.0)).insertion, log_det)


@dataclass(frozen=True, slots=True)
class BranchFlow:
    """What one branch carries, ampere from its first end to its second.

    ``amps`` is None where the law of currents leaves it open: branches without
    resistance side by side share as they please, ``at_most`` all of it.
    """

    amps: float | None
    at_most: float
    volts: float


def flows(circuit: ReadingCircuit, values: Values, times: float = 1.0) -> list[BranchFlow] | None:
    """What each branch carries at so many times full scale of the reading; standing drives stay.

    None where the circuit has no branches, a value is missing or a drive has no way back.

    Source: Kirchhoff's current law at the nodes that branches of no resistance join.
    """
    if not circuit.branches or any(values[n] is None for n in circuit.values):
        return None
    known = filled(values)
    ohms = [float(np.ravel(branch.ohms(known))[0]) for branch in circuit.branches]
    if circuit.meter is not None and ohms[circuit.meter] == 0.0:
        ohms[circuit.meter] = TINY
    solved = _solution(circuit, [np.array([o]) for o in ohms])
    own = (circuit.amps or 0.0) * times
    if circuit.volts is not None:
        across = [float(solved.across(n, circuit.ends)[0]) for n in range(len(circuit.also) + 1)]
        whole = circuit.source_ohms + across[0]
        others = sum(d.amps * u for d, u in zip(circuit.also, across[1:], strict=True))
        own = (circuit.volts * times - others) / whole if whole else np.inf
    drives = [Driven(circuit.ends, own), *circuit.also]
    amps = np.array([drive.amps for drive in drives])
    if solved.lost.any() or not np.isfinite(amps).all():
        return None
    left = np.zeros(circuit.count)
    for drive in drives:
        left[list(drive.ends)] += (drive.amps, -drive.amps)
    volts = np.tensordot(amps, solved.volts[:, :, 0], axes=1)
    return _with_ties([branch.ends for branch in circuit.branches], ohms, volts, left)


def _with_ties(
    ends: Sequence[Ends], ohms: Sequence[float], volts: Array, left: Array
) -> list[BranchFlow]:
    """Currents by Ohm's law; without resistance, from what is left over at the nodes."""
    found: dict[int, BranchFlow] = {}
    ties: nx.MultiGraph[int] = nx.MultiGraph()
    for number, (a, b) in enumerate(ends):
        drop = float(volts[a] - volts[b])
        amps = drop / ohms[number] if ohms[number] > _NONE else 0.0
        found[number] = BranchFlow(amps, abs(amps), drop if ohms[number] > _NONE else 0.0)
        left[[a, b]] -= (amps, -amps) if a != b else (0.0, 0.0)
        if ohms[number] <= _NONE and a != b:
            ties.add_edge(a, b, key=number)
    for nodes in nx.connected_components(ties):
        most = float(sum(max(left[node], 0.0) for node in nodes))
        for number in [key for _, _, key in ties.subgraph(nodes).edges(keys=True)]:
            a, b = ends[number]  # the graph may name them the other way round
            cut = ties.subgraph(nodes).copy()
            cut.remove_edge(a, b, number)
            side = nx.node_connected_component(cut, a)
            one_way = None if b in side else float(sum(left[node] for node in side))
            at_most = most if one_way is None else abs(one_way)
            found[number] = BranchFlow(one_way, at_most, 0.0)
    return [found[number] for number in range(len(ends))]


def ceiling(spec: Spec, places: tuple[str, str]) -> float:
    """The most volts that can stand between two places, as far as the spec says.

    Of the chassis and of points with ``rises_to``; of any other place, and of a point that does
    not say what it rises to, nothing is known and there is no ceiling.

    Source: a point stands anywhere from 0 to what it rises to, either way round if that is AC.
    Its source resistance would lower the current further and is not counted on.
    """
    spans = [span for place in places if (span := _span(spec.points.get(place)))]
    if len(spans) < 2:
        return inf
    (low, high), (other_low, other_high) = spans
    return max(high - other_low, other_high - low)


def _span(point: Point | None) -> tuple[float, float] | None:
    if point and point.chassis:
        return 0.0, 0.0
    if point is None or point.rises_to is None:
        return None
    stands = (0.0, point.volts or 0.0, point.rises_to)
    most = max(map(abs, stands))
    return (-most, most) if point.ac else (min(stands), max(stands))
