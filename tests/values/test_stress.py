"""What the parts stand: watts add up to what is fed in, ratings, volts, diodes, contacts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.solved import lug_volts
from rewire.values.sources import WorstMoment, live
from rewire.values.wiring_values import Wishes, solved_of, values_of
from tests.values.test_tolerance import random_made


def answered(text: str, wishes: Wishes | None = None) -> WiringValues:
    return values_of(read_text(text.encode()), None, wishes)[0]


def plain(
    parts: str, reading: str, points: str = "IN: {}, MID: {}, OUT: {}", more: str = ""
) -> str:
    wiring = f"    parts:\n{parts}"
    return (
        f"rewire: 1\ntitle: stress\npoints: {{{points}}}\n{more}readings:\n  r: {reading}\n"
        f"wirings:\n  original:\n{wiring}\n  other:\n{wiring}\n"
    )


@pytest.mark.parametrize("seed", range(15))
def test_watts_in_all_parts_are_the_watts_fed_in(seed: int) -> None:
    """Tellegen's theorem, with pots, contacts and a source of its own resistance."""
    made = random_made(seed, pots=seed % 3, contacts=seed % 2)
    result = values_of(read_text(made.spec()))[0]
    one = result.readings[0]
    if one.insertion_ohms is None or one.insertion_ohms == 0.0:
        return
    amount = float(made.amount)
    amps = amount / (one.insertion_ohms + float(made.source)) if made.voltage else amount
    fed = amps * amps * one.insertion_ohms
    assert sum(part.watts or 0.0 for part in result.parts) == pytest.approx(fed, rel=1e-9)


def multiplier(ohms: str, rating: str, working: str) -> str:
    return plain(
        f"      R1: {{resistor: {ohms}, rating: {rating}, working_volts: {working}, "
        "between: [IN, MID]}\n"
        "      M1: {meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}",
        "{voltage: [IN, OUT], full_scale: 2 kV}",
    )


def test_a_multiplier_that_passes_on_watts_and_fails_on_volts() -> None:
    """2 kV over 2 Mohm is 2 W and 350 V a piece wants six in series."""
    result = answered(multiplier("1.9999 Mohm", "5 W", "350 V"))
    part = next(p for p in result.parts if p.part == "R1")
    assert part.watts == pytest.approx(2.0, rel=1e-3)
    assert part.ok is False
    assert part.why is not None
    assert "use 6 or more alike in series" in part.why
    assert "takes" not in part.why
    assert result.bad
    six = " + ".join(["333316.6667 ohm"] * 6)
    assert next(p for p in answered(multiplier(six, "5 W", "350 V")).parts if p.part == "R1").ok


@pytest.mark.parametrize(("rating", "ok", "kinds"), [
    ("1.9 W", False, ["rating"]), ("3 W", True, ["half-rating"]), ("4.1 W", True, []),
])  # fmt: skip
def test_watts_against_the_rating(rating: str, ok: bool, kinds: list[str]) -> None:
    result = answered(multiplier("1.9999 Mohm", rating, "3 kV"))
    assert next(p for p in result.parts if p.part == "R1").ok is ok
    assert [w.kind for w in result.warnings if w.kind != "bench"] == kinds


def test_a_part_without_rating_is_unknown_and_not_good() -> None:
    result = answered(plain(
        "      R1: {resistor: 1 kohm, between: [IN, MID]}\n"
        "      M1: {meter: 1 mA, resistance: 100 ohm, between: [MID, OUT]}",
        "{voltage: [IN, OUT], full_scale: 1.1 V}",
    ))  # fmt: skip
    assert {part.part: part.ok for part in result.parts} == {"R1": None, "M1": None}


def test_overload_goes_by_the_square() -> None:
    text = multiplier("1.9999 Mohm", "5 W", "3 kV")
    result = answered(text, Wishes(overload=3.0))
    for part in result.parts:
        assert part.watts is not None
        assert part.overload_watts == pytest.approx(9 * part.watts, rel=1e-9)
    assert [w.kind for w in result.warnings if w.kind != "bench"] == ["overload"]
    assert result.bad


