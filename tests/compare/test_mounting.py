"""Will it go in: a part in the panel of another, against sums of its own and go/no-go by trial.

Which clearances and angles count is common practice, no source: the checks stay clear of the edge.
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product
from math import cos, hypot, pi, radians, sin
from typing import Any

import numpy as np
import pytest
from matplotlib.path import Path as Outline
from scipy.optimize import minimize_scalar

from rewire.compare.mounting import Mounting, meter_mounted, mountings, switch_mounted
from rewire.reading import read_text
from rewire.records.mount import FORMS, MeterMount, SwitchMount, Thread
from rewire.records.parts import Meter
from rewire.records.spec import Spec
from rewire.records.switches import Switch

SPEC = """
rewire: 1
title: a panel
controls: {K: [P, Q, R, S, T]}
points: {X: {chassis: yes}}
wirings:
  original: {parts: {S1: {switch: SP5T, control: K}, M1: {meter: 1 mA, resistance: 60 ohm}}}
  plan: {parts: {S2: {switch: SP5T, control: K},
                 M2: {meter: 1 mA, resistance: 60 ohm, replaces: M1}}}
"""


@pytest.fixture(scope="module")
def spec() -> Spec:
    return read_text(SPEC.encode())


def switched(
    spec: Spec, old: dict[str, Any], new: dict[str, Any], detents: tuple[int, ...] = ()
) -> Mounting:
    one, other = spec.original.parts["S1"], spec.wirings["plan"].parts["S2"]
    assert isinstance(one, Switch)
    assert isinstance(other, Switch)
    found = switch_mounted(
        spec, replace(one, mount=SwitchMount(**old)), replace(other, mount=SwitchMount(**new)),
        detents,
    )  # fmt: skip
    assert found is not None
    return found


def metered(spec: Spec, old: dict[str, Any], new: dict[str, Any]) -> Mounting:
    one, other = spec.original.parts["M1"], spec.wirings["plan"].parts["M2"]
    assert isinstance(one, Meter)
    assert isinstance(other, Meter)
    found = meter_mounted(
        replace(one, mount=MeterMount(**old)), replace(other, mount=MeterMount(**new))
    )
    assert found is not None
    return found


def kinds(found: Mounting) -> list[str]:
    return [one.kind for one in found.misfits]


def test_a_bush_too_big_for_its_hole_is_reported(spec: Spec) -> None:
    """Go or no go: a bush of that diameter in that hole."""
    dice = random.Random(1)
    for _ in range(200):
        hole, bush = dice.uniform(5, 14), dice.uniform(5, 14)
        if abs(hole - bush) < 0.1 or abs(hole - bush - 1.0) < 0.1:
            continue
        found = switched(spec, {"hole": hole}, {"bush": Thread(f"{bush} mm", bush)})
        told = [one.message for one in found.misfits]
        if hole < bush:
            (said,) = told
            assert said.startswith("ream")
            drill = float(said.split(" to ")[1].split()[0])
            assert bush + 0.15 < drill < bush + 0.75
        elif hole > bush + 1.0:
            assert len(told) == 1
            assert "centre it" in told[0]
        else:
            assert told == []


def test_the_pointer_is_as_near_to_every_mark_as_any_setting_of_the_knob_lets_it(
    spec: Spec,
) -> None:
    """The setting with the least greatest error, found by a minimum search of scipy's."""
    dice = random.Random(2)
    for _ in range(60):
        was, now = dice.choice([15, 22.5, 30, 36, 40, 45]), dice.choice([15, 30, 36, 60])
        detents = tuple(dice.sample(range(8), 5))
        found = switched(spec, {"index": float(was)}, {"index": float(now)}, detents)
        legend = np.array([was * n for n in range(5)]) - 2.0 * was
        knob = np.array([now * n for n in detents], dtype=float)
        least = minimize_scalar(
            lambda turn, knob=knob, legend=legend: np.abs(knob + turn - legend).max(),
            bounds=(-720, 720), method="bounded", options={"xatol": 1e-7},
        )  # fmt: skip
        assert [one.legend for one in found.pointing] == pytest.approx(list(legend))
        assert [one.knob for one in found.pointing] == pytest.approx(list(knob + least.x), abs=1e-4)
        off = float(least.fun)
        if abs(off - 2.0) > 0.01:
            assert ("index" in kinds(found)) == (off > 2.0)
        worst = [abs(legend - at).argmin() for at in knob + least.x]
        clear = np.abs(np.abs(legend[:, None] - knob - least.x) - was / 2).min() > 0.01
        if clear and off > 2.0:
            (index,) = (one for one in found.misfits if one.kind == "index")
            assert index.grave == (worst != list(range(5)))


