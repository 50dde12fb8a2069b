"""What all steps are made from: the two wirings, and what becomes of parts, links and nets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rewire.bench.moves.adopting import Adopted
from rewire.bench.moves.groups import Group, Regrouping, to_join
from rewire.bench.moves.matching import Matching
from rewire.bench.moves.parts import Turnover
from rewire.bench.moves.reuse import reuse_between
from rewire.bench.moves.values import fitted
from rewire.bench.moves.wire_plan import WirePlan, wire_plan
from rewire.records.spec import Spec, Wiring
from rewire.values.lug_volts import LugVolts, lug_volts


@dataclass(frozen=True, slots=True)
class Work:
    """Everything known about the way from one wiring to another."""

    spec: Spec
    source: Wiring
    target: Wiring
    turn: Turnover
    links: Matching
    nets: Regrouping
    adopted: tuple[Adopted, ...]
    """Wires that make a join of ``nets``; not in ``links.out``."""
    joins: tuple[tuple[Group, Group], ...]
    """Places that hang together, and those of the same net that they must be joined to."""
    wires: WirePlan
    values: Mapping[str, str]
    hot_before: Mapping[str, LugVolts]
    """Place of the first wiring → the volts it can stand at, from 50 V on."""
    hot_after: Mapping[str, LugVolts]


def work_between(spec: Spec, source: Wiring, target: Wiring) -> Work:
    """Compare two wirings as things: what becomes of each part, link and net.

    Raises:
        LimitReached: thousands of wires that all hang on one place.
    """
    reuse = reuse_between(spec, source, target)
    return Work(
        spec=spec, source=source, target=reuse.target, turn=reuse.turn, links=reuse.links,
        nets=reuse.nets, adopted=reuse.adopted,
        joins=tuple(join for net in reuse.parts for join in to_join(net)),
        wires=wire_plan(spec, source.name, target.name), values=fitted(spec, target),
        hot_before=lug_volts(spec, source), hot_after=lug_volts(spec, reuse.target),
    )  # fmt: skip
