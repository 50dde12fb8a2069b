"""The card on the page: its pictures from the same scenes, its blocks as tables."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.draw.card import Card, CardBlock
from rewire.draw.scene import MARGIN, PAPER, Item, Panel, Paper, Text, hull
from rewire.records.spec import Wiring
from rewire.report.card import CARD, card_of, card_pictures
from rewire.report.packet import Packet
from rewire.report.page_desk import names_in, picture_of
from rewire.report.section import Block, Cell, ReportSection, Table, Words

_CIRCUIT = 140.0
"""Width of the circuit, mm."""
_TALLEST = 230.0
"""Of a picture on one sheet of paper, mm."""
_GAP = 1.5
"""White across a picture where it may be cut, mm."""


def plan_cards(packet: Packet) -> list[tuple[Wiring, Card]]:
    """The plans with what their cards say."""
    results = {result.wiring: result for result in packet.results}
    return [
        (w, card_of(packet.spec, w, results.get(w.name), packet.values.get(w.name)))
        for w in packet.plans
    ]


def card_section(packet: Packet, wiring: Wiring, card: Card, paper: Paper) -> ReportSection:
    """Hook-up and circuit of a plan, then its card without what to buy, which stands elsewhere."""
    drawn = card_pictures(packet.spec, wiring, packet.values.get(wiring.name))
    names = names_in(packet, wiring)
    blocks: list[Block] = []
    for key, title, width in (
        ("hook-up", f"Hook-up of {wiring.name}, from behind", PAPER[paper][0] - 2 * MARGIN - 2.0),
        ("circuit", f"Circuit of {wiring.name}", _CIRCUIT),
    ):
        picture = next(iter(drawn[key](width)), None)
        pieces = low_pieces(picture) if picture is not None else ()
        blocks += (picture_of(title, piece, names) for piece in pieces)
    for key, block in card.blocks.items():
        blocks += _blocks(block) if key != "buy" else []
    return ReportSection(CARD, f"Hook-up and circuit: {wiring.name}", tuple(blocks))


def low_pieces(panel: Panel) -> Iterator[Panel]:
    """A picture too high for a sheet of paper as pieces that are not, cut where nothing crosses."""
    seen = (item for item in panel.items if not isinstance(item, Text) or item.text)
    rest = sorted(seen, key=lambda item: item.box.top)
    piece: list[Item] = []
    low = 0.0
    for number, item in enumerate(rest):
        ahead = hull(one.box for one in rest[number:])
        if piece and item.box.top > low + _GAP and ahead.bottom - piece[0].box.top > _TALLEST:
            yield Panel(tuple(piece), panel.width, low)
            piece = []
        piece.append(item)
        low = max(low, item.box.bottom)
    yield Panel(tuple(piece), panel.width, low)


def _blocks(block: CardBlock) -> Iterator[Block]:
    """A table under its heading; lines to tick are a table too."""
    rows = tuple(
        tuple(Cell(text, bold=r == block.bold if block.bold is not None else c == 0)
              for c, text in enumerate(row))
        for r, row in enumerate(block.rows)
    )  # fmt: skip
    if rows:
        yield Table(block.head or ("",) * len(rows[0]), rows, block.heading)
    ticks = tuple((Cell(box=True), Cell(one.text)) for one in block.lines if one.tick)
    if ticks:
        yield Table(("", ""), ticks, block.heading)
    yield from (Words(one.text, bold=one.bold) for one in block.lines if not one.tick)
