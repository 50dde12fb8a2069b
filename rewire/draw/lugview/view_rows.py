"""Rows and columns of lugs with their labels, from plan to panel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rewire.draw.finish import joints, number_jumpers
from rewire.draw.lugview.arrange import Grid
from rewire.draw.lugview.labels import FORK as BRANCH, blocks_for, paint_block
from rewire.draw.lugview.landings import Jumper, Landing, numbers_of
from rewire.draw.lugview.lugs import Face, paint_lug
from rewire.draw.lugview.place_rows import Frame, centres, place_columns, place_rows
from rewire.draw.lugview.plan_rows import RowPlan, cells_of, plan_rows
from rewire.draw.lugview.route_rows import FORK, jumper_lines, leader_line
from rewire.draw.lugview.springs import springs
from rewire.draw.scene import Box, Item, Line, Panel, Symbol, hull

_LEAST_ROOM = 28.0
"""Labels want at least this, mm; with less the columns are shared out."""


def rows_panel(
    grid: Grid,
    faces: Mapping[str, Face],
    labels: Sequence[Landing],
    jumpers: Sequence[Jumper],
    net_of: Mapping[str, str],
    width: float,
) -> Panel | None:
    """The switch in the middle of ``width`` mm, or None where several columns are too wide.

    Jumpers that find no way become labels.
    """
    drawn, spoken = list(jumpers), list(labels)
    while True:
        plan = plan_rows(grid, drawn)
        frame = place_columns(grid, faces, plan)
        room = (width - frame.width) / (1 if grid.pile else 2) - FORK
        if room < _LEAST_ROOM and len(grid.rows[0]) > 1:
            return None
        place_rows(grid, frame, plan, blocks_for(grid.lugs, spoken, room - BRANCH))
        lines = jumper_lines(grid, frame, plan, faces, net_of)
        leaders = _leaders(grid, frame, plan, net_of)
        upright = _lugs_and_labels(grid, frame, faces, net_of)
        solid = [item.box for item in upright if not isinstance(item, Line)]
        branches = [item for item in upright if isinstance(item, Line)]
        numbers, crowded = number_jumpers(lines, [*leaders, *branches], solid, numbers_of(drawn))
        given_up = [*plan.without, *_of(crowded, drawn)]
        if not given_up:
            break
        spoken.extend(end for jumper in given_up for end in jumper.landings())
        drawn = [j for j in drawn if j not in given_up]
    items: list[Item] = [
        *(springs(grid.pile, centres(grid, frame), faces, net_of) if grid.pile else ()),
        *leaders,
        *lines,
        *joints([*lines, *leaders]),
        *numbers,
    ]
    return _framed([*items, *upright], frame, width, _left(grid, frame, width))


def _of(lines: Sequence[Line], jumpers: Sequence[Jumper]) -> list[Jumper]:
    names = {line.shows for line in lines}
    return [jumper for jumper in jumpers if jumper.shows in names]


def _leaders(grid: Grid, frame: Frame, plan: RowPlan, net_of: Mapping[str, str]) -> list[Line]:
    at = centres(grid, frame)
    cells = cells_of(grid)
    return [
        leader_line(one, frame, at[one.lug], plan, cells[one.lug], net_of[one.lug])
        for one in frame.leaders
    ]


def _lugs_and_labels(
    grid: Grid, frame: Frame, faces: Mapping[str, Face], net_of: Mapping[str, str]
) -> list[Item]:
    items: list[Item] = []
    for lug, at in centres(grid, frame).items():
        items.extend(paint_lug(faces[lug], at, net_of[lug]))
    for one in frame.leaders:
        fork = -FORK if one.side < 0 else frame.width + FORK
        items.extend(paint_block(one.block, fork, one.top, one.side, net_of[one.lug]))
    return items


def _left(grid: Grid, frame: Frame, width: float) -> float:
    """Where the switch begins: in the middle, a pile at the edge that its springs are at, mm."""
    if grid.pile is None:
        return (width - frame.width) / 2
    return 0.0 if grid.pile.facing > 0 else width - frame.width


def _inside(item: Item, frame: Frame) -> bool:
    return item.box.left >= 0.0 and item.box.right <= frame.width


def _framed(items: Sequence[Item], frame: Frame, width: float, left: float) -> Panel:
    bounds = hull(item.box for item in items)
    roof = max(5.0, frame.rows[0] - min(i.box.top for i in items if _inside(i, frame)) + 1.0)
    body = Box(0.0, frame.rows[0] - roof, frame.width, frame.rows[-1] + 5.0)
    body_symbol = Symbol("box", body, "body", grey=0.75, fill="#f6f6f6", width=0.25, backdrop=True)
    top = min(bounds.top, body.top)
    shift = (left, 1.0 - top)
    height = max(bounds.bottom, body.bottom) - top + 3.0
    return Panel(tuple(i.moved(*shift) for i in [body_symbol, *items]), width, height)
