"""Sections of the packet about the work: the moves from what is there to the plan, what to buy."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import groupby
from math import inf

from rewire.bench.probes import UNKNOWN
from rewire.bench.wire_plan import wire_plan
from rewire.bench.work_list import DO_NOT_BUILD, Moves, Stage, WorkStep, heading_of
from rewire.draw.marked import marked_parts
from rewire.draw.scene import MARGIN, PAPER
from rewire.draw.sheets import gathered
from rewire.records.part import Part
from rewire.records.spec import CUT, Spec, Wire, Wiring
from rewire.records.switches import Switch, lug_positions
from rewire.report.packet import Packet, illustration
from rewire.report.section import (
    Block,
    Cell,
    ReportSection,
    Table,
    Words,
    row,
    used_columns,
)
from rewire.values.answers import PartStress
from rewire.values.lug_volts import LugVolts, insulation_asked
from rewire.values.solved import lug_volts
from rewire.words.quantity import with_unit

BOX = Cell(box=True)
_BEFORE = ("safe", "record")
"""Stages before the first lead is lifted."""
_KEY = "Thin stays; grey, dashed or struck through goes; heavy is new. Only dots join."
_LABEL = "Label both ends of each wire under Lift: its number, its lug"
_AT_LUGS = ("lift", "jumpers", "wires")
"""Stages whose every step is a wire at a lug."""
_FEW = 2
"""Of a thing that need not be said for all at once."""
_TALLEST = 115.0
"""Of the marked circuit beside the work, mm."""
_ALLOWED = 20
"""Millimetres that a piece of wire is cut longer, for stripping and bending at both ends; common
practice, no source."""
_WATTS = (0.125, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Ratings of resistors that can be bought; common practice, no source."""
_STANDS = re.compile(r"insulation (?:for )?([0-9.]+) (k?)V(?: or more)?")
_TYPED = re.compile(r" \(rewire [^)]*\)")
"""What is typed at a terminal, of which paper has none."""
_NEEDLESS = ("the resistor's own lead",)
"""Notes that a picture says better."""
_TWICE = 2.0
"""Times what a part takes that it should be rated for; common practice, no source."""
_WORTH_SAYING = 100.0
"""Volts across a part from which it must be told that it stands them."""


# The work ----------------------------------------------------------------------------------


