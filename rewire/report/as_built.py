"""The finished work on record: what was fitted, what was measured, the report for the owner."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace

from rewire.bench.probes import expected
from rewire.bench.record import LogLine, Record
from rewire.bench.work_list import DO_NOT_BUILD, Difference, Moves
from rewire.records.parts import Pot
from rewire.records.spec import Wiring, change_said
from rewire.report.buying import fitted_words
from rewire.report.measured import (
    acceptance_tables,
    explanations,
    field_entry,
    note_entry,
    pass_cell,
    run_said,
    run_table,
)
from rewire.report.packet import Packet
from rewire.report.plots import run_plots
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.words.quantity import in_ohms

_BLANK = Cell(blank=True)


def log_sections(packet: Packet) -> Iterator[ReportSection]:
    """The as-built log: what was fitted and measured, and what differs from the plan."""
    plan = packet.plans[0].name if packet.plans else "original"
    asked = {"serial number": field_entry(plan, "serial"),
             "measured with": field_entry(plan, "instruments"),
             "work done by": field_entry(plan, "by"), "date": field_entry(plan, "date"),
             "checked by": note_entry(plan, "checked by"),
             "checked on": note_entry(plan, "checked on")}  # fmt: skip
    cells = [(Cell(name, bold=True), replace(_BLANK, entry=e)) for name, e in asked.items()]
    who = tuple((*a, *b) for a, b in zip(cells[::2], cells[1::2], strict=True))
    blocks = [Table(("", "", "", ""), who)]
    for wiring in packet.plans:
        fitted = tuple(_fitted(packet, wiring))
        if fitted:
            title = f"Values fitted{packet.of(wiring)}"
            blocks.append(Table(("part", "planned", "as measured"), fitted, title, short=True))
    head = ("where", "what, and why")
    otherwise = tuple(
        tuple(replace(_BLANK, entry=note_entry(plan, f"otherwise {n}, {what}"))
              for what in ("where", "how"))
        for n in range(1, 4)
    )  # fmt: skip
    blocks.append(Table(head, otherwise, "Differences from this sheet", short=True))
    yield ReportSection("log", "As-built log", tuple(blocks))


def _fitted(packet: Packet, wiring: Wiring) -> Iterator[tuple[Cell, ...]]:
    values = packet.values.get(wiring.name)
    settings = {p.part: p.setting_percent for p in values.pots} if values else {}
    fitted, pots = fitted_words(values), packet.spec.all_of(Pot, wiring)
    for part in wiring.parts.values():
        said = fitted.get(part.name, "")
        if part.name in pots:
            at = settings.get(part.name, pots[part.name].setting_percent)
            said = "" if at is None else f"{at:.1f} % from ccw"
        if part.name in pots or part.fit_for:
            entry = note_entry(wiring.name, f"{part.name} fitted")
            yield Cell(part.name, bold=True), Cell(said), replace(_BLANK, entry=entry)


def form(fields: Mapping[str, str | None]) -> Iterator[Table]:
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
    """Found, done, measured: for the owner."""
    record = packet.record
    if record is None:
        return
    moves = next((one for one in packet.moves if one.target == record.wiring.name), None)
    done = _done(record, moves) if moves is not None else ()
    found = tuple(
        row(one.said, one.where or "", one.planned, one.why or "") for one in packet.spec.found
    )
    table = used_columns(Table(("what", "where", "plan", "why"), found, "Found"), ("what",))
    blocks = (*_signed(record), *([table] if found else []), *done, *_measured(record),
              *_notes(record))  # fmt: skip
    yield ReportSection("owner", "Report for the owner", blocks)


def _signed(record: Record) -> Iterator[Table]:
    log = record.log
    yield from form({"work done by": log.by, "date": log.date, "serial number": log.serial,
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
        yield Words(f"{len(record.untouched)} readings were not made:")
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
        "a beeper cannot tell this resistance from a short" if line.passed is None else "",
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
        yield from run_plots(run)
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
    left = f", {len(record.untouched)} not made" if record.untouched else ""
    text = f"{good} of {len(record.lines)} connections as they should be{left}"
    failed = any(line.passed is False for line in record.lines)
    verdict = False if failed else True if good == len(record.lines) else None
    return *row("connections", text), pass_cell(verdict)
