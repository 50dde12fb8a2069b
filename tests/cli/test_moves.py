"""`rewire moves` from outside: boxes, columns, JSON, names that are not there, the way back."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group

ROOT = Path(__file__).parents[2]
SPECS = sorted((ROOT / "specs").glob("*.yaml"))
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
BOX = re.compile(r"\[ \] +(\d+)\.")


def rewire(*args: str, columns: int = 80) -> Result:
    return CliRunner().invoke(group, list(args), env={"COLUMNS": str(columns)})


def steps_of(*args: str) -> list[dict[str, object]]:
    result = rewire("moves", *args, "--json")
    assert result.exit_code == 0, result.output
    (moves,) = json.loads(result.stdout)["results"]
    steps: list[dict[str, object]] = moves["steps"]
    return steps


@pytest.mark.parametrize(
    ("path", "columns"), [(path, (60, 80, 100)[n % 3]) for n, path in enumerate(SPECS)]
)
def test_every_step_has_its_box_and_every_line_fits(path: Path, columns: int) -> None:
    result = rewire("moves", str(path), columns=columns)
    assert result.exit_code == 0
    numbers = [int(number) for number in BOX.findall(result.stdout)]
    lists = json.loads(rewire("moves", str(path), "--json").stdout)["results"]
    assert numbers == [n for one in lists for n in range(1, len(one["steps"]) + 1)]
    assert all(len(line) <= columns for line in result.stdout.splitlines())


def test_as_found_to_the_plan_is_what_is_meant_where_nothing_is_said() -> None:
    document = json.loads(rewire("moves", FLAGSHIP, "--json").stdout)
    assert [(one["from"], one["to"]) for one in document["results"]] == [("as-found", "substitute")]
    assert document["command"] == "moves"


def test_to_the_wiring_as_found_the_way_begins_at_the_original() -> None:
    document = json.loads(rewire("moves", FLAGSHIP, "--to", "as-found", "--json").stdout)
    assert [(one["from"], one["to"]) for one in document["results"]] == [("original", "as-found")]


def test_the_yellow_wire_of_the_flagship_is_moved_and_not_replaced() -> None:
    """At the drawing: SCREEN_TAP's wire, YE, is on S3.A3 as found and on S4.A3 in the plan."""
    steps = steps_of(FLAGSHIP)
    (lift,) = (s for s in steps if s["kind"] == "lift" and s["place"] == "S3.A3")
    (land,) = (s for s in steps if s["kind"] == "land" and s["place"] == "S4.A3")
    assert lift["wire"] == land["wire"]
    assert (lift["colour"], lift["destination"], lift["other"]) == ("YE", "S4.A3", "SCREEN_TAP")
    document = json.loads(rewire("moves", FLAGSHIP, "--json").stdout)
    (live,) = (one for one in document["results"][0]["live"] if "S3.A3" in one["lugs"])
    assert (live["volts"], live["ac"], live["point"]) == (540.0, False, "SCREEN_TAP")


def test_the_order_is_that_of_the_work() -> None:
    stages = list(dict.fromkeys(str(step["stage"]) for step in steps_of(FLAGSHIP)))
    assert stages == [
        "safe", "record", "lift", "remove", "found", "jumpers", "parts", "wires", "after", "set",
        "power",
    ]  # fmt: skip


def test_procedure_and_what_was_found_are_on_the_list_with_their_cautions() -> None:
    said = " ".join(rewire("moves", FLAGSHIP, columns=100).stdout.split())
    for text in (
        "up to 540 V",
        "they are hot for minutes",
        "if it is open in any position, go no further",
        "Replace: wax-paper capacitor across the mains inlet",
        "Local codes and licensed practice come first",
    ):
        assert text in said
    assert "lettering BIAS, CATHODE, SCREEN" not in said  # its plan is to keep it


def test_a_part_found_wrong_that_comes_out_is_one_step(tmp_path: Path) -> None:
    """All that was found of R36 stands with R36; of a part that stays too, it is a step more."""
    text = Path(FLAGSHIP).read_text("utf-8")
    kept = "  - what: lettering BIAS"
    assert kept in text
    more = "".join(
        f"  - {{what: '{what}', plan: replace}}\n"
        for what in ("R36 burnt", "R36 and R34A cooked", "lead to S3 scorched")
    )
    spec = tmp_path / "found.yaml"
    spec.write_text(text.replace(kept, more + kept), "utf-8")
    steps = steps_of(str(spec))
    out = {step["part"]: step["short"] for step in steps if step["kind"] == "take-out"}
    assert out["R36"] == "R36: across the meter's tags; R36 burnt; with X3 and X4"
    assert str(out["S3"]).startswith("S3: two-pole switch")
    told = [step["text"] for step in steps if step["stage"] == "found"]
    assert told[2:] == ["Replace: R36 and R34A cooked", "Replace: lead to S3 scorched"]
    assert len(told) == 4


