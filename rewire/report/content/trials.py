"""Bench test and calibration: what to feed, what must be read, and room for what was read."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, inf, log10

from rewire.reading.benchlog import dial_ends
from rewire.records.spec import Reading, Wiring
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words, row, used_columns
from rewire.values.benchtest import MOST_VOLTS
from rewire.values.model import BenchRow, BenchTest, PotAnswer, Readout, WiringValues
from rewire.words.quantity import in_ohms, with_unit

_STEPS = (0.0, 25.0, 50.0, 75.0, 100.0)
_FULL = 100.0 - 1e-6
_UNITS = {"current": "A", "voltage": "V"}


def bench_sections(packet: Packet) -> Iterator[Section]:
    """For each plan a table per reading: supply, true value, pointer, room for what it read."""
    for wiring in packet.plans:
        values = packet.values.get(wiring.name)
        if values is not None and values.bench:
            blocks = (block for test in values.bench for block in _bench(wiring, test))
            minded = (Words(w.message, mark="!", bold=True) for w in values.warnings if w.first)
            yield Section("bench", f"Bench test: {wiring.name}", (*minded, *blocks))


def _bench(wiring: Wiring, test: BenchTest) -> Iterator[Block]:
    reading = wiring.readings[test.reading]
    if test.rows:
        how = f" through {in_ohms(test.series_ohms)}" if test.series_ohms else ""
        plus, minus = test.places
        yield Words(
            f"{test.reading} ({_where(reading)}): supply{how} to {plus} (+) and {minus} (-), "
            "nothing else connected. Raise it from zero, and stop if the pointer does not follow."
        )
        yield _bench_table(reading, test)
    else:
        yield Words(f"{test.reading} ({_where(reading)}): leg by leg.")
    yield from (Words(note, mark="–") for note in test.notes)


def _bench_table(reading: Reading, test: BenchTest) -> Table:
    quantity = "current" if test.quantity == "current" else "volts"
    return used_columns(
        Table(
            ("step", "supply, about", f"true {quantity}", "pointer", "on the dial",
             "in the series R", "mark", "read"),
            tuple(_bench_row(reading, test, line) for line in test.rows),
            (14.0, 26.0, 24.0, 20.0, 24.0, 26.0, 38.0, 26.0),
        ),
        ("read",),
    )  # fmt: skip


def _bench_row(reading: Reading, test: BenchTest, line: BenchRow) -> tuple[Cell, ...]:
    pointer = "unknown" if line.deflection is None else f"{100 * line.deflection:.1f} %"
    watts = with_unit(line.series_watts, "W", 3) if test.series_ohms else ""
    return (
        *row(f"{line.percent:.3g} %", with_unit(line.knob_volts, "V")),
        Cell(with_unit(line.true_value, _UNITS[reading.quantity]), bold=True),
        *row(pointer, _on_dial(reading, line.deflection), watts),
        Cell(line.mark or ""),
        Cell(blank=True),
    )


def _on_dial(reading: Reading, deflection: float | None) -> str:
    """Where the pointer stands on the arc the operator reads, if the spec names it by its ends.

    An arc is named by its ends, ``0-250`` say; any other text gives nothing.
    """
    ends = dial_ends(reading.scale)
    if ends is None or deflection is None:
        return ""
    span = ends[1] - ends[0]
    decimals = max(0, 3 - floor(log10(abs(span))))
    return f"{ends[0] + span * deflection:.{decimals}f}"


def _where(reading: Reading) -> str:
    at = ", ".join(f"{name} at {' or '.join(p)}" for name, p in reading.when.items())
    return at or "in every position"


def calibration_sections(packet: Packet) -> Iterator[Section]:
    """For each plan: set the pots, then a table per reading with room for what was read."""
    for wiring in packet.plans:
        if wiring.readings:
            blocks = tuple(_calibration(wiring, packet.values.get(wiring.name)))
            yield Section("calibration", f"Calibration: {wiring.name}", blocks)


def _calibration(wiring: Wiring, values: WiringValues | None) -> Iterator[Block]:
    yield Words(
        "Zero the pointer first, power off, the meter in its working position. Against a known "
        "current or voltage, rising and falling; tap the glass lightly before each reading "
        "(common practice)."
    )
    pots = values.pots if values is not None else ()
    tests = {test.reading: test for test in values.bench} if values is not None else {}
    for pot in pots:
        if pot.setting_percent is not None:
            most = _most_percent(wiring.readings[pot.reading], tests.get(pot.reading))
            yield Words(_pot(pot, fed=most >= _FULL), mark="–")
    readouts = {r.name: r for r in values.readings} if values is not None else {}
    for reading in wiring.readings.values():
        most = _most_percent(reading, tests.get(reading.name))
        yield _calibration_table(reading, readouts.get(reading.name), most)


def _most_percent(reading: Reading, test: BenchTest | None) -> float:
    """How far a reading is fed by hand: as far as its bench test goes, and never above 50 V."""
    if test is not None:
        return max((line.percent for line in test.rows), default=0.0)
    if reading.quantity == "voltage":
        return 100.0 * MOST_VOLTS / reading.full_scale
    return inf


def _pot(pot: PotAnswer, *, fed: bool) -> str:
    needed = (
        f" ({pot.lowest_percent:.0f} to {pot.highest_percent:.0f} % may be needed)"
        if pot.lowest_percent is not None and pot.highest_percent is not None
        else ""
    )
    if not fed:
        return (
            f"Set {pot.part} by ohmmeter, power off, to {pot.setting_percent:.0f} % of travel from "
            f"ccw{needed}: {pot.reading} is not fed to full scale by hand."
        )
    return (
        f"Set {pot.part} so that {pot.reading} stands at full scale: about "
        f"{pot.setting_percent:.0f} % of travel from ccw{needed}; set it in this position only."
    )


def _calibration_table(reading: Reading, readout: Readout | None, most: float) -> Block:
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    nominal = readout.deflection if readout is not None else None
    asked = [percent for percent in sorted({*_STEPS, *marks}) if percent <= most]
    title = f"{reading.name}, {_where(reading)}{_allowed(readout)}"
    if not any(asked):
        return Words(
            f"{title}: no table, for over {MOST_VOLTS:.0f} V would have to be fed by hand. Prove "
            "it leg by leg, power off and discharged, as the bench test says."
        )
    rows = tuple(
        (
            Cell(with_unit(reading.full_scale * percent / 100.0, _UNITS[reading.quantity]),
                 bold=True),
            Cell(_must(reading, percent, nominal)),
            Cell(marks.get(percent, "")),
            Cell(blank=True), Cell(blank=True), Cell(blank=True),
        )
        for percent in asked
    )  # fmt: skip
    head = ("applied", "must read", "mark", "read rising", "read falling", "error")
    shares = (30.0, 36.0, 40.0, 28.0, 28.0, 28.0)
    return used_columns(Table(head, rows, shares, title), ("read rising", "read falling", "error"))


def _must(reading: Reading, percent: float, nominal: float | None) -> str:
    deflection = percent / 100.0 * (1.0 if nominal is None else nominal)
    on_dial = _on_dial(reading, deflection)
    return f"{on_dial} ({100 * deflection:.1f} %)" if on_dial else f"{100 * deflection:.1f} %"


def _allowed(readout: Readout | None) -> str:
    if readout is None or readout.deflection is None:
        return ""
    return f" ({readout.allowance})"
