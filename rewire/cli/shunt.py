"""``rewire shunt``: a quick sum without a spec."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import common_options, ranges_of, show
from rewire.cli.winding import wire_options, wound_lines

if TYPE_CHECKING:
    from rewire.values.quick_sums import Choice, Movement


@click.command(name="shunt", short_help=HELP["shunt"])
@click.argument("ranges", metavar="AMPS...", nargs=-1, required=True)
@common_options
@click.option("--tapped", is_flag=True, help="One shunt with a tap for each range.")
@wire_options
@click.pass_context
def command(
    ctx: click.Context,
    ranges: Sequence[str],
    movement: Movement,
    choice: Choice,
    as_json: bool,
    tapped: bool,
    wire: int | None,
    metal: str,
) -> None:
    """The shunt that makes a meter read AMPS at full scale; one for each range, or one with taps.

    \b
      rewire shunt --meter "1 mA" --resistance "100 ohm" "100 mA"
      rewire shunt --meter "1 mA" --resistance 50 --tapped "1 A" "5 A" "10 A"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad, 3 more than ten taps.
    """
    from rewire.values.quick_sums import shunts, tapped_shunt
    from rewire.words.quantity import SOME_AMPS

    amps = ranges_of(ranges, SOME_AMPS, "AMPS")
    if wire is not None and ctx.params.get("choose") is None:
        choice = replace(choice, choose="exact")
    result = (tapped_shunt if tapped else shunts)(movement, amps, choice)
    ctx.exit(show("shunt", result, as_json, list(wound_lines(result.fits, wire, metal))))
