"""The board: one wiring as branches of so many ohms between numbered nodes.

Every number that may be off, unknown or still to be found is a *value*: a piece
of a resistor, a movement, a pot's end-to-end resistance, where its wiper stands,
a contact. A branch takes its ohms from a value, a pot's leg from two of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import inf

import numpy as np

from rewire.circuit.circuit import ContactGraph, Nets, circuit_of, contacts_on, gather
from rewire.circuit.dc import Array
from rewire.circuit.graph import ALWAYS, Link
from rewire.records.spec import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    InSeries,
    Lamp,
    Meter,
    Part,
    Piece,
    Pieces,
    Pot,
    Resistor,
    Spec,
    Switch,
    Wiring,
)
from rewire.words.quantity import in_ohms

WORN_CONTACT = 0.02
"""Ohm: the most a contact may have after endurance, MIL-DTL-18396E 3.5.4.10 (10 mΩ new)."""

_FUSE_DROPS = ((0.05, 10.0), (0.1, 5.0), (0.25, 2.0), (0.5, 1.3), (1.0, 0.65))
"""Rated ampere, up to which a fuse drops so many volts: IEC 60127-2, from memory, rounded up."""
_LARGE_FUSE_DROP = 0.25


def most_fuse_ohms(rated_amps: float) -> float:
    """The most ohms that a fuse of a rating may have: its largest drop over its rated current.

    >>> most_fuse_ohms(0.01), most_fuse_ohms(1.0), most_fuse_ohms(5.0)
    (1000.0, 0.65, 0.05)
    """
    drop = next((v for amps, v in _FUSE_DROPS if rated_amps <= amps), _LARGE_FUSE_DROP)
    return drop / rated_amps


NO_VALUE = -1
"""In place of a value's number where a branch's ohms are given elsewhere."""


@dataclass(frozen=True, slots=True)
class Value:
    """One number of a wiring that can vary on its own.

    ``nominal`` is in ohm, or a share from 0 to 1 for the setting of a pot; None
    where it is not known or to be found. ``tolerance`` is a share of the nominal,
    None where none is given: unknown, never zero. ``most`` is what a contact may come
    to in the worst case instead.
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

    ``share`` is the value that sets a pot's leg, ``upper`` tells the leg from
    wiper to cw. ``positions`` are the positions (bits) of ``control`` in which a
    contact is closed.
    """

    part: str
    ends: tuple[int, int]
    value: int
    share: int | None = None
    upper: bool = False
    control: str | None = None
    positions: int = ALWAYS
    section: int = -1
    contact: str = ""
    """The group of lugs that it closes, a contact's alone."""

    def ohms(self, values: Sequence[Array]) -> Array:
        """Its resistance, ohm, from all values of the board; shapes broadcast."""
        whole = values[self.value]
        if self.share is None:
            return whole
        return whole * (1.0 - values[self.share] if self.upper else values[self.share])

    def closed(self, state: dict[str, int]) -> bool:
        """Whether it conducts with the controls at these positions."""
        return self.control is None or bool(self.positions >> state[self.control] & 1)


@dataclass(slots=True)
class Board:
    """The values and branches of one wiring. Nodes are its nets, and a few inside parts."""

    spec: Spec
    wiring: Wiring
    nets: Nets
    parts: dict[str, Part]
    count: int
    values: list[Value] = field(default_factory=list)
    branches: list[Branch] = field(default_factory=list)
    blocked: list[tuple[str, int, int]] = field(default_factory=list)
    """Parts that a DC sum takes as open: diodes and capacitors, with their nodes."""

    def node(self, terminal: str) -> int:
        """The node of a terminal or point."""
        return self.nets.of[terminal]

    def new_node(self) -> int:
        """One more node, inside a part or a group of contacts."""
        self.count += 1
        return self.count - 1

    def add(self, value: Value) -> int:
        """One more value; its number."""
        self.values.append(value)
        return len(self.values) - 1

    def nominal(self) -> list[Array | None]:
        """Nominal values as arrays of shape (1,), None where one is not known."""
        return [
            None if v.nominal is None else np.array([v.nominal], dtype=float) for v in self.values
        ]

    def with_branch(self, name: str, ends: tuple[int, int], ohms: float) -> Board:
        """The same with one more branch of so many ohms, exactly; its value is the last."""
        more = Value(name, name, ohms)
        branch = Branch(name, ends, len(self.values))
        return replace(self, values=[*self.values, more], branches=[*self.branches, branch])

    def of_part(self, part: str) -> list[int]:
        """Numbers of the values of a part, the setting of a pot last."""
        return [number for number, value in enumerate(self.values) if value.part == part]


