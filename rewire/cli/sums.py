"""What the quick sums share: quantities from the command line, and how the answer is shown."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.terminal import Line, visible, write_out
from rewire.cli.values import write_said

if TYPE_CHECKING:
    from rewire.cli.values_report import Said
    from rewire.values.model import Fit, WiringValues
    from rewire.values.quick_sums import Choice, Movement
    from rewire.words.quantity import Measure

SERIES = ("exact", "E3", "E6", "E12", "E24", "E48", "E96", "E192")
USUAL = "E24 or E96"


def common_options(function: Callable[..., None]) -> Callable[..., None]:
    """Options of both quick sums; the command is given them as a movement and a choice."""

    @functools.wraps(function)
    def command(
        *args: Any,
        meter: str,
        resistance: str,
        resistance_tolerance: str | None,
        choose: str | None,
        drawer: str | None,
        tolerance: str | None,
        **others: Any,
    ) -> None:
        movement = movement_of(meter, resistance, resistance_tolerance)
        function(*args, movement=movement, choice=choice_of(choose, drawer, tolerance), **others)

    options = (
        click.option(
            "--meter", required=True, metavar="AMOUNT", help="Full scale: 1 mA, or 50 mV."
        ),
        click.option("--resistance", required=True, metavar="OHMS", help="Of the meter: 100 ohm."),
        click.option(
            "--resistance-tolerance", metavar="PERCENT", help="Of the meter, for the worst case."
        ),
        click.option(
            "--choose", type=click.Choice(SERIES), help=f"Preferred values.  [default: {USUAL}]"
        ),
        click.option("--drawer", metavar="FILE", help="Choose from the parts in a drawer file."),
        click.option(
            "--tolerance", metavar="PERCENT", help="Of the resistors, for the worst case."
        ),
        click.option("--json", "as_json", is_flag=True, help="Machine output."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def quantity_of(text: str, measure: Measure, option: str) -> float:
    """A quantity as it was typed.

    Raises:
        click.UsageError: it is not one; the message says what is.
    """
    from rewire.words.quantity import BadQuantity, read

    try:
        return read(text, measure)
    except BadQuantity as error:
        raise click.UsageError(f"{option}: {error.message}; {error.hint}") from None


def ranges_of(texts: Sequence[str], measure: Measure, option: str) -> list[float]:
    """Full scales as they were typed, each another.

    Raises:
        click.UsageError: one of them is none, or stands there twice.
    """
    found: dict[float, str] = {}
    for text in texts:
        value = quantity_of(text, measure, option)
        if value in found:
            raise click.UsageError(f"{option}: {visible(text)} is given twice")
        found[value] = text
    return list(found)


def movement_of(meter: str, resistance: str, tolerance: str | None) -> Movement:
    """The meter as it was typed.

    Raises:
        click.UsageError: it is none.
    """
    from rewire.values.quick_sums import Movement
    from rewire.words.quantity import OHMS, SOME_AMPS, SOME_VOLTS, BadQuantity, read_either

    ohms = quantity_of(resistance, OHMS, "--resistance")
    off = _percent_of(tolerance, "--resistance-tolerance")
    try:
        value, measure = read_either(meter, (SOME_AMPS, SOME_VOLTS))
    except BadQuantity as error:
        raise click.UsageError(f"--meter: {error.message}; {error.hint}") from None
    if ohms == 0.0:
        way_out = "to measure it: rewire identify meter"
        raise click.UsageError(f"--resistance: a meter has more than zero; {way_out}")
    amps, volts = (value, None) if measure is SOME_AMPS else (None, value)
    return Movement(amps, volts, ohms, off)


def _percent_of(text: str | None, option: str) -> float | None:
    from rewire.words.quantity import PERCENT

    return None if text is None else quantity_of(text, PERCENT, option)


def choice_of(choose: str | None, drawer: str | None, tolerance: str | None) -> Choice:
    """How the resistors are to be had, as it was typed."""
    from rewire.reading.drawer import read_drawer
    from rewire.values.combos import stocks_of
    from rewire.values.quick_sums import Choice

    stocks = stocks_of(read_drawer(drawer)) if drawer else ()
    return Choice(choose or USUAL, stocks, _percent_of(tolerance, "--tolerance"))


def show(command: str, result: WiringValues, as_json: bool, more: Sequence[Line] = ()) -> int:
    """The answer of a quick sum: fits, what they stand, what to mind; its exit status."""
    if as_json:
        from rewire.cli.as_json import dumped
        from rewire.cli.values_json import valued

        document = {**valued("", [result]), "command": command}
        write_out(dumped(document))
    else:
        write_said(_lines(result, more))
    return 0 if all(_near(fit) for fit in result.fits) else 1


def _near(fit: Fit) -> bool:
    from rewire.values.assemble import FAR_PERCENT

    return fit.error_percent is not None and abs(fit.error_percent) <= FAR_PERCENT


def _lines(result: WiringValues, more: Sequence[Line]) -> Iterator[Said]:
    from rewire.cli.values_report import band, caution_lines, filled, fit_lines, in_path
    from rewire.words.quantity import with_unit

    yield from fit_lines(result.fits)
    stresses = {part.part: part for part in result.parts}
    found = [
        (fit, reading, stresses[fit.part])
        for fit, reading in zip(result.fits, result.readings, strict=True)
        if reading.deflection is not None
    ]
    yield ""
    yield from filled({
        "part": [fit.part for fit, _, _ in found],
        "range": [fit.reading for fit, _, _ in found],
        "pointer": [f"{100 * (reading.deflection or 0.0):.2f} %" for _, reading, _ in found],
        "worst case": [
            band(reading.worst_low_percent, reading.worst_high_percent)
            for _, reading, _ in found
        ],
        "in circuit": [in_path(reading.insertion_ohms) for _, reading, _ in found],
        "most watts": [with_unit(stress.watts, "W", 3) for _, _, stress in found],
        "most volts": [with_unit(stress.volts, "V", 3) for _, _, stress in found],
    }, words=(0, 1))  # fmt: skip
    yield from more
    yield from caution_lines(result)
