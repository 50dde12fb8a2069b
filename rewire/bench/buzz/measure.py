"""What an ohmmeter reads on a network and on thousands of mistaken ones, all at once.

For each state the networks are columns of one table: a row for each place, in it the least
number of a place joined to it. Joints are laid over the table until it rests, which is
connected components by label propagation; resistances are solved once for each network
that differs in what its parts are joined to.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.bench.buzz.mistakes import Edit, apply
from rewire.bench.buzz.network import Ends, Network, State

Numbers = npt.NDArray[np.intp]
Labels = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]
Ohms = npt.NDArray[np.float64]

UNKNOWN = np.nan
"""A reading that depends on a value nobody knows."""
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


@dataclass(slots=True)
class _Table:
    """Edits as columns: which joints are missing in which, and what is joined instead."""

    rows: int
    missing: dict[int, list[int]] = field(default_factory=dict)
    """Joint → columns in which it is not there."""
    extra: list[list[Ends]] = field(default_factory=list)
    """Column → nodes joined there besides."""
    factors: dict[int, dict[int, float]] = field(default_factory=dict)
    """Bar → column → what its ohms are multiplied with."""
    contacts: dict[int, dict[int, int]] = field(default_factory=dict)
    """Contact → column → bits of the positions in which it is closed there."""


def readings(
    network: Network, edits: Sequence[Edit], states: Sequence[State], touches: Sequence[Touch]
) -> Ohms:
    """What each touch reads on each mistaken network.

    Args:
        network: the wiring as it should be.
        edits: mistakes; an empty ``Edit()`` is the wiring itself.
        states: positions of all controls.
        touches: what is touched, in states by number.

    Returns:
        Ohm, of shape (touches, edits): 0 closed, infinity open, nan where it depends on a
        value that is not known.
    """
    needed = {touch.state for touch in touches}
    return Bank(network, edits, states, needed).read(touches)


class Bank:
    """Mistaken networks worked out once, to be touched again and again."""

    def __init__(
        self,
        network: Network,
        edits: Sequence[Edit],
        states: Sequence[State],
        needed: Collection[int] | None = None,
    ) -> None:
        self._count = len(edits)
        self._parts: list[tuple[Numbers, dict[int, _Solved]]] = []
        wanted = range(len(states)) if needed is None else sorted(needed)
        for columns, hit, there in _tables(network, edits):
            table = _table(hit, there)
            solved = {number: _Solved(hit, states[number], table) for number in wanted}
            self._parts.append((np.array(columns, dtype=np.intp), solved))

    def read(self, touches: Sequence[Touch], edits: Sequence[int] | None = None) -> Ohms:
        """Ohms of each touch on all networks, or on those numbered, as ``readings`` has them."""
        wanted = np.arange(self._count) if edits is None else np.array(edits, dtype=np.intp)
        place = np.full(self._count, -1, dtype=np.intp)
        place[wanted] = np.arange(len(wanted))
        found = np.empty((len(touches), len(wanted)))
        rows = _by_state(touches)
        for columns, solved in self._parts:
            own = np.nonzero(place[columns] >= 0)[0]
            for state, (numbers, ends) in rows.items() if len(own) else ():
                at = place[columns[own]]
                found[numbers[:, None], at[None]] = solved[state].between(ends, own)
        return found

    def kinds(self) -> Numbers:
        """Per edit the number of its kind: those of one kind are alike in every state."""
        number: dict[tuple[bytes, ...], int] = {}
        found = np.zeros(self._count, dtype=np.intp)
        for part, (columns, solved) in enumerate(self._parts):
            alone = (str(part).encode(),) if len(columns) == 1 else ()
            keys = [one.keys() for one in solved.values()]
            for row, column in enumerate(columns):
                key = tuple(own[row] for own in keys) + alone
                found[column] = number.setdefault(key, len(number))
        return found


def _by_state(touches: Sequence[Touch]) -> dict[int, tuple[Numbers, Numbers]]:
    """State → touches there by number, and their two nodes, of shape (2, touches)."""
    states = np.array([touch.state for touch in touches], dtype=np.intp)
    ends = np.array([touch.ends for touch in touches], dtype=np.intp).reshape(-1, 2).T
    each = {int(state): np.nonzero(states == state)[0] for state in np.unique(states)}
    return {state: (numbers, ends[:, numbers]) for state, numbers in each.items()}


def _tables(
    network: Network, edits: Sequence[Edit]
) -> Iterator[tuple[Sequence[int], Network, Sequence[Edit]]]:
    """Edits in portions, with the network they are made on; what turns a switch stands alone."""
    plain = [n for n, e in enumerate(edits) if not e.relanded and not e.turned]
    size = _chunk(network)
    for start in range(0, len(plain), size):
        columns = plain[start : start + size]
        yield columns, network, [edits[n] for n in columns]
    for n, edit in enumerate(edits):
        if edit.relanded or edit.turned:
            yield [n], apply(network, edit), [Edit()]


def _chunk(network: Network) -> int:
    return max(16, min(_AT_ONCE, _CELLS // (corners(network) + 1) ** 2))


def corners(network: Network) -> int:
    """How many places parts are joined to."""
    group, _ = _collapsed(network, {}, range(len(network.contacts)))
    return len({int(group[end]) for bar in network.bars for end in bar.ends})


def _table(network: Network, edits: Sequence[Edit]) -> _Table:
    table = _Table(len(edits), extra=[[] for _ in edits])
    for column, edit in enumerate(edits):
        ends = {wire: list(network.wires[wire]) for wire, _, _ in edit.moved}
        for wire, end, node in edit.moved:
            ends[wire][end] = node
        gone = set(edit.off)
        for wire in {*ends, *gone}:
            table.missing.setdefault(wire, []).append(column)
        table.extra[column] += [(a, b) for w, (a, b) in ends.items() if w not in gone]
        table.extra[column] += edit.linked
        for bar, factor in edit.scaled:
            table.factors.setdefault(bar, {})[column] = factor
        for contact, positions in edit.contacts:
            table.contacts.setdefault(contact, {})[column] = positions
    return table


class _Apart:
    """Ohms between the corners of some networks, each pair of corners once."""

    def __init__(self, ohms: Ohms) -> None:
        """Take ohms of shape (networks, corners, corners)."""
        self._corners = ohms.shape[1]
        one, other = np.triu_indices(self._corners, 1)
        self._ohms = ohms[:, one, other]

    def between(self, network: Numbers, one: Numbers, other: Numbers) -> Ohms:
        """Ohms of each network between its two corners, which are not the same."""
        low, high = np.minimum(one, other).astype(np.intp), np.maximum(one, other)
        at = low * (2 * self._corners - low - 1) // 2 + high - low - 1
        return np.asarray(self._ohms[network, at])


class _Solved:
    """One state of all networks of a table, each kind of network once."""

    def __init__(self, network: Network, state: State, table: _Table) -> None:
        self._network, self._table = network, table
        self._at = network.at(state)
        self._group, count = _collapsed(network, self._at, table.contacts)
        tied = np.repeat(np.arange(count, dtype=np.int32)[:, None], table.rows, axis=1)
        _rest(tied, self._joints(), self._extra())
        bars = [(n, bar) for n, bar in enumerate(network.bars) if 0.0 < bar.ohms[0] < inf]
        kinds, factors = self._factors([n for n, _ in bars])
        self._kind, chosen = _distinct(np.vstack([tied, kinds[None].astype(np.int32)]))
        self._tied = np.ascontiguousarray(tied[:, chosen])
        self._columns = np.arange(len(chosen))
        self._scaled = factors[:, kinds[chosen]]
        self._bars = [bar for _, bar in bars]
        self._is_solved = False

    def keys(self) -> list[bytes]:
        """Per network what it is in this state, as a digest."""
        tied, scaled = np.ascontiguousarray(self._tied.T), np.ascontiguousarray(self._scaled.T)
        each = [
            blake2b(one.tobytes() + other.tobytes(), digest_size=16).digest()
            for one, other in zip(tied, scaled, strict=True)
        ]
        return [each[kind] for kind in self._kind]

    def _joints(self) -> list[tuple[Ends, Mask | None]]:
        """Wires, and parts of no ohms; where a mask is given, columns that have them."""
        found = []
        for number, ends in enumerate(self._network.wires):
            missing = self._table.missing.get(number)
            found.append((self._grouped(ends), self._all_but(missing)))
        for number, bar in enumerate(self._network.bars):
            if bar.ohms[0] == 0.0:
                gone = [c for c, f in self._table.factors.get(number, {}).items() if f == inf]
                found.append((self._grouped(bar.ends), self._all_but(gone)))
        for number, positions in self._table.contacts.items():
            contact = self._network.contacts[number]
            closed = np.full(self._table.rows, contact.is_closed(self._at), dtype=np.bool_)
            for column, bits in positions.items():
                closed[column] = bool(bits >> self._at[contact.control] & 1)
            found.append((self._grouped(contact.ends), closed))
        return found

    def _grouped(self, ends: Ends) -> Ends:
        return int(self._group[ends[0]]), int(self._group[ends[1]])

    def _all_but(self, missing: Sequence[int] | None) -> Mask | None:
        if not missing:
            return None
        kept = np.ones(self._table.rows, dtype=np.bool_)
        kept[list(missing)] = False
        return kept

    def _extra(self) -> list[tuple[Numbers, Numbers, Numbers]]:
        """What is joined besides, in slots: columns, one end each, the other end each."""
        slots: list[tuple[Numbers, Numbers, Numbers]] = []
        deepest = max((len(links) for links in self._table.extra), default=0)
        for slot in range(deepest):
            having = [c for c, links in enumerate(self._table.extra) if len(links) > slot]
            one = self._group[[self._table.extra[c][slot][0] for c in having]]
            other = self._group[[self._table.extra[c][slot][1] for c in having]]
            slots.append((np.array(having), one, other))
        return slots

    def _solve(self) -> None:
        """Ohms between all corners, which are the places that the parts are joined to."""
        self._is_solved = True
        bars, factors = self._bars, self._scaled
        ends = [self._grouped(bar.ends) for bar in bars]
        self._linked = _linked(self._tied, ends, factors)
        nodes = sorted({end for pair in ends for end in pair})
        self._first = np.full(self._tied.shape, -1, dtype=np.int16)
        for number in reversed(range(len(nodes))):
            self._first[self._tied[nodes[number]], self._columns] = number
        if not nodes:
            return
        at = {node: number for number, node in enumerate(nodes)}
        pairs = [(at[one], at[other]) for one, other in ends]
        tied = self._first[self._tied[nodes], self._columns]
        kinds = [tied.astype(np.int32), self._linked[nodes], _numbered(factors)[None]]
        self._network_of, chosen = _distinct(np.vstack(kinds))
        tied, linked, factors = (
            tied[:, chosen],
            self._linked[nodes][:, chosen],
            factors[:, chosen],
        )
        ohms = [np.array([bar.ohms[sample] for bar in bars])[:, None] for sample in (0, 1)]
        apart = _apart(pairs, ohms[0] * factors, tied, linked)
        if not np.array_equal(ohms[0], ohms[1]):
            other = _apart(pairs, ohms[1] * factors, tied, linked)
            apart = np.where(np.abs(apart - other) <= _SAME * np.abs(apart), apart, UNKNOWN)
        self._apart = _Apart(apart)

    def _factors(self, bars: Sequence[int]) -> tuple[Numbers, Ohms]:
        """Per column the number of its set of factors, and the sets, of shape (bars, sets)."""
        sets: dict[tuple[tuple[int, float], ...], int] = {(): 0}
        of_column: dict[int, list[tuple[int, float]]] = {}
        for row, bar in enumerate(bars):
            for column, factor in self._table.factors.get(bar, {}).items():
                of_column.setdefault(column, []).append((row, factor))
        kinds = np.zeros(self._table.rows, dtype=np.intp)
        for column, changed in of_column.items():
            kinds[column] = sets.setdefault(tuple(changed), len(sets))
        factors = np.ones((len(bars), len(sets)))
        for key, number in sets.items():
            for row, factor in key:
                factors[row, number] = factor
        return kinds, factors

    def between(self, pairs: Numbers, networks: Numbers) -> Ohms:
        """Ohms between pairs of nodes, of shape (2, pairs), on some networks: (pairs, networks)."""
        if not self._is_solved:
            self._solve()
        kinds, spread = np.unique(self._kind[networks], return_inverse=True)
        one, other = self._group[pairs]
        tables = self._tied[:, kinds], self._linked[:, kinds]
        tied = tables[0][one] == tables[0][other]
        found = np.where(tied, 0.0, inf)
        rows, columns = np.nonzero((tables[1][one] == tables[1][other]) & ~tied)
        if len(rows):
            own = kinds[columns]
            a = self._first[tables[0][one[rows], columns], own]
            b = self._first[tables[0][other[rows], columns], own]
            found[rows, columns] = self._apart.between(self._network_of[own], a, b)
        return np.asarray(found[:, spread.ravel()])


def _collapsed(
    network: Network, at: Mapping[str, int], apart: Collection[int]
) -> tuple[Numbers, int]:
    """Per node the number of its group: what is joined in all networks alike.

    Args:
        network: the wiring.
        at: control → number of its position.
        apart: contacts by number that are not alike in all.
    """
    joined = network.soldered()
    closed = (
        contact.ends
        for number, contact in enumerate(network.contacts)
        if number not in apart and contact.is_closed(at)
    )
    for ends in closed:
        joined.join(ends)
    group = np.array(joined.numbered(), dtype=np.intp)
    return group, len(np.unique(group))


def _rest(
    labels: Labels,
    joints: Sequence[tuple[Ends, Mask | None]],
    extra: Sequence[tuple[Numbers, Numbers, Numbers]],
) -> None:
    """Lay joints over the labels until nothing changes any more, there and back."""
    there_and_back = [*joints, *reversed(joints)]
    total = -1
    while total != (total := int(labels.sum())):
        for (one, other), kept in there_and_back:
            _join(labels[one], labels[other], kept)
        for having, one_each, other_each in extra:
            least = np.minimum(labels[one_each, having], labels[other_each, having])
            labels[one_each, having] = least
            labels[other_each, having] = least


def _linked(tied: Labels, ends: Sequence[Ends], factors: Ohms) -> Labels:
    """Labels of what parts link besides; a part opened in a column links nothing there."""
    count, rows = tied.shape
    columns = np.arange(rows)
    pieces = np.repeat(np.arange(count, dtype=np.int32)[:, None], rows, axis=1)
    total = -1
    while total != (total := int(pieces.sum())):
        for (one, other), factor in zip(ends, factors, strict=True):
            kept = columns[factor < inf]
            a, b = tied[one, kept], tied[other, kept]
            least = np.minimum(pieces[a, kept], pieces[b, kept])
            pieces[a, kept] = least
            pieces[b, kept] = least
    return np.asarray(pieces[tied, columns])


def _numbered(factors: Ohms) -> Labels:
    """Per column the number of its set of factors."""
    return np.unique(factors, axis=1, return_inverse=True)[1].astype(np.int32).ravel()


def _join(one: Labels, other: Labels, kept: Mask | None) -> None:
    if kept is None:
        np.minimum(one, other, out=one)
        other[:] = one
    else:
        np.minimum(one, other, out=one, where=kept)
        np.copyto(other, one, where=kept)


def _distinct(table: Labels) -> tuple[Numbers, Numbers]:
    """Per column the number of its kind, and one column of each kind."""
    rows = np.ascontiguousarray(table.T)
    whole = rows.view(np.dtype((np.void, rows.dtype.itemsize * rows.shape[1]))).ravel()
    _, chosen, kind = np.unique(whole, return_index=True, return_inverse=True)
    return kind, chosen


def _apart(pairs: Sequence[Ends], ohms: Ohms, tied: npt.NDArray[np.int16], linked: Labels) -> Ohms:
    """Ohms between all corners of each network, of shape (networks, corners, corners).

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
    return np.asarray(np.maximum(diagonal[:, :, None] + diagonal[:, None] - 2.0 * inverse, 0.0))
