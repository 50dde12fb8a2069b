"""Single faults: everything opened, shorted, welded or bridged, one at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.lug_positions import neighbours
from rewire.records.parts import Part, Pot
from rewire.records.spec import Spec
from rewire.values.answers import OVERLOADED, Mishap, Strain
from rewire.values.dc_network import TINY, DcNetwork, Setup, Solved, State
from rewire.values.mishaps import (
    Flags,
    Pointer,
    Samples,
    Watched,
    at,
    highest_first,
    overloads,
    pointer_of,
    pointer_told,
    rule_lost,
    rules_at,
    severity,
    standing_volts,
    states_watched,
    watch,
)
from rewire.values.readings import bench_network
from rewire.words.quantity import with_unit

_UNITS = {"watts": "W", "volts": "V", "amps": "A"}


@dataclass(frozen=True, slots=True)
class SingleFault:
    """What fails, and the ohms that branches have then."""

    what: str
    changed: dict[int, float]


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a fault does to one reading; ``reads`` is None where it is not known then."""

    takes: float
    reads: float | None
    usual: float
    overload: bool
    names: tuple[str, str]
    """Of the reading and of its meter."""
    conducting: tuple[str, ...]

    @property
    def gravity(self) -> tuple[bool, float]:
        """An overload first, then how far it reads off."""
        off = 0.0 if self.reads is None else abs(self.reads - self.usual)
        return self.overload, abs(self.takes) if self.overload else off


@dataclass(slots=True)
class _Worst:
    """The worst that a fault does over all readings and states."""

    seen: list[_Seen] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    """Readings that are not known then, for a standing current has no way back."""
    strains: dict[tuple[str, str], Strain] = field(default_factory=dict)
    rules: dict[int, list[State]] = field(default_factory=dict)
    """Rule → the states in which it breaks."""
    rises: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Bench:
    """A wiring on which any one thing can fail: wires are branches, and so is what may bridge.

    ``nominal`` has the ohms of its branches as they should be, ``bridges`` the faults that solder
    makes between lugs that are neighbours.
    """

    network: DcNetwork
    nominal: Sequence[Array]
    bridges: Sequence[SingleFault]

    def failing(self, state: State, faults: Sequence[SingleFault]) -> Samples:
        """What is closed in a state, and what a fault closes; the first sample has no fault."""
        hit: dict[int, list[tuple[int, float]]] = {}
        for row, fault in enumerate(faults, 1):
            for number, ohms in fault.changed.items():
                hit.setdefault(number, []).append((row, ohms))
        branches, columns, failed = [], [], dict[str, Flags]()
        for number, branch in enumerate(self.network.branches):
            part = self.network.parts.get(branch.part)
            closed = branch.closed(state)
            idle = part is None and np.isinf(self.nominal[number]).all()
            if number not in hit and (not closed or idle):
                continue
            column = np.array(self.nominal[number] if closed else [inf])
            if number in hit:
                column = np.repeat(column, len(faults) + 1)
                rows = [row for row, _ in hit[number]]
                column[rows] = [ohms for _, ohms in hit[number]]
                if part is not None and part.open_in_sums:
                    failed[branch.part] = np.isin(np.arange(len(faults) + 1), rows)
            branches.append(branch)
            columns.append(column)
        return Samples(self.network, branches, columns, failed)

    def batches(self, state: State) -> Iterator[list[SingleFault]]:
        """Faults tried together: each kind links other nodes, and fewer links solve faster."""
        for batch in (_opened(self.network, state), _welded(self.network, state), self.bridges):
            faults = list(batch)
            if faults:
                yield faults


def single_faults(solved: Solved) -> list[Mishap]:
    """What each single fault does to the readings, the parts and the rules; worst first.

    Each reading is tried in its own state; rules and points in every state that can matter to
    them and is not ruled out by ``never``.

    Raises:
        LimitReached: more states than are looked at.
    """
    bench = _bench(solved)
    worst: dict[str, _Worst] = {}
    for setup in solved.setups.values():
        state = bench.network.full_state(setup.states[0])
        for faults in bench.batches(state):
            _try_reading(bench, setup, state, faults, worst)
    held: dict[int, list[State]] = {}
    tried = [
        (state, faults, watch(bench.failing(state, faults), rules_at(bench.network, state)))
        for state in states_watched(bench.network, "single faults")
        for faults in bench.batches(state)
    ]
    usual = standing_volts(watched for *_, watched in tried)
    for state, faults, watched in tried:
        holding = [number for number, broken in watched.broken.items() if not broken[0]]
        for number in holding:
            held.setdefault(number, []).append(state)
        for sample, fault in enumerate(faults, 1):
            one = worst.setdefault(fault.what, _Worst())
            _take_rules(one, state, watched, sample, holding)
            for name, volts in watched.rises(sample, usual):
                one.rises[name] = max(volts, one.rises.get(name, 0.0), key=abs)
    mishaps = [_mishap(solved.spec, what, one, held) for what, one in worst.items()]
    return sorted(mishaps, key=severity)


