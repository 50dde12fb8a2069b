"""Work at the bench: ``rewire moves`` and ``rewire buzz``."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import click

from rewire.bench.asking import Questions, likeliest, next_touch, questions
from rewire.bench.calibration import calibration_of
from rewire.bench.diagnosis import diagnosed
from rewire.bench.evidence import TouchReading, evidence, found_of, states_of_log
from rewire.bench.moves import default_source, default_targets, moves_of, with_verdict
from rewire.bench.ohmmeter import State, Touch
from rewire.bench.probes import Probe, expected
from rewire.bench.record import outcomes
from rewire.bench.short_list import SECONDS, Plan, plan_of
from rewire.bench.wire_plan import renumbered
from rewire.bench.work_list import Moves
from rewire.cli import HELP, NumberRange, json_option, named, specs_argument
from rewire.cli.answers import (
    BAD_ANSWER,
    LIMIT,
    Answerer,
    Complaint,
    Judged,
    Refused,
    SpecAnswers,
    answers_of,
    is_broken,
    known_names,
    progress_on,
    said_aside,
    wirings_judged,
    worst_of,
    write_json,
    write_out,
    write_text,
)
from rewire.cli.completion import names_of
from rewire.cli.files import check_place, write_whole
from rewire.reading.benchlog import BenchLog, read_bench_log
from rewire.records.spec import Spec, Wiring
from rewire.report import buzz as buzz_report, moves as moves_report
from rewire.report.buzz import Buzz, pair_said, state_said
from rewire.report.section import ReportSection
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import printable

_ANSWERS = "c closed, o open, ohms such as 12.3 or 4k7, s skip, u take back, q end"
_MOST = 1000
T = TypeVar("T")
_SHORT = {"closed": "c", "open": "o", "ol": "o", "skip": "s", "undo": "u", "quit": "q", "end": "q"}


@click.command(name="moves", short_help=HELP["moves"])
@specs_argument
@click.option(
    "--from", "source", metavar="WIRING", shell_complete=names_of("wirings"),
    help="Begin at this wiring. [default: what was found on the bench, else original]",
)  # fmt: skip
@click.option(
    "--to", "targets", metavar="WIRING", multiple=True, shell_complete=names_of("wirings"),
    help="End at this wiring; may be given again. [default: each that is planned]",
)  # fmt: skip
@json_option
@click.pass_context
def moves_command(
    ctx: click.Context, specs: Sequence[str], source: str | None, targets: Sequence[str],
    as_json: bool,
) -> None:  # fmt: skip
    """What to lift, move, add and remove to get from one wiring to another, in order.

    Reuses old wires where it can. Exchange --from and --to for the way back.
    Wires carry the numbers of the wiring at the end; one that it does not have is marked "old".

    \b
    Exit status, the worst of all specs:
      0  here is the list
      1  here is a list that must not be worked through: its wiring is broken
      2  a spec cannot be read, or has no wiring of that name
      3  a limit was reached
    """
    found = (_moves(file, source, targets) for file in specs)
    outcomes = said_aside("comparing", found, len(specs))
    if as_json:
        write_json("moves", outcomes, moves_report.result_as_json)
    else:
        write_text(outcomes, _told_by(moves_report.sections))
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _told_by(
    sections: Callable[[T], Iterable[ReportSection]],
) -> Callable[[SpecAnswers[T]], Iterator[ReportSection]]:
    """Each wiring told, one after the other."""
    return lambda outcome: (
        section for answer in outcome.answers.values() for section in sections(answer)
    )


def _moves(file: str, source: str | None, targets: Sequence[str]) -> SpecAnswers[Moves]:
    def work(spec: Spec) -> tuple[Judged, Answerer[Moves]]:
        known_names("wiring", filter(None, (source, *targets)), spec.wirings, spec.file)
        spec = renumbered(spec)
        start = source or default_source(spec, targets)
        ends = targets or default_targets(spec, start)
        if not ends:
            hint = "add the one that is planned, under any name"
            raise Refused(Complaint(f"there is no wiring but {start}", file, hint=hint))

        def answer(end: str) -> tuple[Moves, int]:
            found = with_verdict(spec, moves_of(spec, start, end))
            return found, BAD_ANSWER * found.broken

        return wirings_judged(spec, ends), answer

    return answers_of(file, work)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire buzz`` was asked."""

    specs: Sequence[str]
    wirings: Sequence[str]
    found: str | None
    asking: bool
    save: str | None
    full: bool
    seconds: float
    as_json: bool

    def plan(self, spec: Spec, wiring: Wiring, also: Sequence[State] = ()) -> Plan:
        """What to touch; the search for the shortest list takes no longer than its own limit."""
        return plan_of(spec, wiring, also, min(self.seconds, SECONDS))


