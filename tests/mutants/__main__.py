"""Does a test notice a small change? A sample of changes to comparing, solving and values.

``python -m tests.mutants [--minutes 10] [--sample 300] [--seed 0] [FILE …]``: the quick tests of
these floors run once, which tells the tests that run each line; then each change is made in a
process of its own, which runs those tests, the quickest first, until one fails. Printed is what
no test noticed.
"""

from __future__ import annotations

import argparse
import ast
import functools
import gc
import os
import random
import resource
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from coverage import Coverage

from tests.figures import Row, write_rows
from tests.mutants import plugin
from tests.mutants.changes import Change, changes_in

ROOT = Path(__file__).parents[2]
FLOORS = ("circuit", "compare", "values")
TESTS = [f"tests/{name}" for name in ("circuit", "compare", "reference", "values", "published")]
MOST_SECONDS = 20.0
"""Of tests for one change, by the processor."""


@dataclass
class Trial:
    """The tests as a pytest plugin: run once, then again for each change."""

    minutes: float
    sample: int
    dice: random.Random
    trees: dict[Path, ast.Module]
    """The files that are changed, as they were when it began."""
    seconds: dict[str, float] = field(default_factory=dict)
    killed: int = 0
    survivors: list[str] = field(default_factory=list)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of pytest's own loop."""
        by_line = self.tests_by_line(session.items)
        for cache in _caches():  # what was worked out before a change would hide it
            cache.cache_clear()
        functions = _functions()
        tests = {item.nodeid: item for item in session.items}
        every = [(file, change) for file, tree in self.trees.items() for change in changes_in(tree)]
        drawn = [(file, change) for file, change in every if (file, change.line) in by_line]
        self.dice.shuffle(drawn)
        end = time.monotonic() + 60.0 * self.minutes
        for file, change in drawn[: self.sample]:
            if time.monotonic() > end:
                break
            names = sorted(by_line[file, change.line], key=self.seconds.__getitem__)
            self.try_one(file, change, functions[str(file)], [tests[name] for name in names])
        return True

    def tests_by_line(self, items: Sequence[pytest.Item]) -> dict[tuple[Path, int], set[str]]:
        """File and line → the tests that run it, all of which must pass."""
        covered = Coverage(data_file=None, config_file=False, include=[*map(str, self.trees)])
        kept = _caches()
        covered.start()
        for item in items:
            for cache in kept:  # what an earlier test worked out would hide lines of this one
                cache.cache_clear()
            covered.switch_context(item.nodeid)
            before = time.process_time()
            if not _passes(item):
                pytest.exit(f"{item.nodeid} fails with nothing changed", 1)
            self.seconds[item.nodeid] = time.process_time() - before
        covered.stop()
        data, found = covered.get_data(), defaultdict(set)
        for file in self.trees:
            for line, names in data.contexts_by_lineno(str(file)).items():
                found[file, line].update(name for name in names if name)
        return {at: names for at, names in found.items() if names}

    def try_one(
        self, file: Path, change: Change, functions: list[FunctionType], tests: list[pytest.Item]
    ) -> None:
        """Make a change in a child process and run the tests there."""
        child = os.fork()
        if child == 0:
            chosen = self.affordable(tests)
            seconds = sum(self.seconds[test.nodeid] for test in chosen)
            resource.setrlimit(resource.RLIMIT_CPU, (int(3 + 2 * seconds),) * 2)
            code = compile(change.made_in(self.trees[file]), str(file), "exec")
            _end_as_tests_say(code, functions, chosen)
        _, status = os.waitpid(child, 0)
        if status:
            self.killed += 1
            return
        place = f"{file.relative_to(ROOT)}:{change.line}"
        self.survivors.append(f"{place}: {change.was}  ->  {change.now}")
        print(self.survivors[-1], flush=True)  # noqa: T201

    def affordable(self, tests: list[pytest.Item]) -> list[pytest.Item]:
        """The first of some tests, as many as there is time for."""
        spent, chosen = 0.0, []
        for test in tests:
            spent += self.seconds[test.nodeid]
            if chosen and spent > MOST_SECONDS:
                break
            chosen.append(test)
        return chosen

    def rows(self) -> list[Row]:
        """What goes into the table of figures."""
        tried = self.killed + len(self.survivors)
        share = 100.0 * self.killed / max(1, tried)
        return [
            Row("small changes that a quick test notices, %", share),
            Row("small changes tried", tried),
        ]


def _passes(item: pytest.Item) -> bool:
    return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


def _caches() -> list[functools._lru_cache_wrapper[Any]]:
    return [kept for kept in gc.get_objects() if isinstance(kept, functools._lru_cache_wrapper)]


def _functions() -> dict[str, list[FunctionType]]:
    """File → all functions of it that there are, however they are wrapped."""
    found: dict[str, list[FunctionType]] = defaultdict(list)
    for one in gc.get_objects():
        if isinstance(one, FunctionType):
            found[one.__code__.co_filename].append(one)
    return found


def _codes(code: CodeType) -> Iterator[CodeType]:
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield inner
            yield from _codes(inner)


def _end_as_tests_say(
    changed: CodeType, functions: list[FunctionType], tests: list[pytest.Item]
) -> None:
    """In the child: 0 if all tests pass, 1 if one fails; an endless loop is ended by the system."""
    try:
        _put_in(changed, functions)
        os._exit(0 if all(map(_passes, tests)) else 1)
    except BaseException:  # noqa: BLE001 - whatever it was, somebody noticed
        os._exit(1)


def _put_in(changed: CodeType, functions: list[FunctionType]) -> None:
    """Give every function the code that it has in the changed file."""
    codes = {(code.co_qualname, code.co_firstlineno): code for code in _codes(changed)}
    for function in functions:
        old = function.__code__
        function.__code__ = codes.get((old.co_qualname, old.co_firstlineno), old)


def main(words: Sequence[str] | None = None) -> int:
    """Try a sample; 1 if fewer than 90 of 100 were noticed."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--sample", type=int, default=300)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("files", nargs="*", help="files to change; else all of three floors")
    options = asked.parse_args(words)
    rooms = [Path(name).resolve() for name in options.files]
    rooms = rooms or [p for floor in FLOORS for p in sorted((ROOT / "rewire" / floor).glob("*.py"))]
    trees = {path: ast.parse(path.read_text("utf-8")) for path in rooms}
    trial = Trial(options.minutes, options.sample, random.Random(options.seed), trees)
    own: Any = [trial, plugin]
    told = ["-q", "-m", "not slow", "-p", "no:cacheprovider", "--hypothesis-profile=mutants"]
    told += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # the plugin brings hypothesis
    status = pytest.main([*told, *TESTS], plugins=own)
    rows = trial.rows()
    print("\n".join(f"{row.what}: {row.value:.3g}" for row in rows))  # noqa: T201
    if status or not trial.killed:
        return int(status) or 1
    if not options.files:
        write_rows("make mutants", rows)
    return int(rows[0].value < 90.0)


if __name__ == "__main__":
    os.environ["OMP_NUM_THREADS"] = "1"
    sys.exit(main())
