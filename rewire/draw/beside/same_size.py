"""The two drawings at one size: lugs at one place as wide, tracks and lanes as many in both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rewire.draw.beside.side import Half
from rewire.draw.lugview.lugs import Grid, Wafer
from rewire.draw.lugview.rows import cells_of, plan_rows
from rewire.draw.lugview.wafers import plan_arcs


def of_one_size(one: Half, other: Half) -> tuple[Half, Half]:
    """Both with the greater width of each lug and the greater room for jumpers."""
    first, second = _as_wide(one, other)
    if isinstance(first.arrangement, Grid) and isinstance(second.arrangement, Grid):
        counts = [_lanes(half, half.arrangement) for half in (first, second)]  # type: ignore[arg-type]
        lanes = tuple(max(pair) for pair in zip(*counts, strict=True))
        return (
            replace(first, arrangement=replace(first.arrangement, lanes=lanes)),
            replace(second, arrangement=replace(second.arrangement, lanes=lanes)),
        )
    if isinstance(first.arrangement, Grid) or isinstance(second.arrangement, Grid):
        return first, second
    return _with_tracks(first, first.arrangement, second, second.arrangement)


def _with_tracks(
    one: Half, wafers: Sequence[Wafer], other: Half, others: Sequence[Wafer]
) -> tuple[Half, Half]:
    tracks = [
        max(_tracks(one, here), _tracks(other, there))
        for here, there in zip(wafers, others, strict=True)
    ]
    return (
        replace(one, arrangement=_roomy(wafers, tracks)),
        replace(other, arrangement=_roomy(others, tracks)),
    )


def _roomy(wafers: Sequence[Wafer], tracks: Sequence[int]) -> tuple[Wafer, ...]:
    return tuple(replace(w, tracks=n) for w, n in zip(wafers, tracks, strict=True))


def _tracks(half: Half, wafer: Wafer) -> int:
    own = [j for j in half.landed.jumpers if set(j.ends) <= set(wafer.lugs)]
    arcs, _ = plan_arcs(wafer, own)
    return max((arc.track + 1 for arc in arcs), default=0)


def _lanes(half: Half, grid: Grid) -> list[int]:
    used = plan_rows(grid, half.landed.jumpers).in_lane
    return [used.get(lane, 0) for lane in range(len(grid.rows[0]) + 1)]


def _as_wide(one: Half, other: Half) -> tuple[Half, Half]:
    wide: dict[object, float] = {}
    spots = [(half, _spots(half)) for half in (one, other)]
    for half, at in spots:
        for name, face in half.faces.items():
            wide[at[name]] = max(wide.get(at[name], 0.0), face.width)
    sized = [
        replace(half, faces={n: replace(f, width=wide[at[n]]) for n, f in half.faces.items()})
        for half, at in spots
    ]
    return sized[0], sized[1]


def _spots(half: Half) -> dict[str, object]:
    """Key of a lug → what it shares with its like in the other drawing."""
    if isinstance(half.arrangement, Grid):
        return {lug: column for lug, (_, column) in cells_of(half.arrangement).items()}
    return {
        lug: (number, place)
        for number, wafer in enumerate(half.arrangement)
        for place, lug in enumerate(wafer.lugs)
    }
