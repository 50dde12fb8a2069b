"""The wire list and the net list of one wiring."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.sheet.content.records import Block, Cell, Section, Table, Words, row, used_columns
from rewire.spec.model import Wire, Wiring


def wires_section(wiring: Wiring) -> Section:
    """Every wire with both its ends, and every net; a word where there is none."""
    return Section("wires", f"Wire list: {wiring.name}", tuple(_blocks(wiring)))


def _blocks(wiring: Wiring) -> Iterator[Block]:
    if wiring.wires:
        table = Table(
            ("", "id", "from", "to", "colour", "length", "note"),
            tuple(_wire(wire) for wire in wiring.wires),
            (5, 13, 30, 30, 22, 16, 60),
        )
        yield used_columns(table, ("", "colour"))
    else:
        yield Words("No single wire is known of this wiring.")
    if wiring.nets:
        yield Words("Also joined, by wires that are not listed one by one:")
        rows = tuple(row(net.name or "", ", ".join(net.members)) for net in wiring.nets)
        yield Table(("net", "all of these are joined"), rows, (30, 150))


def _wire(wire: Wire) -> tuple[Cell, ...]:
    return (
        Cell(box=True),
        Cell(wire.id, bold=True),
        *row(*wire.ends),
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
