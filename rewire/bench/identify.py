"""What an unknown switch is, from what was buzzed on it: poles, throws and timing."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import networkx as nx

from rewire.bench.by_hand import flow
from rewire.circuit.circuit import gather
from rewire.reading.buzzout import Buzzout, switch_of, timing_of
from rewire.reading.switches import linked, sections_of_table
from rewire.records.mount import mount_written
from rewire.records.part import Section, Timing
from rewire.records.switches import Groups, form_named


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


def plain_poles(sections: Sequence[Section]) -> list[Pole]:
    """The sections as arms that all move alike; empty where one is no arm."""
    poles = [_pole(section) for section in sections]
    whole = [pole for pole in poles if pole is not None]
    alike = len(whole) == len(poles) and len({pole.throw_at for pole in whole}) == 1
    return whole if alike else []


def _pole(section: Section) -> Pole | None:
    """A section as one arm; None where no lug takes part in all that it closes."""
    groups = [one for one in section.groups if one]
    if any(len(one) > 1 or len(one[0]) != 2 for one in groups):
        return None
    always = set(section.lugs).intersection(*(one[0] for one in groups))
    if not always:
        return None
    common = next(lug for lug in section.lugs if lug in always)
    throws: list[str] = []
    throw_at: list[int | None] = []
    for one in section.groups:
        other = next((lug for group in one for lug in group if lug != common), None)
        if other is not None and other not in throws:
            throws.append(other)
        throw_at.append(None if other is None else throws.index(other) + 1)
    return Pole(common, tuple(throws), tuple(throw_at), len(always) > 1)


def _form_of(poles: Sequence[Pole]) -> str:
    return form_named(len(poles), len(poles[0].throws))


Pair = tuple[str, str]
Trial = tuple[int, Pair | None, Pair | None, Groups]
"""A detent, the readings too many and too few there, and what is closed without them."""
_MOST_MISREAD = 4
"""Most corrections worth naming; where more would do, none is likely."""


@dataclass(frozen=True, slots=True)
class Misread:
    """A reading that may be wrong, and the form that the switch has if it is."""

    form: str
    detent: str
    closed: Pair | None
    """What read closed and should not have; None if nothing did."""
    missing: Pair | None
    """What should have read closed and did not; None if nothing did."""


def misreadings(buzzout: Buzzout) -> list[Misread]:
    """Single readings, one too many or one too few, but for which all arms move alike.

    Where there is none: one that was taken on the wrong lug, so that one is too many and
    another too few in the same detent.
    """
    trials = [
        (number, *trial)
        for number in range(len(buzzout.detents))
        for trial in _trials(buzzout, number)
    ]
    single = sorted((t for t in trials if None in t[1:3]), key=lambda t: t[1] is None)
    double = (t for t in trials if None not in t[1:3])
    found = list(_plain(buzzout, single)) or list(_plain(buzzout, double))
    return found if len(found) <= _MOST_MISREAD else []


def _trials(buzzout: Buzzout, number: int) -> Iterator[tuple[Pair | None, Pair | None, Groups]]:
    """A pair too many in one detent, one too few, or both; and the groups closed without that."""
    closed = buzzout.closed[number]
    for pair, left in _without_one(buzzout, number):
        yield pair, None, left
        for other in _free_pairs(buzzout, number, left):
            if len({*pair, *other}) == 3:
                yield pair, other, (*left, other)
    yield from ((None, other, (*closed, other)) for other in _free_pairs(buzzout, number, closed))


def _plain(buzzout: Buzzout, trials: Iterable[Trial]) -> Iterator[Misread]:
    """Those of the trials with which the switch is a plain form."""
    for number, closed, missing, groups in trials:
        every = (*buzzout.closed[:number], groups, *buzzout.closed[number + 1 :])
        if _may_be_plain(every):
            poles = plain_poles(sections_of_table(linked(buzzout.lugs, every), every, {}))
            if poles:
                yield Misread(
                    _form_of(poles),
                    buzzout.detents[number],
                    closed,
                    missing,
                )


def _without_one(buzzout: Buzzout, number: int) -> Iterator[tuple[Pair, Groups]]:
    """Each pair that was touched, and what is closed without it; out of a group, each lug."""
    touched = buzzout.touched[number]
    for own, group in enumerate(touched):
        rest = (*touched[:own], *touched[own + 1 :])
        if len(group) == 2:
            yield (group[0], group[1]), _joined(buzzout.lugs, rest)
            continue
        for lug in group:
            left = tuple(one for one in group if one != lug)
            yield (left[0], lug), _joined(buzzout.lugs, (*rest, left))


def _joined(lugs: Sequence[str], groups: Groups) -> Groups:
    nets = gather(lugs, groups).members
    return tuple(tuple(sorted(net, key=lugs.index)) for net in nets if len(net) > 1)


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


def _may_be_plain(every: Sequence[Groups]) -> bool:
    """Whether in each detent as many pairs are closed as in any other, or nothing is."""
    counts = {len(groups) for groups in every if groups}
    return len(counts) == 1 and all(len(group) == 2 for groups in every for group in groups)


@dataclass(frozen=True, slots=True)
class Clash:
    """A pair that reads open in a detent, though closed pairs lead from one to the other."""

    detent: str
    pair: tuple[str, str]
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
    """Lugs that close on nothing."""
    clashes: tuple[Clash, ...]
    untested: tuple[tuple[str, tuple[str, str]], ...]
    """Detent and pair that were neither closed, nor open, nor follow from others."""
    block: str
    """Lines for ``controls`` and ``parts`` of a spec."""
    misread: tuple[Misread, ...]
    """Single readings of a table without which it would be a plain form; none if many are."""


def identify(buzzout: Buzzout, name: str = "S1", control: str = "KNOB") -> Identified:
    """What a switch is: form and poles where all arms move alike throw by throw, else a table.

    Name and control are its references in the block for a spec.
    """
    switch = switch_of(buzzout, name)
    whole = plain_poles(switch.sections)
    timings = tuple(timing_of(buzzout, section) for section in switch.sections)
    found = Identified(
        buzzout=buzzout, form=_form_of(whole) if whole else "table", poles=tuple(whole),
        sections=switch.sections, timings=timings, idle=switch.idle_lugs,
        clashes=tuple(_clashes(buzzout)), untested=tuple(_untested(buzzout)), block="",
        misread=() if whole else tuple(misreadings(buzzout)),
    )  # fmt: skip
    return replace(found, block=_block(found, name, control))


def _clashes(buzzout: Buzzout) -> Iterator[Clash]:
    for detent, closed, groups in zip(
        buzzout.detents, buzzout.closed, buzzout.opened or (), strict=False
    ):
        place = {lug: number for number, group in enumerate(closed) for lug in group}
        for group in groups:
            for one, other in combinations(group, 2):
                if one in place and place[one] == place.get(other):
                    number = buzzout.detents.index(detent)
                    way = _way(buzzout.touched[number], one, other)
                    yield Clash(detent, (one, other), way)


def _way(touched: Groups, one: str, other: str) -> tuple[str, ...]:
    """Lugs from one to another over groups that were touched, a shortest way."""
    tied: nx.Graph[str] = nx.Graph(pair for group in touched for pair in combinations(group, 2))
    return tuple(nx.shortest_path(tied, one, other))


def _untested(buzzout: Buzzout) -> Iterator[tuple[str, tuple[str, str]]]:
    """Pairs that nobody touched and that no others settle; none where open pairs are not listed.

    Two lugs are settled apart where any lug tied to one read open against any tied to the other.
    """
    if buzzout.opened is None:
        return
    for detent, closed, opened in zip(buzzout.detents, buzzout.closed, buzzout.opened, strict=True):
        tied = gather(buzzout.lugs, closed).of
        apart = {
            frozenset((tied[one], tied[other]))
            for group in opened
            for one, other in combinations(group, 2)
        }
        told: set[frozenset[int]] = set()
        for one, other in combinations(buzzout.lugs, 2):
            both = frozenset((tied[one], tied[other]))
            if len(both) == 2 and both not in apart and both not in told:
                told.add(both)
                yield detent, (one, other)


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
    lines = [
        f"switch: {found.form}",
        f"control: {control}",
        f"lugs: {flow(lugs)}{f'   # {idle}: no contact' if idle else ''}",
        f"positions: {flow(positions)}" if positions else "",
        "contacts:" if contacts else "",
        *(f"  {flow(detent)}: {flow(groups)}" for detent, groups in contacts),
        f"timing: {flow(_timing(found))}",
        f"style: {buzzout.style}" if buzzout.style else "",
        f"rating: {_rated(buzzout)}" if _rated(buzzout) else "",
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
    said = ", ".join(f"{key}: {value:g} {unit}" for key, value, unit in rated if value is not None)
    return f"{{{said}}}" if said else ""
