"""Everything a sheet prints, gathered once from the layers below: printing computes nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from rewire.bench.moves import default_source, default_targets, moves_of
from rewire.bench.probes import Probe, continuity, pairs_to_buzz, states_to_buzz
from rewire.bench.record import Record
from rewire.bench.work_list import Moves
from rewire.circuit.states import LimitReached
from rewire.compare.findings import Result
from rewire.draw.paint import svg_of
from rewire.draw.scene import Panel, Paper, Scene
from rewire.records.spec import Spec, Wiring
from rewire.report.section import Illustration
from rewire.values.answers import WiringValues
from rewire.values.meter_circuit import Solved
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Sources:
    """The files that a sheet is made from, which it carries."""

    spec: bytes
    log: bytes | None = None


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
    solved: Mapping[str, Solved]
    """Per wiring its circuits and values; left out if a limit was reached."""
    moves: tuple[Moves, ...]
    """From what is there to each plan that is shown."""
    limits: tuple[str, ...]
    """What is missing from the sheet because a limit was reached."""
    record: Record | None = None
    """What was measured on the finished wiring, if there is a bench log."""
    paper: Paper = "a4"
    """What its pictures are laid out for."""
    carded: bool = False
    """Whether the card stands before the rest, which says what the marks of a picture mean."""

    @property
    def plans(self) -> tuple[Wiring, ...]:
        """The wirings that work leads to; without work the plans, or an original that is alone."""
        targets = {one.target for one in self.moves}
        planned = tuple(wiring for wiring in self.wirings if wiring.name in targets)
        plans = planned or tuple(w for w in self.wirings if w.role == "plan")
        return plans or (self.wirings if self.spec.wirings.keys() == {"original"} else ())

    def of(self, wiring: Wiring) -> str:
        """Whose a section is, where there are several plans."""
        return f": {wiring.name}" if len(self.plans) > 1 else ""

    @property
    def planned_values(self) -> list[WiringValues]:
        """The values of the plans, as far as no limit was reached."""
        return [self.values[one.name] for one in self.plans if one.name in self.values]


def packet_of(spec: Spec, results: Sequence[Result], names: Sequence[str] | None = None) -> Packet:
    """Gather all answers for a sheet.

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
    names = [wiring.name for wiring in shown]
    limits: list[str] = []

    def each(names: Iterable[str], what: str, made: Callable[[str], T]) -> dict[str, T]:
        """Per name what is made of it; what a limit leaves out is noted."""
        found = {}
        for name in names:
            try:
                found[name] = made(name)
            except LimitReached as limit:
                limits.append(f"{what} {name}: {limit}")
        return found

    values = each(names, "Values of", lambda name: next(iter(values_of(spec, [name]))))
    solved = each(
        names, "Continuity and circuits of", lambda name: solved_of(spec, spec.wirings[name])
    )
    probes = each(solved, "Continuity of", lambda name: _probes(solved[name]))
    source, targets = default_source(spec), _targets(spec, names, results)
    broken = {result.wiring for result in results if result.verdict == "broken"}
    moves = each(targets, f"Moves from {source} to", lambda name: moves_of(spec, source, name))
    return Packet(
        spec=spec, wirings=shown, results=tuple(r for r in results if r.wiring in chosen),
        values=values, probes=probes, solved=solved,
        moves=tuple(replace(one, broken=one.target in broken) for one in moves.values()),
        limits=tuple(dict.fromkeys(limits)),
    )  # fmt: skip


def _shown(spec: Spec, names: Sequence[str]) -> Iterable[str]:
    source = default_source(spec)
    leads_on = not set(names).isdisjoint(default_targets(spec, source))
    return dict.fromkeys((*names, source)) if leads_on else names


def _probes(solved: Solved) -> tuple[Probe, ...]:
    spec, wiring = solved.network.spec, solved.network.wiring
    states = states_to_buzz(spec, wiring)
    return tuple(continuity(spec, wiring, pairs_to_buzz(spec, wiring), states))


def _targets(spec: Spec, shown: Sequence[str], results: Sequence[Result]) -> Sequence[str]:
    """The plans shown; a broken one only where there is no other."""
    targets = [name for name in default_targets(spec, default_source(spec)) if name in shown]
    broken = {result.wiring for result in results if result.verdict == "broken"}
    return [name for name in targets if name not in broken] or targets


def illustration(title: str, panel: Panel) -> Illustration:
    """A drawing, and what it shows in words."""
    drawn = svg_of(Scene(panel.width, panel.height, panel.items, title))
    return Illustration(title, drawn, panel.width, panel.height)
