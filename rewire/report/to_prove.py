"""Sections that prove the work: ohmmeter, bench, calibration; then what was measured and fitted."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import floor, inf, log10

from rewire import __version__
from rewire.bench.probes import Pair, Probe, expected
from rewire.bench.record import LogLine, Record
from rewire.bench.work_list import DO_NOT_BUILD, Difference, Moves, capital
from rewire.reading.benchlog import dial_ends
from rewire.records.parts import Pot
from rewire.records.spec import Reading, Wiring, change_said
from rewire.report.measured import (
    acceptance_tables,
    before_words,
    explanations,
    good_range,
    marked,
    pass_cell,
    run_said,
    run_table,
)
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.values.answers import BenchTest, PotAnswer, Readout, WiringValues
from rewire.values.bench_test import MOST_VOLTS
from rewire.words.quantity import in_ohms, with_unit

_UNITS = {"current": "A", "voltage": "V"}
_BLANK = Cell(blank=True)
_ACROSS = 5
"""Positions side by side in one continuity table; more go into the next."""
_ZERO = (
    "Zero the pointer first, power off, the meter in its working position. Against a known "
    "current or voltage, rising and falling; tap the glass lightly before each reading "
    "(common practice)."
)


def continuity_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan what the ohmmeter must find between lugs, position by position."""
    for wiring in packet.plans:
        probes = packet.probes.get(wiring.name, ())
        blocks = tuple(_continuity(packet, wiring, probes)) if probes else ()
        yield ReportSection("continuity", f"Continuity: {wiring.name}", blocks)


def _continuity(packet: Packet, wiring: Wiring, probes: Sequence[Probe]) -> Iterator[Block]:
    values = packet.values.get(wiring.name)
    pots = values.pots if values is not None else ()
    settings = {p.part: p.setting_percent for p in pots if p.setting_percent is not None}
    yield Words("Power off, everything discharged, this wiring alone.", bold=True)
    for words in before_words(packet.spec, wiring, settings, probes):
        yield replace(words, text=f"{capital(words.text)}.", bold=words.tone == "bad")
    yield Words("In brackets from what to what a reading is good.")
    states = list(dict.fromkeys(tuple(probe.state.items()) for probe in probes))
    for start in range(0, len(states), _ACROSS):
        yield _probes(probes, states[start : start + _ACROSS])


def _probes(probes: Sequence[Probe], states: Sequence[tuple[tuple[str, str], ...]]) -> Table:
    found: dict[Pair, dict[tuple[tuple[str, str], ...], Probe]] = defaultdict(dict)
    for probe in probes:
        found[probe.between][tuple(probe.state.items())] = probe
    rows = tuple(
        (Cell(pair[0], bold=True), Cell(pair[1], bold=True), *(_probe(at[s]) for s in states))
        for pair, at in found.items()
    )
    # only the controls that tell the columns apart, or all if there is one column
    telling = [n for n, pairs in enumerate(zip(*states, strict=True)) if len({*pairs}) > 1]
    heads = [[state[n] for n in telling] or state for state in states]
    at = [", ".join(f"{name} {position}" for name, position in head) for head in heads]
    return Table(("from", "to", *(said or "always" for said in at)), rows)


def _probe(probe: Probe) -> Cell:
    good = good_range(probe)
    said = marked(expected(probe), probe) + (f" ({good})" if good else "")
    return Cell(said, box=True, bold=probe.expect == "closed")


