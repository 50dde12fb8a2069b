"""What is said, once, as plain records; whoever sets it out decides how it looks."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

Tone = Literal["plain", "good", "meant", "bad", "faint"]
"""Colour on a terminal: right, declared or doubtful, wrong or dangerous, an aside."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one cell of a table."""

    text: str = ""
    colour: str | None = None
    """Letters of IEC 60757; a swatch is set before the text."""
    bold: bool = False
    box: bool = False
    """A box to tick."""
    blank: bool = False
    """A line to write on."""
    struck: bool = False
    """Of something that goes."""
    below: tuple[Cell, ...] = ()
    """Further lines of the cell."""
    across: tuple[Cell, ...] = ()
    """Further lines, under the rest of the row too."""
    entry: Mapping[str, object] | None = None
    """Of a box or a blank: the line of a bench log that it fills, with what is good there."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table under its title; how wide a column is follows from what stands in it."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    title: str = ""
    figures: frozenset[str] = frozenset()
    """Heads of the columns whose cells end at the right; words begin at the left."""
    short: bool = False
    """Whether its rows are short, so that paper has room for two beside each other."""


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph, or a line of a list where ``mark`` hangs before it."""

    text: str
    mark: str = ""
    bold: bool = False
    tone: Tone = "plain"
    """Of the mark; of the whole text where there is none."""
    indent: int = 0
    """Blanks before it on a terminal."""
    under: tuple[Words, ...] = ()
    """In small print under it: a word in the margin as mark, and its text."""
    about: str = ""
    """What the page's script knows it by."""


@dataclass(frozen=True, slots=True)
class Illustration:
    """A drawing as SVG, a millimetre to a unit, and what it shows in words."""

    title: str
    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Row:
    """Short lines that a terminal sets beside each other, as many as there is room for."""

    items: tuple[str, ...]


Block = Table | Words | Illustration | Row
BOX = Cell(box=True)
"""A box to tick."""


@dataclass(frozen=True, slots=True)
class ReportSection:
    """A heading and what stands under it; without blocks it is left out."""

    key: str
    title: str
    blocks: tuple[Block, ...]


def note(text: str) -> Words:
    """A line to bear in mind."""
    return Words(text, "-", indent=2)


def warning(text: str) -> Words:
    """A line that must not be missed."""
    return Words(text, "!", tone="bad", indent=2)


def row(*texts: str) -> tuple[Cell, ...]:
    """A row of plain cells."""
    return tuple(Cell(text) for text in texts)


def table_of(columns: Mapping[str, Sequence[str]], words: Collection[str]) -> Table:
    """A table of columns under their heads, without those in which nothing stands.

    >>> table_of({"part": ["R1"], "ohms": ["10"], "note": [""]}, words=["part"]).figures
    frozenset({'ohms'})
    """
    used = {head: cells for head, cells in columns.items() if any(cells)}
    rows = tuple(row(*cells) for cells in zip(*used.values(), strict=True))
    return Table(tuple(used), rows, figures=frozenset(used).difference(words))


def used_columns(table: Table, keep: Sequence[str] = ()) -> Table:
    """The table without columns in which every row is empty, but for the heads in ``keep``.

    >>> used_columns(Table(("a", "b"), (row("1", ""), row("2", "")))).head
    ('a',)
    """
    used = [
        number
        for number, head in enumerate(table.head)
        if head in keep or any(line[number] != Cell() for line in table.rows)
    ]
    return Table(
        tuple(table.head[n] for n in used),
        tuple(tuple(line[n] for n in used) for line in table.rows),
        table.title,
        table.figures,
        table.short,
    )
