"""A small spec that uses every key of the format, and ways to spoil it."""

from __future__ import annotations

import copy
from typing import Any

import yaml

from rewire.reading import SpecError, read_text
from rewire.records.spec import Spec

Path = tuple[str | int, ...]


def full() -> dict[str, Any]:
    """Every key of the format once, all of them right."""
    return copy.deepcopy(_FULL)


def bare(**wirings: Any) -> dict[str, Any]:
    """The least that reads: one control, two points, two wirings."""
    return {
        "rewire": "1",
        "title": "bare",
        "controls": {"K": ["P", "Q", "R"]},
        "points": {"CH": {"chassis": "yes"}, "X": {}},
        "parts": {},
        "wirings": {"original": {}, "substitute": {}} | wirings,
    }


def put(spec: dict[str, Any], path: Path, value: Any) -> dict[str, Any]:
    """The spec with the value at a path replaced (made where there was none)."""
    holder: Any = spec
    for step in path[:-1]:
        holder = holder.setdefault(step, {}) if isinstance(holder, dict) else holder[step]
    holder[path[-1]] = value
    return spec


def drop(spec: dict[str, Any], path: Path) -> dict[str, Any]:
    """The spec without the key at a path."""
    holder: Any = spec
    for step in path[:-1]:
        holder = holder[step]
    del holder[path[-1]]
    return spec


def read(spec: Any) -> Spec:
    """Read a spec that is given as the mapping that its file would hold."""
    return read_text(as_yaml(spec))


def as_yaml(spec: Any) -> bytes:
    """The bytes of a file that holds the spec; libyaml where the wheel has it."""
    dumper = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
    return yaml.dump(spec, Dumper=dumper, sort_keys=False, allow_unicode=True).encode()


def faults(spec: Any) -> str:
    """All that is wrong with a spec, one line each; empty if nothing is."""
    try:
        read(spec)
    except SpecError as error:
        return str(error)
    return ""


def text_faults(text: str) -> str:
    """All that is wrong with a file."""
    try:
        read_text(text.encode(), "s.yaml")
    except SpecError as error:
        return str(error)
    return ""


