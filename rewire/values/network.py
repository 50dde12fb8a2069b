"""The network of a reading: what carries it between its two places, and what flows there.

Plain records for whoever draws or tells it; unknown is None.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from rewire.circuit.dc import Ends
from rewire.circuit.graph import Joiner
from rewire.records.spec import Drive, Reading, Spec, Wiring
from rewire.values.assemble import Worked, work_out
from rewire.values.board import Board, Branch
from rewire.values.circuits import NOT_A_SUM, pairs_of
from rewire.values.flows import Flow
from rewire.values.network_parts import Item, items_of
from rewire.values.network_select import selected
from rewire.values.readings import Setup, disagreeing, point, shown_state
from rewire.values.stress import carried_by
from rewire.words.quantity import with_unit


@dataclass(frozen=True, slots=True)
class NetworkNode:
    """A place where branches meet."""

    net: str
    """The name that every picture of the wiring gives it: ``net 3``."""
    points: tuple[str, ...]
    """Points of the equipment on it, the chassis first."""
    chassis: bool


@dataclass(frozen=True, slots=True)
class NetworkBranch:
    """A part, a leg of a pot, a closed contact, or a standing current.

    ``kind`` is the part's kind, ``contact`` or ``drive``. ``terminals`` are the
    full names at its two ends, empty inside a part. ``amps`` flow from its first
    end to its second, ``volts`` are across it in the same sense; None where they
    are not known, or where contacts side by side share as they please.
    """

    kind: str
    part: str
    terminals: tuple[str, str]
    ends: Ends
    value: str
    ohms: float | None
    amps: float | None
    volts: float | None


@dataclass(frozen=True, slots=True)
class Network:
    """What carries one reading in one position, solved at full scale."""

    wiring: str
    reading: Reading
    state: Mapping[str, str]
    """Position of each control that the reading fixes."""
    nodes: tuple[NetworkNode, ...]
    entry: int
    exit: int
    branches: tuple[NetworkBranch, ...]
    """Empty where nothing carries it; ``why`` says why."""
    meter: str | None
    amps: float | None = None
    """Current of the drive at full scale, ampere."""
    volts: float | None = None
    """From the first place to the second at full scale."""
    meter_amps: float | None = None
    deflection: float | None = None
    """Share of the scale, 1 at its end."""
    insertion_ohms: float | None = None
    apart: tuple[Drive, ...] = ()
    """Standing currents that take none of these ways."""
    why: str | None = None
    """What is not known, or not to be seen, and why."""


def networks_of(spec: Spec, wiring: Wiring) -> tuple[Network, ...]:
    """The networks of all readings of a wiring, in the order of the file.

    Raises:
        LimitReached, SpecError: as ``values_of``.
    """
    worked = work_out(spec, wiring)
    return tuple(network_of(worked, name) for name in wiring.readings)


def network_of(worked: Worked, name: str) -> Network:
    """The network of one reading of a wiring that was worked out.

    Args:
        worked: from ``work_out``.
        name: of the reading.

    Error: that of the solver, see ``rewire.circuit.dc.solve``.
    """
    ready = worked.setups.get(name)
    board = worked.board
    if ready is None:
        said = "'never' forbids every state it could be taken in"
        return _nothing(board, board.wiring.readings[name], said)
    pairs = pairs_of(board, ready.reading)
    if pairs is None:
        return _nothing(board, ready.reading, ready.circuit.why or "")
    branches, drives = selected(board, ready.reading, ready.meter, ready.states[0])
    items = items_of(board, branches, worked.values)
    flowing = _Flowing.of(ready, worked)
    return _network(worked, ready, items, [pairs[0], *(pairs[1 + n] for n in drives)], flowing)


def _nothing(board: Board, reading: Reading, why: str) -> Network:
    controls = board.spec.controls
    fixed = {n: at[0] for n, at in reading.when.items() if n in controls and len(at) == 1}
    return Network(board.wiring.name, reading, fixed, (), 0, 0, (), None, why=why)


@dataclass(frozen=True, slots=True)
class _Flowing:
    """What flows in a reading's circuit, by branches and nodes of the board."""

    flows: Mapping[tuple[int, int | None, bool, Ends], Flow]
    volts: Mapping[int, float]

    @classmethod
    def of(cls, ready: Setup, worked: Worked) -> _Flowing:
        told = ready.circuit.why != NOT_A_SUM and not disagreeing(
            worked.board, ready, worked.values
        )
        carried = (carried_by(ready, worked.values) or []) if told else []
        nodes = ready.circuit.nodes
        flows = {}
        for branch, flow in zip(ready.circuit.branches, carried, strict=False):
            ends = (nodes[branch.ends[0]], nodes[branch.ends[1]])
            flows[branch.value, branch.share, branch.upper, ends] = flow
        return cls(flows, _potentials([(key[3], flow.volts) for key, flow in flows.items()]))

    def flow(self, branch: Branch) -> Flow | None:
        """Of one branch of the board."""
        return self.flows.get((branch.value, branch.share, branch.upper, branch.ends))

    def across(self, ends: Ends) -> float | None:
        """Volts between two nodes; None where nothing is known of them."""
        one, other = (self.volts.get(end) for end in ends)
        return None if one is None or other is None else one - other


