"""Sensing: reading a true current as the volts across a resistor in the lead."""

from __future__ import annotations

from math import floor, log10

from rewire.values.model import Sense
from rewire.values.units import in_ohms, with_unit

_MOST_DROP = 0.3
"""Volts across a sense resistor at full scale, at most; common practice, no source."""
_LEAST_OHMS, _MOST_OHMS = 1e-3, 1e3
_WARM_WATTS = 0.1
"""Watts in a sense resistor worth a word."""
OLD_VOLTMETER = 1000.0
"""Ohms of an old voltmeter of 1000 Ω per volt on its 1 V range; common practice, no source."""


def sense_ohms(full_scale: float) -> float:
    """A sense resistor for a current, ohm: a power of ten, so that volts read as amperes.

    Args:
        full_scale: ampere.

    Source: common practice, no source; 1 Ω (mV = mA) for tens and hundreds of milliamperes.

    >>> [sense_ohms(amps) for amps in (10.0, 0.25, 0.05, 0.005)]
    [0.01, 1.0, 1.0, 10.0]
    """
    ohms = 10.0 ** floor(log10(_MOST_DROP / full_scale) + 1e-9)
    return min(max(float(ohms), _LEAST_OHMS), _MOST_OHMS)


def sensed(ohms: float, burden_ohms: float | None = None) -> tuple[float, float]:
    """Volts per ampere across a sense resistor, and the error of it in percent.

    Args:
        ohms: of the sense resistor.
        burden_ohms: of the voltmeter across it; None for one that takes nothing.

    Returns:
        Volt per ampere as the voltmeter sees it, and its error in percent: the
        voltmeter takes its share of the current.

    Source: two resistances in parallel.

    >>> sensed(1.0)
    (1.0, 0.0)
    """
    if burden_ohms is None:
        return ohms, 0.0
    seen = ohms * burden_ohms / (ohms + burden_ohms)
    return seen, 100.0 * (seen / ohms - 1.0)


def sense_for(full_scale: float, loop_ohms: float) -> Sense:
    """What a sense resistor shows, and what it does to the current that it shows.

    Args:
        full_scale: ampere.
        loop_ohms: of all that the supply feeds without it: series resistor and circuit.

    Source: Ohm's law; at the same supply volts the current falls as the loop's ohms rise.
    """
    ohms = sense_ohms(full_scale)
    return Sense(
        ohms=ohms,
        full_scale_volts=ohms * full_scale,
        full_scale_watts=ohms * full_scale**2,
        insertion_percent=-100.0 * ohms / (loop_ohms + ohms),
        burden_ohms=OLD_VOLTMETER,
        burden_percent=sensed(ohms, OLD_VOLTMETER)[1],
    )


def sense_note(sense: Sense) -> str:
    """How to know the true current, and what that way of knowing does to it, in words."""
    per = "mV = mA" if sense.ohms == 1.0 else f"{with_unit(sense.ohms / 1e3, 'V')} per mA"
    watts = sense.full_scale_watts
    warm = f", {with_unit(watts, 'W', 2)}" if watts > _WARM_WATTS else ""
    return (
        f"true current: volts across {in_ohms(sense.ohms)} in the lead, {per} "
        f"({with_unit(sense.full_scale_volts, 'V', 3)}{warm} at full scale; common practice, no "
        f"source); it takes {_small(sense.insertion_percent)} off the current, so turn the supply "
        f"up until it shows what is wanted; an old voltmeter of {in_ohms(sense.burden_ohms)} per "
        f"volt, on 1 V, shows {_small(sense.burden_percent)} too little"
    )


def _small(percent: float) -> str:
    return f"{abs(percent):.2g} %"
