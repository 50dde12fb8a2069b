"""Readings: where the pointer stands, and what the set sees of the meter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached, States
from rewire.records.spec import Meter, Partial, Reading
from rewire.values.board import Board
from rewire.values.circuits import (
    NO_PATH,
    Circuit,
    State,
    answer,
    circuit_of,
    controls_between,
    meter_of,
    pairs_of,
)

MOST_STATES = 4096
"""Positions of controls that a reading leaves open and that are all looked at."""
_SAME = 1e-9
_TRIALS = 4
"""Sizes at which what is not known is tried."""


@dataclass(frozen=True, slots=True)
class Setup:
    """A reading in one wiring, with its circuit in every state it may be taken in."""

    reading: Reading
    meter: Meter | None
    states: tuple[State, ...]
    circuits: tuple[Circuit, ...]

    @property
    def circuit(self) -> Circuit:
        """The circuit in the first state."""
        return self.circuits[0]

    @property
    def full_scale(self) -> float | None:
        """The meter's full-scale current, ampere; None where it cannot be known."""
        return None if self.meter is None else full_scale_amps(self.meter)


@dataclass(frozen=True, slots=True)
class Point:
    """Nominal answer of one circuit; None is unknown, ``why`` says why."""

    amps: float | None
    insertion: float | None
    why: str | None = None


def full_scale_amps(meter: Meter) -> float | None:
    """Full-scale current, ampere; of a meter in volts, its volts over its nominal resistance."""
    if meter.full_scale_amps is not None:
        return meter.full_scale_amps
    if meter.full_scale_volts is None or not meter.resistance:
        return None
    return meter.full_scale_volts / meter.resistance


def setup(board: Board, states: States, reading: Reading) -> Setup | None:
    """Find the circuits of a reading; None if it can never be taken (``never`` forbids it).

    Raises:
        LimitReached: more states than are looked at.
    """
    meter = meter_of(board.spec, board.wiring, reading)
    pairs = pairs_of(board, reading) or []
    names = controls_between(board, pairs) | set(reading.when)
    frame = states.frame(names, f"reading {reading.name}")
    mask = states.possible(frame) & states.selected(frame, reading.when)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"reading {reading.name}: the positions its 'when' leaves open make "
            f"{mask.bit_count():,} states, more than {MOST_STATES:,}; fix more controls in 'when'"
        )
    found = [numbered(board, state) for state in frame.states(mask)]
    if not found:
        return None
    name = meter.name if meter else None
    circuits = tuple(circuit_of(board, reading, name, state) for state in found)
    return Setup(reading, meter, tuple(found), circuits)


def numbered(board: Board, state: Mapping[str, str]) -> dict[str, int]:
    """A state with the numbers of its positions for their names."""
    controls = board.spec.controls
    return {name: controls[name].positions.index(at) for name, at in state.items()}


def shown_state(board: Board, reading: Reading, state: State) -> dict[str, str]:
    """The state a reading is shown for: the controls it fixes, by the names of their positions."""
    controls = board.spec.controls
    when: Partial = reading.when
    return {name: controls[name].positions[at] for name, at in state.items() if name in when}


def point(board: Board, circuit: Circuit, values: Sequence[Array | None]) -> Point:
    """Nominal current through the meter and insertion resistance, ampere and ohm.

    A value that is not known is tried at several sizes: what it does not change is known.
    """
    if not circuit.branches:
        return Point(None if circuit.blind else 0.0, _insertion_without(circuit), circuit.why)
    if not circuit.felt:
        through = point(board, replace(circuit, felt=True), values)
        return replace(through, insertion=_insertion_without(circuit))
    unknown = [n for n in circuit.values if values[n] is None]
    found = answer(circuit, tried(board, values))
    amps, insertion = _settled(found.amps), _settled(found.insertion)
    if circuit.blind:
        return Point(None, insertion, circuit.why)
    why = circuit.why if amps is not None else _not_known(board, unknown)
    return Point(_clean(amps, circuit), insertion, why)


def _insertion_without(circuit: Circuit) -> float | None:
    """Insertion resistance where no branch carries the drive."""
    if circuit.tied:
        return None if circuit.amps is None else 0.0
    return np.inf if circuit.why == NO_PATH else None


def _not_known(board: Board, unknown: Sequence[int]) -> str:
    names = ", ".join(dict.fromkeys(board.values[n].name for n in unknown))
    return f"it depends on what is not known: {names}"


def tried(board: Board, values: Sequence[Array | None]) -> list[Array]:
    """Values with those that are not known at several sizes, if there are any.

    No two have the same sizes, nor the same sum: what several of them come to
    together is not known either.
    """
    return [
        value if value is not None else _sizes(n, board.values[n].is_setting)
        for n, value in enumerate(values)
    ]


def _sizes(number: int, is_setting: bool) -> Array:
    """Shares of a travel, or 10 ohm to 40 kohm, at random but always the same for a value."""
    at = np.random.default_rng(number).uniform(0.05, 0.95, _TRIALS)
    return at if is_setting else np.asarray(10.0 ** (1.0 + 3.6 * at))


def _settled(found: Array) -> float | None:
    """The one number that all samples agree on, if they do."""
    first = float(found[0])
    if not np.isfinite(found).all() or np.ptp(found) > _SAME * max(abs(first), 1e-300):
        return None
    return first


def _clean(amps: float | None, circuit: Circuit) -> float | None:
    """Nothing for what is only rounding: a shorted meter takes no current."""
    if amps is None or circuit.amps is None:
        return amps
    most = circuit.amps + sum(abs(drive.amps) for drive in circuit.also)
    return 0.0 if abs(amps) < 1e-14 * most else amps


def disagreeing(board: Board, ready: Setup, values: Sequence[Array | None]) -> tuple[str, ...]:
    """Controls that ``when`` leaves open and on which the reading depends."""
    if len(ready.circuits) == 1:
        return ()
    seen: dict[Circuit, Point] = {}
    for circuit in ready.circuits:
        if circuit not in seen:
            seen[circuit] = point(board, circuit, values)
    points = [seen[circuit] for circuit in ready.circuits]
    if all(_alike(points[0], one) for one in points[1:]):
        return ()
    return tuple(_guilty(ready.states, points)) or tuple(ready.states[0])


def _guilty(states: Sequence[State], points: Sequence[Point]) -> Iterator[str]:
    """Controls that change the answer when they alone move."""
    for name in states[0]:
        groups: dict[tuple[tuple[str, int], ...], Point] = {}
        for state, one in zip(states, points, strict=True):
            rest = tuple((other, at) for other, at in state.items() if other != name)
            if not _alike(groups.setdefault(rest, one), one):
                yield name
                break


def _alike(one: Point, other: Point) -> bool:
    pairs = ((one.amps, other.amps), (one.insertion, other.insertion))
    return all(_close(a, b) for a, b in pairs)


def _close(a: float | None, b: float | None) -> bool:
    if a is None or b is None or a == b:
        return a == b
    return abs(a - b) <= _SAME * max(abs(a), abs(b))
