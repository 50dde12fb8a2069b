"""Single faults and moments while switching, against the same spec with the fault written into it."""

from __future__ import annotations

import pytest

from rewire.reading import read_text
from rewire.records.spec import Spec
from rewire.values.answers import Mishap
from rewire.values.wiring_values import values_of


def of(spec: Spec, wiring: str) -> tuple[Mishap, ...]:
    return values_of(spec, [wiring])[0].faults


RANGES = """
rewire: 1
title: ranges
controls: {{RANGE: [LOW, HIGH]}}
points: {{IN: {{}}, OUT: {{}}}}
readings:
  low: {{when: {{RANGE: LOW}}, current: [IN, OUT], full_scale: 10 mA}}
  high: {{when: {{RANGE: HIGH}}, current: [IN, OUT], full_scale: 100 mA}}
wirings:
  original: &same
    parts:
      M1: {{meter: 1 mA, resistance: 90 ohm, between: [IN, OUT]}}
      R1: {{resistor: 10 ohm, between: [IN, S1.A1]}}
      R2: {{resistor: 0.909091 ohm, between: [IN, S1.A2]}}
      S1: {{switch: SPDT, control: RANGE, timing: {timing}}}
    wires: [[S1.A, OUT]]
  other: *same
"""


@pytest.mark.parametrize(("timing", "low", "high"), [
    # Between contacts the movement takes it all; on both at once both shunts help.
    ("non-shorting", 10.0, 100.0),
    ("shorting", 10 * (1 / 90) / (1 / 90 + 1 / 10 + 1.1), 100 * (1 / 90) / (1 / 90 + 1 / 10 + 1.1)),
    ("unknown", 10.0, 100.0),
])  # fmt: skip
def test_times_full_scale_between_two_shunts(timing: str, low: float, high: float) -> None:
    """By hand; where the switch rests, before and after, is no moment of the step."""
    moments = values_of(read_text(RANGES.format(timing=timing).encode()))[0].switching
    found = {moment.reading: moment.times_full_scale for moment in moments}
    assert found["low"] == pytest.approx(low, rel=1e-6)
    assert found["high"] == pytest.approx(high, rel=1e-6)


def test_a_stated_contact_counts_while_it_moves() -> None:
    """By hand: on both contacts each shunt has the ohm of its contact in series."""
    text = RANGES.format(timing="shorting").replace("SPDT,", "SPDT, contact_resistance: 1 ohm,")
    found = {m.reading: m for m in values_of(read_text(text.encode()))[0].switching}
    # The contacts meet in the common, which stands at OUT: two branches of 11 and 1.909091 ohm.
    share = (1 / 90) / (1 / 90 + 1 / 11 + 1 / 1.909091)
    assert found["low"].times_full_scale == pytest.approx(10 * share, rel=1e-6)
    assert found["high"].times_full_scale == pytest.approx(100 * share, rel=1e-6)


PASSED = """
rewire: 1
title: a throw between two ranges
controls: {{K: [LOW, HIGH]}}
points: {{IN: {{}}, OUT: {{}}}}
readings: {{low: {{when: {{K: LOW}}, voltage: [IN, OUT], full_scale: 100 V}}}}
wirings:
  original:
    parts: &parts
      M1: {{meter: 1 mA, resistance: 100 ohm, between: [S1.A, OUT]}}
      R1: {{resistor: 99.9 kohm, between: [IN, S1.A1]}}
      R2: {{resistor: 9.9 kohm, between: [IN, {spare}]}}
      R3: {{resistor: 199.9 kohm, between: [IN, S1.A3]}}
      S1: {{switch: SP4T, control: K, style: {style}, timing: {timing}, positions: {{LOW: 1, HIGH: 3}}}}
  other: {{parts: *parts}}
"""


