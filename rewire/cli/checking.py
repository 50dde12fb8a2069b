"""Reading and comparing specs, one or many, for ``rewire check``."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.cli.outcome import Outcome, one_by_one
from rewire.cli.trouble import BAD_INPUT, Complaint, Trouble, trouble_of
from rewire.cli.wirings import judged
from rewire.compare import Result, compare
from rewire.reading import read_spec
from rewire.records.spec import Notice, Spec, Wiring

BROKEN = 1
_WATCHED = 0.5
"""Seconds between two looks of a worker at whether its parent is still there."""


@dataclass(frozen=True)
class CheckOutcome(Outcome[Result]):
    """What came of checking one spec."""

    @property
    def status(self) -> int:
        """The exit status of this spec alone."""
        return self.worst((r.wiring, BROKEN * (r.verdict == "broken")) for r in self.results)


def check_one(file: str, wirings: Sequence[str]) -> CheckOutcome:
    """Read one spec and compare the wirings named, or every one but the original.

    The original compared with itself answers whether it keeps the rules.

    What the user can mend comes back as trouble; nothing of the kind is raised.
    """
    notices: tuple[Notice, ...] = ()
    try:
        spec = read_spec(file)
        notices = spec.notices
        asked = judged(spec, wirings)
        spec = _by_colour(spec)
        results, limits = one_by_one(asked.names, lambda name: compare(spec, [name])[0])
        return CheckOutcome(file, results, notices, judged=asked, limits=limits)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        return CheckOutcome(file, (), notices, trouble)


def _by_colour(spec: Spec) -> Spec:
    """The wires of what is no plan by their colours: their labels bear the plan's numbers.

    Which wire of the plan each of them becomes is a longer sum than the comparison.
    """
    wirings = {
        name: wiring if wiring.role in ("plan", None) else _coloured(wiring)
        for name, wiring in spec.wirings.items()
    }
    return replace(spec, wirings=wirings)


def _coloured(wiring: Wiring) -> Wiring:
    wires = tuple(replace(wire, id=wire.colour or "") for wire in wiring.wires)
    return replace(wiring, wires=wires)


def check_many(files: Sequence[str], wirings: Sequence[str], jobs: int) -> Iterator[CheckOutcome]:
    """Outcomes in the order of the files; several at a time if ``jobs`` is more than one."""
    if min(jobs, len(files)) == 1:
        yield from (check_one(file, wirings) for file in files)
        return
    yield from _several_at_a_time(files, wirings, min(jobs, len(files)))


def _several_at_a_time(
    files: Sequence[str], wirings: Sequence[str], jobs: int
) -> Iterator[CheckOutcome]:
    # Loaded here, for one spec does without.
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    # Where workers are started anew, not forked, they must not look for modules in this folder.
    os.environ.setdefault("PYTHONSAFEPATH", "1")
    with ProcessPoolExecutor(jobs, initializer=_end_with, initargs=(os.getpid(),)) as pool:
        tasks = [pool.submit(check_one, file, wirings) for file in files]
        for file, task in zip(files, tasks, strict=True):
            try:
                yield task.result()
            except BrokenProcessPool:
                yield CheckOutcome(file, trouble=_ended_from_outside(file))


def _ended_from_outside(file: str) -> Trouble:
    message = "the process that checked it was ended from outside"
    hint = "memory may have run out: try again with --jobs 1"
    return Trouble(BAD_INPUT, (Complaint(message, file, hint=hint),))


def _end_with(parent: int) -> None:
    """Have a worker end on Ctrl-C, and when the process that started it is gone."""
    # Ctrl-C reaches every process: the workers end silently, the one that started them speaks.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_WATCHED)
    os._exit(1)
