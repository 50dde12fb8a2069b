"""What is said on either side of a limit, and which of two sentences: tables worked out by hand.

One ampere through 2 ohm is 2 V and 2 W; a rating that is just met holds.
"""

from __future__ import annotations

from math import inf
from typing import Any

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import BenchTest, PieceLoad, WiringValues
from rewire.values.bench_test import series_for
from rewire.values.dc_network import ceiling
from rewire.values.dial_arcs import PlateArc
from rewire.values.meter_circuit import RationalForm
from rewire.values.surroundings import loading_percent
from rewire.values.wiring_values import Wishes, values_of

LOADED = """
rewire: 1
title: at its limit
controls: {{K: [ON, OFF]}}
points: {{IN: {{volts: 2 V}}, OUT: {{chassis: yes}}}}
readings: {{r: {{when: {{K: ON}}, current: [IN, OUT], full_scale: 1 A}}}}
wirings:
  original: &same
    parts:
      S1: {{switch: SPDT, control: K, contact_resistance: 0 ohm, rating: {{{contact}}}}}
      {part}
      C1: {{capacitor: 1 uF, rating: {capacitor}, between: [IN, OUT]}}
      M1: {{meter: 1 A, resistance: 0 ohm, between: [S1.A1, OUT]}}
    wires: [{{from: IN, to: R1.1, insulation: {insulation}}}]
  other: *same
"""
"""With the key on, 1 A through the part and then through the meter; IN stands at 2 V."""


def loaded(part: str, **given: str) -> WiringValues:
    usual = {"contact": "volts: 9 V, shaft_volts: 9 V, amps: 9 A", "capacitor": "9 V",
             "insulation": "9 V"}  # fmt: skip
    return values_of(read_text(LOADED.format(part=part, **{**usual, **given}).encode()))[0]


def bad(result: WiringValues) -> set[str]:
    return {one.kind for one in result.warnings if one.bad}


SOUND = "R1: {resistor: 2 ohm, rating: 9 W, working_volts: 9 V, between: [IN, S1.A]}"


@pytest.mark.parametrize("rated", ["rating: {} W", "working_volts: {} V"])
def test_a_part_at_its_rating_holds_and_just_beyond_it_does_not(rated: str) -> None:
    for stands, told in ((9, set()), (2, set()), (1.999, {"rating"})):
        part = SOUND.replace(rated.format(9), rated.format(stands))
        assert bad(loaded(part)) == told


@pytest.mark.parametrize(("given", "limit", "kind"), [
    ({"capacitor": "{} V"}, 2.0, "rating"),
    ({"insulation": "{} V"}, 2.0, "insulation"),
    ({"contact": "volts: 9 V, shaft_volts: 9 V, amps: {} A"}, 1.0, "contact-amps"),
    ({"contact": "volts: {} V, shaft_volts: 9 V, amps: 9 A"}, 2.0, "contact-volts"),
    ({"contact": "volts: 9 V, shaft_volts: {} V, amps: 9 A"}, 2.0, "contact-volts"),
])  # fmt: skip
def test_what_stands_at_its_rating_holds_and_just_beyond_it_does_not(
    given: dict[str, str], limit: float, kind: str
) -> None:
    for times, told in ((1.0, set()), (0.999, {kind})):
        asked = {name: text.format(times * limit) for name, text in given.items()}
        assert bad(loaded(SOUND, **asked)) == told


def bench(quantity: str, series: str, part: str = "", more: str = "") -> BenchTest:
    """A meter of 10 mA and 100 ohm, with a part in series or across, on a bench."""
    given = f"bench: {{series_resistor: {series}}}" if series else ""
    text = f"""
rewire: 1
title: bench
points: {{IN: {{}}, MID: {{}}, OUT: {{}}}}
readings: {{r: {{{quantity}}}}}
{given}
wirings:
  original: &same
    parts:
      M1: {{meter: 10 mA, resistance: 100 ohm, between: [MID, OUT]}}
      R1: {{resistor: {part or "0 ohm"}, between: [IN, MID]}}
      {more}
  other: *same
"""
    (found,) = values_of(read_text(text.encode()))[0].bench
    return found


AMPS, VOLTS = "current: [IN, OUT], full_scale: 10 mA", "voltage: [IN, OUT], full_scale: 1 V"


