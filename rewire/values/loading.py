"""Loading: how much of the true value the meter itself takes away."""

from __future__ import annotations

from math import isinf

from rewire.records.spec import Reading, Spec
from rewire.values.model import Caution
from rewire.words.quantity import in_ohms

MOST_PERCENT = 2.0
"""Percent of full scale by which a new meter may load the set more without a word."""
_READABLE = 0.5
"""Percent of a true value worth a word."""


def source_ohms(spec: Spec, reading: Reading) -> float:
    """Ohms that the set has behind the places of a reading; 0 where none are stated."""
    if reading.source_resistance:
        return reading.source_resistance
    return sum(p.source_resistance for name in reading.places if (p := spec.points.get(name)))


def loading_percent(spec: Spec, reading: Reading, insertion: float | None) -> float | None:
    """Percent of the true value that a meter of so many ohms takes away; not known without them.

    Source: two resistances that divide a voltage, or share a current.
    """
    source = source_ohms(spec, reading)
    if not source or insertion is None:
        return None
    if isinf(insertion):
        return 0.0 if reading.quantity == "voltage" else 100.0
    takes = source if reading.quantity == "voltage" else insertion
    return 100.0 * takes / (source + insertion)


def loading_note(reading: Reading, now: float | None, before: float | None) -> str | None:
    """What the meter takes away, in words; nothing where that is too little to be read."""
    if now is None or now < _READABLE:
        return None
    was = "" if before is None else f", the original took {before:.3g} %"
    counted = (
        " (counted here)" if reading.quantity == "voltage" and reading.source_resistance else ""
    )
    return f"the meter itself takes {now:.3g} % of the true value away{counted}{was}"


def loading_told(
    spec: Spec, reading: Reading, now: float | None, before: float | None
) -> Caution | None:
    """A warning where the new meter loads the set noticeably more than the original."""
    if now is None or before is None or now - before <= MOST_PERCENT:
        return None
    behind = in_ohms(source_ohms(spec, reading))
    said = (
        f"{reading.name}: the set has {behind} behind it; the meter takes {now:.3g} % of the true "
        f"value away, the original took {before:.3g} %"
    )
    return Caution("loading", said, first=True)
