"""Sections of the packet about the work: what was found, what to buy, the moves, the wires."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

from rewire.bench.moves import measured
from rewire.bench.work_list import DO_NOT_BUILD, STAGES, Moves, WorkStep
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Switch
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.values.lug_volts import LugVolts, insulation_asked
from rewire.values.solved import lug_volts
from rewire.words.quantity import in_ohms, with_unit

_ROWS = {"switch": "switch", "meter": "meter", "resistor": "resistors", "pot": "pots"}
"""Kind of part → its row in the table of options; the others share one."""
_ACROSS = 4
"""Wirings side by side in one table; more go into the next."""
_BOX = Cell(box=True)


def found_sections(packet: Packet) -> Iterator[ReportSection]:
    """The list of finds, and what each shown wiring's author noted of it."""
    notes = [Words(f"{w.name}: {w.note}") for w in packet.wirings if w.note]
    rows = tuple(
        (_BOX, Cell(one.planned, bold=True), *row(one.what, one.where or "", one.why or ""))
        for one in packet.spec.found
    )
    table = used_columns(Table(("", "plan", "what", "where", "why"), rows), ("what",))
    yield ReportSection("found", "As found", (*([table] if rows else []), *notes))


def parts_sections(packet: Packet) -> Iterator[ReportSection]:
    """The parts of each plan, those alike in one line; hook-up wire; what stays in the set."""
    blocks: list[Block] = [Words("'takes' is the most at full scale of any reading.")]
    for wiring in packet.plans:
        live = lug_volts(packet.spec, wiring)
        rows = tuple(_parts(packet, wiring, wiring.parts.values()))
        blocks += _parts_table(rows, f"Parts of {wiring.name}")
        blocks += _hook_up(wiring, live)
    if packet.plans:
        rows = tuple(_parts(packet, packet.plans[0], packet.spec.parts.values()))
        blocks += _parts_table(rows, "Parts that stay in the set")
    yield ReportSection("parts", "Parts list", tuple(blocks))


def _parts_table(rows: tuple[tuple[Cell, ...], ...], title: str) -> Iterator[Table]:
    head = ("", "pcs", "part", "what", "instead of", "takes", "where and how")
    if rows:
        yield used_columns(Table(head, rows, title), ("", "pcs"))


def _parts(packet: Packet, wiring: Wiring, parts: Iterable[Part]) -> Iterator[tuple[Cell, ...]]:
    """Parts with the same words about them share a line."""
    fitted, values = fitted_words(packet, wiring.name), packet.values.get(wiring.name)
    watts = {one.part: one.watts for one in values.parts} if values is not None else {}
    alike: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for part in parts:
        takes = watts.get(part.name)
        remarks = "; ".join(said for said in (part.label, part.where, part.note) if said)
        words: tuple[str, ...] = (
            part.described_as(fitted.get(part.name)), _instead_of(packet.spec, wiring, part),
            "" if takes is None else with_unit(takes, "W", 3), remarks,
        )  # fmt: skip
        alike[words].append(part.name)
    for words, names in alike.items():
        yield _BOX, Cell(str(len(names))), Cell(", ".join(names), bold=True), *row(*words)


def fitted_words(packet: Packet, wiring: str) -> Mapping[str, str]:
    """Part → chosen value, for those that a wiring leaves to be fitted."""
    values = packet.values.get(wiring)
    fits = values.fits if values is not None else ()
    return {fit.part: f"{fit.chosen} (fitted for {fit.reading})" for fit in fits if fit.chosen}


def _instead_of(spec: Spec, wiring: Wiring, part: Part) -> str:
    roles, original = roles_between(spec, wiring), spec.original.parts
    switch = spec.all_of(Switch, wiring).get(part.name)
    if switch is not None:
        alike = [one for one in spec.all_of(Switch, spec.original).values() if one.name in original]
        gone = [s.name for s in alike if s.control == switch.control and s.name not in wiring.parts]
        return ", ".join(gone)
    gone = [name for name in roles.forerunners(part.name) if name in original and name != part.name]
    whole = {name for name in gone if roles.takers(original[name]) == (part.name,)
             and len(original[name].terminals) == len(part.terminals)}  # fmt: skip
    return ", ".join(name if name in whole else f"part of {name}" for name in gone)


