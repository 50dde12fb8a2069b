"""Ratings: the loads of parts, contacts, wires and capacitors against their ratings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice
from math import ceil, inf, isinf, log

import numpy as np

from rewire.circuit.dc import Ends
from rewire.records.part import Part
from rewire.records.parts import Capacitor
from rewire.records.spec import Point
from rewire.records.switches import Switch
from rewire.values.answers import BURNING, OVERLOADED, Caution, PartStress, Readout
from rewire.values.cases import MOST_STATES, UNSTATED_WATTS, shown_times
from rewire.values.cut_off import cut_off
from rewire.values.dc_network import DcNetwork, Routes, ceiling, filled
from rewire.values.meter_circuit import Load, Setup, Solved, flow_of, loads_of
from rewire.values.sources import Live, Samples, WorstMoment, live, states_that_occur
from rewire.words.quantity import in_ohms, with_unit

_HALF = 0.5
"""Share of a rating above which to warn; common practice, no source."""
_UNSTATED_VOLTS = 200.0
"""Volts above which a resistor's working volts should be stated; common practice, no source."""
_STANDS_WELL = 350.0
"""Usual rating of a half-watt resistor, volts; common practice, no source."""
_NOTHING_GIVEN = "no volts to chassis are given for any point"
_NO_CHASSIS = "no point is said to be the chassis, so no volts to it are known"
_NOT_CHECKED = "what contacts break and insulate is not checked, and not safe"
_SAFE = 50.0
"""Volts below which a capacitor's charge, or an open contact without a rating, is not mentioned."""
_ROUNDING = 1e-9
_SLOWER = 1.5
"""Times as long that count as another thing."""


def part_stresses(
    solved: Solved, supplies: Mapping[str, Sequence[str]], overload: float | None = None
) -> list[PartStress]:
    """The most that every part has to stand over all readings, in the order of the parts.

    A rating holds for a part as a whole, its working volts for each of its pieces. ``overload`` is
    times full scale, ``supplies`` what is too much for a part on the supplies of the set.
    """
    setups = solved.setups.values()
    at_full = [loads_of(solved, setup) for setup in setups]
    beyond = [loads_of(solved, setup, overload) for setup in setups] if overload else []
    risen = [_risen(solved, setup) for setup in setups]
    found = []
    for name, part in solved.network.parts.items():
        full, most, up = (
            [of[name] for of in each if name in of] for each in (at_full, beyond, risen)
        )
        found += [_stress(part, full, most, up, supplies.get(name, ()))] if part.legs else []
    return found


def _risen(solved: Solved, setup: Setup) -> dict[str, Load]:
    """The loads of a voltage reading with its point at what it can rise to; none if not beyond."""
    reading = setup.reading
    most = ceiling(solved.spec, reading.places)
    if reading.quantity != "voltage" or isinf(most) or most <= reading.full_scale:
        return {}
    times = most / reading.full_scale
    points = [point for name in reading.places if (point := solved.spec.points.get(name))]
    high = max(points, key=lambda point: abs(point.most_volts)).name
    said = f"{reading.name} if {high} rises to {with_unit(most, 'V', 3)}"
    loads = loads_of(solved, setup, times)
    return {part: replace(load, reading=said) for part, load in loads.items()}


def risen_meters(solved: Solved) -> Iterator[Caution]:
    """Meters that go beyond full scale while their point is at what it can rise to."""
    for setup in solved.setups.values():
        load = _risen(solved, setup).get(setup.meter_name or "")
        if load is None or not setup.full_scale or setup.circuit.meter is None:
            continue
        takes = load.amps / setup.full_scale
        if takes > OVERLOADED:
            name = setup.meter_name
            said = f"{name} is driven to {shown_times(takes)} times full scale in {load.reading}"
            yield Caution("risen", said, takes > BURNING * (1.0 + 1e-9), name)


