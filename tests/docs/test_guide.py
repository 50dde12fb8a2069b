"""docs/guide.md: its spec, put together from its pieces, does what the guide says it does."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from click.shell_completion import BashComplete

from rewire.cli import HELP, rewire
from rewire.compare import compare
from rewire.reading import read_text
from rewire.records.spec import Spec
from rewire.values.wiring_values import values_of
from tests.docs.guide import GUIDE, README, Said, walked


@cache
def text() -> str:
    return GUIDE.read_text("utf-8")


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> tuple[Said, ...]:
    folder = tmp_path_factory.mktemp("guide")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        return tuple(one for _, one in walked(text(), folder))


def finished(said: tuple[Said, ...]) -> Spec:
    return read_text(next(one.spec for one in said if "sheet" in one.command).encode())


def test_what_the_guide_shows_is_what_the_program_answers(said: tuple[Said, ...]) -> None:
    assert said, "no command in docs/guide.md"
    for one in said:
        how = f"docs/guide.md, below {one.command!r}: run `make docs`, read it, commit it"
        assert one.answer == one.shown, how


def test_what_the_readme_shows_is_what_the_program_answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twelve lines of spec and what is said of them."""
    monkeypatch.chdir(tmp_path)
    whole = README.read_text("utf-8")
    (one,) = (said for _, said in walked(whole, tmp_path))
    assert one.answer == one.shown, "README.md: run `make docs`, read it, commit it"
    assert "mends" in one.answer
    assert len(one.spec.splitlines()) <= 16
    assert len(one.answer.splitlines()) <= 12


def test_the_finished_spec_is_what_the_text_says(said: tuple[Said, ...]) -> None:
    """By the program's records, not by its sentences."""
    spec = finished(said)
    found = {result.wiring: result for result in compare(spec)}
    assert {name: one.verdict for name, one in found.items()} == {
        "as-found": "broken", "planned": "changed",
    }  # fmt: skip
    kinds = [finding.kind for finding in found["as-found"].findings if not finding.meant]
    assert kinds == ["dropped", "rule"]
    assert all(f.meant for f in found["planned"].findings if f.kind == "inserted")
    assert not values_of(spec, ["planned"])[0].bad


def test_the_values_are_those_of_ohms_law(said: tuple[Said, ...]) -> None:
    """Ohm's law by hand: 500 uA, 120 ohm; 10 A in 10 mohm; 60 V; a pot of 200 ohm as a rheostat."""
    spec = next(one.spec for one in said if one.command.startswith("$ rewire values"))
    (found,) = values_of(read_text(spec.encode()), ["planned"])
    rheostat = (10.0 - 500e-6) * 0.010 / 500e-6 - 120.0
    (pot,) = found.pots
    assert pot.setting_percent == pytest.approx(100.0 * rheostat / 200.0, rel=1e-6)
    (fit,) = found.fits
    assert fit.exact_ohms == pytest.approx(60.0 / 500e-6 - 120.0 - rheostat, rel=1e-9)


def test_every_trap_is_refused_or_noted_with_its_place(said: tuple[Said, ...]) -> None:
    whole = next(one.spec for one in said if "sheet" in one.command)
    traps = [
        one for one in said if one.spec != whole and "rules:" in one.spec and "options:" in one.spec
    ]
    assert len(traps) == text().count("```diff trap")
    for one in traps:
        assert re.match(r"exchange\.yaml:\d+:\d+: ", one.answer), one.command
        line = int(one.answer.split(":")[1])
        pairs = zip(whole.splitlines(), one.spec.splitlines(), strict=True)
        at = next(number for number, (was, now) in enumerate(pairs, 1) if was != now)
        # Where a comment swallows the rest of a line, YAML notices on the next.
        assert line in (at, at + (" #" in one.answer)), one.answer


def test_every_command_named_is_one() -> None:
    named = set(re.findall(r"`rewire ([a-z]+)", text())) | set(
        re.findall(r"^\$ rewire ([a-z]+)", text(), re.M)
    )
    assert named <= set(HELP)
    assert {"check", "values", "sheet", "new", "draw", "moves", "buzz", "fit"} <= named


def completed(environment: dict[str, str]) -> str:
    """What the program prints where a shell asks it."""
    run = subprocess.run(
        [sys.executable, "-m", "rewire"], env={**os.environ, **environment},
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return run.stdout


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_a_shell_gets_its_script_as_the_guide_says(shell: str) -> None:
    assert f"_REWIRE_COMPLETE={shell}_source rewire" in GUIDE.read_text("utf-8")
    assert f"_REWIRE_COMPLETE={shell}_complete" in completed(
        {"_REWIRE_COMPLETE": f"{shell}_source"}
    )


def test_a_shell_is_told_commands_and_options() -> None:
    judge = BashComplete(rewire, {}, "rewire", "_REWIRE_COMPLETE")

    def words(line: str) -> set[str]:
        """What click's own script would be told: the words so far, the last not finished."""
        *before, last = line.split(" ")[1:]
        return {item.value for item in judge.get_completions(before, last)}

    assert words("rewire ") == set(HELP)
    assert {"--wiring", "--drawer"} <= words("rewire values --")
    assert words("rewire draw --from ") == {"behind", "front"}
    spec = "specs/valve-amplifier.yaml"
    assert words(f"rewire check {spec} --wiring ") == {"original", "as-found", "substitute"}
    assert words(f"rewire check {spec} --wiring original --wiring s") == {"substitute"}
    assert words(f"rewire draw {spec} --reading ") == {"bias", "cathode", "screen"}
    assert words(f"rewire draw {spec} --switch S") == {"S3", "S4"}
    assert words(f"rewire fit {spec} --replace ") == {"S3", "S4"}
    assert words("rewire check nowhere.yaml --wiring ") == set()
