"""What a circuit picture holds: parts, poles and points, and the nets that they are on.

A picture shows one wiring, or at once what is there before some work and what is there after it.
Then every net of the picture is a net before and a net after: what lies on the same two stays
joined, whatever is done.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import networkx as nx

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.roles import roles_as_written
from rewire.records.part import Part, Section
from rewire.records.parts import Meter, Pot, Strip
from rewire.records.spec import Control, Point, Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.answers import WiringValues
from rewire.words.quantity import in_ohms

Fate = Literal["stays", "new", "goes"]
Chosen = Mapping[str, str]
"""Part → the value that was found for it, in words."""
Closings = tuple[tuple[tuple[int, ...], ...], ...]
"""Per position the groups of a pole's lugs, by number, that are closed together."""
_MANY = 12
"""With more poles than this, each is a drawing of its own."""


@dataclass(frozen=True, slots=True)
class DrawnNet:
    """A net of the picture: what is on one net before, and on one after.

    None stands for what comes later, or is gone by then.
    """

    before: int | None
    after: int | None
    group: int
    """Nets of one group are joined to each other, before or after."""
    place: int
    """Nets of one place are drawn near each other: as they are joined after."""
    earth: tuple[bool, bool] = (False, False)
    """Whether it is chassis before, and after."""

    @property
    def fate(self) -> Fate:
        """What becomes of what lies on it."""
        return "new" if self.before is None else "goes" if self.after is None else "stays"

    @property
    def chassis(self) -> bool:
        """Whether it is chassis as long as it is there."""
        return (self.earth[0] or self.before is None) and (self.earth[1] or self.after is None)

    @property
    def low(self) -> bool:
        """Whether it is chassis in the end, or as long as it is there."""
        return self.chassis or (self.earth[1] and self.after is not None)

    @property
    def own(self) -> str:
        """What its lines and symbols bear."""
        return str(self.group)


@dataclass(frozen=True, slots=True)
class Said:
    """What is written beside a part."""

    value: str
    old: str = ""
    """What it takes the place of, as far as that was another."""
    fate: Fate = "stays"
    """Of the part itself: what is put in is outlined heavily."""
    number: str = ""
    """Of the change, in a table beside the picture."""
    clip: str = ""
    """What a voltmeter clipped across it says of a current."""
    volts: str = ""
    """Across it, in one position."""
    amps: float = 0.0
    """From its first terminal on, in one position; 0 is not written."""


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """A part with its words, and the nets of its terminals in their order."""

    name: str
    symbol: str
    said: Said
    nets: tuple[DrawnNet, ...]
    polar: bool = False
    letter: str = ""
    """In the symbol of a meter: the unit that it shows."""

    @property
    def shows(self) -> str:
        """What its symbol stands for; a part that goes may have a namesake."""
        return f"{'gone' if self.said.fate == 'goes' else 'part'}:{self.name}"

    @property
    def members(self) -> tuple[DrawnNet, ...]:
        """Its nets but chassis, one of each place."""
        return tuple({net.place: net for net in self.nets if not net.chassis}.values())


@dataclass(frozen=True, eq=False)
class DrawnPole:
    """A pole of a switch, or several that are soldered lug by lug side by side."""

    switch: Switch
    name: str
    """The switch, where there are several, followed by a space."""
    lugs: tuple[tuple[str, ...], ...]
    """The common, then every throw: each with the lugs of the poles side by side."""
    nets: tuple[DrawnNet, ...]
    closings: Closings
    fate: Fate = "stays"
    was: tuple[str, ...] = ()
    """What was written at the common and the throws of the pole that it takes the place of."""
    number: str = ""

    @property
    def closed(self) -> int | None:
        """The throw, by number, that is closed on the common in the first position."""
        groups = self.closings[0] if self.closings else ()
        return next((n for group in groups if 0 in group for n in group if n), None)

    def label(self, number: int) -> str:
        """What is written at the common (0) or a throw."""
        said = "∥".join(self.lugs[number])
        return f"{self.name}{said}" if number == 0 else said

    @property
    def members(self) -> tuple[DrawnNet, ...]:
        """Its nets but chassis, one of each place."""
        return tuple({net.place: net for net in self.nets if not net.chassis}.values())


Member = DrawnPole | DrawnPart