def test_a_pot_that_carries_all_its_current_in_a_tenth_of_its_track() -> None:
    """0.5 W over 1 kohm is 22 mA anywhere on the track, though a tenth of it takes less watts."""
    text = plain(
        "      RV1: {pot: 1 kohm, setting: 10 %, rating: 0.5 W}\n"
        "      M1: {meter: 50 mA, resistance: 10 ohm, between: [RV1.wiper, OUT]}\n"
        "    wires: [[RV1.ccw, IN]]",
        "{current: [IN, OUT], full_scale: 50 mA}",
    )
    part = next(p for p in answered(text).parts if p.part == "RV1")
    assert part.watts == pytest.approx(0.05**2 * 100)
    assert part.ok is False
    assert part.why is not None
    assert "stands 22.4 mA" in part.why


@pytest.mark.parametrize(("resistance", "conducts"), [(2000, True), (100, False)])
def test_a_diode_across_the_meter_that_conducts_below_full_scale(
    resistance: int, conducts: bool
) -> None:
    """2 V across silicon, and 0.1 V."""
    text = plain(
        f"      M1: {{meter: 1 mA, resistance: {resistance} ohm, between: [MID, OUT]}}\n"
        "      D1: {diode: silicon, between: [MID, OUT]}\n"
        "      R1: {resistor: 1 kohm, between: [IN, MID]}",
        "{current: [IN, OUT], full_scale: 1 mA}",
    )
    (one,) = answered(text).readings
    assert one.deflection == (None if conducts else pytest.approx(1.0))
    assert ("D1 gets up to 2 V forward" in (one.note or "")) is conducts


SWITCHED = """
rewire: 1
title: live
controls: {{TURN: [ONE, TWO]}}
points:
  CHASSIS: {{chassis: yes}}
  HT: {{volts: {volts}, source_resistance: 1 kohm{rises}}}
  LOAD: {{volts: 0 V}}
readings: {{r: {{when: {{TURN: ONE}}, current: [IN, CHASSIS], full_scale: 1 mA}}}}
wirings:
  original: &same
    parts:
      S1: {{switch: SPDT, control: TURN, rating: {{volts: {contact}, shaft_volts: {shaft}}}}}
      R1: {{resistor: 9 kohm, rating: 50 W, working_volts: 900 V, between: [S1.A1, CHASSIS]}}
      M1: {{meter: 1 mA, resistance: 10 ohm, between: [IN, CHASSIS]}}
    wires: [[S1.A, HT], [S1.A2, LOAD]]
  other: *same
"""


@pytest.mark.parametrize(("volts", "rises", "contact", "shaft", "passed"), [
    # 300 V behind 1 kohm on 9 kohm is 270 V; the other contact is at the load's 0 V.
    ("300 V", "", "500 V", "500 V", []),
    ("300 V", "", "250 V", "500 V", ["contact-volts"]),
    ("300 V", "", "500 V", "250 V", ["contact-volts"]),
    # With the load off, on its way, it rises to 600 V.
    ("300 V", ", rises_to: 600 V", "500 V", "700 V", ["contact-volts"]),
    # 220 V rms between two places of unknown phase: its peak counts.
    ("220 V, ac: yes", "", "300 V", "700 V", ["contact-volts"]),
])  # fmt: skip
def test_volts_between_contacts_and_to_the_shaft(
    volts: str, rises: str, contact: str, shaft: str, passed: list[str]
) -> None:
    text = SWITCHED.format(volts=volts, rises=rises, contact=contact, shaft=shaft)
    text = text.replace("  LOAD:", "  IN: {volts: 0 V}\n  LOAD:")
    result = answered(text)
    assert [w.kind for w in result.warnings if w.bad] == passed


