"""The wire list and the net list of one wiring."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.sheet.blocks import Cell, heading, paragraph, table
from rewire.sheet.flow import Strip
from rewire.spec.model import Wire, Wiring


def wire_list(wiring: Wiring, width: float) -> list[Strip]:
    """Every wire with both its ends, and every net; a heading and a word where there is none."""
    strips = [heading(f"Wire list: {wiring.name}", width)]
    strips.extend(
        table(
            ("", "id", "from", "to", "colour", "length", "note"),
            (_wire(wire) for wire in wiring.wires),
            (5, 13, 30, 30, 22, 16, 60),
            width,
        )
    )
    if not wiring.wires:
        strips.extend(paragraph("No single wire is known of this wiring.", width, gap=1.0))
    strips.extend(_nets(wiring, width))
    return strips


def _wire(wire: Wire) -> tuple[Cell, ...]:
    return (
        Cell(box=True),
        Cell(wire.id, bold=True),
        Cell(wire.ends[0]),
        Cell(wire.ends[1]),
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


def _nets(wiring: Wiring, width: float) -> list[Strip]:
    if not wiring.nets:
        return []
    said = "Also joined, by wires that are not listed one by one:"
    rows = ((Cell(net.name or ""), Cell(", ".join(net.members))) for net in wiring.nets)
    return [
        *paragraph(said, width, gap=3.0, with_next=True),
        *table(("net", "all of these are joined"), rows, (30, 150), width),
    ]
