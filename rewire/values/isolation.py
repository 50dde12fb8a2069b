"""Working volts of every net, and what contacts, wires and capacitors break and insulate."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain, combinations, product
from math import inf, isinf, isnan, log, nan, prod, sqrt

import numpy as np

from rewire.circuit.dc import Array, solve
from rewire.circuit.graph import Joiner
from rewire.circuit.ohms import ohms_between
from rewire.records.parts import Capacitor, Switch
from rewire.records.spec import Point, Spec
from rewire.values.answers import Caution, Readout
from rewire.values.dc_network import Branch, DcNetwork, Routes, Values, filled, nodes_joined
from rewire.values.meter_circuit import Solved, flows
from rewire.words.quantity import in_ohms, with_unit

_NO_OHMS = 1e-9


@dataclass(frozen=True, slots=True)
class WorstMoment:
    """One moment: where the controls stand, what is open, and what is held at its most."""

    state: dict[str, int]
    opened: Collection[int] | None = None
    """Sections that are open, points at what they rise to; None in operation."""
    held: str | None = None
    """The point that stands at the most that is written of it."""

    def volts(self, point: Point) -> float | None:
        """What a point stands at; None where it has no volts of its own."""
        if self.held == point.name:
            return point.most_volts
        risen = self.opened is not None and point.rises_to is not None
        return point.rises_to if risen else point.volts

    def closes(self, branch: Branch) -> bool:
        """Whether a branch conducts."""
        return branch.closed(self.state) and branch.section not in (self.opened or ())


def possible_states(spec: Spec) -> Iterator[dict[str, int]]:
    """Every combination of positions that can occur, by number; many where controls are many."""
    controls = spec.controls
    never = [
        {name: controls[name].positions.index(at) for name, at in item.items()}
        for item in spec.never
    ]
    for at in product(*(range(len(control.positions)) for control in controls.values())):
        state = dict(zip(controls, at, strict=True))
        if not any(all(state[n] == p for n, p in item.items()) for item in never):
            yield state


def volts_alone(
    network: DcNetwork, ground: int, columns: Sequence[Array], looks: Sequence[WorstMoment]
) -> dict[str, Array]:
    """Volts that each point by itself puts on every node, shape (nodes, looks).

    Source: superposition, each source behind its own resistance.
    """
    points = [p for p in network.spec.points.values() if not p.chassis]
    feeds = [(network.node(point.name), ground) for point in points] or [(ground, ground)]
    inner = [_inner_ohms(point, looks) for point in points] or [np.full(1, np.inf)]
    ends = [*(branch.ends for branch in network.branches), *feeds]
    solved = solve(network.count, ends, [*columns, *inner], feeds, ground)
    return {
        point.name: np.broadcast_to(
            np.array([look.volts(point) or 0.0 for look in looks])
            / inner[row] * solved.volts[row], (network.count, len(looks)),
        )
        for row, point in enumerate(points)
    }  # fmt: skip


def _inner_ohms(point: Point, looks: Sequence[WorstMoment]) -> Array:
    """A source's own ohms: none where it is held, infinite where it has no volts."""
    own = max(point.source_resistance, _NO_OHMS)
    return np.array([
        _NO_OHMS if look.held == point.name else np.inf if look.volts(point) is None else own
        for look in looks
    ])  # fmt: skip


def column(branch: Branch, values: Values, looks: Sequence[WorstMoment]) -> Array:
    """A branch's ohms in each look; infinite where it is open or not known."""
    if not branch.known(values):
        return np.full(1, np.inf)
    ohms = np.asarray(branch.ohms(filled(values)))
    if branch.control is None:
        return ohms
    return np.where([look.closes(branch) for look in looks], ohms, np.inf)


