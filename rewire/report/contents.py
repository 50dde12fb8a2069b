"""What stands in the packet, in which order: cautions, verdict, the work, pictures, tests."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from rewire.bench.record import Record
from rewire.bench.safety import cautions_of
from rewire.bench.wire_plan import wire_plan
from rewire.circuit.states import LimitReached
from rewire.compare.findings import Result
from rewire.draw.circuit import circuit_panel
from rewire.draw.lugview import SwitchView
from rewire.draw.marked import marked_parts
from rewire.draw.paint import svg_of
from rewire.draw.scanned import scanned_panels
from rewire.draw.scene import Panel, Paper, Scene
from rewire.draw.sheets import Cell as Pieces
from rewire.records.switches import Switch
from rewire.report.card import card_pages
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
from rewire.report.section import (
    Block,
    Cell,
    Illustration,
    ReportSection,
    Table,
    Words,
    used_columns,
)
from rewire.report.to_do import (
    found_sections,
    options_sections,
    parts_sections,
    wires_sections,
    work_sections,
)
from rewire.report.to_prove import (
    acceptance_sections,
    bench_sections,
    calibration_sections,
    continuity_sections,
    document_sections,
    log_sections,
    owner_sections,
    record_sections,
)

_WHOSE = (
    "A picture bears the numbers of the wiring in its title; a label on a wire bears the number of "
    "the plan. In the wire lists they stand side by side."
)


def sections_of(
    packet: Packet, paper: Paper, asked: Collection[str] | None = None
) -> Iterator[ReportSection]:
    """The sections asked for in which something stands; the cautions always, and first.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    laid_out = replace(packet, paper=paper)
    for key, made in SECTIONS.items():
        if key == "cautions" or asked is None or key in asked:
            yield from (section for section in made(laid_out) if section.blocks)


def _card(packet: Packet) -> Iterator[ReportSection]:
    """The first page of each plan's card; further ones show what stands in the packet anyway."""
    results = {result.wiring: result for result in packet.results}
    drawn = tuple(
        Illustration(scene.title, svg_of(scene), scene.width, scene.height)
        for wiring in packet.plans
        for scene in card_pages(
            packet.spec, wiring, results.get(wiring.name), packet.values.get(wiring.name),
            packet.paper,
        )[:1]
    )  # fmt: skip
    yield ReportSection(CARD, "Card", drawn)


def _cautions(packet: Packet) -> Iterator[ReportSection]:
    words = tuple(Words(caution, mark="⚠") for caution in cautions_of(packet.spec))
    yield ReportSection("cautions", "Cautions", words)


def _verdict(packet: Packet) -> Iterator[ReportSection]:
    """Verdicts on the plans, then the findings; before them what failed as built."""
    otherwise = built_otherwise(packet.record)
    first = [Words(otherwise, mark="!", bold=True)] if otherwise and packet.results else []
    verdicts = list(map(_verdict_on, packet.results))
    found = [words for telling in tellings(packet.results) for words in _findings(telling)]
    yield ReportSection("verdict", "Verdict", (*first, *verdicts, *found))


def _verdict_on(result: Result) -> Words:
    compared = f"{counted(result.states, 'state')} compared"
    said = f"{result.wiring}{as_told(result.role)} {reason(result)}; {compared}"
    return Words(said, result.verdict.upper(), bold=True)


def built_otherwise(record: Record | None) -> str:
    """What must be read before a verdict on the plan where measurements failed; else empty."""
    if record is None or not record.failures:
        return ""
    return (
        f"{record.wiring.name} as built is not as planned: {record.failures} of what was measured "
        "failed, see the record. The verdict is on the plan."
    )


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


def _lugs(packet: Packet) -> Iterator[ReportSection]:
    """Each switch of each shown wiring."""
    blocks: list[Block] = []
    if any(wiring.name not in {one.target for one in packet.moves} for wiring in packet.wirings):
        blocks.append(Words(_WHOSE))
    for wiring in packet.wirings:
        for switch in packet.spec.all_of(Switch, wiring).values():
            view = SwitchView(packet.spec, wiring, switch, "behind", packet.paper)
            blocks.append(Words(view.title, bold=True))
            blocks += (Words(note.text, bold=note.bold) for note in view.notes())
            blocks += _pictures(f"{view.title}, lugs from behind", view.drawn(0.0))
    yield ReportSection("lugs", "Lugs", tuple(blocks))


def _marked(packet: Packet) -> Iterator[ReportSection]:
    blocks: list[Block] = []
    for wiring in packet.plans:
        if wiring is not packet.spec.original:
            values = packet.values.get(wiring.name)
            plan = wire_plan(packet.spec, "original", wiring.name)
            panels, tables = marked_parts(packet.spec, wiring, plan, packet.paper, values=values)
            blocks += _pictures(f"original to {wiring.name}", panels)
            for table in tables:
                rows = tuple(tuple(map(_cell, row)) for row in table.rows)
                blocks += [used_columns(Table(table.head, rows, table.heading))] if rows else []
    yield ReportSection("marked", "What stays, what goes, what is new", tuple(blocks))


def _cell(pieces: Pieces) -> Cell:
    lines = [Cell(one.text, bold=one.bold, struck=one.struck) for one in pieces]
    return Cell(below=tuple(lines))


def _circuits(packet: Packet) -> Iterator[ReportSection]:
    blocks: list[Block] = []
    for wiring in packet.plans:
        for network in packet.networks.get(wiring.name, ()):
            title = f"Circuit of {network.reading.name} in {wiring.name}"
            try:
                blocks += _pictures(title, [circuit_panel(network, packet.paper)])
            except LimitReached as limit:
                blocks.append(Words(f"Not drawn: {limit}", mark="!", bold=True))
    yield ReportSection("circuits", "Circuits", tuple(blocks))


def _pages(packet: Packet) -> Iterator[ReportSection]:
    others = [wiring for wiring in packet.plans if wiring is not packet.spec.original]
    panels = scanned_panels(packet.spec, others, packet.paper, values=packet.values)
    drawn = tuple(_pictures("The maker's page", panels))
    yield ReportSection("pages", "Notes on the maker's pages", drawn)


def _pictures(title: str, panels: Iterable[Panel]) -> Iterator[Illustration]:
    every = list(panels)
    for number, panel in enumerate(every, 1):
        said = f"{title}, part {number} of {len(every)}" if len(every) > 1 else title
        drawn = Scene(panel.width, panel.height, panel.items, said)
        yield Illustration(said, svg_of(drawn), panel.width, panel.height)


CARD = "card"
"""The key of the card, which is a page of its own, before all else."""
SECTIONS: Mapping[str, Callable[[Packet], Iterable[ReportSection]]] = {
    CARD: _card,
    "cautions": _cautions,
    "verdict": _verdict,
    "found": found_sections,
    "parts": parts_sections,
    "work": work_sections,
    "marked": _marked,
    "lugs": _lugs,
    "circuits": _circuits,
    "wires": wires_sections,
    "options": options_sections,
    "continuity": continuity_sections,
    "bench": bench_sections,
    "calibration": calibration_sections,
    "acceptance": acceptance_sections,
    "log": log_sections,
    "record": record_sections,
    "owner": owner_sections,
    "pages": _pages,
    "document": document_sections,
}
"""What each section is made by, in the order of the packet."""
