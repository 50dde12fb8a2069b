"""Bench test: what to feed, and what each meter must then read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.spec.model import Bench, Reading, Resistor
from rewire.values.board import Board
from rewire.values.model import BenchRow, BenchTest
from rewire.values.readings import Setup, point
from rewire.values.sensing import sense_for, sense_note
from rewire.values.stress import carried_by
from rewire.values.units import in_ohms, with_unit

STEPS = (10.0, 25.0, 50.0, 75.0, 100.0)
_TOUCHABLE = 50.0
"""Volts from which a bench lead is dangerous, as the printed sheets take it."""
_WHOLE = 1e-6


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
        Rows at 10, 25, 50, 75 and 100 % and at the marks; None if no current flows or
        the pointer would not rise.

    Source: supply volts = current × (series resistor + insertion resistance),
    watts in the series resistor = current² × its resistance.
    """
    alone = replace(setup.circuit, also=())
    found = point(board, alone, values) if alone.branches else None
    if found is None or not found.insertion or not np.isfinite(found.insertion):
        return None
    if found.amps is None or not setup.full_scale or found.amps <= 0.0:
        return None
    deflection = found.amps / setup.full_scale
    reading, series = setup.reading, bench.series_resistor_ohms or 0.0
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    rows = [
        _row(setup, percent, found.insertion, series, deflection, bench, marks.get(percent))
        for percent in sorted({*STEPS, *marks})
    ]
    sense = None
    notes = list(_notes(board, setup, values, rows, found.insertion, deflection, bench))
    if reading.quantity == "current":
        sense = sense_for(reading.full_scale, series + found.insertion)
        notes.append(sense_note(sense))
    return BenchTest(reading.name, reading.quantity, series, tuple(rows), tuple(notes), sense)


def _row(
    setup: Setup,
    percent: float,
    insertion: float,
    series: float,
    deflection: float,
    bench: Bench,
    mark: str | None,
) -> BenchRow:
    reading, share = setup.reading, percent / 100.0
    true_value = reading.full_scale * share
    amps = _drive_amps(reading, insertion) * share
    volts = amps * (series + insertion)
    watts = amps * amps * series
    return BenchRow(
        percent=percent,
        true_value=true_value,
        supply_volts=volts,
        supply_amps=amps,
        deflection=deflection * share,
        series_watts=watts,
        mark=mark,
        ok=_within(volts, bench.supply_volts)
        and _within(amps, bench.supply_amps)
        and _within(watts, bench.series_resistor_watts),
    )


def _drive_amps(reading: Reading, insertion: float) -> float:
    """Current into the places at full scale; a source's own ohms stay in the equipment."""
    if reading.quantity == "current":
        return reading.full_scale
    return reading.full_scale / (insertion + reading.source_resistance)


def _within(value: float, limit: float | None) -> bool:
    return limit is None or value <= limit * (1 + 1e-9)


def _notes(
    board: Board,
    setup: Setup,
    values: Sequence[Array | None],
    rows: Sequence[BenchRow],
    insertion: float,
    deflection: float,
    bench: Bench,
) -> Iterator[str]:
    top, reading = max(rows, key=lambda row: row.percent), setup.reading
    if reading.ac:
        yield "AC: supply and readings are rms values"
    if reading.source_resistance:
        own = in_ohms(reading.source_resistance)
        share = insertion / (insertion + reading.source_resistance)
        yield (
            f"true volts are those behind the equipment's own {own}: a voltmeter at the two places "
            f"shows {100.0 * share:.4g} % of them"
        )
    elif reading.quantity == "voltage" and bench.series_resistor_ohms:
        yield "true volts: by a voltmeter at the two places, behind the series resistor"
    yield from _series_notes(top, bench)
    reach = _reach(top, bench)
    if reach < 1.0:
        yield (
            f"the supply at hand reaches {100.0 * reach:.3g} % of full scale: test there, "
            "the rest leg by leg"
        )
    if top.supply_volts >= _TOUCHABLE:
        yield (
            f"{with_unit(top.supply_volts, 'V', 3)} on open leads can kill: work with one hand, "
            "or test leg by leg"
        )
        yield from _leg_by_leg(board, setup, values, insertion, deflection)


def _series_notes(top: BenchRow, bench: Bench) -> Iterator[str]:
    ohms, rating = bench.series_resistor_ohms, bench.series_resistor_watts
    if not ohms or not rating:
        return
    if not _within(top.series_watts, rating):
        most = with_unit(sqrt(rating / ohms), "A", 3)
        yield f"the series resistor stands {most} for long: be quick above that"
    elif top.series_watts > rating / 2:
        yield "the series resistor takes over half its rating: it gets hot (common practice)"


def _reach(top: BenchRow, bench: Bench) -> float:
    """Share of full scale that the supply at hand gives; 1 or more for all of it."""
    shares = [1.0]
    if bench.supply_volts is not None:
        shares.append(bench.supply_volts / top.supply_volts)
    if bench.supply_amps is not None:
        shares.append(bench.supply_amps / top.supply_amps)
    return min(shares) * (1 + 1e-9)


def _leg_by_leg(
    board: Board,
    setup: Setup,
    values: Sequence[Array | None],
    insertion: float,
    deflection: float,
) -> Iterator[str]:
    """Resistors that carry the whole drive, by ohmmeter; then the rest with a small voltage."""
    carried = carried_by(replace(setup, circuits=(replace(setup.circuit, also=()),)), values)
    if carried is None:
        return
    amps = _drive_amps(setup.reading, insertion)
    whole: dict[str, float] = {}
    for branch, flow in zip(setup.circuit.branches, carried, strict=True):
        part = board.parts.get(branch.part)
        if isinstance(part, Resistor) and abs(flow.at_most / amps - 1.0) < _WHOLE:
            whole[branch.part] = whole.get(branch.part, 0.0) + abs(flow.volts) / amps
    if not whole:
        return
    measured = ", ".join(f"{name} {in_ohms(ohms)}" for name, ohms in whole.items())
    rest = (insertion - sum(whole.values())) * amps
    yield (
        f"leg by leg: {measured} by ohmmeter; then {with_unit(amps, 'A')} "
        f"({with_unit(rest, 'V', 3)}) into what is left must put the pointer at "
        f"{100.0 * deflection:.1f} %"
    )
