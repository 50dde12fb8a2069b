"""The printed sheet: all there, legible, the same every time."""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pytest

from rewire.bench.record import record_of
from rewire.compare import compare
from rewire.compare.findings import Finding, Result, State, Step
from rewire.draw.paint import MARK
from rewire.draw.scene import Paper
from rewire.reading import read_spec
from rewire.reading.benchlog import read_bench_log
from rewire.records.spec import Document, Spec
from rewire.report.contents import SECTIONS
from rewire.report.packet import Sources, packet_of
from rewire.report.page import page
from rewire.report.pdf import pdf
from tests.draw.builders import (
    meter,
    net,
    plain_switch,
    point,
    random_view,
    resistor,
    spec,
    wire,
    wiring,
)
from tests.sheet.printed import PAPERS, body, faults, headings, pages_of, words

SWITCH = plain_switch("S3", "3P3T", style="rotary")
POINTS = [
    point("CHASSIS"),
    point("HT", volts=420.0, rises_to=540.0),
    point("BIAS_RETURN", volts=0.06, rises_to=58.0),
    point("HEATER", volts=6.3, ac=True),
    point("TAP"),
]
WIRES = [
    wire("W1", "S3.A", "M1.+", "RD", length_metres=0.12),
    wire("W2", "S3.A1", "BIAS_RETURN", "BU", note="sleeve it"),
    wire("J1", "S3.B1", "S3.B3", gauge="0.5 mm2", insulation_volts=600.0),
    wire("W3", "R1.1", "M1.-", screened=True, twisted_with="W1"),
]
ORIGINAL = wiring([SWITCH, meter(), resistor("R1")], WIRES, [net("earth", "CHASSIS", "R1.2")])
OTHER = wiring([SWITCH, meter(), resistor("R1")], WIRES[:2], name="as-found")
STATES = tuple(State((("METER", f"P{n}"),)) for n in range(1, 13))
FINDINGS = (
    Finding(
        "dropped", False, "BIAS_RETURN is no longer tied to CHASSIS",
        groups=(("BIAS_RETURN",), ("CHASSIS", "R31.2")), states=STATES,
        was=("BIAS_RETURN", "S3.C", "CHASSIS"), now="ends at lug A1",
    ),
    Finding(
        "gap", True, "let go for a moment", groups=(("A",), ("B",)), why="R47 holds it",
        steps=(Step(STATES[0], STATES[1]),), through=("R47",),
    ),
    Finding("added", False, "R47 is new", part="R47"),
)  # fmt: skip


def example() -> Spec:
    made = spec([ORIGINAL, OTHER], POINTS, title="Meter switch", cautions=["Mind the spring"])
    return replace(
        made,
        equipment="An amplifier",
        document=Document("the bench", "2025-03-14", "B", "CC BY 4.0"),
    )


def results() -> list[Result]:
    return [Result("as-found", "broken", 12, FINDINGS, "found")]


@cache
def whole() -> bytes:
    """The example with every section."""
    return pdf(packet_of(example(), results()), sections=[*SECTIONS])


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_is_legible(paper: Paper) -> None:
    assert list(faults(pdf(packet_of(example(), results()), paper=paper), paper)) == []


def test_what_is_not_a_picture_has_eight_points_or_more() -> None:
    asked = ["verdict", "work", "wires", "buy", "faults", "log"]
    assert list(faults(pdf(packet_of(example(), results()), sections=asked))) == []


def test_the_sheet_says_what_the_bench_needs() -> None:
    said = words(whole())
    for text in (
        "Meter switch", "An amplifier", "the bench", "2025-03-14", "CC BY 4.0", "BROKEN",
        "as-found has 1 fault: BIAS_RETURN is no longer tied to CHASSIS",
        "12 states compared",
        "DROPPED: BIAS_RETURN is no longer tied to CHASSIS", "BIAS_RETURN – S3.C – CHASSIS",
        "ends at lug A1", "GAP: let go for a moment", "while METER moves between P1 and P2",
        "R47 holds it", "R47 is new", "in METER: P1, P2, P3", "Wire list: original",
        "Wire list: as-found", "120 mm", "sleeve it", "insulation 600 V", "twisted with W1",
        "screened", "CHASSIS, R1.2", "S3: original", "S3: as-found", "Mind the spring",
    ):  # fmt: skip
        assert text in said, text


def test_the_wirings_asked_for_are_shown_and_where_the_work_on_them_begins() -> None:
    packet = packet_of(example(), results(), ["original"])
    assert {one.source for one in packet.moves} == {"as-found"}
    said = words(pdf(packet, sections=["wires", "lugs"]))
    for text in ("Wire list: original", "Wire list: as-found", "S3: as-found"):
        assert text in said, text
    flagship = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    alone = packet_of(flagship, compare(flagship, ["as-found"]), ["as-found"])
    assert not alone.moves
    assert [wiring.name for wiring in alone.wirings] == ["as-found"]
    with pytest.raises(KeyError):
        packet_of(example(), results(), ["nowhere"])


def test_feet_count_pages_and_name_where_the_sheet_came_from() -> None:
    """The card has the date and the digest; without it they stand at every foot."""
    made = packet_of(example(), results())
    pages = pages_of(pdf(made))
    for number, said in enumerate(pages, 2):
        foot = " ".join(one.text for one in said if one not in body(said, "a4"))
        assert f"revision B, page {number}/{len(pages) + 1}" in foot
    for said in pages_of(pdf(made, sections=["work"])):
        foot = " ".join(one.text for one in said if one not in body(said, "a4"))
        assert f"revision B, 2025-03-14, spec {example().digest[:12]}, page" in foot


