"""What a lug view shows, and where."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import pytest

from rewire.draw.lugview import lug_view
from rewire.draw.scene import PAPER, XY, Line, Paper, Scene, segments
from rewire.records.part import Style
from rewire.records.spec import Wire
from rewire.records.switches import Layout, Switch
from tests.draw.audit import audit
from tests.draw.builders import (
    meter,
    net,
    plain_switch,
    point,
    random_view,
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
    "6P12T": plain_switch("S1", "6P12T"),
    "30 throws": plain_switch("S1", "1P30T"),
    "100 throws": plain_switch("S1", "1P100T"),
    "relay": plain_switch("S1", "4PDT", style="relay"),
    "jack": JACK,
    "odd names": ODD,
}


def view(switch: Switch, **more: object) -> tuple[Scene, ...]:
    made = wiring([switch, meter()], wired(switch))
    return lug_view(spec([made], POINTS), made, "S1", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", SWITCHES)
@pytest.mark.parametrize("paper", PAPER)
@pytest.mark.parametrize("seen_from", ["behind", "front"])
def test_every_form_is_legible_and_complete(name: str, paper: Paper, seen_from: str) -> None:
    switch = SWITCHES[name]
    made = wiring([switch, meter()], wired(switch))
    said = spec([made], POINTS)
    scenes = lug_view(said, made, "S1", paper=paper, seen_from=seen_from)  # type: ignore[arg-type]
    assert [t for scene in scenes for t in audit(scene)] == []
    assert audit_lug_view(scenes, said, made, "S1") == []


def where(scene: Scene) -> dict[str, XY]:
    return {
        s.shows.removeprefix("lug:"): s.box.centre
        for s in scene.symbols
        if s.shows.startswith("lug:")
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
        assert math.isclose(angle, (-30 * number) % 360, abs_tol=0.01) or math.isclose(
            angle, 360, abs_tol=0.01
        )


def test_the_common_of_a_two_throw_toggle_stands_between_its_throws() -> None:
    places = where(view(SWITCHES["DPDT"])[0])
    for pole in "AB":
        assert places[f"{pole}1"][1] < places[pole][1] < places[f"{pole}2"][1]
        assert places[f"{pole}1"][0] == places[pole][0] == places[f"{pole}2"][0]


def test_a_jumper_runs_from_lug_to_lug() -> None:
    for seed in range(25):
        made, chosen, name = random_view(seed)
        due = {w.id: {e.split(".", 1)[1] for e in w.ends} for w in chosen.wires if w.jumper}
        for scene in lug_view(made, chosen, name):
            boxes = {s.shows.replace("again:", "lug:"): s.box for s in scene.symbols}
            for line in drawn_jumpers(scene):
                ends = {lug.removeprefix("lug:") for lug in line.joins}
                assert ends == due[line.shows.removeprefix("jumper:")]
                for end, lug in zip((line.points[0], line.points[-1]), line.joins, strict=True):
                    box = boxes[lug]
                    assert box.left <= end[0] <= box.right, (seed, line.shows)
                    assert box.top <= end[1] <= box.bottom, (seed, line.shows)


def drawn_jumpers(scene: Scene) -> list[Line]:
    return [i for i in scene.lines if i.shows.startswith("jumper:") and len(i.joins) == 2]


def test_leaders_do_not_cross_each_other() -> None:
    """Checked pair by pair with the orientation of three points, whatever the form."""
    for seed in range(25):
        made, chosen, name = random_view(seed)
        for scene in lug_view(made, chosen, name):
            leaders = [i for i in scene.lines if i.shows.startswith("leader:")]
            for first, second in combinations(leaders, 2):
                if first.net != second.net and first.joins != second.joins:
                    assert not crossing(first, second), (seed, first.shows, second.shows)


def crossing(first: Line, second: Line) -> bool:
    def side(a: XY, b: XY, c: XY) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    return any(
        side(a, b, c) * side(a, b, d) < -1e-9 and side(c, d, a) * side(c, d, b) < -1e-9
        for a, b in segments(first.points)
        for c, d in segments(second.points)
    )


def test_jumpers_between_decks_are_drawn_where_both_leave_on_one_side() -> None:
    switch = plain_switch("S1", "3P3T", layout=Layout(decks=3))
    made = wiring([switch], [wire("J1", "S1.A2", "S1.C2"), wire("W1", "S1.B2", "CHASSIS")])
    said = spec([made], POINTS)
    (scene,) = lug_view(said, made, "S1")
    assert audit(scene) == []
    own = [line for line in scene.lines if line.shows == "jumper:J1"]
    upright = [line for line in own if not line.joins]
    assert len(upright) == 1
    ends = {point[1] for point in upright[0].points}
    assert ends == {line.points[0][1] for line in own if line.joins}


def texts(scenes: tuple[Scene, ...]) -> str:
    return " ".join(t.text for scene in scenes for t in scene.texts)


def test_lugs_known_only_by_nets_say_what_they_are_on() -> None:
    switch = plain_switch("S1", "DPDT")
    made = wiring(
        [switch, meter()],
        nets=[net(None, "BIAS_RETURN", "S1.A1", "S1.B"), net("plus", "S1.A", "M1.+")],
    )
    said = texts(lug_view(spec([made], POINTS), made, "S1"))
    assert "on net with BIAS_RETURN, B" in said
    assert "on net with BIAS_RETURN, A1" in said
    assert "plus: on net with M1.+" in said


def test_a_part_soldered_to_a_lug_is_shown() -> None:
    switch = plain_switch("S1", "SPDT")
    made = wiring([switch, resistor("R7", ("S1.A1", "CHASSIS"))])
    assert "R7.1, the part's own lead" in texts(lug_view(spec([made], POINTS), made, "S1"))


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
    assert all(math.isclose(angles[0][k], angles[1][k], abs_tol=1e-6) for k in angles[0])


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


@pytest.mark.parametrize("style", ["toggle", "rotary", "slide", "push", "relay", "jack"])
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
    return [line for line in scene.lines if line.shows == f"spring:{lug}"]


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
    assert "not in this spec" in " ".join(text.text for text in scene.texts)


def test_no_leader_of_a_jack_crosses_a_spring() -> None:
    drawn = wiring([JACK], wired(JACK))
    (scene,) = lug_view(spec([drawn], POINTS), drawn, "S1")
    springs = [line.box for line in scene.lines if line.shows.startswith("spring:")]
    rear = max(box.right for box in springs)
    leaders = [line for line in scene.lines if line.shows.startswith("leader:")]
    assert leaders
    assert all(line.box.left >= rear - 1e-6 for line in leaders)
