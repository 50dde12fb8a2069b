"""What ten kelvin do to a reading."""

from __future__ import annotations

import pytest

from rewire.reading import read_text
from rewire.values.wiring_values import values_of


@pytest.mark.parametrize("swamp", [0, 300])
def test_ten_kelvin_are_those_of_the_meters_copper_alone(swamp: int) -> None:
    """By hand: a shunt of 25 ohm across 75 ohm of copper, with and without a swamping resistor.

    Copper changes by 0.393 % per kelvin at 20 °C (IEC 60028, from memory).
    """
    series = f"      R2: {{resistor: {swamp} ohm, between: [P1, P2]}}\n" if swamp else ""
    meter = f"M1: {{meter: 1 mA, resistance: 75 ohm, between: [{'P2' if swamp else 'P1'}, P0]}}"
    text = (
        "rewire: 1\ntitle: copper\npoints: {P0: {}, P1: {}, P2: {}}\n"
        "readings: {r: {current: [P1, P0], full_scale: 4 mA}}\nwirings:\n  original: &same\n"
        f"    parts:\n      {meter}\n      R1: {{resistor: 25 ohm, between: [P1, P0]}}\n{series}"
        "  other: *same\n"
    )
    cold, warm = 100.0 + swamp, 100.0 + swamp + 75 * 0.0393
    reading = values_of(read_text(text.encode()))[0].readings[0]
    assert reading.percent_per_10_kelvin == pytest.approx(100 * (cold / warm - 1), rel=1e-6)
