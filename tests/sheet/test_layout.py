"""How pages break: nothing stands alone on one that belongs to the next, or to the last."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from rewire.compare import compare
from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Line, Panel, Paper, Text
from rewire.reading import read_spec, read_text
from rewire.report.blocks import table
from rewire.report.content.trials import bench_sections
from rewire.report.flow import Strip, inner_width, paged
from rewire.report.packet import Packet, packet_of
from rewire.report.pdf import sheet_scenes
from rewire.report.section import Cell, Table, Words

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@cache
def packet(path: Path) -> Packet:
    spec = read_spec(str(path))
    return packet_of(spec, compare(spec))


def rows_on(page: list[Item]) -> int:
    return sum(isinstance(item, Text) and item.text.startswith("row") for item in page)


def test_no_row_of_a_table_stands_alone_before_or_after_a_break() -> None:
    rng, width, broken = random.Random(5), inner_width("a4"), 0
    for _ in range(400):
        count = rng.randint(2, 60)
        filler = Strip(Panel((), width, rng.uniform(0.0, 250.0)))
        rows = [(Cell(f"row {n} " + "words " * rng.choice((1, 30, 90))),) for n in range(count)]
        head = rng.choice(("head", ""))
        pages = [
            found
            for page in paged([filler, *table((head,), rows, (1.0,), width)], "a4")
            if (found := rows_on(page))
        ]
        assert sum(pages) == count
        assert 1 not in pages
        broken += len(pages) > 1
    assert broken > 100


def test_the_marked_picture_wastes_no_page_between_its_tables() -> None:
    """Its tables go on where the page has room: a page of them alone is full but for the last."""
    lines = 0
    for path in SPECS:
        scenes = sheet_scenes(packet(path), sections=["marked"])
        bottoms = [
            max((t.y for t in above_the_foot(page.items, "a4") if isinstance(t, Text)), default=0.0)
            for page in scenes
        ]
        drawn = [
            any(isinstance(i, Text) and "Marked up" in i.text for i in p.items) for p in scenes
        ]
        for number in range(len(scenes) - 1):
            if not drawn[number] and not drawn[number + 1]:
                assert bottoms[number] > 0.5 * PAPER["a4"][1], (path.stem, number + 1)
                lines += 1
    assert lines


def test_the_lugs_from_which_the_work_lifts_are_drawn() -> None:
    """Also where the sheet was asked for the plan alone."""
    seen = 0
    for path in SPECS:
        spec = read_spec(str(path))
        plans = [name for name in spec.wirings if name not in ("original", "as-found")]
        if "as-found" not in spec.wirings or not plans:
            continue
        one = packet_of(spec, compare(spec, plans), ("original", *plans))
        said = {
            item.text
            for page in sheet_scenes(one, sections=["lugs"])
            for item in page.items
            if isinstance(item, Text)
        }
        assert any(": as-found" in text for text in said), path.stem
        seen += 1
    assert seen


def above_the_foot(items: tuple[Item, ...], paper: Paper) -> Iterator[Item]:
    bottom = PAPER[paper][1] - MARGIN - FOOT
    yield from (item for item in items if isinstance(item, Text) and item.y < bottom)
    for line in (item for item in items if isinstance(item, Line)):
        if max(y for _, y in line.points) < bottom:
            yield line


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_no_page_holds_a_heading_and_nothing_under_it(path: Path, paper: Paper) -> None:
    """A heading is a line of words with a rule under it."""
    for number, page in enumerate(sheet_scenes(packet(path), paper=paper), 1):
        assert len(list(above_the_foot(page.items, paper))) > 2, f"page {number}"


def bench_heads(series: str) -> set[str]:
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
    return {head for block in section.blocks if isinstance(block, Table) for head in block.head}


def test_what_the_series_resistor_takes_is_told_where_there_is_one() -> None:
    with_one, without = bench_heads("bench: {series_resistor: 100 ohm}"), bench_heads("")
    assert with_one - without == {"in the series R"}
    assert not without - with_one


def test_what_the_sums_leave_out_stands_over_the_bench_test() -> None:
    """Loading by another meter is no figure of a table: it is told in words, before them."""
    spec = read_spec(str(Path(__file__).parents[1] / "values" / "numbers" / "p8-loading.yaml"))
    (section,) = bench_sections(packet_of(spec, compare(spec)))
    first = section.blocks[0]
    assert isinstance(first, Words)
    assert "takes 90.9 % of the true value away, the original took 33.3 %" in first.text
