"""What the panel sees of a switch or a meter: its hole, its dial, what stands behind; mm.

Sizes are written with their unit (``38 mm``, ``1.5 in``); a place is two lengths, to the right
and up. Nothing needs to be given; what is not given is not known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from fractions import Fraction
from math import ceil, cos, radians, sin
from typing import Annotated, Any, Literal, get_args

from rewire.records.keys import LIST, TYPED, Key, ValueKind, amount, text_of, word
from rewire.words import quantity
from rewire.words.quantity import Measure
from rewire.words.wording import Wrong, shown

XY = tuple[float, float]
_PLACE = Measure("m", "a length", "12 mm", signed=True)
_SWEEP = Measure("deg", "an angle", "90 deg", zero=False, most=300.0)
_MOST_MM = 500.0
Size = tuple[float, ...]
"""One length for a round thing, two for width and height."""
ShaftForm = Literal["round", "flat", "splined", "slotted", "square"]
FORMS: tuple[ShaftForm, ...] = get_args(ShaftForm)
_INCH = 25.4
_METRIC = re.compile(r"M\s*([0-9]{1,2}(?:\.[0-9])?)(?:\s*[x×*]\s*[0-9]?\.?[0-9]+)?", re.I)
"""ISO 261: the figure is the major diameter, mm."""
_UNIFIED = re.compile(
    r"(?:([1-9][0-9]?/[1-9][0-9]?)|#?([0-9]|1[0-2]))\s*(?:\"|in|inch)?"
    r"\s*[-x×]\s*[0-9]{2}(?:\s*(?:tpi|UN[A-Z]{0,2}|N[A-Z]{1,2}))?",
    re.I,
)
"""ASME B1.1: a fraction is the major diameter, inch; number n has 0.060 + 0.013 n; from memory."""
_BA = re.compile(r"(1?[0-9]|2[0-5])\s*B\.?A\.?", re.I)
"""BS 93: the pitch is 0.9 to the power of the number, the diameter 6 pitch^1.2; from memory."""
_MOST_STUDS = 12
_PLAY, _DRILLS = 0.2, 0.5
"""Between a thread and its hole; from one drill of a common set to the next."""
_TURN = Measure("deg", "an angle", "45 deg", signed=True, most=360.0)
_INDEX = Measure("deg", "an angle", "30 deg", zero=False, most=180.0)


def _mm(value: Any, measure: Measure = quantity.METRES) -> float:
    """A length in mm, written with its unit."""
    if not isinstance(value, str):
        raise Wrong("a length with its unit is needed", f"write {measure.example}")
    found = round(1000.0 * quantity.read(value, measure), 9)
    if abs(found) > _MOST_MM:
        raise Wrong(f"{value.strip()} is larger than any panel", "see whether mm is meant")
    return found


def _two_lengths(value: Any, measure: Measure, example: str) -> XY:
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong("two lengths are needed here", f"write {example}")
    return _mm(value[0], measure), _mm(value[1], measure)


def _place(value: Any) -> XY:
    return _two_lengths(value, _PLACE, "[12 mm, 5 mm], to the right and up")


def _places(value: Any) -> tuple[XY, ...]:
    if not isinstance(value, list) or not value:
        raise Wrong("a list of spots is needed", "write [[8 mm, 6 mm], [56 mm, 6 mm]]")
    return tuple(_place(one) for one in value)


_TWO: dict[str, Any] = {"type": "array", "items": TYPED, "minItems": 2, "maxItems": 2}
LENGTH_MM = ValueKind(_mm, {**TYPED, "description": "a length, such as 38 mm"})
PLACE_MM = ValueKind(_place, _TWO)
PLACES_MM = ValueKind(_places, {"type": "array", "items": _TWO, "minItems": 1})
SIZE_MM = ValueKind(lambda value: _two_lengths(value, quantity.METRES, "[64 mm, 58 mm]"), _TWO)
"""Width and height, mm."""
ANGLE = amount(_SWEEP)


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread, or a plain diameter."""

    said: str
    """As it was written."""
    diameter: float
    """Over the crests."""

    @property
    def clearance(self) -> float:
        """The hole that it is put through: the next drill with a little play.

        Play and drills: common practice, no source.
        """
        return ceil(round((self.diameter + _PLAY) / _DRILLS, 6)) * _DRILLS


def _thread(value: Any) -> Thread:
    said = text_of(value).strip()
    figures = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", said)
    if match := _METRIC.fullmatch(figures):
        return Thread(said, float(match[1]))
    if match := _UNIFIED.fullmatch(figures):
        inches = float(Fraction(match[1])) if match[1] else 0.060 + 0.013 * int(match[2])
        return Thread(said, inches * _INCH)
    if match := _BA.fullmatch(figures):
        return Thread(said, 6.0 * (0.9 ** int(match[1])) ** 1.2)
    try:
        return Thread(said, LENGTH_MM.read(said))
    except Wrong:
        hint = "write a thread (M9x0.75, 3/8-32, 4 BA) or a diameter with its unit (7 mm, 3/8 in)"
        raise Wrong(f"{shown(said)} is no thread and no diameter", hint) from None


