"""What stands in the packet, in which order: card, cautions, faults, work, buying, proving."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from rewire.bench.record import Record
from rewire.bench.safety import cautions_of
from rewire.circuit.states import LimitReached
from rewire.draw.circuit import circuit_panel
from rewire.draw.lugview import SwitchView
from rewire.draw.paint import svg_of
from rewire.draw.scanned import scanned_panels
from rewire.draw.scene import Panel, Paper
from rewire.records.switches import Switch
from rewire.report.as_built import log_sections, owner_sections, record_sections
from rewire.report.buying import buy_sections
from rewire.report.card import CARD, card_pages
from rewire.report.dial import dial_sections
from rewire.report.evidence import fault_sections, verdict_sections, wires_sections
from rewire.report.packet import Packet, illustration
from rewire.report.panel import panel_sections, template_sections
from rewire.report.plots import plot_sections
from rewire.report.section import Block, Illustration, ReportSection, Words
from rewire.report.to_prove import (
    acceptance_sections,
    bench_sections,
    continuity_sections,
    table_sections,
)
from rewire.report.work import work_sections
from rewire.report.wrong import wrong_sections


def sections_of(
    packet: Packet, paper: Paper, asked: Collection[str] | None = None
) -> Iterator[ReportSection]:
    """The sections asked for in which something stands; the cautions always, and first.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    carded = packet.carded or asked is None or CARD in asked
    laid_out = replace(packet, paper=paper, carded=carded)
    for key, made in SECTIONS.items():
        if key == "cautions" or (key in asked if asked is not None else key not in EVIDENCE):
            yield from (section for section in made(laid_out) if section.blocks)


def _card(packet: Packet) -> Iterator[ReportSection]:
    """The card of each plan."""
    results = {result.wiring: result for result in packet.results}
    drawn = [
        Illustration(scene.title, svg_of(scene), scene.width, scene.height)
        for wiring in packet.plans
        for scene in card_pages(
            packet.spec, wiring, results.get(wiring.name), packet.values.get(wiring.name),
            packet.paper,
        )
    ]  # fmt: skip
    yield ReportSection(CARD, "Card", tuple(drawn))


def _cautions(packet: Packet) -> Iterator[ReportSection]:
    words = tuple(Words(caution, mark="⚠") for caution in cautions_of(packet.spec))
    yield ReportSection("cautions", "Cautions", words)


def built_otherwise(record: Record | None) -> str:
    """What must be read before a verdict on the plan where measurements failed; else empty."""
    if record is None or not record.failures:
        return ""
    return (
        f"{record.wiring.name} as built is not as planned: {record.failures} of what was measured "
        "failed, see the record. The verdict is on the plan."
    )


def _lugs(packet: Packet) -> Iterator[ReportSection]:
    """Each switch of each shown wiring."""
    blocks: list[Block] = []
    for wiring in packet.wirings:
        for switch in packet.spec.all_of(Switch, wiring).values():
            view = SwitchView(packet.spec, wiring, switch, "behind", packet.paper)
            blocks.append(Words(view.title, bold=True))
            blocks += (Words(note.text, bold=note.bold) for note in view.notes())
            blocks += _pictures(f"{view.title}, lugs from behind", view.drawn(0.0))
    yield ReportSection("lugs", "Lugs", tuple(blocks))


def _circuits(packet: Packet) -> Iterator[ReportSection]:
    blocks: list[Block] = []
    for wiring in packet.plans:
        if (solved := packet.solved.get(wiring.name)) is None:
            continue
        for name in wiring.readings:
            title = f"Circuit of {name} in {wiring.name}"
            try:
                blocks += _pictures(title, [circuit_panel(solved, name, packet.paper)])
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
        yield illustration(said, panel)


SECTIONS: Mapping[str, Callable[[Packet], Iterable[ReportSection]]] = {
    CARD: _card,
    "cautions": _cautions,
    "wrong": wrong_sections,
    "work": work_sections,
    "buy": lambda packet: buy_sections(packet.spec, packet.moves, packet.values),
    "panel": panel_sections,
    "continuity": continuity_sections,
    "bench": bench_sections,
    "acceptance": acceptance_sections,
    "log": log_sections,
    "record": record_sections,
    "owner": owner_sections,
    "dial": dial_sections,
    "verdict": verdict_sections,
    "table": table_sections,
    "lugs": _lugs,
    "circuits": _circuits,
    "wires": wires_sections,
    "faults": fault_sections,
    "plots": lambda packet: plot_sections(packet.planned_values),
    "template": template_sections,
    "pages": _pages,
}
"""What each section is made by, in the order of the packet."""
EVIDENCE = frozenset(
    {"buy", "verdict", "table", "lugs", "circuits", "wires", "faults", "plots", "template", "pages"}
)
"""Sections that are printed where they are asked for: what is said in brief before."""
