"""Pictures say what is so: other timing, idle throws, jumpers that cross, paths over jumpers."""

from __future__ import annotations

import math
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.compare import compare_wiring
from rewire.draw.lugview import lug_view
from rewire.draw.scene import Scene
from rewire.reading import read_spec
from rewire.reading.read import read_text

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
CROSSING = b"""
rewire: 1
title: a jumper crosses a wire of its own net
controls: {METER: [ANODE, GRID, HT]}
points: {CHASSIS: {chassis: yes}, X: {}}
wirings:
  original: &same
    parts:
      S1:
        switch: 2P3T
        control: METER
        style: rotary
        timing: shorting
        layout:
          clock: {A1: 6, A2: 5, A3: 4, B1: 12, B2: 11, B3: 10, A: 4:30, B: 1}
          inside: [A, B]
    wires: [[S1.A, CHASSIS], [S1.A1, S1.A3], [S1.A1, CHASSIS], [S1.B, X]]
  planned: *same
"""
KEYED = b"""
rewire: 1
title: cut-off bias reaches the grid over both poles while on standby
controls: {MODE: [STANDBY, OPERATE]}
points: {CHASSIS: {chassis: yes}, BIAS: {volts: -60 V}, GRID_FEED: {}, KEY: {}, LAMP: {}}
wirings:
  original:
    parts:
      S1: {switch: 3PDT, control: MODE}
      M1: {meter: 1 mA, resistance: 100 ohm}
    wires:
      - [S1.A, BIAS]
      - [S1.A1, S1.B1]
      - [S1.B, GRID_FEED]
      - [S1.B2, KEY]
      - [S1.C, M1.+]
      - [S1.C1, LAMP]
      - [M1.-, CHASSIS]
"""


def said(scenes: tuple[Scene, ...]) -> str:
    return " ".join(text.text for scene in scenes for text in scene.texts)


def bends(points: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    """Corners of more than twenty degrees."""
    found = []
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        one = math.atan2(here[1] - before[1], here[0] - before[0])
        two = math.atan2(after[1] - here[1], after[0] - here[0])
        turn = abs((two - one + math.pi) % (2 * math.pi) - math.pi)
        if turn > math.radians(20):
            found.append(here)
    return found


def dots_and_corners(scene: Scene) -> list[tuple[tuple[float, float], bool]]:
    """Each solder dot, and whether some line has a corner or an end there."""
    corners = [corner for line in scene.lines for corner in bends(line.points)]
    corners += [end for line in scene.lines for end in (line.points[0], line.points[-1])]
    return [
        (dot.box.centre, any(math.dist(dot.box.centre, corner) < 0.05 for corner in corners))
        for dot in scene.symbols
        if dot.kind == "joint"
    ]


def test_a_jumper_that_crosses_a_wire_makes_no_joint() -> None:
    spec = read_text(CROSSING)
    for scene in lug_view(spec, spec.wirings["planned"], "S1"):
        assert all(at_corner for _, at_corner in dots_and_corners(scene))


def test_the_bias_over_a_jumper_is_named_not_to_be_omitted() -> None:
    spec = read_text(KEYED)
    told = said(lug_view(spec, spec.original, "S1"))
    assert "BIAS to GRID_FEED over jumper J1 in STANDBY" in told
    assert "do not omit" in told


def test_lugs_that_can_be_live_say_their_volts() -> None:
    spec = read_text(KEYED)
    assert "Can be live: −60 V (BIAS) at" in said(lug_view(spec, spec.original, "S1"))


@pytest.mark.parametrize("path", SPECS, ids=lambda p: p.stem)
def test_a_broken_wiring_says_so_on_each_of_its_pages_and_all_say_local_codes(
    path: Path, tmp_path: Path
) -> None:
    spec = read_spec(path)
    verdicts = {w.name: compare_wiring(spec, w).verdict for w in spec.others}
    for name, verdict in verdicts.items():
        out = tmp_path / f"{name}.pdf"
        words = ["draw", str(path), "--view", "circuit", "--wiring", name, "-o", str(out)]
        assert CliRunner().invoke(rewire, words).exit_code == 0
        for sheet in pypdf.PdfReader(out).pages:
            text = sheet.extract_text()
            assert ("BROKEN" in text) == (verdict == "broken")
            assert "Local codes and licensed practice come first" in text
