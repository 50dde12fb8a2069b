"""Finished files: text that can be found, our own mark, the same bytes every time."""

from __future__ import annotations

import io
import random
import re
import unicodedata
import xml.etree.ElementTree as ET
from functools import cache

import numpy as np
import pypdf
import pytest
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from PIL import Image

from rewire.draw.lugview import lug_view
from rewire.draw.paint import MARK, paint_pdf, paint_png, paint_svg
from rewire.draw.scene import Line, Scene, text_at, visible
from tests.draw.builders import plain_switch, point, random_view, spec, wire, wiring

PAINTERS = {
    "pdf": lambda scenes: paint_pdf(scenes, title="A title", author="Somebody"),
    "svg": lambda scenes: paint_svg(scenes[0]),
    "png": lambda scenes: paint_png(scenes[0], dpi=80),
}


@cache
def scenes(seed: int = 4) -> tuple[Scene, ...]:
    made, chosen, name = random_view(seed)
    return lug_view(made, chosen, name)


@pytest.mark.parametrize("kind", PAINTERS)
def test_the_same_scene_gives_the_same_bytes(kind: str) -> None:
    assert PAINTERS[kind](scenes()) == PAINTERS[kind](scenes())


@pytest.mark.parametrize("kind", PAINTERS)
def test_every_file_carries_the_mark_near_an_end(kind: str) -> None:
    data = PAINTERS[kind](scenes(1))
    assert MARK == "rewire-made"
    assert MARK.encode() in data[:4096] + data[-4096:]


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("seed", [1, 4])
def test_every_text_of_the_picture_is_text_in_the_pdf(seed: int) -> None:
    pages = scenes(seed)
    reader = pypdf.PdfReader(io.BytesIO(paint_pdf(pages)), strict=True)
    assert len(reader.pages) == len(pages)
    for page, scene in zip(reader.pages, pages, strict=True):
        found = squeezed(page.extract_text())
        missing = [t.text for t in scene.texts if squeezed(t.text) not in found]
        assert missing == []
        assert float(page.mediabox.width) == pytest.approx(scene.width * 72 / 25.4, abs=0.01)


def test_pdf_says_what_it_is_and_not_when_it_was_made() -> None:
    data = PAINTERS["pdf"](scenes())
    reader = pypdf.PdfReader(io.BytesIO(data), strict=True)
    info = reader.metadata
    assert info is not None
    assert info.title == "A title"
    assert info.author == "Somebody"
    assert "/CreationDate" not in info
    assert reader.trailer["/Root"]["/Lang"] == "en"
    fonts = re.findall(rb"/Subtype\s*/(Type3|CIDFontType2|TrueType)", data)
    assert b"Type3" not in fonts
    assert b"CIDFontType2" in fonts or b"TrueType" in fonts


def test_svg_is_well_formed_and_its_texts_are_texts() -> None:
    scene = scenes()[0]
    tree = ET.fromstring(paint_svg(scene))
    words = {"".join(t.itertext()) for t in tree.iter("{http://www.w3.org/2000/svg}text")}
    assert {t.text for t in scene.texts} <= {w.strip() for w in words} | words


def test_png_carries_the_mark_as_text() -> None:
    image = Image.open(io.BytesIO(PAINTERS["png"](scenes())))
    assert image.text["Software"] == MARK  # type: ignore[attr-defined]


@pytest.mark.parametrize("height", [61.7, 97.13, 211.2, 297.0])
def test_no_row_of_dots_is_left_out_of_a_png(height: float) -> None:
    """Level lines of one width at all heights are as dark as that width says."""
    heights = [2 + 0.07 * n for n in range(int((height - 4) / 0.07))]
    lines = [
        Line(((1 + n % 60 * 3, y), (3.5 + n % 60 * 3, y)), width=0.3) for n, y in enumerate(heights)
    ]
    with Image.open(io.BytesIO(paint_png(Scene(190, height, tuple(lines)), 200))) as painted:
        ink = 1 - np.asarray(painted.convert("L")) / 255
    for n, y in enumerate(heights):
        column, row = round((2 + n % 60 * 3) / 25.4 * 200), int(y / 25.4 * 200)
        assert ink[row - 3 : row + 4, column].sum() == pytest.approx(0.3 / 25.4 * 200, rel=0.15)