def _bench(solved: Solved) -> _Bench:
    """The wiring with an open branch across every part, every capacitor, every pair of lugs."""
    network = bench_network(solved.spec, solved.network.wiring)
    known = {
        (value.part, value.name): float(found[0])
        for value, found in zip(solved.network.values, solved.values, strict=True)
        if found is not None
    }
    values = [
        np.array([known.get((value.part, value.name), value.nominal)], dtype=float)
        for value in network.values
    ]
    for number, value in enumerate(network.values):
        part = network.parts.get(value.part)
        if part and part.legs and "amps" in dict(part.ratings) and not value.is_setting:
            values[number] = np.maximum(values[number], TINY)
    nominal = [np.asarray(branch.ohms(values)) for branch in network.branches]
    for part in network.parts.values():
        if part.has_role:
            nodes = network.nodes_of(part)
            network.add_branch(f"across {part.name}", (nodes[0], nodes[-1]), inf)
    bridges = list(_bridges(network))
    nominal += [np.full(1, inf)] * (len(network.branches) - len(nominal))
    return _Bench(network, nominal, bridges)


def _bridges(network: DcNetwork) -> Iterator[SingleFault]:
    """An open branch between lugs that are neighbours, and the fault that solder bridges them."""
    for part in network.parts.values():
        for pair in neighbours(part):
            one, other = (part.terminal(lug) for lug in pair)
            ends = network.node(one), network.node(other)
            if ends[0] != ends[1]:
                what = f"solder bridge {one} to {other}"
                yield SingleFault(what, {network.add_branch(what, ends, inf): 0.0})


