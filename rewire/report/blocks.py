"""Building blocks of the printed sheet: headings, paragraphs, lists, tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rewire.draw.labels import SWATCH, swatch
from rewire.draw.measure import (
    ascent_mm,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.draw.scene import Box, Item, Line, Panel, Symbol
from rewire.report.flow import Strip
from rewire.report.section import Cell

BODY = 8.5
SMALL = 7.5
_PAD = 1.1
_AFTER = 1.6
"""From a swatch to the letters that say the same, mm."""
_SECTION = 12.0
_TO_WRITE = 7.0
"""Height of a line to write on by hand, mm."""
_LONGEST = 6000
"""Characters of one text that are printed; what is cut off is said."""


def heading(text: str, width: float) -> Strip:
    """A section's title with a rule under it."""
    items: list[Item] = [
        text_at(line, 0.0, 5.0 + n * line_mm(_SECTION), _SECTION, bold=True)
        for n, line in enumerate(wrap(printed(text), width, _SECTION, bold=True))
    ]
    y = 6.6 + (len(items) - 1) * line_mm(_SECTION)
    items.append(Line(((0.0, y), (width, y)), "rule", width=0.5))
    return Strip(Panel(tuple(items), width, y + 1.6), with_next=True, gap=6.0)


def printed(text: str) -> str:
    """A spec's text as it is printed: visible, and not endless."""
    shown = visible(" ".join(text.split()))
    if len(shown) <= _LONGEST:
        return shown
    return f"{shown[:_LONGEST]} … ({len(shown) - _LONGEST} more characters in the spec)"


def paragraph(
    text: str,
    width: float,
    *,
    points: float = BODY,
    bold: bool = False,
    indent: float = 0.0,
    gap: float = 0.0,
    grey: float = 0.0,
    with_next: bool = False,
) -> list[Strip]:
    """Lines of a text, each a strip, so that a long one may run on over the page."""
    lines = wrap(printed(text), width - indent, points, bold)
    strips = []
    for number, line in enumerate(lines):
        item = text_at(line, indent, ascent_mm(points) + 0.2, points, bold=bold, grey=grey)
        panel = Panel((item,), width, line_mm(points))
        keep = with_next if number == len(lines) - 1 else number == 0
        strips.append(Strip(panel, with_next=keep, gap=gap if number == 0 else 0.0))
    return strips


def marked(
    mark: str, text: str, width: float, *, indent: float = 6.0, points: float = BODY,
    gap: float = 1.0, bold: bool = False,
) -> list[Strip]:  # fmt: skip
    """A paragraph with a mark, a number say, hanging before it."""
    strips = paragraph(text, width, points=points, indent=indent, gap=gap, bold=bold)
    first = strips[0]
    item = text_at(mark, indent - 1.6, ascent_mm(points) + 0.2, points, align="right", bold=True)
    panel = Panel((*first.panel.items, item), width, first.panel.height)
    return [Strip(panel, with_next=first.with_next, gap=first.gap), *strips[1:]]


def badge(text: str, filled: bool, double: bool) -> tuple[Panel, float]:
    """A word in a frame, and its width in mm."""
    points = 9.0
    width = width_mm(text, points, bold=True) + 5.0
    box = Box(0.4, 0.4, width, 6.4)
    kind = "frame-double" if double else "frame"
    frame = Symbol(kind, box, "badge", width=0.4, fill="black" if filled else "white")
    word = text_at(
        text, box.centre[0], box.centre[1] + 1.15, points, align="centre", bold=True,
        grey=1.0 if filled else 0.0, on="badge",
    )  # fmt: skip
    return Panel((frame, word), width + 0.4, 6.8), width + 0.4


def table(
    head: Sequence[str], rows: Iterable[Sequence[Cell]], shares: Sequence[float], width: float
) -> list[Strip]:
    """A table whose rows may break over pages; its head is set again on each."""
    columns = [width * share / sum(shares) for share in shares]
    body = [_row(row, columns, 0.12) for row in rows]
    last = len(body) - 1
    # no row stands alone: two at the least before a break, and two after it
    leads = [number < last and number in (0, last - 1) for number in range(len(body))]
    if not body or not any(head):
        return [Strip(panel, with_next=lead) for panel, lead in zip(body, leads, strict=True)]
    top = _row([Cell(title, bold=True) for title in head], columns, 0.5)
    first = Strip(top, with_next=True, gap=1.5)
    below = (
        Strip(panel, head=top, with_next=lead) for panel, lead in zip(body, leads, strict=True)
    )
    return [first, *below]


def _row(cells: Sequence[Cell], columns: Sequence[float], rule: float) -> Panel:
    drawn = []
    x = 0.0
    for cell, wide in zip(cells, columns, strict=True):
        drawn.append(_cell(cell, x, wide))
        x += wide
    height = max(tall for _, tall in drawn)
    items = [item for some, _ in drawn for item in some]
    x = 0.0
    for cell, wide in zip(cells, columns, strict=True):
        if cell.blank:
            line = ((x + 0.6, height - 1.2), (x + wide - 1.2, height - 1.2))
            items.append(Line(line, "blank", width=0.2, dash="dotted"))
        x += wide
    grey = 0.0 if rule > 0.2 else 0.5
    items.append(Line(((0.0, height), (sum(columns), height)), "rule", width=rule, grey=grey))
    return Panel(tuple(items), sum(columns), height)


def _cell(cell: Cell, x: float, wide: float) -> tuple[list[Item], float]:
    items: list[Item] = []
    start, room = x + 0.6, wide - 1.8
    middle = _PAD + line_mm(SMALL) / 2
    if cell.box:
        items.append(Symbol("box", Box(start, middle - 1.4, start + 2.8, middle + 1.4), "tick"))
        start, room = start + 3.8, room - 3.8
    if cell.colour:
        items.extend(swatch(cell.colour, start + SWATCH[0] / 2, middle, "swatch"))
        start, room = start + SWATCH[0] + _AFTER, room - SWATCH[0] - _AFTER
    lines = wrap(printed(cell.text), room, SMALL, cell.bold) if cell.text else ()
    baseline = middle_baseline(middle, SMALL)
    items.extend(
        text_at(line, start, baseline + n * line_mm(SMALL), SMALL, bold=cell.bold)
        for n, line in enumerate(lines)
    )
    least = _TO_WRITE if cell.blank else 0.0
    return items, max(least, 2 * _PAD + max(1, len(lines)) * line_mm(SMALL))
