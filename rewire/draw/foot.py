"""Sheets of pictures: what each belongs to at its foot; and a drawing cut out of its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rewire import __version__
from rewire.draw.measure import text_at, visible, width_mm
from rewire.draw.scene import MARGIN, Item, Line, Scene, hull
from rewire.spec.model import Spec

_POINTS = 7.0


def footed(scenes: Sequence[Scene], spec: Spec) -> tuple[Scene, ...]:
    """The sheets with title, digest of the spec, version and page number at their feet.

    No clock time, so the same spec gives the same bytes.
    """
    count = len(scenes)
    return tuple(
        replace(scene, items=(*scene.items, *_foot(scene, spec, number, count)))
        for number, scene in enumerate(scenes, 1)
    )


def _foot(scene: Scene, spec: Spec, number: int, count: int) -> list[Item]:
    y = scene.height - MARGIN - 1.2
    edge = scene.width - MARGIN
    page = text_at(f"page {number} of {count}", edge, y, _POINTS, align="right", shows="foot")
    of_spec = f"spec {spec.digest[:12]} · " if spec.digest else ""
    origin = text_at(
        f"{of_spec}rewire {__version__}", page.x - 6.0, y, _POINTS,
        align="right", grey=0.2, shows="foot",
    )  # fmt: skip
    title = _shortened(visible(spec.title), origin.x - MARGIN - 4.0)
    rule = Line(((MARGIN, y - 4.0), (edge, y - 4.0)), "foot", width=0.2, grey=0.4)
    return [rule, text_at(title, MARGIN, y, _POINTS, grey=0.2, shows="foot"), origin, page]


def _shortened(text: str, width: float) -> str:
    if width_mm(text, _POINTS) <= width:
        return text
    cut = len(text)
    while cut and width_mm(text[:cut] + " …", _POINTS) > width:
        cut = cut * 9 // 10 if cut > 200 else cut - 1
    return text[:cut] + " …"


def cut_out(scene: Scene) -> Scene:
    """The drawing alone with the margins of a sheet around it, for a screen."""
    if not scene.items:
        return scene
    bounds = hull(item.box for item in scene.items)
    moved = tuple(item.moved(MARGIN - bounds.left, MARGIN - bounds.top) for item in scene.items)
    return replace(
        scene, width=bounds.width + 2 * MARGIN, height=bounds.height + 2 * MARGIN, items=moved
    )
