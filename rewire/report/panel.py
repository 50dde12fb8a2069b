"""The panel in the packet and as a picture: what to drill, what the knob needs, a template."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.compare.mounting import Mounting, mountings
from rewire.draw.scene import PAPER, Panel, Paper
from rewire.draw.sheets import gathered
from rewire.draw.template import template
from rewire.draw.true_size import at_true_size
from rewire.records.mount import size_said
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.report.mounting import mounting_said
from rewire.report.packet import Packet, illustration
from rewire.report.section import Block, ReportSection, Words

_TAKEN, _BETWEEN = 105.0, 6.0
"""Of a page, by what is said and by the bar; from one template to the next; mm."""
_OFF_PANEL = ("shaft", "index", "stops")
"""What is mended on the part itself; the panel stays as it is."""
CARE = (
    "Never drill or file with a movement in the panel or near it: swarf stays on its magnet. "
    "Cover the set, and take all swarf out before it is closed.",
    "An old panel may be engraved, or of bakelite or asbestos board, whose dust does harm: find "
    "out first. Local rules on such boards come before this.",
)


def panel_sections(packet: Packet) -> Iterator[ReportSection]:
    """What the panel and the knob need for each plan."""
    blocks: list[Block] = []
    for wiring in packet.plans:
        for one in mountings(packet.spec, wiring):
            said = tuple(Words(line, mark="▫") for line in mounting_said(one))
            blocks += (Words(_titled(one), bold=True), *said) if said else ()
    fits = [one for wiring in packet.plans for one in mountings(packet.spec, wiring)]
    if any(one.unknown or any(m.kind not in _OFF_PANEL for m in one.misfits) for one in fits):
        blocks = [*(Words(said, mark="⚠") for said in CARE), *blocks]
        blocks.append(Words("Templates, 1:1: rewire draw --view template."))
    yield ReportSection("panel", "Panel and knob", tuple(blocks))


def template_sections(packet: Packet) -> Iterator[ReportSection]:
    """The templates of each plan at true size."""
    for wiring in packet.plans:
        found = mountings(packet.spec, wiring)
        drawn = [panel for one in found if (panel := _drawn(packet.spec, wiring, one))]
        pages = tuple(illustration("Templates, 1:1", page)
                      for page in _on_pages(drawn, packet.paper))  # fmt: skip
        yield ReportSection("template", f"Templates: {wiring.name}", pages)


def _on_pages(drawn: Sequence[Panel], paper: Paper) -> Iterator[Panel]:
    """The bar of 50 mm and as many templates under it as a page holds."""
    for page in gathered(drawn, PAPER[paper][1] - _TAKEN, _BETWEEN):
        yield at_true_size("", [page], ())


def template_pages(spec: Spec, wiring: Wiring) -> Iterator[tuple[str, Panel]]:
    """The name of each new part with its page: what to do, the bar of 50 mm, the template."""
    for one in mountings(spec, wiring):
        drawn = _drawn(spec, wiring, one)
        if drawn is not None:
            said = (*_served(spec, wiring, one), *mounting_said(one), *CARE)
            yield one.part, at_true_size(f"{_titled(one)}: template, 1:1", [drawn], said)


def _titled(one: Mounting) -> str:
    return f"{one.part} for {one.old}"


def _pair(spec: Spec, wiring: Wiring, one: Mounting) -> tuple[Part, Part]:
    return spec.original.parts[one.old], wiring.parts[one.part]


def _drawn(spec: Spec, wiring: Wiring, one: Mounting) -> Panel | None:
    return template(*_pair(spec, wiring, one), one)


def _served(spec: Spec, wiring: Wiring, one: Mounting) -> Iterator[str]:
    """The hole that is asked for, where it need not be changed or the old one is not known."""
    old, new = (part.mount for part in _pair(spec, wiring, one))
    if new is None or not new.hole_asked or any(m.kind == "hole" for m in one.misfits):
        return
    serves = f"; the old one, {size_said(old.panel_hole)}, serves" if old and old.panel_hole else ""
    yield f"Hole: {new.hole_asked}{serves}."
