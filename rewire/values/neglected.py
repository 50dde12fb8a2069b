"""Neglected: what the set does to a reading that a sum of its own drives leaves out, told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rewire.circuit.dc import Array, Ends, solve
from rewire.records.spec import Capacitor, Point
from rewire.values.board import Board
from rewire.values.circuits import pairs_of
from rewire.values.model import Caution
from rewire.values.readings import Setup
from rewire.values.trials import full_state
from rewire.words.quantity import with_unit

_NOTICED = 0.5
"""Percent of full scale that a source beside the reading's own may make without a word."""


def neglected(board: Board, setups: Sequence[Setup], values: Sequence[Array]) -> Iterator[Caution]:
    """Sources in a meter's own circuit, AC that is not marked, capacitors across AC.

    Args:
        board: the wiring.
        setups: its readings, all of whose values are known.
        values: the board's values.
    """
    for ready in setups:
        yield from _live_points(board, ready, values)
        if not ready.reading.ac:
            for name in ready.reading.places:
                point = board.spec.points.get(name)
                if point is not None and point.ac:
                    said = "is an AC point, and the reading does not say ac: yes"
                    yield Caution("ac", f"{ready.reading.name}: {name} {said}", first=True)
        else:
            yield from _capacitors(board, ready)


def _live_points(board: Board, ready: Setup, values: Sequence[Array]) -> Iterator[Caution]:
    """Points with volts that alone would move the pointer, and that the reading does not name."""
    reading, pairs = ready.reading, pairs_of(board, ready.reading)
    if ready.meter is None or not ready.full_scale or pairs is None:
        return
    named = {*reading.places, *_current_places(board)}
    chassis = next((p.name for p in board.spec.points.values() if p.chassis), None)
    for point in board.spec.points.values():
        if chassis is None or point.name in named or not point.volts or point.ac != reading.ac:
            continue
        amps = _alone(board, ready, values, point, pairs[0], board.node(chassis))
        percent = 100.0 * amps / ready.full_scale
        if abs(percent) > _NOTICED:
            volts = with_unit(point.volts, "V", 3)
            said = (
                f"{reading.name}: {point.name} ({volts}) stands in the meter's own circuit and is "
                f"not counted; alone it moves the pointer by {percent:+.3g} % of full scale"
            )
            yield Caution("not-counted", said, first=True)


def _current_places(board: Board) -> Iterator[str]:
    """Places between which a stated current flows: what their points push is known from that."""
    for reading in board.wiring.readings.values():
        if reading.quantity == "current":
            yield from reading.places
        for drive in reading.also:
            yield from drive.places


def _alone(
    board: Board, ready: Setup, values: Sequence[Array], point: Point, places: Ends, ground: int
) -> float:
    """Ampere through the meter with one point live and the reading's own drive off.

    Source: superposition: a current that is off is open, a voltage that is off a short behind its
    own resistance.
    """
    node, state = board.node(point.name), full_state(board, ready.states[0])
    branches = [b for b in board.branches if b.closed(state)]
    ends = [b.ends for b in branches]
    ohms = [np.asarray(b.ohms(values)) for b in branches]
    if ready.reading.quantity == "voltage":
        ends.append(places)
        ohms.append(np.array([ready.reading.source_resistance]))
    source = max(point.source_resistance, 1e-9)
    ends.append((node, ground))
    ohms.append(np.array([source]))
    meter = next(i for i, b in enumerate(branches) if ready.meter and b.part == ready.meter.name)
    ohms[meter] = np.maximum(ohms[meter], 1e-6)
    solved = solve(board.count, ends, ohms, [(node, ground)], ground)
    volts = float(solved.across(0, branches[meter].ends)[0]) * (point.volts or 0.0) / source
    return volts / float(ohms[meter][0])


def _capacitors(board: Board, ready: Setup) -> Iterator[Caution]:
    """Capacitors between two nodes of an AC reading's circuit."""
    nodes = set(ready.circuit.nodes)
    for part in board.parts.values():
        if isinstance(part, Capacitor):
            ends = {board.node(part.terminal(lug)) for lug in part.terminals}
            if len(ends) == 2 and ends <= nodes:
                said = (
                    f"{ready.reading.name}: {part.name} lies across the circuit of an AC reading; "
                    "what it takes is not counted"
                )
                yield Caution("ac", said, first=True, part=part.name)