def test_volts_that_are_not_given_are_unknown() -> None:
    text = SWITCHED.format(volts="300 V", rises="", contact="500 V", shaft="500 V")
    text = text.replace("  LOAD: {volts: 0 V}", "  IN: {volts: 0 V}\n  LOAD: {}")
    unknown = [w for w in answered(text).warnings if w.kind == "volts-unknown"]
    assert len(unknown) == 1
    assert "S1.A2" in unknown[0].message


def test_a_lug_without_volts_is_told_with_its_positions() -> None:
    """In ONE the pole is on the chassis over R1; in TWO on R3, whose far end hangs. By hand."""
    text = SWITCHED.format(volts="300 V", rises="", contact="500 V", shaft="500 V")
    text = text.replace("  LOAD:", "  IN: {volts: 0 V}\n  LOAD:")
    hanging = "R3: {resistor: 1 kohm}\n      R2: {resistor: 1 kohm}\n      M1:"
    text = text.replace("M1:", hanging).replace("[S1.A, HT]", "[S1.A, R2.1]")
    text = text.replace("[S1.A2, LOAD]", "[S1.A2, R3.1]")
    (said,) = [w.message for w in answered(text).warnings if w.kind == "floating"]
    assert "S1.A (TURN at TWO)" in said
    assert "S1.A2 (TURN at ONE, TURN at TWO)" in said


@pytest.mark.parametrize("seed", range(8))
def test_live_volts_of_a_divider_chain(seed: int) -> None:
    """Millman's theorem at one node fed by several sources, each behind its resistance."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 5))
    volts, ohms = rng.uniform(-400, 400, count).round(1), rng.uniform(10, 1e5, count).round(1)
    series = rng.uniform(10, 1e5, count).round(1)
    points = ", ".join(
        f"P{n}: {{volts: {v} V, source_resistance: {r} ohm}}"
        for n, (v, r) in enumerate(zip(volts, ohms, strict=True))
    )
    parts = "\n".join(
        f"      R{n}: {{resistor: {s} ohm, between: [P{n}, X1.1]}}" for n, s in enumerate(series)
    )
    text = plain(
        f"{parts}\n      X1: {{strip: 1}}\n      R9: {{resistor: 1 kohm, between: [X1.1, CHASSIS]}}\n"
        "      M1: {meter: 1 mA, resistance: 1 ohm}",
        "{current: [P0, CHASSIS], full_scale: 1 mA}",
        f"CHASSIS: {{chassis: yes}}, {points}",
    )
    spec = read_text(text.encode())
    worked = solved_of(spec, spec.original)
    found = live(worked.network, worked.values, [WorstMoment({})], worked.network.node("CHASSIS"))
    siemens = 1 / (ohms + series)
    wanted = float((volts * siemens).sum() / (siemens.sum() + 1e-3))
    node, ground = worked.network.node("X1.1"), worked.network.node("CHASSIS")
    assert found.apart(node, ground) == pytest.approx(abs(wanted), rel=1e-9)
    assert found.steady[node] == pytest.approx(wanted, rel=1e-9)
    assert np.isnan(found.apart(worked.network.node("M1.+"), ground)).all()


def test_an_ac_source_is_in_step_with_itself_and_of_two_the_peaks_add() -> None:
    """By hand: 100 V behind two equal resistors is 50 V at their middle; the peaks are √2 as high."""
    text = """
rewire: 1
title: two windings
points: {A: {volts: 100 V, ac: yes}, B: {volts: 30 V, ac: yes}, D: {volts: 12 V}, CHASSIS: {chassis: yes}}
readings: {v: {voltage: [A, CHASSIS], full_scale: 10 V}}
wirings:
  original: &same
    parts:
      R1: {resistor: 1 kohm, between: [A, R2.1]}
      R2: {resistor: 1 kohm, between: [R1.2, CHASSIS]}
      M1: {meter: 1 mA, resistance: 100 ohm, between: [A, CHASSIS]}
  other: *same