@pytest.mark.parametrize(("quantity", "series", "said", "unsaid"), [
    # 10 mA through 1 kohm is 0.1 W.
    (AMPS, "1 kohm", "takes up to 100 mW: take one rated for twice", "over half"),
    (AMPS, "1 kohm, rating: 0.19 W", "over half its rating", "twice"),
    (AMPS, "1 kohm, rating: 0.21 W", "", "half"),
    (VOLTS, "", "", "true volts"),
    (VOLTS, "10 ohm", "true volts: by a voltmeter at the two points", "behind the eq"),
    # 100 ohm behind 300 ohm have a quarter of the volts.
    (f"{VOLTS}, source_resistance: 300 ohm", "", "shows 25 % of them", "by a voltmeter at"),
    (AMPS, "1 kohm", "", "true volts"),
    # Full scale of 50 mV is too low for the knob of a supply, 1 V is not.
    ("voltage: [IN, OUT], full_scale: 50 mV", "", "too low to set", "true volts"),
    (VOLTS, "", "", "too low to set"),
])  # fmt: skip
def test_which_note_a_bench_test_has(quantity: str, series: str, said: str, unsaid: str) -> None:
    notes = " | ".join(bench(quantity, series).notes)
    assert said in notes
    assert unsaid not in notes


@pytest.mark.parametrize(("rating", "left"), [
    # At full scale 10 mA through 400 ohm is 40 mW and 4 V; watts go by the square.
    ("rating: 0.04 W", ()),
    ("rating: 0.0399 W", (100.0,)),
    ("rating: 0.01 W", (75.0, 100.0)),
    ("working_volts: 4 V", ()),
    ("working_volts: 2 V", (75.0, 100.0)),
    ("working_volts: 1.99 V", (50.0, 75.0, 100.0)),
])  # fmt: skip
def test_a_bench_test_stops_where_a_part_is_rated_for_no_more(
    rating: str, left: tuple[float, ...]
) -> None:
    found = bench(AMPS, "1 kohm", f"400 ohm, {rating}")
    assert found.left_out == left
    assert any("R1 is not rated for more" in note for note in found.notes) is bool(left)


SHUNT = "R2: {resistor: 0.1 ohm, between: [IN, OUT]}"


@pytest.mark.parametrize(("full_scale", "said"), [
    ("10 A", "10 mV = 1 A"), ("0.1 A", "1 mV = 1 mA"), ("5 mA", "10 mV = 1 mA"),
])  # fmt: skip
def test_volts_across_a_sense_resistor_by_ohms_law(full_scale: str, said: str) -> None:
    found = bench(f"current: [IN, OUT], full_scale: {full_scale}", "0.1 ohm", more=SHUNT)
    assert any(said in note for note in found.notes)


@pytest.mark.parametrize(("one", "other", "most"), [
    ("volts: 300 V, rises_to: 600 V", "chassis: yes", 600.0),
    ("rises_to: 600 V", "chassis: yes", 600.0),
    ("volts: -300 V, rises_to: -600 V", "chassis: yes", 600.0),
    ("volts: 300 V, rises_to: 600 V", "volts: 200 V, rises_to: 250 V", 600.0),
    ("volts: 300 V, rises_to: 600 V", "volts: -200 V, rises_to: -250 V", 850.0),
    ("volts: 300 V, rises_to: 600 V, ac: yes", "volts: 200 V, rises_to: 250 V, ac: yes", 850.0),
    ("volts: 300 V", "chassis: yes", inf),
    ("", "chassis: yes", inf),
])  # fmt: skip
def test_the_most_that_can_stand_between_two_points(one: str, other: str, most: float) -> None:
    """Each anywhere from 0 to what it rises to, either way round if it is AC."""
    text = f"""
rewire: 1
title: ceiling
points: {{A: {{{one}}}, B: {{{other}}}, C: {{}}, D: {{}}}}
readings: {{r: {{current: [C, D], full_scale: 1 mA}}}}
wirings:
  original: &same {{parts: {{M1: {{meter: 1 mA, resistance: 1 ohm, between: [C, D]}}}}}}
  other: *same
"""
    spec = read_text(text.encode())
    assert ceiling(spec, ("A", "B")) == ceiling(spec, ("B", "A")) == most


