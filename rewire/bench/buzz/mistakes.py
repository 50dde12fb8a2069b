"""The mistakes that are looked for, each as a change of the network."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf
from typing import Literal

from rewire.bench.buzz.lugs import mirrored, reversed_throws
from rewire.bench.buzz.network import Bar, Contact, Ends, Network
from rewire.records.lug_positions import neighbours
from rewire.records.spec import Pot, Resistor, Spec, Strip, Switch, Wire, Wiring

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
class Edit:
    """What a mistake changes. Wires and bars by number, ends 0 and 1, places by node."""

    moved: tuple[tuple[int, int, int], ...] = ()
    """Wire, end, and the node it is on instead."""
    off: tuple[int, ...] = ()
    """Wires that are not there."""
    linked: tuple[Ends, ...] = ()
    """Joined, though they should not be."""
    scaled: tuple[tuple[int, float], ...] = ()
    """Bars and what their ohms are multiplied with; infinity opens one."""
    relanded: Mapping[int, int] | None = None
    """Lug → the lug on which what is meant for it has landed."""
    turned: str | None = None
    """A switch whose positions run the other way."""
    contacts: tuple[tuple[int, int], ...] = ()
    """Contacts by number, and the bits of the positions in which each is really closed."""


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
    """The second wire of an exchange."""


def apply(network: Network, edit: Edit) -> Network:
    """The network with a mistake in it; nodes, wires and bars keep their numbers."""
    wires = list(network.wires)
    for wire, end, node in edit.moved:
        ends = wires[wire]
        wires[wire] = (node, ends[1]) if end == 0 else (ends[0], node)
    for wire in edit.off:
        wires[wire] = (wires[wire][0], wires[wire][0])
    bars = list(network.bars)
    for number, factor in edit.scaled:
        bars[number] = _scaled(bars[number], factor)
    solid = [*network.solid, *edit.linked]
    contacts = list(network.contacts)
    for number, positions in edit.contacts:
        contacts[number] = replace(contacts[number], positions=positions)
    if edit.relanded:
        solid, wires = (
            [(_lands(a, edit.relanded), _lands(b, edit.relanded)) for a, b in ends]
            for ends in (solid, wires)
        )
    if edit.turned:
        contacts = [_turned(network, one, edit.turned) for one in contacts]
    return replace(
        network,
        solid=tuple(solid),
        wires=tuple(wires),
        bars=tuple(bars),
        contacts=tuple(contacts),
    )


def _scaled(bar: Bar, factor: float) -> Bar:
    return replace(bar, ohms=tuple(one if one == inf else one * factor for one in bar.ohms))


def _lands(node: int, relanded: Mapping[int, int]) -> int:
    return relanded.get(node, node)


def _turned(network: Network, contact: Contact, switch: str) -> Contact:
    if contact.switch != switch:
        return contact
    count = len(network.positions[contact.control])
    bits = sum(1 << count - 1 - n for n in range(count) if contact.positions >> n & 1)
    return replace(contact, positions=bits)


def single_mistakes(spec: Spec, wiring: Wiring, network: Network) -> Iterator[Mistake]:
    """Every single mistake that is known, in order of kinds.

    What changes nothing at all, such as a wire moved between two places that are soldered
    together for good, is left out.
    """
    desk = _Desk(spec, wiring, network)
    for kind in (_left_out, _wrong_lug, _exchanged, _bridges, _switches, _contacts, _parts):
        yield from kind(desk)


class _Desk:
    """A wiring with what the mistakes look up again and again."""

    def __init__(self, spec: Spec, wiring: Wiring, network: Network) -> None:
        self.spec, self.wiring, self.network = spec, wiring, network
        self.node = {name: number for number, name in enumerate(network.names)}
        self.near: dict[str, set[str]] = {}
        for part, pair in self.pairs():
            one, other = (part + "." + lug for lug in pair)
            self.near.setdefault(one, set()).add(other)
            self.near.setdefault(other, set()).add(one)
        self.place = self._places()

    def pairs(self) -> Iterator[tuple[str, tuple[str, str]]]:
        """Neighbouring lugs, part by part."""
        for part in self.spec.parts_of(self.wiring).values():
            yield from ((part.name, pair) for pair in neighbours(part))

    def _places(self) -> list[int]:
        """Per node the first of those that it is soldered to for good."""
        soldered = self.network.soldered()
        return [soldered.root(item) for item in range(self.network.count)]


def _named(wire: Wire) -> str:
    return f"{'jumper' if wire.jumper else 'wire'} {wire.id} ({wire.ends[0]} to {wire.ends[1]})"


def _left_out(desk: _Desk) -> Iterator[Mistake]:
    for number, wire in enumerate(desk.wiring.wires):
        odds = ODDS["jumper" if wire.jumper else "left out"]
        edit = Edit(off=(number,))
        yield Mistake("left out", f"{_named(wire)} left out", edit, odds, wire=wire.id)


def _wrong_lug(desk: _Desk) -> Iterator[Mistake]:
    names = desk.network.names
    for number, wire in enumerate(desk.wiring.wires):
        for end in (0, 1):
            meant, kept = wire.ends[end], wire.ends[1 - end]
            near = desk.near.get(meant, ())
            home = {desk.place[desk.node[meant]], desk.place[desk.node[kept]]}
            for node, name in enumerate(names):
                if desk.place[node] in home:
                    continue
                odds = ODDS["neighbour" if name in near else "wrong lug"]
                text = f"{_named(wire)} on {name} instead of {meant}"
                edit = Edit(moved=((number, end, node),))
                yield Mistake("wrong lug", text, edit, odds, wire=wire.id, lugs=(meant, name))


def _exchanged(desk: _Desk) -> Iterator[Mistake]:
    ends = [
        (number, end, desk.node[wire.ends[end]])
        for number, wire in enumerate(desk.wiring.wires)
        for end in (0, 1)
    ]
    for one, other in combinations(ends, 2):
        if one[0] != other[0] and desk.place[one[2]] != desk.place[other[2]]:
            yield _exchange(desk, one, other)


def _exchange(desk: _Desk, one: tuple[int, int, int], other: tuple[int, int, int]) -> Mistake:
    first, second = (desk.wiring.wires[n] for n in (one[0], other[0]))
    lugs = first.ends[one[1]], second.ends[other[1]]
    together = lugs[0].partition(".")[0] == lugs[1].partition(".")[0]
    edit = Edit(moved=((one[0], one[1], other[2]), (other[0], other[1], one[2])))
    text = f"{_named(first)} and {_named(second)} exchanged on {lugs[0]} and {lugs[1]}"
    odds = ODDS["exchanged" if together else "exchanged far"]
    return Mistake("exchanged", text, edit, odds, first.id, None, lugs, second.id)


def _bridges(desk: _Desk) -> Iterator[Mistake]:
    for part, pair in desk.pairs():
        one, other = (f"{part}.{lug}" for lug in pair)
        if desk.place[desk.node[one]] != desk.place[desk.node[other]]:
            edit = Edit(linked=((desk.node[one], desk.node[other]),))
            text = f"solder bridge between {one} and {other}"
            yield Mistake("bridge", text, edit, ODDS["bridge"], lugs=(one, other))


def _switches(desk: _Desk) -> Iterator[Mistake]:
    for part in desk.spec.parts_of(desk.wiring).values():
        if isinstance(part, Switch):
            yield from _relanded(desk, part, mirrored(part), "mirrored")
            yield from _relanded(desk, part, reversed_throws(part), "reversed")
            if len(desk.network.positions[part.control]) > 1:
                text = f"{part.name}: its positions run the other way"
                edit = Edit(turned=part.name)
                yield Mistake("reversed", text, edit, ODDS["reversed"], part=part.name)


def _contacts(desk: _Desk) -> Iterator[Mistake]:
    """Dirty or burnt contacts that never close, and welded ones that never open."""
    numbers: dict[Ends, list[int]] = {}
    for number, contact in enumerate(desk.network.contacts):
        numbers.setdefault(contact.ends, []).append(number)
    for ends, own in numbers.items():
        first = desk.network.contacts[own[0]]
        one, other = lugs = tuple(desk.network.names[end] for end in ends)
        every = (1 << len(desk.network.positions[first.control])) - 1
        never = Edit(contacts=tuple((number, 0) for number in own))
        stuck = Edit(contacts=tuple((number, every) for number in own))
        named = f"contact {one}–{other}"
        yield Mistake(
            "contact open", f"{named} does not close", never, ODDS["contact open"],
            part=first.switch, lugs=lugs,
        )  # fmt: skip
        yield Mistake(
            "contact stuck", f"{named} does not open", stuck, ODDS["contact stuck"],
            part=first.switch, lugs=lugs,
        )  # fmt: skip


def _relanded(
    desk: _Desk, switch: Switch, lands: Mapping[str, str], kind: Literal["mirrored", "reversed"]
) -> Iterator[Mistake]:
    moved = {
        desk.node[switch.terminal(lug)]: desk.node[switch.terminal(other)]
        for lug, other in lands.items()
        if lug != other
    }
    if not moved:
        return
    said = (
        "wired as seen from the wrong side" if kind == "mirrored" else "its throws in reverse order"
    )
    text = f"{switch.name}: {said}"
    yield Mistake(kind, text, Edit(relanded=moved), ODDS[kind], part=switch.name)


def _parts(desk: _Desk) -> Iterator[Mistake]:
    bars: dict[str, list[int]] = {}
    for number, bar in enumerate(desk.network.bars):
        bars.setdefault(bar.part, []).append(number)
    for part in desk.spec.parts_of(desk.wiring).values():
        if isinstance(part, Switch | Strip):
            continue
        name, own = part.name, bars[part.name]
        gone = Edit(scaled=tuple((number, inf) for number in own))
        if part.passes_dc:
            yield Mistake(
                "part left out", f"{name} left out", gone, ODDS["part left out"], part=name
            )
            yield Mistake("open", f"{name} open", gone, ODDS["open"], part=name)
        ends = (
            desk.node[part.terminal(part.terminals[0])],
            desk.node[part.terminal(part.terminals[-1])],
        )
        if desk.place[ends[0]] != desk.place[ends[1]]:
            yield Mistake(
                "shorted", f"{name} shorted", Edit(linked=(ends,)), ODDS["shorted"], part=name
            )
        if isinstance(part, Resistor | Pot):
            yield from _decades(name, own)


def _decades(name: str, bars: list[int]) -> Iterator[Mistake]:
    for factor, said in ((10.0, "ten times its value"), (0.1, "a tenth of its value")):
        edit = Edit(scaled=tuple((number, factor) for number in bars))
        yield Mistake("decade", f"{name} has {said}", edit, ODDS["decade"], part=name)
