"""Single faults: everything opened, shorted, welded or bridged, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.records.lug_positions import neighbours
from rewire.records.spec import Diode, Fuse, Part, Pot, Spec, Strip, Switch, Wiring
from rewire.values.board import Board, Branch, Value, bench_board
from rewire.values.circuits import State
from rewire.values.flows import TINY
from rewire.values.mishaps import (
    overloads,
    pointer_told,
    rule_lost,
    severity,
    strain_told,
)
from rewire.values.model import OVERLOADED, Mishap, Strain
from rewire.values.pointer import Flags, Pointer, pointer_of
from rewire.values.readings import Setup
from rewire.values.stress import ratings
from rewire.values.trials import (
    Watched,
    at,
    full_state,
    rises,
    rule_ohms,
    rules_at,
    standing_volts,
    states_watched,
    watch,
)
from rewire.words.quantity import with_unit


@dataclass(frozen=True, slots=True)
class Fault:
    """What fails, and the ohms that branches have then."""

    what: str
    changed: dict[int, float]


@dataclass(slots=True)
class _Worst:
    """The worst that a fault does over all readings and states."""

    takes: float = 0.0
    reads: float | None = None
    overload: bool = False
    usual: float = 0.0
    reading: str | None = None
    meter: str = ""
    lost: str | None = None
    """The reading that is not known then, for a standing current has no way back."""
    conducting: tuple[str, ...] = ()
    strains: dict[tuple[str, str], Strain] = field(default_factory=dict)
    rules: dict[int, list[State]] = field(default_factory=dict)
    """Rule → the states in which it breaks."""
    rises: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Failing:
    """The branches that matter in a state, with a column of ohms for the fault of each sample."""

    branches: list[Branch]
    columns: list[Array]
    failed: dict[str, Flags]
    """Diodes and the samples in which they are open for good."""

    @property
    def ends(self) -> list[Ends]:
        """Of the branches."""
        return [branch.ends for branch in self.branches]


@dataclass(frozen=True, slots=True)
class _Bench:
    """A wiring on which any one thing can fail: the ohms of its branches as they should be."""

    board: Board
    nominal: Sequence[Array]

    def failing(self, state: State, faults: Sequence[Fault]) -> _Failing:
        """What is closed in a state, and what a fault closes; the first sample has no fault."""
        board = self.board
        hit: dict[int, list[tuple[int, float]]] = {}
        for row, fault in enumerate(faults, 1):
            for number, ohms in fault.changed.items():
                hit.setdefault(number, []).append((row, ohms))
        branches, columns, failed = [], [], {}
        for number, branch in enumerate(board.branches):
            closed = branch.closed(dict(state))
            idle = branch.part not in board.parts and np.isinf(self.nominal[number]).all()
            if number not in hit and (not closed or idle):
                continue
            column = np.array(self.nominal[number] if closed else [np.inf])
            if number in hit:
                column = np.repeat(column, len(faults) + 1)
                rows = [row for row, _ in hit[number]]
                column[rows] = [ohms for _, ohms in hit[number]]
                if isinstance(board.parts.get(branch.part), Diode):
                    failed[branch.part] = np.isin(np.arange(len(faults) + 1), rows)
            branches.append(branch)
            columns.append(column)
        return _Failing(branches, columns, failed)


def single_faults(
    spec: Spec, wiring: Wiring, setups: Sequence[Setup], found: dict[str, float]
) -> list[Mishap]:
    """What each single fault does to the readings, the parts and the rules; worst first.

    Args:
        spec: the equipment.
        wiring: one of its wirings.
        setups: the readings, each tried in its own state; rules and points are tried
            in every state that can matter to them and is not ruled out by ``never``.
        found: part → ohms (or share, for a pot's setting) that was fitted or chosen.

    Raises:
        LimitReached: more states than are looked at.
    """
    board = bench_board(spec, wiring)
    _add_bypasses(board)
    bridges = list(_add_bridges(board))
    nominal = _nominal(board, found)
    if nominal is None:
        return []
    bench = _Bench(board, nominal)
    worst: dict[str, _Worst] = {}
    for setup in setups:
        state = full_state(board, setup.states[0])
        for faults in _batches(board, state, bridges):
            _try_reading(bench, setup, state, faults, worst)
    held: dict[int, list[State]] = {}
    tried = [
        (state, faults, _watched(bench, state, faults))
        for state in states_watched(board, "single faults")
        for faults in _batches(board, state, bridges)
    ]
    usual = standing_volts(watched for *_, watched in tried)
    for state, faults, watched in tried:
        _take_rules(state, faults, watched, usual, worst, held)
    mishaps = [_mishap(spec, what, one, held) for what, one in worst.items()]
    return sorted(mishaps, key=severity)


def _add_bypasses(board: Board) -> None:
    """An open branch across every part of two terminals, and from end to end of every pot."""
    for part in board.parts.values():
        if isinstance(part, Switch | Strip):
            continue
        first, last = part.terminal(part.terminals[0]), part.terminal(part.terminals[-1])
        _add_open(board, f"across {part.name}", (board.node(first), board.node(last)))


def _add_bridges(board: Board) -> Iterator[Fault]:
    """An open branch between lugs that are neighbours, and the fault that solder bridges them."""
    for part in board.parts.values():
        for pair in neighbours(part):
            one, other = (part.terminal(lug) for lug in pair)
            ends = board.node(one), board.node(other)
            if ends[0] != ends[1]:
                what = f"solder bridge {one} to {other}"
                yield Fault(what, {_add_open(board, what, ends): 0.0})


def _add_open(board: Board, name: str, ends: Ends) -> int:
    board.branches.append(Branch(name, ends, board.add(Value(name, name, np.inf))))
    return len(board.branches) - 1


def _nominal(board: Board, found: dict[str, float]) -> list[Array] | None:
    """Ohms of every branch as it should be; None where one is not known."""
    values: list[Array] = []
    for value in board.values:
        nominal = value.nominal
        is_open = value.is_setting or not isinstance(board.parts.get(value.part), Pot)
        if nominal is None and is_open:
            nominal = found.get(value.part)
        if nominal is None:
            return None
        is_fuse = isinstance(board.parts.get(value.part), Fuse)
        values.append(np.array([max(nominal, TINY) if is_fuse else nominal], dtype=float))
    return [np.asarray(branch.ohms(values)) for branch in board.branches]


def _batches(board: Board, state: State, bridges: Sequence[Fault]) -> Iterator[list[Fault]]:
    """Faults that are tried together: each kind links other nodes, and fewer links solve faster."""
    yield list(_faults(board, state))
    welded = list(_welded(board, state))
    if welded:
        yield welded
    if bridges:
        yield list(bridges)


def _faults(board: Board, state: State) -> Iterator[Fault]:
    of_part: dict[str, list[int]] = {}
    for number, branch in enumerate(board.branches):
        if branch.control is None:
            of_part.setdefault(branch.part, []).append(number)
        elif branch.positions >> state[branch.control] & 1:
            name = board.values[branch.value].name
            yield Fault(f"contact {name} open", {number: np.inf})
    for wire in board.wiring.wires:
        name = f"{'jumper' if wire.jumper else 'wire'} {wire.id}"
        what = f"{name} ({wire.ends[0]} to {wire.ends[1]}) open"
        yield Fault(what, dict.fromkeys(of_part[name], np.inf))
    for part in board.parts.values():
        if part.name in of_part:
            bypass = of_part[f"across {part.name}"][0]
            yield from _of_part(part, of_part[part.name], bypass)


def _of_part(part: Part, branches: Sequence[int], bypass: int) -> Iterator[Fault]:
    opened = dict.fromkeys(branches, np.inf)
    if isinstance(part, Pot):
        yield Fault(f"{part.name} wiper open", {**opened, bypass: part.ohms})
    yield Fault(f"{part.name} open", opened)
    yield Fault(f"{part.name} shorted", {bypass: 0.0})


def _welded(board: Board, state: State) -> Iterator[Fault]:
    """Contacts that should be open here and stay closed, as they are in another position."""
    groups: dict[str, dict[int, float]] = {}
    for number, branch in enumerate(board.branches):
        if branch.control is not None and not branch.positions >> state[branch.control] & 1:
            groups.setdefault(branch.contact, {})[number] = 0.0
    for contact, changed in groups.items():
        yield Fault(f"contact {contact} welded", changed)


def _try_reading(
    bench: _Bench, setup: Setup, state: State, faults: Sequence[Fault], worst: dict[str, _Worst]
) -> None:
    board, failing = bench.board, bench.failing(state, faults)
    part = setup.meter.name if setup.meter else ""
    meter = next((i for i, b in enumerate(failing.branches) if b.part == part), None)
    pointer = None if meter is None else pointer_of(
        board, setup, failing.ends, failing.columns, meter, failing.failed
    )  # fmt: skip
    if pointer is None:
        return
    strained = list(_strained(board, failing, pointer))
    for sample, fault in enumerate(faults, 1):
        one = worst.setdefault(fault.what, _Worst())
        _take_pointer(one, setup, part, pointer, sample)
        for strain, column in strained:
            has = at(column, sample)
            key, known = (strain.part, strain.quantity), one.strains.get(
                (strain.part, strain.quantity)
            )  # fmt: skip
            more = (
                has > OVERLOADED * max(strain.may, at(column, 0)) and strain.part not in fault.what
            )
            if more and (known is None or has > known.has):
                one.strains[key] = Strain(strain.part, strain.quantity, has, strain.may)


def _take_pointer(one: _Worst, setup: Setup, meter: str, pointer: Pointer, sample: int) -> None:
    """Keep this reading if it is the worst of the fault so far."""
    takes, usual_takes = at(pointer.takes, sample), at(pointer.takes, 0)
    if at(pointer.lost, sample):
        one.lost = one.lost or (None if at(pointer.lost, 0) else setup.reading.name)
        reads = None
    else:
        reads = at(pointer.reads, sample)
    usual = at(pointer.reads, 0)
    over = overloads(takes, usual_takes)
    off = 0.0 if reads is None else abs(reads - usual)
    known = 0.0 if one.reads is None else abs(one.reads - one.usual)
    graver = (over, abs(takes) if over else off) > (
        one.overload, abs(one.takes) if one.overload else known
    )  # fmt: skip
    if one.reading is None or graver:
        one.takes, one.reads, one.usual, one.overload = takes, reads, usual, over
        one.reading, one.meter = setup.reading.name, meter
        one.conducting = tuple(name for name, on in pointer.conducting.items() if at(on, sample))


def _strained(board: Board, failing: _Failing, pointer: Pointer) -> Iterator[tuple[Strain, Array]]:
    """What each part with a rating has to stand, for all samples."""
    of_part: dict[str, list[int]] = {}
    for number, branch in enumerate(failing.branches):
        if branch.control is None and branch.part in board.parts:
            of_part.setdefault(branch.part, []).append(number)
    for name, numbers in of_part.items():
        limits = list(ratings(board.parts[name]))
        if not limits:
            continue
        ends = [failing.branches[n].ends for n in numbers]
        volts = [np.abs(pointer.volts[a] - pointer.volts[b]) for a, b in ends]
        ohms = [failing.columns[n] for n in numbers]
        with np.errstate(divide="ignore", invalid="ignore"):
            amps = [np.where(v > 0.0, v / o, 0.0) for v, o in zip(volts, ohms, strict=True)]
        watts = sum((v * i for v, i in zip(volts, amps, strict=True)), start=np.zeros(1))
        has = {"watts": watts, "volts": np.max(np.broadcast_arrays(*volts), axis=0),
               "amps": np.max(np.broadcast_arrays(*amps), axis=0)}  # fmt: skip
        for quantity, may in limits:
            yield Strain(name, quantity, 0.0, may), has[quantity]


def _watched(bench: _Bench, state: dict[str, int], faults: Sequence[Fault]) -> Watched:
    board, failing = bench.board, bench.failing(state, faults)
    seen = rule_ohms(board, failing.branches, failing.columns, failing.failed)
    rules = rules_at(board, state, moving=False)
    return watch(board, failing.ends, failing.columns, seen, rules)


def _take_rules(
    state: dict[str, int],
    faults: Sequence[Fault],
    watched: Watched,
    usual: dict[str, float],
    worst: dict[str, _Worst],
    held: dict[int, list[State]],
) -> None:
    holding = [number for number, broken in watched.broken.items() if not broken[0]]
    for number in holding:
        held.setdefault(number, []).append(state)
    for sample, fault in enumerate(faults, 1):
        one = worst.setdefault(fault.what, _Worst())
        for number in holding:
            if at(watched.broken[number], sample):
                one.rules.setdefault(number, []).append(state)
        for name, volts in rises(watched, sample, usual):
            one.rises[name] = max(volts, one.rises.get(name, 0.0), key=abs)


def _mishap(spec: Spec, what: str, worst: _Worst, held: dict[int, list[State]]) -> Mishap:
    rises_to = tuple(sorted(worst.rises.items(), key=lambda item: (-abs(item[1]), item[0])))
    strains = tuple(sorted(worst.strains.values(), key=lambda one: (-one.times, one.part)))
    said = list(_pointer_said(worst))
    said += [strain_told(strain) for strain in strains]
    said += [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in rises_to]
    said += [
        f"{rule_lost(spec, number)}{_only_with(spec, worst.rules[number], held[number])}"
        for number in sorted(worst.rules)
    ]
    return Mishap(
        what=what,
        reading=worst.reading,
        times_full_scale=None if worst.reading is None else worst.takes,
        deflection=worst.reads,
        rules=tuple(sorted(worst.rules)),
        rises=rises_to,
        message=f"{what}: {'; '.join(said)}" if said else f"{what}: nothing to be seen",
        overload=worst.overload,
        strains=strains,
    )


def _pointer_said(worst: _Worst) -> Iterator[str]:
    if worst.lost is not None:
        yield f"{worst.lost} cannot be worked out: a standing current has no way back"
    if worst.reading is None:
        return
    takes = worst.takes if worst.overload else 0.0
    reads = worst.usual if worst.reads is None else worst.reads
    yield from pointer_told(takes, reads, worst.usual, (worst.reading, worst.meter))
    if worst.overload and worst.conducting:
        yield f"{', '.join(worst.conducting)} conducting"


def _only_with(spec: Spec, broken: Sequence[State], held: Sequence[State]) -> str:
    """The positions that it takes to break a rule, where others leave it whole."""
    told = []
    for name, control in spec.controls.items():
        here, anywhere = ({state[name] for state in states} for states in (broken, held))
        if here < anywhere:
            told.append(f"{name} at {' or '.join(control.positions[at] for at in sorted(here))}")
    return f" with {', '.join(told)}" if told else ""