KNOB_GOES_ON = {
    "round": {"round", "flat", "slotted"}, "flat": {"flat"}, "splined": {"splined"},
    "slotted": {"slotted"}, "square": {"square"},
}  # fmt: skip
"""A knob with a grub screw holds on a round shaft, on a flat and on a slotted one whose slot is
packed; every other form needs its own. Common practice, no source."""


@pytest.mark.parametrize(("knob", "shaft"), list(product(FORMS, FORMS)))
def test_a_knob_goes_on_the_shafts_it_can_hold(spec: Spec, knob: str, shaft: str) -> None:
    found = switched(spec, {"shaft_form": knob}, {"shaft_form": shaft})
    cure = any("find another" in m.message or "file a flat" in m.message for m in found.misfits)
    assert cure == (shaft not in KNOB_GOES_ON[knob])


def test_a_quarter_inch_and_six_millimetres_are_not_the_same(spec: Spec) -> None:
    assert kinds(switched(spec, {"shaft": 6.35}, {"shaft": 6.35})) == []
    (sleeve,) = switched(spec, {"shaft": 6.35}, {"shaft": 6.0}).misfits
    assert sleeve.message == "the knob is for 1/4 in, the shaft is 6 mm: sleeve it"
    (bored,) = switched(spec, {"shaft": 6.0}, {"shaft": 6.35}).misfits
    assert "bore the knob out" in bored.message


@pytest.mark.parametrize(
    ("old", "new", "detents", "grave"),
    [
        (5, 5, (0, 1, 2, 3, 4), None),
        (5, 0, (0, 1, 2, 3, 4), False),  # turns all round: reaches what the old one stopped at
        (None, 12, (0, 1, 2, 3, 4), False),
        (0, 12, (0, 1, 2, 3, 4), None),
        (5, 4, (0, 1, 2, 3, 4), True),
        (5, 5, (0, 1, 2, 3, 5), True),
        (5, None, (0, 1, 2, 3, 4), None),
    ],
)
def test_stops_let_the_knob_reach_what_it_must_and_no_more(
    spec: Spec, old: int | None, new: int | None, detents: tuple[int, ...], grave: bool | None
) -> None:
    found = switched(spec, {"stops": old, "hole": 9.0}, {"stops": new, "hole": 9.0}, detents)
    assert [one.grave for one in found.misfits] == ([] if grave is None else [grave])


def _ring(x: float, y: float, radius: float) -> list[tuple[float, float]]:
    turns = [2 * pi * n / 720 for n in range(720)]
    return [(x + radius * cos(turn), y + radius * sin(turn)) for turn in turns]


def test_studs_are_drilled_used_again_or_run_into_something(spec: Spec) -> None:
    """Point by point: whether the edge of a new stud's hole comes within 1 mm of an old hole."""
    dice = random.Random(3)
    told = set()
    for _ in range(150):
        hole, drill = dice.uniform(40, 70), 3.5
        old = [_polar(dice, 25, 50) for _ in range(3)]
        new = _polar(dice, 15, 55) if dice.random() < 0.7 else old[0]
        stud = {"hole": hole, "stud": Thread("M3", 3.0)}
        found = metered(spec, {"studs": tuple(old), **stud}, {"studs": (new,), **stud})
        edge = [*_ring(*new, drill / 2)]
        in_hole = min(hypot(x, y) for x, y in edge) - hole / 2
        again = min(hypot(new[0] - x, new[1] - y) for x, y in old)
        wall = min(hypot(x - a, y - b) for x, y in edge for a, b in old) - drill / 2
        if min(abs(in_hole), abs(again - 0.5), abs(wall - 1.0)) < 0.1:
            continue
        said = "".join(one.message for one in found.misfits)
        kind = (
            "plate" if in_hole < 0 else "" if again < 0.5 else "file a slot" if wall < 1.0 else
            "drill 3.5 mm"
        )  # fmt: skip
        told.add(kind)
        assert kind in said
        assert found.misfits == () or kind
    assert told == {"plate", "", "file a slot", "drill 3.5 mm"}


