"""A wiring as an ohmmeter sees it: places, what joins them, and what lies between them.

Every terminal is a node of its own, so that any one wire, landing or lug can be
wrong. Contacts and wires have no ohms.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.circuit import circuit_of
from rewire.circuit.dc import Array
from rewire.circuit.graph import Joiner
from rewire.circuit.states import LimitReached
from rewire.records.parts import COLD
from rewire.records.spec import Lamp, Meter, Pot, Spec, Switch, Wiring
from rewire.values.dc_network import DcNetwork
from rewire.values.readings import bench_network, tried
from rewire.values.solved import solved_of

Ends = tuple[int, int]
State = Mapping[str, str]

MOST_PLACES = 20_000
_SAMPLES = 2
"""Sizes at which a value that is not known is tried, to see what depends on it."""


@dataclass(frozen=True, slots=True)
class Contact:
    """Two lugs that a switch closes, or a lug and the middle of a group of three or more."""

    ends: Ends
    switch: str
    control: str
    positions: int
    """Bits of the positions in which it is closed."""

    def is_closed(self, at: Mapping[str, int]) -> bool:
        """Whether it is closed where the controls stand at positions of those numbers."""
        return bool(self.positions >> at[self.control] & 1)


@dataclass(frozen=True, slots=True)
class Bar:
    """A resistance of a part. ``part`` may have several, as a pot or a built-up resistor has."""

    ends: Ends
    part: str
    ohms: tuple[float, ...]
    """One for each sample; all the same where the value is known; inf for what blocks DC."""
    tolerance: float
    """Share by which it may be off."""


@dataclass(frozen=True, slots=True)
class Network:
    """One wiring; a mistake makes another one of it."""

    names: tuple[str, ...]
    """Terminals and points by node; nodes inside parts come after them."""
    count: int
    solid: tuple[Ends, ...]
    """What net lists and ``between`` join: taken as right."""
    wires: tuple[Ends, ...]
    contacts: tuple[Contact, ...]
    bars: tuple[Bar, ...]
    positions: Mapping[str, tuple[str, ...]]

    def at(self, state: State) -> dict[str, int]:
        """Control → number of the position that it stands at."""
        return {name: self.positions[name].index(position) for name, position in state.items()}

    def closed(self, state: State) -> Iterator[Ends]:
        """Contacts that are closed in a state."""
        at = self.at(state)
        return (contact.ends for contact in self.contacts if contact.is_closed(at))

    def soldered(self) -> Joiner:
        """Nodes that are one place for good, whatever the wires do; the first stands for each."""
        joiner = Joiner(self.count)
        for ends in self.solid:
            joiner.join(ends)
        return joiner


def network_of(spec: Spec, wiring: Wiring) -> Network:
    """A wiring as places, joints, contacts and resistances.

    Values that are to be fitted are those that ``rewire values`` finds; lamps are cold.

    Raises:
        LimitReached: more places than can be looked at, or ``solved_of`` reaches a limit.
        SpecError: a ``choose`` that is no series of values.
    """
    board = bench_network(spec, wiring)
    return network_with(spec, wiring, _known(spec, wiring, board))


def network_with(spec: Spec, wiring: Wiring, known: Mapping[str, float]) -> Network:
    """The same with the values of what has to be fitted given, by the names of the values.

    Raises:
        LimitReached: more places than can be looked at.
    """
    board = bench_network(spec, wiring)
    names = tuple(circuit_of(spec, wiring).terminals)
    if len(names) > MOST_PLACES:
        raise LimitReached(
            f"buzzing {wiring.name}: {len(names):,} places, more than {MOST_PLACES:,}; "
            "split the spec"
        )
    node = {name: number for number, name in enumerate(names)}
    inner = _Inner(len(names))
    bars = tuple(_bars(board, node, inner, known))
    return Network(
        names=names,
        count=inner.count,
        solid=tuple(_solid(spec, wiring, node)),
        wires=tuple((node[wire.ends[0]], node[wire.ends[1]]) for wire in wiring.wires),
        contacts=tuple(_contacts(spec, wiring, node)),
        bars=bars,
        positions={name: control.positions for name, control in spec.controls.items()},
    )


class _Inner:
    """Nodes inside parts, numbered after the terminals."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._of: dict[int, int] = {}

    def number(self, of_board: int) -> int:
        """The node here for a node of the board that is no terminal."""
        if of_board not in self._of:
            self._of[of_board] = self.count
            self.count += 1
        return self._of[of_board]


