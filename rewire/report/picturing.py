"""The pictures of a sheet as strips: marked up, lugs, circuits, scanned pages."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import takewhile

from rewire.bench.wire_plan import wire_plan
from rewire.circuit.states import LimitReached
from rewire.draw.circuit import circuit_panel
from rewire.draw.lugview.view import lug_panels
from rewire.draw.marked import marked_parts
from rewire.draw.scanned import scanned_panels
from rewire.draw.scene import Panel, Paper
from rewire.draw.tabled import Table, table_rows
from rewire.records.spec import Switch
from rewire.report.blocks import heading, marked, paragraph
from rewire.report.flow import Strip, inner_width, page_height, together
from rewire.report.packet import Packet

_APART = 6.0
_UNDER = 1.5
_SMALL_ROWS = 100.0
"""Two rows that are no higher, mm, stay together at the ends of a table."""
_WHOSE = (
    "A picture bears the numbers of the wiring in its title; a label on a wire bears the number of "
    "the plan. In the wire lists they stand side by side."
)


def picture_strips(packet: Packet, key: str, paper: Paper) -> list[Strip]:
    """One section of pictures under its heading; nothing where there are none.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    title, drawn = PICTURED[key]
    strips = list(drawn(packet, paper))
    whole = [heading(title, inner_width(paper)), *strips]
    if not strips or together(whole) <= page_height(paper):
        return whole if strips else []
    # a picture as high as the page says in its own title what it is; words that lead follow it
    words = list(takewhile(lambda strip: strip.with_next, strips))
    return [*strips[len(words) :], *(replace(strip, with_next=False) for strip in words)]


def _strips(panels: Iterable[Panel]) -> Iterator[Strip]:
    yield from (Strip(panel, gap=_APART) for panel in panels)


def _lugs(packet: Packet, paper: Paper) -> Iterator[Strip]:
    """The lug view of each switch of each shown wiring, each on one page where it fits."""
    if any(wiring.name not in {one.target for one in packet.moves} for wiring in packet.wirings):
        yield from paragraph(_WHOSE, inner_width(paper), with_next=True)
    for wiring in packet.wirings:
        for name, part in packet.spec.parts_of(wiring).items():
            if isinstance(part, Switch):
                yield from _strips(lug_panels(packet.spec, wiring, name, paper=paper))


def _marked(packet: Packet, paper: Paper) -> Iterator[Strip]:
    for wiring in packet.plans:
        if wiring is not packet.spec.original:
            values = packet.values.get(wiring.name)
            plan = wire_plan(packet.spec, "original", wiring.name)
            pictures, tables = marked_parts(packet.spec, wiring, plan, paper, values=values)
            yield from _strips(pictures)
            for table in tables:
                yield from _rows(table, inner_width(paper))


def _rows(table: Table, width: float) -> Iterator[Strip]:
    """A table row by row, as ``table_rows`` cuts it; no row alone before or after a break."""
    rows = list(table_rows([table], width))
    last = len(rows) - 1
    for number, (head, title, row) in enumerate(rows):
        if title is not None:
            yield Strip(title, with_next=True, gap=_UNDER)
            yield Strip(head, with_next=True)
        small = number < last and row.height + rows[number + 1][2].height < _SMALL_ROWS
        yield Strip(row, head=head, with_next=small and number in (0, last - 1))


def _circuits(packet: Packet, paper: Paper) -> Iterator[Strip]:
    for wiring in packet.plans:
        for network in packet.networks.get(wiring.name, ()):
            try:
                panel = circuit_panel(network, paper)
            except LimitReached as limit:
                yield from marked("!", f"Not drawn: {limit}", inner_width(paper), bold=True)
                continue
            if panel.width <= inner_width(paper) and panel.height <= page_height(paper):
                yield from _strips([panel])
                continue
            said = f"{network.reading.name} is larger than this page"
            hint = "rewire draw --view circuit draws it on a larger sheet"
            yield from marked("!", f"Not drawn: {said}; {hint}", inner_width(paper), bold=True)


def _pages(packet: Packet, paper: Paper) -> Iterator[Strip]:
    others = [w for w in packet.plans if w is not packet.spec.original]
    return _strips(scanned_panels(packet.spec, others, paper, values=packet.values))


PICTURED: Mapping[str, tuple[str, Callable[[Packet, Paper], Iterator[Strip]]]] = {
    "marked": ("What stays, what goes, what is new", _marked),
    "lugs": ("Lugs", _lugs),
    "circuits": ("Circuits", _circuits),
    "pages": ("Notes on the maker's pages", _pages),
}
"""Key of a section of pictures → its title and what draws it."""
