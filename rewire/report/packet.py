"""Everything a sheet prints, gathered once from the layers below: printing computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.bench.continuity import Probe, continuity, pairs_to_buzz, states_to_buzz
from rewire.bench.moves import default_source, default_targets, moves_of
from rewire.bench.record import Record
from rewire.bench.work_list import Moves
from rewire.circuit.states import LimitReached
from rewire.compare.findings import Result
from rewire.records.spec import Spec, Wiring
from rewire.values import WiringValues, values_of
from rewire.values.assemble import Worked, work_out
from rewire.values.network import Network, network_of


@dataclass(frozen=True, slots=True)
class Packet:
    """One spec with all its answers."""

    spec: Spec
    wirings: tuple[Wiring, ...]
    """Those shown, the plans first and the original last."""
    results: tuple[Result, ...]
    """The comparison of each shown wiring but the original."""
    values: Mapping[str, WiringValues]
    """Per wiring; one is left out if a limit was reached."""
    probes: Mapping[str, tuple[Probe, ...]]
    """Per wiring what an ohmmeter must find; left out if a limit was reached."""
    worked: Mapping[str, Worked]
    """Per wiring its circuits and values; left out if a limit was reached."""
    networks: Mapping[str, tuple[Network, ...]]
    """Per wiring the circuit of each reading; left out if a limit was reached."""
    moves: tuple[Moves, ...]
    """From what is there to each plan that is shown."""
    limits: tuple[str, ...]
    """What is missing from the sheet because a limit was reached."""
    record: Record | None = None
    """What was measured on the finished wiring, if there is a bench log."""

    @property
    def plans(self) -> tuple[Wiring, ...]:
        """The wirings that work leads to; without work the plans, or an original that is alone."""
        targets = {one.target for one in self.moves}
        planned = tuple(wiring for wiring in self.wirings if wiring.name in targets)
        plans = planned or tuple(w for w in self.wirings if w.role == "plan")
        return plans or (self.wirings if self.spec.wirings.keys() == {"original"} else ())


def packet_of(spec: Spec, results: Sequence[Result], names: Sequence[str] | None = None) -> Packet:
    """Gather the answers for a sheet.

    Args:
        spec: the checked model.
        results: comparisons, as ``rewire.compare.compare`` gives them.
        names: the wirings to show; None for all. Where the work on one of them begins is shown
            too: its lugs and wires are the ones to be lifted.

    Raises:
        KeyError: a name that is no wiring of the spec.
        SpecError: a ``choose`` that is no series of values.
    """
    chosen = {spec.wirings[name].name for name in _shown(spec, names or tuple(spec.wirings))}
    shown = tuple(wiring for wiring in spec.told if wiring.name in chosen)
    limits: list[str] = []
    values = {w.name: found for w in shown for found in _values(spec, w, limits)}
    worked = {w.name: found for w in shown for found in _worked(spec, w, limits)}
    probes = {name: found for name, one in worked.items() for found in _probes(one, limits)}
    networks = {
        name: tuple(network_of(one, reading) for reading in one.board.wiring.readings)
        for name, one in worked.items()
    }
    kept = {wiring.name for wiring in shown}
    return Packet(
        spec=spec, wirings=shown, results=tuple(r for r in results if r.wiring in kept),
        values=values, probes=probes, worked=worked, networks=networks,
        moves=tuple(_moves(spec, kept, results, limits)), limits=tuple(dict.fromkeys(limits)),
    )  # fmt: skip


def _shown(spec: Spec, names: Sequence[str]) -> Iterable[str]:
    source = default_source(spec)
    leads_on = not set(names).isdisjoint(default_targets(spec, source))
    return dict.fromkeys((*names, source)) if leads_on else names


def _values(spec: Spec, wiring: Wiring, limits: list[str]) -> Iterator[WiringValues]:
    try:
        yield from values_of(spec, [wiring.name])
    except LimitReached as limit:
        limits.append(f"Values of {wiring.name}: {limit}")


def _worked(spec: Spec, wiring: Wiring, limits: list[str]) -> Iterator[Worked]:
    try:
        yield work_out(spec, wiring)
    except LimitReached as limit:
        limits.append(f"Continuity and circuits of {wiring.name}: {limit}")


def _probes(worked: Worked, limits: list[str]) -> Iterator[tuple[Probe, ...]]:
    spec, wiring = worked.board.spec, worked.board.wiring
    try:
        states = states_to_buzz(spec, wiring)
    except LimitReached as limit:
        limits.append(f"Continuity of {wiring.name}: {limit}")
        return
    yield tuple(continuity(worked.board, worked.values, pairs_to_buzz(spec, wiring), states))


def _moves(
    spec: Spec, shown: set[str], results: Sequence[Result], limits: list[str]
) -> Iterator[Moves]:
    """From what is there to each plan; to a broken wiring only where there is no other."""
    source = default_source(spec)
    broken = {result.wiring for result in results if result.verdict == "broken"}
    targets = [name for name in default_targets(spec, source) if name in shown]
    for target in [name for name in targets if name not in broken] or targets:
        try:
            yield replace(moves_of(spec, source, target), broken=target in broken)
        except LimitReached as limit:
            limits.append(f"Moves from {source} to {target}: {limit}")
