"""Accounts: parts missing or added, lugs and throws to spare, timings not stated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rewire.compare.evidence import Tracer
from rewire.compare.findings import Finding
from rewire.compare.meant import Declared
from rewire.compare.views import Views
from rewire.compare.words import group_name, listing
from rewire.records.spec import Capacitor, Diode, Meter, Part, Spec, Strip, Switch, Wiring


def missing_parts(views: Views, other: Wiring, declared: Declared) -> Iterator[Finding]:
    """Original parts that nothing stands for."""
    for name in views.roles.missing:
        part = views.spec.original.parts[name]
        why = declared.of_part("missing", name)
        gone = [t for t in map(part.terminal, part.terminals) if t not in views.roles.seat]
        whole = len(gone) == len(part.terminals)
        what = f"{part.kind} {name}" if whole else f"{listing(gone)} of {part.kind} {name}"
        said = "is taken out" if why is not None else "has nothing in its place"
        like = [n for n in views.roles.added if whole and other.parts[n].kind == part.kind]
        if why is None and like:
            said += f"; did you mean {listing([f'{n}: replaces: {name}' for n in like], 'or')}?"
        yield Finding(
            kind="missing",
            meant=why is not None,
            message=f"{what} of the original {said}",
            why=why or None,
            part=name,
        )


def added_parts(views: Views, other: Wiring, here: Tracer) -> Iterator[Finding]:
    """Parts that stand for nothing in the original, with the nets they link."""
    there = views.up
    for name in views.roles.added:
        part = other.parts[name]
        nets = dict.fromkeys(views.nets[1].of[part.terminal(lug)] for lug in part.terminals)
        groups = sorted(there.anchors[net] for net in nets if net in there.anchors)
        linked = listing([group_name(group, views.spec.points) for group in groups])
        beside = here.parts_between(tuple(groups[:2])) if part.passes_dc and len(groups) > 1 else ()
        yield Finding(
            kind="added",
            meant=False,
            message=f"{part.kind} {name} is new"
            + (f", on {linked}" if linked else "")
            + (f"; now beside {listing(beside)}" if beside else ""),
            groups=tuple(groups),
            part=name,
        )


def reversed_parts(views: Views, other: Wiring, declared: Declared) -> Iterator[Finding]:
    """Meters, diodes and polarised capacitors that are connected the other way round."""
    parts = {**views.spec.parts, **views.spec.original.parts}
    there = views.spec.parts_of(other)
    for name in sorted(parts):
        part = parts[name]
        heir = _turned(part, there, views.roles.seat)
        if heir is None:
            continue
        why = declared.of_part("reversed", name)
        said = f"{part.kind} {name}" + (
            f" ({heir.name} stands for it)" if heir.name != name else ""
        )
        yield Finding(
            kind="reversed",
            meant=why is not None,
            message=f"{said} is connected the other way round",
            now="; ".join(_where_now(part, heir, views.roles.seat, other)),
            why=why or None,
            part=name,
        )


def _turned(part: Part, there: Mapping[str, Part], seat: Mapping[str, str]) -> Part | None:
    """What stands for a part that has a polarity, if it stands the other way round."""
    places = [seat.get(part.terminal(lug), "") for lug in part.terminals]
    heir = there.get(places[0].partition(".")[0])
    if heir is None or heir.kind != part.kind or len(places) != 2:
        return None
    if not (_has_polarity(part) or _has_polarity(heir)):
        return None
    crossed = [heir.terminal(lug) for lug in reversed(heir.terminals)]
    return heir if places == crossed else None


def _has_polarity(part: Part) -> bool:
    return isinstance(part, Meter | Diode) or (isinstance(part, Capacitor) and part.polarised)


def _where_now(part: Part, heir: Part, seat: Mapping[str, str], other: Wiring) -> Iterator[str]:
    """Per terminal of the original part: which terminal is there now, and by which wire."""
    for terminal in map(part.terminal, part.terminals):
        now = seat[terminal]
        ids = [wire.id for wire in other.wires if now in wire.ends and wire.id]
        wires = f" (wire {listing(ids)})" if ids else ""
        yield (
            f"{now}{wires} is where {terminal} was"
            if heir.name != part.name
            else (f"{now}{wires} is where {terminal} must be")
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
            yield from _throws_beyond(part, spec.controls[part.control].wraps)


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


def _throws_beyond(switch: Switch, wraps: bool) -> Iterator[Finding]:
    if switch.throws is None or switch.throw_at is None:
        return
    served = {throw for throw in switch.throw_at if throw is not None}
    for throw in range(1, switch.throws + 1):
        if throw in served:
            continue
        within = any(one < throw for one in served) and any(one > throw for one in served)
        do = "no stop keeps the knob off it" if within or wraps else "set the stop"
        yield _spare(
            f"{switch.name} throw {throw}",
            f"{switch.name} has a throw {throw} that no position of {switch.control} uses: {do}",
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
