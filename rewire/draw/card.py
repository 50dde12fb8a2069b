"""The card: the whole swap on one page. Blocks in thin frames, the pictures in what room is left.

Whoever makes the card says what stands in its blocks; here it gets its place. Blocks of words take
the height they need; the circuit stands beside what to buy and what it reads, the hook-up has the
rest. Where that is too little, the paper is taken larger, the letters never smaller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.draw.scene import (
    MARGIN,
    PAPER,
    Box,
    Item,
    Panel,
    Paper,
    Scene,
    Symbol,
    Text,
    ascent_mm,
    hull,
    line_mm,
    middle_baseline,
    shortened,
    text_at,
    visible,
    width_mm,
    wrap,
)

LEAST = 8.0
"""No letter of a card is smaller, points."""
_BODY, _SMALL, _HEAD, _TITLE, _DANGER = 8.0, 8.0, 9.0, 13.0, 9.0
_PAD = 2.6
"""From the frame of a block to what stands in it, mm."""
_GUTTER = 2.2
_COLUMN = 71.0
"""Width of what to buy and what it reads, beside the circuit, mm."""
_FRAME, _RULE = 0.35, 0.25
_HAIR = 0.1
"""What a page may lack, mm."""
_TICK = 2.5
_MOST_LINES = 3
"""Of a title; what goes on is cut, with a sign."""

Drawing = Callable[[float], Panel]
"""Width that is there, mm → a picture; it says itself how large it came out."""


@dataclass(frozen=True, slots=True)
class CardLine:
    """A line of a block; with ``tick`` it has a box before it."""

    text: str
    tick: bool = False
    bold: bool = False


@dataclass(frozen=True, slots=True)
class CardCell:
    """A cell of a table."""

    text: str
    bold: bool = False


@dataclass(frozen=True, slots=True)
class CardBlock:
    """A heading, a table of words under it, then lines."""

    heading: str
    aside: str = ""
    """Beside the heading, in plain letters."""
    head: tuple[str, ...] = ()
    rows: tuple[tuple[CardCell, ...], ...] = ()
    lines: tuple[CardLine, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether nothing stands in it."""
        return not self.rows and not self.lines


@dataclass(frozen=True, slots=True)
class Card:
    """What a card says."""

    title: str
    subtitles: tuple[str, ...]
    verdict: str
    broken: bool
    """Whether it must not be built, or was found so."""
    dangers: tuple[str, ...]
    """White on black."""
    hook_up: CardBlock
    """Its lines stand beneath the picture."""
    circuit: str
    """Heading of the circuit."""
    buy: CardBlock
    reads: CardBlock
    meters: CardBlock
    before: CardBlock
    foot: str
    origin: str


def card_scene(card: Card, hook_up: Panel | None, circuit: Drawing | None, paper: Paper) -> Scene:
    """The card on one sheet, upright, else lying, else on paper of twice the size.

    Args:
        card: what it says.
        hook_up: the picture of the wiring; None where it stands on pages of its own.
        circuit: the picture of the circuit; None where there is none.
        paper: to begin with.
    """
    width, height = PAPER[paper]
    made: Scene | None = None
    for wide, tall in ((width, height), (height, 2 * width), (2 * width, height)):
        made = _on(card, hook_up, circuit, wide, tall)
        if made.height <= tall + _HAIR:
            return replace(made, height=tall)
    assert made is not None
    return made


def _on(
    card: Card, hook_up: Panel | None, circuit: Drawing | None, wide: float, tall: float
) -> Scene:
    """The card on a sheet of this size, or a longer one where it must be."""
    full = wide - 2 * MARGIN
    above = [_title(card, full), *(_danger(said, full) for said in card.dangers)]
    below = [_block(block, full) for block in (card.meters, card.before) if not block.empty]
    below.append(_foot(card, full))
    rest = tall - 2 * MARGIN - sum(panel.height for panel in (*above, *below))
    row = _middle(card, circuit, full)
    if hook_up is None:
        picture = _block(card.hook_up, full)
    else:
        picture = _picture(card.hook_up, hook_up, full, rest - row.height)
    items: list[Item] = []
    y = MARGIN
    for number, panel in enumerate((*above, picture, row, *below)):
        items += panel.moved(MARGIN, y).items
        if number:
            items.append(_rule(((MARGIN, y), (MARGIN + full, y))))
        y += panel.height
    frame = Box(MARGIN, MARGIN, MARGIN + full, y)
    items.insert(0, Symbol("frame", frame, "frame", width=_FRAME, fill=None, backdrop=True))
    return Scene(wide, y + MARGIN, tuple(items), visible(card.title))


def _rule(ends: tuple[tuple[float, float], tuple[float, float]]) -> Symbol:
    """A line that joins nothing, so that nobody reads it as a wire."""
    (left, top), (right, bottom) = ends
    box = Box(left, top, right, bottom)
    return Symbol("rule", box, "frame", width=_RULE, fill=None, backdrop=True)