@dataclass(frozen=True, eq=False)
class Diagram:
    """Everything to draw."""

    spec: Spec
    rows: tuple[DrawnPole, ...]
    pieces: tuple[DrawnPart, ...]
    points: Mapping[str, DrawnNet]
    legend: tuple[str, ...] = ()
    """Which position closes what."""

    @property
    def members(self) -> tuple[Member, ...]:
        """Poles, then parts."""
        return (*self.rows, *self.pieces)

    @cached_property
    def on(self) -> Mapping[int, Sequence[Member | Point]]:
        """Group → each part's terminal, pole's lug and point on it; strips left out."""
        found: dict[int, list[Member | Point]] = {}
        for member in self.members:
            for net in member.nets:
                found.setdefault(net.group, []).append(member)
        for name, net in self.points.items():
            found.setdefault(net.group, []).append(self.spec.points[name])
        return found

    @cached_property
    def split(self) -> Set[int]:
        """Groups of several nets: something is parted or joined there."""
        nets = {net for member in self.members for net in member.nets}
        counts = Counter(net.group for net in nets | set(self.points.values()) if not net.chassis)
        return {group for group, count in counts.items() if count > 1}

    @cached_property
    def drawings(self) -> list[tuple[Member, ...]]:
        """Rows and parts that are drawn together: what nets join, chassis left out.

        Of many poles each is drawn with what is nearest to it.
        """
        graph: nx.Graph[object] = nx.Graph()
        members = self.members
        for number, member in enumerate(members):
            graph.add_node(number)
            graph.add_edges_from((number, ("net", net.group)) for net in member.members)
        groups: Iterable[Iterable[object]] = nx.connected_components(graph)
        if len(self.rows) > _MANY:
            cells = nx.voronoi_cells(graph, set(range(len(self.rows))))
            alone = cells.pop("unreachable", set())
            groups = [*cells.values(), *nx.connected_components(graph.subgraph(alone))]
        where = {one: number for number, found in enumerate(groups) for one in found}
        return [
            tuple(member for n, member in enumerate(members) if where[n] == number)
            for number in dict.fromkeys(where[n] for n in range(len(members)))
        ]

    @cached_property
    def apart(self) -> tuple[int, ...]:
        """Groups that go on in another drawing, and have no point to be named by."""
        named = {net.group for net in self.points.values()} - self.split
        counts = Counter(
            group for drawing in self.drawings
            for group in {net.group for member in drawing for net in member.members}
        )  # fmt: skip
        return tuple(group for group, count in counts.items() if count > 1 and group not in named)


def chosen_values(spec: Spec, wiring: Wiring, values: WiringValues | None) -> dict[str, str]:
    """The values that the spec left open and that were found, in words."""
    if values is None:
        return {}
    found = {f.part: in_ohms(f.chosen_ohms) for f in values.fits if f.chosen_ohms is not None}
    ohms = {name: in_ohms(pot.ohms) for name, pot in spec.all_of(Pot, wiring).items()}
    settings = ((p.part, p.setting_percent) for p in values.pots if p.setting_percent is not None)
    return {**found, **{part: f"{ohms[part]} at {at:.0f} %" for part, at in settings}}


def diagram_of(spec: Spec, wiring: Wiring, chosen: Chosen, clips: Mapping[str, str]) -> Diagram:
    """The circuit of one wiring; the values that a part of it takes the place of beside its own.

    ``clips``: resistor → what a voltmeter clipped across it says of a current.
    """
    circuit = circuit_of(spec, wiring)
    chassis = chassis_of(circuit)
    nets = [
        DrawnNet(n, n, n, n, (n in chassis, n in chassis)) for n in range(len(circuit.nets.members))
    ]
    on = {place: nets[number] for place, number in circuit.nets.of.items()}
    said = {name: replace(_said(circuit, part, chosen), clip=clips.get(name, ""))
            for name, part in drawn_parts(circuit).items()}  # fmt: skip
    return Diagram(
        spec,
        tuple(alike(rows_of(circuit.switches, circuit.bare, on, len(circuit.switches) > 1))),
        tuple(
            drawn_part(part, said[name], [on[t] for t in part.full_terminals])
            for name, part in drawn_parts(circuit).items()
        ),
        {name: on[name] for name in spec.points},
        tuple(legend(circuit.switches, spec.controls)),
    )


def drawn_part(part: Part, said: Said, nets: Sequence[DrawnNet]) -> DrawnPart:
    """A part with its words on its nets."""
    letter = _letter(part) if isinstance(part, Meter) else ""
    return DrawnPart(part.name, part.symbol, said, tuple(nets), part.polar, letter)


def _letter(meter: Meter) -> str:
    """The unit that a meter shows; M where its full scale is not known."""
    if meter.full_scale_volts is not None:
        return "V"
    amps = meter.movement_amps
    if amps is None:
        return "M"
    return "µA" if amps < 1e-3 else "mA" if amps < 1.0 else "A"


