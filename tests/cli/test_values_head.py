"""The first lines of `rewire values`: everything that is worked out counts, and what is not known.

The circuits are small enough that each answer follows by hand.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire.cli import rewire as group

RANGES = """
rewire: 1
title: two shunts on a range switch
controls: {{RANGE: [LOW, HIGH]}}
points: {{IN: {{volts: 1 V}}, OUT: {{chassis: yes}}}}
readings:
  low: {{when: {{RANGE: LOW}}, current: [IN, OUT], full_scale: 2 mA}}
  high: {{when: {{RANGE: HIGH}}, current: [IN, OUT], full_scale: 11 mA}}
wirings:
  original: &w
    parts:
      M1: {{meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 1 %, accuracy: 2 %}}
      S1: {{switch: SPDT, control: RANGE, timing: {timing}, contact_resistance: 0 ohm}}
      R1: {{resistor: 100 ohm, tolerance: 1 %{rating}}}
      R2: {{resistor: 10 ohm, tolerance: 1 %, rating: {watts}}}
    nets: [[S1.A, M1.+, IN], [S1.A1, R1.1], [S1.A2, R2.1], [R1.2, R2.2, M1.-, OUT]]
  plan: *w
"""


def head(tmp_path: Path, text: str) -> tuple[str, int]:
    path = tmp_path / "made.yaml"
    path.write_text(text, "utf-8")
    result = CliRunner().invoke(group, ["values", str(path)], env={"COLUMNS": "80"})
    return " ".join(result.stdout.split("\n\n")[0].split()), result.exit_code


@pytest.mark.parametrize(
    ("timing", "rating", "watts", "said", "status"),
    [
        ("shorting", ", rating: 0.5 W", "0.5 W",
         "GOOD: plan: low and high read right. Ratings: 0 exceeded, 0 unknown.", 0),
        ("shorting", "", "0.5 W",
         "GOOD: plan: low and high read right. Ratings: 0 exceeded, 1 unknown (R1).", 0),
        # 10 mA in 10 ohm is 1 mW.
        ("shorting", "", "0.9 mW", "BAD: plan: a rating is exceeded at R2. "
         "Ratings: 1 exceeded, 1 unknown (R1).", 1),
        # With both contacts open all of the 11 mA goes through a meter of 1 mA.
        ("non-shorting", ", rating: 0.5 W", "0.5 W", "BAD: plan: while switching, RANGE between "
         "LOW and HIGH: M1 takes 11 times full scale in high. Ratings: 0 exceeded, 0 unknown.", 1),
    ],
)  # fmt: skip
def test_what_is_worked_out_counts(
    tmp_path: Path, timing: str, rating: str, watts: str, said: str, status: int
) -> None:
    text = RANGES.format(timing=timing, rating=rating, watts=watts)
    assert head(tmp_path, text) == (said, status)


def test_what_a_reading_is_off_is_never_said_to_be_what_it_accepts(tmp_path: Path) -> None:
    """With parts exact what is left is the accuracy of the meter."""
    text = RANGES.format(timing="shorting", rating=", rating: 0.5 W", watts="0.5 W")
    text = text.replace("1 %", "0 %").replace("2 %", "2.04 %")
    text = text.replace("full_scale: 2 mA", "full_scale: 2 mA, accept: 2 %")
    said, status = head(tmp_path, text)
    assert status == 1
    assert "low may be 2.04 % of full scale off, more than 2 %" in said


RULED = """
rewire: 1
title: a rule that must hold while the knob turns
controls: {METER: [P, Q]}
points: {A: {}, B: {chassis: yes}}
rules: [{connect: [A, B], within: 10 ohm, while_switching: yes, why: it floats}]
readings: {a: {when: {METER: P}, current: [A, B], full_scale: 100 mA}}
wirings:
  original: &w
    parts:
      S1: {switch: SPDT, control: METER, timing: TIMING, contact_resistance: 0 ohm}
      M1: {meter: 100 mA, resistance: 1 ohm}
    nets: [[A, S1.A], [S1.A1, M1.+], [S1.A2, M1.-, B]]
  plan: *w
