"""Symbols of parts as data: outlines, filled shapes and strokes in a unit box, y down.

The leads come in at the middle of the top and leave at the middle of the bottom. Forms
after IEC 60617 and IEEE 315, whose numbers are given from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rewire.draw.scene import XY

Shape = tuple[XY, ...]


@dataclass(frozen=True, slots=True)
class Device:
    """What a symbol is drawn of: closed outlines, filled shapes, open strokes."""

    outlines: tuple[Shape, ...] = ()
    filled: tuple[Shape, ...] = ()
    strokes: tuple[Shape, ...] = ()
    anchors: Mapping[str, XY] | None = None
    """Named places beside the two ends."""


def _arc(x: float, y: float, rx: float, ry: float, start: float, end: float) -> Shape:
    """Part of an ellipse; degrees clockwise from three o'clock."""
    count = max(2, round(abs(end - start) / 9))
    turns = (math.radians(start + (end - start) * n / count) for n in range(count + 1))
    return tuple((x + rx * math.cos(t), y + ry * math.sin(t)) for t in turns)


_CIRCLE = _arc(0.5, 0.5, 0.5, 0.5, 0, 351)
_BODY: Shape = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
_NARROW: Shape = ((0.28, 0.0), (0.72, 0.0), (0.72, 1.0), (0.28, 1.0))
_CROSS = ((0.146, 0.146), (0.854, 0.854)), ((0.854, 0.146), (0.146, 0.854))
_HUMPS = tuple(
    point for n in range(4) for point in _arc(0.3, 0.125 + 0.25 * n, 0.7, 0.125, -90, 90)
)

_UPRIGHT: Mapping[str, Device] = {
    # 04-01-01, resistor
    "resistor": Device(outlines=(_BODY,)),
    # 04-01-03, adjustable resistor
    "rheostat": Device(
        outlines=(_NARROW,),
        strokes=(((0.02, 0.86), (0.9, 0.2)),),
        filled=(((1.0, 0.125), (0.9, 0.32), (0.76, 0.19)),),
        anchors={"wiper": (1.0, 0.125)},
    ),
    # 08-01-01, indicating instrument; the letter stands inside
    "meter": Device(outlines=(_CIRCLE,)),
    # 08-10-01, lamp
    "lamp": Device(outlines=(_CIRCLE,), strokes=_CROSS),
    # 07-21-01, fuse
    "fuse": Device(outlines=(_BODY,), strokes=(((0.5, 0.0), (0.5, 1.0)),)),
    # 04-03-01, winding
    "choke": Device(strokes=(((0.5, 0.0), (0.3, 0.0), *_HUMPS, (0.5, 1.0)),)),
    # 04-02-01, capacitor
    "capacitor": Device(
        strokes=(
            ((0.5, 0.0), (0.5, 0.38)), ((0.0, 0.38), (1.0, 0.38)),
            ((0.0, 0.62), (1.0, 0.62)), ((0.5, 0.62), (0.5, 1.0)),
        ),
    ),
    # 05-03-01, diode
    "diode": Device(
        outlines=(((0.0, 0.1), (1.0, 0.1), (0.5, 0.9)),),
        strokes=(((0.0, 0.9), (1.0, 0.9)), ((0.5, 0.0), (0.5, 1.0))),
    ),
    "diode-up": Device(
        outlines=(((0.0, 0.9), (1.0, 0.9), (0.5, 0.1)),),
        strokes=(((0.0, 0.1), (1.0, 0.1)), ((0.5, 0.0), (0.5, 1.0))),
    ),
    # current source as IEEE 315 draws it: the arrow is the way of the current
    "current-up": Device(
        outlines=(_CIRCLE,),
        strokes=(((0.5, 0.86), (0.5, 0.4)),),
        filled=(((0.5, 0.12), (0.66, 0.44), (0.34, 0.44)),),
    ),
    "current-down": Device(
        outlines=(_CIRCLE,),
        strokes=(((0.5, 0.14), (0.5, 0.6)),),
        filled=(((0.5, 0.88), (0.66, 0.56), (0.34, 0.56)),),
    ),
    # 02-16-02, ideal voltage source
    "voltage": Device(outlines=(_CIRCLE,), strokes=(((0.5, 0.0), (0.5, 1.0)),)),
    # 02-15-04, frame or chassis
    "chassis": Device(
        strokes=(
            ((0.5, 0.0), (0.5, 0.35)), ((0.14, 0.35), (1.0, 0.35)),
            ((0.14, 0.35), (0.0, 1.0)), ((0.57, 0.35), (0.43, 1.0)), ((1.0, 0.35), (0.86, 1.0)),
        ),
    ),
    # which way a current runs in a line
    "flow-down": Device(filled=(((0.0, 0.0), (1.0, 0.0), (0.5, 1.0)),)),
    "flow-up": Device(filled=(((0.0, 1.0), (1.0, 1.0), (0.5, 0.0)),)),
    # a lug, a terminal, a place to put a probe
    "lug": Device(outlines=(_CIRCLE,)),
}  # fmt: skip


def _lying(device: Device) -> Device:
    """A quarter turn: the lead at the top comes to the left, the one at the bottom to the right."""
    return Device(
        tuple(map(_turned, device.outlines)),
        tuple(map(_turned, device.filled)),
        tuple(map(_turned, device.strokes)),
    )


def _turned(shape: Shape) -> Shape:
    return tuple((y, 1.0 - x) for x, y in shape)


_PARTS = ("resistor", "meter", "lamp", "fuse", "choke", "capacitor", "diode", "diode-up")
DEVICES: Mapping[str, Device] = {
    **_UPRIGHT,
    **{f"{kind}-lying": _lying(_UPRIGHT[kind]) for kind in _PARTS},
}
"""Kind of a symbol → its form; ``-lying`` for one with its leads at left and right."""
