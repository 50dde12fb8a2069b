"""Sections that prove the work: what the ohmmeter must find, what each reading must show."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from math import floor, isclose, log10

from rewire.bench.probes import UNKNOWN, Pair, Probe, expected, marked
from rewire.bench.short_list import asked_for
from rewire.bench.work_list import capital
from rewire.records.spec import Reading, Wiring
from rewire.report.measured import before_words, good_range, point_entry, test_entry, touch_entry
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.values.answers import BenchRow, BenchTest, PotAnswer, Readout
from rewire.words.arcs import figures_of
from rewire.words.quantity import in_ohms, with_unit

UNITS = {"current": "A", "voltage": "V"}
_ACROSS = 5
"""Positions in whose columns words have room; with more there are signs."""
_MOST_COLUMNS = 12
"""Positions side by side in one continuity table; more go into the next."""
_SIGNS = {"closed": "●", "open": "○", UNKNOWN: "?"}
_ZERO = (
    "Zero the pointer, power off, with the meter as it will sit. Then up from zero and down on the "
    "supply alone, tapping the glass; stop if the pointer does not follow."
)
"""Common practice, no source."""
_ALL = 100.0
_WARM = 0.1
"""Watts of a series resistor from which it matters what it is rated for; common practice."""

At = tuple[tuple[str, str], ...]
"""Positions of the controls."""


# With the power off -------------------------------------------------------------------------


def continuity_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan what the ohmmeter must find between lugs, the telling readings first."""
    for wiring in packet.plans:
        probes = packet.probes.get(wiring.name, ())
        asked = asked_for(packet.spec, wiring, probes)
        blocks: Iterable[Block] = _table(wiring, probes)
        if len(asked) < len(probes):
            said = Words("They find any single mistake that an ohmmeter can.")
            blocks = [said, *_short(wiring, asked)]
        told = (*_before(packet, wiring, asked), *blocks) if probes else ()
        yield ReportSection("continuity", f"Continuity{packet.of(wiring)}", told)


