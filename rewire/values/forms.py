"""Forms: a reading as a fraction of two polynomials in one of its values.

In a two-terminal resistance both are of first degree, in a pot's setting or its
end-to-end resistance of second, for both legs move. A few solves at different
points give them exactly (Source: the determinant of the node equations is of
first degree in each conductance, W. K. Chen, "Applied Graph Theory", 1971, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import TIED, Array
from rewire.values.circuits import Circuit, answer


@dataclass(frozen=True, slots=True)
class Forms:
    """Coefficients, lowest degree first: shape (degree + 1, samples)."""

    numerator: Array
    denominator: Array
    """Both share an arbitrary factor, one per sample."""

    def against(self, target: float) -> Array:
        """Coefficients of numerator - target × denominator, which is 0 where it is met."""
        return np.asarray(self.numerator - target * self.denominator)

    def slope(self) -> Array:
        """Numerator of the derivative: n'd - nd', of degree 2 (n - 1) or less.

        For second degree over second degree the cubic terms cancel.
        """
        n, d = self.numerator, self.denominator
        if len(n) == 2:
            return np.asarray([n[1] * d[0] - n[0] * d[1]])
        return np.asarray(
            [
                n[1] * d[0] - n[0] * d[1],
                2.0 * (n[2] * d[0] - n[0] * d[2]),
                n[2] * d[1] - n[1] * d[2],
            ]
        )


def degree(circuit: Circuit, number: int) -> int:
    """Number of branches that a value moves: the degree of the forms in it."""
    return sum(number in (branch.value, branch.share) for branch in circuit.branches)


def forms(circuit: Circuit, values: Sequence[Array], number: int, points: Sequence[float]) -> Forms:
    """The meter's current as a fraction of polynomials in one value.

    Args:
        circuit: what carries the reading; its meter is in it.
        values: all values, each of shape (samples,) or (1,); that of ``number``
            is passed over.
        number: the value to vary.
        points: as many different values to solve at as the degree plus one, none
            of them 0 (nor 1, for a setting).

    Returns:
        Coefficients in the value, ampere × something and something.

    Error: that of interpolation between ``points``; far from them the coefficients
    lose digits, so choose them near where they will be used.
    """
    samples = max(value.shape[0] for value in values)
    at = np.repeat(np.asarray(points, dtype=float), samples)
    spread = [np.tile(np.broadcast_to(v, (samples,)), len(points)) if v.shape[0] > 1 else v
              for v in values]  # fmt: skip
    spread[number] = at
    found = answer(circuit, spread)
    weight = found.log_det + sum(
        np.log(np.maximum(branch.ohms(spread), TIED))
        for branch in circuit.branches
        if number in (branch.value, branch.share)
    )
    shape = (len(points), samples)
    weight = np.broadcast_to(weight, at.shape).reshape(shape)
    below = np.exp(weight - weight.max(axis=0))
    above = np.broadcast_to(found.amps, at.shape).reshape(shape) * below
    inverse = np.linalg.inv(np.vander(np.asarray(points, dtype=float), increasing=True))
    return Forms(inverse @ above, inverse @ below)


def roots(coefficients: Array, low: float, high: float) -> Array:
    """Real zeros of polynomials of degree 2 or less between two bounds.

    Args:
        coefficients: lowest degree first, shape (1 to 3, samples).
        low: least zero wanted, included.
        high: greatest.

    Returns:
        Shape (2, samples): zeros, NaN where there are fewer.

    Source: the quadratic formula in the form without cancellation (W. H. Press
    and others, "Numerical Recipes", 5.6, from memory).
    """
    missing = np.zeros((3 - len(coefficients), coefficients.shape[1]))
    c, b, a = np.concatenate([coefficients, missing])
    with np.errstate(divide="ignore", invalid="ignore"):
        half = -0.5 * (b + np.copysign(np.sqrt(b * b - 4.0 * a * c), b))
        found = np.stack([c / half, half / a])
    found[~np.isfinite(found)] = np.nan
    found[(found < low) | (found > high)] = np.nan
    return found
