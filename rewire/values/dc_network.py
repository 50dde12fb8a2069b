"""The DC network of a wiring: branches between its nets, and the values that they take ohms from.

A *value* is every number that may be off, unknown or still to be found: a piece of a resistor, a
movement, a pot's track, where its wiper stands, a contact. Values are arrays of shape (samples,),
or (1,) where all samples share one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import inf

import numpy as np

from rewire.circuit.circuit import Nets, circuit_of
from rewire.circuit.dc import Array, Ends
from rewire.circuit.graph import ALWAYS, BlockTree, Joiner, Link
from rewire.circuit.roles import Roles
from rewire.records.part import Part
from rewire.records.spec import Reading, Spec, Wiring
from rewire.records.switches import Switch
from rewire.words.quantity import InSeries, Piece, Pieces, in_ohms

NO_VALUE = -1
"""In place of a value's number where a branch's ohms are given elsewhere."""
TINY = 1e-6
"""Ohm: stands for a meter of no resistance where only watts and volts are asked for."""
WORN_CONTACT = 0.02
"""Ohm: the most a contact may have after endurance, MIL-DTL-18396E 3.5.4.10 (10 mΩ new)."""
State = Mapping[str, int]
"""Control → number of its position."""
Values = Sequence[Array | None]
"""The values of a network; None where one is not known."""


@dataclass(frozen=True, slots=True)
class Value:
    """One number of a wiring that can vary on its own.

    ``nominal`` is in ohm, of a pot's setting a share from 0 to 1; None where it is not known or to
    be found. ``tolerance`` is a share of the nominal, None where none is given: unknown, never
    zero. ``most`` is what a contact may come to in the worst case instead.
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
    ``positions`` are those (bits) of ``control`` in which a contact is closed, ``contact`` names
    the group of lugs that it closes. ``lugs`` are those that it joins itself: two, or one where it
    is a leg of a larger group.
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
    """The values and branches of one wiring; ``blocked`` are parts that a DC sum takes as open.

    Nodes are its nets, and a few inside parts.
    """

    spec: Spec
    wiring: Wiring
    roles: Roles
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

    def ends(self, places: tuple[str, str]) -> Ends | None:
        """The nodes of two points of a reading or rule; None if this wiring lacks one."""
        one, other = (self.nets.of.get(self.roles.place(named) or "") for named in places)
        return None if one is None or other is None else (one, other)

    def pairs(self, reading: Reading) -> list[Ends] | None:
        """Nodes of the drive and of the standing drives; None if a point is missing here."""
        found = [self.ends(p) for p in (reading.places, *(drive.places for drive in reading.also))]
        known = [ends for ends in found if ends is not None]
        return known if len(known) == len(found) else None

    @property
    def chassis(self) -> int | None:
        """The node of the chassis; None where no point is said to be it."""
        points = self.spec.points.values()
        return next((self.node(point.name) for point in points if point.chassis), None)

    def full_state(self, state: State) -> dict[str, int]:
        """A reading's state completed by the first positions of the other controls."""
        return {name: state.get(name, 0) for name in self.spec.controls}

    def numbered(self, state: Mapping[str, str]) -> dict[str, int]:
        """A state with the numbers of its positions for their names."""
        return {n: self.spec.controls[n].positions.index(at) for n, at in state.items()}

    def positions_said(self, state: State) -> str:
        """``RANGE at 500 V, METER at HT``."""
        controls = self.spec.controls
        return ", ".join(f"{name} at {controls[name].positions[at]}" for name, at in state.items())

    def fixed(self, reading: Reading, state: State) -> dict[str, str]:
        """Position of each control that a reading fixes."""
        controls, when = self.spec.controls, reading.when
        return {name: controls[name].positions[at] for name, at in state.items() if name in when}

    def contacts(self, state: State) -> list[Branch]:
        """The contacts that are closed in a state."""
        return [b for b in self.branches if b.control is not None and b.closed(state)]

    def ties(self, state: State) -> Joiner:
        """Nodes that contacts connect in a state."""
        return self.joined(branch.ends for branch in self.contacts(state))

    def joined(self, pairs: Iterable[Ends]) -> Joiner:
        """Nodes that some pairs of them connect."""
        joiner = Joiner(self.count)
        for ends in pairs:
            joiner.join(ends)
        return joiner

    def controls_between(self, pairs: Iterable[Ends]) -> set[str]:
        """Controls with a contact on some route between the nodes of any pair."""
        on_routes = Routes([*self.branches, *self.blocked]).between(pairs)
        return {branch.control for branch in on_routes if branch.control is not None}

    def new_node(self) -> int:
        """One more node, inside a part or a group of contacts."""
        self.count += 1
        return self.count - 1

    def add(self, value: Value) -> int:
        """One more value; its number."""
        self.values.append(value)
        return len(self.values) - 1

    def add_branch(self, name: str, ends: Ends, ohms: float, tolerance: float = 0.0) -> int:
        """One more branch of so many ohms; its number."""
        self.branches.append(Branch(name, ends, self.add(Value(name, name, ohms, tolerance))))
        return len(self.branches) - 1

    def copy(self) -> DcNetwork:
        """The same, to be changed on its own."""
        return replace(self, values=list(self.values), branches=list(self.branches))

    def nominal(self) -> list[Array | None]:
        """Nominal values as arrays of shape (1,), None where one is not known."""
        return [None if v.nominal is None else np.array([float(v.nominal)]) for v in self.values]

    def of_part(self, part: str) -> list[int]:
        """Numbers of the values of a part, the setting of a pot last."""
        return [number for number, value in enumerate(self.values) if value.part == part]

    def parts_of(self, numbers: Iterable[int]) -> tuple[str, ...]:
        """The parts that some values belong to, each once."""
        return tuple(dict.fromkeys(self.values[n].part for n in numbers))


