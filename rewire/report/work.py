"""The section of the packet on the work: the moves from what is there to the plan, in order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Literal

from rewire.bench.probes import UNKNOWN
from rewire.bench.wire_plan import wire_plan
from rewire.bench.work_list import DO_NOT_BUILD, STAGES, Kind, Moves, WorkStep, heading_of
from rewire.draw.marked import marked_circuit
from rewire.draw.scene import MARGIN, PAPER
from rewire.draw.sheets import gathered
from rewire.draw.union import Numbers
from rewire.records.spec import CUT, Spec, Wiring
from rewire.records.switches import Switch, lug_positions
from rewire.report.moves import live_lugs
from rewire.report.packet import Packet, illustration
from rewire.report.section import BOX, Block, Cell, ReportSection, Table, Words, used_columns
from rewire.values.sources import insulation_volts

_KEY = "Thin stays, grey or dashed goes, heavy is new."
_BUZZ = "Buzz it as under Continuity"
_CALIBRATE = "Do the bench test: it sets {}"
_AT_LUGS = ("lift", "jumpers", "wires")
"""Stages whose every step is a wire at a lug."""
_PICTURED: Mapping[Kind, Literal["old", "new"]] = {
    "take-out": "old", "mount": "new", "shift": "new"
}  # fmt: skip
"""Steps that the picture numbers: the part stands in it as it was, or as it will be."""
_FEW = 2
"""Of a thing that need not be said for all at once."""
_TALLEST = 115.0
"""Of the marked circuit beside the work, mm."""
_NEEDLESS = ("the resistor's own lead",)
"""Notes that a picture says better."""


def work_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan the moves in order, from the wiring that is there."""
    for moves in packet.moves:
        title = f"The work: from {moves.source} to {moves.target}"
        yield ReportSection("work", title, tuple(_work(packet, moves)) if moves.steps else ())


def _work(packet: Packet, moves: Moves) -> Iterator[Block]:
    """The picture that it is done from, then the steps stage by stage."""
    if moves.broken:
        yield Words(f"BROKEN: {moves.target} {DO_NOT_BUILD}.", mark="!", bold=True)
    if moves.live:
        yield Words(live_lugs(moves), mark="⚡")
    numbers = _numbers(moves)
    marked = list(_marked(packet, moves, numbers))
    yield from marked
    for _, own in groupby(moves.steps, key=lambda step: STAGES[step.stage]):
        yield _stage(packet, moves, list(own), numbers if marked else {})


def _marked(packet: Packet, moves: Moves, numbers: Numbers) -> Iterator[Block]:
    """What stays, goes and is new, on the circuit; where that is too large, draw has it."""
    plan = wire_plan(packet.spec, moves.source, moves.target)
    whole = gathered(marked_circuit(plan, packet.paper, numbers), _TALLEST, 3.0)
    if len(whole) == 1 and whole[0].width <= PAPER[packet.paper][0] - 2 * MARGIN:
        yield Words(_KEY)
        yield illustration(f"{moves.source} to {moves.target}, marked on the circuit", whole[0])


def _numbers(moves: Moves) -> Numbers:
    """The steps that take a part out, or put one in, in order."""
    shown = [_pictured(step) for step in moves.steps if step.part and step.kind in _PICTURED]
    return {key: str(number) for number, key in enumerate(shown, 1)}


def _pictured(step: WorkStep) -> tuple[Literal["old", "new"], str]:
    """What the picture shows of a step; nothing has the name "" there."""
    return _PICTURED.get(step.kind, "new"), (step.kind in _PICTURED and step.part) or ""


def _stage(packet: Packet, moves: Moves, steps: Sequence[WorkStep], numbers: Numbers) -> Table:
    """The steps of a stage, a box before each; what is said of most wires stands in the title."""
    stage = steps[0].stage
    heading = heading_of(moves, stage)
    if stage == "wires" and not _decked(packet.spec.wirings[moves.target], packet.spec):
        heading = "Wires"
    if stage not in _AT_LUGS:
        values = packet.values.get(moves.target)
        calibrated = {pot.part for pot in values.pots if values.bench} if values else set()
        rows = tuple(_step(step, numbers.get(_pictured(step), ""), calibrated) for step in steps)
        return used_columns(Table(("",) * 4, rows, heading, short=True))
    shared = _shared(steps)
    rows = tuple(_at_lug(step, n, steps, shared) for n, step in enumerate(steps))
    title = "; ".join([heading, *(_of_several(note, steps) for note in shared)])
    head = ("", "at", "wire", "" if stage == "lift" else "to", "mm", "≥ V")
    return used_columns(Table(head, rows, title, short=True))


