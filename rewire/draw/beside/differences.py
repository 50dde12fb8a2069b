"""What lands elsewhere than in the original: wires, leads and jumpers lug by lug."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Iterator, Mapping
from dataclasses import dataclass

from rewire.circuit.nets import nets_of
from rewire.compare.turned import roles_between
from rewire.draw.beside.poles import Place
from rewire.draw.lugview.landings import Landed, net_names
from rewire.spec.model import Spec, Switch, Wiring

Far = Hashable
"""The far end of what lands on a lug, in words that both wirings share."""


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two wirings: its switches, what lands on them, and where their lugs stand."""

    spec: Spec
    wiring: Wiring
    switches: tuple[Switch, ...]
    landed: Mapping[str, Landed]
    """By switch."""
    place_of: Mapping[str, Place]
    """Full name of a lug → its place in the drawing."""
    names: Mapping[str, str]
    """Terminal of this wiring → its name in the original."""


@dataclass(frozen=True, slots=True)
class Marks:
    """What of one wiring differs."""

    lugs: frozenset[str]
    """Where something lands in one wiring that does not land there in the other."""
    ends: frozenset[tuple[str, str]]
    """Landings as (lug, ``shows``)."""


def names_in(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Terminal of a wiring → the terminal or point of the original in whose role it is."""
    if wiring.name == spec.original.name:
        own = (part for part in spec.parts_of(wiring).values() if not isinstance(part, Switch))
        terminals = (part.terminal(lug) for part in own for lug in part.terminals)
        return {name: name for name in (*spec.points, *terminals)}
    return {own: theirs for theirs, own in roles_between(spec, wiring).seat.items()}


def anchors_of(
    spec: Spec, wiring: Wiring, switch: Switch, names: Mapping[str, str]
) -> dict[str, frozenset[str]]:
    """Full name of a lug → the places on its net, by their names in the original."""
    nets = nets_of(spec, wiring)
    return {
        lug: frozenset(names[m] for m in nets.members[nets.of[lug]] if m in names)
        for lug in map(switch.terminal, switch.terminals)
    }


def differences(one: Side, other: Side) -> tuple[Marks, Marks]:
    """What lands on a lug of one side and not on the lug at that place of the other side."""
    mine, theirs = dict(_ends(one)), dict(_ends(other))
    ends = _unmatched(mine, theirs, one, other), _unmatched(theirs, mine, other, one)
    spots = {side.place_of[lug] for side, own in zip((one, other), ends, strict=True)
             for lug, _ in own}  # fmt: skip
    return (
        Marks(_lugs_at(one, spots), ends[0]),
        Marks(_lugs_at(other, spots), ends[1]),
    )


def _lugs_at(side: Side, places: Collection[Place]) -> frozenset[str]:
    return frozenset(lug for lug, place in side.place_of.items() if place in places)


def _ends(side: Side) -> Iterator[tuple[tuple[str, str], Far]]:
    """(lug, ``shows``) of everything that lands, and its far end."""
    wires = {wire.id: wire for wire in side.wiring.wires}
    nets = net_names(side.wiring)
    for switch in side.switches:
        landed = side.landed[switch.name]
        for one in landed.labels:
            lug = switch.terminal(one.lug)
            if one.kind == "wire":
                far = next(end for end in wires[one.id].ends if end != lug)
                yield (lug, one.shows), _known(far, side)
            elif one.kind == "part":
                yield (lug, one.shows), _known(one.id, side)
            else:
                others = [_known(m, side) for m in nets[one.id].members if m != lug]
                yield (lug, one.shows), frozenset(others)
        for jumper in landed.jumpers:
            ends = [switch.terminal(lug) for lug in jumper.ends]
            yield (ends[0], jumper.shows), _known(ends[1], side)
            yield (ends[1], jumper.shows), _known(ends[0], side)


def _known(terminal: str, side: Side) -> Far:
    """A lug by its place, anything else by its name in the original."""
    return side.place_of.get(terminal) or side.names.get(terminal, terminal)


def _unmatched(
    mine: Mapping[tuple[str, str], Far],
    theirs: Mapping[tuple[str, str], Far],
    one: Side,
    other: Side,
) -> frozenset[tuple[str, str]]:
    left = Counter((other.place_of[lug], far) for (lug, _), far in theirs.items())
    unmatched = []
    for (lug, shows), far in mine.items():
        key = (one.place_of[lug], far)
        if left[key] > 0:
            left[key] -= 1
        else:
            unmatched.append((lug, shows))
    return frozenset(unmatched)