"""
    worked = solved_of(spec := read_text(text.encode()), spec.wirings["other"])
    found = live(worked.network, worked.values, [WorstMoment({})], worked.network.node("CHASSIS"))
    node = worked.network.node
    peak = math.sqrt(2)
    assert found.apart(node("A"), node("R1.2")) == pytest.approx(50 * peak)
    assert found.apart(node("A"), node("CHASSIS")) == pytest.approx(100 * peak)
    assert found.apart(node("A"), node("B")) == pytest.approx(130 * peak)
    assert found.apart(node("A"), node("D")) == pytest.approx(12 + 100 * peak)


def test_volts_present_at_rest_are_not_reported_as_switching() -> None:
    """With the key up nothing loads HT: 680 V stand across the open contact, at rest."""
    text = """
rewire: 1
title: key
controls: {KEY: [UP, DOWN]}
points: {HT: {volts: 300 V, rises_to: 680 V, source_resistance: 1 kohm}, CH: {chassis: yes}}
readings: {r: {when: {KEY: DOWN}, current: [HT, CH], full_scale: 10 mA}}
wirings:
  original: &same
    parts:
      S1: {switch: SPDT, control: KEY, rating: {volts: 250 V, shaft_volts: 1 kV}}
      M1: {meter: 10 mA, resistance: 10 ohm, between: [S1.A2, CH]}
    wires: [[S1.A, HT]]
  other: *same
"""
    (told,) = (w.message for w in answered(text).warnings if w.kind == "contact-volts")
    assert told == "S1: 680 V between contacts at S1.A and S1.A2 (KEY at UP), rated 250 V"


FEED = """
rewire: 1
title: what a contact feeds
controls: {{K: [STANDBY, SEND]}}
points: {{CH: {{chassis: yes}}, {points}}}
wirings:
  original: &same
    parts:
      S1: {{switch: SPDT, control: K, rating: {{volts: 5 V, shaft_volts: 1 kV}}}}
{parts}
    wires: [[S1.A, {to}], [S1.A2, HT]{more}]
  other: *same
"""
DROPPER = "      R1: {{resistor: {ohms}, rating: 50 W, working_volts: 900 V, between: [{between}]}}"


@pytest.mark.parametrize(("points", "part", "between", "to", "more", "across"), [
    # A point that only the contact feeds has no volts once it is open: the whole of the other side.
    ("HT: {volts: 300 V}, SCREEN: {volts: 300 V}", "", "", "SCREEN", "", 300.0),
    ("HT: {volts: 250 V, rises_to: 320 V}, SCREEN: {volts: 150 V}", "", "", "SCREEN", "", 320.0),
    ("HT: {volts: -250 V}, SCREEN: {volts: -150 V}", "", "", "SCREEN", "", 250.0),
    # Its dropping resistor has no drop without current; across the contact it feeds it no longer.
    ("HT: {volts: 300 V}, SCREEN: {volts: 150 V}", "22 kohm", "S1.A, SCREEN", "R1.1", "", 300.0),
    ("HT: {volts: 300 V}, SCREEN: {volts: 150 V}", "22 kohm", "S1.A2, S1.A", "SCREEN", "", 300.0),
    # A shunt of 1 ohm holds it up, whatever the contact does; 300 V - 297 V are within 5 V.
    ("HT: {volts: 300 V}, SCREEN: {volts: 297 V}", "1 ohm", "S1.A2, S1.A", "SCREEN", "", None),
    # A load of 0 V stands at 0 V; a point of the other sign is a supply of its own.
    ("HT: {volts: 300 V}, LOAD: {volts: 0 V}", "", "", "LOAD", "", 300.0),
    ("HT: {volts: 300 V}, BIAS: {volts: -40 V}", "", "", "BIAS", "", 340.0),
    # Another contact feeds it in the other position, but for the moment between the two.
    ("HT: {volts: 300 V}, LOW: {volts: 280 V}, SCREEN: {volts: 280 V}", "", "", "SCREEN",
     ", [S1.A1, LOW]", 300.0),
])  # fmt: skip
def test_a_contact_stands_what_is_left_when_it_cuts_a_point_off(
    points: str, part: str, between: str, to: str, more: str, across: float | None
) -> None:
    """By Kirchhoff's voltage law, on the open contact, with the point at its volts or at 0 V."""
    parts = DROPPER.format(ohms=part, between=between) if part else ""
    result = answered(FEED.format(points=points, parts=parts, to=to, more=more))
    told = [w.message for w in result.warnings if w.kind == "contact-volts"]
    assert [text.split(" between")[0] for text in told] == (
        [] if across is None else [f"S1: {across:g} V"]
    )