def work_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan the moves in order, from the wiring that is there."""
    for moves in packet.moves:
        title = f"The work: from {moves.source} to {moves.target}"
        yield ReportSection("work", title, tuple(_work(packet, moves)) if moves.steps else ())


def _work(packet: Packet, moves: Moves) -> Iterator[Block]:
    """The steps stage by stage; where the iron comes in, the picture that it is done from."""
    if moves.broken:
        yield Words(f"BROKEN: {moves.target} {DO_NOT_BUILD}.", mark="!", bold=True)
    if moves.live:
        yield Words(f"Live while there is power: {'; '.join(_live(moves))}.", mark="⚡")
    stages = [(stage, list(own)) for stage, own in groupby(moves.steps, key=lambda s: s.stage)]
    tables = {stage: _stage(packet.spec, moves, stage, steps) for stage, steps in stages}
    yield from (table for stage, table in tables.items() if stage in _BEFORE)
    yield from _marked(packet, moves)
    yield from (table for stage, table in tables.items() if stage not in _BEFORE)


def _live(moves: Moves) -> Iterator[str]:
    """The lugs at each voltage."""
    at: dict[str, list[str]] = defaultdict(list)
    for one in moves.live:
        at[f"{with_unit(one.volts.volts, 'V', 3)}{' AC' if one.volts.ac else ''}"] += one.lugs
    yield from (f"{volts} at {', '.join(lugs)}" for volts, lugs in at.items())


def _marked(packet: Packet, moves: Moves) -> Iterator[Block]:
    """What stays, goes and is new, on the circuit; where that is too large, draw has it."""
    plan = wire_plan(packet.spec, moves.source, moves.target)
    panels, _ = marked_parts(plan, packet.paper, packet.values.get(moves.target))
    whole = gathered(panels[1:], _TALLEST, 3.0)  # without its head, which says what stands here
    if len(whole) == 1 and whole[0].width <= PAPER[packet.paper][0] - 2 * MARGIN:
        yield Words(_KEY)
        yield illustration(f"{moves.source} to {moves.target}, marked on the circuit", whole[0])


def _stage(spec: Spec, moves: Moves, stage: Stage, steps: Sequence[WorkStep]) -> Table:
    """The steps of a stage, a box before each; what is said of most wires stands in the title."""
    heading = heading_of(moves, stage)
    if stage == "wires" and not _decked(spec.wirings[moves.target], spec):
        heading = "Wires"
    if stage not in _AT_LUGS:
        return used_columns(Table(("",) * 4, tuple(map(_step, steps)), heading, short=True), ("",))
    shared = _shared(steps)
    rows = tuple(_at_lug(step, n, steps, shared) for n, step in enumerate(steps))
    title = "; ".join([heading, *(_of_several(note, steps) for note in shared)])
    head = ("", "", "at", "wire", "to", "mm", "≥ V")
    return used_columns(Table(head, rows, title, short=True), ("",))


def _decked(wiring: Wiring, spec: Spec) -> bool:
    """Whether a switch has decks behind each other, so that the order of the wires matters."""
    switches = spec.all_of(Switch, wiring).values()
    return any(len(lug_positions(switch).decks) > 1 for switch in switches)


def _step(step: WorkStep) -> tuple[Cell, ...]:
    cautioned = (Cell(f"⚠ {step.caution}", bold=True),) if step.caution else ()
    name = step.part if step.kind == "mount" else step.lug
    return (
        BOX, Cell(str(step.number)), Cell(name or "", bold=name is not None),
        Cell(_said(step), step.colour, below=cautioned),
    )  # fmt: skip


def _said(step: WorkStep) -> str:
    """The step in few words; a lug, a new part and a colour stand beside them."""
    if step.kind == "measure":
        return f"{step.place} to {step.destination}: {', '.join(_blanks(step))}"
    if step.kind == "label" and step.stage == "record":
        return _LABEL
    if step.kind == "mount":
        before = [name for name in step.instead_of if name != step.part]
        instead = f"for {', '.join(before)}" if before else ""
        return "; ".join(filter(None, (instead, step.place, step.note))) or "mount it"
    if step.short is None:
        return _TYPED.sub("", "; ".join(filter(None, [step.text, step.note])))
    return step.short


def _at_lug(
    step: WorkStep, number: int, steps: Sequence[WorkStep], shared: Collection[str]
) -> tuple[Cell, ...]:
    """A wire at its lug: where to, how long at least, what insulation, what else is to be seen."""
    notes = [note for note in _notes(step) if note not in shared]
    stands = next((note for note in notes if _STANDS.fullmatch(note)), "")
    needs = next((note for note in notes if note.startswith("needs ")), "")
    cut = step.kind == "wire" and step.length_metres is not None
    if any(step.tag and step.tag == other.tag for other in steps[:number]):
        needs = ""  # said at its other end
    told = [note for note in notes if note != stands and not note.startswith("needs ")]
    under = [Cell("; ".join(told))] if told else []
    under += [Cell(f"⚠ {step.caution}", bold=True)] if step.caution else []
    return (
        BOX, Cell(str(step.number)), Cell(step.lug or "", bold=True),
        Cell(_wire(step), step.colour, across=tuple(under)), Cell(_goes(step)),
        Cell(f"{1000.0 * (step.length_metres or 0.0):g}" if cut or needs else ""),
        Cell(_volts(stands)),
    )  # fmt: skip


def _wire(step: WorkStep) -> str:
    if step.kind in ("free", "join"):
        return "all wires" if step.kind == "free" else "any"
    named = step.tag or (step.short or "").partition(",")[0].partition(" goes ")[0]
    return "\u00a0".join(filter(None, (step.colour, named)))


def _goes(step: WorkStep) -> str:
    if step.far is not None or step.kind not in ("lift", "free"):
        return step.far or ""
    if step.destination == CUT:
        return "insulate, tie back"
    return "out" if step.kind == "lift" else "stays off"


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
    return not _STANDS.fullmatch(note) and not note.startswith("needs ")


def _volts(stands: str) -> str:
    """``insulation for 1.2 kV``: 1200."""
    found = _STANDS.fullmatch(stands)
    return f"{float(found[1]) * (1000 if found[2] else 1):g}" if found else ""


def _blanks(step: WorkStep) -> Iterator[str]:
    """A line to write on for each position, and what should be found; kept on one line."""
    for n, state in enumerate(step.states or ({},)):
        should = step.expects[n] if n < len(step.expects) else UNKNOWN
        found = "Ω" if should == UNKNOWN else f"({should})"
        yield " ".join((*state.values(), "______", found)).replace(" ", "\u00a0")


# What to buy -------------------------------------------------------------------------------


def buy_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan the new parts and the new wire; then what is used again."""
    for moves in packet.moves:
        wiring = packet.spec.wirings[moves.target]
        blocks = (
            *_new_parts(packet, wiring, moves),
            *_new_wire(packet.spec, wiring, moves),
            *_reused(moves),
        )
        yield ReportSection("buy", f"Buy for {moves.target}", blocks if moves.steps else ())


def _new_parts(packet: Packet, wiring: Wiring, moves: Moves) -> Iterator[Table]:
    """Parts with the same words about them share a line."""
    fitted, values = fitted_words(packet, wiring.name), packet.values.get(wiring.name)
    stress = {one.part: one for one in values.parts} if values is not None else {}
    alike: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for step in (step for step in moves.steps if step.kind == "mount" and step.part):
        part = wiring.parts[step.part or ""]
        needs = _switch_needs(packet, wiring, part) or _needs(stress.get(part.name))
        said = filter(None, (part.described_as(fitted.get(part.name)), part.label))
        alike[", ".join(said), needs].append(part.name)
    rows = tuple(
        (BOX, _pieces(len(names)), Cell(", ".join(names), bold=True), *row(*words))
        for words, names in alike.items()
    )
    if rows:
        head = ("", "pcs", "part", "what", "at least")
        yield used_columns(Table(head, rows, short=True), ("",))


