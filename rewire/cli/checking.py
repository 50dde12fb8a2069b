"""Reading and comparing specs, one or many, for ``rewire check``."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from dataclasses import dataclass

from rewire.cli.trouble import BAD_INPUT, Complaint, Trouble, trouble_of
from rewire.compare import Result, compare
from rewire.spec import Notice, Spec, read_spec
from rewire.spec.report import listed, nearest, shown

BROKEN = 1
_WORST_FIRST = (2, 3, 1, 0)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one spec: results, or the trouble that kept them away."""

    file: str
    results: tuple[Result, ...] = ()
    notices: tuple[Notice, ...] = ()
    trouble: Trouble | None = None

    @property
    def status(self) -> int:
        """The exit status of this spec alone."""
        if self.trouble is not None:
            return self.trouble.status
        return BROKEN if any(result.verdict == "broken" for result in self.results) else 0


def worst_status(outcomes: Iterable[Outcome]) -> int:
    """One exit status for all: bad input over a limit over broken over good."""
    statuses = {outcome.status for outcome in outcomes}
    return next(status for status in _WORST_FIRST if status in statuses or status == 0)


def check_one(file: str, wirings: Sequence[str]) -> Outcome:
    """Read one spec and compare the wirings named, or every one but the original.

    What the user can mend comes back as trouble; nothing of the kind is raised.
    """
    notices: tuple[Notice, ...] = ()
    try:
        spec = read_spec(file)
        notices = spec.notices
        unknown = _unknown_wiring(spec, wirings)
        if unknown is not None:
            return Outcome(file, (), notices, unknown)
        return Outcome(file, compare(spec, wirings or None), notices)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        return Outcome(file, (), notices, trouble)


def check_many(files: Sequence[str], wirings: Sequence[str], jobs: int) -> Iterator[Outcome]:
    """Outcomes in the order of the files; several at a time if ``jobs`` is more than one."""
    if min(jobs, len(files)) == 1:
        yield from (check_one(file, wirings) for file in files)
        return
    with ProcessPoolExecutor(min(jobs, len(files)), initializer=_end_on_interrupt) as pool:
        tasks = [pool.submit(check_one, file, wirings) for file in files]
        for file, task in zip(files, tasks, strict=True):
            try:
                yield task.result()
            except BrokenProcessPool:
                yield Outcome(file, trouble=_ended_from_outside(file))


def with_progress(outcomes: Iterator[Outcome], count: int) -> Iterator[Outcome]:
    """The same outcomes, with a bar on standard error while they come, if it is a terminal."""
    if count == 1 or not sys.stderr.isatty():
        yield from outcomes
        return
    from rich.console import Console
    from rich.progress import track

    bar = track(outcomes, "checking", total=count, transient=True, console=Console(file=sys.stderr))
    with closing(bar):  # type: ignore[type-var]
        yield from bar


def _unknown_wiring(spec: Spec, wirings: Sequence[str]) -> Trouble | None:
    others = [wiring.name for wiring in spec.others]
    unknown = [name for name in wirings if name not in others]
    if not unknown:
        return None
    return Trouble(BAD_INPUT, tuple(_no_wiring(spec.file, name, others) for name in unknown))


def _no_wiring(file: str, name: str, others: Sequence[str]) -> Complaint:
    if name == "original":
        message = "'original' is what the other wirings are compared with"
    else:
        message = f"no wiring is called {shown(name)}"
    close = nearest(name, others)
    hint = f"nearest is {shown(close)}" if close else f"known here: {listed(others)}"
    return Complaint(message, file, hint=hint)


def _ended_from_outside(file: str) -> Trouble:
    message = "the process that checked it was ended from outside"
    hint = "memory may have run out: try again with --jobs 1"
    return Trouble(BAD_INPUT, (Complaint(message, file, hint=hint),))


def _end_on_interrupt() -> None:
    # Ctrl-C reaches every process: the workers end silently, the one that started them speaks.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