def _title(card: Card, width: float) -> Panel:
    said = visible(card.verdict)
    badge = width_mm(said, _HEAD, bold=True) + 5.0
    room = width - 2 * _PAD - badge - _GUTTER
    lines = wrap(visible(card.title), room, _TITLE, bold=True)
    points = _TITLE if len(lines) < 2 else 11.0
    texts, y = _paragraph(card.title, points, True, room, _PAD - 1.0, most=2)
    box = Box(width - _PAD - badge, _PAD - 0.6, width - _PAD, _PAD + 4.8)
    y = max(y, box.bottom + 0.2)
    for line in card.subtitles:
        more, y = _paragraph(line, _BODY, False, width - 2 * _PAD, y, most=2)
        texts += more
    fill, grey = ("black", 1.0) if card.broken else ("white", 0.0)
    items: list[Item] = [text.moved(_PAD, 0.0) for text in texts]
    items.append(Symbol("badge", box, "verdict", width=_FRAME, fill=fill))
    baseline = middle_baseline(box.centre[1], _HEAD)
    items.append(text_at(said, box.centre[0], baseline, _HEAD, "centre", bold=True, grey=grey,
                         shows="verdict", on="verdict"))  # fmt: skip
    return Panel(tuple(items), width, max(y, box.bottom) + _PAD - 1.4)


def _danger(said: str, width: float) -> Panel:
    """White on black, the full width."""
    texts, y = _paragraph(said, _DANGER, True, width - 2 * _PAD, 1.0, most=_MOST_LINES)
    height = y + 1.2
    bar = Symbol("bar", Box(0.0, 0.0, width, height), "danger", width=0.0, fill="black")
    white = (replace(t.moved(_PAD, 0.0), grey=1.0, shows="danger", on="danger") for t in texts)
    return Panel((bar, *white), width, height)


def _foot(card: Card, width: float) -> Panel:
    origin = visible(card.origin)
    taken = width_mm(origin, _SMALL)
    room = width - 2 * _PAD - taken - _GUTTER
    texts, y = _paragraph(card.foot, _SMALL, False, room, 1.0)
    right = text_at(origin, width - _PAD, texts[0].y, _SMALL, "right")
    return Panel((*(text.moved(_PAD, 0.0) for text in texts), right), width, y + 1.3)


def _paragraph(
    said: str, points: float, bold: bool, width: float, top: float, most: int | None = None
) -> tuple[list[Text], float]:
    """A paragraph from ``top`` on, wrapped, and where it ends, mm."""
    lines = list(wrap(visible(said), width, points, bold))
    if most is not None and len(lines) > most:
        rest = " ".join(lines[most - 1 :])
        lines[most - 1 :] = [shortened(rest, width, points, bold)]
    step = line_mm(points)
    first = top + ascent_mm(points) + 0.1 * step
    texts = [text_at(t, 0.0, first + n * step, points, bold=bold) for n, t in enumerate(lines)]
    return texts, top + len(lines) * step


def _middle(card: Card, circuit: Drawing | None, width: float) -> Panel:
    """The circuit with what to buy and what it reads beside it; without one these two alone."""
    blocks = [block for block in (card.buy, card.reads) if not block.empty]
    if circuit is None:
        return _side_by_side([_block(block, width / len(blocks)) for block in blocks], width)
    column = _stacked([_block(block, _COLUMN) for block in blocks], _COLUMN)
    drawn = _picture(
        CardBlock(card.circuit), circuit(width - _COLUMN - 2.0), width - _COLUMN, column.height
    )
    if drawn.width <= width - _COLUMN + 1e-6:
        return _side_by_side([drawn, column], width)
    both = _side_by_side([_block(block, width / len(blocks)) for block in blocks], width)
    whole = _picture(CardBlock(card.circuit), circuit(width - 2.0), width, 0.0)
    return _stacked([whole, both], width)


def _side_by_side(panels: Sequence[Panel], width: float) -> Panel:
    """Panels beside each other with a line between."""
    if not panels:
        return Panel((), width, 0.0)
    height = max(panel.height for panel in panels)
    items: list[Item] = []
    x = 0.0
    for panel in panels:
        if x:
            items.append(_rule(((x, 0.0), (x, height))))
        items += panel.moved(x, 0.0).items
        x += panel.width
    return Panel(tuple(items), x, height)


def _stacked(panels: Sequence[Panel], width: float) -> Panel:
    """Panels under each other with a line between."""
    items: list[Item] = []
    y = 0.0
    for panel in panels:
        if y:
            items.append(_rule(((0.0, y), (width, y))))
        items += panel.moved(0.0, y).items
        y += panel.height
    return Panel(tuple(items), width, y)


