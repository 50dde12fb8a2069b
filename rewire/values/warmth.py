"""Warmth: a copper movement against resistors that hardly change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.spec import Meter
from rewire.values.board import Board
from rewire.values.circuits import Circuit, answer

COPPER = 0.00393
"""Per kelvin at 20 °C: annealed copper, International Annealed Copper Standard."""


def warmed(
    board: Board,
    circuit: Circuit,
    values: Sequence[Array],
    kelvin: float,
    per_kelvin: Mapping[str, float] | None = None,
) -> float:
    """Change of a reading, percent of the reading, when everything warms by some kelvin.

    Args:
        board: the wiring.
        circuit: of the reading, with a meter in it.
        values: the board's nominal values at the lower temperature, each of shape (1,).
        kelvin: rise of temperature.
        per_kelvin: part → its coefficient. Left out: copper for meters, 0 for all
            else, so that a swamping resistor in series with the meter counts as one.

    Error: the coefficient is taken as constant between the two temperatures.

    Source: R (1 + α ΔT); α of copper by IACS, 0.393 % per kelvin at 20 °C.
    """
    known = per_kelvin or {}
    warm = []
    for value, ohms in zip(board.values, values, strict=True):
        usual = COPPER if isinstance(board.parts.get(value.part), Meter) else 0.0
        alpha = 0.0 if value.is_setting else known.get(value.part, usual)
        warm.append(ohms * (1.0 + alpha * kelvin))
    cold_amps = answer(circuit, values).amps
    hot_amps = answer(circuit, warm).amps
    return float(100.0 * np.ravel(hot_amps / cold_amps - 1.0)[0])
