"""`rewire buzz` and `rewire identify` from outside: tables, logs, the wizard, statuses, JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group
from rewire.reading import read_spec
from rewire.reading.benchlog import read_bench_log

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
JACK = str(ROOT / "specs" / "monitor-jack.yaml")


def rewire(*args: str, said: str = "", columns: int = 80) -> Result:
    return CliRunner().invoke(group, list(args), input=said, env={"COLUMNS": str(columns)})


def answer(*args: str) -> dict[str, Any]:
    document = json.loads(rewire("buzz", *args, "--json").stdout)
    assert document["command"] == "buzz"
    result: dict[str, Any] = document["results"][0]
    return result


def log_of(path: Path, wiring: str, tests: list[dict[str, Any]], wrong: Mapping[int, str]) -> str:
    """A log that finds what each test expects, but for those given by number."""
    lines = ["rewire_bench: 1", f"wiring: {wiring}", "continuity:"]
    for number, test in enumerate(tests):
        should = f"{test['ohms']!r} ohm" if test["expect"] == "ohms" else test["expect"]
        found = wrong.get(number, should)
        when = json.dumps(test["state"])
        lines.append(
            f"  - {{when: {when}, between: {json.dumps(test['between'])}, found: {found}}}"
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("columns", [60, 80, 100])
@pytest.mark.parametrize("spec", [FLAGSHIP, JACK])
def test_the_table_is_printed_and_fits(spec: str, columns: int) -> None:
    result = rewire("buzz", spec, "--wiring", "substitute", columns=columns)
    assert result.exit_code == 0, result.output
    assert all(len(line) <= columns for line in result.stdout.splitlines())
    assert "mistakes that an ohmmeter can show" in " ".join(result.stdout.split())


def test_every_wiring_but_the_original_is_told() -> None:
    document = json.loads(rewire("buzz", JACK, "--json").stdout)
    names = [wiring.name for wiring in read_spec(JACK).others]
    assert [one["wiring"] for one in document["results"]] == names


def test_the_promised_keys() -> None:
    """Tests with state, between, expect, and ohms where expect is ohms."""
    result = answer(FLAGSHIP, "--wiring", "substitute")
    for test in result["tests"]:
        assert test["expect"] in ("closed", "open", "ohms")
        assert (test["ohms"] is None) == (test["expect"] != "ohms")
        assert len(test["between"]) == 2
        assert set(test["state"]) == {"METER"}
    short = [test for test in result["tests"] if test["short_list"]]
    assert result["at_least"] <= len(short)
    assert len(answer(FLAGSHIP, "--wiring", "substitute", "--full")["tests"]) > 1000


def test_right_readings_are_good_and_a_left_out_jumper_is_found(tmp_path: Path) -> None:
    """Without J6 the bias does not reach R46: in CATHODE S4.C1 is open to S4.D1 (see the spec)."""
    tests = answer(FLAGSHIP, "--wiring", "substitute")["tests"]
    good = log_of(tmp_path / "good.yaml", "substitute", tests, {})
    result = rewire("buzz", FLAGSHIP, "--found", good)
    assert result.exit_code == 0, result.output
    assert "substitute: good: all" in result.stdout
    odd = {
        n: "open"
        for n, t in enumerate(tests)
        if t["state"]["METER"] != "BIAS" and set(t["between"]) & {"S4.C1", "S4.A1"}
        and t["expect"] == "ohms"
    }  # fmt: skip
    assert odd
    found = answer(FLAGSHIP, "--found", log_of(tmp_path / "bad.yaml", "substitute", tests, odd))
    assert found["verdict"] == "wrong"
    first = found["suspects"][0]
    assert (first["wire"], first["contradicts"]) in (("J6", 0), ("J2", 0))
    assert first["explains"] == len(found["odd"])


def test_a_bad_reading_ends_with_one(tmp_path: Path) -> None:
    tests = answer(JACK, "--wiring", "substitute")["tests"]
    closed = next(n for n, t in enumerate(tests) if t["expect"] == "closed")
    log = log_of(tmp_path / "log.yaml", "substitute", tests, {closed: "open"})
    result = rewire("buzz", JACK, "--found", log)
    assert result.exit_code == 1
    assert "found open, should be closed" in result.stdout
    assert all(len(line) <= 80 for line in result.stdout.splitlines() if str(tmp_path) not in line)


def test_readings_that_contradict_each_other(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    log.write_text(
        "rewire_bench: 1\nwiring: substitute\ncontinuity:\n"
        "  - {when: {METER: SCREEN}, between: [S4.C, S4.C2], found: closed}\n"
        "  - {when: {METER: SCREEN}, between: [S4.C2, S4.C3], found: closed}\n"
        "  - {when: {METER: SCREEN}, between: [S4.C, S4.C3], found: open}\n",
        encoding="utf-8",
    )
    result = rewire("buzz", FLAGSHIP, "--found", str(log))
    assert result.exit_code == 1
    assert "cannot all be right" in result.stdout


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("--found", "nowhere.yaml"), "cannot be read"),
        (("--wiring", "substitut"), "nearest is 'substitute'"),
        (
            ("--ask", "--wiring", "substitute", "--wiring", "as-found"),
            "--ask is about one wiring",
        ),
        (("--ask", "--found", "x"), "--ask takes no --found"),
        (("--save", "x"), "--save goes with --ask"),
    ],
)
def test_what_cannot_be_done_is_said(args: tuple[str, ...], says: str) -> None:
    result = rewire("buzz", FLAGSHIP, *args)
    assert result.exit_code == 2
    assert says in result.stderr


def test_wizard_reads_lines_and_writes_a_log(tmp_path: Path) -> None:
    """Words it does not know are asked again, and so is what is taken back."""
    log = tmp_path / "answers.yaml"
    said = "perhaps\nc\nu\n3 V\n1k2\ns\nopen\nq\n"
    result = rewire("buzz", JACK, "--wiring", "substitute", "--ask", "--save", str(log), said=said)
    assert result.exit_code in (0, 1), result.output
    assert "'perhaps'" in result.stderr
    assert "Taken back" in result.stderr
    found = read_bench_log(log, read_spec(JACK))
    assert [(one.found, one.ohms) for one in found.continuity] == [("ohms", 1200.0), ("open", None)]
    again = rewire("buzz", JACK, "--found", str(log))
    assert again.exit_code == result.exit_code


def test_a_file_that_is_there_is_never_written_over_and_no_option_is_named_that_buzz_lacks(
    tmp_path: Path,
) -> None:
    log = tmp_path / "log.yaml"
    log.write_text("mine: %rewire-made\n")  # not even one that bears the program's own mark
    result = rewire("buzz", JACK, "--wiring", "substitute", "--ask", "--save", str(log), said="q\n")
    assert result.exit_code == 2
    assert "a file is there already; name another" in result.stderr
    assert "--force" not in result.stderr
    assert log.read_text() == "mine: %rewire-made\n"


def test_wizard_says_its_best_guess_as_it_goes_and_what_to_read_next_first() -> None:
    result = rewire("buzz", JACK, "--wiring", "substitute", "--ask", said="1k2\nopen\nq\n")
    assert result.exit_code == 1
    assert "best guess so far: jumper J1" in result.stderr
    said = result.stdout
    assert 0 < said.index("Read next:") < said.index("Suspects, best first:")


def test_wizard_on_a_right_wiring_ends_by_itself() -> None:
    """Fed with what the table of every pair says, it has enough before it runs out of questions."""
    tests = answer(JACK, "--wiring", "substitute", "--full")["tests"]
    book = {}
    for test in tests:
        at = ", ".join(f"{name} at {position}" for name, position in test["state"].items())
        read = str(test["ohms"]) if test["expect"] == "ohms" else test["expect"]
        book[f"{at}: {' to '.join(test['between'])}"] = read
    answers: list[str] = []
    for _ in range(60):
        result = rewire("buzz", JACK, "--wiring", "substitute", "--ask", said="".join(answers))
        if "Enough is known." in result.stderr:
            break
        question = result.stderr.rstrip().rsplit("\n", 1)[-1].partition(". ")[2].partition("?")[0]
        answers.append(f"{book[question.partition(' (')[0]]}\n")
    assert "Enough is known." in result.stderr
    assert result.exit_code == 0, result.output


def test_identify_switch(tmp_path: Path) -> None:
    file = tmp_path / "switch.yaml"
    text = "rewire_switch: 1\nlugs: [1, 2, 3]\ndetents: {up: [[1, 2]], down: [[2, 3]]}\n"
    file.write_text(text, encoding="utf-8")
    result = rewire("identify", "switch", str(file), "--name", "S7", "--control", "TURN")
    assert result.exit_code == 0
    assert "SPDT" in result.stdout
    assert "lugs: [[2, 1, 3]]" in result.stdout
    file.write_text(text + "open: {up: [[1, 2]]}\n", encoding="utf-8")
    assert rewire("identify", "switch", str(file)).exit_code == 1
    document = json.loads(rewire("identify", "switch", str(file), "--json").stdout)
    assert document["contradictions"] == [{"detent": "up", "pair": ["1", "2"], "way": ["1", "2"]}]
    assert rewire("identify", "switch", str(file), "--name", "7 S").exit_code == 2


def test_a_switch_with_one_reading_too_many_is_named_but_for_that_reading(tmp_path: Path) -> None:
    """By hand: two arms of three throws, but that 5 read closed to A as well as to B."""
    file = tmp_path / "four.yaml"
    file.write_text(
        "rewire_switch: 1\nlugs: [A, 1, 2, 3, B, 4, 5, 6]\ndetents:\n"
        "  one: [[A, 1], [B, 4]]\n  two: [[A, 2], [B, 5], [5, A]]\n  three: [[A, 3], [B, 6]]\n"
    )
    result = rewire("identify", "switch", str(file))
    assert result.exit_code == 3
    assert result.stdout.startswith("DP3T but for 5–A: read again in two")


def test_identify_meter() -> None:
    """R S / (R - S) with 10 kohm and 100 ohm is 101.01 ohm; 1.5 V behind both is 148.5 uA."""
    asked = ("identify", "meter", "--series", "10k", "--shunt", "100", "--source", "1.5 V")
    document = json.loads(rewire(*asked, "--json").stdout)
    assert document["resistance_ohms"] == pytest.approx(1e6 / 9900.0)
    assert document["full_scale_amps"] == pytest.approx(1.5 / (1e4 + 1e6 / 9900.0))
    assert rewire(*asked).exit_code == 0
    assert rewire("identify", "meter").stdout.startswith("Measuring an unknown movement")
    assert rewire("identify", "meter", "--series", "10", "--shunt", "100").exit_code == 1
    for wrong in (("--series", "10"), ("--series", "ten", "--shunt", "1"), ("--volts", "1 A")):
        assert rewire("identify", "meter", *wrong).exit_code == 2


def test_sheet_with_a_log(tmp_path: Path) -> None:
    """The as-built page is made from the log; a log of a wiring that is not there is refused."""
    log, sheet = tmp_path / "log.yaml", tmp_path / "sheet.pdf"
    tests = answer(FLAGSHIP, "--wiring", "substitute")["tests"]
    log_of(log, "substitute", tests[:5], {})
    args = ("sheet", FLAGSHIP, "--log", str(log), "--sections", "record,owner")
    result = rewire(*args, "-o", str(sheet))
    assert result.exit_code == 0, result.output
    from pypdf import PdfReader

    said = " ".join(page.extract_text() for page in PdfReader(sheet).pages)
    assert "As-built record: substitute" in said
    assert said.count("pass") >= 5
    assert "failed" not in result.stderr
    closed = next(n for n, one in enumerate(tests) if one["expect"] == "closed")
    log_of(log, "substitute", tests, {closed: "open"})
    result = rewire(*args, "-o", str(sheet))
    assert result.exit_code == 0
    assert "but as built 1 of what was measured failed" in result.stderr
    log.write_text("rewire_bench: 1\nwiring: subst\n", encoding="utf-8")
    assert rewire(*args, "-o", str(sheet)).exit_code == 2