HOSTILE = "<script>alert(1)</script> $x^2$ \\$5 \x00\x07\u202e\u200b \u4e2d\u6587 %s {0} & \"'"


def test_text_from_a_spec_is_data() -> None:
    switch = plain_switch("S1", "SPDT", note=HOSTILE)
    made = wiring([switch], [wire("W1", "S1.A", "CHASSIS")])
    pages = lug_view(spec([made], [point("CHASSIS")]), made, "S1")
    found = pypdf.PdfReader(io.BytesIO(paint_pdf(pages))).pages[0].extract_text()
    assert squeezed("<script>alert(1)</script> $x^2$ \\$5") in squeezed(found)
    assert "‹U+202E›" in found
    assert "\u202e" not in found
    tree = ET.fromstring(paint_svg(pages[0]))
    assert not [node for node in tree.iter() if node.tag.endswith("script")]


def test_what_cannot_be_seen_is_spelt_out() -> None:
    """Code points by their numbers in the Unicode Standard."""
    assert visible("a\tb\u202ec\u200dd") == "a‹U+0009›b‹U+202E›c‹U+200D›d"
    assert visible("Ω µ é e\u0301") == "Ω µ é é"
    assert visible("\u05d0\u0628") == "\u05d0\u0628"
    assert visible("\u05d0\u05b8") == "\u05d0‹U+05B8›"
    assert visible("\u6f22") == "‹U+6F22›"


HEBREW = "\u05de\u05ea\u05d2"
ARABIC = "\u0642\u0627\u0637\u0639"


def test_letters_that_run_from_right_to_left_are_drawn_and_found() -> None:
    said = [text_at(text, 20.0, 20.0 + 9 * n, 9.0) for n, text in enumerate((HEBREW, ARABIC))]
    page = pypdf.PdfReader(io.BytesIO(paint_pdf([Scene(210, 297, tuple(said))]))).pages[0]
    found = unicodedata.normalize("NFKC", page.extract_text())
    # Glyphs stand in the file as they are seen, from left to right; pypdf does not turn them round.
    assert HEBREW[::-1] in found
    assert ARABIC[::-1] in found


def test_a_line_both_ways_is_no_wider_than_measured() -> None:
    """Independent reference: the outlines of matplotlib.textpath in the same font."""
    rng = random.Random(11)
    letters = "\u05d0\u05d1\u05e9\u05ea\u0628\u0644\u0627\u0645\u0639 AB12→_"
    for bold in (False, True):
        face = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
        for _ in range(80):
            text = "".join(rng.choice(letters) for _ in range(rng.randint(1, 40))) + "\u05d0"
            inked = TextPath((0, 0), text, size=8.0, prop=face).get_extents()
            made = text_at(text, 0.0, 0.0, 8.0, bold=bold)
            assert inked.width * 25.4 / 72 <= made.width, text
            deep = 0.35  # mm; some Arabic letters reach lower, into the space between lines
            assert -inked.y0 * 25.4 / 72 <= made.descent + deep, text


def courses(line: Line) -> list[tuple[str, float]]:
    """Colour and width of each stroke of a line, in the order they are painted."""
    root = ET.fromstring(paint_svg(Scene(30.0, 30.0, (line,))))
    paths = root.iter("{http://www.w3.org/2000/svg}path")
    return [(path.attrib["stroke"], float(path.attrib["stroke-width"])) for path in paths]


def test_a_cased_line_lies_on_a_dark_edge_and_that_on_white() -> None:
    line = Line(((5.0, 5.0), (25.0, 5.0)), width=1.0, colour="#ffffff", cased=True)
    (gap, widest), (edge, wide), (ink, narrow) = courses(line)
    assert gap == ink == "#ffffff"
    assert edge < "#404040"
    assert widest > wide == 1.0 > narrow


def test_a_wire_of_two_colours_shows_both() -> None:
    line = Line(
        ((5.0, 5.0), (25.0, 5.0)), width=1.0, colour="#2f8f2f", stripe="#f5d800", cased=True
    )
    assert [colour for colour, _ in courses(line)][-2:] == ["#2f8f2f", "#f5d800"]
