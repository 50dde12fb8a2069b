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

from rewire.compare import compare
from rewire.reading import read_text
from rewire.report.packet import packet_of
from rewire.report.pdf import pdf
from tests.sheet.page.opened import FLAGSHIP, PHONE, SPECS, WIDE, Opened, made

Show = Callable[..., Opened]
SPEC = yaml.load(FLAGSHIP.read_text("utf-8"), Loader=yaml.BaseLoader)
AXE = files("axe_playwright_python").joinpath("axe.min.js")
UPRIGHT = {"width": 390, "height": 844}
READABLE = 10.6
"""CSS pixels; 8 pt on paper."""
NAMES = ("valve-amplifier", "monitor-jack", "relay-and-switch")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    places = {name: folder / f"{name}.html" for name in NAMES}
    for name, place in places.items():
        place.write_bytes(made((SPECS / f"{name}.yaml").read_bytes(), str(SPECS / f"{name}.yaml")))
    return places


SIZES = """() => {
  const found = [];
  for (const root of [document.body, ...document.querySelectorAll(".strips svg")]) {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (root === document.body && walker.nextNode()) {
      const one = walker.currentNode.parentElement;
      if (!walker.currentNode.textContent.trim() || !one.checkVisibility() ||
          one.closest("script, style, .skip")) continue;
      const { a, b } = one.closest("svg") ? one.getScreenCTM() : { a: 1, b: 0 };
      const scale = Math.hypot(a, b);
      found.push([scale * parseFloat(getComputedStyle(one).fontSize),
        walker.currentNode.textContent.slice(0, 60)]);
    }
    if (root === document.body || !root.checkVisibility()) continue;
    const drawn = document.querySelector(root.querySelector("use").getAttribute("href"));
    for (const one of drawn.querySelectorAll("text")) {
      found.push([root.getScreenCTM().a * parseFloat(one.getAttribute("font-size")),
        one.textContent]);
    }
  }
  return found;
}"""
"""CSS pixels of every text that can be seen, drawings included, as they come out."""


@pytest.mark.usefixtures("blank_cards")
@pytest.mark.parametrize("name", NAMES[:2])
def test_a_print_is_no_longer_than_the_packet_and_nowhere_small(
    show: Show, pages: dict[str, Path], name: str
) -> None:
    tab = show(pages[name], viewport={"width": 718, "height": 1000})  # A4 within its margins
    printed = pypdf.PdfReader(io.BytesIO(tab.page.pdf(prefer_css_page_size=True, format="A4")))
    file = SPECS / f"{name}.yaml"
    spec = read_text(file.read_bytes(), str(file))
    packet = pypdf.PdfReader(io.BytesIO(pdf(packet_of(spec, compare(spec)))))
    assert len(printed.pages) <= len(packet.pages)
    text = " ".join(page.extract_text() for page in printed.pages)
    words = " ".join(unicodedata.normalize("NFKC", text).split())
    assert "Local codes and licensed practice come first" in words
    for button in ("Untick everything", "Save the bench log", "Download", "Turn the switch"):
        assert button not in words
    tab.page.emulate_media(media="print")
    small = [one for one in tab.page.evaluate(SIZES) if one[0] < 8 * 96 / 72 - 0.05]
    assert small == []
    wide = "all => all.filter(e => e.getBoundingClientRect().right > innerWidth).length"
    assert tab.page.eval_on_selector_all(".drawing, table", wide) == 0


def test_a_print_is_the_same_in_every_position(show: Show, flagship: Path) -> None:
    """Nothing lit on the screen goes on paper."""
    tab = show(flagship)
    inks = "all => all.map(e => getComputedStyle(e).stroke)"
    tab.page.emulate_media(media="print")
    before = tab.page.eval_on_selector_all(".course path", inks)
    tab.page.emulate_media(media="screen")
    tab.turn({"METER": "SCREEN"})
    tab.page.locator('.wiring:not(.aside, .beside) .lugs .thing[data-name="t:S4.C"]').click()
    tab.page.emulate_media(media="print")
    assert before
    assert tab.page.eval_on_selector_all(".course path", inks) == before


@pytest.mark.parametrize("name", NAMES)
def test_on_a_phone_held_upright_every_label_is_readable_and_nothing_is_scrolled_sideways(
    show: Show, pages: dict[str, Path], name: str
) -> None:
    tab = show(pages[name], viewport=UPRIGHT, has_touch=True, is_mobile=True)
    wide = tab.page.evaluate(
        """() => [...document.querySelectorAll("html, body, body *")].filter((e) =>
          e.scrollWidth > e.clientWidth + 1 && e.clientWidth && !e.closest(".skip, svg, thead") &&
          getComputedStyle(e).display !== "inline").map((e) => e.outerHTML.slice(0, 120))"""
    )
    assert wide == []
    small = [one for one in tab.page.evaluate(SIZES) if one[0] < READABLE]
    assert small == []
    targets = tab.page.evaluate(
        """() => [...document.querySelectorAll(
          "button, .button, summary, .contents a, #download, .choice label, td input",
        )].filter((e) => {
          const box = e.getBoundingClientRect();
          return box.width > 0 && (box.height < 39.5 || box.width < 39.5);
        }).map((e) => e.outerHTML)"""
    )
    assert targets == []


def test_on_a_wide_screen_plan_and_original_are_side_by_side(show: Show, flagship: Path) -> None:
    tab = show(flagship, viewport=WIDE)
    plan, original = (
        tab.page.get_by_role("region", name=name, exact=True).bounding_box()
        for name in ("substitute", "original")
    )
    assert plan is not None
    assert original is not None
    assert plan["y"] == original["y"]
    assert plan["x"] + plan["width"] <= original["x"]
    tab.page.set_viewport_size(UPRIGHT)
    assert tab.page.locator(".wiring:visible").count() == 1


PICTURED = ("card", "lugs", "verdict", "circuits", "pages")


@pytest.mark.parametrize(
    ("name", "size", "sections"),
    [
        (NAMES[0], PHONE, None),
        (NAMES[2], WIDE, PICTURED),
    ],
    ids=["all of it on a phone", "relay on a desk"],
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(
    show: Show, tmp_path: Path, name: str, size: dict[str, int], sections: tuple[str, ...] | None,
    scheme: str,
) -> None:  # fmt: skip
    source = SPECS / f"{name}.yaml"
    place = tmp_path / "page.html"
    place.write_bytes(made(source.read_bytes(), str(source), sections))
    tab = show(place, viewport=size, color_scheme=scheme)
    tab.page.evaluate(AXE.read_text("utf-8"))
    tab.page.get_by_role("radio").nth(1).check(force=True)
    tab.page.locator(".keyed:visible span[data-name]").first.click()
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
    assert tab.page.locator(".switch:visible").count() == len(SPEC["wirings"])
    assert tab.page.locator(".dial:visible").count() == 3 * len(SPEC["wirings"])
    assert tab.page.locator("button:visible, .button:visible").count() == 0
    assert tab.page.locator("input[type=radio]:visible").count() == 0


def test_texts_keep_their_measured_width_in_another_font(show: Show, flagship: Path) -> None:
    """DejaVu Sans is not on every machine: in a monospaced font no text may grow."""
    tab = show(flagship)
    told = tab.page.evaluate(
        """() => {
          for (const drawing of document.querySelectorAll(".drawing")) {
            drawing.setAttribute("font-family", "monospace");
          }
          const shown = document.querySelector(".wiring:not(.aside, .beside)");
          return [...shown.querySelectorAll(".lugs:not(.aside) .drawing text")].map((e) =>
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
