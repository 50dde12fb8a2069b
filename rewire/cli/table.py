"""Tables in plain text: columns as wide as what stands in them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence

from rewire.cli.terminal import visible

_WIDE = frozenset("WF")


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], indent: int = 2, left: int = 1
) -> Iterator[str]:
    """Lines of a table; the first ``left`` columns start at the left, the rest end at the right.

    >>> list(table(("part", "ohms"), [("R1", "10")], indent=0))
    ['part  ohms', 'R1      10']
    """
    shown = [[visible(cell) for cell in row] for row in (head, *rows)]
    widths = [max(columns_of(row[i]) for row in shown) for i in range(len(head))]
    for row in shown:
        cells = [
            _padded(cell, width, i < left)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield (" " * indent + "  ".join(cells)).rstrip()


def _padded(cell: str, width: int, left: bool) -> str:
    blanks = " " * (width - columns_of(cell))
    return cell + blanks if left else blanks + cell


def columns_of(text: str) -> int:
    """Columns a text takes on a terminal: two for wide characters, none for combining ones."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in _WIDE else 1
        for c in text
    )