class Routes:
    """The routes over some branches; one with both ends on one node links nothing."""

    def __init__(self, branches: Iterable[Branch]) -> None:
        self._branches = tuple(b for b in branches if b.ends[0] != b.ends[1])
        self._tree = BlockTree([Link(n, (), b.ends, 0) for n, b in enumerate(self._branches)])
        self.linked = self._tree.linked

    def between(self, pairs: Iterable[Ends]) -> list[Branch]:
        """Branches on some route between the two nodes of any pair."""
        numbers = {link.contact for pair in pairs for link in self._tree.between(pair)}
        return [self._branches[number] for number in sorted(numbers)]


def filled(values: Values, ohms: float = 1.0) -> list[Array]:
    """Values with a number for what is not known."""
    return [np.array([ohms]) if value is None else value for value in values]


def changed(values: Sequence[Array], number: int, ohms: float) -> list[Array]:
    """Values with one of them another."""
    other = list(values)
    other[number] = np.array([ohms])
    return other


def dc_network_of(
    spec: Spec, wiring: Wiring, roles: Roles, leads: Mapping[str, float] | None = None
) -> DcNetwork:
    """A wiring as branches between its nets.

    ``leads`` are wires, by their ids, that are branches of so many ohms; the others join.
    """
    own = leads or {}
    bare = replace(wiring, wires=tuple(w for w in wiring.wires if w.id not in own))
    circuit = circuit_of(spec, bare if own else wiring)
    network = DcNetwork(spec, wiring, roles, circuit.nets, circuit.parts, len(circuit.nets.members))
    for part in network.parts.values():
        _add_part(network, part)
    for wire in wiring.wires:
        if wire.id in own:
            ends = network.node(wire.ends[0]), network.node(wire.ends[1])
            network.add_branch(wire.named, ends, own[wire.id])
    switches = spec.all_of(Switch, wiring)
    for link in circuit.links:
        contact = circuit.contacts[link.contact]
        nodes = [contact.place[lug] for lug in link.lugs]
        network.branches.extend(_contact(network, switches[contact.switch], link, nodes))
    return network


