"""What an ohmmeter reads between two lugs, on a wiring and on thousands of mistaken ones at once.

For each state the mistaken assemblies are columns of one table: a row for each group of nodes, in
it the least number of a group joined to it. Joints are laid over the table until it rests, which
is connected components by label propagation; resistances are solved once for each column that
differs in what its parts are joined to.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.bench.assembly import (
    SAMPLES,
    Assembly,
    Edit,
    Ends,
    Mask,
    NodePair,
    Numbers,
    Ohms,
    State,
)
from rewire.circuit.graph import Joiner

Labels = npt.NDArray[np.int32]
_AT_ONCE = 4096
"""Networks in one table."""
_CELLS = 4_000_000
"""Numbers in the matrices of one table, at most."""
_GROUND = 1e-3
"""Siemens by which each linked piece is held; cancels in every resistance."""
_LEAST = 1e-6
"""Ohms below which no ohmmeter tells a part from a wire; less would drown ``_GROUND``."""
_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Touch:
    """The two leads on two nodes, in the state of that number."""

    state: int
    ends: Ends


def readings(
    network: Assembly, edits: Sequence[Edit], states: Sequence[State], touches: Sequence[Touch]
) -> Ohms:
    """What each touch reads on each mistaken network.

    Args:
        network: the wiring as it should be.
        edits: mistakes; an empty ``Edit()`` is the wiring itself.
        states: positions of all controls.
        touches: what is touched, in states by number.

    Returns:
        Ohm, of shape (touches, edits).
    """
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
        self._count = len(edits)
        self._tables: list[tuple[Numbers, dict[int, _Solved]]] = []
        changed = [edit.joints(network) for edit in edits]
        size = max(16, min(_AT_ONCE, _CELLS // (network.corners + 1) ** 2))
        # what turns a switch over moves most joints, and stands apart: it would swell the others
        turns = [bool(edit.relanded or edit.turned) for edit in edits]
        self._whole = np.array(turns, dtype=np.bool_)
        for each in (np.nonzero(~self._whole)[0], np.nonzero(self._whole)[0]):
            apart = sorted({number for n in each for number in changed[n]})
            for start in range(0, len(each), size):
                own = each[start : start + size]
                table = _Table(network, [edits[n] for n in own], [changed[n] for n in own])
                self._tables.append((own, {
                    number: _Solved(table, apart, network.at(states[number]))
                    for number in (range(len(states)) if needed is None else sorted(needed))
                }))  # fmt: skip

    def read(self, touches: Sequence[Touch], edits: Sequence[int] | None = None) -> Ohms:
        """Ohms of each touch on all networks, or on those numbered, as ``readings`` has them."""
        wanted = np.arange(self._count) if edits is None else np.array(edits, dtype=np.intp)
        place = np.full(self._count, -1, dtype=np.intp)
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
        """Per edit the number of its kind: those of one kind are alike in every state.

        What turns a switch over is a kind of its own.
        """
        number: dict[tuple[bytes | int, ...], int] = {}
        found = np.zeros(self._count, dtype=np.intp)
        for columns, solved in self._tables:
            alone = np.where(self._whole[columns], columns, -1).tolist()
            keys = zip(alone, *(one.keys() for one in solved.values()), strict=True)
            for column, key in zip(columns, keys, strict=True):
                found[column] = number.setdefault(key, len(number))
        return found


class _Table:
    """Edits as columns: which joints are another in which, and what ohms are multiplied with."""

    def __init__(
        self, network: Assembly, edits: Sequence[Edit], changed: Sequence[Mapping[int, NodePair]]
    ) -> None:
        self.network = network
        self.columns = len(edits)
        self.bars = [n for n, bar in enumerate(network.bars) if 0.0 < bar.ohms[0] < inf]
        self._missing: dict[int, list[int]] = {}
        for column, own in enumerate(changed):
            for number in own:
                self._missing.setdefault(number, []).append(column)
        self._slots = list(self._slotted(edits, changed))
        self.factor, self.factors = self._scaled(edits)

    def kept(self, joint: int) -> Mask | None:
        """Columns in which a joint is as it should be; None for all."""
        if joint not in self._missing:
            return None
        kept = np.ones(self.columns, dtype=np.bool_)
        kept[self._missing[joint]] = False
        return kept

    def extra(self, at: Mapping[str, int]) -> Iterator[tuple[Numbers, Numbers]]:
        """What is joined in some columns only, in slots: columns; the two ends in each."""
        for joints, columns, ends, is_switched in self._slots:
            if is_switched:
                closed = np.array([joint.is_closed(at) for joint in joints], dtype=np.bool_)
                yield columns[closed], ends[:, closed]
            else:
                yield columns, ends

    def _slotted(
        self, edits: Sequence[Edit], changed: Sequence[Mapping[int, NodePair]]
    ) -> Iterator[tuple[list[NodePair], Numbers, Numbers, bool]]:
        """The first joint that each column has besides, then the second, and so on."""
        each = [
            [*(joint for joint in own.values() if joint.positions), *map(NodePair, edit.linked)]
            for own, edit in zip(changed, edits, strict=True)
        ]
        for slot in range(max(map(len, each), default=0)):
            having = [column for column, own in enumerate(each) if len(own) > slot]
            joints = [each[column][slot] for column in having]
            ends = np.array([joint.ends for joint in joints], dtype=np.intp).T
            yield joints, np.array(having), ends, any(joint.control for joint in joints)

    def _scaled(self, edits: Sequence[Edit]) -> tuple[Numbers, Ohms]:
        """Per column the number of its set of factors, and the sets, of shape (bars, sets)."""
        row = {bar: n for n, bar in enumerate(self.bars)}
        sets: dict[tuple[tuple[int, float], ...], int] = {(): 0}
        kinds = np.zeros(self.columns, dtype=np.intp)
        for column, edit in enumerate(edits):
            own = tuple(sorted((row[bar], factor) for bar, factor in edit.scaled if bar in row))
            kinds[column] = sets.setdefault(own, len(sets))
        factors = np.ones((len(self.bars), len(sets)))
        for own, number in sets.items():
            for bar, factor in own:
                factors[bar, number] = factor
        return kinds, factors


class _Solved:
    """One state of all networks of a table, each kind of network once."""

    def __init__(self, table: _Table, apart: Sequence[int], at: Mapping[str, int]) -> None:
        self._table = table
        self._group, count = _grouped(table.network, apart, at)
        tied = np.repeat(np.arange(count, dtype=np.int32)[:, None], table.columns, axis=1)
        closable = table.network.closable
        joints = [(self._group[list(closable[number].ends)], table.kept(number))
                  for number in apart if closable[number].is_closed(at)]  # fmt: skip
        extra = [(having, self._group[ends]) for having, ends in table.extra(at)]
        _rest(tied, joints, extra)
        self._kind, chosen = _distinct(np.vstack([tied, table.factor[None].astype(np.int32)]))
        self._tied = np.ascontiguousarray(tied[:, chosen])
        self._factors = table.factors[:, table.factor[chosen]]

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
        bars = self._table.network.bars
        ends = [self._group[list(bars[n].ends)] for n in self._table.bars]
        return _linked(self._tied, ends, self._factors)

    @cached_property
    def _ohms(self) -> tuple[npt.NDArray[np.int16], Numbers, Ohms]:
        """Group and kind → corner; kind → network; ohms between corners, upper half in a row."""
        bars = [self._table.network.bars[n] for n in self._table.bars]
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
            found[rows, columns] = ohms[network[own], _at(a, b, ohms.shape[1])]
        return np.asarray(found[:, spread.ravel()])


def _at(one: Numbers, other: Numbers, count: int) -> Numbers:
    """Where the ohms between two corners stand among ``count`` pairs of different corners."""
    corners = (1 + round((1 + 8 * count) ** 0.5)) // 2
    low, high = np.minimum(one, other), np.maximum(one, other)
    return np.asarray(low * (2 * corners - low - 1) // 2 + high - low - 1)


def _grouped(
    network: Assembly, apart: Collection[int], at: Mapping[str, int]
) -> tuple[Numbers, int]:
    """Per node the number of its group: what is joined in all networks alike; how many groups."""
    joiner, apart = Joiner(network.count), set(apart)
    for number, joint in network.closable.items():
        if number not in apart and joint.is_closed(at):
            joiner.join(joint.ends)
    group = np.array(joiner.numbered(), dtype=np.intp)
    return group, int(group.max(initial=-1)) + 1


def _rest(
    labels: Labels,
    joints: Sequence[tuple[Numbers, Mask | None]],
    extra: Sequence[tuple[Numbers, Numbers]],
) -> None:
    """Lay joints over the labels until nothing changes any more, there and back."""
    total = -1
    while total != (total := int(labels.sum())):
        for (one, other), kept in [*joints, *reversed(joints)]:
            where: Mask | bool = True if kept is None else kept
            np.minimum(labels[one], labels[other], out=labels[one], where=where)
            np.copyto(labels[other], labels[one], where=where)
        for having, (one, other) in extra:
            least = np.minimum(labels[one, having], labels[other, having])
            labels[one, having] = least
            labels[other, having] = least


def _linked(tied: Labels, ends: Sequence[Numbers], factors: Ohms) -> Labels:
    """Labels of what parts link besides; a part opened in a column links nothing there."""
    columns = np.arange(tied.shape[1])
    pieces = np.repeat(np.arange(len(tied), dtype=np.int32)[:, None], len(columns), axis=1)
    total = -1
    while total != (total := int(pieces.sum())):
        for (one, other), factor in zip(ends, factors, strict=True):
            kept = columns[factor < inf]
            a, b = tied[one, kept], tied[other, kept]
            least = np.minimum(pieces[a, kept], pieces[b, kept])
            pieces[a, kept] = least
            pieces[b, kept] = least
    return np.asarray(pieces[tied, columns])


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
        tied: per corner the first that it is joined to, of shape (corners, networks).
        linked: per corner the piece it belongs to.

    Each piece is held at ``_GROUND`` siemens between all its corners, which makes the matrix
    regular and drops out of every difference.
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
