"""Wires that need no contact: pieces that the original connects in every position."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from rewire.fit.build import bare_wire
from rewire.fit.search import Task
from rewire.fit.stubs import take_out
from rewire.fit.ties import demands_of


def always_connected(task: Task) -> list[tuple[str, str]]:
    """Pairs of places that plain wires may join for good: every position connects them anyway."""
    labels = [demand.may for demand in task.demands if demand is not None]
    groups: dict[tuple[int, ...], list[str]] = {}
    for number, stub in enumerate(task.bare.stubs):
        key = tuple(of_stub[number] for of_stub in labels)
        groups.setdefault(key, []).append(stub.ends[0])
    return [pair for ends in groups.values() for pair in pairwise(ends)]


def hardwired(task: Task, pairs: list[tuple[str, str]]) -> Task:
    """The same task with a plain wire between the places of each pair.

    Raises:
        LimitReached: too many states of other controls bear on it.
    """
    spec, switch = task.spec, task.bare.switch
    numbered = enumerate(pairs, 1)
    wires = (bare_wire(f"plain-{n}", ends, False, switch.place) for n, ends in numbered)
    wired = replace(spec.original, wires=(*spec.original.wires, *wires))
    bare = take_out(replace(spec, wirings={**spec.wirings, wired.name: wired}), switch)
    bare = replace(bare, spec=spec)
    return replace(task, bare=bare, demands=demands_of(bare), hardwired=tuple(pairs))