@dataclass(frozen=True, slots=True)
class Live:
    """Volts to chassis of every node in one look.

    ``steady`` are those of the DC sources together, shape (nodes,); ``swinging`` the peaks of
    each AC source, shape (AC sources, nodes). ``known`` is false where a point whose volts are
    not given, or a diode, may feed the node: what is not given is unknown, never safe.
    ``floating`` is true where nothing links the node to chassis or to a source.
    """

    steady: Array
    swinging: Array
    known: Sequence[bool]
    floating: Sequence[bool]

    def apart(self, one: int, other: int) -> float | None:
        """The most there can be between two nodes, volts.

        None if it is not known; NaN if one of them floats, on nothing that is known.

        Source: one AC source is in step with itself; of several the phases are not
        known, so that their peaks add.
        """
        if one == other:
            return 0.0
        if not (self.known[one] and self.known[other]):
            return None
        if self.floating[one] or self.floating[other]:
            return nan
        swing = np.sum(np.abs(self.swinging[:, one] - self.swinging[:, other]))
        return float(abs(self.steady[one] - self.steady[other]) + swing)


def live(solved: Solved, looks: Sequence[WorstMoment]) -> Iterator[Live]:
    """Volts of every node of a wiring, look by look; nothing if the spec names no chassis."""
    network, values = solved.network, solved.values
    ground = network.chassis
    if ground is None or not looks:
        return
    columns = [column(branch, values, looks) for branch in network.branches]
    volts = volts_alone(network, ground, columns, looks)
    points = network.spec.points
    nothing = np.zeros((network.count, len(looks)))
    steady = sum((v for name, v in volts.items() if not points[name].ac), nothing)
    swinging = [sqrt(2.0) * v for name, v in volts.items() if points[name].ac]
    peaks = np.array(swinging).reshape(-1, network.count, len(looks))
    for number, look in enumerate(looks):
        status = _status(network, values, look, ground)
        yield Live(steady[:, number], peaks[:, :, number], *status)


def _status(
    network: DcNetwork, values: Values, look: WorstMoment, ground: int
) -> tuple[list[bool], list[bool]]:
    """Which nodes are known, and which float.

    Not known: what is tied to a point whose volts are not given; what floats with
    such a point, or on a part or a diode that no sum can be made with.
    """
    points = [p for p in network.spec.points.values() if not p.chassis]
    closed = [branch for branch in network.branches if look.closes(branch)]
    fed = [(network.node(p.name), ground) for p in points if look.volts(p) is not None]
    paths, ties = Joiner(network.count), Joiner(network.count)
    for ends in (*(b.ends for b in closed if b.known(values)), *fed):
        paths.join(ends)
    for branch in closed:
        if branch.control is not None:
            ties.join(branch.ends)
    unsaid = [network.node(point.name) for point in points if point.volts is None]
    tied = {ties.root(node) for node in unsaid} - {ties.root(ground)}
    vague = [node for b in closed if not b.known(values) for node in b.ends]
    vague += [node for branch in network.blocked for node in branch.ends]
    loose = {paths.root(node) for node in (*unsaid, *vague)}
    floating = [paths.root(n) != paths.root(ground) for n in range(network.count)]
    known = [
        ties.root(n) not in tied and (not floats or paths.root(n) not in loose)
        for n, floats in enumerate(floating)
    ]
    return known, floating


_MOST_STATES = 512
_HALF = 0.5
_NOTHING_GIVEN = "no volts to chassis are given for any point"
_NO_CHASSIS = "no point is said to be the chassis, so no volts to it are known"
_NOT_CHECKED = "what contacts break and insulate is not checked, and not safe"
_SAFE = 50.0
"""Volts below which a capacitor's charge is let be, and open contacts without a rating too."""
_SLOWER = 1.5
"""Times as long that count as another thing."""

Seen = Sequence[tuple[str, Live]]
"""When, in words, and what every net stands at then."""


@dataclass(slots=True)
class _Most:
    """The most found between two places, and what could not be told."""

    volts: float = 0.0
    at: str = ""
    unknown: set[str] = field(default_factory=set)
    floating: set[str] = field(default_factory=set)

    def take(self, volts: float | None, at: str, lugs: Sequence[str] = ()) -> None:
        """Note one more voltage; None is unknown, NaN floats."""
        if volts is None:
            self.unknown.update(lugs)
        elif isnan(volts):
            self.floating.update(lugs)
        elif volts > self.volts + 1e-9:
            self.volts, self.at = volts, at