def _stress(
    part: Part,
    loads: Sequence[Load],
    beyond: Sequence[Load],
    risen: Sequence[Load],
    supplies: Sequence[str],
) -> PartStress:
    worst = max(loads, key=lambda load: load.watts, default=None)
    faults = [*_exceeded(part, [*loads, *risen]), *supplies]
    judged = {"watts", "amps"} & dict(part.ratings).keys() or part.working_volts is not None
    return PartStress(
        part=part.name,
        watts=None if worst is None else worst.watts,
        reading=None if worst is None else worst.reading,
        rating_watts=part.rating_watts,
        volts=max((load.volts for load in loads), default=None),
        working_volts=part.working_volts,
        amps=max((load.amps for load in loads), default=None),
        overload_watts=max((load.watts for load in beyond), default=None),
        risen_watts=max((load.watts for load in risen), default=None),
        risen_volts=max((load.volts for load in risen), default=None),
        ok=False if faults else True if judged and loads else None,
        why="; ".join(faults) or None,
        unrated=part.by_ohms and part.rating_watts is None and bool(loads),
    )


def _exceeded(part: Part, loads: Sequence[Load]) -> Iterator[str]:
    """What is over its rating, in words."""
    if not loads:
        return
    may, worst = dict(part.ratings), max(loads, key=lambda load: load.watts)
    volts, amps = max(load.volts for load in loads), max(load.amps for load in loads)
    through = f"has {with_unit(amps, 'A', 3)} through"
    if "watts" in may:
        if _over(worst.watts, may["watts"]):
            takes, rated = with_unit(worst.watts, "W", 3), with_unit(may["watts"], "W", 3)
            yield f"takes {takes} in {worst.reading}, rated {rated}"
        elif _over(amps, may.get("amps", inf)):
            yield f"{through} part of the track, which stands {with_unit(may['amps'], 'A', 3)}"
    elif _over(amps, may.get("amps", inf)):
        yield f"{through} it, a fuse of {with_unit(may['amps'], 'A', 3)}"
    if part.working_volts and _over(volts, part.working_volts):
        count = ceil(volts / part.working_volts - 1e-9)
        yield (
            f"has {with_unit(volts, 'V', 3)} across a piece that stands "
            f"{with_unit(part.working_volts, 'V', 3)}: use {count} or more alike in series"
        )


def _over(has: float, may: float) -> bool:
    """Whether a rating is exceeded, and not just met but for rounding."""
    return has > may * (1.0 + _ROUNDING)


def stress_warnings(solved: Solved, stresses: Sequence[PartStress]) -> Iterator[Caution]:
    """What is over, what is close, and what has no stated rating."""
    for one in stresses:
        if one.ok is False:
            yield Caution("rating", f"{one.part} {one.why}", True, one.part)
        elif one.watts and one.rating_watts and one.watts > _HALF * one.rating_watts:
            share = 100.0 * one.watts / one.rating_watts
            said = f"{one.part} takes {share:.0f} % of its rating in {one.reading}; keep to half"
            yield Caution("half-rating", said, False, one.part)
        if one.overload_watts and one.rating_watts and _over(one.overload_watts, one.rating_watts):
            takes, may = with_unit(one.overload_watts, "W", 3), with_unit(one.rating_watts, "W", 3)
            said = f"{one.part} takes {takes} at the overload, rated {may}"
            yield Caution("overload", said, True, one.part)
        part = solved.network.parts[one.part]
        if part.by_ohms and one.rating_watts is None and (one.watts or 0.0) > UNSTATED_WATTS:
            takes = with_unit(one.watts, "W", 3)
            said = f"{one.part} takes {takes} in {one.reading} and has no rating: unknown, not safe"
            yield Caution("rating-unknown", said, False, one.part)
        if part.fixed_ohms and one.working_volts is None:
            yield from _volts_unstated(one)


