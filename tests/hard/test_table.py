"""The table of this package names tests that are there, and every file of it."""

from __future__ import annotations

import re
from pathlib import Path

from tests import hard

HERE = Path(__file__).parent


def test_every_test_that_is_named_is_there() -> None:
    named = re.findall(r"(test_\w+)::(\w+)", hard.__doc__ or "")
    for file, begins in named:
        assert f"def test_{begins}" in (HERE / f"{file}.py").read_text("utf-8"), begins
    files = {path.stem for path in HERE.glob("test_*.py")} - {"test_table"}
    assert {file for file, _ in named} == files
