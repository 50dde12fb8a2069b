"""``rewire multiplier``: a quick sum without a spec."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import common_options, ranges_of, show

if TYPE_CHECKING:
    from rewire.values.quick_sums import Choice, Movement


@click.command(name="multiplier", short_help=HELP["multiplier"])
@click.argument("ranges", metavar="VOLTS...", nargs=-1, required=True)
@common_options
@click.option("--chained", is_flag=True, help="Each range adds a resistor to the ones below.")
@click.pass_context
def command(
    ctx: click.Context,
    ranges: Sequence[str],
    movement: Movement,
    choice: Choice,
    as_json: bool,
    chained: bool,
) -> None:
    """The series resistor that makes a meter read VOLTS at full scale; one for each range.

    \b
      rewire multiplier --meter "50 uA" --resistance "2 kohm" "10 V" "250 V"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad.
    """
    from rewire.values.quick_sums import chained_multipliers, multipliers
    from rewire.words.quantity import SOME_VOLTS

    volts = ranges_of(ranges, SOME_VOLTS, "VOLTS")
    solve = chained_multipliers if chained else multipliers
    ctx.exit(show("multiplier", solve(movement, volts, choice), as_json))
