"""What to buy for a plan, on the card and as a list: new parts, new wire by the reel."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from math import inf

from rewire.bench.work_list import Moves
from rewire.records.part import Part
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Switch
from rewire.report.section import BOX, Block, Cell, ReportSection, Table, Words, row, used_columns
from rewire.values.answers import PartStress, WiringValues
from rewire.values.solved import lug_volts
from rewire.values.sources import LugVolts, insulation_asked, insulation_volts
from rewire.words.quantity import with_unit

ALLOWED = 20
"""Millimetres that a piece of wire is cut longer, for stripping and bending at both ends; common
practice, no source."""
_WATTS = (0.125, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Ratings of resistors that can be bought; common practice, no source."""
_TWICE = 2.0
"""Times what a part takes that it should be rated for; common practice, no source."""
_WORTH_SAYING = 100.0
"""Volts across a part from which its rating is asked for."""
_FEW = 2
"""Wires in a row that are named one by one."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """New parts with the same words about them."""

    parts: tuple[Part, ...]
    chosen: str | None
    """The value that was found for them, where the spec leaves it open."""
    least: str
    """The rating they need, where the spec gives none."""
    instead_of: tuple[str, ...]

    @property
    def names(self) -> str:
        """As one line names them."""
        return ", ".join(part.name for part in self.parts)


@dataclass(frozen=True, slots=True)
class Reel:
    """New wire that can be cut from one reel."""

    kind: str
    """Colour, gauge, screen; ``any colour``."""
    colour: str | None
    volts: str
    """What its insulation must be good for; empty if nothing is asked."""
    wires: tuple[Wire, ...]

    @property
    def millimetres(self) -> float:
        """Of all that have a length, with what is allowed for their ends.

        Metres add up in any order to the same figure when summed as tenths of millimetres.
        """
        lengths = (wire.length_metres for wire in self.wires if wire.length_metres is not None)
        return sum(round(one * 10_000) + 10 * ALLOWED for one in lengths) / 10

    @property
    def unmeasured(self) -> int:
        """Pieces without a length."""
        return sum(wire.length_metres is None for wire in self.wires)


# What it takes ------------------------------------------------------------------------------


def purchases(
    spec: Spec, wiring: Wiring, moves: Moves, values: WiringValues | None
) -> list[Purchase]:
    """The new parts in the order in which they are mounted."""
    fitted = fitted_words(values)
    stress = {one.part: one for one in values.parts} if values is not None else {}
    alike: dict[tuple[str, str], list[tuple[Part, tuple[str, ...]]]] = defaultdict(list)
    for step in (step for step in moves.steps if step.kind == "mount" and step.part):
        part = wiring.parts[step.part or ""]
        least = _switch_needs(spec, wiring, part) or _needs(stress.get(part.name))
        gone = tuple(name for name in step.instead_of if name != part.name)
        alike[_described(part, fitted.get(part.name)), least].append((part, gone))
    return [
        Purchase(
            tuple(part for part, _ in same), fitted.get(same[0][0].name), least,
            tuple(dict.fromkeys(name for _, gone in same for name in gone)),
        )
        for (_, least), same in alike.items()
    ]  # fmt: skip


def fitted_words(values: WiringValues | None) -> Mapping[str, str]:
    """Part → its chosen value as on a drawing, for those that a wiring leaves to be fitted."""
    fits = values.fits if values is not None else ()
    return {fit.part: fit.chosen.replace("ohm", "Ω") for fit in fits if fit.chosen}


def _described(part: Part, chosen: str | None) -> str:
    return ", ".join(filter(None, (part.described_as(chosen), part.label)))


def _needs(stress: PartStress | None) -> str:
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


def _switch_needs(spec: Spec, wiring: Wiring, part: Part) -> str:
    """Volts of a switch without a rating: the most at any of its lugs."""
    switch = spec.all_of(Switch, wiring).get(part.name)
    if switch is None or switch.rating.volts is not None:
        return ""
    live = lug_volts(spec, wiring)
    volts = [abs(live[lug].volts) for lug in switch.full_terminals if lug in live]
    return f"{with_unit(max(volts), 'V', 3)}, contacts and shaft" if volts else ""


def reels(spec: Spec, wiring: Wiring, moves: Moves) -> list[Reel]:
    """The new wire by colour; a part's own leads need none."""
    new = [s for s in moves.steps if s.kind == "wire" and not s.text.startswith("Own lead")]
    live, bought = lug_volts(spec, wiring), {step.becomes for step in new}
    found: dict[tuple[str, str, str], list[Wire]] = defaultdict(list)
    for wire in (wire for wire in wiring.wires if wire.id in bought):
        hot = max((live[end] for end in wire.ends if end in live), key=_size, default=None)
        insulation = insulation_asked(wire.insulation_volts, hot) or ""
        kind = (wire.colour or "any colour", wire.gauge, "screened" if wire.screened else "")
        said = ", ".join(filter(None, kind))
        found[said, wire.colour or "", insulation_volts(insulation) or insulation].append(wire)
    return [
        Reel(kind, colour or None, volts, tuple(same))
        for (kind, colour, volts), same in sorted(found.items())
    ]


def _size(volts: LugVolts) -> float:
    return abs(volts.volts)


# The list -----------------------------------------------------------------------------------


def buy_sections(
    spec: Spec, work: Iterable[Moves], values: Mapping[str, WiringValues]
) -> Iterator[ReportSection]:
    """For the work on each plan the new parts and the new wire; then what is used again."""
    for moves in work:
        wiring = spec.wirings[moves.target]
        bought = purchases(spec, wiring, moves, values.get(wiring.name))
        wire = _new_wire(reels(spec, wiring, moves), moves)
        blocks = (*_new_parts(bought), *wire, *_reused(moves))
        yield ReportSection("buy", f"Buy for {moves.target}", blocks if moves.steps else ())


def _new_parts(bought: Iterable[Purchase]) -> Iterator[Table]:
    rows = tuple(
        (BOX, _pieces(len(one.parts)), Cell(one.names, bold=True),
         *row(_described(one.parts[0], one.chosen), one.least))
        for one in bought
    )  # fmt: skip
    if rows:
        head = ("", "pcs", "part", "what", "at least")
        yield used_columns(Table(head, rows, short=True), ("",))


def _pieces(count: int) -> Cell:
    """How many, where it is more than one."""
    return Cell(str(count) if count > 1 else "")


def _new_wire(bought: Iterable[Reel], moves: Moves) -> Iterator[Block]:
    rows = [
        (BOX, _pieces(len(one.wires)), Cell(one.kind, one.colour), *row(one.volts, _cut(one)))
        for one in bought
    ]
    joins = sum(step.kind == "join" for step in moves.steps)
    if joins:
        rows.append((BOX, _pieces(joins), *row("any leads", "", "")))
    if rows:
        head = ("", "pcs", "new wire", "≥ V", "mm to cut")
        title = f"{ALLOWED} mm a piece allowed for both ends"
        yield used_columns(Table(head, tuple(rows), title, short=True), ("",))


def _cut(reel: Reel) -> str:
    said = [f"{reel.millimetres:g}"] if reel.millimetres else []
    said += [f"{reel.unmeasured} as measured"] if reel.unmeasured else []
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
