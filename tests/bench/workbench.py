"""Working a list of moves through, step by step, as somebody with an iron would.

Knows the format of a spec and the meaning of the step kinds, nothing of how a list is made:
every step must be possible when it comes (a lifted end was there, a part is free before it is
taken out), and what stands on the bench at the end is compared with the second wiring.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

import networkx as nx

from rewire.bench.work_list import Moves, WorkStep
from rewire.records.part import Part
from rewire.records.parts import Capacitor, Choke, Fuse, Lamp, Pot, Resistor
from rewire.records.spec import CUT, Spec, Wiring

AIR = "(in the air)"


@dataclass
class Bench:
    """What is there: parts, links with both their ends, and lugs joined nobody knows how."""

    parts: dict[str, Part]
    links: dict[str, list[str]]
    joins: Any
    """Graph: what hangs together by wires not known one by one."""
    settings: dict[str, object] = field(default_factory=dict)
    drawer: dict[str, Part] = field(default_factory=dict)
    """The parts of the second wiring."""
    renamed: dict[str, str] = field(default_factory=dict)


def part_of(place: str) -> str:
    return place.split(".")[0]


def leads(wiring: Wiring) -> dict[str, list[str]]:
    """Own leads of parts written with ``between``."""
    found = {}
    for name, part in wiring.parts.items():
        for lug, place in zip(part.terminals, part.between or (), strict=False):
            found[f"lead {name}.{lug}"] = [f"{name}.{lug}", place]
    return found


def laid_out(wiring: Wiring) -> Bench:
    """A wiring on the bench."""
    joins = nx.Graph()
    for net in wiring.nets:
        nx.add_path(joins, net.members)
    wires = {wire.id: list(wire.ends) for wire in (*wiring.wires, *wiring.cut_wires)}
    return Bench(
        parts=dict(wiring.parts),
        links={**wires, **leads(wiring)},
        joins=joins,
        settings={n: p.setting_percent for n, p in wiring.parts.items() if isinstance(p, Pot)},
    )


def worked_through(spec: Spec, moves: Moves) -> Bench:
    """The first wiring after every step of the list was done."""
    bench = laid_out(spec.wirings[moves.source])
    bench.drawer.update(spec.wirings[moves.target].parts)
    # what stays is told beforehand: it may take another id, or be known only as a net
    for stay in moves.stays:
        if stay.wire is not None:
            assert set(bench.links[stay.wire]) == set(stay.ends)
        if stay.wire is None:
            assert stay.becomes is not None
            assert nx.has_path(bench.joins, *stay.ends)
            bench.links[f"new {stay.becomes}"] = list(stay.ends)
        elif stay.becomes is not None:
            bench.renamed[stay.wire] = stay.becomes
    for number, step in enumerate(moves.steps, 1):
        assert step.number == number
        if step.kind not in LOOKED_ON:
            HANDS[step.kind](bench, step)
    for stay in moves.stays:
        if stay.becomes is None:
            bench.joins.add_edge(*bench.links.pop(stay.wire or ""))
    return bench


def lift(bench: Bench, step: WorkStep) -> None:
    ends = bench.links[step.wire or ""]
    number = ends.index(step.place or "")
    ends[number] = CUT if step.destination == CUT else AIR
    if step.becomes is not None:
        bench.renamed[step.wire or ""] = step.becomes
    elif set(ends) <= {AIR, CUT} and step.destination is None:
        del bench.links[step.wire or ""]


def free(bench: Bench, step: WorkStep) -> None:
    """Off comes the lug; what is left hangs together as before."""
    around = sorted(bench.joins.neighbors(step.place))
    assert around, f"{step.place} is joined to nothing any more"
    bench.joins.remove_node(step.place)
    nx.add_path(bench.joins, around)


def take_out(bench: Bench, step: WorkStep) -> None:
    for link in step.leaves_with:
        del bench.links[link]
    name = step.part or ""
    hanging = [i for i, ends in bench.links.items() for e in ends if part_of(e) == name]
    assert not hanging, f"{name} still hangs on {hanging}"
    held = [place for place in bench.joins if part_of(place) == name]
    assert not any(bench.joins.degree(place) for place in held), f"{name} is still joined"
    del bench.parts[name]
    bench.settings.pop(name, None)


def mount(bench: Bench, step: WorkStep) -> None:
    name = step.part or ""
    assert name not in bench.parts, f"{name} is there already"
    bench.parts[name] = bench.drawer[name]


def new_wire(bench: Bench, step: WorkStep) -> None:
    assert step.becomes is not None
    assert f"new {step.becomes}" not in bench.links
    bench.links[f"new {step.becomes}"] = [step.place or "", step.destination or ""]


def land(bench: Bench, step: WorkStep) -> None:
    ends = bench.links[step.wire or ""]
    if AIR not in ends and step.becomes is not None:
        bench.renamed[step.wire or ""] = step.becomes  # cut off: never on a lug to be lifted from
    ends[ends.index(AIR if AIR in ends else CUT)] = step.place or ""
    if step.becomes is None:
        bench.joins.add_edge(*bench.links.pop(step.wire or ""))
    else:
        assert bench.renamed[step.wire or ""] == step.becomes


def join(bench: Bench, step: WorkStep) -> None:
    bench.joins.add_edge(step.place, step.partners[0])


def turn(bench: Bench, step: WorkStep) -> None:
    part = bench.drawer[step.part or ""]
    assert isinstance(part, Pot)
    bench.settings[part.name] = part.setting_percent


LOOKED_ON = {"safety", "task", "label", "photograph", "measure", "shift"}
HANDS = {
    "lift": lift, "free": free, "take-out": take_out, "mount": mount, "wire": new_wire,
    "lead": new_wire, "land": land, "join": join, "set": turn,
}  # fmt: skip


def ends_by_id(bench: Bench) -> dict[str, frozenset[str]]:
    """Links by the id they bear in the second wiring."""
    found = {}
    for link, ends in bench.links.items():
        if link.startswith("lead ") and ends[1] == AIR and link not in bench.renamed:
            continue  # off its place, and still on its own part: no connection
        name = link.removeprefix("new ") if link.startswith("new ") else bench.renamed[link]
        assert name not in found
        found[name] = frozenset(ends)
    return found


def nets_on(bench: Bench, spec: Spec) -> set[frozenset[str]]:
    """Places that hang together, two or more, over links, joins and parts that never move."""
    graph = nx.Graph(bench.joins)
    graph.add_edges_from(ends for ends in bench.links.values() if not {AIR, CUT} & set(ends))
    for part in spec.parts.values():
        graph.add_edges_from(
            (part.terminal(lug), place)
            for lug, place in zip(part.terminals, part.between or (), strict=False)
        )
    return {frozenset(group) for group in nx.connected_components(graph) if len(group) > 1}


def assert_same(spec: Spec, bench: Bench, target: Wiring) -> None:
    """What stands there is the second wiring: parts, wires, nets, settings."""
    wanted = laid_out(as_built(spec, target, bench))
    there = ends_by_id(bench)
    # a wire that the plan has cut off, and that nobody found, need not be put in
    due = {i: ends for i, ends in wanted.links.items() if CUT not in ends or i in there}
    assert there == {i: frozenset(ends) for i, ends in due.items()}
    assert nets_on(bench, spec) == nets_on(wanted, spec)
    assert bench.settings == wanted.settings
    assert set(bench.parts) == set(wanted.parts)
    for name, piece in bench.parts.items():
        assert can_be(piece, target.parts[name]), name


def as_built(spec: Spec, target: Wiring, bench: Bench) -> Wiring:
    """The second wiring, with the ends of a resistor and the like named as they lie on the bench.

    Nobody can tell one end of such a part from the other, so a plan that has it the other way
    round is fulfilled as well.
    """
    there = {frozenset(ends) for ends in bench.links.values()} | nets_joined(bench)
    for name, part in spec.parts_of(target).items():
        if not turns(part) or (part.between and name in spec.parts):
            continue
        turned = exchanged(target, part)
        if matches(turned, name, there) > matches(target, name, there):
            target = turned
    return target


def turns(part: Part) -> bool:
    if isinstance(part, Capacitor):
        return not part.polarised
    return isinstance(part, Resistor | Choke | Lamp | Fuse)


def nets_joined(bench: Bench) -> set[frozenset[str]]:
    found = set()
    for group in nx.connected_components(bench.joins):
        found |= {frozenset(pair) for pair in combinations(group, 2)}
    return found


def matches(wiring: Wiring, name: str, there: set[frozenset[str]]) -> int:
    pairs = {frozenset(ends) for ends in laid_out(wiring).links.values()} | nets_joined(
        laid_out(wiring)
    )
    return len({p for p in pairs & there if any(part_of(end) == name for end in p)})


def exchanged(wiring: Wiring, part: Part) -> Wiring:
    one, two = (part.terminal(lug) for lug in part.terminals)
    other = {one: two, two: one}
    between = part.between[::-1] if part.between else None
    return replace(
        wiring,
        parts={
            **wiring.parts,
            **({part.name: replace(part, between=between)} if part.name in wiring.parts else {}),
        },
        wires=tuple(
            replace(w, ends=(other.get(w.ends[0], w.ends[0]), other.get(w.ends[1], w.ends[1])))
            for w in wiring.wires
        ),
        nets=tuple(
            replace(net, members=tuple(other.get(m, m) for m in net.members)) for net in wiring.nets
        ),
    )


def can_be(piece: Part, wanted: Part) -> bool:
    """Whether a piece has the kind, the lugs and the main values that are wanted."""
    main = ("pieces", "ohms", "farads", "henries", "full_scale_amps", "full_scale_volts",
            "rated_volts", "rated_amps", "material", "control")  # fmt: skip
    if type(piece) is not type(wanted) or piece.terminals != wanted.terminals:
        return False
    contacts = [
        Counter((s.lugs, s.groups, s.timing) for s in getattr(part, "sections", ()))
        for part in (piece, wanted)
    ]
    return contacts[0] == contacts[1] and all(
        getattr(piece, key, None) == getattr(wanted, key, None) for key in main
    )
