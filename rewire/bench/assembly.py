"""A wiring as it is built on the bench: what joins its lugs, and what ohms lie between them.

Every terminal is a node of its own, so that any one wire, contact or lug can be wrong; contacts
and wires have no ohms. A mistake is an ``Edit``, and makes another assembly of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.circuit.circuit import Case, circuit_of
from rewire.circuit.dc import Array
from rewire.circuit.graph import Joiner
from rewire.circuit.states import LimitReached
from rewire.records.spec import Spec, Wiring
from rewire.values.dc_network import DcNetwork, bench_network
from rewire.values.readings import tried
from rewire.values.solved import solved_of

Ends = tuple[int, int]
State = Mapping[str, str]
"""A position for each control."""
Numbers = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]
Ohms = npt.NDArray[np.float64]
"""0 closed, infinity open, nan where it depends on a value that nobody knows."""

MOST_PLACES = 20_000
ALWAYS = -1
"""Positions of a joint that no switch opens: all bits set."""
SAMPLES = 2
"""Sizes at which a value that is not known is tried, to see what depends on it."""
_USUAL = 0.05
"""Tolerance where none is stated; common practice, no source."""
_COLD = 0.4
"""A cold lamp's ohms are known no better; common practice, no source."""
_BY_EYE = 0.15
"""A pot's setting is known no better before it is adjusted; common practice, no source."""


@dataclass(frozen=True, slots=True)
class NodePair:
    """Two nodes that a wire, a net list, a lead or a closed contact makes one."""

    ends: Ends
    switch: str | None = None
    control: str = ""
    positions: int = ALWAYS
    """Bits of the positions of its control in which it is closed; 0 for one that is not there."""

    def is_closed(self, at: Mapping[str, int]) -> bool:
        """Whether it is closed where the controls stand at positions of those numbers."""
        return bool(self.positions >> at.get(self.control, 0) & 1)


@dataclass(frozen=True, slots=True)
class ResistanceLink:
    """A resistance of a part. ``part`` may have several, as a pot or a built-up resistor has."""

    ends: Ends
    part: str
    ohms: tuple[float, ...]
    """One for each sample; all the same where the value is known; inf for what blocks DC."""
    tolerance: float
    """Share by which it may be off."""


@dataclass(frozen=True)
class Assembly:
    """One wiring; a mistake makes another one of it."""

    names: tuple[str, ...]
    """Terminals and points by node; nodes inside parts come after them."""
    count: int
    joints: tuple[NodePair, ...]
    wires: tuple[int, ...]
    """Numbers of the joints that are wires, in the order of the wiring."""
    bars: tuple[ResistanceLink, ...]
    positions: Mapping[str, tuple[str, ...]]

    def at(self, state: State) -> dict[str, int]:
        """Control → number of the position that it stands at."""
        return {name: self.positions[name].index(position) for name, position in state.items()}

    @cached_property
    def closable(self) -> Mapping[int, NodePair]:
        """All joints by number; a part of no ohms is one too, with a number below 0."""
        parts = {-1 - n: NodePair(bar.ends) for n, bar in enumerate(self.bars) if not bar.ohms[0]}
        return {**dict(enumerate(self.joints)), **parts}

    @cached_property
    def places(self) -> list[int]:
        """Per node the first that it is one place with for good, whatever wires and switches do."""
        joiner, wires = Joiner(self.count), set(self.wires)
        for number, joint in enumerate(self.joints):
            if joint.switch is None and number not in wires:
                joiner.join(joint.ends)
        return [joiner.root(node) for node in range(self.count)]

    @cached_property
    def touchable(self) -> list[int]:
        """One node for each place, a point where there is one; else the first terminal."""
        return sorted(set(self.places[: len(self.names)]))

    @cached_property
    def corners(self) -> int:
        """How many places parts are joined to."""
        return len({self.places[end] for bar in self.bars for end in bar.ends})

    def bars_of(self, part: str) -> list[int]:
        """Numbers of the resistances of a part."""
        return [number for number, bar in enumerate(self.bars) if bar.part == part]


