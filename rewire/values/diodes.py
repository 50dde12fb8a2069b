"""Diodes: open in a sum as long as they are far below their threshold, judged by it beyond."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rewire.circuit.dc import Ends
from rewire.records.spec import Diode
from rewire.values.board import NO_VALUE, Board, Branch

FORWARD_VOLTS = {"silicon": 0.7, "germanium": 0.3}
"""Volts at which a diode conducts well, from memory."""
SLOPE = 0.3
"""Ohm in series with a conducting diode, so that an ampere lifts it to a volt; from memory."""
OPEN_SHARE = 0.25
"""Share of its forward volts below which a diode takes nothing worth reading."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """A diode of a board, anode first."""

    part: str
    ends: Ends
    volts: float


def forward_volts(diode: Diode) -> float | None:
    """Volts at which it conducts, None where neither they nor the material are given."""
    if diode.forward_volts is not None:
        return diode.forward_volts
    return FORWARD_VOLTS.get(diode.material) if diode.material else None


def thresholds(board: Board) -> Iterator[Threshold]:
    """The diodes of a board of which it is known when they conduct."""
    for part in board.parts.values():
        volts = forward_volts(part) if isinstance(part, Diode) else None
        if volts:
            anode, cathode = (board.node(part.terminal(lug)) for lug in ("A", "K"))
            yield Threshold(part.name, (anode, cathode), volts)


def diode_branches(board: Board) -> list[Branch]:
    """The diodes of a board as branches, open until somebody says otherwise."""
    return [
        Branch(name, (one, other), NO_VALUE)
        for name, one, other in board.blocked
        if isinstance(board.parts[name], Diode)
    ]
