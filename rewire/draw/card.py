"""The card: the whole swap on one page. Blocks in thin frames, as high as what stands in them.

Whoever makes the card says what stands in its blocks, ``floorplan`` says where each of them stands.
Where there is room, letters and pictures are drawn larger; where there is too little the paper is
taken larger, the letters never smaller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from math import inf
from typing import NamedTuple

from rewire.draw.floorplan import HAIR, RULE, Area, Cells, Spot, fullest_plan, papers
from rewire.draw.scene import (
    MARGIN,
    PAPER,
    XY,
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
    longest_word_mm,
    middle_baseline,
    scaled,
    shortened,
    text_at,
    visible,
    width_mm,
    wrap,
)

SIZES = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
"""Of the letters of the blocks, points: the first with which all of them fit; none is smaller."""
_LEAST = 8.0
"""Of any letter, and of those in a picture as it was drawn, points."""
_BELOW, _ALIKE = 1.1, 1.15
"""Letters of a card are at most so many times smaller than those of its lists, and the largest of
all so many times larger than the smallest; headings are larger."""
DANGER = 9.0
"""Size of the words in the danger line, points."""
_HEAD, _LOWER, _TITLE = 9.0, 11.0, 13.0
_PAD = 2.0
"""From the frame of a block to what stands in it, mm."""
_CLEAR = 0.4
"""From the frame to a picture, mm."""
_GUTTER = 1.8
_LEAST_LOOSE = 40.0
"""Width of a column whose cells go on in a second line, mm, if it has no shorter words alone."""
_NARROWEST = 50.0
"""Width of sentences, mm."""
_FRAME, _RULE = 0.35, 0.25
_TICK = 2.5
_SPARSE, _NARROWER = 0.8, (175.0, 155.0)
"""Where less than this share of the sheet is filled, pictures are also tried as they come out on
paper of so many mm, to be drawn larger."""
Drawing = Callable[[float], Iterable[Panel]]
"""Width that is there, mm → a picture in as many ways as it can be drawn."""


@dataclass(frozen=True, slots=True)
class CardLine:
    """A line of a block; with ``tick`` it has a box before it."""

    text: str
    tick: bool = False
    bold: bool = False


@dataclass(frozen=True, slots=True)
class CardBlock:
    """A heading, a table of words under it, then lines."""

    heading: str = ""
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[CardLine, ...] = ()
    bold: int | None = None
    """The row in bold letters; None has the first column so."""
    loose: int | None = None
    """The column whose cells may go on in a second line."""


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
    blocks: Mapping[str, CardBlock]
    """``buy``, ``reads``, ``meters``, ``before``; ``hook-up`` where words stand for its picture."""
    foot: str
    origin: str
    headings: Mapping[str, str] = field(default_factory=dict)
    """Of the pictures."""


class _Made(NamedTuple):
    """A card, and the share of its sheet that is filled."""

    scene: Scene
    filled: float


def card_scene(card: Card, pictures: Mapping[str, Drawing], paper: Paper) -> Scene:
    """The card on the smallest sheet that holds it, with the pictures that there are."""
    wide = {name: _drawn(make, PAPER[paper][0]) for name, make in pictures.items()}
    for size in papers(*PAPER[paper]):
        made = _on(card, wide, size)
        if made is None:
            continue
        if made.filled < _SPARSE and size == PAPER[paper]:
            narrower = {name: [panel for paper_wide in _NARROWER
                               for panel in _drawn(make, paper_wide)]
                        for name, make in pictures.items()}  # fmt: skip
            every = {name: tuple(dict.fromkeys((*wide[name], *narrower[name]))) for name in wide}
            other = _on(card, every, size)
            made = other if other and other.filled > made.filled else made
        return made.scene
    raise AssertionError(f"no paper holds the card of {card.title}")


def _on(card: Card, drawn: Mapping[str, Sequence[Panel]], size: XY) -> _Made | None:
    """The card on paper of this size; None where it does not fit."""
    width = size[0] - 2 * MARGIN
    for points in SIZES:
        top, foot = _top(card, points, width), _foot(card, points, width)
        room = size[1] - 2 * MARGIN - top.height - foot.height
        found = [(plan, cells) for cells in _choices(card, points, drawn)
                 if (plan := fullest_plan(cells, width, room))]  # fmt: skip
        if found:
            plan, cells = max(found, key=lambda one: one[0].filled)
            panel = _painted(plan.spots, cells, width)
            return _Made(_sheet(card, size, (top, panel, foot)), plan.filled / (width * room))
    return None


def _choices(card: Card, points: float, drawn: Mapping[str, Sequence[Panel]]) -> Iterator[Cells]:
    """The blocks with each way in which a picture came out."""
    words = {name: _words(block, points) for name, block in card.blocks.items()}
    known = {name: panels for name, panels in drawn.items() if panels}
    for panels in product(*known.values()):
        pictures = zip(known, panels, strict=True)
        yield {**words, **{n: _picture(card.headings.get(n, ""), p, points) for n, p in pictures}}


def _drawn(make: Drawing, width: float) -> tuple[Panel, ...]:
    """A picture as it comes out on paper of that width, if it does."""
    return tuple(map(_trimmed, make(width - 2 * MARGIN - 2.0)))


def _painted(found: Sequence[Spot], cells: Cells, width: float) -> Panel:
    """All blocks and the lines between them."""
    items: list[Item] = []
    for name, box in found:
        if name == RULE:
            items.append(_rule(box))
        else:
            items += cells[name].paint(box.width, box.height).moved(box.left, box.top).items
    return Panel(tuple(items), width, max((box.bottom for _, box in found), default=0.0))


def _sheet(card: Card, size: XY, panels: Sequence[Panel]) -> Scene:
    """Title, blocks and foot under each other in one frame."""
    items: list[Item] = []
    y = MARGIN
    for number, panel in enumerate(panels):
        if number:
            items.append(_rule(Box(MARGIN, y, MARGIN + panel.width, y)))
        items += panel.moved(MARGIN, y).items
        y += panel.height
    box = Box(MARGIN, MARGIN, size[0] - MARGIN, y)
    frame = Symbol("frame", box, "frame", width=_FRAME, fill=None, backdrop=True)
    return Scene(*size, (frame, *items), visible(card.title))


def _rule(box: Box) -> Symbol:
    """A line that joins nothing, so that nobody reads it as a wire."""
    return Symbol("rule", box, "frame", width=_RULE, fill=None, backdrop=True)


# Title and foot -----------------------------------------------------------------------------


def _top(card: Card, points: float, width: float) -> Panel:
    """The title, and what is dangerous under it."""
    items = list(_title(card, points, width))
    y = max(item.box.bottom for item in items) + 1.2
    for said in card.dangers:
        texts, end = _paragraph(said, max(DANGER, _small(points)), True, width - 2 * _PAD, y + 1.0)
        bar = Symbol("bar", Box(0.0, y, width, end + 1.2), "danger", width=0.0, fill="black")
        white = (replace(t.moved(_PAD, 0.0), grey=1.0, shows="danger", on="danger") for t in texts)
        items += (bar, *white)
        y = end + 1.2
    return Panel(tuple(items), width, y)


def _small(points: float) -> float:
    """The smallest letters on a card whose lists have letters of some points."""
    return max(_LEAST, points / _BELOW)


def _title(card: Card, points: float, width: float) -> Iterator[Item]:
    said = visible(card.verdict)
    badge = width_mm(said, _HEAD, bold=True) + 5.0
    box = Box(width - _PAD - badge, _PAD - 0.6, width - _PAD, _PAD + 4.8)
    fill, grey = ("black", 1.0) if card.broken else ("white", 0.0)
    yield Symbol("badge", box, "verdict", width=_FRAME, fill=fill)
    baseline = middle_baseline(box.centre[1], _HEAD)
    yield text_at(said, box.centre[0], baseline, _HEAD, "centre", bold=True, grey=grey,
                  shows="verdict", on="verdict")  # fmt: skip
    room = box.left - _PAD - _GUTTER
    fits = width_mm(visible(card.title), _TITLE, bold=True) <= room
    texts, y = _paragraph(card.title, _TITLE if fits else _LOWER, True, room, _PAD - 1.0, most=2)
    y = max(y, box.bottom + 0.2)
    for line in card.subtitles:
        more, y = _paragraph(line, _small(points), False, width - 2 * _PAD, y, most=2)
        texts += more
    yield from (text.moved(_PAD, 0.0) for text in texts)


def _foot(card: Card, points: float, width: float) -> Panel:
    origin, small = visible(card.origin), _small(points)
    room = width - 2 * _PAD - width_mm(origin, small) - _GUTTER
    texts, y = _paragraph(card.foot, small, False, room, 1.0)
    right = text_at(origin, width - _PAD, texts[0].y, small, "right")
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


# Pictures -----------------------------------------------------------------------------------


def _picture(heading: str, panel: Panel, points: float) -> Area:
    """A picture under its heading, or beside it, its letters about as large as those of lists."""
    texts, below = _heading(heading, points, inf) if heading else ([], _CLEAR)
    least, most_times = _small(points) / _LEAST, _ALIKE * _small(points) / _LEAST
    head = [text.moved(_PAD, 0.0) for text in texts]
    top = _top_of(scaled(panel, least), head, below)

    def larger(width: float, height: float) -> float:
        down = (height - top - _CLEAR) / panel.height
        return min((width - 2 * _CLEAR) / panel.width, down, most_times)

    def height(width: float) -> float:
        fits = larger(width + HAIR, inf) >= least
        return top + least * panel.height + _CLEAR if fits else inf

    def most(width: float) -> float:
        return top + larger(width, inf) * panel.height + _CLEAR

    def used(width: float, height: float) -> float:
        return larger(width, height) ** 2 * panel.width * panel.height

    def paint(width: float, height: float) -> Panel:
        drawn = scaled(panel, max(least, larger(width, height)))
        down = top + (height - top - _CLEAR - drawn.height) / 2
        moved = drawn.moved((width - drawn.width) / 2, down)
        return Panel((*head, *moved.items), width, height)

    return Area(height, most, used, paint, (least * panel.width + 2 * _CLEAR,))


def _heading(said: str, points: float, width: float) -> tuple[list[Text], float]:
    """What stands over a block whose letters have some points, and where it ends, mm."""
    return _paragraph(said, points + 1.0, True, width, _PAD - 0.8)


def _top_of(panel: Panel, head: Sequence[Text], below: float) -> float:
    """Where a picture begins: beside its heading if nothing of it is there, else below."""
    boxes = (item.box.moved(_CLEAR, _CLEAR).grown(_CLEAR) for item in panel.items)
    return below if any(box.meets(text.box) for box in boxes for text in head) else _CLEAR


def _trimmed(panel: Panel) -> Panel:
    """A picture without the blank paper round it."""
    if not panel.items:
        return panel
    box = hull(item.box for item in panel.items).grown(0.5)
    return replace(panel.moved(-box.left, -box.top), width=box.width, height=box.height)


# Words --------------------------------------------------------------------------------------


def _words(block: CardBlock, points: float) -> Area:
    """Words in their frame, as high as they must be."""
    drawn = cache(lambda width: _block(block, points, width))

    def height(width: float) -> float:
        panel = drawn(width)
        return panel.height if panel else inf

    def paint(width: float, _: float) -> Panel:
        panel = drawn(width) or Panel((), width, inf)
        return panel.moved(_PAD, 0.0)

    def used(width: float, _: float) -> float:
        panel = drawn(width)
        if panel is None or not panel.items:
            return 0.0
        return panel.height * (max(item.box.right for item in panel.items) + 2 * _PAD)

    return Area(height, height, used, paint)


def _block(block: CardBlock, points: float, width: float) -> Panel | None:
    """Heading, table and lines; None where the table is too wide, or lines get a word each."""
    room = width - 2 * _PAD
    if block.lines and room < _NARROWEST:
        return None
    texts, y = _heading(block.heading, points, room)
    items: list[Item] = [*texts] if block.heading else []
    rows = _table(block, points, room, (y if block.heading else _PAD - 0.8) + 0.4)
    if rows is None:
        return None
    lines, y = _lines(block.lines, points, room, rows[1] + (0.5 if rows[0] else 0.0))
    items += (*rows[0], *lines)
    return Panel(tuple(items), width, y + _PAD - 1.0)


def _lines(
    lines: Sequence[CardLine], points: float, width: float, y: float
) -> tuple[list[Item], float]:
    """Lines one under another; ticks that are short share one."""
    items: list[Item] = []
    x, bottom = 0.0, y
    for line in lines:
        indent = _TICK + 1.4 if line.tick else 0.0
        needed = indent + width_mm(visible(line.text), points, line.bold)
        if not line.tick or x + needed > width:
            x, y = 0.0, bottom
        texts, end = _paragraph(line.text, points, line.bold, width - indent, y)
        if line.tick:
            middle = texts[0].y - 0.36 * texts[0].ascent / 0.78
            box = Box(x + 0.2, middle - _TICK / 2, x + 0.2 + _TICK, middle + _TICK / 2)
            items.append(Symbol("box", box, "tick", width=_RULE))
        items += (text.moved(x + indent, 0.0) for text in texts)
        bottom = max(bottom, end + 0.2)
        x = x + needed + 2 * _GUTTER if line.tick else width
    return items, bottom


def _table(
    block: CardBlock, points: float, width: float, y: float
) -> tuple[list[Item], float] | None:
    """Rows under their head; a column is as wide as its words, and one may go on in more lines.

    None where that is too wide.
    """
    heavy = block.rows[block.bold] if block.bold is not None else None
    rows = [*([block.head] if any(block.head) else []), *block.rows]
    cells = [
        [(visible(text), row in (block.head, heavy) or (heavy is None and n == 0))
         for n, text in enumerate(row)] for row in rows
    ]  # fmt: skip
    columns = _columns(cells, points, width, block.loose)
    if columns is None:
        return None
    items: list[Item] = []
    for row in cells:
        x, bottom = 0.0, y + line_mm(points)
        for (text, bold), wide in zip(row, columns, strict=True):
            texts, end = _paragraph(text, points, bold, wide, y)
            items += (one.moved(x, 0.0) for one in texts if one.text)
            x, bottom = x + wide + _GUTTER, max(bottom, end)
        y = bottom + 0.1
    return items, y


def _columns(
    rows: Sequence[Sequence[tuple[str, bool]]], points: float, width: float, loose: int | None
) -> list[float] | None:
    """As wide as the longest cell; where that is too wide, the loose one has what is left.

    Where none is said to be loose it is the widest.
    """
    wide = [max(width_mm(text, points, bold) + 0.1 for text, bold in column)
            for column in zip(*rows, strict=True)]  # fmt: skip
    spare = width - sum(wide) - _GUTTER * (len(wide) - 1)
    if spare < 0.0 and wide:
        loose = wide.index(max(wide)) if loose is None else loose
        words = [longest_word_mm(row[loose][0], points, row[loose][1]) + 0.1 for row in rows]
        least = min(_LEAST_LOOSE, max(words))
        wide[loose] += spare
        spare = wide[loose] - least
    return wide if spare >= 0.0 else None
