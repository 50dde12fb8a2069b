"""``rewire moves``: what to lift, move, add and remove to get from one wiring to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.outcome import Outcome, say_aside, write_documents
from rewire.cli.terminal import Line, with_progress, write_report
from rewire.cli.trouble import Complaint, Refused, trouble_of, worst_of

if TYPE_CHECKING:
    from rewire.bench.work_list import Moves  # noqa: F401 - named in a base class below
    from rewire.records.spec import Notice


@dataclass(frozen=True)
class MovesOutcome(Outcome["Moves"]):
    """What came of one spec's moves."""

    @property
    def status(self) -> int:
        """The exit status of this spec alone."""
        return self.worst((moves.target, int(moves.broken)) for moves in self.results)


@click.command(name="moves", short_help=HELP["moves"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option(
    "--from",
    "source",
    metavar="WIRING",
    help="The wiring that is there. [default: what was found on the bench, else original]",
)
@click.option(
    "--to",
    "targets",
    metavar="WIRING",
    multiple=True,
    help="The wiring that is wanted; may be given again. [default: each that is planned]",
)
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the list.")
@click.pass_context
def command(
    ctx: click.Context,
    specs: Sequence[str],
    source: str | None,
    targets: Sequence[str],
    as_json: bool,
) -> None:
    """What to lift, move, add and remove to get from one wiring to another, in order.

    The shortest honest list: old wires serve again wherever they can. Exchange --from and
    --to for the way back. Each wire is called by its number in the wiring that is wanted, from
    its label on; "old" is before the number of one that has none there.

    With --json, each of "results" has "from", "to", "role", "broken", "cautions", "live" ("volts",
    "ac", "point", "lugs"), "stays" ("wire", "becomes",
    "ends", "colour", "note", "tag", "told"), "parts_stay", "nets_stay", "differences" ("kind",
    "about", "why", "reversible"), "tags" (wire of the first wiring: its tag) and "steps"
    ("number", "stage", "kind", "text", "lug", "words", "place", "destination", "other", "wire",
    "becomes", "tag", "colour", "length_metres", "part", "instead_of", "leaves_with", "partners",
    "states", "expects", "note", "why", "caution", "reversible"). What a step does not need is
    null or an empty list. "text" is the whole line; "lug" and "words" say the same in columns.
    "wire" is an id of the first wiring, "becomes" one of the second; "tag" is what stands on the
    wire's label from first to last: its number in the second wiring, or "old" and that in the
    first if it has no other. A lift without "destination" is of a wire that comes out. "live" has
    each lug of the steps once that can stand at 50 V or more while there is power.

    \b
    Exit status, the worst of all specs:
      0  here is the list
      1  here is a list that must not be worked through: its wiring is broken
      2  a spec cannot be read, or has no wiring of that name
      3  a limit was reached
    """
    asked = (_one(file, source, targets) for file in specs)
    outcomes = list(with_progress("comparing", asked, len(specs)))
    for outcome in outcomes:
        say_aside(outcome)
    if as_json:
        from rewire.cli.moves_json import moved

        write_documents("moves", outcomes, moved)
    else:
        _write_text(outcomes)
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _one(file: str, source: str | None, targets: Sequence[str]) -> MovesOutcome:
    from rewire.bench.moves import default_source, default_targets, moves_of, with_verdict
    from rewire.bench.wire_plan import renumbered
    from rewire.cli.outcome import one_by_one
    from rewire.cli.wirings import check_wirings, judged
    from rewire.reading import read_spec

    notices: tuple[Notice, ...] = ()
    try:
        spec = renumbered(read_spec(file))
        notices = spec.notices
        check_wirings(spec, [*([source] if source else []), *targets])
        start = source or default_source(spec, targets)
        ends = targets or default_targets(spec, start)
        if not ends:
            hint = "add the one that is planned, under any name"
            raise Refused(Complaint(f"there is no wiring but {start}", file, hint=hint))
        asked = judged(spec, ends)
        results, limits = one_by_one(
            asked.names, lambda end: with_verdict(spec, moves_of(spec, start, end))
        )
        return MovesOutcome(file, results, notices, judged=asked, limits=limits)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        return MovesOutcome(file, (), notices, trouble)


def _write_text(outcomes: Sequence[MovesOutcome]) -> None:
    from rewire.cli.moves_report import report
    from rewire.cli.values import write_said

    for outcome in outcomes:
        if len(outcomes) > 1 and outcome.trouble is None:
            write_report([Line(f"{outcome.file}:")])
        write_said(report(outcome.results))
