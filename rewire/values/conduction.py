"""Conduction: diodes that take a share of a reading, and meters that are not made for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.graph import Joiner
from rewire.records.spec import Meter
from rewire.values.board import Board
from rewire.values.circuits import NOT_A_SUM, circuit_of
from rewire.values.diodes import OPEN_SHARE, diode_branches, thresholds
from rewire.values.readings import Setup
from rewire.values.tolerance import extremes
from rewire.values.trials import full_state
from rewire.words.quantity import with_unit

_PROBE = "probe"
_PROBE_OHMS = 1e15
_NOT_RECTIFIED = (
    "needs a rectifier, for a moving coil stands still on AC; a meter made for AC, its rectifier "
    "in its case, says so: ac: yes"
)
_ACROSS = (
    "a diode lies across the moving coil: no sum of resistances; calibrate against a known source"
)


@dataclass(frozen=True, slots=True)
class Unfit:
    """Why a meter gives no figure for a reading; ``dead``: it shows nothing at all."""

    note: str
    dead: bool


def begins_to_conduct(board: Board, ready: Setup, values: Sequence[Array]) -> str | None:
    """The first diode that takes a share of a reading's current, in words; None if all stay open.

    Args:
        board: the wiring.
        ready: the reading, with a meter in circuit.
        values: the board's values, all known that the reading uses.

    Raises:
        LimitReached: as ``extremes``.

    Source: an ohmmeter's lead of so many ohms that it takes nothing, across the diode: the current
    through it is what ``extremes`` finds the ends of over the whole box of tolerances. AC drives
    it at its crests, the square root of two times rms, and either way round.
    """
    for one in thresholds(board):
        probe = board.with_branch(_PROBE, one.ends, _PROBE_OHMS)
        seen = circuit_of(probe, ready.reading, _PROBE, ready.states[0])
        if seen.meter is None or seen.blind:
            continue
        ends = extremes(probe, seen, [*values, np.array([_PROBE_OHMS])], ready.reading.name)
        most = sqrt(2.0) * max(map(abs, ends)) if ready.reading.ac else ends[1]
        volts = most * _PROBE_OHMS
        if volts > OPEN_SHARE * one.volts:
            has, begins = with_unit(volts, "V", 3), with_unit(OPEN_SHARE * one.volts, "V", 3)
            return (
                f"{one.part} gets up to {has} forward at full scale and takes current from about "
                f"{begins} on: no sum of resistances; calibrate against a known source"
            )
    return None


def unfit(board: Board, ready: Setup) -> Unfit | None:
    """Why the meter is not made for the reading: DC on one for AC, AC on a moving coil."""
    if ready.meter is None or ready.meter.ac == ready.reading.ac or ready.circuit.why == NOT_A_SUM:
        return None
    if ready.meter.ac:
        said = f"{ready.meter.name} is made for AC, and the reading does not say ac: yes"
        return Unfit(f"{said}; calibrate against a known source", dead=False)
    if _diode_across(board, ready, ready.meter):
        return Unfit(_ACROSS, dead=False)
    return Unfit(_NOT_RECTIFIED, dead=True)


def _diode_across(board: Board, ready: Setup, meter: Meter) -> bool:
    closed = [
        b for b in board.branches if b.control and b.closed(full_state(board, ready.states[0]))
    ]
    ties = Joiner(board.count)
    for branch in closed:
        ties.join(branch.ends)
    at_meter = {ties.root(board.node(meter.terminal(lug))) for lug in ("+", "-")}
    return any(
        {ties.root(node) for node in branch.ends} == at_meter for branch in diode_branches(board)
    )