@pytest.mark.parametrize(("style", "timing", "spare", "times"), [
    # 100 V over the multiplier that the wiper passes; on two contacts at once over both.
    ("rotary", "non-shorting", "S1.A2", 10.0),
    ("rotary", "shorting", "S1.A2", 100 / (1 / (1 / 99.9 + 1 / 9.9) + 0.1)),
    ("rotary", "non-shorting", "S1.A4", 0.0),
    ("push", "non-shorting", "S1.A2", 0.0),
])  # fmt: skip
def test_a_throw_that_is_passed_over(style: str, timing: str, spare: str, times: float) -> None:
    """By hand, Ohm's law."""
    text = PASSED.format(style=style, timing=timing, spare=spare)
    (moments,) = [one.switching for one in values_of(read_text(text.encode()))]
    assert max(m.times_full_scale or 0.0 for m in moments) == pytest.approx(times, rel=1e-6)
    passing = ["as the knob goes past S1.A2: M1 takes" in m.message for m in moments]
    assert any(passing) == (times > 1.0)


UNREAD = """
rewire: 1
title: a bias return that nothing reads
controls: {{K: [P, Q], L: [ON, OFF]}}
points: {{CH: {{chassis: yes}}, G: {{rises_to: -70 V}}, Z: {{volts: 5 V}}}}
readings: {readings}
rules: [{{connect: [G, CH], while_switching: yes, when: {{L: ON}}, why: bias}}]
wirings:
  original:
    parts: &parts
      M1: {{meter: 1 mA, resistance: 1 kohm, between: [Z, CH]}}
      S1: {{switch: SPDT, control: K, timing: {timing}}}
    wires: &wires [[CH, S1.A], [S1.A1, G], [S1.A2, G]]
  other: {{parts: *parts, wires: *wires}}
"""


def test_rules_that_break_at_different_moments_are_all_told() -> None:
    """Pole A late and B early join X and Y; A early and C late join X and Z: never both at once."""
    text = """
rewire: 1
title: three poles
controls: {K: [P, Q]}
points: {X: {}, Y: {}, Z: {}}
rules: [{isolate: [X, Y], while_switching: yes}, {isolate: [X, Z], while_switching: yes}]
wirings:
  original: &same
    parts: {S1: {switch: 3PDT, control: K, timing: non-shorting}}
    wires: [[X, S1.A], [Y, S1.B], [Z, S1.C], [S1.A1, S1.B2], [S1.A2, S1.C1]]
  other: *same
"""
    moments = values_of(read_text(text.encode()))[0].switching
    assert sorted(m.rules for m in moments) == [(0,), (1,)]
    assert not any(m.in_step for m in moments)


def test_a_rule_that_is_broken_at_rest_is_bad_and_told_once() -> None:
    """The second throw is not wired: with K at Q the grid has no way to the chassis."""
    text = UNREAD.format(readings="{}", timing="shorting").replace(", [S1.A2, G]]", "]")
    one = values_of(read_text(text.encode()))[0]
    assert one.answer == "bad"
    bad = [w.message for w in one.warnings if w.bad]
    assert bad == ["rule 1 is broken: G and CH no longer connected"]
    elsewhere = text.replace("when: {L: ON}", "when: {K: P}")
    assert values_of(read_text(elsewhere.encode()))[0].answer == "good"


@pytest.mark.parametrize("readings", [
    "{{}}", "{{z: {{voltage: [Z, CH], full_scale: 1 V}}}}",
    "{{z: {{when: {{K: P, L: OFF}}, voltage: [Z, CH], full_scale: 1 V}}}}",
])  # fmt: skip
def test_a_rule_that_breaks_where_nothing_is_read(readings: str) -> None:
    """A break-before-make pole lets the grid rise; make-before-break does not."""
    readings = readings.format()
    one = values_of(read_text(UNREAD.format(readings=readings, timing="non-shorting").encode()))[0]
    assert one.answer == "bad"
    assert any(m.rules == (0,) and ("G", -70.0) in m.rises for m in one.switching)
    held = values_of(read_text(UNREAD.format(readings=readings, timing="shorting").encode()))[0]
    assert held.answer == "good"
    assert not any(m.rules or m.rises for m in held.switching)