def _polar(dice: random.Random, low: float, high: float) -> tuple[float, float]:
    radius, turn = dice.uniform(low, high), radians(dice.uniform(0, 360))
    return radius * cos(turn), radius * sin(turn)


def test_depth_that_is_not_there_is_grave_and_what_is_not_known_is_not_said_to_be(
    spec: Spec,
) -> None:
    (short,) = metered(spec, {"room": 40.0}, {"depth": 40.5}).misfits
    assert (short.kind, short.grave) == ("depth", True)
    (of_new,) = metered(spec, {"depth": 50.0}, {"room": 40.0, "depth": 40.5}).misfits
    assert (of_new.kind, of_new.grave) == ("depth", True)
    (least,) = metered(spec, {"room": 40.0}, {"room": 60.0, "depth": 40.5}).misfits
    assert least.grave
    assert "40 mm are free" in least.message
    (deeper,) = metered(spec, {"depth": 35.0}, {"depth": 40.5}).misfits
    assert (deeper.kind, deeper.grave) == ("depth", False)
    assert "5.5 mm deeper" in deeper.message
    unsaid = metered(spec, {}, {"depth": 40.5, "hole": 50.0})
    assert unsaid.misfits == ()
    assert unsaid.not_given == (
        "not given, so not compared: hole and depth of M1; measure before you drill"
    )


def test_a_bezel_must_cover_the_hole_and_plugs_are_for_what_it_does_not_cover(spec: Spec) -> None:
    old = {"hole": 66.0, "studs": ((0.0, 38.0), (31.0, -31.0)), "bezel": (80.0,)}
    gone = metered(spec, old, {"bezel": (64.0, 70.0), "studs": ((31.0, -31.0),)})
    assert [one.grave for one in gone.misfits if one.kind == "bezel"] == [True, False]
    (plug,) = (one for one in gone.misfits if "plug" in one.message)
    assert "(0, 38)" in plug.message
    assert "−31" not in plug.message
    good = metered(spec, old, {"hole": 66.0, "bezel": (80.0,), "studs": old["studs"]})
    assert (good.misfits, good.unknown) == ((), ())


def test_nothing_is_said_where_neither_says_anything_or_the_part_stays(spec: Spec) -> None:
    assert list(mountings(spec, spec.wirings["plan"])) == []
    given = SPEC.replace("M1: {meter: 1 mA,", "M1: {meter: 1 mA, mount: {hole: 66 mm},")
    stays = given.replace("M2:", "M1:").replace(", replaces: M1", "")
    assert list(mountings(read_text(stays.encode()), read_text(stays.encode()).told[0])) == []
    other = read_text(given.encode())
    (found,) = mountings(other, other.wirings["plan"])
    assert (found.part, found.old) == ("M2", "M1")
    assert found.unknown == ("hole of M2",)


@pytest.mark.parametrize("shape", [(80.0,), (64.0, 70.0)], ids=["round", "rectangular"])
def test_an_old_stud_hole_shows_if_it_does_not_lie_behind_the_bezel(
    spec: Spec, shape: tuple[float, ...]
) -> None:
    """By matplotlib's outlines of a bezel a millimetre smaller and one a millimetre larger."""

    def behind(by: float, hole: tuple[float, float]) -> bool:
        if len(shape) == 1:
            return Outline.circle((0.0, 0.0), shape[0] / 2 + by).contains_point(hole)
        x, y = (side / 2 + by for side in shape)
        return Outline([(-x, -y), (x, -y), (x, y), (-x, y)]).contains_point(hole)

    dice, shown = random.Random(3), []
    for _ in range(80):
        hole = dice.uniform(-60.0, 60.0), dice.uniform(-60.0, 60.0)
        if hypot(*hole) < 20.0 or behind(-1.0, hole) != behind(1.0, hole):  # own hole, or an edge
            continue
        new = {"hole": 30.0, "studs": (), "bezel": shape}
        found = metered(spec, {"hole": 30.0, "studs": (hole,)}, new)
        told = any("will show beside the bezel" in one.message for one in found.misfits)
        assert told != behind(0.0, hole), hole
        shown.append(told)
    assert 10 < sum(shown) < len(shown) - 10
