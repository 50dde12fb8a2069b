"""Stress: watts, volts and amperes that the parts have to stand, against what they may."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, inf, isinf, sqrt

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.spec import (
    Capacitor,
    Diode,
    Fuse,
    Lamp,
    Part,
    Pot,
    Reading,
    Resistor,
    Spec,
    Strip,
    Switch,
)
from rewire.values.board import Board
from rewire.values.flows import Flow, flows
from rewire.values.model import BURNING, OVERLOADED, Caution, PartStress
from rewire.values.pointer import ceiling
from rewire.values.readings import Setup
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
    """What one reading puts on one part."""

    reading: str
    watts: float
    volts: float
    """Across the piece that has most of it."""
    amps: float

    @classmethod
    def of(cls, reading: str, theirs: Sequence[Flow]) -> Load:
        """The load of a part from what its branches carry."""
        return cls(
            reading,
            watts=sum(abs(flow.volts) * flow.at_most for flow in theirs),
            volts=max(abs(flow.volts) for flow in theirs),
            amps=max(flow.at_most for flow in theirs),
        )


def part_stresses(
    board: Board,
    setups: Sequence[Setup],
    values: Sequence[Array | None],
    overload: float | None,
) -> list[PartStress]:
    """The worst of every part that carries current, over all readings.

    Args:
        board: the wiring.
        setups: the readings.
        values: the board's values; a reading with one that is not known is passed over.
        overload: so many times full scale, for a second sum of watts; None for none.

    Returns:
        In the order of the parts. A rating holds for a part as a whole, its working
        volts for each of its pieces.
    """
    at_full = _loads(setups, values, 1.0)
    beyond = _loads(setups, values, overload) if overload else {}
    risen = _risen_loads(board.spec, setups, values)
    stresses = []
    for part in board.parts.values():
        if isinstance(part, Switch | Strip | Diode) or not part.passes_dc:
            continue
        loads = (of.get(part.name, []) for of in (at_full, beyond, risen))
        stresses.append(_stress(part, *loads))
    return stresses


def risen_times(spec: Spec, reading: Reading) -> float:
    """So many times its full scale that a voltage to be read can rise to; 1 where none is said."""
    most = ceiling(spec, reading.places)
    if reading.quantity != "voltage" or isinf(most):
        return 1.0
    return max(1.0, most / reading.full_scale)


def _risen_loads(
    spec: Spec, setups: Sequence[Setup], values: Sequence[Array | None]
) -> dict[str, list[Load]]:
    """As ``_loads``, with each place at what it can rise to."""
    found: dict[str, list[Load]] = {}
    for setup in setups:
        times = risen_times(spec, setup.reading)
        if times > 1.0:
            volts = with_unit(times * setup.reading.full_scale, "V", 3)
            for part, (load,) in _loads([setup], values, times).items():
                said = f"{setup.reading.name} at {volts}, to which it can rise"
                found.setdefault(part, []).append(replace(load, reading=said))
    return found


def risen_meters(
    spec: Spec, setups: Sequence[Setup], values: Sequence[Array | None]
) -> Iterator[Caution]:
    """Meters that go beyond full scale while their place is at what it can rise to."""
    for setup in setups:
        times = risen_times(spec, setup.reading)
        carried = carried_by(setup, values, times) if times > 1.0 else None
        if carried is None or setup.circuit.meter is None or not setup.full_scale:
            continue
        takes = carried[setup.circuit.meter].at_most / setup.full_scale
        if takes > OVERLOADED and setup.meter is not None:
            volts = with_unit(times * setup.reading.full_scale, "V", 3)
            said = (
                f"{setup.meter.name} takes {takes:.2g} times full scale in {setup.reading.name} "
                f"at {volts}, to which it can rise"
            )
            yield Caution("risen", said, takes > BURNING * (1.0 + 1e-9), setup.meter.name)


def _loads(
    setups: Sequence[Setup], values: Sequence[Array | None], times: float
) -> dict[str, list[Load]]:
    found: dict[str, list[Load]] = {}
    for setup in setups:
        carried = carried_by(setup, values, times)
        if carried is None:
            continue
        by_part: dict[str, list[Flow]] = {}
        for branch, flow in zip(setup.circuit.branches, carried, strict=True):
            by_part.setdefault(branch.part, []).append(flow)
        for part, theirs in by_part.items():
            found.setdefault(part, []).append(Load.of(setup.reading.name, theirs))
    return found


def carried_by(
    setup: Setup, values: Sequence[Array | None], times: float = 1.0
) -> list[Flow] | None:
    """Flows of a reading; None where it has no circuit or values are missing."""
    circuit = setup.circuit
    if not circuit.branches or any(values[n] is None for n in circuit.values):
        return None
    return flows(circuit, [np.array([1.0]) if v is None else v for v in values], times)


def _stress(
    part: Part, loads: Sequence[Load], beyond: Sequence[Load], risen: Sequence[Load]
) -> PartStress:
    worst = max(loads, key=lambda load: load.watts, default=None)
    volts = max((load.volts for load in loads), default=None)
    amps = max((load.amps for load in loads), default=None)
    rating = part.rating_watts if isinstance(part, Resistor | Pot) else None
    working = part.working_volts if isinstance(part, Resistor) else None
    every = [*loads, *risen]
    faults = list(
        _exceeded(
            part,
            max(every, key=lambda load: load.watts, default=None),
            max((load.volts for load in every), default=None),
            max((load.amps for load in every), default=None),
        )
    )
    judged = (rating is not None or working is not None or isinstance(part, Fuse)) and loads
    return PartStress(
        part=part.name,
        watts=None if worst is None else worst.watts,
        reading=None if worst is None else worst.reading,
        rating_watts=rating,
        volts=volts,
        working_volts=working,
        amps=amps,
        overload_watts=max((load.watts for load in beyond), default=None),
        risen_watts=max((load.watts for load in risen), default=None),
        risen_volts=max((load.volts for load in risen), default=None),
        ok=not faults if judged else None,
        why="; ".join(faults) or None,
        unrated=isinstance(part, Resistor | Pot) and rating is None and bool(loads),
    )


def _exceeded(
    part: Part, worst: Load | None, volts: float | None, amps: float | None
) -> Iterator[str]:
    """What is passed, in words."""
    if worst is None or volts is None or amps is None:
        return
    if isinstance(part, Resistor | Pot) and part.rating_watts is not None:
        if worst.watts > part.rating_watts:
            takes, may = with_unit(worst.watts, "W", 3), with_unit(part.rating_watts, "W", 3)
            yield f"takes {takes} in {worst.reading}, rated {may}"
        elif isinstance(part, Pot) and amps**2 * part.ohms > part.rating_watts:
            may = with_unit(float(np.sqrt(part.rating_watts / part.ohms)), "A", 3)
            yield f"has {with_unit(amps, 'A', 3)} through part of the track, which stands {may}"
    if isinstance(part, Resistor) and part.working_volts and volts > part.working_volts:
        count = ceil(volts / part.working_volts - 1e-9)
        yield (
            f"has {with_unit(volts, 'V', 3)} across a piece that stands "
            f"{with_unit(part.working_volts, 'V', 3)}: use {count} or more alike in series"
        )
    if isinstance(part, Fuse) and amps > part.rated_amps:
        rated = with_unit(part.rated_amps, "A", 3)
        yield f"has {with_unit(amps, 'A', 3)} through it, a fuse of {rated}"


def ratings(part: Part) -> Iterator[tuple[str, float]]:
    """What a part may stand: ``watts``, ``volts`` or ``amps``, and how many."""
    if isinstance(part, Resistor | Pot) and part.rating_watts is not None:
        yield "watts", part.rating_watts
    if isinstance(part, Pot) and part.rating_watts is not None:
        yield "amps", sqrt(part.rating_watts / part.ohms)
    if isinstance(part, Resistor) and part.working_volts:
        yield "volts", part.working_volts
    if isinstance(part, Fuse):
        yield "amps", part.rated_amps
    if isinstance(part, Lamp):
        yield "volts", part.rated_volts
    if isinstance(part, Capacitor) and part.rating_volts is not None:
        yield "volts", part.rating_volts
    if isinstance(part, Switch) and part.rating.amps is not None:
        yield "amps", part.rating.amps


def share_stood(part: Part, load: Load) -> float:
    """So many times a load, at most, that a part stands by its ratings; infinite without one."""
    has = {"watts": load.watts, "volts": load.volts, "amps": load.amps}
    return min(
        (
            sqrt(may / has[quantity]) if quantity == "watts" else may / has[quantity]
            for quantity, may in ratings(part)
            if has[quantity]
        ),
        default=inf,
    )


def stress_warnings(board: Board, stresses: Sequence[PartStress]) -> Iterator[Caution]:
    """What is passed, what is close, and what is not stated."""
    for one in stresses:
        part = board.parts[one.part]
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
        yield from _unstated(part, one)


def _unstated(part: Part, one: PartStress) -> Iterator[Caution]:
    """What a part has to stand and is not said to."""
    if not isinstance(part, Resistor | Pot):
        return
    if part.rating_watts is None and (one.watts or 0.0) > _UNSTATED_WATTS:
        takes = with_unit(one.watts, "W", 3)
        said = f"{one.part} takes {takes} in {one.reading} and has no rating: unknown, not safe"
        yield Caution("rating-unknown", said, False, one.part)
    unstated = isinstance(part, Resistor) and part.working_volts is None
    if unstated and one.volts and one.volts > _UNSTATED_VOLTS:
        few, many = (ceil(one.volts / stands - 1e-9) for stands in (_STANDS_WELL, _UNSTATED_VOLTS))
        said = (
            f"{one.part} has {with_unit(one.volts, 'V', 3)} across it and no working_volts: "
            f"unknown, not safe; small resistors often stand {_UNSTATED_VOLTS:.0f} to "
            f"{_STANDS_WELL:.0f} V (common practice), so think of "
            f"{f'{few} to {many}' if 1 < few < many else many} alike in series"
        )
        yield Caution("working-volts", said, False, one.part)
