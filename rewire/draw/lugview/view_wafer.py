"""One wafer with its labels, from plan to panel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.finish import joints, number_jumpers
from rewire.draw.lugview.arrange import Wafer
from rewire.draw.lugview.labels import FORK, blocks_for, paint_block
from rewire.draw.lugview.landings import Jumper, Landing, numbers_of
from rewire.draw.lugview.lugs import Face, paint_lug
from rewire.draw.lugview.place_wafer import (
    Rings,
    boxes_of,
    place_labels,
    rings_for,
)
from rewire.draw.lugview.route_wafer import jumper_line, leader, plan_arcs
from rewire.draw.measure import text_at
from rewire.draw.scene import Item, Panel, Symbol, around, hull

TITLE = 8.0
"""Size of a deck's title, points."""
_TITLE_ROOM = 6.0


LEAST_ROOM = 28.0
"""Labels want at least this beside a wafer, mm."""


@dataclass(frozen=True, slots=True)
class Room:
    """What a wafer has to keep to, mm."""

    width: float
    seen_from: str
    fork: float = 0.0
    """Least distance of the forks from the middle, so that decks under each other agree."""
    branch: float = FORK
    """From a fork to its labels: lanes for jumpers to other decks lie there."""


def has_room(wafer: Wafer, faces: Mapping[str, Face], width: float) -> bool:
    """Whether there is room for labels beside the bare wafer in the middle of ``width`` mm."""
    return width / 2 - rings_for(wafer, faces, 0).fork >= LEAST_ROOM


def wafer_panel(
    wafer: Wafer,
    faces: Mapping[str, Face],
    labels: Sequence[Landing],
    jumpers: Sequence[Jumper],
    net_of: Mapping[str, str],
    room: Room,
    prefer: Mapping[str, int],
) -> tuple[Panel, float]:
    """The wafer in the middle of its room, and how far from there its labels fork.

    Jumpers that find no way become labels.
    """
    width = room.width
    drawn, spoken = list(jumpers), list(labels)
    while True:
        arcs, without = plan_arcs(wafer, drawn)
        if without:
            drawn, spoken = _given_up(without, drawn, spoken)
            continue
        tracks = max((a.track + 1 for a in arcs), default=0)
        rings = rings_for(wafer, faces, max(tracks, wafer.tracks), room.fork)
        if width / 2 - rings.fork - room.branch < LEAST_ROOM - FORK and arcs:
            deepest = [a.jumper for a in arcs if a.track == tracks - 1]
            drawn, spoken = _given_up(deepest, drawn, spoken)
            continue
        blocks = blocks_for(wafer.lugs, spoken, width / 2 - rings.fork - room.branch)
        placed = place_labels(rings, blocks, prefer)
        leaders = [leader(p, rings, net_of[p.spot.lug]) for p in placed]
        lines = [jumper_line(a, rings, arcs, net_of[a.start]) for a in arcs]
        boxes = list(boxes_of(rings, faces).values())
        numbers, crowded = number_jumpers(lines, leaders, boxes, numbers_of(drawn))
        if not crowded:
            break
        names = {line.shows for line in crowded}
        drawn, spoken = _given_up([j for j in drawn if j.shows in names], drawn, spoken)
    drawing = [*leaders, *lines, *joints([*lines, *leaders]), *numbers]
    items = [*_backdrop(rings, room.seen_from), *drawing]
    for spot in rings.spots:
        items.extend(paint_lug(faces[spot.lug], spot.centre, net_of[spot.lug]))
    for p in placed:
        at = p.side * rings.fork
        net = net_of[p.spot.lug]
        items.extend(paint_block(p.block, at, p.top, p.side, net, room.branch))
    return _framed(items, rings, width, wafer.title), rings.fork


def _given_up(
    jumpers: Sequence[Jumper], drawn: Sequence[Jumper], spoken: Sequence[Landing]
) -> tuple[list[Jumper], list[Landing]]:
    ends = [landing for jumper in jumpers for landing in jumper.landings()]
    return [j for j in drawn if j not in jumpers], [*spoken, *ends]


def _backdrop(rings: Rings, seen_from: str) -> list[Item]:
    kind = "turns-left" if seen_from == "behind" else "turns-right"
    edge = 2 * (rings.edge - 0.4)
    return [
        Symbol("disc", around((0, 0), edge, edge), "wafer", grey=0.75, fill="#f6f6f6",
               width=0.25, backdrop=True),
        Symbol("disc", around((0, 0), 2.6, 2.6), "shaft", grey=0.45, width=0.25, backdrop=True),
        Symbol(kind, around((0, 0), 4.6, 4.6), "turns", grey=0.35, width=0.25, backdrop=True),
    ]  # fmt: skip


def _framed(items: Sequence[Item], rings: Rings, width: float, title: str) -> Panel:
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
