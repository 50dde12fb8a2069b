"""How wide a text is in the font it is painted in: DejaVu Sans, as matplotlib ships it."""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TypedDict, Unpack

from fontTools.ttLib import TTFont

from rewire.draw.scene import Text

_FOUND = find_spec("matplotlib")
assert _FOUND is not None
assert _FOUND.origin is not None
FONTS = Path(_FOUND.origin).parent / "mpl-data" / "fonts" / "ttf"
"""The folder of DejaVu Sans. matplotlib itself is not imported: it would take half a second, and
read a settings file from the current folder, which may be a stranger's."""
MM_PER_POINT = 25.4 / 72
ASCENT = 0.78
"""Height above the baseline that capitals, digits and ascenders take, of the size."""
DESCENT = 0.24
"""Depth below the baseline, of the size."""


@cache
def _advances(bold: bool) -> Mapping[int, float]:
    """Code point → advance width over the size, by the font's own tables ``cmap`` and ``hmtx``."""
    with TTFont(FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")) as font:
        em, widths = font["head"].unitsPerEm, font["hmtx"]
        return {code: widths[glyph][0] / em for code, glyph in font.getBestCmap().items()}


_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
"""Bidirectional classes (Unicode Standard Annex 9) of letters that run from right to left."""
_BEARINGS = 0.1
"""What the ink of a line may lack of its advance at both ends together, of the size."""


@lru_cache(maxsize=1 << 14)
def width_mm(text: str, points: float, bold: bool = False) -> float:
    """Width of a line of text, mm: its advances. Kerning only ever draws letters nearer.

    Letters that run from right to left are measured as they stand alone: joined they are narrower.
    """
    advances = _advances(bold)
    wide = sum(advances[ord(character)] for character in text)
    if not text.isascii() and any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text):
        wide += _BEARINGS
    return wide * points * MM_PER_POINT


def ascent_mm(points: float) -> float:
    """Room above the baseline, mm."""
    return ASCENT * points * MM_PER_POINT


def descent_mm(points: float) -> float:
    """Room below the baseline, mm."""
    return DESCENT * points * MM_PER_POINT


def line_mm(points: float) -> float:
    """Distance from one baseline to the next, mm."""
    return 1.22 * points * MM_PER_POINT


def visible(text: str) -> str:
    r"""The text with all that cannot be seen spelt out.

    That is: control characters, marks that turn the direction of writing, marks that
    combine with a letter, and characters that the font has no glyph for.

    >>> visible("a\tb")
    'a‹U+0009›b'
    """
    return "".join(_shown(c) for c in unicodedata.normalize("NFC", text))


def _shown(character: str) -> str:
    if character == " " or (character.isprintable() and _drawable(character)):
        return character
    return f"‹U+{ord(character):04X}›"


def _drawable(character: str) -> bool:
    has_glyph = all(ord(character) in _advances(bold) for bold in (False, True))
    return has_glyph and not unicodedata.combining(character)


class Look(TypedDict, total=False):
    """How a text looks, and what it stands for."""

    bold: bool
    grey: float
    shows: str
    net: str | None
    on: str


def text_at(
    text: str, x: float, y: float, points: float, align: str = "left", **look: Unpack[Look]
) -> Text:
    """A measured line of text whose left, centre or right end stands at ``x``, baseline ``y``."""
    width = width_mm(text, points, look.get("bold", False))
    left = x - {"left": 0.0, "centre": width / 2, "right": width}[align]
    return Text(text, left, y, points, width, ascent_mm(points), descent_mm(points), **look)


def middle_baseline(y: float, points: float) -> float:
    """The baseline that puts capitals of this size about the height ``y``."""
    return y + 0.36 * points * MM_PER_POINT


_BLANKS = re.compile(r"(?<=[ ])")
_WITHIN = re.compile(r"(?<=[_\-./,|:])(?=\S)")


def wrap(text: str, width: float, points: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than ``width`` mm.

    Broken at blanks; a word wider than that after ``_ - . /``, else anywhere.
    """
    lines: list[str] = []
    line = ""
    for piece in _pieces(text, width, points, bold):
        if line and width_mm((line + piece).rstrip(), points, bold) > width:
            lines.append(line.rstrip())
            line = piece.lstrip()
        else:
            line += piece
    lines.append(line.rstrip())
    return tuple(lines)


def _pieces(text: str, width: float, points: float, bold: bool) -> Iterator[str]:
    """Words with the blanks behind them; one too long for a line in pieces of its own."""
    for word in _BLANKS.split(text):
        if width_mm(word.rstrip(), points, bold) <= width:
            yield word
            continue
        for part in _WITHIN.split(word):
            rest = part
            while rest and width_mm(rest.rstrip(), points, bold) > width:
                fit = max(1, _longest(rest, width, points, bold))
                yield rest[:fit]
                rest = rest[fit:]
            yield rest


def _longest(text: str, width: float, points: float, bold: bool) -> int:
    """How many characters of a text there is room for."""
    counts = range(1, len(text) + 1)
    return bisect_right(counts, width, key=lambda n: width_mm(text[:n], points, bold))


def shortened(text: str, width: float, points: float, bold: bool = False) -> str:
    """The text, or its beginning with a sign that there is more, no wider than ``width`` mm."""
    if width_mm(text, points, bold) <= width:
        return text
    return f"{text[: _longest(text, width - width_mm(' …', points, bold), points, bold)]} …"


def paragraphs(
    said: Iterable[tuple[str, float, bool]], width: float, most: int | None = None
) -> tuple[list[Text], float]:
    """Paragraphs one under another, wrapped, and the height they take, mm.

    Args:
        said: each with its size in points, and whether it is bold.
        width: room, mm.
        most: lines of a paragraph; what goes on is cut, with a sign that it does.
    """
    texts: list[Text] = []
    y = 0.0
    for text, points, bold in said:
        sign = 0.0 if most is None else width_mm(" …", points, bold)
        lines = wrap(visible(text), width - sign, points, bold)
        if most is not None and len(lines) > most:
            lines = (*lines[: most - 1], f"{lines[most - 1]} …")
        for line in lines:
            y += line_mm(points)
            texts.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return texts, y
