"""The mistakes that are looked for, each as a change of the assembly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import inf
from typing import Literal

from rewire.bench.ohmmeter import Assembly, Edit, Ends
from rewire.bench.repairs import reversed_throws, seen_from_the_other_side
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Switch, neighbours

Kind = Literal[
    "left out", "wrong lug", "exchanged", "bridge", "mirrored", "reversed", "open", "shorted",
    "decade", "other value", "part left out", "contact open", "contact stuck",
]  # fmt: skip

ODDS: Mapping[str, float] = {
    "jumper": 4.0, "left out": 3.0, "neighbour": 1.0, "wrong lug": 0.03, "exchanged": 0.3,
    "exchanged far": 0.01, "bridge": 1.0, "mirrored": 0.5, "reversed": 0.5, "open": 0.5,
    "part left out": 0.5, "shorted": 0.3, "decade": 1.0, "other value": 0.3,
    "contact open": 2.0, "contact stuck": 0.1,
}  # fmt: skip
"""How often one is met, against the others; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing done wrong, in words, with its odds against the others."""

    kind: Kind
    text: str
    edit: Edit
    odds: float
    wire: str | None = None
    part: str | None = None
    lugs: tuple[str, ...] = ()
    """Meant and wrong lug, the lugs of an exchange in the order of the wires, or a bridge's."""
    other: str | None = None


class _Desk:
    """A wiring with what the mistakes look up again and again."""

    def __init__(self, spec: Spec, wiring: Wiring, network: Assembly) -> None:
        self.spec, self.wiring, self.network = spec, wiring, network
        self.node = network.node
        self.parts = spec.parts_of(wiring)
        self.wires = list(zip(network.wires, wiring.wires, strict=True))
        """Number of the joint that a wire is, and the wire."""
        self.pairs = [
            (part.terminal(one), part.terminal(other))
            for part in self.parts.values()
            for one, other in neighbours(part)
        ]
        """Neighbouring lugs, part by part."""

    def place(self, lug: str) -> int:
        """The first of the nodes that a lug is one with for good."""
        return self.network.places[self.node[lug]]


def single_mistakes(spec: Spec, wiring: Wiring, network: Assembly) -> Iterator[Mistake]:
    """Every single mistake that is tried, kind by kind, but for what changes nothing at all."""
    desk = _Desk(spec, wiring, network)
    for kind in (_left_out, _wrong_lug, _exchanged, _bridges, _switches, _contacts, _parts):
        yield from kind(desk)


def _named(wire: Wire) -> str:
    return f"{'jumper' if wire.jumper else 'wire'} {wire.id} ({wire.ends[0]} to {wire.ends[1]})"


def _left_out(desk: _Desk) -> Iterator[Mistake]:
    for joint, wire in desk.wires:
        odds = ODDS["jumper" if wire.jumper else "left out"]
        text, edit = f"{_named(wire)} left out", Edit(without=(joint,))
        yield Mistake("left out", text, edit, odds, wire=wire.id)


def _wrong_lug(desk: _Desk) -> Iterator[Mistake]:
    near = {*desk.pairs, *((other, one) for one, other in desk.pairs)}
    for joint, wire in desk.wires:
        home = {desk.place(end) for end in wire.ends}
        away = [name for name in desk.network.names if desk.place(name) not in home]
        for end, meant in enumerate(wire.ends):
            for name in away:
                odds = ODDS["neighbour" if (meant, name) in near else "wrong lug"]
                text = f"{_named(wire)} on {name} instead of {meant}"
                edit = Edit(moved=((joint, end, desk.node[name]),))
                yield Mistake("wrong lug", text, edit, odds, wire=wire.id, lugs=(meant, name))