@pytest.mark.parametrize("degree", [1, 2])
def test_the_slope_of_a_fraction_is_the_quotient_rule(degree: int) -> None:
    """n'd - nd', by the polynomials of numpy."""
    n, d = np.random.default_rng(degree).uniform(0.1, 2.0, (2, degree + 1))
    top, below = np.polynomial.Polynomial(n), np.polynomial.Polynomial(d)
    wanted = (top.deriv() * below - top * below.deriv()).coef
    found = RationalForm(n, d).slope()
    assert found == pytest.approx(wanted[: len(found)])
    assert wanted[len(found) :] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("kind", "zero", "low", "high", "figure", "share", "rest"), [
    ("linear", "left", 0.0, 50.0, 20.0, 0.4, 0.0),
    ("linear", "left", 10.0, 50.0, 20.0, 0.25, 0.2),
    ("linear", "centre", -50.0, 50.0, -20.0, -0.4, 0.0),
    ("ohm", "left", 0.0, 30.0, 90.0, 0.25, 0.0),
    ("ohm", "left", 0.0, 30.0, inf, 0.0, 0.0),
    ("dB", "left", -20.0, 3.0, -17.0, 0.1, 0.0),
])  # fmt: skip
def test_where_a_figure_stands_on_an_arc(
    kind: str, zero: str, low: float, high: float, figure: float, share: float, rest: float
) -> None:
    """By proportion; ohms as half / (half + R); a tenth of the volts is 20 dB less."""
    arc = PlateArc(kind, low, high, "", zero, (), ())  # type: ignore[arg-type]
    assert arc.share(figure) == pytest.approx(share)
    assert arc.rest == pytest.approx(rest)


def fitted(parts: str, readings: str, points: str) -> dict[str, tuple[float | None, str | None]]:
    text = f"""
rewire: 1
title: fits
points: {{{points}}}
readings: {{{readings}}}
wirings:
  original: &same
    parts: {{{parts}}}
  other: *same
"""
    fits = values_of(read_text(text.encode()), None, Wishes())[0].fits
    return {one.part: (one.exact_ohms, one.why) for one in fits}


@pytest.mark.parametrize(("choose", "why"), [
    ("", "no 'choose' is given: the exact value is taken"), (", choose: exact", None),
    (", choose: E24", None),
])  # fmt: skip
def test_what_is_said_of_a_choice(choose: str, why: str | None) -> None:
    """1 mA from 1 V wants 1 kohm, of which the coil is 100 ohm; E24 has 910."""
    found = fitted(
        f"M1: {{meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}}, "
        f"R1: {{resistor: fit, for: r{choose}, between: [IN, MID]}}",
        "r: {voltage: [IN, OUT], full_scale: 1 V}",
        "IN: {}, MID: {}, OUT: {}",
    )
    assert found == {"R1": (pytest.approx(900.0), why)}


def test_a_shunt_with_taps_has_one_solution_and_is_not_called_open() -> None:
    """Textbook sum: whole shunt Rm / (n - 1) at the lowest range; each tap (Rm + Rs) × Im / I."""
    found = fitted(
        "M1: {meter: 1 mA, resistance: 100 ohm, between: [T3, OUT]}, "
        "R1: {resistor: fit, choose: exact, for: a, between: [OUT, T1]}, "
        "R2: {resistor: fit, choose: exact, for: b, between: [T1, T2]}, "
        "R3: {resistor: fit, choose: exact, for: c, between: [T2, T3]}",
        "a: {current: [T1, OUT], full_scale: 1 A}, b: {current: [T2, OUT], full_scale: 100 mA}, "
        "c: {current: [T3, OUT], full_scale: 10 mA}",
        "T1: {}, T2: {}, T3: {}, OUT: {}",
    )
    whole = 100.0 / 9.0
    taps = [(100.0 + whole) * 1e-3 / amps for amps in (1.0, 0.1, 0.01)]
    assert found == {
        f"R{number}": (pytest.approx(ohms), None)
        for number, ohms in enumerate(np.diff([0.0, *taps]), 1)
    }


@pytest.mark.parametrize(("amps", "insertion", "found"), [
    # 4.7 kohm are the first of E3 above a tenth of 30 kohm: 34.7 V.
    (1e-3, 30e3, (4700.0, 0.5)),
    (1e-3, 60e3, None),  # 10 kohm: 70 V
    # 2 V at 15 A and at 16 A want 0.22 ohm: 49.5 W, half of 100 W, and 56 W.
    (15.0, 0.001, (0.22, 100.0)),
    (16.0, 0.001, None),
])  # fmt: skip
def test_a_series_resistor_stays_below_50_volts_and_50_watts(
    amps: float, insertion: float, found: tuple[float, float] | None
) -> None:
    assert series_for(amps, insertion) == found


