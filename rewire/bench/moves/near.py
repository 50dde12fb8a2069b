"""Nets that contacts connect to one another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rewire.circuit.circuit import circuit_of
from rewire.records.spec import Spec, Switch, Wiring


def contact_neighbours(spec: Spec, wiring: Wiring) -> dict[int, set[int]]:
    """Net → nets that a switch ties it to in some position."""
    nets = circuit_of(spec, wiring).nets
    beside: dict[int, set[int]] = {}
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for group in _closed(part):
                tied = {nets.of[part.terminal(lug)] for lug in group}
                for net in tied:
                    beside.setdefault(net, set()).update(tied)
    return beside


def _closed(switch: Switch) -> Iterator[tuple[str, ...]]:
    for section in switch.sections:
        for at_position in section.groups:
            yield from at_position


def spread_over(
    beside: Mapping[int, set[int]], start: Iterable[int], not_over: set[int]
) -> set[int]:
    """Nets reached from some, those of ``not_over`` neither entered nor passed."""
    reached = {net for net in start if net not in not_over}
    pending = list(reached)
    while pending:
        for net in beside.get(pending.pop(), ()):
            if net not in reached and net not in not_over:
                reached.add(net)
                pending.append(net)
    return reached
