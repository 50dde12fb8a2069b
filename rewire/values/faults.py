"""Single faults: everything opened and everything shorted, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.spec.model import Part, Pot, Spec, Strip, Switch, Wiring
from rewire.values.board import Board, Branch, Value, bench_board
from rewire.values.circuits import State
from rewire.values.model import Mishap
from rewire.values.readings import Setup
from rewire.values.trials import Trial, full_state, rises, rules_at, run
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
    """The worst that a fault does over all readings."""

    times: float = 0.0
    reading: str | None = None
    deflection: float | None = None
    off: float = 0.0
    rules: set[int] = field(default_factory=set)
    rises: dict[str, float] = field(default_factory=dict)
    meter: str = ""


def single_faults(
    spec: Spec, wiring: Wiring, setups: Sequence[Setup], found: dict[str, float]
) -> list[Mishap]:
    """What each single fault does to the readings, the meter and the rules; worst first.

    Args:
        spec: the equipment.
        wiring: one of its wirings.
        setups: the readings, each in its state.
        found: part → ohms (or share, for a pot's setting) that was fitted or chosen.
    """
    board = bench_board(spec, wiring)
    _add_bypasses(board)
    nominal = _nominal(board, found)
    if nominal is None:
        return []
    worst: dict[str, _Worst] = {}
    for setup in setups:
        state = full_state(board, setup.states[0])
        faults = list(_faults(board, state))
        trial = _tried(board, setup, state, nominal, faults)
        if trial is None:
            continue
        for sample, fault in enumerate(faults, 1):
            _take(worst.setdefault(fault.what, _Worst()), setup, trial, sample)
    mishaps = [_mishap(spec, what, one) for what, one in worst.items()]
    return sorted(mishaps, key=severity)


def severity(mishap: Mishap) -> tuple[object, ...]:
    """Order of mishaps: rules broken, overload of the meter, what rises, what reads wrong."""
    times = abs(mishap.times_full_scale or 0.0)
    highest = max((abs(volts) for _, volts in mishap.rises), default=0.0)
    off = 0.0 if mishap.deflection is None else abs(mishap.deflection - 1.0)
    return (-len(mishap.rules), -times if times > 1.05 else 0.0, -highest, -off, mishap.what)


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


def _tried(
    board: Board, setup: Setup, state: State, nominal: Sequence[Array], faults: Sequence[Fault]
) -> Trial | None:
    kept = [n for n, b in enumerate(board.branches) if b.closed(dict(state))]
    ends: list[Ends] = [board.branches[n].ends for n in kept]
    columns = []
    for number in kept:
        hit = [row for row, fault in enumerate(faults, 1) if number in fault.changed]
        column = np.array(nominal[number])
        if hit:
            column = np.repeat(column, len(faults) + 1)
            column[hit] = [faults[row - 1].changed[number] for row in hit]
        columns.append(column)
    part = setup.meter.name if setup.meter else None
    meter = next((i for i, n in enumerate(kept) if board.branches[n].part == part), None)
    if meter is None:
        return None
    return run(board, setup, ends, columns, meter, rules_at(board, state, moving=False))


def _take(worst: _Worst, setup: Setup, trial: Trial, sample: int) -> None:
    times = np.broadcast_to(trial.times, (max(sample + 1, trial.times.shape[0]),))
    usual, now = float(times[0]), float(times[sample])
    meter = setup.meter.name if setup.meter else ""
    fresh = {
        n for n, broken in trial.broken.items()
        if np.broadcast_to(broken, times.shape)[sample]
        and not np.broadcast_to(broken, times.shape)[0]
    }  # fmt: skip
    worst.rules |= fresh
    for name, volts in rises(trial, sample, meter):
        worst.rises[name] = max(volts, worst.rises.get(name, 0.0), key=abs)
    off = abs(now - usual)
    graver = abs(now) > max(abs(worst.times), 1.05) or (
        abs(worst.times) <= 1.05 and off > worst.off
    )
    if worst.reading is None or graver:
        worst.times, worst.reading, worst.deflection = now, setup.reading.name, now
        worst.off, worst.meter = off, meter


def _mishap(spec: Spec, what: str, worst: _Worst) -> Mishap:
    rises_to = tuple(sorted(worst.rises.items(), key=lambda item: (-abs(item[1]), item[0])))
    said = list(effects(spec, worst.times, worst.off, worst.reading, worst.meter, worst.rules))
    said += [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in rises_to]
    return Mishap(
        what=what,
        reading=worst.reading,
        times_full_scale=worst.times,
        deflection=worst.deflection,
        rules=tuple(sorted(worst.rules)),
        rises=rises_to,
        message=f"{what}: {'; '.join(said)}" if said else f"{what}: nothing to be seen",
    )


def effects(
    spec: Spec,
    times: float,
    off: float,
    reading: str | None,
    meter: str,
    rules: set[int],
) -> Iterator[str]:
    """What a mishap does, in the words of the bench."""
    for number in sorted(rules):
        rule = spec.rules[number]
        lost = "no longer connected" if rule.kind == "connect" else "no longer isolated"
        yield f"{' and '.join(rule.places)} {lost}"
    if abs(times) > 1.05:
        yield f"{meter} takes {shown_times(times)} times full scale in {reading}"
    elif off > _NOTICED:
        stands = "the pointer rests at 0" if abs(times) < 5e-4 else f"it reads {100 * times:.3g} %"
        yield f"{stands} in {reading}"


def shown_times(times: float) -> str:
    """A factor: two digits where they matter, none beyond a hundred.

    >>> shown_times(1.407), shown_times(12.34), shown_times(512.3)
    ('1.4', '12', '512')
    """
    return f"{times:.0f}" if abs(times) >= 10 else f"{times:.2g}"
