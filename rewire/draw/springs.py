"""The springs of a relay or jack as the trade draws them: at rest, each moving one between its two.

They are drawn grey, so that nobody takes them for wires.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from rewire.draw.lugs import Pile, Spring
from rewire.draw.scene import XY, Box, Item, Line, Symbol, line_mm, middle_baseline, text_at

HEAD = 10.0
"""Over the topmost spring, where what moves the springs is drawn and named, mm."""
_GAP = 1.5
"""Between an open contact and the spring that will touch it, mm."""
_THICK = 0.35
"""Half of a moving spring, mm."""
_SMALL = 8.0
_GREY = 0.42
_CONTACT, _BEYOND, _TIP = 7.0, 3.0, 18.0
"""Along a spring: from its lug to the nearest contact, from that to one that reaches over it; from
its lug to the end of a spring that moves; mm."""


class Rear(NamedTuple):
    """Where a spring has its lug: the terminal, the middle, half the width, and the net."""

    terminal: str
    at: XY
    half: float
    net: str


Rears = Mapping[str, Rear]


def springs(pile: Pile, rear: Rears, said: Sequence[str]) -> list[Item]:
    """Every spring whose lug is shown, its contacts, the coil or bushing that moves them."""
    shown = [one for one in pile.springs if one.moving in rear and one.fixed in rear]
    movers = list(dict.fromkeys(one.moving for one in shown))
    items: list[Item] = [_moving(pile, lug, rear[lug]) for lug in movers]
    for spring in shown:
        items += _fixed(pile, spring, rear)
    if not movers:
        return items
    heights = [rear[lug].at[1] for lug in movers]
    roof = min(one.at[1] for one in rear.values()) - HEAD
    tip = _edge(pile, rear[movers[0]]) - pile.facing * _TIP
    if pile.kind == "relay":
        items += _coil(pile.facing, tip, heights, roof)
        x = tip + 7.5 * pile.facing
    else:
        items += _bushing(pile.facing, tip, heights)
        x = tip - 8.0 * pile.facing
    return [*items, *_words(pile.facing, x, roof, said)]


def _edge(pile: Pile, rear: Rear) -> float:
    """Where a spring leaves its lug."""
    return rear.at[0] - pile.facing * rear.half


def _moving(pile: Pile, lug: str, rear: Rear) -> Line:
    """A long spring, pressed down as far as it is; a jack's ends in the bend for the plug."""
    x, y, out = _edge(pile, rear), rear.at[1], -pile.facing
    tip = _TIP
    bend = ((tip - 5.0, 0.0), (tip - 2.5, 1.8), (tip, -0.6))
    end = bend if pile.kind == "jack" else ((tip, 0.0),)
    slope = pile.moved.get(lug, 0.0) * (_GAP - _THICK) / _CONTACT
    points = ((x, y), *((x + out * dx, y + dy + slope * dx) for dx, dy in end))
    return Line(
        points,
        f"spring:{rear.terminal}",
        rear.net,
        (f"lug:{rear.terminal}",),
        width=0.7,
        grey=_GREY,
    )


def _fixed(pile: Pile, spring: Spring, rear: Rears) -> Iterator[Line]:
    """A short spring with its contact, which touches the moving spring or stays off it."""
    lug = spring.fixed
    x, y = _edge(pile, rear[lug]), rear[lug].at[1]
    tip = x - pile.facing * (_CONTACT + _BEYOND * (spring.rank - 1))
    moving = rear[spring.moving].at[1]
    towards = 1.0 if moving > y else -1.0
    point = moving - towards * (_THICK if spring.closed else _GAP)
    back = point - towards * 1.5
    for points, net in (
        (((x, y), (tip, y)), rear[lug].net),
        (((tip, y), (tip, point)), None),
        (((tip - 0.8, back), (tip, point), (tip + 0.8, back)), None),
    ):
        own = rear[lug].terminal
        yield Line(points, f"spring:{own}", net, (f"lug:{own}",), width=0.3, grey=_GREY)


def _coil(facing: int, tip: float, heights: Sequence[float], roof: float) -> Iterator[Item]:
    """Over the far ends of the springs, linked to every moving one by the armature."""
    x = tip + facing * 2.5
    box = Box(x - 3.5, roof + 0.8, x + 3.5, roof + 5.8)
    yield Symbol("coil", box, "coil", width=0.3)
    away = x - facing * 3.5
    for y in (box.top + 1.2, box.bottom - 1.2):
        yield Line(((away, y), (away - facing * 3.0, y)), "coil", None, width=0.3, grey=_GREY)
    arm = ((x, box.bottom), (x, max(heights)))
    yield Line(arm, "coil", None, width=0.3, dash="dashed", grey=_GREY)


def _bushing(facing: int, tip: float, heights: Sequence[float]) -> Iterator[Item]:
    """In the panel, the plug's way through it; about level with the springs it meets first."""
    first = heights[:2]
    y = sum(first) / len(first) + (4.0 if len(heights) == 1 else 0.0)
    inner, flange, outer = (tip - facing * far for far in (1.5, 6.5, 8.0))
    tube = Box(min(inner, flange), y - 4.0, max(inner, flange), y + 4.0)
    rim = Box(min(flange, outer), y - 7.0, max(flange, outer), y + 7.0)
    axis = ((outer - facing * 2.5, y), (tip + facing * 3.0, y))
    yield Symbol("bushing", tube, "bushing", width=0.3)
    yield Symbol("bushing", rim, "bushing's rim", width=0.3, fill="#d0d0d0")
    yield Line(axis, "bushing", None, ("bushing's rim",), width=0.3, dash="dashdot", grey=_GREY)


def _words(facing: int, x: float, roof: float, said: Sequence[str]) -> Iterator[Item]:
    for number, line in enumerate(said):
        base = middle_baseline(roof + 2.0 + number * line_mm(_SMALL), _SMALL)
        align = "left" if facing > 0 else "right"
        yield text_at(line, x, base, _SMALL, align=align, shows="words")
