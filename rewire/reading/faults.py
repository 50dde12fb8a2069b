"""What is wrong with a file: faults with their place, a message and a way out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Set
from dataclasses import dataclass

from rewire.records.part import Place
from rewire.records.spec import Notice
from rewire.words.wording import known_here, nearest, printable, shown

SHOWN_FAULTS = 100
"""A file with more faults than this reports the first ones and how many more."""

_HINTED_FAULTS = 50


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, where it stands, and a way out where there is one."""

    place: Place
    message: str
    hint: str | None = None

    def __str__(self) -> str:
        tail = f"; {self.hint}" if self.hint else ""
        return f"{self.place}: {self.message}{tail}"


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
    """A hint still to be worked out: the word of ``among`` that ``word`` was meant to be."""

    word: str
    among: Collection[str]
    otherwise: str | None = None
    """What to do where none is near and there are too many to list."""


Hint = str | Nearest | None


class Report:
    """Collects what is wrong, or worth a second look, while one file is read."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.notices: list[Notice] = []
        self._faults: list[tuple[Place, str, Hint]] = []

    def __bool__(self) -> bool:
        """Whether any fault was found."""
        return bool(self._faults)

    def place(self, line: int, column: int) -> Place:
        """The place in this file, both counted from 1."""
        return Place(self.file, line, column)

    def fault(self, place: Place, message: str, hint: Hint = None) -> None:
        """Note something that keeps the file from being read."""
        self._faults.append((place, message, hint))

    def notice(self, place: Place, message: str) -> None:
        """Note something that was read as written but may not be what was meant."""
        self.notices.append(Notice(place, printable(message)))

    def error(self) -> SpecError:
        """All faults in order of place, each once; hints are worked out for the first ones."""
        unique = {(place, message): hint for place, message, hint in self._faults}
        ordered = sorted(unique.items(), key=lambda item: (item[0][0].line, item[0][0].column))
        faults = []
        for count, ((place, message), hint) in enumerate(ordered[:SHOWN_FAULTS]):
            text = _worked_out(hint) if count < _HINTED_FAULTS or isinstance(hint, str) else None
            faults.append(Fault(place, printable(message), printable(text) if text else None))
        return SpecError(faults, len(ordered) - len(faults))


def _worked_out(hint: Hint) -> str | None:
    if not isinstance(hint, Nearest):
        return hint
    found = nearest(hint.word, hint.among)
    if found:
        return f"nearest is {shown(found)}"
    if not 0 < len(hint.among) <= 12:
        return hint.otherwise
    return known_here(sorted(hint.among) if isinstance(hint.among, Set) else hint.among)
