"""Mishaps in words and in order: what burns or becomes live first, then rules, then errors."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.records.spec import Spec
from rewire.values.model import BURNING, OVERLOADED, Mishap, Strain
from rewire.words.quantity import with_unit

_NOTICED = 0.01
"""Share of full scale by which a reading must change to be told."""
_LIVE = 50.0
"""Volts from which a place counts as live."""
_UNITS = {"watts": "W", "volts": "V", "amps": "A"}


def severity(mishap: Mishap) -> tuple[object, ...]:
    """Order of mishaps: what burns or becomes live, then rules broken, then what reads wrong."""
    times = abs(mishap.times_full_scale or 0.0) if mishap.overload else 0.0
    burns = max([times, *(strain.times for strain in mishap.strains)])
    highest = max((abs(volts) for _, volts in mishap.rises), default=0.0)
    off = abs(mishap.deflection - 1.0) if mishap.deflection is not None else 0.0
    grave = (burns if burns > BURNING else 0.0, highest if highest >= _LIVE else 0.0)
    return (
        not any(grave), -grave[0], -grave[1], -len(mishap.rules), -burns, -highest, -off,
        mishap.what,
    )  # fmt: skip


def rule_lost(spec: Spec, number: int) -> str:
    """What a broken rule means."""
    rule = spec.rules[number]
    lost = "no longer connected" if rule.kind == "connect" else "no longer isolated"
    return f"{' and '.join(rule.places)} {lost}"


def overloads(takes: float, usual: float) -> bool:
    """Whether a meter takes too much, in times full scale, and more than it does anyway."""
    return abs(takes) > OVERLOADED * max(1.0, abs(usual))


def pointer_told(takes: float, reads: float, usual: float, said: tuple[str, str]) -> Iterator[str]:
    """What the meter takes, or what it reads wrong, in the words of the bench.

    Args:
        takes: full scales that it takes at most.
        reads: and that it reads.
        usual: and that it reads without the mishap.
        said: the reading's name, and the meter's reference.
    """
    reading, meter = said
    if abs(takes) > OVERLOADED:
        way = " backwards" if takes < 0.0 else ""
        yield f"{meter} takes {shown_times(abs(takes))} times full scale{way} in {reading}"
    elif abs(reads - usual) > _NOTICED:
        stands = "the pointer rests at 0" if abs(reads) < 5e-4 else f"it reads {100 * reads:.3g} %"
        yield f"{stands} in {reading}"


def strain_told(strain: Strain) -> str:
    """What a part has to stand, against what it may."""
    has, may = (with_unit(x, _UNITS[strain.quantity], 3) for x in (strain.has, strain.may))
    verb = "takes" if strain.quantity != "volts" else "has"
    return f"{strain.part} {verb} {has}, rated {may}"


def shown_times(times: float) -> str:
    """A factor: two digits where they matter, none beyond a hundred.

    >>> shown_times(1.407), shown_times(12.34), shown_times(10000.2)
    ('1.4', '12', '10,000')
    """
    return f"{times:,.0f}" if abs(times) >= 10 else f"{times:.2g}"
