"""Which contacts the springs of a relay or jack are drawn with, from the lines of a hook-up alone.

Springs are pale lines. A long one runs level from its lug; a short one turns towards it and ends in
a point, on it or off it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from tests.draw.drawing import Stroke, from_line, whole_drawing
from tests.draw.readback import Vocabulary, at_spot, spots_of

_TOUCHES, _STANDS_OFF = 0.5, 2.5
"""A point that touches is as near to the long spring, one that does not is no farther, mm."""


def contacts_drawn(svg: str, known: Vocabulary) -> Iterator[tuple[frozenset[str], bool]]:
    """Each fixed spring with its moving one, and whether the two are drawn touching."""
    drawing = whole_drawing(svg)
    pale = [stroke for stroke in drawing.strokes if stroke.look == "pale"]
    spots = [spot for spot in spots_of(drawing, known)[0] if spot.box.width]
    on = [(stroke, spot.terminal) for stroke, spot in product(pale, spots)
          if at_spot(stroke.points[0], spot)]  # fmt: skip
    heads = [stroke for stroke in pale if len(stroke.points) == 3 and is_head(stroke)]
    for spring, fixed in on:
        tips = [stem.points[-1] for stem in pale if stem.points[0] == spring.points[-1]]
        for tip in tips:
            assert any(head.points[1] == tip for head in heads), fixed
            gap, moving = min((from_line(tip, other.points), lug) for other, lug in on
                              if other is not spring and lug != fixed)  # fmt: skip
            assert gap < _STANDS_OFF, fixed
            yield frozenset((moving, fixed)), gap < _TOUCHES


def is_head(stroke: Stroke) -> bool:
    """Whether a line is the point of a contact: down, or up, and back again."""
    (_, first), (_, tip), (_, last) = stroke.points
    return first == last != tip
