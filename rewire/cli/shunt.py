"""``rewire shunt``: a quick sum without a spec."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import choice_of, common_options, movement_of, quantity_of, show
from rewire.cli.terminal import Line

if TYPE_CHECKING:
    from rewire.values.model import WiringValues

METALS = ("copper", "manganin", "constantan", "nichrome")


@click.command(name="shunt", short_help=HELP["shunt"])
@click.argument("ranges", metavar="AMPS...", nargs=-1, required=True)
@common_options
@click.option("--tapped", is_flag=True, help="One shunt with a tap for each range.")
@click.option("--wire", type=click.IntRange(-3, 60), metavar="AWG", help="Length to wind it from.")
@click.option("--metal", type=click.Choice(METALS), default="manganin", show_default=True)
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
    tapped: bool,
    wire: int | None,
    metal: str,
) -> None:
    """The shunt that makes a meter read AMPS at full scale; one for each range, or one with taps.

    \b
      rewire shunt --meter "1 mA" --resistance "100 ohm" "100 mA"
      rewire shunt --meter "1 mA" --resistance 50 --tapped "1 A" "5 A" "10 A"

    \b
    Exit status: 0 good, 1 no shunt can do it, 2 the input is bad.
    """
    from rewire.spec.quantity import SOME_AMPS
    from rewire.values.sums import shunts, tapped_shunt

    amps = [quantity_of(text, SOME_AMPS, "AMPS") for text in ranges]
    movement, choice = movement_of(meter, resistance), choice_of(choose, drawer, tolerance)
    result = (tapped_shunt if tapped else shunts)(movement, amps, choice)
    show("shunt", result, as_json, list(_wound(result, wire, metal)) if wire is not None else ())
    ctx.exit(1 if any(fit.exact_ohms is None for fit in result.fits) else 0)


def _wound(result: WiringValues, gauge: int, metal: str) -> Iterator[Line]:
    from rewire.values.units import with_unit
    from rewire.values.wire import wire_length, wire_warning

    for fit in result.fits:
        if fit.exact_ohms is not None:
            length = with_unit(wire_length(fit.exact_ohms, gauge, metal), "m", 4)
            yield Line(f"{length} of {metal} wire, AWG {gauge}", 2, f"{fit.part}:")
    yield Line(wire_warning(metal), 2, "-")
