"""A published figure beside ours, and small circuits that ours comes from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.wiring_values import values_of

Numbers = dict[str, Any]
Known = Literal[
    "seen in print", "standard seen", "worksheet to the book", "secondary copy",
    "standard, from memory", "mathematics", "common practice, no source",
]  # fmt: skip
"""How we know the published figure: the page itself was read; somebody's open worksheet to the
book was; a copy or a table made after it was; it was written down without the text at hand; a
theorem that anybody can prove again; the trade says so."""


@dataclass(frozen=True, kw_only=True)
class Record:
    """One check: a line of gallery/published.md, and a test."""

    topic: str
    source: str
    known: Known
    what: str
    """What is asked, with the figures given."""
    published: float | str
    ours: Callable[[], float | str]
    unit: str = ""
    within: float = 0.0
    """By how much a print may differ: half a unit of its last digit, in ``unit``."""
    looser: str | None = None
    """Why it may differ by more than that."""
    exact: float | None = None
    """What exact arithmetic gives, where that was worked out apart from the print."""
    departs: str | None = None
    """Why the print itself is off; then it must differ by more than ``within``."""


EXACT = 6e-7
"""The recomputed figures are given to seven digits."""


def half_digit(printed: float) -> float:
    """Half a unit of the last digit of a decimal print, and a hair for binary arithmetic."""
    digits = (
        len(repr(float(printed)).split(".")[1].removesuffix("0")) if "e" not in repr(printed) else 9
    )
    return 0.501 * 10.0**-digits


def spec_text(parts: str, readings: str, points: str = "IN: {}, OUT: {}") -> str:
    """A spec of one wiring without a switch."""
    return (
        f"rewire: 1\ntitle: worked example\npoints: {{{points}}}\nreadings:\n{readings}\n"
        f"wirings:\n  original:\n    parts:\n{parts}\n  other:\n    parts:\n{parts}\n"
    )


def solved(
    parts: Sequence[str], readings: Sequence[str], points: str = "IN: {}, OUT: {}"
) -> WiringValues:
    """What the program makes of parts and readings, one line of YAML each."""
    text = spec_text(
        "\n".join(f"      {part}" for part in parts),
        "\n".join(f"  {reading}" for reading in readings),
        points,
    )
    return values_of(read_text(text.encode()))[0]


def movement(given: Numbers, between: str) -> str:
    """The meter of an example as a line of a spec."""
    scale = f"{given['meter_fs_A']} A" if "meter_fs_A" in given else f"{given['meter_fs_V']} V"
    return f"M1: {{meter: {scale}, resistance: {given['meter_ohms']} ohm, between: {between}}}"


def exact_ohms(result: WiringValues) -> dict[str, float]:
    """Fitted part → ohm, before a preferred value is chosen."""
    return {fit.part: fit.exact_ohms for fit in result.fits if fit.exact_ohms is not None}
