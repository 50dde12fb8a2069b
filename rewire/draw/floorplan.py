"""Which block of a page stands where: blocks under and beside each other, cut by straight lines.

A few plans are tried on the paper upright, then lying, then on larger paper. Of those that hold all
blocks on the first such paper, the one that leaves least of it blank is taken. A plan is a tree of
cuts, a slicing floorplan, and a block says how high it is at each width: the shape functions of
Stockmeyer, Information and Control 57 (1983).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

from rewire.draw.scene import XY, Box, Panel

_STEP = 8.0
"""From one place of an upright cut to the next that is tried, mm."""
HAIR = 0.1
"""What a page may lack, mm."""
_DOUBLED = 8
"""How often the paper may be doubled."""
RULE = "rule"
"""What a cut is called among the blocks."""


@dataclass(frozen=True, slots=True)
class Area:
    """A block: the room it needs and the room it can use, mm."""

    height: Callable[[float], float]
    """Width → the least height; infinite where that is too narrow."""
    most: Callable[[float], float]
    """Width → the greatest height that is of use."""
    used: Callable[[float, float], float]
    """Width and height → how much of them is filled, mm²."""
    paint: Callable[[float, float], Panel]
    """Width and height → what stands in them."""
    widths: tuple[float, ...] = ()
    """At which it fits just so."""


@dataclass(frozen=True, slots=True)
class Under:
    """Blocks one under another."""

    parts: tuple[Tree, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """Two blocks beside each other."""

    left: Tree
    right: Tree


Tree = str | Under | Beside
Cells = Mapping[str, Area]
Spot = tuple[str, Box]


def _under(*parts: Tree) -> Tree:
    """Blocks one under another; one alone is itself."""
    return parts[0] if len(parts) == 1 else Under(parts)


_BESIDE = Beside("circuit", _under("buy", "reads"))
_BEFORE = Beside("before", "knob")
_PLANS: tuple[Tree, ...] = (
    _under("hook-up", _BESIDE, "meters", _BEFORE),
    _under("hook-up", Beside("circuit", _under("buy", "reads", "meters")), _BEFORE),
    _under("hook-up", Beside("circuit", _under("buy", "reads", _BEFORE)), "meters"),
    _under("hook-up", Beside("circuit", _under("buy", "reads", "meters", _BEFORE))),
    _under("hook-up", "circuit", Beside("buy", "reads"), "meters", _BEFORE),
    _under("hook-up", "circuit", Beside(_under("buy", "reads"), _under("meters", _BEFORE))),
    _under("hook-up", "circuit", "meters", Beside(Beside("buy", "reads"), _BEFORE)),
    Beside(_under("hook-up", "meters", _BEFORE), _under("circuit", Beside("buy", "reads"))),
    Beside(_under("hook-up", _BEFORE), _under("circuit", "meters", Beside("buy", "reads"))),
    Beside(_under("hook-up", "meters"), _under("circuit", Beside("buy", "reads"), _BEFORE)),
    Beside("hook-up", _under("circuit", Beside("buy", "reads"), "meters", _BEFORE)),
    Beside(_under("hook-up", Beside("buy", "reads")), _under("circuit", "meters", _BEFORE)),
    _under(Beside("hook-up", "circuit"), Beside(_under("buy", "meters"), _under("reads", _BEFORE))),
)
"""Where blocks may stand, the usual one first."""


class FloorPlan(NamedTuple):
    """Where every block stands, and how much of the paper they fill, mm²."""

    filled: float
    spots: list[Spot]


def papers(width: float, height: float) -> Iterator[XY]:
    """The paper upright, then lying; then of twice the size, lying first: two pages in one."""
    yield width, height
    for _ in range(_DOUBLED):
        yield height, width
        width, height = height, 2 * width
        yield height, width
        yield width, height


def fullest_plan(cells: Cells, width: float, room: float) -> FloorPlan | None:
    """Of the plans that fit in a room of that width and height, mm, the one that fills it most."""
    found = []
    for tree in dict.fromkeys(_pruned(plan, cells) for plan in _PLANS):
        if tree is None:
            return FloorPlan(0.0, [])
        if _least_height(tree, width, cells) <= room + HAIR:
            box = Box(0.0, 0.0, width, min(room, _most(tree, width, cells)))
            spots = list(_spots(tree, box, cells))
            filled = (cells[n].used(b.width, b.height) for n, b in spots if n != RULE)
            found.append(FloorPlan(sum(filled), spots))
    return max(found, key=lambda plan: plan.filled, default=None)


def _pruned(tree: Tree, cells: Cells) -> Tree | None:
    """The plan without the blocks that there are not."""
    if isinstance(tree, str):
        return tree if tree in cells else None
    kept = tree.parts if isinstance(tree, Under) else (tree.left, tree.right)
    parts = tuple(part for one in kept if (part := _pruned(one, cells)) is not None)
    if len(parts) < 2:
        return parts[0] if parts else None
    return Under(parts) if isinstance(tree, Under) else Beside(*parts)


def _least_height(tree: Tree, width: float, cells: Cells) -> float:
    """The height that a plan needs at a width, mm; infinite where it is too narrow."""
    if isinstance(tree, str):
        return cells[tree].height(width)
    if isinstance(tree, Under):
        return sum(_least_height(part, width, cells) for part in tree.parts)
    left = _cut(tree, width, cells)
    return max(
        _least_height(tree.left, left, cells), _least_height(tree.right, width - left, cells)
    )


def _cut(tree: Beside, width: float, cells: Cells) -> float:
    """Where an upright cut makes both sides lowest, and as even as can be."""

    def heights(left: float) -> tuple[float, float]:
        both = (
            _least_height(tree.left, left, cells),
            _least_height(tree.right, width - left, cells),
        )
        return max(both), max(both) - min(both) if max(both) < inf else inf

    tried = [n * _STEP for n in range(2, int(width / _STEP) - 1)]
    tried += _widths(tree.left, cells)
    tried += [width - right for right in _widths(tree.right, cells)]
    return min((left for left in tried if 0.0 < left < width), key=heights, default=width / 2)


def _widths(tree: Tree, cells: Cells) -> Iterator[float]:
    """The widths at which a block of the tree, from edge to edge, fits just so."""
    if isinstance(tree, str):
        yield from cells[tree].widths
    elif isinstance(tree, Under):
        for part in tree.parts:
            yield from _widths(part, cells)


def _most(tree: Tree, width: float, cells: Cells) -> float:
    if isinstance(tree, str):
        return cells[tree].most(width)
    if isinstance(tree, Under):
        return sum(_most(part, width, cells) for part in tree.parts)
    left = _cut(tree, width, cells)
    return max(_most(tree.left, left, cells), _most(tree.right, width - left, cells))


def _spots(tree: Tree, box: Box, cells: Cells) -> Iterator[Spot]:
    if isinstance(tree, str):
        yield tree, box
    elif isinstance(tree, Beside):
        x = box.left + _cut(tree, box.width, cells)
        yield from _spots(tree.left, Box(box.left, box.top, x, box.bottom), cells)
        yield RULE, Box(x, box.top, x, box.bottom)
        yield from _spots(tree.right, Box(x, box.top, box.right, box.bottom), cells)
    else:
        y = box.top
        for part, tall in zip(tree.parts, _shares(tree, box, cells), strict=True):
            if y > box.top:
                yield RULE, Box(box.left, y, box.right, y)
            yield from _spots(part, Box(box.left, y, box.right, y + tall), cells)
            y += tall


def _shares(tree: Under, box: Box, cells: Cells) -> list[float]:
    """Heights: what each must have, and of the rest what each has use for; the last has the end."""
    least = [_least_height(part, box.width, cells) for part in tree.parts]
    wished = [_most(part, box.width, cells) - low
              for part, low in zip(tree.parts, least, strict=True)]  # fmt: skip
    rest = max(0.0, box.height - sum(least))
    share = min(1.0, rest / sum(wished)) if sum(wished) else 0.0
    heights = [low + share * more for low, more in zip(least, wished, strict=True)]
    heights[-1] += box.height - sum(heights)
    return heights
