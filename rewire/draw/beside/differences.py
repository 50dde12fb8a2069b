"""What lands elsewhere than in the original: wires, leads and jumpers lug by lug."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Iterator, Mapping
from dataclasses import dataclass

from rewire.bench.wire_plan import wire_plan
from rewire.circuit.circuit import circuit_of
from rewire.compare.turned import roles_between
from rewire.draw.beside.poles import Place
from rewire.draw.lugview.lugs import Soldered, net_names
from rewire.records.spec import Spec, Switch, Wiring

Far = Hashable
"""The far end of what lands on a lug, in words that both wirings share."""


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two wirings: its switches, what lands on them, and where their lugs stand."""

    spec: Spec
    wiring: Wiring
    switches: tuple[Switch, ...]
    landed: Mapping[str, Soldered]
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
    nets = circuit_of(spec, wiring).nets
    return {
        lug: frozenset(names[m] for m in nets.members[nets.of[lug]] if m in names)
        for lug in map(switch.terminal, switch.terminals)
    }


def differences(one: Side, other: Side) -> tuple[Marks, Marks]:
    """What lands on a lug of one side and not on the lug at that place of the other side.

    For wires and jumpers this is what becomes of them by the plan of the wires; what a net or a
    part's own lead joins is compared place by place.
    """
    mine, theirs = dict(_ends(one)), dict(_ends(other))
    old, new = _wires_that_differ(one, other)
    ends = (
        _unmatched(mine, theirs, one, other) | _of_wires(one, old),
        _unmatched(theirs, mine, other, one) | _of_wires(other, new),
    )
    spots = {side.place_of[lug] for side, own in zip((one, other), ends, strict=True)
             for lug, _ in own}  # fmt: skip
    return (
        Marks(_lugs_at(one, spots), ends[0]),
        Marks(_lugs_at(other, spots), ends[1]),
    )


def _wires_that_differ(one: Side, other: Side) -> tuple[set[str], set[str]]:
    """Ids, in either wiring, of wires that do not end at the same two places of the drawing."""
    old, new = set(), set()
    for fate in wire_plan(one.spec, one.wiring.name, other.wiring.name).fates:
        moved = zip(fate.lifted, fate.landed, strict=True)
        same = all(_known(was, one) == _known(now, other) for was, now in moved)
        if fate.fate == "stays" or (fate.fate == "moves" and same):
            continue
        old |= {fate.was.id} if fate.was else set()
        new |= {fate.now.id} if fate.now else set()
    return old, new


def _of_wires(side: Side, wires: Collection[str]) -> frozenset[tuple[str, str]]:
    found = set()
    for switch in side.switches:
        landed = side.landed[switch.name]
        found |= {(switch.terminal(label.lug), label.shows) for label in landed.labels
                  if label.kind == "wire" and label.id in wires}  # fmt: skip
        found |= {(switch.terminal(lug), jumper.shows) for jumper in landed.jumpers
                  if jumper.id in wires for lug in jumper.ends}  # fmt: skip
    return frozenset(found)


def _lugs_at(side: Side, places: Collection[Place]) -> frozenset[str]:
    return frozenset(lug for lug, place in side.place_of.items() if place in places)


def _ends(side: Side) -> Iterator[tuple[tuple[str, str], Far]]:
    """(lug, ``shows``) of each lead and net that lands, and its far end."""
    nets = net_names(side.wiring)
    for switch in side.switches:
        landed = side.landed[switch.name]
        for one in landed.labels:
            lug = switch.terminal(one.lug)
            if one.kind == "part":
                yield (lug, one.shows), _known(one.id, side)
            elif one.kind == "net":
                others = [_known(m, side) for m in nets[one.id].members if m != lug]
                yield (lug, one.shows), frozenset(others)


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
