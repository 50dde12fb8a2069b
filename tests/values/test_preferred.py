"""Preferred values that are taken: least worst error, then fewest values a decade, then the nearest.

Reference: every value of the series for a decade around, Ohm's law, and a plain search.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.quick_sums import BenchMeter, Choice, multipliers
from rewire.values.wiring_values import values_of
from tests.values.test_choosing import decade


def answered(text: str) -> WiringValues:
    return values_of(read_text(text.encode()))[0]


def every(name: str) -> list[float]:
    """Values of a series from 1 ohm to 10 Mohm."""
    return [float(f"{value}e{power}") for power in range(7) for value in decade(name)]


def separate(ranges: list[tuple[float, str]]) -> str:
    """A multiplier for each range, on a switch; 1 mA and 100 ohm."""
    points = "".join(f"P{n}: {{}}, " for n in range(len(ranges)))
    readings = "".join(
        f"  r{n}: {{when: {{METER: M{n}}}, voltage: [P{n}, COM], full_scale: {volts!r} V}}\n"
        for n, (volts, _) in enumerate(ranges)
    )
    parts = "".join(
        f"      R{n}: {{resistor: fit, for: r{n}, choose: {name}, between: [S1.A{n + 1}, P{n}]}}\n"
        for n, (_, name) in enumerate(ranges)
    )
    return (
        f"rewire: 1\ntitle: made\ncontrols: {{METER: [{', '.join(f'M{n}' for n in range(len(ranges)))}]}}\n"
        f"points: {{{points}COM: {{chassis: yes}}}}\nreadings:\n{readings}wirings:\n  original: &w\n"
        f"    parts:\n{parts}      S1: {{switch: SP{len(ranges)}T, control: METER, contact_resistance: 0 ohm}}\n"
        "      M1: {meter: 1 mA, resistance: 100 ohm, between: [S1.A, COM]}\n"
        "    wires: []\n  other: *w\n"
    )


def test_a_poor_choice_for_one_reading_does_not_spoil_another() -> None:
    """10 kohm for 9.9 is 1 % low, 9.1 kohm 9 % high, however far off the E3 one is."""
    result = answered(separate([(10.0, "E24"), (83.0, "E3")]))
    assert [fit.chosen_ohms for fit in result.fits] == [10_000.0, 100_000.0]
    assert result.fits[0].error_percent == pytest.approx(100 * (10 / 10.1 - 1))


@pytest.mark.parametrize("seed", range(10))
def test_each_is_the_best_of_its_series(seed: int) -> None:
    rng = np.random.default_rng(seed)
    names = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"]
    ranges = [
        (float(f"{10 ** rng.uniform(0.1, 3):.4g}"), str(rng.choice(names)))
        for _ in range(int(rng.integers(2, 5)))
    ]
    result = answered(separate(ranges))
    for fit, (volts, name) in zip(result.fits, ranges, strict=True):
        errors = {ohms: abs(volts / (ohms + 100) / 1e-3 - 1) for ohms in every(name)}
        assert fit.chosen_ohms is not None
        assert errors[fit.chosen_ohms] == pytest.approx(min(errors.values()), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("seed", range(10))
def test_a_chain_is_the_best_of_all_neighbours(seed: int) -> None:
    """The worst reading first, then the next: by trying all values on either side of each."""
    rng = np.random.default_rng(seed)
    volts = sorted(float(f"{v:.4g}") for v in 10 ** rng.uniform(0.5, 2.7, 3))
    if min(b - a for a, b in itertools.pairwise(volts)) < 0.5:
        return
    name = str(rng.choice(["E6", "E12", "E24"]))
    points = "COM: {chassis: yes}, FOOT: {}, T1: {}, T2: {}, T3: {}"
    readings = "".join(
        f"  r{n}: {{voltage: [T{n}, COM], full_scale: {v!r} V}}\n" for n, v in enumerate(volts, 1)
    )
    parts = "".join(
        f"      R{n}: {{resistor: fit, for: r{n}, choose: {name}, between: [{lower}, T{n}]}}\n"
        for n, lower in enumerate(("FOOT", "T1", "T2"), 1)
    )
    result = answered(
        f"rewire: 1\ntitle: chain\npoints: {{{points}}}\nreadings:\n{readings}wirings:\n  original: &w\n"
        f"    parts:\n{parts}      M1: {{meter: 1 mA, resistance: 100 ohm, between: [FOOT, COM]}}\n  other: *w\n"
    )
    wanted = [volts[0] / 1e-3 - 100, *((b - a) / 1e-3 for a, b in itertools.pairwise(volts))]
    near = [
        [max(v for v in every(name) if v <= w), min(v for v in every(name) if v >= w)]
        for w in wanted
    ]

    def errors(values: tuple[float, ...]) -> list[float]:
        sums = np.cumsum(values) + 100
        return sorted(
            (abs(v / s / 1e-3 - 1) for v, s in zip(volts, sums, strict=True)), reverse=True
        )

    best = min(errors(v) for v in itertools.product(*near))
    chosen = tuple(fit.chosen_ohms or 0.0 for fit in result.fits)
    assert errors(chosen) == pytest.approx(best, rel=1e-9)


@pytest.mark.parametrize(
    ("volts", "ohms", "series"),
    [
        # 119,988 wanted: 120k of E24 is exact for any pointer, 121k of E96 is 0.8 % low.
        (600.0, 120e3, "E24"),
        # 14,188 wanted: E24 has 13k and 15k, E96 14.3k.
        (71.0, 14.3e3, "E96"),
        # 3,000 wanted: E24 has it, E96 has 3.01k.
        (15.06, 3e3, "E24"),
    ],
)
def test_what_is_sold_everywhere_comes_before_a_finer_series(
    volts: float, ohms: float, series: str
) -> None:
    spec = multipliers(BenchMeter(5e-3, None, 12.0), [volts], Choice("E24 or E96"))
    fit = values_of(spec, ["original"])[0].fits[0]
    assert fit.chosen_ohms == ohms
    assert fit.choose == series


def test_a_reading_that_cannot_be_worked_out_does_not_decide_the_choice() -> None:
    """A standing current from N has no way back in r1: R1 is chosen for r0 alone."""
    text = """
rewire: 1
title: made
controls: {METER: [M0, M1]}
points: {P: {}, N: {}, COM: {chassis: yes}}
readings:
  r0: {when: {METER: M0}, voltage: [P, COM], full_scale: 9.9 V}
  r1: {when: {METER: M1}, voltage: [P, COM], full_scale: 20 V, also: [{current: [N, COM], amount: 1 mA}]}
wirings:
  original: &same
    parts:
      S1: {switch: SPDT, control: METER}
      M1: {meter: 1 mA, resistance: 100 ohm, between: [S1.A, COM]}
      R1: {resistor: fit, for: r0, choose: E24, between: [P, S1.A1]}
      R2: {resistor: 10 kohm, between: [S1.A1, S1.A2]}
  other: *same
"""
    (fit,) = answered(text).fits
    assert fit.exact_ohms == pytest.approx(9800.0)
    assert fit.chosen_ohms == 10e3