def test_a_long_table_sets_its_head_again_on_every_page() -> None:
    wires = [wire(f"W{n}", "M1.+", "CHASSIS", "RD", note="x " * (n % 60)) for n in range(200)]
    made = spec([wiring([meter()], wires)], [point("CHASSIS")])
    data = pdf(packet_of(made, []), sections=["wires"])
    pages = pages_of(data)
    assert len(pages) > 4
    assert list(faults(data)) == []
    for said in pages:
        assert len([one for one in said if one.text == "colour"]) == 1
    ids = re.findall(r"\bW\d+\b", words(data))
    assert sorted(ids) == sorted(f"W{n}" for n in range(200))


def test_a_heading_never_stands_alone_at_the_foot() -> None:
    """Nor does the head of a table."""
    for count in range(30, 60, 5):
        wires = [wire(f"W{n}", "M1.+", "CHASSIS") for n in range(count)]
        both = [wiring([meter()], wires), wiring([meter()], wires, name="next")]
        data = pdf(packet_of(spec(both, [point("CHASSIS")]), []), sections=["wires", "log"])
        for said in pages_of(data):
            lowest = max(body(said, "a4"), key=lambda one: one.y)
            assert lowest.points < 12.0, (count, lowest)
            assert lowest.text not in {"no.", "from", "to", "colour", "length", "note"}, count


def test_bookmarks_lead_to_every_heading_and_the_language_is_told() -> None:
    data = whole()
    assert headings(data)[0] == "Cautions"
    assert {"Wire list: original", "Wire list: as-found"} <= set(headings(data))
    reader = pypdf.PdfReader(io.BytesIO(data))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"], "tagged: ISO 32000-2, 14.8"
    kinds = Counter(kinds_in(root["/StructTreeRoot"]))
    assert kinds["/H1"] == len(headings(data))
    assert kinds["/Table"] > 3
    assert kinds["/TH"] > 10
    figures = [one for one in every(root["/StructTreeRoot"]) if one.get("/S") == "/Figure"]
    assert figures
    assert all(one["/Alt"] for one in figures)


def every(node: Any) -> Iterator[Any]:
    """A node of the structure tree, and all under it (ISO 32000-2, 14.7.2)."""
    yield node
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        one = kid.get_object()
        if isinstance(one, dict):
            yield from every(one)


def kinds_in(tree: Any) -> Iterator[str]:
    yield from (str(one.get("/S")) for one in every(tree))


def test_the_pdf_is_the_same_every_time_and_ours() -> None:
    sources = Sources(b"rewire: 1\n", b"rewire_bench: 1\n")
    data = pdf(packet_of(example(), results()), sources, sections=[*SECTIONS])
    assert data == pdf(packet_of(example(), results()), sources, sections=[*SECTIONS])
    assert MARK.encode() in data[:4096] + data[-4096:]
    reader = pypdf.PdfReader(io.BytesIO(data), strict=True)
    attached = {one.name: one.content for one in reader.attachment_list}
    assert sorted(attached.values()) == sorted([sources.spec, sources.log])
    info = reader.metadata
    assert info is not None
    assert info.title == "Meter switch"
    assert info.author == "the bench"
    assert not {"/CreationDate", "/ModDate"} & info.keys()
    xmp = reader.xmp_metadata
    assert xmp is None or (xmp.xmp_create_date, xmp.xmp_modify_date) == (None, None)
    said = words(data)
    for each in WIRES:
        assert re.search(rf"\b{each.id}\b", said)


def test_hostile_texts_are_printed_as_texts() -> None:
    title = "<b>$\\frac{1}{2}$</b> \u202eevil\u202c " + "A" * 10_000
    made = replace(
        example(), title=title, equipment="x\x00y", summary="word " * 4000,
        document=Document("$author$", "\x1b[31m", None, None), cautions=("$" * 300,),
    )  # fmt: skip
    packet = packet_of(made, results())
    data, bare = pdf(packet), pdf(packet, sections=["work", "log"])
    assert [*faults(data), *faults(bare)] == []
    said = words(data) + words(bare)
    assert "$\\frac{1}{2}$" in said
    assert "‹U+202E›evil" in said
    assert "x‹U+0000›y" in said
    assert "more characters in the spec" in said
    assert data[:5] == b"%PDF-"


@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_of_random_switches_is_legible(paper: Paper) -> None:
    made, _, _ = random_view(600)
    assert list(faults(pdf(packet_of(made, []), paper=paper), paper)) == []


def test_a_verdict_on_the_plan_says_first_that_what_was_built_failed() -> None:
    """The shipped log, in which a jumper is missing; and the same log with the good touches."""
    root = Path(__file__).parents[2]
    spec = read_spec(str(root / "specs" / "valve-amplifier.yaml"))
    log = read_bench_log(str(root / "docs" / "examples" / "bench-log.yaml"), spec)
    record = record_of(spec, log)
    good = tuple(line.found for line in record.lines if line.passed)
    better = record_of(spec, replace(log, continuity=good))
    assert record.failures > better.failures == 0
    bare = packet_of(spec, compare(spec, ["substitute"]), ["original", "substitute"])
    said, silent = (
        words(pdf(replace(bare, record=one), sections=["verdict"])) for one in (record, better)
    )
    assert f"{record.failures} of what was measured" in said
    assert said.index("as built is not as planned") < said.index("CHANGED")
    assert "as built" not in silent
    told, untold = (
        page(replace(bare, record=one), Sources(b""), sections=["verdict", "record"]).decode()
        for one in (record, better)
    )
    assert f"{record.failures} of what was measured" in told
    assert "as built is not as planned" not in untold
