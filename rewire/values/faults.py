"""Single faults: everything opened and everything shorted, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached, States
from rewire.spec.model import Part, Pot, Spec, Strip, Switch, Wiring
from rewire.values.board import Board, Branch, Value, bench_board
from rewire.values.circuits import State
from rewire.values.model import OVERLOADED, Mishap
from rewire.values.readings import Setup, numbered
from rewire.values.trials import (
    MOST_STATES,
    at,
    full_state,
    pointer_of,
    risers,
    rises,
    rules_at,
    watch,
    watched_controls,
)
from rewire.values.units import with_unit

_NOTICED = 0.01
"""Share of full scale by which a reading must change to be told."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What fails, and the ohms that branches have then."""

    what: str
    changed: dict[int, float]


@dataclass(slots=True)
class _Worst:
    """The worst that a fault does over all readings and states."""

    takes: float = 0.0
    reads: float = 0.0
    reading: str | None = None
    off: float = 0.0
    rules: dict[int, list[State]] = field(default_factory=dict)
    """Rule → the states in which it breaks."""
    rises: dict[str, float] = field(default_factory=dict)
    meter: str = ""


@dataclass(frozen=True, slots=True)
class _Bench:
    """A wiring on which any one thing can fail: the ohms of its branches as they should be."""

    board: Board
    nominal: Sequence[Array]

    def failing(
        self, state: State, faults: Sequence[Fault]
    ) -> tuple[list[int], list[Ends], list[Array]]:
        """The branches closed in a state, their ends, and their ohms with each fault in turn."""
        kept = [n for n, b in enumerate(self.board.branches) if b.closed(dict(state))]
        columns = []
        for number in kept:
            hit = [row for row, fault in enumerate(faults, 1) if number in fault.changed]
            column = np.array(self.nominal[number])
            if hit:
                column = np.repeat(column, len(faults) + 1)
                column[hit] = [faults[row - 1].changed[number] for row in hit]
            columns.append(column)
        return kept, [self.board.branches[n].ends for n in kept], columns


