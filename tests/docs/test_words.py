"""Pages, paper and screen speak as one speaks at the bench.

Names of keys and what the program answers are code in a page of docs, and left out.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire.cli import rewire
from tests.sheet.printed import words
from tests.spoken import not_said, of_page

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
_CODE = re.compile(r"^```.*?^```$|`[^`\n]*`", re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_page_speaks_as_one_speaks_at_the_bench(page: Path) -> None:
    said = _CODE.sub("", page.read_text("utf-8"))
    assert not_said(said) == []


def test_the_words_are_looked_for() -> None:
    """The list itself works: a sentence of the kind that it is against, and one that is right."""
    assert len(not_said("Its two places are joined.")) == 2
    assert not not_said("The two terminals are connected, in place of M1; replaces: M1.")


@pytest.mark.slow  # draws cards
@pytest.mark.parametrize("name", ["packet.pdf", "packet.html"])
def test_paper_and_page_speak_as_one_speaks_at_the_bench(tmp_path: Path, name: str) -> None:
    """Of the flagship, whose own words are those of the trade."""
    made, spec = tmp_path / name, str(ROOT / "specs" / "valve-amplifier.yaml")
    assert CliRunner().invoke(rewire, ["sheet", spec, "-o", str(made)]).exit_code == 0
    said = words(made.read_bytes()) if made.suffix == ".pdf" else of_page(made.read_text("utf-8"))
    assert len(said) > 5000
    assert not_said(said) == []
