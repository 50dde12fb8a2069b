"""The evidence, printed where it is asked for: findings lug by lug, wires, nets, single faults."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rewire import __version__
from rewire.bench.work_list import Moves
from rewire.compare.findings import Result
from rewire.records.spec import Wire, Wiring
from rewire.report.as_built import form
from rewire.report.check import (
    Telling,
    about_finding,
    as_told,
    counted,
    lines_under,
    reason,
    tellings,
)
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.report.to_do import BOX, fitted_words
from rewire.values.answers import Mishap
from rewire.words.quantity import in_ohms

_ROWS = {"switch": "switch", "meter": "meter", "resistor": "resistors", "pot": "pots"}
"""Kind of part → its row in the table of options; the others share one."""
_ACROSS = 4
"""Wirings side by side in one table; more go into the next."""


def verdict_sections(packet: Packet) -> Iterator[ReportSection]:
    """Verdicts on the plans, then the findings."""
    verdicts = map(_verdict_on, packet.results)
    found = [words for telling in tellings(packet.results) for words in _findings(telling)]
    yield ReportSection("verdict", "Verdict", (*verdicts, *found))


def _verdict_on(result: Result) -> Words:
    compared = f"{counted(result.states, 'state')} compared"
    said = f"{result.wiring}{as_told(result.role)} {reason(result)}; {compared}"
    return Words(said, result.verdict.upper(), bold=True)


def _findings(telling: Telling) -> Iterator[Words]:
    titles = ("Wrong", "Different on purpose", "For information")
    groups = zip(titles, (telling.wrong, telling.meant, telling.known), strict=True)
    for title, found in groups:
        if found:
            yield Words(f"{title} in {telling.result.wiring}", bold=True)
        for told in found:
            numbered = told.number is not None
            said = f"{told.first.kind}: {told.message}" if numbered else told.message
            mark, under = f"{told.number}" if numbered else "–", tuple(lines_under(told))
            yield Words(said, mark, under=under, about=about_finding(telling.result, told))


def wires_sections(packet: Packet) -> Iterator[ReportSection]:
    """Of each shown wiring every wire with both its ends, and every net."""
    for wiring in packet.wirings:
        begun = [one for one in packet.moves if one.source == wiring.name and one.steps]
        moves = [one for one in begun if any(one.tags[w.id] != w.id for w in wiring.wires)]
        yield ReportSection("wires", f"Wire list: {wiring.name}", tuple(_wires(wiring, moves)))


def _wires(wiring: Wiring, moves: Sequence[Moves]) -> Iterator[Block]:
    if wiring.wires:
        labels = [f"label, to {one.target}" for one in moves]
        heads = ("", "no.", "from", "to", *labels, "colour", "length", "note")
        rows = tuple(_wire(wire, wire.ends, moves) for wire in wiring.wires)
        yield used_columns(Table(heads, rows), ("", "colour"))
    else:
        yield Words("No single wire is known of this wiring.")
    if wiring.cut_wires:
        yield Words("Cut off at one end, joined to nothing:")
        cut = tuple(_wire(w, [e for e in w.ends if e != "cut"], ()) for w in wiring.cut_wires)
        yield Table(("", "no.", "on", "colour", "length", "note"), cut)
    if wiring.nets:
        yield Words("Also joined, by wires that are not listed one by one:")
        nets = tuple(row(net.name or "", ", ".join(net.members)) for net in wiring.nets)
        yield Table(("net", "all of these are joined"), nets)


def _wire(wire: Wire, ends: Sequence[str], moves: Sequence[Moves]) -> tuple[Cell, ...]:
    length = "" if wire.length_metres is None else f"{wire.length_metres * 1000:g} mm"
    volts = wire.insulation_volts
    remarks = (
        "jumper" if wire.jumper else "", wire.gauge,
        "" if volts is None else f"insulation {volts:g} V",
        f"twisted with {wire.twisted_with}" if wire.twisted_with else "",
        "screened" if wire.screened else "", wire.note,
    )  # fmt: skip
    return (
        BOX, Cell(wire.id, bold=True), *row(*ends),
        *(Cell(one.tags[wire.id], bold=True) for one in moves),
        Cell(wire.colour or "", wire.colour), Cell(length), Cell("; ".join(filter(None, remarks))),
    )  # fmt: skip


def options_sections(packet: Packet) -> Iterator[ReportSection]:
    """The plans that can be built, and the original: their parts, readings, verdicts."""
    broken = {result.wiring for result in packet.results if result.verdict == "broken"}
    plans = [w for w in packet.wirings if w.role == "plan" and w.name not in broken]
    if not plans:
        return
    said = "One column per wiring: find the one you have the parts for."
    blocks: list[Block] = [Words(said)] if len(plans) > 1 else []
    wirings = [*plans, *(w for w in packet.wirings if w.role is None)]
    for start in range(0, len(wirings), _ACROSS):
        blocks.append(_options(packet, wirings[start : start + _ACROSS]))
    yield ReportSection("options", "Options", tuple(blocks))


def _options(packet: Packet, wirings: Sequence[Wiring]) -> Table:
    kinds = (*_ROWS.values(), "other parts")
    lines = {kind: [_fitted(packet, wiring, kind) for wiring in wirings] for kind in kinds}
    for name in packet.spec.readings:
        lines[f"{name} reads"] = [_reads(packet, wiring, name) for wiring in wirings]
    lines["verdict"] = [_verdict(packet, wiring) for wiring in wirings]
    rows = tuple((Cell(name, bold=True), *row(*said)) for name, said in lines.items() if any(said))
    return Table(("", *(wiring.name for wiring in wirings)), rows)


def _fitted(packet: Packet, wiring: Wiring, kind: str) -> str:
    fitted = fitted_words(packet, wiring.name)
    return "; ".join(
        f"{part.name}: {part.described_as(fitted.get(part.name))}"
        for part in wiring.parts.values()
        if _ROWS.get(part.kind, "other parts") == kind and part.kind != "strip"
    )


def _reads(packet: Packet, wiring: Wiring, name: str) -> str:
    values = packet.values.get(wiring.name)
    readout = next((r for r in values.readings if r.name == name), None) if values else None
    if readout is None:
        return "not computed"
    if readout.deflection is None:
        return readout.note or "unknown"
    said = f"{100 * readout.deflection:.1f} % at full scale, {readout.allowance}"
    ohms = readout.insertion_ohms
    return said if ohms is None else f"{said}; {in_ohms(ohms)} in circuit"


def _verdict(packet: Packet, wiring: Wiring) -> str:
    if wiring.name == "original":
        return "as the maker built it"
    verdicts = (r.verdict.upper() for r in packet.results if r.wiring == wiring.name)
    return next(verdicts, "not compared here")


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


def document_sections(packet: Packet) -> Iterator[ReportSection]:
    """Who answers for the paper, its licence and revision, and the spec it was made from."""
    spec, document = packet.spec, packet.spec.document
    fields = {
        "drawn up by": document.author, "date": document.date, "revision": document.revision,
        "licence": document.licence, "spec": f"SHA-256 {spec.digest}" if spec.digest else None,
        "made with": f"rewire {__version__}",
    }  # fmt: skip
    yield ReportSection("document", "Document", tuple(form(fields)))
