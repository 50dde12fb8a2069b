"""The flagship: two poles are refused with what would be lost, four are landed and kept."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.bench.safety import cautions_of
from rewire.cli import rewire
from rewire.compare import compare
from rewire.reading import read_spec
from rewire.records.spec import Wiring
from rewire.report.card import card_of

SHIPPED = Path(__file__).parents[2] / "specs"
FLAGSHIP = SHIPPED / "valve-amplifier.yaml"


def run(*words: str) -> Result:
    """Time enough on a machine that has much else to do, unless a test is about that."""
    enough = () if "--time-limit" in words else ("--time-limit", "900")
    return CliRunner().invoke(rewire, ["fit", *words, *enough])


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return Path(shutil.copy(FLAGSHIP, tmp_path / "amplifier.yaml"))


def connections_to(wiring: Wiring, switch: str) -> int:
    """Ends of wires on lugs of a switch, jumpers aside."""
    return sum(
        1
        for wire in wiring.wires
        if len({end.partition(".")[0] for end in wire.ends}) == 2
        for end in wire.ends
        if end.startswith(f"{switch}.")
    )


def test_two_poles_are_refused_with_the_path_that_would_be_lost() -> None:
    result = run(str(FLAGSHIP), "--switch", "2P3T", "--json")
    assert result.exit_code == 1
    (answer,) = json.loads(result.output)["results"]
    assert not answer["feasible"]
    lost = [f for f in answer["dropped"] if f["kind"] == "dropped"]
    states = [{"METER": "CATHODE"}, {"METER": "SCREEN"}]
    assert any(
        "BIAS_RETURN" in f["groups"][0] and "CHASSIS" in f["groups"][1] and f["states"] == states
        for f in lost
    )
    assert answer["ways_out"]["poles"] == 3


def test_four_poles_are_landed_with_no_more_connections_than_the_shipped_substitute() -> None:
    result = run(str(FLAGSHIP), "--switch", "4P3T", "--json")
    assert result.exit_code == 3  # its timing is not known, and it matters
    (answer,) = json.loads(result.output)["results"]
    shipped = read_spec(FLAGSHIP).wirings["substitute"]
    assert answer["feasible"]
    assert answer["optimal"]
    assert answer["connections"] <= connections_to(shipped, "S4")
    assert answer["timing"]["C"] == "shorting"
    assert list(answer["positions"].values()) == [1, 2, 3]


def test_the_written_wiring_checks_kept_and_tells_the_timing_to_be_buzzed(copy: Path) -> None:
    """Nobody knows yet that C makes before it breaks: card, steps and packet say so."""
    before = copy.read_text()
    assert run(str(copy), "--switch", "4P3T", "--write", "fitted").exit_code == 3
    spec = read_spec(copy)
    assert compare(spec, ["fitted"])[0].verdict == "kept"
    said = [line for line in spec.cautions if line.startswith("S4: ") and "pole C makes" in line]
    assert "buzz it" in said[0]
    assert said[0] in card_of(spec, spec.wirings["fitted"], None, None).dangers
    assert said[0] not in card_of(spec, spec.original, None, None).dangers
    assert said[0] in cautions_of(spec)
    written = iter(copy.read_text().splitlines())
    assert all(line in written for line in before.splitlines())


def test_a_timing_that_is_stated_is_no_caution(copy: Path) -> None:
    drawer = copy.with_name("drawer.yaml")
    timing = "{A: non-shorting, B: non-shorting, C: shorting, D: non-shorting}"
    drawer.write_text(f"rewire_drawer: 1\nswitches: [{{switch: 4P3T, timing: {timing}}}]\n")
    assert run(str(copy), "--drawer", str(drawer), "--write", "fitted").exit_code == 0
    assert read_spec(copy).cautions == read_spec(FLAGSHIP).cautions


def test_a_name_that_is_taken_is_refused_and_the_file_left_alone(copy: Path) -> None:
    before = copy.read_bytes()
    result = run(str(copy), "--switch", "4P3T", "--write", "Substitute")
    assert result.exit_code == 2
    assert "already" in result.output
    assert copy.read_bytes() == before


def test_nothing_is_written_where_nothing_fits(copy: Path) -> None:
    before = copy.read_bytes()
    assert run(str(copy), "--switch", "2P3T", "--write", "fitted").exit_code == 1
    assert copy.read_bytes() == before


def test_contacts_that_all_short_are_proved_impossible_however_many_there_are() -> None:
    """All of BIAS and all of CATHODE is closed at once: CHASSIS shorts the meter. By hand."""
    result = run(str(FLAGSHIP), "--switch", "6P6T", "--timing", "shorting", "--json")
    assert result.exit_code == 1  # 3 where the time ran out
    (answer,) = json.loads(result.output)["results"]
    met = [f["groups"] for f in answer["dropped"] if f["kind"] == "bridge" and f["in_step"]]
    assert [["M1.+"], ["M1.-"]] in met


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--switch", "dpdt"], 1, "DPDT cannot take the place of S3"),
        (["--switch", "fish"], 2, "no form and no file"),
        ([], 2, "--switch"),
        (["--switch", "4P3T", "--replace", "S9"], 2, "no switch is called 'S9'"),
        (["--switch", "4P3T", "--replace", "M1"], 2, "no switch is called 'M1'"),
        (["--switch", "4P3T", "--time-limit", "0"], 3, "out of time"),
        (["--switch", "DPDT"], 1, "METER has 3 positions, the switch 2 throws"),
        (["--switch", "3 pole 3 throw rotary, non-shorting"], 1, "pole C shorting"),
        (["--switch", "SP3T MBB", "--timing", "non-shorting"], 2, "--switch says shorting"),
    ],
)
def test_what_it_says_and_its_exit_status(words: list[str], status: int, said: str) -> None:
    result = run(str(FLAGSHIP), *words)
    assert result.exit_code == status
    assert said in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("spec", "form", "timing"),
    [
        ("valve-amplifier", "3P3T", "non-shorting"),
        ("valve-amplifier", "4P3T", "shorting"),
        ("level-meter", "3P3T", "shorting"),
        ("bench-supply", "2P4T", "shorting"),
        ("linear-amplifier", "4P5T", "shorting"),
    ],
)
def test_the_timing_that_is_said_to_do_does(
    spec: str, form: str, timing: str, tmp_path: Path
) -> None:
    """What the sentence says is put in a drawer as a switch, and asked again."""
    file = str(SHIPPED / f"{spec}.yaml")
    said = " ".join(run(file, "--switch", form, "--timing", timing).output.split())
    found = re.search(r"the same switch with (poles? .*?) (non-shorting|shorting) \(", said)
    assert found
    named = set(re.findall(r"\b[A-D]\b", found[1]))
    assert named
    rest = "shorting" if found[2] == "non-shorting" else "non-shorting"
    poles = "ABCD"[: int(form[0])]
    stated = ", ".join(f"{pole}: {found[2] if pole in named else rest}" for pole in poles)
    drawer = tmp_path / "drawer.yaml"
    switch = f"{{switch: {form}, timing: {{{stated}}}}}"
    drawer.write_text(f"rewire_drawer: 1\nswitches:\n  - {switch}\n")
    assert run(file, "--drawer", str(drawer)).exit_code == 0


def test_further_landings_differ_and_cost_no_less() -> None:
    result = run(str(FLAGSHIP), "--switch", "4P3T", "--count", "4", "--json")
    (answer,) = json.loads(result.output)["results"]
    all_of_them = [answer, *answer["alternatives"]]
    nets = {json.dumps([one["lugs"], one["jumpers"]]) for one in all_of_them}
    assert len(nets) == 4
    costs = [(one["connections"], len(one["jumpers"])) for one in all_of_them]
    assert costs == sorted(costs)


def test_waived_gaps_are_declared_and_the_wiring_checks_changed(copy: Path) -> None:
    words = ["--switch", "3P3T", "--timing", "shorting", "--waive", "bridge", "--waive", "stray"]
    assert run(str(copy), *words, "--write", "loose").exit_code == 0
    assert compare(read_spec(copy), ["loose"])[0].verdict == "changed"


def test_a_drawer_is_ranked_with_what_fits_first(tmp_path: Path) -> None:
    drawer = tmp_path / "drawer.yaml"
    drawer.write_text(
        "rewire_drawer: 1\nswitches:\n"
        "  - {switch: DPDT}\n"
        "  - {switch: 6P5T, timing: {A: non-shorting, B: non-shorting, C: shorting}}\n"
        "  - {switch: 3P3T, timing: {A: non-shorting, B: non-shorting, C: shorting},\n"
        "     rating: {volts: 20 V}}\n"
        "  - {switch: 2P3T, quantity: 4}\n"
        "  - {switch: 4P3T}\n"
    )
    result = run(str(FLAGSHIP), "--drawer", str(drawer), "--json")
    answers = json.loads(result.output)["results"]
    order = [(one["switch"], one["feasible"]) for one in answers]
    assert order == [
        ("6P5T", True), ("4P3T", True), ("3P3T", True), ("2P3T", False), ("DPDT", False),
    ]  # fmt: skip
    assert any(w["bad"] for w in answers[2]["warnings"])


@pytest.mark.parametrize(
    ("form", "timing", "waived"),
    [("4P3T", "non-shorting", {"gap", "interrupted"}), ("3P3T", "shorting", {"bridge"})],
)
def test_what_is_told_of_a_refusal_is_no_worse_than_what_would_be_waived(
    form: str, timing: str, waived: set[str], tmp_path: Path
) -> None:
    """A contact that breaks first opens the bias return, and needs to short nothing. By hand."""
    head, _, rest = FLAGSHIP.read_text().partition("\nrules:")
    file = tmp_path / "without-rules.yaml"
    file.write_text(head + rest[re.search(r"\n[a-z]+:", rest).start() :])  # type: ignore[union-attr]
    found = run(str(file), "--switch", form, "--timing", timing, "--json")
    (answer,) = json.loads(found.output)["results"]
    assert {finding["kind"] for finding in answer["dropped"]} == waived
    assert set(answer["ways_out"]["waive"]) == waived