def _pieces(count: int) -> Cell:
    """How many, where it is more than one."""
    return Cell(str(count) if count > 1 else "")


def fitted_words(packet: Packet, wiring: str) -> Mapping[str, str]:
    """Part → chosen value, for those that a wiring leaves to be fitted."""
    values = packet.values.get(wiring)
    fits = values.fits if values is not None else ()
    return {fit.part: fit.chosen for fit in fits if fit.chosen}


def _needs(stress: PartStress | None) -> str:
    """What a part must stand where the spec does not say what it stands."""
    if stress is None:
        return ""
    watts = max(stress.watts or 0.0, stress.risen_watts or 0.0)
    volts = max(stress.volts or 0.0, stress.risen_volts or 0.0)
    said = []
    if stress.unrated and stress.rating_watts is None and watts > 0.0:
        said.append(next((with_unit(w, "W") for w in _WATTS if w >= _TWICE * watts),
                         with_unit(_TWICE * watts, "W", 2)))  # fmt: skip
    if stress.working_volts is None and volts >= _WORTH_SAYING:
        said.append(f"{with_unit(volts, 'V', 3)} across it")
    return ", ".join(said)


def _switch_needs(packet: Packet, wiring: Wiring, part: Part) -> str:
    """Volts of a switch whose rating is not given: the most that stands at a lug of it."""
    switch = packet.spec.all_of(Switch, wiring).get(part.name)
    if switch is None or switch.rating.volts is not None:
        return ""
    live = lug_volts(packet.spec, wiring)
    volts = [abs(live[lug].volts) for lug in switch.full_terminals if lug in live]
    return f"{with_unit(max(volts), 'V', 3)}, contacts and shaft" if volts else ""


def _new_wire(spec: Spec, wiring: Wiring, moves: Moves) -> Iterator[Block]:
    """New wire that can be cut from one reel shares a line."""
    new = {step.becomes for step in moves.steps if step.kind == "wire"}
    own = {s.becomes for s in moves.steps if s.kind == "wire" and s.text.startswith("Own lead")}
    live = lug_volts(spec, wiring)
    reels: dict[tuple[str, str, str], list[Wire]] = defaultdict(list)
    for wire in (wire for wire in wiring.wires if wire.id in new - own):
        hot = max((live[end] for end in wire.ends if end in live), key=_size, default=None)
        insulation = insulation_asked(wire.insulation_volts, hot) or ""
        kind = (wire.gauge, "screened" if wire.screened else "")
        said = ", ".join(filter(None, (wire.colour, *kind))) or "any colour"
        reels[said, wire.colour or "", _volts(insulation) or insulation].append(wire)
    rows = [
        (BOX, _pieces(len(same)), Cell(kind, colour or None), Cell(volts),
         Cell(_length_in_all(same)))
        for (kind, colour, volts), same in sorted(reels.items())
    ]  # fmt: skip
    joins = sum(step.kind == "join" for step in moves.steps)
    if joins:
        rows.append((BOX, _pieces(joins), Cell("any leads"), Cell(), Cell()))
    if rows:
        head = ("", "pcs", "new wire", "≥ V", "mm to cut")
        title = f"{_ALLOWED} mm a piece allowed for both ends"
        yield used_columns(Table(head, tuple(rows), title, short=True), ("",))


def _size(volts: LugVolts) -> float:
    return abs(volts.volts)


def _length_in_all(wires: Sequence[Wire]) -> str:
    """Metres add up in any order to the same figure when summed as whole tenths of millimetres."""
    lengths = [wire.length_metres for wire in wires if wire.length_metres is not None]
    total = sum(round(one * 10_000) + 10 * _ALLOWED for one in lengths)
    unknown = len(wires) - len(lengths)
    said = [f"{total / 10:g}"] if total else []
    said += [f"{unknown} as measured"] if unknown else []
    return " and ".join(said)


def _reused(moves: Moves) -> Iterator[Words]:
    again = [step.tag for step in moves.steps if step.kind == "land" and step.tag]
    shifted = [step.part for step in moves.steps if step.kind == "shift" and step.part]
    names = [*_in_runs({*again}), *dict.fromkeys([*shifted, *moves.parts_stay])]
    if names:
        yield Words(f"Used again: {', '.join(names)}.")


def _in_runs(tags: Collection[str]) -> Iterator[str]:
    """``W1 to W5, W7``: a wire of more than two that follow each other is not named."""
    order = sorted(tags, key=lambda tag: (tag[:1], _number(tag), tag))
    numbers = enumerate(order)
    for _, run in groupby(numbers, key=lambda one: (one[1][:1], _number(one[1]) - one[0])):
        own = [tag for _, tag in run]
        yield from [f"{own[0]} to {own[-1]}"] if len(own) > _FEW else own


def _number(tag: str) -> float:
    return int(tag[1:]) if tag[1:].isdigit() else inf
