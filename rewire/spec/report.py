"""What is wrong with a file: faults with their place, a message and a way out."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Iterable, Iterator, Set
from dataclasses import dataclass

from rewire.spec.model import Notice, Place

SHOWN_FAULTS = 100
"""A file with more faults than this reports the first ones and how many more."""

_KEPT_FAULTS = 100_000
_HINTED_FAULTS = 50
_COMPARED_WORDS = 1000
_LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, where it stands, and a way out where there is one."""

    place: Place
    message: str
    hint: str | None = None

    def __str__(self) -> str:
        tail = f"; {self.hint}" if self.hint else ""
        return f"{self.place}: {self.message}{tail}"


class Wrong(ValueError):
    """What is wrong with one value, for people, and a way out."""

    def __init__(self, message: str, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


class SpecError(Exception):
    """A file cannot be read. ``faults`` in order of place, ``more`` how many were left out."""

    def __init__(self, faults: Iterable[Fault], more: int = 0) -> None:
        self.faults = tuple(faults)
        self.more = more
        super().__init__(self.faults, more)

    def __str__(self) -> str:
        lines = [str(fault) for fault in self.faults]
        if self.more:
            lines.append(f"{self.faults[0].place.file}: and {self.more} more")
        return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Nearest:
    """A hint still to be worked out: the word of ``among`` that ``word`` was meant to be.

    ``among`` may be a function, where listing the words is work worth putting off.
    """

    word: str
    among: Collection[str] | Callable[[], Collection[str]]


Hint = str | Nearest | None


class Report:
    """Collects what is wrong, or worth a second look, while one file is read."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.notices: list[Notice] = []
        self._faults: list[tuple[Place, str, Hint]] = []
        self._only_counted = 0

    def __bool__(self) -> bool:
        """Whether any fault was found."""
        return bool(self._faults)

    def place(self, line: int, column: int) -> Place:
        """The place in this file, both counted from 1."""
        return Place(self.file, line, column)

    def fault(self, place: Place, message: str, hint: Hint = None) -> None:
        """Note something that keeps the file from being read."""
        if len(self._faults) < _KEPT_FAULTS:
            self._faults.append((place, message, hint))
        else:
            self._only_counted += 1

    def notice(self, place: Place, message: str) -> None:
        """Note something that was read as written but may not be what was meant."""
        self.notices.append(Notice(place, _printable(message)))

    def error(self) -> SpecError:
        """All faults in order of place, each once; hints are worked out for the first ones."""
        unique = {(place, message): hint for place, message, hint in self._faults}
        ordered = sorted(unique.items(), key=lambda item: (item[0][0].line, item[0][0].column))
        faults = []
        for count, ((place, message), hint) in enumerate(ordered[:SHOWN_FAULTS]):
            text = _worked_out(hint) if count < _HINTED_FAULTS or isinstance(hint, str) else None
            faults.append(Fault(place, _printable(message), _printable(text) if text else None))
        return SpecError(faults, len(ordered) - len(faults) + self._only_counted)


def shown(text: object) -> str:
    """A word of a file as it may appear in a message: quoted, short, nothing unprintable.

    >>> shown("S1.A2")
    "'S1.A2'"
    """
    return f"'{_printable(_cut(str(text)))}'"


def _cut(whole: str) -> str:
    return whole if len(whole) <= _LONGEST_SHOWN else whole[:_LONGEST_SHOWN] + "…"


def _printable(text: str) -> str:
    """Whatever a file holds, it must not move the cursor of a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words for a message, comma between them; long lists are cut short."""
    all_words = list(words)
    tail = f" … ({len(all_words)} in all)" if len(all_words) > most else ""
    return ", ".join(all_words[:most]) + tail


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


def _worked_out(hint: Hint) -> str | None:
    if not isinstance(hint, Nearest):
        return hint
    among = hint.among() if callable(hint.among) else hint.among
    found = nearest(hint.word, among)
    if found:
        return f"nearest is {shown(found)}"
    if 0 < len(among) <= 12:
        in_order = sorted(among) if isinstance(among, Set) else among
        return known_here(in_order)
    return None