def _most_between(seen: Seen, one: int, other: int) -> _Most:
    most = _Most()
    for at, now in seen:
        most.take(now.apart(one, other), at)
    return most


def contact_warnings(solved: Solved) -> Iterator[Caution]:
    """What the switches have to break, carry and insulate, against their ratings.

    Wires and capacitors are judged by the same volts.
    """
    yield from _amps(solved)
    network, ground = solved.network, solved.network.chassis
    switches = solved.spec.all_of(Switch, network.wiring).values()
    if ground is None or all(point.volts is None for point in solved.spec.points.values()):
        if switches:
            why = _NO_CHASSIS if ground is None else _NOTHING_GIVEN
            yield Caution("volts-unknown", f"{why}: {_NOT_CHECKED}")
        return
    looks = _looks(solved)
    seen = list(
        zip((at for at, _ in looks), live(solved, [look for _, look in looks]), strict=True)
    )
    at_rest = [one for one, (_, look) in zip(seen, looks, strict=True) if look.opened is None]
    for switch in switches:
        yield from _volts(network, switch, seen, ground)
        yield from _floating(network, switch, at_rest, ground)
    yield from _wires(network, seen, ground)
    yield from _capacitors(solved, seen)


def _amps(solved: Solved) -> Iterator[Caution]:
    """Contact current at full scale, the most over all readings, against what may be broken."""
    most: dict[str, tuple[float, str, str]] = {}
    for setup in solved.setups.values():
        for branch, flow in flows(setup.circuit, solved.values).items():
            if branch.control is not None and flow.at_most > most.get(branch.part, (0.0,))[0]:
                name = solved.network.values[branch.value].name
                most[branch.part] = flow.at_most, name, setup.reading.name
    for name, (amps, contact, reading) in most.items():
        may = dict(solved.network.parts[name].ratings).get("amps")
        if may is not None and amps > _HALF * may:
            carries, rated = with_unit(amps, "A", 3), with_unit(may, "A", 3)
            said = f"{contact} carries {carries} in {reading}, rated {rated}"
            yield Caution("contact-amps", said, amps > may, name)


def _looks(solved: Solved) -> list[tuple[str, WorstMoment]]:
    """At rest, in operation and with points risen; and while one control has all contacts open.

    In every state; of too many, in those of readings.
    """
    network, controls = solved.network, solved.spec.controls
    states = [network.full_state(setup.states[0]) for setup in solved.setups.values()]
    if prod(len(control.positions) for control in controls.values()) <= _MOST_STATES:
        states = list(possible_states(solved.spec))
    said = [
        ", ".join(f"{name} at {controls[name].positions[p]}" for name, p in state.items())
        for state in states
    ]
    looks = [(at, WorstMoment(state)) for at, state in zip(said, states, strict=True)]
    looks += [(at, WorstMoment(state, ())) for at, state in zip(said, states, strict=True)]
    for name in controls:
        opened = {branch.section for branch in network.branches if branch.control == name}
        at = f"while {name} moves"
        looks += [(at, WorstMoment(state, opened)) for state in states if state[name] == 0]
    return looks


def _volts(network: DcNetwork, switch: Switch, seen: Seen, ground: int) -> Iterator[Caution]:
    across, to_shaft = _Most(), _Most()
    for at, now in seen:
        for section in switch.sections:
            for one, other in combinations(map(switch.terminal, section.lugs), 2):
                volts = now.apart(network.node(one), network.node(other))
                across.take(volts, f"{one} and {other} ({at})", [one, other])
        for name in switch.full_terminals:
            to_shaft.take(now.apart(network.node(name), ground), f"{name} ({at})", [name])
    yield from _judged(switch, across, switch.rating.volts, "between contacts")
    frame = "to its frame" if switch.style == "relay" else "to shaft and panel"
    yield from _judged(switch, to_shaft, switch.rating.shaft_volts, frame)
    said = "are not known in every position: not checked, and not safe; give the points' volts"
    unknown = across.unknown | to_shaft.unknown
    yield from _listed(network, switch, unknown, "volts-unknown", said)