@click.command(name="buzz", short_help=HELP["buzz"])
@specs_argument
@named(
    "--wiring", "wirings",
    "Read out this wiring alone; may be given again. [default: each that is planned]",
)  # fmt: skip
@click.option(
    "--found",
    metavar="LOG",
    type=click.Path(),
    help="Say which mistakes explain the readings in this bench log.",
)
@click.option("--ask", "asking", is_flag=True, help="Ask for one reading at a time, the best next.")
@click.option(
    "--save", metavar="FILE", type=click.Path(), help="Write the readings of --ask to a bench log."
)
@click.option(
    "--full",
    is_flag=True,
    help="Also print each contact and every pair of lugs and points, in every position.",
)
@click.option(
    "--seconds", type=NumberRange(min=0.0), default=60.0, show_default=True,
    help="Stop the search for two mistakes at once after so long, and for the shortest list (10 at "
    "most).",
)  # fmt: skip
@json_option
@click.pass_context
def buzz_command(ctx: click.Context, /, **given: Any) -> None:
    """What must an ohmmeter find, power off? With readings: which mistake explains them?

    Without readings: the fewest readings that find any single wiring mistake. With --found or
    --ask: what to read next, and the suspects, best first; a log's calibration runs and
    acceptance tests are judged too.

    A log is a file such as

    \b
      rewire_bench: 1
      wiring: substitute
      continuity:
        - {when: {METER: BIAS}, between: [S4.A, S4.A1], found: closed}
        - {when: {METER: BIAS}, between: [S4.C, CHASSIS], found: 9.1 ohm}

    \b
    Exit status, the worst of all specs:
      0  table printed, or all readings correct
      1  something that was measured is not as it should be
      2  a spec or a log cannot be read
      3  a limit was reached, or a beep where ohms must be read settles nothing
    """
    asked = _Asked(**given)
    if (asked.found or asked.asking) and len(asked.specs) > 1:
        raise click.UsageError("--found and --ask are about one SPEC.", ctx)
    if (asked.found and asked.asking) or (asked.save and not asked.asking):
        raise click.UsageError("--save goes with --ask, and --ask takes no --found.", ctx)
    found = (answers_of(file, lambda spec: _buzz(spec, asked)) for file in asked.specs)
    outcomes = said_aside("measuring", found, len(asked.specs))
    if asked.as_json:
        write_json("buzz", outcomes, lambda told: buzz_report.result_as_json(told, asked.full))
    else:
        told = buzz_report.full_sections if asked.full else buzz_report.sections
        write_text(outcomes, _told_by(told))
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _buzz(spec: Spec, asked: _Asked) -> tuple[Judged, Answerer[Buzz]]:
    spec = renumbered(spec)
    own = wirings_judged(spec, asked.wirings)
    if asked.asking:
        own = wirings_judged(spec, [_only(spec, own)])
        return own, lambda name: _with_status(_answered(spec, name, asked))
    if asked.found is None:
        if not asked.as_json:  # nobody buzzes out what comes out, unless he names it
            own = replace(own, names=tuple(name for name in own.names if name in own.counting))
        return own, lambda name: _with_status(
            Buzz(asked.plan(spec, spec.wirings[name]), broken=is_broken(spec, name))
        )
    only = own.names[0] if len(asked.wirings) == 1 else None
    log = read_bench_log(asked.found, spec, only)
    return wirings_judged(spec, [log.wiring]), lambda _: _with_status(_of_log(spec, log, asked))


def _with_status(one: Buzz) -> tuple[Buzz, int]:
    return one, BAD_ANSWER if one.is_bad else LIMIT * one.is_unsettled


def _of_log(spec: Spec, log: BenchLog, asked: _Asked) -> Buzz:
    wiring = spec.wirings[log.wiring]
    states = states_of_log(spec, wiring, log)
    plan = asked.plan(spec, wiring, [state for own in states for state in own])
    with _telling("pairs of mistakes") as tell:
        diagnosis = diagnosed(plan, found_of(plan.job, log, states), asked.seconds, tell)
    calibration = calibration_of(spec, wiring, log) if log.calibration else None
    tested = tuple(outcomes(spec, log)) if log.acceptance else ()
    return Buzz(plan, diagnosis, calibration, tested, is_broken(spec, log.wiring))


def _only(spec: Spec, own: Judged) -> str:
    """The one wiring that questions can be about: the one named, or the only plan."""
    if len(own.names) == 1:
        return own.names[0]
    if len(own.counting) != 1:
        hint = f"name one: --wiring {own.names[0]}"
        raise Refused(Complaint("--ask is about one wiring", spec.file, hint=hint))
    return next(iter(own.counting))


def _answered(spec: Spec, name: str, asked: _Asked) -> Buzz:
    if asked.save is not None:
        check_place(Path(asked.save), force=False)
    plan = asked.plan(spec, spec.wirings[name])
    found: list[TouchReading] = []
    try:
        with _ending_in_order():
            _ask(plan, found)
    finally:  # broken off or not, what was typed is not typed again
        if asked.save is not None:
            _save(plan, found, asked.save)
    with _telling("pairs of mistakes") as tell:
        return Buzz(plan, diagnosed(plan, found, asked.seconds, tell))


