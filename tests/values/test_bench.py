"""Bench tests: nothing above 50 V, nothing above a rating; judged by Kirchhoff's laws alone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from rewire.reading import read_spec, read_text
from rewire.values.answers import BenchTest
from rewire.values.bench_test import bench_test
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of

MOST_VOLTS = 50.0
"""Above it a bench lead is dangerous: common practice, no source (IEC 61010-1 draws it lower)."""


@dataclass(frozen=True)
class Part:
    """A resistor of the random network, between two of its nodes."""

    ohms: float
    ends: tuple[int, int]
    watts: float | None
    volts: float | None


@dataclass(frozen=True)
class Rig:
    """A meter in a network of resistors, fed at nodes 0 and 1."""

    parts: tuple[Part, ...]
    meter: tuple[float, float, int, int]
    """Full scale in ampere, ohm, ends."""
    quantity: str
    full_scale: float
    series: tuple[float, float | None]

    def text(self) -> str:
        """As a spec."""
        lines = []
        for number, part in enumerate(self.parts):
            more = "" if part.watts is None else f", rating: {part.watts} W"
            more += "" if part.volts is None else f", working_volts: {part.volts} V"
            one, other = part.ends
            lines.append(
                f"      R{number}: {{resistor: {part.ohms} ohm, between: [N{one}, N{other}]{more}}}"
            )
        amps, ohms, one, other = self.meter
        unit = "A" if self.quantity == "current" else "V"
        rating = "" if self.series[1] is None else f", rating: {self.series[1]} W"
        wiring = "\n".join([
            "    parts:",
            f"      M1: {{meter: {amps} A, resistance: {ohms} ohm, between: [N{one}, N{other}]}}",
            *lines,
        ])  # fmt: skip
        return (
            "rewire: 1\ntitle: bench\npoints: {N0: {}, N1: {}, N2: {}, N3: {}, N4: {}}\n"
            f"readings: {{r: {{{self.quantity}: [N0, N1], full_scale: {self.full_scale} {unit}}}}}\n"
            f"bench: {{series_resistor: {self.series[0]} ohm{rating}}}\n"
            f"wirings:\n  original:\n{wiring}\n  other:\n{wiring}\n"
        )

    def volts(self, amps: float) -> np.ndarray:
        """Of every node against node 1, with a current fed in at node 0."""
        matrix, fed = np.zeros((5, 5)), np.zeros(5)
        _, ohms, one, other = self.meter
        for r, a, b in [(ohms, one, other), *((p.ohms, *p.ends) for p in self.parts)]:
            matrix[a, a] += 1 / r
            matrix[b, b] += 1 / r
            matrix[a, b] -= 1 / r
            matrix[b, a] -= 1 / r
        fed[0], fed[1] = amps, 0.0
        matrix[1] = np.eye(5)[1]
        return np.linalg.solve(matrix, fed)


def rig(seed: int) -> Rig:
    """A random one; every node hangs on a ring, so that the network is whole."""
    rng = np.random.default_rng(seed)

    def logarithmic(low: float, high: float) -> float:
        return float(f"{10 ** rng.uniform(np.log10(low), np.log10(high)):.4g}")

    ring = [(0, 2), (2, 3), (3, 4), (4, 1), (0, 1)]
    ends = [*ring, *(tuple(sorted(rng.choice(5, 2, replace=False))) for _ in range(3))]
    parts = tuple(
        Part(
            logarithmic(0.01, 1e6),
            (int(a), int(b)),
            logarithmic(0.1, 20) if rng.random() < 0.7 else None,
            logarithmic(20, 500) if rng.random() < 0.3 else None,
        )
        for a, b in ends
    )
    quantity = "current" if rng.random() < 0.5 else "voltage"
    full = logarithmic(1e-4, 20) if quantity == "current" else logarithmic(0.05, 5000)
    meter = (logarithmic(2e-5, 1), logarithmic(0.05, 5000), 2, 3)
    return Rig(parts, meter, quantity, full, (logarithmic(0.1, 1e5), rng.choice([None, 0.5, 10.0])))


def table_of(made: Rig) -> BenchTest | None:
    spec = read_text(made.text().encode())
    worked = solved_of(spec, spec.original)
    return bench_test(worked, worked.setups["r"])


@pytest.mark.parametrize("batch", range(2))
def test_no_step_of_random_specs_passes_a_rating_or_50_volts(batch: int) -> None:
    seen = 0
    for seed in range(60 * batch, 60 * batch + 60):
        made = rig(seed)
        test = table_of(made)
        if test is None:
            continue
        assert not any("quick" in note for note in test.notes)
        for row in test.rows:
            seen += 1
            volts = made.volts(row.supply_amps)
            feels = volts[0] + row.supply_amps * made.series[0]
            assert row.supply_volts == pytest.approx(feels, rel=1e-6)
            rounding = 0.005 if row.supply_volts >= 0.1 else 0.05
            if row.supply_volts >= 0.01:
                assert row.knob_volts == pytest.approx(row.supply_volts, rel=rounding)
            assert max(row.knob_volts, row.supply_volts) <= MOST_VOLTS * (1 + 2e-9)
            assert made.series[1] is None or row.supply_amps**2 * made.series[0] <= made.series[
                1
            ] * (1 + 1e-6)
            for part in made.parts:
                across = abs(volts[part.ends[0]] - volts[part.ends[1]])
                assert part.volts is None or across <= part.volts * (1 + 1e-6)
                assert part.watts is None or across**2 / part.ohms <= part.watts * (1 + 1e-6)
            amps, ohms, one, other = made.meter
            assert (volts[one] - volts[other]) / ohms <= 1.2 * amps * (1 + 1e-6)
    assert seen > 20


HIGH = """
rewire: 1
title: high
points: {HV: {volts: 3 kV}, CH: {chassis: yes}}
readings: {r: {voltage: [HV, CH], full_scale: 4 kV}}
bench: {series_resistor: 10 ohm, rating: 10 W}
wirings:
  original: &same
    parts:
      R1: {resistor: 3.9999 Mohm, between: [HV, LOW]}
      M1: {meter: 1 mA, resistance: 100 ohm, between: [LOW, CH]}
  other: *same
