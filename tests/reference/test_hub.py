"""The program agrees with the reference where many switches hang on one place.

What moves on one switch then reaches whatever stands on the others, which is where the program
asks about the fewest pairs and the reference about all.
"""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from tests.reference.compare import disagreements, run_program

Wires = list[list[str]]
TIMINGS = ("shorting", "non-shorting", "unknown")


def hub(luck: random.Random) -> dict[str, Any]:
    """Two to four small switches between a chassis and points, rewired with a few mistakes."""
    knobs = [f"K{number}" for number in range(luck.choice((2, 3, 3)))]
    parts = {f"S{n}": switch(luck, luck.choice(knobs)) for n in range(luck.choice((2, 3, 3)))}
    wires = [
        [f"{name}.{pole}{lug}", place(luck, f"{name}{pole}{lug}")]
        for name, part in parts.items()
        for pole in "AB"[: int(part["switch"][0])]
        for lug in ("", 1, 2, 3)
        if luck.random() < 0.9
    ]
    other = mistaken(wires, luck)
    points = sorted({wire[1] for wire in (*wires, *other)})
    turned = {name: {**part, "timing": timing(luck, part)} for name, part in parts.items()}
    return {
        "rewire": "1",
        "title": "a hub",
        "controls": {knob: ["P1", "P2", "P3"] for knob in knobs},
        "points": {point: {} for point in points},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "substitute": {"parts": turned, "wires": other},
        },
    }


def switch(luck: random.Random, knob: str) -> dict[str, str]:
    return {
        "switch": luck.choice(("1P3T", "2P3T")),
        "control": knob,
        "timing": luck.choice(TIMINGS),
    }


def timing(luck: random.Random, part: dict[str, str]) -> str:
    return luck.choice(TIMINGS) if luck.random() < 0.4 else part["timing"]


def place(luck: random.Random, own: str) -> str:
    """The chassis, one of two bars, or a point of its own."""
    return luck.choice(("CHASSIS", "CHASSIS", "BAR1", "BAR2", own, own, own))


def mistaken(wires: Wires, luck: random.Random) -> Wires:
    """Some wires lost, some on a place that belongs to another."""
    ends = [wire[1] for wire in wires]
    kept = [list(wire) for wire in wires if luck.random() > 0.06]
    for wire in kept:
        if luck.random() < 0.06:
            wire[1] = luck.choice(ends)
    return kept


@pytest.mark.parametrize("chunk", range(2))
def test_switches_around_a_chassis(chunk: int) -> None:
    for seed in range(chunk * 8, chunk * 8 + 8):
        spec = hub(random.Random(seed))
        found = disagreements(spec)
        assert not found, f"seed {seed}: {found[:3]}\n{json.dumps(spec)}"


def test_strays_and_interruptions_are_among_what_is_found() -> None:
    kinds = [f.kind for seed in range(60) for f in run_program(hub(random.Random(seed))).findings]
    assert min(kinds.count(kind) for kind in ("stray", "gap", "bridge")) > 5
    assert "interrupted" in kinds
