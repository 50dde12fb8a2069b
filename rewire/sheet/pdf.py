"""The printed bench sheet: pages of scenes, and the PDF they make."""

from __future__ import annotations

from collections.abc import Sequence

from rewire import __version__
from rewire.compare.findings import Result
from rewire.draw.lugview.view import lug_panels
from rewire.draw.measure import text_at, width_mm
from rewire.draw.paint import paint_pdf
from rewire.draw.scene import MARGIN, PAPER, Item, Line, Paper, Scene, sheet_of
from rewire.sheet.blocks import Cell, heading, marked, paragraph, printed, table
from rewire.sheet.cautions import cautions_of
from rewire.sheet.flow import Strip, inner_width, paged
from rewire.sheet.verdicts import verdict_strips
from rewire.sheet.wirelist import wire_list
from rewire.spec.model import Spec, Switch, Wiring

_FOOT = 7.0


def pdf(
    spec: Spec,
    results: Sequence[Result],
    *,
    paper: Paper = "a4",
    wirings: Sequence[str] | None = None,
) -> bytes:
    """The sheet as PDF; ``wirings`` names those shown, all of them where it is None.

    Raises:
        LayoutError: a switch's ``layout`` cannot be drawn.
        KeyError: there is no wiring of that name.
    """
    scenes = sheet_scenes(spec, results, paper=paper, wirings=wirings)
    return paint_pdf(
        scenes, title=printed(spec.title), author=spec.document.author,
        subject=printed(spec.equipment or ""),
    )  # fmt: skip


def sheet_scenes(
    spec: Spec,
    results: Sequence[Result],
    *,
    paper: Paper = "a4",
    wirings: Sequence[str] | None = None,
) -> tuple[Scene, ...]:
    """The pages of the sheet, feet included, before they are painted."""
    shown = [spec.wirings[name] for name in (wirings or spec.wirings)]
    names = {wiring.name for wiring in shown}
    width = inner_width(paper)
    strips = [
        *_title_block(spec, width),
        *verdict_strips([r for r in results if r.wiring in names], width),
        *_caution_strips(spec, width),
        *_under("Lugs", [s for wiring in shown for s in _lugs(spec, wiring, paper)], width),
        *(strip for wiring in shown for strip in wire_list(wiring, width)),
    ]
    pages = paged(strips, paper)
    return tuple(
        sheet_of(paper, [*items, *_foot(spec, paper, n, len(pages))], _page_title(spec, n))
        for n, items in enumerate(pages, 1)
    )


def _title_block(spec: Spec, width: float) -> list[Strip]:
    strips = paragraph(spec.title, width, points=17.0, bold=True)
    if spec.equipment:
        strips += paragraph(spec.equipment, width, points=9.5, gap=1.0)
    if spec.summary:
        strips += paragraph(spec.summary, width, gap=1.5, grey=0.15)
    document = spec.document
    fields = (
        ("drawn up by", document.author), ("date", document.date),
        ("revision", document.revision), ("licence", document.licence),
    )  # fmt: skip
    known = [(name, value) for name, value in fields if value]
    if known:
        strips += table(
            [name for name, _ in known], [[Cell(value) for _, value in known]],
            [1.0] * len(known), width,
        )  # fmt: skip
    return strips


def _caution_strips(spec: Spec, width: float) -> list[Strip]:
    strips = [heading("Cautions", width)]
    for caution in cautions_of(spec):
        strips += marked("⚠", caution, width)
    return strips


def _under(title: str, strips: list[Strip], width: float) -> list[Strip]:
    return [heading(title, width), *strips] if strips else []


def _lugs(spec: Spec, wiring: Wiring, paper: Paper) -> list[Strip]:
    """The lug view of each of a wiring's switches, each on one page where it fits."""
    strips = []
    for name, part in spec.parts_of(wiring).items():
        if isinstance(part, Switch):
            panels = lug_panels(spec, wiring, name, paper=paper)
            strips += [Strip(panel, gap=6.0) for panel in panels]
    return strips


def _page_title(spec: Spec, number: int) -> str:
    return f"{printed(spec.title)}, page {number}"


def _foot(spec: Spec, paper: Paper, number: int, count: int) -> list[Item]:
    """Title, where it came from, page: no clock time, so the same spec gives the same bytes."""
    width, height = PAPER[paper]
    y = height - MARGIN - 1.2
    right = text_at(f"page {number} of {count}", width - MARGIN, y, _FOOT, align="right")
    of_spec = f"spec {spec.digest[:12]} · " if spec.digest else ""
    origin = f"{of_spec}rewire {__version__}"
    middle = text_at(origin, right.x - 6.0, y, _FOOT, align="right", grey=0.2)
    title = _shortened(printed(spec.title), middle.x - MARGIN - 4.0)
    rule = Line(((MARGIN, y - 4.0), (width - MARGIN, y - 4.0)), "rule", width=0.2, grey=0.4)
    return [rule, text_at(title, MARGIN, y, _FOOT, grey=0.2), middle, right]


def _shortened(text: str, width: float) -> str:
    if width_mm(text, _FOOT) <= width:
        return text
    cut = len(text)
    while cut and width_mm(text[:cut] + " …", _FOOT) > width:
        cut = cut * 9 // 10 if cut > 200 else cut - 1
    return text[:cut] + " …"
