"""The table of figures has every row that is promised, whatever the figures are."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import figures
from tests.figures import AIMS, Row, known_rows, write_rows

ROOT = Path(__file__).parents[1]


def test_no_row_is_missing_and_each_has_its_aim() -> None:
    rows = known_rows()
    assert [*rows] == [(command, what) for command, own in AIMS.items() for what in own]
    for (command, what), cells in rows.items():
        assert cells[2], what
        assert cells[3] == str(AIMS[command][what])


def test_each_command_of_the_table_is_there() -> None:
    made = (ROOT / "Makefile").read_text("utf-8")
    for command in AIMS:
        assert f"\n{command.removeprefix('make ')}: " in made


def test_a_command_writes_its_own_rows_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(figures, "TABLE", tmp_path / "figures.md")
    covered = "lines and branches that the tests run, %"
    write_rows("make coverage", [Row(covered, 96.13)])
    figures.main("make versions", "quick tests pass on Python=3.11.7, 3.12.1")
    write_rows("make versions", [Row("quick tests pass on Python", "3.11.7", "it")])
    lines = (tmp_path / "figures.md").read_text("utf-8").splitlines()[-2:]
    assert lines == [
        f"| make coverage | {covered} | 96.1 | at least 95 | yes |  |",
        "| make versions | quick tests pass on Python | 3.11.7 | 3.11 to 3.13 |  | it |",
    ]
    with pytest.raises(ValueError, match="make coverage gave"):
        write_rows("make coverage", [Row("lines", 1.0)])
