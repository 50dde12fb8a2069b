"""Tables under a picture: rows of wrapped cells, cut into panels that fit their pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.draw.scene import Item, Line, Panel, line_mm, middle_baseline, text_at, visible, wrap
from rewire.draw.sheets import BETWEEN

POINTS = 7.5
_HEADING = 9.0
_PAD = 0.9
_GUTTER = 2.4
_HAIR, _RULE = 0.12, 0.4
_STRUCK = 0.45
"""Grey of what is struck through."""
_MOST_LINES = 40
_LONGEST = 6000
"""Characters of one piece that are printed; what is cut off is said."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A paragraph in a cell; struck through where it tells of something that goes."""

    text: str
    shows: str = ""
    bold: bool = False
    struck: bool = False


Cell = tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its heading; ``shares`` are the columns' parts of the width."""

    heading: str
    head: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[Cell, ...], ...]


def tabled(tables: Sequence[Table], width: float, height: float, first: float) -> list[Panel]:
    """All tables under each other as panels, each to stand on a page of its own.

    Args:
        tables: those without rows are left out.
        width: of the panels, mm.
        height: of a page, mm.
        first: room for the first panel, mm; where nothing fits it goes on the next page.
    """
    panels: list[Panel] = []
    items: list[Item] = []
    y, room = 0.0, first
    strips = list(table_rows(tables, width))
    for number, (head, heading, row) in enumerate(strips):
        needed = row.height + (heading.height + head.height if heading else 0.0)
        if heading and number + 1 < len(strips) and not strips[number + 1][1]:
            needed = min(needed + strips[number + 1][2].height, height)  # no row alone under it
        if y + needed > room:
            if items:
                panels.append(Panel(tuple(items), width, y))
            items, y, room = [], 0.0, height
            heading = heading or Panel((), width, 0.0)
        for panel in (heading, head) if heading else ():
            items.extend(panel.moved(0.0, y).items)
            y += panel.height
        items.extend(row.moved(0.0, y).items)
        y += row.height
    if items:
        panels.append(Panel(tuple(items), width, y))
    return panels


def room_below(used: float, height: float) -> float:
    """What is left of a page under a panel of that height, mm."""
    return height - used - BETWEEN


def table_rows(
    tables: Sequence[Table], width: float
) -> Iterator[tuple[Panel, Panel | None, Panel]]:
    """Head, heading (with the first row alone) and row; a row too tall for a page in pieces."""
    for table in tables:
        columns = [width * share / sum(table.shares) for share in table.shares]
        heads = [(Piece(word, bold=True),) for word in table.head]
        words = [_lines(h, wide - _GUTTER) for h, wide in zip(heads, columns, strict=True)]
        head = _row([lines[:_MOST_LINES] for lines in words], columns, _RULE)
        heading: Panel | None = _heading(table.heading, width)
        for row in table.rows:
            cells = [_lines(cell, wide - _GUTTER) for cell, wide in zip(row, columns, strict=True)]
            longest = max(map(len, cells))
            for start in range(0, max(longest, 1), _MOST_LINES):
                end = start + _MOST_LINES
                rule = _HAIR if end >= longest else 0.0
                yield head, heading, _row([cell[start:end] for cell in cells], columns, rule)
                heading = None


def _heading(text: str, width: float) -> Panel:
    y = 3.0
    items: list[Item] = []
    for line in wrap(visible(text), width, _HEADING, bold=True):
        y += line_mm(_HEADING)
        items.append(text_at(line, 0.0, y - 1.0, _HEADING, bold=True))
    return Panel(tuple(items), width, y + 0.4)


Shown = tuple[Piece, str, str]
"""A line of a piece, and what it is called in the scene."""


def _lines(cell: Cell, room: float) -> list[Shown]:
    return [
        (piece, line, f"row:{piece.shows}:{number}:{count}")
        for number, piece in enumerate(cell)
        for count, line in enumerate(wrap(_printed(piece.text), room, POINTS, piece.bold))
    ]


def _row(cells: Sequence[Sequence[Shown]], columns: Sequence[float], rule: float) -> Panel:
    items: list[Item] = []
    x, step = 0.0, line_mm(POINTS)
    height = 2 * _PAD + step * max(1, *(len(cell) for cell in cells))
    for cell, wide in zip(cells, columns, strict=True):
        for number, (piece, line, named) in enumerate(cell):
            items.extend(_line(piece, line, x, _PAD + step * (number + 0.5), named))
        x += wide
    if rule:
        grey = 0.0 if rule > _HAIR else 0.5
        items.append(Line(((0.0, height), (x, height)), "rule", width=rule, grey=grey))
    return Panel(tuple(items), x, height)


def _line(piece: Piece, line: str, x: float, middle: float, named: str) -> Iterator[Item]:
    text = text_at(
        line, x, middle_baseline(middle, POINTS), POINTS, bold=piece.bold,
        grey=_STRUCK if piece.struck else 0.0, shows=piece.shows, on=named,
    )  # fmt: skip
    yield text
    if piece.struck and line.strip():
        ends = ((text.x, middle), (text.x + text.width, middle))
        yield Line(ends, named, width=0.25, grey=0.25)


def _printed(text: str) -> str:
    shown = visible(" ".join(text.split()))
    if len(shown) <= _LONGEST:
        return shown
    return f"{shown[:_LONGEST]} … ({len(shown) - _LONGEST} more characters in the spec)"