def bench_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan a table per reading: supply, true value, pointer, room for what it read."""
    for wiring in packet.plans:
        values = packet.values.get(wiring.name)
        if values is not None and values.bench:
            minded = (Words(w.message, mark="!", bold=True) for w in values.warnings if w.first)
            blocks = (block for test in values.bench for block in _bench(wiring, test))
            yield ReportSection("bench", f"Bench test: {wiring.name}", (*minded, *blocks))


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
    rows = []
    for line in test.rows:
        pointer = "unknown" if line.deflection is None else f"{100 * line.deflection:.1f} %"
        true = with_unit(line.true_value, _UNITS[reading.quantity])
        watts = with_unit(line.series_watts, "W", 3) if test.series_ohms else ""
        rows.append((
            *row(f"{line.percent:.3g} %", with_unit(line.knob_volts, "V")), Cell(true, bold=True),
            *row(pointer, _on_dial(reading, line.deflection), watts, line.mark or ""), _BLANK,
        ))  # fmt: skip
    quantity = "current" if test.quantity == "current" else "volts"
    head = ("step", "supply, about", f"true {quantity}", "pointer", "on the dial",
            "in the series R", "mark", "read")  # fmt: skip
    return used_columns(Table(head, tuple(rows)), ("read",))


def _on_dial(reading: Reading, deflection: float | None) -> str:
    """Where the pointer stands on an arc that the spec names by its ends, ``0-250`` say."""
    ends = dial_ends(reading.scale)
    if ends is None or deflection is None:
        return ""
    span = ends[1] - ends[0]
    decimals = max(0, 3 - floor(log10(abs(span))))
    return f"{ends[0] + span * deflection:.{decimals}f}"


def _where(reading: Reading) -> str:
    at = ", ".join(f"{name} at {' or '.join(p)}" for name, p in reading.when.items())
    return at or "in every position"


def calibration_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan: set the pots, then a table per reading with room for what was read."""
    for wiring in packet.plans:
        if wiring.readings:
            blocks = tuple(_calibration(wiring, packet.values.get(wiring.name)))
            yield ReportSection("calibration", f"Calibration: {wiring.name}", blocks)


def _calibration(wiring: Wiring, values: WiringValues | None) -> Iterator[Block]:
    yield Words(_ZERO)
    tests = {test.reading: test for test in values.bench} if values is not None else {}
    fed = {name: _fed(one, tests.get(name)) for name, one in wiring.readings.items()}
    for pot in values.pots if values is not None else ():
        if pot.setting_percent is not None:
            yield Words(_pot(pot, fed=fed[pot.reading] > 99.999), mark="–")
    readouts = {r.name: r for r in values.readings} if values is not None else {}
    for name, reading in wiring.readings.items():
        yield _calibration_table(reading, readouts.get(name), fed[name])


def _fed(reading: Reading, test: BenchTest | None) -> float:
    """How far a reading is fed by hand, percent: as its bench test goes, and never above 50 V."""
    if test is not None:
        return max((line.percent for line in test.rows), default=0.0)
    return 100.0 * MOST_VOLTS / reading.full_scale if reading.quantity == "voltage" else inf


def _pot(pot: PotAnswer, *, fed: bool) -> str:
    low, high = pot.lowest_percent, pot.highest_percent
    known = low is not None and high is not None
    needed = f" ({low:.0f} to {high:.0f} % may be needed)" if known else ""
    at = f"{pot.setting_percent:.0f} % of travel from ccw{needed}"
    if not fed:
        return (
            f"Set {pot.part} by ohmmeter, power off, to {at}: {pot.reading} is not fed to full "
            "scale by hand."
        )
    return (
        f"Set {pot.part} so that {pot.reading} stands at full scale: about {at}; set it in this "
        "position only."
    )


def _calibration_table(reading: Reading, readout: Readout | None, most: float) -> Block:
    marks = {100.0 * value / reading.full_scale: text for value, text in reading.marks}
    nominal = readout.deflection if readout is not None else None
    asked = [step for step in sorted({0.0, 25.0, 50.0, 75.0, 100.0, *marks}) if step <= most]
    allowed = f" ({readout.allowance})" if readout is not None and nominal is not None else ""
    title = f"{reading.name}, {_where(reading)}{allowed}"
    if not any(asked):
        return Words(
            f"{title}: no table, for over {MOST_VOLTS:.0f} V would have to be fed by hand. Prove "
            "it leg by leg, power off and discharged, as the bench test says."
        )
    rows = []
    for percent in asked:
        applied = with_unit(reading.full_scale * percent / 100.0, _UNITS[reading.quantity])
        deflection = percent / 100.0 * (1.0 if nominal is None else nominal)
        on_dial, must = _on_dial(reading, deflection), f"{100 * deflection:.1f} %"
        must = f"{on_dial} ({must})" if on_dial else must
        rows.append((Cell(applied, bold=True), *row(must, marks.get(percent, "")), *[_BLANK] * 3))
    head = ("applied", "must read", "mark", "read rising", "read falling", "error")
    return used_columns(Table(head, tuple(rows), title))


def acceptance_sections(packet: Packet) -> Iterator[ReportSection]:
    """Tests of the finished set, with room for what was found."""
    rows = tuple(
        (Cell(box=True), Cell(one.test, bold=True), *row(one.how or "", one.expect), _BLANK)
        for one in packet.spec.acceptance
    )
    if rows:
        table = used_columns(Table(("", "test", "how", "expect", "found"), rows))
        yield ReportSection("acceptance", "Acceptance tests", (table,))