def board_of(spec: Spec, wiring: Wiring) -> Board:
    """A wiring as branches; its nodes are its nets."""
    board = _empty(spec, wiring, circuit_of(spec, wiring).nets)
    for part in board.parts.values():
        _add_part(board, part)
    _add_contacts(board)
    return board


def bench_board(spec: Spec, wiring: Wiring) -> Board:
    """A wiring as branches in which each wire is one too, and what blocks DC is an open one.

    On it any one thing can be opened or shorted. Nodes are terminals, joined by
    net lists and ``between`` alone.
    """
    joints = [net.members for net in wiring.nets]
    for part in spec.parts_of(wiring).values():
        if part.between is not None:
            joints += [
                (part.terminal(t), p) for t, p in zip(part.terminals, part.between, strict=True)
            ]
    names = list(circuit_of(spec, wiring).terminals)
    board = _empty(spec, wiring, gather(names, joints))
    for part in board.parts.values():
        _add_part(board, part)
    for blocked, one, other in board.blocked:
        value = board.add(Value(blocked, blocked, inf))
        board.branches.append(Branch(blocked, (one, other), value))
    for wire in wiring.wires:
        name = f"{'jumper' if wire.jumper else 'wire'} {wire.id}"
        ends = board.node(wire.ends[0]), board.node(wire.ends[1])
        board.branches.append(Branch(name, ends, board.add(Value(name, name, 0.0))))
    _add_contacts(board)
    return board


def leaded_board(spec: Spec, wiring: Wiring) -> Board | None:
    """A wiring as branches, wires of known length and gauge among them; None if there are none."""
    leads = {wire.id: ohms for wire in wiring.wires if (ohms := wire.ohms)}
    if not leads:
        return None
    bare = replace(wiring, wires=tuple(w for w in wiring.wires if w.id not in leads))
    board = _empty(spec, wiring, circuit_of(spec, bare).nets)
    for part in board.parts.values():
        _add_part(board, part)
    _add_contacts(board)
    for wire in wiring.wires:
        if wire.id in leads:
            ends = board.node(wire.ends[0]), board.node(wire.ends[1])
            value = board.add(Value(f"wire {wire.id}", f"wire {wire.id}", leads[wire.id]))
            board.branches.append(Branch(f"wire {wire.id}", ends, value))
    return board


def _empty(spec: Spec, wiring: Wiring, nets: Nets) -> Board:
    return Board(spec, wiring, nets, spec.parts_of(wiring), len(nets.members))


def _add_part(board: Board, part: Part) -> None:
    ends = [board.node(part.terminal(lug)) for lug in part.terminals]
    if isinstance(part, Resistor):
        _add_resistor(board, part, (ends[0], ends[1]))
    elif isinstance(part, Pot):
        _add_pot(board, part, ends)
    elif isinstance(part, Diode | Capacitor):
        board.blocked.append((part.name, ends[0], ends[1]))
    elif part.passes_dc:
        value = board.add(_two_terminal(part))
        board.branches.append(Branch(part.name, (ends[0], ends[1]), value))


