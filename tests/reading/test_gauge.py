"""The cross-section of a wire, from what is written as its gauge."""

from __future__ import annotations

from math import pi

import pytest

from rewire.words.wire import square_mm
from tests.reading.builders import bare, read

# ASTM B258, diameters in mil as its table prints them (from memory), one mil being 25.4 µm.
MILS = {"4/0": 460.0, "10": 101.9, "18": 40.3, "22": 25.3, "30": 10.0, "40": 3.1}


@pytest.mark.parametrize("number", MILS)
@pytest.mark.parametrize("written", ["{} AWG", "AWG {}", "awg{}", "#{} AWG"])
def test_an_american_gauge_is_the_area_of_its_diameter(number: str, written: str) -> None:
    area = pi / 4.0 * (MILS[number] * 0.0254) ** 2
    assert square_mm(written.format(number)) == pytest.approx(area, rel=0.04)


@pytest.mark.parametrize(
    ("written", "area"),
    [
        ("0.5 mm2", 0.5), ("1.5 mm²", 1.5), ("2.5 sq mm", 2.5), ("0.75mm^2", 0.75),
        ("1 mm", pi / 4.0), ("7/0.2 mm", 7 * pi / 4.0 * 0.04), ("16/0.2", 16 * pi / 4.0 * 0.04),
    ],
)  # fmt: skip
def test_an_area_a_diameter_and_strands_are_read(written: str, area: float) -> None:
    assert square_mm(written) == pytest.approx(area)


@pytest.mark.parametrize("written", ["plain", "bell wire", "0 mm", "99 AWG", "22", "9/0 AWG"])
def test_a_gauge_that_gives_no_area_gives_none(written: str) -> None:
    assert square_mm(written) is None


def test_a_length_without_a_readable_gauge_is_told() -> None:
    wire = {"from": "X", "to": "CH", "gauge": "bell wire", "length": "2 m"}
    (notice,) = read(bare(substitute={"wires": [wire]})).notices
    assert "gives no cross-section" in notice.message
    known = read(bare(substitute={"wires": [wire | {"gauge": "22 AWG"}]}))
    assert known.notices == ()
    assert known.wirings["substitute"].wires[0].square_mm == pytest.approx(0.326, rel=0.01)
