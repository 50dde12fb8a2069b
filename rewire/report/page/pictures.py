"""The pictures of the page: lug views with a bar for every contact, circuit views."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import product

from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.draw.circuit import circuit_panel
from rewire.draw.lugview.view import Note, SwitchView
from rewire.draw.paint import Bar, Names, svg_of
from rewire.draw.scene import XY, Box, Line, Panel, Paper, Scene, Symbol, hull, line_enters
from rewire.records.spec import Spec, Switch, Wiring
from rewire.report.page.numbers import when_numbers
from rewire.values.network import Network

_BULGES = (0.0, 0.18, -0.18, 0.35, -0.35, 0.6, -0.6)
"""How far a bar bends out to pass beside other lugs, of its length."""
_STEPS = 8
_EDGE = 1.0
"""Round a drawing, mm."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as SVG, with what it is called."""

    title: str
    svg: str


@dataclass(frozen=True, slots=True)
class LugView:
    """A switch: what is said of it, and its drawings."""

    title: str
    notes: tuple[Note, ...]
    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit view, and when it holds, in numbers."""

    when: Sequence[tuple[int, list[int]]]
    picture: Picture


def lug_views(spec: Spec, wiring: Wiring, paper: Paper) -> Iterator[LugView]:
    """The lug views of all switches of a wiring."""
    for switch in spec.all_of(Switch, wiring).values():
        view = SwitchView(spec, wiring, switch, "behind", paper)
        pictures = tuple(_lug_pictures(spec, wiring, switch, view.drawn(0.0)))
        yield LugView(view.title, tuple(view.notes()), pictures)


def _lug_pictures(
    spec: Spec, wiring: Wiring, switch: Switch, panels: Sequence[Panel]
) -> Iterator[Picture]:
    for number, whole in enumerate(panels, 1):
        panel = _trimmed(whole)
        of = f", part {number} of {len(panels)}" if len(panels) > 1 else ""
        title = f"{switch.name} in {wiring.name}, lugs from behind{of}"
        names = _lug_names(wiring, switch, panel)
        bars = tuple(_bars(spec, wiring, switch, panel))
        yield Picture(title, svg_of(_scene(panel, title), replace(names, bars=bars)))


def _trimmed(panel: Panel) -> Panel:
    """Without the empty paper around it."""
    if not panel.items:
        return panel
    bounds = hull(item.box for item in panel.items).grown(_EDGE)
    return Panel(panel.moved(-bounds.left, -bounds.top).items, bounds.width, bounds.height)


def _scene(panel: Panel, title: str) -> Scene:
    return Scene(panel.width, panel.height, panel.items, title)


def circuit_pictures(
    spec: Spec, wiring: Wiring, networks: Sequence[Network], paper: Paper
) -> Iterator[Circuit]:
    """The circuit views of a wiring's readings, those that can be drawn."""
    names = _circuit_names(spec, wiring)
    for network in networks:
        with suppress(LimitReached):  # the sheet on paper says which and why
            panel = _trimmed(circuit_panel(network, paper))
            when = when_numbers(spec, network.reading.when)
            title = f"Circuit of {network.reading.name} in {wiring.name}"
            yield Circuit(when, Picture(title, svg_of(_scene(panel, title), names)))


def still_pictures(title: str, panels: Iterable[Panel]) -> Iterator[Picture]:
    """Pictures in which nothing turns."""
    for number, panel in enumerate(panels, 1):
        said = f"{title}, {number}"
        yield Picture(said, svg_of(_scene(_trimmed(panel), said)))


