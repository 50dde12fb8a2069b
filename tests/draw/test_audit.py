"""The audit finds what it is there to find: each fault is put into a clean picture by hand."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.path import Path
from matplotlib.transforms import Bbox

from rewire.draw.lugview import lug_view
from rewire.draw.scene import Box, Item, Line, Scene, Symbol, Text, line_enters, text_at
from tests.draw.audit import audit
from tests.draw.builders import plain_switch, point, random_view, spec, wire, wiring
from tests.draw.lugview_audit import audit_lug_view

SMALL = (1, 4)
"""Switches with few wires."""
SWITCH = plain_switch("S1", "3P3T")
WIRES = [
    wire("W1", "S1.A", "CHASSIS", "BK"),
    wire("W2", "S1.A2", "HT", "RD"),
    wire("W3", "S1.B1", "HT", "RDWH"),
    wire("J1", "S1.C1", "S1.C3"),
]
WIRING = wiring([SWITCH], WIRES)
SPEC = spec([WIRING], [point("CHASSIS"), point("HT")])


def clean() -> Scene:
    (scene,) = lug_view(SPEC, WIRING, "S1")
    assert audit(scene) == []
    assert audit_lug_view([scene], SPEC, WIRING, "S1") == []
    return scene


def swapped(scene: Scene, old: Item, *new: Item) -> Scene:
    return replace(scene, items=tuple(i for i in scene.items if i is not old) + new)


def label(scene: Scene, shows: str) -> Text:
    return next(t for t in scene.texts if t.shows == shows)


def lug(scene: Scene, name: str) -> Symbol:
    return next(s for s in scene.symbols if s.shows == f"lug:S1.{name}")


def on_another_text(scene: Scene) -> Scene:
    text, other = label(scene, "wire:W1"), label(scene, "wire:W2")
    return swapped(scene, text, replace(text, x=other.x, y=other.y))


def on_a_lug(scene: Scene) -> Scene:
    x, y = lug(scene, "C2").box.centre
    text = label(scene, "wire:W1")
    return swapped(scene, text, replace(text, x=x, y=y))


def on_a_line(scene: Scene) -> Scene:
    leader = next(line for line in scene.lines if line.shows == "wire:W1")
    (x0, y0), (x1, y1) = leader.points[:2]
    text = label(scene, "wire:W2")
    return swapped(scene, text, replace(text, x=(x0 + x1) / 2, y=(y0 + y1) / 2))


def too_small(scene: Scene) -> Scene:
    text = label(scene, "wire:W1")
    return swapped(scene, text, replace(text, points=6.9))


def in_the_margin(scene: Scene) -> Scene:
    text = label(scene, "wire:W1")
    return swapped(scene, text, replace(text, x=9.0))


def through_a_lug(scene: Scene) -> Scene:
    box = lug(scene, "B2").box
    middle = box.centre[1]
    line = Line(
        ((box.left - 2, middle), (box.right + 2, middle)), "wire:W1", "net x", ("lug:S1.A",)
    )
    return replace(scene, items=(*scene.items, line))


def along_another_net(scene: Scene) -> Scene:
    leader = next(line for line in scene.lines if line.shows == "wire:W1")
    beside = replace(leader, net="net x", shows="leader:odd")
    return replace(scene, items=(*scene.items, beside))


def ending_on_another_net(scene: Scene) -> Scene:
    leader = next(line for line in scene.lines if line.shows == "wire:W1")
    (x0, y0), (x1, y1) = leader.points[:2]
    at = ((x0 + x1) / 2, (y0 + y1) / 2)
    stub = Line((at, (at[0] + 3, at[1] - 3)), "leader:odd", "net x")
    return replace(scene, items=(*scene.items, stub))


def crossing_aslant(scene: Scene) -> Scene:
    leader = next(line for line in scene.lines if line.shows == "wire:W1")
    (x0, y0), (x1, y1) = leader.points[:2]
    along = np.array((x1 - x0, y1 - y0)) / np.hypot(x1 - x0, y1 - y0)
    turned = np.array((along[0] - along[1], along[0] + along[1])) / np.sqrt(2)
    middle = np.array(((x0 + x1) / 2, (y0 + y1) / 2))
    start, end = tuple(map(float, middle - 2 * turned)), tuple(map(float, middle + 2 * turned))
    return replace(scene, items=(*scene.items, Line((start, end), "leader:odd", "net x")))  # type: ignore[arg-type]


def ink_over_a_text(scene: Scene) -> Scene:
    """The middle of the line passes beside the text, its edge does not."""
    box = label(scene, "wire:W1").box
    ends = ((box.left, box.top - 0.3), (box.right, box.top - 0.3))
    line = Line(ends, "leader:odd", "net x", width=1.0, colour="#c9211e", cased=True)
    return replace(scene, items=(*scene.items, line))


def edge_on_another_net(scene: Scene) -> Scene:
    """The middles of the lines are far enough apart, their edges are not."""
    leader = next(line for line in scene.lines if line.shows == "wire:W1")
    wide = replace(leader.moved(0.0, 0.8), net="net x", shows="leader:odd", width=1.2, cased=True)
    return replace(scene, items=(*scene.items, wide))


FAULTS: list[tuple[Callable[[Scene], Scene], str]] = [
    (on_another_text, "meets text"),
    (on_a_lug, "meets symbol lug:S1.C2"),
    (on_a_line, "runs through text"),
    (too_small, "smaller than 8 points"),
    (in_the_margin, "into the margin"),
    (through_a_lug, "runs through symbol lug:S1.B2"),
    (along_another_net, "runs along"),
    (ending_on_another_net, "touches"),
    (crossing_aslant, "crosses aslant"),
    (ink_over_a_text, "runs through text"),
    (edge_on_another_net, "runs along"),
]


@pytest.mark.parametrize(("fault", "said"), FAULTS, ids=lambda f: getattr(f, "__name__", ""))
def test_each_fault_is_found(fault: Callable[[Scene], Scene], said: str) -> None:
    found = audit(fault(clean()))
    assert any(said in line for line in found), found


@pytest.mark.parametrize("gone", ["wire:W1", "wire:W3", "jumper:J1", "lug:S1.B2", "lug:S1.A"])
def test_what_is_left_out_is_missed(gone: str) -> None:
    scene = clean()
    left = replace(scene, items=tuple(i for i in scene.items if i.shows != gone))
    assert any(gone in line for line in audit_lug_view([left], SPEC, WIRING, "S1"))


@pytest.mark.parametrize("shows", ["wire:W1", "wire:W3", "jumper:J1", "lug:S1.B2"])
def test_a_label_left_out_is_missed_though_its_line_is_there(shows: str) -> None:
    scene = clean()
    kept = tuple(i for i in scene.items if not (isinstance(i, Text) and i.shows == shows))
    found = audit_lug_view([replace(scene, items=kept)], SPEC, WIRING, "S1")
    assert any(shows in line for line in found), found


@pytest.mark.parametrize("gone", ["W3", "RDWH"])
def test_a_label_that_says_too_little_is_told(gone: str) -> None:
    scene = clean()
    items = (replace(i, text=i.text.replace(gone, "")) if isinstance(i, Text) and
             i.shows == "wire:W3" else i for i in scene.items)  # fmt: skip
    cut = replace(scene, items=tuple(items))
    assert audit_lug_view([cut], SPEC, WIRING, "S1") == [f"wire:W3 does not say {gone}"]


@pytest.mark.parametrize("seed", SMALL)
def test_random_faults_in_random_pictures_are_found(seed: int) -> None:
    """A text put onto any other thing, or a lug's name onto a line that leaves another lug."""
    made, chosen, name = random_view(seed)
    rng = random.Random(seed)
    for scene in lug_view(made, chosen, name):
        texts = [t for t in scene.texts if t.shows.startswith(("wire:", "lug:"))]
        if len(texts) < 2:
            continue
        text = rng.choice(texts)
        other = rng.choice([t for t in texts if t is not text])
        assert audit(swapped(scene, text, replace(text, x=other.x, y=other.y)))
        lines = [li for li in scene.lines if li.shows.startswith(("wire:", "jumper:"))]
        for line in rng.sample(lines, min(3, len(lines))):
            (x0, y0), (x1, y1) = line.points[:2]
            at = ((x0 + x1) / 2 - text.width / 2, (y0 + y1) / 2 + text.ascent / 2)
            moved = replace(text, x=at[0], y=at[1], on="")
            assert audit(swapped(scene, text, moved)), f"{text.shows} on {line.shows}"


