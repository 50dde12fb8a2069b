"""Stops: what a meter sees with a pot at either end of its travel, or its wiper off the track."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board, Branch
from rewire.values.circuits import Circuit, answer
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
    """The same with the wiper off its track: both legs in one, and nothing at the wiper."""
    tied = any(
        b.part == unknown.part and b.share is not None and b.ends[0] == b.ends[1]
        for b in board.branches
    )
    touched = _touched(unknown, setups)
    return _most_seen((s, _wiper_off(s.circuit, unknown, tied), values) for s in touched)


def _wiper_off(circuit: Circuit, unknown: Unknown, tied: bool) -> Circuit:
    """A circuit with a pot's wiper off: where both legs are in it, its track alone is left."""
    legs = [b for b in circuit.branches if b.share == unknown.number]
    kept = [b for b in circuit.branches if b.share != unknown.number]
    wiper = {e for e in legs[0].ends if e in legs[-1].ends} if len(legs) > 1 else set()
    ends = [e for leg in legs for e in leg.ends if e not in wiper]
    if len(wiper) == 1 and len(ends) == 2:
        kept.append(Branch(unknown.part, (ends[0], ends[1]), legs[0].value))
    elif len(legs) == 1 and tied:
        kept.append(Branch(unknown.part, legs[0].ends, legs[0].value))
    meter = circuit.meter
    part = circuit.branches[meter].part if meter is not None else None
    at = next((i for i, b in enumerate(kept) if b.part == part), None)
    return replace(circuit, branches=tuple(kept), meter=at)
