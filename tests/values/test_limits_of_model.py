"""What a sum of ohms leaves out, or must not leave out: small specs, answers worked by hand.

The specs in ``numbers`` came from comparing against a circuit simulator; what each must answer is
worked out beside it by Ohm's and Kirchhoff's laws.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from rewire.compare import compare
from rewire.reading import read_spec, read_text
from rewire.values.answers import Mishap, Readout, WiringValues
from rewire.values.wiring_values import values_of

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
    assert "20 mA from SCREEN to CHASSIS has no return path" in one.note
    assert result.answer == "unknown"
    assert {part.part: part.watts for part in result.parts} == {"R1": None, "M1": None, "R2": None}
    whole = answered("p1-standing", "original")
    assert reading(whole, "cathode").deflection == pytest.approx(1.0)
    lost = next(f for f in whole.faults if "(R2.1 to SCREEN) open" in f.what)
    assert lost.deflection is None
    assert "has no return path" in lost.message


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


@pytest.mark.parametrize(("name", "volts"), [
    # Over the box: 10 V over 7.07 kohm and 191.07 kohm; 1 mA into 7.07 kohm beside 372.1 ohm;
    # 10 V over 1.818 kohm and 196.218 kohm; over 8.282 kohm and 189.882 kohm.
    ("p7d", "357 mV"), ("p7b-diode", "353 mV"), ("p7e", "91.8 mV"), ("p7f", "418 mV"),
])  # fmt: skip
def test_a_diode_beyond_a_quarter_of_its_volts_leaves_the_reading_unknown(
    name: str, volts: str
) -> None:
    """0.7 V for silicon and 0.3 V for germanium, from memory."""
    result = answered(name)
    (one,) = result.readings
    assert one.deflection is None
    assert one.note is not None
    assert f"D1 gets up to {volts} forward" in one.note
    assert result.answer == "unknown"


def test_a_diode_far_below_its_volts_is_open_and_protects_when_the_shunt_goes() -> None:
    """100 mV of silicon's 700; with the shunt open an ampere lifts it to 1 V: ten times 100 mV."""
    result = answered("p7-diodes")
    assert result.readings[0].deflection == pytest.approx(1.0, rel=1e-6)
    opened = fault(result, "RS open")
    assert opened.times_full_scale == pytest.approx(10.0, rel=0.01)
    assert opened.deflection == pytest.approx(10.0, rel=0.01)
    assert "D1 conducting" in opened.message
    watts = next(s for s in opened.strains if s.part == "R1")
    assert watts.has == pytest.approx(400.0, rel=1e-6)


def test_a_sense_lead_at_the_far_end_of_the_heavy_wire() -> None:
    """300 mm of 1.5 mm² at 1/58 ohm mm²/m: 3.448 mohm each, beside 10 mohm."""
    far = answered("p6-kelvin", "far")
    wire = 0.3 / 1.5 / 58.0
    shunt = 0.0100010001 + 2 * wire
    expected = 10.0 * shunt / (100.0 + shunt) / 1e-3
    assert reading(far, "amps").deflection == pytest.approx(expected, rel=1e-9)
    assert far.bad
    assert "solder the meter's leads to the shunt itself (four-terminal)" in said(far)
    near = answered("p6-kelvin", "original")
    assert reading(near, "amps").deflection == pytest.approx(1.0, rel=1e-6)
    assert "four-terminal" not in said(near)


def test_a_meter_that_loads_the_set_more_than_the_original_is_told_first() -> None:
    """1 Mohm beside 100 kohm and beside 2 Mohm."""
    result = answered("p8-loading", "sub")
    one = reading(result, "v")
    assert one.loading_percent == pytest.approx(100.0 * 1.0 / 1.1)
    assert one.original_loading_percent == pytest.approx(100.0 / 3.0)
    (told,) = (w for w in result.warnings if w.kind == "loading")
    assert told.first
    assert "drops by 90.9 %, with the original meter by 33.3 %" in told.message
    assert not any(w.kind == "loading" for w in answered("p8-loading", "original").warnings)


def test_what_the_set_has_behind_a_current_is_told() -> None:
    """2 kohm beside the source's 500 ohm: four fifths of the current that would flow."""
    (one,) = answered("src").readings
    assert one.loading_percent == pytest.approx(80.0)
    assert one.note is not None
    assert "what is in circuit lowers the current by 80 %" in one.note


def test_a_live_point_in_the_meter_s_own_circuit_is_told_as_not_counted() -> None:
    """-50 V through 100 kohm, into 100 ohm beside 99.9 kohm: -0.4995 mA of 1 mA."""
    (told,) = (w for w in answered("p14b").warnings if w.kind == "not-counted")
    assert told.first
    amps = -50.0 / (1e5 + 1.0 / (1 / 100 + 1 / 99900)) * 99900 / 100000
    assert f"moves the pointer by {1e5 * amps:.3g} %" in told.message


def test_two_points_of_different_volts_that_are_tied_are_bad() -> None:
    """400 V behind 10 ohm."""
    result = answered("short")
    assert result.bad
    assert "X, 400 V behind 10 Ω, is connected to CH with K at Q: 40 A" in said(result)
    assert not answered("short", "original").bad


def test_ac_needs_a_rectifier_and_says_what_it_leaves_out() -> None:
    result = answered("p3-ac")
    for name in ("plain", "shuntcap"):
        one = reading(result, name)
        assert one.deflection is None
        assert one.off
        assert one.note is not None
        assert "needs a rectifier" in one.note
        assert "ac: yes" in one.note
    for name in ("bridge", "cap"):
        assert reading(result, name).deflection is None
        assert not reading(result, name).off
    assert "notac: AC is an AC point, and the reading does not say ac: yes" in said(result)
    assert "shuntcap: C2 lies across the circuit of an AC reading" in said(result)


