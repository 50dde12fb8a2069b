"""What an unknown switch is, from what was buzzed on it: poles, throws and timing."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from rewire.circuit.circuit import gather
from rewire.reading.buzzout import Buzzout, switch_of, timing_of
from rewire.records.spec import Section, Timing
from rewire.records.switches import Groups, linked, sections_of_table

_FEW = {1: "S", 2: "D"}


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
    """The sections as arms that all move alike; empty where one of them is none."""
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


def form_of(poles: Sequence[Pole]) -> str:
    """``DPDT``, ``3P4T`` and the like."""
    count, throws = len(poles), len(poles[0].throws)
    return f"{_FEW.get(count, count)}P{_FEW.get(throws, throws)}T"


Pair = tuple[str, str]
_MOST_MISREAD = 4
"""Corrections that are worth naming; where more would do, none is likely."""


@dataclass(frozen=True, slots=True)
class Misread:
    """A reading that may be wrong, and the form that the switch has if it is."""

    form: str
    detent: str
    closed: Pair | None
    """What read closed and should not have; None if that is not it."""
    missing: Pair | None
    """What should have read closed and did not; None if that is not it."""


def misreadings(buzzout: Buzzout) -> list[Misread]:
    """Single readings, one too many or one too few, but for which all arms move alike.

    Where there is none: one that was taken on the wrong lug, so that one is too many and
    another too few in the same detent.
    """
    desk = _Trials(buzzout)
    found = [*desk.one_too_many(), *desk.one_too_few()] or list(desk.on_the_wrong_lug())
    return found if len(found) <= _MOST_MISREAD else []


class _Trials:
    """A buzz-out, and what it would be with other groups closed in one detent."""

    def __init__(self, buzzout: Buzzout) -> None:
        self._buzzout, self._lugs = buzzout, buzzout.lugs
        self._numbers = range(len(buzzout.detents))

    def one_too_many(self) -> Iterator[Misread]:
        for number in self._numbers:
            for pair, left in self._without_one(number):
                yield from self._plain(number, left, pair, None)

    def one_too_few(self) -> Iterator[Misread]:
        for number in self._numbers:
            closed = self._buzzout.closed[number]
            for pair in self._free_pairs(number, closed):
                yield from self._plain(number, (*closed, pair), None, pair)

    def on_the_wrong_lug(self) -> Iterator[Misread]:
        for number in self._numbers:
            for pair, left in self._without_one(number):
                for other in self._free_pairs(number, left):
                    if len({*pair, *other}) == 3:
                        yield from self._plain(number, (*left, other), pair, other)

    def _plain(
        self, number: int, groups: Groups, closed: Pair | None, missing: Pair | None
    ) -> Iterator[Misread]:
        """It, if the switch is a plain form with these groups closed in that detent."""
        every = [*self._buzzout.closed]
        every[number] = groups
        if not _may_be_plain(every):
            return
        sections = sections_of_table(linked(self._lugs, every), every, {})
        poles = plain_poles(sections)
        if poles:
            detent = self._buzzout.detents[number]
            yield Misread(form_of(poles), detent, closed, missing)

    def _without_one(self, number: int) -> Iterator[tuple[Pair, Groups]]:
        """Each pair that was touched, and what is closed without it; out of a group, each lug."""
        touched = self._buzzout.touched[number]
        for own, group in enumerate(touched):
            rest = (*touched[:own], *touched[own + 1 :])
            if len(group) == 2:
                yield (group[0], group[1]), self._joined(rest)
                continue
            for lug in group:
                left = tuple(one for one in group if one != lug)
                yield (left[0], lug), self._joined((*rest, left))

    def _joined(self, groups: Groups) -> Groups:
        nets = gather(self._lugs, groups).members
        order = {lug: number for number, lug in enumerate(self._lugs)}
        return tuple(tuple(sorted(net, key=order.__getitem__)) for net in nets if len(net) > 1)

    def _free_pairs(self, number: int, closed: Groups) -> Iterator[Pair]:
        """Pairs that may be missing: an arm, closed wherever it may, and a throw it may have."""
        others = [groups for n, groups in enumerate(self._buzzout.closed) if n != number]
        used = [{lug for group in groups for lug in group} for groups in others if groups]
        arms = set(self._lugs).intersection(*used)
        busy = {lug for group in closed for lug in group}
        free = [lug for lug in self._lugs if lug not in busy]
        idle = set(self._lugs).difference(*used)
        mates = {frozenset(group) for groups in others for group in groups}
        for one, other in combinations(free, 2):
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
    """Find out what a switch is.

    Args:
        buzzout: what was buzzed on it.
        name: its reference in the block.
        control: the name of its control in the block.

    Returns:
        Its form and poles where every section is an arm that closes on one throw at a time and
        all arms move alike; else a table.
    """
    switch = switch_of(buzzout, name)
    whole = plain_poles(switch.sections)
    timings = tuple(timing_of(buzzout, section) for section in switch.sections)
    form = form_of(whole) if whole else "table"
    lines = _block(buzzout, name, control, form, whole, switch.sections, timings)
    return Identified(
        buzzout=buzzout, form=form, poles=tuple(whole), sections=switch.sections, timings=timings,
        idle=switch.idle_lugs, clashes=tuple(_clashes(buzzout)), untested=tuple(_untested(buzzout)),
        block="".join(f"{line}\n" for line in lines),
        misread=() if whole else tuple(misreadings(buzzout)),
    )  # fmt: skip


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
    ways: dict[str, tuple[str, ...]] = {one: (one,)}
    waiting = [one]
    for here in waiting:
        for group in touched:
            if here in group:
                for lug in group:
                    if lug not in ways:
                        ways[lug] = (*ways[here], lug)
                        waiting.append(lug)
    return ways.get(other, (one, other))


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


def _block(
    buzzout: Buzzout,
    name: str,
    control: str,
    form: str,
    poles: Sequence[Pole],
    sections: Sequence[Section],
    timings: Sequence[Timing | Literal["mixed"]],
) -> Iterator[str]:
    positions = [_quoted(detent) for detent in buzzout.detents]
    yield "controls:"
    yield f"  {control}: [{', '.join(positions)}]          # in order of travel"
    yield "parts:"
    yield f"  {name}:"
    yield f"    switch: {form}"
    yield f"    control: {control}"
    if poles:
        rows = (f"[{', '.join(map(_quoted, (p.common, *p.throws)))}]" for p in poles)
        yield f"    lugs: [{', '.join(rows)}]{_idle_said(buzzout, sections)}"
        yield from _positions(positions, poles[0])
    else:
        yield f"    lugs: [{', '.join(map(_quoted, buzzout.lugs))}]"
        yield from _contacts(positions, buzzout.closed)
    yield f"    timing: {_timing_said(poles, sections, timings)}"
    if buzzout.style is not None:
        yield f"    style: {buzzout.style}"
    yield from _rating(buzzout)
    if buzzout.note or buzzout.title:
        yield f"    note: {json.dumps(buzzout.note or buzzout.title, ensure_ascii=False)}"


def _idle_said(buzzout: Buzzout, sections: Sequence[Section]) -> str:
    """A plain form has no lugs that close on nothing; a strip may stand for them."""
    used = {lug for section in sections for lug in section.lugs}
    idle = [lug for lug in buzzout.lugs if lug not in used]
    return f"   # {', '.join(idle)}: no contact" if idle else ""


def _positions(positions: Sequence[str], pole: Pole) -> Iterator[str]:
    """Which position closes which throw, where that is not simply in order."""
    in_order = tuple(range(1, len(positions) + 1))
    if pole.throw_at == in_order and len(pole.throws) > 1:
        return
    throws = ("open" if at is None else str(at) for at in pole.throw_at)
    pairs = (f"{p}: {at}" for p, at in zip(positions, throws, strict=True))
    yield f"    positions: {{{', '.join(pairs)}}}"


def _contacts(positions: Sequence[str], closed: Sequence[Groups]) -> Iterator[str]:
    yield "    contacts:"
    for position, groups in zip(positions, closed, strict=True):
        said = ", ".join(f"[{', '.join(map(_quoted, group))}]" for group in groups)
        yield f"      {position}: [{said}]"


def _timing_said(
    poles: Sequence[Pole],
    sections: Sequence[Section],
    timings: Sequence[Timing | Literal["mixed"]],
) -> str:
    """One word for all sections, or a mapping from a lug of each to its own."""
    plain: list[str] = ["unknown" if timing == "mixed" else timing for timing in timings]
    if len(set(plain)) <= 1:
        return plain[0] if plain else "unknown"
    keys = [pole.common for pole in poles] or [section.lugs[0] for section in sections]
    pairs = (f"{_quoted(key)}: {timing}" for key, timing in zip(keys, plain, strict=True))
    return f"{{{', '.join(pairs)}}}"


def _rating(buzzout: Buzzout) -> Iterator[str]:
    rating = buzzout.rating
    known = (("volts", rating.volts, "V"), ("amps", rating.amps, "A"),
             ("shaft_volts", rating.shaft_volts, "V"))  # fmt: skip
    said = [f"{key}: {value:g} {unit}" for key, value, unit in known if value is not None]
    if said:
        yield f"    rating: {{{', '.join(said)}}}"


def _quoted(text: str) -> str:
    """A text as it can stand in a list or as a key."""
    plain = text.replace("_", "").replace("-", "").isalnum() and text.isascii()
    return text if plain and not text.startswith("-") else json.dumps(text, ensure_ascii=False)
