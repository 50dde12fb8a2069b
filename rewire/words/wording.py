"""Words for messages: a user's own text made safe to show, lists, and the word that was meant."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence

_COMPARED_WORDS = 1000
_LONGEST_SHOWN = 60
_LONGEST_PLACES = 80
_UNSEEN = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})
"""Unicode categories: control, format (bidi too), unassigned, private, line and paragraph ends."""


class Wrong(ValueError):
    """What is wrong with one value, for people, and a way out."""

    def __init__(self, message: str, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


def shown(text: object) -> str:
    """A word of a file as it may appear in a message: quoted, short, nothing unprintable.

    >>> shown("S1.A2")
    "'S1.A2'"
    """
    return f"'{printable(_cut(str(text)))}'"


def _cut(whole: str) -> str:
    return whole if len(whole) <= _LONGEST_SHOWN else whole[:_LONGEST_SHOWN] + "…"


def printable(text: str) -> str:
    r"""Text with what moves a cursor, or hides and turns other text round, spelt out.

    >>> printable("S1\x1b[2J\u202eA2")
    'S1‹U+001B›[2J‹U+202E›A2'
    """
    if text.isprintable():
        return text
    return "".join(spelt_out(c) if unicodedata.category(c) in _UNSEEN else c for c in text)


def spelt_out(character: str) -> str:
    """A character that cannot be shown, by its number: on a terminal, on paper and on a page."""
    return f"‹U+{ord(character):04X}›"


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words for a message, comma between them; long lists are cut short."""
    all_words = list(words)
    tail = f" … ({len(all_words)} in all)" if len(all_words) > most else ""
    return ", ".join(all_words[:most]) + tail


def listing(names: Sequence[str], joining: str = "and") -> str:
    """``A``, ``A and B``, ``A, B and C``; a long list is cut with its count.

    >>> listing(["A", "B", "C"])
    'A, B and C'
    """
    names = list(names)
    if len(names) > 6:
        names = [*names[:5], f"{len(names) - 5} more"]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {joining} {names[-1]}"


def known_here(words: Iterable[str]) -> str:
    """The words that could have been meant, as a hint; long lists and long words are cut short."""
    return f"known here: {listed([_cut(word) for word in words])}"


def nearest(word: str, among: Collection[str]) -> str | None:
    """The word that was meant, or None.

    Words one slip away come first; they are looked up, for thousands of lugs may be
    on offer. Only a short list is compared one by one.

    >>> nearest("S1.A2", ["S1.B", "S1.A1", "S1.a2"])
    'S1.a2'
    """
    if len(word) > _LONGEST_SHOWN:
        return None
    meant = word.casefold()
    folded = {other.casefold(): other for other in among}
    if meant in folded:
        return folded[meant]
    slip = next(filter(folded.__contains__, _one_slip_away(meant, folded)), None)
    if slip is not None:
        return folded[slip]
    if len(folded) > _COMPARED_WORDS:
        return None
    close = difflib.get_close_matches(meant, folded, 1, 0.6)
    return folded[close[0]] if close else None


def two_in_one(text: str) -> tuple[str, str] | None:
    """What is wrong with a name that holds a blank, and the way out; None if it holds none."""
    words = text.split()
    if len(words) < 2 or len(text) > _LONGEST_PLACES:
        return None
    message = f"{shown(text)} is not one name"
    if words[0].endswith(".") or words[1].startswith("."):
        return message, f"write it without the space: {''.join(words)}"
    return message, f"write a comma between two: {', '.join(words)}"


def in_brackets(text: str) -> str:
    """Two names in a text, as the list that they should be; ``[one, other]`` for any other text.

    >>> in_brackets("S2.A1 - METER"), in_brackets("S2.A1")
    ('[S2.A1, METER]', '[one, other]')
    """
    words = [word for word in re.split(r"[\s,]+", text) if word.strip("-–>") not in ("", "to")]
    two = len(words) == 2 and len(text) <= _LONGEST_PLACES
    return f"[{printable(', '.join(words))}]" if two else "[one, other]"


def _one_slip_away(word: str, among: Iterable[str]) -> Iterator[str]:
    """Words with two letters exchanged, or one mistaken, too many or left out; late ones first."""
    if len(word) < 2:
        return
    letters = sorted(set("".join(among)))
    halves = [(word[:i], word[i:]) for i in range(len(word), -1, -1)]
    yield from (a + b[1] + b[0] + b[2:] for a, b in halves if len(b) > 1)
    yield from (a + c + b[1:] for a, b in halves for c in letters if b)
    yield from (a + b[1:] for a, b in halves if b)
    yield from (a + c + b for a, b in halves for c in letters)