_FULL: dict[str, Any] = {
    "rewire": "1",
    "title": "Everything",
    "equipment": "a test set",
    "summary": "all keys",
    "document": {"author": "bench", "date": "2025-01-01", "revision": "A", "licence": "CC0"},
    "controls": {
        "METER": ["BIAS", "CATHODE", "SCREEN"],
        "SEND": {"positions": ["OFF", "ON"], "wraps": "no", "moves": "any", "note": "push to talk"},
    },
    "never": [{"METER": "BIAS", "SEND": "ON"}],
    "points": {
        "CHASSIS": {"chassis": "yes"},
        "HT": {
            "volts": "250 V", "ac": "no", "rises_to": "380 V", "source_resistance": "1k5",
            "note": "from the pack", "where": "tag 3",
        },
        "FEED": {},
        "LINE": {},
    },
    "parts": {
        "R1": {
            "resistor": "0.22 ohm + 0.18 ohm", "tolerance": "5 %", "rating": "2 W",
            "working_volts": "350 V", "between": ["FEED", "CHASSIS"], "note": "n", "where": "w",
            "label": "old",
        },
        "C1": {"capacitor": "10 nF", "rating": "500 V", "polarised": "yes"},
        "L1": {"choke": "10 H", "resistance": "200 ohm"},
        "D1": {"diode": "0.6 V"},
        "H1": {"lamp": "6.3 V", "current": "150 mA"},
        "F1": {"fuse": "1 A", "resistance": "0.1 ohm"},
        "X1": {"strip": "5"},
        "X2": {"strip": ["a", "b", "GND"]},
    },
    "readings": {
        "bias": {
            "when": {"METER": "BIAS", "SEND": ["OFF", "ON"]}, "current": ["FEED", "CHASSIS"],
            "full_scale": "100 mA", "meter": "M1", "scale": "0-100", "ac": "no",
            "source_resistance": "1 ohm", "also": [{"current": ["HT", "FEED"], "amount": "6 mA"}],
            "marks": {"60 mA": "red line"}, "accept": "5 %",
        },
        "volts": {"voltage": ["HT", "CHASSIS"], "full_scale": "1 kV"},
    },
    "rules": [
        {
            "connect": ["FEED", "CHASSIS"], "within": "50 ohm", "while_switching": "yes",
            "when": {"METER": "BIAS"}, "why": "bias",
        },
        {"isolate": ["HT", "CHASSIS"], "beyond": "100 kohm"},
    ],
    "wirings": {
        "original": {
            "note": "as the maker built it",
            "parts": {
                "M1": {
                    "meter": "1 mA", "resistance": "50 ohm", "resistance_tolerance": "1 %",
                    "accuracy": "2 %", "zero": "left", "scales": ["0-100", "0-500"],
                },
                "S1": {
                    "switch": "3P3T", "control": "METER", "timing": {"1": "shorting"},
                    "style": "rotary", "layout": {"decks": "3"}, "contact_resistance": "0.02",
                    "rating": {"volts": "250 V", "amps": "2 A", "shaft_volts": "1 kV"},
                    "lugs": [
                        ["1", "2", "3", "4"], ["5", "6", "7", "8"], ["9", "10", "11", "12"],
                    ],
                    "positions": {"BIAS": "1", "CATHODE": "2", "SCREEN": "open"},
                },
                "S2": {
                    "switch": "table", "control": "SEND", "lugs": ["T", "R", "S"],
                    "contacts": {"ON": [["T", "R"]]},
                },
                "R12": {"resistor": "10 ohm"},
                "R13": {"resistor": "10 ohm"},
                "R20": {"resistor": "10 ohm"},
            },
            "nets": [["FEED", "R12.1", "S1.1"], ["M1.-", "CHASSIS"]],
            "wires": [
                ["S1.5", "M1.+", "RD"],
                {
                    "from": "S1.1", "to": "S1.5", "colour": "BKWH", "id": "J1", "gauge": "22 AWG",
                    "insulation": "600 V", "twisted_with": "W1", "screened": "yes",
                    "length": "40 mm", "note": "sleeve it",
                },
            ],
        },
        "substitute": {
            "role": "tried",
            "parts": {
                "M2": {"meter": "50 mV", "resistance": "unknown", "replaces": "M1"},
                "S1": {"switch": "DP3T", "control": "METER"},
                "S2": {
                    "switch": "SPST", "control": "SEND", "positions": {"OFF": "open", "ON": "1"},
                },
                "RV1": {
                    "pot": "25 ohm", "setting": "fit", "for": "bias", "tolerance": "10 %",
                    "rating": "1 W", "turns": "10", "replaces": {"ccw": "R12.1"},
                },
                "RV2": {"pot": "1k", "setting": "40 %"},
                "R13": {"resistor": "10 ohm", "replaces": {"2": "R12.2", "1": "R13.1"}},
                "R21": {"resistor": "fit", "for": "volts", "choose": "E24"},
            },
            "nets": {"feed": ["FEED", "RV1.ccw"]},
            "wires": [["S1.A", "M2.+"], ["CHASSIS", "cut", "BK"]],
            "changes": [
                {"insert": ["R21"], "between": ["FEED", "M1.+"], "why": "test resistor"},
                {"drop": ["FEED", "HT"], "when": {"METER": ["BIAS", "SCREEN"]}, "why": "meant"},
                {"join": ["FEED", "HT"]}, {"gap": ["FEED", "HT"]}, {"bridge": ["FEED", "HT"]},
                {"interrupt": ["FEED", "HT"]}, {"stray": ["FEED", "HT"], "reversible": "no"},
                {"remove": "R20", "why": "not needed"}, {"reverse": "M1"},
                {"link": ["R21"], "between": ["FEED", "HT"], "when": {"METER": "BIAS"}, "why": "w"},
            ],
            "readings": {"bias": {"current": ["FEED", "CHASSIS"], "full_scale": "50 mA"}},
        },
    },
    "bench": {
        "series_resistor": "100 ohm", "rating": "10 W", "supply_volts": "30 V",
        "supply_amps": "3 A",
    },
    "options": [
        {"meter": "200 uA", "resistance": "500 ohm", "resistance_tolerance": "5 %",
         "accuracy": "2 %", "replaces": "M1", "note": "from a drawer"},
    ],
    "cautions": ["stored charge"],
    "found": [{"what": "cut wire", "where": "deck B", "plan": "remove", "why": "loose"}],
    "procedure": {
        "before": [{"do": "unplug", "where": "rear", "caution": "hot"}],
        "after": [{"do": "buzz"}],
    },
    "acceptance": [{"test": "output", "how": "into 8 ohm", "expect": "20 W to 30 W"}],
    "pages": [
        {
            "image": "scans/page12.png", "title": "page 12",
            "notes": [{"at": ["0.42", "0.31"], "about": "R1"}, {"at": ["0", "1"], "text": "here"}],
        },
    ],
}  # fmt: skip
