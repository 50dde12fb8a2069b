"""Sections of a sheet as plain records: who prints them decides how they look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


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


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``shares`` are the widths of its columns, in proportion."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    shares: tuple[float, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph, or a line of a list where ``mark`` hangs before it."""

    text: str
    mark: str = ""
    bold: bool = False


Block = Table | Words


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it; without blocks it is left out."""

    key: str
    title: str
    blocks: tuple[Block, ...]


def row(*texts: str) -> tuple[Cell, ...]:
    """A row of plain cells."""
    return tuple(Cell(text) for text in texts)


def used_columns(table: Table, keep: Sequence[str] = ()) -> Table:
    """The table without columns in which every row is empty, but for the heads in ``keep``.

    >>> used_columns(Table(("a", "b"), (row("1", ""), row("2", "")), (1.0, 1.0))).head
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
        tuple(table.shares[n] for n in used),
        table.title,
    )
