"""Where the number of a wire stands: upon its line, else close beside it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from rewire.draw.scene import XY, Box, Segment

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_CLEAR = 0.65
"""From a tag to the middle of a line beside it, mm."""
_FARTHER = 1.0
"""From a tag that stands beside its line to others, more than from its own, mm."""


def tag_spot(
    points: Sequence[XY], size: XY, taken: Sequence[Box], others: Sequence[Sequence[XY]],
    start: float = 0.5,
) -> XY | None:  # fmt: skip
    """A place for a tag on a line, else close beside it, clear of all else.

    ``start`` is where along the line it is wished, from 0 to 1.
    """
    on, share = _along(points, 0.8)
    on = on[np.argsort(np.abs(share - start), kind="stable")]
    pieces = [piece for line in others for piece in pairwise(line)]
    clear = on[~_shut(on, size, taken, pieces)]
    if len(clear):
        return float(clear[0, 0]), float(clear[0, 1])
    away = (size[0] / 2 + 0.9, size[1] / 2 + 0.9)
    ways = [(0, -1), (0, 1), (-1, 0), (1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)]
    aside = np.concatenate([on + np.multiply(way, away) for way in ways])
    aside = aside[~_shut(aside, size, taken, [*pieces, *pairwise(points)])]
    far = ~_covers(aside, (size[0] + 2 * _FARTHER, size[1] + 2 * _FARTHER), pieces)
    free = [*aside[far], *aside]
    return (float(free[0][0]), float(free[0][1])) if free else None


def _shut(middles: Array, size: XY, taken: Sequence[Box], pieces: Sequence[Segment]) -> Bools:
    """At which middles a tag would lie on a box or on a piece of a line."""
    wide, tall = (side / 2 + _CLEAR for side in size)
    boxes = np.array([(b.left, b.top, b.right, b.bottom) for b in taken]).reshape(-1, 4)
    x, y = middles[:, :1], middles[:, 1:]
    on_box = ((x + wide > boxes[:, 0]) & (x - wide < boxes[:, 2])
              & (y + tall > boxes[:, 1]) & (y - tall < boxes[:, 3])).any(axis=1)  # fmt: skip
    return np.asarray(on_box | _covers(middles, size, pieces))


def _covers(middles: Array, size: XY, pieces: Sequence[Segment]) -> Bools:
    """Which boxes about some middles, with a margin, hold a point of a piece of a line."""
    if not pieces:
        return np.zeros(len(middles), dtype=bool)
    wide, tall = (side / 2 + _CLEAR for side in size)
    (x0, y0), (x1, y1) = np.array(pieces).transpose(1, 2, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = np.zeros((len(middles), len(pieces))), np.ones((len(middles), len(pieces)))
        for middle, half, start, delta in (
            (middles[:, :1], wide, x0, x1 - x0), (middles[:, 1:], tall, y0, y1 - y0),
        ):  # fmt: skip
            first, second = (middle - half - start) / delta, (middle + half - start) / delta
            low = np.fmax(low, np.fmin(first, second))
            high = np.fmin(high, np.fmax(first, second))
    return np.asarray((low < high).any(axis=1))


def _along(points: Sequence[XY], step: float) -> tuple[Array, Array]:
    """Places on a polyline, and each one's share of the length."""
    ends = np.array(points)
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ends, axis=0).T))])
    at = np.arange(step / 2, gone[-1], step)
    places = np.stack([np.interp(at, gone, ends[:, n]) for n in (0, 1)], axis=1)
    return places, at / (gone[-1] or 1.0)
