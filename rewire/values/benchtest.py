"""Bench test: what to feed, and what each meter must then read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.spec import Bench, Reading, Resistor
from rewire.values.board import Board
from rewire.values.circuits import place_of
from rewire.values.live import most_volts
from rewire.values.model import BenchRow, BenchTest
from rewire.values.readings import Setup, point
from rewire.values.sensing import sense_for, sense_note
from rewire.values.stress import Load, carried_by, share_stood
from rewire.words.quantity import in_ohms, with_unit

STEPS = (10.0, 25.0, 50.0, 75.0, 100.0)
MOST_VOLTS = 50.0
"""Volts that a bench lead may carry: nothing above is fed by hand."""
_MOST_TIMES = 1.2
"""Times full scale that a moving coil stands for hours: IEC 60051-1, from memory."""
_EASY_VOLTS = 2.0
"""Volts at full scale that a supply's knob sets with ease; common practice, no source."""
_LEAST_VOLTS = 0.1
"""Volts below which no knob of a supply can be set; common practice, no source."""
_MOST_WATTS = 100.0
"""Watts of the largest resistor that is found on a bench; common practice, no source."""
_DECADE = (1.0, 2.2, 4.7, 10.0)
_RATINGS = (0.5, 1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 200.0)
_WHOLE = 1e-6
_SLACK = 1.0 + 1e-9


@dataclass(frozen=True, slots=True)
class _Fed:
    """A reading fed alone on the bench, at full scale."""

    reading: Reading
    amps: float
    insertion: float
    deflection: float
    series: float

    @property
    def volts(self) -> float:
        """Across the two places."""
        return self.amps * self.insertion

    @property
    def supply(self) -> float:
        """Of the supply, in front of the series resistor."""
        return self.amps * (self.series + self.insertion)


def bench_test(
    board: Board, setup: Setup, values: Sequence[Array | None], bench: Bench
) -> BenchTest | None:
    """The table for one reading: supply and series resistor to the places of the reading.

    Args:
        board: the wiring, standing alone on the bench: nothing else is connected, no
            standing current flows.
        setup: the reading.
        values: the board's values.
        bench: the gear at hand; no series resistor where none is stated.

    Returns:
        Rows at 10, 25, 50, 75 and 100 % and at the marks, as far as no part, no resistor
        and no hand is harmed; without rows where full scale needs over 50 V at the places.
        None if no current flows or the pointer would not rise.

    Source: supply volts = current × (series resistor + insertion resistance),
    watts in the series resistor = current² × its resistance.
    """
    fed = _fed(board, setup, values, bench)
    if fed is None:
        return None
    reading = fed.reading
    if fed.volts > MOST_VOLTS * _SLACK:
        notes = tuple(_leg_by_leg(board, setup, values, fed))
        return BenchTest(reading.name, reading.quantity, fed.series, reading.places, (), notes)
    share, why = min(_limits(board, setup, values, fed, bench), key=lambda limit: limit[0])
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    asked = sorted({*STEPS, *marks})
    rows = [_row(fed, p, marks.get(p)) for p in asked if p <= 100.0 * share * _SLACK]
    left = tuple(p for p in asked if p > 100.0 * share * _SLACK)
    notes = tuple(_notes(fed, rows, left, why, bench))
    sense = None
    if reading.quantity == "current":
        sense = sense_for(reading.full_scale, fed.series + fed.insertion)
        notes = (*notes, sense_note(sense))
    return BenchTest(
        reading.name, reading.quantity, fed.series, reading.places, tuple(rows), notes, sense, left
    )


def _fed(board: Board, setup: Setup, values: Sequence[Array | None], bench: Bench) -> _Fed | None:
    alone = replace(setup.circuit, also=())
    found = point(board, alone, values) if alone.branches else None
    if found is None or not found.insertion or not np.isfinite(found.insertion):
        return None
    if found.amps is None or not setup.full_scale or found.amps <= 0.0:
        return None
    amps = _drive_amps(setup.reading, found.insertion)
    deflection = found.amps / setup.full_scale
    return _Fed(setup.reading, amps, found.insertion, deflection, bench.series_resistor_ohms or 0.0)


def _drive_amps(reading: Reading, insertion: float) -> float:
    """Current into the places at full scale; a source's own ohms stay in the equipment."""
    if reading.quantity == "current":
        return reading.full_scale
    return reading.full_scale / (insertion + reading.source_resistance)


