"""What an ohmmeter must find between two places of a finished wiring, with everything off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product
from math import isclose, prod

import networkx as nx

from rewire.bench.meter_model import LEADS, METER
from rewire.bench.probes import Pair, Probe, job_of, probes
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.states import LimitReached, States
from rewire.compare.comparison import part_of
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.parts import Switch
from rewire.records.spec import Point, Spec, Wiring
from rewire.words.quantity import in_ohms

Positions = Mapping[str, str]

UNKNOWN = "ohms unknown"
_MOST_STATES = 24
_ALIKE = 0.1
"""Share by which ohms that are measured may differ and be called the same."""


def expected(probe: Probe) -> str:
    """What must be found, in words."""
    if probe.expect != "ohms":
        said: str = probe.expect
    else:
        said = UNKNOWN if probe.ohms is None else in_ohms(probe.ohms, 3)
    if probe.diodes:
        said += f" ({', '.join(probe.diodes)} conducts with + at {' or '.join(probe.plus)})"
    return said


def good_range(probe: Probe) -> str:
    """From what to what a reading of ohms is good, leads and ohmmeter counted; else nothing."""
    if probe.expect != "ohms" or probe.ohms is None:
        return ""
    off = (probe.spread + METER) * probe.ohms
    return f"{in_ohms(max(0.0, probe.ohms - off), 3)} to {in_ohms(probe.ohms + off + LEADS, 3)}"


def marked(said: str, probe: Probe) -> str:
    """What must be found, with a star where a digital ohmmeter overdrives a movement."""
    return f"{said}*" if probe.overloads else said


def overdriven(probes: Iterable[Probe]) -> Iterator[str]:
    """What the stars stand for, a sentence for each movement that is overdriven."""
    worst: dict[str, float] = {}
    for probe in probes:
        for name, times in probe.overloads:
            worst[name] = max(times, worst.get(name, 0.0))
    for name, times in worst.items():
        yield (
            f"a digital ohmmeter drives about 1 mA on its lowest range, {times:.2g} times full "
            f"scale of {name} where * stands: use the highest that still shows the figure there, "
            f"or lift one lead of {name} and touch that pair without it"
        )


def set_first(pot: str, percent: float) -> str:
    """The setting of a pot on which the figures count."""
    return f"set {pot} to {percent:.0f} % of travel from ccw first: the ohms here count on it"


def by_hand(parts: Iterable[Part]) -> Iterator[str]:
    """How a relay is brought to a position while the set is dead, a sentence for each."""
    for part in parts:
        if isinstance(part, Switch) and part.style == "relay":
            yield (
                f"{part.name} is a relay: press its armature by hand, or feed its coil alone with "
                "both of its leads off the set; never power the set for it"
            )


def rectified(parts: Iterable[Part]) -> Iterator[str]:
    """What an ohmmeter makes of meters for AC, a sentence for each."""
    for part in parts:
        if part.ac:
            yield (
                f"{part.name} is made for AC: through it an ohmmeter reads a rectifier, other "
                "ohms on each range and either way round; see only that it is not open, nor closed"
            )


def continuity(
    spec: Spec, wiring: Wiring, pairs: Sequence[Pair], states: Sequence[Positions]
) -> list[Probe]:
    """Expectations for some pairs of places in some states, state by state.

    Args:
        spec: the checked model.
        wiring: one of its wirings.
        pairs: two different places each.
        states: a position for each control.

    Returns:
        A probe for each state and pair. Contacts and wires count as no ohms, so what
        they alone link is ``closed``; capacitors and diodes are open; lamps are cold.

    Raises:
        LimitReached: see ``network_of``.
    """
    job = job_of(spec, wiring, states)
    return probes(job, [job.touch(state, pair) for state in job.states for pair in pairs])


def pairs_to_buzz(spec: Spec, wiring: Wiring) -> list[Pair]:
    """The pairs a person would buzz: commons to throws, points to chassis, meters, readings.

    Args:
        spec: the checked model.
        wiring: one of its wirings.

    Returns:
        Each pair once, switches first, in order of the spec; not two lugs with nothing on them.
    """
    pairs: dict[Pair, None] = {}
    bare = circuit_of(spec, wiring).bare
    for switch in circuit_of(spec, wiring).switches:
        for section in switch.sections:
            first, *others = (switch.terminal(lug) for lug in section.lugs)
            pairs |= dict.fromkeys((first, lug) for lug in others if not {first, lug} <= bare)
    there = set(circuit_of(spec, wiring).terminals)
    for named in _places(spec, wiring):
        one, other = map(roles_between(spec, wiring).place, named)
        if one in there and other in there and one != other and (other, one) not in pairs:
            pairs[one or "", other or ""] = None
    return list(pairs)


def _places(spec: Spec, wiring: Wiring) -> Iterator[Pair]:
    yield from (rule.places for rule in spec.rules)
    yield from (reading.places for reading in wiring.readings.values())
    chassis = next((point.name for point in spec.points.values() if point.chassis), None)
    if chassis is not None:
        yield from ((name, chassis) for name in spec.points if name != chassis)


def states_to_buzz(spec: Spec, wiring: Wiring, most: int = 12) -> list[dict[str, str]]:
    """Every state of the controls that move a switch of a wiring, where these are few.

    Where they are more than ``most``: each control through its positions alone, the
    others at the first position that ``never`` allows with it.

    Raises:
        LimitReached: ``never`` ties together more states than can be looked at.
    """
    moving = {switch.control for switch in circuit_of(spec, wiring).switches}
    states = States(spec.controls, spec.never)
    if prod(len(spec.controls[name].positions) for name in moving) <= most:
        frame = states.frame(moving)
        return list(frame.states(states.possible(frame)))
    found: dict[tuple[str, ...], dict[str, str]] = {}
    for name in (name for name in spec.controls if name in moving):
        for state in _turned(states, name):
            found[tuple(state.values())] = state
    return list(found.values())


def _turned(states: States, turned: str) -> Iterator[dict[str, str]]:
    """One control through its positions; the others as early in travel as they may stand."""
    frame = states.frame({turned}.union(*states.never))
    firsts = {name: control.positions[0] for name, control in states.controls.items()}
    for number in range(len(states.controls[turned].positions)):
        mask = states.possible(frame) & frame.where(turned, 1 << number)
        yield from ({**firsts, **state} for state in islice(frame.states(mask), 1))


@dataclass(frozen=True, slots=True)
class Measurement:
    """Ohms between two points that are written down before the work begins."""

    between: Pair
    states: tuple[Positions, ...]
    """The positions to measure in; none where any will do, or too many count."""
    expects: tuple[str, ...]
    """What should be found in each, or in any; none where it is too large a sum."""


def measurements(spec: Spec, wiring: Wiring, touched: Sequence[str]) -> Iterator[Measurement]:
    """What to measure: points that contacts tie to a touched place, against the chassis."""
    points = _points_about(circuit_of(spec, wiring), touched)
    base = next((p for p in spec.points.values() if p.chassis), next(iter(points), None))
    for pair in ((p.name, base.name) for p in points if base and p is not base):
        states = list(_positions(spec, _telling(spec, wiring, pair)))
        probed = _probed(spec, wiring, pair, states or [{}])
        yield Measurement(pair, tuple(states), tuple(map(expected, probed)))


def _points_about(circuit: Circuit, touched: Sequence[str]) -> list[Point]:
    """Points whose connections the work can change: tied to a touched place in some position."""
    points, net = circuit.spec.points.values(), circuit.nets.of
    start, chassis = {net[place] for place in touched}, {net[p.name] for p in points if p.chassis}
    tied: nx.Graph[int] = nx.Graph()
    tied.add_nodes_from(start)
    for link in circuit.links:
        nx.add_path(tied, link.places)
    tied.remove_nodes_from(chassis)
    near = set[int]().union(*(own for own in nx.connected_components(tied) if own & start))
    return [p for p in points if net[p.name] in near | (start & chassis)]


def _telling(spec: Spec, wiring: Wiring, pair: Pair) -> set[str]:
    """Controls whose position can matter: of a switch right there, or of one that changes it."""
    circuit = circuit_of(spec, wiring)
    here = {part_of(place) for place in circuit.nets.members[circuit.nets.of[pair[0]]]}
    near = {switch.control for switch in circuit.switches if switch.name in here}
    found = set(near)
    for name in {switch.control for switch in circuit.switches} - near:
        states = list(_positions(spec, near | {name}))
        firsts: dict[tuple[tuple[str, str], ...], Probe] = {}
        for state, probe in zip(states, _probed(spec, wiring, pair, states), strict=False):
            rest = tuple((control, at) for control, at in state.items() if control != name)
            if _misleads(firsts.setdefault(rest, probe), probe):
                found.add(name)
                break
    return found


def _probed(spec: Spec, wiring: Wiring, pair: Pair, states: Sequence[Positions]) -> list[Probe]:
    firsts = {name: control.positions[0] for name, control in spec.controls.items()}
    try:
        return continuity(spec, wiring, [pair], [{**firsts, **state} for state in states])
    except LimitReached:
        return []  # the list does not hang on it; `rewire buzz` says which limit


def _misleads(one: Probe, other: Probe) -> bool:
    """Whether somebody who reads one for the other is misled."""
    if one.expect != other.expect or (one.ohms is None) != (other.ohms is None):
        return True
    return not isclose(one.ohms or 0.0, other.ohms or 0.0, rel_tol=_ALIKE)


def _positions(spec: Spec, names: set[str]) -> Iterator[Positions]:
    """Every combination of positions that can occur; none if there are too many."""
    controls = [c for c in spec.controls.values() if c.name in names]
    if not controls or prod(len(c.positions) for c in controls) > _MOST_STATES:
        return
    for positions in product(*(c.positions for c in controls)):
        state = {c.name: at for c, at in zip(controls, positions, strict=True)}
        if not any(never.items() <= state.items() for never in spec.never):
            yield state
