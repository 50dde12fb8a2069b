"""Which contacts a drawn circuit closes in each position, from its rows, blades and legend."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rewire.draw.scene import XY
from tests.draw.drawing import Drawing, Shape, drawing_of
from tests.draw.readback import MEETS, Vocabulary, holds, round_terminals, stem
from tests.reference.circuit import control_positions, kind_of, pole_lugs, read_circuit

Closed = dict[tuple[str, str], frozenset[frozenset[str]]]
"""Switch and position → groups of terminals that are closed together."""
_NEAR, _FAR = 6.0, 9.5
"""Throws stand so far to the right of where a blade turns, mm."""
Row = list[tuple[str, ...]]
"""A common and its throws, each with the lugs that are drawn as one."""


def closed_meant(spec: Mapping[str, Any], wiring: str) -> Closed:
    """What is closed in each position by the tests' own reading of the spec."""
    found: Closed = {}
    for section in read_circuit(spec, wiring).sections:
        for position, groups in section.closed.items():
            here = section.switch, position
            found[here] = found.get(here, frozenset()) | groups
    return found


def idle(spec: Mapping[str, Any], wiring: str) -> frozenset[frozenset[str]]:
    """Pairs of lugs one of which nothing is soldered to: closing them joins nothing."""
    circuit = read_circuit(spec, wiring)
    alone = {terminal for net in circuit.nets if len(net) == 1 for terminal in net}
    groups = (g for s in circuit.sections for groups in s.closed.values() for g in groups)
    return frozenset(group for group in groups if len(group) == 2 and group & alone)


def closed_drawn(
    svg: bytes | str, spec: Mapping[str, Any], wiring: str, known: Vocabulary
) -> Closed:
    """What is closed in each position by the drawing."""
    drawing = drawing_of(svg)
    words = sorted(drawing.words, key=lambda w: (round(w.box.bottom, 1), w.box.left))
    said = " ".join(word.text for word in words)
    rows = list(rows_of(drawing, known))
    found: Closed = {}
    for name, part in read_circuit(spec, wiring).parts.items():
        if kind_of(part) != "switch":
            continue
        for position in control_positions(spec, part["control"]):
            told = legend(said, name, position)
            found[name, position] = frozenset(groups_said(told, name, part, rows))
    return found


def legend(said: str, switch: str, position: str) -> str:
    """What the legend says a switch closes in a position: ``2``, ``1–2, 3–4`` or ``none``."""
    one = re.search(rf"(?<!\S){re.escape(switch)}(?:, \S+)*?: (.*?)\. Drawn at ", said)
    assert one is not None, f"the legend of {switch} is missing"
    name = re.escape(position)
    at = re.search(rf"(?:^|; ){name}: (.+?)(?=; |$)|(?:^|, )(\d+|none) {name}(?=, |$)", one[1])
    assert at is not None, f"{position} is not in the legend of {switch}"
    return at[1] or at[2]


def groups_said(
    told: str, switch: str, part: Mapping[str, Any], rows: Sequence[Row]
) -> Iterator[frozenset[str]]:
    """``2``, a throw of the rows that are drawn, or the lugs that are closed: ``1–2, 3–4``."""
    if told == "none":
        return
    throw = int(told) if told.isdecimal() else None
    for pole in pole_lugs(part) if throw else ():
        pair = (f"{switch}.{pole[0]}", f"{switch}.{pole[throw]}") if throw else ()
        if any(
            pair in zip(common, lugs, strict=True) for common, *throws in rows for lugs in throws
        ):
            yield frozenset(pair)
    for group in () if throw else told.split(", "):
        yield frozenset(f"{switch}.{lug}" for lug in group.split("–"))


def rows_of(drawing: Drawing, known: Vocabulary) -> Iterator[Row]:
    """A common and its throws from the top down, for each blade; each with all of its lugs."""
    contacts = [
        (shape.box.centre, lugs)
        for shape, lugs in round_terminals(drawing, known) if shape.kind == "contact"
    ]  # fmt: skip
    blades = [shape for shape in drawing.shapes if stem(shape).startswith("blade")]
    commons = [min(contacts, key=lambda c: math.dist(c[0], blade.ink[0])) for blade in blades]
    throws = [contact for contact in contacts if contact not in commons]
    for blade, (_, common) in zip(blades, commons, strict=True):
        part = common[0].partition(".")[0]
        near = [b for b, (_, lugs) in zip(blades, commons, strict=True)
                if lugs[0].startswith(f"{part}.")]  # fmt: skip
        own = [lugs for at, lugs in throws
               if lugs[0].startswith(f"{part}.") and nearest(at, near) is blade]  # fmt: skip
        yield [common, *own]


def nearest(at: XY, blades: Sequence[Shape]) -> Shape | None:
    """The blade to the left of a throw that is nearest in height."""
    left = [b for b in blades if _NEAR < at[0] - b.ink[0][0] < _FAR]
    return min(left, key=lambda b: abs(b.ink[0][1] - at[1]), default=None)


def lying_on(drawing: Drawing, known: Vocabulary) -> Iterator[tuple[str, str]]:
    """The lugs that each blade is drawn upon: commons with their throws."""
    found = [(s.box.grown(MEETS), lugs) for s, lugs in round_terminals(drawing, known)
             if s.kind == "contact"]  # fmt: skip
    for blade in (shape for shape in drawing.shapes if stem(shape).startswith("blade")):
        first, last = (
            [lugs for box, lugs in found if holds(box, end)]
            for end in (blade.ink[0], blade.ink[-1])
        )
        yield from (
            pair
            for one, two in zip(first, last, strict=False)
            for pair in zip(one, two, strict=True)
        )