@pytest.mark.parametrize(("points", "told"), [
    ("HT: {volts: 250 V}, SCREEN: {volts: 150 V}", 1),
    ("HT: {volts: 250 V, source_resistance: 2.2 kohm}, SCREEN: {volts: 150 V}", 0),
    ("HT: {volts: 250 V}, SCREEN: {volts: 250 V}", 0), ("HT: {volts: 250 V}, SCREEN: {volts: 0 V}", 0),
])  # fmt: skip
def test_points_of_unlike_volts_that_a_contact_connects_are_told(points: str, told: int) -> None:
    """Across a closed contact there are no volts (Kirchhoff): the higher of two ideal sources counts.

    A wire to the screen, and what lies behind a resistor without current, then stand at 250 V.
    """
    wired = (
        ", {from: SCREEN, to: R1.2, insulation: 240 V}, {from: R1.1, to: X1.1, insulation: 240 V}"
    )
    parts = "      R1: {resistor: 1 kohm}\n      X1: {strip: 1}"
    text = FEED.format(points=points, parts=parts, to="SCREEN", more=wired)
    result = answered(text.replace("volts: 5 V, shaft", "volts: 400 V, shaft"))
    kinds = [w.kind for w in result.warnings]
    assert kinds.count("volts-in-doubt") == told
    if "source_resistance" not in points:
        assert kinds.count("insulation") == 2
    spec = read_text(text.encode())
    found = lug_volts(spec, spec.original)
    assert [found[place].volts for place in ("SCREEN", "X1.1")] == pytest.approx([250.0, 250.0])


CAPACITOR = """
rewire: 1
title: a capacitor in reach of a high voltage
controls: {{K: [P, Q]}}
points: {{CH: {{chassis: yes}}, X: {{volts: 400 V, rises_to: 500 V}}, Y: {{volts: 0 V}}}}
wirings:
  original:
    parts: &parts
      C1: {{capacitor: 8 uF, rating: {rating}, between: [S1.{lug}, CH]}}
      S1: {{switch: SPDT, control: K, timing: shorting, rating: {{volts: 600 V, shaft_volts: 600 V}}}}
    wires: &wires [[X, S1.A], [S1.A2, Y]]
  other: {{parts: *parts, wires: *wires}}
"""


@pytest.mark.parametrize(("rating", "lug", "exceeded"), [
    ("450 V", "A1", ("C1",)), ("500 V", "A1", ()), ("450 V", "A", ("C1",)),
])  # fmt: skip
def test_a_capacitor_stands_what_its_place_rises_to(
    rating: str, lug: str, exceeded: tuple[str, ...]
) -> None:
    """The place rises to 500 V with its load off; the switch puts it on the capacitor."""
    result = answered(CAPACITOR.format(rating=rating, lug=lug))
    assert result.exceeded == exceeded
    said = [w.message for w in result.warnings if w.part == "C1" and w.bad]
    assert [s.startswith("C1 has 500 V across it") for s in said] == [True] * len(exceeded)


def test_volts_without_a_chassis_are_said_to_be_so() -> None:
    text = CAPACITOR.format(rating="450 V", lug="A1").replace("{chassis: yes}", "{}")
    (said,) = [w.message for w in answered(text).warnings if w.kind == "volts-unknown"]
    assert said.startswith("no point is said to be the chassis")
