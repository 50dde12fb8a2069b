"""Solved examples whose answer is more than a figure.

``worked-examples.json`` names the source of each. Those whose answer is a figure are records
(worked.py) and are held against the program in test_records.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from rewire.values.drawer import SERIES, preferred_near
from rewire.words.wire import COLOURS
from tests.published.known import between_two_shunts
from tests.published.record import solved
from tests.published.worked import BY_ID, EXAMPLES, OURS, ids


@pytest.mark.parametrize("name", ids("eseries"))
def test_preferred_values(name: str) -> None:
    """Each value of the decade is its own nearest; half way between two, both are offered."""
    decade = BY_ID[name]["answer"]["decade"]
    series = name.split("-")[1].upper()
    assert len(decade) == BY_ID[name]["given"]["values_per_decade"]
    assert series in SERIES
    for value, after in zip(decade, [*decade[1:], 10.0], strict=True):
        for power in (-1, 0, 4):
            scale = 10.0**power
            assert preferred_near(series, value * scale) == pytest.approx((value * scale,))
            between = math.sqrt(value * after) * scale
            assert preferred_near(series, between) == pytest.approx((value * scale, after * scale))


def test_preferred_values_of_24_depart_from_the_formula() -> None:
    exact = BY_ID["eseries-e24"]["recomputed"]
    formula = [round(10 ** (n / 24), 1) for n in range(24)]
    departing = [v for n, v in enumerate(formula) if preferred_near("E24", v) != (v,)]
    assert formula == exact["geometric_rounded"]
    assert len(departing) == len(exact["differs_from_geometric"])


def test_colour_letters() -> None:
    codes = BY_ID["colour-iec-60757"]["answer"]["codes"]
    single = {code: name for code, name in codes.items() if len(code) == 2}
    assert {code: COLOURS[code] for code in single} == single


@pytest.mark.parametrize("name", ids("definition"))
def test_shorting_and_non_shorting(name: str) -> None:
    """The meter's fate between two shunts tells which contact lets go first."""
    example = BY_ID[name]["recomputed"]
    through = {timing: between_two_shunts(timing) for timing in ("shorting", "non-shorting")}
    assert (through["non-shorting"] > 1.05) == example["nonshorting_gap"]
    assert (through["shorting"] <= 1.0 + 1e-9) == example["shorting_overlap"]
    # With no shunt at all the movement takes all of the 100 mA.
    assert through["non-shorting"] == pytest.approx(100.0, rel=1e-6)


def test_volume_indicator() -> None:
    """Zero VU is 4 dB over a milliwatt in 600 ohm; with +3 at full scale it stands at 71 %."""
    level, scale = BY_ID["vu-reference-level"], BY_ID["vu-ballistics-and-scale"]
    given = level["given"]
    milliwatt = math.sqrt(1e-3 * given["load_ohms"])
    zero = milliwatt * 10 ** (given["level_dB_above_1mW_in_600_ohms"] / 20)
    assert zero == pytest.approx(level["recomputed"]["zero_vu_V"], rel=1e-6)
    top = zero * 10 ** (scale["answer"]["scale_max_vu"] / 20)
    result = solved(
        [
            f"M1: {{meter: {scale['answer']['movement_fs_A']} A, resistance: 3900 ohm, "
            "between: [FOOT, OUT]}",
            "R1: {resistor: fit, for: plus3, between: [IN, FOOT]}",
        ],
        [
            f"plus3: {{voltage: [IN, OUT], full_scale: {top} V}}",
            f"zero: {{voltage: [IN, OUT], full_scale: {zero} V}}",
        ],
        "IN: {}, OUT: {}, FOOT: {}",
    )
    stands = result.readings[1].deflection
    exact = scale["recomputed"]["zero_vu_fraction_of_fs_if_plus3_is_fs"]
    assert stands == pytest.approx(exact, rel=1e-6)


TESTED: dict[str, Callable[..., None]] = {
    "eseries": test_preferred_values, "colour": test_colour_letters,
    "definition": test_shorting_and_non_shorting, "vu": test_volume_indicator,
}  # fmt: skip


def test_every_topic_has_its_test() -> None:
    assert {example["topic"] for example in EXAMPLES} == set(TESTED) | set(OURS)