def single_faults(
    spec: Spec, wiring: Wiring, setups: Sequence[Setup], found: dict[str, float]
) -> list[Mishap]:
    """What each single fault does to the readings, the meter and the rules; worst first.

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
    nominal = _nominal(board, found)
    if nominal is None:
        return []
    bench = _Bench(board, nominal)
    worst: dict[str, _Worst] = {}
    for setup in setups:
        _try_reading(bench, setup, worst)
    held: dict[int, list[State]] = {}
    for state in _states(board):
        _try_rules(bench, state, worst, held)
    mishaps = [_mishap(spec, what, one, held) for what, one in worst.items()]
    return sorted(mishaps, key=severity)


def _states(board: Board) -> list[dict[str, int]]:
    """Every state that can matter to a rule or to a rise; none if there is neither."""
    if not board.spec.rules and not any(True for _ in risers(board)):
        return []
    states = States(board.spec.controls, board.spec.never)
    asking = f"single faults of {board.wiring.name}"
    frame = states.frame(watched_controls(board, moving=False), asking)
    mask = states.possible(frame)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"{asking}: the controls that can matter to a rule make {mask.bit_count():,} states, "
            f"more than {MOST_STATES:,}; narrow the rules with 'when', or split the spec"
        )
    return [full_state(board, numbered(board, state)) for state in frame.states(mask)]


def severity(mishap: Mishap) -> tuple[object, ...]:
    """Order of mishaps: rules broken, overload of the meter, what rises, what reads wrong."""
    times = abs(mishap.times_full_scale or 0.0)
    highest = max((abs(volts) for _, volts in mishap.rises), default=0.0)
    off = 0.0 if mishap.deflection is None else abs(mishap.deflection - 1.0)
    return (-len(mishap.rules), -times if times > OVERLOADED else 0.0, -highest, -off, mishap.what)


def _add_bypasses(board: Board) -> None:
    """An open branch across every part of two terminals, and from end to end of every pot."""
    for part in board.parts.values():
        if isinstance(part, Switch | Strip):
            continue
        first, last = part.terminal(part.terminals[0]), part.terminal(part.terminals[-1])
        ends = board.node(first), board.node(last)
        value = board.add(Value(f"across {part.name}", f"across {part.name}", np.inf))
        board.branches.append(Branch(f"across {part.name}", ends, value))


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
        values.append(np.array([nominal], dtype=float))
    return [np.asarray(branch.ohms(values)) for branch in board.branches]


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


def _try_reading(bench: _Bench, setup: Setup, worst: dict[str, _Worst]) -> None:
    board, state = bench.board, full_state(bench.board, setup.states[0])
    faults = list(_faults(board, state))
    kept, ends, columns = bench.failing(state, faults)
    part = setup.meter.name if setup.meter else ""
    meter = next((i for i, n in enumerate(kept) if board.branches[n].part == part), None)
    pointer = None if meter is None else pointer_of(board, setup, ends, columns, meter)
    if pointer is None:
        return
    usual = float(pointer.reads[0])
    for sample, fault in enumerate(faults, 1):
        one, takes = worst.setdefault(fault.what, _Worst()), at(pointer.takes, sample)
        reads = at(pointer.reads, sample)
        off = abs(reads - usual)
        graver = abs(takes) > max(abs(one.takes), OVERLOADED) or (
            abs(one.takes) <= OVERLOADED and off > one.off
        )
        if one.reading is None or graver:
            one.takes, one.reads, one.off = takes, reads, off
            one.reading, one.meter = setup.reading.name, part


def _try_rules(
    bench: _Bench,
    state: dict[str, int],
    worst: dict[str, _Worst],
    held: dict[int, list[State]],
) -> None:
    faults = list(_faults(bench.board, state))
    _, ends, columns = bench.failing(state, faults)
    watched = watch(bench.board, ends, columns, rules_at(bench.board, state, moving=False))
    holding = [number for number, broken in watched.broken.items() if not broken[0]]
    for number in holding:
        held.setdefault(number, []).append(state)
    for sample, fault in enumerate(faults, 1):
        one = worst.setdefault(fault.what, _Worst())
        for number in holding:
            if at(watched.broken[number], sample):
                one.rules.setdefault(number, []).append(state)
        for name, volts in rises(watched, sample):
            one.rises[name] = max(volts, one.rises.get(name, 0.0), key=abs)


def _mishap(spec: Spec, what: str, worst: _Worst, held: dict[int, list[State]]) -> Mishap:
    rises_to = tuple(sorted(worst.rises.items(), key=lambda item: (-abs(item[1]), item[0])))
    lost = [
        f"{rule_lost(spec, number)}{_only_with(spec, worst.rules[number], held[number])}"
        for number in sorted(worst.rules)
    ]
    said = [*lost, *pointer_told((worst.takes, worst.reads), worst.off, worst.reading, worst.meter)]
    said += [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in rises_to]
    return Mishap(
        what=what,
        reading=worst.reading,
        times_full_scale=None if worst.reading is None else worst.takes,
        deflection=None if worst.reading is None else worst.reads,
        rules=tuple(sorted(worst.rules)),
        rises=rises_to,
        message=f"{what}: {'; '.join(said)}" if said else f"{what}: nothing to be seen",
    )


def _only_with(spec: Spec, broken: Sequence[State], held: Sequence[State]) -> str:
    """The positions that it takes to break a rule, where others leave it whole."""
    told = []
    for name, control in spec.controls.items():
        here, anywhere = ({state[name] for state in states} for states in (broken, held))
        if here < anywhere:
            told.append(f"{name} at {' or '.join(control.positions[at] for at in sorted(here))}")
    return f" with {', '.join(told)}" if told else ""


def rule_lost(spec: Spec, number: int) -> str:
    """What a broken rule means."""
    rule = spec.rules[number]
    lost = "no longer connected" if rule.kind == "connect" else "no longer isolated"
    return f"{' and '.join(rule.places)} {lost}"


def pointer_told(
    times: tuple[float, float], off: float, reading: str | None, meter: str
) -> Iterator[str]:
    """What the meter takes, or what it reads wrong, in the words of the bench.

    Args:
        times: full scales that it takes at most, and that it reads.
        off: by how much the latter differs from what it should be.
        reading: its name.
        meter: its reference.
    """
    takes, reads = times
    if abs(takes) > OVERLOADED:
        way = " backwards" if takes < 0.0 else ""
        yield f"{meter} takes {shown_times(abs(takes))} times full scale{way} in {reading}"
    elif off > _NOTICED:
        stands = "the pointer rests at 0" if abs(reads) < 5e-4 else f"it reads {100 * reads:.3g} %"
        yield f"{stands} in {reading}"


def shown_times(times: float) -> str:
    """A factor: two digits where they matter, none beyond a hundred.

    >>> shown_times(1.407), shown_times(12.34), shown_times(10000.2)
    ('1.4', '12', '10,000')
    """
    return f"{times:,.0f}" if abs(times) >= 10 else f"{times:.2g}"
