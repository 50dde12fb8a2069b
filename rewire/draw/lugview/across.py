"""Jumpers from one deck to another: upright lanes between the forks and the labels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rewire.draw.lugview.arrange import Wafer
from rewire.draw.lugview.labels import FORK
from rewire.draw.lugview.landings import Jumper, thickness
from rewire.draw.scene import Line, Panel, Symbol, around

LANE = 1.6
"""From one lane to the next, mm."""
_MOST = 8
_LEFT, _RIGHT = -1, 1


def sides_for(wafers: Sequence[Wafer], jumpers: Iterable[Jumper]) -> dict[str, int]:
    """Sides for lugs at twelve and six o'clock, so that both ends of a jumper leave alike."""
    angle = {lug: at for wafer in wafers for lug, at in wafer.outer + wafer.inner}
    prefer: dict[str, int] = {}
    for jumper in jumpers:
        first, second = jumper.ends
        sides = [_side(angle[lug]) or prefer.get(lug, 0) for lug in jumper.ends]
        common = sides[0] or sides[1] or _LEFT
        prefer.setdefault(first, common)
        prefer.setdefault(second, common)
    return prefer


def _side(angle: float) -> int:
    if angle % 180 == 0:
        return 0
    return _RIGHT if angle < 180 else _LEFT


def branch_for(jumpers: Sequence[Jumper]) -> float:
    """Room from a fork to its labels where lanes run between, mm."""
    lanes = min(len(jumpers), _MOST)
    return FORK + (lanes * LANE + 0.8 if lanes else 0.0)


def linked(panel: Panel, jumpers: Sequence[Jumper]) -> Panel:
    """Join the two ends of a jumper by a lane where both leave the panel's decks on one side.

    The ends keep their labels, which say the same in words.
    """
    ends = _ends(panel)
    lanes: list[Line | Symbol] = []
    used: dict[int, int] = {}
    for jumper in jumpers:
        pair = ends.get(jumper.shows, [])
        if len(pair) != 2 or _heading(pair[0]) != _heading(pair[1]):
            continue
        side = _heading(pair[0])
        lane = used.setdefault(side, 0)
        if lane < _MOST:
            used[side] += 1
            lanes.extend(_lane(pair, side, lane, thickness(jumper)))
    return Panel((*panel.items, *lanes), panel.width, panel.height)


def _ends(panel: Panel) -> Mapping[str, list[Line]]:
    ends: dict[str, list[Line]] = {}
    for item in panel.items:
        if isinstance(item, Line) and item.shows.startswith("jumper:") and len(item.joins) == 1:
            ends.setdefault(item.shows, []).append(item)
    return ends


def _heading(branch: Line) -> int:
    return _RIGHT if branch.points[-1][0] > branch.points[0][0] else _LEFT


def _lane(pair: Sequence[Line], side: int, lane: int, width: float) -> list[Line | Symbol]:
    """Both branches begin at forks of one distance; the lane crosses them at right angles."""
    first, second = pair
    x = first.points[0][0] + side * (1.4 + lane * LANE)
    heights = [first.points[0][1], second.points[0][1]]
    upright = Line(((x, heights[0]), (x, heights[1])), first.shows, first.net, width=width)
    dots = [
        Symbol("joint", around((x, y), 1.0, 1.0), first.shows, first.net, fill="black")
        for y in heights
    ]
    return [upright, *dots]
