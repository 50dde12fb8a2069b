"""The packet as one HTML file that turns its switches: style, script and spec are inside.

The policy in its head lets nothing be fetched, and nothing run but the script and the style
that are named there by their digests.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from rewire import __version__
from rewire.bench.work_list import DO_NOT_BUILD
from rewire.circuit.circuit import circuit_of
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Link
from rewire.circuit.states import LimitReached
from rewire.compare.roles import roles_between
from rewire.draw.circuit import circuit_panel
from rewire.draw.labels import SHADES
from rewire.draw.lugview import SwitchView
from rewire.draw.paint import MARK, Names, svg_of
from rewire.draw.scene import Line, Panel, Paper, Scene, hull
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Spec, Wiring
from rewire.records.switches import Switch
from rewire.report.check import Told, about_finding, tellings
from rewire.report.contents import CARD, SECTIONS, built_otherwise, sections_of
from rewire.report.packet import Packet
from rewire.report.section import Cell, Illustration, ReportSection, Table, Words
from rewire.values.answers import Readout
from rewire.values.dc_network import Branch
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.reading_network import selected
from rewire.words.quantity import with_unit
from rewire.words.wording import printable

Data = dict[str, object]
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
"""Needed to write some languages; they turn nothing."""
_LONGEST = 6000
_MOST_STATES = 64
"""States of one reading whose paths are told apart; more are taken like the first."""


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
    paper_only = {CARD, *(_TURNED if turned else ())}
    made = list(sections_of(packet, paper, asked - paper_only))
    if turned:
        made.append(ReportSection("lugs", "Turn the switches", ()))
    written = {"file": Path(spec.file).name, "source": source.decode("utf-8", "replace")}
    wirings = [_shown(packet, wiring, paper, "circuits" in asked) for wiring in packet.wirings]
    text = _environment().get_template("page.html").render(
        spec=spec, packet=packet, style=Markup(style), script=Markup(script),
        policy=_policy(style, script), data=_embedded({**_data(packet), **written}),
        warnings=list(_warnings(packet)),
        sections=list(_placed(packet, made)),
        wirings=wirings if turned else [],
        shades=SHADES, nothing=Cell(), narrow=NARROW, mark=MARK, version=__version__,
    )  # fmt: skip
    return text.lstrip().encode("utf-8", "replace")


def _placed(
    packet: Packet, made: Sequence[ReportSection]
) -> Iterator[tuple[ReportSection, str, int]]:
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
    made.tests.update(words=_is(Words), table=_is(Table), picture=_is(Illustration))
    return made


def _is(kind: type) -> Callable[[object], bool]:
    return lambda block: isinstance(block, kind)


def _drawing(picture: Illustration) -> Markup:
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


def _shown(packet: Packet, wiring: Wiring, paper: Paper, circuits: bool) -> Data:
    """One wiring on the page; circuits and dials come with the positions they hold in."""
    verdicts = {result.wiring: result.verdict for result in packet.results}
    values = packet.values.get(wiring.name)
    lugs = []
    for switch in packet.spec.all_of(Switch, wiring).values():
        view = SwitchView(packet.spec, wiring, switch, "behind", paper)
        panels = view.drawn(0.0)
        names = _names(packet, wiring, switch.terminal, _led_to(panels))
        title = f"{switch.name} in {wiring.name}, lugs from behind"
        lugs.append((view.title, view.notes(), [_picture(title, one, names) for one in panels]))
    return {
        "name": wiring.name,
        "verdict": verdicts.get(wiring.name, ""),
        "computed": values is not None,
        "dials": [_dial(packet, wiring, one) for one in values.readings] if values else [],
        "lugs": lugs,
        "circuits": list(_circuits(packet, wiring, paper)) if circuits else [],
    }


def _circuits(
    packet: Packet, wiring: Wiring, paper: Paper
) -> Iterator[tuple[object, Illustration]]:
    """The circuits of a wiring's readings; the packet on paper says which cannot be drawn."""
    names = _names(packet, wiring, lambda lug: lug, {})
    for network in packet.networks.get(wiring.name, ()):
        title = f"Circuit of {network.reading.name} in {wiring.name}"
        with suppress(LimitReached):
            panel = circuit_panel(network, paper)
            yield dict(network.reading.when), _picture(title, panel, names)


