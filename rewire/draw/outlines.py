"""Outlines of the symbols as data: polygons in a unit box (0 to 1 each way, y down)."""

from __future__ import annotations

import math

from rewire.draw.scene import XY, Box


def _round(count: int = 40) -> tuple[XY, ...]:
    turns = (2 * math.pi * n / count for n in range(count))
    return tuple((0.5 + 0.5 * math.cos(t), 0.5 + 0.5 * math.sin(t)) for t in turns)


_SQUARE: tuple[XY, ...] = ((0, 0), (1, 0), (1, 1), (0, 1))
_OUTLINES: dict[str, tuple[XY, ...]] = {
    "square": _SQUARE,
    "swatch": _SQUARE,
    "gap": _SQUARE,
    "frame": _SQUARE,
    "bar": _SQUARE,
    "box": _SQUARE,
    "joint": _round(20),
    "disc": _round(72),
}


def _pill(box: Box) -> tuple[XY, ...]:
    radius = box.height / 2
    ends = ((box.right - radius, -90.0), (box.left + radius, 90.0))
    return tuple(
        (x + radius * math.cos(math.radians(a)), box.centre[1] + radius * math.sin(math.radians(a)))
        for x, start in ends
        for a in (start + 10 * n for n in range(19))
    )


def _cut(box: Box, along: float, across: float) -> tuple[XY, ...]:
    """A box whose corners are cut ``along`` mm from the ends and ``across`` mm from the sides."""
    left, top, right, bottom = box.left, box.top, box.right, box.bottom
    return (
        (left + along, top), (right - along, top), (right, top + across), (right, bottom - across),
        (right - along, bottom), (left + along, bottom), (left, bottom - across),
        (left, top + across),
    )  # fmt: skip


def _waisted(box: Box) -> tuple[XY, ...]:
    middle = box.centre[1]
    return (
        (box.left, box.top), (box.right, box.top), (box.right - 0.9, middle),
        (box.right, box.bottom), (box.left, box.bottom), (box.left + 0.9, middle),
    )  # fmt: skip


def _slanted(box: Box) -> tuple[XY, ...]:
    return (
        (box.left + 1.0, box.top), (box.right, box.top),
        (box.right - 1.0, box.bottom), (box.left, box.bottom),
    )  # fmt: skip


def outline(kind: str, box: Box) -> tuple[XY, ...]:
    """The closed outline of a symbol of that kind in that box, mm."""
    kind = kind.removesuffix("-double")
    if kind == "round":
        return _pill(box)
    if kind == "pointed":
        return _cut(box, min(1.3, box.width / 3), box.height / 2)
    if kind == "chamfered":
        return _cut(box, 1.0, 1.0)
    if kind == "waisted":
        return _waisted(box)
    if kind == "slanted":
        return _slanted(box)
    shape = _OUTLINES.get(kind, _SQUARE)
    return tuple((box.left + x * box.width, box.top + y * box.height) for x, y in shape)


def insets(kind: str, box: Box) -> tuple[tuple[XY, ...], ...]:
    """Further outlines inside the first: the second line of a double outline."""
    if not kind.endswith("-double"):
        return ()
    return (outline(kind, box.grown(-0.5)),)


def strokes(kind: str, box: Box) -> tuple[tuple[XY, ...], ...]:
    """Open lines that belong to a symbol: the arrow round a shaft, a moving contact."""
    if kind == "rising":
        return (((box.left, box.bottom), (box.right, box.top)),)
    if kind == "falling":
        return (((box.left, box.top), (box.right, box.bottom)),)
    if kind not in {"turns-left", "turns-right"}:
        return ()
    sign = -1 if kind == "turns-left" else 1
    x, y = box.centre
    radius = box.width / 2
    around = tuple(
        (x + radius * math.sin(math.radians(sign * a)), y - radius * math.cos(math.radians(a)))
        for a in range(-50, 231, 10)
    )
    tip = around[-1]
    back = [
        (x + (radius + d) * math.sin(math.radians(sign * 205)),
         y - (radius + d) * math.cos(math.radians(205)))
        for d in (-0.9, 0.9)
    ]  # fmt: skip
    return (around, (back[0], tip, back[1]))
