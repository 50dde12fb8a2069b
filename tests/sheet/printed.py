"""Reading a printed packet back: which words stand where, how large, and what is wrong."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pypdf
from PIL import ImageFont

MM = 72 / 25.4
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Millimetres: ISO 216 A4; ANSI/ASME Y14.1 Letter, 8.5 by 11 inches."""
MARGIN = 10.0
FOOT = 14.0
_HAIR = 0.3


@dataclass(frozen=True)
class Said:
    """A run of letters; ``x`` its left end, ``y`` its baseline from the top of the paper, mm."""

    text: str
    x: float
    y: float
    points: float
    width: float


@cache
def _font(bold: bool) -> ImageFont.FreeTypeFont:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name, 1000)


def said_on(page: pypdf.PageObject) -> list[Said]:
    """All that is said on a page, in the order in which it is set."""
    found: list[Said] = []
    height = float(page.mediabox.height)

    def visit(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        shown = " ".join(text.split())
        if shown:
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            points = abs(size * tm[3] * cm[3])
            bold = "Bold" in str(font.get("/BaseFont")) if font else False
            width = _font(bold).getlength(shown) / 1000 * points
            found.append(Said(shown, x / MM, (height - y) / MM, round(points, 2), width / MM))

    page.extract_text(visitor_text=visit)
    return found


@cache
def _printed(data: bytes) -> tuple[tuple[tuple[float, float], list[Said]], ...]:
    """Size (mm) and words of every page but the cards, which are judged in tests/draw.

    They have paper of their own and stand before the first bookmark.
    """
    reader = pypdf.PdfReader(io.BytesIO(data), strict=True)
    first = next((one for one in reader.outline if not isinstance(one, list)), None)
    begins = reader.get_destination_page_number(first) if first is not None else 0
    return tuple(
        ((float(page.mediabox.width) / MM, float(page.mediabox.height) / MM), said_on(page))
        for page in reader.pages[begins or 0 :]
    )


def pages_of(data: bytes) -> list[list[Said]]:
    """What is said on each page but the cards."""
    return [said for _, said in _printed(data)]


def words(data: bytes) -> str:
    """The text of all pages, with one blank between words."""
    pages = pypdf.PdfReader(io.BytesIO(data), strict=True).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def headings(data: bytes) -> list[str]:
    """The bookmarks, in order."""
    return [str(one["/Title"]) for one in pypdf.PdfReader(io.BytesIO(data)).outline]


def body(said: list[Said], paper: str) -> list[Said]:
    """What stands above the foot."""
    return [one for one in said if one.y < PAPERS[paper][1] - MARGIN - FOOT]


def faults(data: bytes, paper: str = "a4", least: float = 7.95) -> Iterator[str]:
    """Pages of another size, letters too small or in the margin, letters on letters."""
    for number, (size, said) in enumerate(_printed(data), 1):
        if np.abs(np.subtract(size, PAPERS[paper])).max() > 0.1:
            yield f"page {number}: {size}"
        for one in said:
            right, low = PAPERS[paper][0] - MARGIN + _HAIR, PAPERS[paper][1] - MARGIN + _HAIR
            if one.x < MARGIN - _HAIR or one.x + one.width > right or not MARGIN < one.y < low:
                yield f"page {number}: {one.text!r} stands in the margin"
            if one.points < least:
                yield f"page {number}: {one.text!r} has {one.points} points"
        yield from (f"page {number}: {pair}" for pair in _on_each_other(said))


def _on_each_other(said: list[Said]) -> Iterator[str]:
    """Pairs of texts of which one covers the other: from baseline to the height of an x.

    Pictures are set letter by letter, and kerned letters may reach over each other: those are
    judged where the pictures are drawn.
    """
    said = [one for one in said if len(one.text) > 1]
    boxes = np.array(
        [(s.x, s.y - 0.5 * s.points / MM, s.x + s.width, s.y) for s in said], dtype=np.float64
    ).reshape(-1, 4)
    a, b = boxes[:, None], boxes[None, :]
    over = (
        (a[..., 0] + _HAIR < b[..., 2]) & (b[..., 0] + _HAIR < a[..., 2])
        & (a[..., 1] + _HAIR < b[..., 3]) & (b[..., 1] + _HAIR < a[..., 3])
    )  # fmt: skip
    for one, other in np.argwhere(np.triu(over, 1)):
        yield f"{said[one].text!r} on {said[other].text!r}"
