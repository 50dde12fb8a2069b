"""Panels and tables onto sheets, and the foot: whose it is, the verdict, the caution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from rewire import __version__
from rewire.draw.scene import (
    FOOT,
    MARGIN,
    PAPER,
    Box,
    Item,
    Line,
    Panel,
    Paper,
    Scene,
    Symbol,
    hull,
    line_mm,
    middle_baseline,
    paragraphs,
    sheet_of,
    shortened,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.spec import Spec

BETWEEN = 6.0
"""From one panel to the next, mm."""
CODES = "Local codes and licensed practice come first."
_POINTS = 8.0
_LINE = 3.2
_BAR = 9.0
"""Size of the words in the bar over the foot of a broken wiring, points."""
_BAR_HEIGHT = 4.6
_NARROWEST = 90.0
"""Millimetres; a small drawing stands at the left of its sheet."""
_CELL = 8.0
"""Size of the words of a table, points."""
_HEADING = 9.0
_PAD = 0.9
_GUTTER = 2.4
_HAIR, _RULE = 0.12, 0.4
_STRUCK = 0.45
"""Grey of what is struck through."""
_MOST_LINES = 40
_LONGEST_PIECE = 6000
"""Characters of one piece that are printed; what is cut off is said."""


def gathered(panels: Sequence[Panel], height: float, between: float) -> list[Panel]:
    """As many panels under each other as there is room for in ``height`` mm."""
    made: list[Panel] = []
    for panel in panels:
        top = made[-1].height + between if made else 0.0
        if made and top + panel.height <= height + 1e-6:
            items = (*made[-1].items, *panel.moved(0.0, top).items)
            made[-1] = Panel(items, panel.width, top + panel.height)
        else:
            made.append(panel)
    return made


def stacked(panels: Sequence[Panel], paper: Paper, title: str = "") -> tuple[Scene, ...]:
    """Sheets with the panels in order, a new one where the next would not fit."""
    pages = gathered(panels, PAPER[paper][1] - 2 * MARGIN - FOOT, BETWEEN)
    return tuple(sheet_of(paper, page.moved(MARGIN, MARGIN).items, title) for page in pages)


def on_a_sheet(panel: Panel, paper: Paper, title: str) -> Scene:
    """A panel on one sheet: the paper upright or lying, or the next size that holds it."""
    width, height = PAPER[paper]
    while True:
        for wide, tall in ((width, height), (height, width)):
            if panel.width <= wide - 2 * MARGIN and panel.height <= tall - 2 * MARGIN - FOOT:
                return Scene(wide, tall, panel.moved(MARGIN, MARGIN).items, title)
        width, height = height, 2 * width


@dataclass(frozen=True, slots=True)
class Mark:
    """Of which wiring a picture is, and what its comparison said."""

    whose: str = ""
    broken: str | None = None
    """What is said across the picture of a wiring that must not be built."""


UNMARKED = Mark()
"""Of no wiring alone."""


def footed(scenes: Sequence[Scene], spec: Spec, marks: Sequence[Mark]) -> tuple[Scene, ...]:
    """The sheets with a foot: set, wiring, verdict, revision, spec, page number, caution."""
    return tuple(
        _footed(scene, (_title(spec, mark), CODES), (f"page {n} of {len(scenes)}", _origin(spec)),
                mark.broken)
        for n, (scene, mark) in enumerate(zip(scenes, marks, strict=True), 1)
    )  # fmt: skip


def _title(spec: Spec, mark: Mark) -> str:
    return visible(" · ".join(filter(None, (spec.title, mark.whose))))


def alone(scene: Scene, spec: Spec, mark: Mark) -> Scene:
    """The drawing cut out of its sheet, for a screen, with a foot of its own."""
    if not scene.items:
        return scene
    bounds = hull(item.box for item in scene.items)
    moved = tuple(item.moved(MARGIN - bounds.left, MARGIN - bounds.top) for item in scene.items)
    said = width_mm(visible(mark.broken or ""), _BAR, bold=True) + 5.0
    room = max(bounds.width, _NARROWEST, min(said, PAPER["a4"][0] - 2 * MARGIN))
    told = (_title(spec, mark), CODES, _origin(spec))
    lines = [line for one in told for line in wrap(one, room, _POINTS)]
    height = bounds.height + 2 * MARGIN + FOOT + (len(lines) - 2) * _LINE
    cut = replace(scene, width=room + 2 * MARGIN, height=height, items=moved)
    return _footed(cut, lines, (), mark.broken)


def _origin(spec: Spec) -> str:
    """Revision, date, licence, digest: what tells one print from another."""
    paper = spec.document
    said = [f"revision {paper.revision}" if paper.revision else "", paper.date or ""]
    said += [paper.author or "", paper.licence or ""]
    said += [f"spec {spec.digest[:12]}" if spec.digest else "", f"rewire {__version__}"]
    return visible(" · ".join(one for one in said if one))


def _footed(scene: Scene, left: Sequence[str], right: Sequence[str], broken: str | None) -> Scene:
    """Lines at the left, each as long as what stands at its right lets it be; a rule over them.

    Over that stands a bar where the wiring must not be built.
    """
    edge = scene.width - MARGIN
    first = scene.height - MARGIN - 1.2 - (len(left) - 1) * _LINE
    items: list[Item] = []
    for number, (said, beside) in enumerate(zip_longest(left, right, fillvalue="")):
        y = first + number * _LINE
        room = edge - MARGIN - (width_mm(beside, _POINTS) + 4.0 if beside else 0.0)
        for text, x, align in ((shortened(said, room, _POINTS), MARGIN, "left"),
                               (beside, edge, "right")):  # fmt: skip
            items.append(text_at(text, x, y, _POINTS, align=align, grey=0.2, shows="foot"))
    y = first - 3.6
    items.append(Line(((MARGIN, y), (edge, y)), "foot", width=0.2, grey=0.4))
    if broken is not None:
        bar = Box(MARGIN, y - _BAR_HEIGHT, edge, y)
        said = shortened(visible(broken), edge - MARGIN - 4.0, _BAR, bold=True)
        items.append(Symbol("bar", bar, "broken", fill="black"))
        items.append(text_at(said, MARGIN + 2.0, y - 1.3, _BAR, bold=True, grey=1.0,
                             shows="broken", on="broken"))  # fmt: skip
    return replace(scene, items=(*scene.items, *(i for i in items if i.box.width)))


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph in a cell; struck through where it tells of something that goes."""

    text: str
    shows: str = ""
    bold: bool = False
    struck: bool = False