def table_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan every reading of the ohmmeter, where ``continuity`` has the fewest."""
    for wiring in packet.plans:
        probes = packet.probes.get(wiring.name, ())
        blocks: tuple[Block, ...] = (Words("Every reading stands under Continuity."),)
        if len(asked_for(packet.spec, wiring, probes)) < len(probes):
            blocks = (*_before(packet, wiring, probes), *_table(wiring, probes))
        yield ReportSection("table", f"Every reading{packet.of(wiring)}", blocks if probes else ())


def _before(packet: Packet, wiring: Wiring, probes: Sequence[Probe]) -> Iterator[Words]:
    values = packet.values.get(wiring.name)
    pots = values.pots if values is not None else ()
    settings = {p.part: p.setting_percent for p in pots if p.setting_percent is not None}
    yield Words("Power off, everything discharged, this wiring alone.", bold=True)
    for words in before_words(packet.spec, wiring, settings, probes):
        yield replace(words, text=f"{capital(words.text)}.", bold=words.tone == "bad")


def _table(wiring: Wiring, probes: Sequence[Probe]) -> Iterator[Block]:
    """Pair by pair, a column for each position."""
    states = list(dict.fromkeys(tuple(probe.state.items()) for probe in probes))
    if len(states) > _ACROSS:
        yield Words("● closed, ○ open, ? not known; figures are ohms, with k kilohms.")
    for start in range(0, len(states), _MOST_COLUMNS):
        yield _probes(wiring, probes, states[start : start + _MOST_COLUMNS])


def _short(wiring: Wiring, asked: Sequence[Probe]) -> Iterator[Table]:
    """The readings that tell most, position by position."""
    for positions, probes in groupby(asked, key=lambda probe: ", ".join(probe.state.values())):
        rows = tuple(
            (
                *(Cell(end, bold=True) for end in probe.between),
                Cell(_reads(probe), box=True, entry=touch_entry(wiring.name, probe)),
            )
            for probe in probes
        )  # fmt: skip
        yield Table(("",) * 3, rows, positions, short=True)


def _reads(probe: Probe) -> str:
    """What must be found: from what to what, where it is ohms."""
    low, found, high = good_range(probe).partition(" to ")
    if not found:
        return marked(expected(probe), probe)
    (least, unit), (_, other) = low.split(" "), high.split(" ")
    return marked(f"{least if unit == other else low}–{high}", probe)


def _probes(wiring: Wiring, probes: Sequence[Probe], states: Sequence[At]) -> Table:
    found: dict[Pair, dict[At, Probe]] = defaultdict(dict)
    for probe in probes:
        found[probe.between][tuple(probe.state.items())] = probe
    signs = _SIGNS if len(states) > _ACROSS else {}
    rows = tuple(
        (*(Cell(end, bold=True) for end in pair), *(_probe(wiring, at[s], signs) for s in states))
        for pair, at in found.items()
    )
    return Table(("from", "to", *_heads(states)), rows, short=len(states) <= 1)


def _heads(states: Sequence[At]) -> list[str]:
    """The positions of the controls that tell the columns apart."""
    telling = [n for n, pairs in enumerate(zip(*states, strict=True)) if len({*pairs}) > 1]
    heads = [[state[n] for n in telling] or state for state in states]
    return [" ".join(position for _, position in head) or "always" for head in heads]


def _probe(wiring: Wiring, probe: Probe, signs: Mapping[str, str]) -> Cell:
    said = _reads(probe)
    bare = said.removesuffix("*")
    brief = bare.replace(" Ω", "").replace(" kΩ", "k") if signs else bare
    shown = signs.get(bare, brief) + said[len(bare) :]
    entry = touch_entry(wiring.name, probe)
    return Cell(shown, box=True, bold=probe.expect == "closed", entry=entry)


# With a supply on the bench -----------------------------------------------------------------


def bench_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan a table per reading: what to feed, what to read, room for what was read."""
    for wiring in packet.plans:
        values = packet.values.get(wiring.name)
        if values is None or not values.bench:
            continue
        blocks: list[Block] = [
            Words(w.message, mark="!", bold=True) for w in values.warnings if w.first
        ]
        blocks.append(Words(_ZERO))
        shared = _shared(values.bench)
        blocks += (Words(f"{capital(note)}.", mark="–") for note in shared)
        pots = {pot.reading: pot for pot in values.pots if pot.setting_percent is not None}
        readouts = {one.name: one for one in values.readings}
        for test in values.bench:
            pot, readout = pots.get(test.reading), readouts.get(test.reading)
            told = replace(test, notes=tuple(n for n in _notes(test) if n not in shared))
            blocks += _bench(wiring, told, readout, pot)
        title = f"Bench test and calibration{packet.of(wiring)}"
        yield ReportSection("bench", title, tuple(blocks))


def _notes(test: BenchTest) -> tuple[str, ...]:
    """All but that on the sense resistor, the last one, which has a column of its own."""
    return test.notes[:-1] if test.sense and test.rows else test.notes


def _shared(tests: Sequence[BenchTest]) -> list[str]:
    """The notes that all tests of several bear."""
    first, *others = map(_notes, tests)
    return [note for note in first if others and all(note in own for own in others)]


def _bench(
    wiring: Wiring, test: BenchTest, readout: Readout | None, pot: PotAnswer | None
) -> Iterator[Block]:
    reading = wiring.readings[test.reading]
    if test.rows:
        yield _bench_table(wiring, test, readout)
    else:
        yield Words(f"{_where(reading)}:", bold=True)
    if pot is not None:
        yield Words(_pot(pot, test), mark="–")
    yield from (Words(f"{capital(note)}.", mark="–") for note in test.notes)