@pytest.mark.parametrize(("points", "low", "high"), [
    # 10 mA and 100 mA would make 0.9 V and 9 V across the bare movement's 90 ohm.
    ("IN: {{rises_to: 0.45 V}}, OUT: {{chassis: yes}}", 5.0, 5.0),
    ("IN: {{rises_to: 4.5 V}}, OUT: {{chassis: yes}}", 10.0, 50.0),
    ("IN: {{rises_to: 4.5 V, source_resistance: 1 kohm}}, OUT: {{chassis: yes}}", 10.0, 50.0),
    ("IN: {{rises_to: 3 V}}, OUT: {{rises_to: -1.5 V}}", 10.0, 50.0),
    ("IN: {{rises_to: 3 V, ac: yes}}, OUT: {{rises_to: 1.5 V, ac: yes}}", 10.0, 50.0),
    # What is not given is unknown: no ceiling.
    ("IN: {{rises_to: 0.45 V}}, OUT: {{}}", 10.0, 100.0),
    ("IN: {{volts: 0.45 V}}, OUT: {{chassis: yes}}", 10.0, 100.0),
])  # fmt: skip
def test_the_meter_takes_no_more_than_its_places_can_rise_to(
    points: str, low: float, high: float
) -> None:
    """By hand, Ohm's law: what the place can rise to over the movement's resistance."""
    text = RANGES.replace("IN: {{}}, OUT: {{}}", points).format(timing="non-shorting")
    moments = values_of(read_text(text.encode()))[0].switching
    found = {moment.reading: moment for moment in moments}
    assert found["low"].times_full_scale == pytest.approx(low, rel=1e-6)
    assert found["high"].times_full_scale == pytest.approx(high, rel=1e-6)
    assert found["low"].deflection == pytest.approx(10.0, rel=1e-6)
    assert found["high"].deflection == pytest.approx(100.0, rel=1e-6)


def test_a_multiplier_shorted_takes_what_the_place_rises_to() -> None:
    """100 kohm over a movement of 1 mA and 100 ohm, for 100 V; the place rises to 60 V at most."""
    text = """
rewire: 1
title: volts
controls: {K: [ON]}
points: {HT: {rises_to: 60 V}, CHASSIS: {chassis: yes}}
readings: {ht: {when: {K: ON}, voltage: [HT, CHASSIS], full_scale: 100 V}}
wirings:
  original: &same
    parts:
      M1: {meter: 1 mA, resistance: 100 ohm, between: [R1.2, CHASSIS]}
      R1: {resistor: 99.9 kohm, between: [HT, M1.+]}
  other: *same
"""
    fault = next(f for f in values_of(read_text(text.encode()))[0].faults if f.what == "R1 shorted")
    assert fault.times_full_scale == pytest.approx(60.0 / 100.0 / 1e-3, rel=1e-6)
    assert fault.deflection == pytest.approx(100.0 / 100.0 / 1e-3, rel=1e-6)


GUARDED = """
rewire: 1
title: a rule that a fault breaks in the second position of another control alone
controls: {RANGE: [LOW, HIGH], SEND: [OFF, REST, ON]}
never: [{SEND: OFF}]
points: {IN: {}, OUT: {chassis: yes}, KEY: {volts: 1 V, rises_to: 90 V}}
readings: {low: {when: {RANGE: LOW}, current: [IN, OUT], full_scale: 1 mA}}
rules: [{connect: [KEY, OUT], why: the key must not float}]
wirings:
  original: &same
    parts:
      M1: {meter: 1 mA, resistance: 90 ohm, between: [IN, OUT]}
      S1: {switch: SP3T, control: SEND}
      S2: {switch: SPDT, control: RANGE}
    wires: [[S1.A, KEY], {from: S1.A1, to: IN, id: OFF}, {from: S1.A2, to: OUT, id: REST}, {from: S1.A3, to: OUT, id: ON}]
  other: *same
"""


def test_a_rule_is_tried_in_every_position_of_the_other_controls_but_never_in_a_forbidden_one() -> (
    None
):
    """By hand: OFF cannot occur, REST and ON each have a wire of their own."""
    faults = {f.what.split(" (")[0]: f for f in of(read_text(GUARDED.encode()), "other")}
    assert faults["wire OFF"].rules == faults["wire OFF"].rises == ()
    for name in ("REST", "ON"):
        assert faults[f"wire {name}"].rules == (0,)
        assert faults[f"wire {name}"].rises == (("KEY", 90.0),)
        assert f"no longer connected with SEND at {name}" in faults[f"wire {name}"].message
