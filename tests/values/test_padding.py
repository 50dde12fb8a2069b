"""Advice on a pot: what is advised is written into the spec, and must then do what was said."""

from __future__ import annotations

import re

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import PotAnswer
from rewire.values.wiring_values import values_of

OHMS = {"m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
SAID = re.compile(
    r"a pot of ([\d.]+) ([mkM]?)Ω"
    r"(?: with ([\d.]+) ([mkM]?)Ω at its (c?cw) end(?: and ([\d.]+) ([mkM]?)Ω at its (c?cw) end)?)?"
    r" needs (\d+) to (\d+) % of its travel, with ([\d.]+) times full scale"
)


def spec(
    kind: str, ohms: float, pads: dict[str, float], volts: float, meter: tuple[float, float]
) -> str:
    """A meter on a pot: as a divider across what is read, or in series with it."""
    amps, own = meter
    ends = {"ccw": "CHASSIS", "cw": "IN"} if kind == "divider" else {"ccw": "IN"}
    parts = [
        f"      M1: {{meter: {amps!r} A, resistance: {own!r} ohm, resistance_tolerance: 5 %, between: [RV1.wiper, CHASSIS]}}",
        f"      RV1: {{pot: {ohms!r} ohm, tolerance: 20 %, setting: fit, for: v}}",
    ]
    wires = [] if kind == "divider" else ["[RV1.wiper, RV1.cw]"]
    for end, place in ends.items():
        if pads.get(end):
            parts.append(
                f"      P{end}: {{resistor: {pads[end]!r} ohm, tolerance: 1 %, between: [RV1.{end}, {place}]}}"
            )
        else:
            wires.append(f"[RV1.{end}, {place}]")
    body = "\n".join(["    parts:", *parts, f"    wires: [{', '.join(wires)}]"])
    return (
        "rewire: 1\ntitle: pot\npoints: {IN: {}, CHASSIS: {chassis: yes}}\n"
        f"readings: {{v: {{voltage: [IN, CHASSIS], full_scale: {volts!r} V}}}}\n"
        f"wirings:\n  original:\n{body}\n  other:\n{body}\n"
    )


def pot(*args: object) -> PotAnswer:
    return values_of(read_text(spec(*args).encode()))[0].pots[0]  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["divider", "rheostat"])
@pytest.mark.parametrize("seed", range(6))
def test_what_is_advised_does_what_was_said(kind: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    meter = float(f"{10 ** rng.uniform(-4.3, -3):.2g}"), float(f"{10 ** rng.uniform(2, 3.3):.2g}")
    volts = float(f"{meter[0] * meter[1] * 10 ** rng.uniform(1, 3):.2g}")
    most = volts / meter[0] - meter[1]
    share = rng.uniform(0.03, 0.3) if kind == "divider" else rng.uniform(0.75, 0.95)
    ohms = float(f"{most * share if kind == 'divider' else most / share:.2g}")
    before = pot(kind, ohms, {}, volts, meter)
    assert before.advice is not None
    said = SAID.search(before.advice)
    if said is None:
        assert "with the meter shorted" in before.advice
        return
    track, unit, *ends = said.groups()
    pads = {end: float(n) * OHMS[u] for n, u, end in (ends[0:3], ends[3:6]) if n}
    low, high, times = (float(x) for x in said.groups()[-3:])
    after = pot(kind, float(track) * OHMS[unit], pads, volts, meter)
    assert after.lowest_percent == pytest.approx(low, abs=0.51)
    assert after.highest_percent == pytest.approx(high, abs=0.51)
    assert 10.0 <= after.lowest_percent <= after.highest_percent <= 90.0
    stops = [abs(x) for x in (after.at_ccw, after.at_cw) if x is not None]
    assert max(stops) == pytest.approx(times, rel=0.06)
    assert max(stops) <= 2.0
    assert after.reaches
    assert after.advice is None


def test_most_dividers_and_rheostats_get_a_computed_advice() -> None:
    """The sentence without figures is for what no usual pot can do."""
    assert SAID.search(pot("divider", 10e3, {}, 10.0, (1e-4, 1000.0)).advice or "")
    assert SAID.search(pot("rheostat", 100e3, {}, 10.0, (1e-4, 1000.0)).advice or "")
