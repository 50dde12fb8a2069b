"""All figures of speed as one table: `python -m tests.benchmarks.figures [--check]`.

Every figure is a ratio to a peer that does its share in the same run, on the same machine, so
that it can be held against another day's. With ``--check`` nothing is written; a ratio that got
worse by more than 30 % against the table in docs/figures.md, or is over its limit, ends it with 1.
"""

from __future__ import annotations

import argparse
import functools
import itertools
import json
import math
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from rewire.compare import compare
from rewire.spec import read_text
from rewire.spec.model import Spec
from tests.benchmarks.rigs import LARGEST, built_anew, rig

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
TABLE = ROOT / "docs" / "figures.md"
WORSE = 1.3
PYTHON = sys.executable
IMPORTS = [PYTHON, "-c", "import click, yaml, pydantic, networkx"]
ENTRY = [PYTHON, "-c", "from rewire.cli import main; main()"]
"""As the installed program does; `python -m` would add the search for the module."""


@dataclass(frozen=True)
class Figure:
    """A ratio, what it is, what it was made of, and the limit it must keep."""

    name: str
    ratio: float
    limit: float
    made_of: str
    at_least: bool = False

    @property
    def kept(self) -> bool:
        """Whether the limit holds."""
        return self.ratio >= self.limit if self.at_least else self.ratio <= self.limit

    def is_worse_than(self, before: float) -> bool:
        """By more than 30 %."""
        return self.ratio < before / WORSE if self.at_least else self.ratio > before * WORSE


def run(command: Sequence[str], cwd: str | None = None) -> float:
    """Seconds of a process from start to end."""
    start = time.perf_counter()
    subprocess.run(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, cwd=cwd
    )
    return time.perf_counter() - start


def least(*commands: Sequence[str], rounds: int) -> list[float]:
    """The least seconds of each, run in turn, so that whatever else happens slows all."""
    for command in commands:
        run(command)
    times = [[run(command) for command in commands] for _ in range(rounds)]
    return [min(each) for each in zip(*times, strict=True)]


