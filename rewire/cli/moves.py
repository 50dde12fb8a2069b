"""``rewire moves``: from one wiring to another, in the order of the work."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import click

from rewire.bench.moves import default_source, default_targets, moves_of, with_verdict
from rewire.bench.wire_plan import renumbered
from rewire.bench.work_list import Moves
from rewire.cli.answers import (
    Answerer,
    Judged,
    answers_of,
    known_names,
    said_aside,
    told_by,
    wirings_judged,
    write_json,
    write_text,
)
from rewire.cli.options import json_option, names_of, one_name, specs_argument
from rewire.cli.trouble import BAD_ANSWER, refusal
from rewire.records.spec import Spec
from rewire.report.moves import result_as_json, sections


@click.command("moves")
@specs_argument
@one_name(
    "--from source",
    "wirings",
    "WIRING",
    "Begin at this wiring. [default: what was found on the bench, else original]",
)
@click.option(
    "--to",
    "targets",
    metavar="WIRING",
    multiple=True,
    shell_complete=names_of("wirings"),
    help="End at this wiring; may be given again. [default: each that is planned]",
)
@json_option
@click.pass_context
def moves_command(
    ctx: click.Context,
    specs: Sequence[str],
    source: str | None,
    targets: Sequence[str],
    as_json: bool,
) -> None:
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
    work = partial(_worked, source, targets)
    outcomes = said_aside("comparing", (answers_of(file, work) for file in specs), len(specs))
    if as_json:
        ctx.exit(write_json("moves", outcomes, result_as_json))
    ctx.exit(write_text(outcomes, told_by(sections)))


def _worked(
    source: str | None, targets: Sequence[str], spec: Spec
) -> tuple[Judged, Answerer[Moves]]:
    known_names("wiring", filter(None, (source, *targets)), spec.wirings, spec.file)
    spec = renumbered(spec)
    start = source or default_source(spec, targets)
    ends = targets or default_targets(spec, start)
    if not ends:
        hint = "add the one that is planned, under any name"
        raise refusal(f"there is no wiring but {start}", spec.file, hint)

    def answer(end: str) -> tuple[Moves, int]:
        found = with_verdict(spec, moves_of(spec, start, end))
        return found, BAD_ANSWER * found.broken

    return wirings_judged(spec, ends), answer