def _limits(
    board: Board, setup: Setup, values: Sequence[Array | None], fed: _Fed, bench: Bench
) -> Iterator[tuple[float, str]]:
    """Shares of full scale up to which each thing is fed without harm, and why no further."""
    over = f"the supply would have to give over {MOST_VOLTS:.0f} V{_instead(fed)}"
    yield MOST_VOLTS / fed.supply, over
    rating, watts = bench.series_resistor_watts, fed.amps**2 * fed.series
    if rating is not None and watts:
        most = (rating / watts) ** 0.5
        amps, stands = with_unit(most * fed.amps, "A", 3), with_unit(rating, "W", 3)
        said = f"do not exceed {amps}: the series resistor is rated {stands}{_instead(fed)}"
        yield most, said
    if bench.supply_volts is not None:
        yield bench.supply_volts / fed.supply, "the supply at hand gives no more volts"
    if bench.supply_amps is not None:
        yield bench.supply_amps / fed.amps, "the supply at hand gives no more amperes"
    yield _MOST_TIMES / fed.deflection, "the meter would go too far beyond its full scale"
    for part, load in _loads(setup, values).items():
        if part in board.parts:
            yield share_stood(board.parts[part], load), f"{part} is not rated for more"


def _loads(setup: Setup, values: Sequence[Array | None]) -> dict[str, Load]:
    """What full scale of a reading, fed alone, puts on each part."""
    circuit = replace(setup.circuit, also=())
    carried = carried_by(replace(setup, circuits=(circuit,)), values) or []
    by_part = dict.fromkeys(branch.part for branch in circuit.branches) if carried else {}
    return {
        part: Load.of(
            setup.reading.name,
            [f for b, f in zip(circuit.branches, carried, strict=True) if b.part == part],
        )
        for part in by_part
    }


def _row(fed: _Fed, percent: float, mark: str | None) -> BenchRow:
    share = percent / 100.0
    return BenchRow(
        percent=percent,
        true_value=fed.reading.full_scale * share,
        supply_volts=fed.supply * share,
        supply_amps=fed.amps * share,
        knob_volts=knob(fed.supply * share),
        deflection=fed.deflection * share,
        series_watts=(fed.amps * share) ** 2 * fed.series,
        mark=mark,
    )


def knob(volts: float) -> float:
    """What to set a supply to: never more than is wanted, the rest by the meter that senses.

    >>> knob(6.312), knob(0.4872), knob(0.005), knob(12.0)
    (6.3, 0.48, 0.0, 12.0)
    """
    steps = 10.0 if volts >= 1.0 else 100.0
    return floor(volts * steps * _SLACK) / steps


def _notes(
    fed: _Fed, rows: Sequence[BenchRow], left: Sequence[float], why: str, bench: Bench
) -> Iterator[str]:
    reading = fed.reading
    if reading.ac:
        yield "AC: supply and readings are rms values"
    if reading.source_resistance and reading.quantity == "voltage":
        own = in_ohms(reading.source_resistance)
        share = fed.insertion / (fed.insertion + reading.source_resistance)
        yield (
            f"true volts are those behind the equipment's own {own}: a voltmeter at the two places "
            f"shows {100.0 * share:.4g} % of them"
        )
    elif reading.quantity == "voltage" and fed.series:
        yield "true volts: by a voltmeter at the two places, behind the series resistor"
    if left:
        steps = ", ".join(f"{percent:.3g} %" for percent in left)
        yield f"not on this bench: {steps}; {why}"
    yield from _series_notes(fed, rows, bench)


def _series_notes(fed: _Fed, rows: Sequence[BenchRow], bench: Bench) -> Iterator[str]:
    top = rows[-1] if rows else None
    if top is None:
        return
    rating = bench.series_resistor_watts
    if fed.series and rating is None:
        takes = with_unit(top.series_watts, "W", 2)
        yield f"the series resistor takes up to {takes}: take one rated for twice that"
    elif rating and top.series_watts > rating / 2:
        yield "the series resistor takes over half its rating: it gets hot (common practice)"
    if top.knob_volts < _LEAST_VOLTS:
        yield f"too few volts for the knob of a supply{_instead(fed)}"


