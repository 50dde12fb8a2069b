"""Cautions: only where the spec gives cause, its own first, and few of them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from rewire.bench.safety import LOCAL_CODES, cautions_of, power_steps
from rewire.draw.hookup import hook_up
from rewire.draw.scene import Text
from rewire.reading import read_spec
from tests.reading.builders import read

ROOT = Path(__file__).parents[2]
SPECS = sorted((ROOT / "specs").glob("*.yaml"))


def quiet(**more: Any) -> dict[str, Any]:
    """A set of 1.5 V with a meter, of which nothing can hurt."""
    wiring = {
        "parts": {"M1": {"meter": "1 mA", "resistance": "50 ohm"}},
        "wires": [["A", "M1.+"], ["M1.-", "CH"]],
    }
    return {
        "rewire": "1",
        "title": "quiet",
        "points": {"CH": {"chassis": "yes"}, "A": {"volts": "1.5 V"}},
        "wirings": {"original": wiring, "substitute": wiring},
    } | more


def said(**more: Any) -> str:
    return " ".join(cautions_of(read(quiet(**more))))


def test_where_nothing_can_hurt_local_codes_stand_alone() -> None:
    assert cautions_of(read(quiet())) == (LOCAL_CODES,)


@pytest.mark.parametrize(("more", "words"), [
    ({"equipment": "Photometer with a selenium cell"}, ["selenium", "solder", "break", "burn"]),
    ({"summary": "an exciter"}, ["RF burns", "dummy load"]),
    ({"found": [{"what": "oil-filled capacitors leak"}]}, ["PCB"]),
    ({"found": [{"what": "asbestos sleeving on the heater leads"}]}, ["asbestos", "strip"]),
    ({"found": [{"what": "perished rubber on the mains lead"}]}, ["rubber"]),
    ({"found": [{"what": "glass of the meter cracked"}]}, ["radium"]),
    ({"procedure": {"before": [{"do": "open the meter and swap the old dial"}]}}, ["radium"]),
    ({"equipment": "a lead-acid battery on wheels"}, ["lead battery", "spark"]),
    ({"points": {"CH": {"chassis": "yes"}, "A": {"volts": "3 kV"}}}, ["A 3 kV", "PCB", "M1"]),
    ({"points": {"CH": {"chassis": "yes"}, "A": {"volts": "-50 V"}}}, ["A -50 V", "zero screw"]),
    ({"points": {"CH": {"chassis": "yes"}, "A": {}}}, ["dangerous until measured: A"]),
    ({"points": {"CH": {"chassis": "live"}, "A": {"volts": "1 V"}}}, ["CH is live"]),
])  # fmt: skip
def test_a_cause_in_the_spec_brings_its_caution(more: dict[str, Any], words: list[str]) -> None:
    """Common practice, no source: what each of these does to people is known in the trade."""
    told = said(**more)
    for word in words:
        assert word.lower() in told.lower(), (word, told)
    for word in ("selenium", "RF burns", "asbestos", "radium", "lead battery"):
        if not any(word.lower() in known.lower() for known in words):
            assert word.lower() not in told.lower()


def test_below_50_volts_nothing_is_said_of_volts() -> None:
    """The limit of 50 V is the project's own."""
    low = said(points={"CH": {"chassis": "yes"}, "A": {"volts": "49.9 V"}})
    assert low == LOCAL_CODES


def test_the_specs_own_cautions_come_first_and_are_not_repeated() -> None:
    own = ["RF burns, never key it open", "Mind the spring"]
    told = cautions_of(read(quiet(cautions=own, equipment="A transmitter")))
    assert told == (*own, LOCAL_CODES)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_the_shipped_specs_have_two_to_five_lines(path: Path) -> None:
    spec = read_spec(path)
    told = cautions_of(spec)
    assert told[: len(spec.cautions)] == spec.cautions
    assert told[-1] == LOCAL_CODES
    assert 2 <= len(told) <= 5


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_radium_is_said_where_a_plate_is_printed_and_an_old_dial_opened(path: Path) -> None:
    cautions = " ".join(cautions_of(read_spec(path)))
    assert ("radium" in cautions) == ("dial:" in path.read_text("utf-8"))


def test_a_point_has_one_figure_in_every_place() -> None:
    """By Ohm's law: 90 V over 10 ohm into a battery of 50 V behind 30 ohm leave 80 V on it.

    A contact alone passes the whole of HT on to SCREEN.
    """
    wiring = {
        "parts": {
            "S1": {"switch": "SPDT", "control": "K"},
            "R1": {"resistor": "10 ohm", "between": ["CHARGER", "BATTERY"]},
        },
        "wires": [["S1.A", "SCREEN"], ["S1.A2", "HT"]],
    }
    spec = read(quiet(
        controls={"K": ["STANDBY", "SEND"]},
        points={
            "CH": {"chassis": "yes"}, "CHARGER": {"volts": "90 V"},
            "BATTERY": {"volts": "50 V", "source_resistance": "30 ohm"},
            "HT": {"volts": "250 V", "rises_to": "320 V"}, "SCREEN": {"volts": "20 V"},
        },
        wirings={"original": wiring, "substitute": wiring},
    ))  # fmt: skip
    figures = ["HT 320 V", "SCREEN 320 V", "CHARGER 90 V", "BATTERY 80 V"]
    assert f"50 V or more at {', '.join(figures)}." in " ".join(cautions_of(spec))
    plan = spec.wirings["substitute"]
    steps = " ".join(step.caution or "" for step in power_steps(spec, plan))
    assert f"live from here: {', '.join(figures)}, and every lug" in steps
    drawn = hook_up(spec, plan, 190.0, 97.0)
    assert drawn is not None
    shown = " ".join(item.text for item in drawn.items if isinstance(item, Text))
    assert set(re.findall(r"([0-9.]+) V", shown)) == {"320", "90", "80"}
