"""How pages break: nothing stands alone on one that belongs to the next, or to the last."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import pypdf
import pytest

from rewire.bench.wire_plan import renumbered
from rewire.compare import compare
from rewire.draw.scene import Line, Panel, Paper, text_at
from rewire.reading import read_spec, read_text
from rewire.report.packet import Packet, packet_of
from rewire.report.page_card import low_pieces
from rewire.report.pdf import pdf
from rewire.report.section import Table, Words
from rewire.report.to_prove import bench_sections
from tests.sheet.printed import FOOT, MARGIN, PAPERS, body, faults, pages_of, words

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@cache
def packet(path: Path) -> Packet:
    spec = renumbered(read_spec(str(path)))
    return packet_of(spec, compare(spec))


def test_the_lugs_from_which_the_work_lifts_are_drawn() -> None:
    """Also where the sheet was asked for the plan alone."""
    for stem in ("bench-supply", "light-meter"):
        spec = read_spec(next(path for path in SPECS if path.stem == stem))
        plans = [name for name in spec.wirings if name not in ("original", "as-found")]
        assert plans
        one = packet_of(spec, compare(spec, plans), ("original", *plans))
        assert ": as-found" in words(pdf(one, sections=["lugs"]))


MOST_PAGES = {"valve-amplifier": 6}
"""The card among them; ten for all others."""


EVERY: list[tuple[str, Paper]] = [(path.stem, "a4") for path in SPECS]
ON_LETTER: list[tuple[str, Paper]] = [
    (stem, "letter") for stem in ("bench-supply", "valve-amplifier")
]
"""The lower paper, with the fullest packets and with one that has a plate."""


@pytest.mark.usefixtures("blank_cards")
@pytest.mark.parametrize(("stem", "paper"), [*EVERY, *ON_LETTER])
def test_every_packet_is_short_legible_and_fills_its_pages(stem: str, paper: Paper) -> None:
    """Ten pages at most; a heading has twelve points, as nothing else has.

    No page but the last is less than a third full.
    """
    (path,) = (path for path in SPECS if path.stem == stem)
    data = pdf(packet(path), paper=paper)
    assert list(faults(data, paper)) == []
    made = pages_of(data)
    cards = count(data) - len(made)
    assert cards
    assert count(data) <= MOST_PAGES.get(stem, 10)
    top, bottom = MARGIN, PAPERS[paper][1] - MARGIN - FOOT
    for number, page in enumerate(made, 1):
        said = body(page, paper)
        assert said, f"page {number} is empty"
        lowest = max(said, key=lambda one: one.y)
        assert lowest.points != 12.0, f"page {number}"
        assert number == len(made) or lowest.y > top + (bottom - top) / 3, f"page {number}"


def test_the_flagship_is_told_in_few_words_of_nine_points() -> None:
    """What is printed beside pictures and feet; a picture's letters are set one by one."""
    data = pdf(packet(SPECS[-1]))
    assert SPECS[-1].stem == "valve-amplifier"
    assert len(words(data).split()) < 2500
    assert list(faults(data)) == []
    said = [one for page in pages_of(data) for one in body(page, "a4") if len(one.text) > 1]
    small = sum(len(one.text) for one in said if one.points < 9.0)
    assert small < 0.1 * sum(len(one.text) for one in said)


def count(data: bytes) -> int:
    """Pages, the card's too."""
    return len(pypdf.PdfReader(io.BytesIO(data)).pages)


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
    with_one, without = bench_titles("bench: {series_resistor: 1 kohm}"), bench_titles("")
    assert any("through 1 kΩ (takes 100 mW)" in title for title in with_one)
    assert not any("through" in title for title in without)


def test_what_the_sums_leave_out_stands_over_the_bench_test() -> None:
    """Loading by another meter is no figure of a table: it is told in words, before them."""
    spec = read_spec(str(Path(__file__).parents[1] / "values" / "numbers" / "p8-loading.yaml"))
    (section,) = bench_sections(packet_of(spec, compare(spec)))
    first = section.blocks[0]
    assert isinstance(first, Words)
    assert "drops by 90.9 %, with the original meter by 33.3 %" in first.text


def test_a_picture_too_high_for_paper_is_cut_between_its_decks_and_nothing_is_lost() -> None:
    """Three decks of 90 mm: two have room on a sheet of 297 mm within its margins."""
    decks = [
        Line(((0.0, 100.0 * n), (50.0, 100.0 * n + 90.0)), shows=f"deck {n}") for n in range(3)
    ]
    label = text_at("TS1.35", 20.0, 193.0, 8.0)  # hangs just below the second deck
    pieces = list(low_pieces(Panel((*decks, label), 50.0, 290.0)))
    assert len(pieces) > 1
    assert {item for one in pieces for item in one.items} == {*decks, label}
    for one in pieces:
        boxes = [item.box for item in one.items]
        assert max(b.bottom for b in boxes) - min(b.top for b in boxes) < 230.0