def used(function: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds of processor time of a call, and what it gave."""
    start = time.process_time()
    found = function()
    return time.process_time() - start, found


def start_figures() -> Iterator[Figure]:
    """How long a command takes before it says anything."""
    libraries, helped, checked = least(
        IMPORTS, [*ENTRY, "--help"], [*ENTRY, "check", FLAGSHIP], rounds=7
    )
    made = f"{1000 * libraries:.0f} ms for click, yaml, pydantic and networkx"
    yield Figure("start: `--help`", helped / libraries, 1.5, f"{1000 * helped:.0f} ms; {made}")
    yield Figure(
        "start: `check` of the flagship", checked / libraries, 2.0, f"{1000 * checked:.0f} ms"
    )


def most_memory(spec: Spec) -> int:
    """Bytes that a comparison holds at its height."""
    tracemalloc.start()
    compare(spec)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def size_figures(most: int) -> Iterator[Figure]:
    """How checking grows with a rig, and how it stands beside a graph built for each state."""
    sizes = [size for size in (1_000, 10_000, LARGEST) if size <= most]
    reading, checking = [], []
    for lugs in sizes:
        data = rig(lugs)
        seconds, spec = used(lambda data=data: read_text(data))
        reading.append(seconds)
        checking.append(used(lambda spec=spec: compare(spec))[0])
        if lugs == sizes[0]:
            memory = [most_memory(spec), most_memory(read_text(rig(2 * lugs)))]
            anew = built_anew(spec)
            faster = anew / checking[0]
    for label, times in (("checking", checking), ("reading", reading)):
        steps = zip(itertools.pairwise(sizes), itertools.pairwise(times), strict=True)
        for (small, large), (before, after) in steps:
            power = math.log(after / before) / math.log(large / small)
            name = f"{label} {large:,} lugs after {small:,}: power of n"
            yield Figure(name, power, 1.15, f"{before:.3f} s, then {after:.3f} s")
    power = math.log(memory[1] / memory[0]) / math.log(2)
    made = f"{memory[0] / 1e6:.1f} MB, then {memory[1] / 1e6:.1f} MB"
    yield Figure("memory of checking 2,000 lugs after 1,000: power of n", power, 1.1, made)
    what = f"{checking[0]:.3f} s; networkx {anew:.2f} s, one control at a time"
    yield Figure("checking 1,000 lugs: times faster than a graph in each state", faster, 20.0,
                 what, at_least=True)  # fmt: skip


def batch_figures() -> Iterator[Figure]:
    """A thousand specs in one call, on one core and on all."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(FLAGSHIP).read_bytes()
        files = [f"{number}.yaml" for number in range(1000)]
        for file in files:
            (Path(folder) / file).write_bytes(data)
        alone = run([*ENTRY, "check", "--jobs", "1", *files], folder)
        together = run([*ENTRY, "check", *files], folder)
    cores = os.cpu_count() or 1
    made = f"{alone:.1f} s on one core, {together:.1f} s on {cores}"
    limit = 1.0 if cores == 1 else 0.75
    yield Figure("a thousand flagships: all cores to one", together / alone, limit, made)


def page_figures() -> Iterator[Figure]:
    """Pictures and sheet, against matplotlib writing pages with as many lines and words."""
    with tempfile.TemporaryDirectory() as folder:
        for name, command in (
            ("pictures", ["draw", FLAGSHIP, "-o", "made.pdf"]),
            ("sheet", ["sheet", FLAGSHIP, "-o", "made.pdf"]),
        ):
            ours = [*ENTRY, *command]
            run(ours, folder)
            pages = [PYTHON, str(Path(__file__).parent / "pages.py")]
            run([*pages, "count", "made.pdf", "counts.json"], folder)
            peer = [*pages, "write", "counts.json", "peer.pdf"]
            pairs = [(run(ours, folder), run(peer, folder)) for _ in range(2)]
            mine, theirs = (min(times) for times in zip(*pairs, strict=True))
            made = f"{mine:.1f} s, matplotlib alone {theirs:.1f} s"
            yield Figure(f"{name} of the flagship", mine / theirs, 3.0, made)
            (Path(folder) / "made.pdf").unlink()


def machine() -> str:
    """What it was measured on."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text("utf-8").splitlines() if info.exists() else []
    named = [line.split(":")[1].strip() for line in lines if line.startswith("model name")]
    pages = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    versions = ", ".join(
        f"{name} {version(name)}" for name in ("networkx", "matplotlib", "pydantic")
    )
    return (
        f"{named[0] if named else platform.processor() or platform.machine()}, "
        f"{os.cpu_count()} cores, {pages / 2**30:.0f} GiB; {platform.system()} "
        f"{platform.release()}; Python {platform.python_version()}, {versions}; load {load}"
    )


def table(figures: Sequence[Figure]) -> str:
    """The page of the table; the ratios stand in it once more for ``--check``."""
    rows = [
        f"| {f.name} | {f.ratio:.2f} | {'at least' if f.at_least else 'at most'} {f.limit:g} "
        f"| {'yes' if f.kept else '**no**'} | {f.made_of} |"
        for f in figures
    ]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return "\n".join([
        "# Figures", "",
        "Made by `make bench`; do not edit. Ratios to a peer in the same run.", "",
        f"Measured on: {machine()}. Largest memory of the run: {peak:.0f} MB.", "",
        "| what | ratio | limit | kept | made of |", "| --- | --- | --- | --- | --- |",
        *rows, "",
        f"<!-- {json.dumps({f.name: round(f.ratio, 4) for f in figures})} -->", "",
    ])  # fmt: skip


def before() -> dict[str, float]:
    """The ratios of the table as it is."""
    line = TABLE.read_text("utf-8").splitlines()[-1]
    found: dict[str, float] = json.loads(line.removeprefix("<!-- ").removesuffix(" -->"))
    return found


def main() -> int:
    """Measure; write the table, or hold it against the one that is there."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--check", action="store_true")
    asked.add_argument("--most", type=int, default=LARGEST, help="lugs of the largest rig")
    options = asked.parse_args()
    old = before() if options.check else {}
    sizes = functools.partial(size_figures, options.most)
    figures = []
    for group in (start_figures, page_figures, batch_figures, sizes):
        for figure in group():
            figures.append(figure)
            print(f"{figure.ratio:8.2f}  {figure.name}  ({figure.made_of})", flush=True)  # noqa: T201
        if not options.check:
            TABLE.write_text(table(figures), "utf-8")
    bad = [f"over its limit: {f.name}" for f in figures if not f.kept]
    bad += [f"worse than before: {f.name}, {old[f.name]:.2f} then" for f in figures
            if f.name in old and f.is_worse_than(old[f.name])]  # fmt: skip
    print("\n".join(bad) or "all limits kept")  # noqa: T201
    return 1 if bad and options.check else 0


if __name__ == "__main__":
    raise SystemExit(main())
