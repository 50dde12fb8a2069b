"""schemdraw elements made from the scene's items: segments and anchors as data."""

from __future__ import annotations

from typing import Any

from schemdraw.elements import Element
from schemdraw.segments import Segment, SegmentPoly, SegmentText
from schemdraw.types import BBox

from rewire.draw.devices import DEVICES
from rewire.draw.outlines import insets, outline, strokes
from rewire.draw.scene import XY, Dash, Drawn, Line, Symbol, Text

_POINTS_PER_MM = 72 / 25.4
_DASHES: dict[Dash, Any] = {
    "solid": "-",
    "dashed": (0, (5.0, 3.0)),
    "dotted": (0, (1.2, 1.8)),
    "dashdot": (0, (6.0, 2.0, 1.2, 2.0)),
}


class SceneElement(Element):
    """An element that stands where the scene put it, with the bounds the scene measured."""

    def __init__(self, item: Drawn, paper_height: float) -> None:
        super().__init__()
        box = item.box
        self._bounds = BBox(box.left, paper_height - box.bottom, box.right, paper_height - box.top)
        self.anchors["center"] = (
            (box.left + box.right) / 2, paper_height - (box.top + box.bottom) / 2
        )  # fmt: skip
        self.elmparams.update(at=(0.0, 0.0), theta=0.0)

    def get_bbox(self, transform: bool = False, includetext: bool = True) -> BBox:
        """The measured bounds: schemdraw would estimate those of a text."""
        return self._bounds


class Stroke(SceneElement):
    """A wire, leader, jumper or rule; anchors ``start`` and ``end``."""

    def __init__(self, line: Line, paper_height: float) -> None:
        super().__init__(line, paper_height)
        points = _upright(line.points, paper_height)
        self.segments.append(
            Segment(
                points, lw=line.width * _POINTS_PER_MM, ls=_DASHES[line.dash],
                color=_grey(line.grey), capstyle="butt", joinstyle="round", zorder=2,
            )
        )  # fmt: skip
        self.anchors.update(start=points[0], end=points[-1])


class Outline(SceneElement):
    """A lug, joint, swatch or frame; anchors ``N E S W`` on its sides."""

    def __init__(self, symbol: Symbol, paper_height: float) -> None:
        super().__init__(symbol, paper_height)
        order = 1 if symbol.backdrop else 3
        look: dict[str, Any] = {
            "lw": symbol.width * _POINTS_PER_MM, "ls": _DASHES[symbol.dash],
            "color": "none" if symbol.width == 0 else _grey(symbol.grey), "zorder": order,
        }  # fmt: skip
        arrows = strokes(symbol.kind, symbol.box)
        if not arrows:
            shape = _upright(outline(symbol.kind, symbol.box), paper_height)
            self.segments.append(SegmentPoly(shape, fill=symbol.fill or "none", **look))
        for inset in insets(symbol.kind, symbol.box):
            self.segments.append(SegmentPoly(_upright(inset, paper_height), fill="none", **look))
        for arrow in arrows:
            self.segments.append(Segment(_upright(arrow, paper_height), **look))
        self._name_sides(symbol, paper_height)

    def _name_sides(self, symbol: Symbol, paper_height: float) -> None:
        box = symbol.box
        x, y = box.centre
        sides = {"N": (x, box.top), "S": (x, box.bottom), "W": (box.left, y), "E": (box.right, y)}
        self.anchors.update({k: (px, paper_height - py) for k, (px, py) in sides.items()})


class Part(SceneElement):
    """A part's symbol; anchors ``start`` and ``end`` on its leads, others as its data name them."""

    def __init__(self, symbol: Symbol, paper_height: float) -> None:
        super().__init__(symbol, paper_height)
        device = DEVICES[symbol.kind]
        ink = _grey(symbol.grey)
        look: dict[str, Any] = {
            "lw": symbol.width * _POINTS_PER_MM, "ls": _DASHES[symbol.dash], "color": ink,
            "zorder": 3,
        }  # fmt: skip
        for shape in device.outlines:
            points = self._placed(shape, symbol, paper_height)
            self.segments.append(SegmentPoly(points, fill=symbol.fill or "none", **look))
        for shape in device.strokes:
            self.segments.append(Segment(self._placed(shape, symbol, paper_height), **look))
        for shape in device.filled:
            points = self._placed(shape, symbol, paper_height)
            self.segments.append(SegmentPoly(points, fill=ink, **look))
        ends = {"start": (0.5, 0.0), "end": (0.5, 1.0), **(device.anchors or {})}
        for name, place in ends.items():
            self.anchors[name] = self._placed((place,), symbol, paper_height)[0]

    @staticmethod
    def _placed(shape: tuple[XY, ...], symbol: Symbol, paper_height: float) -> list[XY]:
        box = symbol.box
        points = ((box.left + x * box.width, box.top + y * box.height) for x, y in shape)
        return _upright(tuple(points), paper_height)


class _Measured(SegmentText):
    """Text that is drawn as it was measured: on its baseline, in its weight, never as maths."""

    def __init__(self, text: Text, at: XY) -> None:
        super().__init__(at, text.text, align=("left", "base"), fontsize=text.points)
        self._text = text

    def draw(self, fig: Any, transform: Any, **_style: Any) -> None:
        """Put the text on schemdraw's matplotlib figure."""
        x, y = transform.transform(self.xy)
        fig.ax.text(
            x, y, self._text.text, fontsize=self._text.points, family="DejaVu Sans",
            weight="bold" if self._text.bold else "normal", color=_grey(self._text.grey),
            ha="left", va="baseline", zorder=4, parse_math=False,
        )  # fmt: skip


class Words(SceneElement):
    """A line of text on its baseline; anchor ``start`` at its left end."""

    def __init__(self, text: Text, paper_height: float) -> None:
        super().__init__(text, paper_height)
        at = (text.x, paper_height - text.y)
        self.segments.append(_Measured(text, at))
        self.anchors["start"] = at


def element_of(item: Drawn, paper_height: float) -> SceneElement:
    """The schemdraw element that draws an item."""
    if isinstance(item, Line):
        return Stroke(item, paper_height)
    if isinstance(item, Symbol):
        if item.kind in DEVICES:
            return Part(item, paper_height)
        return Outline(item, paper_height)
    return Words(item, paper_height)


def _upright(points: tuple[XY, ...], paper_height: float) -> list[XY]:
    """The scene counts downwards, schemdraw upwards."""
    return [(x, paper_height - y) for x, y in points]


def _grey(level: float) -> str:
    shade = round(255 * level)
    return f"#{shade:02x}{shade:02x}{shade:02x}"
