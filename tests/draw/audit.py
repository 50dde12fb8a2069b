"""The legibility audit: what is wrong with a scene, in words; nothing means it can be read.

It knows nothing of how scenes are made and measures everything anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from rewire.draw.scene import MARGIN, XY, Box, Item, Line, Scene, Symbol, Text

_LEAST_POINTS = 8.0
"""Smaller text is not read at the bench (common practice, no source)."""
_HAIR = 0.05
"""Millimetres by which things may touch: half a printer's dot."""
_APART = 0.3
"""Lines of two nets keep this distance where they run side by side, mm; cased ones between their
edges."""
_SQUARE = 0.35
"""Greatest cosine of the angle at which lines of two nets may cross."""

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]


def audit(scene: Scene) -> list[str]:
    """Everything on one sheet that somebody could misread."""
    return [
        *_outside(scene),
        *_too_small(scene),
        *_texts_on_texts(scene.texts),
        *_texts_on_symbols(scene),
        *_symbols_on_symbols(scene.symbols),
        *_lines_through(scene),
        *_lines_on_lines(scene.lines),
    ]


def _outside(scene: Scene) -> Iterator[str]:
    room = Box(MARGIN, MARGIN, scene.width - MARGIN, scene.height - MARGIN).grown(_HAIR)
    for item in scene.items:
        box = item.box
        if (
            box.left < room.left or box.top < room.top
            or box.right > room.right or box.bottom > room.bottom
        ):  # fmt: skip
            yield f"{_called(item)} runs into the margin"


def _called(item: Item) -> str:
    if isinstance(item, Text):
        return f"text {item.text!r} ({item.shows})"
    return f"{type(item).__name__.lower()} {item.shows}"


def _too_small(scene: Scene) -> Iterator[str]:
    for text in scene.texts:
        if text.points < _LEAST_POINTS:
            yield f"{_called(text)} is smaller than {_LEAST_POINTS:g} points"


def _boxes(items: Iterable[Text | Symbol]) -> Array:
    rows = [(b.left, b.top, b.right, b.bottom) for b in (item.box for item in items)]
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


def _overlaps(first: Array, second: Array) -> Index:
    """Pairs (i, j) of boxes that share more than a hair."""
    a, b = first[:, None, :], second[None, :, :]
    apart = (
        (a[..., 0] + _HAIR >= b[..., 2]) | (b[..., 0] + _HAIR >= a[..., 2])
        | (a[..., 1] + _HAIR >= b[..., 3]) | (b[..., 1] + _HAIR >= a[..., 3])
    )  # fmt: skip
    return np.argwhere(~apart)


def _texts_on_texts(texts: Sequence[Text]) -> Iterator[str]:
    boxes = _boxes(texts)
    for i, j in _overlaps(boxes, boxes):
        if i < j:
            yield f"{_called(texts[i])} meets {_called(texts[j])}"


def _texts_on_symbols(scene: Scene) -> Iterator[str]:
    symbols = [s for s in scene.symbols if not s.backdrop]
    for i, j in _overlaps(_boxes(scene.texts), _boxes(symbols)):
        text, symbol = scene.texts[i], symbols[j]
        if text.on != symbol.shows or not text.on:
            yield f"{_called(text)} meets {_called(symbol)}"


def _symbols_on_symbols(every: Sequence[Symbol]) -> Iterator[str]:
    symbols = [s for s in every if not s.backdrop]
    boxes = _boxes(symbols)
    for i, j in _overlaps(boxes, boxes):
        first, second = symbols[i], symbols[j]
        same = first.net is not None and first.net == second.net
        if i < j and not (same and "joint" in (first.kind, second.kind)):
            yield f"{_called(first)} meets {_called(second)}"


def _segments(lines: Sequence[Line]) -> tuple[Array, npt.NDArray[np.int64]]:
    rows: list[tuple[float, float, float, float]] = []
    owners: list[int] = []
    for number, line in enumerate(lines):
        for (x0, y0), (x1, y1) in zip(line.points, line.points[1:], strict=False):
            rows.append((x0, y0, x1, y1))
            owners.append(number)
    return np.array(rows, dtype=np.float64).reshape(-1, 4), np.array(owners, dtype=np.int64)


def _halves(lines: Sequence[Line]) -> Array:
    """How far the ink of each line reaches to either side, mm; a thin line has none to speak of."""
    return np.array([line.width / 2 if line.cased else 0.0 for line in lines], dtype=np.float64)


def _entered(pieces: Array, half: Array, box: Box) -> npt.NDArray[np.bool_]:
    """Which segments, so wide, have a point in the box: clip the parameter by the four sides."""
    start, delta = pieces[:, :2], pieces[:, 2:] - pieces[:, :2]
    low, high = np.zeros(len(pieces)), np.ones(len(pieces))
    sides = ((box.left, box.right), (box.top, box.bottom))
    with np.errstate(divide="ignore", invalid="ignore"):
        for axis, (least, most) in enumerate((a - half, b + half) for a, b in sides):
            first = (least - start[:, axis]) / delta[:, axis]
            second = (most - start[:, axis]) / delta[:, axis]
            level = np.abs(delta[:, axis]) < 1e-9
            beside = level & ((start[:, axis] <= least) | (start[:, axis] >= most))
            low = np.where(level, low, np.maximum(low, np.minimum(first, second)))
            high = np.where(level, high, np.minimum(high, np.maximum(first, second)))
            high = np.where(beside, -1.0, high)
    return low < high


