"""Labels: the texts at the end of the leader that leaves a lug.

A lug has one leader however many things land on it; at its end the leader
forks, one branch for each label.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rewire.draw.lugview.landings import Landing
from rewire.draw.measure import line_mm, middle_baseline, text_at, visible, wrap
from rewire.draw.scene import XY, Dash, Item, Line, Symbol, around
from rewire.draw.swatches import SWATCH, swatch

POINTS = 7.5
GAP = 1.1
"""Between one label and the next, mm."""
FORK = 2.4
"""From the fork to the text, mm."""
_TIGHT = 1.2


@dataclass(frozen=True, slots=True)
class Entry:
    """One label: its lines of text and where its branch meets it."""

    landing: Landing
    lines: tuple[str, ...]

    @property
    def height(self) -> float:
        """Millimetres, without the gap to the next label."""
        return len(self.lines) * line_mm(POINTS)


@dataclass(frozen=True, slots=True)
class Block:
    """All labels of one lug, stacked."""

    lug: str
    entries: tuple[Entry, ...]

    @property
    def height(self) -> float:
        """Millimetres, gaps between the labels counted."""
        return sum(e.height for e in self.entries) + GAP * (len(self.entries) - 1)

    def branches(self) -> list[float]:
        """Heights of the branches below the top of the block: the middle of each first line."""
        heights: list[float] = []
        top = 0.0
        for entry in self.entries:
            heights.append(top + line_mm(POINTS) / 2)
            top += entry.height + GAP
        return heights

    @property
    def leader_width(self) -> float:
        """Heavy where all that lands is marked, mm."""
        return thick(all(entry.landing.marked for entry in self.entries))

    @property
    def stem(self) -> float:
        """Height of the leader below the top of the block."""
        branches = self.branches()
        return (branches[0] + branches[-1]) / 2


def thick(marked: bool) -> float:
    """Width of a leader or branch, mm."""
    return 0.6 if marked else 0.25


def blocks_for(lugs: Iterable[str], landings: Iterable[Landing], room: float) -> dict[str, Block]:
    """The labels of every lug that has any, wrapped into ``room`` mm from the branch's end on."""
    by_lug: dict[str, list[Landing]] = {}
    for landing in landings:
        by_lug.setdefault(landing.lug, []).append(landing)
    return {
        lug: Block(lug, tuple(_entry(landing, room) for landing in by_lug[lug]))
        for lug in lugs
        if lug in by_lug
    }


def _entry(landing: Landing, room: float) -> Entry:
    width = room - (SWATCH[0] + _TIGHT if landing.colour else 0.0)
    return Entry(landing, wrap(visible(landing.text), max(width, 8.0), POINTS, landing.marked))


def paint_block(
    block: Block, x: float, top: float, side: int, net: str | None, branch: float = FORK
) -> list[Item]:
    """The fork, swatches and texts of a block whose fork stands at ``x``.

    ``side`` is 1 where the texts run to the right of the fork and -1 to the left;
    ``branch`` mm from the fork they begin.
    """
    items: list[Item] = []
    heights = [top + h for h in block.branches()]
    lug = (f"lug:{block.lug}",)
    if len(heights) > 1:
        items.append(Line(((x, heights[0]), (x, heights[-1])), f"leader:{block.lug}", net, lug))
        items.append(joint(x, top + block.stem, block.lug, net))
    for entry, y in zip(block.entries, heights, strict=True):
        items.extend(_paint_entry(entry, (x, y), (side, branch), net, lug))
    return items


def joint(x: float, y: float, lug: str, net: str | None) -> Symbol:
    """The dot where lines of one net meet."""
    return Symbol("joint", around((x, y), 1.0, 1.0), f"joint:{lug}", net, fill="black")


def _paint_entry(
    entry: Entry, at: XY, run: tuple[int, float], net: str | None, lug: tuple[str, ...]
) -> list[Item]:
    (x, y), (side, branch) = at, run
    landing = entry.landing
    dash: Dash = "dotted" if landing.kind == "net" else "solid"
    end = x + side * (branch - 0.6)
    items: list[Item] = [
        Line(((x, y), (end, y)), landing.shows, net, lug, thick(landing.marked), dash)
    ]
    start = x + side * branch
    if landing.colour:
        items.extend(swatch(landing.colour, start + side * SWATCH[0] / 2, y, landing.shows))
        start += side * (SWATCH[0] + _TIGHT)
    align = "left" if side > 0 else "right"
    for number, line in enumerate(entry.lines):
        baseline = middle_baseline(y + number * line_mm(POINTS), POINTS)
        items.append(
            text_at(
                line, start, baseline, POINTS, align=align, shows=landing.shows, net=net,
                bold=landing.marked,
            )
        )  # fmt: skip
    return items
