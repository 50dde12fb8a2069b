"""Turning the switches in a real browser: the live path, what is joined, what the pointer does."""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.reference.circuit import Circuit, read_circuit, states_of
from tests.reference.strategies import random_spec
from tests.sheet.page.currents import LEAST, solved
from tests.sheet.page.opened import FLAGSHIP, SPECS, Opened, made

Show = Callable[..., Opened]
SPEC = yaml.load(FLAGSHIP.read_text("utf-8"), Loader=yaml.BaseLoader)
WIRINGS = list(SPEC["wirings"])
READINGS = {told["when"]["METER"]: name for name, told in SPEC["readings"].items()}


def closed_pairs(circuit: Circuit, state: dict[str, str]) -> set[frozenset[str]]:
    return {
        frozenset(pair)
        for section in circuit.sections
        for group in section.closed[state[section.control]]
        for pair in itertools.combinations(group, 2)
    }


@pytest.mark.parametrize("wiring", WIRINGS)
def test_the_contacts_that_carry_the_reading_light_up(
    show: Show, flagship: Path, wiring: str
) -> None:
    circuit = read_circuit(SPEC, wiring)
    tab = show(flagship)
    tab.choose(wiring)
    for position, reading in READINGS.items():
        state = {"METER": position}
        tab.turn(state)
        told = SPEC["readings"][reading]
        flows, _ = solved(circuit, state, tuple(told.get("current") or told["voltage"]))
        carrying = {pair for pair, flow in flows.items() if abs(flow) > LEAST}
        assert tab.contacts("closed") == closed_pairs(circuit, state)
        assert tab.contacts("live") == carrying
        status = tab.page.get_by_role("status").first.inner_text()
        assert status.startswith(f"METER at {position}: {reading} ")


@pytest.mark.parametrize("wiring", WIRINGS)
def test_live_wires_end_on_live_lugs_and_only_where_current_comes_and_goes(
    show: Show, flagship: Path, wiring: str
) -> None:
    """Kirchhoff: at each lug that carries, at least two things that carry meet."""
    told = SPEC["wirings"][wiring]["wires"]
    ends = {w["id"]: {w["from"], w["to"]} for w in numbered(told)}
    tab = show(flagship)
    tab.choose(wiring)
    for position in READINGS:
        tab.turn({"METER": position})
        live = tab.named(".lugs .live[data-name]")
        lugs = {name[2:] for name in live if name.startswith("t:")}
        wires = {name[2:] for name in live if name.startswith("w:")}
        contacts = tab.contacts("live")
        assert wires
        for wire in wires:
            assert {end for end in ends[wire] if is_lug(end)} <= lugs
        for lug in filter(is_lug, lugs):
            meeting = [w for w in wires if lug in ends[w]] + [c for c in contacts if lug in c]
            assert len(meeting) > 1, (wiring, position, lug)


def is_lug(terminal: str) -> bool:
    return terminal.startswith(("S3.", "S4."))


