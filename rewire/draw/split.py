"""From an arrangement to panels that fit a sheet, in numbered parts where one is not enough.

Nothing is ever shrunk. Decks or columns are shared out first; where even one
does not fit, its labels are shared out and its lugs are shown again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.draw.arrange import Arrangement, Grid, Wafer
from rewire.draw.landings import Jumper, Landed, Landing
from rewire.draw.lugs import Face
from rewire.draw.scene import Item, Panel
from rewire.draw.view_rows import rows_panel
from rewire.draw.view_wafer import wafer_panel

_BETWEEN = 4.0


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of a lug view."""

    panel: Panel


@dataclass(frozen=True, slots=True)
class _Job:
    """A single wafer or grid, and what is to be said of it."""

    unit: Wafer | Grid
    faces: Mapping[str, Face]
    labels: tuple[Landing, ...]
    jumpers: tuple[Jumper, ...]


def pieces_of(
    arrangement: Arrangement,
    faces: Mapping[str, Face],
    landed: Landed,
    seen_from: str,
    width: float,
    height: float,
) -> list[Piece]:
    """Panels of at most ``height`` mm, decks in order."""
    units = [arrangement] if isinstance(arrangement, Grid) else list(arrangement)
    panels: list[Panel] = []
    for job in _jobs(units, faces, landed):
        panels.extend(_panels(job, landed.net_of, seen_from, width, height))
    return [Piece(panel) for panel in _gathered(panels, height)]


def _jobs(
    units: Sequence[Wafer | Grid], faces: Mapping[str, Face], landed: Landed
) -> list[_Job]:
    """A jumper between two units is told at both ends."""
    where = {lug: number for number, unit in enumerate(units) for lug in unit.lugs}
    across = [j for j in landed.jumpers if where[j.ends[0]] != where[j.ends[1]]]
    labels = [*landed.labels, *(end for j in across for end in j.landings())]
    return [
        _Job(
            unit,
            faces,
            tuple(each for each in labels if where[each.lug] == number),
            tuple(j for j in landed.jumpers
                  if j not in across and where[j.ends[0]] == number),
        )
        for number, unit in enumerate(units)
    ]  # fmt: skip


def _panels(
    job: _Job, net_of: Mapping[str, str], seen_from: str, width: float, height: float
) -> list[Panel]:
    panel = _draw(job, net_of, seen_from, width)
    if panel is not None and (panel.height <= height or len(job.labels) < 2):
        return [panel]
    return [
        p for half in _halves(job) for p in _panels(half, net_of, seen_from, width, height)
    ]


def _draw(job: _Job, net_of: Mapping[str, str], seen_from: str, width: float) -> Panel | None:
    if isinstance(job.unit, Grid):
        return rows_panel(job.unit, job.faces, job.labels, job.jumpers, net_of, width)
    return wafer_panel(job.unit, job.faces, job.labels, job.jumpers, net_of, width, seen_from)


def _halves(job: _Job) -> list[_Job]:
    """Columns first, then labels."""
    columns = len(job.unit.rows[0]) if isinstance(job.unit, Grid) else 1
    if columns > 1:
        return _columns_apart(job, columns // 2)
    middle = len(job.labels) // 2
    ghosts = {name: replace(face, ghost=True) for name, face in job.faces.items()}
    return [
        replace(job, labels=job.labels[:middle]),
        replace(job, labels=job.labels[middle:], jumpers=(), faces=ghosts),
    ]


def _columns_apart(job: _Job, at: int) -> list[_Job]:
    assert isinstance(job.unit, Grid)
    grids = [Grid(tuple(r[:at] for r in job.unit.rows)), Grid(tuple(r[at:] for r in job.unit.rows))]
    landed = Landed(job.labels, job.jumpers, {})
    return _jobs([_without_empty_rows(g) for g in grids], job.faces, landed)


def _without_empty_rows(grid: Grid) -> Grid:
    return Grid(tuple(row for row in grid.rows if any(lug is not None for lug in row)))


def _gathered(panels: Sequence[Panel], height: float) -> list[Panel]:
    """As many panels under each other as a sheet takes."""
    gathered: list[Panel] = []
    for panel in panels:
        last = gathered[-1] if gathered else None
        if last is not None and last.height + _BETWEEN + panel.height <= height:
            below = panel.moved(0.0, last.height + _BETWEEN).items
            items: tuple[Item, ...] = (*last.items, *below)
            gathered[-1] = Panel(items, panel.width, last.height + _BETWEEN + panel.height)
        else:
            gathered.append(panel)
    return gathered
