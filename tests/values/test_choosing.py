"""Preferred values on either side of a random one, against a search through the whole decade.

The decades are those of IEC 60063 as they stand in tests/published (E24 and coarser, from memory),
and for the finer series its formula, ten to the n/N in three digits, with 9.20 in E192.
"""

from __future__ import annotations

import math

import eseries
import pytest
from hypothesis import given, strategies as st

from rewire.values.drawer import SERIES, preferred_near
from tests.published.known import SERIES as PUBLISHED


def decade(name: str) -> list[float]:
    """Values from 1 to below 10."""
    if name in PUBLISHED:
        return [float(value) for value in PUBLISHED[name].split()]
    count = int(name[1:])
    values = [round(10 ** (n / count), 2) for n in range(count)]
    return [9.20 if value == 9.19 else value for value in values]


@given(st.sampled_from(sorted(SERIES)), st.floats(1e-2, 1e7, allow_nan=False))
def test_they_are_the_nearest_below_and_above(name: str, ohms: float) -> None:
    every = sorted(
        float(f"{value}e{power}") for power in range(-4, 9) for value in decade(name)
    )  # fmt: skip
    found = preferred_near(name, ohms)
    if len(found) == 1:
        assert min(abs(value / ohms - 1.0) for value in every) < 1e-9
        return
    below = max(value for value in every if value <= ohms)
    above = min(value for value in every if value >= ohms)
    assert found == pytest.approx((below, above), rel=1e-9)


@given(st.sampled_from(sorted(SERIES)), st.floats(1e-2, 1e7, allow_nan=False))
def test_one_of_them_is_the_nearest_of_the_library(name: str, ohms: float) -> None:
    """Reference: eseries.find_nearest, which weighs by difference."""
    nearest = float(eseries.find_nearest(SERIES[name], ohms))
    assert any(math.isclose(value, nearest, rel_tol=1e-9) for value in preferred_near(name, ohms))
