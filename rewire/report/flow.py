"""From strips of a page to pages: what belongs together stays so, heads of tables come again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper


@dataclass(frozen=True, slots=True)
class Strip:
    """A piece of the page from margin to margin."""

    panel: Panel
    head: Panel | None = None
    """Set again on top of a new page that begins with this strip: a table's head."""
    with_next: bool = False
    """A heading never stands alone at the foot of a page."""
    gap: float = 0.0
    """Free room above it, mm, except on top of a page."""


def paged(strips: Sequence[Strip], paper: Paper, over: Panel | None = None) -> list[list[Item]]:
    """Items of each page, at their places on the paper.

    ``over`` stands over every page but those that one picture fills, which says it itself.
    """
    bottom = PAPER[paper][1] - MARGIN - FOOT
    pages: list[list[Item]] = []
    y = bottom + 1.0
    for number, strip in enumerate(strips):
        if y + strip.gap + _needed(strips, number) > bottom:
            fits = over and MARGIN + over.height + _needed(strips, number) <= bottom
            pages.append(list(over.moved(MARGIN, MARGIN).items) if over and fits else [])
            y = MARGIN + (over.height if over and fits else 0.0)
            if strip.head is not None:
                pages[-1].extend(strip.head.moved(MARGIN, y).items)
                y += strip.head.height
        else:
            y += strip.gap
        pages[-1].extend(strip.panel.moved(MARGIN, y).items)
        y += strip.panel.height
    return pages


def together(strips: Sequence[Strip]) -> float:
    """Height of what leads a section and of the first strip that may part from the next, mm."""
    return _needed(strips, 0)


def page_height(paper: Paper) -> float:
    """From margin to foot, mm."""
    return PAPER[paper][1] - 2 * MARGIN - FOOT


def _needed(strips: Sequence[Strip], number: int) -> float:
    """Height of a strip and of those that must not part from it."""
    height = strips[number].panel.height
    while strips[number].with_next and number + 1 < len(strips):
        number += 1
        height += strips[number].gap + strips[number].panel.height
    return height


def inner_width(paper: Paper) -> float:
    """From margin to margin, mm."""
    return PAPER[paper][0] - 2 * MARGIN
