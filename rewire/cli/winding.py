"""Winding: what wire a resistor that is to be fitted can be wound from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.terminal import Line

if TYPE_CHECKING:
    from rewire.values.model import Fit

METALS = ("copper", "manganin", "constantan", "nichrome")
_SHORT = 0.05
"""Metres of wire that are cut to length well enough; common practice, no source."""
_LONG = 20.0
"""Metres of wire that nobody winds by hand; common practice, no source."""


def wire_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """``--wire`` and ``--metal``."""
    metal = click.option(
        "--metal", type=click.Choice(METALS), default="manganin", show_default=True, help="Of it."
    )
    wire = click.option(
        "--wire", type=click.IntRange(-3, 60), metavar="AWG", help="Wind resistors from this wire."
    )
    return wire(metal(function))


def wound_lines(fits: Sequence[Fit], gauge: int | None, metal: str) -> Iterator[Line]:
    """The length of wire for each resistor that was found; nothing where no gauge is given."""
    from rewire.words.gauge import wire_length, wire_warning
    from rewire.words.quantity import with_unit

    found = [fit for fit in fits if fit.exact_ohms is not None]
    if gauge is None or not found:
        return
    yield Line("")
    yield Line("Wound from wire, leads and joints on top:")
    for fit in found:
        metres = wire_length(fit.exact_ohms or 0.0, gauge, metal)
        said = f"{with_unit(metres, 'm', 4)} of {metal} wire, AWG {gauge}{_trouble(metres)}"
        yield Line(said, 2, f"{fit.part}:")
    yield Line(wire_warning(metal), 2, "-")


def _trouble(metres: float) -> str:
    if metres < _SHORT:
        return "; too short to trim: take a thicker wire"
    return "; too long to wind: take a thinner wire, or a resistor" if metres > _LONG else ""