def _two_terminal(part: Part) -> Value:
    if isinstance(part, Meter):
        off = _share(part.resistance_tolerance_percent)
        return Value(part.name, part.name, part.resistance, off)
    if isinstance(part, Fuse):
        most = None if part.resistance_stated else most_fuse_ohms(part.rated_amps)
        return Value(part.name, part.name, part.resistance, most=most)
    if isinstance(part, Choke):
        return Value(part.name, part.name, part.resistance)
    if isinstance(part, Lamp):
        amps = part.rated_amps
        return Value(part.name, part.name, part.rated_volts / amps if amps else None)
    raise TypeError(f"{part.kind} is not a part of two terminals with a resistance")


def _add_resistor(board: Board, part: Resistor, ends: tuple[int, int]) -> None:
    off = _share(part.tolerance_percent)
    if part.pieces is None or isinstance(part.pieces, Piece):
        ohms = None if part.pieces is None else part.pieces.ohms
        value = board.add(Value(part.name, part.name, ohms, off))
        board.branches.append(Branch(part.name, ends, value))
        return
    _add_pieces(board, part.name, part.pieces, ends, off)


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0


def _add_pieces(
    board: Board, name: str, pieces: Pieces, ends: tuple[int, int], off: float | None
) -> None:
    if isinstance(pieces, Piece):
        value = board.add(Value(f"{name} ({in_ohms(pieces.ohms)})", name, pieces.ohms, off))
        board.branches.append(Branch(name, ends, value))
    elif isinstance(pieces, InSeries):
        inner = [board.new_node() for _ in pieces.items[1:]]
        stops = [ends[0], *inner, ends[1]]
        for item, one, other in zip(pieces.items, stops, stops[1:], strict=False):
            _add_pieces(board, name, item, (one, other), off)
    else:
        for item in pieces.items:
            _add_pieces(board, name, item, ends, off)


def _add_pot(board: Board, part: Pot, ends: Sequence[int]) -> None:
    ccw, wiper, cw = ends
    off = _share(part.tolerance_percent)
    whole = board.add(Value(part.name, part.name, part.ohms, off))
    at = None if part.setting_percent is None else part.setting_percent / 100.0
    share = board.add(Value(f"{part.name} setting", part.name, at, is_setting=True))
    board.branches.append(Branch(part.name, (ccw, wiper), whole, share))
    board.branches.append(Branch(part.name, (wiper, cw), whole, share, upper=True))


def _add_contacts(board: Board) -> None:
    contacts = contacts_on(board.spec, board.spec.all_of(Switch, board.wiring).values(), board.nets)
    for link in ContactGraph(contacts).links:
        switch = board.parts[contacts[link.contact].switch]
        if isinstance(switch, Switch):
            place = contacts[link.contact].place
            nodes = [place[lug] for lug in link.lugs]
            board.branches.extend(_contact(board, switch, link, nodes))


def _contact(board: Board, switch: Switch, link: Link, nodes: Sequence[int]) -> Iterator[Branch]:
    """The branches of a closed group, each with a value of its own."""
    stated = switch.contact_resistance
    ohms, most = (0.0, WORN_CONTACT) if stated is None else (stated, None)
    name = "–".join(f"{switch.name}.{lug}" for lug in link.lugs)
    legs = contact_legs(board, nodes)
    for lug, (ends, share) in zip(link.lugs, legs, strict=False):
        leg = name if len(legs) == 1 else f"{switch.name}.{lug} in {name}"
        worn = None if most is None else share * most
        value = board.add(Value(leg, switch.name, share * ohms, most=worn))
        yield _contact_branch(switch, link, ends, value, name)


def contact_legs(board: Board, nodes: Sequence[int]) -> list[tuple[tuple[int, int], float]]:
    """A closed group: one branch for two lugs, else a star with half a contact per lug.

    Each with its two nodes and its share of a contact's ohms.
    """
    if len(nodes) == 2:
        return [((nodes[0], nodes[1]), 1.0)]
    centre = board.new_node()
    return [((node, centre), 0.5) for node in nodes]


def _contact_branch(
    switch: Switch, link: Link, ends: tuple[int, int], value: int, contact: str
) -> Branch:
    return Branch(
        switch.name,
        ends,
        value,
        control=switch.control,
        positions=link.positions,
        section=link.contact,
        contact=contact,
    )
