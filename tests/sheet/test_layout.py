"""How pages break: nothing stands alone on one that belongs to the next, or to the last."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from rewire.compare import compare
from rewire.draw.scene import Paper
from rewire.reading import read_spec, read_text
from rewire.report.packet import Packet, packet_of
from rewire.report.pdf import pdf
from rewire.report.section import Table, Words
from rewire.report.to_prove import bench_sections
from tests.sheet.printed import body, faults, pages_of, words

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@cache
def packet(path: Path) -> Packet:
    spec = read_spec(str(path))
    return packet_of(spec, compare(spec))


def test_the_lugs_from_which_the_work_lifts_are_drawn() -> None:
    """Also where the sheet was asked for the plan alone."""
    seen = 0
    for path in SPECS:
        spec = read_spec(str(path))
        plans = [name for name in spec.wirings if name not in ("original", "as-found")]
        if "as-found" not in spec.wirings or not plans:
            continue
        one = packet_of(spec, compare(spec, plans), ("original", *plans))
        said = words(pdf(one, sections=["lugs"]))
        assert ": as-found" in said, path.stem
        seen += 1
    assert seen


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_every_packet_is_legible_and_no_page_ends_with_a_heading(path: Path, paper: Paper) -> None:
    """A heading has twelve points, as nothing else has."""
    data = pdf(packet(path), paper=paper)
    assert list(faults(data, paper)) == []
    for number, page in enumerate(pages_of(data), 1):
        said = body(page, paper)
        assert said, f"page {number} is empty"
        assert max(said, key=lambda one: one.y).points != 12.0, f"page {number}"


def bench_titles(series: str) -> set[str]:
    text = f"""
rewire: 1
title: bench
{series}
controls: {{K: [ON]}}
points: {{IN: {{}}, OUT: {{}}}}
readings: {{r: {{when: {{K: ON}}, current: [IN, OUT], full_scale: 10 mA}}}}
wirings:
  original: &same
    parts:
      M1: {{meter: 1 mA, resistance: 90 ohm, between: [IN, OUT]}}
      R1: {{resistor: 10 ohm, between: [IN, OUT]}}
  other: *same
"""
    spec = read_text(text.encode())
    (section,) = bench_sections(packet_of(spec, compare(spec)))
    return {block.title for block in section.blocks if isinstance(block, Table)}


def test_what_the_series_resistor_takes_is_told_where_there_is_one() -> None:
    with_one, without = bench_titles("bench: {series_resistor: 100 ohm}"), bench_titles("")
    assert any("through 100 Ω (takes 10 mW)" in title for title in with_one)
    assert not any("through" in title for title in without)


def test_what_the_sums_leave_out_stands_over_the_bench_test() -> None:
    """Loading by another meter is no figure of a table: it is told in words, before them."""
    spec = read_spec(str(Path(__file__).parents[1] / "values" / "numbers" / "p8-loading.yaml"))
    (section,) = bench_sections(packet_of(spec, compare(spec)))
    first = section.blocks[0]
    assert isinstance(first, Words)
    assert "takes 90.9 % of the true value away, the original took 33.3 %" in first.text