@dataclass(frozen=True, slots=True)
class Edit:
    """What a mistake changes. Joints and bars by number, ends 0 and 1, places by node."""

    moved: tuple[tuple[int, int, int], ...] = ()
    """Joint, end, and the node it is on instead."""
    closed: tuple[tuple[int, int], ...] = ()
    """Joint, and the bits of the positions in which it is really closed; 0 if it is not there."""
    linked: tuple[Ends, ...] = ()
    """Joined, though they should not be."""
    scaled: tuple[tuple[int, float], ...] = ()
    """Bars and what their ohms are multiplied with; infinity opens one."""
    relanded: Mapping[int, int] | None = None
    """Lug → the lug on which what is soldered to it is instead."""
    turned: str | None = None
    """A switch whose positions run the other way."""

    def joints(self, network: Assembly) -> dict[int, NodePair]:
        """The joints that are not as they should be, by number."""
        found: dict[int, NodePair] = {}
        for number, end, node in self.moved:
            joint = found.get(number, network.joints[number])
            one, other = joint.ends
            found[number] = replace(joint, ends=(node, other) if end == 0 else (one, node))
        for number, positions in self.closed:
            found[number] = replace(network.joints[number], positions=positions)
        for number, factor in self.scaled:
            if factor == inf and -1 - number in network.closable:
                found[-1 - number] = NodePair(network.bars[number].ends, positions=0)
        for number, joint in enumerate(network.joints if self.relanded or self.turned else ()):
            lands, (one, other) = self.relanded or {}, joint.ends
            if joint.switch is None and (one in lands or other in lands):
                found[number] = replace(joint, ends=(lands.get(one, one), lands.get(other, other)))
            if joint.switch is not None and joint.switch == self.turned:
                found[number] = _reversed(joint, len(network.positions[joint.control]))
        return found


def _reversed(joint: NodePair, count: int) -> NodePair:
    """A contact of a switch whose positions run the other way."""
    bits = sum(1 << count - 1 - n for n in range(count) if joint.positions >> n & 1)
    return replace(joint, positions=bits)


def apply(network: Assembly, edit: Edit) -> Assembly:
    """The network with a mistake in it; nodes, joints and bars keep their numbers."""
    joints, bars = list(network.joints), list(network.bars)
    for number, joint in edit.joints(network).items():
        if number >= 0:
            joints[number] = joint
    for number, factor in edit.scaled:
        ohms = tuple(inf if factor == inf else one * factor for one in bars[number].ohms)
        bars[number] = replace(bars[number], ohms=ohms)
    joints += [NodePair(ends) for ends in edit.linked]
    return replace(network, joints=tuple(joints), bars=tuple(bars))


def assembly_of(spec: Spec, wiring: Wiring) -> Assembly:
    """A wiring as joints and resistances, worked out once.

    Values that are to be fitted are those that ``rewire values`` finds; lamps are cold.

    Raises:
        LimitReached: more places than can be looked at, or the fit reaches a limit.
        SpecError: a ``choose`` that is no series of values.
    """
    return _network_of(Case(spec, wiring))


@lru_cache(maxsize=16)
def _network_of(case: Case) -> Assembly:
    spec, wiring = case.spec, case.wiring
    names = tuple(circuit_of(spec, wiring).terminals)
    if len(names) > MOST_PLACES:
        raise LimitReached(
            f"buzzing {wiring.name}: {len(names):,} places, more than {MOST_PLACES:,}; "
            "split the spec"
        )
    node = {name: number for number, name in enumerate(names)}
    solid = [NodePair(ends) for ends in _soldered(spec, wiring, node)]
    wires = [NodePair((node[wire.ends[0]], node[wire.ends[1]])) for wire in wiring.wires]
    board = bench_network(spec, wiring)
    inner: dict[int, int] = {}
    bars = tuple(_bars(board, _samples(spec, wiring, board), node, inner))
    return Assembly(
        names=names, count=len(names) + len(inner),
        joints=(*solid, *wires, *_contacts(spec, wiring, node)),
        wires=tuple(range(len(solid), len(solid) + len(wires))), bars=bars,
        positions={name: control.positions for name, control in spec.controls.items()},
    )  # fmt: skip


def _soldered(spec: Spec, wiring: Wiring, node: Mapping[str, int]) -> Iterator[Ends]:
    """What net lists and ``between`` join: taken as right."""
    for net in wiring.nets:
        yield from ((node[net.members[0]], node[other]) for other in net.members[1:])
    for part in spec.parts_of(wiring).values():
        places = zip(part.full_terminals, part.between or (), strict=False)
        yield from ((node[own], node[place]) for own, place in places)


def _contacts(spec: Spec, wiring: Wiring, node: Mapping[str, int]) -> Iterator[NodePair]:
    """Two lugs that a switch closes; of a group of three or more, its first and each other."""
    for switch in circuit_of(spec, wiring).switches:
        for section in switch.sections:
            closed: dict[tuple[str, ...], int] = {}
            for position, groups in enumerate(section.groups):
                for key in (tuple(sorted(group)) for group in groups):
                    closed[key] = closed.get(key, 0) | 1 << position
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
