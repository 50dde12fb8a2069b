"""`rewire check`: how long it takes to start, and how its time grows with the set."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from rewire.compare import compare
from rewire.reading import read_text
from tests.benchmarks.rigs import rig

FLAGSHIP = str(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
IMPORTS = [sys.executable, "-c", "import click, yaml, networkx"]
CHECK = [sys.executable, "-m", "rewire", "check", FLAGSHIP]


def run(command: list[str]) -> float:
    """Seconds that a process takes from start to end."""
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - start


def test_the_libraries_alone(benchmark: BenchmarkFixture) -> None:
    benchmark.pedantic(run, (IMPORTS,), rounds=7, warmup_rounds=1)


def test_the_flagship(benchmark: BenchmarkFixture) -> None:
    benchmark.pedantic(run, (CHECK,), rounds=7, warmup_rounds=1)


def test_the_flagship_takes_little_more_time_than_the_libraries() -> None:
    # In turn, so that whatever else the machine does slows both; the least is least disturbed.
    pairs = [(run(IMPORTS), run(CHECK)) for _ in range(9)]
    libraries, check = (min(times) for times in zip(*pairs, strict=True))
    assert check <= 1.8 * libraries, f"{check:.2f} s, the libraries alone {libraries:.2f} s"


@pytest.mark.parametrize("lugs", [1_000, 10_000])
def test_a_rig(benchmark: BenchmarkFixture, lugs: int) -> None:
    data = rig(lugs)
    results = benchmark.pedantic(lambda: compare(read_text(data)), rounds=1)
    assert len(results) == 1
