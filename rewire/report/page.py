"""The packet as one HTML file that turns its switches: style, script and spec are inside.

The policy in its head lets nothing be fetched, and nothing run but the script and the style
that are named there by their digests.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from rewire import __version__
from rewire.bench.work_list import DO_NOT_BUILD
from rewire.circuit.states import LimitReached
from rewire.draw.circuit import circuit_panel
from rewire.draw.labels import SHADES
from rewire.draw.lugview.view import SwitchView
from rewire.draw.paint import MARK, Names, svg_of
from rewire.draw.scene import Line, Panel, Paper, Scene, hull
from rewire.records.spec import Meter, Reading, Switch, Wiring
from rewire.report.contents import SECTIONS, built_otherwise, sections_of
from rewire.report.packet import Packet
from rewire.report.page_data import page_data, seen, when_numbers
from rewire.report.section import Cell, Picture, Section, Table, Words
from rewire.values.model import Readout
from rewire.words.quantity import with_unit

NARROW = 22
"""Characters that a column of a phone still holds."""
_TURNED = ("lugs", "circuits")
"""Sections whose pictures turn with the switches."""
_EDGE = 1.0
"""Round a drawing, mm."""
_HALF = 48.0
"""Degrees from the middle of a dial's arc to either end of its scale."""
_STOP = 0.06
"""How far past an end of the scale the pointer can go, of the scale."""


def page(
    packet: Packet, source: bytes, *, paper: Paper = "a4", sections: Collection[str] | None = None
) -> bytes:
    """The packet as one HTML file.

    Args:
        packet: what it says.
        source: the bytes of the spec, for those who want to work on with it.
        paper: that pictures are laid out for.
        sections: keys of ``rewire.report.contents.SECTIONS``; None for all.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    style, script = _asset("page.css"), _asset("page.js")
    spec, asked = packet.spec, set(SECTIONS if sections is None else sections)
    turned = "lugs" in asked
    made = list(sections_of(packet, paper, asked.difference(_TURNED if turned else ())))
    if turned:
        made.append(Section("lugs", "Turn the switches", ()))
    written = {"file": Path(spec.file).name, "source": source.decode("utf-8", "replace")}
    wirings = [_shown(packet, wiring, paper, "circuits" in asked) for wiring in packet.wirings]
    text = _environment().get_template("page.html").render(
        spec=spec, packet=packet, style=Markup(style), script=Markup(script),
        policy=_policy(style, script), data=_embedded({**page_data(packet), **written}),
        warnings=list(_warnings(packet)),
        sections=list(_placed(packet, made)),
        wirings=wirings if turned else [],
        shades=SHADES, nothing=Cell(), narrow=NARROW, mark=MARK, version=__version__,
    )  # fmt: skip
    return text.lstrip().encode("utf-8", "replace")


def _placed(packet: Packet, made: Sequence[Section]) -> Iterator[tuple[Section, str, int]]:
    """Sections in their order, with an id, and a wiring's number where they are about one alone."""
    lists, order = iter(range(len(packet.wirings))), [*map(str, SECTIONS)]
    for number, section in enumerate(sorted(made, key=lambda one: order.index(one.key))):
        alone = section.key in ("cautions", "verdict", "lugs")
        called = section.key if alone else f"{section.key}-{number}"
        yield section, called, next(lists) if section.key == "wires" else -1


def _warnings(packet: Packet) -> Iterator[str]:
    yield from (f"BROKEN: {m.target} {DO_NOT_BUILD}." for m in packet.moves if m.broken)
    if built_otherwise(packet.record):
        yield built_otherwise(packet.record)
    yield from (f"Not on this page: {limit}" for limit in packet.limits)