def _exchanged(desk: _Desk) -> Iterator[Mistake]:
    ends = [(joint, wire, end) for joint, wire in desk.wires for end in (0, 1)]
    for (one, first, end), (other, second, far) in combinations(ends, 2):
        lugs = first.ends[end], second.ends[far]
        if one == other or desk.place(lugs[0]) == desk.place(lugs[1]):
            continue
        edit = Edit(moved=((one, end, desk.node[lugs[1]]), (other, far, desk.node[lugs[0]])))
        together = lugs[0].partition(".")[0] == lugs[1].partition(".")[0]
        text = f"{_named(first)} and {_named(second)} exchanged on {lugs[0]} and {lugs[1]}"
        odds = ODDS["exchanged" if together else "exchanged far"]
        yield Mistake("exchanged", text, edit, odds, first.id, None, lugs, second.id)


def _bridges(desk: _Desk) -> Iterator[Mistake]:
    for one, other in desk.pairs:
        if desk.place(one) != desk.place(other):
            edit = Edit(linked=((desk.node[one], desk.node[other]),))
            text = f"solder bridge between {one} and {other}"
            yield Mistake("bridge", text, edit, ODDS["bridge"], lugs=(one, other))


def _switches(desk: _Desk) -> Iterator[Mistake]:
    for switch in desk.spec.all_of(Switch, desk.wiring).values():
        turned_over: tuple[tuple[Kind, Mapping[str, str], str], ...] = (
            ("mirrored", seen_from_the_other_side(switch), "wired as seen from the wrong side"),
            ("reversed", reversed_throws(switch), "its throws in reverse order"),
        )
        for kind, lands, said in turned_over:
            moved = {desk.node[lug]: desk.node[at] for lug, at in lands.items() if lug != at}
            if moved:
                yield _about(switch.name, kind, f": {said}", Edit(relanded=moved))
        if len(desk.network.positions[switch.control]) > 1:
            edit = Edit(reversed=switch.name)
            yield _about(switch.name, "reversed", ": its positions run the other way", edit)


def _about(part: str, kind: Kind, said: str, edit: Edit) -> Mistake:
    return Mistake(kind, f"{part}{said}", edit, ODDS[kind], part=part)


def _contacts(desk: _Desk) -> Iterator[Mistake]:
    """Dirty or burnt contacts that never close, and welded ones that never open."""
    numbers: dict[Ends, list[int]] = {}
    for number, joint in enumerate(desk.network.joints):
        if joint.switch is not None:
            numbers.setdefault(joint.ends, []).append(number)
    for ends, own in numbers.items():
        switch = desk.network.joints[own[0]].switch
        lugs = desk.network.names[ends[0]], desk.network.names[ends[1]]
        worn: tuple[tuple[Kind, tuple[Ends, ...], str], ...] = (
            ("contact open", (), "does not close"), ("contact stuck", (ends,), "does not open"),
        )  # fmt: skip
        for kind, linked, said in worn:
            text, edit = f"contact {lugs[0]}–{lugs[1]} {said}", Edit(tuple(own), linked=linked)
            yield Mistake(kind, text, edit, ODDS[kind], part=switch, lugs=lugs)


def _parts(desk: _Desk) -> Iterator[Mistake]:
    for part in (one for one in desk.parts.values() if one.has_role):
        name, bars = part.name, desk.network.bars_of(part.name)
        shorts = (n for n, joint in enumerate(desk.network.joints) if joint.part == name)
        gone = Edit(tuple(shorts), scaled=tuple((number, inf) for number in bars))
        if part.passes_dc:
            yield _about(name, "part left out", " left out", gone)
            yield _about(name, "open", " open", gone)
        one, *_, other = part.full_terminals
        if desk.place(one) != desk.place(other):
            linked = ((desk.node[one], desk.node[other]),)
            yield _about(name, "shorted", " shorted", Edit(linked=linked))
        if part.by_ohms:
            for factor, said in ((10.0, "ten times its value"), (0.1, "a tenth of its value")):
                edit = Edit(scaled=tuple((number, factor) for number in bars))
                yield _about(name, "decade", f" has {said}", edit)
