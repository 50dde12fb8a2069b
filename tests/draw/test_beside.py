"""Side by side: both wirings at the same height, their faults numbered, timing to be seen."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from rewire.bench.wire_plan import renumbered
from rewire.compare import compare_wiring
from rewire.compare.findings import INFORMATION
from rewire.draw.scene import Scene
from rewire.reading import read_spec, read_text
from rewire.records.spec import Spec
from rewire.report.pictures import Picture, Wish, pictures
from tests.draw.audit import audit

STEMS = ("level-meter", "light-meter", "monitor-jack", "valve-amplifier")
"""Specs whose two wirings are drawn quickest; all are read for legibility in test_gallery."""
SPECS = [Path(__file__).parents[2] / "specs" / f"{stem}.yaml" for stem in STEMS]
ONE_POLE = """
rewire: 1
title: one pole
controls: {K: [P, Q, R]}
points: {X: {}, Y: {}, Z: {}, W: {}}
wirings:
  original:
    parts: {S1: {switch: SP3T, control: K, style: rotary, timing: shorting}}
    wires: &same [[S1.A, X], [S1.A1, Y], [S1.A2, Y], [S1.A3, Y]]
  planned:
    parts: {S1: {switch: SP3T, control: K, style: rotary, timing: non-shorting}}
    wires: *same
"""


@cache
def _drawn(path: Path) -> tuple[Spec, tuple[Picture, ...]]:
    spec = renumbered(read_spec(path))
    wrong = tuple(w.name for w in spec.others if _wrong(spec, w.name))
    return spec, pictures(Wish(spec, wrong), ("side",)).pictures if wrong else ()


def _wrong(spec: Spec, name: str) -> bool:
    findings = compare_wiring(spec, spec.wirings[name]).findings
    return any(not f.meant and f.kind not in INFORMATION for f in findings)


def _marked(scene: Scene) -> set[str]:
    """The numbers in the tags on the pictures."""
    tags = [text.text for text in scene.texts if text.shows.startswith("fault:")]
    return {number.removeprefix("✗") for tag in tags for number in tag.split()}


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_every_fault_is_marked_and_told_and_can_be_read(path: Path) -> None:
    _, drawn = _drawn(path)
    assert drawn
    for picture in drawn:
        (scene,) = picture.scenes
        assert audit(scene) == []
        told = {t.text.partition(" ")[0].removeprefix("✗") for t in scene.texts
                if t.text.startswith("✗") and not t.shows}  # fmt: skip
        assert _marked(scene)
        assert _marked(scene) <= told
        assert "BROKEN" in picture.mark.whose


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_both_wirings_stand_beside_each_other_and_not_under(path: Path) -> None:
    _, drawn = _drawn(path)
    for picture in drawn:
        (scene,) = picture.scenes
        lugs = [s.box for s in scene.symbols if s.shows.startswith("lug:") and s.kind != "joint"]
        left = [box for box in lugs if box.right < scene.width / 2]
        right = [box for box in lugs if box.left > scene.width / 2]
        assert len(left) + len(right) == len(lugs)
        assert left
        assert right
        assert min(b.top for b in left) < max(b.bottom for b in right)
        assert min(b.top for b in right) < max(b.bottom for b in left)


def test_bars_overlap_where_the_switch_makes_before_it_breaks_and_leave_a_gap_where_not() -> None:
    spec = read_text(ONE_POLE.encode())
    ((scene,),) = (p.scenes for p in pictures(Wish(spec), ("side",)).pictures)
    bars = [s.box for s in scene.symbols if s.shows.startswith("timing:S1.A")]
    left = sorted((b for b in bars if b.left < scene.width / 2), key=lambda b: b.left)
    right = sorted((b for b in bars if b.left > scene.width / 2), key=lambda b: b.left)
    assert len(left) == len(right) == 3
    assert all(one.right > other.left for one, other in pairwise(left))
    assert all(one.right < other.left for one, other in pairwise(right))
