"""Nobody is hurt by paper: cautions over all, BROKEN on every page, no 'done' over a FAIL."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from rewire.bench.record import record_of
from rewire.bench.safety import LOCAL_CODES, cautions_of
from rewire.compare import compare
from rewire.reading import read_spec
from rewire.reading.benchlog import read_bench_log
from rewire.report.as_built import owner_sections
from rewire.report.packet import Packet, Sources, packet_of
from rewire.report.page import page
from rewire.report.pdf import pdf
from rewire.report.section import Words
from tests.sheet.printed import faults, pages_of, words

ROOT = Path(__file__).parents[2]
FLAGSHIP = ROOT / "specs" / "valve-amplifier.yaml"
pytestmark = pytest.mark.usefixtures("blank_cards")


@cache
def packet() -> Packet:
    spec = read_spec(FLAGSHIP)
    return packet_of(spec, compare(spec, ["substitute"]), ["substitute"])


@pytest.mark.parametrize("sections", [None, ["work"], ["continuity", "bench"]])
def test_cautions_stand_over_everything_whatever_is_asked_for(sections: list[str] | None) -> None:
    made = packet()
    first = " ".join(one.text for one in pages_of(pdf(made, sections=sections))[0])
    *own, codes = cautions_of(made.spec)
    assert codes == LOCAL_CODES
    at = [first.index(text[:40]) for text in (*own, codes)]
    assert at == sorted(at)
    for title in ("What was wrong", "Make it safe", "Continuity:", "Bench test and"):
        assert title not in first or at[-1] < first.index(title)
    told = page(made, Sources(b""), sections=sections).decode()
    assert told.index(LOCAL_CODES[:40]) < told.index('<main id="main">')


def test_a_broken_plan_says_so_at_the_head_of_every_page_and_in_the_work() -> None:
    """The wiring as found, made a plan: it loses the bias return."""
    spec = read_spec(FLAGSHIP)
    plan = replace(spec.wirings["as-found"], name="bad-plan", role="plan")
    spec = replace(spec, wirings={"original": spec.original, "bad-plan": plan})
    made = packet_of(spec, compare(spec))
    told = words(pdf(made, sections=["wrong"]))
    assert "What is wrong: bad-plan" in told
    assert "✗1 BIAS_RETURN and CHASSIS disconnected" in told
    asked = ["cautions", "work", "continuity", "buy", "wires"]
    data = pdf(made, sections=asked)
    assert list(faults(data)) == []
    assert "No power before it is mended and checked" in words(data)
    pages = pages_of(data)
    assert len(pages) > 2
    for said in pages:
        top = " ".join(one.text for one in said if one.y < 20.0)
        assert "BROKEN: bad-plan" in top
        assert "do not build it" in top
    assert "BROKEN: bad-plan" in page(made, Sources(b""), sections=asked).decode()


def test_a_good_plan_has_no_warning_head() -> None:
    assert "do not build" not in words(pdf(packet(), sections=["cautions", "work", "continuity"]))


def test_the_owner_is_not_told_done_over_a_failure() -> None:
    """The shipped log, in which a jumper is missing; then with the good touches alone."""
    made = packet()
    log = read_bench_log(str(ROOT / "docs" / "examples" / "bench-log.yaml"), made.spec)
    bad = record_of(made.spec, log)
    good = record_of(
        made.spec, replace(log, continuity=tuple(x.found for x in bad.lines if x.passed))
    )
    assert bad.failures > good.failures == 0
    assert good.open_ends > 0
    told, left = (
        " ".join(block.text for section in owner_sections(replace(made, record=one))
                 for block in section.blocks if isinstance(block, Words))
        for one in (bad, good)
    )  # fmt: skip
    assert "Done" not in told
    assert f"Not done: {bad.failures} of what was measured failed" in told
    assert "Done" not in left
    assert f"{good.open_ends} checks are still to be made" in left
    whole = replace(
        good, untouched=(), acceptance=(), lines=tuple(x for x in good.lines if x.passed),
        calibration=replace(good.calibration, runs=()),
        wiring=replace(good.wiring, readings={}),
    )  # fmt: skip
    assert whole.open_ends == 0
    (section,) = owner_sections(replace(made, record=whole))
    assert any("Done, as planned" in b.text for b in section.blocks if isinstance(b, Words))


def test_closed_is_under_three_tenths_of_an_ohm_on_paper_as_on_the_terminal() -> None:
    """The terminal's threshold; a resistor of 1 ohm must not pass for closed."""
    said = words(pdf(packet(), sections=["continuity"]))
    assert "Closed means under 0.3 Ω" in " ".join(said.split())
    assert "less than an ohm" not in said


def test_the_lugs_that_are_live_stand_once_over_the_work() -> None:
    said = words(pdf(packet(), sections=["work"]))
    assert said.count("540 V at SCREEN_TAP") == 1
    assert said.index("Can be live: 540 V") < said.index("Make it safe")


def test_paper_too_warns_of_the_ohmmeter_before_the_movement_is_out() -> None:
    """It stands with the first reading that is taken before anything is lifted."""
    told = words(pdf(packet(), sections=["work"]))
    first, care = told.index("BIAS_RETURN to CHASSIS"), told.index("an ohmmeter overdrives M1")
    assert first < care < told.index("Lift", first)