def _circuit_names(spec: Spec, wiring: Wiring) -> Names:
    parts = spec.parts_of(wiring)

    def of(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind == "part" and name in parts:
            return f"p:{name}"
        return f"t:{name}" if kind in {"lug", "point"} else ""

    def said(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind == "part" and name in parts:
            return f"{parts[name].kind} {name}"
        return f"{kind} {name}" if kind in {"lug", "point"} else ""

    return Names(of, said)


def _lug_names(wiring: Wiring, switch: Switch, panel: Panel) -> Names:
    """Names of a lug view's things: ``t:`` a terminal, ``w:`` a wire."""
    wires = {wire.id: wire for wire in wiring.wires}
    led = _led_to(panel)

    def one(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"lug", "again", "spring"}:
            return f"t:{switch.terminal(name)}"
        if kind in {"wire", "jumper"}:
            return f"w:{name}"
        if kind == "net":
            return f"t:{name.rpartition('@')[2]}"
        return f"t:{name}" if kind == "part" else ""

    def of(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"leader", "joint"}:
            return " ".join(filter(None, map(one, led.get(name, ()))))
        return one(shows)

    def said(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"wire", "jumper"} and name in wires:
            wire = wires[name]
            colour = f", {wire.colour}" if wire.colour else ""
            return f"{kind} {name}{colour}, {wire.ends[0]} to {wire.ends[1]}"
        if kind == "lug":
            return f"lug {switch.terminal(name)}"
        return f"lead {name}" if kind == "part" else ""

    return Names(of, said)


def _led_to(panel: Panel) -> dict[str, tuple[str, ...]]:
    """Per lug what the labels at the end of its leader show."""
    found: dict[str, dict[str, None]] = {}
    for item in panel.items:
        if isinstance(item, Line) and len(item.joins) == 1 and not item.shows.startswith("leader:"):
            found.setdefault(item.joins[0].removeprefix("lug:"), {})[item.shows] = None
    return {lug: tuple(shows) for lug, shows in found.items()}


def _bars(spec: Spec, wiring: Wiring, switch: Switch, panel: Panel) -> Iterator[Bar]:
    """Each contact that any position closes, once."""
    boxes = _lug_boxes(panel)
    contacts = circuit_of(spec, wiring).contacts
    for number, contact in enumerate(contacts):
        if contact.switch != switch.name:
            continue
        pairs = dict.fromkeys(
            pair for groups in contact.section.groups for group in groups for pair in _star(group)
        )
        for pair in pairs:
            if pair[0] in boxes and pair[1] in boxes:
                lugs = [switch.terminal(lug) for lug in pair]
                told = {"data-contact": str(number), "data-a": lugs[0], "data-b": lugs[1]}
                yield Bar(_bar_course(boxes, pair), told)


def _star(group: Sequence[str]) -> Iterator[tuple[str, str]]:
    yield from product(group[:1], group[1:])


def _lug_boxes(panel: Panel) -> dict[str, Box]:
    return {
        item.shows.removeprefix("lug:"): item.box
        for item in panel.items
        if isinstance(item, Symbol) and item.shows.startswith("lug:")
    }


def _bar_course(boxes: Mapping[str, Box], pair: tuple[str, str]) -> tuple[XY, ...]:
    """Straight if no other lug lies between, else bent out around it."""
    others = [box.grown(0.4) for name, box in boxes.items() if name not in pair]
    start, end = boxes[pair[0]].centre, boxes[pair[1]].centre
    courses = [_bent(start, end, bulge) for bulge in _BULGES]
    free = (c for c in courses if not any(line_enters(c, box) for box in others))
    return next(free, courses[0])


def _bent(start: XY, end: XY, bulge: float) -> tuple[XY, ...]:
    if bulge == 0.0:
        return (start, end)
    dx, dy = end[0] - start[0], end[1] - start[1]
    middle = ((start[0] + end[0]) / 2 - 2 * bulge * dy, (start[1] + end[1]) / 2 + 2 * bulge * dx)
    shares = [n / _STEPS for n in range(_STEPS + 1)]
    return tuple(
        (
            (1 - t) ** 2 * start[0] + 2 * t * (1 - t) * middle[0] + t * t * end[0],
            (1 - t) ** 2 * start[1] + 2 * t * (1 - t) * middle[1] + t * t * end[1],
        )
        for t in shares
    )
