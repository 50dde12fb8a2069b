"""Whole range switches of books and manuals: figures are records, their wires are held here."""

from __future__ import annotations

import pytest

from rewire.compare import compare
from rewire.reading import read_text
from tests.published.range_switches import CIRCUITS, solved, spec_of

MANY = [name for name, circuit in CIRCUITS.items() if len(circuit["ranges"]) > 1]


def test_there_are_ten_and_more() -> None:
    assert len(CIRCUITS) >= 10


@pytest.mark.parametrize("name", [n for n, c in CIRCUITS.items() if "shown" not in c])
def test_printed_resistors_bring_the_pointer_to_the_end_of_its_scale(name: str) -> None:
    """Within 1 %: most resistors are printed with three digits, one with two."""
    for reading in solved(name, False).readings:
        assert reading.deflection == pytest.approx(1.0, rel=1e-2)


@pytest.mark.parametrize("name", MANY)
def test_a_resistor_off_its_throw_is_noticed(name: str) -> None:
    """Each wire from a resistor to its throw carries a range."""
    circuit = CIRCUITS[name]
    for throw in range(1, len(circuit["ranges"]) + 1):
        result = compare(read_text(spec_of(circuit, cut=throw).encode()))[0]
        assert result.verdict == "broken", throw
