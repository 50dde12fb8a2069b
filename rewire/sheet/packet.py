"""Everything a sheet prints, gathered once from the layers below: printing computes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.bench.continuity import Probe, continuity, pairs_to_buzz, states_to_buzz
from rewire.bench.moves.model import Moves
from rewire.bench.moves.plan import default_source, default_targets, moves_of
from rewire.circuit.states import LimitReached
from rewire.compare.findings import Result
from rewire.spec.model import Spec, Wiring
from rewire.values import WiringValues, values_of
from rewire.values.assemble import work_out
from rewire.values.network import Network, networks_of


@dataclass(frozen=True, slots=True)
class Packet:
    """One spec with all its answers."""

    spec: Spec
    wirings: tuple[Wiring, ...]
    """Those shown, in the order of the spec."""
    results: tuple[Result, ...]
    """The comparison of each shown wiring but the original."""
    values: Mapping[str, WiringValues]
    """Per wiring; one is left out if a limit was reached."""
    probes: Mapping[str, tuple[Probe, ...]]
    """Per wiring what an ohmmeter must find; left out if a limit was reached."""
    networks: Mapping[str, tuple[Network, ...]]
    """Per wiring the circuit of each reading; left out if a limit was reached."""
    moves: tuple[Moves, ...]
    """From what is there to each plan that is shown."""
    limits: tuple[str, ...]
    """What is missing from the sheet because a limit was reached."""

    @property
    def plans(self) -> tuple[Wiring, ...]:
        """The wirings that work leads to; all but the original if none is planned."""
        targets = {one.target for one in self.moves}
        planned = tuple(wiring for wiring in self.wirings if wiring.name in targets)
        return planned or tuple(w for w in self.wirings if w.name != "original")


def packet_of(spec: Spec, results: Sequence[Result], names: Sequence[str] | None = None) -> Packet:
    """Gather the answers for a sheet.

    Args:
        spec: the checked model.
        results: comparisons, as ``rewire.compare.compare`` gives them.
        names: the wirings to show; None for all.

    Raises:
        KeyError: a name that is no wiring of the spec.
        SpecError: a ``choose`` that is no series of values.
    """
    shown = tuple(spec.wirings[name] for name in (names or spec.wirings))
    limits: list[str] = []
    values = {w.name: found for w in shown for found in _values(spec, w, limits)}
    probes = {w.name: found for w in shown for found in _probes(spec, w, limits)}
    networks = {w.name: found for w in shown for found in _networks(spec, w, limits)}
    kept = {wiring.name for wiring in shown}
    return Packet(
        spec=spec, wirings=shown, results=tuple(r for r in results if r.wiring in kept),
        values=values, probes=probes, networks=networks, moves=tuple(_moves(spec, kept, limits)),
        limits=tuple(dict.fromkeys(limits)),
    )  # fmt: skip


def _values(spec: Spec, wiring: Wiring, limits: list[str]) -> Iterator[WiringValues]:
    try:
        yield from values_of(spec, [wiring.name])
    except LimitReached as limit:
        limits.append(f"Values of {wiring.name}: {limit}")


def _probes(spec: Spec, wiring: Wiring, limits: list[str]) -> Iterator[tuple[Probe, ...]]:
    try:
        worked = work_out(spec, wiring)
        states = states_to_buzz(spec, wiring)
    except LimitReached as limit:
        limits.append(f"Continuity of {wiring.name}: {limit}")
        return
    yield tuple(continuity(worked.board, worked.values, pairs_to_buzz(spec, wiring), states))


def _networks(spec: Spec, wiring: Wiring, limits: list[str]) -> Iterator[tuple[Network, ...]]:
    try:
        yield networks_of(spec, wiring)
    except LimitReached as limit:
        limits.append(f"Circuits of {wiring.name}: {limit}")


def _moves(spec: Spec, shown: set[str], limits: list[str]) -> Iterator[Moves]:
    source = default_source(spec)
    for target in default_targets(spec, source):
        if target in shown:
            try:
                yield moves_of(spec, source, target)
            except LimitReached as limit:
                limits.append(f"Moves from {source} to {target}: {limit}")
