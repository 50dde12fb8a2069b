"""What the quick sums share: quantities from the command line, and how the answer is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.terminal import Line, write_out
from rewire.cli.values import write_said

if TYPE_CHECKING:
    from rewire.cli.values_report import Said
    from rewire.spec.quantity import Measure
    from rewire.values.model import WiringValues
    from rewire.values.sums import Choice, Movement

SERIES = ("exact", "E3", "E6", "E12", "E24", "E48", "E96", "E192")


def common_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options of both quick sums."""
    options = (
        click.option(
            "--meter", required=True, metavar="AMOUNT", help="Full scale: 1 mA, or 50 mV."
        ),
        click.option("--resistance", required=True, metavar="OHMS", help="Of the meter: 100 ohm."),
        click.option(
            "--choose",
            type=click.Choice(SERIES),
            default="E96",
            show_default=True,
            help="Preferred values to choose from.",
        ),
        click.option("--drawer", metavar="FILE", help="Choose from the parts in a drawer file."),
        click.option(
            "--tolerance", metavar="PERCENT", help="Of the resistors, for the worst case."
        ),
        click.option("--json", "as_json", is_flag=True, help="Machine output."),
    )
    for option in reversed(options):
        function = option(function)
    return function


def quantity_of(text: str, measure: Measure, option: str) -> float:
    """A quantity as it was typed.

    Raises:
        click.UsageError: it is not one; the message says what is.
    """
    from rewire.spec.quantity import BadQuantity, read

    try:
        return read(text, measure)
    except BadQuantity as error:
        raise click.UsageError(f"{option}: {error.message}; {error.hint}") from None


def movement_of(meter: str, resistance: str) -> Movement:
    """The meter as it was typed.

    Raises:
        click.UsageError: it is none.
    """
    from rewire.spec.quantity import OHMS, SOME_AMPS, SOME_VOLTS, BadQuantity, read_either
    from rewire.values.sums import Movement

    ohms = quantity_of(resistance, OHMS, "--resistance")
    try:
        value, measure = read_either(meter, (SOME_AMPS, SOME_VOLTS))
    except BadQuantity as error:
        raise click.UsageError(f"--meter: {error.message}; {error.hint}") from None
    if measure is SOME_AMPS:
        return Movement(value, None, ohms)
    if ohms == 0.0:
        raise click.UsageError("--resistance: a meter for volts cannot have zero resistance")
    return Movement(None, value, ohms)


def choice_of(choose: str, drawer: str | None, tolerance: str | None) -> Choice:
    """How the resistors are to be had, as it was typed."""
    from rewire.spec.drawer import read_drawer
    from rewire.spec.quantity import PERCENT
    from rewire.values.combos import stocks_of
    from rewire.values.sums import Choice

    stocks = stocks_of(read_drawer(drawer)) if drawer else ()
    percent = None if tolerance is None else quantity_of(tolerance, PERCENT, "--tolerance")
    return Choice(choose, stocks, percent)


def show(command: str, result: WiringValues, as_json: bool, more: Sequence[Line] = ()) -> None:
    """The answer of a quick sum: fits, what they stand, and what to mind."""
    if as_json:
        from rewire.cli.as_json import dumped
        from rewire.cli.values_json import valued

        document = {**valued("", [result]), "command": command}
        write_out(dumped(document))
        return
    write_said([*_lines(result), *more])


def _lines(result: WiringValues) -> Iterator[Said]:
    from rewire.cli.table import table
    from rewire.cli.values_report import fit_lines
    from rewire.values.units import in_ohms, with_unit

    yield from islice(fit_lines(result.fits), 1, None)
    rows = []
    for fit, reading in zip(result.fits, result.readings, strict=True):
        stress = next(part for part in result.parts if part.part == fit.part)
        rows.append(
            (
                fit.part,
                fit.reading,
                "" if reading.deflection is None else f"{100 * reading.deflection:.2f} %",
                in_ohms(reading.insertion_ohms),
                with_unit(stress.watts, "W", 3),
                with_unit(stress.volts, "V", 3),
            )
        )
    head = ("part", "range", "pointer", "in circuit", "most watts", "most volts")
    yield ""
    yield from table(head, rows, words=(0, 1))