def _floating(network: DcNetwork, switch: Switch, at_rest: Seen, ground: int) -> Iterator[Caution]:
    """Lugs that hang on nothing in a position; between two, every open pole does."""
    found = _Most()
    for at, now in at_rest:
        for name in switch.full_terminals:
            found.take(now.apart(network.node(name), ground), at, [name])
    said = "hang on nothing in some position: they float there"
    yield from _listed(network, switch, found.floating - found.unknown, "floating", said)


def _listed(
    network: DcNetwork, switch: Switch, lugs: set[str], kind: str, said: str
) -> Iterator[Caution]:
    members = network.nets.members
    connected = [lug for lug in sorted(lugs) if len(members[network.node(lug)]) > 1]
    if connected:
        some = ", ".join(connected[:6]) + (" …" if len(connected) > 6 else "")
        yield Caution(kind, f"{switch.name}: the volts at {some} {said}", False, switch.name)


def _judged(switch: Switch, most: _Most, may: float | None, said: str) -> Iterator[Caution]:
    if most.volts < 1.0:
        return
    text = f"{switch.name}: {with_unit(most.volts, 'V', 3)} {said} at {most.at}"
    if may is None:
        if most.volts >= _SAFE:
            unknown = f"{text}, and no rating is stated: unknown"
            yield Caution("contact-volts", unknown, False, switch.name)
    elif most.volts > may:
        rated = f"{text}, rated {with_unit(may, 'V', 3)}"
        yield Caution("contact-volts", rated, True, switch.name)


def _wires(network: DcNetwork, seen: Seen, ground: int) -> Iterator[Caution]:
    """Wires whose insulation is stated and stands less than the volts on them."""
    for wire in network.wiring.wires:
        if wire.insulation_volts is None:
            continue
        most = _most_between(seen, network.node(wire.ends[0]), ground)
        if most.volts > wire.insulation_volts:
            volts, may = with_unit(most.volts, "V", 3), with_unit(wire.insulation_volts, "V", 3)
            said = f"wire {wire.id} stands at {volts} ({most.at}), its insulation is for {may}"
            yield Caution("insulation", said, True)


def _capacitors(solved: Solved, seen: Seen) -> Iterator[Caution]:
    """Capacitors across more volts than they are rated for."""
    for name, part in solved.spec.all_of(Capacitor, solved.network.wiring).items():
        if part.rating_volts is None:
            continue
        one, other = solved.network.nodes_of(part)
        most = _most_between(seen, one, other)
        if most.volts > part.rating_volts:
            volts, may = with_unit(most.volts, "V", 3), with_unit(part.rating_volts, "V", 3)
            when = f" ({most.at})" if most.at else ""
            yield Caution("rating", f"{name} has {volts} across it{when}, rated {may}", True, name)


def telling_contacts(solved: Solved, readouts: Sequence[Readout]) -> Iterator[Caution]:
    """Contacts that alone, new or worn, put a reading beyond what it accepts."""
    parts = {value.name: value.part for value in solved.network.values}
    switches = solved.spec.all_of(Switch, solved.network.wiring)
    for one in readouts:
        for share in one.shares:
            part = parts.get(share.value, "")
            if part in switches and share.size > one.accept_percent:
                said = (
                    f"{one.name}: contact {share.value} lies where its milliohms count: worn, it "
                    f"alone makes {share.size:.3g} % of full scale; land the meter's leads so "
                    "that no contact stands between them and the shunt"
                )
                yield Caution("contact", said, part=part, first=True)


