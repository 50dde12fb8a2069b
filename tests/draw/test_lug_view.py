"""What a lug view shows, and where."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from rewire.draw.lugview import lug_view
from rewire.draw.scene import XY, Line, Paper, Scene
from rewire.records.part import Style
from rewire.records.spec import Wire
from rewire.records.switches import Layout, Switch
from tests.draw.audit import audit
from tests.draw.builders import (
    meter,
    plain_switch,
    point,
    resistor,
    spec,
    table_switch,
    wire,
    wiring,
)
from tests.draw.lugview_audit import audit_lug_view

POINTS = [point("CHASSIS"), point("BIAS_RETURN"), point("A_PLACE_WITH_A_NAME_OF_FORTY_CHARACTERS")]


def wired(switch: Switch) -> list[Wire]:
    """A wire from every lug, and a jumper from every lug to the next but one."""
    lugs = switch.terminals
    wires = [
        wire(f"W{n}", f"S1.{lug}", POINTS[n % 3].name, ("RD", "BKWH", None)[n % 3])
        for n, lug in enumerate(lugs[:60])
    ]
    return wires + [
        wire(f"J{n}", f"S1.{a}", f"S1.{b}")
        for n, (a, b) in enumerate(zip(lugs[::3], lugs[2::3], strict=False))
    ]


JACK = table_switch(
    "S1",
    [
        (("T", "TN", "PT"), [[("T", "TN")], [("T", "PT")]]),
        (("S", "PS"), [[], [("S", "PS")]]),
        (("X", "XB"), [[("X", "XB")], []]),
    ],
    idle=("R",),
    style="jack",
)
ODD = table_switch(
    "S1",
    [
        (("3b", "-", "+", "VERY_LONG_NAME_OF_A_LUG-12"), [[("3b", "-", "+")], [("3b", "-")]]),
        (("Q9", "q_1"), [[("Q9", "q_1")], []]),
    ],
    idle=("_",),
)
SWITCHES = {
    "SPDT": plain_switch("S1", "SPDT"),
    "DPDT": plain_switch("S1", "DPDT"),
    "slide": plain_switch("S1", "2P4T", style="slide"),
    "3P3T": plain_switch("S1", "3P3T", style="rotary"),
    "4P3T": plain_switch("S1", "4P3T"),
    "SP12T": plain_switch("S1", "SP12T"),
    "2P12T": plain_switch("S1", "2P12T"),
    "30 throws": plain_switch("S1", "1P30T"),
    "relay": plain_switch("S1", "4PDT", style="relay"),
    "jack": JACK,
    "odd names": ODD,
}


def view(switch: Switch, **more: object) -> tuple[Scene, ...]:
    made = wiring([switch, meter()], [wire("W1", f"S1.{switch.terminals[0]}", "CHASSIS", "RD")])
    return lug_view(spec([made], POINTS), made, "S1", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", SWITCHES)
def test_every_form_is_legible_and_complete(name: str) -> None:
    paper: Paper = "a4" if len(name) % 2 else "letter"
    seen_from = "front" if len(name) % 3 == 0 else "behind"
    switch = SWITCHES[name]
    made = wiring([switch, meter()], wired(switch))
    said = spec([made], POINTS)
    scenes = lug_view(said, made, "S1", paper=paper, seen_from=seen_from)  # type: ignore[arg-type]
    assert [t for scene in scenes for t in audit(scene)] == []
    assert audit_lug_view(scenes, said, made, "S1") == []


def where(scene: Scene) -> dict[str, XY]:
    return {
        s.shows.removeprefix("lug:S1."): s.box.centre
        for s in scene.symbols
        if s.shows.startswith("lug:S1.")
    }


def turning(scene: Scene, lugs: list[str]) -> list[float]:
    """Twice the areas of the triangles of the shaft and neighbouring lugs: the sign is the turn."""
    x, y = next(s.box.centre for s in scene.symbols if s.shows == "shaft")
    places = where(scene)
    arms = [(places[lug][0] - x, places[lug][1] - y) for lug in lugs]
    return [a[0] * b[1] - a[1] * b[0] for a, b in pairwise(arms)]


def test_clockwise_at_the_knob_runs_anticlockwise_from_behind() -> None:
    """Plain geometry: one looks along the shaft from the other end."""
    lugs = [f"A{n}" for n in range(1, 7)]
    behind = view(plain_switch("S1", "2P6T"))[0]
    front = view(plain_switch("S1", "2P6T"), seen_from="front")[0]
    assert all(area < 0 for area in turning(behind, lugs))  # y runs down: negative is anticlockwise
    assert all(area > 0 for area in turning(front, lugs))
    assert any("anticlockwise" in t.text for t in behind.texts)
    assert any("mirrored" in t.text for t in front.texts)


def test_the_front_is_the_mirror_image_of_the_back() -> None:
    for name in ("DPDT", "3P3T", "SP12T", "relay"):
        behind, front = (
            where(view(SWITCHES[name])[0]),
            where(view(SWITCHES[name], seen_from="front")[0]),
        )
        order = sorted(behind)
        middle = sum(x for x, _ in behind.values()) / len(behind)
        other = sum(x for x, _ in front.values()) / len(front)
        for lug in order:
            left, right = behind[lug][0] - middle, front[lug][0] - other
            assert math.isclose(left, -right, abs_tol=1.0), (name, lug)


def test_throws_of_a_twelve_way_wafer_stand_at_the_hours() -> None:
    """Thirty degrees from throw to throw, as on a clock: common practice, no source."""
    scene = view(SWITCHES["SP12T"])[0]
    x, y = next(s.box.centre for s in scene.symbols if s.shows == "shaft")
    for number in range(12):
        px, py = where(scene)[f"A{number + 1}"]
        angle = math.degrees(math.atan2(px - x, y - py)) % 360
        assert math.isclose(angle, (-30 * number) % 360, abs_tol=0.5) or math.isclose(
            angle, 360, abs_tol=0.5
        )


def test_the_common_of_a_two_throw_toggle_stands_between_its_throws() -> None:
    places = where(view(SWITCHES["DPDT"])[0])
    for pole in "AB":
        assert places[f"{pole}1"][1] < places[pole][1] < places[f"{pole}2"][1]
        assert places[f"{pole}1"][0] == places[pole][0] == places[f"{pole}2"][0]


def texts(scenes: tuple[Scene, ...]) -> str:
    return " ".join(t.text for scene in scenes for t in scene.texts)


def three_poles(third: list[Wire]) -> str:
    switch = plain_switch("S1", "3P2T", style="rotary")
    wires = [
        wire("W1", "S1.A", "M1.+"), wire("W2", "S1.A1", "HT"), wire("W3", "S1.A2", "R1.1"),
        wire("W4", "S1.B", "M1.-"), wire("W5", "S1.B1", "CHASSIS"), wire("W6", "S1.B2", "CHASSIS"),
        wire("W7", "R1.2", "SCREEN"), *third,
    ]  # fmt: skip
    made = wiring([switch, meter(), resistor("R1")], wires)
    places = [*POINTS, point("HT"), point("SCREEN")]
    said = spec([made], places, positions=["HV", "LV"])
    return texts(lug_view(said, made, "S1"))


def test_a_pole_that_has_nothing_to_do_with_the_meter_is_marked() -> None:
    bias = [
        wire("W8", "S1.C", "BIAS_RETURN"), wire("W9", "S1.C1", "CHASSIS"),
        wire("J1", "S1.C1", "S1.C2"),
    ]  # fmt: skip
    said = three_poles(bias)
    assert "Pole C carries BIAS_RETURN to CHASSIS: do not omit" in said
    assert "Pole A carries" not in said
    assert "Pole B carries" not in said
    only_first = three_poles([wire("W8", "S1.C", "BIAS_RETURN"), wire("W9", "S1.C1", "CHASSIS")])
    assert "Pole C carries BIAS_RETURN to CHASSIS in HV: do not omit" in only_first


def test_a_pole_that_helps_to_meter_is_not_marked() -> None:
    said = three_poles([wire("W8", "S1.C", "M1.+"), wire("W9", "S1.C1", "BIAS_RETURN")])
    assert "do not omit" not in said


def test_another_wiring_keeps_the_layout() -> None:
    switch = plain_switch("S1", "3P3T", style="rotary")
    first = wiring([switch], [wire("W1", "S1.A", "CHASSIS")])
    second = wiring([switch], wired(switch), name="other")
    said = spec([first, second], POINTS)
    angles = []
    for made in (first, second):
        (scene,) = lug_view(said, made, "S1")
        x, y = next(s.box.centre for s in scene.symbols if s.shows == "shaft")
        angles.append({k: math.atan2(b - y, a - x) for k, (a, b) in where(scene).items()})
    assert angles[0].keys() == angles[1].keys()
    assert all(math.isclose(angles[0][k], angles[1][k], abs_tol=0.02) for k in angles[0])


def test_a_layout_is_followed() -> None:
    rows = plain_switch("S1", "DPDT", layout=Layout(rows=(("B2", "A2"), ("B", "A"), ("B1", "A1"))))
    places = where(view(rows)[0])
    assert places["B2"][0] < places["A2"][0]
    assert places["A2"][1] < places["A"][1] < places["A1"][1]
    clock = plain_switch("S1", "SP3T", layout=Layout(clock={"A1": 90.0, "A2": 135.0}))
    scene = view(clock)[0]
    x, y = next(s.box.centre for s in scene.symbols if s.shows == "shaft")
    px, py = where(scene)["A1"]
    assert px > x
    assert math.isclose(py, y, abs_tol=1e-6)
    px, py = where(scene)["A2"]
    assert math.isclose(px - x, py - y, abs_tol=1e-6)


@pytest.mark.parametrize("style", ["toggle", "relay"])
def test_sixty_wires_on_one_lug_go_on_in_numbered_parts(style: Style) -> None:
    switch = plain_switch("S1", "DPDT", style=style)
    name = POINTS[2].name
    wires = [wire(f"W{n}", "S1.A1", name, "RD") for n in range(60)]
    wires += [wire(f"X{n}", "S1.B2", name, "BKWH") for n in range(60)]
    made = wiring([switch], wires)
    said = spec([made], POINTS)
    scenes = lug_view(said, made, "S1")
    assert len(scenes) > 1
    assert f"(part 2 of {len(scenes)})" in texts(scenes)
    assert [t for scene in scenes for t in audit(scene)] == []
    assert audit_lug_view(scenes, said, made, "S1") == []


def springs_of(scene: Scene, lug: str) -> list[Line]:
    return [line for line in scene.lines if line.shows == f"spring:S1.{lug}"]


def point_of(scene: Scene, lug: str) -> XY:
    """Where the contact of a fixed spring comes nearest to the moving one."""
    return springs_of(scene, lug)[1].points[-1]


@pytest.mark.parametrize("seen_from", ["behind", "front"])
def test_springs_touch_in_the_first_position_exactly_where_the_spec_closes(
    seen_from: str,
) -> None:
    drawn = wiring([JACK], wired(JACK))
    (scene,) = lug_view(spec([drawn], POINTS), drawn, "S1", seen_from=seen_from)  # type: ignore[arg-type]
    for section in JACK.sections:
        moving = section.groups[0][0][0] if section.groups[0] else section.groups[1][0][0]
        (long,) = springs_of(scene, moving)
        level = long.points[0][1]
        for fixed in section.lugs:
            if fixed == moving:
                continue
            x, y = point_of(scene, fixed)
            closed = any({moving, fixed} <= set(group) for group in section.groups[0])
            assert (abs(y - level) <= long.width) == closed, fixed
            assert long.box.left < x < long.box.right


def test_the_coil_of_a_relay_is_linked_to_every_spring_that_moves() -> None:
    relay = plain_switch("S1", "4PDT", style="relay")
    drawn = wiring([relay], wired(relay))
    (scene,) = lug_view(spec([drawn], POINTS), drawn, "S1")
    (arm,) = [line for line in scene.lines if line.shows == "coil" and line.dash == "dashed"]
    (x, top), (_, bottom) = arm.points
    for pole in relay.poles:
        (long,) = springs_of(scene, pole[0])
        assert long.box.left < x < long.box.right
        assert top <= long.points[0][1] <= bottom
