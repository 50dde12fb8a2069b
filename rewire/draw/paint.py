"""Painting: a scene's items as schemdraw elements on a matplotlib page measured in mm.

The same scene gives the same bytes: no dates, no random names.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from typing import Any

os.environ.setdefault("MPLBACKEND", "agg")

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from PIL import Image
from schemdraw import Drawing

from rewire.draw.elements import element_of
from rewire.draw.pdf_language import in_language
from rewire.draw.scene import Drawn, Picture, Scene

MARK = "rewire-made"
"""Stands in every file the program writes, so that it knows its own."""
_MM_PER_INCH = 25.4
_SETTINGS: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "text.parse_math": False,
    "text.usetex": False,
    "pdf.fonttype": 42,
    "pdf.compression": 6,
    "svg.fonttype": "none",
    "svg.hashsalt": MARK,
    "path.simplify": False,
    "lines.scale_dashes": True,
}


def _settings() -> AbstractContextManager[None]:
    defaults: dict[Any, Any] = {k: v for k, v in mpl.rcParamsDefault.items() if k != "backend"}
    return mpl.rc_context({**defaults, **_SETTINGS})


def paint_pdf(
    scenes: Sequence[Scene], *, title: str = "", author: str | None = None, subject: str = ""
) -> bytes:
    """All scenes as the pages of one PDF; text stays text."""
    out = io.BytesIO()
    info = {
        "Title": title or (scenes[0].title if scenes else ""), "Subject": subject,
        "Keywords": MARK, "Creator": "rewire", "Producer": "rewire", "CreationDate": None,
    }  # fmt: skip
    if author:
        info["Author"] = author
    with _settings(), PdfPages(out, metadata=info) as pages:
        for scene in scenes:
            pages.savefig(figure_of(scene))
    return _marked(in_language(out.getvalue(), "en"))


def _marked(pdf: bytes) -> bytes:
    """The mark as a comment close to the end, where a long document's tables cannot push it out.

    It stands before the last ``startxref``, so no place that a table names is moved.
    """
    body, last, end = pdf.rpartition(b"startxref")
    return body + f"%{MARK}\n".encode() + last + end


def paint_svg(scene: Scene) -> bytes:
    """One scene as SVG; text stays text."""
    out = io.BytesIO()
    info = {"Date": None, "Creator": MARK, "Title": scene.title}
    with _settings():
        figure_of(scene).savefig(out, format="svg", metadata=info)
    head, _, tail = out.getvalue().partition(b"\n")
    return head + f"\n<!-- {MARK} -->\n".encode() + tail


def paint_png(scene: Scene, dpi: int = 200) -> bytes:
    """One scene as PNG."""
    out = io.BytesIO()
    info = {"Software": MARK, "Title": scene.title}
    with _settings():
        figure_of(scene, "antialiased").savefig(out, format="png", dpi=dpi, metadata=info)
    return out.getvalue()


def figure_of(scene: Scene, sampling: str = "none") -> Figure:
    """The page, drawn by schemdraw.

    Args:
        scene: what is on it.
        sampling: matplotlib's word for what becomes of a picture's pixels; ``none`` embeds
            them as they are where the format allows it.
    """
    figure = Figure(figsize=(scene.width / _MM_PER_INCH, scene.height / _MM_PER_INCH))
    axes: Axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    for picture in scene.pictures:
        _paste(axes, picture, scene.height, sampling)
    drawing = Drawing(canvas=axes, show=False)
    drawing.config(margin=0, bgcolor="white")
    for item in _bottom_up(scene):
        drawing.add(element_of(item, scene.height))
    if len(scene.items) > len(scene.pictures):
        drawing.draw(show=False)
    axes.set_xlim(0.0, scene.width)
    axes.set_ylim(0.0, scene.height)
    return figure


def _paste(axes: Axes, picture: Picture, paper_height: float, sampling: str) -> None:
    """A picture's pixels at its place, under all that is drawn."""
    with Image.open(io.BytesIO(picture.data), formats=("PNG", "JPEG")) as image:
        pixels = np.asarray(image.convert("RGB"))
    box = picture.box
    axes.imshow(
        pixels, extent=(box.left, box.right, paper_height - box.bottom, paper_height - box.top),
        aspect="auto", interpolation=sampling, zorder=0,
    )  # fmt: skip


def _bottom_up(scene: Scene) -> Iterable[Drawn]:
    """Backdrops, lines, symbols, texts: what comes later covers what came before."""
    yield from (s for s in scene.symbols if s.backdrop)
    yield from scene.lines
    yield from (s for s in scene.symbols if not s.backdrop)
    yield from scene.texts