def shorts(network: DcNetwork, original: DcNetwork) -> Iterator[Caution]:
    """Each pair of points of different volts that a wiring ties and the original does not."""
    points = [p for p in network.spec.points.values() if p.chassis or p.volts is not None]
    pairs = [
        pair for pair in combinations(points, 2)
        if _apart(*pair) and pair[0].ac == pair[1].ac
    ]  # fmt: skip
    for number, state in enumerate(possible_states(network.spec)):
        if number >= _MOST_STATES or not pairs:
            return
        here, there = (_tied(each, pairs, state) for each in (network, original))
        told = [pair for pair in pairs if pair in here and pair not in there]
        pairs = [pair for pair in pairs if pair not in told]
        yield from (_short(network, pair, state) for pair in told)


def _volts_of(point: Point) -> float:
    return 0.0 if point.chassis else point.volts or 0.0


def _apart(one: Point, other: Point) -> float:
    return abs(_volts_of(one) - _volts_of(other))


def _tied(
    network: DcNetwork, pairs: Sequence[tuple[Point, Point]], state: dict[str, int]
) -> list[tuple[Point, Point]]:
    """Those of some pairs that contacts and wires alone tie."""
    ties = nodes_joined(network, (b for b in network.branches if b.control and b.closed(state)))
    root = {p.name: ties.root(network.node(p.name)) for p in chain.from_iterable(pairs)}
    return [pair for pair in pairs if root[pair[0].name] == root[pair[1].name]]


def _short(network: DcNetwork, pair: tuple[Point, Point], state: dict[str, int]) -> Caution:
    high, low = sorted(pair, key=lambda p: -abs(_volts_of(p)))
    ohms = high.source_resistance + low.source_resistance
    amps = with_unit(_apart(high, low) / ohms, "A", 3) if ohms else "no limit"
    behind = f" behind {in_ohms(high.source_resistance)}" if high.source_resistance else ""
    closed = [b for b in network.branches if b.control is not None and b.closed(state)]
    ends = (network.node(pair[0].name), network.node(pair[1].name))
    names = dict.fromkeys(b.control or "" for b in Routes.over(closed).between([ends]))
    controls = network.spec.controls
    at = ", ".join(f"{name} at {controls[name].positions[state[name]]}" for name in names)
    where = f" with {at}" if at else ""
    volts = with_unit(_volts_of(high), "V", 3)
    return Caution(
        "short", f"{high.name}, {volts}{behind}, is tied to {low.name}{where}: {amps}", True
    )


def bleeders(solved: Solved, original: Solved) -> Iterator[Caution]:
    """Capacitors at dangerous volts that take longer to bleed, or are bled by nothing any more.

    Every contact is taken as open; what is not known bleeds nothing.

    Source: V e^(-t / RC).
    """
    before = solved.spec.all_of(Capacitor, original.network.wiring)
    for name, part in solved.spec.all_of(Capacitor, solved.network.wiring).items():
        volts = _most_on(solved.network, part)
        if name not in before or volts <= _SAFE:
            continue
        now, then = _across(solved, part), _across(original, before[name])
        if now > _SLOWER * then:
            seconds = log(volts / _SAFE) * part.farads
            stays = "nothing bleeds it" if isinf(now) else _bled(now, seconds)
            was_so = _bled(then, seconds)
            said = f"{name}: {stays}, in the original {was_so}; discharge it by hand"
            yield Caution("bleeder", said, False, name)


def _bled(ohms: float, seconds: float) -> str:
    return f"{in_ohms(ohms, 3)} bleed it to {_SAFE:.0f} V in {seconds * ohms:,.0f} s"


def _most_on(network: DcNetwork, part: Capacitor) -> float:
    """What may stand across a capacitor: the most of the points that it hangs on."""
    nodes, points = network.nodes_of(part), network.spec.points.values()
    here = (abs(point.most_volts) for point in points if network.node(point.name) in nodes)
    return max(here, default=0.0)


def _across(solved: Solved, part: Capacitor) -> float:
    """Ohms across a capacitor with every contact open."""
    network, (one, other) = solved.network, part.full_terminals
    ends = network.ends((one, other))
    if ends is None:
        return inf
    known = filled(solved.values, inf)
    links = [
        (*b.ends, float(np.ravel(b.ohms(known))[0])) for b in network.branches if b.control is None
    ]
    return ohms_between(network.count, links, *ends)
