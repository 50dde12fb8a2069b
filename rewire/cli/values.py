"""``rewire values``: what must the shunts, multipliers and pots be, and what do they stand?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rewire.cli.between import Between
from rewire.cli.commands import HELP
from rewire.cli.outcome import Outcome, say_aside, write_documents
from rewire.cli.terminal import (
    Line,
    complain_of,
    visible,
    with_progress,
    write_out,
    write_report,
)
from rewire.cli.trouble import BAD_INPUT, LIMIT, trouble_of, worst_of
from rewire.cli.winding import wire_options, wound_lines

if TYPE_CHECKING:
    from rewire.cli.values_report import Said
    from rewire.records.spec import Notice
    from rewire.values import WiringValues, Wishes

BAD_ANSWER = 1
_ANSWERS = {"good": 0, "bad": BAD_ANSWER, "unknown": LIMIT}


@dataclass(frozen=True)
class ValuesOutcome(Outcome["WiringValues"]):
    """What came of one spec's values."""

    broken: frozenset[str] = frozenset()
    """Wirings that do not keep what the original does, whatever their figures are."""

    @property
    def status(self) -> int:
        """The exit status of this spec alone."""
        return self.worst((result.wiring, _status(result)) for result in self.results)


def _status(result: WiringValues) -> int:
    if result.refusals:
        return BAD_INPUT
    return LIMIT if result.limited else _ANSWERS[result.answer]


@click.command(name="values", short_help=HELP["values"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.option(
    "--wiring",
    "wirings",
    metavar="NAME",
    multiple=True,
    help="This wiring alone, original too; may be given again. [default: every one but original]",
)
@click.option(
    "--drawer",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Choose resistors from the parts in a drawer file, up to four for each.",
)
@wire_options
@click.option(
    "--overload",
    metavar="TIMES",
    type=Between(min=1.0, max=1e6),
    help="A second sum of watts at so many times full scale.",
)
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of the Monte Carlo."
)
@click.pass_context
def command(
    ctx: click.Context,
    specs: Sequence[str],
    as_json: bool,
    wirings: Sequence[str],
    drawer: Path | None,
    wire: int | None,
    metal: str,
    overload: float | None,
    seed: int,
) -> None:
    """What must shunts, multipliers and pots be, how well does it read, what do parts stand?

    \b
    pointer        where it stands when the true value is full scale
    worst case     every value at the bad end of its tolerance, with the meter's accuracy
    after setting  99 % of builds, once the pots are set in each
    in circuit     ohms that the set sees; was: in the original

    \b
    Exit status, the worst of all specs (2 over 3 over 1 over 0):
      0  in every plan each reading comes out right and every part stands it
      1  a reading is off by more than it accepts, nothing fits, a rating is passed, or
         the meter is overloaded or a rule broken while switching
      2  a spec cannot be read, or leaves a reading open
      3  a limit was reached, or a reading hangs on what is not known
    """
    from rewire.reading.drawer import read_drawer
    from rewire.values import Wishes
    from rewire.values.combos import stocks_of

    stocks = stocks_of(read_drawer(drawer)) if drawer is not None else ()
    wishes = Wishes(stocks=stocks, overload=overload, seed=seed)
    sums = (_one(file, wirings, wishes) for file in specs)
    outcomes = list(with_progress("calculating", sums, len(specs)))
    for outcome in outcomes:
        say_aside(outcome)
        _say_refused(outcome)
    if as_json:
        from rewire.cli.values_json import valued

        write_documents("values", outcomes, valued)
    else:
        _write_text(outcomes, wire, metal)
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _one(file: str, wirings: Sequence[str], wishes: Wishes) -> ValuesOutcome:
    from rewire.bench.wire_plan import renumbered
    from rewire.cli.outcome import one_by_one
    from rewire.cli.wirings import broken_ones, judged
    from rewire.reading import read_spec
    from rewire.values import values_of

    notices: tuple[Notice, ...] = ()
    try:
        spec = renumbered(read_spec(file))
        notices = spec.notices
        asked = judged(spec, wirings)
        results, limits = one_by_one(asked.names, lambda name: values_of(spec, [name], wishes)[0])
        broken = broken_ones(spec, asked.names)
        return ValuesOutcome(file, results, notices, judged=asked, limits=limits, broken=broken)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        return ValuesOutcome(file, (), notices, trouble)


def _say_refused(outcome: ValuesOutcome) -> None:
    for refusal in dict.fromkeys(r for result in outcome.results for r in result.refusals):
        complain_of(refusal)


def _write_text(outcomes: Sequence[ValuesOutcome], wire: int | None, metal: str) -> None:
    from rewire.cli.values_report import report

    for outcome in outcomes:
        if len(outcomes) > 1 and outcome.trouble is None:
            write_report([Line(f"{outcome.file}:")])
        roles = outcome.judged.roles if outcome.judged is not None else {}
        wound = partial(wound_lines, gauge=wire, metal=metal)
        write_said(report(outcome.results, roles, outcome.broken, wound))


def write_said(lines: Iterable[Said]) -> None:
    """Fitted lines fitted to the terminal, lines of tables as they are."""
    for line in lines:
        if isinstance(line, Line):
            write_report([line])
        else:
            write_out(f"{visible(line)}\n")
