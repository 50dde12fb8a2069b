"""Notes on an image as items: rings about the spots, leaders, balloons with their numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from rewire.draw.measure import middle_baseline, text_at
from rewire.draw.scanned.balloons import RADIUS, Balloon, balloons
from rewire.draw.scanned.ink import Ink
from rewire.draw.scene import XY, Box, Item, Line, Symbol, around
from rewire.records.spec import PageNote

_POINTS = 7.0
_RING = 3.0
"""Diameter of the ring around a spot, mm."""
_HALO = 0.9
"""White beneath a leader, so that it is seen on the ink of the scan, mm."""


def noted(
    notes: Sequence[tuple[int, PageNote]], page: Box, bottom: float, ink: Ink
) -> Iterator[Item]:
    """The items of some numbered notes on a page; balloons may stand down to ``bottom``, mm."""
    spots = [_spot(note, page) for _, note in notes]
    placed = balloons(spots, page, bottom, ink)
    for width, grey in ((_HALO, 1.0), (0.35, 0.0)):
        for balloon in placed:
            yield from _leader(balloon, notes[balloon.note][0], width, grey)
    for spot in dict.fromkeys(spots):
        box = around(spot, _RING, _RING)
        yield Symbol("disc", box, "spot", width=_HALO, fill=None, grey=1.0, backdrop=True)
        yield Symbol("disc", box, "spot", width=0.35, fill=None, backdrop=True)
    for balloon in placed:
        yield from _balloon(balloon, notes[balloon.note][0])


def _spot(note: PageNote, page: Box) -> XY:
    x, y = note.at
    return page.left + x * page.width, page.top + y * page.height


def _leader(balloon: Balloon, number: int, width: float, grey: float) -> Iterator[Item]:
    """From the balloon to the ring's edge."""
    (x0, y0), (x1, y1) = balloon.leaves, balloon.spot
    length = math.hypot(x1 - x0, y1 - y0)
    part = max(length - _RING / 2, 0.0) / length if length else 0.0
    end = (x0 + (x1 - x0) * part, y0 + (y1 - y0) * part)
    if part > 0.0:
        yield Line((balloon.leaves, end), f"leader:{number}", width=width, grey=grey)


def _balloon(balloon: Balloon, number: int) -> Iterator[Item]:
    shows = f"note:{number}"
    x, y = balloon.middle
    yield Symbol("round", around((x, y), 2 * RADIUS[0], 2 * RADIUS[1]), shows, width=0.35)
    yield text_at(
        str(number), x, middle_baseline(y, _POINTS), _POINTS, align="centre", bold=True,
        shows=shows, on=shows,
    )  # fmt: skip
