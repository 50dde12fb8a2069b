"""One side of the picture: grid or wafers, faces and landings, differences signed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.draw.beside.differences import Marks, Side
from rewire.draw.beside.poles import Pole
from rewire.draw.labels import Label
from rewire.draw.lugview.lugs import (
    POINTS,
    Arrangement,
    Face,
    Grid,
    Jumper,
    Soldered,
    faces_of,
)
from rewire.draw.measure import width_mm
from rewire.records.spec import Switch

DIFFERS = "▲"
LOST = "✕"


@dataclass(frozen=True, slots=True)
class Half:
    """What is drawn of one wiring, in the words of the lug view."""

    title: str
    arrangement: Arrangement
    faces: Mapping[str, Face]
    landed: Soldered
    key: tuple[str, ...]
    """Lugs whose names are too long for them."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a side is to look: what differs, and the lugs on ways that are lost, by number."""

    marks: Marks
    lost: Mapping[str, int]
    longest: float
    """Names wider than this give way to numbers, mm."""


def half_of(
    side: Side,
    arrangement: Arrangement,
    columns: Mapping[str, int],
    ghosts: Sequence[Pole],
    look: Look,
) -> Half:
    """One wiring as the lug view's routes take it.

    Args:
        side: the wiring and its switches.
        arrangement: where the lugs stand, by their full names.
        columns: full name of a lug → number of its pole, for the outlines.
        ghosts: poles that only the other wiring has; they stand here dashed.
        look: what is marked.
    """
    said = {lug: _said(lug, side.switches) for lug in columns}
    solid = _faces(side, columns, said, look)
    dashed = _ghosts(side, ghosts, look)
    keys = {lug: face.name for lug, face in {**solid, **dashed}.items()}
    numbered = [
        f"{face.shown} is lug {said[lug]}" for lug, face in solid.items() if "#" in face.shown
    ]
    return Half(
        _title(side), _keyed(arrangement, keys),
        {face.name: face for face in (*solid.values(), *dashed.values())},
        _landed(side, keys, said, look), tuple(numbered),
    )  # fmt: skip


def _title(side: Side) -> str:
    """``original: S3, 3P3T rotary`` without what the lug view says at length."""
    forms = [f"{s.name}{'' if s.form == 'table' else f', {s.form}'}" for s in side.switches]
    return f"{side.wiring.name}: {'; '.join(forms) or 'no switch here'}"


def _said(lug: str, switches: Sequence[Switch]) -> str:
    return lug if len(switches) > 1 else lug.partition(".")[2]


def _faces(
    side: Side, columns: Mapping[str, int], said: Mapping[str, str], look: Look
) -> dict[str, Face]:
    commons = {said[s.terminal(pole[0])] for s in side.switches for pole in s.poles}
    by_name = {said[lug]: column for lug, column in columns.items()}
    made = faces_of(said.values(), by_name, commons, look.longest)
    return {
        lug: _signed(replace(face, name=f"{lug} in {side.wiring.name}"), _sign(lug, look))
        for lug, face in zip(columns, made, strict=True)
    }


def _sign(lug: str, look: Look) -> str:
    if lug in look.lost:
        return f"{LOST}{look.lost[lug]} "
    return f"{DIFFERS} " if lug in look.marks.lugs else ""


def _signed(face: Face, sign: str) -> Face:
    extra = width_mm(sign, POINTS, face.common)
    return replace(face, shown=sign + face.shown, width=face.width + extra)


def elsewhere(lug: str) -> str:
    """What a lug of the other wiring is called where it is shown as absent."""
    return f"{lug} elsewhere"


def _ghosts(side: Side, poles: Sequence[Pole], look: Look) -> dict[str, Face]:
    lugs = [lug for pole in poles for lug in pole.cells.values()]
    names = {lug: lug.partition(".")[2] for lug in lugs}
    faces: dict[str, Face] = {}
    for lug in lugs:
        (face,) = faces_of([names[lug]], {names[lug]: 0}, set(), look.longest)
        sign = f"{LOST}{look.lost[lug]} " if lug in look.lost else ""
        there = replace(face, name=f"{lug} not in {side.wiring.name}", ghost=True)
        faces[elsewhere(lug)] = _signed(there, sign)
    return faces


def _keyed(arrangement: Arrangement, keys: Mapping[str, str]) -> Arrangement:
    if isinstance(arrangement, Grid):
        return arrangement.renamed(keys.__getitem__)
    return tuple(wafer.renamed(keys.__getitem__) for wafer in arrangement)


def _landed(side: Side, keys: Mapping[str, str], said: Mapping[str, str], look: Look) -> Soldered:
    labels: list[Label] = []
    jumpers: list[Jumper] = []
    net_of: dict[str, str] = {}
    for switch in side.switches:
        landed = side.landed[switch.name]
        labels += _labels(side, switch, landed, keys, look)
        jumpers += _jumpers(side, switch, landed, keys, said, look)
        net_of.update(
            (keys[switch.terminal(lug)], f"{net} in {side.wiring.name}")
            for lug, net in landed.net_of.items()
        )
    net_of.update((key, f"nothing at {key}") for key in keys.values() if key not in net_of)
    return Soldered(tuple(labels), tuple(jumpers), net_of)


def _labels(
    side: Side, switch: Switch, landed: Soldered, keys: Mapping[str, str], look: Look
) -> Iterator[Label]:
    for one in landed.labels:
        lug = switch.terminal(one.lug)
        marked = (lug, one.shows) in look.marks.ends
        text = f"{DIFFERS} {one.text}" if marked else one.text
        name = f"{one.id} in {side.wiring.name}"
        yield replace(one, lug=keys[lug], id=name, text=text, marked=marked)


def _jumpers(
    side: Side,
    switch: Switch,
    landed: Soldered,
    keys: Mapping[str, str],
    said: Mapping[str, str],
    look: Look,
) -> Iterator[Jumper]:
    for one in landed.jumpers:
        first, second = (switch.terminal(lug) for lug in one.ends)
        marked = any((lug, one.shows) in look.marks.ends for lug in (first, second))
        yield replace(
            one, id=f"{one.id} in {side.wiring.name}", ends=(keys[first], keys[second]),
            said=f"{DIFFERS}{one.id}" if marked else one.id,
            ends_said=(said[first], said[second]), marked=marked,
        )  # fmt: skip
