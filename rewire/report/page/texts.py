"""A spec's texts as a page shows them: nothing hidden, nothing endless."""

from __future__ import annotations

import unicodedata

_JOINERS = "\u200c\u200d"
"""Needed to write some languages; they turn nothing."""
_LONGEST = 6000


def seen(text: str) -> str:
    r"""The text with characters that cannot be seen spelt out, and cut where it is endless.

    >>> seen("a\u202eb\tc")
    'a‹U+202E›b c'
    """
    shown = "".join(_shown(c) for c in text[:_LONGEST])
    if len(text) <= _LONGEST:
        return shown
    return f"{shown} … ({len(text) - _LONGEST} more characters in the spec)"


def shortened(text: str, most: int) -> str:
    """The beginning of a text.

    >>> shortened("abcdef", 4)
    'abc…'
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _shown(character: str) -> str:
    if character in "\t\n\r":
        return " "
    if character in _JOINERS or unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Cn"}:
        return character
    return f"‹U+{ord(character):04X}›"
