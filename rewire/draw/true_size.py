"""Pages at true size: a bar of 50 mm proves that the printer did not shrink what is on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rewire.draw.scene import (
    Box,
    Item,
    Line,
    Panel,
    ScanImage,
    Text,
    line_mm,
    paragraphs,
    text_at,
)

BAR_MM = 50.0
PROOF = "50 mm: measure this bar. Print at 100 %, not fitted to the page; else nothing here fits."
_EVERY = 10.0
"""From one mark of the bar to the next, mm."""
_TICK = 1.5
_BETWEEN = 8.0
_INSET = 0.5
"""So that a line along the edge is not cut in half, mm."""
_WIDTH = 180.0
"""Of what is said, mm."""
_POINTS, _HEAD = 8.5, 11.0


def proof_bar() -> Panel:
    """A bar of 50 mm with a mark at each ten, and what it is for."""
    y = 2 * _TICK
    lines = [Line(((0.0, y), (BAR_MM, y)), "proof", width=0.3)]
    for n in range(int(BAR_MM / _EVERY) + 1):
        x, tall = n * _EVERY, _TICK * (2 if n * _EVERY in (0.0, BAR_MM) else 1)
        lines.append(Line(((x, y - tall), (x, y)), "proof", width=0.3))
    text = text_at(PROOF, BAR_MM + 3.0, y, 8.0, shows="proof-text")
    return Panel((*lines, text), text.x + text.width, y + line_mm(8.0))


def at_true_size(title: str, drawings: Sequence[Panel], said: Sequence[str]) -> Panel:
    """Drawings one under another, a millimetre for a millimetre, with the bar that proves it."""
    words = [(title, _HEAD, True), *((one, _POINTS, False) for one in said)]
    texts, y = paragraphs(words, _WIDTH)
    items: list[Item] = list(texts)
    for panel in (proof_bar(), *drawings):
        y += _BETWEEN
        items += panel.moved(_INSET, y).items
        y += panel.height
    width = max([_WIDTH, *(panel.width + 2 * _INSET for panel in drawings)])
    return Panel(tuple(items), width, y + _INSET)


def face_down(panel: Panel) -> Panel:
    """The panel as a mirror shows it, letters too: for a film that is laid face down."""
    return replace(panel, items=tuple(_mirrored(item, panel.width) for item in panel.items))


def _mirrored(item: Item, width: float) -> Item:
    if isinstance(item, Line):
        return replace(item, points=tuple((width - x, y) for x, y in item.points))
    if isinstance(item, Text):
        return replace(item, x=width - item.x - item.width, mirrored=not item.mirrored)
    box = item.box
    assert not isinstance(item, ScanImage), "a photograph is never turned"
    return replace(item, box=Box(width - box.right, box.top, width - box.left, box.bottom))
