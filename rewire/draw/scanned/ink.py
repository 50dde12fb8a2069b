"""Where a scan is dark: leaders keep away from its lines and lettering where they can."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image

from rewire.draw.scene import XY, Box

_COLUMNS = 360
_DARKER = 40
"""Levels of grey below the paper's own from which a cell counts as ink."""


@dataclass(frozen=True, slots=True)
class Ink:
    """Rows of cells from the top left; 1 is ink."""

    columns: int
    rows: int
    cells: bytes

    def along(self, start: XY, end: XY, page: Box) -> float:
        """Millimetres of ink that a line runs over; what lies off the page has none."""
        length = math.dist(start, end)
        count = max(1, math.ceil(length))
        met = 0
        for number in range(count):
            part = (number + 0.5) / count
            x, y = (a + (b - a) * part for a, b in zip(start, end, strict=True))
            column = _cell(x, page.left, page.right, self.columns)
            row = _cell(y, page.top, page.bottom, self.rows)
            if column is not None and row is not None:
                met += self.cells[row * self.columns + column]
        return met * length / count


def _cell(place: float, low: float, high: float, cells: int) -> int | None:
    if not low < place < high:
        return None
    return min(int((place - low) / (high - low) * cells), cells - 1)


def ink_of(image: Image.Image) -> Ink:
    """The ink of a page: each cell as dark as its darkest pixel, against the commonest grey."""
    levels = np.asarray(image.convert("L"))
    block = max(1, -(-levels.shape[1] // _COLUMNS))
    rows, columns = -(-levels.shape[0] // block), -(-levels.shape[1] // block)
    padded = np.full((rows * block, columns * block), 255, dtype=np.uint8)
    padded[: levels.shape[0], : levels.shape[1]] = levels
    darkest = padded.reshape(rows, block, columns, block).min(axis=(1, 3))
    paper = int(np.bincount(levels.ravel(), minlength=256).argmax())
    return Ink(columns, rows, (darkest.astype(int) < paper - _DARKER).astype(np.uint8).tobytes())
