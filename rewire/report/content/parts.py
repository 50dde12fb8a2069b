"""Parts lists: what each planned wiring needs, with values, ratings and quantities."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from rewire.compare.turned import roles_between
from rewire.records.spec import Part, Spec, Switch, Wire, Wiring
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words, row, used_columns
from rewire.values.lug_volts import LugVolts, insulation_asked, lug_volts
from rewire.words.quantity import with_unit

_HEAD = ("", "pcs", "part", "what", "instead of", "takes", "where and how")
_SHARES = (5.0, 9.0, 20.0, 66.0, 20.0, 18.0, 54.0)


def parts_section(packet: Packet) -> Section:
    """The parts of each plan, those alike in one line; hook-up wire; what stays in the set."""
    blocks: list[Block] = [Words("'takes' is the most at full scale of any reading.")]
    for wiring in packet.plans:
        blocks += _of_wiring(packet, wiring)
    blocks += _staying(packet)
    return Section("parts", "Parts list", tuple(blocks))


def _of_wiring(packet: Packet, wiring: Wiring) -> Iterator[Block]:
    if wiring.parts:
        rows = tuple(_rows(packet, wiring, wiring.parts.values()))
        title = f"Parts of {wiring.name}"
        yield used_columns(Table(_HEAD, rows, _SHARES, title), ("", "pcs"))
    wire = tuple(_hook_up(wiring.wires, lug_volts(packet.spec, wiring)))
    if wire:
        head = ("", "pcs", "wire", "length in all")
        title = f"Hook-up wire of {wiring.name}"
        yield used_columns(Table(head, wire, (5.0, 9.0, 90.0, 60.0), title), ("", "pcs"))


def _staying(packet: Packet) -> Iterator[Block]:
    spec = packet.spec
    plans = packet.plans
    if spec.parts and plans:
        rows = tuple(_rows(packet, plans[0], spec.parts.values()))
        yield used_columns(Table(_HEAD, rows, _SHARES, "Parts that stay in the set"), ("", "pcs"))


def _rows(packet: Packet, wiring: Wiring, parts: Iterable[Part]) -> Iterator[tuple[Cell, ...]]:
    """Parts with the same words about them share a line."""
    alike: dict[tuple[str, ...], list[str]] = defaultdict(list)
    fitted = fitted_words(packet, wiring.name)
    for part in parts:
        said = (
            part.described_as(fitted.get(part.name)), _instead_of(packet.spec, wiring, part),
            _takes(packet, wiring, part), _remarks(part),
        )  # fmt: skip
        alike[said].append(part.name)
    for (what, instead, takes, remarks), names in alike.items():
        yield (
            Cell(box=True), Cell(str(len(names))), Cell(", ".join(names), bold=True),
            *row(what, instead, takes, remarks),
        )  # fmt: skip


def fitted_words(packet: Packet, wiring: str) -> Mapping[str, str]:
    """Part → chosen value, for those that a wiring leaves to be fitted."""
    values = packet.values.get(wiring)
    if values is None:
        return {}
    return {
        fit.part: f"{fit.chosen} (fitted for {fit.reading})" for fit in values.fits if fit.chosen
    }


def _instead_of(spec: Spec, wiring: Wiring, part: Part) -> str:
    if isinstance(part, Switch):
        return ", ".join(_switches_gone(spec, wiring, part))
    roles, original = roles_between(spec, wiring), spec.original.parts
    gone = [name for name in roles.forerunners(part.name) if name in original and name != part.name]
    whole = {name for name in gone if roles.takers(original[name]) == (part.name,)
             and len(original[name].terminals) == len(part.terminals)}  # fmt: skip
    return ", ".join(name if name in whole else f"part of {name}" for name in gone)


def _switches_gone(spec: Spec, wiring: Wiring, switch: Switch) -> Iterator[str]:
    """The original's switches on the same control that this wiring has no more."""
    for name, part in spec.original.parts.items():
        if isinstance(part, Switch) and part.control == switch.control and name not in wiring.parts:
            yield name


def _takes(packet: Packet, wiring: Wiring, part: Part) -> str:
    """The most it takes at full scale of any reading."""
    values = packet.values.get(wiring.name)
    if values is None:
        return ""
    watts = next((p.watts for p in values.parts if p.part == part.name), None)
    return "" if watts is None else with_unit(watts, "W", 3)


def _remarks(part: Part) -> str:
    return "; ".join(said for said in (part.label, part.where, part.note) if said)


def _hook_up(wires: Iterable[Wire], live: Mapping[str, LugVolts]) -> Iterator[tuple[Cell, ...]]:
    alike: dict[tuple[str, str | None], list[Wire]] = defaultdict(list)
    for wire in wires:
        alike[", ".join(_kind(wire, live.get(wire.ends[0]))), wire.colour].append(wire)
    for (kind, colour), same in alike.items():
        yield (
            Cell(box=True), Cell(str(len(same))),
            Cell(", ".join(said for said in (colour or "", kind) if said) or "any", colour),
            Cell(_length(same)),
        )  # fmt: skip


def _kind(wire: Wire, volts: LugVolts | None) -> Iterator[str]:
    if wire.gauge:
        yield wire.gauge
    insulation = insulation_asked(wire.insulation_volts, volts)
    if insulation:
        yield insulation
    if wire.screened:
        yield "screened"


def _length(wires: Iterable[Wire]) -> str:
    """Metres add up in any order to the same figure when summed as whole tenths of millimetres."""
    lengths = [wire.length_metres for wire in wires]
    total = sum(round(one * 10_000) for one in lengths if one is not None)
    open_ones = lengths.count(None)
    said = [f"{total / 10:g} mm"] if total else []
    said += [f"{open_ones} of a length not given"] if open_ones else []
    return " and ".join(said)
