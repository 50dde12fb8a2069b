"""The circuit on one drawing: everything once, nothing over anything else."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest
import yaml

from rewire.draw.paint import paint_svg
from rewire.draw.scene import Scene, Symbol
from rewire.draw.schematic import schematic
from rewire.reading.read import read_spec, read_text
from rewire.records.parts import Strip
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from tests.draw.audit import audit
from tests.draw.readback import circuit_vocabulary, disagreements
from tests.reference.strategies import random_spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
BREAK_AND_MAKE = b"""
rewire: 1
title: a break and a make contact between the same two places
controls: {RY: [REST, PULLED]}
points: {CHASSIS: {chassis: yes}, X: {}, Y: {}}
wirings:
  original:
    parts:
      K1:
        switch: table
        control: RY
        style: relay
        lugs: ["1", "2", "3", "4"]
        contacts: {REST: [["1", "2"]], PULLED: [["3", "4"]]}
    wires: [[K1.1, X], [K1.3, X], [K1.2, Y], [K1.4, Y]]
"""


def drawn(spec: Spec, wiring: Wiring) -> Scene:
    panel = schematic(spec, wiring, {}, 180.0)
    return Scene(panel.width + 20.0, panel.height + 20.0, panel.moved(10.0, 10.0).items)


def everything_once(spec: Spec, wiring: Wiring, scene: Scene) -> None:
    shown = Counter(s.shows for s in scene.symbols if s.kind not in ("joint", "chassis"))
    parts = spec.parts_of(wiring)
    plain = [p.name for p in parts.values() if not isinstance(p, Switch | Strip)]
    assert {f"part:{name}": 1 for name in plain} == {
        name: count for name, count in shown.items() if name.startswith("part:")
    }


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_shipped_circuit_is_drawn_whole_and_can_be_read(path: Path) -> None:
    spec = read_spec(str(path))
    for wiring in spec.wirings.values():
        scene = drawn(spec, wiring)
        assert audit(scene) == []
        everything_once(spec, wiring, scene)


@pytest.mark.parametrize("seed", random.Random(8).sample(range(10_000), 10))
def test_a_random_circuit_is_drawn_whole_and_can_be_read(seed: int) -> None:
    written = yaml.safe_dump(random_spec(random.Random(seed)))
    spec = read_text(written.encode(), "random.yaml")
    for wiring in spec.wirings.values():
        scene = drawn(spec, wiring)
        assert audit(scene) == []
        everything_once(spec, wiring, scene)


def test_contacts_that_close_at_other_times_are_never_one_row() -> None:
    spec = read_text(BREAK_AND_MAKE, "relay.yaml")
    scene = drawn(spec, spec.original)
    blades = [s for s in scene.symbols if s.kind.startswith("blade")]
    assert len(blades) == 2
    assert not any("∥" in text.text for text in scene.texts)


def test_a_wired_lug_that_nothing_is_ever_closed_on_is_drawn() -> None:
    written = BREAK_AND_MAKE.replace(b'"4"]', b'"4", "5"]').replace(b"[K1.1, X]", b"[K1.5, X]")
    spec = read_text(written, "relay.yaml")
    shown = Counter(s.shows for s in drawn(spec, spec.original).symbols if s.kind == "contact")
    assert shown == Counter(f"lug:K1.{lug}" for lug in "12345")


def test_what_is_put_in_is_outlined_heavily_with_the_old_value_struck() -> None:
    spec = read_spec(str(next(p for p in SPECS if p.stem == "valve-amplifier")))
    plan = next(wiring for wiring in spec.others if wiring.role == "plan")
    scene = drawn(spec, plan)
    width = {s.shows: s.width for s in scene.symbols}
    assert width["part:R45"] > 1.5 * width["part:R34A"]
    assert {s.shows for s in scene.symbols if s.kind == "strike"} >= {"old:R45", "old:M2"}
    assert "440 Ω" in {text.text for text in scene.texts if text.shows == "old:R45"}
    assert not any(s.kind == "strike" for s in drawn(spec, spec.original).symbols)


def test_american_symbols_say_the_same_with_zigzags() -> None:
    path = next(p for p in SPECS if p.stem == "valve-amplifier")
    spec = read_spec(str(path))
    plan = next(wiring for wiring in spec.others if wiring.role == "plan")
    panel = schematic(spec, plan, {}, 125.0, "us")
    kinds = {s.shows: s.kind for s in panel.items if isinstance(s, Symbol)}
    assert kinds["part:R45"] == "resistor-us"
    assert kinds["part:RV41"].startswith("pot-us")
    svg = paint_svg(Scene(panel.width, panel.height, panel.items))
    plain = yaml.load(path.read_bytes(), yaml.BaseLoader)
    assert disagreements(svg, circuit_vocabulary(plain, plan.name)) == []
