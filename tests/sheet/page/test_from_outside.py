"""`rewire sheet -o NAME.html` from outside: which file it writes, what it refuses, how large."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire
from rewire.cli.files import is_ours
from tests.hard.commands import SMALL
from tests.sheet.page.opened import FLAGSHIP, made


def sheet(*args: str) -> Result:
    return CliRunner().invoke(rewire, ["sheet", *args])


@pytest.mark.parametrize("name", ["page.html", "page.htm", "PAGE.HTML"])
def test_the_end_of_the_name_asks_for_a_page(tmp_path: Path, name: str) -> None:
    place = tmp_path / name
    assert sheet(str(SMALL), "-o", str(place), "--sections", "verdict").exit_code == 0
    assert place.read_bytes().startswith(b"<!doctype html>")
    assert is_ours(place)


def test_our_own_page_is_replaced_and_the_same_spec_gives_the_same_bytes(tmp_path: Path) -> None:
    place = tmp_path / "page.html"
    assert sheet(str(SMALL), "-o", str(place)).exit_code == 0
    first = place.read_bytes()
    assert sheet(str(SMALL), "-o", str(place)).exit_code == 0
    assert place.read_bytes() == first


@pytest.mark.parametrize("name", ["page.txt", "page", "page.pdf.gz", ".html"])
def test_a_name_that_ends_otherwise_is_refused_and_nothing_is_written(
    tmp_path: Path, name: str
) -> None:
    place = tmp_path / name
    done = sheet(str(FLAGSHIP), "-o", str(place))
    assert done.exit_code == 2
    assert "NAME.pdf" in done.stderr
    assert "NAME.html" in done.stderr
    assert not place.exists()


def test_a_page_that_somebody_else_wrote_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "page.html"
    place.write_text("<p>my notes</p>")
    assert sheet(str(FLAGSHIP), "-o", str(place)).exit_code == 2
    assert place.read_text() == "<p>my notes</p>"


def test_sections_choose_what_stands_on_the_page(tmp_path: Path) -> None:
    place = tmp_path / "page.html"
    assert sheet(str(FLAGSHIP), "-o", str(place), "--sections", "cautions,wires").exit_code == 0
    text = place.read_text("utf-8")
    for there in ('id="cautions"', "Wire list"):
        assert there in text
    for absent in ('id="turn"', 'id="findings"', "Bench test", "As-built log"):
        assert absent not in text


def test_the_flagship_stays_below_two_megabytes() -> None:
    assert len(made(FLAGSHIP.read_bytes(), str(FLAGSHIP))) < 2_000_000


def rig(controls: int) -> dict[str, Any]:
    """So many ten-position switches, side by side: their states are ten to that power."""
    positions = [f"P{n}" for n in range(10)]
    parts: dict[str, Any] = {
        f"S{n}": {"switch": "1P10T", "control": f"K{n}"} for n in range(controls)
    }
    wiring = {"parts": parts, "wires": [[f"S{n}.A", f"S{n}.A1"] for n in range(controls)]}
    return {
        "rewire": "1", "title": "many", "controls": {f"K{n}": positions for n in range(controls)},
        "points": {"CHASSIS": {"chassis": "yes"}},
        "wirings": {"original": wiring, "other": wiring},
    }  # fmt: skip


def test_what_turns_grows_with_the_rig_and_not_with_its_states() -> None:
    """Ten to the power of 3, 6 and 9 states: each three switches more add as much as the last."""
    sizes = [len(made(json.dumps(rig(n)).encode(), sections=("lugs",))) for n in (3, 6, 9)]
    assert sizes[2] - sizes[1] == pytest.approx(sizes[1] - sizes[0], rel=0.05)
    assert sizes[2] < 1_000_000


def test_eight_ten_position_switches_make_a_page_that_a_phone_can_hold() -> None:
    assert len(made(json.dumps(rig(8)).encode())) < 1_500_000
