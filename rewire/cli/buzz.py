"""``rewire buzz``: what an ohmmeter must find, and which mistake explains what it found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import click

from rewire.bench.calibration import calibration_of, outcomes
from rewire.bench.diagnosis import diagnosed
from rewire.bench.evidence import TouchReading, found_of, states_of_log
from rewire.bench.ohmmeter import State
from rewire.bench.short_list import SECONDS, Plan, plan_of
from rewire.bench.wire_plan import renumbered
from rewire.cli.answers import (
    Answerer,
    Judged,
    answers_of,
    is_broken,
    one_wiring,
    said_aside,
    told_by,
    wirings_judged,
    write_json,
    write_text,
)
from rewire.cli.files import check_free, check_place
from rewire.cli.options import (
    file_option,
    flag_option,
    json_option,
    named,
    number_option,
    specs_argument,
)
from rewire.cli.terminal import progress
from rewire.cli.touches import asked_one_by_one
from rewire.cli.trouble import BAD_ANSWER, LIMIT
from rewire.reading.benchlog import BenchLog, read_bench_log
from rewire.records.spec import Spec, Wiring
from rewire.report.buzz import Buzz, full_sections, result_as_json, sections


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire buzz`` was asked."""

    specs: Sequence[str]
    wirings: Sequence[str]
    found: Path | None
    ask: bool
    save: Path | None
    full: bool
    seconds: float
    as_json: bool

    def plan(self, spec: Spec, wiring: Wiring, also: Sequence[State] = ()) -> Plan:
        """What to touch; the search for the shortest list takes no longer than its own limit."""
        return plan_of(spec, wiring, also, min(self.seconds, SECONDS))


@click.command("buzz")
@specs_argument
@named(
    "--wiring",
    "wirings",
    "Read out this wiring alone; may be given again. [default: each that is planned]",
)
@file_option("--found", "LOG", "Say which mistakes explain the readings in this bench log.")
@flag_option("--ask", "Ask for one reading at a time, the best next.")
@file_option("--save", "FILE", "Write the readings of --ask to a bench log.")
@flag_option(
    "--full", "Also print each contact and every pair of lugs and points, in every position."
)
@number_option(
    "--seconds",
    "SECONDS",
    (0.0,),
    "Stop the search for two mistakes at once after so long, and for the shortest list (10 at "
    "most).",
    60.0,
)
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
    if (asked.found or asked.ask) and len(asked.specs) > 1:
        raise click.UsageError("--found and --ask are about one SPEC.", ctx)
    if (asked.found and asked.ask) or (asked.save and not asked.ask):
        raise click.UsageError("--save goes with --ask, and --ask takes no --found.", ctx)
    found = (answers_of(file, partial(_worked, asked)) for file in asked.specs)
    outcomes = said_aside("measuring", found, len(asked.specs))
    if asked.as_json:
        ctx.exit(write_json("buzz", outcomes, lambda told: result_as_json(told, asked.full)))
    ctx.exit(write_text(outcomes, told_by(full_sections if asked.full else sections)))


def _worked(asked: _Asked, spec: Spec) -> tuple[Judged, Answerer[Buzz]]:
    spec = renumbered(spec)
    own = wirings_judged(spec, asked.wirings)
    if asked.ask:
        name = one_wiring(spec, asked.wirings, "--ask is about one wiring")
        return wirings_judged(spec, [name]), lambda _: _with_status(_answered(spec, name, asked))
    if asked.found is None:
        if not asked.as_json:  # what comes out is buzzed only if it is asked for by name
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
    found = _diagnosed(plan, found_of(plan.job, log, states), asked)
    calibration = calibration_of(spec, wiring, log) if log.calibration else None
    tested = tuple(outcomes(spec, log)) if log.acceptance else ()
    broken = is_broken(spec, log.wiring)
    return replace(found, calibration=calibration, acceptance=tested, broken=broken)


def _answered(spec: Spec, name: str, asked: _Asked) -> Buzz:
    if asked.save is not None:
        check_free(asked.save)
        check_place(asked.save, force=False)
    plan = asked.plan(spec, spec.wirings[name])
    return _diagnosed(plan, asked_one_by_one(plan, asked.save), asked)


def _diagnosed(plan: Plan, found: Sequence[TouchReading], asked: _Asked) -> Buzz:
    with progress("pairs of mistakes") as tell:
        return Buzz(plan, diagnosed(plan, found, asked.seconds, tell))
