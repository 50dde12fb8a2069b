"""Pages speak as one speaks at the bench; words that nobody says there must not come back.

Common practice, no source. Names of keys and what the program answers are code, and left out.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
NOT_SAID = re.compile(
    r"\b(ties|tied|places?|glance|company|lands|landing|feels|joined|let go|lets go|is to be|"
    r"are to be|no more than before|on its way|keeps? apart|the contract|the issue|the review)\b",
    re.IGNORECASE,
)
_CODE = re.compile(r"^```.*?^```$|`[^`\n]*`", re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_page_speaks_as_one_speaks_at_the_bench(page: Path) -> None:
    said = _CODE.sub("", page.read_text("utf-8"))
    assert [found[0] for found in NOT_SAID.finditer(said)] == []


def test_the_words_are_looked_for() -> None:
    """The list itself works: a sentence of the kind that it is against, and one that is right."""
    assert NOT_SAID.search("Its two places are joined.")
    assert not NOT_SAID.search("The two terminals are connected; replaces: M1.")
