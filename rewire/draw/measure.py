"""How wide a text is in the font it will be drawn in: DejaVu Sans, as matplotlib ships it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path

import matplotlib
from matplotlib import ft2font
from matplotlib.ft2font import FT2Font, LoadFlags

from rewire.draw.scene import Text

MM_PER_POINT = 25.4 / 72
ASCENT = 0.78
"""Height above the baseline that capitals, digits and ascenders take, of the size."""
DESCENT = 0.24
"""Depth below the baseline, of the size."""
_EM = 1000


@cache
def font(bold: bool) -> FT2Font:
    """The font file that matplotlib draws with."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    loaded = FT2Font(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name))
    loaded.set_size(_EM, 72)
    return loaded


@cache
def _glyphs(bold: bool) -> frozenset[int]:
    return frozenset(font(bold).get_charmap())


@cache
def _advance(character: str, bold: bool) -> float:
    """Advance width over the size, as the font states it before hinting."""
    glyph = font(bold).load_char(ord(character), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance) / 65536 / _EM


_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
"""Bidirectional classes (Unicode Standard Annex 9) of letters that run from right to left."""
_SETS_BOTH_WAYS = hasattr(ft2font, "__libraqm_version__")
"""Whether this matplotlib orders and joins such letters; an older one sets them as typed."""
_BEARINGS = 0.1
"""What the ink of a line may lack of its advance at both ends together, of the size."""


def width_mm(text: str, points: float, bold: bool = False) -> float:
    """Width of a line of text, mm: its advances. Kerning only ever draws letters nearer.

    Where letters run from right to left they may join, so the line is measured as it is set.
    """
    if not text.isascii() and any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text):
        return (_set_width(text, bold) + _BEARINGS) * points * MM_PER_POINT
    return sum(_advance(character, bold) for character in text) * points * MM_PER_POINT


@lru_cache(maxsize=4096)
def _set_width(text: str, bold: bool) -> float:
    """Width of the ink over the size, letters ordered and joined as matplotlib does."""
    loaded = font(bold)
    loaded.set_text(text, 0.0, flags=LoadFlags.NO_HINTING)
    return float(loaded.get_width_height()[0]) / 64 / _EM


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
    combine with a letter, and characters that the font has no glyph for. Hebrew and Arabic
    letters stay where matplotlib orders and joins them.

    >>> visible("a\tb")
    'a‹U+0009›b'
    """
    return "".join(_shown(c) for c in unicodedata.normalize("NFC", text))


def _shown(character: str) -> str:
    if character == " " or (character.isprintable() and _drawable(character)):
        return character
    return f"‹U+{ord(character):04X}›"


def _drawable(character: str) -> bool:
    has_glyph = ord(character) in _glyphs(False) and ord(character) in _glyphs(True)
    settable = _SETS_BOTH_WAYS or unicodedata.bidirectional(character) not in _RIGHT_TO_LEFT
    return has_glyph and settable and not unicodedata.combining(character)


def text_at(
    text: str,
    x: float,
    y: float,
    points: float,
    *,
    align: str = "left",
    bold: bool = False,
    grey: float = 0.0,
    shows: str = "",
    net: str | None = None,
    on: str = "",
) -> Text:
    """A measured line of text whose left, centre or right end stands at ``x``, baseline ``y``."""
    width = width_mm(text, points, bold)
    left = {"left": x, "centre": x - width / 2, "right": x - width}[align]
    return Text(
        text, left, y, points, width, ascent_mm(points), descent_mm(points),
        bold, grey, shows, net, on,
    )  # fmt: skip


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


def _longest(word: str, width: float, points: float, bold: bool) -> int:
    low, high = 0, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(word[:middle], points, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low
