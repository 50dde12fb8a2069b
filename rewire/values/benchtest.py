"""Bench test: what to feed, and what each meter must then read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.spec.model import Bench, Resistor
from rewire.values.board import Board
from rewire.values.model import BenchRow, BenchTest
from rewire.values.readings import Setup, point
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
        bench: the gear at hand; a series resistor of 0 Ω where none is stated.

    Returns:
        Rows at 10, 25, 50, 75 and 100 % and at the marks; None if no current flows.

    Source: supply volts = current × (series resistor + insertion resistance),
    watts in the series resistor = current² × its resistance.
    """
    alone = replace(setup.circuit, also=())
    found = point(board, alone, values) if alone.branches else None
    if found is None or not found.insertion or not np.isfinite(found.insertion):
        return None
    reading, series = setup.reading, bench.series_resistor_ohms or 0.0
    deflection = None
    if found.amps is not None and setup.full_scale:
        deflection = found.amps / setup.full_scale
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    rows = [
        _row(setup, percent, found.insertion, series, deflection, bench, marks.get(percent))
        for percent in sorted({*STEPS, *marks})
    ]
    notes = tuple(_notes(board, setup, values, rows, found.insertion, bench))
    return BenchTest(reading.name, reading.quantity, series, tuple(rows), notes)


def _row(
    setup: Setup,
    percent: float,
    insertion: float,
    series: float,
    deflection: float | None,
    bench: Bench,
    mark: str | None,
) -> BenchRow:
    reading, share = setup.reading, percent / 100.0
    true_value = reading.full_scale * share
    amps = true_value if reading.quantity == "current" else true_value / insertion
    # A source of its own resistance in the equipment: the supply must give what the places see.
    if reading.quantity == "voltage":
        amps = true_value / (insertion + reading.source_resistance)
    volts = amps * (series + insertion)
    watts = amps * amps * series
    return BenchRow(
        percent=percent,
        true_value=true_value,
        supply_volts=volts,
        supply_amps=amps,
        deflection=None if deflection is None else deflection * share,
        series_watts=watts,
        mark=mark,
        ok=_within(volts, bench.supply_volts)
        and _within(amps, bench.supply_amps)
        and _within(watts, bench.series_resistor_watts),
    )


def _within(value: float, limit: float | None) -> bool:
    return limit is None or value <= limit * (1 + 1e-9)


def _notes(
    board: Board,
    setup: Setup,
    values: Sequence[Array | None],
    rows: Sequence[BenchRow],
    insertion: float,
    bench: Bench,
) -> Iterator[str]:
    top = max(rows, key=lambda row: row.percent)
    assert top.supply_volts is not None
    assert top.supply_amps is not None
    if bench.series_resistor_ohms is None:
        yield "no series resistor is stated under bench: 0 Ω is taken; use one, it saves the meter"
    if bench.series_resistor_ohms and not _within(
        top.series_watts or 0, bench.series_resistor_watts
    ):
        most = sqrt((bench.series_resistor_watts or 0.0) / bench.series_resistor_ohms)
        yield f"the series resistor stands {with_unit(most, 'A', 3)} for long: be quick above that"
    elif bench.series_resistor_watts and (top.series_watts or 0) > bench.series_resistor_watts / 2:
        yield "the series resistor takes over half its rating: it gets hot (common practice)"
    if not top.ok and not _within(top.supply_volts, bench.supply_volts):
        share = 100.0 * (bench.supply_volts or 0.0) / top.supply_volts
        yield (
            f"the supply at hand reaches {share:.3g} % of full scale: test there, "
            "the rest leg by leg"
        )
    if top.supply_volts >= _TOUCHABLE:
        yield (
            f"{with_unit(top.supply_volts, 'V', 3)} on open leads can kill: work with one hand, "
            "or test leg by leg"
        )
        yield from _leg_by_leg(board, setup, values, insertion)
    if setup.reading.quantity == "current":
        yield _sense_note(setup.reading.full_scale)


def _leg_by_leg(
    board: Board, setup: Setup, values: Sequence[Array | None], insertion: float
) -> Iterator[str]:
    """Resistors that carry the whole drive, by ohmmeter; then the rest with a small voltage."""
    carried = carried_by(replace(setup, circuits=(replace(setup.circuit, also=()),)), values)
    if carried is None:
        return
    amps = setup.reading.full_scale / (insertion + setup.reading.source_resistance)
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
        f"({with_unit(rest, 'V', 3)}) into what is left must give full scale"
    )


def _sense_note(full_scale: float) -> str:
    per_ohm = with_unit(full_scale, "V", 3)
    return (
        f"true current: the drop across 1 Ω in the lead, mV = mA ({per_ohm} at full scale; "
        "common practice, no source)"
    )


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