def _said(circuit: Circuit, part: Part, chosen: Chosen) -> Said:
    """The value of a part, and the one before it where that was another.

    A part is new that the original has not, or has of another value.
    """
    value, original = chosen.get(part.name, part.value), circuit.spec.original
    if circuit.wiring is original:
        return Said(value)
    roles = roles_as_written(circuit.spec, circuit.wiring)
    before = [original.parts[n] for n in roles.forerunners(part.name) if n in original.parts]
    values = dict.fromkeys(old.value for old in before)
    known = part.name in circuit.spec.parts or part.value in values
    if known and all(type(old) is type(part) for old in before):
        return Said(value)
    return Said(value, ", ".join(old for old in values if old not in ("", value)), "new")


def chassis_of(circuit: Circuit) -> Set[int]:
    """Nets that are chassis."""
    return {circuit.nets.of[p.name] for p in circuit.spec.points.values() if p.chassis}


def drawn_parts(circuit: Circuit) -> Mapping[str, Part]:
    """Parts that have a symbol of their own."""
    return {n: p for n, p in circuit.parts.items() if not isinstance(p, Switch | Strip)}


# Poles ----------------------------------------------------------------------------------


def rows_of(
    switches: Iterable[Switch], bare: Set[str], on: Mapping[str, DrawnNet], several: bool
) -> Iterator[DrawnPole]:
    """A row for each pole that something is soldered to, and for each lug that never closes.

    Nothing is soldered to ``bare`` lugs, ``on`` gives the net of the others; of ``several``
    switches poles bear the names.
    """
    for switch in switches:
        used = {t for t in switch.full_terminals if t not in bare}
        name = f"{switch.name} " if several else ""
        for section in switch.sections:
            for lugs in _stars(section):
                terminals = [switch.terminal(lug) for lug in lugs]
                if used.intersection(terminals):
                    nets = tuple(on[terminal] for terminal in terminals)
                    single = tuple((lug,) for lug in lugs)
                    yield DrawnPole(switch, name, single, nets, _closings(section, lugs))
        for lug in switch.idle_lugs:
            if switch.terminal(lug) in used:
                yield DrawnPole(switch, name, ((lug,),), (on[switch.terminal(lug)],), ())


def alike(rows: Iterable[DrawnPole]) -> Iterator[DrawnPole]:
    """Poles of a switch that are soldered side by side as one row."""
    found: dict[Hashable, list[DrawnPole]] = {}
    for number, row in enumerate(rows):
        timing = next((s.timing for s in row.switch.sections if row.lugs[0][0] in s.lugs), None)
        alone = number if len(row.lugs) < 2 or row.was else None
        key = row.switch.name, row.nets, row.closings, timing, row.fate, alone
        found.setdefault(key, []).append(row)
    for first, *more in found.values():
        lugs = zip(*(row.lugs for row in (first, *more)), strict=True)
        yield replace(first, lugs=tuple(tuple(lug for one in at for lug in one) for at in lugs))


def _closings(section: Section, lugs: Sequence[str]) -> Closings:
    """Which of the lugs, by number, are closed together in each position."""
    return tuple(
        tuple(tuple(n for n, lug in enumerate(lugs) if lug in group) for group in at)
        for at in section.groups
    )


def _stars(section: Section) -> Iterator[tuple[str, ...]]:
    """A section as commons, each with its throws: one star where a lug is in all that closes."""
    groups = [group for at in section.groups for group in at]
    shared = [lug for lug in section.lugs if groups and all(lug in group for group in groups)]
    if section.pole is not None or shared:
        common = section.lugs[0] if section.pole is not None else shared[0]
        yield (common, *(lug for lug in section.lugs if lug != common))
        return
    yield from dict.fromkeys(pair for group in groups for pair in pairwise(group))


def legend(switches: Iterable[Switch], controls: Mapping[str, Control]) -> Iterator[str]:
    """Which position closes what, of switches that work alike once; the drawing shows the first."""
    alike: dict[str, dict[str, None]] = {}
    for switch in switches:
        positions = controls[switch.control].positions
        if switch.throw_at is None:
            said = "; ".join(f"{name}: {_closed_in(switch, n)}" for n, name in enumerate(positions))
        else:
            throws = zip(switch.throw_at, positions, strict=True)
            said = ", ".join(f"{'none' if at is None else at} {name}" for at, name in throws)
        alike.setdefault(f"{said}. Drawn at {positions[0]}.", {})[switch.name] = None
    yield from (f"{', '.join(names)}: {said}" for said, names in alike.items())


def _closed_in(switch: Switch, position: int) -> str:
    groups = [group for section in switch.sections for group in section.groups[position]]
    return ", ".join("–".join(group) for group in groups) or "none"
