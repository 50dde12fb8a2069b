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
