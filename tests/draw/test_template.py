"""Templates at true size: what the SVG draws, measured, against the sizes that went in.

The file is read as any drawing program reads it: its width in mm over its view box, and its paths.
"""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.compare.mounting import Pointing
from rewire.draw.scene import Line, Text
from rewire.draw.template import knob_picture

MM, DEGREES = 0.05, 0.05
"""How exact a template must be."""
NEW, OLD, CENTRE = 0.5, 0.25, 0.18
INDEX = (22.5, 30.0, 36.0, 40.0, 45.0)


@dataclass(frozen=True)
class Measured:
    """Of one style of line, about the crossing of the centre lines; y up."""

    circles: list[tuple[float, float, float]]
    corners: list[tuple[float, float]]
    lines: list[np.ndarray]


def measured(svg: str) -> tuple[dict[float, Measured], list[float]]:
    """Per width of line what is drawn, and the lengths of level lines in the file, mm."""
    root = ET.fromstring(svg)
    wide = float(root.attrib["width"].removesuffix("mm"))
    box = [float(n) for n in root.attrib["viewBox"].split()]
    scale = wide / box[2]
    paths = []
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        course = re.split("[ML]", path.attrib["d"].rstrip("Z"))[1:]
        points = scale * np.array([[float(n) for n in xy.split()] for xy in course])
        width = scale * float(path.attrib["stroke-width"])
        paths.append((round(width, 2), bool(path.attrib.get("stroke-dasharray")), points))
    level = [float(np.ptp(p[:, 0])) for _, _, p in paths if len(p) == 2 and np.ptp(p[:, 1]) < 1e-9]
    cross = [p for width, _, p in paths if width == CENTRE and len(p) == 2]
    upright = next(p for p in cross if np.ptp(p[:, 0]) < 1e-9)
    across = next(p for p in cross if np.ptp(p[:, 0]) > 13.0)
    middle = np.array([upright[0, 0], across[0, 1]])
    found = {}
    for style, dashed in ((NEW, False), (OLD, True)):
        own = [(p - middle) * (1, -1) for *look, p in paths if look == [style, dashed]]
        found[style] = Measured(
            [_fitted(p) for p in own if len(p) > 10],
            sorted({(round(x, 2), round(y, 2)) for p in own if len(p) == 5 for x, y in p}),
            [p for p in own if len(p) == 2],
        )
    return found, level


