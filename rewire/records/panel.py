"""What is seen from the panel, in millimetres: the plate of a meter's dial.

Sizes are written with their unit (``38 mm``, ``1.5 in``); a place is two lengths, to the right
and up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from rewire.records.keys import TYPED, Key, ValueKind, amount, word
from rewire.words import quantity
from rewire.words.quantity import Measure
from rewire.words.wording import Wrong

XY = tuple[float, float]
_PLACE = Measure("m", "a length", "12 mm", signed=True)
_SWEEP = Measure("deg", "an angle", "90 deg", zero=False, most=300.0)
_MOST_MM = 500.0


def _mm(value: Any, measure: Measure = quantity.METRES) -> float:
    """A length in mm, written with its unit."""
    if not isinstance(value, str):
        raise Wrong("a length with its unit is needed", f"write {measure.example}")
    found = round(1000.0 * quantity.read(value, measure), 9)
    if abs(found) > _MOST_MM:
        raise Wrong(f"{value.strip()} is larger than any panel", "see whether mm is meant")
    return found


def _pair(value: Any, measure: Measure, example: str) -> XY:
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("two lengths are needed here", f"write {example}")
    return _mm(value[0], measure), _mm(value[1], measure)


def _place(value: Any) -> XY:
    return _pair(value, _PLACE, "[12 mm, 5 mm], to the right and up")


def _places(value: Any) -> tuple[XY, ...]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of places is needed", "write [[8 mm, 6 mm], [56 mm, 6 mm]]")
    return tuple(_place(one) for one in value)


_TWO: dict[str, Any] = {"type": "array", "items": TYPED, "minItems": 2, "maxItems": 2}
LENGTH_MM = ValueKind(_mm, {**TYPED, "description": "a length, such as 38 mm"})
PLACE_MM = ValueKind(_place, _TWO)
PLACES_MM = ValueKind(_places, {"type": "array", "items": _TWO, "minItems": 1})
SIZE_MM = ValueKind(lambda value: _pair(value, quantity.METRES, "[64 mm, 58 mm]"), _TWO)
"""Width and height, mm."""
ANGLE = amount(_SWEEP)

Outline = Literal["rectangle", "circle", "sector"]


@dataclass(frozen=True, slots=True)
class Dial:
    """The plate to be printed for a meter; mm and degrees, places from the plate's lower left."""

    radius: Annotated[float, Key(LENGTH_MM)]
    sweep: Annotated[float | None, Key(ANGLE)] = None
    pivot: Annotated[XY | None, Key(PLACE_MM)] = None
    plate: Annotated[XY | None, Key(SIZE_MM)] = None
    outline: Annotated[Outline, Key(word("rectangle", "circle", "sector"))] = "rectangle"
    screws: Annotated[tuple[XY, ...], Key(PLACES_MM)] = ()
    screw_hole: Annotated[float | None, Key(LENGTH_MM)] = None
    flaps: Annotated[float | None, Key(LENGTH_MM)] = None