def _opened(network: DcNetwork, state: State) -> Iterator[SingleFault]:
    """Contacts and wires that open; parts that open or are shorted."""
    of_part: dict[str, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is None:
            of_part.setdefault(branch.part, []).append(number)
        elif branch.closed(state):
            name = network.values[branch.value].name
            yield SingleFault(f"contact {name} open", {number: inf})
    for wire in network.wiring.wires:
        what = f"{wire.named} ({wire.ends[0]} to {wire.ends[1]}) open"
        yield SingleFault(what, dict.fromkeys(of_part[wire.named], inf))
    for part in network.parts.values():
        if part.name in of_part:
            yield from _of_part(part, of_part[part.name], of_part[f"across {part.name}"][0])


def _of_part(part: Part, branches: Sequence[int], bypass: int) -> Iterator[SingleFault]:
    opened = dict.fromkeys(branches, inf)
    if isinstance(part, Pot):
        yield SingleFault(f"{part.name} wiper open", {**opened, bypass: part.ohms})
    yield SingleFault(f"{part.name} open", opened)
    yield SingleFault(f"{part.name} shorted", {bypass: 0.0})


def _welded(network: DcNetwork, state: State) -> Iterator[SingleFault]:
    """Contacts that should be open here and stay closed, as they are in another position."""
    groups: dict[str, dict[int, float]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is not None and not branch.closed(state):
            groups.setdefault(branch.contact, {})[number] = 0.0
    for contact, changed in groups.items():
        yield SingleFault(f"contact {contact} welded", changed)


def _try_reading(
    bench: _Bench,
    setup: Setup,
    state: State,
    faults: Sequence[SingleFault],
    worst: dict[str, _Worst],
) -> None:
    samples = bench.failing(state, faults)
    pointer = pointer_of(samples, setup)
    if pointer is None:
        return
    strained = list(_strained(samples, pointer))
    for sample, fault in enumerate(faults, 1):
        one = worst.setdefault(fault.what, _Worst())
        one.seen.append(_seen(setup, pointer, sample))
        if one.seen[-1].reads is None and not at(pointer.lost, 0):
            one.lost.append(setup.reading.name)
        for name, quantity, may, column in strained:
            has, known = at(column, sample), one.strains.get((name, quantity))
            more = has > OVERLOADED * max(may, at(column, 0)) and name not in fault.what
            if more and (known is None or has > known.has):
                one.strains[name, quantity] = Strain(name, quantity, has, may)


def _seen(setup: Setup, pointer: Pointer, sample: int) -> _Seen:
    takes = at(pointer.takes, sample)
    return _Seen(
        takes,
        None if at(pointer.lost, sample) else at(pointer.reads, sample),
        at(pointer.reads, 0),
        overloads(takes, at(pointer.takes, 0)),
        (setup.reading.name, setup.meter_name or ""),
        tuple(name for name, on in pointer.conducting.items() if at(on, sample)),
    )


def _strained(samples: Samples, pointer: Pointer) -> Iterator[tuple[str, str, float, Array]]:
    """What each part with a rating may stand and has to, for all samples, by quantity."""
    of_part: dict[str, list[tuple[Array, Array]]] = {}
    for branch, ohms in zip(samples.branches, samples.ohms, strict=True):
        if branch.control is None and branch.part in samples.network.parts:
            one, other = branch.ends
            volts = np.abs(pointer.volts[one] - pointer.volts[other])
            with np.errstate(divide="ignore", invalid="ignore"):
                amps = np.where(volts > 0.0, volts / ohms, 0.0)
            of_part.setdefault(branch.part, []).append((volts, amps))
    for name, carried in of_part.items():
        has = {
            "watts": sum((v * i for v, i in carried), start=np.zeros(1)),
            "volts": np.max(np.broadcast_arrays(*(v for v, _ in carried)), axis=0),
            "amps": np.max(np.broadcast_arrays(*(i for _, i in carried)), axis=0),
        }
        for quantity, may in samples.network.parts[name].ratings:
            yield name, quantity, may, has[quantity]


def _take_rules(
    one: _Worst, state: State, watched: Watched, sample: int, holding: Iterable[int]
) -> None:
    for number in holding:
        if at(watched.broken[number], sample):
            one.rules.setdefault(number, []).append(state)


def _mishap(spec: Spec, what: str, worst: _Worst, held: Mapping[int, Sequence[State]]) -> Mishap:
    strains = tuple(sorted(worst.strains.values(), key=lambda one: (-one.times, one.part)))
    seen, rises = (
        max(worst.seen, key=lambda one: one.gravity, default=None),
        highest_first(worst.rises),
    )
    said = [*_pointer_said(worst, seen), *map(_strain_told, strains)]
    said += [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in rises]
    said += [
        f"{rule_lost(spec, number)}{_only_with(spec, worst.rules[number], held[number])}"
        for number in sorted(worst.rules)
    ]
    return Mishap(
        what=what,
        reading=seen.names[0] if seen else None,
        times_full_scale=seen.takes if seen else None,
        deflection=seen.reads if seen else None,
        rules=tuple(sorted(worst.rules)),
        rises=rises,
        message=f"{what}: {'; '.join(said)}" if said else f"{what}: nothing to be seen",
        overload=seen.overload if seen else False,
        strains=strains,
    )


def _pointer_said(worst: _Worst, seen: _Seen | None) -> Iterator[str]:
    if worst.lost:
        yield f"{worst.lost[0]} cannot be worked out: a standing current has no way back"
    if seen is None:
        return
    takes = seen.takes if seen.overload else 0.0
    reads = seen.usual if seen.reads is None else seen.reads
    yield from pointer_told(takes, reads, seen.usual, seen.names)
    if seen.overload and seen.conducting:
        yield f"{', '.join(seen.conducting)} conducting"


def _strain_told(strain: Strain) -> str:
    """What a part has to stand, against what it may."""
    has, may = (with_unit(x, _UNITS[strain.quantity], 3) for x in (strain.has, strain.may))
    verb = "takes" if strain.quantity != "volts" else "has"
    return f"{strain.part} {verb} {has}, rated {may}"


def _only_with(spec: Spec, broken: Sequence[State], held: Sequence[State]) -> str:
    """The positions that it takes to break a rule, where others leave it whole."""
    told = []
    for name, control in spec.controls.items():
        here, anywhere = ({state[name] for state in states} for states in (broken, held))
        if here < anywhere:
            told.append(f"{name} at {' or '.join(control.positions[at] for at in sorted(here))}")
    return f" with {', '.join(told)}" if told else ""
