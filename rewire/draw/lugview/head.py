"""What stands over a drawing of lugs: a title, and notes in small print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.draw.measure import descent_mm, line_mm, text_at, visible, width_mm, wrap
from rewire.draw.scene import Text

_TITLE = 11.0
_MOST_LINES = 6
_SMALL = 7.5


@dataclass(frozen=True, slots=True)
class Note:
    """A line over the drawing; bold where somebody would miss it at a cost."""

    text: str
    bold: bool


def head(title: str, notes: Sequence[Note], width: float) -> tuple[list[Text], float]:
    """Texts from the top down, and how much height they take, mm."""
    lines = [(line, _TITLE, True) for line in _shown(title, width, _TITLE, True)]
    for note in notes:
        lines += [(said, _SMALL, note.bold) for said in _shown(note.text, width, _SMALL, note.bold)]
    items = []
    y = 0.0
    for line, points, bold in lines:
        y += line_mm(points)
        items.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return items, y + 3.0


def _shown(text: str, width: float, points: float, bold: bool) -> tuple[str, ...]:
    """The first lines of a note; where there are more, a sign that there are."""
    lines = wrap(visible(text), width - width_mm(" …", points, bold), points, bold)
    if len(lines) <= _MOST_LINES:
        return lines
    return (*lines[: _MOST_LINES - 1], f"{lines[_MOST_LINES - 1]} …")
