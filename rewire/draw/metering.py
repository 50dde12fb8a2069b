"""Which sections of a switch carry no part of the metering, and what they carry instead.

A section carries metering if one of its nets leads to a meter: over other parts
and over closed contacts, but never on through a point of the equipment, for
beyond a point begins the equipment itself. The chassis leads nowhere.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping

from rewire.circuit.nets import Nets, nets_of
from rewire.spec.model import Meter, Section, Spec, Switch, Wiring


def not_metering(spec: Spec, wiring: Wiring, switch: Switch) -> list[str]:
    """One sentence for each section that has nothing to do with a meter but joins two places."""
    nets = nets_of(spec, wiring)
    reach = _led_to_meters(spec, wiring, nets)
    measuring = [s for s in switch.sections if _carries(spec, switch, s, nets, reach)]
    if not measuring:
        return []
    return [
        f"{_name(switch, section)} carries {said}: do not omit"
        for section in switch.sections
        if section not in measuring and (said := _carried(spec, switch, section, nets))
    ]


def _name(switch: Switch, section: Section) -> str:
    if section.pole is not None:
        return f"Pole {section.pole}"
    return f"Section {'–'.join(section.lugs)}"


def _carries(
    spec: Spec, switch: Switch, section: Section, nets: Nets, reach: set[int]
) -> bool:
    chassis = {nets.of[p.name] for p in spec.points.values() if p.chassis}
    touched = {nets.of[switch.terminal(lug)] for lug in section.lugs} - chassis
    return bool(touched & reach)


def _led_to_meters(spec: Spec, wiring: Wiring, nets: Nets) -> set[int]:
    """Nets from which a meter is reached without passing through a point."""
    parts = spec.parts_of(wiring).values()
    links = list(_links(spec, wiring, nets))
    at_points = {nets.of[name] for name in spec.points}
    reach = {nets.of[p.terminal(t)] for p in parts if isinstance(p, Meter) for t in p.terminals}
    queue = deque(reach)
    while queue:
        net = queue.popleft()
        if net in at_points:
            continue
        for group in links:
            if net in group:
                queue.extend(group - reach)
                reach |= group
    return reach


def _links(spec: Spec, wiring: Wiring, nets: Nets) -> Iterator[set[int]]:
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for section in part.sections:
                for groups in section.groups:
                    yield from ({nets.of[part.terminal(u)] for u in group} for group in groups)
        elif part.passes_dc:
            yield {nets.of[part.terminal(lug)] for lug in part.terminals}


def _carried(spec: Spec, switch: Switch, section: Section, nets: Nets) -> str:
    """``BIAS_RETURN to CHASSIS``: what the section's contacts join, by the plainest names."""
    pairs: dict[str, None] = {}
    for groups in section.groups:
        for group in groups:
            names = [_place(spec, nets, switch.terminal(lug), switch) for lug in group]
            known = list(dict.fromkeys(name for name in names if name))
            if len(known) > 1:
                pairs[" to ".join(known)] = None
    return ", ".join(pairs)


def _place(spec: Spec, nets: Nets, terminal: str, switch: Switch) -> str | None:
    members = nets.members[nets.of[terminal]]
    points: Mapping[str, object] = spec.points
    named = [m for m in members if m in points]
    parts = [m for m in members if m not in points and m.split(".")[0] != switch.name]
    return next(iter(named + parts), None)
