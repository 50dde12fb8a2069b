"""Tables in plain text: columns as wide as what stands in them, lines that fit the terminal."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from itertools import zip_longest

from rewire.cli.terminal import visible, width

_WIDE = frozenset("WF")
_NARROWEST = 8
"""Columns that a column of words keeps."""
_BREAKS = re.compile(r"(?<=[ _-])")


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    indent: int = 2,
    words: Collection[int] = (0,),
    columns: int | None = None,
) -> Iterator[str]:
    """Lines of a table; figures end at the right.

    Args:
        head: over each column.
        rows: the cells.
        indent: blanks before each line.
        words: columns of words: they begin at the left, and where the table is too
            wide the widest of them are broken into several lines.
        columns: to fit the lines into; None for the terminal's.

    >>> list(table(("part", "ohms"), [("R1", "10")], indent=0))
    ['part  ohms', 'R1      10']
    """
    shown = [[visible(cell) for cell in row] for row in (head, *rows)]
    widths = [max(columns_of(row[i]) for row in shown) for i in range(len(head))]
    _narrow(widths, words, (columns or width()) - indent)
    for row in shown:
        cells = [
            _broken(cell, wide) if i in words else [cell]
            for i, (cell, wide) in enumerate(zip(row, widths, strict=True))
        ]
        for parts in zip_longest(*cells, fillvalue=""):
            padded = (_padded(p, widths[i], i in words) for i, p in enumerate(parts))
            yield (" " * indent + "  ".join(padded)).rstrip()


def _narrow(widths: list[int], words: Collection[int], columns: int) -> None:
    """Take what is too much off the widest column of words, again and again."""
    while sum(widths) + 2 * (len(widths) - 1) > columns:
        widest = max(words, key=lambda i: widths[i], default=None)
        if widest is None or widths[widest] <= _NARROWEST:
            return
        widths[widest] -= 1


def _broken(cell: str, wide: int) -> list[str]:
    """A cell as lines of at most ``wide`` columns, broken behind blanks, _ and - if it can be."""
    if columns_of(cell) <= wide:
        return [cell]
    lines = [""]
    for piece in _BREAKS.split(cell):
        if columns_of(lines[-1] + piece.rstrip()) > wide and lines[-1]:
            lines.append("")
        for character in piece:
            if columns_of(lines[-1] + character) > wide and character != " ":
                lines.append("")
            lines[-1] += character
    return [line.rstrip() for line in lines]


def _padded(cell: str, wide: int, left: bool) -> str:
    blanks = " " * (wide - columns_of(cell))
    return cell + blanks if left else blanks + cell


def columns_of(text: str) -> int:
    """Columns a text takes on a terminal: two for wide characters, none for combining ones."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in _WIDE else 1
        for c in text
    )
