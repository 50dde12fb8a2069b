"""How fast, into docs/figures.md: `python -m tests.benchmarks.figures [--check]`.

Every figure is a ratio to a peer that does its share in the same run, on the same machine, so
that it can be held against another day's. With ``--check`` nothing is written; a ratio that got
worse by more than 30 % against the table, or is over its limit, ends it with 1.
"""

from __future__ import annotations

import argparse
import functools
import gc
import itertools
import math
import multiprocessing
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any
from unittest.mock import patch

from rewire.circuit.connectivity import QUESTIONS
from rewire.compare import compare, rules, while_switching
from rewire.reading import read_text
from tests.benchmarks.rigs import LARGEST, ganged, rig, seconds_a_state, states_of
from tests.figures import AIMS, Row, known_rows, write_rows

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
COMMAND = "make bench"
WORSE = 1.3
RIGS = {1_000: 10, 10_000: 2}
"""Rigs of a size, so that each size has about the same mix of switches; else one."""
PYTHON = sys.executable
IMPORTS = [PYTHON, "-c", "import click, yaml, networkx"]
ENTRY = [PYTHON, "-c", "from rewire.cli import main; main()"]
"""As the installed program does; `python -m` would add the search for the module."""


@dataclass(frozen=True)
class Figure:
    """A ratio, what it is and what it was made of; its limit stands in the table's aims."""

    name: str
    ratio: float
    made_of: str

    @property
    def kept(self) -> bool:
        """Whether the limit holds."""
        return AIMS[COMMAND][self.name].keeps(self.ratio) == "yes"

    def is_worse_than(self, before: float) -> bool:
        """By more than 30 %."""
        more_is_better = AIMS[COMMAND][self.name].least is not None
        return self.ratio < before / WORSE if more_is_better else self.ratio > before * WORSE


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
    """Seconds of processor time of a call, and what it gave; not of litter from before it."""
    gc.collect()
    start = time.process_time()
    found = function()
    return time.process_time() - start, found


def start_figures() -> Iterator[Figure]:
    """How long a command takes before it says anything."""
    libraries, helped, checked = least(
        IMPORTS, [*ENTRY, "--help"], [*ENTRY, "check", FLAGSHIP], rounds=7
    )
    made = f"{1000 * libraries:.0f} ms for click, yaml and networkx"
    yield Figure("start: `--help`", helped / libraries, f"{1000 * helped:.0f} ms; {made}")
    yield Figure("start: `check` of the flagship", checked / libraries, f"{1000 * checked:.0f} ms")


@dataclass(frozen=True)
class Cost:
    """What a rig costs: seconds of reading and of comparing, and the memory both take."""

    reading: float
    checking: float
    megabytes: float


def cost_of(lugs: int, seed: int) -> Cost:
    """The cost of one rig; the memory only in a process that did nothing else."""
    data = rig(lugs, seed)
    before = most_memory()
    reading, spec = used(lambda: read_text(data))
    checking, _ = used(lambda: compare(spec))
    return Cost(reading, checking, most_memory() - before)


def most_memory() -> float:
    """The most megabytes this process ever held (Linux; getrusage would count its parent's)."""
    status = Path("/proc/self/status").read_text("ascii").splitlines()
    held = next(line.split()[1] for line in status if line.startswith("VmHWM"))
    return int(held) / 1024


def mean_cost(lugs: int) -> Cost:
    """The mean over rigs of a size, each in a fresh process."""
    seeds = range(1, 1 + RIGS.get(lugs, 1))
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=fresh, max_tasks_per_child=1) as pool:
        costs = list(pool.map(functools.partial(cost_of, lugs), seeds))
    return Cost(
        reading=statistics.mean(cost.reading for cost in costs),
        checking=statistics.mean(cost.checking for cost in costs),
        megabytes=statistics.mean(cost.megabytes for cost in costs),
    )


def size_figures() -> Iterator[Figure]:
    """How reading and checking grow with a rig."""
    sizes = (1_000, LARGEST)
    costs = [mean_cost(size) for size in sizes]
    taken = costs[-1].checking
    yield Figure(f"checking {sizes[-1]:,} lugs, seconds", taken, f"{taken:.3g} s")
    for (small, large), (before, after) in zip(
        itertools.pairwise(sizes), itertools.pairwise(costs), strict=True
    ):
        for what, was, now, unit in (
            ("checking", before.checking, after.checking, "s"),
            ("reading", before.reading, after.reading, "s"),
            ("memory of", before.megabytes, after.megabytes, "MB"),
        ):
            power = math.log(now / was) / math.log(large / small)
            name = f"{what} {large:,} lugs after {small:,}: power of n"
            yield Figure(name, power, f"{was:.3g} {unit}, then {now:.3g} {unit}")


