"""Sections as the text of a terminal: nothing invisible in it, lines that fit."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import zip_longest

from rewire.report.section import Block, Illustration, ReportSection, Row, Table, Tone, Words
from rewire.words.wording import printable

Ink = Callable[[str, Tone], str]
"""Puts a text in a colour."""

_BLANKS = re.compile(r"[ \t\r\n]+")
BEFORE_UNIT = re.compile(r"(?<=≥) |(?<=[0-9]) (?=(?:%|°C|ohm|[nµmkMG]?[ΩVAWm])(?![A-Za-z0-9]))")
"""The blank between a number and its unit, where no line may end."""
_MINUS = re.compile(r"(?<![^\s(±])-(?=[0-9])")
_GLUE = "\ufdd0"
"""A character that no text has, for Unicode keeps it free."""
_WIDE = frozenset("WF")
_NARROWEST = 8
"""Columns that a column of words keeps."""
_BREAKS = re.compile(r"(?<=[ _-])")
_INDENT = 2
"""Blanks before a table."""
_SLOT = 13
"""Columns from where one short line may begin to where the next may."""


def uncoloured(text: str, _: Tone) -> str:
    """The text as it is."""
    return text


def minus(text: str) -> str:
    """The text as it is set on paper and on the page: with a minus before a figure.

    >>> minus("-460 V at M2.- (-5 %), 2025-03-14")
    '−460 V at M2.- (−5 %), 2025-03-14'
    """
    return _MINUS.sub("−", text)


def lines_of(
    sections: Iterable[ReportSection], columns: int, ink: Ink = uncoloured
) -> Iterator[str]:
    """The lines of all sections that say something, a blank one before each but the first."""
    said = (section for section in sections if section.blocks)
    for number, section in enumerate(said):
        if number:
            yield ""
        if section.title:
            yield from _worded(Words(f"{section.title}:"), columns, ink)
        for block in section.blocks:
            yield from _block(block, columns, ink)


def _block(block: Block, columns: int, ink: Ink) -> Iterator[str]:
    if isinstance(block, Illustration):
        return
    if isinstance(block, Words):
        for words in (block, *block.under):
            yield from _worded(words, columns, ink)
        return
    if isinstance(block, Row):
        yield from _row(block, columns)
        return
    if block.title:
        yield from _worded(Words(f"{block.title}:"), columns, ink)
    if block.rows:
        yield from _table(block, columns)


def _worded(words: Words, columns: int, ink: Ink) -> Iterator[str]:
    parts = fitted(words, columns)
    if not words.mark:
        yield from (ink(part, words.tone) for part in parts)
        return
    first, end = parts[0], words.indent + len(printable(words.mark))
    yield ink(first[:end], words.tone) + first[end:]
    yield from parts[1:]


def fitted(words: Words, columns: int) -> list[str]:
    """A paragraph as lines of at most ``columns``; only a name is ever longer.

    Continued lines hang under the text, past the mark.
    """
    mark, text = printable(words.mark), printable(" ".join(_BLANKS.split(words.text)))
    lead = " " * words.indent + (f"{mark} " if mark and text else mark)
    if not text:
        return [lead]
    lines = textwrap.wrap(
        BEFORE_UNIT.sub(_GLUE, text),
        columns,
        initial_indent=lead,
        subsequent_indent=" " * min(len(lead), 2 * columns // 5),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_GLUE, " ") for line in lines]


def _row(row: Row, columns: int) -> Iterator[str]:
    """Items at every ``_SLOT`` columns where they fit so, else close up; a long one wraps alone."""
    line = ""
    for item in map(printable, row.items):
        at = _columns_of(line) + 2 if line else 0
        room = columns - _INDENT - _columns_of(item)
        if line and at > room:
            yield from _in_row(line, columns)
            line, at = "", 0
        slot = -(-at // _SLOT) * _SLOT
        line = _padded(line, slot if slot <= room else at, left=True) + item
    yield from _in_row(line, columns) if line else ()


def _in_row(line: str, columns: int) -> list[str]:
    if _INDENT + _columns_of(line) <= columns:
        return [" " * _INDENT + line]
    mark, _, text = line.partition(". ")
    return fitted(Words(text, f"{mark}.", indent=_INDENT), columns)


def _table(table: Table, columns: int) -> Iterator[str]:
    """Columns as wide as what stands in them; figures end at the right."""
    head = [printable(title) for title in table.head]
    shown = [head, *([printable(cell.text) for cell in cells] for cells in table.rows)]
    words = [n for n, title in enumerate(table.head) if title not in table.figures]
    widths = [max(_columns_of(row[n]) for row in shown) for n in range(len(head))]
    _narrow(widths, words, columns - _INDENT)
    for row in shown if any(head) else shown[1:]:
        cells = [
            _broken(cell, wide) if n in words else [cell]
            for n, (cell, wide) in enumerate(zip(row, widths, strict=True))
        ]
        for parts in zip_longest(*cells, fillvalue=""):
            padded = (_padded(part, widths[n], n in words) for n, part in enumerate(parts))
            yield (" " * _INDENT + "  ".join(padded)).rstrip()


def _narrow(widths: list[int], words: Sequence[int], columns: int) -> None:
    """Take what is too much off the widest column of words, again and again."""
    while sum(widths) + 2 * (len(widths) - 1) > columns:
        widest = max(words, key=lambda n: widths[n], default=None)
        if widest is None or widths[widest] <= _NARROWEST:
            return
        widths[widest] -= 1


def _broken(cell: str, wide: int) -> list[str]:
    """A cell as lines of at most ``wide`` columns, broken behind blanks, _ and - if it can be."""
    if _columns_of(cell) <= wide:
        return [cell]
    lines = [""]
    for piece in _BREAKS.split(cell):
        if _columns_of(lines[-1] + piece.rstrip()) > wide and lines[-1]:
            lines.append("")
        for character in piece:
            if _columns_of(lines[-1] + character) > wide and character != " ":
                lines.append("")
            lines[-1] += character
    return [line.rstrip() for line in lines]


def _padded(cell: str, wide: int, left: bool) -> str:
    blanks = " " * (wide - _columns_of(cell))
    return cell + blanks if left else blanks + cell


def _columns_of(text: str) -> int:
    """Columns a text takes on a terminal: two for wide characters, none for combining ones."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in _WIDE else 1
        for c in text
    )
