"""Conduction: diodes that take a share of a reading, and the rectifier that an AC reading needs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.nets import Joiner
from rewire.values.board import Board
from rewire.values.circuits import NOT_A_SUM, circuit_of
from rewire.values.diodes import OPEN_SHARE, diode_branches, thresholds
from rewire.values.readings import Setup
from rewire.values.tolerance import extremes
from rewire.values.trials import full_state
from rewire.values.units import with_unit

_PROBE = "probe"
_PROBE_OHMS = 1e15
NOT_RECTIFIED = (
    "needs a rectifier, for a moving coil stands still on AC; one that is built in is written as a "
    "diode across the meter's terminals"
)


def begins_to_conduct(board: Board, ready: Setup, values: Sequence[Array]) -> str | None:
    """The first diode that takes a share of a reading's current, in words; None if all stay open.

    Args:
        board: the wiring.
        ready: the reading, with a meter in circuit.
        values: the board's values, all known that the reading uses.

    Raises:
        LimitReached: as ``extremes``.

    Source: an ohmmeter's lead of so many ohms that it takes nothing, across the diode: the current
    through it is what ``extremes`` finds the ends of over the whole box of tolerances.
    """
    for one in thresholds(board):
        probe = board.with_branch(_PROBE, one.ends, _PROBE_OHMS)
        seen = circuit_of(probe, ready.reading, _PROBE, ready.states[0])
        if seen.meter is None or seen.blind:
            continue
        _, most = extremes(probe, seen, [*values, np.array([_PROBE_OHMS])], ready.reading.name)
        volts = most * _PROBE_OHMS
        if volts > OPEN_SHARE * one.volts:
            has, begins = with_unit(volts, "V", 3), with_unit(OPEN_SHARE * one.volts, "V", 3)
            return (
                f"{one.part} gets up to {has} forward at full scale and takes current from about "
                f"{begins} on: no sum of resistances; calibrate against a known source"
            )
    return None


def is_rectified(board: Board, ready: Setup) -> bool:
    """Whether a diode lies across the meter's terminals, or on its only way."""
    if ready.circuit.why == NOT_A_SUM:
        return True
    if ready.meter is None:
        return False
    closed = [
        b for b in board.branches if b.control and b.closed(full_state(board, ready.states[0]))
    ]
    ties = Joiner(board.count)
    for branch in closed:
        ties.join(branch.ends)
    at_meter = {ties.root(board.node(ready.meter.terminal(lug))) for lug in ("+", "-")}
    return any(
        {ties.root(node) for node in branch.ends} == at_meter for branch in diode_branches(board)
    )