@pytest.mark.parametrize(("quantity", "source", "insertion", "percent"), [
    ("voltage", "1 kohm", 3e3, 25.0),
    ("voltage", "1 kohm", inf, 0.0),
    ("voltage", "1 kohm", 0.0, 100.0),
    ("current", "1 kohm", 3e3, 75.0),
    ("current", "1 kohm", inf, 100.0),
    ("current", "1 kohm", 0.0, 0.0),
    ("current", "0 ohm", 3e3, None),
    ("current", "1 kohm", None, None),
])  # fmt: skip
def test_what_a_meter_takes_of_the_true_value(
    quantity: str, source: str, insertion: float | None, percent: float | None
) -> None:
    """Two resistances divide the volts of the source, and both limit its current."""
    full_scale = "1 V" if quantity == "voltage" else "1 mA"
    text = f"""
rewire: 1
title: loading
points: {{A: {{source_resistance: {source}}}, B: {{}}}}
readings: {{r: {{{quantity}: [A, B], full_scale: {full_scale}}}}}
wirings:
  original: &same {{parts: {{M1: {{meter: 1 mA, resistance: 1 ohm, between: [A, B]}}}}}}
  other: *same
"""
    spec = read_text(text.encode())
    assert loading_percent(spec, spec.readings["r"], insertion) == percent


@pytest.mark.parametrize(("volts", "said"), [
    (200, None),  # the multiplier has 0.1 V less than 200
    (201, "think of 2 alike in series"),  # 1 of 350 V, 2 of 200 V
    (500, "think of 2 to 3 alike in series"),
    (1400, "think of 4 to 7 alike in series"),
])  # fmt: skip
def test_how_many_resistors_in_series_stand_the_volts(volts: int, said: str | None) -> None:
    """The small ones stand 200 to 350 V (common practice, no source)."""
    text = f"""
rewire: 1
title: multiplier
points: {{IN: {{}}, MID: {{}}, OUT: {{chassis: yes}}}}
readings: {{r: {{voltage: [IN, OUT], full_scale: {volts} V}}}}
wirings:
  original: &same
    parts:
      R1: {{resistor: {volts - 0.1} kohm, rating: 9 W, between: [IN, MID]}}
      M1: {{meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}}
  other: *same
"""
    result = values_of(read_text(text.encode()))[0]
    told = [one.message for one in result.warnings if one.kind == "working-volts"]
    assert len(told) == (said is not None)
    assert all(str(said) in one for one in told)


def told(result: WiringValues, *kinds: str) -> list[tuple[str, bool, bool]]:
    """Kind, whether it is bad, whether it is told first."""
    return [(one.kind, one.bad, one.first) for one in result.warnings if one.kind in kinds]


SIMPLE = """
rewire: 1
title: simple
points: {{IN: {{{point}}}, MID: {{}}, OUT: {{chassis: yes}}}}
readings: {{r: {{{reading}, accept: 50 %}}}}
wirings:
  original: &same
    parts:
      R1: {{resistor: {old}, between: [IN, MID]}}
      M1: {{meter: {meter}, resistance: 0 ohm, between: [MID, OUT]}}
  other:
    parts:
      R1: {{resistor: {new}, between: [IN, MID]}}
      M1: {{meter: {meter}, resistance: 0 ohm, between: [MID, OUT]}}
"""


def simple(reading: str, new: str, old: str = "", meter: str = "1 mA", point: str = "") -> Any:
    text = SIMPLE.format(reading=reading, new=new, old=old or new, meter=meter, point=point)
    (result,) = values_of(read_text(text.encode()))
    return result


@pytest.mark.parametrize(("rises", "wanted"), [
    (10.49, []), (10.51, [("risen", False, False)]), (19.99, [("risen", False, False)]),
    (20, [("risen", False, False)]), (20.01, [("risen", True, False)]),
])  # fmt: skip
def test_a_meter_whose_point_rises_is_bad_beyond_twice_full_scale(
    rises: float, wanted: list[object]
) -> None:
    """10 V in 10 kohm are full scale; 5 % more is read off, twice as much is stood for a moment."""
    reading = "voltage: [IN, OUT], full_scale: 10 V"
    result = simple(reading, "10 kohm", point=f"volts: 10 V, rises_to: {rises} V")
    assert told(result, "risen") == wanted


@pytest.mark.parametrize(("ohms", "wanted"), [
    (49.9, []), (50.1, [("rating-unknown", False, False)]),
])  # fmt: skip
def test_an_eighth_of_a_watt_wants_no_rating(ohms: float, wanted: list[object]) -> None:
    """50 mA through 50 ohm."""
    result = simple("current: [IN, OUT], full_scale: 50 mA", f"{ohms} ohm", meter="50 mA")
    assert told(result, "rating-unknown") == wanted


@pytest.mark.parametrize(("ohms", "wanted"), [
    (32.4, []), (32.1, [("loading", False, True)]),
])  # fmt: skip
def test_a_meter_that_loads_the_set_two_percent_more_than_the_old_one(
    ohms: float, wanted: list[object]
) -> None:
    """Behind 1 kohm 99 kohm take 1 %, 32.33 kohm take 3 %."""
    reading = "voltage: [IN, OUT], full_scale: 33 V, source_resistance: 1 kohm"
    assert told(simple(reading, f"{ohms} kohm", "99 kohm"), "loading") == wanted


