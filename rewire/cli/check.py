"""``rewire check``: does the wiring keep every original connection? And ``rewire schema``."""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.answers import (
    SpecAnswers,
    answers_of,
    said_aside,
    wirings_judged,
    write_json,
    write_text,
)
from rewire.cli.options import flag_option, json_option, named, number_option, specs_argument
from rewire.cli.terminal import write_out, write_sections
from rewire.cli.trouble import BAD_ANSWER, BAD_INPUT, LIMIT, Complaint, Trouble, worst_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from rewire.cli.answers import Answerer, Judged
    from rewire.records.spec import Spec, Wiring
    from rewire.report.checked import Checked
    from rewire.report.section import Words

    Comparing = Callable[[Spec, str], Checked]

_WATCHED = 0.5
"""Seconds between two looks of a worker at whether its parent is still there."""


@click.command("check")
@specs_argument
@json_option
@named(
    "--wiring",
    "wirings",
    "Check this wiring alone; may be given again. For original, only the "
    "spec's own rules are checked. [default: every one but original]",
)
@flag_option(
    "--full",
    "Also print the evidence: each connection lug by lug, as it was and as it is now, "
    "and every lug that is not used.",
)
@number_option(
    "--jobs",
    "N",
    (1,),
    "Check so many specs at a time. [default: one per processor]",
    lambda: os.cpu_count() or 1,
)
@click.pass_context
def check_command(ctx: click.Context, /, specs: Sequence[str], jobs: int, **given: Any) -> None:
    """Does the wiring keep every original connection, at rest and while switching?

    One SPEC gives the verdict, what to do next, and each fault with the smallest change that
    mends it, if one was found; several give one line each, and are checked in parallel. What
    mends a fault is about connections alone: rewire values says what stands the volts.

    With --json, one spec gives one JSON document, several give an array of such documents in
    the order of the arguments. A spec that cannot be read has "errors" there instead of
    "results", one that is beyond a limit has "limit".

    The plans are told first, then what was found on the bench.

    \b
    Exit status, the worst of all specs (2 over 3 over 1 over 0):
      0  every plan is kept, or changed as declared
      1  a plan is broken, or a wiring asked for with --wiring
      2  a spec cannot be read
      3  a limit was reached
    """
    from rewire.report.checked import checked_as_json, full_sections, short_sections
    from rewire.report.section import ReportSection

    how = compared_and_mended if given["as_json"] or len(specs) == 1 else compared
    found = _check_many(specs, given["wirings"], jobs, how)
    outcomes = said_aside("checking", found, len(specs))
    if given["as_json"]:
        ctx.exit(write_json("check", outcomes, checked_as_json))
    if len(outcomes) == 1:
        told = full_sections if given["full"] else partial(short_sections, file=specs[0])
        answers = [*outcomes[0].answers.values()]
        ctx.exit(write_text(outcomes, lambda _: told(answers) if answers else ()))
    lines = ReportSection("verdict", "", tuple(map(summary, outcomes)))
    write_sections([lines], columns=sys.maxsize)
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def summary(outcome: SpecAnswers[Checked]) -> Words:
    """One spec among several, in one line."""
    from rewire.report.check import NOTHING_YET, TONES, brief, counted
    from rewire.report.section import Words

    if outcome.trouble is not None:
        wrong = counted(len(outcome.trouble.complaints), "error")
        limited = outcome.trouble.status == LIMIT
        said, mark = ("a limit was reached", "LIMIT:") if limited else (wrong, "UNREADABLE:")
        return Words(f"{outcome.file}: not checked, {said}", mark, tone="bad")
    results = [one.result for one in outcome.answers.values()]
    worst, said = brief(results, outcome.judged.counting)
    if not any(result.compared for result in results):
        return Words(f"{outcome.file}: {said}", f"{NOTHING_YET}:")
    return Words(f"{outcome.file}: {said}", f"{worst.upper()}:", tone=TONES[worst])


def compared(spec: Spec, name: str) -> Checked:
    """One wiring compared with the original; the original itself is held to the rules."""
    from rewire import compare
    from rewire.report.checked import Checked

    (result,) = compare.compare(spec, [name])
    wiring = spec.wirings[name]
    to_fit = any(part.fit_for for part in spec.parts_of(wiring).values())
    return Checked(result, readings=tuple(wiring.readings), to_fit=to_fit)


def compared_and_mended(spec: Spec, name: str) -> Checked:
    """The same, whether it goes into the panel, and what mends it where it is broken."""
    from rewire.compare.mounting import mountings

    wiring = spec.wirings[name]
    checked = replace(compared(spec, name), mountings=tuple(mountings(spec, wiring)))
    if checked.result.verdict != "broken":
        return checked
    from rewire.bench.mends import mends_of

    return replace(checked, mends=mends_of(spec, wiring, checked.result))


def check_one(file: str, wirings: Sequence[str], how: Comparing = compared) -> SpecAnswers[Checked]:
    """Read one spec and compare the wirings named, or every one but the original."""
    return answers_of(file, partial(judged_by, how, wirings))


def judged_by(
    how: Comparing, wirings: Sequence[str], spec: Spec
) -> tuple[Judged, Answerer[Checked]]:
    """Which wirings are compared, and what compares one."""
    coloured = _by_colour(spec)

    def answer(name: str) -> tuple[Checked, int]:
        checked = how(coloured, name)
        return checked, BAD_ANSWER * (checked.result.verdict == "broken")

    return wirings_judged(spec, wirings), answer


def _by_colour(spec: Spec) -> Spec:
    """Wires of a wiring that is no plan, by colour: their labels have the plan's numbers.

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


def _check_many(
    files: Sequence[str], wirings: Sequence[str], jobs: int, how: Comparing
) -> Iterator[SpecAnswers[Checked]]:
    """Outcomes in the order of the files; several at a time if ``jobs`` is more than one."""
    processes = min(jobs, len(files))
    if processes == 1:
        yield from (check_one(file, wirings, how) for file in files)
        return
    # Loaded here, for one spec does without.
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    # Where workers are started anew, not forked, they must not look for modules in this folder.
    os.environ.setdefault("PYTHONSAFEPATH", "1")
    with ProcessPoolExecutor(processes, initializer=_end_with, initargs=(os.getpid(),)) as pool:
        tasks = [pool.submit(check_one, file, wirings, how) for file in files]
        for file, task in zip(files, tasks, strict=True):
            try:
                yield task.result()
            except BrokenProcessPool:
                message = "the process that checked it was ended from outside"
                hint = "memory may have run out: try again with --jobs 1"
                trouble = Trouble(BAD_INPUT, (Complaint(message, file, hint=hint),))
                yield SpecAnswers(file, BAD_INPUT, trouble=trouble)


def _end_with(parent: int) -> None:
    """Have a worker end on Ctrl-C, and when the process that started it is gone."""
    # Ctrl-C reaches every process: the workers end silently, the one that started them speaks.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_WATCHED)
    os._exit(1)


@click.command("schema")
def schema_command() -> None:
    """Print the JSON Schema of specs, with which an editor completes and checks a spec."""
    from rewire.reading import json_schema

    write_out(json.dumps(json_schema(), indent=2) + "\n")
