"""Faults on a picture of a wiring: a black tag with ✗ and a number at each place where one is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.draw.in_place import DrawnSoFar
from rewire.draw.scene import (
    Box,
    Item,
    Panel,
    Symbol,
    around,
    line_mm,
    middle_baseline,
    text_at,
    width_mm,
)

_POINTS = 9.0
_FARTHEST = 30.0
"""From a place to its tag, mm."""
_ROUND = 0.4
"""From a place to the ring about it, mm."""


@dataclass(frozen=True, slots=True)
class FaultMark:
    """A number, and what of a picture it belongs to, the most telling first, by ``shows``."""

    number: int
    shows: tuple[str, ...]


def with_faults(panel: Panel, marks: Sequence[FaultMark]) -> Panel | None:
    """The picture with every fault that it shows marked on it; None where it shows none."""
    items, at = list(panel.items), dict[Symbol, list[int]]()
    for mark in marks:
        place = next(filter(None, (_place(items, shows) for shows in mark.shows)), None)
        if place is not None:
            at.setdefault(place, []).append(mark.number)
    for place, numbers in at.items():
        items += _tag(items, " ".join(f"✗{number}" for number in numbers), place, panel)
    return replace(panel, items=tuple(items)) if at else None


def _place(items: Sequence[Item], shows: str) -> Symbol | None:
    drawn = (item for item in items if isinstance(item, Symbol) and item.kind != "tag")
    return next((item for item in drawn if item.shows == shows), None)


def _tag(items: Sequence[Item], said: str, place: Symbol, panel: Panel) -> Iterator[Item]:
    """A ring about the place, and the tag where there is room beside it."""
    wide, tall = width_mm(said, _POINTS, bold=True) + 1.2, line_mm(_POINTS) * 0.95
    drawn, box = DrawnSoFar(list(items), panel.width), place.box
    middle = (panel.width / 2, panel.height / 2)
    outwards = (box.centre[0] - middle[0], box.centre[1] - middle[1])
    spots = [around(at, wide, tall) for at in drawn.beside(said, box, outwards, _FARTHEST, True)]
    inside = (spot for spot in spots if spot.top >= 0.0 and spot.bottom <= panel.height)
    free: Box = next(filter(drawn.free, inside), spots[0])
    x, y = free.centre
    yield Symbol("round", box.grown(_ROUND), f"fault:{said}", width=0.7, fill=None, backdrop=True)
    yield Symbol("tag", free, f"fault:{said}", fill="black")
    base = middle_baseline(y, _POINTS)
    yield text_at(
        said, x, base, _POINTS, "centre", bold=True, grey=1.0,
        shows=f"fault:{said}", on=f"fault:{said}",
    )  # fmt: skip
