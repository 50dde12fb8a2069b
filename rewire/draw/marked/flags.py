"""Names of the rails: stairs that come down from both sides, so that no name meets a rail."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.marked.rails import Rail
from rewire.draw.measure import line_mm, visible, width_mm, wrap
from rewire.draw.scene import Box

POINTS = 7.5
LINE = line_mm(POINTS)
_CLEAR = 1.2


@dataclass(frozen=True, slots=True)
class Flag:
    """A rail's name at its end; ``depth`` is how far from the picture's edge it stands, mm."""

    rail: int
    lines: tuple[str, ...]
    left: float
    right: float
    depth: float
    at_left: bool

    @property
    def height(self) -> float:
        """Millimetres."""
        return LINE * len(self.lines)

    def box(self, edge: float, downwards: bool) -> Box:
        """Where it stands, from the upper edge downwards or from the lower edge upwards."""
        if downwards:
            return Box(self.left, edge + self.depth, self.right, edge + self.depth + self.height)
        return Box(self.left, edge - self.depth - self.height, self.right, edge - self.depth)


def flags_of(
    order: Sequence[Rail], at: Mapping[int, float], width: float, endings: Mapping[int, str]
) -> tuple[Flag, ...]:
    """The names from the outer rails inwards, each on a step of its own or beside its partner.

    Args:
        order: the rails from the left.
        at: their places, mm.
        width: of the picture, mm.
        endings: what is added to a rail's name.
    """

    def flag(rail: Rail, limit: float, depth: float, at_left: bool) -> Flag:
        new = " (new)" if rail.fate == "new" else ""
        name = name_of(rail) + new + endings.get(rail.number, "")
        return _flag(rail, name, at[rail.number], limit, depth, at_left)

    flags: list[Flag] = []
    left, right = -_CLEAR, width + _CLEAR
    depth = 0.0
    count = len(order)
    for number in range((count + 1) // 2):
        rail = order[number]
        first = flag(rail, right - _CLEAR, depth, True)
        flags.append(first)
        left = at[rail.number]
        if number == count - 1 - number:
            break
        other = order[count - 1 - number]
        second = flag(other, left + _CLEAR, depth, False)
        if second.left < first.right + 2.0:
            depth += first.height + 0.5
            second = flag(other, left + _CLEAR, depth, False)
            depth += second.height + 0.5
        else:
            depth += max(first.height, second.height) + 0.5
        flags.append(second)
        right = at[other.number]
    return tuple(flags)


def stairs_height(flags: Sequence[Flag]) -> float:
    """Of all steps, mm."""
    return max((flag.depth + flag.height for flag in flags), default=0.0)


def _flag(rail: Rail, name: str, x: float, limit: float, depth: float, at_left: bool) -> Flag:
    """A name from its rail inwards, in lines that end before ``limit``."""
    bold = rail.fate == "new" or bool(rail.points)
    lines = wrap(visible(name), max(abs(limit - x), 6.0), POINTS, bold)
    wide = max(width_mm(line, POINTS, bold) for line in lines)
    left = x if at_left else x - wide
    return Flag(rail.number, lines, left, left + wide, depth, at_left)


def name_of(rail: Rail) -> str:
    """By its points, else by a terminal of a part; both wirings' where they differ."""
    was, now = name_in(rail, was=True), name_in(rail, was=False)
    return was or now if not was or not now or was == now else f"{was} → {now}"


def name_in(rail: Rail, *, was: bool) -> str:
    """The name in the original, or in the other wiring; empty if it is not in that one."""
    if rail.points:
        return "/".join(rail.points)
    return _plainest(rail.was if was else rail.now)


def _plainest(places: Sequence[str]) -> str:
    """A meter's terminal says most, then that of another part, a switch's lug least."""
    return min(places, key=lambda place: (_rank(place), place), default="")


def _rank(place: str) -> int:
    lug = place.partition(".")[2]
    if lug in ("+", "-"):
        return 0
    return 1 if lug in ("1", "2", "ccw", "cw", "wiper") else 2
