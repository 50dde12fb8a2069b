"""What the sections of a sheet say, recomputed from the spec; and how they lie on the pages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest

from rewire.bench.wire_plan import renumbered
from rewire.bench.work_list import STAGES
from rewire.compare import compare
from rewire.reading import read_spec, read_text
from rewire.report.as_built import log_sections
from rewire.report.buying import buy_sections
from rewire.report.card import verdict_said
from rewire.report.contents import SECTIONS
from rewire.report.packet import Packet, packet_of
from rewire.report.pdf import pdf
from rewire.report.plots import plot_sections
from rewire.report.section import Illustration, ReportSection, Table, Words, row, used_columns
from rewire.report.to_prove import (
    acceptance_sections,
    bench_sections,
    continuity_sections,
    table_sections,
)
from rewire.report.work import work_sections
from rewire.report.wrong import wrong_sections
from rewire.values.solved import lug_volts
from rewire.values.wiring_values import values_of
from tests.sheet.printed import headings

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
FLAGSHIP = "valve-amplifier"
pytestmark = pytest.mark.usefixtures("blank_cards")


@cache
def packet(stem: str) -> Packet:
    spec = read_spec(next(path for path in SPECS if path.stem == stem))
    return packet_of(spec, compare(spec))


@cache
def every_heading() -> frozenset[str]:
    return frozenset(headings(pdf(packet(FLAGSHIP), sections=[*SECTIONS])))


def tables(section: ReportSection) -> Iterator[Table]:
    return (block for block in section.blocks if isinstance(block, Table))


def column(table: Table, head: str) -> list[str]:
    number = table.head.index(head)
    return [line[number].text for line in table.rows]


NOT_THERE = ("record", "owner", "dial")
"""The flagship has no bench log, and keeps its dial."""


@pytest.mark.parametrize("key", [key for key in SECTIONS if key not in NOT_THERE])
def test_a_section_asked_for_alone_is_all_there_is(key: str) -> None:
    alone = headings(pdf(packet(FLAGSHIP), sections=[key]))
    assert set(alone) < every_heading()
    only = key in ("cautions", "card")  # the card is a page without a heading
    assert (len(alone) == 1) == only, "the cautions are always there"


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_what_the_work_fits_is_bought_once_and_nothing_else(path: Path) -> None:
    made = packet(path.stem)
    for moves, section in zip(
        made.moves, buy_sections(made.spec, made.moves, made.values), strict=True
    ):
        found = [table for table in tables(section) if "part" in table.head]
        listed = [n for t in found for names in column(t, "part") for n in names.split(", ")]
        assert sorted(listed) == sorted(s.part for s in moves.steps if s.kind == "mount" and s.part)
        lines = [
            dict(zip(t.head, (cell.text for cell in line), strict=True))
            for t in found for line in t.rows
        ]  # fmt: skip
        assert sum(map(pieces, lines)) == len(listed)


def bought(text: str) -> Table:
    spec = read_text(text.encode(), packet(FLAGSHIP).spec.file)
    made = packet_of(spec, compare(spec, ["substitute"]))
    return next(tables(*buy_sections(made.spec, made.moves, made.values)))


def test_parts_alike_share_a_line_and_others_do_not() -> None:
    line = "R45: {resistor: 196 ohm, tolerance: 1 %, rating: 0.5 W, replaces: R35}"
    more = "".join(
        f"\n      R{number}: {{resistor: 3.3 kohm, rating: {watts} W}}"
        for number, watts in ((97, 1), (98, 1), (99, 2))
    )
    text = Path(packet(FLAGSHIP).spec.file).read_text(encoding="utf-8")
    table = bought(text.replace(line, line + more))
    counts = dict(zip(column(table, "part"), column(table, "pcs"), strict=True))
    assert counts["R97, R98"] == "2"
    assert not counts["R99"]


def test_a_part_without_a_rating_is_bought_for_twice_what_it_takes() -> None:
    """R42 takes 62 µW, so the least that is sold, 125 mW; volts of 100 and more are told.

    Twice, and 125 mW: common practice, no source.
    """
    text = Path(packet(FLAGSHIP).spec.file).read_text(encoding="utf-8")
    unrated = text.replace("R42: {resistor: 249 ohm, tolerance: 1 %, rating: 0.5 W",
                           "R42: {resistor: 249 ohm, tolerance: 1 %")  # fmt: skip
    assert unrated != text
    table = bought(unrated)
    least = dict(zip(column(table, "part"), column(table, "at least"), strict=True))
    assert least["R42"] == "125 mW"
    assert not any(said for part, said in least.items() if part != "R42")


def pieces(line: dict[str, str]) -> int:
    return int(line.get("pcs") or "1")


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_new_wire_adds_up_and_states_its_insulation(path: Path) -> None:
    """20 mm a piece for both ends; nobody buys any wire that serves for a lug at 540 V."""
    made = packet(path.stem)
    for moves, section in zip(
        made.moves, buy_sections(made.spec, made.moves, made.values), strict=True
    ):
        wiring = made.spec.wirings[moves.target]
        live = lug_volts(made.spec, wiring)
        own = [s.becomes for s in moves.steps if s.text.startswith("Own lead")]
        new = {s.becomes for s in moves.steps if s.kind == "wire"}.difference(own)
        wires = [wire for wire in wiring.wires if wire.id in new]
        lines = [
            dict(zip(t.head, (cell.text for cell in line), strict=True))
            for t in tables(section) if "new wire" in t.head for line in t.rows
        ]  # fmt: skip
        lines = [line for line in lines if line["new wire"] != "any leads"]
        assert sum(map(pieces, lines)) == len(wires)
        cut = [re.sub(r"\d+ as measured", "", line.get("mm to cut", "")) for line in lines]
        total = sum(float(mm) for said in cut for mm in re.findall(r"[\d.]+", said))
        known = [wire.length_metres for wire in wires if wire.length_metres is not None]
        assert total == pytest.approx(1000.0 * sum(known) + 20.0 * len(known))
        asked = [w for w in wires if {*w.ends} & live.keys() or w.insulation_volts is not None]
        assert sum(pieces(line) for line in lines if line.get("≥ V")) == len(asked)


def test_bench_test_follows_ohms_law() -> None:
    """Supply = current × (series resistor + insertion resistance), recomputed from the rows."""
    made = packet(FLAGSHIP)
    values = made.values["substitute"]
    for test in values.bench:
        insertion = next(r.insertion_ohms for r in values.readings if r.name == test.reading)
        assert insertion is not None
        for line in test.rows:
            amps = line.true_value if test.quantity == "current" else line.true_value / insertion
            assert line.supply_volts == pytest.approx(amps * (100.0 + insertion))
    (section,) = bench_sections(made)
    read = [line[-2:] for table in tables(section) for line in table.rows]
    assert read
    assert all(cell.blank and not cell.text for pair in read for cell in pair)


def test_the_dial_is_read_in_its_own_units_and_the_sense_resistor_in_millivolts() -> None:
    """The arc 0-250 at 90 of 250 mA stands at 90, whatever the pointer's share is.

    90 mA in 1 Ω are 90 mV: one column says both. In 10 Ω, 2.5 mA are 25 mV. The meter's class of
    2 %, and what is left after setting, are 5 of 250.
    """
    (section,) = bench_sections(packet(FLAGSHIP))
    table = next(t for t in tables(section) if t.title.startswith("METER at CATHODE"))
    true = column(table, "true mA = mV across 1 Ω")
    must = dict(zip(true, column(table, "must read"), strict=True))
    assert must["90"] == "90"
    assert must["250"] == "250"
    bias = next(t for t in tables(section) if t.title.startswith("METER at BIAS"))
    of_ten = dict(zip(column(bias, "true mA"), column(bias, "mV across 10 Ω"), strict=True))
    assert of_ten["2.5"] == "25"
    assert dict(zip(true, column(table, "good"), strict=True))["250"] == "245–255"
    marks = dict(zip(true, column(table, "mark"), strict=True))
    assert marks["90"] == "at rest"
    assert marks["230"] == "red line"


MILLIVOLTS = """
rewire: 1
title: a shunt that no supply is set for
points: {IN: {}, OUT: {chassis: yes}}
readings: {r: {current: [IN, OUT], full_scale: 10 mA}}
wirings:
  original: &same
    parts:
      M1: {meter: 1 mA, resistance: 75 ohm, between: [IN, OUT]}
      R1: {resistor: 8.333 ohm, between: [IN, OUT]}
  plan: *same
