"""Reports are read standing: how long each may be, and words that nobody says at a bench.

Lengths are the project's own; the words are those of the trade (common practice, no source).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire.cli import HELP, rewire as group
from rewire.reading import read_spec
from tests.spoken import NOT_SAID, not_said

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
FLAGSHIP = str(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")


@cache
def lines(*args: str) -> list[str]:
    result = CliRunner().invoke(group, list(args), env={"COLUMNS": "80"})
    assert result.exit_code in (0, 1, 3), result.output
    return result.stdout.splitlines()


@pytest.mark.parametrize(("command", "most"), [
    (("check",), 25), (("values",), 25), (("buzz",), 25), (("moves",), 90),
    (("fit", "--switch", "4P3T"), 20),
])  # fmt: skip
def test_the_flagship_on_one_screen(command: tuple[str, ...], most: int) -> None:
    assert len(lines(command[0], FLAGSHIP, *command[1:])) <= most


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_values_are_as_long_as_there_is_to_fit_and_read(path: Path) -> None:
    """Eighteen lines, three for each reading of a plan, six for each wiring that comes out."""
    spec = read_spec(path)
    plans = [one for one in spec.others if one.role == "plan"]
    readings = sum(len(wiring.readings) for wiring in plans)
    most = 18 + 3 * readings + 6 * (len(spec.others) - len(plans))
    assert len(lines("values", str(path))) <= most


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_reports_speak_as_one_speaks_at_the_bench(path: Path) -> None:
    """Without the words of the spec itself, which are its writer's."""
    own = " ".join(path.read_text("utf-8").split())
    for command in ("check", "values"):
        for line in lines(command, str(path)):
            found = NOT_SAID.search(line)
            assert found is None or found[0] in own, line


@pytest.mark.parametrize("command", HELP)
def test_help_speaks_as_one_speaks_at_the_bench(command: str) -> None:
    assert not_said("\n".join(lines(command, "--help"))) == []
