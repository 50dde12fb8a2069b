"""The card: whether all of it can be read, is on one page, and says what is so."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

from rewire.bench.wire_plan import renumbered
from rewire.compare import compare
from rewire.draw.scene import Paper, Scene
from rewire.reading import read_spec, read_text
from rewire.records.spec import Spec, Wiring
from rewire.report.card import card_of, card_pages
from rewire.values.solved import lug_volts
from rewire.values.wiring_values import values_of
from tests.draw.card_audit import audit_page
from tests.draw.random_circuits import random_circuit
from tests.gallery import card_of as drawn_card

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@cache
def _spec(path: Path) -> Spec:
    return renumbered(read_spec(path))


def _pages(spec: Spec, wiring: Wiring, paper: Paper = "a4") -> tuple[Scene, ...]:
    result = None if wiring is spec.original else compare(spec, [wiring.name])[0]
    return card_pages(spec, wiring, result, values_of(spec, [wiring.name])[0], paper)


def _texts(scene: Scene) -> str:
    return " ".join(text.text for text in scene.texts)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_every_card_can_be_read(path: Path) -> None:
    assert audit_page(drawn_card(path)[0]) == []


@pytest.mark.parametrize("stem", ["light-meter", "valve-amplifier"])
def test_a_card_on_letter_can_be_read(stem: str) -> None:
    spec = _spec(next(path for path in SPECS if path.stem == stem))
    assert audit_page(_pages(spec, spec.wirings["substitute"], "letter")[0]) == []


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_card_is_one_page_that_can_be_taped_above_the_bench(path: Path) -> None:
    """A4 where there is one wafer or little more, else A3 (ISO 216), which a copy shop prints."""
    (scene,) = drawn_card(path)
    one_wafer = path.stem not in ("bandswitch", "linear-amplifier", "relay-and-switch")
    sheet = [210.0, 297.0] if one_wafer else [297.0, 420.0]
    assert sorted((scene.width, scene.height)) == sheet


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_all_that_is_no_heading_has_letters_of_one_size(path: Path) -> None:
    """Sizes within 15 % look alike, in pictures and lists (common practice, no source)."""
    points = [text.points for text in drawn_card(path)[0].texts if not text.bold]
    assert max(points) <= 1.15 * min(points) + 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_cards_of_random_circuits_can_be_read(seed: int) -> None:
    text = random_circuit(seed, depth=2, longest=8)
    spec = renumbered(read_text(text.encode()))
    assert audit_page(_pages(spec, spec.original)[0]) == []


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_card_says_whose_it_is(path: Path) -> None:
    spec, said = _spec(path), _texts(drawn_card(path)[0])
    for word in (spec.title, "wiring substitute", f"revision {spec.document.revision}",
                 spec.document.date or "", spec.document.licence or "", spec.digest[:12],
                 "Local codes and licensed practice come first."):  # fmt: skip
        assert word in said


def test_what_must_not_be_built_says_so_in_white_on_black() -> None:
    spec = _spec(next(path for path in SPECS if path.stem == "valve-amplifier"))
    (scene,) = _pages(spec, spec.wirings["as-found"])
    (badge,) = (symbol for symbol in scene.symbols if symbol.kind == "badge")
    assert badge.fill == "black"
    assert "BROKEN: as it was found" in _texts(scene)


# Volts --------------------------------------------------------------------------------------


def _reached(spec: Spec, wiring: Wiring, point: str) -> set[str]:
    """Every place that wires, contacts in any position and parts lead to, not over the chassis."""
    graph: nx.Graph[str] = nx.Graph()
    for wire in wiring.wires:
        graph.add_edge(*wire.ends)
    for net in wiring.nets:
        graph.add_edges_from((net.members[0], other) for other in net.members[1:])
    for part in spec.parts_of(wiring).values():
        full = part.full_terminals
        graph.add_edges_from(zip(full, part.between or (), strict=False))
        if part.passes_dc:
            graph.add_edges_from((full[0], other) for other in full[1:])
        for section in part.sections:
            for groups in section.groups:
                for group in groups:
                    graph.add_edges_from((part.terminal(group[0]), part.terminal(lug))
                                         for lug in group[1:])  # fmt: skip
    graph.remove_nodes_from([p.name for p in spec.points.values() if p.chassis])
    return set(nx.node_connected_component(graph, point)) if point in graph else set()


def _named(said: str) -> Iterator[tuple[float, str]]:
    """``540 V on A, A3 …``: the volts and each name."""
    pattern = r"(−?[0-9.]+) (k?)V(?: AC)? on ([^;]*?)(?=;| …|\. |$)"
    for volts, kilo, names in re.findall(pattern, said):
        for name in names.removesuffix(" …").split(", "):
            yield float(volts.replace("−", "-")) * (1e3 if kilo else 1.0), name.strip()


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_the_danger_line_names_the_highest_volts_and_only_what_they_reach(path: Path) -> None:
    spec = _spec(path)
    wiring = spec.wirings["substitute"]
    high = {p.name: p.most_volts for p in spec.points.values()
            if abs(p.most_volts) >= 50.0 and not p.chassis}  # fmt: skip
    dangers = card_of(spec, wiring, compare(spec, ["substitute"])[0], None).dangers
    said = next((line for line in dangers if "discharge" in line), None)
    if not high:
        assert said is None
        return
    assert said is not None
    assert re.search(r"(Unplug all|Cut off every supply), wait, discharge, prove dead\.", said)
    named = list(_named(said))
    assert abs(named[0][0]) == max(map(abs, high.values()))
    reached = {point: _reached(spec, wiring, point) for point in high}
    for volts, name in named:
        sources = [point for point, most in high.items() if abs(volts) <= abs(most) + 1e-6]
        places = {place for point in sources for place in (point, *reached[point])}
        assert any(name in (place, *place.split(".")) for place in places), (volts, name)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_no_lug_on_a_high_point_is_missing_from_the_volts(path: Path) -> None:
    """What a closed contact or a wire alone ties to a point of 50 V or more stands at its volts."""
    spec = _spec(path)
    wiring = spec.wirings["substitute"]
    live = lug_volts(spec, wiring)
    for point in spec.points.values():
        if abs(point.most_volts) < 50.0 or point.chassis:
            continue
        for wire in wiring.wires:
            if point.name in wire.ends:
                other = wire.ends[wire.ends[0] == point.name]
                assert abs(live[other].volts) >= abs(point.most_volts) * (1.0 - 1e-6), other


def _panel(cathode: str) -> str:
    """The card of a small plan whose pole C is wired to a point; the original's is on CATH."""
    parts = (
        "parts: {S1: {switch: 3P2T, control: RANGE, timing: non-shorting}, "
        "M1: {meter: 1 mA, resistance: 100 ohm}, R2: {resistor: 200 kohm, between: [S1.A2, HT]}}"
    )
    wires = "wires: [[S1.A, M1.+], [M1.-, GND], [S1.B, GND], [S1.B1, LOW], [S1.C1, LAMP], "
    whole = f"""
rewire: 1
title: Meter switch
controls: {{RANGE: [LOW, HIGH]}}
points: {{GND: {{chassis: yes}}, HT: {{volts: 200 V}}, CATH: {{volts: 3 V}}, LOW: {{}}, LAMP: {{}}}}
parts: {{R1: {{resistor: 10 ohm, between: [CATH, GND]}}}}
wirings:
  original:
    {parts}
    {wires}[S1.C, CATH]]
  planned:
    {parts}
    {wires}[S1.C, {cathode}]]
"""
    spec = renumbered(read_text(whole.encode()))
    return " ".join(_texts(page) for page in _pages(spec, spec.wirings["planned"]))


def test_power_comes_only_after_a_good_plan_was_buzzed() -> None:
    """Common practice, no source: continuity is read before there is power."""
    good, broken = _panel("CATH"), _panel("HT")
    assert good.index("Buzz every lug") < good.index("Put the supply back")
    assert "do not build" in broken
    assert "supply back" not in broken


def test_a_common_that_meets_the_meter_at_the_chassis_only_is_not_called_the_meters() -> None:
    """Common practice, no source: whatever goes to the chassis is at the chassis."""
    assert "M1 +" in (said := _panel("CATH"))
    assert "M1 -" not in said
