"""The plan is told first, then what was found, and the exit status is the plans' alone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group
from rewire.cli.check import check_one, summary
from rewire.reading import read_spec

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")

# A pilot lamp switch of an invented set. In 'good' the lamp stays on its switch, in 'lost' it does
# not; whether it lights is what the rule asks.
SPEC = """
rewire: 1
title: roles
controls: {K: [OFF, ON]}
points: {FEED: {}, LAMP: {}, CH: {chassis: yes}}
parts: {M1: {meter: 1 mA, resistance: 100 ohm, accuracy: 2 %}}
readings: {feed: {current: [FEED, CH], full_scale: 1 mA}}
rules: [{connect: [FEED, LAMP], when: {K: ON}, why: the lamp lights}]
wirings:
  barn: {role: found, parts: {S1: {switch: SPDT, control: K}}, wires: [[FEED, S1.A]]}
  original: &original
    parts: {S1: {switch: SPDT, control: K}}
    wires: [[FEED, S1.A], [S1.A2, LAMP], [FEED, M1.+], [M1.-, CH]]
"""
GOOD = "    wires: [[FEED, S1.A], [S1.A2, LAMP], [FEED, M1.+], [M1.-, CH]]\n"
LOST = "    wires: [[FEED, S1.A], [FEED, M1.+], [M1.-, CH]]\n"
SWITCH = "    parts: {S1: {switch: SPDT, control: K}}\n"


def rewire(*args: str) -> Result:
    return CliRunner().invoke(group, list(args))


@pytest.fixture
def spec(tmp_path: Path) -> object:
    def write(**wirings: str) -> str:
        path = tmp_path / "spec.yaml"
        text = SPEC.replace("&original", "")
        path.write_text(text + "".join(f"  {n}:\n{w}" for n, w in wirings.items()), "utf-8")
        return str(path)

    return write


def test_a_broken_find_comes_last_and_does_not_fail_the_answer(spec) -> None:  # type: ignore[no-untyped-def]
    done = rewire("check", spec(mine=SWITCH + GOOD))
    assert done.exit_code == 0
    first, second, *_ = done.stdout.splitlines()
    assert first == "KEPT: mine keeps every original connection"
    assert second.startswith(
        "BROKEN: barn, as found on the bench, has 3 faults: CH and M1.- disconnected"
    )


@pytest.mark.parametrize(
    ("role", "status"), [("", 1), ("    role: tried\n", 0), ("    role: found\n", 0)]
)
def test_the_exit_status_is_that_of_the_plans(spec, role: str, status: int) -> None:  # type: ignore[no-untyped-def]
    file = spec(mine=role + SWITCH + LOST)
    assert rewire("check", file).exit_code == status
    assert rewire("check", file, "--wiring", "mine").exit_code == 1
    assert rewire("check", file, "--wiring", "barn").exit_code == 1


def test_one_line_for_each_spec_opens_with_the_verdict_on_the_plans(spec) -> None:  # type: ignore[no-untyped-def]
    line = summary(check_one(spec(mine=SWITCH + GOOD), ()))
    assert line.mark == "KEPT:"
    assert "barn broken" in line.text


def test_an_original_alone_is_asked_whether_it_keeps_the_rules(spec) -> None:  # type: ignore[no-untyped-def]
    file = Path(spec())
    lines = file.read_text("utf-8").splitlines(keepends=True)
    file.write_text("".join(line for line in lines if "barn" not in line), "utf-8")
    done = rewire("check", str(file))
    assert (done.exit_code, done.stdout[:14]) == (0, "KEPT: original")
    moves = rewire("moves", str(file))
    assert (moves.exit_code, "there is no wiring but original" in moves.stderr) == (2, True)
    broken = file.read_text("utf-8").replace("[S1.A2, LAMP], ", "")
    file.write_text(broken, "utf-8")
    assert rewire("check", str(file)).exit_code == 1
    assert rewire("values", str(file)).exit_code == 1
    assert rewire("buzz", str(file)).exit_code == 0


def test_a_broken_plan_that_is_on_the_bench_already_is_still_broken(spec) -> None:  # type: ignore[no-untyped-def]
    file = spec(mine=SWITCH + LOST, shed="    role: found\n" + SWITCH + LOST)
    moves = rewire("moves", file, "--from", "shed")
    assert moves.exit_code == 1
    assert moves.stdout.startswith("BROKEN: mine")
    assert "nothing to do" in moves.stdout


def test_values_moves_and_buzz_speak_of_the_plan_first() -> None:
    assert rewire("values", FLAGSHIP).stdout.startswith("GOOD: substitute")
    assert rewire("values", FLAGSHIP).exit_code == 0
    assert rewire("values", FLAGSHIP, "--wiring", "as-found").exit_code == 1
    (moves,) = json.loads(rewire("moves", FLAGSHIP, "--json").stdout)["results"]
    assert (moves["from"], moves["to"], moves["role"]) == ("as-found", "substitute", "plan")
    buzzed = json.loads(rewire("buzz", FLAGSHIP, "--json").stdout)["results"]
    assert [(r["wiring"], r["role"]) for r in buzzed] == [
        ("substitute", "plan"), ("as-found", "found"),
    ]  # fmt: skip


def test_work_begins_from_what_was_found_under_any_name(spec) -> None:  # type: ignore[no-untyped-def]
    file = spec(mine=SWITCH + GOOD, bodge="    role: tried\n" + SWITCH + LOST)
    results = json.loads(rewire("moves", file, "--json").stdout)["results"]
    assert [(r["from"], r["to"]) for r in results] == [("barn", "mine")]


def test_every_answer_carries_the_role_of_its_wiring(spec) -> None:  # type: ignore[no-untyped-def]
    file = spec(mine=SWITCH + GOOD)
    for command in ("check", "values"):
        results = json.loads(rewire(command, file, "--json").stdout)["results"]
        assert [(r["wiring"], r["role"]) for r in results] == [("mine", "plan"), ("barn", "found")]
    (original,) = json.loads(rewire("check", file, "--wiring", "original", "--json").stdout)[
        "results"
    ]
    assert original["role"] is None


def test_the_sheet_shows_the_plan_first_and_offers_no_find_as_a_choice() -> None:
    from rewire.compare import compare
    from rewire.report.packet import packet_of

    spec = read_spec(FLAGSHIP)
    packet = packet_of(spec, compare(spec))
    assert [w.name for w in packet.wirings] == ["substitute", "as-found", "original"]
    assert [r.wiring for r in packet.results] == ["substitute", "as-found"]
    assert [w.name for w in packet.plans] == ["substitute"]


def test_questions_at_the_bench_are_about_the_only_plan(spec) -> None:  # type: ignore[no-untyped-def]
    file = spec(mine=SWITCH + GOOD)
    asked = CliRunner().invoke(group, ["buzz", file, "--ask"], input="q\n")
    assert asked.exit_code == 0, asked.stderr
