"""Taking a switch out: what is left of its nets are the stubs that must land elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from rewire.circuit.nets import Nets, joints_of, nets_of
from rewire.records.spec import Net, Part, Spec, Switch, Wiring


@dataclass(frozen=True, slots=True)
class Stub:
    """What is left of a net when the old switch is gone; it lands as one.

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


@dataclass(frozen=True)
class Bare:
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

    def node(self, name: str) -> int:
        """The node of a terminal or point that is left."""
        return self.node_of_net[self.nets.of[name]]


def take_out(spec: Spec, switch: Switch) -> Bare:
    """The original without a switch.

    Args:
        spec: the checked model.
        switch: one of the original's own parts.
    """
    gone = frozenset(switch.terminal(lug) for lug in switch.terminals)
    bare = _without(spec.original, switch.name, gone)
    whole = nets_of(spec, spec.original)
    left = nets_of(spec, bare)
    order = _order(switch)
    landed = list(dict.fromkeys(whole.of[switch.terminal(lug)] for lug in order))
    touched = [net for net in landed if any(name not in gone for name in whole.members[net])]
    direct = list(_direct(spec, gone))
    stubs = tuple(_stub(net, whole, left, gone, order, switch, direct) for net in touched)
    number = {net: index for index, net in enumerate(touched)}
    node_of_net: list[int] = []
    nodes = len(stubs)
    for members in left.members:
        stub = number.get(whole.of[members[0]])
        node_of_net.append(nodes if stub is None else stub)
        nodes += stub is None
    alone = {net: nodes + index for index, net in enumerate(n for n in landed if n not in number)}
    lug_node = {}
    for lug in switch.terminals:
        net = whole.of[switch.terminal(lug)]
        lug_node[lug] = number[net] if net in number else alone[net]
    return Bare(spec, switch, bare, stubs, left, tuple(node_of_net), nodes, lug_node)


def _order(switch: Switch) -> list[str]:
    """Commons first, then throws; a table's lugs as they are listed."""
    commons = [pole[0] for pole in switch.poles]
    return [*commons, *(lug for lug in switch.terminals if lug not in commons)]


def _without(original: Wiring, name: str, gone: frozenset[str]) -> Wiring:
    parts = {n: part for n, part in original.parts.items() if n != name}
    cut = {n: part for n, part in parts.items() if part.between and gone & {*part.between}}
    parts |= {n: replace(part, between=None) for n, part in cut.items()}
    nets = [*_nets(original.nets, gone), *(net for p in cut.values() for net in _leads(p, gone))]
    wires = tuple(wire for wire in original.wires if not gone & {*wire.ends})
    return replace(original, parts=parts, nets=tuple(nets), wires=wires)


def _nets(nets: tuple[Net, ...], gone: frozenset[str]) -> Iterator[Net]:
    for net in nets:
        members = tuple(name for name in net.members if name not in gone)
        if len(members) > 1:
            yield replace(net, members=members)


def _leads(part: Part, gone: frozenset[str]) -> Iterator[Net]:
    """The other lead of a part that had one on the switch."""
    for lug, place in zip(part.terminals, part.between or (), strict=False):
        if place not in gone:
            yield Net(None, (part.terminal(lug), place), part.place)


def _direct(spec: Spec, gone: frozenset[str]) -> Iterator[tuple[int, str, str]]:
    """How well it tells where a wire went, the lug, the other end."""
    wired = {wire.ends for wire in spec.original.wires}
    for joint in joints_of(spec, spec.original):
        lugs = [name for name in joint if name in gone]
        for other in (name for name in joint if lugs and name not in gone):
            rank = 0 if joint in wired else 1 if other in spec.points else 2
            yield from ((rank, lug, other) for lug in lugs)


def _stub(
    net: int,
    whole: Nets,
    left: Nets,
    gone: frozenset[str],
    order: list[str],
    switch: Switch,
    direct: list[tuple[int, str, str]],
) -> Stub:
    members = [name for name in whole.members[net] if name not in gone]
    pieces = tuple(left.members[n] for n in dict.fromkeys(left.of[name] for name in members))
    place = {switch.terminal(lug): index for index, lug in enumerate(order)}
    told = sorted((rank, place[lug], other) for rank, lug, other in direct)
    lugs = tuple(lug for lug in order if whole.of[switch.terminal(lug)] == net)
    first = {piece: min(row for row in told if row[2] in piece) for piece in pieces}
    ranked = sorted(pieces, key=lambda piece: first[piece])
    return Stub(
        pieces=tuple(ranked),
        ends=tuple(first[piece][2] for piece in ranked),
        lugs=lugs,
        homes=tuple(order[first[piece][1]] for piece in ranked),
    )


def twins(old: Switch, new: Switch) -> dict[str, str]:
    """Per lug of a new switch the lug of the old one in the same place.

    Plain forms go by pole and throw, whatever their lugs are called; else names count.
    """
    if old.poles and new.poles:
        pairs = zip(new.poles, old.poles, strict=False)
        return {a: b for mine, theirs in pairs for a, b in zip(mine, theirs, strict=False)}
    return {lug: lug for lug in new.terminals if lug in old.terminals}
