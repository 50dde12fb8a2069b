"""Wire colours: the letters of IEC 60757, here from memory of its table and written apart."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from rewire.words.wire import COLOURS, read_colour
from rewire.words.wording import Wrong

TABLE = (
    "black BK, brown BN, red RD, orange OG, yellow YE, green GN, blue BU, violet VT, grey GY, "
    "white WH, pink PK, gold GD, turquoise TQ, silver SR"
)
LETTERS = dict(item.split() for item in TABLE.split(", "))


def test_the_table_is_that_of_the_standard() -> None:
    assert {name: letters for letters, name in COLOURS.items()} == LETTERS
    assert list(COLOURS) == list(LETTERS.values())


@given(st.lists(st.sampled_from(sorted(LETTERS.values())), min_size=1, max_size=4), st.booleans())
def test_colours_are_joined_and_may_be_lower_case(pairs: list[str], lower: bool) -> None:
    joined = "".join(pairs)
    assert read_colour(joined.lower() if lower else joined) == joined


@pytest.mark.parametrize(
    "text", ["", "R", "RED", "XX", "RDX", "RD BK", "RD/BK", "rouge", "BKWHRDBNGN"]
)
def test_other_letters_are_refused(text: str) -> None:
    with pytest.raises(Wrong):
        read_colour(text)


@pytest.mark.parametrize(("name", "letters"), LETTERS.items())
def test_a_name_in_full_is_refused_with_its_letters(name: str, letters: str) -> None:
    with pytest.raises(Wrong) as caught:
        read_colour(name)
    assert letters in caught.value.hint
