"""Bench tests of the shipped specs: nothing above 50 V, nothing above a rating."""

from __future__ import annotations

from pathlib import Path

import pytest

from rewire.reading import read_spec
from rewire.values.wiring_values import values_of
from tests.values.test_bench import MOST_VOLTS


@pytest.mark.parametrize(
    "path", sorted((Path(__file__).parents[2] / "specs").glob("*.yaml")), ids=lambda p: p.stem
)
def test_no_shipped_spec_asks_for_what_hands_or_parts_do_not_stand(path: Path) -> None:
    spec = read_spec(str(path))
    for result in values_of(spec):
        for test in result.bench:
            assert all(row.supply_volts <= MOST_VOLTS for row in test.rows)
            rating = spec.bench.series_resistor_watts
            assert rating is not None
            assert all(row.series_watts <= rating for row in test.rows)
