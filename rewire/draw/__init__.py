"""Pictures: scenes in millimetres, and painting them."""

from rewire.draw.beside import beside_view, pairs_of
from rewire.draw.circuit import circuit_panel, circuit_view
from rewire.draw.lugview.view import lug_panels, lug_view
from rewire.draw.paint import MARK, paint_pdf, paint_png, paint_svg, svg_of

__all__ = [
    "MARK",
    "beside_view",
    "circuit_panel",
    "circuit_view",
    "lug_panels",
    "lug_view",
    "paint_pdf",
    "paint_png",
    "paint_svg",
    "pairs_of",
    "svg_of",
]
