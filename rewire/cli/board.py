"""What ``rewire watch`` shows now: put up piece by piece, and told to each browser that waits."""

from __future__ import annotations

import json
from dataclasses import dataclass
from threading import Condition
from typing import Any

from rewire.cli.trouble import Complaint, Trouble
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


def line_faults(trouble: Trouble | None, source: bytes = b"") -> tuple[LineFault, ...]:
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

    def __init__(self, file: str) -> None:
        self._shown: dict[str, Any] = {
            "file": printable(file),
            "drawing": True,
            "page": 0,  # how many there were
            "digest": "",
            "whole": False,
            **as_json(SaveTold(), {}),
        }
        self._number, self._save = 0, 0
        self._changed = Condition()
        self.page: bytes | None = None
        """The last good page: it stays until there is a new one."""

    def begin(self) -> int:
        """A save has come; nothing of those before it is taken any more. Gives its number."""
        with self._changed:
            self._save += 1
            self._show(drawing=True)
            return self._save

    def take(self, save: int, piece: SaveTold | SavedPage) -> None:
        """Show a piece of a save: the last is its whole page, or what is wrong."""
        with self._changed:
            if save != self._save:
                return
            if isinstance(piece, SaveTold):
                self._show(drawing=not piece.faults, **as_json(piece, {}))
                return
            self.page = piece.html
            pages, whole = self._shown["page"] + 1, piece.whole
            self._show(page=pages, digest=piece.digest, whole=whole, drawing=not whole)

    def end(self, save: int) -> None:
        """Nothing more comes of a save, also where its last piece is not there."""
        with self._changed:
            if save == self._save and self._shown["drawing"]:
                self._show(faults=as_json([_ENDED], {}), drawing=False)

    def _show(self, **changed: Any) -> None:
        self._shown |= changed
        self._number += 1
        self._changed.notify_all()

    def news(self, known: int = -1, patience: float = 0.0) -> tuple[int, str]:
        """What is shown now, by number and as JSON in one line.

        Where that is number ``known``, the next is waited for, so many seconds.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._number != known, patience)
            return self._number, json.dumps(self._shown)
