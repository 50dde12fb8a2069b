"""From an arrangement to panels that fit a sheet, in numbered parts where one is not enough.

Nothing is ever shrunk. Decks or columns are shared out first; where even one
does not fit, its labels are shared out and its lugs are shown again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.draw.lugview.across import branch_for, linked, sides_for
from rewire.draw.lugview.arrange import Arrangement, Grid, Wafer
from rewire.draw.lugview.landings import Jumper, Landed, Landing
from rewire.draw.lugview.lugs import Face
from rewire.draw.lugview.view_rows import rows_panel
from rewire.draw.lugview.view_wafer import Room, wafer_panel
from rewire.draw.scene import Panel

_BETWEEN = 4.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """The room for one panel, and how the switch is looked at; mm."""

    width: float
    height: float
    seen_from: str


@dataclass(frozen=True, slots=True)
class _Job:
    """A single wafer or grid, and what is to be said of it."""

    unit: Wafer | Grid
    faces: Mapping[str, Face]
    labels: tuple[Landing, ...]
    jumpers: tuple[Jumper, ...]


def panels_of(
    arrangement: Arrangement, faces: Mapping[str, Face], landed: Landed, sheet: Sheet
) -> list[Panel]:
    """Panels no taller than the sheet, decks in order."""
    if isinstance(arrangement, Grid):
        return _grid_panels(arrangement, faces, landed, sheet)
    where = {lug: number for number, wafer in enumerate(arrangement) for lug in wafer.lugs}
    across = [j for j in landed.jumpers if where[j.ends[0]] != where[j.ends[1]]]
    prefer = sides_for(arrangement, across)
    jobs = _jobs(arrangement, faces, landed)
    room = Room(sheet.width, sheet.seen_from, branch=branch_for(across))
    if across:
        forks = [_wafer(job, landed.net_of, room, prefer)[1] for job in jobs]
        room = replace(room, fork=max(forks))
    panels = [
        panel for job in jobs for panel in _wafer_panels(job, landed.net_of, room, prefer, sheet)
    ]
    return [linked(panel, across) for panel in _gathered(panels, sheet.height)]


def _jobs(units: Sequence[Wafer | Grid], faces: Mapping[str, Face], landed: Landed) -> list[_Job]:
    """A jumper between two units is told at both ends."""
    where = {lug: number for number, unit in enumerate(units) for lug in unit.lugs}
    across = [j for j in landed.jumpers if where[j.ends[0]] != where[j.ends[1]]]
    decks = {lug: number + 1 for lug, number in where.items()}
    deck = decks if isinstance(units[0], Wafer) else None
    labels = [*landed.labels, *(end for j in across for end in j.landings(deck))]
    within = [j for j in landed.jumpers if j not in across]
    return [
        _Job(
            unit,
            faces,
            tuple(each for each in labels if where[each.lug] == number),
            tuple(j for j in within if where[j.ends[0]] == number),
        )
        for number, unit in enumerate(units)
    ]


def _wafer(
    job: _Job, net_of: Mapping[str, str], room: Room, prefer: Mapping[str, int]
) -> tuple[Panel, float]:
    assert isinstance(job.unit, Wafer)
    return wafer_panel(job.unit, job.faces, job.labels, job.jumpers, net_of, room, prefer)


def _wafer_panels(
    job: _Job, net_of: Mapping[str, str], room: Room, prefer: Mapping[str, int], sheet: Sheet
) -> list[Panel]:
    panel, _ = _wafer(job, net_of, room, prefer)
    if panel.height <= sheet.height or not _can_halve(job):
        return [panel]
    return [p for half in _halves(job) for p in _wafer_panels(half, net_of, room, prefer, sheet)]


def _grid_panels(
    grid: Grid, faces: Mapping[str, Face], landed: Landed, sheet: Sheet
) -> list[Panel]:
    panels = [
        panel
        for job in _jobs([grid], faces, landed)
        for panel in _rows_panels(job, landed.net_of, sheet)
    ]
    return _gathered(panels, sheet.height)


def _rows_panels(job: _Job, net_of: Mapping[str, str], sheet: Sheet) -> list[Panel]:
    assert isinstance(job.unit, Grid)
    panel = rows_panel(job.unit, job.faces, job.labels, job.jumpers, net_of, sheet.width)
    columns = len(job.unit.rows[0])
    fits = panel is not None and panel.height <= sheet.height
    if panel is not None and (fits or (columns == 1 and not _can_halve(job))):
        return [panel]
    parts = _columns_apart(job, columns // 2) if columns > 1 else _halves(job)
    return [p for part in parts for p in _rows_panels(part, net_of, sheet)]


def _can_halve(job: _Job) -> bool:
    return len(job.labels) > 1 or len(job.jumpers) > 1


def _halves(job: _Job) -> list[_Job]:
    """The longer of labels and jumpers shared out; the second time, lugs are shown as ghosts."""
    ghosts = {name: replace(face, ghost=True) for name, face in job.faces.items()}
    if len(job.labels) >= len(job.jumpers):
        middle = len(job.labels) // 2
        return [
            replace(job, labels=job.labels[:middle]),
            replace(job, labels=job.labels[middle:], jumpers=(), faces=ghosts),
        ]
    middle = len(job.jumpers) // 2
    return [
        replace(job, jumpers=job.jumpers[:middle]),
        replace(job, jumpers=job.jumpers[middle:], labels=(), faces=ghosts),
    ]


def _columns_apart(job: _Job, at: int) -> list[_Job]:
    assert isinstance(job.unit, Grid)
    rows = job.unit.rows
    grids = [
        replace(job.unit, rows=tuple(r[cut] for r in rows), lanes=())
        for cut in (slice(at), slice(at, None))
    ]
    landed = Landed(job.labels, job.jumpers, {})
    return _jobs([_without_empty_rows(g) for g in grids], job.faces, landed)


def _without_empty_rows(grid: Grid) -> Grid:
    filled = tuple(row for row in grid.rows if any(lug is not None for lug in row))
    return replace(grid, rows=filled)


def _gathered(panels: Sequence[Panel], height: float) -> list[Panel]:
    """As many panels under each other as a sheet takes."""
    gathered: list[Panel] = []
    for panel in panels:
        last = gathered[-1] if gathered else None
        if last is not None and last.height + _BETWEEN + panel.height <= height:
            below = panel.moved(0.0, last.height + _BETWEEN).items
            tall = last.height + _BETWEEN + panel.height
            gathered[-1] = Panel((*last.items, *below), panel.width, tall)
        else:
            gathered.append(panel)
    return gathered