def _volts_unstated(one: PartStress) -> Iterator[Caution]:
    if one.volts and one.volts > _UNSTATED_VOLTS:
        few, many = (ceil(one.volts / stands - 1e-9) for stands in (_STANDS_WELL, _UNSTATED_VOLTS))
        said = (
            f"{one.part} has {with_unit(one.volts, 'V', 3)} across it and no working_volts: "
            f"unknown, not safe; small resistors often stand {_UNSTATED_VOLTS:.0f} to "
            f"{_STANDS_WELL:.0f} V (common practice), so think of "
            f"{f'{few} to {many}' if 1 < few < many else many} alike in series"
        )
        yield Caution("working-volts", said, False, one.part)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What every node stands at, the look that it stands so in, in words, and which are at rest."""

    live: Live
    said: Sequence[str]
    at_rest: int
    ground: int

    def most(self, pairs: Mapping[str, Ends]) -> tuple[float, str]:
        """The most between any of some pairs of nodes, by name; and of which, in which look."""
        table = np.nan_to_num([self.live.apart(*ends) for ends in pairs.values()])
        if not table.size or table.max() <= _ROUNDING:
            return 0.0, ""
        look, pair = divmod(int(np.argmax(table.max() - _ROUNDING <= table.T)), len(pairs))
        where = f"{[*pairs][pair]} ({self.said[look]})" if [*pairs][pair] else self.said[look]
        return float(table[pair, look]), where

    def known(self, ends: Ends) -> bool:
        """Whether the volts between two nodes are known in every look."""
        return ends[0] == ends[1] or bool(self.live.known[list(ends)].all())


def contact_warnings(solved: Solved) -> Iterator[Caution]:
    """What switches break, carry and insulate, against their ratings; wires and capacitors too."""
    yield from _amps(solved)
    network, ground = solved.network, solved.network.chassis
    switches = solved.spec.all_of(Switch, network.wiring).values()
    if ground is None or all(point.volts is None for point in solved.spec.points.values()):
        if switches:
            why = _NO_CHASSIS if ground is None else _NOTHING_GIVEN
            yield Caution("volts-unknown", f"{why}: {_NOT_CHECKED}")
        return
    seen = _seen(solved, ground)
    for switch in switches:
        yield from _volts(network, switch, seen)
    for wire in network.wiring.wires:
        volts, at = seen.most({"": (network.node(wire.ends[0]), ground)})
        if wire.insulation_volts is not None and _over(volts, wire.insulation_volts):
            has, may = with_unit(volts, "V", 3), with_unit(wire.insulation_volts, "V", 3)
            said = f"wire {wire.id} stands at {has} ({at}), its insulation is for {may}"
            yield Caution("insulation", said, True)
    for name, part in solved.spec.all_of(Capacitor, network.wiring).items():
        one, other = network.nodes_of(part)
        volts, at = seen.most({"": (one, other)})
        if part.rating_volts is not None and _over(volts, part.rating_volts):
            has, may = with_unit(volts, "V", 3), with_unit(part.rating_volts, "V", 3)
            yield Caution("rating", f"{name} has {has} across it ({at}), rated {may}", True, name)


def _amps(solved: Solved) -> Iterator[Caution]:
    """Contact current at full scale, the most over all readings, against what may be broken."""
    most: dict[str, tuple[float, str, str]] = {}
    for setup in solved.setups.values():
        for branch, flow in flow_of(setup.circuit, solved.values).branches.items():
            if branch.control is not None and flow.at_most > most.get(branch.part, (0.0,))[0]:
                name = solved.network.values[branch.value].name
                most[branch.part] = flow.at_most, name, setup.reading.name
    for name, (amps, contact, reading) in most.items():
        may = dict(solved.network.parts[name].ratings).get("amps")
        if may is not None and amps > _HALF * may:
            carries, rated = with_unit(amps, "A", 3), with_unit(may, "A", 3)
            said = f"{contact} carries {carries} in {reading}, rated {rated}"
            yield Caution("contact-amps", said, _over(amps, may), name)


def _seen(solved: Solved, ground: int) -> _Seen:
    """At rest, in operation and with points risen; and while one control has all contacts open.

    In each a point that is fed over a contact that is open may stand at its volts or at 0 V.
    """
    network, controls = solved.network, solved.spec.controls
    states = list(islice(states_that_occur(solved.spec), MOST_STATES + 1))
    if len(states) > MOST_STATES:
        read = [network.full_state(setup.states[0]) for setup in solved.setups.values()]
        states = read or states[:1]
    said = 2 * [network.positions_said(state) for state in states]
    looks = [WorstMoment(state, opened) for opened in (None, ()) for state in states]
    for name in controls:
        opened = {branch.section for branch in network.branches if branch.control == name}
        moving = [WorstMoment(state, opened) for state in states if state[name] == 0]
        looks, said = looks + moving, said + [f"while {name} moves"] * len(moving)
    cut = cut_off(network, solved.values, looks)
    said += [f"{said[number]}, one side at 0 V" for number, _ in cut]
    looks += [look for _, look in cut]
    return _Seen(live(network, solved.values, looks, ground), said, len(states), ground)


def _volts(network: DcNetwork, switch: Switch, seen: _Seen) -> Iterator[Caution]:
    """Volts between contacts and to the shaft; lugs of which they are not known, or that float."""
    node, unknown = network.node, set[str]()
    floating: dict[str, list[str]] = {}
    to_shaft = {name: (node(name), seen.ground) for name in switch.full_terminals}
    across = {
        f"{one} and {other}": (node(one), node(other))
        for section in switch.sections
        for one, other in combinations(map(switch.terminal, section.lugs), 2)
    }
    frame = "to its frame" if switch.style == "relay" else "to shaft and panel"
    yield from _judged(switch, seen.most(across), switch.rating.volts, "between contacts")
    yield from _judged(switch, seen.most(to_shaft), switch.rating.shaft_volts, frame)
    for names, ends in {**across, **to_shaft}.items():
        if not seen.known(ends):
            unknown.update(names.split(" and "))
    for name, (lug, _) in to_shaft.items():
        known, floats = (of[lug, : seen.at_rest] for of in (seen.live.known, seen.live.floating))
        if lug != seen.ground and known.all() and floats.any():
            at = _few([seen.said[number] for number in np.flatnonzero(floats).tolist()], 3)
            floating.setdefault(at, []).append(name)
    wired = [lug for lug in sorted(to_shaft) if len(network.nets.members[node(lug)]) > 1]
    if told := [lug for lug in wired if lug in unknown]:
        why = "are not known in every position: not checked, so not safe; give the points' volts"
        said = f"{switch.name}: the volts at {_few(told, 6)} {why}"
        yield Caution("volts-unknown", said, False, switch.name)
    groups = {at: [lug for lug in wired if lug in lugs] for at, lugs in floating.items()}
    if told := [f"{_few(lugs, 6)} ({at})" for at, lugs in groups.items() if lugs]:
        said = f"{switch.name}: not connected to any volts or to the chassis: {'; '.join(told)}"
        yield Caution("floating", said, False, switch.name)


def _few(names: Sequence[str], most: int) -> str:
    return ", ".join(names[:most]) + (" …" if len(names) > most else "")


def _judged(
    switch: Switch, most: tuple[float, str], may: float | None, said: str
) -> Iterator[Caution]:
    volts, at = most
    text = f"{switch.name}: {with_unit(volts, 'V', 3)} {said} at {at}"
    if may is None and volts >= _SAFE:
        unknown = f"{text}, and no rating is stated: unknown"
        yield Caution("contact-volts", unknown, False, switch.name)
    elif may is not None and _over(volts, may) and volts >= 1.0:
        rated = f"{text}, rated {with_unit(may, 'V', 3)}"
        yield Caution("contact-volts", rated, True, switch.name)


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
                    f"alone makes {share.size:.3g} % of full scale; solder the meter's leads so "
                    "that no contact stands between them and the shunt"
                )
                yield Caution("contact", said, part=part, first=True)


def shorts(network: DcNetwork, original: DcNetwork) -> Iterator[Caution]:
    """Each pair of points of different volts that a wiring shorts.

    It is bad where the original does not; else their volts are in doubt, but where one is 0 V.
    """
    volts = {
        p: 0.0 if p.chassis else p.volts or 0.0
        for p in network.spec.points.values()
        if p.chassis or p.volts is not None
    }
    pairs = [(a, b) for a, b in combinations(volts, 2) if volts[a] != volts[b] and a.ac == b.ac]
    for state in islice(states_that_occur(network.spec), MOST_STATES if pairs else 0):
        ours, theirs = network.ties(state), original.ties(state)
        for pair in list(pairs):
            here, there = (tuple(of.node(p.name) for p in pair) for of in (network, original))
            as_before = theirs.joins(*there)
            doubtful = all(volts[p] and not p.source_resistance for p in pair)
            if ours.joins(*here) and (doubtful or not as_before):
                pairs.remove(pair)
                high, low = sorted(pair, key=lambda p: -abs(volts[p]))
                controls = Routes(network.contacts(state)).between([(here[0], here[1])])
                names = dict.fromkeys(branch.control or "" for branch in controls)
                at = network.positions_said({name: state[name] for name in names})
                where = f" with {at}" if at else ""
                if as_before:
                    yield _in_doubt(high, low, volts, where)
                else:
                    yield _short(high, low, volts, where)


def _short(high: Point, low: Point, volts: Mapping[Point, float], where: str) -> Caution:
    across, ohms = abs(volts[high] - volts[low]), high.source_resistance + low.source_resistance
    amps = with_unit(across / ohms, "A", 3) if ohms else "no limit"
    behind = f" behind {in_ohms(high.source_resistance)}" if high.source_resistance else ""
    stands = f"{high.name}, {with_unit(volts[high], 'V', 3)}{behind}"
    return Caution("short", f"{stands}, is connected to {low.name}{where}: {amps}", True)


def _in_doubt(high: Point, low: Point, volts: Mapping[Point, float], where: str) -> Caution:
    own, other = (f"{p.name} ({with_unit(volts[p], 'V', 3)})" for p in (high, low))
    said = (
        f"{own} and {other} are connected{where} with no resistance between: counted at "
        f"{with_unit(volts[high], 'V', 3)} there; measure, correct their volts or give a "
        "source_resistance"
    )
    return Caution("volts-in-doubt", said, first=True)


def bleeders(solved: Solved, original: Solved) -> Iterator[Caution]:
    """Capacitors at 50 V or more that bleed slower, with every contact open: V e^(-t / RC)."""
    before, points = solved.spec.all_of(Capacitor, original.network.wiring), solved.spec.points
    for name, part in solved.spec.all_of(Capacitor, solved.network.wiring).items():
        nodes = solved.network.nodes_of(part)
        on = (p for p in points.values() if solved.network.node(p.name) in nodes)
        volts = max((abs(point.most_volts) for point in on), default=0.0)
        if name not in before or volts <= _SAFE:
            continue
        now, then = _across(solved, part), _across(original, before[name])
        seconds = log(volts / _SAFE) * part.farads
        told = [
            "nothing bleeds it"
            if isinf(ohms)
            else f"{in_ohms(ohms, 3)} bleed it to {_SAFE:.0f} V in {seconds * ohms:,.0f} s"
            for ohms in (now, then)
        ]
        if now > _SLOWER * then:
            said = f"{name}: {told[0]}, in the original {told[1]}; discharge it by hand"
            yield Caution("bleeder", said, False, name)


def _across(solved: Solved, part: Capacitor) -> float:
    """Ohms across a capacitor with every contact open."""
    network, known = solved.network, filled(solved.values, inf)
    one, other = network.nodes_of(part)
    bare = [branch for branch in network.branches if branch.control is None]
    ((ohms, _),) = Samples(network, bare, [b.ohms(known) for b in bare]).loads([(one, other)])
    return float(ohms[0])
