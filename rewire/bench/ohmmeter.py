"""What an ohmmeter reads between two lugs, on a wiring and on thousands of mistaken ones at once.

Every terminal is a node of its own, so that any one wire, contact or lug can be wrong; contacts
and wires have no ohms. A mistake is an ``Edit``, and makes another assembly of a wiring.

For each state the mistaken assemblies are columns of one table: a row for each group of nodes, in
it the least number of a group joined to it. Joints are laid over the table until it rests, which
is connected components by label propagation; resistances are solved once for each column that
differs in what its parts are joined to.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import blake2b
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.circuit.graph import Joiner

Labels = npt.NDArray[np.int32]
Ends = tuple[int, int]
State = Mapping[str, str]
"""A position for each control."""
Numbers = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]
Ohms = npt.NDArray[np.float64]
"""0 closed, infinity open, nan where it depends on a value that nobody knows."""

LEADS = 0.3
"""Ohms that leads, clips and oxide may add after the leads were touched together and that was
taken off; common practice, no source."""
METER = 0.03
"""Share by which an ohmmeter may be off; common practice, no source."""
LEAKS = 1e7
"""Ohms from which an ohmmeter's display may say open; common practice, no source."""
BEEPS = 50.0
"""Ohms below which a beeper may sound; common practice, no source."""
ALWAYS = -1
"""Positions of a joint that no switch opens: all bits set."""
SAMPLES = 2
"""Sizes at which a value that is not known is tried, to see what depends on it."""
_AT_ONCE = 4096
"""Networks in one table."""
_CELLS = 4_000_000
"""Numbers in the matrices of one table, at most."""
_GROUND = 1e-3
"""Siemens by which each linked piece is held; cancels in every resistance."""
_LEAST = 1e-6
"""Ohms below which no ohmmeter can tell a part from a wire; less would swamp ``_GROUND``."""
_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class NodePair:
    """Two nodes that a wire, net list, lead, closed contact or part of no ohms makes one."""

    ends: Ends
    switch: str | None = None
    control: str = ""
    positions: int = ALWAYS
    """Bits of the positions of its control in which it is closed; 0 for one that is not there."""
    soldered: bool = False
    """Whether it is of a net list or a lead, which are taken as right."""
    part: str | None = None

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


@dataclass(frozen=True)
class Assembly:
    """One wiring; a mistake makes it another one."""

    names: tuple[str, ...]
    """Terminals and points by node; nodes inside parts come after them."""
    count: int
    joints: tuple[NodePair, ...]
    wires: tuple[int, ...]
    """Numbers of the joints that are wires, in the order of the wiring."""
    bars: tuple[ResistanceLink, ...]
    positions: Mapping[str, tuple[str, ...]]

    def at(self, state: State) -> dict[str, int]:
        """Control → number of its position."""
        return {name: self.positions[name].index(position) for name, position in state.items()}

    @cached_property
    def node(self) -> Mapping[str, int]:
        """Terminal or point → node."""
        return {name: number for number, name in enumerate(self.names)}

    @cached_property
    def places(self) -> list[int]:
        """Per node the first node that it is always one with, whatever wires and switches do."""
        joiner = Joiner(self.count)
        for joint in self.joints:
            if joint.soldered:
                joiner.join(joint.ends)
        return [joiner.root(node) for node in range(self.count)]

    @cached_property
    def touchable(self) -> list[int]:
        """One node for each place, a point where there is one; else the first terminal."""
        return sorted(set(self.places[: len(self.names)]))

    @cached_property
    def corners(self) -> int:
        """How many places parts are connected to."""
        return len({self.places[end] for bar in self.bars for end in bar.ends})

    def bars_of(self, part: str) -> list[int]:
        """Numbers of the resistances of a part."""
        return [number for number, bar in enumerate(self.bars) if bar.part == part]


@dataclass(frozen=True, slots=True)
class Edit:
    """What a mistake changes; joints and bars by number."""

    without: tuple[int, ...] = ()
    moved: tuple[tuple[int, int, int], ...] = ()
    """Joint, end (0 or 1), and the node it is on instead."""
    linked: tuple[Ends, ...] = ()
    scaled: tuple[tuple[int, float], ...] = ()
    """Bars and what their ohms are multiplied with; infinity opens one."""
    relanded: Mapping[int, int] = field(default_factory=dict)
    """Lug of a switch → the lug on which what is soldered to it is instead."""
    reversed: str | None = None

    @property
    def whole(self) -> bool:
        """Whether it turns a whole switch over."""
        return bool(self.relanded or self.reversed)

    def moved_ends(self, network: Assembly) -> dict[int, Ends]:
        """Joints that are moved, by number, with the nodes they are on then."""
        found: dict[int, Ends] = {}
        for number, end, node in self.moved:
            one, other = found.get(number, network.joints[number].ends)
            found[number] = (one, node) if end else (node, other)
        return found

    def unmoved(self, network: Assembly) -> Edit:
        """The same with joints that are missing and nodes that are connected in place of moves."""
        ends = self.moved_ends(network)
        there = (pair for number, pair in ends.items() if network.joints[number].positions)
        return Edit((*self.without, *ends), linked=(*self.linked, *there), scaled=self.scaled)


