"""Single faults: everything opened, shorted, welded or bridged, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.part import Part
from rewire.records.spec import Spec
from rewire.records.switches import neighbours
from rewire.values.answers import OVERLOADED, Mishap, Strain
from rewire.values.dc_network import TINY, DcNetwork, State, bench_network
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.mishaps import (
    Pointer,
    Samples,
    Variant,
    at,
    highest_first,
    overloads,
    pointer_of,
    pointer_told,
    rises_told,
    rule_lost,
    rules_at,
    samples_of,
    severity,
    standing_volts,
    states_watched,
    watch,
)
from rewire.words.quantity import with_unit

_UNITS = {"watts": "W", "volts": "V", "amps": "A"}
_SOUND = Variant("", {})


@dataclass(slots=True)
class _Worst:
    """The worst that a fault does over all readings and states.

    ``lost`` are readings that are not known then, for a standing current has no way back.
    """

    reading: Mishap | None = None
    off: float = 0.0
    said: tuple[str, ...] = ()
    lost: list[str] = field(default_factory=list)
    strains: dict[tuple[str, str], Strain] = field(default_factory=dict)
    rules: dict[int, list[State]] = field(default_factory=dict)
    rises: dict[str, float] = field(default_factory=dict)

    def take(self, seen: Mishap, off: float, said: Sequence[str]) -> None:
        """Keep what is seen of one reading if it is worse: an overload first, then how far off."""
        if self.reading is None or (seen.overload, off) > (self.reading.overload, self.off):
            self.reading, self.off, self.said = seen, off, tuple(said)


def single_faults(solved: Solved) -> list[Mishap]:
    """What each single fault does to the readings, the parts and the rules; worst first.

    Each reading is tried in its own state; rules and points in every state that can matter to
    them and is not ruled out by ``never``.

    Raises:
        LimitReached: more states than are looked at.
    """
    network, values, bridges = _bench(solved)
    worst: dict[str, _Worst] = {}
    for setup in solved.setups.values():
        state = network.full_state(setup.states[0])
        for faults in _batches(network, state, bridges):
            _try_reading(samples_of(network, values, state, faults), setup, faults, worst)
    tried = [
        (state, faults, watch(samples_of(network, values, state, faults), rules_at(network, state)))
        for state in states_watched(network, "single faults")
        for faults in _batches(network, state, bridges)
    ]
    usual, held = standing_volts(watched for *_, watched in tried), dict[int, list[State]]()
    for state, faults, watched in tried:
        holding = [number for number, broken in watched.broken.items() if not broken[0]]
        for number in holding:
            held.setdefault(number, []).append(state)
        for sample, fault in enumerate(faults[1:], 1):
            one = worst.setdefault(fault.what, _Worst())
            for number in holding:
                if at(watched.broken[number], sample):
                    one.rules.setdefault(number, []).append(state)
            for name, volts in watched.rises(sample, usual).items():
                one.rises[name] = max(volts, one.rises.get(name, 0.0), key=abs)
    mishaps = [_mishap(solved.spec, what, one, held) for what, one in worst.items()]
    return sorted(mishaps, key=severity)


def _bench(solved: Solved) -> tuple[DcNetwork, list[Array], list[Variant]]:
    """The wiring with an open branch across every part and every pair of lugs side by side.

    Also its values as they should be, and the faults that bridge such lugs.
    """
    network = bench_network(solved.spec, solved.network.wiring)
    for part in network.parts.values():
        if part.has_role:
            nodes = network.nodes_of(part)
            network.add_branch(f"across {part.name}", (nodes[0], nodes[-1]), inf)
    bridges = list(_bridges(network))
    own = zip(solved.network.values, solved.known, strict=True)
    known = {(value.part, value.name): found for value, found in own}
    values = [known.get((v.part, v.name), np.array([v.nominal or 0.0])) for v in network.values]
    for number, value in enumerate(network.values):
        own_part = network.parts.get(value.part)
        rated = own_part is not None and own_part.legs and "amps" in dict(own_part.ratings)
        if rated and not value.is_setting:
            values[number] = np.maximum(values[number], TINY)
    return network, values, bridges


def _bridges(network: DcNetwork) -> Iterator[Variant]:
    """An open branch between lugs that are neighbours, and the fault that solder bridges them."""
    for part in network.parts.values():
        for pair in neighbours(part):
            one, other = (part.terminal(lug) for lug in pair)
            ends = network.node(one), network.node(other)
            if ends[0] != ends[1]:
                what = f"solder bridge {one} to {other}"
                yield Variant(what, {network.add_branch(what, ends, inf): 0.0})


def _batches(
    network: DcNetwork, state: State, bridges: Sequence[Variant]
) -> Iterator[list[Variant]]:
    """Faults tried together, behind none: each kind links other nodes, and few solve fast."""
    for batch in (_opened(network, state), _welded(network, state), bridges):
        faults = [_SOUND, *batch]
        if len(faults) > 1:
            yield faults


def _opened(network: DcNetwork, state: State) -> Iterator[Variant]:
    """Contacts and wires that open; parts that open or are shorted."""
    of_part: dict[str, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is None:
            of_part.setdefault(branch.part, []).append(number)
        elif branch.closed(state):
            yield Variant(f"contact {network.values[branch.value].name} open", {number: inf})
    for wire in network.wiring.wires:
        what = f"{wire.named} ({wire.ends[0]} to {wire.ends[1]}) open"
        yield Variant(what, dict.fromkeys(of_part[wire.named], inf))
    for part in network.parts.values():
        if part.name in of_part:
            yield from _of_part(part, of_part[part.name], of_part[f"across {part.name}"][0])


def _of_part(part: Part, branches: Sequence[int], bypass: int) -> Iterator[Variant]:
    opened = dict.fromkeys(branches, inf)
    if part.track_ohms is not None:
        yield Variant(f"{part.name} wiper open", {**opened, bypass: part.track_ohms})
    yield Variant(f"{part.name} open", opened)
    yield Variant(f"{part.name} shorted", {bypass: 0.0})


def _welded(network: DcNetwork, state: State) -> Iterator[Variant]:
    """Contacts that should be open here and stay closed, as they are in another position."""
    groups: dict[str, dict[int, float]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is not None and not branch.closed(state):
            groups.setdefault(branch.contact, {})[number] = 0.0
    return (Variant(f"contact {contact} welded", ohms) for contact, ohms in groups.items())


def _try_reading(
    samples: Samples, setup: Setup, faults: Sequence[Variant], worst: dict[str, _Worst]
) -> None:
    pointer = pointer_of(samples, setup)
    if pointer is None:
        return
    strained = list(_strained(samples, pointer))
    name, usual = setup.reading.name, at(pointer.reads, 0)
    for sample, fault in enumerate(faults[1:], 1):
        one = worst.setdefault(fault.what, _Worst())
        takes, lost = at(pointer.takes, sample), bool(at(pointer.lost, sample))
        reads = usual if lost else at(pointer.reads, sample)
        over = overloads(takes, at(pointer.takes, 0))
        said = list(
            pointer_told(takes if over else 0.0, reads, usual, (name, setup.meter_name or ""))
        )
        conducting = [diode for diode, on in pointer.conducting.items() if at(on, sample)]
        if over and conducting:
            said.append(f"{', '.join(conducting)} conducting")
        seen = Mishap(fault.what, name, takes, None if lost else reads, overload=over)
        one.take(seen, abs(takes) if over else abs(reads - usual), said)
        if lost and not at(pointer.lost, 0):
            one.lost.append(name)
        for part, quantity, may, column in strained:
            has, known = at(column, sample), one.strains.get((part, quantity))
            more = has > OVERLOADED * max(may, at(column, 0)) and part not in fault.what
            if more and (known is None or has > known.has):
                one.strains[part, quantity] = Strain(part, quantity, has, may)


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


def _mishap(spec: Spec, what: str, worst: _Worst, held: dict[int, list[State]]) -> Mishap:
    strains = tuple(sorted(worst.strains.values(), key=lambda one: (-one.times, one.part)))
    seen, rises = worst.reading or Mishap(what, None, None, None), highest_first(worst.rises)
    back = "cannot be worked out: a standing current has no way back"
    said = [
        *(f"{name} {back}" for name in worst.lost[:1]),
        *worst.said,
        *map(_strain_told, strains),
        *rises_told(rises),
        *(
            f"{rule_lost(spec, number)}{_only_with(spec, worst.rules[number], held[number])}"
            for number in sorted(worst.rules)
        ),
    ]
    return Mishap(
        what, seen.reading, seen.times_full_scale, seen.deflection,
        tuple(sorted(worst.rules)), rises,
        f"{what}: {'; '.join(said) or 'nothing to be seen'}", seen.overload, strains,
    )  # fmt: skip


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
