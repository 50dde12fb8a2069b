"""The work in order: the moves from the wiring that is there to the one that is planned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rewire.bench.moves import measured
from rewire.bench.work_list import DO_NOT_BUILD, STAGES, Moves, Stay, Step
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words, row, used_columns

_BLANK = "________ Ω"


def work_sections(packet: Packet) -> Iterator[Section]:
    """One section for each plan."""
    for moves in packet.moves:
        title = f"The work: from {moves.source} to {moves.target}"
        yield Section("work", title, tuple(_blocks(moves)) if moves.steps else ())


def _blocks(moves: Moves) -> Iterator[Block]:
    if moves.broken:
        yield Words(f"BROKEN: {moves.target} {DO_NOT_BUILD}.", mark="!", bold=True)
    if moves.live:
        volts = tuple(
            (Cell(one.volts.said, bold=True), Cell(", ".join(one.lugs))) for one in moves.live
        )
        yield Table(("volts", "lugs"), volts, (46.0, 144.0), "Live while there is power")
    for stage, steps in groupby(moves.steps, key=lambda step: step.stage):
        yield _stage(STAGES[stage], list(steps))
    if moves.stays:
        yield Words("These stay as they are: see that they are there before the work begins.")
        head = ("", "wire", "from", "to", "colour", "note")
        rows = tuple(_stay(stay) for stay in moves.stays)
        yield used_columns(Table(head, rows, (5, 24, 36, 36, 20, 70), "Wires that stay"), ("",))


def _stage(title: str, steps: Sequence[Step]) -> Table:
    """The steps of a stage; the room of columns that are empty goes to the words."""
    spare = (0.0 if any(s.lug for s in steps) else 22.0) + (
        0.0 if any(s.caution for s in steps) else 54.0
    )
    shares = (5.0, 9.0, 22.0, 100.0 + spare, 54.0)
    head = ("", "", "lug", title, "caution")
    return used_columns(Table(head, tuple(_step(step) for step in steps), shares), ("",))


def _step(step: Step) -> tuple[Cell, ...]:
    said = step.words if step.lug and step.words else step.text
    if step.colour:
        said = f"{step.colour} {said}"
    if step.kind == "measure":
        said = f"Measure {step.place} to {step.destination}: {', '.join(_blanks(step))}"
    notes = [text for text in (step.note, step.why) if text]
    return (
        Cell(box=True), Cell(str(step.number)), Cell(step.lug or "", bold=step.lug is not None),
        Cell("; ".join([said, *notes]), step.colour), Cell(step.caution or ""),
    )  # fmt: skip


def _blanks(step: Step) -> Iterator[str]:
    """Room to write down what was measured, position by position."""
    yield from (f"{at} {_BLANK}{should}".strip() for at, should in measured(step))


def _stay(stay: Stay) -> tuple[Cell, ...]:
    return (
        Cell(box=True), Cell(stay.told, bold=True), *row(*stay.ends),
        Cell(stay.colour or "", stay.colour), Cell(stay.note or ""),
    )  # fmt: skip