"""


def test_a_range_of_4_kv_has_no_table_and_is_proved_leg_by_leg() -> None:
    spec = read_text(HIGH.replace("CH: {chassis: yes}", "CH: {chassis: yes}, LOW: {}").encode())
    (test,) = values_of(spec, ["original"])[0].bench
    assert not test.rows
    said = " ".join(test.notes)
    assert "do not feed this range from a bench supply" in said
    assert "R1 4 MΩ" in said
    assert "high-voltage probe" in said


def test_what_is_left_of_a_high_range_is_fed_at_its_own_two_places_below_50_v() -> None:
    """1 mA through 2.2 kΩ and the 100 ohm that are left is 2.3 V; full scale itself is 4 kV."""
    spec = read_text(HIGH.replace("CH: {chassis: yes}", "CH: {chassis: yes}, LOW: {}").encode())
    (test,) = values_of(spec, ["original"])[0].bench
    said = " ".join(test.notes)
    assert "feed 1 mA through 2.2 kΩ, from about 2.3 V, into LOW (+) and CH (-)" in said


def test_a_probe_is_rated_for_what_the_place_rises_to_not_for_full_scale_alone() -> None:
    points = "CH: {chassis: yes}, LOW: {}"
    risen = HIGH.replace("CH: {chassis: yes}", points).replace("3 kV}", "3 kV, rises_to: 5.5 kV}")
    (test,) = values_of(read_text(risen.encode()), ["original"])[0].bench
    assert "rated above 5.5 kV" in " ".join(test.notes)


CHARGER = """
rewire: 1
title: charger
points: {IN: {}, OUT: {}}
readings: {r: {current: [IN, OUT], full_scale: 5 A}}
bench: {series_resistor: 100 ohm, rating: 10 W}
wirings:
  original: &same
    parts:
      R1: {resistor: 0.01 ohm, rating: 5 W, between: [IN, OUT]}
      M1: {meter: 1 mA, resistance: 50 ohm, between: [IN, OUT]}
  other: *same
"""


def test_steps_that_the_series_resistor_does_not_stand_name_one_that_does() -> None:
    """10 W in 100 ohm is 316 mA: of 5 A that is 6.3 %, and no step is as low as that."""
    (test,) = values_of(read_text(CHARGER.encode()), ["original"])[0].bench
    assert not test.rows
    assert test.left_out == (10.0, 25.0, 50.0, 75.0, 100.0)
    said = " ".join(test.notes)
    assert "do not exceed 316 mA: the series resistor is rated 10 W" in said
    assert "0.47 Ω, 25 W in series reaches full scale" in said
    half = CHARGER.replace("100 ohm, rating: 10 W", "0.47 ohm, rating: 25 W")
    (test,) = values_of(read_text(half.encode()), ["original"])[0].bench
    assert len(test.rows) == 5
    assert test.places == ("IN", "OUT")


def test_a_multiplier_beside_a_load_is_measured_alone() -> None:
    """Beside a load of 10 kohm within 5 % a multiplier of 60 kohm would pass for one of 100."""
    spec = read_spec(Path(__file__).parents[2] / "specs" / "portable-battery-check.yaml")
    (told,) = values_of(spec, ["substitute"])
    (test,) = (one for one in told.bench if one.reading == "b_battery")
    assert any("one lead lifted, across R12 100 kΩ" in note for note in test.notes)