def _potentials(drops: Sequence[tuple[Ends, float]]) -> dict[int, float]:
    """Volts of each node against the first, by the drops between them."""
    beside: dict[int, list[tuple[int, float]]] = {}
    for (a, b), drop in drops:
        beside.setdefault(a, []).append((b, -drop))
        beside.setdefault(b, []).append((a, drop))
    found: dict[int, float] = {}
    waiting = deque(list(beside)[:1])
    found.update(dict.fromkeys(waiting, 0.0))
    while waiting:
        node = waiting.popleft()
        for other, rise in beside[node]:
            if other not in found:
                found[other] = found[node] + rise
                waiting.append(other)
    return found


def _network(
    worked: Worked, ready: Setup, items: Sequence[Item], pairs: Sequence[Ends], flowing: _Flowing
) -> Network:
    board, reading = worked.board, ready.reading
    branches = [_solved(item, flowing) for item in items]
    drives = [_drive(d, ends, flowing) for d, ends in _taken(board, reading, pairs)]
    number = {node: n for n, node in enumerate(dict.fromkeys(_ends(pairs, branches)))}
    own = Network(
        wiring=board.wiring.name,
        reading=reading,
        state=shown_state(board, reading, ready.states[0]),
        nodes=tuple(_node(board, node) for node in number),
        entry=number[pairs[0][0]],
        exit=number[pairs[0][1]],
        branches=tuple(_numbered(b, number) for b in (*branches, *drives)),
        meter=ready.meter.name if ready.meter else None,
        amps=_entering(board, branches, drives, pairs[0]),
        volts=flowing.across(pairs[0]),
        apart=_apart(board, reading, pairs),
    )
    return _answered(own, worked, ready)


def _answered(own: Network, worked: Worked, ready: Setup) -> Network:
    """With what the meter makes of it, or why that cannot be told."""
    board = worked.board
    loose = disagreeing(board, ready, worked.values)
    if loose:
        said = f"it depends on {', '.join(loose)}, which 'when' does not fix to one position"
        return replace(own, why=said)
    found = point(board, ready.circuit, worked.values)
    share = None if found.amps is None else found.amps / (ready.full_scale or inf)
    return replace(
        own,
        amps=ready.reading.full_scale if ready.reading.quantity == "current" else own.amps,
        meter_amps=found.amps,
        deflection=share if ready.full_scale else None,
        insertion_ohms=found.insertion,
        why=found.why,
    )


def _solved(item: Item, flowing: _Flowing) -> NetworkBranch:
    """An item with what flows; pieces of a resistor together carry what their sum does."""
    flow, volts = flowing.flow(item.branches[0]), flowing.across(item.ends)
    amps = None if flow is None else flow.amps
    if len(item.branches) > 1 and item.kind != "contact":
        amps = volts / item.ohms if volts is not None and item.ohms else None
    if flow is None and volts is not None and item.kind in {"capacitor", "diode"}:
        amps = 0.0
    return NetworkBranch(
        item.kind, item.part, item.terminals, item.ends, item.value, item.ohms, amps, volts
    )


def _drive(drive: Drive, ends: Ends, flowing: _Flowing) -> NetworkBranch:
    """A standing current as a branch; inside its source it runs from the second place."""
    leaves, enters = drive.places[1], drive.places[0]
    volts = flowing.across((ends[1], ends[0]))
    said = with_unit(drive.amps, "A")
    return NetworkBranch(
        "drive", "", (leaves, enters), (ends[1], ends[0]), said, None, drive.amps, volts
    )


def _taken(board: Board, reading: Reading, pairs: Sequence[Ends]) -> Iterator[tuple[Drive, Ends]]:
    every = pairs_of(board, reading) or []
    for drive, ends in zip(reading.also, every[1:], strict=False):
        if ends in pairs[1:] and ends[0] != ends[1]:
            yield drive, ends


def _apart(board: Board, reading: Reading, pairs: Sequence[Ends]) -> tuple[Drive, ...]:
    taken = [drive for drive, _ in _taken(board, reading, pairs)]
    return tuple(drive for drive in reading.also if drive not in taken)


def _entering(
    board: Board,
    branches: Sequence[NetworkBranch],
    drives: Sequence[NetworkBranch],
    ends: Ends,
) -> float | None:
    """Current of the drive: what leaves the places that contacts join to its first."""
    joiner = Joiner(board.count)
    for branch in branches:
        if branch.amps is None or not branch.ohms:
            joiner.join(branch.ends)
    root = joiner.root(ends[0])
    if root == joiner.root(ends[1]):
        return None
    total = 0.0
    for branch in (*branches, *drives):
        from_here, to_here = (joiner.root(end) == root for end in branch.ends)
        if from_here != to_here:
            total += (branch.amps or 0.0) * (1.0 if from_here else -1.0)
    return total if any(branch.amps is not None for branch in branches) else None


def _ends(pairs: Sequence[Ends], branches: Sequence[NetworkBranch]) -> Iterator[int]:
    for ends in (*pairs, *(branch.ends for branch in branches)):
        yield from ends


def _node(board: Board, node: int) -> NetworkNode:
    members = board.nets.members[node] if node < len(board.nets.members) else ()
    points = [board.spec.points[name] for name in members if name in board.spec.points]
    points.sort(key=lambda point: not point.chassis)
    chassis = any(point.chassis for point in points)
    return NetworkNode(f"net {node}", tuple(point.name for point in points), chassis)


def _numbered(branch: NetworkBranch, number: Mapping[int, int]) -> NetworkBranch:
    return replace(branch, ends=(number[branch.ends[0]], number[branch.ends[1]]))