def _picture(title: str, panel: Panel, names: Names) -> Illustration:
    """The drawing without the empty paper around it."""
    if panel.items:
        bounds = hull(item.box for item in panel.items).grown(_EDGE)
        items = panel.moved(-bounds.left, -bounds.top).items
        panel = Panel(items, bounds.width, bounds.height)
    drawn = svg_of(Scene(panel.width, panel.height, panel.items, title), names)
    return Illustration(title, drawn, panel.width, panel.height)


def _led_to(panels: Sequence[Panel]) -> dict[str, dict[str, None]]:
    """Per lug what the labels at the end of its leader show."""
    led: dict[str, dict[str, None]] = defaultdict(dict)
    for item in (item for panel in panels for item in panel.items):
        if isinstance(item, Line) and len(item.joins) == 1 and not item.shows.startswith("leader:"):
            led[item.joins[0].removeprefix("lug:")][item.shows] = None
    return led


def _names(
    packet: Packet, wiring: Wiring, terminal: Callable[[str], str],
    led: Mapping[str, Iterable[str]],
) -> Names:  # fmt: skip
    """What the script calls a picture's things: ``t:`` a terminal, ``w:`` a wire, ``p:`` a part.

    Args:
        packet: with the spec.
        wiring: that is drawn.
        terminal: a lug as the picture names it → its terminal.
        led: per lug what the labels at the end of its leader show.
    """
    wires = {wire.id: wire for wire in wiring.wires}
    parts = packet.spec.parts_of(wiring)

    def of(shows: str) -> str:
        kind, _, name = shows.partition(":")
        if kind in {"leader", "joint"}:
            return " ".join(filter(None, map(of, led.get(name, ()))))
        if kind in {"lug", "again", "spring"}:
            return f"t:{terminal(name)}"
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
        return f"{kind} {terminal(name)}" if kind in {"lug", "point"} else ""

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


def _data(packet: Packet) -> Data:
    """Controls, wirings and findings, ready to be written as JSON."""
    spec = packet.spec
    first = next(iter(packet.plans), packet.wirings[0])
    return {
        "digest": spec.digest,
        "controls": [
            {"name": control.name, "positions": control.positions, "wraps": control.wraps}
            for control in spec.controls.values()
        ],
        "never": [dict(item) for item in spec.never],
        "first": packet.wirings.index(first),
        "wirings": [_wiring(packet, wiring) for wiring in packet.wirings],
        "findings": dict(_findings(packet)),
    }


def seen(text: str, most: int = _LONGEST) -> str:
    r"""The text with characters that cannot be seen spelt out, and cut where it is endless.

    >>> seen("a\u202eb\tc")
    'a‹U+202E›b c'
    """
    shown = printable(re.sub(r"[\t\n\r]", " ", text[:most]))
    if len(text) <= most:
        return shown
    more = f" … ({len(text) - most} more characters in the spec)"
    return f"{shown}{'…' if most < _LONGEST else more}"


def _wiring(packet: Packet, wiring: Wiring) -> Data:
    circuit, solved = circuit_of(packet.spec, wiring), packet.solved.get(wiring.name)
    order = list(packet.spec.controls)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    contacts = [
        {
            "switch": contact.switch,
            "control": order.index(contact.control),
            "closed": [
                [[number[f"{contact.switch}.{lug}"] for lug in group] for group in groups]
                for groups in contact.section.groups
            ],
        }
        for contact in circuit.contacts
    ]
    wires = [{"id": w.id, "ends": [number[end] for end in w.ends]} for w in wiring.wires]
    return {
        "name": wiring.name,
        "computed": solved is not None,
        "terminals": list(circuit.nets.of),
        "nets": list(circuit.nets.of.values()),
        "contacts": contacts,
        "wires": wires,
        "paths": list(_paths(solved)) if solved is not None else [],
    }