def _solid(spec: Spec, wiring: Wiring, node: Mapping[str, int]) -> Iterator[Ends]:
    for net in wiring.nets:
        yield from ((node[net.members[0]], node[other]) for other in net.members[1:])
    for part in spec.parts_of(wiring).values():
        if part.between is not None:
            for lug, place in zip(part.terminals, part.between, strict=True):
                yield node[part.terminal(lug)], node[place]


def _known(spec: Spec, wiring: Wiring, board: DcNetwork) -> dict[str, float]:
    """Values that a fit has to find, by name; none if there is nothing to be found."""
    if not any(getattr(part, "fit_for", None) for part in board.parts.values()):
        return {}
    worked = solved_of(spec, wiring)
    pairs = zip(worked.network.values, worked.values, strict=True)
    return {value.name: float(found[0]) for value, found in pairs if found is not None}


def _bars(
    board: DcNetwork, node: Mapping[str, int], inner: _Inner, known: Mapping[str, float]
) -> Iterator[Bar]:
    values: list[Array | None] = [
        found if found is not None else _from(known, value.name)
        for value, found in zip(board.values, board.nominal(), strict=True)
    ]
    for number, value in enumerate(board.values):
        part = board.parts.get(value.part)
        if isinstance(part, Meter) and part.ac:
            values[number] = None  # an ohmmeter sees its rectifier, and that is given nowhere
    samples = tried(board, values)
    for branch in board.branches:
        part = board.parts.get(branch.part)
        if part is None or isinstance(part, Switch):
            continue
        ohms = np.broadcast_to(branch.ohms(samples), (4,))[:_SAMPLES]
        if isinstance(part, Lamp):
            ohms = ohms * COLD
        off = _LAMP if isinstance(part, Lamp) else board.values[branch.value].tolerance or _USUAL
        if isinstance(part, Pot):
            off = max(off, _BY_EYE)
        terminals = [part.terminal(lug) for lug in part.terminals]
        own = {board.node(terminal): node[terminal] for terminal in terminals}
        ends = [own[end] if end in own else inner.number(end) for end in branch.ends]
        yield Bar((ends[0], ends[1]), branch.part, tuple(float(one) for one in ohms), off)


_USUAL = 0.05
"""Tolerance where none is stated; common practice, no source."""
_LAMP = 0.4
"""A cold lamp's ohms are known no better; common practice, no source."""
_BY_EYE = 0.15
"""A pot's setting is known no better before it is adjusted; common practice, no source."""


def _from(known: Mapping[str, float], name: str) -> Array | None:
    return np.array([known[name]]) if name in known else None


def _contacts(spec: Spec, wiring: Wiring, node: Mapping[str, int]) -> Iterator[Contact]:
    for part in spec.parts_of(wiring).values():
        if not isinstance(part, Switch):
            continue
        for section in part.sections:
            closed: dict[tuple[str, ...], int] = {}
            for position, groups in enumerate(section.groups):
                for group in groups:
                    key = tuple(sorted(group))
                    closed[key] = closed.get(key, 0) | 1 << position
            for lugs, positions in closed.items():
                nodes = [node[part.terminal(lug)] for lug in lugs]
                centre = nodes[0]
                for other in nodes[1:]:
                    yield Contact((centre, other), part.name, part.control, positions)


def representatives(network: Network) -> list[int]:
    """One node for each place that can be touched: what is soldered solidly is one place.

    Points come first, being easiest to find; else the first terminal of the spec.
    """
    soldered = network.soldered()
    return sorted({soldered.root(item) for item in range(len(network.names))})


def ends_of(network: Network, state: State, extra: Sequence[Ends] = ()) -> list[Ends]:
    """Everything without ohms that joins two nodes in a state, wires left out."""
    return [*network.solid, *network.closed(state), *extra]
