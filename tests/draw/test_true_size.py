"""The bar is 50 mm in the file that is printed, whatever the paper; a mirror image is exact."""

from __future__ import annotations

import io
import re

import pypdf
import pytest

from rewire.draw.paint import paint_pdf, paint_svg
from rewire.draw.scene import Line, Panel, Scene, text_at
from rewire.draw.sheets import on_a_sheet
from rewire.draw.true_size import at_true_size, face_down

SQUARE = Panel((Line(((0, 0), (30, 0), (30, 20), (0, 20), (0, 0)), "square"),), 30.0, 20.0)


def page(paper: str) -> Scene:
    made = at_true_size("A plate", [SQUARE], ["Cut along the line."])
    return on_a_sheet(made, "letter" if paper == "letter" else "a4", "A plate")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_bar_is_50_mm_in_the_svg(paper: str) -> None:
    svg = paint_svg(page(paper)).decode()
    head = re.search(r'viewBox="0 0 (\S+) (\S+)" width="(\S+)mm" height="(\S+)mm"', svg)
    assert head is not None
    assert head[1] == head[3]
    assert head[2] == head[4]
    level = re.findall(r'd="M(\S+) (\S+)L(\S+) (\S+?)"', svg)
    assert [float(x1) - float(x0) for x0, y0, x1, y1 in level if y0 == y1] == pytest.approx([50.0])


def test_the_page_of_the_pdf_is_the_paper() -> None:
    reader = pypdf.PdfReader(io.BytesIO(paint_pdf([page("a4")])))
    width, height = (float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((210.0, 297.0), abs=0.01)  # ISO 216


def test_what_lies_face_down_is_mirrored_with_its_letters() -> None:
    text = text_at("R7", 2.0, 5.0, 8.0)
    line = Line(((1.0, 1.0), (4.0, 3.0)))
    turned = face_down(Panel((line, text), 30.0, 20.0))
    assert turned.items[0] == Line(((29.0, 1.0), (26.0, 3.0)))
    assert turned.items[1].box.right == pytest.approx(28.0)
    svg = paint_svg(Scene(30.0, 20.0, turned.items)).decode()
    assert f'transform="matrix(-1 0 0 1 {2 * turned.items[1].box.left + text.width:.2f} 0)"' in svg
    again = face_down(turned).items
    assert again[0] == line
    assert again[1].box.left == pytest.approx(text.box.left)
    assert not again[1].mirrored
