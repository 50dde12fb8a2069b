"""Stops: what a meter sees with a pot at either end of its travel, or its wiper off the track."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board, Branch
from rewire.values.circuits import Circuit, answer, circuit_of
from rewire.values.fitting import Unknown
from rewire.values.readings import Setup


def seen_at(
    unknown: Unknown,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
    share: float,
) -> float | None:
    """Most times full scale through the meter in any reading with the pot at a stop."""
    moved = list(values)
    moved[unknown.number] = np.array([share])
    return _most_seen((setup, setup.circuit, moved) for setup in _touched(unknown, setups))


def _touched(unknown: Unknown, setups: Sequence[Setup]) -> list[Setup]:
    number = unknown.number
    return [s for s in setups if s.circuit.meter is not None and number in s.circuit.values]


def _most_seen(
    cases: Iterable[tuple[Setup, Circuit, Sequence[Array | None]]],
) -> float | None:
    seen = []
    for setup, circuit, values in cases:
        if setup.full_scale is None or any(values[n] is None for n in circuit.values):
            return None
        if circuit.meter is None:
            seen.append(0.0)
            continue
        known = [np.array([1.0]) if v is None else v for v in values]
        amps = float(answer(circuit, known).amps[0])
        seen.append(0.0 if np.isnan(amps) else amps / setup.full_scale)
    return max(seen, key=abs, default=None)


def seen_open(
    board: Board,
    unknown: Unknown,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
) -> float | None:
    """The same with the wiper off its track: the whole track is left, and nothing at the wiper."""
    part = board.parts[unknown.part]
    track = board.node(part.terminal("ccw")), board.node(part.terminal("cw"))
    kept = [b for b in board.branches if b.share != unknown.number]
    whole = Branch(part.name, track, board.of_part(part.name)[0])
    opened = replace(board, branches=[*kept, whole])
    return _most_seen(
        (s, circuit_of(opened, s.reading, s.meter.name if s.meter else None, s.states[0]), values)
        for s in _touched(unknown, setups)
    )
