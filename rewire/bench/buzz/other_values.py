"""Parts that may have another value than they should: the one that would read as was found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite

import numpy as np

from rewire.bench.buzz.measure import Ohms, readings
from rewire.bench.buzz.mistakes import ODDS, Edit, Mistake
from rewire.bench.buzz.rank import Evidence
from rewire.records.spec import Pot, Resistor
from rewire.words.quantity import in_ohms

_FACTORS = np.logspace(-5.0, 5.0, 41)
"""From a hundred-thousandth of a value to a hundred thousand times it."""
_NEAR = 0.1
"""Share by which a factor must differ from 1, 10 and 0.1, which are looked for anyway."""
_MOST = 20
"""Odd readings that are looked at."""


def other_values(seen: Evidence) -> list[Mistake]:
    """For each resistor or pot and each odd reading the value that explains the reading.

    Ohms between two places only rise with those of a part, so there is one such value or none.
    """
    odd = [int(n) for n in np.nonzero(seen.odd)[0] if seen.found[n].ohms][:_MOST]
    return [one for name, bars in _parts(seen) for one in _of_part(seen, odd, name, bars)]


def _parts(seen: Evidence) -> Iterator[tuple[str, list[int]]]:
    network = seen.job.network
    for part in seen.job.spec.parts_of(seen.job.wiring).values():
        if isinstance(part, Resistor | Pot):
            yield part.name, [n for n, bar in enumerate(network.bars) if bar.part == part.name]


def _of_part(
    seen: Evidence, odd: Sequence[int], name: str, bars: Sequence[int]
) -> Iterator[Mistake]:
    told: list[float] = []
    for number in odd:
        factor = _factor(seen, number, bars)
        usual = (1.0, 10.0, 0.1, *told)
        if factor is None or any(abs(factor / one - 1.0) < _NEAR for one in usual):
            continue
        told.append(factor)
        edit = Edit(scaled=tuple((bar, factor) for bar in bars))
        text = f"{name} has {_said(seen, bars, factor)}"
        yield Mistake("other value", text, edit, ODDS["other value"], part=name)


def _factor(seen: Evidence, number: int, bars: Sequence[int]) -> float | None:
    """What the ohms of a part must be multiplied with; None if nothing does."""
    wanted = seen.found[number].ohms or 0.0
    factors = _FACTORS
    for _ in range(3):
        ohms = _read(seen, number, bars, factors)
        if not all(isfinite(one) for one in ohms) or not ohms[0] < wanted < ohms[-1]:
            return None
        at = int(np.searchsorted(ohms, wanted))
        factors = np.geomspace(factors[at - 1], factors[at], len(_FACTORS))
    return float(factors[len(factors) // 2])


def _read(seen: Evidence, number: int, bars: Sequence[int], factors: Ohms) -> Ohms:
    edits = [Edit(scaled=tuple((bar, float(f)) for bar in bars)) for f in factors]
    touch = seen.found[number].touch
    return np.asarray(readings(seen.job.network, edits, seen.job.states, [touch])[0])


def _said(seen: Evidence, bars: Sequence[int], factor: float) -> str:
    if len(bars) > 1:
        return f"{factor:.3g} times its value"
    ohms = seen.job.network.bars[bars[0]].ohms[0]
    return f"{in_ohms(factor * ohms, 3)} and not {in_ohms(ohms, 3)}"
