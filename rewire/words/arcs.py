"""The arcs of a dial by their names: their figures, their law, and factors multiplied at sight."""

from __future__ import annotations

import re
from math import floor, log10
from typing import Literal

ArcKind = Literal["linear", "dB", "ohm"]
_ARC = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)\s*(?:-|–|to)\s*(-?[0-9]+(?:\.[0-9]+)?)")
_BOTH_WAYS = re.compile(r"([0-9.]+)\s*(?:-|–|to)\s*0\s*(?:-|–|to)\s*([0-9.]+)")
SIGHT = (1.0, 2.0, 2.5, 4.0, 5.0)
"""Times a power of ten: factors that are multiplied at sight; common practice, no source."""
PENCIL = 3
"""The ``ease`` from which a factor needs a pencil."""


def dial_ends(scale: str | None) -> tuple[float, float] | None:
    """The two ends of an arc that is named by them; None for any other text.

    >>> dial_ends("0-250"), dial_ends("red arc")
    ((0.0, 250.0), None)
    """
    match = _ARC.fullmatch((scale or "").strip())
    if match is None or float(match[1]) == float(match[2]):
        return None
    return float(match[1]), float(match[2])


def figures_of(scale: str | None, zero: str = "left") -> tuple[float, float] | None:
    """The figures on an arc at nothing and at full scale; None where it is not named by its ends.

    An arc with its zero in the middle, or below its first figure, goes by its last figure alone.
    ``zero`` is where the pointer rests.

    >>> figures_of("0-250"), figures_of("-50 to 50"), figures_of("10-15"), figures_of("20-0")
    ((0.0, 250.0), (0.0, 50.0), (0.0, 15.0), (20.0, 0.0))
    >>> figures_of("20-0", "right")
    (0.0, 20.0)
    """
    ends = dial_ends(scale)
    if ends is None:
        return None
    if zero == "right" and ends[0] > ends[1]:
        ends = ends[::-1]
    by_last = ends[0] == -ends[1] < 0.0 or 0.0 < ends[0] < ends[1]
    return (0.0, ends[1]) if by_last else ends


def shown_arc(scale: str) -> str:
    """``0-5`` as it is printed: ``0–5``."""
    return re.sub(r"(?<=[0-9])-(?=[0-9])", "–", scale)


def arc_kind(scale: str | None) -> ArcKind:
    """The law that an arc is drawn by, from its name: ``-20 to +3 dB``, ``ohm``, or linear."""
    words = (scale or "").lower()
    if re.search(r"(?<![a-z])(db|vu)\b", words):
        return "dB"
    return "ohm" if re.search(r"\bohms?\b|ω", words) else "linear"


def figure_at_end(scale: str | None, zero: str = "left") -> float | None:
    """The figure of a linear arc at full scale; None where its name does not say it.

    Args:
        scale: the name of the arc.
        zero: where its pointer rests; figures that fall are clear only of one that rests right.

    >>> figure_at_end("0-250"), figure_at_end("50-0-50"), figure_at_end("-20 to 3")
    (250.0, 50.0, None)
    >>> figure_at_end("20-0"), figure_at_end("20-0", "right")
    (None, 20.0)
    """
    both = _BOTH_WAYS.fullmatch((scale or "").strip())
    if both is not None:
        return float(both[2]) if both[1] == both[2] else None
    ends = dial_ends(scale)
    if ends is None or arc_kind(scale) != "linear":
        return None
    low, high = ends[::-1] if zero == "right" and ends[0] > ends[1] else ends
    return high if 0.0 <= low < high or 0.0 < high == -low else None


def ease(factor: float) -> int:
    """0: the figures are the reading; 1: a power of ten; 2: at sight; 3: with a pencil."""
    if factor == 1.0:
        return 0
    lead = float(f"{factor / 10.0 ** floor(log10(factor) + 1e-9):.6g}")
    return 1 if lead == 1.0 else 2 if lead in SIGHT else PENCIL
