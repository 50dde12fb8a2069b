"""``rewire buzz``: what an ohmmeter must find, and which mistake explains what it found instead."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rewire.cli.between import Between
from rewire.cli.commands import HELP
from rewire.cli.outcome import Outcome, say_aside, write_documents
from rewire.cli.terminal import Line, progress_on, with_progress, write_report
from rewire.cli.trouble import trouble_of, worst_of

if TYPE_CHECKING:
    from rewire.bench.acceptance import Outcome as Tested
    from rewire.bench.buzz.network import State
    from rewire.bench.buzz.plan import Plan
    from rewire.bench.buzz.rank import Found
    from rewire.bench.buzz.suspects import Diagnosis
    from rewire.bench.calibration import Calibration
    from rewire.cli.wirings import Judged
    from rewire.reading.benchlog import BenchLog
    from rewire.records.spec import Notice, Spec, Wiring

BAD_ANSWER = 1
NOT_SETTLED = 3


@dataclass(frozen=True)
class Buzz:
    """What came of one wiring."""

    plan: Plan
    diagnosis: Diagnosis | None = None
    """What the readings say, if there are any."""
    calibration: Calibration | None = None
    acceptance: tuple[Tested, ...] = ()
    broken: bool = False
    """Whether the wiring as it is meant does not keep what the original does."""

    @property
    def is_bad(self) -> bool:
        """Whether anything that was measured is not as it should be."""
        wrong = self.diagnosis is not None and self.diagnosis.verdict == "wrong"
        off = self.calibration is not None and self.calibration.passed is False
        return wrong or off or any(one.passed is False for one in self.acceptance)

    @property
    def status(self) -> int:
        """Not settled where a reading tells nothing, being a beep where ohms must be read."""
        if self.is_bad:
            return BAD_ANSWER
        unsettled = self.diagnosis is not None and self.diagnosis.verdict == "not settled"
        return NOT_SETTLED if unsettled else 0


@dataclass(frozen=True)
class BuzzOutcome(Outcome["Buzz"]):
    """What came of one spec."""

    @property
    def status(self) -> int:
        """The exit status of this spec alone."""
        return self.worst((one.plan.wiring.name, one.status) for one in self.results)


@dataclass(frozen=True)
class _Asked:
    """What the command shall do."""

    wirings: Sequence[str]
    found: str | None
    asking: bool
    save: str | None
    seconds: float


@click.command(name="buzz", short_help=HELP["buzz"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option(
    "--wiring",
    "wirings",
    metavar="NAME",
    multiple=True,
    help="This wiring alone; may be given again. [default: every one but original]",
)
@click.option("--found", metavar="LOG", type=click.Path(), help="A bench log with readings.")
@click.option("--ask", "asking", is_flag=True, help="Ask for one reading at a time, the best next.")
@click.option(
    "--save", metavar="FILE", type=click.Path(), help="With --ask: write the readings as a log."
)
@click.option("--full", is_flag=True, help="Every pair of places in every position.")
@click.option(
    "--seconds",
    type=Between(min=0.0),
    default=60.0,
    show_default=True,
    help="Limit of the search for two mistakes at once, and for the shortest list (10 at most).",
)
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.pass_context
def command(
    ctx: click.Context,
    specs: Sequence[str],
    wirings: Sequence[str],
    found: str | None,
    asking: bool,
    save: str | None,
    full: bool,
    seconds: float,
    as_json: bool,
) -> None:
    """What must an ohmmeter find, power off? With readings: which mistake explains them?

    Without readings: the continuity table, and the fewest touches of the leads that show every
    single mistake. With --found or --ask: the suspects, best first, and what to touch next; a
    log's calibration runs and acceptance tests are judged too.

    A log is a file such as

    \b
      rewire_bench: 1
      wiring: substitute
      continuity:
        - {when: {METER: BIAS}, between: [S4.A, S4.A1], found: closed}
        - {when: {METER: BIAS}, between: [S4.C, CHASSIS], found: 9.1 ohm}

    With --json, each of "results" has "wiring", "states", "tests" ("state", "between", "expect",
    "ohms", "spread_percent", "diodes", "plus_at", "overloads", "short_list"), "at_least",
    "mistakes", "detectable", "hidden", "harmless", and with readings "verdict", "odd",
    "contradictions", "suspects" ("fault", "wire", "part" or "lugs", "explains", "contradicts",
    "belief_percent", "alike"), "misread_percent", "next" and "pairs"; with a log also
    "calibration" ("passed", "runs", "explanations", "movements") and "acceptance".

    \b
    Exit status, the worst of all specs:
      0  here is the table; or every reading is as it should be
      1  something that was measured is not as it should be
      2  a spec or a log cannot be read
      3  a limit was reached, or a beep where ohms must be read settles nothing
    """
    if (found or asking) and len(specs) > 1:
        raise click.UsageError("--found and --ask are about one SPEC.", ctx)
    if (found and asking) or (save and not asking):
        raise click.UsageError("--save goes with --ask, and --ask takes no --found.", ctx)
    asked = _Asked(wirings, found, asking, save, seconds)
    outcomes = list(with_progress("measuring", (_one(file, asked) for file in specs), len(specs)))
    for outcome in outcomes:
        say_aside(outcome)
    if as_json:
        from rewire.cli.buzz_json import buzzed

        write_documents("buzz", outcomes, lambda file, results: buzzed(file, results, full))
    else:
        _write_text(outcomes, full)
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _one(file: str, asked: _Asked) -> BuzzOutcome:
    from rewire.bench.wire_plan import renumbered
    from rewire.reading import read_spec

    notices: tuple[Notice, ...] = ()
    try:
        spec = renumbered(read_spec(file))
        notices = spec.notices
        return _answered(spec, asked)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        return BuzzOutcome(file, (), notices, trouble)


def _answered(spec: Spec, asked: _Asked) -> BuzzOutcome:
    from rewire.cli.outcome import one_by_one
    from rewire.cli.wirings import broken_ones, judged
    from rewire.reading.benchlog import read_bench_log

    own = judged(spec, asked.wirings)
    if asked.found is not None:
        only = own.names[0] if len(asked.wirings) == 1 else None
        log = read_bench_log(asked.found, spec, only)
        result = _of_log(spec, log, asked.seconds)
        result = replace(result, broken=bool(broken_ones(spec, [log.wiring])))
        return BuzzOutcome(spec.file, (result,), spec.notices, judged=judged(spec, [log.wiring]))
    if asked.asking:
        name = _only(spec, own)
        result = _asking(spec, name, asked)
        return BuzzOutcome(spec.file, (result,), spec.notices, judged=judged(spec, [name]))
    broken = broken_ones(spec, own.names)
    results, limits = one_by_one(own.names, lambda name: Buzz(
        _plan(spec, spec.wirings[name], (), asked.seconds), broken=name in broken
    ))  # fmt: skip
    return BuzzOutcome(spec.file, results, spec.notices, judged=own, limits=limits)


def _of_log(spec: Spec, log: BenchLog, seconds: float) -> Buzz:
    from rewire.bench.acceptance import outcomes
    from rewire.bench.buzz.logged import found_of, states_of_log
    from rewire.bench.calibration import calibration_of

    wiring = spec.wirings[log.wiring]
    states = states_of_log(spec, wiring, log)
    plan = _plan(spec, wiring, [state for own in states for state in own], seconds)
    found = found_of(plan.job, log, states)
    with _telling("pairs of mistakes") as tell:
        diagnosis = plan.diagnosed(found, seconds, tell)
    calibration = calibration_of(spec, wiring, log) if log.calibration else None
    tested = tuple(outcomes(spec, log)) if log.acceptance else ()
    return Buzz(plan, diagnosis, calibration, tested)


def _plan(spec: Spec, wiring: Wiring, also: Sequence[State], seconds: float) -> Plan:
    """What to touch; the search for the shortest list takes no longer than its own limit."""
    from rewire.bench.buzz.plan import plan_of
    from rewire.bench.buzz.shortlist import SECONDS

    return plan_of(spec, wiring, also, min(seconds, SECONDS))


def _only(spec: Spec, own: Judged) -> str:
    """The one wiring that questions can be about: the one named, or the only plan."""
    from rewire.cli.trouble import Complaint, Refused

    if len(own.names) == 1:
        return own.names[0]
    if len(own.counting) != 1:
        raise Refused(
            Complaint(
                "--ask is about one wiring", spec.file, hint=f"name one: --wiring {own.names[0]}"
            )
        )
    return next(iter(own.counting))


def _asking(spec: Spec, name: str, asked: _Asked) -> Buzz:
    from rewire.cli.buzz_ask import ask, save
    from rewire.cli.files import check_place

    if asked.save is not None:
        check_place(Path(asked.save), force=False)
    plan = _plan(spec, spec.wirings[name], (), asked.seconds)
    found: list[Found] = []
    try:
        with _ending_in_order():
            ask(plan, found)
    finally:  # broken off or not, what was typed is not typed again
        if asked.save is not None:
            save(plan, found, asked.save)
    with _telling("pairs of mistakes") as tell:
        return Buzz(plan, plan.diagnosed(found, asked.seconds, tell))


@contextmanager
def _ending_in_order() -> Iterator[None]:
    """Where the program is ended from outside, or its window closed, leave by the usual way."""

    def leave(number: int, _: object) -> None:
        raise SystemExit(128 + number)

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), leave) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


@contextmanager
def _telling(doing: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on standard error, if that is a terminal."""
    if not progress_on():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(doing, visible=False)

        def tell(done: int, of: int) -> None:
            progress.update(task, completed=done, total=of, visible=True)

        yield tell


def _write_text(outcomes: Sequence[BuzzOutcome], full: bool) -> None:
    from rewire.cli.buzz_report import report
    from rewire.cli.values import write_said

    for outcome in outcomes:
        if len(outcomes) > 1 and outcome.trouble is None:
            write_report([Line(f"{outcome.file}:")])
        for one in outcome.results:
            write_said(report(one, full))
