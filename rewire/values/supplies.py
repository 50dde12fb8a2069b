"""What the set's own supplies put on parts, contacts and meters, in every position.

Every point of known volts is a source here, so that a part that a wrong wire puts across one is
judged too. Only what is sure is told: a point of a current reading gives no more than its full
scale, of two such points one is the load of the other, and what burns in the original just as
well is a matter of the volts that the spec gives.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from math import inf

import numpy as np

from rewire.circuit.dc import Array, Solution
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Point, Spec
from rewire.records.switches import Switch
from rewire.values.answers import BURNING, OVERLOADED, Caution
from rewire.values.cases import MOST_STATES, UNSTATED_WATTS, VERBS, only_with, shown_times
from rewire.values.dc_network import TINY, Branch, DcNetwork
from rewire.values.meter_circuit import Solved
from rewire.values.readings import tried
from rewire.values.sources import (
    ALL,
    Flags,
    Samples,
    Source,
    WorstMoment,
    by_source,
    closed_ohms,
    part_loads,
    settled,
    source_at,
    states_that_occur,
)
from rewire.words.quantity import with_unit
from rewire.words.wording import listing

_STIFF = 1e-6
"""Ohm: stands for a source of which no resistance is given."""
_CONTACT = 1e-3
"""Ohm: stands for a contact of none, so that contacts side by side share alike."""
_NAMED = 0.1
"""Share of the volts across a part from which a source is named."""
_SAME = 0.95
"""Share of a load from which the original is said to put as much on its own part."""
_ROUNDING = 1.0 + 1e-6
_NOTHING = 1e-12
"""Watts that are only rounding."""
_NO_LIMIT = 1e4
"""Ampere beyond which nothing that is written limits a current."""
TOO_MANY = (
    f"the controls have more than {MOST_STATES} positions together: what the set's own supplies "
    "put on parts, contacts and meters was not worked out, nor every short between them; rewire "
    "check finds those"
)


def most_amps(spec: Spec) -> dict[str, float]:
    """Point → the most that it gives: full scale of the current that is read there.

    0 for one that is only the load of the point which the same current passes first.
    """
    points = {name: point for name, point in spec.points.items() if not point.chassis}
    readings = [reading for w in spec.wirings.values() for reading in w.readings.values()]
    currents = [(r.places, r.full_scale) for r in readings if r.quantity == "current"]
    read = {name for places, _ in currents for name in places}
    currents += [(drive.places, abs(drive.amps)) for r in readings for drive in r.also]
    most, loads = dict[str, float](), set[str]()
    for places, amps in currents:
        here = [points[name] for name in places if name in points]
        most |= {p.name: max(amps, most.get(p.name, 0.0)) for p in here if p.name in read}
        if len(here) == 2:
            loads.add(min(reversed(here), key=lambda p: abs(p.most_volts)).name)
    return most | dict.fromkeys(loads, 0.0)


def sources_of(original: DcNetwork, looks: Sequence[WorstMoment]) -> list[Source]:
    """Every point of known volts, as a source in each look."""
    spec, most = original.spec, most_amps(original.spec)
    points = [p for p in spec.points.values() if not p.chassis and most.get(p.name) != 0.0]
    volts, sources = [_own_volts(original, points, look) for look in looks], list[Source]()
    for point in points:
        own = [there[point.name] for there in volts]
        least = [abs(one or 0.0) / (most.get(point.name) or inf) for one in own]
        ohms = np.maximum(max(point.source_resistance, _STIFF), least)
        sources.append(source_at(point, own, ohms))
    return sources


def _own_volts(
    original: DcNetwork, points: Sequence[Point], look: WorstMoment
) -> dict[str, float | None]:
    """Volts of each point by itself in a look; None where the original feeds it, or has it off."""
    ties, chassis = original.ties(look.state), original.chassis
    found, node = dict[str, float | None](), original.node
    stands = [(p, look.volts(p) if p.source_resistance > 0.0 else p.volts) for p in points]
    for point, own in sorted(stands, key=lambda pair: -abs(pair[1] or 0.0)):
        over = [node(name) for name, volts in found.items() if volts is not None]
        over += [] if point.source_resistance or chassis is None else [chassis]
        fed_there = any(ties.joins(node(point.name), other) for other in over)
        found[point.name] = None if fed_there else own
    return found


@dataclass(frozen=True, slots=True)
class Fed:
    """A wiring on its supplies: what each source alone puts on the nodes, shape (nodes, samples).

    A sample is a look, and in it a trial of what is not known; ``diodes`` is what those that
    conduct put there; ``through`` is ``alone`` with every diode conducting, as AC can have it.
    """

    network: DcNetwork
    sources: Sequence[Source]
    trials: int
    ohms: Sequence[Array]
    alone: Sequence[Array]
    through: Sequence[Array]
    diodes: Array

    def across(self, branch: Branch) -> tuple[Array, Array]:
        """Volts from its first end to its second: DC with its sign, and rms of AC.

        The least that AC can come to: of several sources the phases are not known.
        """
        one, other = branch.ends
        steady, swinging = self.diodes[one] - self.diodes[other], list[Array]()
        for source, volts, on in zip(self.sources, self.alone, self.through, strict=True):
            own = volts[one] - volts[other]
            if source.point.ac:
                swinging.append(np.minimum(np.abs(own), np.abs(on[one] - on[other])))
            else:
                steady = steady + own
        most = np.max(swinging, axis=0) if swinging else np.zeros(1)
        least = np.maximum(2.0 * most - np.sum(swinging, axis=0), 0.0) if swinging else most
        return steady, least

    def rms(self, number: int) -> tuple[Array, Array]:
        """Volts across a branch and ampere through it, by its number."""
        volts = np.hypot(*self.across(self.network.branches[number]))
        return volts, volts / self.ohms[number]

    def looked(self, column: Array) -> Array:
        """A column by looks: the least of the trials of what is not known."""
        whole = np.broadcast_to(column, self.diodes.shape[1:])
        return np.asarray(whole.reshape(-1, self.trials).min(axis=1))

    def feeding(self, branch: Branch, look: int) -> list[Source]:
        """The sources that a branch has its volts from in a look, the one with most first."""
        one, other = branch.ends
        own = [abs(float((v[one] - v[other])[look * self.trials])) for v in self.alone]
        ranked = sorted(zip(own, range(len(own)), strict=True), key=lambda pair: -pair[0])
        return [self.sources[n] for volts, n in ranked if volts > _NAMED * max(own)]


def fed(solved: Solved, sources: Sequence[Source], looks: Sequence[WorstMoment]) -> Fed:
    """Solve a wiring with every point of known volts as a source, in every look."""
    network, values = solved.network, tried(solved.network, solved.values)
    trials = max((value.shape[0] for value in values), default=1)
    known = [np.tile(v, len(looks)) if v.shape[0] > 1 else v for v in values]
    every = [look for look in looks for _ in range(trials)]
    ohms = [
        closed_ohms(b, np.maximum(b.ohms(known), TINY if b.control is None else _CONTACT), every)
        for b in network.branches
    ]
    sources = [
        Source(s.point, np.repeat(s.volts, trials), np.repeat(s.ohms, trials)) for s in sources
    ]
    ground = network.count if network.chassis is None else network.chassis
    samples, feeds = Samples(network, network.branches, ohms).fed(sources, ground)

    def steady(there: Solution, lifted: Array) -> Array:
        seen = zip(by_source(sources, there), sources, strict=True)
        return np.asarray(lifted + sum(volts for volts, s in seen if not s.point.ac))

    found = settled(samples, feeds, ground, steady)
    conducting = samples.solved(feeds, ground, dict.fromkeys(found.on, ALL))
    shape = (found.volts.shape[0], len(every))
    own, through = (
        [np.broadcast_to(volts, shape) for volts in by_source(sources, there)]
        for there in (found.solved, conducting)
    )
    return Fed(network, sources, trials, ohms, own, through, np.broadcast_to(found.lifted, shape))


Like = tuple[Array, float | None]
"""What the original puts on a part of the same work, in each look, and what that may stand."""


@dataclass(frozen=True, slots=True)
class _Both:
    """A wiring and the original on the same supplies, in the same looks."""

    here: Fed
    there: Fed
    looks: Sequence[WorstMoment]

    def where(self, over: Flags) -> str:
        """The positions in which something is over, where others are not."""
        states = [look.state for look, one in zip(self.looks, over, strict=True) if one]
        return only_with(self.here.network.spec, states, [look.state for look in self.looks])

    def source(self, branch: Branch, look: int) -> str:
        """What it comes from."""
        return listing([source.said for source in self.here.feeding(branch, look)])

    def said(self, branch: Branch, quantity: str, has: Array, over: Flags) -> str:
        """``takes 13.1 W from B_PLUS (96 V behind 60 Ω) with CHECK at A_BATT``."""
        worst = int(np.argmax(np.where(over, has, -1.0)))
        verb, unit = VERBS[quantity]
        endless = quantity != "volts" and has[worst] > _NO_LIMIT
        size = "more than anything stands" if endless else with_unit(float(has[worst]), unit, 3)
        return f"{verb} {size} from {self.source(branch, worst)}{self.where(over)}"


def supplied(
    solved: Solved, original: Solved, risen: Collection[str]
) -> tuple[dict[str, list[str]], list[Caution]]:
    """Parts over their ratings on the supplies, in words; and what else is over.

    ``risen`` are meters of which it is told already what they take when a point rises.
    """
    if all(not (point.volts or point.rises_to) for point in solved.spec.points.values()):
        return {}, []
    states = list(islice(states_that_occur(solved.spec), MOST_STATES + 1))
    if len(states) > MOST_STATES:
        return {}, [Caution("supplies-unknown", TOO_MANY, first=True)]
    looks = [WorstMoment(state, opened) for opened in (None, ()) for state in states]
    sources = sources_of(original.network, looks)
    there = fed(original, sources, looks)
    wrong = set(_not_so(there))
    if wrong:
        sources = [source for source in sources if source.point.name not in wrong]
        there = fed(original, sources, looks)
    both = _Both(fed(solved, sources, looks), there, looks)
    told = [said for part in solved.network.parts.values() for said in _part(both, part)]
    over: dict[str, list[str]] = {}
    for one in told:
        if one.bad:
            over.setdefault(one.part or "", []).append(one.message)
    known = [one for one in told if not one.bad]
    return over, [*known, *_contacts(both), *_meters(both, risen)]


def _not_so(original: Fed) -> Iterator[str]:
    """Points without a source resistance that would burn what they feed in the original."""
    for number, branch in enumerate(original.network.branches):
        has = part_loads([original.rms(number)])
        for quantity, may in original.network.parts[branch.part].ratings:
            judged = branch.control is None or quantity == "amps"
            over = original.looked(has[quantity]) > BURNING * may
            if judged and over.any():
                sources = original.feeding(branch, int(np.argmax(over)))
                yield from (s.point.name for s in sources if not s.point.source_resistance)


def _own(network: DcNetwork, part: str) -> list[int]:
    """Numbers of the branches of a part."""
    return [n for n, b in enumerate(network.branches) if b.part == part and b.control is None]


def _loads(of: Fed, part: str) -> dict[str, Array]:
    """Watts, and the most volts and ampere of any piece, of a part in each look."""
    pieces = [of.rms(number) for number in _own(of.network, part)]
    found = part_loads(pieces) if pieces else {}
    return {quantity: of.looked(column) for quantity, column in found.items()}


def _judged(has: Array, may: float, likes: Sequence[Like]) -> tuple[Flags, Flags]:
    """Looks in which it is over; and in which the original, without a rating, has as much."""
    over = has > may * _ROUNDING
    stood, unrated, burnt = (np.zeros(has.shape, dtype=np.bool_) for _ in range(3))
    for theirs, stands in likes:
        alike = theirs >= _SAME * has
        if stands is None:
            unrated |= alike
        else:
            stood |= alike & (theirs <= stands * _ROUNDING)
            burnt |= alike & (theirs > stands * _ROUNDING)
    return over & ~burnt & (stood | ~unrated), over & ~burnt & unrated & ~stood


def _part(both: _Both, part: Part) -> Iterator[Caution]:
    """What is over for one part, bad; or not, where the original does as well."""
    loads, network = _loads(both.here, part.name), both.here.network
    if not loads or loads["watts"].max() < _NOTHING:
        return
    theirs = [
        (dict(both.there.network.parts[name].ratings), found)
        for name in network.roles.forerunners(part.name)
        if (found := _loads(both.there, name))
    ]
    first = network.branches[_own(network, part.name)[0]]
    for quantity, may in part.ratings:
        has, rated = loads[quantity], f"rated {with_unit(may, VERBS[quantity][1], 3)}"
        bad, unsure = _judged(has, may, [(of[quantity], own.get(quantity)) for own, of in theirs])
        if bad.any():
            said = both.said(first, quantity, has, bad)
            yield Caution("rating", f"{said}, {rated}", True, part.name)
        elif unsure.any():
            said = f"{part.name} {both.said(first, quantity, has, unsure)}, {rated}"
            stood = "so in the original, which gives no rating: see that it stood that"
            yield Caution("as-original", f"{said}; {stood}", False, part.name)
    watts = loads["watts"]
    unrated, _ = _judged(watts, UNSTATED_WATTS, [(of["watts"], None) for _, of in theirs])
    if part.by_ohms and part.rating_watts is None and unrated.any():
        said = f"{part.name} {both.said(first, 'watts', watts, unrated)}"
        text = f"{said} and has no rating: unknown, not safe"
        yield Caution("rating-unknown", text, False, part.name)


def _contacts(both: _Both) -> Iterator[Caution]:
    """Contacts that carry more than they may: the worst of each switch."""
    network, worst = both.here.network, dict[str, tuple[float, str]]()
    likes = list(_contact_amps(both.there))
    numbers = [n for n, branch in enumerate(network.branches) if branch.control is not None]
    for number, (has, may) in zip(numbers, _contact_amps(both.here), strict=True):
        bad = np.zeros(1, dtype=np.bool_) if may is None else _judged(has, may, likes)[0]
        if bad.any():
            branch = network.branches[number]
            name, rated = network.values[branch.value].name, with_unit(may, "A", 3)
            said = f"{name} {both.said(branch, 'amps', has, bad)}, rated {rated}"
            most = worst.get(branch.part, (0.0, ""))
            worst[branch.part] = max(most, (float(has[bad].max()), said))
    for name in network.spec.all_of(Switch, network.wiring):
        if name in worst:
            yield Caution("contact-amps", worst[name][1], True, name)


def _contact_amps(of: Fed) -> Iterator[Like]:
    """What each contact carries, and may."""
    for number, branch in enumerate(of.network.branches):
        if branch.control is not None:
            may = dict(of.network.parts[branch.part].ratings).get("amps")
            yield of.looked(of.rms(number)[1]), may


def _meters(both: _Both, risen: Collection[str]) -> Iterator[Caution]:
    """Meters that go beyond full scale in operation, or burn at what a point can rise to."""
    network, looks = both.here.network, both.looks
    may = [OVERLOADED if look.opened is None else BURNING for look in looks]
    stock = network.spec.all_of(Meter, network.spec.original)
    for meter in network.spec.all_of(Meter, network.wiring).values():
        times = _times(both.here, meter)
        if times is None:
            continue
        likes: list[Like] = [
            (found / may, 1.0)
            for name in network.roles.forerunners(meter.name)
            if name in stock and (found := _times(both.there, stock[name])) is not None
        ]
        over, _ = _judged(times / may, 1.0, likes)
        if meter.name in risen:
            over &= [look.opened is None for look in looks]
        if over.any():
            worst = int(np.argmax(np.where(over, times, -1.0)))
            branch = network.branches[_own(network, meter.name)[0]]
            said = (
                f"{meter.name} takes {shown_times(float(times[worst]))} times full scale from "
                f"{both.source(branch, worst)}{both.where(over)}"
            )
            yield Caution("supply", said, True, meter.name)


def _times(of: Fed, meter: Meter) -> Array | None:
    """Full scales through a meter in each look: DC through a moving coil, AC through one for it."""
    own = _own(of.network, meter.name)
    if not own or not meter.movement_amps:
        return None
    steady, swinging = of.across(of.network.branches[own[0]])
    volts = swinging if meter.ac else np.abs(steady)
    return of.looked(volts / of.ohms[own[0]]) / meter.movement_amps
