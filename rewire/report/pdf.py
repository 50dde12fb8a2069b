"""The printed bench sheet: pages of scenes, and the PDF they make."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Literal

from rewire.bench.safety import cautions_of
from rewire.bench.work_list import DO_NOT_BUILD
from rewire.draw.paint import paint_pdf
from rewire.draw.scene import Panel, Paper, Scene, sheet_of
from rewire.draw.sheets import footed
from rewire.records.spec import Spec
from rewire.report.blocks import heading, marked, paragraph, printed
from rewire.report.content.buzzing import buzzing_sections
from rewire.report.content.found import found_section
from rewire.report.content.handover import acceptance_section, document_section, log_section
from rewire.report.content.options import options_section
from rewire.report.content.parts import parts_section
from rewire.report.content.record import owner_sections, record_sections
from rewire.report.content.trials import bench_sections, calibration_sections
from rewire.report.content.wires import wires_sections
from rewire.report.content.work import work_sections
from rewire.report.flow import Strip, inner_width, paged
from rewire.report.packet import Packet
from rewire.report.picturing import PICTURED, picture_strips
from rewire.report.printing import section_strips
from rewire.report.section import Section
from rewire.report.verdicts import built_otherwise, verdict_strips

Key = Literal[
    "verdict", "cautions", "found", "parts", "work", "marked", "lugs", "circuits", "wires",
    "options", "continuity", "bench", "calibration", "acceptance", "log", "record", "owner",
    "pages", "document",
]  # fmt: skip
SECTIONS: Mapping[Key, str] = {
    "verdict": "the verdict and the findings behind it",
    "cautions": "what can hurt; always printed, above everything",
    "found": "what was found on the bench",
    "parts": "parts lists with values, ratings and quantities",
    "work": "the moves in order, with boxes to tick",
    "marked": "what stays, what goes and what is new, in one picture",
    "lugs": "each switch seen from behind",
    "circuits": "what carries each reading",
    "wires": "wire lists",
    "options": "all wirings side by side",
    "continuity": "what the ohmmeter must find, position by position",
    "bench": "what to feed and what each meter must read",
    "calibration": "room for what was read",
    "acceptance": "tests of the finished set",
    "log": "the as-built log",
    "record": "what was measured, pass or fail on every line (with --log)",
    "owner": "report for the owner: found, done, measured (with --log)",
    "pages": "notes on the maker's pages",
    "document": "licence, revision, and the spec's digest",
}
"""In the order of the sheet."""


def pdf(packet: Packet, *, paper: Paper = "a4", sections: Collection[str] | None = None) -> bytes:
    """The sheet as PDF.

    Args:
        packet: what it says.
        paper: its size.
        sections: keys of ``SECTIONS``; None for all.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    spec = packet.spec
    return paint_pdf(
        sheet_scenes(packet, paper=paper, sections=sections), title=printed(spec.title),
        author=spec.document.author, subject=printed(spec.equipment or ""),
    )  # fmt: skip


def sheet_scenes(
    packet: Packet, *, paper: Paper = "a4", sections: Collection[str] | None = None
) -> tuple[Scene, ...]:
    """The pages of the sheet, feet included, before they are painted."""
    asked = SECTIONS if sections is None else sections
    width = inner_width(paper)
    strips = paragraph(packet.spec.title, width, points=17.0, bold=True)
    strips += _title_block(packet.spec, width)
    strips += _cautions(packet.spec, width)
    for limit in packet.limits:
        strips += marked("!", f"Not on this sheet: {limit}", width, bold=True)
    for key in SECTIONS:
        if key in asked:
            strips += _section(packet, key, paper)
    title = printed(packet.spec.title)
    pages = enumerate(paged(strips, paper, _broken_head(packet, width)), 1)
    return footed([sheet_of(paper, items, f"{title}, page {n}") for n, items in pages], packet.spec)


def _broken_head(packet: Packet, width: float) -> Panel | None:
    """The head of every page of a sheet with a plan that must not be built."""
    names = [moves.target for moves in packet.moves if moves.broken]
    if not names:
        return None
    said = f"BROKEN: {', '.join(names)} {DO_NOT_BUILD}."
    rows = marked("!", said, width, bold=True)
    height = sum(row.panel.height for row in rows)
    items = [
        item
        for number, row in enumerate(rows)
        for item in row.panel.moved(0.0, number * rows[0].panel.height).items
    ]
    return Panel(tuple(items), width, height + 2.0)


def _title_block(spec: Spec, width: float) -> Iterator[Strip]:
    if spec.equipment:
        yield from paragraph(spec.equipment, width, points=9.5, gap=1.0)
    if spec.summary:
        yield from paragraph(spec.summary, width, gap=1.5, grey=0.15)
    document = spec.document
    fields = {
        "drawn up by": document.author, "date": document.date,
        "revision": document.revision, "licence": document.licence,
    }  # fmt: skip
    known = " · ".join(f"{name} {value}" for name, value in fields.items() if value)
    if known:
        yield from paragraph(known, width, gap=1.5)


def _section(packet: Packet, key: Key, paper: Paper) -> list[Strip]:
    width = inner_width(paper)
    if key == "verdict":
        return _verdict(packet, width)
    if key == "cautions":
        return []  # they stand above everything, whatever is asked for
    if key in PICTURED:
        return picture_strips(packet, key, paper)
    return [strip for part in _WORDED[key](packet) for strip in section_strips(part, width)]


_WORDED: Mapping[Key, Callable[[Packet], Iterable[Section]]] = {
    "found": lambda packet: [found_section(packet.spec, packet.wirings)],
    "parts": lambda packet: [parts_section(packet)],
    "work": work_sections,
    "wires": wires_sections,
    "options": lambda packet: [options_section(packet)],
    "continuity": buzzing_sections,
    "bench": bench_sections,
    "calibration": calibration_sections,
    "acceptance": lambda packet: [acceptance_section(packet.spec)],
    "log": lambda packet: [log_section(packet)],
    "record": record_sections,
    "owner": owner_sections,
    "document": lambda packet: [document_section(packet.spec)],
}
"""Sections of words and tables alone."""


def _verdict(packet: Packet, width: float) -> list[Strip]:
    """That of the plan; where a log says that what was built is otherwise, that comes first."""
    strips = verdict_strips(packet.results, width)
    said = built_otherwise(packet.record)
    if not said:
        return strips
    return [*strips[:1], *marked("!", said, width, bold=True), *strips[1:]]


def _cautions(spec: Spec, width: float) -> list[Strip]:
    strips = [heading("Cautions", width)]
    for caution in cautions_of(spec):
        strips += marked("⚠", caution, width)
    return strips
