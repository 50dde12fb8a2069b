"""What goes to the new switch: the pieces left when a switch is taken out, and what it connected.

With the old switch out, the rest of the wiring connects stubs among themselves in
some states (P). With it in, the states' connections were R. Whatever takes its place
must give, joined with P, exactly R: it may connect at a position only what R connects
in every state of that position, and must connect the rest of R.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from rewire.circuit.circuit import Contact, ContactGraph, Nets, circuit_of
from rewire.circuit.connectivity import bonds_at_rest, controls_of, partitions
from rewire.circuit.graph import Joiner, by_first
from rewire.circuit.states import States
from rewire.compare import Finding, Result, compare_wiring
from rewire.compare.findings import INFORMATION
from rewire.reading.faults import Fault, SpecError
from rewire.records.part import Part
from rewire.records.spec import Net, Spec, Wire, Wiring
from rewire.records.switches import Switch

Labels = tuple[int, ...]
"""Per stub the first stub of its group."""
Order = Literal["in-order", "reversed", "any"]
_TRIAL = "fit"


@dataclass(frozen=True, slots=True)
class Stub:
    """What is left of a net when the old switch is gone; it goes as one.

    A lug of the old switch may have been all that held several pieces together;
    each of them then needs its own wire to the new lug.
    """

    pieces: tuple[tuple[str, ...], ...]
    """Terminals and points of each piece."""
    ends: tuple[str, ...]
    """Per piece the terminal or point its wire goes to."""
    lugs: tuple[str, ...]
    """Lugs of the old switch that it was on."""
    homes: tuple[str, ...]
    """Per piece the lug that its wire came from."""

    @property
    def members(self) -> tuple[str, ...]:
        """All its terminals and points."""
        return tuple(name for piece in self.pieces for name in piece)

    def name(self, points: Mapping[str, object] | Sequence[str]) -> str:
        """As a person calls it: by its point if it has one, else by where its wire goes."""
        named = [name for name in self.members if name in points]
        return named[0] if named else self.ends[0]


@dataclass(frozen=True)
class WithoutSwitch:
    """The original with one switch taken out, every jumper and net of its lugs alone with it.

    *Nodes* are the stubs, numbered first, and after them every other net that is left.
    """

    spec: Spec
    switch: Switch
    wiring: Wiring
    stubs: tuple[Stub, ...]
    """In the order of the old lugs: commons first, then throws."""
    nets: Nets
    node_of_net: tuple[int, ...]
    nodes: int
    lug_node: Mapping[str, int]
    """Per lug of the old switch its node; nets of lugs alone are numbered from ``nodes`` on."""
    contacts: tuple[Contact, ...]
    """Of every other switch, on nodes."""

    def node(self, name: str) -> int:
        """The node of a terminal or point that is left."""
        return self.node_of_net[self.nets.of[name]]

    @property
    def old_contacts(self) -> tuple[Contact, ...]:
        """Of the old switch, on nodes."""
        switch, at = self.switch, self.lug_node
        return tuple(Contact(switch.name, switch.control, one, at) for one in switch.sections)


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing asked for at a position: with ``given`` joined already, ``whole`` must come out."""

    given: Labels
    whole: Labels

    def goals(self) -> list[tuple[int, ...]]:
        """Groups of given blobs that must be connected with each other, two or more each."""
        groups = by_first(dict.fromkeys(zip(self.whole, self.given, strict=True)))
        return [tuple(blobs) for blobs in groups.values() if len(blobs) > 1]


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of the contacts that are closed at one position of the control."""

    may: Labels
    """Stubs of different groups must not be connected by the switch."""
    wanted: tuple[Wanted, ...]
    """What must be brought about; what another thing asked for brings along is left out."""
    seen: tuple[Wanted, ...]
    """What there is in every state."""


@dataclass(frozen=True)
class SwitchTask:
    """What goes to the new switch."""

    bare: WithoutSwitch
    demands: tuple[Demand | None, ...]
    """Per position of the control; None where it can never stand."""
    waived: frozenset[str] = frozenset()
    order: Order = "in-order"
    """In which the knob may serve the positions."""
    hardwired: tuple[tuple[str, str], ...] = ()
    """Pairs of points that a plain wire joins, past the switch."""

    @property
    def spec(self) -> Spec:
        """The spec it is about."""
        return self.bare.spec

    @property
    def positions(self) -> tuple[str, ...]:
        """Positions of the control, in order of travel."""
        return self.spec.controls[self.bare.switch.control].positions

    def always_connected(self) -> list[tuple[str, str]]:
        """Pairs of points that a plain wire may join for good: every position connects them."""
        labels = [demand.may for demand in self.demands if demand is not None]
        ends = ((tuple(m[n] for m in labels), s.ends[0]) for n, s in enumerate(self.bare.stubs))
        return [pair for some in by_first(ends).values() for pair in pairwise(some)]

    @cached_property
    def _own_faults(self) -> frozenset[tuple[int | None, object]]:
        """Rules that the original itself breaks, by number, and where."""
        same = replace(self.spec.original, name=_TRIAL, changes=())
        broken = (f for f in compare_wiring(self.spec, same).findings if f.kind == "rule")
        return frozenset((f.rule, at) for f in broken for at in (*f.states, *f.steps))

    def obstacles(self, result: Result) -> list[Finding]:
        """What of a comparison stands in the way."""
        found = (f for f in result.findings if f.kind not in INFORMATION)
        return [f for f in found if f.kind not in self.waived and not self.is_own(f)]

    def is_own(self, finding: Finding) -> bool:
        """Whether the original itself breaks the rule, wherever the finding says."""
        where = {(finding.rule, at) for at in (*finding.states, *finding.steps)}
        return finding.kind == "rule" and where <= self._own_faults


def task_of(
    spec: Spec, switch: Switch, waived: frozenset[str] = frozenset(), order: Order = "in-order"
) -> SwitchTask:
    """What goes to the new switch when one of the original is taken out.

    Raises:
        SpecError: something outside the wirings names a lug that goes with the switch.
        LimitReached: too many states of other controls bear on it.
    """
    bound = list(_bound_to(spec, switch))
    if bound:
        raise SpecError(bound)
    bare = _take_out(spec, switch)
    return SwitchTask(bare, _demands_of(bare), waived, order)


def _bound_to(spec: Spec, switch: Switch) -> Iterator[Fault]:
    """What outside the wirings names a lug of the switch."""
    gone = {switch.terminal(lug) for lug in switch.terminals}
    bound = [
        (part.place, f"{part.name} stays in every wiring and", part.between or ())
        for part in spec.parts.values()
    ]
    bound += [(rule.place, f"rule {n}", rule.places) for n, rule in enumerate(spec.rules, 1)]
    bound += [
        (reading.place, f"reading {reading.name}", reading.places)
        for reading in spec.original.readings.values()
    ]
    for place, what, places in bound:
        if lugs := gone & {*places}:
            message = f"{what} names {min(lugs)}, which goes with {switch.name}"
            yield Fault(place, message, "name the point or the part that the lug is wired to")


def hardwired(task: SwitchTask, pairs: list[tuple[str, str]]) -> SwitchTask:
    """The same task with a plain wire between the points of each pair.

    Raises:
        LimitReached: too many states of other controls bear on it.
    """
    spec, switch = task.spec, task.bare.switch
    numbered = enumerate(pairs, 1)
    wires = (
        Wire(id=f"plain-{n}", ends=ends, jumper=False, place=switch.place) for n, ends in numbered
    )
    wired = replace(spec.original, wires=(*spec.original.wires, *wires))
    bare = _take_out(replace(spec, wirings={**spec.wirings, wired.name: wired}), switch)
    bare = replace(bare, spec=spec)
    return replace(task, bare=bare, demands=_demands_of(bare), hardwired=tuple(pairs))


def _take_out(spec: Spec, switch: Switch) -> WithoutSwitch:
    gone = frozenset(switch.terminal(lug) for lug in switch.terminals)
    bare = _without(spec.original, switch.name, gone)
    whole, left = circuit_of(spec, spec.original).nets, circuit_of(spec, bare).nets
    order = _order(switch)
    on_lugs = list(dict.fromkeys(whole.of[switch.terminal(lug)] for lug in order))
    live_on = [net for net in on_lugs if any(name not in gone for name in whole.members[net])]
    number = {net: index for index, net in enumerate(live_on)}
    node_of_net: list[int] = []
    nodes = len(live_on)
    for members in left.members:
        stub = number.get(whole.of[members[0]])
        node_of_net.append(nodes if stub is None else stub)
        nodes += stub is None
    alone = (net for net in on_lugs if net not in number)
    node = number | {net: nodes + index for index, net in enumerate(alone)}
    contacts = tuple(
        replace(c, place={lug: node_of_net[net] for lug, net in c.place.items()})
        for c in circuit_of(spec, bare).contacts
    )
    direct = _direct(spec, gone, {lug: n for n, lug in enumerate(map(switch.terminal, order))})
    return WithoutSwitch(
        spec=spec,
        switch=switch,
        wiring=bare,
        stubs=tuple(_stub(whole.members[net], left, direct, order, switch) for net in live_on),
        nets=left,
        node_of_net=tuple(node_of_net),
        nodes=nodes,
        lug_node={lug: node[whole.of[switch.terminal(lug)]] for lug in switch.terminals},
        contacts=contacts,
    )


def _order(switch: Switch) -> list[str]:
    """Commons first, then throws; a table's lugs as they are listed."""
    commons = [pole[0] for pole in switch.poles]
    return [*commons, *(lug for lug in switch.terminals if lug not in commons)]


