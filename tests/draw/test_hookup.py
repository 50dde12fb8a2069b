"""The hook-up: everything soldered to a switch, each once, and nothing over anything else."""

from __future__ import annotations

from pathlib import Path

import pytest

from rewire.draw.hookup import hook_up
from rewire.draw.scene import MARGIN, Panel, Scene
from rewire.reading.read import read_spec
from tests.draw.audit import audit

SPECS = Path(__file__).parents[2] / "specs"


def scene_of(panel: Panel) -> Scene:
    items = panel.moved(MARGIN, MARGIN).items
    return Scene(panel.width + 2 * MARGIN, panel.height + 2 * MARGIN, items)


def shown(panel: Panel, kind: str) -> set[str]:
    return {item.shows for item in panel.items if item.shows.startswith(f"{kind}:")}


@pytest.mark.parametrize("name", ["valve-amplifier", "light-meter", "monitor-jack"])
def test_the_plan_is_there_whole_and_can_be_read(name: str) -> None:
    spec = read_spec(SPECS / f"{name}.yaml")
    plan = next(wiring for wiring in spec.others if wiring.role == "plan")
    panel = hook_up(spec, plan, 190.0, 97.0)
    assert audit(scene_of(panel)) == []
    wires = {f"{'jumper' if wire.jumper else 'wire'}:{wire.id}" for wire in plan.wires}
    assert shown(panel, "wire") | shown(panel, "jumper") == wires
