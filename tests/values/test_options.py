"""Other movements in a plan, against hand sums and against the same movement written in by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rewire.reading import read_spec, read_text
from rewire.records.parts import Meter, Pot, Resistor
from rewire.records.spec import Spec
from rewire.values.answers import OptionRow
from rewire.values.options import option_rows
from rewire.values.wiring_values import values_of
from rewire.words.quantity import Piece

SPECS = Path(__file__).parents[2] / "specs"
SET = """
rewire: 1
title: a meter with a shunt and a multiplier
controls: {{RANGE: [AMPS, VOLTS]}}
points: {{A: {{}}, B: {{chassis: yes}}, C: {{}}}}
readings:
  amps: {{when: {{RANGE: AMPS}}, current: [A, B], full_scale: 100 mA}}
  volts: {{when: {{RANGE: VOLTS}}, voltage: [C, B], full_scale: 50 V}}
wirings:
  original:
    parts:
      S1: {{switch: SPDT, control: RANGE, timing: non-shorting}}
      M1: {{meter: 1 mA, resistance: 100 ohm}}
      R1: {{resistor: 1.010 ohm, between: [A, B]}}
      R2: {{resistor: 49.9 kohm, between: [S1.A2, C]}}
    wires: [[S1.A, M1.+], [M1.-, B], [S1.A1, A]]
  plan:
    parts:
      S1: {{switch: SPDT, control: RANGE, timing: non-shorting}}
      M1: {{meter: 1 mA, resistance: 100 ohm}}
      R1: {{resistor: 1.010 ohm, between: [A, B]}}
      R2: {{resistor: 49.9 kohm, between: [S1.A2, C]}}
    wires: [[S1.A, M1.+], [M1.-, B], [S1.A1, A]]
options: [{option}]
"""


def _rows(option: str) -> list[OptionRow]:
    text = SET.format(option=option)
    spec = read_text(text.encode())
    return list(option_rows(spec, spec.wirings["plan"]))


def _ohms(row: OptionRow) -> dict[str, float | None]:
    return {part.part: part.ohms for part in row.parts}


@pytest.mark.parametrize(
    ("amps", "coil"), [(1e-3, 75.0), (5e-4, 170.0), (2e-4, 620.0), (5e-5, 2000.0), (1e-2, 5.0)]
)
def test_shunt_and_multiplier_are_those_of_the_textbook(amps: float, coil: float) -> None:
    # Rs = Rm Im / (I - Im) and Rv = V / Im - Rm: any textbook on electrical measurement
    row = _rows(f"{{meter: {amps * 1e6:g} uA, resistance: {coil:g} ohm}}")[-1]
    found = _ohms(row)
    assert row.works
    assert found["R1"] == pytest.approx(coil * amps / (0.1 - amps), rel=1e-9)
    multiplier = 50.0 / amps - coil
    assert found["R2"] == pytest.approx(multiplier, rel=0.012)  # the nearest of E96: IEC 60063
    assert row.readings[0].insertion_ohms == pytest.approx(coil * amps / 0.1, rel=1e-9)


def test_a_movement_that_takes_more_than_the_reading_gives_cannot_work() -> None:
    row = _rows("{meter: 200 mA, resistance: 1 ohm}")[-1]
    assert not row.works
    assert row.why == "takes more current than amps gives (100 mA)"


def test_the_stock_movement_is_no_row_of_its_own_where_the_plan_keeps_it() -> None:
    assert [row.whose for row in _rows("{meter: 1 mA, resistance: 75 ohm}")] == ["plan", "option"]
    assert _rows("") == []


def test_the_taps_of_a_ring_follow_the_sums_of_a_universal_shunt() -> None:
    # R of the whole ring below a tap = Im (Rm + R) / I: any textbook on electrical measurement
    spec = read_spec(SPECS / "light-meter.yaml")
    plan, stock = option_rows(spec, spec.wirings["substitute"])[:2]
    for row, amps, coil in ((plan, 30e-6, 3500.0), (stock, 50e-6, 2000.0)):
        whole = coil * amps / (100e-6 - amps)
        below = [amps * (coil + whole) / full for full in (100e-6, 300e-6, 1e-3, 3e-3)]
        pieces = [high - low for high, low in zip(below, [*below[1:], 0.0], strict=True)]
        assert list(_ohms(row).values()) == pytest.approx(pieces, rel=1e-9)


def test_the_stock_movement_gets_the_values_that_its_maker_gave_it() -> None:
    spec = read_spec(SPECS / "light-meter.yaml")
    stock = option_rows(spec, spec.wirings["substitute"])[1]
    maker = [spec.original.parts[name].ohms_end_to_end for name in ("R1", "R2", "R3", "R4")]
    assert list(_ohms(stock).values()) == pytest.approx(maker, rel=1e-3)


def test_both_legs_of_a_balanced_line_stay_alike() -> None:
    # 231.3 uA through 7.5 kohm is 1.735 V, so 7.5 k less 3.9 k, half in either leg
    spec = read_spec(SPECS / "level-meter.yaml")
    stock = option_rows(spec, spec.wirings["substitute"])[1]
    assert _ohms(stock) == pytest.approx({"R11": 1800.0, "R12": 1800.0}, rel=1e-9)


def _written_in(spec: Spec, row: OptionRow) -> Spec:
    """The spec as somebody would write it who fits that movement and those values."""
    wiring = spec.wirings["substitute"]
    parts = dict(wiring.parts)
    meter = parts[row.meter]
    assert isinstance(meter, Meter)
    parts[row.meter] = replace(
        meter, full_scale_amps=row.full_scale_amps, full_scale_volts=row.full_scale_volts,
        resistance=row.resistance,
    )  # fmt: skip
    for one in row.parts:
        part = parts[one.part]
        if isinstance(part, Resistor):
            assert one.ohms is not None
            parts[one.part] = replace(part, pieces=Piece(one.ohms), fit_for=None)
        elif isinstance(part, Pot):
            parts[one.part] = replace(part, setting_percent=one.setting_percent, fit_for=None)
    wirings = {**spec.wirings, "substitute": replace(wiring, parts=parts)}
    return replace(spec, wirings=wirings, options=())


@pytest.mark.parametrize("file", sorted(SPECS.glob("*.yaml")), ids=lambda file: file.stem)
def test_each_row_is_what_values_says_of_the_spec_with_that_movement_written_in(file: Path) -> None:
    spec = read_spec(file)
    rows = option_rows(spec, spec.wirings["substitute"])
    for row in (row for row in rows if row.works and row.whose != "stock"):
        (found,) = values_of(_written_in(spec, row), ["substitute"])
        readings = {one.name: one for one in found.readings if one.meter == row.meter}
        assert readings.keys() == {one.name for one in row.readings}
        for one in row.readings:
            other = readings[one.name]
            assert one.error_percent == pytest.approx(other.error_percent, abs=1e-6)
            assert abs(one.error_percent or 0.0) <= other.accept_percent


def test_what_is_no_plan_has_no_rows() -> None:
    spec = read_spec(SPECS / "valve-amplifier.yaml")
    assert option_rows(spec, spec.wirings["as-found"]) == ()
    assert [row.whose for row in option_rows(spec, spec.wirings["substitute"])] == [
        "plan", "stock", "option", "option", "option", "option",
    ]  # fmt: skip
