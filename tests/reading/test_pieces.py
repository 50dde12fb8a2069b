"""Built-up resistors against exact fractions."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, strategies as st

from rewire.words.quantity import (
    BadQuantity,
    InParallel,
    InSeries,
    Piece,
    Pieces,
    read_pieces,
    total_ohms,
)

Tree = Any


def trees() -> st.SearchStrategy[Tree]:
    """A value, or ("+" or "||", trees …)."""
    leaves = st.integers(1, 999)
    return st.recursive(
        leaves,
        lambda inner: (
            st.tuples(st.sampled_from(["+", "||"]), inner, inner)
            | st.tuples(st.sampled_from(["+", "||"]), inner, inner, inner)
        ),
        max_leaves=12,
    )


def written(tree: Tree, around: str = "+") -> str:
    """The tree as text, with brackets only where || around a + needs them."""
    if isinstance(tree, int):
        return f"{tree} ohm" if tree % 2 else f"{tree}R0"
    sign, *items = tree
    text = f" {sign} ".join(written(item, sign) for item in items)
    return f"({text})" if sign == "+" and around == "||" else text


def exact(tree: Tree) -> Fraction:
    """Series adds, parallel adds the inverses (Kirchhoff)."""
    if isinstance(tree, int):
        return Fraction(tree)
    sign, *items = tree
    if sign == "+":
        return sum(map(exact, items), Fraction(0))
    return 1 / sum((1 / exact(item) for item in items), Fraction(0))


@given(trees())
def test_total_agrees_with_exact_fractions(tree: Tree) -> None:
    assert total_ohms(read_pieces(written(tree))) == pytest.approx(float(exact(tree)), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("10 ohm", Piece(10.0)),
        ("((10 ohm))", Piece(10.0)),
        ("0.22 ohm + 0.18 ohm", InSeries((Piece(0.22), Piece(0.18)))),
        ("10 ohm||12 ohm", InParallel((Piece(10.0), Piece(12.0)))),
        ("1 + 2 || 3 + 4", InSeries((Piece(1), InParallel((Piece(2), Piece(3))), Piece(4)))),
        ("(1 + 2) || 3", InParallel((InSeries((Piece(1), Piece(2))), Piece(3)))),
        ("1e+2 ohm + 4k7", InSeries((Piece(100.0), Piece(4700.0)))),
    ],
)
def test_each_piece_stays_its_own_value(text: str, pieces: Pieces) -> None:
    assert read_pieces(text) == pieces


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("10 ohm +", "ends where a value"),
        ("+ 10 ohm +", "where a value should be"),
        ("10 ohm | 12 ohm", "'|'"),
        ("(10 ohm", "not closed"),
        ("10 ohm)", "where '+' or '||' should be"),
        ("()", "where a value should be"),
        ("10 ohm + 5 V", "in volts"),
        ("10 ohm + -5 ohm", "negative"),
        ("(" * 30 + "1" + ")" * 30, "deep"),
        (" + ".join(["1 ohm"] * 500), "pieces"),
        ("", "no value"),
    ],
)
def test_what_does_not_fit_together_is_refused(text: str, said: str) -> None:
    with pytest.raises(BadQuantity) as caught:
        read_pieces(text)
    assert said in caught.value.message


@given(st.text(alphabet="()|+ 1kRe.-oΩ", max_size=40))
def test_any_text_is_a_resistance_or_refused(text: str) -> None:
    try:
        pieces = read_pieces(text)
    except BadQuantity:
        return
    assert total_ohms(pieces) >= 0