"""


@pytest.mark.parametrize(("timing", "status"), [("shorting", 0), ("non-shorting", 1)])
def test_a_rule_broken_while_switching_is_bad(tmp_path: Path, timing: str, status: int) -> None:
    said, found = head(tmp_path, RULED.replace("TIMING", timing))
    assert found == status
    assert ("while switching, METER between P and Q: A and B no longer" in said) is bool(status)


UNKNOWN = """
rewire: 1
title: one reading hangs on a value that nobody knows
points: {A: {}, B: {}, C: {chassis: yes}}
readings:
  a: {voltage: [A, C], full_scale: 10 V}
  b: {voltage: [B, C], full_scale: 10 V, meter: M2}
wirings:
  original: &w
    parts:
      M1: {meter: 1 mA, resistance: 100 ohm}
      M2: {meter: 1 mA, resistance: unknown}
      R1: {resistor: 9.9 kohm, rating: 0.5 W}
      R2: {resistor: 9.9 kohm, rating: 0.5 W}
    nets: [[A, R1.1], [R1.2, M1.+], [M1.-, C, M2.-], [B, R2.1], [R2.2, M2.+]]
  plan: *w
"""


def test_a_reading_that_is_not_known_settles_nothing(tmp_path: Path) -> None:
    text = UNKNOWN.replace("full_scale: 10 V}", "full_scale: 10 V, meter: M1}", 1)
    said, status = head(tmp_path, text)
    assert status == 3
    assert said == (
        "NOT SETTLED: plan: a reads right by nominal values; worst case not known, no tolerance "
        "given for M1, R1; b not known (1 of 2 readings). Ratings: 0 exceeded, 0 unknown."
    )
    path = tmp_path / "made.yaml"
    document = json.loads(CliRunner().invoke(group, ["values", str(path), "--json"]).stdout)
    assert (document["results"][0]["answer"], document["results"][0]["good"]) == ("unknown", False)
    wrong, status = head(tmp_path, text.replace("9.9 kohm", "8 kohm", 1))
    assert status == 1
    assert wrong.startswith("BAD: plan: a stands at 123.5 % of full scale, not at 100 %; b not")


UNEVEN = """
rewire: 1
title: volts and amperes over a toggle of two poles
controls: {METER: [VOLTS, AMPS]}
points: {MINUS: {chassis: yes}, IN: {volts: 14 V}, OUT: {volts: 14 V}}
parts: {RS: {resistor: 10 mohm, rating: 5 W, between: [IN, OUT]}}
readings:
  amps: {when: {METER: AMPS}, current: [IN, OUT], full_scale: 10 A}
  volts: {when: {METER: VOLTS}, voltage: [OUT, MINUS], full_scale: 15 V}
wirings:
  original:
    parts: &parts
      S1: {switch: DPDT, control: METER, timing: non-shorting}
      M1: {meter: 500 uA, resistance: 190 ohm}
      R2: {resistor: 29.81 kohm, rating: 0.5 W}
      R3: {resistor: 9.8 ohm, rating: 0.5 W}
    nets: ORIGINAL
  plan:
    parts: *parts
    nets: [[S1.A, M1.+], [S1.B, M1.-], [S1.A1, R2.1], [R2.2, OUT], [S1.A2, R3.1], [R3.2, IN],
      [S1.B2, OUT], [S1.B1, MINUS]]