def _bench_table(wiring: Wiring, test: BenchTest, readout: Readout | None) -> Table:
    reading, sense = wiring.readings[test.reading], test.sense
    unit = UNITS[reading.quantity]
    true_unit, true = _in_one_unit([line.true_value for line in test.rows], unit)
    knob_unit, knob = _in_one_unit([line.knob_volts for line in test.rows], "V")
    can_be_set = all(line.knob_volts for line in test.rows if line.supply_volts)
    across = [f"{1000.0 * line.true_value * sense.ohms:.4g}" if sense else "" for line in test.rows]
    alike = across == true
    rows = tuple(
        (
            Cell(true[n], bold=True), Cell("" if alike else across[n]),
            *row(knob[n] if can_be_set else "", *_must(reading, line, readout),
                 line.mark or ""),
            *(
                Cell(blank=True, entry=point_entry(
                    wiring.name, reading, with_unit(line.true_value, unit), run
                ))
                for run in ("rising", "falling")
            ),
        )
        for n, line in enumerate(test.rows)
    )  # fmt: skip
    millivolts = f"mV across {in_ohms(sense.ohms)}" if sense else ""
    fed = f"true {true_unit}{f' = {millivolts}' if alike else ''}"
    head = (fed, millivolts, f"supply ≈\u00a0{knob_unit}", "must read", "good", "mark", "rising",
            "falling")  # fmt: skip
    return used_columns(Table(head, rows, _fed(reading, test)), ("rising", "falling"))


def _in_one_unit(values: Sequence[float], unit: str) -> tuple[str, list[str]]:
    """The unit that suits the largest, and the figures in it."""
    largest = max(values, key=abs)
    number, prefixed = with_unit(largest, unit).split(" ")
    size = largest / float(number) if float(number) else 1.0
    return prefixed, [f"{value / size:.4g}" for value in values]


def _fed(reading: Reading, test: BenchTest) -> str:
    """What is fed where."""
    plus, minus = test.places
    how = ""
    if test.series_ohms:
        most = max(line.series_watts for line in test.rows)
        takes = f" (takes {with_unit(most, 'W', 2)})" if most >= _WARM else ""
        how = f" through {in_ohms(test.series_ohms)}{takes}"
    return f"{_where(reading)}: supply{how} to {plus} (+) and {minus} (-)"


def _must(reading: Reading, line: BenchRow, readout: Readout | None) -> tuple[str, str]:
    """Where the pointer stands, and from where to where it may; on the arc, else in percent."""
    if line.deflection is None:
        return "unknown", ""
    share = line.percent / 100.0
    low, high = readout.allowed(share) if readout is not None else (0.0, 0.0)
    at = [line.deflection, share + low / 100.0, share + high / 100.0]
    dial = readout.dial if readout is not None else None
    falling_used = dial is not None and dial.scale == reading.scale and dial.factor is not None
    ends = figures_of(reading.scale, "right" if falling_used else "left")
    if ends is None:
        said = [f"{100.0 * one:.1f}" for one in at]
        return f"{said[0]} %", f"{said[1]}–{said[2]} %"
    span = ends[1] - ends[0]
    decimals = max(0, 2 - floor(log10(abs(span))))
    said = [f"{ends[0] + span * one:.{decimals}f}" for one in at]
    return said[0], f"{said[1]}–{said[2]}"


def _where(reading: Reading) -> str:
    """The reading and its positions; not its name where that is the position's."""
    at = ", ".join(f"{name} at {' or '.join(p)}" for name, p in reading.when.items())
    if [reading.name.upper()] in [[one.upper() for one in p] for p in reading.when.values()]:
        return at
    return f"{reading.name}, {at or 'in every position'}"


def _pot(pot: PotAnswer, test: BenchTest) -> str:
    low, high = pot.lowest_percent, pot.highest_percent
    known = low is not None and high is not None
    needed = f" ({low:.0f} to {high:.0f} %)" if known else ""
    at = f"{pot.setting_percent:.0f} % from ccw{needed}"
    if not any(isclose(line.percent, _ALL) for line in test.rows):
        return (
            f"Set {pot.part} by ohmmeter, power off, to {at}: {pot.reading} is not fed to full "
            "scale by hand."
        )
    return f"First set {pot.part} for full scale: about {at}."


# In the finished set ------------------------------------------------------------------------


def acceptance_sections(packet: Packet) -> Iterator[ReportSection]:
    """Tests of the finished set, with room for what was found."""
    plan = packet.plans[0].name if packet.plans else "original"
    rows = tuple(
        (Cell(box=True), Cell(one.test, bold=True), *row(one.how or "", one.expect),
         Cell(blank=True, entry=test_entry(plan, one)))
        for one in packet.spec.acceptance
    )  # fmt: skip
    if rows:
        table = used_columns(Table(("", "test", "how", "expect", "found"), rows))
        yield ReportSection("acceptance", "Acceptance tests", (table,))
