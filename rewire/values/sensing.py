"""Sensing: reading a true current as the volts across a resistor in the lead."""

from __future__ import annotations

from math import floor, log10

from rewire.values.model import Sense
from rewire.words.quantity import in_ohms, with_unit

_MOST_DROP = 0.3
"""Volts across a sense resistor at full scale, at most; common practice, no source."""
_LEAST_OHMS, _MOST_OHMS = 1e-4, 1e3
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
    """How to read the true current."""
    volts, amps = _scale(sense.ohms)
    watts = sense.full_scale_watts
    warm = f" ({with_unit(watts, 'W', 2)} at full scale)" if watts > _WARM_WATTS else ""
    return (
        f"to read the true current put {in_ohms(sense.ohms)}{warm} in series: {volts} = {amps}; "
        f"raise the supply until it shows {with_unit(sense.full_scale_volts, 'V', 3)} at full scale"
    )


def _scale(ohms: float) -> tuple[str, str]:
    """What the volts across a sense resistor stand for, in round figures.

    >>> _scale(1.0), _scale(0.1), _scale(100.0)
    (('1 mV', '1 mA'), ('100 mV', '1 A'), ('100 mV', '1 mA'))
    """
    if ohms < 1.0:
        return with_unit(ohms, "V"), "1 A"
    return with_unit(ohms / 1e3, "V"), "1 mA"