def log_sections(packet: Packet) -> Iterator[ReportSection]:
    """The as-built log: what was fitted, as measured, and what came out otherwise than planned."""
    names = ("serial number", "wiring fitted", "work done by", "date", "checked by", "date")
    pairs = zip(names[::2], names[1::2], strict=True)
    who = tuple((Cell(a, bold=True), _BLANK, Cell(b, bold=True), _BLANK) for a, b in pairs)
    blocks = [Table(("", "", "", ""), who)]
    for wiring in packet.plans:
        fitted = tuple(_fitted(packet, wiring))
        if fitted:
            title = f"Values fitted: {wiring.name}"
            blocks.append(Table(("part", "planned", "fitted, as measured"), fitted, title))
    head = ("lug, wire or part", "otherwise than this sheet says, and why")
    blocks.append(Table(head, ((_BLANK, _BLANK),) * 4, "Differences from this sheet"))
    yield ReportSection("log", "As-built log", tuple(blocks))


def _fitted(packet: Packet, wiring: Wiring) -> Iterator[tuple[Cell, ...]]:
    values = packet.values.get(wiring.name)
    settings = {p.part: p.setting_percent for p in values.pots} if values else {}
    chosen = {fit.part: fit.chosen for fit in values.fits} if values else {}
    pots = packet.spec.all_of(Pot, wiring)
    for part in wiring.parts.values():
        said = chosen.get(part.name) or ""
        if part.name in pots:
            at = settings.get(part.name, pots[part.name].setting_percent)
            said = "" if at is None else f"{at:.1f} % of travel from ccw"
        if part.name in pots or part.fit_for:
            yield Cell(part.name, bold=True), Cell(said), _BLANK


def document_sections(packet: Packet) -> Iterator[ReportSection]:
    """Who answers for the paper, its licence and revision, and the spec it was made from."""
    spec, document = packet.spec, packet.spec.document
    fields = {
        "drawn up by": document.author, "date": document.date, "revision": document.revision,
        "licence": document.licence, "spec": f"SHA-256 {spec.digest}" if spec.digest else None,
        "made with": f"rewire {__version__}",
    }  # fmt: skip
    yield ReportSection("document", "Document", tuple(_form(fields)))


def _form(fields: Mapping[str, str | None]) -> Iterator[Table]:
    """A name and what is known of it on each line."""
    rows = tuple((Cell(name, bold=True), Cell(value)) for name, value in fields.items() if value)
    if rows:
        yield Table(("", ""), rows)


def record_sections(packet: Packet) -> Iterator[ReportSection]:
    """What the bench log holds; nothing without one."""
    record = packet.record
    if record is not None:
        title = f"As-built record: {record.wiring.name}"
        blocks = (*_signed(record), _summary(record), *_touched(record), *_calibrated(record),
                  *acceptance_tables(record.acceptance), *_notes(record))  # fmt: skip
        yield ReportSection("record", title, blocks)


def owner_sections(packet: Packet) -> Iterator[ReportSection]:
    """Found, done, measured, for whoever gets the set back."""
    record = packet.record
    if record is None:
        return
    moves = next((one for one in packet.moves if one.target == record.wiring.name), None)
    done = _done(record, moves) if moves is not None else ()
    found = tuple(
        row(one.what, one.where or "", one.planned, one.why or "") for one in packet.spec.found
    )
    table = used_columns(Table(("what", "where", "plan", "why"), found, "Found"), ("what",))
    blocks = (*_signed(record), *([table] if found else []), *done, *_measured(record),
              *_notes(record))  # fmt: skip
    yield ReportSection("owner", "Report for the owner", blocks)


def _signed(record: Record) -> Iterator[Table]:
    log = record.log
    yield from _form({"work done by": log.by, "date": log.date, "serial number": log.serial,
                      "measured with": log.instruments})  # fmt: skip


def _summary(record: Record) -> Words:
    said = f"{record.failures} failed" if record.failures else "Nothing failed"
    left = f"{record.open_ends} left out or not to be judged, all listed here"
    said = f"{said}; {left}." if record.open_ends else f"{said}, nothing was left out."
    return Words(said, bold=record.failures > 0)


