"""A meter of no resistance: currents by rational arithmetic, fits by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from rewire.reading import read_text
from rewire.values.wiring_values import values_of
from tests.values.reference import exact
from tests.values.test_readings import tied_by_zeros
from tests.values.test_tolerance import random_made


@pytest.mark.parametrize("voltage", [False, True])
def test_its_current_is_what_rational_arithmetic_says(voltage: bool) -> None:
    """sympy's exact solution of random circuits in which the meter has 0 ohm."""
    compared = 0
    for seed in range(12):
        made = random_made(seed, pots=seed % 2, contacts=0)
        made.ohms["M1"], made.voltage = Fraction(0), voltage
        wanted = None if tied_by_zeros(made) else exact(made)
        reading = values_of(read_text(made.spec()))[0].readings[0]
        if wanted is None or reading.deflection is None:
            continue
        amps, insertion = map(float, wanted)
        assert reading.deflection == pytest.approx(amps / 1e-3, rel=1e-9, abs=1e-9)
        assert reading.insertion_ohms == pytest.approx(insertion, rel=1e-9)
        compared += 1
    assert compared > 6


FIT = """
rewire: 1
title: no resistance
points: {{IN: {{}}, MID: {{}}, OUT: {{}}}}
readings: {{v: {{voltage: [IN, OUT], full_scale: {volts} V}}}}
wirings:
  original: &same
    parts:
      M1: {{meter: {amps} A, resistance: 0 ohm, between: [MID, OUT]}}
      R1: {{resistor: fit, for: v, choose: exact, between: [IN, MID]}}
      R2: {{resistor: {beside} ohm, between: [IN, OUT]}}
  other: *same
"""


@pytest.mark.parametrize(
    ("volts", "amps", "ohms"), [(10, 1e-3, 10e3), (250, 1e-4, 2.5e6), (0.05, 5e-3, 10)]
)
def test_its_multiplier_is_volts_over_amperes(volts: float, amps: float, ohms: float) -> None:
    """Ohm's law: nothing is in series with it, and what lies across a source takes no part."""
    spec = FIT.format(volts=volts, amps=amps, beside=33)
    (fit,) = values_of(read_text(spec.encode()))[0].fits
    assert fit.exact_ohms == pytest.approx(ohms, rel=1e-12)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_pot_before_it_is_set_by_hand(share: float) -> None:
    """A pot in series, full scale at ``share`` of its travel: 1 V over that share of 1 kohm."""
    amps = 1.0 / (1000.0 * share)
    spec = f"""
rewire: 1
title: no resistance
points: {{IN: {{}}, OUT: {{}}}}
readings: {{v: {{voltage: [IN, OUT], full_scale: 1 V}}}}
wirings:
  original: &same
    parts:
      M1: {{meter: {amps!r} A, resistance: 0 ohm, between: [RV1.wiper, OUT]}}
      RV1: {{pot: 1 kohm, setting: fit, for: v}}
    wires: [[RV1.ccw, IN]]
  other: *same
"""
    (pot,) = values_of(read_text(spec.encode()))[0].pots
    assert pot.setting_percent == pytest.approx(100.0 * share, rel=1e-9)
    # Turned to ccw nothing is left between the source and the meter.
    assert pot.at_ccw == math.inf
    assert pot.at_cw == pytest.approx(share)
    assert pot.advice is not None
    assert pot.advice.startswith("a stop leaves nothing in series with the meter")
