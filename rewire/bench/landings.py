"""What is soldered where, one end at a time: a wiring with ends moved, exchanged or taken off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rewire.records.part import Part, Place
from rewire.records.spec import Net, Wire, Wiring
from rewire.records.switches import Position, Switch, lug_positions

At = tuple[tuple[str, str], int]
"""A wire, net or part by its kind and its number or name, and which end of it."""


@dataclass(frozen=True, slots=True)
class End:
    """One end of a wire, one member of a net, or one lead of a part that says between what."""

    of: Literal["wire", "net", "lead"]
    whole: tuple[str, str]
    """What it is an end of: its kind and its number or name."""
    number: int
    """Which of its ends."""
    place: str
    """What it is on."""
    stays: str
    """The other end; of a net, its first other member."""
    said: str

    @property
    def first(self) -> bool:
        """Whether it speaks for the whole where that is taken out: any member of a net does."""
        return self.of == "net" or (self.of == "wire" and self.number == 0)


def ends_of(wiring: Wiring) -> Iterator[End]:
    """Every end in a wiring: of its wires, its nets, its parts' leads."""
    for number, wire in enumerate(wiring.wires):
        what = "jumper" if wire.jumper else "wire"
        named = f"{what} {wire.id}".rstrip()
        said = f"{named} ({wire.ends[0]} to {wire.ends[1]})"
        for at in (0, 1):
            whole = ("wire", str(number))
            yield End("wire", whole, at, wire.ends[at], wire.ends[1 - at], said)
    for number, net in enumerate(wiring.nets):
        for at, member in enumerate(net.members):
            other = next((one for one in net.members if one != member), member)
            said = f"{member}" + (f" of net {net.name}" if net.name else f" (connected to {other})")
            yield End("net", ("net", str(number)), at, member, other, said)
    for part in wiring.parts.values():
        for at, place in enumerate(part.between or ()):
            lug = part.full_terminals[at]
            yield End("lead", ("lead", part.name), at, place, lug, f"the lead {lug}")


def landed(wiring: Wiring, lands: Mapping[End, str]) -> Wiring:
    """The wiring with some of its ends on other places; what then joins nothing is left out."""
    to = {(end.whole, end.number): place for end, place in lands.items()}
    wires = [
        _wire(wire, [to.get((("wire", str(n)), at), place) for at, place in enumerate(wire.ends)])
        for n, wire in enumerate(wiring.wires)
    ]
    nets = [_net(net, n, to) for n, net in enumerate(wiring.nets)]
    parts = {name: _part(part, to) for name, part in wiring.parts.items()}
    more = [
        _new_wire(end.place, place, wiring.place) for end, place in lands.items() if end.of == "net"
    ]
    return replace(
        wiring,
        wires=(*(wire for wire in wires if wire.ends[0] != wire.ends[1]), *more),
        nets=tuple(net for net in nets if len(net.members) > 1),
        parts=parts,
    )


def _wire(wire: Wire, ends: Sequence[str]) -> Wire:
    one, other = ends
    if (one, other) == wire.ends:
        return wire
    return replace(wire, ends=(one, other), jumper=_on_one_part(one, other))


def _on_one_part(one: str, other: str) -> bool:
    return "." in one and one.partition(".")[0] == other.partition(".")[0]


def _net(net: Net, number: int, to: Mapping[At, str]) -> Net:
    left = tuple(m for at, m in enumerate(net.members) if (("net", str(number)), at) not in to)
    return net if len(left) == len(net.members) else replace(net, members=left)


def _part(part: Part, to: Mapping[At, str]) -> Part:
    if part.between is None:
        return part
    one, other = (to.get((("lead", part.name), at), place) for at, place in enumerate(part.between))
    return part if (one, other) == part.between else replace(part, between=(one, other))


def _new_wire(one: str, other: str, place: Place) -> Wire:
    return Wire(
        id="", ends=(one, other), jumper=_on_one_part(one, other), colour=None, gauge=None,
        insulation_volts=None, twisted_with=None, screened=False, length_metres=None, note=None,
        place=place,
    )  # fmt: skip


def join_said(one: str, other: str) -> str:
    """A wire more, in words; on one part it is a jumper."""
    return f"a {'jumper' if _on_one_part(one, other) else 'wire'} {one} to {other}"


def added(wiring: Wiring, one: str, other: str) -> Wiring:
    """The wiring with a wire more."""
    return replace(wiring, wires=(*wiring.wires, _new_wire(one, other, wiring.place)))


def taken_out(wiring: Wiring, end: End) -> Wiring:
    """The wiring without the wire that an end is of, or with the end off its net."""
    return landed(wiring, {end: end.stays if end.of == "wire" else end.place})


def exchanged(wiring: Wiring, one: End, other: End) -> Wiring:
    """The wiring with two ends each on the other's place; two members of nets change nets."""
    if one.of == "net":
        return landed(wiring, {one: other.stays, other: one.stays})
    return landed(wiring, {one: other.place, other: one.place})


def relanded(wiring: Wiring, lands: Mapping[str, str]) -> Wiring:
    """The wiring with all that is on some terminals on those that ``lands`` gives for them."""
    wires = tuple(_wire(wire, [lands.get(at, at) for at in wire.ends]) for wire in wiring.wires)
    nets = tuple(
        replace(net, members=tuple(lands.get(at, at) for at in net.members)) for net in wiring.nets
    )
    leads = [end for end in ends_of(wiring) if end.of == "lead" and end.place in lands]
    to = {(end.whole, end.number): lands[end.place] for end in leads}
    parts = {name: _part(part, to) for name, part in wiring.parts.items()}
    return replace(wiring, wires=wires, nets=nets, parts=parts)


def seen_from_the_other_side(switch: Switch) -> dict[str, str]:
    """Terminal → the one in its place for somebody who looks from the wrong side."""
    positions = lug_positions(switch)
    if positions.round:
        lands = {lug: other for deck in positions.decks for lug, other in _turned(deck).items()}
    else:
        lands = {
            lug: other
            for row in positions.grid
            for lug, other in zip(row, reversed(row), strict=True)
            if lug is not None and other is not None
        }
    return {switch.terminal(lug): switch.terminal(other) for lug, other in lands.items()}


def reversed_throws(switch: Switch) -> dict[str, str]:
    """Terminal → that of the throw counted from the other end of those in use; none of a table."""
    used = sorted({at for at in switch.throw_at or () if at is not None})
    turned = dict(zip(used, reversed(used), strict=True))
    return {
        switch.terminal(pole[at]): switch.terminal(pole[other])
        for pole in switch.poles
        for at, other in turned.items()
    }


def _turned(deck: Sequence[Position]) -> dict[str, str]:
    """Each lug's mirror image: exact where the lugs allow, else counted from the other end."""
    ring = sorted(deck, key=lambda p: (p.clock or 0.0, p.inner))
    at = {_spot(p, 1): p.lug for p in ring}
    images = {p.lug: at.get(_spot(p, -1)) for p in ring}
    if None not in images.values():
        return {lug: image for lug, image in images.items() if image is not None}
    lugs = [p.lug for p in ring]
    return dict(zip(lugs, reversed(lugs), strict=True))


def _spot(lug: Position, side: int) -> tuple[bool, float]:
    return lug.inner, round(side * (lug.clock or 0.0) % 360, 3) % 360
