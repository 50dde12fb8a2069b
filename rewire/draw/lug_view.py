"""The lug view: a switch as one sees it with the iron in hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rewire.circuit.nets import nets_of
from rewire.draw.arrange import Arrangement, Grid, arrange, style_of
from rewire.draw.landings import Landed, landed_on, named
from rewire.draw.lugs import LONGEST, NARROW, Face, faces_of, key_of
from rewire.draw.measure import line_mm, text_at, visible, wrap
from rewire.draw.metering import not_metering
from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper, Scene
from rewire.draw.split import Piece, pieces_of
from rewire.draw.stack import stacked
from rewire.draw.view_wafer import has_room
from rewire.spec.model import Spec, Switch, Wiring

SeenFrom = Literal["behind", "front"]
_HEAD = 11.0
_SMALL = 7.5


@dataclass(frozen=True, slots=True)
class _View:
    """What one lug view is about."""

    spec: Spec
    wiring: Wiring
    switch: Switch
    seen_from: SeenFrom
    landed: Landed
    arrangement: Arrangement
    faces: Mapping[str, Face]


def lug_view(
    spec: Spec,
    wiring: Wiring,
    switch_name: str,
    *,
    seen_from: SeenFrom = "behind",
    paper: Paper = "a4",
) -> tuple[Scene, ...]:
    """Sheets that show every lug of a switch and everything that lands on it.

    Raises:
        LayoutError: the switch's ``layout`` cannot be drawn.
        KeyError: the wiring has no switch of that name.
    """
    panels = lug_panels(spec, wiring, switch_name, seen_from=seen_from, paper=paper)
    return stacked(panels, paper, f"{switch_name}, {wiring.name}: lug view")


def lug_panels(
    spec: Spec,
    wiring: Wiring,
    switch_name: str,
    *,
    seen_from: SeenFrom = "behind",
    paper: Paper = "a4",
) -> tuple[Panel, ...]:
    """The same as panels, for a page that holds other things too."""
    view = _view(spec, wiring, switch_name, seen_from, paper)
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    pieces = pieces_of(
        view.arrangement, view.faces, view.landed, seen_from, width,
        height - _head_height(view, width),
    )  # fmt: skip
    return tuple(_with_head(view, piece, n, len(pieces)) for n, piece in enumerate(pieces, 1))


def _view(spec: Spec, wiring: Wiring, name: str, seen_from: SeenFrom, paper: Paper) -> _View:
    switch = spec.parts_of(wiring)[name]
    if not isinstance(switch, Switch):
        raise KeyError(name)
    behind = arrange(switch)
    shown = behind if seen_from == "behind" else _mirrored(behind)
    faces = _faces(switch, shown, PAPER[paper][0] - 2 * MARGIN)
    landed = landed_on(spec, wiring, switch, nets_of(spec, wiring))
    return _View(spec, wiring, switch, seen_from, landed, shown, faces)


def _faces(switch: Switch, shown: Arrangement, width: float) -> dict[str, Face]:
    """Names in full where the wafers leave room for labels beside them."""
    faces: dict[str, Face] = {}
    for longest in (LONGEST, NARROW):
        made = faces_of(switch.terminals, _section_of(switch), _commons(switch), longest)
        faces = {face.name: face for face in made}
        if isinstance(shown, Grid) or all(has_room(wafer, faces, width) for wafer in shown):
            break
    return faces


def _mirrored(arrangement: Arrangement) -> Arrangement:
    if isinstance(arrangement, Grid):
        return arrangement.mirrored()
    return tuple(wafer.mirrored() for wafer in arrangement)


def _section_of(switch: Switch) -> dict[str, int]:
    groups: Iterable[Sequence[str]] = switch.poles or [s.lugs for s in switch.sections]
    return {lug: number for number, group in enumerate(groups) for lug in group}


def _commons(switch: Switch) -> set[str]:
    return {pole[0] for pole in switch.poles}


def _with_head(view: _View, piece: Piece, number: int, count: int) -> Panel:
    """Title and notes over the drawing."""
    width = piece.panel.width
    part = f" (part {number} of {count})" if count > 1 else ""
    title = f"{view.switch.name}: {view.wiring.name}{part}"
    items: list[Item] = [text_at(visible(title), 0.0, 4.5, _HEAD, bold=True)]
    y = 4.5
    for note in _notes(view):
        for line in wrap(visible(note), width, _SMALL):
            y += line_mm(_SMALL)
            items.append(text_at(line, 0.0, y, _SMALL, grey=0.15))
    y += 3.0
    return Panel((*items, *piece.panel.moved(0.0, y).items), width, y + piece.panel.height)


def _head_height(view: _View, width: float) -> float:
    lines = sum(len(wrap(visible(note), width, _SMALL)) for note in _notes(view))
    return 8.0 + lines * line_mm(_SMALL) + 1.0


def _notes(view: _View) -> list[str]:
    notes = [_what_it_is(view), _how_seen(view), _positions(view)]
    jumpers = "; ".join(
        f"{named(j)} {j.ends[0]} – {j.ends[1]}" for j in view.landed.jumpers
    )
    if jumpers:
        notes.append(f"Jumpers: {jumpers}")
    notes.extend(key_of(view.faces.values()))
    notes.extend(not_metering(view.spec, view.wiring, view.switch))
    if view.switch.note:
        notes.append(view.switch.note)
    return [note for note in notes if note]


def _what_it_is(view: _View) -> str:
    switch = view.switch
    form = "" if switch.form == "table" else f"{switch.form} "
    label = f"{switch.label}, " if switch.label else ""
    timings = {section.timing for section in switch.sections}
    timing = timings.pop() if len(timings) == 1 else ", ".join(
        f"{_section_name(switch, n)} {s.timing}" for n, s in enumerate(switch.sections)
    )  # fmt: skip
    return f"{label}{form}{style_of(switch)}, control {switch.control}; {timing}"


def _section_name(switch: Switch, number: int) -> str:
    section = switch.sections[number]
    if section.pole is not None:
        return f"pole {section.pole}"
    return f"section {number + 1} ({', '.join(section.lugs[:4])})"


def _how_seen(view: _View) -> str:
    style = style_of(view.switch)
    if view.seen_from == "front":
        return "Seen from the front: mirrored, the lugs are on the far side."
    if not isinstance(view.arrangement, Grid):
        return "Seen from behind: clockwise at the knob runs anticlockwise here."
    if style == "toggle":
        return (
            "Seen from behind. A toggle's lever closes the lugs on its far side "
            "(common practice; prove it with the ohmmeter)."
        )
    return "Seen from behind."


def _positions(view: _View) -> str:
    """Which contacts each position closes."""
    control = view.spec.controls[view.switch.control]
    switch = view.switch
    if switch.throw_at is not None:
        said = [
            f"{position} {'open' if throw is None else f'throw {throw}'}"
            for position, throw in zip(control.positions, switch.throw_at, strict=False)
        ]
        return f"Positions: {', '.join(said)}"
    return "Closed: " + "; ".join(
        f"{position} {_closed(switch, number)}" for number, position in enumerate(control.positions)
    )


def _closed(switch: Switch, position: int) -> str:
    groups = [group for section in switch.sections for group in section.groups[position]]
    return ", ".join("–".join(group) for group in groups) or "nothing"