@pytest.mark.parametrize("seed", SMALL)
def test_a_line_laid_over_another_net_or_a_lug_is_found(seed: int) -> None:
    made, chosen, name = random_view(seed)
    rng = random.Random(seed)
    scene = lug_view(made, chosen, name)[0]
    lugs = [s for s in scene.symbols if s.shows.startswith("lug:")]
    for target in rng.sample(lugs, min(4, len(lugs))):
        x, y = target.box.centre
        line = Line(((x, y - 4.0), (x, y + 4.0)), "leader:elsewhere", "net elsewhere")
        assert any(
            target.shows in said for said in audit(replace(scene, items=(*scene.items, line)))
        )
    lines = [li for li in scene.lines if li.net is not None]
    for line in rng.sample(lines, min(4, len(lines))):
        double = replace(line, shows="leader:elsewhere", net="net elsewhere", joins=())
        assert any(
            "runs along" in said or "runs through" in said
            for said in audit(replace(scene, items=(*scene.items, double)))
        )


def test_what_is_shown_twice_is_reported() -> None:
    scene = clean()
    twice = audit_lug_view([scene, scene], SPEC, WIRING, "S1")
    assert {line.split()[0] for line in twice} >= {"lug:S1.A", "lug:S1.B2"}


def test_lines_against_boxes_agree_with_matplotlib() -> None:
    """Independent reference: matplotlib.path.Path.intersects_bbox."""
    rng = random.Random(4)
    hits = 0
    for _ in range(3000):
        points = [(rng.uniform(0, 10), rng.uniform(0, 10)) for _ in range(rng.randint(2, 4))]
        left, top = rng.uniform(0, 8), rng.uniform(0, 8)
        box = Box(left, top, left + rng.uniform(0.5, 3), top + rng.uniform(0.5, 3))
        reference = Path(points).intersects_bbox(
            Bbox.from_extents(box.left, box.top, box.right, box.bottom), filled=False
        )
        assert line_enters(points, box) == bool(reference)
        scene = Scene(100, 100, (Line(tuple(points), "leader:x", "n"), _block(box)), "")
        assert any("runs through" in t for t in audit(scene)) == bool(reference)
        hits += bool(reference)
    assert 500 < hits < 2500


def _block(box: Box) -> Symbol:
    """Grown by what the audit lets things touch, so that the two ask the same question."""
    return Symbol("square", box.grown(0.05), "lug:y", "m")


def test_a_text_is_as_wide_as_matplotlib_paints_it() -> None:
    """Independent reference: the outlines of matplotlib.textpath in the same font."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    rng = random.Random(7)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-+.,:→Ωµ ()"
    for bold in (False, True):
        face = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
        for _ in range(60):
            text = "x" + "".join(rng.choice(letters) for _ in range(rng.randint(1, 40))) + "x"
            inked = TextPath((0, 0), text, size=8.0, prop=face).get_extents()
            made = text_at(text, 0.0, 0.0, 8.0, bold=bold)
            assert 0.9 * made.width < inked.width * 25.4 / 72 <= made.width
            assert inked.y1 * 25.4 / 72 <= made.ascent + 1e-6
            assert -inked.y0 * 25.4 / 72 <= made.descent + 1e-6
