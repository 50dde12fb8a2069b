"""``rewire shunt``: a quick sum without a spec."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import common_options, ranges_of, show
from rewire.cli.terminal import Line

if TYPE_CHECKING:
    from rewire.values.model import WiringValues
    from rewire.values.sums import Choice, Movement

_SHORT = 0.05
"""Metres of wire that are cut to length well enough; common practice, no source."""
METALS = ("copper", "manganin", "constantan", "nichrome")


@click.command(name="shunt", short_help=HELP["shunt"])
@click.argument("ranges", metavar="AMPS...", nargs=-1, required=True)
@common_options
@click.option("--tapped", is_flag=True, help="One shunt with a tap for each range.")
@click.option(
    "--wire", type=click.IntRange(-3, 60), metavar="AWG", help="Wind it: the length it takes."
)
@click.option("--metal", type=click.Choice(METALS), default="manganin", show_default=True)
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
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad.
    """
    from rewire.spec.quantity import SOME_AMPS
    from rewire.values.sums import shunts, tapped_shunt

    amps = ranges_of(ranges, SOME_AMPS, "AMPS")
    if wire is not None and ctx.params.get("choose") is None:
        choice = replace(choice, choose="exact")
    result = (tapped_shunt if tapped else shunts)(movement, amps, choice)
    wound = _wound(result, wire, metal) if wire is not None else ()
    ctx.exit(show("shunt", result, as_json, list(wound)))


def _wound(result: WiringValues, gauge: int, metal: str) -> Iterator[Line]:
    from rewire.values.units import with_unit
    from rewire.values.wire import wire_length, wire_warning

    yield Line("")
    yield Line("Wound from wire:")
    for fit in result.fits:
        if fit.exact_ohms is None:
            continue
        metres = wire_length(fit.exact_ohms, gauge, metal)
        short = "; too short to trim: take a thicker wire" if metres < _SHORT else ""
        said = f"exact with {with_unit(metres, 'm', 4)} of {metal} wire, AWG {gauge}{short}"
        yield Line(said, 2, f"{fit.part}:")
    yield Line(wire_warning(metal), 2, "-")