def _picture(block: CardBlock, picture: Panel, width: float, height: float) -> Panel:
    """A picture under its heading, in the middle of the room; lines of the block beneath it."""
    head, top = _heading(block, width - 2 * _PAD)
    under, words = _lines(block.lines, width - 2 * _PAD, 0.0)
    room = height - top - words - 2.0
    drawn = _trimmed(picture)
    slack = max(0.0, room - drawn.height)
    left = max(1.0, (width - drawn.width) / 2)
    end = top + max(room, drawn.height)
    items = [
        *(text.moved(_PAD, 0.0) for text in head),
        *drawn.moved(left, top + slack / 2).items,
        *(item.moved(_PAD, end) for item in under),
    ]
    return Panel(tuple(items), max(width, drawn.width + 2.0), end + words + 2.0)


def _trimmed(panel: Panel) -> Panel:
    """A picture without the blank paper round it."""
    if not panel.items:
        return panel
    box = hull(item.box for item in panel.items).grown(0.5)
    return replace(panel.moved(-box.left, -box.top), width=box.width, height=box.height)


def _heading(block: CardBlock, width: float) -> tuple[list[Text], float]:
    """The heading and what stands beside it, or beneath it where the line is too short."""
    if not block.heading:
        return [], 0.6
    texts, y = _paragraph(block.heading, _HEAD, True, width, _PAD - 0.8)
    if not block.aside:
        return texts, y
    left = texts[-1].width + 2 * _GUTTER
    if left + width_mm(visible(block.aside), _BODY) <= width:
        return [*texts, text_at(visible(block.aside), left, texts[-1].y, _BODY)], y
    more, y = _paragraph(block.aside, _BODY, False, width, y)
    return [*texts, *more], y


def _block(block: CardBlock, width: float) -> Panel:
    """Words in their frame, as high as they must be."""
    room = width - 2 * _PAD
    items: list[Item] = []
    texts, y = _heading(block, room) if block.heading else ([], _PAD - 0.8)
    items += texts
    rows, y = _table(block, room, y + 0.4)
    items += rows
    lines, y = _lines(block.lines, room, y + (0.5 if block.rows else 0.0))
    items += lines
    return Panel(tuple(item.moved(_PAD, 0.0) for item in items), width, y + _PAD - 1.0)


def _lines(lines: Sequence[CardLine], width: float, y: float) -> tuple[list[Item], float]:
    """Lines one under another; ticks that are short share one."""
    items: list[Item] = []
    x, bottom = 0.0, y
    for line in lines:
        indent = _TICK + 1.4 if line.tick else 0.0
        needed = indent + width_mm(visible(line.text), _BODY, line.bold)
        if not line.tick or x + needed > width:
            x, y = 0.0, bottom
        texts, end = _paragraph(line.text, _BODY, line.bold, width - indent, y)
        if line.tick:
            middle = texts[0].y - 0.36 * texts[0].ascent / 0.78
            box = Box(x + 0.2, middle - _TICK / 2, x + 0.2 + _TICK, middle + _TICK / 2)
            items.append(Symbol("box", box, "tick", width=_RULE))
        items += (text.moved(x + indent, 0.0) for text in texts)
        bottom = max(bottom, end + 0.2)
        x = x + needed + 2 * _GUTTER if line.tick else width
    return items, bottom


def _table(block: CardBlock, width: float, y: float) -> tuple[list[Item], float]:
    """Rows under their head; a column is as wide as its words, long words wrap."""
    if not block.rows:
        return [], y
    head = tuple(CardCell(word, bold=True) for word in block.head)
    rows = [head, *block.rows] if any(block.head) else [*block.rows]
    columns = _columns(rows, width)
    items: list[Item] = []
    for row in rows:
        cells, bottom = list(_cells(row, columns, y)), y + line_mm(_BODY)
        for texts, end in cells:
            items += texts
            bottom = max(bottom, end)
        y = bottom + 0.1
    return items, y


def _cells(
    row: Sequence[CardCell], columns: Sequence[float], y: float
) -> Iterator[tuple[list[Text], float]]:
    x = 0.0
    for cell, wide in zip(row, columns, strict=True):
        texts, end = _paragraph(cell.text, _BODY, cell.bold, wide, y)
        yield [text.moved(x, 0.0) for text in texts if text.text], end
        x += wide + _GUTTER


def _columns(rows: Sequence[Sequence[CardCell]], width: float) -> list[float]:
    """As wide as the longest cell; where that is too much, the widest give way down to a word."""
    columns = list(zip(*rows, strict=True))
    wished = [max(map(_wide, column)) for column in columns]
    least = [max(map(_longest_word, column)) for column in columns]
    over = sum(wished) + _GUTTER * (len(wished) - 1) - width
    while over > 1e-6:
        spare = [one - low for one, low in zip(wished, least, strict=True)]
        widest = max(range(len(wished)), key=lambda n: (spare[n] > 1e-6, wished[n]))
        if spare[widest] <= 1e-6:
            return [one * (1.0 - over / sum(wished)) for one in wished]
        less = min(over, spare[widest], 1.0)
        wished[widest] -= less
        over -= less
    return wished


def _wide(cell: CardCell) -> float:
    return width_mm(visible(cell.text), _BODY, cell.bold) + 0.1


def _longest_word(cell: CardCell) -> float:
    return max(_wide(replace(cell, text=word)) for word in cell.text.split(" "))
