"""`rewire buzz` on forty wires: every single mistake weighed, and every pair of them."""

from __future__ import annotations

import time
from functools import cache

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from rewire.bench.diagnosis import pairs, singles
from rewire.bench.evidence import Evidence, TouchReading, evidence
from rewire.bench.ohmmeter import apply, readings
from rewire.bench.short_list import Plan, plan_of
from rewire.reading.read import read_text

LUGS = [f"S{switch}.{pole}{throw}" for switch in (1, 2) for pole in "ABC" for throw in range(1, 5)]
COMMONS = {"S1.A": "M1.+", "S1.B": "M1.-", "S1.C": "P0", "S2.A": "P1", "S2.B": "P2", "S2.C": "P3"}


def forty_wires() -> bytes:
    """Two 3P4T switches, eight resistors, a meter, eight points; forty wires between them."""
    parts = [f"S{n}: {{switch: 3P4T, control: K, style: rotary}}" for n in (1, 2)]
    parts += ["M1: {meter: 1 mA, resistance: 100 ohm}"]
    parts += [f"R{n}: {{resistor: {10 * (n + 1)} ohm, tolerance: 1 %}}" for n in range(8)]
    ends = [f"R{n % 8}.{1 + n // 8}" if n < 16 else f"P{n % 8}" for n in range(24)]
    wires = [*zip(LUGS, ends, strict=True), *COMMONS.items()]
    wires += [(f"R{n}.1", f"P{(3 * n + 1) % 8}") for n in range(8)]
    wires += [("S1.A1", "S1.A2"), ("S2.C3", "S2.C4")]
    listed = "".join(f"      - [{one}, {other}]\n" for one, other in wires)
    points = ", ".join(f"P{n}: {{}}" for n in range(8))
    return (
        f"rewire: 1\ntitle: forty wires\ncontrols: {{K: [A, B, C, D]}}\npoints: {{{points}}}\n"
        "wirings:\n  original: &same\n    parts:\n"
        + "".join(f"      {part}\n" for part in parts)
        + f"    wires:\n{listed}  other: *same\n"
    ).encode()


@cache
def planned() -> Plan:
    spec = read_text(forty_wires())
    return plan_of(spec, spec.wirings["other"], seconds=2.0)


@cache
def seen() -> Evidence:
    """The continuity table of a wiring with two mistakes."""
    plan = planned()
    job = plan.job
    left_out = [m for m in plan.mistakes if m.kind == "left out"][3]
    bridge = [m for m in plan.mistakes if m.kind == "bridge"][5]
    touches = [job.touch(probe.state, probe.between) for probe in plan.table]
    ohms = readings(apply(job.network, left_out.edit), [bridge.edit], job.states, touches)[:, 0]
    return evidence(
        job, [found(touch, float(value)) for touch, value in zip(touches, ohms, strict=True)]
    )


def found(touch: object, ohms: float) -> TouchReading:
    if ohms == np.inf:
        return TouchReading(touch, "open")  # type: ignore[arg-type]
    return TouchReading(touch, "ohms", ohms) if ohms else TouchReading(touch, "closed")  # type: ignore[arg-type]


def test_all_singles(benchmark: BenchmarkFixture) -> None:
    plan, evidence_ = planned(), seen()
    assert len(plan.wiring.wires) == 40
    benchmark.pedantic(singles, (evidence_, plan), rounds=5, warmup_rounds=1)


def test_all_singles_in_under_a_second_and_far_faster_than_one_by_one() -> None:
    # In turn, so that whatever else the machine does slows both; the least is least disturbed.
    plan, evidence_ = planned(), seen()
    some = plan.mistakes[:: len(plan.mistakes) // 100]
    together, alone = [], []
    for _ in range(5):
        start = time.process_time()
        singles(evidence_, plan)
        together.append((time.process_time() - start) / len(plan.mistakes))
        start = time.process_time()
        for mistake in some:
            readings(plan.job.network, [mistake.edit], plan.job.states, evidence_.touches)
        alone.append((time.process_time() - start) / len(some))
    assert min(together) * len(plan.mistakes) < 1.0
    assert min(alone) > 20.0 * min(together)


def test_all_pairs_in_under_a_minute() -> None:
    plan, evidence_ = planned(), seen()
    costs = singles(evidence_, plan)
    few = [plan.mistakes[n] for n in plan.shown.few]
    told: list[int] = []
    start = time.process_time()
    search = pairs(
        evidence_, few, costs[list(plan.shown.few)], 600.0, lambda done, _: told.append(done)
    )
    assert time.process_time() - start < 60.0
    assert search.is_whole
    assert told == list(range(1, len(few) + 1))
    assert {m.kind for m in search.best[0].mistakes} == {"left out", "bridge"}