def anew_figures() -> Iterator[Figure]:
    """Checking a rig of 1,000 lugs, against a graph built anew for each of its states.

    Every knob multiplies the states, and with them what the peer must do; the check hardly
    notices. With a knob for each switch no peer would come to an end.
    """
    for knobs in (1, 2, 3):
        spec = read_text(ganged(1_000, knobs))
        checking = min(used(lambda spec=spec: compare(spec))[0] for _ in range(3))
        state, states = seconds_a_state(spec), states_of(spec)
        name = f"1,000 lugs on {knobs} knobs of 24: times faster than networkx in each state"
        made = f"{checking:.2f} s; {states:,} states of {1000 * state:.1f} ms"
        yield Figure(name, states * state / checking, made)


def in_step_figures() -> Iterator[Figure]:
    """Both questions about a move, against sections on their own alone."""
    spec = read_text(ganged(1_000, 1))
    alone = QUESTIONS[:1]
    times = []
    for _ in range(5):
        both, _ = used(lambda: compare(spec))
        with (
            patch.object(while_switching, "QUESTIONS", alone),
            patch.object(rules, "QUESTIONS", alone),
        ):
            one, _ = used(lambda: compare(spec))
        times.append((both, one))
    both, one = (min(each) for each in zip(*times, strict=True))
    made = f"{both:.2f} s, without {one:.2f} s"
    yield Figure("1,000 lugs: asked in step as well", both / one, made)


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
    yield Figure("a thousand flagships: all cores to one", together / alone, made)


def worked(command: Sequence[str], folder: str) -> float:
    """Seconds of processor time of a process and its threads, its modules compiled once."""
    kept = {**os.environ, "PYTHONPYCACHEPREFIX": folder, "PYTHONDONTWRITEBYTECODE": ""}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True, cwd=folder, env=kept)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def page_figures() -> Iterator[Figure]:
    """Card, sheet and page, against matplotlib writing pages with as many lines and words.

    The page says what the sheet says, so it has the sheet's peer. Aimed at are 0.5 for the sheet
    and 0.4 for the page.
    """
    with tempfile.TemporaryDirectory() as folder:
        for name, command in (
            ("card", ["draw", FLAGSHIP, "-o", "made.pdf"]),
            ("sheet", ["sheet", FLAGSHIP, "-o", "made.pdf"]),
            ("page", ["sheet", FLAGSHIP, "-o", "made.html"]),
        ):
            ours = [*ENTRY, *command, "--force"]
            worked(ours, folder)
            pages = [PYTHON, str(Path(__file__).parent / "pages.py")]
            worked([*pages, "count", "made.pdf", "counts.json"], folder)
            peer = [*pages, "write", "counts.json", "peer.pdf"]
            worked(peer, folder)
            pairs = [(worked(ours, folder), worked(peer, folder)) for _ in range(3)]
            mine, theirs = (min(times) for times in zip(*pairs, strict=True))
            made = f"{mine:.1f} s of the processor, matplotlib alone {theirs:.1f} s"
            yield Figure(f"{name} of the flagship", mine / theirs, made)


def machine() -> str:
    """What it was measured on."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text("utf-8").splitlines() if info.exists() else []
    named = [line.split(":")[1].strip() for line in lines if line.startswith("model name")]
    pages = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    versions = ", ".join(f"{name} {version(name)}" for name in ("networkx", "matplotlib"))
    return (
        f"{named[0] if named else platform.processor() or platform.machine()}, "
        f"{os.cpu_count()} cores, {pages / 2**30:.0f} GiB; {platform.system()} "
        f"{platform.release()}; Python {platform.python_version()}, {versions}; load {load}"
    )


def before() -> dict[str, float]:
    """The ratios of the table as it is."""
    cells = {what: row[2] for (command, what), row in known_rows().items() if command == COMMAND}
    return {what: float(cell.replace(",", "")) for what, cell in cells.items() if cell[0].isdigit()}


def main() -> int:
    """Measure; write the table, or hold it against the one that is there."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--check", action="store_true")
    options = asked.parse_args()
    old, figures = before(), []
    groups = (
        start_figures, anew_figures, in_step_figures, page_figures, batch_figures, size_figures
    )  # fmt: skip
    for group in groups:
        for figure in group():
            figures.append(figure)
            print(f"{figure.ratio:8.2f}  {figure.name}  ({figure.made_of})", flush=True)  # noqa: T201
    bad = [f"over its limit: {f.name}" for f in figures if not f.kept]
    bad += [f"worse than before: {f.name}, {old[f.name]:.2f} then" for f in figures
            if f.name in old and f.is_worse_than(old[f.name])]  # fmt: skip
    print("\n".join(bad) or "all limits kept")  # noqa: T201
    if options.check:
        return int(bool(bad))
    rows = [Row("measured on", machine()), *(Row(f.name, f.ratio, f.made_of) for f in figures)]
    write_rows(COMMAND, rows)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