def _ask(plan: Plan, found: list[TouchReading]) -> None:
    """Readings, one touch at a time; questions go to standard error, answers come line by line.

    Args:
        plan: of the wiring.
        found: receives each reading as it is typed, so that none is lost if this is broken off.
    """
    asked = questions(plan)
    skipped: list[Touch] = []
    _say(f"{plan.wiring.name}: power off, everything discharged. Answers: {_ANSWERS}.")
    for number in range(1, _MOST):
        touch = next_touch(asked, found, skipped)
        if touch is None:
            _say("Enough is known.")
            return
        answer = _answer(number, plan.probe(touch), found)
        if answer == "q":
            return
        if answer == "u":
            _take_back(plan, found, skipped)
        elif answer == "s":
            skipped.append(touch)
        else:
            found.append(_found(touch, answer, number))
            _say(_judged(plan, found[-1]))
            _say_best_guess(asked, found)


def _judged(plan: Plan, one: TouchReading) -> str:
    seen = evidence(plan.job, [one])
    if seen.only_beeped[0]:
        should = expected(plan.probe(one.touch))
        return f"   a beeper cannot tell {should} from a short: read the ohms (u takes it back)"
    if not seen.odd[0]:
        return "   as it should be"
    return f"   not as it should be: {expected(plan.probe(one.touch))}"


def _say_best_guess(asked: Questions, found: Sequence[TouchReading]) -> None:
    mistake, belief = likeliest(asked, found)
    if mistake is not None:
        _say(f"   best guess so far: {mistake.text} ({100 * belief:.0f} %)")


def _say(text: str) -> None:
    click.echo(printable(text), err=True)


def _answer(number: int, probe: Probe, found: Sequence[TouchReading]) -> str:
    at = state_said(probe.state)
    where = f"{at}: " if at else ""
    mind = " (through a delicate movement: highest range)" if probe.overloads else ""
    while True:
        click.echo(
            printable(f"{number}. {where}{pair_said(probe.between)}{mind}? "), err=True, nl=False
        )
        line = sys.stdin.readline()
        if not line:
            _say("")
            return "q"
        word = line.strip()
        if _is_answer(word, found):
            return _SHORT.get(word.lower(), word)


def _is_answer(word: str, found: Sequence[TouchReading]) -> bool:
    short = _SHORT.get(word.lower(), word)
    if short == "u" and not found:
        _say("There is nothing to take back.")
        return False
    if short in ("c", "o", "s", "u", "q"):
        return True
    try:
        quantity.read(word, quantity.OHMS)
    except BadQuantity as error:
        _say(f"{error.message}; answer {_ANSWERS}")
        return False
    return True


def _take_back(plan: Plan, found: list[TouchReading], skipped: list[Touch]) -> None:
    last = found.pop()
    skipped.clear()
    _say(f"Taken back: {pair_said(plan.probe(last.touch).between)}.")


def _found(touch: Touch, answer: str, number: int) -> TouchReading:
    said = f"answer {number}"
    if answer == "c":
        return TouchReading(touch, "closed", None, said)
    if answer == "o":
        return TouchReading(touch, "open", None, said)
    return TouchReading(touch, "ohms", quantity.read(answer, quantity.OHMS), said)


def _save(plan: Plan, found: Sequence[TouchReading], path: str) -> None:
    """Write readings as a bench log; on standard output if the file cannot be written.

    Raises:
        Refused, OSError: see ``write_whole``.
    """
    text = "".join(f"{line}\n" for line in _log(plan, found))
    try:
        write_whole(Path(path), text.encode("utf-8"), force=False)
    except (Refused, OSError):
        write_out(text)
        raise
    _say(f"{path}: written")


def _log(plan: Plan, found: Sequence[TouchReading]) -> Iterator[str]:
    yield "rewire_bench: 1"
    yield f"wiring: {plan.wiring.name}"
    yield "continuity:" if found else "continuity: []"
    for one in found:
        probe = plan.probe(one.touch)
        when = ", ".join(f"{_quoted(name)}: {_quoted(at)}" for name, at in probe.state.items())
        between = ", ".join(_quoted(place) for place in probe.between)
        read = one.told if one.ohms is None else f"{one.ohms:g} ohm"
        yield f"  - {{when: {{{when}}}, between: [{between}], found: {read}}}" + _aside(probe, one)


def _aside(probe: Probe, one: TouchReading) -> str:
    should = expected(probe)
    return "" if one.told == probe.expect != "ohms" else f"  # should be {should}"


def _quoted(text: str) -> str:
    if text.replace("_", "").replace(".", "").isalnum():
        return text
    return json.dumps(text, ensure_ascii=False)  # which is YAML


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
