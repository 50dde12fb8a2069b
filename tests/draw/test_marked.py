"""The marked-up view: legible; what stays and goes is the start, what stays and is new the plan."""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from rewire.bench.moves import default_source
from rewire.bench.wire_plan import renumbered, wire_plan
from rewire.draw.marked import marked_parts, marked_view
from rewire.draw.paint import paint_svg
from rewire.draw.scene import Panel, Paper, Scene, Symbol
from rewire.reading.read import read_spec
from rewire.records.spec import Spec
from tests.draw.audit import audit
from tests.draw.marked_back import after_work, before_work
from tests.draw.marked_pairs import large_pair, written_pair
from tests.draw.pictures_drawn import SPECS, Drawn, at_random, shipped
from tests.draw.readback import circuit_vocabulary, read_drawing

SEEDS = 16
IN_ONE = 8


def scenes_of(spec: Spec, name: str, paper: Paper = "a4") -> tuple[Scene, ...]:
    return marked_view(wire_plan(spec, default_source(spec, [name]), name), paper)


def painted(panels: Sequence[Panel]) -> str:
    items, y = [], 0.0
    for panel in panels:
        items += panel.moved(0.0, y).items
        y += panel.height + 20.0
    return paint_svg(Scene(400.0, y, tuple(items))).decode()


def misread(one: Drawn, source: str) -> list[str]:
    """Nets that are drawn and not there, or there and not drawn, before and after the work."""
    panels, _ = marked_parts(wire_plan(one.spec, source, one.wiring))
    svg = painted(panels[1:])
    wrong: list[str] = []
    for name in (source, one.wiring):
        known = circuit_vocabulary(one.plain, name)
        drawing = before_work(svg, known) if name == source else after_work(svg)
        drawn = read_drawing(drawing, known).nets
        wrong += (f"{name}: drawn {net}" for net in drawn - known.nets)
        wrong += (f"{name}: not drawn {net}" for net in known.nets - drawn)
    return wrong


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_shipped_job_reads_as_before_and_after(path: Path) -> None:
    one = shipped(path)
    assert misread(one, default_source(one.spec)) == []


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_a_random_job_reads_as_before_and_after(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        assert misread(at_random(seed), "original") == [], seed


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_line_less_is_another_job(path: Path) -> None:
    """Without any one line of its look, that side of the job is read otherwise."""
    one = shipped(path)
    plan = wire_plan(one.spec, default_source(one.spec), one.wiring)
    svg = painted(marked_parts(plan)[0][1:])
    known = circuit_vocabulary(one.plain, one.wiring)
    drawing = after_work(svg)
    stroke = random.Random(7).choice(drawing.strokes)
    less = dataclasses.replace(drawing, strokes=tuple(s for s in drawing.strokes if s != stroke))
    assert read_drawing(less, known).nets != known.nets


@pytest.mark.parametrize("stem", ["monitor-jack", "valve-amplifier"])
def test_a_shipped_job_is_legible_on_letter_and_its_parts_are_numbered(stem: str) -> None:
    """On A4 all of them are read in test_gallery."""
    (path,) = (path for path in SPECS if path.stem == stem)
    spec = renumbered(read_spec(path))
    scenes = scenes_of(spec, "substitute", "letter")
    assert [trouble for scene in scenes for trouble in audit(scene)] == []
    numbered(scenes)


def numbered(scenes: Sequence[Scene]) -> None:
    """Every framed number of the picture is a row of the table, and each row has its own."""
    items = [item for scene in scenes for item in scene.items]
    framed = {i.shows.split(":")[1] for i in items if isinstance(i, Symbol) and i.kind == "number"}
    keys = [t.text for s in scenes for t in s.texts if t.shows.startswith("key:")]
    assert framed <= set(keys)
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("seed", random.Random(3).sample(range(10_000), 2))
def test_random_jobs_are_legible(seed: int) -> None:
    for spec in (written_pair(seed), large_pair(seed)):
        for wiring in spec.others:
            scenes = scenes_of(spec, wiring.name)
            assert [trouble for scene in scenes for trouble in audit(scene)] == []


def test_the_flagship_keeps_its_points_and_says_what_takes_whose_place() -> None:
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    items = [item for scene in scenes_of(spec, "substitute") for item in scene.items]
    looks = {i.shows: i for i in items if isinstance(i, Symbol)}
    assert looks["part:R34A"].width < looks["part:R45"].width
    struck = {i.shows for i in items if isinstance(i, Symbol) and i.kind == "strike"}
    assert {"old:M2", "old:R45", "old:R46", "old:S4.A"} <= struck
    said = [text.text for scene in scenes_of(spec, "substitute") for text in scene.texts]
    assert any("do not omit" in text for text in said)


def test_a_wiring_of_a_very_long_name_stays_legible() -> None:
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    name = "substitute_" + "of_a_very_long_name_" * 6
    wiring = dataclasses.replace(spec.wirings["substitute"], name=name)
    scenes = scenes_of(
        dataclasses.replace(spec, wirings={"original": spec.original, name: wiring}), name
    )
    assert [trouble for scene in scenes for trouble in audit(scene)] == []
