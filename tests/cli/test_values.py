"""`rewire values`, `shunt` and `multiplier` from outside: tables, JSON, exit status."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")


def shunted(shunt: float, meter: float) -> float:
    """Times full scale of a 1 mA meter in 100 mA."""
    return 100 * shunt / (shunt + meter)


def rewire(*args: str) -> Result:
    return CliRunner().invoke(group, list(args), env={"COLUMNS": "80"})


def test_the_flagship_at_80_columns() -> None:
    result = rewire("values", FLAGSHIP)
    assert result.exit_code == 0
    said = " ".join(result.stdout.split())
    assert "BROKEN: as-found: do not power it up (rewire check); cathode stands at 24.74 %" in said
    assert result.stdout.startswith("GOOD: substitute: bias, cathode and screen read right once")
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    for said in (
        "set RV41 in cathode: 40.0 % from ccw",
        "exactly 38.462 Ω",
        "R31 open",
    ):
        assert said in result.stdout
    full = rewire("values", FLAGSHIP, "--full").stdout
    assert "Bench test, cathode: feed CHASSIS (+) and HT_MINUS (-)" in full


def test_the_promised_keys() -> None:
    result = rewire("values", FLAGSHIP, "--json", "--wiring", "substitute")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert document["command"] == "values"
    one = document["results"][0]
    assert {"name", "state", "deflection", "error_percent", "worst_low_percent",
            "worst_high_percent", "insertion_ohms", "original_insertion_ohms",
            "meter_amps"} <= one["readings"][0].keys()  # fmt: skip
    assert {"part", "reading", "exact_ohms", "chosen_ohms", "chosen",
            "error_percent"} <= one["fits"][0].keys()  # fmt: skip
    assert {"part", "reading", "setting_percent", "reaches", "lowest_percent",
            "highest_percent"} <= one["pots"][0].keys()  # fmt: skip
    assert {"part", "watts", "reading", "rating_watts", "ok"} <= one["parts"][0].keys()


def test_what_is_chosen_put_into_the_spec_reads_as_it_was_said(tmp_path: Path) -> None:
    """Chosen values written in: every reading is the same, within the stated worst case."""
    before = json.loads(rewire("values", FLAGSHIP, "--json", "--wiring", "substitute").stdout)
    said = before["results"][0]
    text = Path(FLAGSHIP).read_text("utf-8")
    fit, pot = said["fits"][0], said["pots"][0]
    for old, new in (
        ("resistor: fit, for: bias, choose: E96", f"resistor: {fit['chosen']}"),
        ("setting: fit\n        for: cathode", f"setting: {pot['setting_percent']} %"),
    ):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "chosen.yaml"
    path.write_text(text, "utf-8")
    result = rewire("values", str(path), "--json", "--wiring", "substitute")
    # A pot that stays where it stands takes up no tolerances: -11 to +13 % in bias.
    assert result.exit_code == 1
    after = json.loads(result.stdout)["results"][0]
    assert after["fits"] == after["pots"] == []
    for one, other in zip(said["readings"], after["readings"], strict=True):
        assert other["deflection"] == pytest.approx(one["deflection"], rel=1e-9)
        assert one["worst_low_percent"] <= other["error_percent"] <= one["worst_high_percent"]


OPEN = """
rewire: 1
title: a control that the reading depends on and 'when' does not fix
controls: {TURN: [ONE, TWO]}
points: {IN: {}, OUT: {}}
readings:
  r: {current: [IN, OUT], full_scale: 2 mA}
wirings:
  original: &same
    parts:
      M1: {meter: 1 mA, resistance: 100 ohm, between: [IN, OUT]}
      R1: {resistor: 100 ohm, between: [IN, S1.A1]}
      S1: {switch: SPDT, control: TURN, timing: shorting}
    wires: [[S1.A, OUT]]
  other: *same
