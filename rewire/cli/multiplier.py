"""``rewire multiplier``: a quick sum without a spec."""

from __future__ import annotations

from collections.abc import Sequence

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import choice_of, common_options, movement_of, quantity_of, show


@click.command(name="multiplier", short_help=HELP["multiplier"])
@click.argument("ranges", metavar="VOLTS...", nargs=-1, required=True)
@common_options
@click.option("--chained", is_flag=True, help="Each range adds a resistor to the ones below.")
@click.pass_context
def command(
    ctx: click.Context,
    ranges: Sequence[str],
    meter: str,
    resistance: str,
    choose: str,
    drawer: str | None,
    tolerance: str | None,
    as_json: bool,
    chained: bool,
) -> None:
    """The series resistor that makes a meter read VOLTS at full scale; one for each range.

    \b
      rewire multiplier --meter "50 uA" --resistance "2 kohm" "10 V" "250 V"

    \b
    Exit status: 0 good, 1 no multiplier can do it, 2 the input is bad.
    """
    from rewire.spec.quantity import SOME_VOLTS
    from rewire.values.sums import multipliers

    volts = [quantity_of(text, SOME_VOLTS, "VOLTS") for text in ranges]
    movement, choice = movement_of(meter, resistance), choice_of(choose, drawer, tolerance)
    result = multipliers(movement, volts, choice, chained)
    show("multiplier", result, as_json)
    ctx.exit(1 if any(fit.exact_ohms is None for fit in result.fits) else 0)
