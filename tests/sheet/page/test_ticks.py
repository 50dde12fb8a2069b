"""Ticks and figures stay in the browser, for this spec alone; if it keeps nothing, it says so."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, expect

from tests.sheet.page.opened import FLAGSHIP, Opened, made

Show = Callable[..., Opened]
DENIED = """Object.defineProperty(window, "localStorage", {
  get() { throw new DOMException("denied", "SecurityError"); },
});"""


def test_a_tick_and_a_figure_are_there_after_a_reload(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    step = tab.page.locator(".work td input[type=checkbox]").nth(3)
    blank = tab.page.locator(".bench td input[type=text]").nth(2)
    done = tab.page.locator(".work .done")
    assert done.inner_text().startswith("0 of ")
    step.check()
    blank.fill("61.5")
    blank.blur()
    assert done.inner_text().startswith("1 of ")
    tab.page.reload()
    expect(step).to_be_checked()
    assert tab.page.locator("td input:checked").count() == 1
    assert blank.input_value() == "61.5"
    assert done.inner_text().startswith("1 of ")
    step.uncheck()
    tab.page.reload()
    assert tab.page.locator("td input:checked").count() == 0


def test_another_revision_of_the_spec_begins_without_ticks(
    browser: Browser, flagship: Path, tmp_path: Path
) -> None:
    source = FLAGSHIP.read_bytes().replace(b"revision: B", b"revision: C")
    assert source != FLAGSHIP.read_bytes()
    other = tmp_path / "other.html"
    other.write_bytes(made(source, str(FLAGSHIP), ("work",)))
    tab = browser.new_context().new_page()
    tab.goto(flagship.as_uri())
    tab.locator("td input[type=checkbox]").first.check()
    key = f"rewire {hashlib.sha256(FLAGSHIP.read_bytes()).hexdigest()}"
    assert tab.evaluate("Object.keys(localStorage)") == [key]
    tab.goto(other.as_uri())
    assert tab.locator("td input:checked").count() == 0
    tab.context.close()


def test_untick_everything_leaves_the_figures(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    blank = tab.page.locator("td input[type=text]").first
    tab.page.locator("td input[type=checkbox]").nth(1).check()
    blank.fill("7.5")
    blank.blur()
    tab.page.get_by_role("button", name="Untick everything").click()
    tab.page.reload()
    assert tab.page.locator("td input:checked").count() == 0
    assert blank.input_value() == "7.5"


def test_where_storage_is_denied_ticks_work_until_the_page_is_closed(
    browser: Browser, flagship: Path
) -> None:
    context = browser.new_context()
    context.add_init_script(DENIED)
    tab = context.new_page()
    troubles: list[str] = []
    tab.on("pageerror", lambda error: troubles.append(str(error)))
    tab.goto(flagship.as_uri())
    expect(tab.get_by_text("This browser keeps nothing for this page")).to_be_visible()
    tab.locator(".work td input[type=checkbox]").first.check()
    assert tab.locator(".work .done").inner_text().startswith("1 of ")
    assert troubles == []
    context.close()


def test_garbage_in_the_store_is_no_trouble(browser: Browser, flagship: Path) -> None:
    for garbage in ("not JSON", "null", "[]", '{"ticks": 7, "blanks": null}', '"text"'):
        context = browser.new_context()
        key = f"rewire {hashlib.sha256(FLAGSHIP.read_bytes()).hexdigest()}"
        context.add_init_script(f"localStorage.setItem({key!r}, {garbage!r})")
        tab = context.new_page()
        troubles: list[str] = []
        tab.on("pageerror", lambda error, seen=troubles: seen.append(str(error)))
        tab.goto(flagship.as_uri())
        tab.locator(".work td input[type=checkbox]").first.check()
        assert tab.locator(".work .done").inner_text().startswith("1 of "), garbage
        assert troubles == [], garbage
        context.close()


def test_the_spec_can_be_taken_out_again_byte_for_byte(show: Show, tmp_path: Path) -> None:
    """The digest on the page is that of the file, so not one byte may differ."""
    source = "# é ‮ </script> & < >\r\n".encode() + FLAGSHIP.read_bytes()
    place = tmp_path / "page.html"
    place.write_bytes(made(source, str(FLAGSHIP.with_name("valve amplifier.yaml")), ("verdict",)))
    tab = show(place)
    with tab.page.expect_download() as download:
        tab.page.get_by_role("link", name="Download the spec").click()
    assert download.value.suggested_filename == "valve amplifier.yaml"
    assert Path(download.value.path()).read_bytes() == source
    tab.requests[:] = [r for r in tab.requests if not r.startswith("blob:")]