def _fitted(points: np.ndarray) -> tuple[float, float, float]:
    """Centre and radius by least squares; every point must lie on that circle."""
    rows = np.column_stack([2 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(c + x * x + y * y))
    assert np.abs(np.hypot(*(points - (x, y)).T) - radius).max() < MM
    return float(x), float(y), radius


def drawn(tmp_path: Path, old: dict[str, Any], new: dict[str, Any], kind: str) -> str:
    """The template as ``rewire draw`` writes it."""
    body = {"switch": {"switch": "SP4T", "control": "K"}, "meter": {"meter": "1 mA"}}[kind]
    after = body | {"mount": new} | ({"replaces": "N1"} if kind == "meter" else {})
    spec = {
        "rewire": "1", "title": "a panel", "controls": {"K": ["P", "Q", "R", "S"]},
        "points": {"X": {"chassis": "yes"}},
        "wirings": {
            "original": {"parts": {"N1": body | {"mount": old}}},
            "plan": {"parts": {"N2": after}},
        },
    }  # fmt: skip
    (tmp_path / "s.yaml").write_text(yaml.safe_dump(spec))
    place = tmp_path / "t.svg"
    asked = ["draw", "--view", "template", "-o", str(place), str(tmp_path / "s.yaml")]
    told = CliRunner().invoke(rewire, asked)
    assert told.exit_code == 0, told.output
    return place.read_text("utf-8")


def same(found: list[Any], wanted: list[Any]) -> None:
    assert len(found) == len(wanted)
    for one, other in zip(sorted(found), sorted(wanted), strict=True):
        assert one == pytest.approx(other, abs=MM)


@pytest.mark.parametrize("seed", range(6))
def test_the_holes_studs_and_bezels_of_meters_measure_what_was_asked_for(
    tmp_path: Path, seed: int
) -> None:
    dice = random.Random(seed)
    mounts, wanted = [], []
    for drill, thread in ((3.5, "M3"), (4.5, "M4")):  # with play, to the next half millimetre
        hole, circle = dice.uniform(30, 75), dice.uniform(50, 100)
        wide, tall = dice.uniform(60, 130), dice.uniform(60, 130)
        at = sorted(dice.sample(range(0, 360, 15), 3))
        mounts.append({
            "hole": f"{hole:.3f} mm", "bezel": [f"{wide:.3f} mm", f"{tall / 25.4:.5f} in"],
            "stud": thread, "studs": {"circle": f"{circle:.3f} mm", "at": [f"{a} deg" for a in at]},
        })  # fmt: skip
        studs = [(circle / 2 * sin(radians(a)), circle / 2 * cos(radians(a))) for a in at]
        corners = [(x * wide / 2, y * tall / 2) for x in (-1, 1) for y in (-1, 1)]
        wanted.append(([(0.0, 0.0, hole / 2), *((x, y, drill / 2) for x, y in studs)], corners))
    found, level = measured(drawn(tmp_path, mounts[0], mounts[1], "meter"))
    for style, (circles, corners) in zip((OLD, NEW), wanted, strict=True):
        own = found[style]
        assert len(own.circles) == len(circles)
        for wish in circles:
            assert any(one == pytest.approx(wish, abs=MM) for one in own.circles)
        same(own.corners, corners)
    assert any(abs(length - 50.0) < 1e-6 for length in level)


@pytest.mark.parametrize("seed", range(4))
def test_the_marks_of_a_switch_stand_at_their_angles(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    was, now = dice.sample(INDEX, 2)
    svg = drawn(tmp_path, {"bush": "3/8-32", "index": f"{was} deg"},
                {"bush": "M7x0.75", "index": f"{now} deg"}, "switch")  # fmt: skip
    found, level = measured(svg)
    for style, step, hole in ((OLD, was, 10.0), (NEW, now, 7.5)):
        # 9.53 and 7 mm with a little play, to the next drill by half millimetres
        same(found[style].circles, [(0.0, 0.0, hole / 2)])
        marks = [p for p in found[style].lines if hypot(*p.mean(axis=0)) < 25.0]
        turned = sorted(degrees(atan2(*p.mean(axis=0))) for p in marks)
        assert turned == pytest.approx([step * n for n in (-1.5, -0.5, 0.5, 1.5)], abs=DEGREES)
    assert any(abs(length - 50.0) < 1e-6 for length in level)


def test_a_spoilt_template_does_not_pass(tmp_path: Path) -> None:
    """The measuring itself: a file printed one part in five hundred too small."""
    svg = drawn(tmp_path, {"hole": "60 mm"}, {"hole": "66 mm"}, "meter")
    wide = float(re.search(r'width="([0-9.]+)mm"', svg)[1])  # type: ignore[index]
    small, level = measured(svg.replace(f'width="{wide:g}mm"', f'width="{0.998 * wide:.4f}mm"'))
    assert abs(small[NEW].circles[0][2] - 33.0) > MM
    assert not any(abs(length - 50.0) < MM for length in level)


def test_the_picture_of_the_knob_has_its_angles_in_lines_and_words() -> None:
    """Three positions 36° apart on a legend of 30°: the sum is done by hand."""
    marks = {"P": (-30.0, -36.0), "Q": (0.0, 0.0), "R": (30.0, 36.0)}
    picture = knob_picture([Pointing(name, *at) for name, at in marks.items()])
    lines = {item.shows: item for item in picture.items if isinstance(item, Line)}
    hub = np.mean(lines["knob"].points[:-1], axis=0)
    for name, angles in marks.items():
        for what, wanted in zip(("mark", "pointer"), angles, strict=True):
            drawn_to = np.array(lines[f"{what} {name}"].points[-1]) - hub
            found = degrees(atan2(drawn_to[0], -drawn_to[1]))
            assert found == pytest.approx(wanted, abs=DEGREES)
    said = [item.text for item in picture.items if isinstance(item, Text)]
    assert "1 P: 6° anticlockwise of its mark" in said
    assert "2 Q: at its mark" in said
    assert "3 R: 6° clockwise of its mark" in said
