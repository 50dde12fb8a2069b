"""Panels onto sheets, and the foot: whose it is, the verdict on its wiring, the caution."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from rewire import __version__
from rewire.draw.scene import (
    FOOT,
    MARGIN,
    PAPER,
    Box,
    Item,
    Line,
    Panel,
    Paper,
    Scene,
    Symbol,
    hull,
    sheet_of,
    shortened,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.spec import Spec

BETWEEN = 6.0
"""From one panel to the next, mm."""
CODES = "Local codes and licensed practice come first."
_POINTS = 7.0
_LINE = 3.2
_BAR = 9.0
"""Size of the words in the bar over the foot of a broken wiring, points."""
_BAR_HEIGHT = 4.6
_NARROWEST = 90.0
"""Millimetres; a small drawing stands at the left of its sheet."""


def gathered(panels: Sequence[Panel], height: float, between: float) -> list[Panel]:
    """As many panels under each other as there is room for in ``height`` mm."""
    made: list[Panel] = []
    for panel in panels:
        top = made[-1].height + between if made else math.inf
        if top + panel.height > height:
            made.append(panel)
        else:
            items = (*made[-1].items, *panel.moved(0.0, top).items)
            made[-1] = Panel(items, panel.width, top + panel.height)
    return made


def stacked(panels: Sequence[Panel], paper: Paper, title: str = "") -> tuple[Scene, ...]:
    """Sheets with the panels in order, a new one where the next would not fit."""
    pages = gathered(panels, PAPER[paper][1] - 2 * MARGIN - FOOT, BETWEEN)
    return tuple(sheet_of(paper, page.moved(MARGIN, MARGIN).items, title) for page in pages)


def on_a_sheet(panel: Panel, paper: Paper, title: str) -> Scene:
    """A panel on one sheet: the paper upright or lying, or the next size that holds it."""
    width, height = PAPER[paper]
    while True:
        for wide, tall in ((width, height), (height, width)):
            if panel.width <= wide - 2 * MARGIN and panel.height <= tall - 2 * MARGIN - FOOT:
                return Scene(wide, tall, panel.moved(MARGIN, MARGIN).items, title)
        width, height = height, 2 * width


def footed(
    scenes: Sequence[Scene], spec: Spec, broken: Sequence[str | None] = ()
) -> tuple[Scene, ...]:
    """The sheets with a foot: set, revision, digest of the spec, page number, caution.

    Args:
        scenes: pages whose lowest ``FOOT`` millimetres are free.
        spec: what they are of.
        broken: per page what must not be built, in words; None for a page without such.

    No clock time, so the same spec gives the same bytes.
    """
    title = visible(spec.title)
    return tuple(
        _footed(scene, (title, CODES), (f"page {n} of {len(scenes)}", _origin(spec)), mark)
        for n, (scene, mark) in enumerate(zip_longest(scenes, broken), 1)
    )


def alone(scene: Scene, spec: Spec, broken: str | None = None) -> Scene:
    """The drawing cut out of its sheet, for a screen, with a foot of its own."""
    if not scene.items:
        return scene
    bounds = hull(item.box for item in scene.items)
    moved = tuple(item.moved(MARGIN - bounds.left, MARGIN - bounds.top) for item in scene.items)
    room = max(bounds.width, _NARROWEST)
    lines = [visible(spec.title), *wrap(CODES, room, _POINTS), *wrap(_origin(spec), room, _POINTS)]
    height = bounds.height + 2 * MARGIN + FOOT + (len(lines) - 2) * _LINE
    cut = replace(scene, width=room + 2 * MARGIN, height=height, items=moved)
    return _footed(cut, lines, (), broken)


def _origin(spec: Spec) -> str:
    """Revision, date, licence, digest: what tells one print from another."""
    paper = spec.document
    said = [f"revision {paper.revision}" if paper.revision else "", paper.date or ""]
    said += [paper.author or "", paper.licence or ""]
    said += [f"spec {spec.digest[:12]}" if spec.digest else "", f"rewire {__version__}"]
    return visible(" · ".join(one for one in said if one))


def _footed(scene: Scene, left: Sequence[str], right: Sequence[str], broken: str | None) -> Scene:
    """Lines at the left, each as long as what stands at its right lets it be; a rule over them.

    Over that stands a bar where the wiring must not be built.
    """
    edge = scene.width - MARGIN
    first = scene.height - MARGIN - 1.2 - (len(left) - 1) * _LINE
    items: list[Item] = []
    for number, (said, beside) in enumerate(zip_longest(left, right, fillvalue="")):
        y = first + number * _LINE
        room = edge - MARGIN - (width_mm(beside, _POINTS) + 4.0 if beside else 0.0)
        for text, x, align in ((shortened(said, room, _POINTS), MARGIN, "left"),
                               (beside, edge, "right")):  # fmt: skip
            items.append(text_at(text, x, y, _POINTS, align=align, grey=0.2, shows="foot"))
    y = first - 3.6
    items.append(Line(((MARGIN, y), (edge, y)), "foot", width=0.2, grey=0.4))
    if broken is not None:
        bar = Box(MARGIN, y - _BAR_HEIGHT, edge, y)
        said = shortened(visible(broken), edge - MARGIN - 4.0, _BAR, bold=True)
        items.append(Symbol("bar", bar, "broken", fill="black"))
        items.append(text_at(said, MARGIN + 2.0, y - 1.3, _BAR, bold=True, grey=1.0,
                             shows="broken", on="broken"))  # fmt: skip
    return replace(scene, items=(*scene.items, *(i for i in items if i.box.width)))
