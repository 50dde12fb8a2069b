"""The marked-up view: on one circuit what stays, what goes and what is new, and its tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from rewire.bench.wire_plan import Fate, WireFate, WirePlan
from rewire.circuit.circuit import circuit_of
from rewire.draw.diagram import Chosen, chosen_values
from rewire.draw.metering import not_metering
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel, Paper, Scene, paragraphs
from rewire.draw.schematic import drawings, in_rows
from rewire.draw.sheets import BETWEEN, Paragraph, SheetTable, on_a_sheet, stacked, tabled
from rewire.draw.union import Numbers, PartChange, union_of
from rewire.records.part import Part
from rewire.values.answers import WiringValues

_KEY = (
    "Thin: stays. Grey, dashed, struck through: goes. Heavy, numbered: new, see the table. "
    "Only dots join. Where numbers in brackets are the same, the net goes on."
)
_FATES: Mapping[Fate, str] = {"comes out": "comes out", "moves": "end moved", "new": "new"}


def marked_view(
    plan: WirePlan, paper: Paper = "a4", values: WiringValues | None = None
) -> tuple[Scene, ...]:
    """Sheets that show what stays, what goes and what is new in a plan."""
    width, height = PAPER[paper][0] - 2 * MARGIN, PAPER[paper][1] - 2 * MARGIN - FOOT
    pictures, tables = marked_parts(plan, paper, values)
    title = f"{plan.source.name} to {plan.target.name}: marked up"
    large = [panel for panel in pictures if panel.width > width or panel.height > height]
    fit = [panel for panel in pictures if panel not in large]
    used = sum(panel.height + BETWEEN for panel in fit) % height
    texts = tabled(tables, width, height, height - used)
    return (
        *stacked([*fit, *texts], paper, title),
        *(on_a_sheet(panel, paper, title) for panel in large),
    )


def marked_circuit(plan: WirePlan, paper: Paper, numbers: Numbers) -> list[Panel]:
    """The pictures alone, by the numbers of a list that tells more of each part."""
    width = PAPER[paper][0] - 2 * MARGIN
    diagram, _ = union_of(plan, {}, numbers)
    named = (replace(p, said=replace(p.said, value="", old=p.said.old.partition(" ")[0]))
             for p in diagram.pieces)  # fmt: skip
    rows = in_rows(drawings(replace(diagram, pieces=tuple(named)), width), width)
    return [*rows, _paragraphs([(said, 8.0, False) for said in diagram.legend], width)]


def marked_parts(
    plan: WirePlan, paper: Paper = "a4", values: WiringValues | None = None
) -> tuple[list[Panel], tuple[SheetTable, ...]]:
    """The pictures, and the tables to go under them."""
    width = PAPER[paper][0] - 2 * MARGIN
    wiring = plan.spec.wirings[plan.target.name]
    chosen = chosen_values(plan.spec, wiring, values)
    diagram, changes = union_of(plan, chosen)
    rows = in_rows(drawings(diagram, width), width)
    head = _paragraphs(_head(plan), width)
    legend = _paragraphs([(said, 8.0, False) for said in diagram.legend], width)
    tables = (
        SheetTable("What changes", ("No.", "goes", "new", "where, why"), (9, 50, 55, 76),
                   tuple(_change(change, chosen) for change in changes)),
        SheetTable("Wires to be touched", ("wire", "No.", "colour", "stays on", "was on", "goes to",
                                           "note"), (19, 14, 13, 40, 38, 38, 28),
                   tuple(_wire(fate) for fate in _touched(plan))),
    )  # fmt: skip
    return [head, *rows, legend], tables


def _paragraphs(said: Iterable[tuple[str, float, bool]], width: float) -> Panel:
    texts, height = paragraphs(said, width)
    return Panel(tuple(texts), width, height)


def _head(plan: WirePlan) -> Iterator[tuple[str, float, bool]]:
    """The title, how to read the picture, and what must not be left out."""
    yield f"Marked up: {plan.source.name} to {plan.target.name}", 11.0, True
    yield _KEY, 8.0, False
    wiring = plan.spec.wirings[plan.target.name]
    for switch in circuit_of(plan.spec, wiring).switches:
        for note in not_metering(plan.spec, wiring, switch):
            yield f"▲ {switch.name}: {note}", 8.0, True


def _change(change: PartChange, chosen: Chosen) -> tuple[tuple[Paragraph, ...], ...]:
    """A row: number, what goes, what comes, where and why."""
    old, new = change.old, change.new
    return (
        (Paragraph(change.number, f"key:{change.number}", bold=True),),
        (Paragraph(_said(old, {}), f"goes:{old.name}", struck=True),) if old else (),
        (Paragraph(_said(new, chosen), f"new:{new.name}", bold=True),) if new else (),
        tuple(_remarks(new or old)),
    )


def _said(part: Part, chosen: Chosen) -> str:
    return f"{part.name} {chosen.get(part.name, part.value)}".rstrip()


def _remarks(part: Part | None) -> Iterator[Paragraph]:
    """Where a part sits and what the spec says of it."""
    if part is not None:
        fitted = f"for the reading {part.fit_for}" if part.fit_for else None
        yield from (Paragraph(text) for text in (part.where, part.note, fitted) if text)


def _touched(plan: WirePlan) -> list[WireFate]:
    """Wires that come out, move or are new, in this order."""
    order = list(_FATES)
    touched = (fate for fate in plan.fates if fate.fate in order)
    return sorted(touched, key=lambda one: order.index(one.fate))


def _wire(one: WireFate) -> tuple[tuple[Paragraph, ...], ...]:
    wires = [wire for wire in (one.was, one.now) if wire is not None]
    number = " → ".join(dict.fromkeys(wire.id for wire in wires))
    lifted = one.was.ends if one.was and one.fate == "comes out" else one.lifted
    landed = one.now.ends if one.now and one.fate == "new" else one.landed
    pieces = (
        Paragraph(_FATES[one.fate]),
        Paragraph(number, f"{one.fate}:wire:{number}", one.fate == "new", one.fate == "comes out"),
        Paragraph(wires[-1].colour or ""),
        Paragraph(" – ".join(one.stays)),
        Paragraph(" – ".join(lifted), "end", struck=True),
        Paragraph(" – ".join(landed), "end", bold=True),
        Paragraph((one.now.note if one.now else None) or ""),
    )
    return tuple((piece,) if piece.text else () for piece in pieces)