def _hook_up(wiring: Wiring, live: Mapping[str, LugVolts]) -> Iterator[Table]:
    """Wires that can be cut from one reel share a line."""
    alike: dict[tuple[str, str | None], list[Wire]] = defaultdict(list)
    for wire in wiring.wires:
        insulation = insulation_asked(wire.insulation_volts, live.get(wire.ends[0]))
        kind = (wire.colour, wire.gauge, insulation, "screened" if wire.screened else "")
        alike[", ".join(said for said in kind if said) or "any", wire.colour].append(wire)
    rows = tuple(
        (_BOX, Cell(str(len(same))), Cell(kind, colour), Cell(_length_in_all(same)))
        for (kind, colour), same in alike.items()
    )
    if rows:
        head = ("", "pcs", "wire", "length in all")
        title = f"Hook-up wire of {wiring.name}"
        yield used_columns(Table(head, rows, title), ("", "pcs"))


def _length_in_all(wires: Sequence[Wire]) -> str:
    """Metres add up in any order to the same figure when summed as whole tenths of millimetres."""
    lengths = [wire.length_metres for wire in wires]
    total = sum(round(one * 10_000) for one in lengths if one is not None)
    open_ones = lengths.count(None)
    said = [f"{total / 10:g} mm"] if total else []
    said += [f"{open_ones} of a length not given"] if open_ones else []
    return " and ".join(said)


def work_sections(packet: Packet) -> Iterator[ReportSection]:
    """For each plan the moves in order, from the wiring that is there."""
    for moves in packet.moves:
        title = f"The work: from {moves.source} to {moves.target}"
        yield ReportSection("work", title, tuple(_work(moves)) if moves.steps else ())


def _work(moves: Moves) -> Iterator[Block]:
    if moves.broken:
        yield Words(f"BROKEN: {moves.target} {DO_NOT_BUILD}.", mark="!", bold=True)
    if moves.live:
        volts = tuple(
            (Cell(one.volts.said, bold=True), Cell(", ".join(one.lugs))) for one in moves.live
        )
        yield Table(("volts", "lugs"), volts, "Live while there is power")
    for stage, steps in groupby(moves.steps, key=lambda step: step.stage):
        made = Table(("", "", "lug", "", "caution"), tuple(map(_step, steps)), STAGES[stage])
        yield used_columns(made, ("",))
    if moves.stays:
        yield Words("These stay as they are: see that they are there before the work begins.")
        rows = tuple(
            (_BOX, Cell(stay.told, bold=True), *row(*stay.ends),
             Cell(stay.colour or "", stay.colour), Cell(stay.note or ""))
            for stay in moves.stays
        )  # fmt: skip
        head = ("", "wire", "from", "to", "colour", "note")
        yield used_columns(Table(head, rows, "Wires that stay"), ("",))


def _step(step: WorkStep) -> tuple[Cell, ...]:
    said = step.words if step.lug and step.words else step.text
    if step.colour:
        said = f"{step.colour} {said}"
    if step.kind == "measure":
        blanks = (f"{at} ________ Ω{should}".strip() for at, should in measured(step))
        said = f"Measure {step.place} to {step.destination}: {', '.join(blanks)}"
    notes = [text for text in (said, step.note, step.why) if text]
    return (
        _BOX, Cell(str(step.number)), Cell(step.lug or "", bold=step.lug is not None),
        Cell("; ".join(notes), step.colour), Cell(step.caution or ""),
    )  # fmt: skip


def wires_sections(packet: Packet) -> Iterator[ReportSection]:
    """Of each shown wiring every wire with both its ends, and every net."""
    for wiring in packet.wirings:
        begun = [one for one in packet.moves if one.source == wiring.name and one.steps]
        moves = [one for one in begun if any(one.tags[w.id] != w.id for w in wiring.wires)]
        yield ReportSection("wires", f"Wire list: {wiring.name}", tuple(_wires(wiring, moves)))