"""


def written(tmp_path: Path, text: str) -> str:
    path = tmp_path / "made.yaml"
    path.write_text(text, "utf-8")
    return str(path)


def test_the_originals_readings_are_worked_out_when_asked_for() -> None:
    """It feels to the equipment what it felt to it; nobody else is compared with."""
    asked = rewire("values", FLAGSHIP, "--json", "--wiring", "original")
    assert asked.exit_code == 0, asked.stderr
    (result,) = json.loads(asked.stdout)["results"]
    assert result["wiring"] == "original"
    for one in result["readings"]:
        assert one["insertion_ohms"] == one["original_insertion_ohms"]
        assert abs(one["error_percent"]) < 0.1


def test_a_reading_left_open_is_refused_by_name(tmp_path: Path) -> None:
    result = rewire("values", written(tmp_path, OPEN))
    assert result.exit_code == 2
    assert "made.yaml:7:3: reading r depends on TURN in other; fix it in 'when'" in result.stderr


@pytest.mark.parametrize(("old", "new", "status", "said"), [
    ("current:", "when: {TURN: ONE}, current:", 0, "GOOD: other"),
    ("current:", "when: {TURN: TWO}, current:", 1, "r stands at 200 % of full scale"),
    ("timing: shorting", "timing: non-shorting", 1, "while switching, TURN between ONE and TWO"),
    ("resistance: 100 ohm", "resistance: unknown", 3, "NOT SETTLED: other: r not known"),
])  # fmt: skip
def test_exit_status(tmp_path: Path, old: str, new: str, status: int, said: str) -> None:
    fixed = OPEN if "when" in new else OPEN.replace("current:", "when: {TURN: ONE}, current:")
    result = rewire("values", written(tmp_path, fixed.replace(old, new)))
    assert (result.exit_code, said in " ".join(result.stdout.split())) == (status, True)


@pytest.mark.parametrize(("args", "said", "status"), [
    (("shunt", "--meter", "1 mA", "--resistance", "100 ohm", "100 mA"), "exactly 1.0101 Ω", 0),
    (("shunt", "--meter", "5 mA", "--resistance", "9", "2 mA"), "pick a movement of 2 mA or", 1),
    (("shunt", "--meter", "1 mA", "--resistance", "50", "--tapped", "--choose", "exact",
      "1 A", "10 A"), "exactly 5.005 mΩ", 0),
    (("shunt", "--meter", "1 mA", "--resistance", "100", "100 mA", "--wire", "24", "--metal",
      "copper"), "0.39 % per °C", 0),
    (("multiplier", "--meter", "50 uA", "--resistance", "500 ohm", "10 V"), "exactly 199.5 kΩ", 0),
    (("multiplier", "--meter", "1 V", "--resistance", "1 kohm", "10 V", "--chained"), "9 kΩ", 0),
])  # fmt: skip
def test_quick_sums(args: tuple[str, ...], said: str, status: int) -> None:
    """By hand: Rm / (I / Im - 1), and V / Im - Rm."""
    result = rewire(*args)
    assert result.exit_code == status
    assert said in result.stdout


@pytest.mark.parametrize(("args", "low", "high"), [
    # Shunt of 100 ohm / 99, both at their worse ends; multiplier of 198 kohm, 5 % and 2 %.
    (("shunt", "--meter", "1 mA", "--resistance", "100", "100 mA", "--choose", "exact",
      "--tolerance", "1", "--resistance-tolerance", "10"),
     shunted(1.0101010101 * 0.99, 110), shunted(1.0101010101 * 1.01, 90)),
    (("multiplier", "--meter", "50 uA", "--resistance", "2 kohm", "10 V", "--choose", "exact",
      "--tolerance", "5", "--resistance-tolerance", "2"),
     200 / (198 * 1.05 + 2.04), 200 / (198 * 0.95 + 1.96)),
])  # fmt: skip
def test_the_worst_case_of_a_quick_sum(args: tuple[str, ...], low: float, high: float) -> None:
    """By hand: the shunt takes its share of 100 mA, the multiplier and the meter 10 V."""
    reading = json.loads(rewire(*args, "--json").stdout)["results"][0]["readings"][0]
    assert reading["worst_low_percent"] == pytest.approx(100 * (low - 1), rel=1e-6)
    assert reading["worst_high_percent"] == pytest.approx(100 * (high - 1), rel=1e-6)
    said = f"{100 * (low - 1):+.1f}/{100 * (high - 1):+.1f} %"
    assert said in rewire(*args).stdout


def test_a_shunt_that_is_wound_is_exact_and_its_length_is_that_of_the_wire() -> None:
    """IACS copper, 1/58 ohm mm2/m, AWG 36 is 5 mil (ASTM B258)."""
    result = rewire("shunt", "--meter", "1 mA", "--resistance", "100", "100 mA", "--wire", "36",
                    "--metal", "copper")  # fmt: skip
    metres = 1.0101010101 * 58 * math.pi / 4 * 0.127**2
    assert f"R1: {1000 * metres:.1f} mm of copper wire" in result.stdout
    assert "(E96)" not in result.stdout


def test_the_flagships_shunt_wound_from_wire() -> None:
    """Manganin 0.43 ohm mm2/m (usual figure, from memory), AWG 36 is 5 mil (ASTM B258)."""
    result = rewire("values", FLAGSHIP, "--wiring", "substitute", "--wire", "36")
    metres = 500 / 13 / 0.43 * math.pi / 4 * 0.127**2
    assert f"R46: {metres:.3f} m of manganin wire, AWG 36" in result.stdout
    assert all(len(line) <= 80 for line in result.stdout.splitlines())


def test_a_drawer_with_nothing_near_is_a_bad_answer(tmp_path: Path) -> None:
    path = written(tmp_path, "rewire_drawer: 1\nresistors: [{resistor: 47 ohm, quantity: 2}]\n")
    args = ("shunt", "--meter", "1 mA", "--resistance", "100", "--drawer", path)
    result = rewire(*args, "100 mA")
    assert result.exit_code == 1
    assert "nothing in the drawer comes near" in result.stdout
    assert rewire(*args, "5.25 mA").exit_code == 0


def test_what_one_resistor_takes_from_the_drawer_the_next_cannot_have(tmp_path: Path) -> None:
    path = written(
        tmp_path, "rewire_drawer: 1\nresistors: [{resistor: 25 ohm}, {resistor: 30 ohm}]\n"
    )
    result = rewire("shunt", "--meter", "1 mA", "--resistance", "100", "--drawer", path, "5 mA",
                    "5.1 mA", "--json")  # fmt: skip
    taken = [fit["chosen"] for fit in json.loads(result.stdout)["results"][0]["fits"]]
    assert taken == ["25 ohm", "30 ohm"]


@pytest.mark.parametrize("args", [
    ("shunt", "--meter", "1 mA", "--resistance", "100", "1 A", "1000 mA"),
    ("shunt", "--meter", "1", "--resistance", "100", "1 A"),
    ("shunt", "--meter", "1 mA", "--resistance", "100 V", "1 A"),
    ("multiplier", "--meter", "1 mA", "--resistance", "100", "1 A"),
    ("multiplier", "--meter", "50 mV", "--resistance", "0", "1 V"),
    ("shunt", "--meter", "1 mA", "--resistance", "100", "1 A", "--tolerance", "lots"),
    ("shunt", "--meter", "1 mA", "--resistance", "100", "1 A", "--drawer", "none.yaml"),
])  # fmt: skip
def test_bad_input_is_one_message(args: tuple[str, ...]) -> None:
    result = rewire(*args)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert result.stderr


def test_a_limit_ends_with_its_status_and_name(tmp_path: Path) -> None:
    parts = "\n".join(
        f"      R{n}{m}{way}: {{resistor: {40 + 7 * n + 3 * m} ohm, tolerance: 1 %, "
        f"between: [P{5 * n + m}, P{5 * n + m + step}]}}"
        for n in range(5) for m in range(5) for way, step in (("a", 1), ("b", 5))
        if (way == "a" and m < 4) or (way == "b" and n < 4)
    )  # fmt: skip
    points = ", ".join(f"P{n}: {{}}" for n in range(25))
    meter = "meter: 1 mA, resistance: 50 ohm, resistance_tolerance: 0 %, between: [P11, P17]"
    wiring = f"    parts:\n{parts}\n      M1: {{{meter}}}\n"
    result = rewire("values", written(
        tmp_path,
        f"rewire: 1\ntitle: lattice\npoints: {{{points}}}\n"
        "readings: {r: {voltage: [P0, P24], full_scale: 10 V}}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}",
    ))  # fmt: skip
    assert result.exit_code == 3
    assert "worst case of reading r" in result.stderr
    assert "more than 20" in result.stderr


def test_a_value_that_is_to_be_found_breaks_no_rule_by_being_open(tmp_path: Path) -> None:
    """``check`` counts it as no ohms; here the rule is judged with the value that is found."""
    spec = tmp_path / "spec.yaml"
    spec.write_text(
        "rewire: 1\ntitle: multiplier\ncontrols: {K: [P, Q]}\n"
        "points: {A: {}, CH: {chassis: yes}, L: {}}\n"
        "readings: {volts: {when: {K: P}, voltage: [A, CH], full_scale: 10 V}}\n"
        "rules: [{isolate: [A, CH], beyond: 5 kohm, why: it must not load the set}]\n"
        "wirings:\n"
        "  original:\n    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm}\n"
        "      R1: {resistor: 9.9 kohm}\n      S1: {switch: SPDT, control: K}\n"
        "    wires: [[A, R1.1], [R1.2, M1.+], [M1.-, CH], [S1.A, L]]\n"
        "  planned:\n    parts:\n      M1: {meter: 1 mA, resistance: 100 ohm}\n"
        "      R1: {resistor: fit, for: volts}\n      S1: {switch: SPDT, control: K}\n"
        "    wires: [[A, R1.1], [R1.2, M1.+], [M1.-, CH], [S1.A, L]]\n"
    )
    done = rewire("values", str(spec))
    assert done.exit_code == 0, done.output
    assert "BROKEN" not in done.output
    assert "fit R1" in done.output