def apply(network: Assembly, edit: Edit) -> Assembly:
    """The network with a mistake in it; nodes, joints and bars keep their numbers."""
    joints, bars = list(network.joints), list(network.bars)
    for number in edit.without:
        joints[number] = replace(joints[number], positions=0)
    for number, ends in edit.moved_ends(network).items():
        joints[number] = replace(joints[number], ends=ends)
    for number, factor in edit.scaled:
        ohms = tuple(inf if factor == inf else one * factor for one in bars[number].ohms)
        bars[number] = replace(bars[number], ohms=ohms)
    for number, joint in enumerate(joints if edit.whole else ()):
        if joint.switch is None:
            one, other = (edit.relanded.get(end, end) for end in joint.ends)
            joints[number] = replace(joint, ends=(one, other))
        elif joint.switch == edit.reversed:
            count = len(network.positions[joint.control])
            bits = sum(1 << count - 1 - n for n in range(count) if joint.positions >> n & 1)
            joints[number] = replace(joint, positions=bits)
    joints += [NodePair(ends) for ends in edit.linked]
    return replace(network, joints=tuple(joints), bars=tuple(bars))


@dataclass(frozen=True, slots=True)
class Touch:
    """The two leads on two nodes, in the state of that number."""

    state: int
    ends: Ends


def readings(
    network: Assembly, edits: Sequence[Edit], states: Sequence[State], touches: Sequence[Touch]
) -> Ohms:
    """Ohms of each touch on each mistaken network, of shape (touches, edits)."""
    needed = {touch.state for touch in touches}
    return Bank(network, edits, states, needed).read(touches)


