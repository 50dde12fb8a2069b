"""Which block of a page stands where: blocks under and beside each other, cut by straight lines.

A plan is a tree of cuts, a slicing floorplan, and a block says how high it is at each width: the
shape functions of Stockmeyer, Information and Control 57 (1983).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from rewire.draw.scene import Box, Panel

_STEP = 8.0
"""From one place of an upright cut to the next that is tried, mm."""
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


def under(*parts: Tree) -> Tree:
    """Blocks one under another; one alone is itself."""
    return parts[0] if len(parts) == 1 else Under(parts)


def pruned(tree: Tree, cells: Cells) -> Tree | None:
    """The plan without the blocks that there are not."""
    if isinstance(tree, str):
        return tree if tree in cells else None
    kept = tree.parts if isinstance(tree, Under) else (tree.left, tree.right)
    parts = tuple(part for one in kept if (part := pruned(one, cells)) is not None)
    if len(parts) < 2:
        return parts[0] if parts else None
    return Under(parts) if isinstance(tree, Under) else Beside(*parts)


def least_height(tree: Tree, width: float, cells: Cells) -> float:
    """The height that a plan needs at a width, mm; infinite where it is too narrow."""
    if isinstance(tree, str):
        return cells[tree].height(width)
    if isinstance(tree, Under):
        return sum(least_height(part, width, cells) for part in tree.parts)
    left = _cut(tree, width, cells)
    return max(least_height(tree.left, left, cells), least_height(tree.right, width - left, cells))


def _cut(tree: Beside, width: float, cells: Cells) -> float:
    """Where an upright cut makes both sides lowest, and as even as can be."""

    def heights(left: float) -> tuple[float, float]:
        both = (
            least_height(tree.left, left, cells),
            least_height(tree.right, width - left, cells),
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


def spots(tree: Tree, width: float, height: float, cells: Cells) -> list[Spot]:
    """Where each block stands, and every cut, in a room of that width and at most that height."""
    return list(_spots(tree, Box(0.0, 0.0, width, min(height, _most(tree, width, cells))), cells))


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
    least = [least_height(part, box.width, cells) for part in tree.parts]
    wished = [_most(part, box.width, cells) - low
              for part, low in zip(tree.parts, least, strict=True)]  # fmt: skip
    rest = max(0.0, box.height - sum(least))
    share = min(1.0, rest / sum(wished)) if sum(wished) else 0.0
    heights = [low + share * more for low, more in zip(least, wished, strict=True)]
    heights[-1] += box.height - sum(heights)
    return heights


def area_filled(found: Sequence[Spot], cells: Cells) -> float:
    """How much of the room the blocks fill, mm²."""
    return sum(cells[name].used(box.width, box.height) for name, box in found if name != RULE)
