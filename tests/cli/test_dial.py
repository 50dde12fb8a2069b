"""A plate is asked for, refused and printed as one would at the bench."""

from __future__ import annotations

import io
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner

from rewire.cli import rewire as group
from rewire.draw.scene import Scene
from rewire.report import contents

SPECS = Path(__file__).parents[2] / "specs"
PLATES = ("bench-supply", "level-meter", "light-meter")
LOG = """
rewire_bench: 1
wiring: substitute
calibration:
  - {{reading: volts, applied: 7.5 V, indicated: 6.9 V}}
  - {{reading: volts, applied: 15 V, indicated: 14.1 V}}
  - {{reading: volts, applied: 22.5 V, indicated: {third}}}
  - {{reading: volts, applied: 30 V, indicated: 30 V}}
"""


def run(*args: str, status: int = 0) -> str:
    result = CliRunner().invoke(group, list(args))
    assert result.exit_code == status, result.output
    return result.output


@pytest.mark.parametrize("name", PLATES)
def test_the_shipped_plates_are_printed_at_their_size(name: str, tmp_path: Path) -> None:
    run("draw", str(SPECS / f"{name}.yaml"), "--view", "dial", "-o", str(tmp_path))
    reader = pypdf.PdfReader(tmp_path / f"{name}-dial.pdf")
    width, height = (float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((210.0, 297.0), abs=0.01)
    said = " ".join(reader.pages[0].extract_text().split())
    assert "50 mm: measure this bar. Print at 100 %" in said
    assert "radium" in said
    assert "Photograph the old plate first" in said


def test_a_plate_is_drawn_to_what_the_movement_did(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    log.write_text(LOG.format(third="21.9 V"), "utf-8")
    place = tmp_path / "plate.svg"
    spec = str(SPECS / "bench-supply.yaml")
    run("draw", spec, "--view", "dial", "--log", str(log), "-o", str(place))
    said = place.read_text("utf-8")
    assert "by 4 points of volts" in said
    assert "3.0 % of full scale off, at 50 %" in said  # 14.1 V of 15 V on 30 V


def test_the_plate_of_a_packet_is_drawn_to_its_log_or_it_is_said_why_not(tmp_path: Path) -> None:
    """A packet holds much else: a pointer that turns back is no reason to have none."""
    spec, log, place = (
        str(SPECS / "bench-supply.yaml"), tmp_path / "log.yaml", tmp_path / "packet.pdf"
    )  # fmt: skip
    for third, told in (
        ("21.9 V", "3.0 % of full scale off, at 50 %"),
        ("13 V", "Not drawn to the bench log: no plate can be drawn by volts: the pointer turns"),
    ):
        log.write_text(LOG.format(third=third), "utf-8")
        run("sheet", spec, "--sections", "dial", "--log", str(log), "-o", str(place), "--force")
        said = " ".join(page.extract_text() for page in pypdf.PdfReader(place).pages)
        assert told in " ".join(said.split())


def test_a_log_in_which_the_pointer_turns_back_is_refused(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    log.write_text(LOG.format(third="13 V"), "utf-8")
    spec = str(SPECS / "bench-supply.yaml")
    said = run("draw", spec, "--view", "dial", "--log", str(log), "-o", str(tmp_path), status=2)
    assert "the pointer turns back between 50 and 75 % of full scale" in said
    assert not list(tmp_path.glob("*.pdf"))


def test_a_plate_that_is_too_small_says_what_the_arcs_take(tmp_path: Path) -> None:
    text = (
        (SPECS / "bench-supply.yaml").read_text("utf-8").replace("[74 mm, 64 mm]", "[60 mm, 64 mm]")
    )
    spec = tmp_path / "small.yaml"
    spec.write_text(text, "utf-8")
    said = run("draw", str(spec), "--view", "dial", "-o", str(tmp_path), status=2)
    assert "small.yaml:102:7: M2: arcs and figures take" in said
    assert "the plate is 60 × 64 mm" in said


def test_without_a_dial_it_says_how_to_ask_for_one(tmp_path: Path) -> None:
    spec = str(SPECS / "monitor-jack.yaml")
    said = run("draw", spec, "--view", "dial", "-o", str(tmp_path), status=2)
    assert "dial: {radius: 38 mm}" in said


def test_what_is_about_the_dial_alone_is_refused_without_it() -> None:
    said = run("draw", str(SPECS / "light-meter.yaml"), "--mirrored", status=2)
    assert "about --view dial" in said


def test_the_packet_has_the_plate_and_its_caution(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(contents, "card_pages", lambda *_: (Scene(210.0, 297.0, (), "card"),))
    place = tmp_path / "packet.pdf"
    run("sheet", str(SPECS / "light-meter.yaml"), "-o", str(place))
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(place.read_bytes())).pages]
    said = " ".join(" ".join(pages).split())
    assert sum("measure this bar" in page for page in pages) == 1
    assert "An old dial may be painted with radium" in said
