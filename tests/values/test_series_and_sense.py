"""What is put in series at the bench, by Ohm's law: enough ohms and no more than the next step."""

from __future__ import annotations

import random

import pytest

from rewire.values.bench_test import OLD_VOLTMETER, sense_for, series_for

EASY = 2.0
"""Volts that the knob of a supply is easily set to (common practice, no source)."""
STEP = 2.3
"""More than any step of E3, the coarsest series of IEC 60063: 1, 2.2, 4.7."""


def test_a_series_resistor_makes_full_scale_two_volts_and_the_step_below_it_would_not() -> None:
    dice, found = random.Random(5), 0
    for _ in range(200):
        amps = 10 ** dice.uniform(-3.0, 0.5)
        insertion = dice.uniform(0.05, 1.5) * EASY / amps
        answer = series_for(amps, insertion)
        if answer is None:
            continue
        ohms, watts = answer
        found += 1
        assert amps * (ohms + insertion) >= EASY * 0.995, (amps, insertion)
        assert ohms >= 0.0995 * insertion
        assert watts >= 2.0 * amps**2 * ohms * 0.995
        less = ohms / STEP
        assert amps * (less + insertion) < EASY or less < 0.1 * insertion, (amps, insertion)
    assert found > 100


@pytest.mark.parametrize("amps", [0.005, 0.05, 0.25, 2.0, 10.0])
def test_a_sense_resistor_takes_its_share_and_an_old_voltmeter_across_it_another(
    amps: float,
) -> None:
    """Parallel resistors divide the current; in series the sum falls by what is added."""
    loop = 3.0
    sense = sense_for(amps, loop)
    across = 1.0 / (1.0 / sense.ohms + 1.0 / OLD_VOLTMETER)
    assert sense.burden_percent == pytest.approx(100.0 * (across / sense.ohms - 1.0), rel=1e-9)
    assert sense.insertion_percent == pytest.approx(
        100.0 * (loop / (loop + sense.ohms) - 1.0), rel=1e-9
    )
    assert sense.full_scale_volts == pytest.approx(amps * sense.ohms)
    assert sense.full_scale_watts == pytest.approx(amps**2 * sense.ohms)