def _lines_through(scene: Scene) -> Iterator[str]:
    lines = scene.lines
    pieces, owners = _segments(lines)
    if not len(pieces):
        return
    half = _halves(lines)[owners]
    things: list[Text | Symbol] = [*scene.texts, *(s for s in scene.symbols if not s.backdrop)]
    for thing in things:
        inner = thing.box.grown(-_HAIR)
        for number in sorted(set(owners[_entered(pieces, half, inner)].tolist())):
            if not _belongs(lines[number], thing):
                yield f"{_called(lines[number])} runs through {_called(thing)}"


def _belongs(line: Line, thing: Text | Symbol) -> bool:
    if isinstance(thing, Text):
        return (thing.on == line.shows and bool(thing.on)) or _lug(thing.on) in line.joins
    if thing.kind == "joint":
        return line.net == thing.net
    return thing.shows == line.shows or _lug(thing.shows) in line.joins


def _lug(shows: str) -> str:
    """A lug that is shown again is still that lug."""
    return "lug:" + shows.partition(":")[2] if shows.startswith("again:") else shows


def _lines_on_lines(lines: Sequence[Line]) -> Iterator[str]:
    """Lines of different nets: never along each other, never touching, crossing square."""
    known = [line for line in lines if line.net is not None]
    pieces, owners = _segments(known)
    if not len(pieces):
        return
    nets = np.array([known[n].net for n in owners])
    half = _halves(known)
    said: set[tuple[int, int, str]] = set()
    corners = [(n, p) for n, line in enumerate(known) for p in _corners(line.points)]
    for number, piece in enumerate(pieces):
        others = np.flatnonzero(nets != nets[number])
        apart = half[owners] + half[owners[number]]
        for other, trouble in _troubles(piece, pieces[others], others, apart[others]):
            pair = (*sorted((int(owners[number]), int(owners[other]))), trouble)
            said.add(pair)  # type: ignore[arg-type]
    for number, corner in corners:
        foreign = pieces[nets != known[number].net]
        owner = owners[nets != known[number].net]
        near = np.maximum(half[owner] + half[number], 0.2)
        for hit in np.flatnonzero(_distances(corner, foreign) < near):
            pair = (*sorted((number, int(owner[hit]))), "touches")
            said.add(pair)  # type: ignore[arg-type]
    for first, second, trouble in sorted(said):
        yield f"{_called(known[first])} {trouble} {_called(known[second])}"


def _corners(points: Sequence[XY]) -> Iterator[XY]:
    """Ends, and turns sharper than an arc's."""
    yield points[0]
    for before, at, after in zip(points, points[1:], points[2:], strict=False):
        first = np.subtract(at, before)
        second = np.subtract(after, at)
        lengths = float(np.hypot(*first) * np.hypot(*second))
        if lengths > 0 and float(first @ second) / lengths < 0.95:
            yield at
    yield points[-1]


def _distances(point: XY, pieces: Array) -> Array:
    start, delta = pieces[:, :2], pieces[:, 2:] - pieces[:, :2]
    square = np.maximum((delta**2).sum(axis=1), 1e-12)
    along = np.clip(((np.array(point) - start) * delta).sum(axis=1) / square, 0.0, 1.0)
    nearest = start + along[:, None] * delta
    away: Array = np.hypot(*(nearest - np.array(point)).T)
    return away


def _troubles(
    piece: Array, others: Array, index: Index, widths: Array
) -> Iterator[tuple[int, str]]:
    start, delta = piece[:2], piece[2:] - piece[:2]
    length = float(np.hypot(*delta))
    if length < 1e-9 or not len(others):
        return
    unit = delta / length
    other = others[:, 2:] - others[:, :2]
    lengths = np.maximum(np.hypot(other[:, 0], other[:, 1]), 1e-9)
    cosine = np.abs(other @ unit) / lengths
    from_start, to_end = others[:, :2] - start, others[:, 2:] - start
    first, last = from_start @ unit, to_end @ unit
    normal = np.array((-unit[1], unit[0]))
    aside, beyond = from_start @ normal, to_end @ normal
    shared = np.minimum(np.maximum(first, last), length) - np.maximum(np.minimum(first, last), 0.0)
    beside = (
        (cosine > 0.98) & (np.minimum(abs(aside), abs(beyond)) < _APART + widths) & (shared > 0.1)
    )
    yield from ((int(index[n]), "runs along") for n in np.flatnonzero(beside))
    with np.errstate(divide="ignore", invalid="ignore"):
        at = first + (last - first) * aside / (aside - beyond)
    crossing = (aside * beyond < 0) & (at > 0) & (at < length) & ~beside
    slanted = crossing & (cosine > _SQUARE)
    yield from ((int(index[n]), "crosses aslant") for n in np.flatnonzero(slanted))
