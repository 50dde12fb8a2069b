"""What a sum of ohms leaves out, or must not leave out: small specs, answers worked by hand.

The specs in ``numbers`` came from comparing against a circuit simulator; what each must answer is
worked out beside it by Ohm's and Kirchhoff's laws.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from rewire.spec import read_spec
from rewire.values import WiringValues, values_of
from rewire.values.model import Mishap, Readout

NUMBERS = Path(__file__).parent / "numbers"


def answered(name: str, wiring: str | None = None) -> WiringValues:
    spec = read_spec(str(NUMBERS / f"{name}.yaml"))
    return values_of(spec, [wiring] if wiring else None)[0]


def reading(result: WiringValues, name: str) -> Readout:
    return next(one for one in result.readings if one.name == name)


def fault(result: WiringValues, what: str) -> Mishap:
    return next(one for one in result.faults if one.what == what)


def said(result: WiringValues) -> str:
    return "\n".join(warning.message for warning in result.warnings)


def test_a_standing_current_without_a_way_back_leaves_the_reading_unknown_and_is_named() -> None:
    """By Kirchhoff's law what enters SCREEN must leave it, and nothing hangs on SCREEN."""
    result = answered("p1-standing", "as-found")
    one = reading(result, "cathode")
    assert one.deflection is None
    assert one.note is not None
    assert "20 mA from SCREEN to CHASSIS has no way back" in one.note
    assert result.answer == "unknown"
    assert {part.part: part.watts for part in result.parts} == {"R1": None, "M1": None, "R2": None}
    whole = answered("p1-standing", "original")
    assert reading(whole, "cathode").deflection == pytest.approx(1.0)
    lost = next(f for f in whole.faults if "(R2.1 to SCREEN) open" in f.what)
    assert lost.deflection is None
    assert "has no way back" in lost.message


def test_a_standing_current_counts_where_the_reading_finds_no_path() -> None:
    """1.5 A in 0.0667 ohm beside 1 kohm + 100 ohm: 90.9 uA of 1 mA."""
    one = reading(answered("p2b", "as-found"), "volts")
    assert one.deflection == pytest.approx(1.5 * 0.0667 / (0.0667 + 1100.0) / 1e-3, rel=1e-9)


def test_a_standing_current_counts_where_the_reading_s_places_are_joined() -> None:
    """50 mA in 1 ohm beside 100 ohm: 495 uA of 1 mA; watts go with it."""
    result = answered("p2-tied", "as-found")
    one = reading(result, "k1")
    assert one.deflection == pytest.approx(50.0 / 101.0, rel=1e-9)
    assert one.insertion_ohms == 0.0
    watts = {part.part: part.watts for part in result.parts}
    assert watts["R1"] == pytest.approx((0.05 * 100 / 101) ** 2, rel=1e-9)


@pytest.mark.parametrize("name", ["ceil", "ceil2"])
def test_a_standing_current_against_the_reading_s_own_keeps_its_sign(name: str) -> None:
    """With R1 open, A goes up to its 100 V, over 10.1 kohm: 9.9 times 1 mA, whatever stands by."""
    assert fault(answered(name), "R1 open").times_full_scale == pytest.approx(9.90, rel=1e-3)
