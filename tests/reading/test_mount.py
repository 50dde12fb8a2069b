"""``mount:``: threads and sizes as people write them, and what is refused, with a way out."""

from __future__ import annotations

from math import dist
from typing import Any

import pytest

from rewire.reading import SpecError, read_text
from rewire.reading.buzzout import read_buzzout_text, switch_of
from rewire.reading.drawer import read_drawer_text
from rewire.records.mount import MeterMount, SwitchMount, mount_written
from rewire.records.switches import Switch

from . import builders

MAJOR = {
    "M9x0.75": 9.0, "M9 x 0,75": 9.0, "m10×1": 10.0, "M7": 7.0, "M2.5": 2.5,  # ISO 261
    "3/8-32": 9.525, '3/8"-32 NEF': 9.525, "3/8 x 32": 9.525, "15/32-32 UNS": 11.906,  # ASME B1.1
    "4-40": 2.845, "#6-32": 3.505, "8-32 UNC": 4.166, "10-32": 4.826,
    "0 BA": 6.0, "2 BA": 4.7, "4BA": 3.6, "6 B.A.": 2.8,  # BS 93
    "7 mm": 7.0, "3/8 in": 9.525, "0.375 in": 9.525, "1-1/8 in": 28.575,
}  # fmt: skip
"""As written → major diameter in mm, from the tables of those standards, from memory."""


def mount_of(kind: str, mount: dict[str, Any]) -> Any:
    lists = {"switch": "switches", "meter": "meters"}
    part = {"switch": {"switch": "3P4T"}, "meter": {"meter": "1 mA", "resistance": "60"}}[kind]
    text = builders.as_yaml({"rewire_drawer": "1", lists[kind]: [part | {"mount": mount}]})
    (found,) = getattr(read_drawer_text(text), lists[kind])
    return found.part.mount


@pytest.mark.parametrize("said", MAJOR)
def test_a_thread_has_the_diameter_of_its_standard(said: str) -> None:
    assert mount_of("switch", {"bush": said}).bush.diameter == pytest.approx(MAJOR[said], abs=0.06)


SWITCH = {
    "hole": "9.5 mm", "bush": "3/8-32", "shaft": "1/4 in", "shaft_form": "D",
    "shaft_length": "12 mm", "body": ["32 mm", "28 mm"], "depth": "1.5 in", "room": "45 mm",
    "index": "30 deg", "stops": "none",
}  # fmt: skip
METER = {
    "hole": "66 mm", "bezel": "80 mm", "studs": [["-19 mm", "0 mm"], ["19 mm", "-3/4 in"]],
    "stud": "4 BA", "body": ["64 mm", "62 mm"], "depth": "35 mm", "room": "50 mm",
}  # fmt: skip


@pytest.mark.parametrize(("kind", "mount"), [("switch", SWITCH), ("meter", METER)])
def test_what_is_written_back_reads_the_same(kind: str, mount: dict[str, Any]) -> None:
    found = mount_of(kind, mount)
    assert mount_written(found).keys() == mount.keys()
    assert mount_of(kind, mount_written(found)) == found


def test_sizes_are_millimetres() -> None:
    assert mount_of("switch", SWITCH) == SwitchMount(
        hole=9.5, bush=mount_of("switch", {"bush": "3/8-32"}).bush, shaft=6.35, shaft_form="flat",
        shaft_length=12.0, body=(32.0, 28.0), depth=pytest.approx(38.1), room=45.0, index=30.0,
        stops=0,
    )  # fmt: skip
    assert mount_of("meter", {}) == MeterMount()


def test_studs_on_a_circle_are_as_far_from_the_middle_and_clockwise_from_twelve() -> None:
    around = mount_of("meter", {"studs": {"circle": "70 mm", "at": ["0 deg", "90°", "225 deg"]}})
    top, right, low = around.studs
    assert [dist(one, (0, 0)) for one in around.studs] == pytest.approx([35.0] * 3)
    assert top == pytest.approx((0.0, 35.0))
    assert right == pytest.approx((35.0, 0.0))
    assert low[0] == pytest.approx(low[1]) == pytest.approx(-35.0 / 2**0.5)


REFUSED = {
    ("switch", "bush"): ["9", "M", "9x0.75", "wide", "0/8-32", "3/8", "30 A", "-7 mm", "13-24"],
    ("switch", "shaft"): ["6", "6 A", "0 mm", "2 m", "six"],
    ("switch", "shaft_form"): ["oval", "d"],
    ("switch", "index"): ["30", "0 deg", "200 deg", "30 mm"],
    ("switch", "stops"): ["0", "some", "1.5"],
    ("switch", "body"): [["3 mm", "4 mm", "5 mm"], [], "3"],
    ("switch", "bezel"): ["80 mm"],
    ("meter", "studs"): [
        [], "two", [["1 mm"]], [["1 mm", "2"]], [["1 mm", "2 mm"], ["1 mm", "2 mm"]],
        {"circle": "70 mm"}, {"circle": "70 mm", "at": []},
        [["1 mm", f"{n} mm"] for n in range(13)],
    ],
    ("meter", "shaft"): ["6 mm"],
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "key", "value"), [(*at, one) for at, some in REFUSED.items() for one in some]
)
def test_a_bad_size_is_refused_once_with_a_way_out(kind: str, key: str, value: Any) -> None:
    with pytest.raises(SpecError) as caught:
        mount_of(kind, {key: value})
    (fault,) = caught.value.faults
    assert key in fault.message
    assert fault.hint
    assert len(str(fault)) < 250


def test_a_spec_and_a_buzz_out_may_have_it() -> None:
    spec = builders.full()
    builders.put(spec, ("wirings", "original", "parts", "M1", "mount"), METER)
    assert read_text(builders.as_yaml(spec)).original.parts["M1"].mount == mount_of("meter", METER)  # type: ignore[attr-defined]
    buzzed = {"rewire_switch": "1", "lugs": ["1", "2", "3"], "mount": SWITCH,
              "detents": {"up": [["1", "2"]], "down": [["2", "3"]]}}  # fmt: skip
    switch = switch_of(read_buzzout_text(builders.as_yaml(buzzed)), "S1")
    assert isinstance(switch, Switch)
    assert switch.mount == mount_of("switch", SWITCH)
