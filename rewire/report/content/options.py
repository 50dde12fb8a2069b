"""The options table: one column per wiring, so that owners find the one they have parts for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rewire.records.spec import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    Lamp,
    Meter,
    Part,
    Pot,
    Resistor,
    Switch,
    Wiring,
)
from rewire.report.content.parts import fitted_words
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words
from rewire.values.model import Readout
from rewire.words.quantity import in_ohms

_ACROSS = 4
"""Wirings side by side in one table; more go into the next."""


def options_section(packet: Packet) -> Section:
    """The plans that can be built, and the original: their parts, readings, verdicts."""
    broken = {result.wiring for result in packet.results if result.verdict == "broken"}
    plans = [w for w in packet.wirings if w.role == "plan" and w.name not in broken]
    if not plans:
        return Section("options", "Options", ())
    wirings = [*plans, *(w for w in packet.wirings if w.role is None)]
    said = "One column per wiring: find the one you have the parts for."
    blocks: list[Block] = [Words(said)] if len(plans) > 1 else []
    blocks += [_table(packet, group) for group in _in_groups(wirings)]
    return Section("options", "Options", tuple(blocks))


def _in_groups(wirings: Sequence[Wiring]) -> Iterator[Sequence[Wiring]]:
    for start in range(0, len(wirings), _ACROSS):
        yield wirings[start : start + _ACROSS]


def _table(packet: Packet, wirings: Sequence[Wiring]) -> Table:
    rows = [
        _row(kind, [_parts(packet, wiring, classes) for wiring in wirings])
        for kind, classes in _KINDS.items()
    ]
    rows += [
        _row(f"{name} reads", [_reads(packet, wiring, name) for wiring in wirings])
        for name in packet.spec.readings
    ]
    rows.append(_row("verdict", [_verdict(packet, wiring) for wiring in wirings]))
    said = tuple(line for line in rows if any(cell.text for cell in line[1:]))
    head = ("", *(wiring.name for wiring in wirings))
    return Table(head, said, (24.0, *(40.0 for _ in wirings)))


def _row(name: str, said: Sequence[str]) -> tuple[Cell, ...]:
    return (Cell(name, bold=True), *(Cell(text) for text in said))


_KINDS: Mapping[str, tuple[type[Part], ...]] = {
    "switch": (Switch,),
    "meter": (Meter,),
    "resistors": (Resistor,),
    "pots": (Pot,),
    "other parts": (Capacitor, Choke, Diode, Fuse, Lamp),
}


def _parts(packet: Packet, wiring: Wiring, classes: tuple[type[Part], ...]) -> str:
    fitted = fitted_words(packet, wiring.name)
    return "; ".join(
        f"{part.name}: {part.described_as(fitted.get(part.name))}"
        for part in wiring.parts.values()
        if isinstance(part, classes)
    )


def _reads(packet: Packet, wiring: Wiring, name: str) -> str:
    values = packet.values.get(wiring.name)
    readout = next((r for r in values.readings if r.name == name), None) if values else None
    return "not computed" if readout is None else _readout(readout)


def _readout(readout: Readout) -> str:
    if readout.deflection is None:
        return readout.note or "unknown"
    said = f"{100 * readout.deflection:.1f} % at full scale"
    said += f", {readout.allowance}"
    if readout.insertion_ohms is not None:
        said += f"; {in_ohms(readout.insertion_ohms)} in circuit"
    return said


def _verdict(packet: Packet, wiring: Wiring) -> str:
    if wiring.name == "original":
        return "as the maker built it"
    verdicts = (r.verdict.upper() for r in packet.results if r.wiring == wiring.name)
    return next(verdicts, "not compared here")
