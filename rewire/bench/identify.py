"""What an unknown switch is, from what was buzzed on it: poles, throws and timing."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import networkx as nx

from rewire.bench.by_hand import flow
from rewire.circuit.circuit import gather
from rewire.reading.buzzout import Buzzout, HalfWay, shorted_half_way, switch_of, timing_of
from rewire.reading.switches import linked, sections_of_table
from rewire.records.mount import mount_written
from rewire.records.part import Section, Timing
from rewire.records.switches import Groups, form_named

Pair = tuple[str, str]
_MOST_MISREAD = 4
"""Most corrections worth naming; where more would do, none is likely."""


@dataclass(frozen=True, slots=True)
class Pole:
    """A section that is one arm and its throws."""

    common: str
    throws: tuple[str, ...]
    """In the order in which the detents close them."""
    throw_at: tuple[int | None, ...]
    """Per detent the throw, from 1; None for open."""
    either_way: bool
    """Two lugs that close on each other: which of them is the arm makes no difference."""


@dataclass(frozen=True, slots=True)
class Misread:
    """A reading that may be wrong, and the form that the switch has if it is."""

    form: str
    detent: str
    closed: Pair | None
    """What read closed and should not have; None if nothing did."""
    missing: Pair | None
    """What should have read closed and did not; None if nothing did."""


@dataclass(frozen=True, slots=True)
class Clash:
    """A pair that reads open in a detent, though closed pairs lead from one to the other."""

    detent: str
    pair: Pair
    way: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Identified:
    """What a switch is."""

    buzzout: Buzzout
    form: str
    """``DPDT``, ``3P4T`` and the like, or ``table``."""
    poles: tuple[Pole, ...]
    """Empty for a table."""
    sections: tuple[Section, ...]
    timings: tuple[Timing | Literal["mixed"], ...]
    """Per section, from what was touched between detents, or as stated; else ``unknown``."""
    idle: tuple[str, ...]
    clashes: tuple[Clash, ...]
    untested: tuple[tuple[str, Pair], ...]
    """Detent and pair that were neither closed, nor open, nor follow from others."""
    block: str
    misread: tuple[Misread, ...]
    """Single readings of a table without which it would be a plain form; none if many are."""
    half_way: tuple[HalfWay, ...]


def identify(buzzout: Buzzout, name: str = "S1", control: str = "KNOB") -> Identified:
    """What a switch is, for a spec in which it and its control have these names."""
    switch = switch_of(buzzout, name)
    poles = plain_poles(switch.sections)
    timings = tuple(timing_of(buzzout, section) for section in switch.sections)
    found = Identified(
        buzzout=buzzout, form=_form_of(poles), poles=tuple(poles),
        sections=switch.sections, timings=timings, idle=switch.idle_lugs,
        clashes=tuple(_clashes(buzzout)), untested=tuple(_untested(buzzout)), block="",
        misread=() if poles else tuple(misreadings(buzzout)),
        half_way=shorted_half_way(buzzout),
    )  # fmt: skip
    return replace(found, block=_block(found, name, control))


def plain_poles(sections: Sequence[Section]) -> list[Pole]:
    """The sections as arms that all move alike; empty where one is no arm."""
    poles = [pole for section in sections if (pole := _pole(section))]
    alike = len(poles) == len(sections) and len({pole.throw_at for pole in poles}) == 1
    return poles if alike else []


def _pole(section: Section) -> Pole | None:
    """A section as one arm; None where no lug takes part in all that it closes."""
    groups = [one for one in section.groups if one]
    if any(len(one) > 1 or len(one[0]) != 2 for one in groups):
        return None
    always = set(section.lugs).intersection(*(one[0] for one in groups))
    if not always:
        return None
    common = next(lug for lug in section.lugs if lug in always)
    closed = [
        next((lug for g in one for lug in g if lug != common), None) for one in section.groups
    ]
    throws = list(dict.fromkeys(lug for lug in closed if lug is not None))
    throw_at = tuple(None if lug is None else throws.index(lug) + 1 for lug in closed)
    return Pole(common, tuple(throws), throw_at, len(always) > 1)


def _form_of(poles: Sequence[Pole]) -> str:
    return form_named(len(poles), len(poles[0].throws)) if poles else "table"


# Readings that are wrong, or were not taken


def misreadings(buzzout: Buzzout) -> list[Misread]:
    """Single readings, one too many or one too few, but for which all arms move alike.

    Where there is none: one that was taken on the wrong lug, so that one is too many and
    another too few in the same detent.
    """
    found: dict[int, list[Misread]] = {0: [], 1: [], 2: []}
    for number, detent in enumerate(buzzout.detents):
        for closed, missing, groups in _trials(buzzout, number):
            every = (*buzzout.closed[:number], groups, *buzzout.closed[number + 1 :])
            counts = {len(groups) for groups in every if groups}
            if len(counts) != 1 or any(len(group) != 2 for groups in every for group in groups):
                continue
            poles = plain_poles(sections_of_table(linked(buzzout.lugs, every), every, {}))
            if poles:
                kind = 2 if closed and missing else 1 if missing else 0
                found[kind].append(Misread(_form_of(poles), detent, closed, missing))
    likely = found[0] + found[1] or found[2]
    return likely if len(likely) <= _MOST_MISREAD else []


def _trials(buzzout: Buzzout, number: int) -> Iterator[tuple[Pair | None, Pair | None, Groups]]:
    """A pair too many in one detent, one too few, or both; and the groups closed without that."""
    closed = buzzout.closed[number]
    for pair, left in _without_one(buzzout, number):
        yield pair, None, left
        for other in _free_pairs(buzzout, number, left):
            if len({*pair, *other}) == 3:
                yield pair, other, (*left, other)
    yield from ((None, other, (*closed, other)) for other in _free_pairs(buzzout, number, closed))


def _without_one(buzzout: Buzzout, number: int) -> Iterator[tuple[Pair, Groups]]:
    """Each pair that was touched, and what is closed without it; out of a group, each lug."""
    touched, lugs = buzzout.touched[number], buzzout.lugs
    for own, group in enumerate(touched):
        rest = (*touched[:own], *touched[own + 1 :])
        for lug in group[1:] if len(group) == 2 else group:
            left = tuple(one for one in group if one != lug)
            nets = gather(lugs, (*rest, left)).members
            groups = (tuple(sorted(net, key=lugs.index)) for net in nets if len(net) > 1)
            yield (left[0], lug), tuple(groups)


def _free_pairs(buzzout: Buzzout, number: int, closed: Groups) -> Iterator[Pair]:
    """Pairs that may be missing: an arm, closed wherever it may, and a throw it may have."""
    others = [groups for n, groups in enumerate(buzzout.closed) if n != number]
    used = [{lug for group in groups for lug in group} for groups in others if groups]
    arms, idle = set(buzzout.lugs).intersection(*used), set(buzzout.lugs).difference(*used)
    busy = {lug for group in closed for lug in group}
    mates = {frozenset(group) for groups in others for group in groups}
    for one, other in combinations([lug for lug in buzzout.lugs if lug not in busy], 2):
        if {one, other} & arms and ({one, other} & idle or {one, other} in mates):
            yield one, other


def _clashes(buzzout: Buzzout) -> Iterator[Clash]:
    for number, groups in enumerate(buzzout.opened or ()):
        net = gather(buzzout.lugs, buzzout.closed[number]).of
        touched = (p for group in buzzout.touched[number] for p in combinations(group, 2))
        ways: nx.Graph[str] = nx.Graph(touched)
        for one, other in (pair for group in groups for pair in combinations(group, 2)):
            if net[one] == net[other]:
                way = tuple(nx.shortest_path(ways, one, other))
                yield Clash(buzzout.detents[number], (one, other), way)


def _untested(buzzout: Buzzout) -> Iterator[tuple[str, Pair]]:
    """Pairs that nobody touched and no others settle; none where open pairs are not listed."""
    for number, opened in enumerate(buzzout.opened or ()):
        net = gather(buzzout.lugs, buzzout.closed[number]).of
        pairs = (pair for group in opened for pair in combinations(group, 2))
        told = {frozenset((net[one], net[other])) for one, other in pairs}
        for one, other in combinations(buzzout.lugs, 2):
            both = frozenset((net[one], net[other]))
            if len(both) == 2 and both not in told:
                told.add(both)
                yield buzzout.detents[number], (one, other)


# A block for a spec


def _block(found: Identified, name: str, control: str) -> str:
    """Lines for a spec; what is not known is left out."""
    buzzout, poles = found.buzzout, found.poles
    used = {lug for section in found.sections for lug in section.lugs}
    idle = ", ".join(lug for lug in buzzout.lugs if poles and lug not in used)
    lugs = [(p.common, *p.throws) for p in poles] or buzzout.lugs
    throws = ["open" if at is None else at for at in poles[0].throw_at] if poles else []
    in_order = len(set(throws)) > 1 and throws == list(range(1, len(throws) + 1))
    positions = {} if in_order else dict(zip(buzzout.detents, throws, strict=False))
    contacts = [] if poles else [*zip(buzzout.detents, buzzout.closed, strict=True)]
    mount, note = mount_written(buzzout.mount), buzzout.note or buzzout.title
    rated = _rated(buzzout)
    lines = [
        *(f"# {one.said}" for one in found.half_way),
        f"switch: {found.form}",
        f"control: {control}",
        f"lugs: {flow(lugs)}{f'   # {idle}: no contact' if idle else ''}",
        f"positions: {flow(positions)}" if positions else "",
        "contacts:" if contacts else "",
        *(f"  {flow(detent)}: {flow(groups)}" for detent, groups in contacts),
        f"timing: {flow(_timing(found))}",
        f"style: {buzzout.style}" if buzzout.style else "",
        f"rating: {{{rated}}}" if rated else "",
        f"mount: {flow(mount)}" if mount else "",
        f"note: {json.dumps(note, ensure_ascii=False)}" if note else "",
    ]
    return "\n".join([
        "controls:",
        f"  {control}: {flow(buzzout.detents)}          # in order of travel",
        "parts:",
        f"  {name}:",
        *(f"    {line}" for line in lines if line),
        "",
    ])  # fmt: skip


def _timing(found: Identified) -> object:
    """One timing for all sections, or one for each by its common or first lug."""
    keys = [pole.common for pole in found.poles] or [one.lugs[0] for one in found.sections]
    timings = ["unknown" if timing == "mixed" else timing for timing in found.timings]
    if len(set(timings)) > 1:
        return dict(zip(keys, timings, strict=True))
    return next(iter(timings), "unknown")


def _rated(buzzout: Buzzout) -> str:
    rating = buzzout.rating
    rated = (
        ("volts", rating.volts, "V"), ("amps", rating.amps, "A"),
        ("shaft_volts", rating.shaft_volts, "V"),
    )  # fmt: skip
    return ", ".join(f"{key}: {value:g} {unit}" for key, value, unit in rated if value is not None)
