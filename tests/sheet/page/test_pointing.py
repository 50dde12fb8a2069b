"""Pointing at wires, lugs and rows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from playwright.sync_api import Locator

from tests.sheet.page.opened import FLAGSHIP, PHONE, Opened, made
from tests.sheet.page.test_turning import is_lug, numbered

Show = Callable[..., Opened]
SPEC = yaml.load(FLAGSHIP.read_text("utf-8"), Loader=yaml.BaseLoader)
WIRES = {w["id"]: w for w in numbered(SPEC["wirings"]["substitute"]["wires"])}


def wire_row(tab: Opened, wire: str) -> Locator:
    return tab.page.locator(f'.wires tr[data-about="w:{wire}"]').first


@pytest.fixture(scope="module")
def with_wires(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("page") / "wires.html"
    place.write_bytes(made(FLAGSHIP.read_bytes(), str(FLAGSHIP), ("lugs", "wires")))
    return place


def test_a_row_of_the_wire_list_lights_its_wire_and_both_its_ends(
    show: Show, with_wires: Path
) -> None:
    tab = show(with_wires)
    tab.choose("substitute")
    for name, wire in WIRES.items():
        row = wire_row(tab, name)
        row.hover()
        ends = {wire["from"], wire["to"]}
        lit = tab.named(".lugs [data-name].lit")
        if any(map(is_lug, ends)):
            assert f"w:{name}" in lit
        assert {n[2:] for n in lit if n.startswith("t:")} == {e for e in ends if is_lug(e)}
        assert "lit" in (row.get_attribute("class") or "").split()
        said = tab.page.locator("#pointed").inner_text()
        assert said.startswith(f"{name}, ")
        assert all(end in said for end in ends)


def test_a_lug_lights_the_rows_of_all_wires_on_it(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    tab.choose("substitute")
    for lug in ("S4.A", "S4.B3", "S4.C2", "S4.D1"):
        tab.page.locator(f'.wiring:not(.aside, .beside) .lugs .thing[data-name="t:{lug}"]').hover()
        landing = {n for n, w in WIRES.items() if lug in (w["from"], w["to"])}
        lit = tab.named(".lugs [data-name].lit")
        assert {n[2:] for n in lit if n.startswith("w:")} == landing


def test_lugs_are_reached_by_keyboard_and_pinned_until_escape(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    drawing = tab.page.locator(".wiring:not(.aside, .beside) .lugs .drawing")
    assert drawing.locator('[tabindex="0"]').count() == 1
    drawing.locator('[tabindex="0"]').focus()
    first = tab.page.evaluate("document.activeElement.dataset.name")
    tab.page.keyboard.press("ArrowRight")
    name = tab.page.evaluate("document.activeElement.dataset.name")
    assert name != first
    assert name in tab.named(".lugs [data-name].lit")
    tab.page.keyboard.press("Enter")
    tab.page.locator("h1").click()
    tab.page.evaluate("document.activeElement.blur()")
    assert name in tab.named(".lugs [data-name].lit")
    tab.page.keyboard.press("Escape")
    assert tab.page.locator(".thing.lit").count() == 0


def test_a_tap_on_a_phone_pins_what_it_touches(show: Show, flagship: Path) -> None:
    tab = show(flagship, viewport=PHONE, has_touch=True, is_mobile=True)
    tab.page.locator('.wiring:not(.aside, .beside) .lugs .thing[data-name="t:S4.C"]').tap()
    assert "t:S4.C" in tab.named(".lugs [data-name].lit")
    assert "BIAS_RETURN" in tab.page.locator("#pointed").inner_text()
