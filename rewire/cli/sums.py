"""Quick sums without a spec: ``rewire shunt`` and ``rewire multiplier``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from rewire.cli.answers import write_documents
from rewire.cli.options import (
    all_of,
    file_option,
    flag_option,
    json_option,
    quantity_of,
    text_option,
)
from rewire.cli.terminal import write_sections
from rewire.cli.trouble import BAD_ANSWER
from rewire.cli.values import USUAL_METAL, stocks, wire_options, wound
from rewire.records.spec import Spec
from rewire.report.machine import document
from rewire.report.values import sum_sections
from rewire.report.values_in_full import result_as_json
from rewire.values.drawer import SERIES
from rewire.values.quick_sums import (
    TELLING,
    BenchMeter,
    Choice,
    chained_multipliers,
    multipliers,
    shunts,
    tapped_shunt,
)
from rewire.values.solved import EXACT
from rewire.values.wiring_values import FAR_PERCENT, Wishes, values_of
from rewire.words.quantity import (
    OHMS,
    PERCENT,
    SOME_AMPS,
    SOME_VOLTS,
    BadQuantity,
    Measure,
    read_either,
)
from rewire.words.wording import printable

_USUAL = "E24 or E96"


@dataclass(frozen=True, slots=True)
class _Sum:
    """What a quick sum was asked, as it was typed."""

    ranges: Sequence[str]
    meter: str
    resistance: str
    resistance_tolerance: str | None
    choose: str | None
    drawer: Path | None
    tolerance: str | None
    as_json: bool
    tapped: bool = False
    chained: bool = False
    wire: int | None = None
    metal: str = USUAL_METAL

    def movement(self) -> BenchMeter:
        """The meter; refused if no meter has such figures."""
        ohms = quantity_of(self.resistance, OHMS, "--resistance")
        try:
            value, measure = read_either(self.meter, (SOME_AMPS, SOME_VOLTS))
        except BadQuantity as error:
            raise click.UsageError(f"--meter: {error.message}; {error.hint}") from None
        if ohms == 0.0:
            way_out = "to measure it: rewire identify meter"
            raise click.UsageError(f"--resistance: a meter has more than zero; {way_out}")
        amps, volts = (value, None) if measure is SOME_AMPS else (None, value)
        off = _percent_of(self.resistance_tolerance, "--resistance-tolerance")
        return BenchMeter(amps, volts, ohms, off)

    def choice_option(self) -> Choice:
        """How the resistors are to be had: of wire, any value can be."""
        usual = _USUAL if self.wire is None else "exact"
        off = _percent_of(self.tolerance, "--tolerance")
        return Choice("drawer" if self.drawer is not None else self.choose or usual, off)

    def full_scales(self, measure: Measure, option: str) -> list[float]:
        """Full scales; refused if one is no quantity or is given twice."""
        found: dict[float, str] = {}
        for text in self.ranges:
            value = quantity_of(text, measure, option)
            if value in found:
                raise click.UsageError(f"{option}: {printable(text)} is given twice")
            found[value] = text
        return list(found)


def _percent_of(text: str | None, option: str) -> float | None:
    return None if text is None else quantity_of(text, PERCENT, option)


_sum_options = all_of(
    click.option(
        "--meter",
        required=True,
        metavar="AMOUNT",
        help="Say the meter's full scale: 1 mA, or 50 mV.",
    ),
    click.option(
        "--resistance",
        required=True,
        metavar="OHMS",
        help="Say the resistance of the meter's coil: 100 ohm.",
    ),
    text_option(
        "--resistance-tolerance",
        "PERCENT",
        "Say how far that resistance may be off, for the worst case.",
    ),
    click.option(
        "--choose",
        type=click.Choice([EXACT, *SERIES]),
        help=f"Choose from this series of preferred values.  [default: {_USUAL}]",
    ),
    file_option("--drawer", "FILE", "Choose resistors from the parts in a drawer file."),
    text_option(
        "--tolerance", "PERCENT", "Say how far the resistors may be off, for the worst case."
    ),
    json_option,
)


@click.command("shunt")
@click.argument("ranges", metavar="AMPS...", nargs=-1, required=True)
@_sum_options
@flag_option("--tapped", "Make one shunt with a tap for each range.")
@wire_options
@click.pass_context
def shunt_command(ctx: click.Context, /, **given: Any) -> None:
    """The shunt that makes a meter read AMPS at full scale; one for each range, or one with taps.

    \b
      rewire shunt --meter "1 mA" --resistance "100 ohm" "100 mA"
      rewire shunt --meter "1 mA" --resistance 50 --tapped "1 A" "5 A" "10 A"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad, 3 more than ten taps.
    """
    asked = _Sum(**given)
    solve = tapped_shunt if asked.tapped else shunts
    amps = asked.full_scales(SOME_AMPS, "AMPS")
    ctx.exit(_show("shunt", solve(asked.movement(), amps, asked.choice_option()), asked))


@click.command("multiplier")
@click.argument("ranges", metavar="VOLTS...", nargs=-1, required=True)
@_sum_options
@flag_option("--chained", "Let each range add a resistor to those of the ranges below.")
@click.pass_context
def multiplier_command(ctx: click.Context, /, **given: Any) -> None:
    """The series resistor that makes a meter read VOLTS at full scale; one for each range.

    \b
      rewire multiplier --meter "50 uA" --resistance "2 kohm" "10 V" "250 V"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad.
    """
    asked = _Sum(**given)
    solve = chained_multipliers if asked.chained else multipliers
    volts = asked.full_scales(SOME_VOLTS, "VOLTS")
    ctx.exit(_show("multiplier", solve(asked.movement(), volts, asked.choice_option()), asked))


def _show(command: str, spec: Spec, asked: _Sum) -> int:
    """The answer of a quick sum, and its exit status."""
    (found,) = values_of(spec, ["original"], Wishes(stocks(asked.drawer)))
    result = replace(found, warnings=tuple(w for w in found.warnings if w.kind in TELLING))
    if asked.as_json:
        write_documents([document(command, spec="", results=[result_as_json(result)])])
    else:
        write_sections(sum_sections(result, wound(result, asked.wire, asked.metal)))
    errors = [fit.error_percent for fit in result.fits]
    near = all(error is not None and abs(error) <= FAR_PERCENT for error in errors)
    return 0 if near else BAD_ANSWER
