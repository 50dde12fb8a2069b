"""Readings: the circuit of each in a wiring, where its pointer stands, what the set sees of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.circuit.roles import part_of
from rewire.circuit.states import LimitReached, States
from rewire.records.parts import Meter
from rewire.records.spec import Drive, Reading
from rewire.values.dc_network import Branch, DcNetwork, Routes, State, Values
from rewire.values.meter_circuit import Driven, ReadingCircuit, Setup, Solved, answer
from rewire.words.quantity import with_unit

MOST_STATES = 4096
"""Positions of controls that a reading leaves open and that are all looked at."""
NOT_A_SUM = (
    "a diode or capacitor lies in the only path to the meter: calibrate against a known source"
)
NEVER_TAKEN = "'never' forbids every state it could be taken in"
NO_PATH = "there is no path between its points"
SHORTED = "its two points are shorted to each other"
_SAME = 1e-9
_TRIALS = 4
"""Values tried for what is not known."""


def meter_of(network: DcNetwork, reading: Reading) -> Meter | None:
    """The meter that is read in a wiring: the original's, or the part in its role."""
    spec = network.spec
    meters = spec.all_of(Meter, spec.original)
    name = reading.meter or (next(iter(meters)) if len(meters) == 1 else None)
    plays = network.roles.seat.get(f"{name}.+")
    return spec.all_of(Meter, network.wiring).get(part_of(plays)) if plays else None


def setup_of(network: DcNetwork, states: States, reading: Reading) -> Setup | None:
    """Find the circuits of a reading; None if it can never be taken (``never`` forbids it).

    Raises:
        LimitReached: more states than are looked at.
    """
    meter = meter_of(network, reading)
    names = network.controls_between(network.pairs(reading) or []) | set(reading.when)
    frame = states.frame(names, f"reading {reading.name}")
    mask = states.possible(frame) & states.selected(frame, reading.when)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"reading {reading.name}: the positions its 'when' leaves open make "
            f"{mask.bit_count():,} states, more than {MOST_STATES:,}; fix more controls in 'when'"
        )
    found = tuple(network.numbered(state) for state in frame.states(mask))
    name = meter.name if meter else None
    circuits = tuple(reading_circuit(network, reading, name, state) for state in found)
    return Setup(reading, meter, found, circuits) if found else None


def reading_circuit(
    network: DcNetwork, reading: Reading, meter: str | None, state: State
) -> ReadingCircuit:
    """The circuit of a reading with the controls in ``state`` (those that can matter)."""
    pairs, current = network.pairs(reading), reading.quantity == "current"
    amps, volts = (reading.full_scale, None) if current else (None, reading.full_scale)
    own = 0.0 if current else reading.source_resistance
    if pairs is None:
        said = f"a point of it is missing in {network.wiring.name}"
        return ReadingCircuit(0, (), (0, 0), amps, volts, own, blind=True, why=said)
    bare = ReadingCircuit(network.count, (), pairs[0], amps, volts, own)
    closed = [branch for branch in network.branches if branch.closed(state)]
    routes = Routes(closed)
    standing = zip(reading.also, pairs[1:], strict=True)
    lost = next((_no_way(drive) for drive, ends in standing if not routes.linked(*ends)), None)
    diodes = _only_through_diodes(network, closed, pairs, meter)
    if network.ties(state).joins(*pairs[0]):
        bare = replace(bare, blind=not current, why=SHORTED, tied=True)
    elif routes.linked(*pairs[0]):
        whole = replace(bare, branches=tuple(routes.between(pairs)))
        whole = _carrying(network, reading, meter, whole, pairs)
        whole = replace(whole, blind=True, why=NOT_A_SUM) if diodes else whole
        return whole if lost is None else replace(whole, blind=True, why=lost)
    else:
        bare = replace(bare, blind=diodes or current, why=NOT_A_SUM if diodes else NO_PATH)
    if lost is not None:
        return replace(bare, blind=True, why=lost)
    if bare.blind or not reading.also:
        return bare
    # its own drive, of no ampere, stands where the first of the standing ones flows
    still = replace(
        bare, branches=tuple(routes.between(pairs[1:])), ends=pairs[1], amps=0.0, volts=None,
        source_ohms=0.0, felt=False,
    )  # fmt: skip
    alone = _carrying(network, reading, meter, still, pairs)
    return alone if alone.blind else replace(alone, why=bare.why)


def _only_through_diodes(
    network: DcNetwork, closed: Sequence[Branch], pairs: Sequence[Ends], meter: str | None
) -> bool:
    """Whether the meter is reached, but only through what a DC sum takes as open."""
    without, through = (
        any(branch.part == meter for branch in Routes(branches).between(pairs))
        for branches in (closed, [*closed, *network.blocked])
    )
    return meter is not None and through and not without


def _no_way(drive: Drive) -> str:
    """What to say of a standing current that has no path from its first point to its second."""
    one, other = drive.places
    amps = with_unit(drive.amps, "A")
    return f"the standing current of {amps} from {one} to {other} has no return path"


