"""The wire lists and the net lists of the wirings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.bench.work_list import Moves
from rewire.records.spec import Wire, Wiring
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words, row, used_columns


def wires_sections(packet: Packet) -> Iterator[Section]:
    """Of each shown wiring every wire with both its ends, and every net."""
    for wiring in packet.wirings:
        moves = [one for one in packet.moves if one.source == wiring.name and one.steps]
        yield Section("wires", f"Wire list: {wiring.name}", tuple(_blocks(wiring, moves)))


def _blocks(wiring: Wiring, moves: Sequence[Moves]) -> Iterator[Block]:
    other = [one for one in moves if any(one.tags[w.id] != w.id for w in wiring.wires)]
    if wiring.wires:
        table = Table(
            ("", "no.", "from", "to", *map(_labelled, other), "colour", "length", "note"),
            tuple(_wire(wire, other) for wire in wiring.wires),
            (5, 13, 30, 30, *(22 for _ in other), 22, 16, 60),
        )
        yield used_columns(table, ("", "colour"))
    else:
        yield Words("No single wire is known of this wiring.")
    if wiring.cut_wires:
        yield Words("Cut off at one end, joined to nothing:")
        yield Table(
            ("", "no.", "on", "colour", "length", "note"),
            tuple(_cut(wire) for wire in wiring.cut_wires), (5, 13, 60, 22, 16, 60),
        )  # fmt: skip
    if wiring.nets:
        yield Words("Also joined, by wires that are not listed one by one:")
        rows = tuple(row(net.name or "", ", ".join(net.members)) for net in wiring.nets)
        yield Table(("net", "all of these are joined"), rows, (30, 150))


def _cut(wire: Wire) -> tuple[Cell, ...]:
    return (
        Cell(box=True),
        Cell(wire.id, bold=True),
        *row(*(end for end in wire.ends if end != "cut")),
        Cell(wire.colour or "", wire.colour),
        Cell(_length(wire)),
        Cell("; ".join(_remarks(wire))),
    )


def _labelled(moves: Moves) -> str:
    return f"label, to {moves.target}"


def _wire(wire: Wire, moves: Sequence[Moves]) -> tuple[Cell, ...]:
    return (
        Cell(box=True),
        Cell(wire.id, bold=True),
        *row(*wire.ends),
        *(Cell(one.tags[wire.id], bold=True) for one in moves),
        Cell(wire.colour or "", wire.colour),
        Cell(_length(wire)),
        Cell("; ".join(_remarks(wire))),
    )


def _length(wire: Wire) -> str:
    return "" if wire.length_metres is None else f"{wire.length_metres * 1000:g} mm"


def _remarks(wire: Wire) -> Iterator[str]:
    if wire.jumper:
        yield "jumper"
    if wire.gauge:
        yield wire.gauge
    if wire.insulation_volts is not None:
        yield f"insulation {wire.insulation_volts:g} V"
    if wire.twisted_with:
        yield f"twisted with {wire.twisted_with}"
    if wire.screened:
        yield "screened"
    if wire.note:
        yield wire.note
