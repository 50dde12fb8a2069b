"""Which contacts of a switch carry no part of the metering, and what they carry instead.

A closed contact carries metering if one of its nets leads to a meter: over
other parts and over closed contacts, but never on through a point of the
equipment, for beyond a point begins the equipment itself. The chassis leads nowhere.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence

from rewire.circuit.circuit import Nets, circuit_of
from rewire.records.spec import Meter, Section, Spec, Switch, Wiring

_MOST_TOLD = 4
"""Ways of one pole that are told; the wire list has them all."""


def not_metering(spec: Spec, wiring: Wiring, switch: Switch) -> list[str]:
    """One sentence for each pole that somewhere joins two places no meter is in between.

    Nothing is said of a switch that has no part in metering at all.
    """
    nets = circuit_of(spec, wiring).nets
    closed = _closed(switch)
    idle = list(_idle(spec, wiring, switch, nets))
    if len(idle) == len(closed):
        return []
    carried: dict[str, dict[str, list[int]]] = {}
    for section, position, group in idle:
        said = _carried(spec, wiring, nets, switch, position, group)
        if said:
            carried.setdefault(_name(section), {}).setdefault(said, []).append(position)
    told = {
        name: [f"{said}{_when(spec, switch, at)}" for said, at in ways.items()]
        for name, ways in carried.items()
    }
    return [f"{name} carries {_listed(ways)}: do not omit" for name, ways in told.items()]


def _listed(ways: Sequence[str]) -> str:
    """All of a few, the first of many."""
    if len(ways) > _MOST_TOLD:
        left = len(ways) - _MOST_TOLD + 1
        return f"{', '.join(ways[: _MOST_TOLD - 1])} and {left} more"
    return ", ".join(ways)


def apart_from_metering(
    spec: Spec, wiring: Wiring, switch: Switch
) -> frozenset[tuple[int, tuple[str, ...]]]:
    """Position and group of lugs of each such contact; none where no contact has a part in it."""
    idle = list(_idle(spec, wiring, switch, circuit_of(spec, wiring).nets))
    if len(idle) == len(_closed(switch)):
        return frozenset()
    return frozenset((position, group) for _, position, group in idle)


_Closed = tuple[Section, int, tuple[str, ...]]


def _closed(switch: Switch) -> list[_Closed]:
    return [
        (section, position, group)
        for section in switch.sections
        for position, groups in enumerate(section.groups)
        for group in groups
    ]


def _idle(spec: Spec, wiring: Wiring, switch: Switch, nets: Nets) -> Iterator[_Closed]:
    """Closed contacts from which no meter is reached in their position."""
    closed = _closed(switch)
    reach = {at: _led_to_meters(spec, wiring, nets, switch, at) for _, at, _ in closed}
    for each in closed:
        if not _nets(nets, switch, each[2]) & reach[each[1]]:
            yield each


def _name(section: Section) -> str:
    if section.pole is not None:
        return f"Pole {section.pole}"
    return f"Section {'–'.join(section.lugs)}"


def _when(spec: Spec, switch: Switch, positions: Sequence[int]) -> str:
    every = spec.controls[switch.control].positions
    if len(positions) == len(every):
        return ""
    return f" in {' and '.join(every[n] for n in positions)}"


def _chassis(spec: Spec, nets: Nets) -> set[int]:
    return {nets.of[point.name] for point in spec.points.values() if point.chassis}


def _nets(nets: Nets, switch: Switch, group: Sequence[str]) -> set[int]:
    return {nets.of[switch.terminal(lug)] for lug in group}


def _led_to_meters(
    spec: Spec, wiring: Wiring, nets: Nets, switch: Switch, position: int
) -> set[int]:
    """Nets from which a meter is reached without passing through a point, the chassis left out.

    This switch stands at ``position``, any other anywhere.
    """
    parts = spec.parts_of(wiring).values()
    links = list(_links(spec, wiring, nets, switch, position))
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
    return reach - _chassis(spec, nets)


def _links(
    spec: Spec, wiring: Wiring, nets: Nets, switch: Switch, position: int
) -> Iterator[set[int]]:
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for section in part.sections:
                closed = section.groups if part is not switch else section.groups[position:][:1]
                for groups in closed:
                    yield from (_nets(nets, part, group) for group in groups)
        elif part.passes_dc:
            yield {nets.of[part.terminal(lug)] for lug in part.terminals}


def _carried(
    spec: Spec,
    wiring: Wiring,
    nets: Nets,
    switch: Switch,
    position: int,
    group: tuple[str, ...],
) -> str:
    """``BIAS to GRID over jumper J1``: what a closed contact connects, by the plainest names.

    Where a jumper leads from it to another contact of the switch, that one's far end counts.
    """
    others = [g for _, at, g in _closed(switch) if at == position and g != group]
    ends = [_far_end(spec, nets, switch, lug, others) for lug in group]
    known = list(dict.fromkeys(place for place, _ in ends if place))
    if len(known) < 2:
        return ""
    over = {net for _, passed in ends for net in passed}
    jumpers = [w.id for w in wiring.wires if w.jumper and nets.of[w.ends[0]] in over]
    said = " to ".join(known)
    return f"{said} over jumper {' and '.join(jumpers)}" if jumpers else said


def _far_end(
    spec: Spec, nets: Nets, switch: Switch, lug: str, others: Sequence[tuple[str, ...]]
) -> tuple[str | None, tuple[int, ...]]:
    """The first place with a name of its own from a lug on, and the nets of lugs alone before."""
    passed: list[int] = []
    waiting = deque([nets.of[switch.terminal(lug)]])
    while waiting:
        net = waiting.popleft()
        place = _place(spec, nets, net, switch)
        if place is not None:
            return place, tuple(passed)
        passed.append(net)
        reached = {n for group in others for n in _nets(nets, switch, group)
                   if net in _nets(nets, switch, group)}  # fmt: skip
        waiting.extend(sorted(reached - {*passed, *waiting}))
    return None, ()


def _place(spec: Spec, nets: Nets, net: int, switch: Switch) -> str | None:
    members = nets.members[net]
    points: Mapping[str, object] = spec.points
    named = [m for m in members if m in points]
    parts = [m for m in members if m not in points and m.split(".")[0] != switch.name]
    return next(iter(named + parts), None)
