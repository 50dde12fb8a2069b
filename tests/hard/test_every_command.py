"""Every command on a sample of the conformance cases: an answer, and nothing that breaks off."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire.cli import rewire

CASES = json.loads(
    (Path(__file__).parents[1] / "conformance" / "cases.json").read_text(encoding="utf-8")
)
COMMANDS = {
    "check": 8, "values": 4, "moves": 4, "buzz --seconds 1": 4, "fit --switch DPDT": 4,
    "draw --view lugs --force -o pictures": 2, "sheet --force -o packet.html": 1,
}  # fmt: skip
"""And how many cases each is run on: they are of very different cost."""


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_answers(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    step, first = len(CASES) // COMMANDS[command], list(COMMANDS).index(command)
    for case in CASES[first::step]:
        Path("case.yaml").write_text(json.dumps(case["spec"]), encoding="utf-8")
        done = CliRunner().invoke(rewire, [*command.split(), "case.yaml"], catch_exceptions=False)
        assert done.exit_code in (0, 1, 2, 3), (case["name"], done.output)


def test_taps_beyond_the_limit_are_refused_by_number() -> None:
    ranges = [f"{2 * n + 1} A" for n in range(200)]
    words = ["shunt", "--meter", "1 mA", "--resistance", "50", "--tapped", *ranges]
    done = CliRunner().invoke(rewire, words, catch_exceptions=False)
    assert done.exit_code == 3
    assert "200 ranges, more than 10" in done.stderr
