"""What is measured on the page: judged beside the row, saved as a bench log, filled from one."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from playwright.sync_api import Locator, expect

from rewire.bench.probes import Probe
from rewire.cli import rewire
from rewire.report.measured import good_ohms
from tests.sheet.page.opened import FLAGSHIP, Opened

Show = Callable[..., Opened]
LOG = Path(__file__).parents[3] / "docs" / "examples" / "bench-log.yaml"


def saved(tab: Opened, folder: Path) -> Path:
    with tab.page.expect_download() as download:
        tab.page.get_by_role("button", name="Save the bench log").click()
    assert download.value.suggested_filename == "bench-log.yaml"
    place = folder / "bench-log.yaml"
    place.write_bytes(Path(download.value.path()).read_bytes())
    tab.requests[:] = [r for r in tab.requests if not r.startswith("blob:")]
    return place


def dropped(tab: Opened, text: str) -> None:
    """A file let fall on the page."""
    tab.page.evaluate(
        """(text) => {
          const held = new DataTransfer();
          held.items.add(new File([text], "log.yaml"));
          document.body.dispatchEvent(
            new DragEvent("drop", { dataTransfer: held, bubbles: true, cancelable: true }));
        }""",
        text,
    )
    expect(tab.page.locator("#log")).not_to_be_empty()


def touch(tab: Opened, first: str, second: str, column: int) -> Locator:
    """The cell of the whole continuity table for two places, in a position."""
    rows = tab.page.locator(".table table").locator("tbody tr")
    ends = rows.evaluate_all(
        "all => all.map((row) => [...row.cells].slice(0, 2).map((cell) => cell.innerText.trim()))"
    )
    row = rows.nth(ends.index([first, second]))
    return row.locator("td").nth(1 + column)


def run(*args: str) -> Any:
    return CliRunner().invoke(rewire, list(args))


def test_what_is_measured_on_the_page_is_read_by_buzz_and_sheet(
    show: Show, flagship: Path, tmp_path: Path
) -> None:
    tab = show(flagship)
    touch(tab, "BIAS_RETURN", "CHASSIS", 2).locator("input[type=checkbox]").check()
    touch(tab, "BIAS_RETURN", "CHASSIS", 1).locator("input[type=text]").fill("24.9")
    touch(tab, "SCREENS", "CHASSIS", 1).locator("input[type=text]").fill("0.44M")
    touch(tab, "S4.C", "S4.C1", 2).locator("input[type=text]").fill("O.L")
    tab.page.locator(".bench td input[type=text]").first.fill("7.5")
    tab.page.locator(".acceptance td input[type=text]").nth(1).fill("421")
    tab.page.locator(".log td input[type=text]").nth(1).fill("the set's own meter")
    tab.page.locator(".log td input[type=text]").nth(2).fill("a neighbour: 'x' # \"y\"")
    place = saved(tab, tmp_path)
    told = yaml.safe_load(place.read_text("utf-8"))
    assert told["wiring"] == "substitute"
    assert told["instruments"] == "the set's own meter"
    assert told["by"] == "a neighbour: 'x' # \"y\""
    lines = {
        (line["when"]["METER"], *line["between"], line["found"]) for line in told["continuity"]
    }
    assert lines == {
        ("CATHODE", "BIAS_RETURN", "CHASSIS", "closed"),
        ("BIAS", "BIAS_RETURN", "CHASSIS", "24.9 ohm"),
        ("BIAS", "SCREENS", "CHASSIS", "440000 ohm"),
        ("CATHODE", "S4.C", "S4.C1", "open"),
    }
    assert [(one["test"], one["found"]) for one in told["acceptance"]] == [
        ("screen volts at rest", "421 V")
    ]
    buzzed = run("buzz", str(FLAGSHIP), "--found", str(place), "--json")
    assert buzzed.exit_code == 1, buzzed.stderr
    record = run("sheet", str(FLAGSHIP), "--log", str(place), "-o", str(tmp_path / "made.html"))
    assert record.exit_code == 0, record.stderr


def test_a_log_fills_the_page_and_comes_out_again(
    show: Show, flagship: Path, tmp_path: Path
) -> None:
    """Written by hand, with the page made from it; what that saved, on a page made without it.

    A line with no place on the page is kept.
    """
    filled = tmp_path / "filled.html"
    made = run("sheet", str(FLAGSHIP), "--log", str(LOG), "-o", str(filled))
    assert made.exit_code == 0, made.stderr
    before = yaml.safe_load(LOG.read_text("utf-8"))
    tab = show(filled)
    _is_filled(tab)
    place = saved(tab, tmp_path)
    _is_alike(before, yaml.safe_load(place.read_text("utf-8")))
    other = show(flagship)
    dropped(other, place.read_text("utf-8"))
    _is_filled(other)
    _is_alike(before, yaml.safe_load(saved(other, tmp_path).read_text("utf-8")))


def _is_filled(tab: Opened) -> None:
    ticked = touch(tab, "BIAS_RETURN", "CHASSIS", 2).locator("input[type=checkbox]")
    expect(ticked).to_be_checked()
    ohms = touch(tab, "BIAS_RETURN", "CHASSIS", 1).locator("input[type=text]")
    expect(ohms).to_have_value("24.9 ohm")


def _is_alike(before: Any, after: Any) -> None:
    for key in ("continuity", "calibration", "acceptance"):
        lines = [sorted(json.dumps(line, sort_keys=True) for line in log[key])
                 for log in (before, after)]  # fmt: skip
        assert lines[0] == lines[1]


@pytest.mark.parametrize(
    "text", ["<p>no log</p>", 'rewire_bench: 1\nwiring: "another"\n', "- [", ""]
)
def test_a_log_of_another_set_changes_nothing(show: Show, flagship: Path, text: str) -> None:
    tab = show(flagship)
    dropped(tab, text)
    assert "no bench log" in tab.page.locator("#log").inner_text()
    assert tab.page.locator("td input:checked").count() == 0


def test_a_reading_that_is_off_is_said_so_in_words_beside_it(show: Show, flagship: Path) -> None:
    """Bounds as printed in the row; the ohms behind them are held to a simulator elsewhere."""
    tab = show(flagship)
    cell = touch(tab, "BIAS_RETURN", "CHASSIS", 1)
    low, high = (float(one) for one in cell.inner_text().split()[0].split("–"))
    blank, told = cell.locator("input[type=text]"), cell.locator("output")
    for text, said in (
        (f"{low + 0.1:.1f}", ""), (f"{high - 0.1:.1f} Ω", ""), (f"{high + 1:.1f}", "OFF"),
        (f"{low - 1:.1f}", "OFF"), ("open", "OFF"), ("beep", "read the ohms"), ("x", "write ohms"),
    ):  # fmt: skip
        blank.fill(text)
        words = told.inner_text() if told.count() else ""
        assert (said in words) if said else words == "", text


def test_bounds_are_open_closed_or_ohms_as_printed() -> None:
    """0.3 ohm for leads, 3 % for the ohmmeter, open from 10 Mohm: common practice, no source."""
    closed, opened = (Probe({}, ("A", "B"), expect) for expect in ("closed", "open"))
    assert good_ohms(closed) == (0.0, 0.3)
    assert good_ohms(opened)[0] == pytest.approx(10e6)
    ohms = Probe({}, ("A", "B"), "ohms", ohms=100.0, spread=0.05)
    assert good_ohms(ohms) == (pytest.approx(92.0), pytest.approx(108.3))