def _decked(wiring: Wiring, spec: Spec) -> bool:
    """Whether a switch has decks behind each other, so that the order of the wires matters."""
    switches = spec.all_of(Switch, wiring).values()
    return any(len(lug_positions(switch).decks) > 1 for switch in switches)


def _step(step: WorkStep, number: str, calibrated: Collection[str]) -> tuple[Cell, ...]:
    cautioned = (Cell(f"⚠ {step.caution}", bold=True),) if step.caution else ()
    name = step.part if step.kind == "mount" else step.lug
    return (
        BOX, Cell(number), Cell(name or "", bold=name is not None),
        Cell(_said(step, number, calibrated), step.colour, below=cautioned),
    )  # fmt: skip


def _said(step: WorkStep, number: str, calibrated: Collection[str]) -> str:
    """The step in few words; a lug, a new part and a colour stand beside them.

    The picture shows what a part with a number replaces; ``calibrated`` are the pots whose setting
    is told in full under the bench test.
    """
    if step.kind == "measure":
        asked = f"{step.place} to {step.destination}: {', '.join(_blanks(step))}"
        return "; ".join(filter(None, [asked, step.note]))
    if step.kind == "safety" and step.stage == "after":
        return _BUZZ
    if step.kind == "set" and step.part in calibrated:
        return _CALIBRATE.format(step.part)
    if step.kind == "mount":
        before = [name for name in step.instead_of if name != step.part and not number]
        instead = f"for {', '.join(before)}" if before else ""
        plain = "" if number else "mount it"
        return "; ".join(filter(None, (instead, step.place, step.note))) or plain
    if step.short is None:
        return "; ".join(filter(None, [step.text, step.note]))
    return step.short


def _at_lug(
    step: WorkStep, number: int, steps: Sequence[WorkStep], shared: Collection[str]
) -> tuple[Cell, ...]:
    """A wire at its lug: where to, how long at least, what insulation, what else is to be seen."""
    notes = [note for note in _notes(step) if note not in shared]
    stands = next((note for note in notes if insulation_volts(note)), "")
    needs = next((note for note in notes if note.startswith("needs ")), "")
    cut = step.kind == "wire" and step.length_metres is not None
    if any(step.tag and step.tag == other.tag for other in steps[:number]):
        needs = ""  # said at its other end
    told = [note for note in notes if note != stands and not note.startswith("needs ")]
    under = [Cell("; ".join(told))] if told else []
    under += [Cell(f"⚠ {step.caution}", bold=True)] if step.caution else []
    return (
        BOX, Cell(step.lug or "", bold=True),
        Cell(_wire(step), step.colour, across=tuple(under)), Cell(_goes(step)),
        Cell(f"{1000.0 * (step.length_metres or 0.0):g}" if cut or needs else ""),
        Cell(insulation_volts(stands)),
    )  # fmt: skip


def _wire(step: WorkStep) -> str:
    if step.kind in ("free", "join"):
        return "all wires" if step.kind == "free" else "any"
    named = step.tag or step.wire or step.becomes
    return "\u00a0".join(filter(None, (step.colour, named)))


def _goes(step: WorkStep) -> str:
    """The other end of a new wire; what becomes of a lead that is not soldered again below."""
    if step.kind not in ("lift", "free"):
        return step.far or ""
    if step.far is not None:
        return ""
    if step.destination == CUT:
        return "insulate, tie back"
    return "out" if step.kind == "lift" else "left off"


def _notes(step: WorkStep) -> list[str]:
    notes = (step.note or "").split("; ")
    return [n for n in notes if n and n not in _NEEDLESS and not n.startswith("net ")]


def _shared(steps: Sequence[WorkStep]) -> list[str]:
    """The notes that several wires of a stage bear."""
    counts = Counter(note for step in steps for note in set(_notes(step)) if _plain(note))
    return [note for note, count in counts.items() if count > _FEW]


def _of_several(note: str, steps: Sequence[WorkStep]) -> str:
    """A note with the wires that bear it, or those few that do not."""
    told: dict[bool, list[str]] = {True: [], False: []}
    for step in steps:
        told[note in _notes(step)].append(step.tag or step.lug or "")
    if len(told[False]) < len(told[True]):
        return f"{note}, but not {', '.join(told[False])}" if told[False] else note
    return f"{', '.join(dict.fromkeys(told[True]))}: {note}"


def _plain(note: str) -> bool:
    return not insulation_volts(note) and not note.startswith("needs ")


def _blanks(step: WorkStep) -> Iterator[str]:
    """A line to write on for each position, and what should be found; kept on one line."""
    for n, state in enumerate(step.states or ({},)):
        should = step.expects[n] if n < len(step.expects) else UNKNOWN
        found = "Ω" if should == UNKNOWN else f"({should})"
        yield " ".join((*state.values(), "______", found)).replace(" ", "\u00a0")