"""


def test_a_supply_that_no_knob_can_be_set_to_has_no_column() -> None:
    """75 mV at full scale: a tenth of it is 7.5 mV, and no column says 'about 0'."""
    spec = read_text(MILLIVOLTS.encode())
    (section,) = bench_sections(packet_of(spec, compare(spec), ["plan"]))
    (table,) = tables(section)
    assert not [head for head in table.head if head.startswith("supply")]
    said = [b.text for b in section.blocks if isinstance(b, Words)]
    assert any("too low to set on a supply" in text.lower() for text in said)


def test_a_range_of_hundreds_of_volts_has_no_table_and_says_what_to_do_instead() -> None:
    (section,) = bench_sections(packet(FLAGSHIP))
    assert not any(t.title.startswith("METER at SCREEN") for t in tables(section))
    said = [b.text for b in section.blocks if isinstance(b, Words)]
    assert "METER at SCREEN:" in said
    assert any("Do not feed this range from a bench supply" in text for text in said)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_every_move_has_its_own_box(path: Path) -> None:
    made = packet(path.stem)
    for moves, section in zip(made.moves, work_sections(made), strict=True):
        headings = tuple(text.partition(",")[0] for text in STAGES.values())
        staged = [t for t in tables(section) if t.title.startswith(headings)]
        steps = [line for t in staged for line in t.rows]
        assert len(steps) == len(moves.steps)
        assert all(line[0].box for line in steps)
        for step, line in zip(moves.steps, steps, strict=True):
            said = " ".join(
                piece.text for cell in line for piece in (cell, *cell.below, *cell.across)
            )
            if step.kind == "measure":
                assert len(re.findall("__+", said)) == max(1, len(step.states))
            asked = [step.tag, step.lug, step.part, step.caution, step.colour]
            asked += [] if step.kind in ("lift", "free") else [step.far]
            assert all((one or "") in said for one in asked), step


@pytest.mark.parametrize("stem", ["monitor-jack", "portable-battery-check", FLAGSHIP])
def test_a_number_in_the_picture_beside_the_work_is_that_of_the_step(stem: str) -> None:
    """Read back from the SVG: behind each number stands the part that the step puts in or out."""
    made = packet(stem)
    for moves, section in zip(made.moves, work_sections(made), strict=True):
        lines = [line for table in tables(section) for line in table.rows]
        steps = {line[1].text: re.findall(r"[A-Z]+[0-9]+", line[2].text + line[-1].text)[0]
                 for line in lines if line[1].text.isdigit()}  # fmt: skip
        (drawn,) = (block.svg for block in section.blocks if isinstance(block, Illustration))
        said = re.findall(r">([^<>]+)</text>", drawn)
        numbered = [(one, name.split()[0]) for one, name in pairwise(said) if one.isdigit()]
        assert {steps[number] for number, _ in numbered} >= {
            step.part for step in moves.steps if step.kind == "mount" and step.instead_of
        }
        assert all(steps[number] == name for number, name in numbered)


def test_what_was_wrong_is_drawn_with_each_wire_named_once_and_no_word_of_the_card_again() -> None:
    """Read back from the SVG; ratings and where the points are stand on the card."""
    spec = renumbered(read_spec(packet(FLAGSHIP).spec.file))
    made = replace(packet_of(spec, compare(spec)), carded=True)
    (section,) = wrong_sections(made)
    (drawn,) = (block.svg for block in section.blocks if isinstance(block, Illustration))
    said = [unescape(one) for one in re.findall(r">([^<>]+)</text>", drawn)]
    found = spec.wirings["as-found"]
    for wire in found.wires:
        assert len([one for one in said if one.split()[0] == wire.id]) == 1, wire
    assert not any("W" in one.split()[1:] for one in said), "no rating"
    assert not {point.where for point in spec.points.values() if point.where} & {*said}


def test_the_continuity_table_has_a_column_for_each_position() -> None:
    (section,) = table_sections(packet(FLAGSHIP))
    (table,) = tables(section)
    assert table.head == ("from", "to", "BIAS", "CATHODE", "SCREEN")
    line = next(r for r in table.rows if r[0].text == "BIAS_RETURN" and r[1].text == "CHASSIS")
    # R46 || (M2 + the pot as set + …) in BIAS is below R46 itself; closed elsewhere.
    assert [cell.text for cell in line[3:]] == ["closed", "closed"]
    assert line[2].text == "23.7–26.5 Ω"


def test_acceptance_and_log_print_what_the_spec_says() -> None:
    made = packet(FLAGSHIP)
    spec = made.spec
    accepted = next(tables(*acceptance_sections(made)))
    assert column(accepted, "expect") == [test.expect for test in spec.acceptance]
    fitted = next(t for t in tables(*log_sections(made)) if t.title.startswith("Values"))
    assert set(column(fitted, "part")) == {"R46", "RV41"}


def test_columns_that_say_nothing_are_left_out() -> None:
    table = Table(("a", "b", "c"), (row("1", "", ""), row("2", "", "x")))
    assert used_columns(table).head == ("a", "c")
    assert used_columns(table, ("b",)) == table


def test_a_pair_whose_test_overdrives_the_movement_is_marked_in_its_position_alone() -> None:
    """By hand: 1 mA of a digital ohmmeter through 50 µA is twenty times full scale.

    1 mA on the lowest range: common practice, no source. Good are 5 % of a part whose tolerance
    is not stated and 3 % of the ohmmeter, upwards 0.3 Ω of its leads too.
    """
    text = """
