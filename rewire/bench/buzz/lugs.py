"""Lugs that are taken for others by somebody who counts from the wrong side or the wrong end."""

from __future__ import annotations

from collections.abc import Sequence

from rewire.records.lug_positions import Position, lug_positions
from rewire.records.spec import Switch


def mirrored(switch: Switch) -> dict[str, str]:
    """Lug → the lug that stands there for somebody who takes the wrong side for the right one."""
    positions = lug_positions(switch)
    if positions.round:
        return {lug: other for deck in positions.decks for lug, other in _turned(deck).items()}
    return {
        lug: other
        for row in positions.grid
        for lug, other in zip(row, reversed(row), strict=True)
        if lug is not None and other is not None
    }


def reversed_throws(switch: Switch) -> dict[str, str]:
    """Lug → lug with the throws in use counted from the other end; empty for a table."""
    used = sorted({at for at in switch.throw_at or () if at is not None})
    turned = dict(zip(used, reversed(used), strict=True))
    return {pole[at]: pole[other] for pole in switch.poles for at, other in turned.items()}


def _turned(deck: Sequence[Position]) -> dict[str, str]:
    """Each lug's mirror image: exact where the lugs allow, else counted from the other end."""
    ring = sorted(deck, key=lambda p: (p.clock or 0.0, p.inner))
    at = {_spot(p, 1): p.lug for p in ring}
    images = {p.lug: at.get(_spot(p, -1)) for p in ring}
    if None not in images.values():
        return {lug: image for lug, image in images.items() if image is not None}
    lugs = [p.lug for p in ring]
    return dict(zip(lugs, reversed(lugs), strict=True))


def _spot(lug: Position, side: int) -> tuple[bool, float]:
    return lug.inner, round(side * (lug.clock or 0.0) % 360, 3) % 360
