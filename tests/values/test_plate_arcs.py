"""Which arcs a plate needs; each against a sum by hand."""

from __future__ import annotations

from math import inf

import pytest

from rewire.reading import read_text
from rewire.records.parts import Meter
from rewire.values.dial_arcs import PlateArc, plate_arcs
from rewire.values.wiring_values import values_of

SPEC = """
rewire: 1
title: A test set
controls: {{RANGE: [ONE, TWO]}}
points: {{P: {{}}, Q: {{}}, C: {{chassis: yes}}}}
readings:
  one: {{when: {{RANGE: ONE}}, voltage: [P, C], {one}}}
  two: {{when: {{RANGE: TWO}}, voltage: [Q, C], {two}}}
wirings:
  original:
    parts:
      S1: {{switch: SPDT, control: RANGE}}
      M1: {{meter: 1 mA, resistance: 100 ohm, zero: {zero}, dial: {{radius: 40 mm}}}}
      R1: {{resistor: 1.4 kohm}}
      R2: {{resistor: 29.9 kohm}}
    nets: [[P, R1.1], [R1.2, S1.A1], [Q, R2.1], [R2.2, S1.A2], [S1.A, M1.+], [M1.-, C]]
"""


def arcs(one: str, two: str = "full_scale: 30 V", zero: str = "left") -> tuple[PlateArc, ...]:
    spec = read_text(SPEC.format(one=one, two=two, zero=zero).encode())
    (values,) = values_of(spec, ["original"])
    meter = spec.all_of(Meter, spec.original)["M1"]
    return plate_arcs(spec.original, meter, values.readings)


def test_an_ohm_arc_has_what_its_probes_see_in_the_middle() -> None:
    """Coil and multiplier in series: 100 + 1400 ohm; Rin / (Rin + Rx), textbooks."""
    ohms, volts = arcs("full_scale: 1.5 V, scale: ohm")
    assert (ohms.kind, ohms.high) == ("ohm", pytest.approx(1500.0))
    assert ohms.share(1500.0) == pytest.approx(1 / 2)
    assert ohms.share(3000.0) == pytest.approx(1 / 3)
    assert (ohms.share(0.0), ohms.share(inf)) == (1.0, 0.0)
    assert volts.said == "0–30 V: two"


def test_readings_alike_but_for_a_power_of_ten_share_an_arc() -> None:
    (arc,) = arcs("full_scale: 3 V", "full_scale: 30 V, marks: {24 V: red line}")
    assert arc.names == ("ONE 0–3 V", "TWO ×10")
    assert arc.marks == ((pytest.approx(2.4), "red line"),)
    assert len(arcs("full_scale: 1.5 V")) == 2


@pytest.mark.parametrize("scale", ["-20 to +3 dB", "-20 to +3dB", "−20dB to +3dB"])
def test_decibels_begin_and_end_as_the_scale_says(scale: str) -> None:
    level, _ = arcs(f'full_scale: 1.5 V, scale: "{scale}", marks: {{0.75 V: half}}')
    assert (level.low, level.high, level.unit) == (-20.0, 3.0, "dB")
    assert level.share(3.0) == 1.0
    assert level.marks[0][0] == pytest.approx(3.0 - 6.02, abs=0.001)  # half is 6.02 dB less


def test_a_zero_may_be_suppressed_or_in_the_middle() -> None:
    battery, _ = arcs("full_scale: 1.5 V, scale: 10-15")
    assert (battery.low, battery.high) == (1.0, 1.5)
    assert battery.share(1.25) == pytest.approx(0.5)
    both, _ = arcs("full_scale: 1.5 V", zero="centre")
    assert (both.share(0.0), both.share(-1.5)) == (0.0, -1.0)
    assert both.said == "1.5–0–1.5 V: one"


def test_rms_is_said_where_the_reading_is_ac() -> None:
    arc = arcs("full_scale: 1.5 V, ac: yes")[0]
    assert arc.names == ("ONE 0–1.5 V rms",)