def _touched(record: Record) -> Iterator[Block]:
    if record.lines:
        head = ("at", "from", "to", "must be", "found", "", "remark")
        rows = tuple(_touch(record, line) for line in record.lines)
        yield used_columns(Table(head, rows, "Continuity"))
    if record.untouched:
        yield Words(f"Of the continuity table {len(record.untouched)} touches were not made:")
        left: dict[str, list[str]] = defaultdict(list)
        for probe in record.untouched:
            left[_at(probe.state) or "always"].append(" to ".join(probe.between))
        yield from (Words(f"{at}: {', '.join(pairs)}", mark="–") for at, pairs in left.items())


def _touch(record: Record, line: LogLine) -> tuple[Cell, ...]:
    one = line.found
    found = one.found if one.ohms is None else in_ohms(one.ohms, 3)
    others = (" to ".join(record.lines[n].found.between) for n in line.contradicted)
    remarks = (
        f"contradicts {', '.join(others)}" if line.contradicted else "",
        "a beep does not tell these ohms from none" if line.passed is None else "",
        one.note or "",
    )
    ends = (Cell(end, bold=True) for end in one.between)
    return (
        Cell(_at(line.state)), *ends, *row(expected(line.expected), found), pass_cell(line.passed),
        Cell("; ".join(filter(None, remarks))),
    )  # fmt: skip


def _at(state: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {at}" for name, at in state.items())


def _calibrated(record: Record) -> Iterator[Block]:
    for run in record.calibration.runs:
        title = f"Calibration: {run.reading}; {run_said(run)}"
        yield replace(run_table(record.wiring, run), title=title)
    if record.unread:
        yield Words(f"Not calibrated: {', '.join(record.unread)}.")
    yield from explanations(record.calibration)


def _notes(record: Record) -> Iterator[Words]:
    yield from (Words(note, mark="–") for note in record.log.notes)


def _done(record: Record, moves: Moves) -> Iterator[Words]:
    yield Words(_outcome(record, moves), bold=True)
    counts = Counter(step.kind for step in moves.steps)
    fitted = [step for step in moves.steps if step.kind in ("mount", "shift")]
    work = {
        "wire ends lifted": counts["lift"],
        "parts taken out": counts["take-out"],
        "parts fitted": len(fitted),
        "new wires and jumpers": counts["wire"],
    }
    said = ", ".join(f"{count} {what}" for what, count in work.items() if count)
    yield Words(f"From {moves.source} to {moves.target}: {said or 'no step'}.", mark="–")
    swaps = [f"{one.part} for {', '.join(one.instead_of)}" for one in fitted if one.instead_of]
    if swaps:
        yield Words(f"New for old: {'; '.join(swaps)}.", mark="–")
    if moves.differences:
        yield Words("Not as the maker had it, and meant", bold=True)
        yield from (Words(_difference(one), mark="–") for one in moves.differences)


def _outcome(record: Record, moves: Moves) -> str:
    """Whether the work came out as planned; never where something failed or was not tried."""
    if moves.broken:
        return f"BROKEN: {moves.target} {DO_NOT_BUILD}."
    if record.failures:
        return (
            f"Not done: {record.failures} of what was measured failed, see below. The work that "
            "was planned:"
        )
    if record.open_ends:
        return f"The work that was planned; {record.open_ends} checks are still to be made"
    return "Done, as planned; what came out otherwise stands in the notes"


def _difference(one: Difference) -> str:
    why = f"; {one.why}" if one.why else ""
    text = change_said(one.kind, one.about)
    return f"{text}{why}{'' if one.reversible else '; cannot be undone'}"


def _measured(record: Record) -> Iterator[Table]:
    rows = [_connections(record)] if record.lines else []
    for run in record.calibration.runs:
        worst = max(run.points, key=lambda point: abs(point.error_percent))
        text = f"off by {worst.error_percent:+.2f} % of full scale at most"
        rows.append((*row(f"meter: {run.reading}", text), pass_cell(run.passed)))
    for one in record.acceptance:
        found = "not tested" if one.found is None else one.found.found
        result = Cell("–") if one.found is None else pass_cell(one.passed)
        rows.append((*row(one.test.test, f"{found} (expected {one.test.expect})"), result))
    if rows:
        yield Table(("", "", ""), tuple(rows), "Measured")


def _connections(record: Record) -> tuple[Cell, ...]:
    good = sum(line.passed is True for line in record.lines)
    left = f", {len(record.untouched)} of the table not made" if record.untouched else ""
    text = f"{good} of {len(record.lines)} connections as they should be{left}"
    failed = any(line.passed is False for line in record.lines)
    verdict = False if failed else True if good == len(record.lines) else None
    return *row("connections", text), pass_cell(verdict)