"""
SAME = (
    "[[S1.A, M1.+], [S1.B, M1.-], [S1.A1, R2.1], [R2.2, OUT], [S1.A2, R3.1], [R3.2, IN], "
    "[S1.B2, OUT], [S1.B1, MINUS]]"
)
SAFE = (
    "[[S1.A, M1.+], [S1.B, M1.-], [S1.A1, OUT], [S1.A2, R3.1], [R3.2, IN], "
    "[S1.B2, OUT], [S1.B1, R2.1], [R2.2, MINUS]]"
)


@pytest.mark.parametrize(("nets", "status"), [(SAME, 0), (SAFE, 1)])
def test_what_takes_uneven_poles_and_was_so_before_is_told_but_not_bad(
    tmp_path: Path, nets: str, status: int
) -> None:
    """By hand: one pole in AMPS and one in VOLTS put 14 V on 200 ohm, 140 times full scale.

    With the multiplier in the minus lead, no pole that lags can do that.
    """
    text = UNEVEN.replace("ORIGINAL", nets)
    said, found = head(tmp_path, text)
    assert found == status
    path = tmp_path / "made.yaml"
    result = json.loads(CliRunner().invoke(group, ["values", str(path), "--json"]).stdout)
    over = [one for one in result["results"][0]["switching"] if one["overload"]]
    assert [(one["in_step"], one["as_original"]) for one in over] == [(False, nets is SAME)]
    assert "if the poles are uneven: M1 takes" in over[0]["message"]
    assert ("if the poles are uneven" in said) is (nets is SAFE)


def test_a_broken_wiring_is_told_so_above_its_figures_and_its_continuity_table() -> None:
    """What was tried reads right, and charges the battery while it switches: GOOD is not first."""
    spec = str(Path(__file__).parents[2] / "specs" / "exciter-timing.yaml")
    for command in ("values", "buzz"):
        told = CliRunner().invoke(group, [command, spec, "--wiring", "second-try"]).stdout
        assert told.startswith("BROKEN: second-try does not keep what the original does")
        assert "GOOD" not in told
        assert "read right" not in told.partition("\n\n")[0]
        sound = CliRunner().invoke(group, [command, spec, "--wiring", "substitute"]).stdout
        assert "BROKEN" not in sound


SPECS = Path(__file__).parents[2] / "specs"


def test_a_meter_the_wrong_way_round_reads_backwards(tmp_path: Path) -> None:
    """By hand: full scale and the same current backwards; numpy's warnings are errors here."""
    text = (SPECS / "bench-supply.yaml").read_text("utf-8")
    turned = text.replace("S2.A, to: M2.+", "S2.A, to: M2.-").replace(
        "S2.B, to: M2.-", "S2.B, to: M2.+"
    )
    assert len(turned) == len(text)
    assert turned != text
    said, status = head(tmp_path, turned)
    assert "volts stands at -100 % of full scale, not at 100 %" in said
    assert status == 1


def test_what_was_found_is_told_with_its_warnings(tmp_path: Path) -> None:
    """420 V on the lead of the meter that comes out: it is still in the set."""
    text = (SPECS / "valve-amplifier.yaml").read_text("utf-8")
    lead = "      - {from: S3.A2, to: CHASSIS, colour: BK}\n"
    assert text.count(lead) == 1
    path = tmp_path / "made.yaml"
    path.write_text(text.replace(lead, f"{lead}      - {{from: S3.A1, to: SCREENS}}\n"), "utf-8")
    result = CliRunner().invoke(group, ["values", str(path)], env={"COLUMNS": "80"})
    found = " ".join(result.stdout[result.stdout.index("BROKEN: as-found") :].split())
    assert "! bias: SCREENS (420 V) stands in the meter's own circuit" in found


@pytest.mark.parametrize("multiplier", [
    "{resistor: 100 kohm, tolerance: 1 %, rating: 0.5 W, working_volts: 250 V, replaces: R2}",
    "{resistor: fit, for: b_battery, rating: 0.5 W, working_volts: 250 V, replaces: R2}",
])  # fmt: skip
def test_a_full_scale_typed_wrong_is_traced_to_the_spec(tmp_path: Path, multiplier: str) -> None:
    """10 V for 100 V: the maker's own meter would miss it as well, 100 % of 199.8 kohm x 500 uA.

    A multiplier fitted to it reads right, and lets 90 V drive the meter nine times over.
    """
    text = (SPECS / "portable-battery-check.yaml").read_text("utf-8")
    lines = text.replace("full_scale: 100 V", "full_scale: 10 V").splitlines()
    lines = [f"      R12: {multiplier}" if "      R12: " in line else line for line in lines]
    said, status = head(tmp_path, "\n".join(lines))
    assert status == 1
    assert "in the original too the pointer stands at 10.01 %, right for full_scale: 99.9 V" in said
    assert ("M2 is driven to 9.6 times full scale" in said) is ("fit" in multiplier)
