"""Wires: which stay, which are lifted at one end and landed elsewhere, which go, which are new."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rewire.circuit.nets import terminals_of
from rewire.compare.turned import roles_between
from rewire.spec.model import Spec, Wire, Wiring

WireFate = Literal["kept", "moved", "removed", "new"]


@dataclass(frozen=True, slots=True)
class WireMark:
    """One wire of the original, of the other wiring, or one that is in both."""

    fate: WireFate
    was: Wire | None
    now: Wire | None
    turn: tuple[str, str, str] = ("", "", "")
    """Of a moved one: the end that stays, the lug it is lifted from, the one it lands on."""


def wire_marks(spec: Spec, wiring: Wiring) -> tuple[WireMark, ...]:
    """Every wire of both wirings once.

    Kept: same colour, and it ends on the same lugs, a part that is replaced counting as
    the same. Moved: same colour and one end the same. A wire without a colour may be a
    part's own lead: it is moved only where the end that stays is on the same part.
    """
    seat = seats_of(spec, wiring)
    old, new = spec.original.wires, wiring.wires
    kept = _matched(old, new, lambda wire: _kept_keys(wire, seat), _whole_keys)
    used = set(kept.values())
    rest = {n: wire for n, wire in enumerate(old) if n not in kept}
    free = {n: wire for n, wire in enumerate(new) if n not in used}
    found = _matched(
        list(rest.values()), list(free.values()), lambda w: _stay_keys(w, seat), _end_keys
    )
    olds, news = list(rest), list(free)
    moved = {olds[a]: news[b] for a, b in found.items()}
    return tuple(_marks(old, new, kept, moved, seat))


def seats_of(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Terminal of the original → the one it is now: by role, for switches and strips by name."""
    lugs = set(terminals_of(spec, spec.original)) & set(terminals_of(spec, wiring))
    claimed = roles_between(spec, wiring).seat
    return {**{lug: lug for lug in lugs}, **claimed}


def _marks(
    old: Sequence[Wire],
    new: Sequence[Wire],
    kept: Mapping[int, int],
    moved: Mapping[int, int],
    seat: Mapping[str, str],
) -> Iterator[WireMark]:
    for number, wire in enumerate(old):
        if number in kept:
            yield WireMark("kept", wire, new[kept[number]])
        elif number in moved:
            heir = new[moved[number]]
            yield WireMark("moved", wire, heir, _turn(wire, heir, seat))
        else:
            yield WireMark("removed", wire, None)
    known = {*kept.values(), *moved.values()}
    yield from (WireMark("new", None, wire) for n, wire in enumerate(new) if n not in known)


def _turn(was: Wire, now: Wire, seat: Mapping[str, str]) -> tuple[str, str, str]:
    for end, other in (was.ends, was.ends[::-1]):
        for place, landed in (now.ends, now.ends[::-1]):
            if seat.get(end) == place:
                return end if end == place else f"{end} → {place}", other, landed
    raise AssertionError((was.id, now.id))


Keys = Callable[[Wire], Iterable[object]]


def _matched(
    old: Sequence[Wire], new: Sequence[Wire], wanted: Keys, offered: Keys
) -> dict[int, int]:
    """Old wire → new wire with a key in common; earlier keys and earlier wires come first."""
    shelf: dict[object, list[int]] = {}
    for number, wire in enumerate(new):
        for key in offered(wire):
            shelf.setdefault(key, []).append(number)
    partner: dict[int, int] = {}
    used: set[int] = set()
    wishes = [list(wanted(wire)) for wire in old]
    for turn in range(max(map(len, wishes), default=0)):
        for number, keys in enumerate(wishes):
            if number in partner or turn >= len(keys):
                continue
            free = next((n for n in shelf.get(keys[turn], ()) if n not in used), None)
            if free is not None:
                partner[number] = free
                used.add(free)
    return partner


def _kept_keys(wire: Wire, seat: Mapping[str, str]) -> Iterator[object]:
    if all(end in seat for end in wire.ends):
        yield frozenset(seat[end] for end in wire.ends), wire.colour


def _whole_keys(wire: Wire) -> Iterator[object]:
    yield frozenset(wire.ends), wire.colour


def _stay_keys(wire: Wire, seat: Mapping[str, str]) -> Iterator[object]:
    """The ends that may stay where they are; landing on a lug of the same name comes first."""
    staying = [
        (end, other) for end, other in (wire.ends, wire.ends[::-1])
        if end in seat and (wire.colour or seat[end] == end)
    ]  # fmt: skip
    yield from ((seat[end], wire.colour, _lug(other)) for end, other in staying)
    yield from ((seat[end], wire.colour, None) for end, _ in staying)


def _end_keys(wire: Wire) -> Iterator[object]:
    for end, other in (wire.ends, wire.ends[::-1]):
        yield end, wire.colour, _lug(other)
        yield end, wire.colour, None


def _lug(place: str) -> str:
    return place.partition(".")[2] or place