@pytest.mark.parametrize(("ohms", "said"), [
    ("10 kohm", None), ("7 kohm", None), ("5 kohm", "right for full_scale: 5 V"),
])  # fmt: skip
def test_an_original_that_is_off_is_told_first(ohms: str, said: str | None) -> None:
    """10 V through 7 kohm are 1.43 mA, within the 50 % accepted; through 5 kohm 2 mA."""
    result = simple("voltage: [IN, OUT], full_scale: 10 V", ohms)
    assert told(result, "original-off") == [("original-off", False, True)] * bool(said)
    assert not said or any(said in one.message for one in result.warnings)


def test_a_meter_s_accuracy_alone_is_spread_by_both_laws() -> None:
    """Of builds within 3 % evenly 99 % lie within 2.97 %; with 1 % as one sigma within 2.576 %."""
    meter = "1 mA, accuracy: 3 %, resistance_tolerance: 0 %"
    result = simple("voltage: [IN, OUT], full_scale: 10 V", "10 kohm, tolerance: 0 %", meter=meter)
    spread = result.readings[0].spread
    assert spread.uniform_percent == pytest.approx((-2.97, 2.97), abs=0.02)
    assert spread.normal_percent == pytest.approx((-2.576, 2.576), abs=0.15)


@pytest.mark.parametrize(("watts", "rating", "over"), [
    (0.1 + 0.2, 0.3, False), (0.301, 0.3, True), (0.299, 0.3, False), (None, 0.3, False),
    (0.3, None, False),
])  # fmt: skip
def test_a_piece_from_the_drawer_at_its_rating_is_not_over_it(
    watts: float | None, rating: float | None, over: bool
) -> None:
    assert PieceLoad(1.0, watts, rating).overloaded is over


@pytest.mark.parametrize(("stays", "opens", "volts"), [
    (2000, 200, 400.0), (3000, 100, 450.0), (500, 10, 200.0), (500, 1000, None),
])  # fmt: skip
def test_a_point_that_loses_a_load_rises_to_what_the_other_leaves(
    stays: int, opens: int, volts: float | None
) -> None:
    """600 V behind 1 kohm on what is left; of 500 ohm 1 kohm more hides less than half."""
    text = f"""
rewire: 1
title: rise
points: {{HT: {{volts: 300 V, rises_to: 600 V, source_resistance: 1 kohm}}, CH: {{chassis: yes}}, A: {{}}, B: {{}}}}
readings: {{r: {{current: [A, B], full_scale: 1 mA}}}}
wirings:
  original: &same
    parts:
      R1: {{resistor: {stays} ohm, between: [HT, CH]}}
      R2: {{resistor: {opens} ohm, between: [HT, CH]}}
      M1: {{meter: 1 mA, resistance: 10 ohm, between: [A, B]}}
  other: *same
"""
    faults = values_of(read_text(text.encode()))[0].faults
    risen = {one.what: dict(one.rises) for one in faults if one.rises}
    found = risen.get("R2 open")
    assert found == (None if volts is None else {"HT": pytest.approx(volts)})


@pytest.mark.parametrize(("first", "second", "depends"), [
    ("1 kohm", "1 kohm", False), ("1 kohm", "1.1 kohm", True),
])  # fmt: skip
def test_a_reading_depends_on_a_control_that_changes_its_resistance(
    first: str, second: str, depends: bool
) -> None:
    """A voltage on two throws of a key that 'when' leaves open, by way of equal and unequal ohms."""
    text = f"""
rewire: 1
title: key left open
controls: {{KEY: [UP, DOWN]}}
points: {{IN: {{}}, MID: {{}}, OUT: {{chassis: yes}}}}
readings: {{r: {{voltage: [IN, OUT], full_scale: 1 V, accept: 50 %}}}}
wirings:
  original: &same
    parts:
      S1: {{switch: SPDT, control: KEY, contact_resistance: 0 ohm}}
      R1: {{resistor: {first}, between: [S1.A1, MID]}}
      R2: {{resistor: {second}, between: [S1.A2, MID]}}
      M1: {{meter: 1 mA, resistance: 0 ohm, between: [MID, OUT]}}
    wires: [[IN, S1.A]]
  other: *same
"""
    (one,) = values_of(read_text(text.encode()))[0].readings
    assert ("it depends on KEY" in (one.note or "")) is depends
    assert (one.deflection is None) is depends
