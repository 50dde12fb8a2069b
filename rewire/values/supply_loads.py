"""What goes over a rating, or over a meter's full scale, on the set's own supplies.

Readings are judged by their own drives elsewhere; here is what a bleeder, a contact or a meter
takes from the points of known volts, whichever reading is taken or none.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.switches import Switch
from rewire.values.answers import BURNING, OVERLOADED, Caution
from rewire.values.cases import MOST_STATES, UNSTATED_WATTS, Flags, only_with, shown_times
from rewire.values.dc_network import Branch, DcNetwork
from rewire.values.meter_circuit import Solved
from rewire.values.supplies import Fed, SupplyLook, fed, looks_at, sources_of
from rewire.words.quantity import with_unit
from rewire.words.wording import listing

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
_VERBS = {"watts": ("takes", "W"), "volts": ("has", "V"), "amps": ("carries", "A")}


@dataclass(frozen=True, slots=True)
class Supplied:
    """Parts over their ratings on the supplies, in words; and what else to know."""

    parts: Mapping[str, tuple[str, ...]]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class _Like:
    """What the original puts on a part of the same work, in each look, and what that may stand."""

    has: Array
    may: float | None


@dataclass(frozen=True, slots=True)
class _Both:
    """A wiring and the original on the same supplies, in the same looks."""

    here: Fed
    there: Fed
    looks: Sequence[SupplyLook]

    def where(self, over: Flags) -> str:
        """The positions in which something is over, where others are not."""
        spec = self.here.network.spec
        states = [look.state for look, one in zip(self.looks, over, strict=True) if one]
        return only_with(spec, states, [look.state for look in self.looks])

    def source(self, branch: Branch, look: int) -> str:
        """What it comes from."""
        return listing([source.said for source in self.here.feeding(branch, look)])


def supplied(solved: Solved, original: Solved, risen: Collection[str]) -> Supplied:
    """What the points of known volts put on the parts, the contacts and the meters of a wiring.

    Nothing where no volts are given; one caution where the controls have too many positions.
    ``risen`` are meters of which it is told already what they take when a point rises.
    """
    if all(not (point.volts or point.rises_to) for point in solved.spec.points.values()):
        return Supplied({}, ())
    looks = looks_at(solved.spec)
    if not looks:
        return Supplied({}, (Caution("supplies-unknown", TOO_MANY, first=True),))
    sources = sources_of(original.network, looks)
    there = fed(original, sources, looks)
    wrong = set(_not_so(there))
    if wrong:
        sources = [source for source in sources if source.point.name not in wrong]
        there = fed(original, sources, looks)
    both = _Both(fed(solved, sources, looks), there, looks)
    cautions = list[Caution]()
    parts = {name: _part(both, part, cautions) for name, part in solved.network.parts.items()}
    return Supplied(parts, (*cautions, *_contacts(both), *_meters(both, risen)))


def _not_so(original: Fed) -> Iterator[str]:
    """Points without a source resistance that would burn what they feed in the original.

    There is one then, and nobody knows how much: a grid that stands at its bias over a coil.
    """
    for number, branch in enumerate(original.network.branches):
        part = original.network.parts[branch.part]
        volts, amps = original.rms(number)
        has = {"watts": volts * amps, "volts": volts, "amps": amps}
        for quantity, may in part.ratings:
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
    pairs = [of.rms(number) for number in _own(of.network, part)]
    if not pairs:
        return {}
    return {
        "watts": of.looked(sum((v * i for v, i in pairs), start=np.zeros(1))),
        "volts": of.looked(np.max([np.broadcast_to(v, of.shape) for v, _ in pairs], axis=0)),
        "amps": of.looked(np.max([np.broadcast_to(i, of.shape) for _, i in pairs], axis=0)),
    }


def _judged(has: Array, may: float, likes: Sequence[_Like]) -> tuple[Flags, Flags]:
    """Looks in which it is over; and in which the original, without a rating, has as much.

    What burns in the original as well is not told: the volts that are given cannot be so.
    """
    over = has > may * _ROUNDING
    stood, unrated, burnt = (np.zeros(has.shape, dtype=np.bool_) for _ in range(3))
    for like in likes:
        alike = like.has >= _SAME * has
        if like.may is None:
            unrated |= alike
        else:
            stood |= alike & (like.has <= like.may * _ROUNDING)
            burnt |= alike & (like.has > like.may * _ROUNDING)
    return over & ~burnt & (stood | ~unrated), over & ~burnt & unrated & ~stood


def _part(both: _Both, part: Part, cautions: list[Caution]) -> tuple[str, ...]:
    """What is over for one part; what the original does as well goes among the cautions."""
    loads, network = _loads(both.here, part.name), both.here.network
    if not loads or loads["watts"].max() < _NOTHING:
        return ()
    theirs = [
        (both.there.network.parts[name], found)
        for name in network.roles.forerunners(part.name)
        if (found := _loads(both.there, name))
    ]
    first, faults = network.branches[_own(network, part.name)[0]], list[str]()
    for quantity, may in part.ratings:
        has, rated = loads[quantity], with_unit(may, _VERBS[quantity][1], 3)
        likes = [_Like(of[quantity], dict(their.ratings).get(quantity)) for their, of in theirs]
        bad, unsure = _judged(has, may, likes)
        if bad.any():
            faults.append(f"{_said(both, first, quantity, has, bad)}, rated {rated}")
        elif unsure.any():
            said = f"{part.name} {_said(both, first, quantity, has, unsure)}, rated {rated}"
            stood = "so in the original, which gives no rating: see that it stood that"
            cautions.append(Caution("as-original", f"{said}; {stood}", False, part.name))
    unrated, _ = _judged(
        loads["watts"], UNSTATED_WATTS, [_Like(of["watts"], None) for _, of in theirs]
    )
    if part.by_ohms and part.rating_watts is None and unrated.any():
        said = f"{part.name} {_said(both, first, 'watts', loads['watts'], unrated)}"
        text = f"{said} and has no rating: unknown, not safe"
        cautions.append(Caution("rating-unknown", text, False, part.name))
    return tuple(faults)


def _said(both: _Both, branch: Branch, quantity: str, has: Array, over: Flags) -> str:
    """``takes 13.1 W from B_PLUS (96 V behind 60 Ω) with CHECK at A_BATT``."""
    worst = int(np.argmax(np.where(over, has, -1.0)))
    verb, unit = _VERBS[quantity]
    endless = quantity != "volts" and has[worst] > _NO_LIMIT
    size = "more than anything stands" if endless else with_unit(float(has[worst]), unit, 3)
    return f"{verb} {size} from {both.source(branch, worst)}{both.where(over)}"


def _contacts(both: _Both) -> Iterator[Caution]:
    """Contacts that carry more than they may: the worst of each switch."""
    network = both.here.network
    likes = [
        _Like(both.there.looked(both.there.rms(n)[1]), _amps(both.there.network, branch))
        for n, branch in enumerate(both.there.network.branches)
        if branch.control is not None
    ]
    for switch in network.spec.all_of(Switch, network.wiring).values():
        found = list(_overdriven(both, switch, likes))
        if found:
            yield Caution("contact-amps", max(found)[1], True, switch.name)


def _overdriven(both: _Both, switch: Switch, likes: Sequence[_Like]) -> Iterator[tuple[float, str]]:
    """Contacts of a switch that carry more than it may: how much, and so in words."""
    network, may = both.here.network, switch.rating.amps
    for number, branch in enumerate(network.branches):
        if branch.part == switch.name and branch.control is not None and may is not None:
            has = both.here.looked(both.here.rms(number)[1])
            bad, _ = _judged(has, may, likes)
            if bad.any():
                said = _said(both, branch, "amps", has, bad)
                name, rated = network.values[branch.value].name, with_unit(may, "A", 3)
                yield float(has[bad].max()), f"{name} {said}, rated {rated}"


def _amps(network: DcNetwork, branch: Branch) -> float | None:
    return dict(network.parts[branch.part].ratings).get("amps")


def _meters(both: _Both, risen: Collection[str]) -> Iterator[Caution]:
    """Meters that go beyond full scale in operation, or burn at what a point can rise to."""
    network, may = both.here.network, [BURNING if o.risen else OVERLOADED for o in both.looks]
    for meter in network.spec.all_of(Meter, network.wiring).values():
        times = _times(both.here, meter)
        if times is None:
            continue
        stock = network.spec.all_of(Meter, network.spec.original)
        likes = [
            _Like(found / may, 1.0)
            for name in network.roles.forerunners(meter.name)
            if name in stock and (found := _times(both.there, stock[name])) is not None
        ]
        over, _ = _judged(times / may, 1.0, likes)
        if meter.name in risen:
            over &= [not look.risen for look in both.looks]
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
