"""What stands at the foot of a picture: whose it is, the verdict on its wiring, the caution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rewire import __version__
from rewire.draw.measure import text_at, visible, width_mm, wrap
from rewire.draw.scene import FOOT, MARGIN, Box, Item, Line, Scene, Symbol, hull
from rewire.records.spec import Spec

CODES = "Local codes and licensed practice come first."
_POINTS = 7.0
_LINE = 3.2
_BAR = 9.0
"""Size of the words in the bar over the foot of a broken wiring, points."""
_BAR_HEIGHT = 4.6


def footed(
    scenes: Sequence[Scene], spec: Spec, broken: Sequence[str | None] | None = None
) -> tuple[Scene, ...]:
    """The sheets with a foot: set, revision, digest of the spec, page number, caution.

    Args:
        scenes: pages whose lowest ``FOOT`` millimetres are free.
        spec: what they are of.
        broken: per page what must not be built, in words; None for a page without such.

    No clock time, so the same spec gives the same bytes.
    """
    count = len(scenes)
    marks = broken or [None] * count
    return tuple(
        replace(scene, items=(*scene.items, *_foot(scene, spec, f"page {n} of {count}", mark)))
        for n, (scene, mark) in enumerate(zip(scenes, marks, strict=True), 1)
    )


def alone(scene: Scene, spec: Spec, broken: str | None = None) -> Scene:
    """The drawing cut out of its sheet, for a screen, with a foot of its own."""
    if not scene.items:
        return scene
    bounds = hull(item.box for item in scene.items)
    moved = tuple(item.moved(MARGIN - bounds.left, MARGIN - bounds.top) for item in scene.items)
    width = max(bounds.width, _NARROWEST) + 2 * MARGIN
    tall = replace(scene, width=width, height=bounds.height + 2 * MARGIN + FOOT, items=moved)
    room = width - 2 * MARGIN
    lines = [*wrap(CODES, room, _POINTS), *wrap(_origin(spec), room, _POINTS)]
    further = (len(lines) - 1) * _LINE
    lower = replace(tall, height=tall.height + further)
    return replace(lower, items=(*moved, *_foot_of_picture(lower, spec, lines, broken)))


_NARROWEST = 90.0
"""Millimetres; a small drawing stands at the left of its sheet."""


def _origin(spec: Spec) -> str:
    """Revision, date, licence, digest: what tells one print from another."""
    paper = spec.document
    said = [f"revision {paper.revision}" if paper.revision else "", paper.date or ""]
    said += [paper.author or "", paper.licence or ""]
    said += [f"spec {spec.digest[:12]}" if spec.digest else "", f"rewire {__version__}"]
    return visible(" · ".join(one for one in said if one))


def _foot(scene: Scene, spec: Spec, page: str, broken: str | None) -> list[Item]:
    low, edge = scene.height - MARGIN - 1.2, scene.width - MARGIN
    high = low - _LINE
    number = text_at(page, edge, high, _POINTS, align="right", shows="foot")
    origin = text_at(_origin(spec), edge, low, _POINTS, align="right", grey=0.2, shows="foot")
    title = _shortened(visible(spec.title), number.x - MARGIN - 4.0)
    codes = _shortened(CODES, origin.x - MARGIN - 4.0)
    texts = [
        text_at(title, MARGIN, high, _POINTS, grey=0.2, shows="foot"),
        text_at(codes, MARGIN, low, _POINTS, grey=0.2, shows="foot"),
    ]
    return [*_ruled(scene, high - 3.6, broken), *texts, number, origin]


def _foot_of_picture(
    scene: Scene, spec: Spec, lines: Sequence[str], broken: str | None
) -> list[Item]:
    low = scene.height - MARGIN - 1.2
    first = low - len(lines) * _LINE
    title = _shortened(visible(spec.title), scene.width - 2 * MARGIN)
    texts = [
        text_at(line, MARGIN, first + n * _LINE, _POINTS, grey=0.2, shows="foot")
        for n, line in enumerate((title, *lines))
    ]
    return [*_ruled(scene, first - 3.6, broken), *texts]


def _ruled(scene: Scene, y: float, broken: str | None) -> list[Item]:
    """A rule over the foot; over that a bar where the wiring must not be built."""
    edge = scene.width - MARGIN
    rule = Line(((MARGIN, y), (edge, y)), "foot", width=0.2, grey=0.4)
    if broken is None:
        return [rule]
    bar = Symbol("bar", Box(MARGIN, y - _BAR_HEIGHT, edge, y), "broken", fill="black")
    said = _shortened(visible(broken), edge - MARGIN - 4.0, _BAR, bold=True)
    text = text_at(said, MARGIN + 2.0, y - 1.3, _BAR, bold=True, grey=1.0, shows="broken")
    return [rule, bar, replace(text, on="broken")]


def _shortened(text: str, width: float, points: float = _POINTS, bold: bool = False) -> str:
    if width_mm(text, points, bold) <= width:
        return text
    cut = len(text)
    while cut and width_mm(text[:cut] + " …", points, bold) > width:
        cut = cut * 9 // 10 if cut > 200 else cut - 1
    return text[:cut] + " …"