def _environment() -> Environment:
    made = Environment(
        loader=FunctionLoader(_asset), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters.update(seen=seen, attribute=json.dumps, drawing=_drawing, labels=_labels)
    made.tests.update(words=_is(Words), table=_is(Table), picture=_is(Picture))
    return made


def _is(kind: type) -> Callable[[object], bool]:
    return lambda block: isinstance(block, kind)


def _drawing(picture: Picture) -> Markup:
    return Markup(picture.svg)


def _asset(name: str) -> str:
    return files("rewire.report").joinpath(name).read_text("utf-8")


def _policy(style: str, script: str) -> str:
    return (
        f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _embedded(data: object) -> Markup:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    for character in "<>&'\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return Markup(text)


def _labels(table: Table) -> tuple[str, ...]:
    """What stands before each cell where a row of a wordy table is a card, on a phone.

    Nothing before what comes first, up to the first column of many words. No labels at all: it
    stays a table there.
    """
    ticked = any(line[0].box for line in table.rows)
    columns = zip(*table.rows, strict=True)
    wordy = [n for n, c in enumerate(columns) if max(len(one.text) for one in c) > NARROW]
    if not wordy or (len(wordy) == 1 and not ticked):
        return ()
    first = wordy[0] + (1 if ticked else 0)
    return tuple(head if n >= first else "" for n, head in enumerate(table.head))


@dataclass(frozen=True, slots=True)
class _Wiring:
    """One wiring on the page; circuits and dials come with the positions they hold in."""

    name: str
    verdict: str
    computed: bool
    dials: tuple[Mapping[str, object], ...]
    lugs: tuple[tuple[str, tuple[Words, ...], tuple[Picture, ...]], ...]
    circuits: tuple[tuple[object, Picture], ...]


def _shown(packet: Packet, wiring: Wiring, paper: Paper, circuits: bool) -> _Wiring:
    verdicts = {result.wiring: result.verdict for result in packet.results}
    values = packet.values.get(wiring.name)
    dials = tuple(_dial(packet, wiring, one) for one in values.readings) if values else ()
    lugs = []
    for switch in packet.spec.all_of(Switch, wiring).values():
        view = SwitchView(packet.spec, wiring, switch, "behind", paper)
        panels = view.drawn(0.0)
        names = _lug_names(wiring, switch, panels)
        title = f"{switch.name} in {wiring.name}, lugs from behind"
        notes = tuple(Words(note.text, bold=note.bold) for note in view.notes())
        pictures = tuple(_picture(title, panel, names) for panel in panels)
        lugs.append((view.title, notes, pictures))
    return _Wiring(
        wiring.name, verdicts.get(wiring.name, ""), values is not None, dials, tuple(lugs),
        tuple(_circuits(packet, wiring, paper)) if circuits else (),
    )  # fmt: skip


def _circuits(packet: Packet, wiring: Wiring, paper: Paper) -> Iterator[tuple[object, Picture]]:
    """The circuits of a wiring's readings; the packet on paper says which cannot be drawn."""
    parts = packet.spec.parts_of(wiring)

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

    for network in packet.networks.get(wiring.name, ()):
        title = f"Circuit of {network.reading.name} in {wiring.name}"
        when = when_numbers(packet.spec, network.reading.when)
        try:
            panel = circuit_panel(network, paper)
        except LimitReached:
            continue
        yield when, _picture(title, panel, Names(of, said))


def _picture(title: str, panel: Panel, names: Names) -> Picture:
    """The drawing without the empty paper around it."""
    if panel.items:
        bounds = hull(item.box for item in panel.items).grown(_EDGE)
        items = panel.moved(-bounds.left, -bounds.top).items
        panel = Panel(items, bounds.width, bounds.height)
    drawn = svg_of(Scene(panel.width, panel.height, panel.items, title), names)
    return Picture(title, drawn, panel.width, panel.height)


def _lug_names(wiring: Wiring, switch: Switch, panels: Sequence[Panel]) -> Names:
    """Names of a lug view's things: ``t:`` a terminal, ``w:`` a wire."""
    wires = {wire.id: wire for wire in wiring.wires}
    led: dict[str, dict[str, None]] = {}  # lug → what the labels at the end of its leader show
    for item in (item for panel in panels for item in panel.items):
        if isinstance(item, Line) and len(item.joins) == 1 and not item.shows.startswith("leader:"):
            led.setdefault(item.joins[0].removeprefix("lug:"), {})[item.shows] = None

    def of(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"leader", "joint"}:
            return " ".join(filter(None, map(of, led.get(name, ()))))
        if kind in {"lug", "again", "spring"}:
            return f"t:{switch.terminal(name)}"
        if kind in {"wire", "jumper"}:
            return f"w:{name}"
        return f"t:{name.rpartition('@')[2]}" if kind in {"net", "part"} else ""

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


def _dial(packet: Packet, wiring: Wiring, readout: Readout) -> Mapping[str, object]:
    """Where the pointer stands when the true value is full scale: on a dial, and in words."""
    reading, share = wiring.readings[readout.name], readout.deflection
    meter = packet.spec.all_of(Meter, wiring).get(readout.meter or "")
    zero = meter.zero if meter is not None else "left"
    least = -1.0 if zero == "centre" else 0.0

    def angle(share: float) -> float:
        """Degrees from upright, held by the stops."""
        at = {"left": share, "right": 1.0 - share}.get(zero, (1.0 + share) / 2.0)
        return round(_HALF * (2.0 * min(max(at, -_STOP), 1.0 + _STOP) - 1.0), 2)

    allowed = [] if share is None else [angle(1.0 + end / 100.0) for end in readout.allowed()]
    steps = [least + (1.0 - least) * n / 10 for n in range(11)]
    where = (f"{name}: {' or '.join(at)}" for name, at in reading.when.items())
    return {
        "name": reading.name,
        "when": when_numbers(packet.spec, reading.when),
        "positions": ", ".join(where) or "always",
        "pointer": "no sum" if share is None else f"{100.0 * share:.1f} %",
        "words": list(_told(reading, readout, least)),
        "tip": None if share is None else angle(share),
        "band": (min(allowed), max(allowed)) if allowed else None,
        "ticks": [
            (angle(step), f"{100.0 * step:.0f}" if n % 5 == 0 else "")
            for n, step in enumerate(steps)
        ],
        "off": readout.off,
    }


def _told(reading: Reading, readout: Readout, least: float) -> Iterator[str]:
    unit = "A" if reading.quantity == "current" else "V"
    share, meter = readout.deflection, readout.meter or "the meter"
    if share is not None:
        of_scale = f" (scale {reading.scale})" if reading.scale else ""
        yield (
            f"At a true {with_unit(reading.full_scale, unit)} the pointer of {meter} stands at "
            f"{100.0 * share:.1f} % of its scale: it reads as "
            f"{with_unit(reading.full_scale * share, unit)}{of_scale}."
        )
        if not least - 0.005 <= share <= 1.005:
            yield "That is off the scale: the pointer lies against its stop."
        yield f"{readout.allowance[0].upper()}{readout.allowance[1:]}."
        if readout.off:
            yield f"Wrong: it may be more than {readout.accept_percent:g} % of full scale off."
    if readout.note:
        yield f"{readout.note}."
