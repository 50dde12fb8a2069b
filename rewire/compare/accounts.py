"""Accounts: parts missing or added, lugs and throws to spare, timings not stated."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.circuit.states import States
from rewire.compare.across import across
from rewire.compare.findings import Finding
from rewire.compare.meant import Declared
from rewire.compare.views import Views
from rewire.compare.words import listing
from rewire.spec.model import Spec, Strip, Switch, Wiring


def missing_parts(views: Views, declared: Declared) -> Iterator[Finding]:
    """Original parts that nothing stands for."""
    for name in views.roles.missing:
        part = views.spec.original.parts[name]
        why = declared.of_part("missing", name)
        gone = [t for t in map(part.terminal, part.terminals) if t not in views.roles.seat]
        whole = len(gone) == len(part.terminals)
        what = f"{part.kind} {name}" if whole else f"{listing(gone)} of {part.kind} {name}"
        said = "is taken out" if why is not None else "has nothing in its place"
        yield Finding(
            kind="missing",
            meant=why is not None,
            message=f"{what} of the original {said}",
            why=why or None,
            part=name,
        )


def added_parts(views: Views, other: Wiring, states: States) -> Iterator[Finding]:
    """Parts that stand for nothing in the original, with the nets they link."""
    there, links = views.up, across(views, other, states)
    for name in views.roles.added:
        part = other.parts[name]
        nets = dict.fromkeys(views.nets[1].of[part.terminal(lug)] for lug in part.terminals)
        groups = sorted(there.anchors[net] for net in nets if net in there.anchors)
        linked = listing([group[0] for group in groups])
        yield Finding(
            kind="added",
            meant=False,
            message=f"{part.kind} {name} is new" + (f", on {linked}" if linked else ""),
            groups=tuple(groups),
            part=name,
            across=links.get(name, ()),
        )


def reversed_parts(views: Views, declared: Declared) -> Iterator[Finding]:
    """Meters and diodes that are connected the other way round."""
    parts = {**views.spec.parts, **views.spec.original.parts}
    for name in sorted(views.roles.turned):
        part = parts[name]
        if part.kind not in ("meter", "diode"):
            continue
        why = declared.of_part("reversed", name)
        yield Finding(
            kind="reversed",
            meant=why is not None,
            message=f"{part.kind} {name} is connected the other way round",
            why=why or None,
            part=name,
        )


def spare_places(spec: Spec, other: Wiring) -> Iterator[Finding]:
    """Lugs nobody uses, parts nobody connects, throws beyond the control's positions."""
    used = set(_joined(spec, other))
    for part in spec.parts_of(other).values():
        free = [t for t in map(part.terminal, part.terminals) if t not in used]
        if len(free) == len(part.terminals) and not isinstance(part, Switch | Strip):
            yield _spare(part.name, f"{part.kind} {part.name} is connected to nothing")
        elif isinstance(part, Switch | Strip):
            yield from (_spare(lug, f"lug {lug} is not used") for lug in free)
        if isinstance(part, Switch):
            yield from _throws_beyond(part)


def _joined(spec: Spec, other: Wiring) -> Iterator[str]:
    for part in spec.parts_of(other).values():
        if part.between is not None:
            yield from (part.terminal(lug) for lug in part.terminals)
            yield from part.between
    for net in other.nets:
        if len(net.members) > 1:
            yield from net.members
    for wire in other.wires:
        yield from wire.ends


def _throws_beyond(switch: Switch) -> Iterator[Finding]:
    if switch.throws is None or switch.throw_at is None:
        return
    served = {throw for throw in switch.throw_at if throw is not None}
    for throw in range(1, switch.throws + 1):
        if throw not in served:
            yield _spare(
                f"{switch.name} throw {throw}",
                f"{switch.name} has a throw {throw} that no position of "
                f"{switch.control} uses: set the stop",
            )


def _spare(place: str, message: str) -> Finding:
    return Finding(kind="spare", meant=False, message=message, place=place)


def unstated_timings(spec: Spec, other: Wiring) -> Iterator[Finding]:
    """Switches whose timing the spec does not state: read as non-shorting."""
    for part in spec.parts_of(other).values():
        if isinstance(part, Switch) and not all(s.timing_stated for s in part.sections):
            yield Finding(
                kind="timing",
                meant=False,
                message=f"{part.name}: timing not stated, taken as non-shorting",
                place=part.name,
            )