def test_what_was_found_of_a_named_part_stands_where_it_comes_out(tmp_path: Path) -> None:
    """Whatever its words speak of; a part that stays is a step of its own, with its name."""
    kept = "  - what: lettering BIAS"
    more = (
        "  - {part: R32, what: cooked by R36, plan: replace}\n"
        "  - {part: R34A, what: cracked, plan: replace}\n"
    )
    spec = tmp_path / "found.yaml"
    spec.write_text(Path(FLAGSHIP).read_text("utf-8").replace(kept, more + kept), "utf-8")
    steps = steps_of(str(spec))
    (out,) = (s for s in steps if s["kind"] == "take-out" and s["part"] == "R32")
    assert out["short"] == "R32: cooked by R36"
    assert "Replace: R34A: cracked" in [s["text"] for s in steps if s["stage"] == "found"]


def test_wires_are_labelled_in_one_step_in_the_words_of_the_spec() -> None:
    (label,) = (s for s in steps_of(FLAGSHIP) if s["stage"] == "record" and "lug" in str(s["text"]))
    assert label["short"] == "Mark each wire with its lug before lifting it (behind the meter)"
    lifted = {s["tag"] for s in steps_of(FLAGSHIP) if s["kind"] == "lift"}
    assert lifted == set(re.findall(r"\b[WX]\d+\b", str(label["text"])))


def test_what_was_found_is_not_on_the_way_back_to_stock() -> None:
    steps = steps_of(FLAGSHIP, "--from", "substitute", "--to", "original")
    assert not [step for step in steps if step["stage"] == "found"]


def test_from_a_wiring_to_itself() -> None:
    result = rewire("moves", FLAGSHIP, "--from", "original", "--to", "original")
    assert result.exit_code == 0
    assert "nothing to do" in result.stdout
    assert "[ ]" not in result.stdout


@pytest.mark.parametrize("option", ["--from", "--to"])
def test_a_wiring_that_is_not_there(option: str) -> None:
    result = rewire("moves", FLAGSHIP, option, "substitite")
    assert result.exit_code == 2
    assert "no wiring is called 'substitite'; nearest is 'substitute'" in result.stderr
    document = json.loads(rewire("moves", FLAGSHIP, option, "xyz", "--json").stdout)
    assert "original" in document["errors"][0]["hint"]


def test_several_specs_give_an_array_and_the_worst_status(tmp_path: Path) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text("rewire: 1\n")
    result = rewire("moves", FLAGSHIP, str(broken), "--json")
    assert result.exit_code == 2
    one, other = json.loads(result.stdout)
    assert one["results"]
    assert other["errors"]


def test_text_of_a_spec_moves_no_cursor(tmp_path: Path) -> None:
    nasty = "\u202eturned \u2066 <script>"
    text = Path(FLAGSHIP).read_text("utf-8")
    for said in ("the resistor's own lead", "sleeve it", "behind the meter", "top of the chassis"):
        assert said in text
        text = text.replace(said, nasty)
    spec = tmp_path / "nasty.yaml"
    spec.write_text(text, "utf-8")
    result = rewire("moves", str(spec))
    assert result.exit_code == 0
    assert "‹U+202E›turned" in result.stdout
    assert not {"\u202e", "\u2066", "\x1b"} & set(result.stdout)


def test_what_cannot_be_undone_is_said(tmp_path: Path) -> None:
    text = Path(FLAGSHIP).read_text("utf-8")
    kept = "trims meter and pot to 250 ohm, one adjustment for all three ranges"
    assert kept in text
    spec = tmp_path / "once.yaml"
    spec.write_text(text.replace(kept, f"{kept}\n        reversible: no"), "utf-8")
    said = " ".join(rewire("moves", str(spec)).stdout.split())
    assert said.count("RV41 pot 200 Ω ! cannot be undone") == 1
    (mount,) = (s for s in steps_of(str(spec)) if s["kind"] == "mount" and s["part"] == "RV41")
    assert mount["reversible"] is False


@pytest.mark.parametrize(("spec", "said"), [
    # By hand: 240 mm of screened wire, twisted with its pair; three positions on four throws.
    ("level-meter", "S2.A1 WH W5 to L1_HOT 240 mm, screened, twisted with W6"),
    ("exciter-timing", "set its stop to 3 positions"),
])  # fmt: skip
def test_what_the_plan_asks_of_a_wire_or_switch_is_on_the_list(spec: str, said: str) -> None:
    told = rewire("moves", str(ROOT / "specs" / f"{spec}.yaml")).stdout
    assert said in " ".join(told.split())
