"""The law of a movement: through every point, never back; straight for a movement that is."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from rewire.bench.movement import MovementLaw, movement_law
from rewire.reading import SpecError, read_text
from rewire.reading.benchlog import read_bench_log_text

SPEC = b"""
rewire: 1
title: A dial
controls: {METER: [A]}
points: {P: {}, C: {chassis: yes}}
parts: {M1: {meter: 1 mA, resistance: 75 ohm, between: [P, C]}}
readings: {r: {when: {METER: A}, current: [P, C], full_scale: 1 mA}}
wirings: {original: {}}
"""


def law(points: list[tuple[float, float]]) -> MovementLaw:
    """Of points in percent of full scale."""
    spec = read_text(SPEC)
    rows = ", ".join(f"{{reading: r, applied: {x:.9f} %, indicated: {y:.9f} %}}" for x, y in points)
    text = f"rewire_bench: 1\nwiring: original\ncalibration: [{rows}]\n"
    log = read_bench_log_text(text.encode(), spec)
    found = movement_law(log, spec.original, ["r"])
    assert found is not None
    return found


RISING = st.lists(st.tuples(st.integers(1, 30), st.integers(1, 30)), min_size=4, max_size=12)


@given(RISING)
def test_it_passes_through_every_point_and_never_turns_back(steps: list[tuple[int, int]]) -> None:
    across, up = (sum(pair[n] for pair in steps) for n in (0, 1))
    points, x, y = [], 0.0, 0.0
    for dx, dy in steps:
        x, y = x + 100 * dx / across, y + 100 * dy / up
        points.append((x, y))
    found = law(points)
    for x, y in points:
        assert found.at(x / 100) == pytest.approx(y / 100, abs=2e-6)
    along = [found.at(n / 500) for n in range(501)]
    assert all(b >= a - 1e-12 for a, b in pairwise(along))


def test_a_linear_movement_gives_a_linear_plate() -> None:
    found = law([(10, 10), (35, 35), (60, 60), (100, 100)])
    assert [found.at(n / 20) for n in range(21)] == pytest.approx([n / 20 for n in range(21)])
    assert found.worst[1] == pytest.approx(0.0, abs=1e-9)


def test_the_error_of_a_linear_plate_is_the_farthest_point() -> None:
    assert law([(20, 17), (40, 36), (60, 57), (80, 79), (100, 100)]).worst == pytest.approx(
        (0.4, -0.04)
    )


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([(20, 20), (60, 60), (100, 100)], "3 points were measured; measure 4 or more"),
        ([(20, 20), (40, 45), (60, 44), (100, 100)], "turns back between 40 and 60 %"),
        ([(4, 0), (40, 40), (60, 60), (100, 100)], "turns back between 0 and 4 %"),
        ([(20, 20), (40, 45), (60, 61), (80, 80)], "measured up to 80 % of full scale"),
    ],
)
def test_a_bad_law_is_refused_with_its_place(points: list[tuple[float, float]], said: str) -> None:
    with pytest.raises(SpecError, match=said) as caught:
        law(points)
    assert caught.value.faults[0].place.line == 3
