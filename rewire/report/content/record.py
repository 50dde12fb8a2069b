"""The as-built record and the owner's report: what was measured, pass or fail on every line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rewire.bench.calibration import Point, Run, explanation_said, explanations_said
from rewire.bench.continuity import expected
from rewire.bench.record import Line, Record
from rewire.bench.work_list import DO_NOT_BUILD, Difference, Moves
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words, row, used_columns
from rewire.words.quantity import in_ohms, with_unit

_UNITS = {"current": "A", "voltage": "V"}
_PLANS = {"keep": "keep", "remove": "take out", "replace": "replace"}
_DIFFERENCES = {
    "insert": "inserted between {places}: {parts}",
    "drop": "no longer joined: {places}",
    "join": "joined: {places}",
    "gap": "apart for a moment while a switch turns: {places}",
    "bridge": "together for a moment while a switch turns: {places}",
    "interrupt": "no current for a moment while a switch turns: {places}",
    "stray": "current for a moment while a switch turns: {places}",
    "remove": "left out for good: {parts}",
    "reverse": "turned round: {parts}",
}


def record_sections(packet: Packet) -> Iterator[Section]:
    """What the bench log holds; nothing without one."""
    record = packet.record
    if record is None:
        return
    title = f"As-built record: {record.wiring.name}"
    yield Section("record", title, (*_head(record), *_continuity(record), *_calibration(record),
                                    *_acceptance(record), *_notes(record)))  # fmt: skip


def owner_sections(packet: Packet) -> Iterator[Section]:
    """Found, done, measured, for whoever gets the set back."""
    record = packet.record
    if record is None:
        return
    blocks: list[Block] = [*_signed(record), *_found(packet), *_done(packet, record.wiring.name)]
    yield Section("owner", "Report for the owner", (*blocks, *_measured(record), *_notes(record)))


def _verdict(passed: bool | None) -> Cell:
    """In words, for a page without colour; what failed is bold."""
    if passed is None:
        return Cell("not judged")
    return Cell("pass") if passed else Cell("FAIL", bold=True)


def _signed(record: Record) -> Iterator[Block]:
    log = record.log
    known = (("work done by", log.by), ("date", log.date), ("serial number", log.serial),
             ("measured with", log.instruments))  # fmt: skip
    rows = tuple((Cell(name, bold=True), Cell(value)) for name, value in known if value)
    if rows:
        yield Table(("", ""), rows, (30.0, 160.0))


def _head(record: Record) -> Iterator[Block]:
    yield from _signed(record)
    yield Words(_summary(record), bold=record.failures > 0)


def _summary(record: Record) -> str:
    said = f"{record.failures} failed" if record.failures else "Nothing failed"
    if record.open_ends:
        return f"{said}; {record.open_ends} left out or not to be judged, all listed here."
    return f"{said}, nothing was left out."


def _continuity(record: Record) -> Iterator[Block]:
    if record.lines:
        table = Table(
            ("at", "from", "to", "must be", "found", "", "remark"),
            tuple(_touched(record, line) for line in record.lines),
            (34.0, 28.0, 28.0, 28.0, 22.0, 14.0, 36.0),
            "Continuity",
        )
        yield used_columns(table)
    if record.untouched:
        yield Words(f"Of the continuity table {len(record.untouched)} touches were not made:")
        for at, pairs in _by_state(record).items():
            yield Words(f"{at}: {', '.join(pairs)}", mark="–")


def _touched(record: Record, line: Line) -> tuple[Cell, ...]:
    found = line.found.found if line.found.ohms is None else in_ohms(line.found.ohms, 3)
    return (
        Cell(_at(line.state)), Cell(line.found.between[0], bold=True),
        Cell(line.found.between[1], bold=True), Cell(expected(line.expected)), Cell(found),
        _verdict(line.passed), Cell("; ".join(_remarks(record, line))),
    )  # fmt: skip


def _remarks(record: Record, line: Line) -> Iterator[str]:
    if line.contradicted:
        others = (" to ".join(record.lines[n].found.between) for n in line.contradicted)
        yield f"contradicts {', '.join(others)}"
    if line.passed is None:
        yield "a beep does not tell these ohms from none"
    if line.found.note:
        yield line.found.note


def _at(state: object) -> str:
    items = dict(state).items() if isinstance(state, dict) else ()
    return ", ".join(f"{name} {at}" for name, at in items)


def _by_state(record: Record) -> dict[str, list[str]]:
    left: dict[str, list[str]] = {}
    for probe in record.untouched:
        pair = " to ".join(probe.between)
        left.setdefault(_at(dict(probe.state)) or "always", []).append(pair)
    return left


def _calibration(record: Record) -> Iterator[Block]:
    for run in record.calibration.runs:
        yield _run_table(record, run)
    if record.unread:
        yield Words(f"Not calibrated: {', '.join(record.unread)}.")
    if record.calibration.off:
        found = record.calibration.explanations
        yield Words(explanations_said(found))
        yield from (Words(explanation_said(one), mark="–") for one in found)
    for movement in record.calibration.movements:
        yield Words(
            f"{movement.part} has {in_ohms(movement.ohms)} ± {in_ohms(2.0 * movement.sigma, 2)} "
            "by these runs."
        )


def _run_table(record: Record, run: Run) -> Table:
    unit = _UNITS[record.wiring.readings[run.reading].quantity]
    return used_columns(
        Table(
            ("applied", "indicated", "error, of full scale", "allowed", "", "remark"),
            tuple(_point(point, unit) for point in run.points),
            (30.0, 30.0, 34.0, 40.0, 18.0, 38.0),
            f"Calibration: {run.reading}{_line_through(run)}",
        )
    )


def _point(point: Point, unit: str) -> tuple[Cell, ...]:
    entry = point.entry
    allowed = (
        ""
        if point.low_percent is None or point.high_percent is None
        else (f"{point.low_percent:+.1f} to {point.high_percent:+.1f} %")
    )
    return (
        Cell(with_unit(entry.applied, unit), bold=True),
        *row(with_unit(entry.indicated, unit), f"{point.error_percent:+.2f} %", allowed),
        _verdict(point.passed), Cell(entry.note or ""),
    )  # fmt: skip


def _line_through(run: Run) -> str:
    if run.scale is None:
        return ""
    said = f"; scale factor {run.scale:.4g}, zero {run.zero_percent:+.2g} %"
    if run.linearity_percent is not None:
        said += f", at most {run.linearity_percent:.2g} % off the line"
    return said


def _acceptance(record: Record) -> Iterator[Block]:
    if not record.acceptance:
        return
    rows = tuple(
        (
            Cell(one.test.test, bold=True),
            Cell(one.test.expect),
            Cell("not tested" if one.found is None else one.found.found),
            _verdict(one.passed) if one.found is not None else Cell("–"),
            Cell((one.found.note or "") if one.found is not None else ""),
        )
        for one in record.acceptance
    )
    head = ("test", "expected", "found", "", "remark")
    yield used_columns(Table(head, rows, (52.0, 46.0, 38.0, 18.0, 36.0), "Acceptance tests"))


def _notes(record: Record) -> Iterator[Block]:
    yield from (Words(note, mark="–") for note in record.log.notes)


def _found(packet: Packet) -> Iterator[Block]:
    rows = tuple(
        (Cell(one.what), Cell(one.where or ""), Cell(_PLANS.get(one.plan or "", "")),
         Cell(one.why or ""))
        for one in packet.spec.found
    )  # fmt: skip
    if rows:
        head = ("what", "where", "plan", "why")
        yield used_columns(Table(head, rows, (66.0, 44.0, 26.0, 54.0), "Found"), ("what",))


def _done(packet: Packet, target: str) -> Iterator[Block]:
    moves = next((one for one in packet.moves if one.target == target), None)
    if moves is None:
        return
    yield Words(_outcome(packet.record, moves), bold=True)
    counts = Counter(step.kind for step in moves.steps)
    parts = [step for step in moves.steps if step.kind in ("mount", "shift")]
    work = [
        f"{counts['lift']} wire ends lifted" if counts["lift"] else "",
        f"{counts['take-out']} parts taken out" if counts["take-out"] else "",
        f"{len(parts)} parts fitted" if parts else "",
        f"{counts['wire']} new wires and jumpers" if counts["wire"] else "",
    ]
    said = ", ".join(text for text in work if text)
    yield Words(f"From {moves.source} to {moves.target}: {said or 'no step'}.", mark="–")
    swaps = [f"{one.part} for {', '.join(one.instead_of)}" for one in parts if one.instead_of]
    if swaps:
        yield Words(f"New for old: {'; '.join(swaps)}.", mark="–")
    if moves.differences:
        yield Words("Not as the maker had it, and meant", bold=True)
        yield from (Words(_difference(one), mark="–") for one in moves.differences)


def _outcome(record: Record | None, moves: Moves) -> str:
    """Whether the work came out as planned; never where something failed or was not tried."""
    if moves.broken:
        return f"BROKEN: {moves.target} {DO_NOT_BUILD}."
    if record is not None and record.failures:
        return (
            f"Not done: {record.failures} of what was measured failed, see below. The work that "
            "was planned:"
        )
    if record is not None and record.open_ends:
        return f"The work that was planned; {record.open_ends} checks are still to be made"
    return "Done, as planned; what came out otherwise stands in the notes"


def _difference(one: Difference) -> str:
    has_places = one.kind not in ("remove", "reverse")
    places = " and ".join(one.about[-2:]) if has_places else ""
    parts = ", ".join(one.about[:-2] if has_places else one.about)
    text = _DIFFERENCES[one.kind].format(places=places, parts=parts)
    why = f"; {one.why}" if one.why else ""
    return f"{text}{why}{'' if one.reversible else '; cannot be undone'}"


def _measured(record: Record) -> Iterator[Block]:
    rows = [_measured_touches(record)] if record.lines else []
    for run in record.calibration.runs:
        worst = max(run.points, key=lambda point: abs(point.error_percent))
        text = f"off by {worst.error_percent:+.2f} % of full scale at most"
        rows.append((Cell(f"meter: {run.reading}"), Cell(text), _verdict(run.passed)))
    for one in record.acceptance:
        found = "not tested" if one.found is None else one.found.found
        text = f"{found} (expected {one.test.expect})"
        last = Cell("–") if one.found is None else _verdict(one.passed)
        rows.append((Cell(one.test.test), Cell(text), last))
    if rows:
        yield Table(("", "", ""), tuple(rows), (60.0, 106.0, 24.0), "Measured")


def _measured_touches(record: Record) -> tuple[Cell, ...]:
    good = sum(line.passed is True for line in record.lines)
    left = f", {len(record.untouched)} of the table not made" if record.untouched else ""
    text = f"{good} of {len(record.lines)} connections as they should be{left}"
    failed = any(line.passed is False for line in record.lines)
    verdict = False if failed else True if good == len(record.lines) else None
    return Cell("connections"), Cell(text), _verdict(verdict)
