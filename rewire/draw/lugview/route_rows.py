"""Routing between rows and columns: all lines level or upright."""

from __future__ import annotations

from collections.abc import Mapping

from rewire.draw.lugview.arrange import Grid
from rewire.draw.lugview.landings import thickness
from rewire.draw.lugview.lugs import Face
from rewire.draw.lugview.place_rows import Frame, Leader
from rewire.draw.lugview.plan_rows import Cell, Course, RowPlan
from rewire.draw.scene import XY, Line

FORK = 4.0
"""From the edge of the switch to the forks of the labels, mm."""
_SLOT = 1.5
_STRAIGHT = 1.6
"""A straight jumper's distance from the middle of its column, mm."""


def leader_line(leader: Leader, frame: Frame, at: XY, plan: RowPlan, cell: Cell, net: str) -> Line:
    """Out of the lug and to the fork."""
    fork = -FORK if leader.side < 0 else frame.width + FORK
    if leader.straight:
        points: tuple[XY, ...] = (at, (fork, leader.y))
    else:
        x = at[0] - (0.8 if plan.straight_below(cell) else 0.0)
        points = ((x, at[1]), (x, leader.y), (fork, leader.y))
    return Line(points, f"leader:{leader.lug}", net, (f"lug:{leader.lug}",),
                leader.block.leader_width)  # fmt: skip


def jumper_lines(
    grid: Grid, frame: Frame, plan: RowPlan, faces: Mapping[str, Face], net_of: Mapping[str, str]
) -> list[Line]:
    """Every planned jumper as a line from lug to lug."""
    lines = []
    for course in plan.courses:
        first, second = (grid.rows[r][c] or "" for r, c in (course.start, course.end))
        points = _points(course, frame, plan, faces[first], faces[second])
        joins = (f"lug:{first}", f"lug:{second}")
        lines.append(
            Line(points, course.jumper.shows, net_of[first], joins, width=thickness(course.jumper))
        )
    return lines


def _points(
    course: Course, frame: Frame, plan: RowPlan, first: Face, second: Face
) -> tuple[XY, ...]:
    (r1, c1), (r2, c2) = course.start, course.end
    if course.straight:
        x = frame.columns[c1] + _STRAIGHT
        return ((x, frame.rows[r1]), (x, frame.rows[r2]))
    x1 = frame.columns[c1] + _slot(course, course.start, plan, first)
    x2 = frame.columns[c2] + _slot(course, course.end, plan, second)
    y1 = frame.track(r1, course.tracks[0])
    if course.lane is None:
        return ((x1, frame.rows[r1]), (x1, y1), (x2, y1), (x2, frame.rows[r2]))
    lane = frame.lanes[course.lane][course.place]
    y2 = frame.track(r2, course.tracks[1])
    return (
        (x1, frame.rows[r1]), (x1, y1), (lane, y1), (lane, y2), (x2, y2), (x2, frame.rows[r2]),
    )  # fmt: skip


def _slot(course: Course, cell: Cell, plan: RowPlan, face: Face) -> float:
    """Side by side on the top of the lug, those that turn left on the left.

    Where the lug is too narrow for all, they share, which is seen by a dot.
    """
    ending = [c for c in plan.courses if not c.straight and cell in (c.start, c.end)]
    order = sorted(ending, key=lambda c: _turn(c, cell))
    right = face.width / 2 - 0.9
    if plan.straight_above(cell):
        right = 0.2
    left = -(face.width / 2 - 0.9)
    slots = min(len(order), int((right - left) / _SLOT) + 1)
    middle = (left + right) / 2
    slot = order.index(course) * slots // len(order)
    return middle + (slot - (slots - 1) / 2) * _SLOT


def _turn(course: Course, cell: Cell) -> tuple[int, int]:
    """Left before right; on the left the lowest track outside, on the right inside."""
    track = course.tracks[0] if cell == course.start else course.tracks[-1]
    to = course.end[1] if cell == course.start else course.start[1]
    goes_left = course.lane <= cell[1] if course.lane is not None else to < cell[1]
    return (0, track) if goes_left else (1, -track)