def with_meter(meter: str, *more: str) -> WiringValues:
    """``p3-ac`` with another meter in it, and lines more among the parts."""
    was = "      M1: {meter: 1 mA, resistance: 100 ohm}\n"
    text = (NUMBERS / "p3-ac.yaml").read_text().replace(was, f"      M1: {meter}\n")
    lines = "".join(f"      {line}\n" for line in more)
    text = text.replace("      R1: ", f"{lines}      R1: ", 1)
    return values_of(read_text(text.encode()))[0]


AC_METER = "{meter: 1 mA, resistance: 100 ohm, ac: yes}"


def test_a_meter_for_ac_reads_ac_and_not_dc() -> None:
    """10 V over 9.9 kohm and 100 ohm: 1 mA. Its rectifier counts in no figure for DC."""
    result = with_meter(AC_METER)
    assert reading(result, "plain").deflection == pytest.approx(1.0)
    direct = reading(result, "notac")
    assert direct.deflection is None
    assert not direct.off
    assert direct.note is not None
    assert "M1 is made for AC" in direct.note


def test_a_diode_across_a_moving_coil_is_no_sum_of_resistances() -> None:
    """It takes the half-waves that the coil does not, and more of both than any ohms say."""
    one = reading(with_meter(*DIODE_ACROSS), "plain")
    assert one.deflection is None
    assert not one.off
    assert one.note is not None
    assert "calibrate against a known source" in one.note


def test_a_diode_beside_a_meter_for_ac_conducts_at_the_crests() -> None:
    """0.1 V rms across the meter is 0.14 V at the crest, over a quarter of 0.3 V."""
    one = reading(with_meter(AC_METER, DIODE_ACROSS[1]), "plain")
    assert one.deflection is None
    assert one.note is not None
    assert "D9 gets up to 0.141 V" in one.note.replace("141 mV", "0.141 V")


DIODE_ACROSS = (
    "{meter: 1 mA, resistance: 100 ohm}",
    "D9: {diode: germanium, between: [M1.-, M1.+]}",
)


def test_a_rule_met_exactly_holds_and_is_watched() -> None:
    """1 kohm is within and beyond 1 kohm; shorted, it is neither."""
    assert fault(answered("p19"), "R1 shorted").rules == (0,)


def test_a_lamp_is_cold_for_an_isolation() -> None:
    """6.3 V over 40 mA is 157.5 ohm hot, a tenth of it cold: 858 ohm, not 1000, beyond 900."""
    spec = read_spec(str(NUMBERS / "p5b.yaml"))
    (compared,) = compare(spec)
    assert any(finding.rule == 0 for finding in compared.findings)
    assert not any(
        f.rule == 0 for f in compare(read_spec(str(NUMBERS / "p5-lamp.yaml")))[0].findings
    )


def test_a_fuse_whose_ohms_are_not_stated_is_a_band_from_zero() -> None:
    """10 mA: 10 V at most (IEC 60127-2, from memory) is 1 kohm, in a branch of 100."""
    result = answered("p4-fuse")
    one = reading(result, "amps")
    assert one.worst_low_percent is not None
    assert one.worst_low_percent < -90.0
    assert one.note is not None
    assert "the ohms of F1 are not stated: 0 to 1 kΩ" in one.note
    assert result.bad


def test_ratings_and_the_meter_are_judged_at_what_a_place_rises_to() -> None:
    """200 V on a 100 V range: 2 mA in 49.9 and 50 kohm, four times 50 mW, 99.8 and 100 V."""
    parts = {part.part: part for part in answered("hv2").parts}
    assert parts["R1"].watts == pytest.approx(1e-3**2 * 49.9e3)
    assert parts["R1"].risen_watts == pytest.approx(2e-3**2 * 49.9e3)
    assert parts["R2"].risen_volts == pytest.approx(100.0)
    assert not parts["R1"].ok
    assert not parts["R2"].ok
    sound = answered("hv")
    assert all(part.ok for part in sound.parts if part.rating_watts)
    assert "M1 is driven to 2 times full scale in v if P rises to 200 V" in said(sound)
    assert fault(sound, "R2 shorted").times_full_scale == pytest.approx(4.0, rel=0.01)


def test_a_capacitor_that_loses_its_bleeder_is_told() -> None:
    """100 uF from 540 V to 50 V: 83.3 kohm with R2, 500 kohm without, ln(10.8) times RC."""
    message = next(w.message for w in answered("p13", "other").warnings if w.kind == "bleeder")
    assert "500 kΩ bleed it to 50 V in 119 s" in message
    assert "in the original 83.3 kΩ bleed it to 50 V in 20 s" in message


def test_rules_that_tolerances_alone_can_break_are_information() -> None:
    """100 ohm and 20 %, beside 900, is 105.9, over 105; 1 kohm less 10 % is 900."""
    result = answered("p16")
    told = [w for w in result.warnings if w.kind == "rule-tolerance"]
    assert [w.message[:6] for w in told] == ["rule 1", "rule 2", "rule 3"]
    assert not any(w.bad for w in told)


def test_the_current_of_another_range_is_told() -> None:
    """The 100 mA of OPERATE on the 50 mA range."""
    told = [
        w.message
        for w in values_of(read_spec("specs/relay-and-switch.yaml"), ["substitute"])[0].warnings
        if w.kind == "wrong-range"
    ]
    assert len(told) == 1
    assert "takes 2 times full scale in tune while the 100 mA of operate flow" in told[0]
