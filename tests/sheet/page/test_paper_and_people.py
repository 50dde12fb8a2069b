"""The page on paper, on a phone, without a script, and for those who do not see it."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pypdf
import pytest
import yaml

from tests.sheet.page.opened import FLAGSHIP, PHONE, SPECS, WIDE, Opened, made
from tests.sheet.page.test_turning import numbered

Show = Callable[..., Opened]
SPEC = yaml.load(FLAGSHIP.read_text("utf-8"), Loader=yaml.BaseLoader)
AXE = files("axe_playwright_python").joinpath("axe.min.js")
NAMES = ("valve-amplifier", "monitor-jack", "relay-and-switch")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    places = {name: folder / f"{name}.html" for name in NAMES}
    for name, place in places.items():
        place.write_bytes(made((SPECS / f"{name}.yaml").read_bytes(), str(SPECS / f"{name}.yaml")))
    return places


def test_it_prints_every_wiring_whatever_is_chosen_and_no_buttons(
    show: Show, flagship: Path
) -> None:
    tab = show(flagship)
    tab.choose("as-found")
    pdf = pypdf.PdfReader(io.BytesIO(tab.page.pdf(format="A4", prefer_css_page_size=True)))
    text = "\n".join(page.extract_text() for page in pdf.pages)
    words = " ".join(unicodedata.normalize("NFKC", text).split())
    for wiring, told in SPEC["wirings"].items():
        switch = "S4" if wiring == "substitute" else "S3"
        assert f"{switch}: {wiring}" in words
        for wire in numbered(told["wires"]):
            assert f"{wire['id']} {wire['from']} {wire['to']}" in words
    for said in ("BROKEN", "CHANGED", "Local codes and licensed practice come first", "24.7 %"):
        assert said in words
    for button in ("Show on the lugs", "Untick everything", "one position", "Download"):
        assert button not in words
    tab.page.emulate_media(media="print")
    assert tab.page.locator(".lugs:visible").count() == len(SPEC["wirings"])
    assert tab.page.locator("#desk .choice:visible, .turn:visible, .jump:visible").count() == 0
    overflow = tab.page.eval_on_selector_all(
        ".drawing", "all => all.filter(e => e.getBoundingClientRect().right > innerWidth).length"
    )
    assert overflow == 0


def test_a_print_is_black_on_white(show: Show, flagship: Path) -> None:
    """Nothing lit on the screen goes on paper: the sheet is the same in every position."""
    tab = show(flagship)
    tab.page.locator('.wiring:not(.aside) .lugs .thing[data-name="t:S4.C"]').click()
    tab.page.emulate_media(media="print")
    inks = tab.page.eval_on_selector_all(
        ".lugs .course path:not(.reach)", "all => all.map(e => getComputedStyle(e).stroke)"
    )
    assert inks
    for ink in set(inks):
        red, green, blue = (int(part) for part in ink[4:-1].split(","))
        assert red == green == blue


@pytest.mark.parametrize("name", NAMES)
def test_on_a_phone_nothing_but_drawings_and_tables_is_wider_than_the_screen(
    show: Show, pages: dict[str, Path], name: str
) -> None:
    tab = show(pages[name], viewport=PHONE, has_touch=True, is_mobile=True)
    assert tab.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    small = tab.page.evaluate(
        """() => [...document.querySelectorAll("button, .choice label")].filter((e) => {
          const box = e.getBoundingClientRect();
          return box.width > 0 && (box.height < 24 || box.width < 24);
        }).map((e) => e.textContent)"""
    )
    assert small == [], "WCAG 2.2, 2.5.8: a target is 24 by 24 CSS pixels or more"


PICTURED = ("verdict", "cautions", "marked", "lugs", "circuits", "pages")


@pytest.mark.parametrize(
    ("name", "size", "sections"),
    [
        (NAMES[0], PHONE, None),
        (NAMES[0], WIDE, PICTURED),
        (NAMES[1], PHONE, PICTURED),
        (NAMES[2], WIDE, PICTURED),
    ],
    ids=["all of it on a phone", "meter switch", "jack on a phone", "relay"],
)
def test_axe_finds_no_violation(
    show: Show, tmp_path: Path, name: str, size: dict[str, int], sections: tuple[str, ...] | None
) -> None:
    source = SPECS / f"{name}.yaml"
    place = tmp_path / "page.html"
    place.write_bytes(made(source.read_bytes(), str(source), sections))
    tab = show(place, viewport=size)
    tab.page.evaluate(AXE.read_text("utf-8"))
    tab.page.get_by_role("radio").nth(1).check(force=True)
    tab.page.locator(".jump").first.click()
    assert violations(tab) == []


def violations(tab: Opened) -> list[Any]:
    found = tab.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert found["passes"]
    return [
        (one["id"], one["help"], [node["html"][:200] for node in one["nodes"][:3]])
        for one in found["violations"]
    ]


def test_without_a_script_everything_is_there_and_nothing_pretends(
    show: Show, flagship: Path
) -> None:
    tab = show(flagship, java_script_enabled=False)
    assert tab.page.locator(".lugs:visible").count() == len(SPEC["wirings"])
    assert tab.page.locator(".dial:visible").count() == 3 * len(SPEC["wirings"])
    assert tab.page.locator("button:visible").count() == 0
    assert tab.page.locator("input[type=radio]:visible").count() == 0


def test_texts_keep_their_measured_width_in_another_font(show: Show, flagship: Path) -> None:
    """DejaVu Sans is not on every machine: in a monospaced font no text may grow."""
    tab = show(flagship)
    told = tab.page.evaluate(
        """() => {
          for (const drawing of document.querySelectorAll(".drawing")) {
            drawing.setAttribute("font-family", "monospace");
          }
          return [...document.querySelectorAll(".wiring:not(.aside) .drawing text")].map((e) =>
            [Number(e.getAttribute("textLength")), e.getBBox().width, e.textContent]);
        }"""
    )
    assert len(told) > 20
    for asked, drawn, text in told:
        if drawn:
            assert drawn == pytest.approx(asked, rel=0.02, abs=0.3), text


def test_reduced_motion_is_respected(show: Show, flagship: Path) -> None:
    read = "getComputedStyle(document.documentElement).scrollBehavior"
    assert show(flagship, reduced_motion="reduce").page.evaluate(read) == "auto"
    assert show(flagship, reduced_motion="no-preference").page.evaluate(read) == "smooth"
    moving = show(flagship, reduced_motion="reduce").page.evaluate(
        """[...document.querySelectorAll("*")].filter((e) => {
          const style = getComputedStyle(e);
          return style.animationName !== "none" || parseFloat(style.transitionDuration) > 0;
        }).length"""
    )
    assert moving == 0
