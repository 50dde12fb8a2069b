"""Many builds at once against a loop over numpy.linalg.solve, in the same run."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from rewire.reading import read_spec
from rewire.values.meter_circuit import Setup, Solved, answer
from rewire.values.solved import solved_of
from rewire.values.tolerance import Draw

FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"
SAMPLES = 10_000


def worked() -> Solved:
    spec = read_spec(FLAGSHIP)
    return solved_of(spec, spec.wirings["substitute"])


def batched(work: Solved, samples: int) -> list[np.ndarray]:
    """All readings of the flagship, one call for each."""
    return [
        answer(
            setup.circuit,
            Draw(samples).values(work.network, setup.circuit.values, work.known, "uniform"),
        ).amps
        for setup in work.setups.values()
    ]


def looped(work: Solved, samples: int) -> list[np.ndarray]:
    """The same builds one at a time: node equations set up and solved by numpy.linalg.solve."""
    found = []
    for setup in work.setups.values():
        drawn = Draw(samples).values(work.network, setup.circuit.values, work.known, "uniform")
        columns = [
            np.broadcast_to(branch.ohms(drawn), (samples,)) for branch in setup.circuit.branches
        ]
        ohms = np.array(columns).T
        found.append(np.array([one_build(setup, row) for row in ohms]))
    return found


def one_build(setup: Setup, ohms: np.ndarray) -> float:
    circuit = setup.circuit
    size = circuit.count
    matrix, right = np.zeros((size, size)), np.zeros((size, 1 + len(circuit.also)))
    for branch, value in zip(circuit.branches, ohms, strict=True):
        (a, b), siemens = branch.ends, 1.0 / max(value, 1e-9)
        matrix[a, a] += siemens
        matrix[b, b] += siemens
        matrix[a, b] -= siemens
        matrix[b, a] -= siemens
    for column, (a, b) in enumerate([circuit.ends, *(d.ends for d in circuit.also)]):
        right[a, column] += 1.0
        right[b, column] -= 1.0
    ground = circuit.ends[1]
    matrix[ground, :], right[ground, :] = 0.0, 0.0
    matrix[ground, ground] = 1.0
    volts = np.linalg.solve(matrix, right)
    own = circuit.amps
    if own is None:
        assert circuit.volts is not None
        own = circuit.volts / (circuit.source_ohms + volts[circuit.ends[0], 0])
    drive = np.array([own, *(d.amps for d in circuit.also)])
    assert circuit.meter is not None
    a, b = circuit.branches[circuit.meter].ends
    return float((volts[a] - volts[b]) @ drive / ohms[circuit.meter])


def timed(function, *args) -> float:  # type: ignore[no-untyped-def]
    """Seconds of processor time, so that what else the machine does plays no part."""
    start = time.process_time()
    function(*args)
    return time.process_time() - start


def test_ten_thousand_builds_at_once(benchmark: BenchmarkFixture) -> None:
    benchmark.pedantic(batched, (worked(), SAMPLES), rounds=5, warmup_rounds=1)


def test_a_tenth_of_them_one_by_one(benchmark: BenchmarkFixture) -> None:
    benchmark.pedantic(looped, (worked(), SAMPLES // 10), rounds=3, warmup_rounds=1)


def test_both_come_to_the_same() -> None:
    work = worked()
    for one, other in zip(batched(work, 200), looped(work, 200), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-6)


def test_fifty_times_faster_than_the_loop() -> None:
    work = worked()
    batched(work, 100)
    quick = min(timed(batched, work, SAMPLES) for _ in range(5))
    slow = min(timed(looped, work, SAMPLES // 10) for _ in range(3)) * 10
    print(f"{slow / quick:.0f} times faster than the loop")  # noqa: T201 - shown with -s
    assert slow > 50 * quick


def test_the_cost_grows_with_the_samples_and_no_faster() -> None:
    work = worked()
    batched(work, 100)
    few = min(timed(batched, work, 20_000) for _ in range(5))
    many = min(timed(batched, work, 160_000) for _ in range(3))
    assert many / few == pytest.approx(8.0, rel=0.6)
