"""One wafer with its labels, from plan to panel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rewire.draw.arrange import Wafer
from rewire.draw.finish import joints, number_jumpers
from rewire.draw.labels import Block, block_for, paint_block
from rewire.draw.landings import Jumper, Landing
from rewire.draw.lugs import Face, paint_lug
from rewire.draw.measure import text_at
from rewire.draw.place_wafer import (
    Placed,
    Rings,
    boxes_of,
    place_labels,
    rings_for,
)
from rewire.draw.route_wafer import jumper_line, leader, plan_arcs
from rewire.draw.scene import Item, Panel, Symbol, around, hull

TITLE = 8.0
"""Size of a deck's title, points."""
_TITLE_ROOM = 6.0


LEAST_ROOM = 28.0
"""Labels want at least this beside a wafer, mm."""


def has_room(wafer: Wafer, faces: Mapping[str, Face], width: float) -> bool:
    """Whether there is room for labels beside the bare wafer in the middle of ``width`` mm."""
    return width / 2 - rings_for(wafer, faces, 0).fork >= LEAST_ROOM


def wafer_panel(
    wafer: Wafer,
    faces: Mapping[str, Face],
    labels: Sequence[Landing],
    jumpers: Sequence[Jumper],
    net_of: Mapping[str, str],
    width: float,
    seen_from: str,
) -> Panel:
    """The wafer in the middle of ``width`` mm. Jumpers that find no way become labels."""
    drawn, spoken = list(jumpers), list(labels)
    while True:
        arcs, without = plan_arcs(wafer, drawn)
        if without:
            drawn, spoken = _given_up(without, drawn, spoken)
            continue
        tracks = max((a.track + 1 for a in arcs), default=0)
        rings = rings_for(wafer, faces, tracks)
        if width / 2 - rings.fork < LEAST_ROOM and arcs:
            deepest = [a.jumper for a in arcs if a.track == tracks - 1]
            drawn, spoken = _given_up(deepest, drawn, spoken)
            continue
        placed = place_labels(rings, _blocks(wafer, spoken, width / 2 - rings.fork))
        leaders = [leader(p, rings, net_of[p.spot.lug]) for p in placed]
        lines = [jumper_line(a, rings, arcs, net_of[a.start]) for a in arcs]
        boxes = list(boxes_of(rings, faces).values())
        numbers, crowded = number_jumpers(lines, leaders, boxes)
        if not crowded:
            break
        names = {line.shows for line in crowded}
        drawn, spoken = _given_up([j for j in drawn if j.shows in names], drawn, spoken)
    items = [*_backdrop(rings, seen_from), *leaders, *lines, *joints([*lines, *leaders]), *numbers]
    for spot in rings.spots:
        items.extend(paint_lug(faces[spot.lug], spot.centre, net_of[spot.lug]))
    for p in placed:
        items.extend(paint_block(p.block, p.side * rings.fork, p.top, p.side, net_of[p.spot.lug]))
    return _framed(items, rings, placed, width, wafer.title)


def _given_up(
    jumpers: Sequence[Jumper], drawn: Sequence[Jumper], spoken: Sequence[Landing]
) -> tuple[list[Jumper], list[Landing]]:
    ends = [landing for jumper in jumpers for landing in jumper.landings()]
    return [j for j in drawn if j not in jumpers], [*spoken, *ends]


def _blocks(wafer: Wafer, labels: Sequence[Landing], room: float) -> dict[str, Block]:
    by_lug: dict[str, list[Landing]] = {}
    for landing in labels:
        by_lug.setdefault(landing.lug, []).append(landing)
    return {lug: block_for(lug, by_lug[lug], room) for lug in wafer.lugs if lug in by_lug}


def _backdrop(rings: Rings, seen_from: str) -> list[Item]:
    kind = "turns-left" if seen_from == "behind" else "turns-right"
    edge = 2 * (rings.edge - 0.4)
    return [
        Symbol("disc", around((0, 0), edge, edge), "wafer", grey=0.75, fill="#f6f6f6",
               width=0.25, backdrop=True),
        Symbol("disc", around((0, 0), 2.6, 2.6), "shaft", grey=0.45, width=0.25, backdrop=True),
        Symbol(kind, around((0, 0), 4.6, 4.6), "turns", grey=0.35, width=0.25, backdrop=True),
    ]  # fmt: skip


def _framed(
    items: Sequence[Item], rings: Rings, placed: Sequence[Placed], width: float, title: str
) -> Panel:
    """Shift the drawing so that its room begins at the origin, under its title."""
    disc = around((0, 0), 2 * rings.edge, 2 * rings.edge)
    bounds = hull([disc, *(item.box for item in items if not _is_backdrop(item))])
    head = _TITLE_ROOM if title else 1.0
    shifted = [item.moved(width / 2, head - bounds.top) for item in items]
    if title:
        shifted.append(text_at(title, width / 2, 4.0, TITLE, align="centre", bold=True))
    return Panel(tuple(shifted), width, head + bounds.height + 2.0)


def _is_backdrop(item: Item) -> bool:
    return isinstance(item, Symbol) and item.backdrop
