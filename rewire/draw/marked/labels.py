"""The words at a rung: what was, struck through; what is now, framed with its number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rewire.draw.marked.rungs import Rung, Side
from rewire.draw.measure import line_mm, middle_baseline, text_at, visible, width_mm, wrap
from rewire.draw.scene import Box, Item, Line, Symbol

POINTS = 7.0
GREY = 0.45
"""What goes, of black."""
LINE = line_mm(POINTS)
_PAD = 0.7
_BETWEEN = 0.5
STRONG = 0.6
"""Line width of what is new, mm."""


@dataclass(frozen=True, slots=True)
class Tag:
    """Lines of one side of a rung with its number, if it has one."""

    shows: str
    lines: tuple[str, ...]
    number: str
    fate: str
    """``kept``, ``removed`` or ``new``."""

    @property
    def bold(self) -> bool:
        """New is bold."""
        return self.fate == "new"

    @property
    def badge(self) -> float:
        """Width of the number's box, mm."""
        return width_mm(self.number, POINTS, bold=True) + 1.6 if self.number else 0.0

    @property
    def width(self) -> float:
        """With number and frame, mm."""
        widest = max(width_mm(line, POINTS, self.bold) for line in self.lines)
        return widest + 2 * _PAD + self.badge

    @property
    def height(self) -> float:
        """With frame, mm."""
        return LINE * len(self.lines) + (0.8 if self.fate == "new" else 0.0)


def tags_of(rung: Rung, number: int | None, width: float) -> tuple[Tag, ...]:
    """From the top down, none wider than ``width`` mm."""
    said = "" if number is None else str(number)
    tags = []
    if rung.was is not None and rung.mark in ("removed", "replaced"):
        alone = said if rung.mark == "removed" else ""
        tags.append(_tag(rung.was, alone, "removed", width))
    if rung.now is not None:
        fate = "kept" if rung.mark == "kept" else "new"
        tags.append(_tag(rung.now, said, fate, width))
    return tuple(tags)


def _tag(side: Side, number: str, fate: str, width: float) -> Tag:
    """In one line if there is room, else the value under the name, else wrapped."""
    shows = f"{fate}:{side.shows}"
    bare = Tag(shows, ("",), number, fate)
    room = width - bare.width
    whole = visible(side.text)
    if width_mm(whole, POINTS, bare.bold) <= room:
        return replace(bare, lines=(whole,))
    pieces = (piece for piece in (side.name, side.value) if piece)
    lines = (line for piece in pieces for line in wrap(visible(piece), room, POINTS, bare.bold))
    return replace(bare, lines=tuple(lines))


def natural_width(rung: Rung, number: int | None) -> float:
    """Width of the widest tag if nothing is wrapped, mm."""
    return max(tag.width for tag in tags_of(rung, number, 1000.0))


def height_of(tags: Sequence[Tag]) -> float:
    """Of all tags under each other, mm."""
    return sum(tag.height for tag in tags) + _BETWEEN * (len(tags) - 1)


def tags_at(tags: Sequence[Tag], middle: float, top: float) -> list[Item]:
    """The items of some tags, centred."""
    items: list[Item] = []
    y = top
    for tag in tags:
        left = middle - tag.width / 2
        items.extend(tag_at(tag, left, y))
        y += tag.height + _BETWEEN
    return items


def tag_at(tag: Tag, left: float, top: float) -> list[Item]:
    """The items of one tag at its top left corner."""
    items: list[Item] = []
    box = Box(left, top, left + tag.width, top + tag.height)
    if tag.number:
        items.extend(_badge(tag, Box(box.left, box.top, box.left + tag.badge, box.bottom)))
    if tag.fate == "new":
        field = Box(box.left + tag.badge, box.top, box.right, box.bottom)
        items.append(Symbol("frame", field, tag.shows, width=0.35))
    middle = (box.left + tag.badge + box.right) / 2
    first = box.top + (tag.height - LINE * len(tag.lines)) / 2
    for number, line in enumerate(tag.lines):
        height = first + LINE * (number + 0.5)
        text = text_at(
            line, middle, middle_baseline(height, POINTS), POINTS, align="centre", bold=tag.bold,
            grey=GREY if tag.fate == "removed" else 0.0, shows=tag.shows, on=tag.shows,
        )  # fmt: skip
        items.append(text)
        if tag.fate == "removed" and line.strip():
            ends = ((text.x - 0.3, height), (text.x + text.width + 0.3, height))
            items.append(Line(ends, tag.shows, width=0.3, grey=0.25))
    return items


def _badge(tag: Tag, box: Box) -> list[Item]:
    shows = f"number:{tag.number}:{tag.shows}"
    new = tag.fate == "new"
    ground = Symbol(
        "frame", box, shows, width=0.35 if new else 0.2, dash="solid" if new else "dashed",
        fill="black" if new else "white", grey=0.0 if new else GREY,
    )  # fmt: skip
    x, y = box.centre
    text = text_at(
        tag.number, x, middle_baseline(y, POINTS), POINTS, align="centre", bold=True,
        grey=1.0 if new else GREY, shows=shows, on=shows,
    )  # fmt: skip
    return [ground, text]
