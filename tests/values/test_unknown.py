"""What is not known stays unknown, however many unknown values are in series."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from rewire.reading import read_spec
from rewire.values.quick_sums import BenchMeter, Choice, chained_multipliers
from rewire.values.wiring_values import values_of
from tests.values.test_fitting import answered

NUMBERS = Path(__file__).parent / "numbers"


def test_four_unknown_resistors_in_series_make_no_figure() -> None:
    """50 mV cannot move 1 mA through 100 ohm, so R1 is unknown and all that stand on it."""
    (result,) = values_of(read_spec(str(NUMBERS / "four.yaml")))
    assert [fit.exact_ohms for fit in result.fits] == [None] * 4
    assert [one.insertion_ohms for one in result.readings] == [None] * 4
    assert [one.deflection for one in result.readings] == [None] * 4


def test_nor_does_a_chain_without_a_spec() -> None:
    spec = chained_multipliers(
        BenchMeter(1e-3, None, 100.0), [0.05, 10.0, 20.0, 41.141], Choice("exact")
    )
    (result,) = values_of(spec, ["original"])
    assert [fit.exact_ohms for fit in result.fits] == [None] * 4


@pytest.mark.parametrize("seed", range(10))
def test_neither_series_nor_parallel_of_unknown_settings_is_known(seed: int) -> None:
    """Pots without a setting as rheostats: the reading hangs on them, whatever their number."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 9))
    ends = [f"T{n}" for n in range(count)] + ["COM"]
    if rng.random() < 0.5:
        ends = ["T0", *["COM"] * count]
        pairs = [("T0", "COM")] * count
    else:
        pairs = list(itertools.pairwise(ends))
    points = ", ".join(f"{name}: {{}}" for name in dict.fromkeys(e for p in pairs for e in p))
    parts = "".join(
        f"      RV{n}: {{pot: {int(rng.integers(10, 900))} ohm}}\n" for n in range(count)
    )
    nets = ", ".join(
        f"[RV{n}.ccw, {one}], [RV{n}.wiper, RV{n}.cw, {other}]"
        for n, (one, other) in enumerate(pairs)
    )
    one = answered(
        f"rewire: 1\ntitle: made\npoints: {{IN: {{}}, {points}}}\n"
        "readings: {r: {voltage: [IN, COM], full_scale: 1 V}}\nwirings:\n  original: &w\n"
        f"    parts:\n{parts}      M1: {{meter: 1 mA, resistance: 100 ohm, between: [IN, T0]}}\n"
        f"    nets: [{nets}]\n  other: *w\n"
    ).readings[0]
    assert one.deflection is None
    assert one.insertion_ohms is None
    assert one.unknown
