"""Where a drawing says that a voltmeter is clipped on, from its symbols and words alone."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from tests.draw.drawing import away, drawing_of
from tests.draw.readback import Vocabulary, spots_of, stem

_FACTOR = re.compile(r"1 (m?)A = ([0-9.]+) (m?)V|(mV) = mA")
_NEAR = 2.0
"""A clip stands no farther from the end of a part, nor from the words between clips, mm."""


def clips_drawn(svg: str, known: Vocabulary) -> Iterator[tuple[str, float]]:
    """Each part with a clip at either end, and the volts for each ampere that stand beside it."""
    drawing = drawing_of(svg)
    clips = [shape.box for shape in drawing.shapes if stem(shape).startswith("clip")]
    said = [(word.box, found) for word in drawing.words if (found := _FACTOR.fullmatch(word.text))]
    ends: dict[str, list[tuple[float, float]]] = {}
    for spot in spots_of(drawing, known)[0]:
        if not spot.box.width:
            ends.setdefault(spot.terminal, []).append(spot.at)
    for part, both in ends.items():
        at = [[box for box in clips if math.dist(box.centre, end) < _NEAR] for end in both]
        if len(at) == 2 and all(at):
            gap, found = min(
                (
                    (max(away(box, clip) for side in at for clip in side), told)
                    for box, told in said
                ),
                key=lambda one: one[0],
            )
            assert gap < 4 * _NEAR, part
            yield part, _volts_for_each_ampere(found)
    assert len(clips) == 2 * len(said)


def _volts_for_each_ampere(found: re.Match[str]) -> float:
    milliampere, number, millivolt, same = found.groups()
    return (
        1.0
        if same
        else float(number) * (1e-3 if millivolt else 1.0) / (1e-3 if milliampere else 1.0)
    )
