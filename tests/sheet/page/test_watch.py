"""`rewire watch` in a real browser: what is saved is seen, and what was typed there stays."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, expect

from tests.sheet.page.watching import ALONE, CHARGER, MENDED, Watched, tab_at, watched

TITLE = "Meter switch of a 12 V battery charger"


@pytest.fixture(scope="module")
def charger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watched]:
    spec = tmp_path_factory.mktemp("watch") / "charger.yaml"
    spec.write_text(CHARGER, "utf-8")
    with watched(spec) as running:
        yield running


def titled(text: str, title: str) -> str:
    return text.replace(TITLE, title)


def test_edit_fault_mend_delete_and_write_anew_in_many_goes(
    charger: Watched, browser: Browser
) -> None:
    charger.save(titled(CHARGER, "edited"))
    with tab_at(browser, charger.address) as [tab]:
        tab.drawn("edited")
        verdict = tab.page.locator("#verdict")
        expect(verdict).to_contain_text("BROKEN: planned has 2 faults")
        expect(tab.page.locator("#rest")).to_contain_text("move wire W7")
        charger.save(titled(CHARGER, "faulty").replace("METER, timing", "METRE, timing"))
        tab.told("1 fault; the page below is the last good one")
        fault = tab.page.locator("#faults li")
        expect(fault).to_contain_text("Line 11: no control 'METRE'; nearest is 'METER'")
        assert fault.locator("mark").inner_text() == "METRE"
        frame_left_out = {"exclude": [["iframe"]]}  # the page is judged elsewhere
        assert Axe().run(tab.page, context=frame_left_out).response["violations"] == []
        expect(tab.seen.locator("h1")).to_have_text("edited")
        charger.save(titled(MENDED, "mended"))
        tab.drawn("mended")
        expect(tab.page.locator("#faults")).to_be_hidden()
        expect(verdict).to_contain_text("KEPT: planned")
        expect(tab.seen.locator(".plan .badge")).to_have_text("KEPT")
        charger.spec.unlink()
        expect(tab.page.locator("#faults")).to_contain_text("No such file")
        expect(tab.seen.locator("h1")).to_have_text("mended")
        text = titled(MENDED, "back")
        with charger.spec.open("w", encoding="utf-8") as file:
            for start in range(0, len(text), 40):
                file.write(text[start : start + 40])
                file.flush()
        tab.drawn("back")
        expect(tab.page.locator("#faults")).to_be_hidden()


def test_what_is_typed_and_looked_at_stays_in_both_tabs(charger: Watched, browser: Browser) -> None:
    charger.save(titled(ALONE, "before"))
    with tab_at(browser, charger.address, charger.address) as [one, other]:
        for tab in (one, other):
            tab.drawn("before")
        cell = ".continuity td input[type={}] >> nth=0"
        one.seen.locator("label", has_text="AMPS").click()
        one.seen.locator(cell.format("checkbox")).check()
        one.seen.locator(cell.format("text")).fill("0.2")
        expect(other.seen.locator(cell.format("text"))).to_have_value("0.2")
        top = "e => e.getBoundingClientRect().top"
        where = one.seen.locator(".continuity h2")
        where.evaluate("e => e.scrollIntoView({ block: 'start', behavior: 'instant' })")
        stood = where.evaluate(top)
        charger.save(titled(ALONE, "after").replace("title:", "summary: a line more\ntitle:"))
        for tab in (one, other):
            tab.drawn("after")
            expect(tab.seen.locator(cell.format("checkbox"))).to_be_checked()
            expect(tab.seen.locator(cell.format("text"))).to_have_value("0.2")
        expect(one.seen.locator("#status")).to_contain_text("METER at AMPS")
        assert one.seen.locator(cell.format("text")).evaluate("e => e === document.activeElement")
        assert where.evaluate(top) == pytest.approx(stood, abs=2)
        assert other.seen.locator("body").evaluate("() => window.scrollY") == 0
        with other.page.expect_download() as download:
            other.seen.get_by_role("button", name="Save the bench log").click()
        assert "0.2 ohm" in Path(download.value.path()).read_text("utf-8")


def test_a_spec_that_is_broken_from_the_start_and_a_name_that_is_hostile(
    tmp_path: Path, browser: Browser
) -> None:
    folder = tmp_path / "a 'quoted\" %2e%2e ü"
    folder.mkdir()
    (tmp_path / "secret.png").write_bytes(b"secret")
    (folder / "link.png").symlink_to(tmp_path / "secret.png")
    spec = folder / "<img src=x onerror='window.caught = 1'>&\u202e.yaml"
    spec.write_text("title: <script>window.caught = 2</script>\nrewire: [", "utf-8")
    with watched(spec) as running, tab_at(browser, running.address) as [tab]:
        tab.told("1 fault; mend it and save, then its page is drawn")
        expect(tab.page.locator("iframe")).to_have_count(0)
        assert "<img src=x onerror=" in tab.page.locator("#state").inner_text()
        assert "\u202e" not in tab.page.locator("body").inner_text()
        hostile = "</script><script>window.caught = 3</script>"
        running.save(titled(ALONE, hostile))
        tab.drawn(hostile)
        running.save(titled(ALONE, "linked") + "pages: [{image: link.png}]\n")
        expect(tab.page.locator("#faults")).to_contain_text(
            "Line 9: image 'link.png': a link that leads outside of the spec's folder",
        )
        expect(tab.seen.locator("h1")).to_have_text("linked")
        for where in (tab.page, tab.page.frames[-1]):
            assert where.evaluate("window.caught") is None


def test_a_click_on_a_scan_gives_the_place_of_a_note(tmp_path: Path, browser: Browser) -> None:
    """The spot is painted red on the scan: the browser clicks where it shows it."""
    scan = Image.new("RGB", (400, 600), "white")
    ImageDraw.Draw(scan).ellipse((164, 182, 172, 190), fill="red")  # (0.42, 0.31) of 400 × 600
    scan.save(tmp_path / "page 12.png")
    spec = tmp_path / "charger.yaml"
    spec.write_text(titled(ALONE, "scanned") + "pages: [{image: page 12.png}]\n", "utf-8")
    with watched(spec) as running, tab_at(browser, running.address) as [tab]:
        tab.drawn("scanned")
        image = tab.seen.locator(".pages image")
        image.scroll_into_view_if_needed()
        box = image.bounding_box()
        assert box is not None
        tab.page.mouse.click(box["x"] + 0.42 * box["width"], box["y"] + 0.31 * box["height"])
        said = tab.seen.locator(".pages > p")
        expect(said).to_contain_text("at: [")
        at = [float(share) for share in said.inner_text()[5:].partition("]")[0].split(", ")]
        assert at == pytest.approx([0.42, 0.31], abs=0.004)
        assert scan.getpixel((round(at[0] * 400), round(at[1] * 600))) == (255, 0, 0)
        running.program.send_signal(signal.SIGINT)
        tab.told("rewire watch has ended")
        tab.complaints.clear()  # the browser says that nobody answers any more