def _carrying(
    network: DcNetwork,
    reading: Reading,
    meter: str | None,
    bare: ReadingCircuit,
    pairs: Sequence[Ends],
) -> ReadingCircuit:
    """A circuit with its standing drives, and its meter or why there is none."""
    at = next((i for i, b in enumerate(bare.branches) if b.part == meter), None)
    why = f"{meter} is not in circuit" if at is None else None
    if meter is None:
        why = f"no part of {network.wiring.name} has the role of its meter"
    drives = zip(pairs[1:], reading.also, strict=True)
    also = tuple(Driven(ends, drive.amps) for ends, drive in drives)
    return replace(bare, also=also, meter=at, blind=meter is None, why=why)


@dataclass(frozen=True, slots=True)
class Nominal:
    """Ampere through the meter and insertion ohms of one circuit; None is unknown, ``why`` why."""

    amps: float | None
    insertion: float | None
    why: str | None = None


def nominal(network: DcNetwork, circuit: ReadingCircuit, values: Values) -> Nominal:
    """What a circuit does with these values.

    A value that is not known is tried at several sizes: what it does not change is known.
    """
    without = inf if circuit.why == NO_PATH else None
    if circuit.tied:
        without = None if circuit.amps is None else 0.0
    if not circuit.branches:
        return Nominal(None if circuit.blind else 0.0, without, circuit.why)
    if not circuit.felt:
        return replace(nominal(network, replace(circuit, felt=True), values), insertion=without)
    found = answer(circuit, tried(network, values))
    amps, insertion = _settled(found.amps), _settled(found.insertion)
    if circuit.blind:
        return Nominal(None, insertion, circuit.why)
    if amps is None:
        unknown = (network.values[n].name for n in circuit.values if values[n] is None)
        named = ", ".join(dict.fromkeys(unknown))
        return Nominal(None, insertion, f"it depends on what is not known: {named}")
    if circuit.amps is not None:
        most = circuit.amps + sum(abs(drive.amps) for drive in circuit.also)
        amps = 0.0 if abs(amps) < 1e-14 * most else amps  # a shorted meter takes no current
    return Nominal(amps, insertion, circuit.why)


def nominal_of(solved: Solved, setup: Setup) -> Nominal:
    """What a reading comes to with the values of a wiring worked out."""
    return nominal(solved.network, setup.circuit, solved.values)


def error_percent(solved: Solved, setup: Setup) -> float | None:
    """How far a reading is off, percent of full scale; None if not known."""
    amps = nominal_of(solved, setup).amps
    if amps is None or not setup.full_scale:
        return None
    return 100.0 * (amps / setup.full_scale - 1.0)


def tried(network: DcNetwork, values: Values) -> list[Array]:
    """Values; those that are not known at several sizes, no two alike nor of the same sum."""
    return [
        value if value is not None else _sizes(n, network.values[n].is_setting)
        for n, value in enumerate(values)
    ]


def _sizes(number: int, is_setting: bool) -> Array:
    """Shares of a travel, or 10 ohm to 40 kohm, at random but always the same for a value."""
    at = np.random.default_rng(number).uniform(0.05, 0.95, _TRIALS)
    return at if is_setting else np.asarray(10.0 ** (1.0 + 3.6 * at))


def _settled(found: Array) -> float | None:
    """The one number that all samples agree on, if they do."""
    first = float(found[0])
    if not np.isfinite(found).all() or np.ptp(found) > _SAME * max(abs(first), 1e-300):
        return None
    return first


def disagreeing(solved: Solved, ready: Setup) -> tuple[str, ...]:
    """Controls that ``when`` leaves open and on which the reading depends."""
    circuits = dict.fromkeys(ready.circuits)
    if len(circuits) == 1:
        return ()
    seen = {one: nominal(solved.network, one, solved.values) for one in circuits}
    answers = [seen[circuit] for circuit in ready.circuits]
    if all(_alike(answers[0], one) for one in answers[1:]):
        return ()
    return tuple(_guilty(ready.states, answers)) or tuple(ready.states[0])


def depends_on(loose: Sequence[str]) -> str:
    """What to say of a reading that depends on controls that may be anywhere."""
    return f"it depends on {', '.join(loose)}, which 'when' does not fix to one position"


def _guilty(states: Sequence[State], answers: Sequence[Nominal]) -> Iterator[str]:
    """Controls that change the answer when they alone move."""
    for name in states[0]:
        groups: dict[tuple[tuple[str, int], ...], Nominal] = {}
        for state, one in zip(states, answers, strict=True):
            rest = tuple((other, at) for other, at in state.items() if other != name)
            if not _alike(groups.setdefault(rest, one), one):
                yield name
                break


def _alike(one: Nominal, other: Nominal) -> bool:
    return all(
        a == b or (a is not None and b is not None and abs(a - b) <= _SAME * max(abs(a), abs(b)))
        for a, b in ((one.amps, other.amps), (one.insertion, other.insertion))
    )
