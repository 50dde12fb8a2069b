"""From a buzz-out to poles, throws, commons and timing, and a block to paste into a spec."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from rewire.bench.identify.misread import Misread, misreadings
from rewire.bench.identify.poles import Pole, form_of, plain_poles
from rewire.circuit.circuit import gather
from rewire.reading.buzzout import Buzzout, switch_of, timing_of
from rewire.records.spec import Section, Timing
from rewire.records.switches import Groups


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