def _paths(solved: Solved) -> Iterator[Data]:
    """Every reading with the states it is taken in, and what carries it there."""
    spec, wiring = solved.network.spec, solved.network.wiring
    circuit = circuit_of(spec, wiring)
    number = {name: n for n, name in enumerate(circuit.nets.of)}
    joints = [tuple(dict.fromkeys(number[t] for t in joint)) for joint in circuit.soldered]
    ways = BlockTree([Link(NO_SECTION, (), joint, ALWAYS) for joint in joints if len(joint) > 1])
    for name, setup in solved.setups.items():
        states = setup.states if len(setup.states) <= _MOST_STATES else setup.states[:1]
        carried = [_carried(solved, setup, state, ways) for state in states]
        yield {"reading": name, "when": dict(setup.reading.when), "carried": carried}


def _carried(solved: Solved, setup: Setup, state: Mapping[str, int], ways: BlockTree) -> Data:
    """What carries a reading in one state, down to the single wire.

    The branches of its circuit say which nets and contacts it takes. Inside a net it takes the
    wires that lie on some way between two terminals where it enters or leaves; a wire that only
    hangs on the net carries nothing of it.
    """
    board = solved.network
    controls, number = board.spec.controls, {name: n for n, name in enumerate(board.nets.of)}
    branches, _ = selected(board, setup.reading, setup.meter, state)
    taken = _sections(solved, branches)
    ports = {number[t] for t in _ports(solved, setup, branches, state) if t in number}
    links = {frozenset(link.places) for link in ways.between(list(ports))}
    wires = (frozenset(number[end] for end in wire.ends) for wire in board.wiring.wires)
    return {
        "at": {name: controls[name].positions[at] for name, at in state.items()},
        "terminals": sorted(ports.union(*links)),
        "wires": [n for n, ends in enumerate(wires) if ends in links],
        "contacts": sorted(taken),
    }


def _sections(solved: Solved, branches: Iterable[Branch]) -> set[tuple[int, int]]:
    """Sections with the nets that they take the reading from or to."""
    nets = range(len(solved.network.nets.members))
    closed = (branch for branch in branches if branch.control is not None)
    return {(branch.section, end) for branch in closed for end in branch.ends if end in nets}


def _ports(
    solved: Solved, setup: Setup, branches: Sequence[Branch], state: Mapping[str, int]
) -> Iterator[str]:
    """Terminals at which the reading enters or leaves a net."""
    if not branches:
        return
    board, taken = solved.network, _sections(solved, branches)
    contacts = circuit_of(board.spec, board.wiring).contacts
    yield from filter(
        None, map(roles_between(board.spec, board.wiring).place, setup.reading.places)
    )
    for section in {section for section, _ in taken}:
        contact = contacts[section]
        lugs = (lug for group in contact.section.groups[state[contact.control]] for lug in group)
        yield from (
            f"{contact.switch}.{lug}" for lug in lugs if (section, contact.place[lug]) in taken
        )
    for branch in (branch for branch in branches if branch.control is None):
        part = board.parts[branch.part]
        ends = map(part.terminal, part.terminals)
        yield from (end for end in ends if board.node(end) in branch.ends)


def _findings(packet: Packet) -> Iterator[tuple[str, Data]]:
    """Where to look for each finding: a wiring, a state, and the terminals of each side."""
    for telling in tellings(packet.results):
        wiring = packet.spec.wirings[telling.result.wiring]
        for told in (*telling.wrong, *telling.meant, *telling.known):
            sides = list(filter(None, _sides(packet.spec, wiring, told)))
            if sides:
                steps = (step.before for step in told.first.steps)
                holds = next(iter((*told.first.states, *steps)), None)
                state = dict(holds.as_dict()) if holds is not None else {}
                found: Data = {"wiring": wiring.name, "state": state, "sides": sides}
                yield about_finding(telling.result, told), found


def _sides(spec: Spec, wiring: Wiring, told: Told) -> Iterator[list[str]]:
    """Places and parts of the original as they are in this wiring, where it has them."""
    first, roles = told.first, roles_between(spec, wiring)
    groups = dict.fromkeys(group for finding in told.findings for group in finding.groups)
    named = filter(None, (*first.ends_at, first.place, first.part))
    parts, terminals = spec.parts_of(wiring), circuit_of(spec, wiring).nets.of
    for names in groups or [tuple(named)]:
        found: list[str] = []
        for own in filter(None, map(roles.place, names)):
            if own in terminals:
                found.append(own)
            elif own in parts:
                found += map(parts[own].terminal, parts[own].terminals)
        yield list(dict.fromkeys(found))
