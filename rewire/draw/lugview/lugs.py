"""The lug itself: a tag with its name inside, its outline telling the poles apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rewire.draw.measure import middle_baseline, text_at, width_mm
from rewire.draw.scene import XY, Box, Item, Symbol, around

POINTS = 7.5
HEIGHT = 4.4
_LEAST_WIDTH = 5.0
LONGEST = 15.0
"""A wider name gives way to a number, mm."""
NARROW = 7.0
"""The same where lugs stand close."""
OUTLINES = ("square", "round", "pointed", "chamfered", "waisted", "slanted")
"""Outline of the lugs of the first, second … section of a switch."""


@dataclass(frozen=True, slots=True)
class Face:
    """How a lug looks: the name that stands in it, its outline, its size in mm."""

    name: str
    shown: str
    outline: str
    double: bool
    """Past the sixth section the outlines come again, with a double line."""
    common: bool
    width: float
    ghost: bool = False
    """Shown again in a later part of the same picture."""

    def box(self, centre: XY) -> Box:
        """Where it stands."""
        return around(centre, self.width, HEIGHT)


def faces_of(
    lugs: Iterable[str],
    section_of: Mapping[str, int],
    commons: set[str],
    longest: float = LONGEST,
) -> list[Face]:
    """A face for each lug; names too long for a lug get a number, listed in a key."""
    faces: list[Face] = []
    numbered = 0
    for name in lugs:
        shown = name
        if width_mm(name, POINTS, bold=True) > longest:
            numbered += 1
            shown = f"#{numbered}"
        section = section_of.get(name, len(OUTLINES) - 1)
        width = max(_LEAST_WIDTH, width_mm(shown, POINTS, bold=name in commons) + 2.4)
        outline = OUTLINES[section % len(OUTLINES)]
        faces.append(Face(name, shown, outline, section >= len(OUTLINES), name in commons, width))
    return faces


def key_of(faces: Iterable[Face]) -> list[str]:
    """Lines of the key: ``#1 is LONG_NAME``."""
    return [f"{f.shown} is lug {f.name}" for f in faces if f.shown != f.name]


def paint_lug(face: Face, centre: XY, net: str | None) -> list[Item]:
    """Outline and name of a lug about a centre."""
    shows = f"{'again' if face.ghost else 'lug'}:{face.name}"
    points = POINTS
    outline = Symbol(
        face.outline + ("-double" if face.double else ""),
        face.box(centre), shows, net,
        width=0.55 if face.common else 0.3,
        dash="dashed" if face.ghost else "solid",
    )  # fmt: skip
    name = text_at(
        face.shown, centre[0], middle_baseline(centre[1], points), points,
        align="centre", bold=face.common, shows=shows, net=net, on=shows,
    )  # fmt: skip
    return [outline, name]
