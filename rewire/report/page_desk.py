"""What turns on the page: each wiring's switches, what is soldered to each lug, and its dials."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rewire.draw.lugview import SwitchView
from rewire.draw.paint import Names, svg_of
from rewire.draw.scene import Panel, Paper, Scene, hull
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Wiring
from rewire.records.switches import Switch
from rewire.report.packet import Packet
from rewire.report.section import Illustration
from rewire.values.answers import Readout
from rewire.values.solved import lug_volts
from rewire.words.quantity import with_unit

When = Mapping[str, list[str]]
"""Control → positions."""
_EDGE = 1.0
"""Round a drawing, mm."""
_MOST_POSITIONS = 2
"""Of a lug that are named beside it."""
_HALF = 48.0
"""Degrees from the middle of a dial's arc to either end of its scale."""
_STOP = 0.06
"""How far past an end of the scale the pointer can go, of the scale."""


Shown = Mapping[str, object]
"""What the template sets, by the names that it asks for."""


def shown_wiring(packet: Packet, wiring: Wiring, paper: Paper) -> Shown:
    """One wiring with all that turns of it: dials, and switches deck by deck."""
    verdicts = {result.wiring: result.verdict for result in packet.results}
    values = packet.values.get(wiring.name)
    switches = packet.spec.all_of(Switch, wiring).values()
    return {
        "name": wiring.name,
        "verdict": verdicts.get(wiring.name, ""),
        "dials": [_dial(packet, wiring, one) for one in values.readings] if values else [],
        "switches": [_switch(packet, wiring, switch, paper) for switch in switches],
    }


def _switch(packet: Packet, wiring: Wiring, switch: Switch, paper: Paper) -> Shown:
    """Its decks with pictures, each with the positions in which it is so, and lugs as a list.

    Where blades move, ``sprung``, no contact needs to be drawn between lugs.
    """
    spec, positions = packet.spec, packet.spec.controls[switch.control].positions
    view = SwitchView(spec, wiring, switch, "behind", paper)
    names = names_in(packet, wiring)
    sprung, live = view.sprung, [*view.live()]  # which the list says lug by lug
    pictures: dict[tuple[str, ...], list[tuple[When, Illustration]]] = {}
    for number, position in enumerate(positions if sprung else positions[:1]):
        here = {switch.control: [position]} if sprung else {}
        said = f"{switch.name} in {wiring.name}, lugs from behind"
        said += f", {switch.control} at {position}" if sprung else ""
        for lugs, panel in SwitchView(spec, wiring, switch, "behind", paper, number).bare():
            pictures.setdefault(tuple(lugs), []).append((here, picture_of(said, panel, names)))
    rows = list(_lugs(packet, wiring, switch, view))
    return {
        "title": view.title,
        "notes": [note for note in view.notes() if note.text not in live],
        "sprung": sprung,
        "decks": [
            {"pictures": drawn, "lugs": [row for row in rows if row["terminal"] in lugs]}
            for lugs, drawn in pictures.items()
        ],
    }


def _lugs(packet: Packet, wiring: Wiring, switch: Switch, view: SwitchView) -> Iterator[Shown]:
    """Lugs in the order of the switch with what is soldered to each; bare ones are left out."""
    positions = packet.spec.controls[switch.control].positions
    volts, name_of = lug_volts(packet.spec, wiring), names_in(packet, wiring).of
    for lug, labels in view.labels().items():
        closed = [
            position for number, position in enumerate(positions)
            if any(lug in g for section in switch.sections for g in section.groups[number])
        ]  # fmt: skip
        told = closed if len(closed) <= _MOST_POSITIONS and len(closed) < len(positions) else []
        live = volts.get(switch.terminal(lug))
        if labels:
            yield {
                "lug": lug,
                "terminal": switch.terminal(lug),
                "positions": ", ".join(told),
                "volts": live.said if live is not None else "",
                "soldered": [(name_of(label.shows), label) for label in labels],
            }


def picture_of(title: str, panel: Panel, names: Names) -> Illustration:
    """The drawing without the empty paper around it."""
    if panel.items:
        bounds = hull(item.box for item in panel.items).grown(_EDGE)
        items = panel.moved(-bounds.left, -bounds.top).items
        panel = Panel(items, bounds.width, bounds.height)
    drawn = svg_of(Scene(panel.width, panel.height, panel.items, title), names)
    return Illustration(title, drawn, panel.width, panel.height)


def names_in(packet: Packet, wiring: Wiring) -> Names:
    """What the script calls a picture's things: ``t:`` a terminal, ``w:`` a wire, ``p:`` a part."""
    wires = {wire.id: wire for wire in wiring.wires}
    parts = packet.spec.parts_of(wiring)

    def of(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"lug", "spring"}:
            return f"t:{name}"
        if kind in {"wire", "jumper"}:
            return f"w:{name}"
        if kind == "part" and name in parts:
            return f"p:{name}"
        return f"t:{name.rpartition('@')[2]}" if kind in {"net", "part", "point"} else ""

    def said(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"wire", "jumper"} and name in wires:
            wire = wires[name]
            colour = f", {wire.colour}" if wire.colour else ""
            return f"{kind} {name}{colour}, {wire.ends[0]} to {wire.ends[1]}"
        if kind == "part":
            return f"{parts[name].kind} {name}" if name in parts else f"lead {name}"
        return f"{kind} {name}" if kind in {"lug", "point"} else ""

    return Names(of, said)


def _dial(packet: Packet, wiring: Wiring, readout: Readout) -> Shown:
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
        "when": dict(reading.when),
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
        of_scale = f" ({readout.dial.said})" if readout.dial else ""
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
