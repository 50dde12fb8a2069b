"""The lug view: a switch as one sees it with the iron in hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rewire.circuit.circuit import circuit_of
from rewire.draw.lugview.arrange import Arrangement, Grid, arrange
from rewire.draw.lugview.head import Note, head
from rewire.draw.lugview.landings import Landed, landed_on, named
from rewire.draw.lugview.lugs import LONGEST, NARROW, Face, faces_of, key_of
from rewire.draw.lugview.metering import not_metering
from rewire.draw.lugview.split import Sheet, panels_of
from rewire.draw.lugview.view_wafer import has_room
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel, Paper, Scene
from rewire.draw.stack import stacked
from rewire.records.lug_positions import lug_positions, style_of
from rewire.records.spec import Spec, Switch, Wiring
from rewire.records.switches import pole_letters
from rewire.values.lug_volts import lug_volts

SeenFrom = Literal["behind", "front"]


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
    sheet = Sheet(width, height - _head_height(view, width), seen_from)
    panels = panels_of(view.arrangement, view.faces, view.landed, sheet)
    return tuple(_with_head(view, panel, n, len(panels)) for n, panel in enumerate(panels, 1))


@dataclass(frozen=True, slots=True)
class Bare:
    """A lug view without its head: for a page that sets title and notes as text of its own."""

    title: str
    notes: tuple[Note, ...]
    panels: tuple[Panel, ...]


def lug_drawings(spec: Spec, wiring: Wiring, switch_name: str, *, paper: Paper = "a4") -> Bare:
    """The drawings of a switch from behind, and what stands over them.

    Raises:
        KeyError: the wiring has no switch of that name.
    """
    view = _view(spec, wiring, switch_name, "behind", paper)
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    panels = panels_of(
        view.arrangement, view.faces, view.landed, Sheet(width, height, view.seen_from)
    )
    return Bare(f"{switch_name}: {wiring.name}", tuple(_notes(view)), tuple(panels))


def _view(spec: Spec, wiring: Wiring, name: str, seen_from: SeenFrom, paper: Paper) -> _View:
    switch = spec.parts_of(wiring)[name]
    if not isinstance(switch, Switch):
        raise KeyError(name)
    behind = arrange(switch)
    shown = behind if seen_from == "behind" else _mirrored(behind)
    faces = _faces(switch, shown, PAPER[paper][0] - 2 * MARGIN)
    landed = landed_on(spec, wiring, switch, circuit_of(spec, wiring).nets)
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


def _with_head(view: _View, panel: Panel, number: int, count: int) -> Panel:
    """Title and notes over the drawing."""
    part = f" (part {number} of {count})" if count > 1 else ""
    title = f"{view.switch.name}: {view.wiring.name}{part}"
    items, y = head(title, _notes(view), panel.width)
    return Panel((*items, *panel.moved(0.0, y).items), panel.width, y + panel.height)


def _head_height(view: _View, width: float) -> float:
    return head(f"{view.switch.name}: {view.wiring.name} (part 10 of 10)", _notes(view), width)[1]


def _notes(view: _View) -> list[Note]:
    notes = [_what_it_is(view), _how_seen(view), _positions(view)]
    own_names = _own_names(view.switch)
    if own_names:
        notes.append(f"Lugs, the common first: {own_names}")
    jumpers = "; ".join(f"{named(j)} {j.ends[0]} – {j.ends[1]}" for j in view.landed.jumpers)
    if jumpers:
        notes.append(f"Jumpers: {jumpers}")
    key = "; ".join(key_of(view.faces.values()))
    if key:
        notes.append(f"Key: {key}")
    assumed = lug_positions(view.switch).assumed
    if assumed:
        which = "" if len(assumed) == len(view.switch.terminals) else f" {', '.join(assumed)}"
        notes.append(f"Places of the lugs{which} assumed: go by the letters, and prove them.")
    if view.switch.note:
        notes.append(f"Note: {view.switch.note}")
    carried = not_metering(view.spec, view.wiring, view.switch)
    bold = [*_live(view), *carried]
    return [*(Note(note, False) for note in notes), *(Note(said, True) for said in bold)]


def _live(view: _View) -> Iterator[str]:
    """Lugs that carry 50 V or more with the power on, or may, the highest first."""
    volts = lug_volts(view.spec, view.wiring)
    lugs: dict[str, list[str]] = {}
    at = {lug: volts.get(view.switch.terminal(lug)) for lug in view.switch.terminals}
    for lug, here in sorted(at.items(), key=lambda one: -abs(one[1].volts) if one[1] else 0.0):
        if here is not None:
            lugs.setdefault(here.said, []).append(lug)
    if lugs:
        said = "; ".join(f"{here} at {', '.join(own)}" for here, own in lugs.items())
        yield f"Can be live: {said}"


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
        said = "Seen from behind: clockwise at the knob runs anticlockwise here."
        if lug_positions(view.switch).against_the_knob:
            return f"{said} The throws of this switch run against the knob, clockwise here."
        return said
    if style == "toggle":
        return (
            "Seen from behind. A toggle's lever closes the lugs on its far side "
            "(common practice; prove it with the ohmmeter)."
        )
    if view.arrangement.pile:
        first = view.spec.controls[view.switch.control].positions[0]
        return f"Seen from behind. Springs drawn as they stand in {first}; long ones move."
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
    return "Closed lugs: " + "; ".join(
        f"{position} {_closed(switch, number)}" for number, position in enumerate(control.positions)
    )


def _closed(switch: Switch, position: int) -> str:
    groups = [group for section in switch.sections for group in section.groups[position]]
    return ", ".join(" – ".join(group) for group in groups) or "none"


def _own_names(switch: Switch) -> str:
    """Which lugs are a pole's, where their names do not say so; the common first."""
    poles = list(zip(pole_letters(len(switch.poles)), switch.poles, strict=True))
    if all(lug.startswith(letter) for letter, pole in poles for lug in pole):
        return ""
    return "; ".join(f"pole {letter}: {', '.join(pole)}" for letter, pole in poles)
