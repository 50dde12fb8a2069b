"""What ``rewire watch`` shows now: put up piece by piece, and told to each browser that waits."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from threading import Condition
from typing import Any

from rewire.cli.answers import Complaint, Trouble
from rewire.reading.slips import yaml_lines
from rewire.report.machine import as_json
from rewire.report.section import ReportSection
from rewire.words.wording import printable

_LONGEST = 400
"""Characters shown of a line of the spec."""


@dataclass(frozen=True, slots=True)
class LineFault:
    """What is wrong, and the line of the spec where it stands; line and column from 1, or None."""

    message: str
    line: int | None = None
    column: int | None = None
    source: str = ""


_ENDED = LineFault("the process that draws has ended, the terminal may say why; save again")


@dataclass(frozen=True, slots=True)
class SaveTold:
    """What is said of a save, before anything is drawn or because something cannot be."""

    faults: tuple[LineFault, ...] = ()
    sections: tuple[ReportSection, ...] = ()
    """The verdicts and what to do next, as ``rewire check`` says them."""


@dataclass(frozen=True, slots=True)
class SavedPage:
    """A page of a save: with the card alone, which comes first, or the whole packet."""

    html: bytes
    digest: str
    """Of the spec: under it a browser keeps what is ticked and typed on the page."""
    whole: bool


@dataclass(frozen=True, slots=True)
class News:
    """What is shown now. The last good page stays until there is a new one."""

    number: int = 0
    """One more each time."""
    drawing: bool = True
    told: SaveTold = SaveTold()
    leaf: SavedPage | None = None
    """The last good page; None where there was none yet."""
    pages: int = 0
    """How many there were."""

    def told_to_browsers(self, file: str) -> str:
        """As JSON in one line; the page itself they then ask for."""
        leaf = self.leaf
        return json.dumps(
            {
                "file": printable(file),
                "drawing": self.drawing,
                "page": self.pages,
                "digest": leaf.digest if leaf else "",
                "whole": bool(leaf and leaf.whole),
                **as_json(self.told, {}),
            }
        )


def faults_of(trouble: Trouble | None, source: bytes = b"") -> tuple[LineFault, ...]:
    """What is wrong with a spec, each with the line where it stands."""
    lines = yaml_lines(source.decode("utf-8", "replace"))
    return tuple(_fault(one, lines) for one in trouble.complaints) if trouble else ()


def _fault(one: Complaint, lines: list[str]) -> LineFault:
    message = f"{one.message}; {one.hint}" if one.hint else one.message
    at = lines[one.line - 1 : one.line] if one.line else []
    line = one.line if at else None  # of a file that is not there none is told
    return LineFault(printable(message), line, one.column, "".join(at)[:_LONGEST])


class NewsBoard:
    """Where what is shown is changed, save by save, and waited for."""

    def __init__(self) -> None:
        self._news, self._save = News(), 0
        self._changed = Condition()

    def begin(self) -> int:
        """A save has come; nothing of those before it is taken any more. Gives its number."""
        with self._changed:
            self._save += 1
            self._tell(drawing=True)
            return self._save

    def take(self, save: int, piece: SaveTold | SavedPage) -> None:
        """Show a piece of a save: the last is its whole page, or what is wrong."""
        with self._changed:
            if save != self._save:
                return
            if isinstance(piece, SaveTold):
                self._tell(told=piece, drawing=not piece.faults)
            else:
                self._tell(leaf=piece, pages=self._news.pages + 1, drawing=not piece.whole)

    def end(self, save: int) -> None:
        """Nothing more comes of a save, also where its last piece is not there."""
        with self._changed:
            if save == self._save and self._news.drawing:
                self._tell(told=replace(self._news.told, faults=(_ENDED,)), drawing=False)

    def _tell(self, **changed: Any) -> None:
        self._news = replace(self._news, number=self._news.number + 1, **changed)
        self._changed.notify_all()

    def news(self, known: int, patience: float = 0.0) -> News:
        """What is shown now; where that is ``known``, the next, waited for so many seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._news.number != known, patience)
            return self._news
