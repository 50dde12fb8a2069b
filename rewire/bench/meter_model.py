"""What a person with an ohmmeter notices, and how much a reading tells."""

from __future__ import annotations

from math import log

import numpy as np

from rewire.bench.ohmmeter import Mask, Ohms
from rewire.reading.benchlog import Told

LEADS = 0.3
"""Ohms that leads, clips and oxide may add after the leads were touched together and that was
taken off; common practice, no source."""
METER = 0.03
"""Share by which an ohmmeter may be off; common practice, no source."""
LEAKS = 1e7
"""Ohms from which an ohmmeter's display may say open; common practice, no source."""
BEEPS = 50.0
"""Ohms below which a beeper may sound; common practice, no source."""
MISREAD = 0.001
"""How often a reading is simply wrong; common practice, no source."""
AGREES = 2.2
"""Surprise up to which a reading agrees: two standard deviations, or a beeper through ohms."""
_STEP = 0.14
"""Readings closer than this, as logarithm, are one answer when a touch is chosen."""


def differs(planned: Ohms, found: Ohms, spread: Ohms) -> Mask:
    """Whether a person would notice that one reading is not the other.

    Args:
        planned: ohm, 0 closed, infinity open, nan not known.
        found: likewise; shapes broadcast.
        spread: share by which the planned one may be off.

    Returns:
        True where they are apart by more than leads, meter and tolerances account for. What
        is not known differs from an open circuit alone.
    """
    far_one, far_other = planned >= LEAKS, found >= LEAKS
    with np.errstate(invalid="ignore"):
        apart = np.abs(planned - found) > LEADS + (METER + spread) * np.maximum(planned, found)
    unknown = np.isnan(planned) | np.isnan(found)
    return np.asarray(np.where(far_one | far_other, far_one != far_other, apart & ~unknown))


def surprise(planned: Ohms, told: Told, found: Ohms, spread: Ohms) -> Ohms:
    """Minus the logarithm of how likely readings are, against such as are as planned.

    Args:
        planned: what should be read, as for ``differs``.
        told: ``open``, ``closed`` by a beeper, which may sound through some ohms; or a number.
        found: that number, ohm; shapes broadcast.
        spread: share by which the planned one may be off.
    """
    misread = -log(MISREAD)
    if told == "open":
        return np.asarray(np.where(planned >= LEAKS, 0.0, misread))
    if told == "closed":
        usual = np.where(planned <= BEEPS, log(2.0), misread)
        heard = np.where(planned <= 3.0 * LEADS, 0.0, usual)
        return np.asarray(np.where(np.isnan(planned), log(3.0), heard))
    sigma = (LEADS + (METER + spread) * np.where(np.isfinite(planned), planned, 1.0)) / 2.0
    with np.errstate(invalid="ignore"):
        off = np.minimum((planned - found) / sigma, 1e3)
    usual = np.where(np.isnan(planned), log(3.0), off**2 / 2.0)
    return np.asarray(np.minimum(np.where(planned >= LEAKS, np.inf, usual), misread))


def information(answers: Ohms, weights: Ohms) -> Ohms:
    """Bits that each touch is expected to tell between hypotheses.

    Args:
        answers: what each hypothesis reads, of shape (touches, hypotheses).
        weights: belief in each.
    """
    share = weights / weights.sum()
    answer = _answered(answers)
    bits = np.zeros(len(answers))
    for row, line in enumerate(answer):
        _, which = np.unique(line, return_inverse=True)
        parts = np.bincount(which.ravel(), weights=share)
        parts = parts[parts > 0.0]
        bits[row] = -float((parts * np.log2(parts)).sum())
    return bits


def _answered(ohms: Ohms) -> Ohms:
    """Readings as answers that a person tells apart.

    -1 is closed, -2 open, -3 not known, the rest steps of ohms.
    """
    with np.errstate(invalid="ignore"):
        steps = np.round(np.log(np.maximum(ohms, LEADS) / LEADS) / _STEP)
        near = np.where(ohms <= LEADS, -1.0, np.where(ohms >= LEAKS, -2.0, steps))
    return np.asarray(np.where(np.isnan(ohms), -3.0, near))
