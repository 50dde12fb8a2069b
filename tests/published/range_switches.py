"""Range switches as printed: each whole circuit of range-switches.yaml, switch and all.

A resistor as printed is held against what the program would fit in its place, and the movement's
current at full scale, where the source says it, against what the program solves with the
resistors as printed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial
from pathlib import Path
from typing import Any

import yaml

from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.wiring_values import values_of
from tests.published.record import Record, exact_ohms, half_digit

Circuit = Mapping[str, Any]
CIRCUITS: dict[str, Circuit] = yaml.safe_load(
    (Path(__file__).parent / "range-switches.yaml").read_text("utf-8")
)


def chain(throw: int) -> tuple[str, str]:
    return ("FOOT" if throw == 1 else f"S1.A{throw - 1}", f"S1.A{throw}")


def separate(throw: int) -> tuple[str, str]:
    return "FOOT", f"S1.A{throw}"


def shunts(throw: int) -> tuple[str, str]:
    return "IN", f"S1.A{throw}"


def ring(throw: int) -> tuple[str, str]:
    return ("OUT" if throw == 1 else f"S1.A{throw - 1}", f"S1.A{throw}")


LAYOUTS: dict[str, tuple[Callable[[int], tuple[str, str]], str, str]] = {
    "chain": (chain, "FOOT", "IN"),
    "separate": (separate, "FOOT", "IN"),
    "shunts": (shunts, "IN", "OUT"),
    "ring": (ring, "top of the ring", "IN"),
}
"""Layout → where a throw's resistor goes, the movement's plus, and where the common goes."""


def spec_of(circuit: Circuit, fit: bool = True, cut: int | None = None) -> str:
    """The circuit as a spec; its second wiring is the same but for the wire to throw ``cut``."""
    ends, plus, common = LAYOUTS[circuit["layout"]]
    ranges, meter = circuit["ranges"], circuit["movement"]
    throws = range(1, len(ranges) + 1)
    plus = f"S1.A{len(ranges)}" if circuit["layout"] == "ring" else plus
    quantity = "voltage" if "V" in next(iter(ranges)) else "current"
    timing = "shorting" if circuit["layout"] == "shunts" else "non-shorting"
    parts = {
        "S1": {"switch": f"1P{max(2, len(ranges))}T", "control": "RANGE", "timing": timing},
        "M1": {"meter": meter["full_scale"], "resistance": meter["resistance"]},
    }
    wires = [["S1.A", common], ["M1.-", "OUT"]]
    if "series" in circuit:
        parts["RM"] = {"resistor": circuit["series"]}
        wires += [["M1.+", "RM.1"], ["RM.2", plus]]
    else:
        wires.append(["M1.+", plus])
    for throw, ohms in zip(throws, ranges.values(), strict=True):
        parts[f"R{throw}"] = (
            {"resistor": "fit", "for": f"r{throw}"} if fit else {"resistor": f"{ohms} ohm"}
        )
        foot, tap = ends(throw)
        wires += [[f"R{throw}.1", foot], [f"R{throw}.2", tap]]
    names = [name.replace(" ", "") for name in ranges]
    names += ["SPARE"] * (len(names) == 1)
    readings = {
        f"r{throw}": {
            "when": {"RANGE": names[throw - 1]},
            quantity: ["IN", "OUT"],
            "full_scale": fs,
        }
        for throw, fs in zip(throws, ranges, strict=True)
    }
    left = [wire for wire in wires if wire != [f"R{cut}.2", f"S1.A{cut}"]]
    return yaml.safe_dump(
        {
            "rewire": 1, "title": "a range switch", "controls": {"RANGE": names},
            "points": {"IN": {}, "OUT": {}, "FOOT": {}}, "parts": parts, "readings": readings,
            "wirings": {"original": {"wires": wires}, "other": {"wires": left}},
        },
        sort_keys=False,
    )  # fmt: skip


@cache
def solved(name: str, fit: bool) -> WiringValues:
    return values_of(read_text(spec_of(CIRCUITS[name], fit).encode()))[0]


def range_switches() -> Iterator[Record]:
    """Every printed figure of every circuit."""
    for name, circuit in CIRCUITS.items():
        yield from _shown(name, circuit) if "shown" in circuit else _fitted(name, circuit)


def _said(circuit: Circuit) -> str:
    meter = circuit["movement"]
    return f"{circuit['layout']}, {meter['full_scale']} and {meter['resistance']}"


def _fitted(name: str, circuit: Circuit) -> Iterator[Record]:
    looser = circuit.get("looser", {"share": 0.0, "why": None})
    for throw, (full_scale, ohms) in enumerate(circuit["ranges"].items(), 1):
        yield Record(
            topic="range switch",
            source=circuit["source"],
            known=circuit["known"],
            what=f"resistor of {full_scale} in a {_said(circuit)}",
            published=float(ohms),
            ours=partial(_ohms, name, throw),
            unit="Ω",
            within=max(half_digit(float(ohms)), looser["share"] * ohms),
            looser=looser["why"],
        )


def _ohms(name: str, throw: int) -> float:
    return exact_ohms(solved(name, True))[f"R{throw}"]


def _shown(name: str, circuit: Circuit) -> Iterator[Record]:
    for full_scale, amps in circuit["shown"].items():
        yield Record(
            topic="range switch",
            source=circuit["source"],
            known=circuit["known"],
            what=f"the movement at {full_scale} in a {_said(circuit)}, resistors as printed",
            published=1e6 * float(amps),
            ours=partial(_microamps, name, list(circuit["ranges"]).index(full_scale)),
            unit="µA",
            within=0.0501,
            exact=1e6 * circuit["exact"],
            departs=circuit["departs"],
        )


def _microamps(name: str, position: int) -> float:
    return 1e6 * (solved(name, False).readings[position].meter_amps or 0.0)
