"""Bench test: what to feed, and what each meter must then read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor, log10

import numpy as np

from rewire.records.spec import Bench
from rewire.values.answers import BenchRow, BenchTest, Sense
from rewire.values.meter_circuit import Setup, Solved, flow_of, loads_of
from rewire.values.readings import nominal
from rewire.words.quantity import in_ohms, with_unit

STEPS = (10.0, 25.0, 50.0, 75.0, 100.0)
MOST_VOLTS = 50.0
"""Volts that a bench lead may carry: nothing above is fed by hand."""
_MOST_TIMES = 1.2
"""Times full scale that a moving coil survives for hours: IEC 60051-1, from memory."""
_EASY_VOLTS = 2.0
"""Volts at full scale that a supply's knob sets with ease; common practice, no source."""
_LEAST_VOLTS = 0.1
"""Volts at full scale below which a supply cannot be set well; common practice, no source."""
_NO_VOLTS = 0.01
"""Volts that the finest display of a supply still shows; common practice, no source."""
_MOST_WATTS = 100.0
"""Watts of the largest resistor that is found on a bench; common practice, no source."""
_DECADE = (1.0, 2.2, 4.7, 10.0)
_RATINGS = (0.5, 1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 200.0)
_WHOLE = 1e-6
_SLACK = 1.0 + 1e-9
_READ_ALIKE = 0.999
"""Of the true volts: a voltmeter that shows so much of them shows them."""
_MOST_DROP = 0.3
"""Volts across a sense resistor at full scale, at most; common practice, no source."""
_LEAST_OHMS, _MOST_OHMS = 1e-4, 1e3
_WARM_WATTS = 0.1
"""Watts in a sense resistor worth a word."""
OLD_VOLTMETER = 1000.0
"""Ohms of an old voltmeter of 1000 Ω per volt on its 1 V range; common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Fed:
    """A reading fed alone on the bench, at full scale: no standing current flows."""

    setup: Setup
    amps: float
    insertion: float
    deflection: float
    bench: Bench

    @property
    def series(self) -> float:
        return self.bench.series_resistor_ohms or 0.0

    @property
    def volts(self) -> float:
        return self.amps * self.insertion

    @property
    def supply(self) -> float:
        return self.amps * (self.series + self.insertion)

    @property
    def instead(self) -> str:
        """The series resistor that lets a supply reach full scale; nothing if it is that."""
        found = series_for(self.amps, self.insertion)
        if found is None:
            amps = with_unit(self.amps, "A", 3)
            return f"; full scale needs a supply with its current limit set to {amps}"
        ohms, watts = found
        if ohms == self.series:
            return ""
        return f"; {in_ohms(ohms)}, {watts:g} W in series reaches full scale"


def bench_test(solved: Solved, setup: Setup) -> BenchTest | None:
    """The table for one reading: supply and series resistor to the points of the reading.

    The wiring stands alone on the bench. Rows at 10, 25, 50, 75 and 100 % and at the marks, as far
    as no part, no resistor and no hand is harmed; without rows where full scale needs over 50 V at
    the points. None if no current flows or the pointer would not rise.

    Source: supply volts = current × (series resistor + insertion resistance),
    watts in the series resistor = current² × its resistance.
    """
    fed = _fed(solved, setup)
    if fed is None:
        return None
    reading = setup.reading
    head = (reading.name, reading.quantity, fed.series, reading.places)
    if fed.volts > MOST_VOLTS * _SLACK:
        return BenchTest(*head, (), tuple(_leg_by_leg(solved, fed)))
    share, why = min(_limits(solved, fed), key=lambda limit: limit[0])
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    asked = sorted({*STEPS, *marks})
    rows = tuple(_row(fed, p, marks.get(p)) for p in asked if p <= 100.0 * share * _SLACK)
    left = tuple(p for p in asked if p > 100.0 * share * _SLACK)
    steps = ", ".join(f"{percent:.3g} %" for percent in left)
    not_here = [f"not on this bench: {steps}; {why}"] if left else []
    notes = (*_source_notes(fed), *not_here, *_series_notes(fed, rows))
    if reading.quantity != "current":
        return BenchTest(*head, rows, notes, None, left)
    sense = sense_for(reading.full_scale, fed.series + fed.insertion)
    return BenchTest(*head, rows, (*notes, _sense_note(sense)), sense, left)


def _fed(solved: Solved, setup: Setup) -> _Fed | None:
    circuit, reading = replace(setup.circuit, also=()), setup.reading
    found = nominal(solved.network, circuit, solved.values)
    if not circuit.branches or not found.insertion or not np.isfinite(found.insertion):
        return None
    if found.amps is None or not setup.full_scale or found.amps <= 0.0:
        return None
    amps = reading.full_scale
    if reading.quantity == "voltage":  # a source's own ohms stay in the equipment
        amps /= found.insertion + reading.source_resistance
    alone, deflection = replace(setup, circuits=(circuit,)), found.amps / setup.full_scale
    return _Fed(alone, amps, found.insertion, deflection, solved.spec.bench)


def _limits(solved: Solved, fed: _Fed) -> Iterator[tuple[float, str]]:
    """Shares of full scale up to which each thing is fed without harm, and why no further."""
    bench, parts = fed.bench, solved.network.parts
    over = f"the supply would have to give over {MOST_VOLTS:.0f} V{fed.instead}"
    yield MOST_VOLTS / fed.supply, over
    rating, watts = bench.series_resistor_watts, fed.amps**2 * fed.series
    if rating is not None and watts:
        most = (rating / watts) ** 0.5
        amps, stands = with_unit(most * fed.amps, "A", 3), with_unit(rating, "W", 3)
        yield most, f"do not exceed {amps}: the series resistor is rated {stands}{fed.instead}"
    if bench.supply_volts is not None:
        gives = with_unit(bench.supply_volts, "V", 3)
        yield bench.supply_volts / fed.supply, f"the supply at hand gives only {gives}"
    if bench.supply_amps is not None:
        gives = with_unit(bench.supply_amps, "A", 3)
        yield bench.supply_amps / fed.amps, f"the supply at hand gives only {gives}"
    yield _MOST_TIMES / fed.deflection, "the meter would go too far beyond its full scale"
    for part, load in loads_of(solved, fed.setup).items():
        if part in parts:
            yield load.times(parts[part]), f"{part} is not rated for more"


def _row(fed: _Fed, percent: float, mark: str | None) -> BenchRow:
    share = percent / 100.0
    return BenchRow(
        percent=percent,
        true_value=fed.setup.reading.full_scale * share,
        supply_volts=fed.supply * share,
        supply_amps=fed.amps * share,
        knob_volts=knob(fed.supply * share),
        deflection=fed.deflection * share,
        series_watts=(fed.amps * share) ** 2 * fed.series,
        mark=mark,
    )


def knob(volts: float) -> float:
    """What to set a supply to: three figures, two below 0.1 V, nothing below 10 mV.

    >>> knob(6.312), knob(2.25), knob(0.09996), knob(0.02512), knob(0.005), knob(12.0)
    (6.31, 2.25, 0.1, 0.025, 0.0, 12.0)
    """
    if volts < _NO_VOLTS:
        return 0.0
    return float(f"{volts:.{3 if volts >= _LEAST_VOLTS else 2}g}")


def _source_notes(fed: _Fed) -> Iterator[str]:
    reading = fed.setup.reading
    if reading.ac:
        yield "AC: supply and readings are rms values"
    if reading.quantity != "voltage":
        return
    behind = reading.source_resistance or 0.0
    share = fed.insertion / (fed.insertion + behind) if behind else 1.0
    if share < _READ_ALIKE:
        yield (
            f"true volts are those behind the equipment's own {in_ohms(behind)}: a voltmeter at "
            f"the two points shows {100.0 * share:.4g} % of them"
        )
    elif fed.series:
        yield "true volts: by a voltmeter at the two points, behind the series resistor"


def _series_notes(fed: _Fed, rows: Sequence[BenchRow]) -> Iterator[str]:
    if not rows:
        return
    top, rating = rows[-1], fed.bench.series_resistor_watts
    if fed.series and rating is None:
        takes = with_unit(top.series_watts, "W", 2)
        yield f"the series resistor takes up to {takes}: take one rated for twice that"
    elif rating and top.series_watts > rating / 2:
        yield "the series resistor takes over half its rating: it gets hot"
    if top.knob_volts < _LEAST_VOLTS:
        yield f"too low to set on a supply{fed.instead}"


def series_for(amps: float, insertion: float) -> tuple[float, float] | None:
    """A series resistor, ohm, and a rating of twice the watts, to feed a current with some volts.

    None if none that is found on a bench does. ``insertion`` is of the circuit that is fed.

    Source: common practice, no source: so many ohms that full scale needs 2 V or more and a
    slip of the knob does little harm, and half the rating at most.

    >>> series_for(5.0, 0.01), series_for(0.1, 1.0)
    ((0.47, 25.0), (22.0, 0.5))
    """
    least = max(_EASY_VOLTS / amps - insertion, 0.1 * insertion)
    decade = 10.0 ** floor(np.log10(least))
    ohms = next(step * decade for step in _DECADE if step * decade >= least / _SLACK)
    watts = next((w for w in _RATINGS if w >= 2.0 * amps**2 * ohms), None)
    if watts is None or amps**2 * ohms > _MOST_WATTS / 2 or amps * (ohms + insertion) > MOST_VOLTS:
        return None
    return float(f"{ohms:.3g}"), watts


def _leg_by_leg(solved: Solved, fed: _Fed) -> Iterator[str]:
    """Resistors that carry the whole drive, by ohmmeter; then the rest with a small voltage."""
    volts = with_unit(fed.volts, "V", 3)
    yield f"do not feed this range from a bench supply: full scale is {volts} and can kill"
    whole: dict[str, float] = {}
    own: dict[str, float] = {}
    takes = fed.deflection * (fed.setup.full_scale or 0.0)
    for branch, flow in flow_of(fed.setup.circuit, solved.values).branches.items():
        part = solved.network.parts.get(branch.part)
        for amps, legs in ((fed.amps, whole), (takes, own)):
            if part is not None and part.fixed_ohms and abs(flow.at_most / amps - 1.0) < _WHOLE:
                legs[branch.part] = legs.get(branch.part, 0.0) + abs(flow.volts) / amps
    yield f"leg by leg, unplugged and discharged: {_legs(solved, fed, whole, own)}"
    points = filter(None, map(solved.spec.points.get, fed.setup.reading.places))
    most = with_unit(max(fed.volts, *(abs(p.most_volts) for p in points), 0.0), "V", 3)
    yield (
        "to look at it in the set: a high-voltage probe, or a meter and leads, rated above "
        f"{most}, put on with the power off and not touched while it is on"
    )


def _legs(solved: Solved, fed: _Fed, whole: dict[str, float], own: dict[str, float]) -> str:
    rest = fed.insertion - sum(whole.values())
    series = series_for(fed.amps, rest)
    if not whole or rest * fed.amps > MOST_VOLTS or series is None:
        alone = ", ".join(f"{name} {in_ohms(ohms)}" for name, ohms in own.items())
        also = f", and one lead lifted, across {alone}" if alone else ""
        return f"the ohmmeter must show {in_ohms(fed.insertion)} between the two points{also}"
    measured = ", ".join(f"{name} {in_ohms(ohms)}" for name, ohms in whole.items())
    supply = with_unit(knob(fed.amps * (series[0] + rest)), "V")
    return (
        f"measure {measured} with an ohmmeter; then feed {with_unit(fed.amps, 'A', 3)} through "
        f"{in_ohms(series[0])}, from about {supply}, into {_rest_of(solved, fed, list(whole))}: "
        f"the pointer must stand at {100.0 * fed.deflection:.1f} %"
    )


def _rest_of(solved: Solved, fed: _Fed, whole: Sequence[str]) -> str:
    """Between which points the rest lies, where the legs are one chain from an end."""
    network, places = solved.network, fed.setup.reading.places
    plus, minus = network.ends(places) or (None, None)
    lugs = [terminal for name in whole for terminal in network.parts[name].full_terminals]
    ends = Counter(map(network.node, lugs))
    loose = [node for node, count in ends.items() if count == 1 and node not in (plus, minus)]
    if len(loose) != 1 or (plus in ends) == (minus in ends):
        return "what is left"
    named = [m for m in network.nets.members[loose[0]] if m in solved.spec.points]
    near = (named or [lug for lug in lugs if network.node(lug) == loose[0]])[0]
    one, other = (near, places[1]) if plus in ends else (places[0], near)
    return f"{one} (+) and {other} (-)"


def sense_for(full_scale: float, loop_ohms: float) -> Sense:
    """A sense resistor for a current, what it shows, and what it does to the current.

    A power of ten, so that volts read as amperes; 1 Ω (mV = mA) for tens and hundreds of
    milliamperes. ``loop_ohms`` are of all that the supply feeds without it.

    Source: common practice, no source. By Ohm's law the current falls at the same supply volts as
    the loop's ohms rise, and an old voltmeter across it takes its share of the current.

    >>> [sense_for(amps, 1.0).ohms for amps in (10.0, 0.25, 0.05, 0.005)]
    [0.01, 1.0, 1.0, 10.0]
    """
    decade = float(10.0 ** floor(log10(_MOST_DROP / full_scale) + 1e-9))
    ohms = min(max(decade, _LEAST_OHMS), _MOST_OHMS)
    return Sense(
        ohms=ohms,
        full_scale_volts=ohms * full_scale,
        full_scale_watts=ohms * full_scale**2,
        insertion_percent=-100.0 * ohms / (loop_ohms + ohms),
        burden_ohms=OLD_VOLTMETER,
        burden_percent=-100.0 * ohms / (ohms + OLD_VOLTMETER),
    )


def _sense_note(sense: Sense) -> str:
    """How to read the true current."""
    watts = sense.full_scale_watts
    warm = f" ({with_unit(watts, 'W', 2)} at full scale)" if watts > _WARM_WATTS else ""
    volts, amps = with_unit(sense.ohms / 1e3, "V"), "1 mA"
    if sense.ohms < 1.0:
        volts, amps = with_unit(sense.ohms, "V"), "1 A"
    return (
        f"to read the true current put {in_ohms(sense.ohms)}{warm} in series: {volts} = {amps}; "
        f"raise the supply until it shows {with_unit(sense.full_scale_volts, 'V', 3)} at full scale"
    )