def _without(original: Wiring, name: str, gone: frozenset[str]) -> Wiring:
    parts = {n: part for n, part in original.parts.items() if n != name}
    cut = {n: part for n, part in parts.items() if part.between and gone & {*part.between}}
    parts |= {n: replace(part, between=None) for n, part in cut.items()}
    left = (replace(n, members=tuple(m for m in n.members if m not in gone)) for n in original.nets)
    leads = (net for part in cut.values() for net in _leads(part, gone))
    nets = (*(net for net in left if len(net.members) > 1), *leads)
    wires = tuple(wire for wire in original.wires if not gone & {*wire.ends})
    return replace(original, parts=parts, nets=nets, wires=wires)


def _leads(part: Part, gone: frozenset[str]) -> Iterator[Net]:
    """The other lead of a part that had one on the switch."""
    for lead, place in zip(part.full_terminals, part.between or (), strict=False):
        if place not in gone:
            yield Net(None, (lead, place), part.place)


def _direct(
    spec: Spec, gone: frozenset[str], number: Mapping[str, int]
) -> list[tuple[int, int, str]]:
    """How well it tells where a wire went, the number of the lug, the other end; best first."""
    wired = {wire.ends for wire in spec.original.wires}
    found = []
    for joint in circuit_of(spec, spec.original).soldered:
        lugs = [number[name] for name in joint if name in gone]
        for other in (name for name in joint if lugs and name not in gone):
            rank = 0 if joint in wired else 1 if other in spec.points else 2
            found += [(rank, lug, other) for lug in lugs]
    return sorted(found)