class Bank:
    """Mistaken networks worked out once, to be touched again and again."""

    def __init__(
        self,
        network: Assembly,
        edits: Sequence[Edit],
        states: Sequence[State],
        needed: Collection[int] | None = None,
    ) -> None:
        self._edits = edits
        self._tables: list[tuple[Numbers, dict[int, _Solved]]] = []
        own = range(len(states)) if needed is None else sorted(needed)
        plain = np.array([n for n, edit in enumerate(edits) if not edit.whole], dtype=np.intp)
        laid = {int(n): edits[n].unmoved(network) for n in plain}
        apart = {number for edit in laid.values() for number in edit.without}
        size = max(16, min(_AT_ONCE, _CELLS // (network.corners + 1) ** 2))
        for start in range(0, len(plain), size):
            part = plain[start : start + size]
            mistaken = [laid[n] for n in part.tolist()]
            at = {n: _Solved(network, mistaken, apart, network.at(states[n])) for n in own}
            self._tables.append((part, at))
        # a whole switch turned over moves most joints: it gets a kind of its own
        for number in (n for n, edit in enumerate(edits) if edit.whole):
            other = apply(network, edits[number])
            at = {n: _Solved(other, [Edit()], (), other.at(states[n])) for n in own}
            self._tables.append((np.array([number]), at))

    def read(self, touches: Sequence[Touch], edits: Sequence[int] | None = None) -> Ohms:
        """Ohms of each touch on all networks, or on those numbered, as ``readings`` has them."""
        wanted = np.arange(len(self._edits)) if edits is None else np.array(edits, dtype=np.intp)
        place = np.full(len(self._edits), -1, dtype=np.intp)
        place[wanted] = np.arange(len(wanted))
        found = np.empty((len(touches), len(wanted)))
        states = np.array([touch.state for touch in touches], dtype=np.intp)
        ends = np.array([touch.ends for touch in touches], dtype=np.intp).reshape(-1, 2).T
        for columns, solved in self._tables:
            at = place[columns]
            own = np.nonzero(at >= 0)[0]
            for state in np.unique(states) if len(own) else ():
                rows = np.nonzero(states == state)[0]
                here = solved[int(state)].between(ends[:, rows], own)
                found[rows[:, None], at[own][None]] = here
        return found

    def kinds(self) -> Numbers:
        """Per edit the number of its kind: alike in every state; a switch turned over is alone."""
        number: dict[tuple[bytes | int, ...], int] = {}
        found = np.zeros(len(self._edits), dtype=np.intp)
        for columns, solved in self._tables:
            keys = zip(*(one.keys() for one in solved.values()), strict=True)
            for column, key in zip(columns.tolist(), keys, strict=True):
                alone = (column,) if self._edits[column].whole else key
                found[column] = number.setdefault(alone, len(number))
        return found


class _Solved:
    """One state of some mistaken networks, those that are alike once."""

    def __init__(
        self,
        network: Assembly,
        edits: Sequence[Edit],
        apart: Collection[int],
        at: Mapping[str, int],
    ) -> None:
        ohmic = [n for n, bar in enumerate(network.bars) if 0.0 < bar.ohms[0] < inf]
        self._bars = [network.bars[n] for n in ohmic]
        joiner = Joiner(network.count)  # nodes connected in every network are one group
        for number, joint in enumerate(network.joints):
            if number not in apart and joint.is_closed(at):
                joiner.join(joint.ends)
        self._group = np.array(joiner.numbered(), dtype=np.intp)
        groups = np.arange(self._group.max(initial=-1) + 1, dtype=np.int32)
        tied = np.repeat(groups[:, None], len(edits), axis=1)
        there = {number: np.ones(len(edits), dtype=np.bool_) for number in sorted(apart)}
        factors = np.ones((len(network.bars), len(edits)))
        for column, edit in enumerate(edits):
            for number in edit.without:
                there[number][column] = False
            for bar, factor in edit.scaled:
                factors[bar, column] = factor
        joints = [
            (self._group[list(network.joints[number].ends)], kept)
            for number, kept in there.items()
            if network.joints[number].is_closed(at)
        ]
        links = []
        for slot in range(max((len(edit.linked) for edit in edits), default=0)):
            columns = [column for column, edit in enumerate(edits) if len(edit.linked) > slot]
            ends = np.array([edits[column].linked[slot] for column in columns]).T
            links.append((np.array(columns), self._group[ends]))
        _rest(tied, joints, links)
        sets = {edit.scaled: n for n, edit in enumerate(edits)}
        scaled = np.array([sets[edit.scaled] for edit in edits], dtype=np.int32)
        self._kind, chosen = _distinct(np.vstack([tied, scaled[None]]))
        self._tied = np.ascontiguousarray(tied[:, chosen])
        self._factors = factors[ohmic][:, chosen]

    def keys(self) -> list[bytes]:
        """Per network what it is in this state, as a digest."""
        tied, scaled = np.ascontiguousarray(self._tied.T), np.ascontiguousarray(self._factors.T)
        each = [
            blake2b(one.tobytes() + other.tobytes(), digest_size=16).digest()
            for one, other in zip(tied, scaled, strict=True)
        ]
        return [each[kind] for kind in self._kind]

    @cached_property
    def _pieces(self) -> Labels:
        """Per group and kind the piece that parts link it to."""
        columns = np.arange(self._tied.shape[1])
        pieces = np.repeat(np.arange(len(self._tied), dtype=np.int32)[:, None], len(columns), 1)
        links = []
        for bar, factor in zip(self._bars, self._factors, strict=True):
            kept = np.flatnonzero(factor < inf)
            links.append((kept, self._tied[self._group[[*bar.ends]]][:, kept].astype(np.intp)))
        _rest(pieces, [], links)
        return np.asarray(pieces[self._tied, columns])

    @cached_property
    def _ohms(self) -> tuple[npt.NDArray[np.int16], Numbers, Ohms]:
        """Group and kind → corner; kind → network; ohms between corners, upper half in a row."""
        bars = self._bars
        ends = [tuple(int(self._group[end]) for end in bar.ends) for bar in bars]
        nodes = sorted({end for pair in ends for end in pair})
        columns = np.arange(self._tied.shape[1])
        corner = np.full(self._tied.shape, -1, dtype=np.int16)
        for number in reversed(range(len(nodes))):
            corner[self._tied[nodes[number]], columns] = number
        tied = corner[self._tied[nodes], columns]
        factors = np.unique(self._factors, axis=1, return_inverse=True)[1].astype(np.int32)
        whole = np.vstack([tied.astype(np.int32), self._pieces[nodes], factors.ravel()[None]])
        network, chosen = _distinct(whole)
        pairs = [(nodes.index(one), nodes.index(other)) for one, other in ends]
        samples = [
            _between_corners(pairs, np.array([bar.ohms[sample] for bar in bars])[:, None]
                             * self._factors[:, chosen],
                             tied[:, chosen], self._pieces[nodes][:, chosen])
            for sample in range(SAMPLES if any(len(set(bar.ohms)) > 1 for bar in bars) else 1)
        ]  # fmt: skip
        ohms = samples[0]
        if len(samples) > 1:
            apart = np.abs(ohms - samples[1]) > _SAME * np.abs(ohms)
            ohms = np.where(apart, np.nan, ohms)
        return corner, network, ohms

    def between(self, pairs: Numbers, networks: Numbers) -> Ohms:
        """Ohms between pairs of nodes, of shape (2, pairs), on some networks: (pairs, networks)."""
        kinds, spread = np.unique(self._kind[networks], return_inverse=True)
        one, other = self._group[pairs]
        tied, pieces = self._tied[:, kinds], self._pieces[:, kinds]
        same = tied[one] == tied[other]
        found = np.where(same, 0.0, inf)
        rows, columns = np.nonzero((pieces[one] == pieces[other]) & ~same)
        if len(rows):
            corner, network, ohms = self._ohms
            own = kinds[columns]
            a = corner[tied[one[rows], columns], own].astype(np.intp)
            b = corner[tied[other[rows], columns], own].astype(np.intp)
            low, high = np.minimum(a, b), np.maximum(a, b)
            corners = (1 + round((1 + 8 * ohms.shape[1]) ** 0.5)) // 2
            pair = low * (2 * corners - low - 1) // 2 + high - low - 1
            found[rows, columns] = ohms[network[own], pair]
        return np.asarray(found[:, spread.ravel()])


def _rest(
    labels: Labels,
    joints: Sequence[tuple[Numbers, Mask]],
    links: Sequence[tuple[Numbers, Numbers]],
) -> None:
    """Lay joints over the labels until nothing changes any more, there and back."""
    total = -1
    while total != (total := int(labels.sum())):
        for (one, other), kept in [*joints, *reversed(joints)]:
            np.minimum(labels[one], labels[other], out=labels[one], where=kept)
            np.copyto(labels[other], labels[one], where=kept)
        for columns, (one, other) in links:
            least = np.minimum(labels[one, columns], labels[other, columns])
            labels[one, columns] = least
            labels[other, columns] = least


def _distinct(table: Labels) -> tuple[Numbers, Numbers]:
    """Per column the number of its kind, and one column of each kind."""
    rows = np.ascontiguousarray(table.T)
    whole = rows.view(np.dtype((np.void, rows.dtype.itemsize * rows.shape[1]))).ravel()
    _, chosen, kind = np.unique(whole, return_index=True, return_inverse=True)
    return kind, chosen


def _between_corners(
    pairs: Sequence[Ends], ohms: Ohms, tied: npt.NDArray[np.int16], linked: Labels
) -> Ohms:
    """Ohms between the corners of each network, of shape (networks, pairs of corners).

    Args:
        pairs: the two corners of each bar.
        ohms: of shape (bars, networks).
        tied: per corner the first that it is connected to, of shape (corners, networks).
        linked: per corner the piece it belongs to, which is held at ``_GROUND`` siemens: that makes
            the matrix regular and drops out of every difference.
    """
    corners, networks = tied.shape
    each = np.arange(networks)
    matrix = np.zeros((networks, corners, corners))
    for (one, other), resistance in zip(pairs, ohms, strict=True):
        i, j, siemens = tied[one], tied[other], 1.0 / np.maximum(resistance, _LEAST)
        matrix[each, i, i] += siemens
        matrix[each, j, j] += siemens
        matrix[each, i, j] -= siemens
        matrix[each, j, i] -= siemens
    lead = tied == np.arange(corners)[:, None]
    together = (linked[:, None] == linked[None]) & lead[:, None] & lead[None]
    matrix += np.moveaxis(together, 2, 0) * _GROUND
    matrix[:, np.arange(corners), np.arange(corners)] += ~lead.T
    inverse = np.linalg.inv(matrix)
    diagonal = np.diagonal(inverse, axis1=1, axis2=2)
    apart = np.maximum(diagonal[:, :, None] + diagonal[:, None] - 2.0 * inverse, 0.0)
    return np.asarray(apart[:, *np.triu_indices(corners, 1)])


def differs(planned: Ohms, found: Ohms, spread: Ohms) -> Mask:
    """Whether a person would notice that one reading is not the other.

    True where they are apart by more than leads, meter and ``spread``, the share by which the
    planned one may be off, account for. Ohms: 0 closed, infinity open, nan not known, which
    differs from an open circuit alone. Shapes broadcast.
    """
    far_one, far_other = planned >= LEAKS, found >= LEAKS
    with np.errstate(invalid="ignore"):
        apart = np.abs(planned - found) > LEADS + (METER + spread) * np.maximum(planned, found)
    unknown = np.isnan(planned) | np.isnan(found)
    return np.asarray(np.where(far_one | far_other, far_one != far_other, apart & ~unknown))