def _size(value: Any) -> Size:
    items = value if isinstance(value, list) else [value]
    if len(items) not in (1, 2):
        raise Wrong("a size is a diameter, or width and height", "write 66 mm or [80 mm, 70 mm]")
    return tuple(LENGTH_MM.read(item) for item in items)


def _studs(value: Any) -> tuple[XY, ...]:
    """Places from the centre of the hole, seen from the front: right and up."""
    studs = _around(value) if isinstance(value, dict) else PLACES_MM.read(value)
    if len(studs) > _MOST_STUDS:
        raise Wrong(f"{len(studs)} studs", f"{_MOST_STUDS} at most can be")
    if len({(round(x, 1), round(y, 1)) for x, y in studs}) < len(studs):
        raise Wrong("two studs are at one spot", "give each its own spot")
    return studs


def _around(value: dict[str, Any]) -> tuple[XY, ...]:
    """Studs on a circle, at angles clockwise from twelve."""
    if set(value) != {"circle", "at"} or not (isinstance(value["at"], list) and value["at"]):
        hint = "write {circle: 66 mm, at: [45 deg, 225 deg]}"
        raise Wrong("a circle and the angles of its studs are needed", hint)
    radius = LENGTH_MM.read(value["circle"]) / 2
    turns = [radians(quantity.read(text_of(one), _TURN)) for one in value["at"]]
    return tuple((radius * sin(turn), radius * cos(turn)) for turn in turns)


def _stops(value: Any) -> int:
    said = text_of(value).strip()
    if said != "none" and not re.fullmatch(r"[1-9][0-9]?", said):
        hint = "write how many positions the stops leave, or none where it turns all round"
        raise Wrong(f"{shown(said)} is no number of positions", hint)
    return 0 if said == "none" else int(said)


SIZE = ValueKind(_size, {"anyOf": [TYPED, LIST]})
THREAD = ValueKind(_thread, TYPED)
STUDS = ValueKind(_studs, {"anyOf": [PLACES_MM.json, {"type": "object"}]})
Length = Annotated[float | None, Key(LENGTH_MM)]


@dataclass(frozen=True, slots=True)
class SwitchMount:
    """What the panel sees of a switch; mm and degrees."""

    hole: Length = None
    bush: Annotated[Thread | None, Key(THREAD)] = None
    shaft: Length = None
    shaft_form: Annotated[ShaftForm | None, Key(word(*FORMS, "D", D="flat"))] = None
    shaft_length: Length = None
    body: Annotated[Size | None, Key(SIZE)] = None
    depth: Length = None
    room: Length = None
    index: Annotated[float | None, Key(amount(_INDEX))] = None
    stops: Annotated[int | None, Key(ValueKind(_stops, TYPED))] = None
    """Positions that the stops leave; 0 where there are no stops."""

    @property
    def panel_hole(self) -> float | None:
        """As given, else what its bush goes through."""
        return self.bush.clearance if self.hole is None and self.bush else self.hole

    @property
    def hole_asked(self) -> str:
        """The hole in words; empty where it is not known."""
        said = size_said(self.panel_hole) if self.panel_hole else ""
        return f"{said} for its bush {self.bush.said}" if said and self.bush else said


@dataclass(frozen=True, slots=True)
class MeterMount:
    """What the panel sees of a meter; mm."""

    hole: Length = None
    bezel: Annotated[Size | None, Key(SIZE)] = None
    studs: Annotated[tuple[XY, ...] | None, Key(STUDS)] = None
    """From the centre of the hole to the right and up, seen from the front."""
    stud: Annotated[Thread | None, Key(THREAD)] = None
    body: Annotated[Size | None, Key(SIZE)] = None
    depth: Length = None
    room: Length = None

    @property
    def panel_hole(self) -> float | None:
        """As given."""
        return self.hole

    @property
    def hole_asked(self) -> str:
        """The hole in words; empty where it is not known."""
        return size_said(self.hole) if self.hole else ""


Mount = SwitchMount | MeterMount
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


def mount_written(mount: Mount | None) -> dict[str, Any]:
    """What is known of a mount, as a spec writes it."""
    known = ((one.name, getattr(mount, one.name)) for one in fields(mount)) if mount else ()
    return {name: _written(name, value) for name, value in known if value is not None}


def _written(name: str, value: Any) -> Any:
    if isinstance(value, Thread):
        return value.said
    if name == "stops":
        return str(value or "none")
    if isinstance(value, tuple):
        return _written(name, value[0]) if len(value) == 1 else [_written(name, v) for v in value]
    if isinstance(value, float):
        return f"{value + 0.0:.6g} {'deg' if name == 'index' else 'mm'}"
    return value


def size_said(mm: float) -> str:
    """A length as it is sold: by the inch where it is no whole tenth of a millimetre.

    >>> size_said(6.35), size_said(6.0), size_said(9.4123)
    ('1/4 in', '6 mm', '9.41 mm')
    """
    of_inch = Fraction(mm / _INCH).limit_denominator(64)
    whole = abs(10.0 * mm - round(10.0 * mm)) < 1e-6
    if whole or abs(float(of_inch) * _INCH - mm) > 1e-3:
        return f"{round(mm, 2) + 0.0:g} mm"
    return f"{of_inch} in"