def _stub(
    net: tuple[str, ...],
    left: Nets,
    direct: list[tuple[int, int, str]],
    order: list[str],
    switch: Switch,
) -> Stub:
    lugs = tuple(lug for lug in order if switch.terminal(lug) in net)
    of_switch = {switch.terminal(lug) for lug in lugs}
    pieces = [left.members[n] for n in dict.fromkeys(left.of[m] for m in net if m not in of_switch)]
    first = {piece: next(row for row in direct if row[2] in piece) for piece in pieces}
    ranked = sorted(pieces, key=lambda piece: first[piece])
    return Stub(
        pieces=tuple(ranked),
        ends=tuple(first[piece][2] for piece in ranked),
        lugs=lugs,
        homes=tuple(order[first[piece][1]] for piece in ranked),
    )


def labels_of(count: int, groups: Iterable[Sequence[int]], labels: int) -> Labels:
    """Groups of the first ``labels`` of ``count`` nodes after joining ``groups``."""
    joiner = Joiner(count)
    for group in groups:
        joiner.join(group)
    return tuple(map(joiner.root, range(labels)))


def _demands_of(bare: WithoutSwitch) -> tuple[Demand | None, ...]:
    """Per position of the control what is asked; None where it can never stand."""
    stubs = range(len(bare.stubs))
    links = ContactGraph(bare.contacts).tree.between(stubs)
    old = [link for n, contact in enumerate(bare.old_contacts) for link in contact.links(n)]
    control = bare.spec.controls[bare.switch.control]
    states = States(bare.spec.controls, bare.spec.never)
    names = {control.name, *controls_of(links)}
    frame = states.frame(names, f"what {bare.switch.name} must connect")
    given = bonds_at_rest(links, frame)
    whole = [*given, *bonds_at_rest(old, frame)]
    seen = [
        (Wanted(labels, whole_labels), where)
        for labels, mask in partitions(stubs, given, states.possible(frame))
        for whole_labels, where in partitions(stubs, whole, mask)
    ]
    return tuple(
        _demand_at(frame.where(control.name, 1 << position), seen, len(stubs))
        for position in range(len(control.positions))
    )


def _demand_at(states: int, seen: Sequence[tuple[Wanted, int]], stubs: int) -> Demand | None:
    """What is asked in some states, what comes first there first; None where none can be."""
    here = [(where & states, wanted) for wanted, where in seen if where & states]
    here.sort(key=lambda one: one[0] & -one[0])
    return demand_for(tuple(wanted for _, wanted in here), stubs) if here else None


def demand_for(seen: tuple[Wanted, ...], stubs: int) -> Demand:
    """What is asked at a position where each of ``seen`` must come out in some state."""
    keys = list(zip(*(one.whole for one in seen), strict=True)) if stubs else []
    numbers: dict[Labels, int] = {}
    may = tuple(numbers.setdefault(key, len(numbers)) for key in keys)
    asked = [one for one in seen if one.goals()]
    needed = tuple(one for one in asked if not _covered(one, asked))
    return Demand(may, needed, seen)


def _covered(one: Wanted, asked: Sequence[Wanted]) -> bool:
    """Whether another thing asked for brings this one along: less is given, as much comes out."""
    return any(
        joined(other.given, one.given) == one.given
        and joined(more := joined(one.given, other.whole), one.whole) == more
        for other in asked
        if other != one
    )


def joined(one: Labels, other: Labels) -> Labels:
    """The groups when whatever is together in either is together."""
    joiner = Joiner(len(one))
    for labels in (one, other):
        first: dict[int, int] = {}
        for stub, label in enumerate(labels):
            joiner.join((first.setdefault(label, stub), stub))
    return tuple(map(joiner.root, range(len(one))))
