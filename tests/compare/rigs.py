"""Rigs made by rule, for what must hold at any size."""

from __future__ import annotations

from typing import Any

import yaml

from rewire.compare import compare
from rewire.compare.findings import Result
from rewire.reading import read_text
from rewire.records.switches import pole_letters

Spec = dict[str, Any]


def result_of(spec: Spec, wiring: str = "substitute") -> Result:
    """What the program finds, from the text of a spec."""
    read = read_text(yaml.safe_dump(spec, sort_keys=False, allow_unicode=True).encode())
    return compare(read, [wiring])[0]


def one_switch(timing_here: str, timing_there: str, common: str, throws: list[str]) -> Spec:
    """One pole whose common and throws go to points; the substitute differs in timing alone."""

    def wiring(timing: str) -> Spec:
        switch = {"switch": f"SP{len(throws)}T", "control": "K", "timing": timing}
        wires = [["S.A", common], *([f"S.A{n}", point] for n, point in enumerate(throws, 1))]
        return {"parts": {"S": switch}, "wires": wires}

    return {
        "rewire": "1",
        "title": "one switch",
        "controls": {"K": [f"P{n}" for n in range(len(throws))]},
        "points": {point: {} for point in [common, *throws]},
        "wirings": {"original": wiring(timing_here), "substitute": wiring(timing_there)},
    }


def chassis_rig(controls: int, positions: int) -> Spec:
    """Unrelated controls with their commons on one chassis; the substitute lacks a wire each."""
    parts = {}
    wires = []
    points: Spec = {"CHASSIS": {"chassis": "yes"}}
    for k in range(controls):
        parts[f"S{k}"] = {"switch": f"SP{positions}T", "control": f"K{k}"}
        wires.append([f"S{k}.A", "CHASSIS"])
        for n in range(1, positions + 1):
            points[f"N{k}_{n}"] = {}
            wires.append([f"S{k}.A{n}", f"N{k}_{n}"])
    kept = [wire for wire in wires if not wire[0].endswith(".A1")]
    return {
        "rewire": "1",
        "title": "unrelated controls",
        "controls": {f"K{k}": [f"P{n}" for n in range(positions)] for k in range(controls)},
        "points": points,
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "substitute": {"parts": parts, "wires": kept},
        },
    }


def bandswitch(sections: int, positions: int, timings: tuple[str, str]) -> Spec:
    """One control moving many sections, every other common on one bus, throws shared in pairs.

    The last two throws of a pole go to one place, so that a gap there would be seen.
    """

    def wiring(timing: str) -> Spec:
        switch = {"switch": f"{sections}P{positions}T", "control": "BAND", "timing": timing}
        return {"parts": {"S": switch}, "wires": wires}

    wires = []
    points: Spec = {"BUS": {}}
    for number, letter in enumerate(pole_letters(sections)):
        wires.append([f"S.{letter}", "BUS" if number % 2 else f"C{number}"])
        points.setdefault(f"C{number}", {})
        for n in range(1, positions + 1):
            point = f"N{number // 2}_{min(n, positions - 1)}"
            points.setdefault(point, {})
            wires.append([f"S.{letter}{n}", point])
    return {
        "rewire": "1",
        "title": "bandswitch",
        "controls": {"BAND": [f"B{n}" for n in range(positions)]},
        "points": points,
        "wirings": {"original": wiring(timings[0]), "substitute": wiring(timings[1])},
    }