rewire: 1
title: delicate
controls: {K: [DIRECT, SHUNTED]}
points: {IN: {}, CHASSIS: {chassis: yes}}
wirings:
  original: &same
    parts:
      S1: {switch: SPDT, control: K}
      M1: {meter: 50 uA, resistance: 2 kohm, between: [S1.A1, CHASSIS]}
      R1: {resistor: 2 ohm, between: [S1.A2, CHASSIS]}
    wires: [[IN, S1.A]]
  other: *same
"""
    spec = read_text(text.encode())
    (section,) = table_sections(packet_of(spec, compare(spec), ["other"]))
    (table,) = tables(section)
    line = next(r for r in table.rows if r[0].text == "IN" and r[1].text == "CHASSIS")
    assert [cell.text.split(" (")[0] for cell in line[2:]] == ["1.84–2.16 kΩ*", "1.84–2.46 Ω"]
    assert [c.text for r in table.rows if r[0].text == "S1.A" for c in r[2:]].count("closed*") == 0
    words = [block.text for block in section.blocks if not isinstance(block, Table)]
    (warning,) = (text for text in words if "*" in text)
    assert "20 times full scale of M1" in warning


def test_a_pot_on_which_the_ohms_count_is_set_and_a_relay_pressed_by_hand_first() -> None:
    """0 % to 100 % of 200 Ω is more than the band around each figure that RV41 is part of."""
    told = {}
    for stem in (FLAGSHIP, "relay-and-switch"):
        (section,) = continuity_sections(packet(stem))
        told[stem] = " ".join(block.text for block in section.blocks if isinstance(block, Words))
    assert "Set RV41 to 40 % of travel from ccw first" in told[FLAGSHIP]
    assert "K2 is a relay: press its armature by hand" in told["relay-and-switch"]
    assert "never power the set for it" in told["relay-and-switch"]


def test_megohms_in_series_keep_the_current_of_an_ohmmeter_from_a_movement() -> None:
    """3 V through 4 MΩ is under a microampere, a thousandth of full scale."""
    (probe, *_) = (
        p for p in packet("linear-amplifier").probes["as-found"]
        if p.between == ("HV", "CHASSIS") and p.state == {"METER": "HV"}
    )  # fmt: skip
    assert not probe.overloads


def test_without_a_delicate_movement_there_is_neither_mark_nor_warning() -> None:
    (section,) = continuity_sections(packet("exciter-timing"))
    said = [block.text for block in section.blocks if not isinstance(block, Table)]
    said += [cell.text for table in tables(section) for line in table.rows for cell in line]
    assert not any("*" in text for text in said)


def test_plots_stand_where_the_figures_are() -> None:
    """The SVG read back: a pot's three points, and the corners of the band, by their shares.

    Marks are set by ``use``, at the places of a linear scale.
    """
    made = packet(FLAGSHIP)
    (section,) = plot_sections(made.planned_values)
    bias, _, _, reach = (block for block in section.blocks if isinstance(block, Illustration))
    (pot,) = made.values["substitute"].pots
    assert pot.at_ccw is not None
    assert pot.at_cw is not None
    marks = re.findall(r'<use [^>]*x="([\d.]+)" y="([\d.]+)"', reach.svg)
    (_, ccw), (_, full), (_, cw) = [(float(x), float(y)) for x, y in marks[-3:]]
    assert (full - ccw) / (cw - full) == pytest.approx((pot.at_ccw - 1) / (1 - pot.at_cw), rel=1e-3)
    readout = next(r for r in made.values["substitute"].readings if r.name == "bias")
    band = re.search(r'PolyCollection.*? d="(M[^"]+)"', bias.svg, re.DOTALL)
    assert band is not None
    corners = [(float(x), float(y)) for x, y in re.findall(r"[ML] (\S+) (\S+)", band[1])]
    left, right = (
        [y for x, y in corners if x == pick(at for at, _ in corners)] for pick in (min, max)
    )
    at_zero, at_end = readout.allowed(0.0), readout.allowed()
    assert (max(right) - min(right)) / (max(left) - min(left)) == pytest.approx(
        (at_end[1] - at_end[0]) / (at_zero[1] - at_zero[0]), rel=1e-3
    )
    assert section == next(iter(plot_sections(made.planned_values))), "the same bytes every time"


@pytest.mark.parametrize(
    ("full_scale", "said"),
    [("250 mA", "CHANGED, AS MEANT"), ("180 mA", "CHANGED, AS MEANT, BUT VALUES BAD")],
)
def test_a_verdict_says_that_values_are_bad_though_connections_are_kept(
    full_scale: str, said: str
) -> None:
    """180 mA are too little for the flagship's shunt and movement: RV41 cannot be set."""
    path = next(path for path in SPECS if path.stem == FLAGSHIP)
    text = path.read_text("utf-8").replace("full_scale: 250 mA", f"full_scale: {full_scale}")
    spec = read_text(text.encode())
    (result,) = compare(spec, ["substitute"])
    (values,) = values_of(spec, ["substitute"])
    assert verdict_said(spec.wirings["substitute"], result, values) == said
