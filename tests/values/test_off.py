"""When a reading is off, and what its worst case is, on random circuits of all sorts.

Reference: every corner of the box by numpy's dense solver, and for a pot, whose own value may be
worst inside its band, a sweep of it. A tolerance that is not given leaves the worst case open if
the value moves the reading; a contact without a stated resistance is 0 to 20 mΩ
(MIL-DTL-18396E 3.5.4.10) in the worst case alone; 5 % of full scale are accepted where neither
the reading nor the meter asks for more (common practice, no source).
"""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import Readout
from rewire.values.wiring_values import values_of
from tests.values.reference import Made, dense, exact
from tests.values.test_tolerance import FULL_SCALE, random_made

WORN = 0.020
SWEEP = 400
Point = tuple[dict[str, float], list[float]]
"""Values by name, and ohms of the contacts."""


@dataclass(frozen=True)
class Wanted:
    """What the text asks of one reading."""

    error: float
    unstated: set[str]
    worst: tuple[float, float] | None
    accept: float

    @property
    def off(self) -> bool:
        return any(abs(end) > self.accept for end in (self.error, *(self.worst or ())))

    @property
    def close(self) -> bool:
        """Whether rounding or the sweep decides."""
        ends = (self.error, *(self.worst or ()))
        return any(abs(abs(end) - self.accept) < 1e-3 for end in ends)


@cache
def drawn(seed: int) -> tuple[Made, Wanted | None]:
    """A random circuit about right at full scale, some tolerances, accuracy and accept given.

    Nothing is wanted of it where no current reaches the meter.
    """
    rng = np.random.default_rng(seed)
    made = random_made(seed, pots=seed % 3 == 0, contacts=int(seed % 4 == 1))
    for name in made.tolerance:
        made.tolerance[name] = int(rng.choice([0, 0, 1, 2, 10]))
    made.bare = frozenset(name for name in made.ohms if rng.random() < 0.15)
    made.accuracy = [None, 1, 3, 8][rng.integers(4)]
    made.accept = [None, None, 1, 12, 25][rng.integers(5)]
    found = exact(made)
    if found is None or not found[0]:
        return made, None
    made.drive = made.drive if found[0] > 0 else made.drive[::-1]
    amiss = float(rng.choice([1.0, 1.01, 0.96, 1.04, 0.9]))
    right = float(made.amount) * FULL_SCALE / abs(float(found[0]))
    made.amount = Fraction(f"{right * amiss:.6g}")
    return made, wanted(made)


def wanted(made: Made) -> Wanted:
    """By brute force."""
    accuracy = float(made.accuracy or 0)
    nominal = deflection(made, ({}, [0.0] * len(made.contacts)))
    moving = {name for name in made.bare if moves(made, name)}
    accept = max(5.0, accuracy) if made.accept is None else float(made.accept)
    worst = None
    if not moving:
        every = [deflection(made, point) for point in corners(made)]
        worst = 100 * (min(every) - 1) - accuracy, 100 * (max(every) - 1) + accuracy
    return Wanted(100 * (nominal - 1), moving, worst, accept)


def deflection(made: Made, point: Point) -> float:
    return dense(made, *point) / FULL_SCALE


def moves(made: Made, name: str) -> bool:
    """Whether a value moves the reading, contacts closed, off a balance that might hide it."""
    beside = {n: float(v) * (1.03 + 0.01 * i) for i, (n, v) in enumerate(made.ohms.items())}
    worn = [0.0] * len(made.contacts)
    here = dense(made, beside, worn)
    return abs(dense(made, {**beside, name: 3 * beside[name]}, worn) - here) > 1e-8 * abs(here)


def corners(made: Made) -> list[Point]:
    """All corners of the box; a pot at many places of its band."""
    ends: list[list[tuple[str, float]]] = []
    for name, ohms in made.ohms.items():
        off = 0.0 if name in made.bare else made.tolerance[name] / 100
        count = SWEEP + 1 if name in made.pots and off else 2
        ends.append(
            [
                (name, float(ohms) * k)
                for k in np.linspace(1 - off, 1 + off, count)[: None if off else 1]
            ]
        )
    contacts = itertools.product((0.0, WORN), repeat=len(made.contacts))
    return [(dict(one), list(worn)) for worn in contacts for one in itertools.product(*ends)]


def answered(made: Made) -> Readout:
    return values_of(read_text(made.spec(worn=True)))[0].readings[0]


@pytest.mark.parametrize("seed", range(56))
def test_off_and_worst_case_by_every_corner(seed: int) -> None:
    made, want = drawn(seed)
    one = answered(made)
    if want is None:
        assert one.deflection is None or abs(one.deflection) < 1e-12
        return
    assert one.error_percent == pytest.approx(want.error, abs=1e-6)
    assert set(one.unstated) == want.unstated
    if want.worst is None:
        assert (one.worst_low_percent, one.worst_high_percent) == (None, None)
    else:
        # A sweep may miss a stationary point by the square of its step.
        assert (one.worst_low_percent, one.worst_high_percent) == pytest.approx(
            want.worst, rel=1e-6, abs=1e-3 if made.pots else 1e-6
        )
    assert want.close or one.off is want.off


def test_the_circuits_drawn_here_are_off_in_every_way_and_right_in_every_way() -> None:
    """Guards the test above: off at its nominal value, by its worst case alone, and not at all."""
    seen: Counter[str] = Counter()
    for seed in range(56):
        _, want = drawn(seed)
        if want is None:
            continue
        nominal = abs(want.error) > want.accept
        known = "open" if want.worst is None else "known"
        seen[f"{known} {'nominal' if nominal else 'worst' if want.off else 'right'}"] += 1
    assert min(seen[k] for k in ("open nominal", "open right", "known nominal", "known worst", "known right")) > 1, seen  # fmt: skip