def _wires(wiring: Wiring, moves: Sequence[Moves]) -> Iterator[Block]:
    if wiring.wires:
        labels = [f"label, to {one.target}" for one in moves]
        heads = ("", "no.", "from", "to", *labels, "colour", "length", "note")
        rows = tuple(_wire(wire, wire.ends, moves) for wire in wiring.wires)
        yield used_columns(Table(heads, rows), ("", "colour"))
    else:
        yield Words("No single wire is known of this wiring.")
    if wiring.cut_wires:
        yield Words("Cut off at one end, joined to nothing:")
        cut = tuple(_wire(w, [e for e in w.ends if e != "cut"], ()) for w in wiring.cut_wires)
        yield Table(("", "no.", "on", "colour", "length", "note"), cut)
    if wiring.nets:
        yield Words("Also joined, by wires that are not listed one by one:")
        nets = tuple(row(net.name or "", ", ".join(net.members)) for net in wiring.nets)
        yield Table(("net", "all of these are joined"), nets)


def _wire(wire: Wire, ends: Sequence[str], moves: Sequence[Moves]) -> tuple[Cell, ...]:
    length = "" if wire.length_metres is None else f"{wire.length_metres * 1000:g} mm"
    volts = wire.insulation_volts
    remarks = (
        "jumper" if wire.jumper else "", wire.gauge,
        "" if volts is None else f"insulation {volts:g} V",
        f"twisted with {wire.twisted_with}" if wire.twisted_with else "",
        "screened" if wire.screened else "", wire.note,
    )  # fmt: skip
    return (
        _BOX, Cell(wire.id, bold=True), *row(*ends),
        *(Cell(one.tags[wire.id], bold=True) for one in moves),
        Cell(wire.colour or "", wire.colour), Cell(length), Cell("; ".join(filter(None, remarks))),
    )  # fmt: skip


def options_sections(packet: Packet) -> Iterator[ReportSection]:
    """The plans that can be built, and the original: their parts, readings, verdicts."""
    broken = {result.wiring for result in packet.results if result.verdict == "broken"}
    plans = [w for w in packet.wirings if w.role == "plan" and w.name not in broken]
    if not plans:
        return
    said = "One column per wiring: find the one you have the parts for."
    blocks: list[Block] = [Words(said)] if len(plans) > 1 else []
    wirings = [*plans, *(w for w in packet.wirings if w.role is None)]
    for start in range(0, len(wirings), _ACROSS):
        blocks.append(_options(packet, wirings[start : start + _ACROSS]))
    yield ReportSection("options", "Options", tuple(blocks))


def _options(packet: Packet, wirings: Sequence[Wiring]) -> Table:
    kinds = (*_ROWS.values(), "other parts")
    lines = {kind: [_fitted(packet, wiring, kind) for wiring in wirings] for kind in kinds}
    for name in packet.spec.readings:
        lines[f"{name} reads"] = [_reads(packet, wiring, name) for wiring in wirings]
    lines["verdict"] = [_verdict(packet, wiring) for wiring in wirings]
    rows = tuple((Cell(name, bold=True), *row(*said)) for name, said in lines.items() if any(said))
    return Table(("", *(wiring.name for wiring in wirings)), rows)


def _fitted(packet: Packet, wiring: Wiring, kind: str) -> str:
    fitted = fitted_words(packet, wiring.name)
    return "; ".join(
        f"{part.name}: {part.described_as(fitted.get(part.name))}"
        for part in wiring.parts.values()
        if _ROWS.get(part.kind, "other parts") == kind and part.kind != "strip"
    )


def _reads(packet: Packet, wiring: Wiring, name: str) -> str:
    values = packet.values.get(wiring.name)
    readout = next((r for r in values.readings if r.name == name), None) if values else None
    if readout is None:
        return "not computed"
    if readout.deflection is None:
        return readout.note or "unknown"
    said = f"{100 * readout.deflection:.1f} % at full scale, {readout.allowance}"
    ohms = readout.insertion_ohms
    return said if ohms is None else f"{said}; {in_ohms(ohms)} in circuit"


def _verdict(packet: Packet, wiring: Wiring) -> str:
    if wiring.name == "original":
        return "as the maker built it"
    verdicts = (r.verdict.upper() for r in packet.results if r.wiring == wiring.name)
    return next(verdicts, "not compared here")