def numbered(wires: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Ids as the format gives them: W1, W2 … and J1, J2 … in order of appearance."""
    counts = {"W": 0, "J": 0}
    given = {wire.get("id") for wire in wires}
    found = []
    for wire in wires:
        letter = "J" if wire["from"].split(".")[0] == wire["to"].split(".")[0] else "W"
        name = wire.get("id")
        while name is None or (name in given and "id" not in wire):
            counts[letter] += 1
            name = f"{letter}{counts[letter]}"
        found.append({**wire, "id": name})
    return found


@pytest.mark.parametrize("wiring", ["original", "as-found"])
def test_the_number_beside_the_pointer_is_what_kirchhoff_gives(
    show: Show, flagship: Path, wiring: str
) -> None:
    circuit = read_circuit(SPEC, wiring)
    tab = show(flagship)
    tab.choose(wiring)
    for position, reading in READINGS.items():
        told = SPEC["readings"][reading]
        tab.turn({"METER": position})
        flows, meter = share_of(circuit, {"METER": position}, told)
        shown = tab.page.locator(
            ".wiring:not(.aside, .beside) .dial:not(.aside) .number"
        ).inner_text()
        assert float(shown.split()[0]) == pytest.approx(100 * meter, abs=0.06), (flows, reading)


def share_of(circuit: Circuit, state: dict[str, str], told: dict[str, Any]) -> tuple[Any, float]:
    """Meter current over full scale; standing currents are added, the solution is linear."""
    if "voltage" in told:
        _, parts = solved(circuit, state, tuple(told["voltage"]))
        ohms = sum(220e3 * parts[name] for name in ("R34A", "R34B"))
        ohms += voltage_below(circuit, parts)
        return parts, parts["M1"] * 500.0 / ohms / 1e-3
    amps = float(told["full_scale"].split()[0]) / 1000
    _, parts = solved(circuit, state, tuple(told["current"]))
    total = parts["M1"] * amps
    for also in told.get("also", []):
        _, parts = solved(circuit, state, tuple(also["current"]))
        total += parts["M1"] * float(also["amount"].split()[0]) / 1000
    return parts, total / 1e-3


def voltage_below(circuit: Circuit, parts: dict[str, float]) -> float:
    """Volts per ampere from the divider's tap to chassis: those of R35, which lies there."""
    assert circuit.net_of["SCREEN_TAP"] == circuit.net_of["R35.1"]
    return parts["R35"] * 440.0


def test_arrow_keys_and_buttons_turn_the_control(show: Show, flagship: Path) -> None:
    tab = show(flagship)
    positions = SPEC["controls"]["METER"]
    status = tab.page.get_by_role("status").first

    def at() -> str:
        return status.inner_text().removeprefix("METER at ").split(":")[0]

    assert at() == positions[0]
    tab.page.get_by_role("radio", name=positions[0], exact=True).focus()
    for expected in [*positions[1:], positions[0]]:
        tab.page.keyboard.press("ArrowRight")
        assert at() == expected
    tab.page.get_by_role("button", name="METER: one position on").click()
    assert at() == positions[1]
    back = tab.page.get_by_role("button", name="METER: one position back")
    back.click()
    back.click()
    assert at() == positions[0], "this control does not wrap"


@pytest.mark.parametrize("name", ["valve-amplifier", "monitor-jack", "relay-and-switch"])
def test_what_is_joined_in_each_state_of_the_shipped_specs(
    show: Show, tmp_path: Path, name: str
) -> None:
    source = (SPECS / f"{name}.yaml").read_bytes()
    joined_as_in_the_reference(show, tmp_path, source, yaml.load(source, Loader=yaml.BaseLoader))


@pytest.mark.parametrize("seed", range(3))
def test_what_is_joined_in_each_state_of_random_specs(
    show: Show, tmp_path: Path, seed: int
) -> None:
    spec = random_spec(random.Random(seed), size=seed % 3)
    joined_as_in_the_reference(show, tmp_path, json.dumps(spec).encode(), spec)


def joined_as_in_the_reference(
    show: Show, folder: Path, source: bytes, spec: dict[str, Any]
) -> None:
    place = folder / "page.html"
    place.write_bytes(made(source, str(FLAGSHIP), ("lugs",)))
    tab = show(place)
    for wiring in spec["wirings"]:
        circuit = read_circuit(spec, wiring)
        tab.choose(wiring)
        for state in states_of(spec):
            tab.turn(state)
            assert_joined(tab, circuit, state)


def assert_joined(tab: Opened, circuit: Circuit, state: dict[str, str]) -> None:
    closed = frozenset(
        group for section in circuit.sections for group in section.closed[state[section.control]]
    )
    group_of = {net: n for n, nets in enumerate(circuit.joined(closed)) for net in nets}
    told = tab.tied_by_lug()
    assert told
    for lug, lit in told.items():
        group = group_of[circuit.net_of[lug]]
        assert lit == {one for one in told if group_of[circuit.net_of[one]] == group}, (lug, state)


def test_a_state_that_cannot_occur_is_said_to_be_prevented(show: Show, tmp_path: Path) -> None:
    spec = {
        "rewire": "1", "title": "interlocked",
        "controls": {"SEND": ["REST", "OPERATE"], "POWER": ["OFF", "ON"]},
        "never": [{"SEND": "OPERATE", "POWER": "OFF"}],
        "points": {"CHASSIS": {"chassis": "yes"}},
        "wirings": {
            name: {
                "parts": {"S1": {"switch": "SPDT", "control": "SEND"}},
                "wires": [["S1.A", "CHASSIS"]],
            }
            for name in ("original", "other")
        },
    }  # fmt: skip
    place = tmp_path / "page.html"
    place.write_bytes(made(json.dumps(spec).encode()))
    tab = show(place)
    status = tab.page.get_by_role("status").first
    tab.turn({"SEND": "OPERATE", "POWER": "ON"})
    assert "cannot occur" not in status.inner_text()
    tab.turn({"POWER": "OFF"})
    assert "cannot occur" in status.inner_text()


def test_where_a_limit_was_reached_the_contacts_still_turn(show: Show, tmp_path: Path) -> None:
    """Eight ten-position switches in the way of one reading: a hundred million states."""
    positions = [f"P{n}" for n in range(10)]
    wiring = {
        "parts": {
            "M1": {"meter": "1 mA", "resistance": "60 ohm"},
            **{f"S{n}": {"switch": "1P10T", "control": f"K{n}"} for n in range(8)},
        },
        "wires": [
            ["A", "S0.A"], *[[f"S{n}.A1", f"S{n + 1}.A"] for n in range(7)],
            ["S7.A1", "M1.+"], ["M1.-", "CHASSIS"],
        ],
    }  # fmt: skip
    spec = {
        "rewire": "1", "title": "many", "controls": {f"K{n}": positions for n in range(8)},
        "points": {"CHASSIS": {"chassis": "yes"}, "A": {}},
        "readings": {"r": {"current": ["A", "CHASSIS"], "full_scale": "1 mA"}},
        "wirings": {"original": wiring, "other": wiring},
    }  # fmt: skip
    place = tmp_path / "page.html"
    place.write_bytes(made(json.dumps(spec).encode()))
    tab = show(place)
    tab.turn({"K3": "P4"})
    status = tab.page.locator("#status").inner_text()
    assert "readings are not computed" in status
    assert frozenset(("S3.A", "S3.A5")) in tab.contacts("closed")
    assert "100,000,000 positions" in tab.page.locator(".limit").first.inner_text()


TOUCHING = """() => {
  const shown = document.querySelector(".wiring:not(.aside, .beside) .sprung:not(.aside)");
  const springs = [...shown.querySelectorAll('.course[data-name^="t:"]')].map((one) => ({
    lug: one.dataset.name.slice(2),
    line: one.querySelector("path").getAttribute("d").slice(1).split("L").map(
      (point) => point.split(" ").map(Number)),
  }));
  const long = springs.filter(({ line }) => Math.abs(line.at(-1)[0] - line[0][0]) > 14);
  const tips = springs.filter(({ line }) => line.length === 3).map(({ lug, line }) =>
    ({ lug, x: line[1][0], y: line[1][1] }));
  const height = ([[ax, ay], [bx, by]], x) => ay + (by - ay) * (x - ax) / (bx - ax);
  return long.flatMap(({ lug, line }) => tips.filter((tip) =>
    tip.lug !== lug && Math.abs(height(line, tip.x) - tip.y) < 0.8).map((tip) => [lug, tip.lug]));
}"""
"""Long and short springs that touch in the picture: a tip is a hair's breadth off a blade, mm."""


@pytest.mark.parametrize("wiring", ["original", "substitute"])
def test_the_blades_of_a_jack_touch_what_the_position_closes(
    show: Show, tmp_path: Path, wiring: str
) -> None:
    source = (SPECS / "monitor-jack.yaml").read_bytes()
    spec = yaml.load(source, Loader=yaml.BaseLoader)
    circuit = read_circuit(spec, wiring)
    place = tmp_path / "page.html"
    place.write_bytes(made(source, str(SPECS / "monitor-jack.yaml"), ("lugs",)))
    tab = show(place)
    tab.choose(wiring)
    for state in states_of(spec):
        tab.turn(state)
        touching = {frozenset(pair) for pair in tab.page.evaluate(TOUCHING)}
        assert touching
        assert touching == closed_pairs(circuit, state), state
