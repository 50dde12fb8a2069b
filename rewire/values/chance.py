"""Chance: a seeded Monte Carlo beside the worst case, never instead of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from rewire.circuit.dc import Array
from rewire.values.board import Board
from rewire.values.circuits import Circuit, answer
from rewire.values.model import Spread
from rewire.values.tolerance import bands_among

Law = Literal["uniform", "normal"]
SAMPLES = 10_000
SEED = 1
_WITHIN = (0.5, 99.5)


def sampled(
    board: Board,
    circuit: Circuit,
    values: Sequence[Array],
    samples: int,
    seed: int,
    law: Law = "uniform",
) -> Array:
    """Currents through the meter of many builds of a circuit, in one call of the solver.

    Args:
        board: the wiring.
        circuit: of the reading.
        values: the board's nominal values, each of shape (1,).
        samples: how many builds.
        seed: of the generator (PCG64); each value has its own stream, so that the
            same value is the same in every reading of a board.
        law: uniform over the band, or normal with the band at three standard
            deviations either way (common practice, no source).

    Returns:
        Ampere, shape (samples,), or (1,) where nothing varies.
    """
    drawn = draw(board, circuit.values, values, samples, seed, law)
    return answer(circuit, drawn).amps


def draw(
    board: Board,
    numbers: Iterable[int],
    values: Sequence[Array],
    samples: int,
    seed: int,
    law: Law,
) -> list[Array]:
    """Values with those of ``numbers`` that have a band drawn at random; see ``sampled``."""
    drawn = list(values)
    for band in bands_among(board, numbers, values):
        stream = np.random.default_rng((seed, band.number))
        if law == "uniform":
            column = stream.uniform(band.low, band.high, samples)
        else:
            middle, sigma = 0.5 * (band.low + band.high), (band.high - band.low) / 6.0
            column = np.maximum(stream.normal(middle, sigma, samples), 0.0)
        drawn[band.number] = column
    return drawn


def spread(
    board: Board,
    circuit: Circuit,
    values: Sequence[Array],
    full_scale: float,
    accuracy_percent: float,
    samples: int = SAMPLES,
    seed: int = SEED,
) -> Spread:
    """Errors, in percent of full scale, between which 99 % of builds lie under each law.

    The meter's own error is drawn beside the values, with its accuracy as its band.
    """
    laws: tuple[Law, Law] = ("uniform", "normal")
    found = []
    for law in laws:
        amps = sampled(board, circuit, values, samples, seed, law)
        own = np.random.default_rng((seed, len(board.values)))
        drift = (
            own.uniform(-accuracy_percent, accuracy_percent, samples)
            if law == "uniform"
            else own.normal(0.0, accuracy_percent / 3.0, samples)
        )
        low, high = np.percentile(100.0 * (amps / full_scale - 1.0) + drift, _WITHIN)
        found.append((float(low), float(high)))
    return Spread(samples, seed, found[0], found[1])
