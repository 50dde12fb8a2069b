"""Pointing at wires, lugs and rows; findings that jump to their lugs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import yaml
from playwright.sync_api import Locator, expect

from tests.sheet.page.opened import FLAGSHIP, PHONE, Opened
from tests.sheet.page.test_turning import is_lug, numbered

Show = Callable[..., Opened]
SPEC = yaml.load(FLAGSHIP.read_text("utf-8"), Loader=yaml.BaseLoader)
WIRES = {w["id"]: w for w in numbered(SPEC["wirings"]["substitute"]["wires"])}


def wire_row(tab: Opened, wire: str) -> Locator:
    return tab.page.locator(f'.wires:not(.aside) tr[data-about="w:{wire}"]')


def test_a_row_of_the_wire_list_lights_its_wire_and_both_its_ends(
    show: Show, flagship: Path
) -> None:
    tab = show(flagship)
    tab.choose("substitute")
    for name, wire in WIRES.items():
        row = wire_row(tab, name)
        row.hover()
        ends = {wire["from"], wire["to"]}
        lit = tab.named(".lugs .thing.lit")
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
        tab.page.locator(f'.wiring:not(.aside) .lugs .thing[data-name="t:{lug}"]').hover()
        landing = {n for n, w in WIRES.items() if lug in (w["from"], w["to"])}
        lit = tab.named(".lugs .thing.lit")
        assert {n[2:] for n in lit if n.startswith("w:")} == landing


def test_lugs_are_reached_by_keyboard_and_pinned_until_escape(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    drawing = tab.page.locator(".wiring:not(.aside) .lugs .drawing")
    assert drawing.locator('[tabindex="0"]').count() == 1
    drawing.locator('[tabindex="0"]').focus()
    first = tab.page.evaluate("document.activeElement.dataset.name")
    tab.page.keyboard.press("ArrowRight")
    name = tab.page.evaluate("document.activeElement.dataset.name")
    assert name != first
    assert name in tab.named(".lugs .thing.lit")
    tab.page.keyboard.press("Enter")
    tab.page.locator("h1").click()
    tab.page.evaluate("document.activeElement.blur()")
    assert name in tab.named(".lugs .thing.lit")
    tab.page.keyboard.press("Escape")
    assert tab.page.locator(".thing.lit").count() == 0


def test_a_tap_on_a_phone_pins_what_it_touches(show: Show, flagship: Path) -> None:
    tab = show(flagship, viewport=PHONE, has_touch=True, is_mobile=True)
    tab.page.locator('.wiring:not(.aside) .lugs .thing[data-name="t:S4.C"]').tap()
    assert "t:S4.C" in tab.named(".lugs .thing.lit")
    assert "BIAS_RETURN" in tab.page.locator("#pointed").inner_text()


def test_findings_jump_to_their_lugs_in_a_position_where_they_hold(
    show: Show, flagship: Path
) -> None:
    """As found, the bias return ends on A1 in CATHODE: so says the spec's own head comment."""
    tab = show(flagship)
    lost = "BIAS_RETURN and CHASSIS are no longer"
    finding = tab.page.locator(".findings > li", has_text=lost).first
    finding.get_by_role("button").click()
    expect(tab.page.get_by_role("radio", name="as-found", exact=True)).to_be_checked()
    expect(tab.page.get_by_role("radio", name="CATHODE", exact=True)).to_be_checked()
    tied = tab.named(".lugs .thing.tied")
    assert {"t:S3.A1", "t:S3.B3"} <= tied
    sides = tab.named(".lugs .thing.tied.other")
    assert ("t:S3.A1" in sides) != ("t:S3.B3" in sides), "the two are told apart"
    said = tab.page.locator("#pointed").inner_text()
    assert "BIAS_RETURN: joined here with S3.A1." in said
    assert tab.page.evaluate("document.activeElement.closest('.lugs') !== null")
    frame = tab.page.locator(".wiring:not(.aside) .lugs")
    expect(frame).to_be_in_viewport()


def test_on_a_phone_a_finding_shows_its_lugs_clear_of_the_knobs(show: Show, flagship: Path) -> None:
    tab = show(flagship, viewport=PHONE, has_touch=True, is_mobile=True)
    tab.page.locator(".jump").first.tap()
    knobs = tab.page.locator(".knobs").bounding_box()
    frame = tab.page.locator(".wiring:not(.aside) .lugs").bounding_box()
    assert knobs is not None
    assert frame is not None
    assert knobs["y"] >= 0
    assert knobs["y"] + knobs["height"] <= frame["y"] <= PHONE["height"] / 2


def test_every_button_of_a_finding_leads_somewhere(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    buttons = tab.page.locator(".jump")
    assert buttons.count() > 8
    for number in range(buttons.count()):
        buttons.nth(number).click()
        lit = tab.page.locator(".wiring:not(.aside) :is(.tied, .lit)")
        assert lit.count() > 0, buttons.nth(number).get_attribute("aria-label")