def _instead(fed: _Fed) -> str:
    """The series resistor that lets a supply reach full scale, in words; nothing if it is that."""
    found = series_for(fed.amps, fed.insertion)
    if found is None:
        return f"; full scale needs a supply with its current limit set to {_amps(fed)}"
    ohms, watts = found
    if ohms == fed.series:
        return ""
    return f"; {in_ohms(ohms)}, {watts:g} W in series reaches full scale"


def _amps(fed: _Fed) -> str:
    return with_unit(fed.amps, "A", 3)


def series_for(amps: float, insertion: float) -> tuple[float, float] | None:
    """A series resistor and a rating of twice the watts, to feed a current with some volts.

    Args:
        amps: at full scale.
        insertion: of the circuit that is fed, ohm.

    Returns:
        Ohm and watt; None if none that is found on a bench does.

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


def _leg_by_leg(
    board: Board, setup: Setup, values: Sequence[Array | None], fed: _Fed
) -> Iterator[str]:
    """Resistors that carry the whole drive, by ohmmeter; then the rest with a small voltage."""
    volts = with_unit(fed.volts, "V", 3)
    yield f"do not feed this range from a bench supply: full scale is {volts} and can kill"
    alone = replace(setup, circuits=(replace(setup.circuit, also=()),))
    whole: dict[str, float] = {}
    own: dict[str, float] = {}
    takes = fed.deflection * (setup.full_scale or 0.0)
    for branch, flow in zip(setup.circuit.branches, carried_by(alone, values) or (), strict=False):
        part = board.parts.get(branch.part)
        for amps, legs in ((fed.amps, whole), (takes, own)):
            if isinstance(part, Resistor) and abs(flow.at_most / amps - 1.0) < _WHOLE:
                legs[branch.part] = legs.get(branch.part, 0.0) + abs(flow.volts) / amps
    yield f"leg by leg, unplugged and discharged: {_legs(board, fed, whole, own)}"
    yield (
        "to look at it in the set: a high-voltage probe, or a meter and leads, rated above "
        f"{_rated(board, fed)}, put on with the power off and not touched while it is on"
    )


def _rated(board: Board, fed: _Fed) -> str:
    """The most that a probe meets: full scale, or what a place of the reading rises to."""
    points = [board.spec.points[p] for p in fed.reading.places if p in board.spec.points]
    return with_unit(max(fed.volts, *(abs(most_volts(p)) for p in points), 0.0), "V", 3)


def _legs(board: Board, fed: _Fed, whole: dict[str, float], own: dict[str, float]) -> str:
    rest = fed.insertion - sum(whole.values())
    series = series_for(fed.amps, rest)
    if not whole or rest * fed.amps > MOST_VOLTS or series is None:
        alone = ", ".join(f"{name} {in_ohms(ohms)}" for name, ohms in own.items())
        also = f", and one lead lifted, across {alone}" if alone else ""
        return f"the ohmmeter must show {in_ohms(fed.insertion)} between the two places{also}"
    measured = ", ".join(f"{name} {in_ohms(ohms)}" for name, ohms in whole.items())
    supply = with_unit(knob(fed.amps * (series[0] + rest)), "V")
    return (
        f"measure {measured} with an ohmmeter; then feed {_amps(fed)} through "
        f"{in_ohms(series[0])}, from about {supply}, into {_rest_of(board, fed, list(whole))}: the "
        f"pointer must stand at {100.0 * fed.deflection:.1f} %"
    )


def _rest_of(board: Board, fed: _Fed, whole: Sequence[str]) -> str:
    """Between which places what is left lies, where the legs are one chain from an end."""
    plus, minus = (place_of(board, place) for place in fed.reading.places)
    ends = Counter(
        board.node(board.parts[name].terminal(lug))
        for name in whole for lug in board.parts[name].terminals
    )  # fmt: skip
    loose = [node for node, count in ends.items() if count == 1 and node not in (plus, minus)]
    if len(loose) != 1 or (plus in ends) == (minus in ends):
        return "what is left"
    named = [m for m in board.nets.members[loose[0]] if m in board.spec.points]
    far = [f"{name}.{lug}" for name in whole for lug in board.parts[name].terminals
           if board.node(f"{name}.{lug}") == loose[0]]  # fmt: skip
    near = (named or far)[0]
    one, other = (near, fed.reading.places[1]) if plus in ends else (fed.reading.places[0], near)
    return f"{one} (+) and {other} (-)"
