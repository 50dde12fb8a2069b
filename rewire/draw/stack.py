"""Panels onto pages: one under another, a new sheet where the next would not fit."""

from __future__ import annotations

from collections.abc import Sequence

from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper, Scene, sheet_of

BETWEEN = 6.0
"""From one panel to the next, mm."""


def stacked(panels: Sequence[Panel], paper: Paper, title: str = "") -> tuple[Scene, ...]:
    """Sheets with the panels in order."""
    pages: list[list[Item]] = []
    bottom = PAPER[paper][1] - MARGIN - FOOT
    y = bottom + 1.0
    for panel in panels:
        if y + panel.height > bottom:
            pages.append([])
            y = MARGIN
        pages[-1].extend(panel.moved(MARGIN, y).items)
        y += panel.height + BETWEEN
    return tuple(sheet_of(paper, items, title) for items in pages)


def on_a_sheet(panel: Panel, paper: Paper, title: str) -> Scene:
    """A panel on one sheet: the paper upright or lying, or the next size that holds it."""
    width, height = PAPER[paper]
    while True:
        for wide, tall in ((width, height), (height, width)):
            if panel.width <= wide - 2 * MARGIN and panel.height <= tall - 2 * MARGIN - FOOT:
                return Scene(wide, tall, panel.moved(MARGIN, MARGIN).items, title)
        width, height = height, 2 * width