Cell = tuple[Paragraph, ...]


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A table with its heading; ``shares`` are the columns' parts of the width."""

    heading: str
    head: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[Cell, ...], ...]


def tabled(tables: Sequence[SheetTable], width: float, height: float, first: float) -> list[Panel]:
    """All tables that have rows under each other as panels, one to a page of that height, mm.

    ``first`` is the room for the first panel, mm; where nothing fits it goes on the next page.
    """
    pages: list[list[Panel]] = [[]]
    room = first
    for table in tables:
        columns = [width * share / sum(table.shares) for share in table.shares]
        head = _rows([(Paragraph(word, bold=True),) for word in table.head], columns, _RULE)[0]
        rows = [part for row in table.rows for part in _rows(row, columns, _HAIR)]
        for number, row in enumerate(rows):
            opening = [] if number else [_heading(table.heading, width), head]
            needed = sum(panel.height for panel in (*opening, row))
            if opening and len(rows) > 1:
                needed = min(needed + rows[1].height, height)  # no row alone under its heading
            if needed > room:
                pages.append([])
                room = height
                opening = opening or [head]
            pages[-1] += [*opening, row]
            room -= sum(panel.height for panel in (*opening, row))
    return [gathered(page, height, 0.0)[0] for page in pages if page]


def room_below(used: float, height: float) -> float:
    """What is left of a page under a panel of that height, mm."""
    return height - used - BETWEEN


def _heading(text: str, width: float) -> Panel:
    texts, height = paragraphs([(text, _HEADING, True)], width)
    return Panel(tuple(text.moved(0.0, 3.0) for text in texts), width, height + 3.4)


def _rows(cells: Sequence[Cell], columns: Sequence[float], rule: float) -> list[Panel]:
    """A row with a rule under it; one too tall for a page in pieces."""
    shown = [_lines(cell, wide - _GUTTER) for cell, wide in zip(cells, columns, strict=True)]
    longest = max(1, *map(len, shown))
    return [
        _row([lines[start : start + _MOST_LINES] for lines in shown], columns,
             rule if start + _MOST_LINES >= longest else 0.0)
        for start in range(0, longest, _MOST_LINES)
    ]  # fmt: skip


Shown = tuple[Paragraph, str, str]
"""A line of a piece, and what it is called in the scene."""


def _lines(cell: Cell, room: float) -> list[Shown]:
    return [
        (piece, line, f"row:{piece.shows}:{number}:{count}")
        for number, piece in enumerate(cell)
        for count, line in enumerate(wrap(_printed(piece.text), room, _CELL, piece.bold))
    ]


def _row(cells: Sequence[Sequence[Shown]], columns: Sequence[float], rule: float) -> Panel:
    items: list[Item] = []
    x, step = 0.0, line_mm(_CELL)
    height = 2 * _PAD + step * max(1, *(len(cell) for cell in cells))
    for cell, wide in zip(cells, columns, strict=True):
        for number, (piece, line, named) in enumerate(cell):
            middle = _PAD + step * (number + 0.5)
            text = text_at(
                line, x, middle_baseline(middle, _CELL), _CELL, bold=piece.bold,
                grey=_STRUCK if piece.struck else 0.0, shows=piece.shows, on=named,
            )  # fmt: skip
            items.append(text)
            if piece.struck and line.strip():
                ends = ((x, middle), (x + text.width, middle))
                items.append(Line(ends, named, width=0.25, grey=0.25))
        x += wide
    if rule:
        grey = 0.0 if rule > _HAIR else 0.5
        items.append(Line(((0.0, height), (x, height)), "rule", width=rule, grey=grey))
    return Panel(tuple(items), x, height)


def _printed(text: str) -> str:
    shown = visible(" ".join(text.split()))
    if len(shown) <= _LONGEST_PIECE:
        return shown
    return f"{shown[:_LONGEST_PIECE]} … ({len(shown) - _LONGEST_PIECE} more characters in the spec)"
