"""What ``rewire watch`` shows now: put up piece by piece, and told to each browser that waits.

A piece of a save is a dict: ``faults`` and ``sections``, as ``rewire check`` says them; or a page
as ``html``, with ``digest``, under which a browser keeps what is ticked on it, and ``whole``, false
while more is drawn.
"""

from __future__ import annotations

import json
from threading import Condition
from typing import Any

from rewire.cli.trouble import Complaint, Trouble
from rewire.reading.slips import yaml_lines
from rewire.words.wording import printable

_LONGEST = 400
"""Characters shown of a line of the spec."""
_ENDED = "the process that draws has ended, the terminal may say why; save again"
Piece = dict[str, Any]


def line_faults(trouble: Trouble | None, source: bytes) -> list[Piece]:
    """What is wrong with a spec, each with the line where it stands."""
    lines = yaml_lines(source.decode("utf-8", "replace"))
    return [_fault(one, lines) for one in trouble.complaints] if trouble else []


def _fault(one: Complaint, lines: list[str]) -> Piece:
    message = f"{one.message}; {one.hint}" if one.hint else one.message
    at = lines[one.line - 1 : one.line] if one.line else []
    line = one.line if at else None  # of a file that is not there none is told
    source = "".join(at)[:_LONGEST]
    return {"message": printable(message), "line": line, "column": one.column, "source": source}


class NewsBoard:
    """Where what is shown is changed, save by save, and waited for."""

    def __init__(self, file: str) -> None:
        self._shown: Piece = {
            "file": printable(file), "drawing": True, "page": 0, "digest": "", "whole": False,
            "faults": [], "sections": [],
        }  # fmt: skip
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

    def take(self, save: int, piece: Piece) -> None:
        """Show a piece of a save: the last is its whole page, or what is wrong."""
        with self._changed:
            if save != self._save:
                return
            if "html" in piece:
                self.page = piece["html"]
                page = {"digest": piece["digest"], "whole": piece["whole"]}
                self._show(page=self._shown["page"] + 1, drawing=not piece["whole"], **page)
            else:
                self._show(drawing=not piece["faults"], **piece)

    def end(self, save: int) -> None:
        """Nothing more comes of a save, also where its last piece is not there."""
        with self._changed:
            if save == self._save and self._shown["drawing"]:
                ended = {"message": _ENDED, "line": None, "column": None, "source": ""}
                self._show(faults=[ended], drawing=False)

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