def bench_network(spec: Spec, wiring: Wiring, roles: Roles) -> DcNetwork:
    """A wiring on which any one thing can fail: wires are branches, what blocks DC an open one."""
    network = dc_network_of(spec, wiring, roles, {wire.id: 0.0 for wire in wiring.wires})
    blocked, network.blocked = network.blocked, []
    for branch in blocked:
        network.add_branch(branch.part, branch.ends, inf)
    return network


def _add_part(network: DcNetwork, part: Part) -> None:
    """The branches of a part: one for each piece, two for a pot, none that count for a diode."""
    nodes, off = network.nodes_of(part), None
    if part.legs and (percent := part.legs[0].tolerance_percent) is not None:
        off = percent / 100.0
    if part.open_in_sums:
        network.blocked.append(Branch(part.name, (nodes[0], nodes[1]), NO_VALUE))
    elif part.track_ohms is not None:
        whole = network.add(Value(part.name, part.name, part.track_ohms, off))
        at = None if part.setting_percent is None else part.setting_percent / 100.0
        share = network.add(Value(f"{part.name} setting", part.name, at, is_setting=True))
        network.branches.append(Branch(part.name, (nodes[0], nodes[1]), whole, share))
        network.branches.append(Branch(part.name, (nodes[1], nodes[2]), whole, share, upper=True))
    elif part.pieces is not None:
        _add_pieces(network, part, part.pieces, (nodes[0], nodes[1]), off)
    else:
        for leg in part.legs:
            value = network.add(Value(part.name, part.name, leg.ohms, off, leg.most_ohms))
            network.branches.append(Branch(part.name, (nodes[0], nodes[1]), value))


def _add_pieces(
    network: DcNetwork, part: Part, pieces: Pieces, ends: Ends, off: float | None
) -> None:
    if isinstance(pieces, Piece):
        name = part.name if pieces is part.pieces else f"{part.name} ({in_ohms(pieces.ohms)})"
        value = network.add(Value(name, part.name, pieces.ohms, off))
        network.branches.append(Branch(part.name, ends, value))
        return
    stops = [ends[0], *(network.new_node() for _ in pieces.items[1:]), ends[1]]
    pairs = list(pairwise(stops)) if isinstance(pieces, InSeries) else [ends] * len(pieces.items)
    for item, pair in zip(pieces.items, pairs, strict=True):
        _add_pieces(network, part, item, pair, off)


def _contact(
    network: DcNetwork, switch: Switch, link: Link, nodes: Sequence[int]
) -> Iterator[Branch]:
    """A closed group: one branch for two lugs, else a star with half a contact for each lug."""
    terminals, stated = [switch.terminal(lug) for lug in link.lugs], switch.contact_resistance
    name, share = "–".join(terminals), 1.0
    legs = [((nodes[0], nodes[1]), name, tuple(terminals))]
    if len(nodes) > 2:
        centre, share = network.new_node(), 0.5
        named = zip(nodes, terminals, strict=True)
        legs = [((node, centre), f"{lug} in {name}", (lug,)) for node, lug in named]
    worn = share * WORN_CONTACT if stated is None else None
    for ends, leg, lugs in legs:
        value = network.add(Value(leg, switch.name, share * (stated or 0.0), most=worn))
        yield Branch(
            switch.name, ends, value, control=switch.control, positions=link.positions,
            section=link.contact, contact=name, lugs=lugs,
        )  # fmt: skip


def ceiling(spec: Spec, places: tuple[str, str]) -> float:
    """The most volts that can stand between two points; infinite where that is not known.

    Known are the chassis and points with ``rises_to``.

    Source: a point stands anywhere from 0 to what it rises to, either way round if that is AC.
    Its source resistance would lower the current further and is not counted on.
    """
    spans = []
    for point in map(spec.points.get, places):
        if point is None or (point.rises_to is None and not point.chassis):
            return inf
        stands = (0.0,) if point.chassis else (0.0, point.volts or 0.0, point.rises_to or 0.0)
        most = max(map(abs, stands))
        spans.append((-most, most) if point.ac else (min(stands), max(stands)))
    (low, high), (other_low, other_high) = spans
    return max(high - other_low, other_high - low)
