"""Stress: watts, volts and amperes that the parts have to stand, against what they may."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, inf, isinf, sqrt

from rewire.records.part import Part
from rewire.records.spec import Reading, Spec
from rewire.values.answers import BURNING, OVERLOADED, Caution, PartStress
from rewire.values.dc_network import ceiling
from rewire.values.meter_circuit import BranchFlow, Setup, Solved, flows
from rewire.words.quantity import with_unit

_HALF = 0.5
"""Share of a rating above which to warn; common practice, no source."""
_UNSTATED_VOLTS = 200.0
"""Volts above which a resistor's working volts should be stated; common practice, no source."""
_STANDS_WELL = 350.0
"""Volts that a half-watt resistor often stands; common practice, no source."""
_UNSTATED_WATTS = 0.125
"""Watts above which a rating should be stated: half of a quarter; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Load:
    """What one reading puts on one part; volts are across the piece that has most of them."""

    reading: str
    watts: float
    volts: float
    amps: float

    def times(self, part: Part) -> float:
        """So many times this load, at most, that a part stands by its ratings."""
        has = {"watts": self.watts, "volts": self.volts, "amps": self.amps}
        return min(
            (
                sqrt(may / has[quantity]) if quantity == "watts" else may / has[quantity]
                for quantity, may in part.ratings
                if has[quantity]
            ),
            default=inf,
        )


def loads_of(solved: Solved, setup: Setup, times: float = 1.0) -> dict[str, Load]:
    """What so many times full scale of a reading puts on each part in its circuit."""
    by_part: dict[str, list[BranchFlow]] = {}
    for branch, flow in flows(setup.circuit, solved.values, times).items():
        by_part.setdefault(branch.part, []).append(flow)
    return {
        part: Load(
            setup.reading.name,
            watts=sum(abs(flow.volts) * flow.at_most for flow in theirs),
            volts=max(abs(flow.volts) for flow in theirs),
            amps=max(flow.at_most for flow in theirs),
        )
        for part, theirs in by_part.items()
    }


def part_stresses(solved: Solved, overload: float | None = None) -> list[PartStress]:
    """The worst of every part that carries current, over all readings, in the order of the parts.

    A rating holds for a part as a whole, its working volts for each of its pieces. ``overload``
    is so many times full scale, for a second sum of watts.
    """
    setups = solved.setups.values()
    at_full = [loads_of(solved, setup) for setup in setups]
    beyond = [loads_of(solved, setup, overload) for setup in setups] if overload else []
    risen = [_risen(solved, setup) for setup in setups]
    stresses = []
    for part in solved.network.parts.values():
        if part.legs:
            every = ([of[part.name] for of in each if part.name in of]
                     for each in (at_full, beyond, risen))  # fmt: skip
            stresses.append(_stress(part, *every))
    return stresses


def risen_times(spec: Spec, reading: Reading) -> float:
    """So many times its full scale that a voltage to be read can rise to; 1 where none is said."""
    most = ceiling(spec, reading.places)
    if reading.quantity != "voltage" or isinf(most):
        return 1.0
    return max(1.0, most / reading.full_scale)


def _risen_said(setup: Setup, times: float) -> str:
    volts = with_unit(times * setup.reading.full_scale, "V", 3)
    return f"{setup.reading.name} at {volts}, to which it can rise"


def _risen(solved: Solved, setup: Setup) -> dict[str, Load]:
    """The loads of a reading with its place at what it can rise to; none where that is no more."""
    times = risen_times(solved.spec, setup.reading)
    loads = loads_of(solved, setup, times) if times > 1.0 else {}
    return {p: replace(load, reading=_risen_said(setup, times)) for p, load in loads.items()}


def risen_meters(solved: Solved) -> Iterator[Caution]:
    """Meters that go beyond full scale while their place is at what it can rise to."""
    for setup in solved.setups.values():
        load = _risen(solved, setup).get(setup.meter_name or "")
        if load is None or not setup.full_scale or setup.circuit.meter is None:
            continue
        takes = load.amps / setup.full_scale
        if takes > OVERLOADED:
            name = setup.meter_name
            said = f"{name} takes {takes:.2g} times full scale in {load.reading}"
            yield Caution("risen", said, takes > BURNING * (1.0 + 1e-9), name)


def _stress(
    part: Part, loads: Sequence[Load], beyond: Sequence[Load], risen: Sequence[Load]
) -> PartStress:
    worst = max(loads, key=lambda load: load.watts, default=None)
    faults = list(_exceeded(part, [*loads, *risen]))
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
        ok=not faults if judged and loads else None,
        why="; ".join(faults) or None,
        unrated=part.by_ohms and part.rating_watts is None and bool(loads),
    )


def _exceeded(part: Part, loads: Sequence[Load]) -> Iterator[str]:
    """What is passed, in words."""
    if not loads:
        return
    may, worst = dict(part.ratings), max(loads, key=lambda load: load.watts)
    volts, amps = max(load.volts for load in loads), max(load.amps for load in loads)
    through = f"has {with_unit(amps, 'A', 3)} through"
    if "watts" in may:
        if worst.watts > may["watts"]:
            takes, rated = with_unit(worst.watts, "W", 3), with_unit(may["watts"], "W", 3)
            yield f"takes {takes} in {worst.reading}, rated {rated}"
        elif amps > may.get("amps", inf):
            yield f"{through} part of the track, which stands {with_unit(may['amps'], 'A', 3)}"
    elif amps > may.get("amps", inf):
        yield f"{through} it, a fuse of {with_unit(may['amps'], 'A', 3)}"
    if part.working_volts and volts > part.working_volts:
        count = ceil(volts / part.working_volts - 1e-9)
        yield (
            f"has {with_unit(volts, 'V', 3)} across a piece that stands "
            f"{with_unit(part.working_volts, 'V', 3)}: use {count} or more alike in series"
        )


def stress_warnings(solved: Solved, stresses: Sequence[PartStress]) -> Iterator[Caution]:
    """What is passed, what is close, and what is not stated."""
    for one in stresses:
        if one.ok is False:
            yield Caution("rating", f"{one.part} {one.why}", True, one.part)
        elif one.watts and one.rating_watts and one.watts > _HALF * one.rating_watts:
            share = 100.0 * one.watts / one.rating_watts
            said = f"{one.part} takes {share:.0f} % of its rating in {one.reading}; keep to half"
            yield Caution("half-rating", said, False, one.part)
        if one.overload_watts and one.rating_watts and one.overload_watts > one.rating_watts:
            takes, may = with_unit(one.overload_watts, "W", 3), with_unit(one.rating_watts, "W", 3)
            said = f"{one.part} takes {takes} at the overload, rated {may}"
            yield Caution("overload", said, True, one.part)
        part = solved.network.parts[one.part]
        if part.by_ohms and one.rating_watts is None and (one.watts or 0.0) > _UNSTATED_WATTS:
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
