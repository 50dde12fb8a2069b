"""Wrong range: what a meter takes while the knob stands at another reading's position."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board
from rewire.values.mishaps import overloads, shown_times
from rewire.values.model import Caution
from rewire.values.pointer import pointer_of
from rewire.values.readings import Setup
from rewire.values.trials import full_state
from rewire.words.quantity import with_unit


def wrong_ranges(
    board: Board, setups: Sequence[Setup], values: Sequence[Array]
) -> Iterator[Caution]:
    """For each reading, the worst that full scale of another one does to its meter.

    Args:
        board: the wiring.
        setups: its readings.
        values: the board's values, all known.
    """
    for here in setups:
        own = _times(board, here, here, values)
        found = [
            (abs(times), there)
            for there in setups
            if there.states[0] != here.states[0]
            and there.reading.quantity == "current"
            and (times := _times(board, here, there, values)) is not None
            and overloads(times, own or 0.0)
        ]
        if not found or here.meter is None:
            continue
        times, there = max(found, key=lambda item: item[0])
        amps = with_unit(there.reading.full_scale, "A", 3)
        said = (
            f"{here.meter.name} takes {shown_times(times)} times full scale in {here.reading.name} "
            f"while the {amps} of {there.reading.name} flow: set the range before the current"
        )
        yield Caution("wrong-range", said, False, here.meter.name)


def _times(board: Board, here: Setup, there: Setup, values: Sequence[Array]) -> float | None:
    """Full scales of one reading's meter, in its position, with the drive of another."""
    branches = [b for b in board.branches if b.closed(full_state(board, here.states[0]))]
    part = here.meter.name if here.meter else None
    meter = next((n for n, b in enumerate(branches) if b.part == part), None)
    if meter is None:
        return None
    driven = replace(here, reading=there.reading)
    ohms = [np.asarray(b.ohms(values)) for b in branches]
    pointer = pointer_of(board, driven, [b.ends for b in branches], ohms, meter)
    return None if pointer is None else float(pointer.takes[0])
