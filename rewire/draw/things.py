"""What stands beside the switches in the hook-up: parts with their values, points, chassis ends."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.draw.leads import Lead
from rewire.draw.off_switch import Tag, Thing, tag_of
from rewire.records.part import Part
from rewire.records.parts import Strip
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.solved import solved_of
from rewire.words.quantity import in_ohms

_LONG_STRIP = 6
"""A strip with more tags is drawn tag by tag."""


def chassis_of(spec: Spec) -> frozenset[str]:
    """Names of the points that are the chassis."""
    return frozenset(point.name for point in spec.points.values() if point.chassis)


def things_of(
    spec: Spec, wiring: Wiring, leads: Sequence[Lead], lugs: Collection[str], names: Collection[str]
) -> list[Thing]:
    """What stands beside the switches.

    Args:
        spec: the swap.
        wiring: what is drawn.
        leads: those that are drawn.
        lugs: terminals of the switches that are shown; a lead that ends on no part, point or
            lug ends on a name.
        names: of the parts that are drawn.
    """
    parts = circuit_of(spec, wiring).parts
    chassis = chassis_of(spec)
    values = _values(spec, wiring, parts)
    own = {part.terminal(lug) for part in parts.values() if not isinstance(part, Switch)
           for lug in part.terminals}  # fmt: skip
    own |= {point.name for point in spec.points.values() if not point.chassis}
    things: list[Thing] = []
    for name, part in parts.items():
        if isinstance(part, Switch) or name not in names:
            continue
        if isinstance(part, Strip) and len(part.terminals) > _LONG_STRIP:
            things += _tags(part, leads, chassis)
            continue
        ends = set(part.full_terminals)
        ending = tuple((lead, t) for t in part.full_terminals for lead in leads
                       if t in lead.ends and t in ends)  # fmt: skip
        far = frozenset(
            lead.shows for lead, end in ending for other in lead.ends
            if other != end and other in own and other not in part.full_terminals
        )  # fmt: skip
        things.append(Thing(name, part, ending, values[name], _rating(part), chassis,
                            name in wiring.parts, far))  # fmt: skip
    for point in spec.points.values():
        ending = tuple((lead, point.name) for lead in leads if point.name in lead.ends)
        if ending and not point.chassis:
            things.append(Thing(point.name, tag_of(point), ending, chassis=chassis))
    own |= set(lugs)
    for lead in leads:
        for end, other in (lead.ends, lead.ends[::-1]):
            if end not in own and (end not in chassis or other in lugs):
                things.append(Thing(f"{end} {lead.shows}", None, ((lead, end),), chassis=chassis))
    return things


def _tags(strip: Strip, leads: Sequence[Lead], chassis: frozenset[str]) -> Iterator[Thing]:
    """The tags of a long strip one by one, for it is no longer seen as one thing."""
    for terminal in strip.full_terminals:
        ending = tuple((lead, terminal) for lead in leads if terminal in lead.ends)
        if ending:
            yield Thing(terminal, Tag(terminal, f"part:{strip.name}"), ending, chassis=chassis)


def _values(spec: Spec, wiring: Wiring, parts: Mapping[str, Part]) -> dict[str, str]:
    """Each part's value as printed; what is fitted with the value that was chosen."""
    try:
        solved = solved_of(spec, wiring)
    except LimitReached:
        return {name: part.value for name, part in parts.items()}
    said = {name: part.value for name, part in parts.items()}
    for unknown in solved.unknowns:
        found = solved.chosen.get(unknown.part, solved.exact.get(unknown.part))
        if found is not None and unknown.is_setting:
            said[unknown.part] = f"{parts[unknown.part].value}, set {100.0 * found:.0f} %"
        elif found is not None:
            said[unknown.part] = in_ohms(found)
    return said


def _rating(part: Part) -> str:
    unit = "volts" if part.kind == "capacitor" else "watts"
    said = [f"{most:g} {what[0].upper()}" for what, most in part.ratings if what == unit]
    resistance = getattr(part, "resistance", None)
    if part.kind == "meter" and resistance is not None:
        said.append(in_ohms(resistance))
    return ", ".join(said)
