"""What is written beside the symbols of a circuit: names, values, what goes struck through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.draw.diagram import DrawnPart, DrawnPole
from rewire.draw.scene import (
    XY,
    Box,
    Drawn,
    Symbol,
    ascent_mm,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
)
from rewire.words.quantity import with_unit

POINTS = 8.0
_BLANK = 1.2
_BESIDE_EACH_OTHER = 24.0
"""A value and the old one that take more have a line each, mm."""
_IN_ONE_LINE = 36.0
"""A name and a value that take more have a line each over the part, mm."""
_NOTHING = 1e-15
"""A smaller current is only rounding, A."""
_STRUCK = 0.3
"""Grey of what goes."""


@dataclass(frozen=True, slots=True)
class Word:
    """A few words in one look; ``framed`` is the number of a change."""

    text: str
    bold: bool = False
    struck: bool = False
    framed: bool = False
    quiet: bool = False

    @property
    def width(self) -> float:
        """What it takes, mm."""
        return width_mm(visible(self.text), POINTS, self.bold) + (1.6 if self.framed else 0.0)


def wide(words: Sequence[Word]) -> float:
    """Of words beside each other, mm."""
    return sum(word.width for word in words) + _BLANK * max(0, len(words) - 1)


def run(words: Sequence[Word], at: XY, align: str, shows: str) -> Iterator[Drawn]:
    """Words beside each other, their baseline at a place."""
    x, y = at
    x -= {"left": 0.0, "centre": wide(words) / 2, "right": wide(words)}[align]
    for word in words:
        yield from _word(word, x, y, shows)
        x += word.width + _BLANK


def _word(word: Word, x: float, y: float, shows: str) -> Iterator[Drawn]:
    """One of them, with what is drawn round it or over it."""
    if word.framed:
        middle = y - middle_baseline(0.0, POINTS)
        box = Box(x, middle - 1.6, x + word.width, middle + 1.6)
        yield Symbol("number", box, f"number:{word.text}:{shows}", width=0.35, backdrop=True)
        x += 0.8
    grey = _STRUCK if word.struck or word.quiet else 0.0
    shows = f"old:{shows.partition(':')[2]}" if word.struck else shows
    text = text_at(visible(word.text), x, y, POINTS, bold=word.bold, grey=grey,
                   shows=shows, on=shows)  # fmt: skip
    yield text
    if word.struck:
        box = Box(text.x - 0.3, y - 1.1, text.x + text.width + 0.3, y - 0.9)
        yield Symbol("strike", box, shows, width=0.2)


def _named(piece: DrawnPart) -> list[Word]:
    """The reference of a part, the number of its change before it."""
    said = piece.said
    number = [Word(said.number, True, framed=True)] if said.number else []
    return [*number, Word(piece.name, True, struck=said.fate == "goes")]


def _valued(piece: DrawnPart) -> list[Word]:
    """Its value."""
    said = piece.said
    return [Word(said.value, struck=said.fate == "goes")] if said.value else []


def _former(piece: DrawnPart) -> list[Word]:
    """What it takes the place of."""
    return [Word(piece.said.old, struck=True)] if piece.said.old else []


def _flow(piece: DrawnPart, along: str, against: str) -> list[Word]:
    """What flows in it, with an arrow that says which way, and the volts across it."""
    said, arrow = piece.said, along if piece.said.amps > 0.0 else against
    amps = f"{with_unit(abs(said.amps), 'A')} {arrow}" if abs(said.amps) > _NOTHING else ""
    told = "  ".join(one for one in (amps, said.volts) if one)
    return [Word(told, quiet=True)] if told else []


def words_over(piece: DrawnPart, box: Box, *, flip: bool) -> Iterator[Drawn]:
    """Reference and value above a part that lies, the old value below it.

    All of it below, in two lines, where a wiper comes from above.
    """
    x, shows = box.centre[0], piece.shows
    name, value, former = _named(piece), _valued(piece), _former(piece)
    if len(piece.nets) == 3:
        y = 1.5 + ascent_mm(POINTS) + 0.8
        yield from run(name, (x, y), "centre", shows)
        yield from run([*value, *former], (x, y + line_mm(POINTS)), "centre", shows)
        return
    y = box.bottom + 0.7 + ascent_mm(POINTS)
    yield from run(former, (x, y), "centre", shows)
    yield from run(_flow(piece, *("←→" if flip else "→←")), (x, y), "centre", shows)
    if piece.said.clip:
        down = line_mm(POINTS) if former else 1.0
        yield from run([Word(piece.said.clip)], (x, y + down), "centre", shows)
    y = box.top - (1.4 if piece.symbol == "rheostat" else 0.9)
    if wide([*name, *value]) > _IN_ONE_LINE:
        yield from run(value, (x, y), "centre", shows)
        yield from run(name, (x, y - line_mm(POINTS)), "centre", shows)
    else:
        yield from run([*name, *value], (x, y), "centre", shows)


def words_beside(piece: DrawnPart, box: Box, *, flip: bool) -> Iterator[Drawn]:
    """Reference over value at the right of a part that stands; at the left of a pot."""
    lines = [_named(piece), [*_valued(piece), *_former(piece)]]
    if piece.said.old and (piece.said.number or wide(lines[1]) > _BESIDE_EACH_OTHER):
        lines[1:] = [_valued(piece), _former(piece)]
    lines.append([Word(piece.said.clip)] if piece.said.clip else [])
    lines.append(_flow(piece, *("↑↓" if flip else "↓↑")))
    lines = [line for line in lines if line]
    x, align = box.right + (2.6 if piece.polar else 0.8), "left"
    if len(piece.nets) == 3:
        x, align = -2.3, "right"
    y = box.centre[1] - (0.5 if len(lines) > 1 else -1.0)
    y -= line_mm(POINTS) if piece.said.clip or lines[-1][0].quiet else 0.0
    for line in lines:
        yield from run(line, (x, y), align, piece.shows)
        y += line_mm(POINTS)


def contact_words(row: DrawnPole, number: int) -> tuple[Word, ...]:
    """What is written at the common (0) or a throw, from left to right."""
    label = Word(row.label(number), number == 0, struck=row.fate == "goes")
    was = [Word(row.was[number], struck=True)] if row.was and row.was[number] else []
    if number:
        return (label, *was)
    return (*([Word(row.number, True, framed=True)] if row.number else []), *was, label)
