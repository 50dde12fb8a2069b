"""The evidence, printed where it is asked for: findings lug by lug, wires, nets, single faults."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rewire.compare.findings import Result
from rewire.records.spec import Wire, Wiring
from rewire.report.check import counted, headline, tellings
from rewire.report.checked import in_full
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.values.answers import Mishap
from rewire.words.quantity import with_unit


def verdict_sections(packet: Packet) -> Iterator[ReportSection]:
    """Verdicts on the plans, then the findings."""
    blocks = [*map(_verdict_on, packet.results)]
    for telling in tellings(packet.results):
        for title, words in in_full(telling):
            lines = list(words)
            head = [Words(f"{title} in {telling.result.wiring}", bold=True)] if lines else []
            blocks += [*head, *lines]
    yield ReportSection("verdict", "Verdict", tuple(blocks))


def _verdict_on(result: Result) -> Words:
    verdict, said = headline(result)
    states = f"; {counted(result.states, 'state')} compared" if result.compared else ""
    return Words(f"{said}{states}", verdict, bold=True)


def wires_sections(packet: Packet) -> Iterator[ReportSection]:
    """Of each shown wiring every wire with both its ends, and every net."""
    for wiring in packet.wirings:
        yield ReportSection("wires", f"Wire list: {wiring.name}", tuple(_wires(wiring)))


def _wires(wiring: Wiring) -> Iterator[Block]:
    rows = tuple(_wire(wire) for wire in (*wiring.wires, *wiring.cut_wires))
    if rows:
        yield used_columns(Table(("no.", "from", "to", "colour", "length", "note"), rows))
    else:
        yield Words("No single wire is known of this wiring.")
    if wiring.nets:
        yield Words("Also connected, by wires that are not listed one by one:")
        nets = tuple(row(net.name or "", ", ".join(net.members)) for net in wiring.nets)
        yield Table(("net", "all of these are connected"), nets)


def _wire(wire: Wire) -> tuple[Cell, ...]:
    length = "" if wire.length_metres is None else f"{wire.length_metres * 1000:g} mm"
    volts = wire.insulation_volts
    remarks = (
        "jumper" if wire.jumper else "", wire.gauge,
        "" if volts is None else f"insulation {with_unit(volts, 'V')}",
        f"twisted with {wire.twisted_with}" if wire.twisted_with else "",
        "screened" if wire.screened else "", wire.note,
    )  # fmt: skip
    return (
        Cell(wire.id, bold=True), *row(*wire.ends), Cell(wire.colour or "", wire.colour),
        Cell(length), Cell("; ".join(filter(None, remarks))),
    )  # fmt: skip


def fault_sections(packet: Packet) -> Iterator[ReportSection]:
    """Of each plan what happens while switching, and if one thing fails, worst first."""
    for wiring in packet.plans:
        values = packet.values.get(wiring.name)
        if values is not None:
            switching = _mishaps("While switching", values.switching)
            faults = _mishaps("If one thing fails", values.faults)
            title = f"Single faults: {wiring.name}"
            yield ReportSection("faults", title, (*switching, *faults))


def _mishaps(title: str, found: Iterable[Mishap]) -> Iterator[Words]:
    bad = [one for one in found if one.bad]
    if bad:
        yield Words(f"{title}, worst first:", bold=True)
    yield from (Words(one.message or one.what, mark="–") for one in bad)
