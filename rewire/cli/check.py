"""``rewire check``: does the wiring keep every original connection?"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.outcome import say_aside, write_documents
from rewire.cli.terminal import with_progress, write_report
from rewire.cli.trouble import worst_of

if TYPE_CHECKING:
    from rewire.cli.checking import CheckOutcome


@click.command(name="check", short_help=HELP["check"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.option(
    "--wiring",
    "wirings",
    metavar="NAME",
    multiple=True,
    help="Check this wiring alone; may be given again. Of original it is asked whether it keeps "
    "the spec's own rules. [default: every one but original]",
)
@click.option(
    "--jobs",
    type=click.IntRange(min=1),
    metavar="N",
    default=lambda: os.cpu_count() or 1,
    help="Specs checked at a time. [default: one per processor]",
)
@click.pass_context
def command(
    ctx: click.Context, specs: Sequence[str], as_json: bool, wirings: Sequence[str], jobs: int
) -> None:
    """Does the wiring keep every original connection, at rest and while switching?

    One SPEC gives the full report, verdict first; several give one line each, and are checked
    in parallel. With --json, one spec gives one JSON document, several give an array of such
    documents in the order of the arguments. A spec that cannot be read has "errors" there
    instead of "results", one that is beyond a limit has "limit".

    \b
    The plans are told first, then what was found on the bench. Exit status, the worst of all
    specs (2 over 3 over 1 over 0):
      0  every plan is kept, or changed as declared
      1  a plan is broken, or a wiring asked for with --wiring
      2  a spec cannot be read
      3  a limit was reached
    """
    from rewire.cli.checking import check_many

    checked = check_many(specs, wirings, jobs)
    outcomes = list(with_progress("checking", checked, len(specs)))
    for outcome in outcomes:
        say_aside(outcome)
    if as_json:
        from rewire.cli.as_json import checked as document

        write_documents("check", outcomes, document)
    else:
        _write_text(outcomes)
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _write_text(outcomes: Sequence[CheckOutcome]) -> None:
    from rewire.cli.check_report import report, summary

    if len(outcomes) > 1:
        write_report((summary(outcome) for outcome in outcomes), columns=sys.maxsize)
        return
    only = outcomes[0]
    if only.trouble is None:
        write_report(report(only.results))
