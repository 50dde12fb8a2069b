"""Single faults and moments while switching, against the same spec with the fault written into it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from rewire.compare import compare
from rewire.reading import read_spec, read_text
from rewire.records.spec import Spec, Wiring
from rewire.values.answers import Mishap
from rewire.values.wiring_values import values_of

FLAGSHIP = "specs/valve-amplifier.yaml"


def of(spec: Spec, wiring: str) -> tuple[Mishap, ...]:
    return values_of(spec, [wiring])[0].faults


def without(spec: Spec, wiring: Wiring, wire: str) -> Spec:
    """The spec with one wire taken out of one wiring."""
    bare = replace(wiring, wires=tuple(w for w in wiring.wires if w.id != wire))
    return replace(spec, wirings={**spec.wirings, wiring.name: bare})


@pytest.mark.parametrize("wiring", ["as-found", "original"])
def test_a_wire_that_opens_is_a_wire_that_is_not_there(wiring: str) -> None:
    """Each wire is taken out of the spec, and the readings are done again."""
    spec = read_spec(FLAGSHIP)
    faults = {fault.what: fault for fault in of(spec, wiring)}
    compared = 0
    for wire in spec.wirings[wiring].wires:
        what = next(w for w in faults if re.match(rf"(wire|jumper) {wire.id} \(", w))
        again = values_of(without(spec, spec.wirings[wiring], wire.id), [wiring])[0]
        deflections = {r.name: r.deflection or 0.0 for r in again.readings}
        fault = faults[what]
        assert fault.reading is not None
        assert fault.times_full_scale == pytest.approx(
            deflections[fault.reading], rel=1e-9, abs=1e-9
        )
        compared += 1
    assert compared == len(spec.wirings[wiring].wires)


def edited(old: str, new: str) -> Spec:
    with open(FLAGSHIP, encoding="utf-8") as file:  # noqa: PTH123
        text = file.read()
    assert old in text
    return read_text(text.replace(old, new).encode(), FLAGSHIP)


@pytest.mark.parametrize(("what", "old", "new"), [
    ("R36 open", "resistor: 15 ohm", "resistor: 1e15 ohm"),
    ("R36 shorted", "resistor: 15 ohm", "resistor: 0 ohm"),
    ("R35 open", "resistor: 440 ohm", "resistor: 1e15 ohm"),
    ("R32 shorted", "resistor: 180 ohm + 9.1 ohm", "resistor: 0 ohm"),
])  # fmt: skip
def test_a_part_that_fails_is_a_part_of_another_value(what: str, old: str, new: str) -> None:
    fault = next(f for f in of(read_spec(FLAGSHIP), "original") if f.what == what)
    again = values_of(edited(old, new), ["original"])[0]
    deflections = {r.name: r.deflection for r in again.readings}
    assert fault.reading is not None
    assert fault.deflection == pytest.approx(deflections[fault.reading], rel=1e-6, abs=1e-9)


def test_the_flagship_says_what_kills_its_valves() -> None:
    """The bias return lost: a rule breaks and the end floats up to 58 V, which is live."""
    faults = of(read_spec(FLAGSHIP), "original")
    first = next(f for f in faults if f.what.startswith("contact S3.C–S3.C1 open"))
    assert 0 in first.rules
    assert ("BIAS_RETURN", 58.0) in first.rises
    assert faults.index(first) < next(n for n, f in enumerate(faults) if f.what == "S3 open" or (
        not f.rises and not f.overload and not f.strains
    ))  # fmt: skip


def test_worst_comes_first() -> None:
    """What burns (twice what it may) or becomes live (50 V), then rules, then errors."""
    for wiring in ("original", "as-found", "substitute"):
        faults = of(read_spec(FLAGSHIP), wiring)
        burns = [
            max([abs(f.times_full_scale or 0) * f.overload, *(s.has / s.may for s in f.strains)])
            for f in faults
        ]
        live = [max((abs(volts) for _, volts in f.rises), default=0.0) for f in faults]
        grave = [b > 2.0 or v >= 50.0 for b, v in zip(burns, live, strict=True)]
        assert grave == sorted(grave, reverse=True)
        burning = [b for b in burns[: sum(grave)] if b > 2.0]
        assert burning == sorted(burning, reverse=True)
        rules = [len(f.rules) for f in faults[sum(grave) :]]
        assert rules == sorted(rules, reverse=True)


def test_the_shunt_that_burns_the_meter_is_the_first_of_the_flagship() -> None:
    """250 mA through the 55 ohm movement's own branch: 15.6 W in R42, 250 mA of 0.5 mA."""
    first = of(read_spec(FLAGSHIP), "substitute")[0]
    assert first.what == "R31 open"
    assert first.times_full_scale == pytest.approx(500.0)
    watts = next(s for s in first.strains if s.part == "R42")
    assert watts.has == pytest.approx(0.25**2 * 249.0, rel=0.01)


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


def test_what_opens_only_while_the_knob_turns() -> None:
    """The break-before-make switch opens the cathode for a moment; the two others do not.

    The second try has another fault, in a step that no reading takes part in: its supply switch
    closes on both supplies at once.

    In the flagship as found the bias return is open at rest as well, beside the very position in
    which it holds: that is no effect of turning the knob.
    """
    spec = read_spec("specs/exciter-timing.yaml")
    found = {w.name: values_of(spec, [w.name])[0].switching for w in spec.others}
    assert any(0 in moment.rules for moment in found["as-found"])
    assert any(("K_OUTPUT", 110.0) in moment.rises for moment in found["as-found"])
    assert not any(0 in moment.rules or moment.rises for moment in found["second-try"])
    assert any(m.rules == (1,) and m.reading is None for m in found["second-try"])
    flagship = read_spec(FLAGSHIP)
    for wiring in ("as-found", "substitute", "original"):
        moments = values_of(flagship, [wiring])[0].switching
        assert not any(moment.rules or moment.rises for moment in moments)


SPECS = ("valve-amplifier", "relay-and-switch", "monitor-jack")


@pytest.mark.parametrize("name", SPECS)
def test_the_rules_a_lost_wire_breaks_are_those_that_check_finds_broken(name: str) -> None:
    """Against the other layer: each wire is taken out of the spec, and the wiring compared again."""
    spec = read_spec(f"specs/{name}.yaml")
    compared = 0
    for wiring in spec.others:
        faults = {fault.what: fault for fault in of(spec, wiring.name)}
        usual = rules_broken(spec, wiring.name)
        for wire in wiring.wires:
            what = next(w for w in faults if re.match(rf"(wire|jumper) {re.escape(wire.id)} \(", w))
            now = rules_broken(without(spec, wiring, wire.id), wiring.name)
            fresh = {n for n, states in now.items() if states - usual.get(n, set())}
            assert set(faults[what].rules) == fresh
            compared += 1
    assert compared > 10


def rules_broken(spec: Spec, wiring: str) -> dict[int, set[str]]:
    """Rules broken at rest, by number, each with its states."""
    found: dict[int, set[str]] = {}
    for finding in compare(spec, [wiring])[0].findings:
        if finding.rule is not None and finding.states:
            states = {str(sorted(state.as_dict().items())) for state in finding.states}
            found.setdefault(finding.rule, set()).update(states)
    return found


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
